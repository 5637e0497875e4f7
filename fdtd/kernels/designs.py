"""Figures of very many designs (a few devices on a few ports each) from one room's matrices, on all cores.

Eliminating the chosen ports one after the other gives every matrix of the room with those devices in:

    k = y_i/(1 + y_i Z_ii),   Z_ab -> Z_ab - Z_ai k Z_ib   (and likewise for sources and seats),

the Sherman-Morrison formula (Ann. Math. Stat. 21 (1950) 124-127). Designs that share all but their last port form a
group: what comes before the last port is eliminated once, and the last port is then a scalar. Real and imaginary parts
are separate arrays with the frequency last, so that every loop is over contiguous numbers.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

import numba
import numpy as np
from numba import prange
from numpy.typing import NDArray

Array = NDArray[Any]

_OPTIONS: dict[str, Any] = {"cache": True, "error_model": "numpy", "fastmath": {"contract", "nsz", "arcp", "reassoc"}}
_compiled = numba.njit(**_OPTIONS)

SMALLEST = 1e-30
"""Power below which a seat's level is not followed down, relative to the scale of the inputs."""
_LOG_2 = np.log(2.0)
_DECIBEL = 10.0 / np.log(10.0)
# A double's bits: 52 of mantissa, then the exponent. Adding the difference of the bits of 1 and of the root of 1/2 lets
# the exponent rise there, so that mantissas lie about 1.
_MANTISSA, _ONE = np.uint64(52), np.uint64(0x3FF0000000000000)
_TO_ROOT_HALF = np.uint64(0x3FF0000000000000 - 0x3FE6A09E667F3BCD)


class Room(NamedTuple):
    """The room without devices; axis 0 of each array is (real, imaginary part).

    between : (2, port driven, port seen, frequency); to_seats : (2, port, seat, frequency)
    driven : (2, port, frequency) pressure at the ports; untreated : (2, seat, frequency) pressure at the seats
    admittance : (2, choice, port, frequency)
    """

    between: Array
    to_seats: Array
    driven: Array
    untreated: Array
    admittance: Array


class Scale(NamedTuple):
    """How responses become figures.

    weight : (frequency,), sum 1, of levels; level_low, level_high : (frequency,) the level is that of the mean power
    over the steps low <= k < high; level_rate : (frequency,) s/rad, one over their width
    seat : (seat,), sum 1; step_weight : (frequency - 1,), sum 1, of the steps between samples; width : (frequency - 1,)
    rad/s, of those steps; rate : (frequency - 1,) 1/s², square of the decay rate that is just not heard; low, high :
    (frequency - 1,) energies are averaged over the steps low <= k < high
    """

    weight: Array
    level_low: Array
    level_high: Array
    level_rate: Array
    seat: Array
    step_weight: Array
    width: Array
    rate: Array
    low: Array
    high: Array


class Groups(NamedTuple):
    """ports, choices : (group, shared ports); group g has designs pointer[g] <= n < pointer[g + 1], each with one more:
    last_port, last_choice : (design,), equal ports side by side."""

    ports: Array
    choices: Array
    pointer: Array
    last_port: Array
    last_choice: Array


@_compiled
def _take(out, a, b):
    """out -= a b; each (2, frequency), as are the arguments of the next two."""
    out_re, out_im, a_re, a_im, b_re, b_im = out[0], out[1], a[0], a[1], b[0], b[1]
    for f in range(len(out_re)):
        x, y, u, v = a_re[f], a_im[f], b_re[f], b_im[f]
        out_re[f] -= x * u - y * v
        out_im[f] -= x * v + y * u


@_compiled
def _multiply(out, b):
    """out *= b."""
    out_re, out_im, b_re, b_im = out[0], out[1], b[0], b[1]
    for f in range(len(out_re)):
        x, y, u, v = out_re[f], out_im[f], b_re[f], b_im[f]
        out_re[f] = x * u - y * v
        out_im[f] = x * v + y * u


