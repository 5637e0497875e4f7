"""The bulk of a step on a graphics card, as seen by one thread: cells in pieces with at most a simple wall.

Two ways through them: with many lanes a thread takes a piece of a row in two lanes and walks along it, holding the five
pressures along the row in registers; with few, the threads of a warp take the cells of a piece side by side.

`field`, `origin`, `turn` and `rare` as in gpu_cells.py. Elements are counted in unsigned 64-bit numbers throughout: a
signed index would be checked for counting from the end, a 32-bit one be widened at every use.
"""

from __future__ import annotations

import numpy as np

from fdtd.kernels.gpu_cells import at, device, number, scalar, value, word
from fdtd.kernels.gpu_tables import (
    BRANCHES,
    CELL_SUM,
    COSINE,
    ELEMENTS,
    FACE_V,
    FACE_X,
    FREQUENCIES,
    HALF_DT,
    ONE,
    PART,
    PARTS,
    ROW,
    SEAT_CELL,
    SEAT_WEIGHT,
    SIGNAL,
    SINE,
    SOURCE_PLACE,
    SOURCE_WEIGHT,
    SOURCES,
    STRENGTH,
    WIDTH,
)

WARP = 32
"""Threads that run in step."""


@device
def bits_set(bits):
    """How many bits of an unsigned 64-bit number are set."""
    bits = bits - ((bits >> np.uint64(1)) & np.uint64(0x5555555555555555))
    bits = (bits & np.uint64(0x3333333333333333)) + ((bits >> np.uint64(2)) & np.uint64(0x3333333333333333))
    bits = (bits + (bits >> np.uint64(4))) & np.uint64(0x0F0F0F0F0F0F0F0F)
    return np.int64((bits * np.uint64(0x0101010101010101)) >> np.uint64(56))


@device
def wall_bits(words, k):
    """Which cells of the piece whose words begin at k have a wall."""
    low, high = np.uint64(np.uint32(words[k + np.uint64(4)])), np.uint64(np.uint32(words[k + np.uint64(5)]))
    return low | (high << np.uint64(32))


@device
def simple_wall(total, now, row, lane, rare):
    """The new pressure of a cell with one face of one branch, whose state has the cell's own row; the face moved on."""
    memory, width = rare.memory, number(rare, WIDTH)
    k, slot = 3 * word(rare, ROW, 4 * row) * width + lane, row * width + lane
    v, x, kept = at(rare, FACE_V, slot), at(rare, FACE_X, slot), at(rare, CELL_SUM, slot)
    beta, a, old, place = value(rare, STRENGTH, row), value(rare, BRANCHES, k), memory[v], memory[x]
    past = value(rare, BRANCHES, k + width) * old - value(rare, BRANCHES, k + 2 * width) * place
    new = (total + memory[kept] - beta * (a * now + past)) / (scalar(rare, ONE) + beta * a)
    fresh = a * (new + now) + past
    memory[kept] = beta * old
    memory[v] = fresh
    memory[x] = place + scalar(rare, HALF_DT) * (fresh + old)
    return new


@device
def across_both(field, here, apart, pattern, air):
    """What the neighbours across the row add to element `here` and to another `apart` further, of the same pattern.

    The pattern is read anew every time, from the nearest cache: held in registers it would leave room for half as many
    threads. For two elements addresses and pattern are worked out once.
    """
    offset, weight = air.offset, air.weight
    k0, k1, k2, k3 = np.uint64(pattern), np.uint64(pattern + 1), np.uint64(pattern + 2), np.uint64(pattern + 3)
    k4, k5, k6, k7 = np.uint64(pattern + 4), np.uint64(pattern + 5), np.uint64(pattern + 6), np.uint64(pattern + 7)
    a0, a1 = here + np.uint64(offset[k0]), here + np.uint64(offset[k1])
    a2, a3 = here + np.uint64(offset[k2]), here + np.uint64(offset[k3])
    w0, w1, w2, w3 = weight[k0], weight[k1], weight[k2], weight[k3]
    first = w0 * field[a0] + w1 * field[a1] + w2 * field[a2] + w3 * field[a3]
    second = w0 * field[a0 + apart] + w1 * field[a1 + apart] + w2 * field[a2 + apart] + w3 * field[a3 + apart]
    a0, a1 = here + np.uint64(offset[k4]), here + np.uint64(offset[k5])
    a2, a3 = here + np.uint64(offset[k6]), here + np.uint64(offset[k7])
    w0, w1, w2, w3 = weight[k4], weight[k5], weight[k6], weight[k7]
    first += w0 * field[a0] + w1 * field[a1] + w2 * field[a2] + w3 * field[a3]
    second += w0 * field[a0 + apart] + w1 * field[a1 + apart] + w2 * field[a2 + apart] + w3 * field[a3 + apart]
    return first, second


