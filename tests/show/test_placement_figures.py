"""Figures of a placement study: what is drawn is what was given, and everything stays in the frame."""

from __future__ import annotations

import re
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from matplotlib.patches import Polygon
from matplotlib.transforms import Bbox
from placement_scene import SCENE

from fdtd.results.placement_record import CountRecord
from fdtd.scene.read import read_scene, read_scene_text
from fdtd.scene.schema import Scene
from fdtd.scene.spots import candidates
from fdtd.show.best_places import draw_best_places
from fdtd.show.files import save_figure
from fdtd.show.placement import AUDIBLE, Bar, draw_before_after, draw_ranking, draw_returns
from fdtd.show.style import COLUMN_WIDTH, FULL_WIDTH
from fdtd.show.units import footprint, in_columns

SHIPPED = Path(__file__).parents[2] / "scenes" / "l-shaped-living-room.toml"


@pytest.fixture(scope="module")
def scene():
    return read_scene(SHIPPED)


def inside(figure) -> bool:
    """Whether titles, labels, legends and notes are within the figure."""
    figure.draw_without_rendering()
    renderer = figure.canvas.get_renderer()
    texts = [*figure.texts, *(t for legend in figure.legends for t in legend.get_texts())]
    for axes in figure.axes:
        texts += [axes.title, axes.xaxis.label, axes.yaxis.label, *axes.texts]
    boxes = [t.get_window_extent(renderer) for t in texts if t.get_text()]
    low, high = -1.0, 1.0  # pixels of rounding
    return all(
        b.x0 >= low and b.y0 >= low and b.x1 <= figure.bbox.x1 + high and b.y1 <= figure.bbox.y1 + high for b in boxes
    )


def test_bars_are_the_benefits_best_on_top(tmp_path: Path) -> None:
    bars = [Bar("7: here", 2.0, 1.5, 2.2), Bar("3: there $x$ " + 80 * "y", 1.0), Bar("9: nowhere", -0.4)]
    figure = draw_ranking("room", bars, 40)
    axes = figure.axes[0]
    assert [p.get_width() for p in axes.patches] == [2.0, 1.0, -0.4]
    low, high = axes.get_ylim()
    assert low > high  # the first one is on top
    (ranges,) = axes.collections
    assert [s[:, 0].tolist() for s in ranges.get_segments()] == [[1.5, 2.2]]
    assert all(path.stat().st_size > 3000 for path in save_figure(figure, tmp_path, "ranking"))


def test_best_places_are_named_with_their_number_of_units(scene) -> None:
    found = candidates(scene)
    figure = draw_best_places(scene, found, [(63,), (62, 63), (21, 62, 63)])
    key = "\n".join(t.get_text() for t in figure.texts).splitlines()
    told = [t.get_text() for t in figure.axes[0].texts]
    assert "64, 0.58 m above the floor: with 1, 2 or 3 units" in key and "63, on the floor: with 2 or 3 units" in key
    assert any(line.startswith("22,") and line.endswith("with 3 units") for line in key)
    assert {"64/63", "22"} <= set(told)  # the badges
    assert {"sofa", "reading chair", "loudspeaker"} <= set(told)
    assert inside(figure)


DENSE = """[spots]
device = "low"
size = [0.2, 0.3]
cabinet = { size = [0.3, 0.15, 0.4] }
on = ["walls"]
spacing = 0.3
height = [0.0, 1.2]
"""


@pytest.mark.parametrize("width", [COLUMN_WIDTH, FULL_WIDTH], ids=["column", "full"])
@pytest.mark.parametrize("room", ["l-shaped", "dense"])
def test_no_marker_covers_another(scene: Scene, room: str, width: float) -> None:
    """Stacked places, both walls' places in a corner, neighbours, all at once."""
    if room == "dense":
        scene = read_scene_text(SCENE.partition("[spots]")[0] + DENSE, "dense")
    found = candidates(scene)
    columns = [[found.index(one) for one in column] for column in in_columns(found)]
    first, second, last = columns[0], columns[1], columns[-1]
    designs = [(first[0],), (first[-1], last[0]), (second[0], second[-1], last[-1])]
    figure = draw_best_places(scene, found, designs, advised=2, width=width)
    (axes,) = figure.axes
    badges = [t for t in axes.texts if re.fullmatch(r"\d+(/\d+)*", t.get_text()) and t.get_bbox_patch()]
    listed = {number for t in badges for number in map(int, t.get_text().split("/"))}
    assert listed == {found[index].number for design in designs for index in design}
    figure.draw_without_rendering()
    boxes = [t.get_bbox_patch().get_window_extent() for t in badges]
    units = [axes.transData.transform(footprint(scene, scene.spots.start, found[c[0]])) for c in (first, second, last)]
    boxes += [Bbox([unit.min(axis=0), unit.max(axis=0)]) for unit in units]
    covers = [(a, b) for a, b in combinations(range(len(boxes)), 2) if a < len(badges) and boxes[a].overlaps(boxes[b])]
    assert covers == []
    # Units that share a corner are seen through one another: their outlines are above what is filled.
    drawn = [p for p in axes.patches if isinstance(p, Polygon) and p.get_zorder() > 7.0]
    assert len(drawn) == 6 and all(p.get_facecolor()[3] == 0.0 for p in drawn)
    assert inside(figure)


