"""Impedance links: a velocity of their own between two cells."""

from __future__ import annotations

from fdtd.kernels.compiled import inline, steady
from fdtd.kernels.compiled import place as at


@inline
def _moved(keep, push, pull, old, x, drop):
    """New velocity of a link between pressures that differ by `drop` (theory.md, eq. 8)."""
    return keep * old + push * drop - pull * x


@steady
def advance_links(p, q, excitations, links, state, tile, dt, change):
    """The links of one tile (theory.md, eq. 8 and 9); one that leads into another tile stands in both, and each copy
    gives to its own cell.

    Links that follow each other in the tables are moved together; change : scratch
    """
    order, n, last = links.order, links.tile[tile], links.tile[tile + 1]
    while n < last:
        count = min(len(change) // excitations, last - n)
        while order[n + count - 1] - order[n] >= count:
            count //= 2
        if excitations == 1:
            _advance_one(p, q, links, state, at(order[n]), at(count), dt, change)
        elif excitations == 8:  # a known number: the loops over it become vectors
            _advance_some(p, q, at(8), links, state, at(order[n]), at(count), dt, change)
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
