"""Sources, seats and map sums."""

from __future__ import annotations

from fdtd.kernels.compiled import steady

MAP_SAMPLES = 4
"""Samples of the field that are kept until they are added to the map sums (as many as `add_to_maps` names)."""
ENTRIES_AT_ONCE = 1024
"""Of those samples, together in the nearest cache."""


@steady
def record(p, excitations, points, out, sample):
    """Pressures at the seats (theory.md, eq. 21); out : (sample, seat, excitation) float64."""
    for s in range(len(points.seat_pointer) - 1):
        for k in range(points.seat_pointer[s], points.seat_pointer[s + 1]):
            base, weight = points.seat_cell[k] * excitations, points.seat_weight[k]
            for excitation in range(excitations):
                out[sample, s, excitation] += weight * p[base + excitation]


@steady
def drive(q, points, tile, step):
    """What the sources give to the cells of one tile (theory.md, eq. 20)."""
    if step < len(points.signal):
        value = points.signal[step]
        for k in range(points.drive_tile[tile], points.drive_tile[tile + 1]):
            q[points.drive_spot[k]] += points.drive_weight[k] * value


@steady
def keep_for_maps(p, ring, place, first, last):
    """Keeps the entries first <= t < last of p (cell and excitation); ring : (MAP_SAMPLES, entry)."""
    here, there = p[first:last], ring[place, first:last]
    for t in range(len(here)):
        there[t] = here[t]


@steady
def add_to_maps(maps, state, ring, samples, weight, first, last):
    """Adds what is kept of the entries first <= t < last to the Fourier sums (theory.md, eq. 22).

    Several samples at a time, as the sums are much larger than a sample and in no cache.
    samples : (MAP_SAMPLES,) number of each sample kept, or -1, then it does not count
    weight : (2, MAP_SAMPLES) scratch
    """
    zero = ring[0, 0] * 0
    for begin in range(first, last, ENTRIES_AT_ONCE):
        end = min(begin + ENTRIES_AT_ONCE, last)
        k0, k1, k2, k3 = (
            ring[0, begin:end],
            ring[1, begin:end],
            ring[2, begin:end],
            ring[3, begin:end],
        )
        for f in range(maps.cosine.shape[1]):
            for k in range(MAP_SAMPLES):
                there = samples[k] >= 0
                weight[0, k] = maps.cosine[samples[k], f] if there else zero
                weight[1, k] = -maps.sine[samples[k], f] if there else zero
            for part in range(2):
                whole = state.map_real if part == 0 else state.map_imag
                total = whole[f].reshape(-1)[begin:end]
                w0, w1, w2, w3 = weight[part, 0], weight[part, 1], weight[part, 2], weight[part, 3]
                for t in range(len(total)):
                    total[t] += (w0 * k0[t] + w1 * k1[t]) + (w2 * k2[t] + w3 * k3[t])
