"""The bulk of a step on a graphics card, as seen by one thread: cells in pieces with at most a simple wall.

Two ways through them: with many lanes a thread takes a piece of a row in two lanes and walks along it, holding the five
pressures along the row in registers; with few, the threads of a warp take the cells of a piece side by side.

`field`, `origin`, `turn` and `rare` as in gpu_cells.py. Elements are counted in unsigned 64-bit numbers throughout: a
signed index would be checked for counting from the end, a 32-bit one be widened at every use.
"""

from __future__ import annotations

import numpy as np

from fdtd.kernels.gpu_cells import at, device, number, scalar, value, word
from fdtd.kernels.gpu_memory import beside, moved, place, put
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
    ZERO,
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
    low, high = np.uint64(np.uint32(beside(words, k, 4, 0))), np.uint64(np.uint32(beside(words, k, 5, 0)))
    return low | (high << np.uint64(32))


@device
def face_now(row, kind, lane, rare):
    """(a, past, velocity, displacement, what the cell keeps) of a simple boundary cell; kind : branch of its face."""
    memory, width = rare.memory, number(rare, WIDTH)
    k, slot = 3 * kind * width + lane, row * width + lane
    old, x = memory[at(rare, FACE_V, slot)], memory[at(rare, FACE_X, slot)]
    past = value(rare, BRANCHES, k + width) * old - value(rare, BRANCHES, k + 2 * width) * x
    return value(rare, BRANCHES, k), past, old, x, memory[at(rare, CELL_SUM, slot)]


@device
def no_face(rare):
    """In place of what `face_now` returns."""
    zero = scalar(rare, ZERO)
    return zero, zero, zero, zero, zero


@device
def with_face(total, now, beta, face, rare):
    """The new pressure of the cell of a face (theory.md, eq. 12)."""
    a, past, _, _, kept = face
    return (total + kept - beta * (a * now + past)) / (scalar(rare, ONE) + beta * a)


@device
def move_face(both, beta, face, row, lane, rare):
    """Move a face on; both : Pa, before and after."""
    memory, slot = rare.memory, row * number(rare, WIDTH) + lane
    a, past, old, x, _ = face
    fresh = a * both + past
    memory[at(rare, CELL_SUM, slot)] = beta * old
    memory[at(rare, FACE_V, slot)] = fresh
    memory[at(rare, FACE_X, slot)] = x + scalar(rare, HALF_DT) * (fresh + old)


@device
def simple_wall(total, now, row, lane, rare):
    """The new pressure of a cell with one face of one branch, whose state has the cell's own row; the face moved on."""
    beta = value(rare, STRENGTH, row)
    face = face_now(row, word(rare, ROW, 4 * row), lane, rare)
    new = with_face(total, now, beta, face, rare)
    move_face(new + now, beta, face, row, lane, rare)
    return new


@device
def pattern_of(which, air):
    """(offsets, weights) of the neighbours across the row."""
    o, w = air.offset, air.weight
    k, m = place(o, 8 * which), place(w, 8 * which)
    offsets = (
        beside(o, k, 0, 0), beside(o, k, 1, 0), beside(o, k, 2, 0), beside(o, k, 3, 0),
        beside(o, k, 4, 0), beside(o, k, 5, 0), beside(o, k, 6, 0), beside(o, k, 7, 0),
    )  # fmt: skip
    weights = (
        beside(w, m, 0, 0), beside(w, m, 1, 0), beside(w, m, 2, 0), beside(w, m, 3, 0),
        beside(w, m, 4, 0), beside(w, m, 5, 0), beside(w, m, 6, 0), beside(w, m, 7, 0),
    )  # fmt: skip
    return offsets, weights


@device
def across(field, here, o, w, further):
    """What the neighbours across the row add to the element `further` after `here`; o, w : pattern."""
    total = w[0] * beside(field, here, o[0], further) + w[1] * beside(field, here, o[1], further)
    total += w[2] * beside(field, here, o[2], further) + w[3] * beside(field, here, o[3], further)
    total += w[4] * beside(field, here, o[4], further) + w[5] * beside(field, here, o[5], further)
    return total + w[6] * beside(field, here, o[6], further) + w[7] * beside(field, here, o[7], further)


