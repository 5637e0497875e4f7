"""Candidates on the plan: every number is there, in the frame, and stands in no other unit and on no other number."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import shapely
from placement_scene import SCENE

from fdtd.scene.read import read_scene, read_scene_text
from fdtd.scene.schema import Scene
from fdtd.scene.spots import candidates
from fdtd.show.best_places import draw_best_places
from fdtd.show.files import save_figure
from fdtd.show.spots import draw_spots, ranges
from fdtd.show.style import COLUMN_WIDTH, FULL_WIDTH, look
from fdtd.show.units import footprint, in_columns
from fdtd.wording.places import height_text, place_text

SHIPPED = Path(__file__).parents[2] / "scenes" / "l-shaped-living-room.toml"
NUMBERS = re.compile(r"\d+(–\d+)?(, \d+(–\d+)?)*")


CABINETS = """\
size = [0.2, 0.3]
cabinet = { size = [0.3, 0.15, 0.4] }
on = ["walls"]
spacing = 0.3
height = [0.0, 1.2]
"""


def small_room(spots: str) -> Scene:
    """3.0 m by 2.2 m."""
    return read_scene_text(f"{SCENE.partition('[spots]')[0]}[spots]\ndevice = 'low'\n{spots}\n", "small room")


ROOMS = {
    "l-shaped": lambda: read_scene(SHIPPED),
    "dense": lambda: small_room(CABINETS),
    "brackets": lambda: small_room("size = [0.1, 0.1]\non = ['walls']\nspacing = 0.1\nheight = [0.0, 0.4]"),
    "floor and ceiling": lambda: small_room("size = [0.4, 0.4]\non = ['floor', 'ceiling']\nspacing = 0.5"),
}


@pytest.fixture(scope="module")
def scene() -> Scene:
    return read_scene(SHIPPED)


def shown(text: str) -> list[int]:
    """The numbers that a label stands for."""
    found: list[int] = []
    for part in text.split(", "):
        first, _, last = part.partition("–")
        found += range(int(first), int(last or first) + 1)
    return found


@pytest.mark.parametrize("width", [COLUMN_WIDTH, FULL_WIDTH], ids=["column", "full"])
@pytest.mark.parametrize("room", ROOMS)
def test_each_number_stands_alone(room: str, width: float) -> None:
    scene = ROOMS[room]()
    found = candidates(scene)
    figure = draw_spots(scene, found, width=width)
    (axes,) = figure.axes
    labels = [t for t in axes.texts if NUMBERS.fullmatch(t.get_text()) and t.get_color() == look().ink]
    assert sorted(n for t in labels for n in shown(t.get_text())) == [c.number for c in found]
    renderer = figure.canvas.get_renderer()
    boxes = [shapely.box(*t.get_window_extent(renderer).extents) for t in labels]
    assert all(shapely.box(*figure.bbox.extents).contains(box) for box in boxes)
    assert [(a, b) for i, a in enumerate(boxes) for b in boxes[i + 1 :] if a.intersects(b)] == []
    for column in in_columns(found):
        unit = shapely.Polygon(axes.transData.transform(footprint(scene, scene.spots.start, column[0])))
        numbers = {one.number for one in column}
        for label, box in zip(labels, boxes, strict=True):
            assert numbers <= set(shown(label.get_text())) or unit.intersection(box).area < 0.5, label.get_text()


def test_a_line_leads_from_each_unit_to_its_number(scene: Scene) -> None:
    found = candidates(scene)
    axes = draw_spots(scene, found).axes[0]
    lines = [line.get_xydata() for line in axes.lines if len(line.get_xydata()) == 3]
    boxes = {t.get_text(): t.get_window_extent() for t in axes.texts}
    for column in in_columns(found):
        (line,) = [one for one in lines if one[0] == pytest.approx(column[0].at[:2], abs=1e-6)]
        end = axes.transData.transform(line[-1])
        assert boxes[ranges(one.number for one in column)].padded(4.0).contains(*end)


def test_neighbours_share_a_number_where_there_is_no_room_for_each() -> None:
    scene = ROOMS["brackets"]()
    told = [t.get_text() for t in draw_spots(scene, candidates(scene), width=COLUMN_WIDTH).axes[0].texts]
    assert max(len(shown(text)) for text in told if NUMBERS.fullmatch(text)) >= 8  # a column has 4


def test_heights_are_those_of_cabinets_everywhere() -> None:
    found = candidates(ROOMS["dense"]())
    assert found[0].height == "floor" and found[0].rectangle.lower[1] == pytest.approx(0.05)
    assert all(height_text(one) in place_text(one) for one in found)
    spots = draw_spots(ROOMS["dense"](), found)
    (note,) = [t.get_text() for t in spots.texts if "above another" in t.get_text()]
    assert "(1: on the floor)" in " ".join(note.split()) and "0.05" not in note
    places = draw_best_places(ROOMS["dense"](), found, [(0,), (0, 1)])
    told = " ".join(t.get_text() for t in (*places.texts, *places.axes[0].texts))
    assert f"1, {height_text(found[0])}" in told and f"2, {height_text(found[1])}" in told


def test_a_variant_of_the_scene_is_drawn_with_what_is_in_it(scene: Scene) -> None:
    started = draw_spots(scene, candidates(scene)).axes[0]
    drawn = draw_spots(scene, candidates(scene), 1).axes[0]
    assert len(drawn.patches) > len(started.patches)  # the cabinet that the study leaves out


def test_columns_and_their_numbers(scene: Scene) -> None:
    columns = in_columns(candidates(scene))
    assert all(a.at[2] < b.at[2] for column in columns for a, b in zip(column[:-1], column[1:], strict=True))
    assert [ranges(numbers) for numbers in ([7], [3, 1, 2], [1, 2, 7], [1, 3])] == ["7", "1–3", "1–2, 7", "1, 3"]


def test_it_is_saved_whole(scene: Scene, tmp_path: Path) -> None:
    for path in save_figure(draw_spots(scene, candidates(scene)), tmp_path, "spots"):
        assert path.stat().st_size > 5000
