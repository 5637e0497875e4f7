"""Drawings of a scene without a run, with captions: its plan, the shapes of its modes."""

from __future__ import annotations

from functools import partial
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fdtd.results.result import CellGrid
from fdtd.scene.schema import Scene
from fdtd.show import captions
from fdtd.show.drawings import Drawing
from fdtd.show.geometry import plan_view
from fdtd.show.modes import draw_modes, shown_modes
from fdtd.show.plan import draw_plan
from fdtd.show.style import FULL_WIDTH, WIDTHS
from fdtd.show.text import plain_text


def plan_drawing(scene: Scene, variant_index: int, stem: str, width: str | None = None) -> Drawing:
    """Plan and section of one variant; width : "column", "full" or None, which is full."""
    text = captions.plan(scene, variant_index, captions.of_scene(scene))
    draw = partial(draw_plan, scene, variant_index, WIDTHS.get(width or "", FULL_WIDTH))
    return Drawing(stem, "plan", text.title, draw, text.caption, text.alternative)


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
        f"value in the room; red and blue are in opposite phase. {captions.of_scene(scene, grid)}",
        f"Maps of {len(shown)} mode shapes on the plan. Their frequencies: {listed or 'none'} Hz.",
    )