@_compiled
def _strength(out, y, z):
    """out = y/(1 + y z)."""
    out_re, out_im, y_re, y_im, z_re, z_im = out[0], out[1], y[0], y[1], z[0], z[1]
    for f in range(len(out_re)):
        a, b, u, v = y_re[f], y_im[f], z_re[f], z_im[f]
        real, imaginary = 1.0 + a * u - b * v, a * v + b * u
        inverse = 1.0 / (real * real + imaginary * imaginary)
        out_re[f] = (a * real + b * imaginary) * inverse
        out_im[f] = (b * real - a * imaginary) * inverse


@_compiled
def _copy(to, from_re, from_im):
    for f in range(len(from_re)):
        to[0, f] = from_re[f]
        to[1, f] = from_im[f]


@_compiled
def _seen(out, ports, between, onward, target):
    """out : (shared port, 2, frequency), pressure at `target` per flow at each shared port, those before it at work."""
    for i in range(len(ports)):
        _copy(out[i], between[0, ports[i], target], between[1, ports[i], target])
        for j in range(i):
            _take(out[i], onward[i, j], out[j])


@_compiled
def _audible(out, ports, between, inward, origin):
    """out : (shared port, 2, frequency), pressure at each shared port per flow at `origin`, those before it at work."""
    for i in range(len(ports)):
        _copy(out[i], between[0, origin, ports[i]], between[1, origin, ports[i]])
        for j in range(i):
            _take(out[i], out[j], inward[j, i, :2])


@_compiled
def _shared(room, ports, choices, work):
    """Eliminate the shared ports of a group.

    work : strength (port, 2, F): k. For j < i, with the ports before j at work: onward (i, j, 2, F): pressure at j per
    flow at i, times k_j; inward (j, i, 4, F): pressure at i per flow at j, times k_j and then without. source
    (port, 2, F): pressure at i from the sources, times k_i; seats (port, seat, 4, F): pressure at the seat per flow at
    i, times k_i and then without; pressure (seat, 2, F): at the seats, with all shared ports at work.
    """
    strength, onward, inward, source, seats, pressure = work
    between, own = room.between, np.empty((2, room.between.shape[3]))
    for i in range(len(ports)):
        port = ports[i]
        for j in range(i):
            # What port j gives to port i and gets from it, with the ports before j at work.
            _copy(inward[j, i], between[0, ports[j], port], between[1, ports[j], port])
            _copy(onward[i, j], between[0, port, ports[j]], between[1, port, ports[j]])
            for b in range(j):
                _take(inward[j, i, :2], onward[j, b], inward[b, i, 2:])
                _take(onward[i, j], onward[i, b], inward[b, j, 2:])
            _copy(inward[j, i, 2:], inward[j, i, 0], inward[j, i, 1])
            _multiply(inward[j, i, :2], strength[j])
            _multiply(onward[i, j], strength[j])
        _copy(own, between[0, port, port], between[1, port, port])
        _copy(source[i], room.driven[0, port], room.driven[1, port])
        for j in range(i):
            _take(own, onward[i, j], inward[j, i, 2:])
            _take(source[i], source[j], inward[j, i, 2:])
        y = room.admittance[:, choices[i], port]
        _strength(strength[i], y, own)
        _multiply(source[i], strength[i])
        for seat in range(pressure.shape[0]):
            direct = room.to_seats[:, port, seat]
            _copy(seats[i, seat], direct[0], direct[1])
            for j in range(i):
                _take(seats[i, seat, :2], onward[i, j], seats[j, seat, 2:])
            _copy(seats[i, seat, 2:], seats[i, seat, 0], seats[i, seat, 1])
            _take(pressure[seat], source[i], seats[i, seat, 2:])
            _multiply(seats[i, seat, :2], strength[i])