@device
def walk(field, origin, turn, piece, lane, apart, width, air, rare):
    """All cells of a piece, one after the other, in two lanes: `lane`, and `apart` further."""
    words, along = air.piece, air.along
    positions, k, one = np.uint64(len(along) // 5), np.uint64(7 * piece), np.uint64(1)
    here = origin + np.uint64(words[k]) * width + np.uint64(lane)
    length, pattern = words[k + one], 8 * words[k + np.uint64(2)]
    place, bits, row = np.uint64(words[k + np.uint64(3)]), wall_bits(words, k), np.int64(words[k + np.uint64(6)])
    b0, b1, now, b3 = field[here - width - width], field[here - width], field[here], field[here + width]
    c0, c1 = field[here - width - width + apart], field[here - width + apart]
    then, c3 = field[here + apart], field[here + width + apart]
    for _ in range(length):
        b4, c4, k = field[here + width + width], field[here + width + width + apart], place
        w0, w1 = along[k], along[k + positions]
        k += positions + positions
        w2, w3, w4 = along[k], along[k + positions], along[k + positions + positions]
        first = w0 * now + w1 * b1 - field[here + turn] + w2 * b3 + w3 * b0 + w4 * b4
        second = w0 * then + w1 * c1 - field[here + turn + apart] + w2 * c3 + w3 * c0 + w4 * c4
        more, further = across_both(field, here, apart, pattern, air)
        first += more
        second += further
        if bits & one:
            first = simple_wall(first, now, row, lane, rare)
            second = simple_wall(second, then, row, lane + np.int64(apart), rare)
            row += 1
        field[here + turn] = first
        field[here + turn + apart] = second
        bits = bits >> one
        b0, b1, now, b3 = b1, now, b3, b4
        c0, c1, then, c3 = c1, then, c3, c4
        here += width
        place += one


@device
def walled(total, now, w, j, shift, words, rare):
    """The new pressure of element j of the piece whose words begin at w, with its wall if it has one."""
    bits, i = wall_bits(words, w), j >> shift
    bit = np.uint64(1) << np.uint64(i)
    if bits & bit:
        row = words[w + np.uint64(6)] + bits_set(bits & (bit - np.uint64(1)))
        return simple_wall(total, now, row, j - (i << shift), rare)
    return total


@device
def side_by_side(field, origin, turn, first, last, warps, thread, shift, air, rare):
    """Every so many pieces, few lanes (2**shift); thread : of the warp, first .. last : pieces, `warps` apart.

    A thread takes two elements at a time, a warp's width apart; past the end of a piece the second is thrown away.
    """
    words, along = air.piece, air.along
    positions, one, width, apart = np.uint64(len(along) // 5), np.uint64(1), np.uint64(1 << shift), np.uint64(WARP)
    for piece in range(first, last, warps):
        w = np.uint64(7 * piece)
        elements = words[w + one] << shift
        for j in range(thread, elements, 2 * WARP):
            here = origin + np.uint64(words[w]) * width + np.uint64(j)
            k, after = np.uint64(words[w + np.uint64(3)] + (j >> shift)), np.uint64(WARP >> shift)
            now, then = field[here], field[here + apart]
            total, other = along[k] * now - field[here + turn], along[k + after] * then - field[here + turn + apart]
            k += positions
            total += along[k] * field[here - width] + along[k + positions] * field[here + width]
            other += along[k + after] * field[here - width + apart]
            other += along[k + positions + after] * field[here + width + apart]
            k += positions + positions
            total += along[k] * field[here - width - width] + along[k + positions] * field[here + width + width]
            other += along[k + after] * field[here - width - width + apart]
            other += along[k + positions + after] * field[here + width + width + apart]
            more, further = across_both(field, here, apart, 8 * words[w + np.uint64(2)], air)
            field[here + turn] = walled(total + more, now, w, j, shift, words, rare)
            if j + WARP < elements:
                field[here + turn + apart] = walled(other + further, then, w, j + WARP, shift, words, rare)


@device
def drive_share(field, origin, turn, thread, threads, rare, step):
    """Sources, before the cells: what they add to p(n + 1) is taken off p(n - 1). No cell occurs twice in a lane."""
    signal = value(rare, SIGNAL, step)
    for k in range(thread, number(rare, SOURCES), threads):
        field[np.uint64(origin + turn + word(rare, SOURCE_PLACE, k))] -= value(rare, SOURCE_WEIGHT, k) * signal


@device
def read_share(field, origin, out, thread, threads, rare, sample):
    """Parts of seats, spread over all threads of the grid; out : (sample * part * width,) float64."""
    width, parts = number(rare, WIDTH), number(rare, PARTS)
    for k in range(thread, parts * width, threads):
        part = k // width
        lane, total = k - part * width, 0.0
        for m in range(word(rare, PART, part), word(rare, PART, part + 1)):
            here = origin + word(rare, SEAT_CELL, m) * width + lane
            total += value(rare, SEAT_WEIGHT, m) * field[np.uint64(here)]
        out[np.uint64(sample * parts * width + k)] = total


@device
def map_share(field, origin, thread, threads, rare, map_real, map_imag, sample):
    """Running Fourier sums of all cells."""
    frequencies, size = number(rare, FREQUENCIES), number(rare, ELEMENTS)
    for k in range(thread, size, threads):
        now = field[np.uint64(origin + k)]
        for f in range(frequencies):
            phase, place = sample * frequencies + f, np.uint64(f * size + k)
            map_real[place] += value(rare, COSINE, phase) * now
            map_imag[place] -= value(rare, SINE, phase) * now