@pytest.mark.parametrize(
    ("unused", "said"),
    [(0, "other best choices."), (1, "grey: the other place tried."), (2, "grey: the other 2 places tried.")],
)
def test_the_places_that_no_design_uses_are_counted(scene: Scene, unused: int, said: str) -> None:
    found = candidates(scene)[: 2 + unused]
    written = " ".join(text.get_text() for text in draw_best_places(scene, found, [(0,), (0, 1)]).texts)
    assert said in written
    assert ("grey" in written) == (unused > 0)


def count(units: int, benefit: float, shorter: np.ndarray, even: np.ndarray, *limits: float) -> CountRecord:
    """The best design of so many units; limits : of the benefit in perturbed rooms."""
    heard = np.ones(len(shorter), bool)
    return CountRecord(units, (), benefit, 0.0, shorter, even, np.zeros(len(shorter)), heard, *limits)


def test_returns_start_from_nothing() -> None:
    counts = [
        count(1, 1.7, np.array([0.1, 0.2]), np.array([0.5, -0.1]), 1.2, 1.9),
        count(2, 2.5, np.array([0.15, 0.3]), np.array([0.9, 0.0])),
    ]
    figure = draw_returns("room", counts, ("sofa", "a seat with quite a long name indeed"))
    left, middle, right = figure.axes
    assert left.lines[0].get_ydata() == pytest.approx([0.0, 1.7, 2.5])
    shorter, even = ([ln.get_ydata() for ln in axes.lines if len(ln.get_xdata()) == 3] for axes in (middle, right))
    assert shorter[1] == pytest.approx([0.0, 20.0, 30.0])  # per cent
    assert even[0] == pytest.approx([0.0, 0.5, 0.9])
    assert inside(figure)


def test_steps_that_are_too_small_to_be_heard_have_hollow_marks() -> None:
    from fdtd.placement.steps import AUDIBLE_DECAY, AUDIBLE_EVENNESS

    assert AUDIBLE == (AUDIBLE_DECAY, AUDIBLE_EVENNESS)
    # 0 to 20 % and to 23 % shorter: the second step is 1 - 0.77 / 0.80 = 3.75 % of what was left.
    counts = [count(1, 1.0, np.array([0.20]), np.array([0.4])), count(2, 1.2, np.array([0.23]), np.array([1.0]))]
    figure = draw_returns("room", counts, ("sofa",))
    for axes, expected in zip(figure.axes[1:], ([True, False], [False, True]), strict=True):
        marks = [line for line in axes.lines if line.get_marker() == "o"]
        assert [m.get_markerfacecolor() == m.get_markeredgecolor() for m in marks] == expected
    told = [t.get_text() for axes in figure.axes for t in axes.texts]
    assert told == ["least heard step: 5 %", "least heard step: 0.5 dB"]


@pytest.mark.parametrize("width", [COLUMN_WIDTH, FULL_WIDTH])
def test_long_names_of_places_are_whole(width: float) -> None:
    name = "12: wall 3, 0.60 m from its corner with wall 2, 0.58 m above the floor, below the window"
    figure = draw_ranking("room", [Bar(name, 2.0), Bar("3: here", 1.0)], 40, width)
    assert any(" ".join(t.get_text().split()) == name for t in figure.axes[0].texts)
    assert inside(figure)


def test_the_advised_places_are_filled(scene) -> None:
    found = candidates(scene)
    axes = draw_best_places(scene, found, [(63,), (63, 21)], advised=2).axes[0]
    filled = [p for p in axes.patches if isinstance(p, Polygon) and p.get_alpha() is None and p.get_zorder() == 7.0]
    middles = sorted(tuple(p.get_xy()[:-1].mean(axis=0).round(2)) for p in filled)
    assert len(middles) == 2
    for index in (63, 21):
        assert min(np.hypot(x - found[index].at[0], y - found[index].at[1]) for x, y in middles) < 0.12


def test_before_and_after_with_the_change_beside() -> None:
    frequency = np.arange(15.0, 165.1, 0.5)
    before = np.column_stack([10.0 * np.sin(frequency / 9.0), 5.0 * np.cos(frequency / 7.0)])
    figure = draw_before_after("room", frequency, ("sofa", "chair"), ("none", "one"), [before, before - 2.0])
    assert len(figure.axes) == 4
    level, change = figure.axes[:2]
    assert level.lines[1].get_ydata() == pytest.approx(before[:, 0] - 2.0)
    (drawn,) = [line for line in change.lines if len(line.get_xdata()) == len(frequency)]
    assert drawn.get_ydata() == pytest.approx(-2.0)
    assert change.get_ylim()[0] < -2.0
    # Both seats on the same scales, though one of them moves half as much.
    for first in (0, 1):
        assert len({axes.get_ylim() for axes in figure.axes[first::2]}) == 1
    assert inside(figure)
