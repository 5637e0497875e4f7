"""Impedance links: a velocity of their own between two cells."""

from __future__ import annotations

from typing import Any

from llvmlite import ir
from numba import types
from numba.core import cgutils

from fdtd.kernels.compiled import inline, steady
from fdtd.kernels.compiled import place as at
from fdtd.kernels.vectors import LOOSE, Vectors, code, data, uncompiled, whole_vector


@inline
def _moved(keep, push, pull, old, x, drop):
    """New velocity of a link between pressures that differ by `drop` (theory.md, eq. 8)."""
    return keep * old + push * drop - pull * x


@code
def _move_link(typing, p, q, u, x, excitations, one, other, row, rule, into, dt):
    """What `_plain_link` does."""
    signature = types.void(p, q, u, x, excitations, one, other, row, rule, into, dt)

    def generate(context, builder, signature, arguments):
        number = ir.IntType(64)
        p, q, u, x = (data(context, builder, signature.args[k], arguments[k]) for k in range(4))
        excitations, one, other, row = arguments[4:8]
        real = p.type.pointee
        unit = Vectors(builder, real)
        rule, given = (cgutils.unpack_tuple(builder, value) for value in arguments[8:10])
        keep, push, pull, dt = (unit.splat(value) for value in (*rule, arguments[10]))
        give = [unit.splat(value) for value in (builder.fneg(given[0]), given[1])]
        with cgutils.for_range_slice(builder, number(0), excitations, number(unit.size), number) as (t, _):
            here, there, own = (builder.add(place, t) for place in (one, other, row))
            drop = builder.fsub(unit.load(p, here), unit.load(p, there), flags=LOOSE)
            old, way = unit.load(u, own), unit.load(x, own)
            pulled = builder.fmul(pull, way, flags=LOOSE)
            new = builder.fsub(unit.weighted([keep, push], [old, drop]), pulled, flags=LOOSE)
            unit.store(new, u, own)
            unit.store(builder.fadd(way, builder.fmul(dt, new, flags=LOOSE), flags=LOOSE), x, own)
            change = builder.fsub(new, old, flags=LOOSE)
            for k, place in enumerate((here, there)):
                with builder.if_then(builder.fcmp_unordered("!=", given[k], ir.Constant(real, 0.0))):
                    added = builder.fmul(give[k], change, flags=LOOSE)
                    unit.store(builder.fadd(unit.load(q, place), added, flags=LOOSE), q, place)
        return context.get_dummy_value()

    return signature, generate


def _plain_link(p, q, u, x, excitations, one, other, row, rule, into, dt):
    here, there, own = (slice(place, place + excitations) for place in (one, other, row))
    old = u[own].copy()
    u[own] = _moved(*rule, old, x[own], p[here] - p[there])
    x[own] += dt * u[own]
    q[here] -= into[0] * (u[own] - old)
    q[there] += into[1] * (u[own] - old)


move_link: Any = _plain_link if uncompiled else _move_link
"""A impedance link between the cells whose excitations begin at `one` and `other`; its own begin at `row`.

excitations : whole vectors of them, else what lies behind would be moved too; rule : keep, push, pull; into : what it
gives to its two cells, 0 if not this but a copy of it gives
"""


@steady
def advance_links(p, q, excitations, links, state, tile, dt, change):
    """The links of one tile (theory.md, eq. 8 and 9); one that leads into another tile stands in both, and each copy
    gives to its own cell.

    Links that follow each other in the tables are moved together; change : scratch, not for excitations in whole
    vectors
    """
    order, n, last = links.order, links.tile[tile], links.tile[tile + 1]
    while n < last:
        count = min(len(change) // excitations, last - n)
        while order[n + count - 1] - order[n] >= count:
            count //= 2
        if excitations == 1:
            _advance_one(p, q, links, state, at(order[n]), at(count), dt, change)
        else:
            _advance_some(p, q, at(excitations), links, state, at(order[n]), at(count), dt, change)
        n += count


@inline
def _advance_one(p, q, links, state, k, count, dt, change):
    """Links k and on in a single excitation, where loops over excitations would cost more than the arithmetic."""
    u, x = state.link_u.reshape(-1), state.link_x.reshape(-1)
    for i in range(count):
        change[i] = p[at(links.first[k + i])] - p[at(links.second[k + i])]
    for i in range(count):
        old = u[k + i]
        new = _moved(links.keep[k + i], links.push[k + i], links.pull[k + i], old, x[k + i], change[i])
        u[k + i] = new
        x[k + i] += dt * new
        change[i] = new - old
    for i in range(count):
        into_first, into_second = links.into_first[k + i], links.into_second[k + i]
        if into_first != 0:
            q[at(links.first[k + i])] -= into_first * change[i]
        if into_second != 0:
            q[at(links.second[k + i])] += into_second * change[i]


@inline
def _advance_some(p, q, width, links, state, k, count, dt, change):
    """The same links in several excitations."""
    if width % whole_vector(p) == 0:
        u, way = state.link_u.reshape(-1), state.link_x.reshape(-1)
        for i in range(k, k + count):
            one, other = at(links.first[i]) * width, at(links.second[i]) * width
            rule, into = (links.keep[i], links.push[i], links.pull[i]), (links.into_first[i], links.into_second[i])
            move_link(p, q, u, way, width, one, other, at(i) * width, rule, into, dt)
        return
    for i in range(k, k + count):
        one, other = at(links.first[i]) * width, at(links.second[i]) * width
        keep, push, pull = links.keep[i], links.push[i], links.pull[i]
        into_first, into_second = links.into_first[i], links.into_second[i]
        for excitation in range(width):
            old, x = state.link_u[i, excitation], state.link_x[i, excitation]
            new = _moved(keep, push, pull, old, x, p[one + excitation] - p[other + excitation])
            state.link_u[i, excitation] = new
            state.link_x[i, excitation] = x + dt * new
            change[excitation] = new - old
        if into_first != 0:
            for excitation in range(width):
                q[one + excitation] -= into_first * change[excitation]
        if into_second != 0:
            for excitation in range(width):
                q[other + excitation] += into_second * change[excitation]