@device
def walk(field, origin, turn, piece, lane, apart, air, rare):
    """All cells of a piece, one after the other, in two lanes: `lane`, and `apart` further, of 2 * apart lanes."""
    words, along, width = air.piece, air.along, 2 * apart
    k = place(words, 7 * piece)
    here = place(field, origin + beside(words, k, 0, 0) * np.int64(width) + lane)
    there = moved(field, here, turn)
    length, f = beside(words, k, 1, 0), place(along, 5 * np.int64(beside(words, k, 3, 0)))
    bits, row = wall_bits(words, k), np.int64(beside(words, k, 6, 0))
    o, w = pattern_of(beside(words, k, 2, 0), air)
    one, two = no_face(rare), no_face(rare)
    b0, b1 = beside(field, here, -2 * width, 0), beside(field, here, -width, 0)
    now, b3 = beside(field, here, 0, 0), beside(field, here, width, 0)
    c0, c1 = beside(field, here, -2 * width, apart), beside(field, here, -width, apart)
    then, c3 = beside(field, here, 0, apart), beside(field, here, width, apart)
    for _ in range(length):
        beta, wall = one[0], bits & np.uint64(1)
        if wall:  # asked for here, the faces come in with the pressures
            beta, kind = value(rare, STRENGTH, row), word(rare, ROW, 4 * row)
            one, two = face_now(row, kind, lane, rare), face_now(row, kind, lane + apart, rare)
        b4, c4 = beside(field, here, 2 * width, 0), beside(field, here, 2 * width, apart)
        f0, f1, f2 = beside(along, f, 0, 0), beside(along, f, 1, 0), beside(along, f, 2, 0)
        f3, f4 = beside(along, f, 3, 0), beside(along, f, 4, 0)
        first = f0 * now + f1 * b1 - beside(field, there, 0, 0) + f2 * b3 + f3 * b0 + f4 * b4
        second = f0 * then + f1 * c1 - beside(field, there, 0, apart) + f2 * c3 + f3 * c0 + f4 * c4
        first += across(field, here, o, w, 0)
        second += across(field, here, o, w, apart)
        if wall:
            first, second = with_face(first, now, beta, one, rare), with_face(second, then, beta, two, rare)
            move_face(first + now, beta, one, row, lane, rare)
            move_face(second + then, beta, two, row, lane + apart, rare)
            row += 1
        put(field, there, 0, first)
        put(field, there, apart, second)
        bits = bits >> np.uint64(1)
        b0, b1, now, b3 = b1, now, b3, b4
        c0, c1, then, c3 = c1, then, c3, c4
        here, there, f = moved(field, here, width), moved(field, there, width), moved(along, f, 5)


@device
def walled(total, now, k, j, shift, words, rare):
    """The new pressure of element j of the piece whose words begin at k, with its wall if it has one."""
    bits, i = wall_bits(words, k), j >> shift
    bit = np.uint64(1) << np.uint64(i)
    if bits & bit:
        row = beside(words, k, 6, 0) + bits_set(bits & (bit - np.uint64(1)))
        return simple_wall(total, now, row, j - (i << shift), rare)
    return total


@device
def along_row(field, here, there, width, f, positions, after, air, further):
    """What the row itself gives to the element `further` after `here`, of `width` lanes, less its pressure before."""
    row = air.along
    total = beside(row, f, 0, after) * beside(field, here, 0, further) - beside(field, there, 0, further)
    total += beside(row, f, positions, after) * beside(field, here, -width, further)
    total += beside(row, f, 2 * positions, after) * beside(field, here, width, further)
    total += beside(row, f, 3 * positions, after) * beside(field, here, -2 * width, further)
    return total + beside(row, f, 4 * positions, after) * beside(field, here, 2 * width, further)


@device
def side_by_side(field, origin, turn, first, last, warps, thread, shift, air, rare):
    """Every so many pieces, few lanes (2**shift); thread : of the warp, first .. last : pieces, `warps` apart.

    A thread takes two elements at a time, a warp's width apart; past the end of a piece the second is thrown away.
    """
    words, width, positions = air.piece, np.int32(1 << shift), np.int32(len(air.along) // 5)
    k = place(words, 7 * first)
    if first >= last:
        return
    known = beside(words, k, 2, 0)
    o, w = pattern_of(known, air)
    for _ in range(first, last, warps):
        elements, start = beside(words, k, 1, 0) << shift, origin + np.int64(beside(words, k, 0, 0)) * width
        if beside(words, k, 2, 0) != known:
            known = beside(words, k, 2, 0)
            o, w = pattern_of(known, air)
        for j in range(thread, elements, 2 * WARP):
            here, f = place(field, start + j), place(air.along, np.int64(beside(words, k, 3, 0)) + (j >> shift))
            there = moved(field, here, turn)
            now, then = beside(field, here, 0, 0), beside(field, here, 0, WARP)
            total = along_row(field, here, there, width, f, positions, 0, air, 0) + across(field, here, o, w, 0)
            other = along_row(field, here, there, width, f, positions, WARP >> shift, air, WARP)
            other += across(field, here, o, w, WARP)
            put(field, there, 0, walled(total, now, k, j, shift, words, rare))
            if j + WARP < elements:
                put(field, there, WARP, walled(other, then, k, j + WARP, shift, words, rare))
        k = moved(words, k, 7 * warps)


@device
def drive_share(field, origin, turn, thread, threads, rare, step):
    """Sources, before the cells: what they add to p(n + 1) is taken off p(n - 1). No cell occurs twice in a lane."""
    signal = value(rare, SIGNAL, step)
    for k in range(thread, number(rare, SOURCES), threads):
        field[np.uint64(origin + turn + word(rare, SOURCE_PLACE, k))] -= value(rare, SOURCE_WEIGHT, k) * signal


@device
def read_share(field, origin, out, thread, threads, width, rare, sample):
    """Parts of seats, spread over all threads of the grid; out : (sample * part * width,) float64."""
    parts = number(rare, PARTS)
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
