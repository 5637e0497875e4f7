"""Candidates on the plan: every number is there, in the frame, and no two numbers cover each other."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from fdtd.scene.read import read_scene
from fdtd.scene.spots import candidates
from fdtd.show.files import save_figure
from fdtd.show.spots import draw_spots, spot_columns, spot_range

SHIPPED = Path(__file__).parents[2] / "scenes" / "l-shaped-living-room.toml"
NUMBERS = re.compile(r"\d+(–\d+)?(, \d+)*")


@pytest.fixture(scope="module")
def scene():
    return read_scene(SHIPPED)


def shown(text: str) -> list[int]:
    """The numbers that a label stands for."""
    found: list[int] = []
    for part in text.split(", "):
        first, _, last = part.partition("–")
        found += range(int(first), int(last or first) + 1)
    return found


def test_every_candidate_has_its_number(scene, tmp_path: Path) -> None:
    found = candidates(scene)
    figure = draw_spots(scene, found)
    labels = [t for t in figure.axes[0].texts if NUMBERS.fullmatch(t.get_text())]
    assert sorted(n for t in labels for n in shown(t.get_text())) == [c.number for c in found]
    renderer = figure.canvas.get_renderer()
    boxes = [t.get_window_extent(renderer) for t in labels]
    frame = figure.bbox
    assert all(frame.contains(b.x0, b.y0) and frame.contains(b.x1, b.y1) for b in boxes)
    pairs = [(a, b) for i, a in enumerate(boxes) for b in boxes[i + 1 :] if a.overlaps(b)]
    assert pairs == []
    for path in save_figure(figure, tmp_path, "spots"):
        assert path.stat().st_size > 5000


def test_numbers_stand_by_their_faces(scene) -> None:
    found = candidates(scene)
    axes = draw_spots(scene, found).axes[0]
    for label in axes.texts:
        if NUMBERS.fullmatch(label.get_text()):
            one = found[shown(label.get_text())[0] - 1]
            assert label.xy == pytest.approx(one.at[:2])


def test_a_variant_of_the_scene_is_drawn_with_what_is_in_it(scene) -> None:
    started = draw_spots(scene, candidates(scene)).axes[0]
    drawn = draw_spots(scene, candidates(scene), 1).axes[0]
    assert len(drawn.patches) > len(started.patches)  # the cabinet that the study leaves out


def test_columns_and_their_numbers(scene) -> None:
    columns = spot_columns(candidates(scene))
    assert spot_range(columns[0]) == "1–2"
    assert all(a.at[2] < b.at[2] for column in columns for a, b in zip(column[:-1], column[1:], strict=True))
    assert spot_range([columns[0][0], columns[3][0]]) == f"1, {columns[3][0].number}"
