"""Loose links: a velocity of their own between two cells."""

from __future__ import annotations

from fdtd.kernels.compiled import inline, steady
from fdtd.kernels.compiled import place as at
from fdtd.kernels.vectors import move_link, whole_vector


@inline
def _moved(keep, push, pull, drop, old, x):
    """New velocity of a link between pressures that differ by `drop`."""
    return keep * old + push * drop - pull * x


@steady
def advance_links(p, q, lanes, links, state, chunk, dt, change):
    """The links of one chunk; one that leads into another chunk stands in both, and each copy gives to its own cell.

    Links that follow each other in the tables are moved together; change : scratch, of velocity, several lanes
    """
    order, n, last = links.order, links.chunk[chunk], links.chunk[chunk + 1]
    while n < last:
        count = min(len(change) // lanes, last - n)
        while order[n + count - 1] - order[n] >= count:
            count //= 2
        if lanes == 1:
            _advance_one(p, q, links, state, at(order[n]), at(count), dt, change)
        else:
            _advance_some(p, q, at(lanes), links, state, at(order[n]), at(count), dt, change)
        n += count


@inline
def _advance_one(p, q, links, state, k, count, dt, change):
    """Links k and on in a single lane, where loops over lanes would cost more than the arithmetic."""
    u, x = state.link_u.reshape(-1), state.link_x.reshape(-1)
    for i in range(count):
        change[i] = p[at(links.first[k + i])] - p[at(links.second[k + i])]
    for i in range(count):
        old = u[k + i]
        new = _moved(links.keep[k + i], links.push[k + i], links.pull[k + i], change[i], old, x[k + i])
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
    """The same links in several lanes."""
    u, x = state.link_u.reshape(-1), state.link_x.reshape(-1)
    if width % whole_vector(p) == 0:
        for i in range(k, k + count):
            one, other = at(links.first[i]) * width, at(links.second[i]) * width
            rule, into = (links.keep[i], links.push[i], links.pull[i]), (links.into_first[i], links.into_second[i])
            move_link(p, q, u, x, width, one, other, at(i) * width, rule, into, dt)
        return
    for i in range(k, k + count):
        one, other = at(links.first[i]) * width, at(links.second[i]) * width
        keep, push, pull = links.keep[i], links.push[i], links.pull[i]
        into_first, into_second = links.into_first[i], links.into_second[i]
        for lane in range(width):
            old, x = state.link_u[i, lane], state.link_x[i, lane]
            new = _moved(keep, push, pull, p[one + lane] - p[other + lane], old, x)
            state.link_u[i, lane] = new
            state.link_x[i, lane] = x + dt * new
            change[lane] = new - old
        if into_first != 0:
            for lane in range(width):
                q[one + lane] -= into_first * change[lane]
        if into_second != 0:
            for lane in range(width):
                q[other + lane] += into_second * change[lane]
