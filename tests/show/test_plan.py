"""Plan and section: what is cut, what lies beyond, the slopes, one label a thing, and any room whatever."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest
from matplotlib.colors import to_hex
from matplotlib.patches import PathPatch
from shapely.geometry import LineString, Polygon

from fdtd.scene.read import read_scene
from fdtd.scene.schema import Absorber, Block, Patch, Rectangle, Room, Scene, Seat, Source
from fdtd.show.ceiling import bends, contours, sloped
from fdtd.show.geometry import View, ceiling_height, telling_section
from fdtd.show.page import lay_out, room_frame
from fdtd.show.plan import draw_plan, plan_axes, write_plan
from fdtd.show.style import COLUMN_WIDTH, DARK, FULL_WIDTH, LIGHT, figure_style
from fdtd.show.walls import wall_thickness
from show.synthetic import ATTIC, ELL, SLANTED, make_scene

SHIPPED = Path(__file__).parents[2] / "scenes"
NOTCHED = ((0, 0), (6, 0), (6, 1.2), (5.6, 1.2), (5.6, 1.6), (6, 1.6), (6, 4), (4, 4), (4, 2), (2, 2), (2, 4), (0, 4))
HIPPED = ((1.0, 0.9, 0.0), (1.0 + 0.9 * 7.2, -0.9, 0.0), (1.0, 0.0, 0.9), (1.0 + 0.9 * 5.6, 0.0, -0.9))
ROOMS = {
    "ell": (ELL, ((2.5, 0.0, 0.0),)),
    "attic": (SLANTED, ATTIC),
    "hipped roof": (((0, 0), (7.2, 0), (7.2, 5.6), (0, 5.6)), HIPPED),
    "notches": (NOTCHED, ((2.4, 0.0, 0.0),)),
    "corridor": (((0, 0), (14.0, 0), (14.0, 1.1), (0, 1.1)), ((2.4, 0.0, 0.0),)),
    "down to the floor": (((0, 0), (4, 0), (4, 5), (0, 5)), ((-1.0, 1.0, 0.0), (2.2, 0.0, 0.0))),
}


def words(figure) -> list[str]:
    return [t.get_text() for axes in figure.axes for t in axes.texts if t.get_text()]


def test_lines_of_equal_height_are_where_the_ceiling_has_that_height() -> None:
    room = Room(ROOMS["hipped roof"][0], HIPPED)
    found = contours(room)
    assert sorted({h for h, _ in found}) == [1.5, 2.0, 2.5, 3.0]
    # The ridge is 3.52 m up; a line at 3.5 m would lie on it.
    for height, line in found:
        for x, y in line:
            assert ceiling_height(room.ceiling, x, y) == pytest.approx(height, abs=1e-6)
    # A hipped roof: lines round the whole room, as long as a rectangle inset by the run of the slope.
    inset = 1.0 / 0.9
    length = sum(LineString(line).length for height, line in found if height == 2.0)
    assert length == pytest.approx(2 * (7.2 - 2 * inset + 5.6 - 2 * inset), rel=1e-3)


def test_the_bends_of_an_attic_are_two_lines_along_it() -> None:
    found = sorted(bends(Room(((0, 0), (7.2, 0), (7.2, 5.6), (0, 5.6)), ATTIC)), key=lambda line: line[0, 1])
    assert [sorted(line[:, 1])[0] for line in found] == pytest.approx([1.3 / 0.7, 5.6 - 1.3 / 0.7], abs=1e-3)
    assert all(np.ptp(line[:, 0]) == pytest.approx(7.2, abs=1e-3) for line in found)


def test_a_level_ceiling_has_no_lines_but_its_height_is_said() -> None:
    scene = make_scene()
    assert not sloped(scene.room) and contours(scene.room) == [] and bends(scene.room) == []
    assert "ceiling 2.50 m" in draw_plan(scene).axes[0].get_title(loc="left")


def test_the_section_of_an_attic_is_across_its_slopes() -> None:
    scene = make_scene(("attic",), SLANTED, ATTIC)
    view = telling_section(scene.room, scene.variants[0])
    assert view.normal == 0
    title = draw_plan(scene).axes[1].get_title(loc="left")
    assert f"x = {view.position:.2f} m" in title and "looking towards −x" in title


def test_solid_walls_lie_outside_the_air() -> None:
    scene = make_scene(("bare",), NOTCHED)
    axes = draw_plan(scene).axes[0]
    room, thick = Polygon(NOTCHED), wall_thickness(scene.room)
    (wall,) = [p for p in axes.patches if isinstance(p, PathPatch) and to_hex(p.get_facecolor()) == LIGHT.muted]
    points = wall.get_path().vertices
    assert all(room.buffer(-1e-6).disjoint(Polygon([p, p + 1e-9, p + [0, 1e-9]])) for p in points)
    assert np.ptp(points, axis=0) == pytest.approx([6 + 2 * thick, 4 + 2 * thick])


def test_plan_and_section_have_one_scale() -> None:
    for scene in (make_scene(), make_scene(("attic",), SLANTED, ATTIC), make_scene(("long",), *ROOMS["corridor"])):
        for width in (COLUMN_WIDTH, FULL_WIDTH):
            figure = draw_plan(scene, width=width)
            size = figure.get_size_inches()
            scales = []
            for axes in figure.axes:
                box = axes.get_position(original=True)
                spans = np.ptp([axes.get_xlim(), axes.get_ylim()], axis=1)
                scales += list(np.array([box.width, box.height]) * size / spans)
            assert scales == pytest.approx([scales[0]] * 4)


def test_a_unit_and_its_cabinet_have_one_name() -> None:
    shown = words(draw_plan(read_scene(SHIPPED / "l-shaped-living-room.toml"), 1))
    assert shown.count("corner unit") == 2 and not any("cabinet" in text for text in shown)
    # A block of the user's own keeps its name beside that of the absorber on it.
    scene = make_scene()
    panel = Absorber("panel", "unit", "block cupboard -x", Rectangle((0.1, 0.2), (0.5, 1.5)))
    variant = dataclasses.replace(scene.variants[0], absorbers=(panel,))
    shown = words(draw_plan(dataclasses.replace(scene, variants=(variant,))))
    assert "panel" in shown and "cupboard" in shown


def test_the_variant_is_named_only_where_it_looks_different() -> None:
    alike = make_scene(("off", "on"))
    pair = tuple(dataclasses.replace(alike.variants[1], name=name) for name in ("off", "on"))
    same = dataclasses.replace(alike, variants=pair)
    assert "as in the variant “on”" in [t.get_text() for t in draw_plan(alike, 1).texts]
    assert not any("variant" in t.get_text() for t in draw_plan(same, 0).texts)


def test_a_section_leaves_out_what_is_before_it() -> None:
    view = View(1, 1.6)
    assert view.beyond(2.0, 3.0) and not view.beyond(0.0, 1.0) and not view.beyond(1.0, 2.0)
    assert View(2, 1.1).beyond(0.0, 1.0) and View(0, 3.0).beyond(1.0, 2.0)
    scene = make_scene()  # its window is on the wall y = 0, behind whoever looks along +y from y = 1.6
    plan, section = draw_plan(scene).axes
    assert "patio door" in {t.get_text() for t in plan.texts}
    assert "patio door" not in {t.get_text() for t in section.texts}


def hostile(scene: Scene, count: int) -> Scene:
    """The scene with 2 `count` seats and sources and as many units, all with names that are hard to draw."""
    rng = np.random.default_rng(3)
    lower, upper = np.min(scene.room.plan, axis=0), np.max(scene.room.plan, axis=0)
    points = lower + 0.05 + rng.random((2 * count, 2)) * (upper - lower - 0.1)
    names = [f'$\\frac{{{k}}} <b>&" ' + "שלום 🙂\n" * (k % 3) + "x" * (40 * (k % 4)) for k in range(2 * count)]
    at = [(float(x), float(y), 1.1) for x, y in points]
    variant = dataclasses.replace(
        scene.variants[0],
        seats=tuple(Seat(n, a) for n, a in zip(names[:count], at[:count], strict=True)),
        sources=tuple(Source(n, a) for n, a in zip(names[count:], at[count:], strict=True)),
        blocks=(Block("B" * 200, (1.0, 0.0, 0.0), (1.5, 0.5, 3.0), "wood"),),
        thin_partitions=(),
        porous_volumes=(),
        absorbers=(),
        patches=(Patch("_window $", "wall 1", Rectangle((0.5, 0.9), (1.4, 2.0)), "glass"),),
    )
    return dataclasses.replace(scene, title="<script> $" + "long " * 3000, variants=(variant,))


@pytest.mark.parametrize("name", list(ROOMS))
@pytest.mark.parametrize(("width", "theme"), [(COLUMN_WIDTH, "dark"), (FULL_WIDTH, "light")])
def test_any_room_and_any_names_stay_on_the_paper(name: str, width: float, theme: str) -> None:
    plan, ceiling = ROOMS[name]
    with figure_style(theme):
        figure = draw_plan(hostile(make_scene(("bare",), plan, ceiling), 5), width=width)
        figure.draw_without_rendering()
        renderer = figure.canvas.get_renderer()
        assert tuple(figure.get_size_inches())[0] == pytest.approx(width)
        assert figure.get_size_inches()[1] <= 9.0
        for text in figure.findobj(lambda a: hasattr(a, "get_text") and bool(a.get_text())):
            box = text.get_window_extent(renderer)
            assert box.x0 >= -2 and box.y0 >= -2 and box.x1 <= figure.bbox.x1 + 2 and box.y1 <= figure.bbox.y1 + 2, (
                text.get_text()
            )


def test_all_colours_are_those_of_the_theme() -> None:
    allowed = {c.lower() for c in DARK.tokens.values()}
    with figure_style("dark"):
        figure = draw_plan(make_scene(), 1)
    for axes in figure.axes:
        for patch in axes.patches:
            if patch.get_facecolor()[3] > 0:
                assert to_hex(patch.get_facecolor()) in allowed
        assert all(to_hex(line.get_color()) in allowed for line in axes.lines if line.get_linestyle() != "None")
        assert all(to_hex(text.get_color()) in allowed for text in axes.texts)


def test_a_plan_can_be_drawn_now_and_named_later() -> None:
    scene = make_scene()
    variant = scene.variants[0]
    page = lay_out(FULL_WIDTH, [room_frame(scene, View(2, 1.1))], "heading", "note")
    drawing = plan_axes(page.axes[0], scene, variant, labels=False)
    assert words(page.figure) == []
    write_plan(page.axes[0], scene, drawing, without=("patch",))
    shown = words(page.figure)
    assert "desk" in shown and "wall 1  7.20 m" in shown and "patio door" not in shown