@_compiled
def _logarithms(values, out, exponent):
    """out : natural logarithms of `values`, positive and normal, within 2 units in the last place; exponent : scratch.

    Written out because a call of the library's logarithm keeps a loop from running on whole vectors. Exponent and
    mantissa, then the series of 2 artanh; its coefficients: FreeBSD's msun, e_log.c (Sun Microsystems, 1993).
    """
    bits, mantissa = values.view(np.uint64), out.view(np.uint64)
    for f in range(len(values)):
        power = (bits[f] + _TO_ROOT_HALF) >> _MANTISSA
        mantissa[f] = (bits[f] + _ONE) - (power << _MANTISSA)
        exponent[f] = np.int32(power) - 1023
    for f in range(len(values)):
        s = (out[f] - 1.0) / (out[f] + 1.0)
        z = s * s
        series = 0.1531383769920937332 + z * 0.1479819860511658591
        series = 0.2222219843214978396 + z * (0.1818357216161805012 + z * series)
        series = 0.6666666666666735130 + z * (0.3999999999940941908 + z * (0.2857142874366239149 + z * series))
        out[f] = exponent[f] * _LOG_2 + s * (2.0 + z * series)


@_compiled
def _figures(response, scale, work, logs, overall, uneven, ringing):
    """Figures of one design: spread and mean level (dB) in `overall`, unevenness (dB) and ringing (octaves) by seat.

    response : (seat, 2, frequency); work : (6, frequency) and logs : (3, frequency) are overwritten
    """
    seats, samples = response.shape[0], response.shape[2]
    steps = samples - 1
    mean, square, energy, late, value, ratio = work[0], work[1], work[2], work[3], work[4], work[5, :steps]
    db, over = logs[0], logs[1, :steps]
    mean[:], square[:] = 0.0, 0.0
    overall[:] = 0.0
    for s in range(seats):
        re, im, share = response[s, 0], response[s, 1], scale.seat[s]
        for f in range(samples):
            value[f] = re[f] * re[f] + im[f] * im[f]
        for f in range(steps):
            x, y = re[f + 1] - re[f], im[f + 1] - im[f]
            energy[f + 1] = 0.5 * (value[f] + value[f + 1]) * scale.width[f]
            late[f + 1] = (x * x + y * y) / scale.width[f]
        # Running sums, so that an average over any width costs the same.
        energy[0], late[0] = 0.0, 0.0
        for f in range(steps):
            energy[f + 1] += energy[f]
            late[f + 1] += late[f]
        for f in range(samples):
            # Unsigned, which spares the question whether they count from the end.
            a, b = np.uintp(scale.level_low[f]), np.uintp(scale.level_high[f])
            value[f] = max((energy[b] - energy[a]) * scale.level_rate[f], SMALLEST)
        for f in range(steps):
            a, b = (
                np.uintp(scale.low[f]),
                np.uintp(scale.high[f]),
            )  # spares the question whether they count from the end
            ratio[f] = max(scale.rate[f] * (late[b] - late[a]) / max(energy[b] - energy[a], SMALLEST), 1.0)
        _logarithms(value, db, logs[2])
        _logarithms(ratio, over, logs[2, :steps])
        first, second, rings = 0.0, 0.0, 0.0
        for f in range(samples):
            mean[f] += share * db[f]
            square[f] += share * db[f] * db[f]
            first += scale.weight[f] * db[f]
            second += scale.weight[f] * db[f] * db[f]
        for f in range(steps):
            rings += scale.step_weight[f] * over[f]
        overall[1] += _DECIBEL * share * first
        uneven[s] = _DECIBEL * np.sqrt(max(second - first * first, 0.0))
        ringing[s] = 0.5 / _LOG_2 * rings
    if seats > 1:
        spread = 0.0
        for f in range(samples):
            spread += scale.weight[f] * np.sqrt(max(square[f] - mean[f] * mean[f], 0.0))
        overall[0] = _DECIBEL * spread


