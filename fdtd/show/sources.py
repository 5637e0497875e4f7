"""Places for a loudspeaker or a seat on the plan, and the responses now and at the best one."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib import colormaps
from matplotlib.collections import PatchCollection
from matplotlib.figure import Figure
from matplotlib.patches import Circle
from numpy.typing import NDArray

from fdtd.scene.schema import Point3, Scene, Variant
from fdtd.show.geometry import plan_view
from fdtd.show.labels import no_boxes
from fdtd.show.layout import colour_bar, draw_curves, heading, heading_height, legend_below, legend_height
from fdtd.show.page import lay_out, room_frame
from fdtd.show.plan import letters, plan_axes, write_plan
from fdtd.show.style import (
    BESIDE,
    FULL_WIDTH,
    figure_style,
    frequency_axis,
    look,
    new_figure,
    safe_text,
    signed_limit,
)
from fdtd.show.units import badge

EDGE = 1.06
"""Factor by which the axis of frequency is wider than the band at each end."""
JOINED = 3
"""Pairs that are drawn with a line between their places."""
IN_VIEW = 0.03
"""Share of the levels that may lie below a panel: the depth of a notch is a matter of luck."""


def draw_places(
    scene: Scene,
    variant: Variant,
    places: NDArray[np.float64],
    benefit: NDArray[np.float64],
    best: Sequence[tuple[int, ...]],
    present: Sequence[Point3],
    title: str,
    spacing: float,
    width: float = FULL_WIDTH,
) -> Figure:
    """The plan with every place coloured by what moving there gains.

    places : (place, 3) m; benefit : (place,) dB against now; best : place numbers of the best choices, best first;
    present : where the moved things are; spacing : m; width : inches
    """
    with figure_style():
        note = "Numbers: the best, in order; ring: where it is now."
        frames = [room_frame(scene, plan_view(variant))]
        page = lay_out(width, frames, safe_text(title, 90), note, foot=0.50, titled=False)
        (axes,) = page.axes
        limit = signed_limit([benefit])
        # The map of changes turned round: here more is better, and better is blue.
        dots = PatchCollection(
            [Circle((x, y), 0.38 * spacing) for x, y, _ in places],
            cmap=colormaps[look().signed_colours].reversed(),
            edgecolor=look().muted,
            linewidth=0.3,
            zorder=6,
        )
        dots.set_array(benefit)
        dots.set_clim(-limit, limit)
        axes.add_collection(dots)
        drawing = plan_axes(axes, scene, variant, labels=False, tinted=False)
        for x, y, _ in present:
            axes.plot(x, y, "o", markersize=12, markerfacecolor="none", markeredgecolor=look().ink, zorder=9)
        pairs = [(rank, places[list(c)]) for rank, c in enumerate(best, 1) if len(c) > 1]
        for rank, ends in pairs[:JOINED]:
            axes.plot(ends[:, 0], ends[:, 1], color=look().ink, linewidth=1.6 - 0.4 * rank, zorder=5.5)
        bar_axes = page.add_axes((0.2 * width, 0.34, 0.6 * width, 0.09))
        label = "benefit in dB against now (above 0: better)"
        colour_bar(page.figure, dots, label, cax=bar_axes, orientation="horizontal", extend="both")
        taken = _write_ranks(axes, places, best)
        without = ("block", "porous fill", "patch", "absorber")
        write_plan(axes, scene, drawing, taken=taken, without=without, limit=letters(width))
        return page.figure


def _write_ranks(axes: Any, places: NDArray[np.float64], best: Sequence[tuple[int, ...]]) -> NDArray[np.float64]:
    """The rank of each of the best choices on its place; a place of several shows the best rank."""
    ranks: dict[int, int] = {}
    for rank, choice in enumerate(best, 1):
        for place in choice:
            ranks.setdefault(place, rank)
    at = [(float(places[place, 0]), float(places[place, 1]), rank) for place, rank in ranks.items()]
    return np.vstack([no_boxes(), *(badge(axes, (x, y), str(rank)) for x, y, rank in at)])


def draw_now_and_best(
    frequency: NDArray[np.float64],
    now: NDArray[np.complex128],
    best: NDArray[np.complex128],
    seats: Sequence[str],
    where: str,
    title: str = "Level now and with the best choice",
    width: float = FULL_WIDTH,
) -> Figure:
    """Level at each seat now and with the best choice; now, best : (F, seat), 1 is free field at 1 m; width : in."""
    with figure_style():
        columns = 1 if len(seats) == 1 or width < BESIDE else 2
        rows = int(np.ceil(len(seats) / columns))
        text = ["now", safe_text(f"best: {where} m", 60)]
        figure = new_figure(width, 1.75 * rows + heading_height() + legend_height(text, width) + 0.2)
        grid = figure.subplots(rows, columns, squeeze=False, sharex=True, sharey=True)
        levels = 20.0 * np.log10(np.maximum(np.abs(np.stack([now, best])), 1e-9))
        bottom, top = float(np.quantile(levels, IN_VIEW)) - 3.0, float(levels.max()) + 3.0
        for axes in grid.flat[len(seats) :]:
            axes.set_visible(False)
        for k, (axes, name) in enumerate(zip(grid.flat, seats, strict=False)):
            # A little wider than the band, or the last number is cut in two at the edge and runs into the next panel.
            frequency_axis(axes, float(frequency[0]) / EDGE, float(frequency[-1]) * EDGE)
            axes.set_ylim(bottom, top)
            draw_curves(axes, frequency, levels[:, :, k], text)
            axes.set_title(f"at “{safe_text(name, 40)}”")
            if k % columns == 0:
                axes.set_ylabel("level in dB re free\nfield at 1 m")
            if k + columns >= len(seats):
                axes.set_xlabel("frequency in Hz")
                axes.tick_params(labelbottom=True)
        heading(figure, safe_text(title, 90))
        legend_below(figure, grid[0, 0].get_legend_handles_labels()[0][:2], text, width)
        return figure
