"""Figures of surfaces and units: everything is drawn, within its frame, at one column and across the page."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from unit_scene import SCENE

from fdtd.scene.read import read_scene_text
from fdtd.show.files import save_figure
from fdtd.show.style import COLUMN_WIDTH, FULL_WIDTH
from fdtd.show.surface import draw_surface, draw_surfaces, draw_units
from fdtd.surface.subjects import device_subject, library_subject, scene_devices
from fdtd.surface.units import scene_units

SUBJECTS = [library_subject(n) for n in ("sash window", "plastered masonry", "sofa", "open door")]


@pytest.fixture(scope="module")
def scene():
    return read_scene_text(SCENE)


def texts_overlap(figure) -> list[tuple[str, str]]:
    """Pairs of titles, axis labels, tick labels and legend entries that cover each other."""
    figure.draw_without_rendering()
    renderer = figure.canvas.get_renderer()
    items = []
    for axes in figure.axes:
        if axes.axison:
            items += [axes.title, axes.xaxis.label, axes.yaxis.label]
            for axis, (low, high) in ((axes.xaxis, axes.get_xlim()), (axes.yaxis, axes.get_ylim())):
                inside = [t for t in axis.get_major_ticks() if low <= t.get_loc() <= high]
                items += [t.label1 for t in inside if t.label1.get_visible()]
    for legend in figure.legends:
        items += legend.get_texts()
    boxes = [(t.get_text(), t.get_window_extent(renderer)) for t in items if t.get_text()]
    return [(a, b) for i, (a, p) in enumerate(boxes) for b, q in boxes[i + 1 :] if p.padded(-1).overlaps(q.padded(-1))]


def test_one_surface_has_its_lines(tmp_path: Path) -> None:
    subject = SUBJECTS[0]
    figure = draw_surface(subject)
    upper, lower = figure.axes
    solid = [line for line in upper.lines if line.get_linestyle() == "-"]
    assert len(solid) == 2 and len(upper.lines) == 7  # two kinds of absorption of three lines, rings
    np.testing.assert_allclose(solid[0].get_ydata(), subject.used.random(solid[0].get_xdata()))
    np.testing.assert_allclose(upper.lines[-1].get_ydata(), [0.35])  # as printed at 125 Hz; 250 Hz is outside
    assert upper.get_ylim()[1] > 0.4 and lower.get_xlabel() == "frequency in Hz"
    for path in save_figure(figure, tmp_path, "surface"):
        assert path.stat().st_size > 2000


@pytest.mark.parametrize("width", [COLUMN_WIDTH, FULL_WIDTH])
def test_no_text_covers_another(scene, width: float) -> None:
    devices = [device_subject(d, scene.air.medium) for d in scene_devices(scene)]
    assert texts_overlap(draw_surface(SUBJECTS[0], width)) == []
    assert texts_overlap(draw_surface(devices[-1], width)) == []
    assert texts_overlap(draw_surfaces([*SUBJECTS, *devices], width)) == []
    assert texts_overlap(draw_units(scene_units(scene), width)) == []


@pytest.mark.parametrize("count", [1, 2, 4])
def test_an_overview_of_any_number(count: int) -> None:
    figure = draw_surfaces(SUBJECTS[:count])
    assert [a.get_title(loc="left") for a in figure.axes if a.axison] == [s.name for s in SUBJECTS[:count]]


def test_units_are_drawn_under_the_bound(scene) -> None:
    found = scene_units(scene)
    wall, corner = draw_units(found).axes
    # every unit, the active one once more switched off, the bound, the line at zero
    assert len(wall.lines) == len(corner.lines) == len(found) + 1 + 2
    tops = [max(line.get_ydata()) for line in wall.lines[: len(found) + 1]]
    assert wall.get_ylim()[1] >= max(tops)
    assert wall.get_ylim()[0] < 0.0  # the active unit feeds energy in somewhere, and it shows
