"""Loose links: a velocity of their own between two cells."""

from __future__ import annotations

from fdtd.kernels.compiled import phase, place


@phase
def advance_links(p, q, lanes, links, state, chunk, dt):
    """The links of one chunk; one that leads into another chunk stands in both, and each copy gives to its own cell."""
    width = place(lanes)
    for n in range(place(links.chunk[chunk]), place(links.chunk[chunk + 1])):
        k = place(links.order[n])
        i, j = place(links.first[k]) * width, place(links.second[k]) * width
        keep, push, pull = links.keep[k], links.push[k], links.pull[k]
        into_first, into_second = links.into_first[k], links.into_second[k]
        for lane in range(width):
            old, x = state.link_u[k, lane], state.link_x[k, lane]
            new = keep * old + push * (p[i + lane] - p[j + lane]) - pull * x
            state.link_u[k, lane] = new
            state.link_x[k, lane] = x + dt * new
            if into_first != 0:
                q[i + lane] -= into_first * (new - old)
            if into_second != 0:
                q[j + lane] += into_second * (new - old)
