"""The mode shapes of a room's modes as drawings with captions: the overview and a sheet for each mode."""

from __future__ import annotations

from functools import partial

from fdtd import __version__
from fdtd.analysis.mode_shapes import ModeShape, ModeShapes
from fdtd.results.result import CellGrid
from fdtd.scene.schema import Scene
from fdtd.scene.shape import Shape
from fdtd.show.drawing import Drawing
from fdtd.show.mode_shape_page import MODES_A_PAGE, draw_mode_shape_page
from fdtd.show.mode_shape_views import views
from fdtd.show.mode_shapes import draw_mode_shape
from fdtd.show.style import FULL_WIDTH
from fdtd.show.text import in_caption, plain_text
from fdtd.wording.mode_shapes import loudest_text, mode_shape_text

PLANES = (
    "Colours: pressure relative to the loudest place of the mode; thick lines: nodal lines, where it is silent; the "
    "strokes at the edges mark where plan and section cut each other."
)


def mode_shape_drawings(
    scene: Scene,
    cells: CellGrid,
    mode_shapes: ModeShapes,
    *,
    grid: float,
    variant_index: int = 0,
    count: int = 6,
    stem: str = "mode-shape",
    width: float = FULL_WIDTH,
) -> list[Drawing]:
    """Overviews of all modes, 16 to a page, then mode shapes of the lowest `count`.

    grid : m, of the cells, for the captions; stem : beginning of the file names; width : inches
    """
    if not mode_shapes.modes:
        return []
    variant = scene.variants[variant_index]
    plan, section = views(scene, variant)
    where = (
        f"Plan at {plan.position:.2f} m, section at {'xyz'[section.normal]} = {section.position:.2f} m of "
        f"“{plain_text(scene.title or 'room')}”, variant “{plain_text(variant.name)}”, cells of {grid:g} m; "
        f"fdtd {__version__}."
    )
    outline, found = Shape(scene.room), []
    for first in range(0, len(mode_shapes.modes), MODES_A_PAGE):
        last = min(first + MODES_A_PAGE, len(mode_shapes.modes))
        shown = mode_shapes.modes[first:last]
        low, high = shown[0], shown[-1]
        band = f"{low.frequency:.1f} to {high.frequency:.1f} Hz"
        numbers = f"-{first + 1}-{last}" if len(mode_shapes.modes) > MODES_A_PAGE else ""
        found.append(
            Drawing(
                stem=f"{stem}-overview{numbers}",
                kind="mode-shape",
                title=f"Modes from {band}",
                draw=partial(draw_mode_shape_page, scene, cells, mode_shapes, variant_index, width=width, first=first),
                caption=f"{_kind(low)} from {band}. {PLANES} Below each: how strongly sources and seats couple to it, "
                f"in percent of its largest pressure. {where}",
                alternative=f"Small maps of {last - first} modes from {band}: "
                + "; ".join(
                    f"{m.number}, {m.frequency:.1f} Hz, loudest {loudest_text(outline, m.loudest)}" for m in shown
                )
                + ".",
            )
        )
    for k, one in enumerate(mode_shapes.modes[:count]):
        text = plain_text(in_caption(mode_shape_text(one, mode_shapes.places, outline)), 900)
        found.append(
            Drawing(
                stem=f"{stem}-{k + 1}-{one.frequency:.1f}hz",
                kind="mode-shape",
                title=f"Mode {one.number}, {one.frequency:.1f} Hz",
                draw=partial(draw_mode_shape, scene, cells, mode_shapes, k, variant_index, width=width),
                caption=f"Mode {one.number}. {text} {PLANES} Bars: pressure at sources, seats "
                f"and faces of units in percent of the largest.{_levels(one)} {where}",
                alternative=text,
            )
        )
    return found


def _kind(one: ModeShape) -> str:
    return "Modes with rigid walls" if one.decay_time != one.decay_time else "Modes with all that absorbs"


def _levels(one: ModeShape) -> str:
    if one.decay_time != one.decay_time:
        return ""
    return " Levels: of a steady tone at its frequency by this mode alone, re the same source in free field at 1 m."
