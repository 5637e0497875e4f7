"""The bulk of a step on a GPU, as seen by one thread: cells in elements with at most a simple wall.

Two ways through them: with many excitations a thread takes an element of a row in two excitations and walks along it,
holding the five pressures along the row in registers; with few, the threads of a warp take the cells of an element side
by side.

`field`, `origin`, `turn` and `packed` as in gpu_cells.py. Elements are counted in unsigned 64-bit numbers throughout: a
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
def wall_bits(text, k):
    """Which cells of the element whose words begin at k have a wall."""
    low, high = np.uint64(np.uint32(beside(text, k, 4, 0))), np.uint64(np.uint32(beside(text, k, 5, 0)))
    return low | (high << np.uint64(32))


@device
def face_now(row, kind, excitation, packed):
    """(a, past, velocity, displacement, what the cell keeps) of a simple boundary cell; kind : branch of its face."""
    memory, width = packed.memory, number(packed, WIDTH)
    k, slot = 3 * kind * width + excitation, row * width + excitation
    old, x = memory[at(packed, FACE_V, slot)], memory[at(packed, FACE_X, slot)]
    past = value(packed, BRANCHES, k + width) * old - value(packed, BRANCHES, k + 2 * width) * x
    return value(packed, BRANCHES, k), past, old, x, memory[at(packed, CELL_SUM, slot)]


@device
def no_face(packed):
    """In place of what `face_now` returns."""
    zero = scalar(packed, ZERO)
    return zero, zero, zero, zero, zero


@device
def with_face(total, now, beta, face, packed):
    """The new pressure of the cell of a face (theory.md, eq. 12)."""
    a, past, _, _, kept = face
    return (total + kept - beta * (a * now + past)) / (scalar(packed, ONE) + beta * a)


@device
def move_face(both, beta, face, row, excitation, packed):
    """Move a face on; both : Pa, before and after."""
    memory, slot = packed.memory, row * number(packed, WIDTH) + excitation
    a, past, old, x, _ = face
    fresh = a * both + past
    memory[at(packed, CELL_SUM, slot)] = beta * old
    memory[at(packed, FACE_V, slot)] = fresh
    memory[at(packed, FACE_X, slot)] = x + scalar(packed, HALF_DT) * (fresh + old)


@device
def simple_wall(total, now, row, excitation, packed):
    """The new pressure of a cell with one face of one branch, whose state has the cell's own row; the face moved on."""
    beta = value(packed, STRENGTH, row)
    face = face_now(row, word(packed, ROW, 4 * row), excitation, packed)
    new = with_face(total, now, beta, face, packed)
    move_face(new + now, beta, face, row, excitation, packed)
    return new


@device
def pattern_of(which, air):
    """(offsets, weights) of the neighbours across the row."""
    o, w = air.offset, air.weight
    k, m = place(o, 8 * which), place(w, 8 * which)
    offsets = (
        beside(o, k, 0, 0),
        beside(o, k, 1, 0),
        beside(o, k, 2, 0),
        beside(o, k, 3, 0),
        beside(o, k, 4, 0),
        beside(o, k, 5, 0),
        beside(o, k, 6, 0),
        beside(o, k, 7, 0),
    )
    weights = (
        beside(w, m, 0, 0),
        beside(w, m, 1, 0),
        beside(w, m, 2, 0),
        beside(w, m, 3, 0),
        beside(w, m, 4, 0),
        beside(w, m, 5, 0),
        beside(w, m, 6, 0),
        beside(w, m, 7, 0),
    )
    return offsets, weights


@device
def across(field, here, o, w, further):
    """What the neighbours across the row add to the element `further` after `here`; o, w : pattern."""
    total = w[0] * beside(field, here, o[0], further) + w[1] * beside(field, here, o[1], further)
    total += w[2] * beside(field, here, o[2], further) + w[3] * beside(field, here, o[3], further)
    total += w[4] * beside(field, here, o[4], further) + w[5] * beside(field, here, o[5], further)
    return total + w[6] * beside(field, here, o[6], further) + w[7] * beside(field, here, o[7], further)


@device
def walk(field, origin, turn, element, excitation, apart, air, packed):
    """All cells of an element, one after the other, in two excitations: `excitation`, and `apart` further, of 2 * apart
    excitations."""
    text, along, width = air.element, air.along, 2 * apart
    k = place(text, 7 * element)
    here = place(field, origin + beside(text, k, 0, 0) * np.int64(width) + excitation)
    there = moved(field, here, turn)
    length, f = beside(text, k, 1, 0), place(along, 5 * np.int64(beside(text, k, 3, 0)))
    bits, row = wall_bits(text, k), np.int64(beside(text, k, 6, 0))
    o, w = pattern_of(beside(text, k, 2, 0), air)
    one, two = no_face(packed), no_face(packed)
    b0, b1 = beside(field, here, -2 * width, 0), beside(field, here, -width, 0)
    now, b3 = beside(field, here, 0, 0), beside(field, here, width, 0)
    c0, c1 = beside(field, here, -2 * width, apart), beside(field, here, -width, apart)
    then, c3 = beside(field, here, 0, apart), beside(field, here, width, apart)
    for _ in range(length):
        beta, wall = one[0], bits & np.uint64(1)
        if wall:  # asked for here, the faces come in with the pressures
            beta, kind = value(packed, STRENGTH, row), word(packed, ROW, 4 * row)
            one, two = face_now(row, kind, excitation, packed), face_now(row, kind, excitation + apart, packed)
        b4, c4 = beside(field, here, 2 * width, 0), beside(field, here, 2 * width, apart)
        f0, f1, f2 = beside(along, f, 0, 0), beside(along, f, 1, 0), beside(along, f, 2, 0)
        f3, f4 = beside(along, f, 3, 0), beside(along, f, 4, 0)
        first = f0 * now + f1 * b1 - beside(field, there, 0, 0) + f2 * b3 + f3 * b0 + f4 * b4
        second = f0 * then + f1 * c1 - beside(field, there, 0, apart) + f2 * c3 + f3 * c0 + f4 * c4
        first += across(field, here, o, w, 0)
        second += across(field, here, o, w, apart)
        if wall:
            first, second = with_face(first, now, beta, one, packed), with_face(second, then, beta, two, packed)
            move_face(first + now, beta, one, row, excitation, packed)
            move_face(second + then, beta, two, row, excitation + apart, packed)
            row += 1
        put(field, there, 0, first)
        put(field, there, apart, second)
        bits = bits >> np.uint64(1)
        b0, b1, now, b3 = b1, now, b3, b4
        c0, c1, then, c3 = c1, then, c3, c4
        here, there, f = moved(field, here, width), moved(field, there, width), moved(along, f, 5)


