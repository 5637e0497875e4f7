"""Drawings of a scene without a run, with captions: its plan, the shapes of its modes."""

from __future__ import annotations

from functools import partial
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fdtd import __version__
from fdtd.results.result import CellGrid
from fdtd.scene.schema import Scene
from fdtd.show.drawing import NAMES, Drawing, FigureText, described
from fdtd.show.geometry import plan_view
from fdtd.show.plan import draw_plan
from fdtd.show.style import FULL_WIDTH, WIDTHS
from fdtd.show.text import plain_text


def listed(names: tuple[str, ...] | list[str], kind: str) -> str:
    """'a', 'b' and 'c' as they stand in a sentence; only their number (of things of that `kind`) if they are many."""
    if len(names) > NAMES:
        return f"{len(names)} {kind}"
    quoted = [f"“{plain_text(name, 40)}”" for name in names]
    return quoted[0] if len(quoted) == 1 else f"{', '.join(quoted[:-1])} and {quoted[-1]}"


def of_scene(scene: Scene, grid: float | None = None) -> str:
    """Conditions of what is drawn without a run; grid : m, of the cells, if there are any."""
    title = f"{plain_text(scene.title, 80)}. " if scene.title.strip() else ""
    cells = f"Cells of {grid:.3g} m; " if grid is not None else ""
    return f"{title}{cells}fdtd {__version__}."


def plan_text(scene: Scene, number: int, conditions: str) -> FigureText:
    """Of the plan and section of variant `number`."""
    variant = scene.variants[number]
    corners = np.array(scene.room.plan)
    wide, deep = np.ptp(corners, axis=0)
    name = f" with “{plain_text(variant.name, 40)}”" if len(scene.variants) > 1 else ""
    groups = ((variant.sources, "loudspeaker"), (variant.seats, "seat"), (variant.absorbers, "absorber"))
    counts = ", ".join(f"{len(things)} {kind}{'s' * (len(things) != 1)}" for things, kind in groups)
    title = f"Plan and section{name}"
    caption = (
        f"Plan and section A–A of the room{name}: walls numbered, lengths in metres. The section is marked on the "
        f"plan; what it cuts is dark, what lies beyond is pale. {conditions}"
    )
    points = [(one.name, one.at) for one in variant.sources[:NAMES]]
    points += [(one.name, one.at) for one in variant.seats[:NAMES]]
    places = "; ".join(f"{plain_text(name, 40)} at {', '.join(f'{x:.2f}' for x in at)} m" for name, at in points)
    return FigureText(
        title, caption, f"Room of {wide:.2f} m by {deep:.2f} m, {len(corners)} walls, {counts}. {places}."
    )


def plan_drawing(scene: Scene, variant_index: int, stem: str, width: str | None = None) -> Drawing:
    """Plan and section of one variant; width : "column", "full" or None, which is full."""
    text = plan_text(scene, variant_index, of_scene(scene))
    draw = partial(draw_plan, scene, variant_index, WIDTHS.get(width or "", FULL_WIDTH))
    return described(stem, "plan", text, draw)


def modes_drawing(
    scene: Scene,
    cells: CellGrid,
    frequencies: ArrayLike,
    shapes: NDArray[Any],
    *,
    count: int,
    variant_index: int,
    grid: float,
    stem: str,
    rigid: bool = True,
    width: str | None = None,
) -> Drawing:
    """The lowest `count` modes on the plan, see `draw_modes`; grid : m, of the cells; width : as above."""
    from fdtd.show.modes import draw_modes, shown_modes  # loads much of SciPy, which a plan does not need

    variant = scene.variants[variant_index]
    axis = np.asarray(frequencies, dtype=float)
    shown = shown_modes(axis, count)
    kind = "Modes with rigid walls" if rigid else "Modes with all that absorbs"
    listed = ", ".join(f"{axis[k]:.1f}" for k in shown)
    phase = "" if rigid else ", at the moment at which each is largest"
    return Drawing(
        stem,
        "mode-shape",
        kind,
        partial(
            draw_modes,
            scene,
            cells,
            axis,
            shapes,
            count=count,
            variant_index=variant_index,
            rigid=rigid,
            width=WIDTHS.get(width or "", FULL_WIDTH),
        ),
        f"{kind}, the lowest {len(shown)} of the variant “{plain_text(variant.name, 40)}” in the plane "
        f"{plan_view(variant).position:.2f} m above the floor{phase}. Colours: sound pressure relative to its largest "
        f"value in the room; red and blue are in opposite phase. {of_scene(scene, grid)}",
        f"Maps of {len(shown)} mode shapes on the plan. Their frequencies: {listed or 'none'} Hz.",
    )