@_compiled
def _group(room, scale, groups, g, overall, uneven, ringing):
    """All designs of one group."""
    ports, choices = groups.ports[g], groups.choices[g]
    m, seats, samples = len(ports), room.untreated.shape[1], room.untreated.shape[2]
    strength, source = np.empty((m, 2, samples)), np.empty((m, 2, samples))
    onward, inward = np.empty((m, m, 2, samples)), np.empty((m, m, 4, samples))
    to_seats, pressure = np.empty((m, seats, 4, samples)), np.empty((seats, 2, samples))
    for s in range(seats):
        _copy(pressure[s], room.untreated[0, s], room.untreated[1, s])
    _shared(room, ports, choices, (strength, onward, inward, source, to_seats, pressure))
    seen, audible = np.empty((m, 2, samples)), np.empty((m, 2, samples))
    own, driven, reach = np.empty((2, samples)), np.empty((2, samples)), np.empty((seats, 2, samples))
    flow, response = np.empty((2, samples)), np.empty((seats, 2, samples))
    work, logs = np.empty((6, samples)), np.empty((3, samples))
    before = -1
    for n in range(groups.pointer[g], groups.pointer[g + 1]):
        port = groups.last_port[n]
        if port != before:
            before = port
            _seen(seen, ports, room.between, onward, port)
            _audible(audible, ports, room.between, inward, port)
            _copy(own, room.between[0, port, port], room.between[1, port, port])
            _copy(driven, room.driven[0, port], room.driven[1, port])
            for s in range(seats):
                _copy(reach[s], room.to_seats[0, port, s], room.to_seats[1, port, s])
            for i in range(m):
                _take(driven, source[i], seen[i])
                for s in range(seats):
                    _take(reach[s], audible[i], to_seats[i, s, :2])
                _multiply(seen[i], strength[i])
                _take(own, audible[i], seen[i])
        y = room.admittance[:, groups.last_choice[n], port]
        _strength(flow, y, own)
        _multiply(flow, driven)
        for s in range(seats):
            _copy(response[s], pressure[s, 0], pressure[s, 1])
            _take(response[s], flow, reach[s])
        _figures(response, scale, work, logs, overall[n], uneven[n], ringing[n])


@numba.njit(parallel=True, **_OPTIONS)
def _score(room, scale, groups, order, figures):
    for k in prange(len(order)):
        _group(room, scale, groups, order[k], figures.overall, figures.uneven, figures.ringing)


class Figures(NamedTuple):
    """Of many designs. overall : (design, 2) spread and mean level in dB; uneven : (design, seat) dB
    ringing : (design, seat) octaves"""

    overall: Array
    uneven: Array
    ringing: Array


def score(room: Room, scale: Scale, groups: Groups, advance: Callable[[int], None] | None = None) -> Figures:
    """Figures of every design of `groups`; advance : called now and then with the number of groups done."""
    designs, seats = len(groups.last_port), len(scale.seat)
    figures = Figures(np.empty((designs, 2)), np.empty((designs, seats)), np.empty((designs, seats)))
    count = len(groups.ports)
    # Neighbouring groups are alike in size; dealt out like GPUs, every thread gets as much to do.
    threads, batch = numba.get_num_threads(), 64 * numba.get_num_threads()
    for first in range(0, count, batch):
        part = np.arange(first, min(first + batch, count))
        order = np.concatenate([part[k::threads] for k in range(threads)])
        _score(room, scale, groups, order, figures)
        if advance is not None:
            advance(int(part[-1]) + 1)
    return figures


@_compiled
def undominated(values: Array, order: Array, keep: Array) -> int:
    """Marks in `keep` (design,) the rows of `values` (design, objective) that no other row beats; returns their number.

    order : rows by rising sum, so that a row can only be beaten by one before it; equal rows beat nobody
    """
    front, count = np.empty(len(order), np.int64), 0
    for n in order:
        beaten = False
        for k in range(count):
            other = front[k]
            no_worse, better = True, False
            for j in range(values.shape[1]):
                if values[other, j] > values[n, j]:
                    no_worse = False
                    break
                better |= values[other, j] < values[n, j]
            if no_worse and better:
                beaten = True
                break
        keep[n] = not beaten
        if not beaten:
            front[count] = n
            count += 1
    return count