@device
def walled(total, now, k, j, shift, text, packed):
    """The new pressure of element j of the element whose words begin at k, with its wall if it has one."""
    bits, i = wall_bits(text, k), j >> shift
    bit = np.uint64(1) << np.uint64(i)
    if bits & bit:
        row = beside(text, k, 6, 0) + bits_set(bits & (bit - np.uint64(1)))
        return simple_wall(total, now, row, j - (i << shift), packed)
    return total


@device
def along_row(field, here, there, width, f, positions, after, air, further):
    """What the row itself gives to the element `further` after `here`, of `width` excitations, less its pressure
    before."""
    row = air.along
    total = beside(row, f, 0, after) * beside(field, here, 0, further) - beside(field, there, 0, further)
    total += beside(row, f, positions, after) * beside(field, here, -width, further)
    total += beside(row, f, 2 * positions, after) * beside(field, here, width, further)
    total += beside(row, f, 3 * positions, after) * beside(field, here, -2 * width, further)
    return total + beside(row, f, 4 * positions, after) * beside(field, here, 2 * width, further)


@device
def side_by_side(field, origin, turn, first, last, warps, thread, shift, air, packed):
    """Every so many elements, few excitations (2**shift); thread : of the warp, first .. last : elements, `warps`
    apart.

    A thread takes two elements at a time, a warp's width apart; past the end of an element the second is thrown away.
    """
    text, width, positions = air.element, np.int32(1 << shift), np.int32(len(air.along) // 5)
    k = place(text, 7 * first)
    if first >= last:
        return
    known = beside(text, k, 2, 0)
    o, w = pattern_of(known, air)
    for _ in range(first, last, warps):
        elements, start = beside(text, k, 1, 0) << shift, origin + np.int64(beside(text, k, 0, 0)) * width
        if beside(text, k, 2, 0) != known:
            known = beside(text, k, 2, 0)
            o, w = pattern_of(known, air)
        for j in range(thread, elements, 2 * WARP):
            here, f = place(field, start + j), place(air.along, np.int64(beside(text, k, 3, 0)) + (j >> shift))
            there = moved(field, here, turn)
            now, then = beside(field, here, 0, 0), beside(field, here, 0, WARP)
            total = along_row(field, here, there, width, f, positions, 0, air, 0) + across(field, here, o, w, 0)
            other = along_row(field, here, there, width, f, positions, WARP >> shift, air, WARP)
            other += across(field, here, o, w, WARP)
            put(field, there, 0, walled(total, now, k, j, shift, text, packed))
            if j + WARP < elements:
                put(field, there, WARP, walled(other, then, k, j + WARP, shift, text, packed))
        k = moved(text, k, 7 * warps)


@device
def drive_share(field, origin, turn, thread, threads, packed, step):
    """Sources, before the cells: what they add to p(n + 1) is taken off p(n - 1). No cell occurs twice in an
    excitation."""
    signal = value(packed, SIGNAL, step)
    for k in range(thread, number(packed, SOURCES), threads):
        field[np.uint64(origin + turn + word(packed, SOURCE_PLACE, k))] -= value(packed, SOURCE_WEIGHT, k) * signal


@device
def read_share(field, origin, out, thread, threads, width, packed, sample):
    """Parts of seats, spread over all threads of the grid; out : (sample * part * width,) float64."""
    parts = number(packed, PARTS)
    for k in range(thread, parts * width, threads):
        part = k // width
        excitation, total = k - part * width, 0.0
        for m in range(word(packed, PART, part), word(packed, PART, part + 1)):
            here = origin + word(packed, SEAT_CELL, m) * width + excitation
            total += value(packed, SEAT_WEIGHT, m) * field[np.uint64(here)]
        out[np.uint64(sample * parts * width + k)] = total


@device
def map_share(field, origin, thread, threads, packed, map_real, map_imag, sample):
    """Running Fourier sums of all cells."""
    frequencies, size = number(packed, FREQUENCIES), number(packed, ELEMENTS)
    for k in range(thread, size, threads):
        now = field[np.uint64(origin + k)]
        for f in range(frequencies):
            phase, place = sample * frequencies + f, np.uint64(f * size + k)
            map_real[place] += value(packed, COSINE, phase) * now
            map_imag[place] -= value(packed, SINE, phase) * now
