"""Places for a loudspeaker or a seat on the plan, and the responses now and at the best one."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.collections import PatchCollection
from matplotlib.figure import Figure
from matplotlib.patches import Circle
from numpy.typing import NDArray

from fdtd.scene.schema import Point3, Scene, Variant
from fdtd.show.geometry import outlines, plan_view
from fdtd.show.labels import Label, no_boxes, place_labels, text_box
from fdtd.show.style import (
    BLACK,
    FULL_WIDTH,
    SEAT_COLOUR,
    SIGNED_COLOURS,
    SOURCE_COLOUR,
    VERMILION,
    figure_style,
    frequency_axis,
    new_figure,
    safe_text,
    signed_limit,
)
from fdtd.show.things import all_lines, draw_room, frame_room

EDGE = 1.06
"""Factor by which the axis of frequency is wider than the band at each end."""
JOINED = 3
"""Pairs that are drawn with a line between their places."""
IN_VIEW = 0.03
"""Share of the levels that may lie below a panel: the depth of a notch is a matter of luck."""


def draw_places(
    scene: Scene, variant: Variant, places: NDArray[np.float64], benefit: NDArray[np.float64],
    best: Sequence[tuple[int, ...]], present: Sequence[Point3], title: str, spacing: float,
) -> Figure:  # fmt: skip
    """The plan with every place coloured by what moving there gains.

    places : (place, 3) m; benefit : (place,) dB against now; best : place numbers of the best choices, best first;
    present : where the moved things are; spacing : m
    """
    with figure_style():
        view = plan_view(variant)
        wide, tall = np.ptp(np.vstack(outlines(scene.room, view)), axis=0)
        figure = new_figure(FULL_WIDTH, float(np.clip((FULL_WIDTH - 0.6) * tall / wide + 1.3, 3.0, 9.0)))
        axes = figure.add_subplot()
        limit = signed_limit([benefit])
        dots = PatchCollection(
            [Circle((x, y), 0.38 * spacing) for x, y, _ in places], cmap=SIGNED_COLOURS.removesuffix("_r"),
            edgecolor="#404040", linewidth=0.3, zorder=6,
        )  # fmt: skip
        dots.set_array(benefit)
        dots.set_clim(-limit, limit)
        axes.add_collection(dots)
        marks = draw_room(axes, scene, variant, view)
        frame_room(axes, scene, view)
        for x, y, _ in present:
            axes.plot(x, y, "o", markersize=12, markerfacecolor="none", markeredgecolor=BLACK, zorder=9)
        pairs = [(rank, places[list(c)]) for rank, c in enumerate(best, 1) if len(c) > 1]
        for rank, ends in pairs[:JOINED]:
            axes.plot(ends[:, 0], ends[:, 1], color=BLACK, linewidth=1.6 - 0.4 * rank, zorder=5.5)
        bar = figure.colorbar(dots, ax=axes, location="bottom", shrink=0.5, aspect=30, extend="both", pad=0.01)
        bar.set_label("benefit in dB against now (blue: better, red: worse)", labelpad=1)
        figure.suptitle(safe_text(title, 90))
        axes.set_title("numbers: the best, in order; ring: where it is now", pad=3.0)
        figure.draw_without_rendering()
        taken = _write_ranks(axes, places, best, benefit, limit)
        named = [
            Label(safe_text(m.name, 24), m.at, SOURCE_COLOUR if m.kind == "source" else SEAT_COLOUR)
            for m in marks if m.kind in ("source", "seat")
        ]  # fmt: skip
        place_labels(axes, named, taken, all_lines(axes, scene, view, marks))
        return figure


def _write_ranks(
    axes: Any, places: NDArray[np.float64], best: Sequence[tuple[int, ...]], benefit: NDArray[np.float64], limit: float
) -> NDArray[np.float64]:
    """The rank of each of the best choices on its place; a place of several shows the best rank."""
    ranks: dict[int, int] = {}
    for rank, choice in enumerate(best, 1):
        for place in choice:
            ranks.setdefault(place, rank)
    boxes = [no_boxes()]
    for place, rank in ranks.items():
        dark = abs(benefit[place]) > 0.55 * limit
        text = axes.text(
            *places[place, :2], str(rank), ha="center", va="center", fontsize=7, fontweight="bold", zorder=10,
            color="white" if dark else BLACK,
        )  # fmt: skip
        text.set_in_layout(False)
        boxes.append(text_box(text))
    return np.vstack(boxes)


def draw_now_and_best(
    frequency: NDArray[np.float64], now: NDArray[np.complex128], best: NDArray[np.complex128], seats: Sequence[str],
    where: str, title: str = "Level now and with the best choice",
) -> Figure:  # fmt: skip
    """Level at each seat now and with the best choice; now, best : (F, seat), 1 is free field at 1 m."""
    with figure_style():
        columns = 1 if len(seats) == 1 else 2
        rows = int(np.ceil(len(seats) / columns))
        figure = new_figure(FULL_WIDTH, 2.2 * rows + 0.7)
        grid = figure.subplots(rows, columns, squeeze=False, sharex=True, sharey=True)
        figure.suptitle(safe_text(title, 90))
        levels = 20.0 * np.log10(np.maximum(np.abs(np.stack([now, best])), 1e-9))
        bottom, top = float(np.quantile(levels, IN_VIEW)) - 3.0, float(levels.max()) + 3.0
        for axes in grid.flat[len(seats) :]:
            axes.set_visible(False)
        for k, (axes, name) in enumerate(zip(grid.flat, seats, strict=False)):
            axes.plot(frequency, levels[0, :, k], color=BLACK, linestyle="--", label="now")
            axes.plot(frequency, levels[1, :, k], color=VERMILION, label=safe_text(f"best: {where} m", 60))
            # A little wider than the band, or the last number is cut in two at the edge and runs into the next panel.
            frequency_axis(axes, float(frequency[0]) / EDGE, float(frequency[-1]) * EDGE)
            axes.set_title(f"seat '{safe_text(name, 40)}'")
            axes.set_ylim(bottom, top)
            if k % columns == 0:
                axes.set_ylabel("level in dB re free\nfield at 1 m")
            if k + columns >= len(seats):
                axes.set_xlabel("frequency in Hz")
                axes.tick_params(labelbottom=True)
        figure.legend(*grid[0, 0].get_legend_handles_labels(), loc="outside lower center", ncols=2)
        return figure
