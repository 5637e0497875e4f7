"""Every figure is drawn, whatever the names and however many variants, and says the same on both sides."""

from __future__ import annotations

import dataclasses
import xml.etree.ElementTree as ElementTree
from pathlib import Path

import numpy as np
import pytest
from matplotlib.collections import QuadMesh
from matplotlib.figure import Figure

from fdtd.errors import UnwritableError
from fdtd.physics.loudspeaker import Crossover, Rolloff
from fdtd.results.result import RunResult
from fdtd.results.store import write_result
from fdtd.scene.read import read_scene_text
from fdtd.scene.schema import Scene
from fdtd.show.drawings import run_drawings
from fdtd.show.files import redraw, safe_file_name, save_drawings, save_figure, save_figures
from fdtd.show.labels import Label, line_boxes, no_boxes, place_labels
from fdtd.show.maps import LEVEL_RANGE, draw_plan_maps, draw_section_maps
from fdtd.show.modes import draw_modes
from fdtd.show.plan import draw_plan
from fdtd.show.responses import draw_responses
from fdtd.show.style import figure_style, line_style, new_figure, safe_text
from show.synthetic import ATTIC, BOX, SLANTED, centres, make_cells, make_result, make_scene

HOSTILE = (
    "$x^2$ {\\frac",
    "_hidden",
    "../../etc/pass/wd",
    "very long name " * 20,
    "<b>&amp;\"'",
    "a\nb\tc",
    "  ",
    "größe 音 🙂",
)
SMALL = (12, 10, 5)
SAFE = set("abcdefghijklmnopqrstuvwxyz0123456789.-")
"""Of file names."""
COMPUTED = (
    "transfer",
    "impulse",
    "maps",
    "source_level",
    "source_delay",
    "source_polarity",
    "playback",
    "map_playback",
)
"""Arrays of a variant that have a source axis."""


def run_of(scene: Scene) -> RunResult:
    return make_result(scene, make_cells(scene, SMALL))


def meshes(figure: Figure) -> list[QuadMesh]:
    return [m for axes in figure.axes for m in axes.collections if isinstance(m, QuadMesh) and m.get_array().ndim == 2]


def maps_of(figure: Figure) -> list[QuadMesh]:
    """The maps without the colour bars."""
    return [m for m in meshes(figure) if m.get_array().shape[0] > 1 and m.get_array().shape[1] > 1]


def texts(figure: Figure) -> list[str]:
    from matplotlib.text import Text

    return [t.get_text() for t in figure.findobj(Text) if t.get_text()]


@pytest.fixture(scope="module")
def scene() -> Scene:
    return make_scene()


@pytest.fixture(scope="module")
def result(scene: Scene) -> RunResult:
    return run_of(scene)


def test_all_figures_are_written_as_png_and_svg(scene: Scene, result: RunResult, tmp_path: Path) -> None:
    written = save_figures(result, scene, tmp_path / "figures")
    assert sorted(written) == sorted((tmp_path / "figures").iterdir())
    assert len(written) == 2 * (2 + 2 + 2 * 2) + 1
    for path in written:
        assert path.stat().st_size > 2000
        if path.suffix == ".svg":
            ElementTree.parse(path)
    assert {p.stem for p in written} >= {"room-1-bare", "response-2-desk", "map-plan-1-23.8hz", "map-section-2-61.3hz"}
    svg = (tmp_path / "figures" / "response-1-one-third-point.svg").read_text(encoding="utf-8")
    assert ">frequency in Hz</text>" in svg  # text stays text


def test_hostile_names_do_no_harm(tmp_path: Path) -> None:
    scene = make_scene(HOSTILE[:3], title="$\\alpha$ " + HOSTILE[3])
    variants = tuple(
        dataclasses.replace(
            v,
            sources=tuple(dataclasses.replace(s, name=n) for s, n in zip(v.sources, HOSTILE, strict=False)),
            seats=tuple(dataclasses.replace(s, name=n) for s, n in zip(v.seats, HOSTILE[2:], strict=False)),
            blocks=tuple(dataclasses.replace(b, name=HOSTILE[4]) for b in v.blocks),
            thin_partitions=tuple(dataclasses.replace(b, name=HOSTILE[5]) for b in v.thin_partitions),
            porous_volumes=tuple(dataclasses.replace(b, name=HOSTILE[7]) for b in v.porous_volumes),
            absorbers=tuple(dataclasses.replace(b, name=HOSTILE[6]) for b in v.absorbers),
        )
        for v in scene.variants
    )
    scene = dataclasses.replace(scene, variants=variants)
    drawings = run_drawings(run_of(scene), scene, None)
    stems = [one.stem for one in drawings]
    assert len(set(stems)) == len(stems) and all(set(stem) <= SAFE for stem in stems)
    firsts = ("room-1", "response-1", "map-plan-1", "map-section-1")
    written = save_drawings([one for one in drawings if one.stem.startswith(firsts)], tmp_path / "out")
    assert len(written) == 2 * len(firsts) + 1
    assert {p.parent for p in written} == {tmp_path / "out"}
    assert all(set(p.name) <= SAFE for p in written)
    svg = next(p for p in written if p.name.startswith("room-1") and p.suffix == ".svg").read_text(encoding="utf-8")
    assert "$x^2$ {\\frac" in svg and "_hidden" in svg


@pytest.mark.parametrize("name", HOSTILE)
def test_text_is_one_short_line_without_formulas(name: str) -> None:
    from matplotlib.cbook import is_math_text

    text = safe_text(name)
    assert len(text.replace("\\$", "$")) <= 29 and text.isprintable() and not text.startswith("_")
    assert not is_math_text(text)


def test_file_names_are_short_and_plain() -> None:
    assert safe_file_name("../../etc/pass wd") == "etc-pass-wd"
    assert safe_file_name("Größe 3,5") == "groe-3-5"
    assert safe_file_name("🙂") == ""
    assert len(safe_file_name("x" * 500)) == 40


@pytest.mark.parametrize("count", [1, 2, 9])
def test_any_number_of_variants(count: int) -> None:
    scene = make_scene(tuple(f"variant {k}" for k in range(count)))
    result = run_of(scene)
    figure = draw_responses(result, 0)
    assert len(figure.axes) == (1 if count == 1 else 2)
    assert len(figure.legends[0].get_texts()) == count
    for draw in (draw_plan_maps, draw_section_maps)[: 1 if count > 2 else 2]:  # both are laid out by one function
        assert len(maps_of(draw(result, scene, 0))) == (1 if count == 1 else 3 * (count - 1))


@pytest.mark.parametrize("draw", [draw_plan_maps, draw_section_maps])
def test_left_and_right_share_one_scale_and_the_difference_is_centred(
    draw: object, scene: Scene, result: RunResult
) -> None:
    left, right, difference = maps_of(draw(result, scene, 1))  # type: ignore[operator]
    assert left.get_clim() == right.get_clim() == (-LEVEL_RANGE, 0.0)
    assert left.get_cmap().name == right.get_cmap().name != difference.get_cmap().name
    low, high = difference.get_clim()
    assert low == -high < 0.0
    assert max(left.get_array().max(), right.get_array().max()) == pytest.approx(0.0, abs=1e-9)
    np.testing.assert_allclose(difference.get_array(), right.get_array() - left.get_array(), atol=1e-9)


def test_the_map_shows_the_pressure_where_it_is(scene: Scene) -> None:
    """A field that rises along x only must be drawn rising along x."""
    result = run_of(scene)
    cells = result.variants[0].cells
    ramp = 10.0 ** (-centres(cells)[:, 0] / 20.0)
    maps = np.zeros_like(result.variants[0].maps)
    maps[0] = ramp
    variants = tuple(dataclasses.replace(v, maps=maps) for v in result.variants)
    left, _, difference = maps_of(draw_plan_maps(dataclasses.replace(result, variants=variants), scene, 0))
    level, edges = left.get_array(), left.get_coordinates()[0, :, 0]
    at = np.searchsorted(edges, np.unique(centres(cells)[:, 0])) - 1
    # 1 dB a metre, to half a pixel, in a row that the cupboard and the gap of the partition leave free.
    row = level[len(level) // 5, at]
    np.testing.assert_allclose(np.diff(row), -BOX[0] / SMALL[0], atol=0.03)
    assert np.abs(difference.get_array()).max() == pytest.approx(0.0, abs=1e-9)
    # The missing corner of the L (upper right) and the cupboard are not air.
    assert left.get_array().mask[-1, -1] and not left.get_array().mask[0, 0]


def test_variants_with_different_grids_can_be_compared(scene: Scene, result: RunResult) -> None:
    finer = make_result(scene, make_cells(scene, (15, 12, 6)))
    mixed = dataclasses.replace(result, variants=(result.variants[0], finer.variants[1]))
    left, right, difference = maps_of(draw_plan_maps(mixed, scene, 0))
    assert left.get_array().shape == right.get_array().shape == difference.get_array().shape
    assert np.isfinite(difference.get_array().compressed()).all()


def test_sources_that_a_variant_lacks_are_neither_heard_nor_drawn(scene: Scene, result: RunResult) -> None:
    changed = result.variants[1]
    lacking = {
        name: np.array([getattr(changed, name)[0], np.full_like(getattr(changed, name)[0], np.nan)])
        for name in COMPUTED
    }
    result = dataclasses.replace(result, variants=(result.variants[0], dataclasses.replace(changed, **lacking)))
    alone = dataclasses.replace(scene.variants[1], sources=scene.variants[1].sources[:1])
    scene = dataclasses.replace(scene, variants=(scene.variants[0], alone))
    figure = draw_plan_maps(result, scene, 0)
    assert texts(figure).count("■2") == 1  # on the first map only
    curve = draw_responses(result, 0).axes[0].lines[1].get_ydata()
    assert np.isfinite(np.asarray(curve, dtype=float)).all()


def test_a_variant_without_any_source_leaves_a_gap(scene: Scene, result: RunResult) -> None:
    changed = result.variants[1]
    names = COMPUTED
    silent = dataclasses.replace(changed, **{n: np.full_like(getattr(changed, n), np.nan) for n in names})
    result = dataclasses.replace(result, variants=(result.variants[0], silent))
    draw_responses(result, 0).draw_without_rendering()
    left, right, _ = maps_of(draw_plan_maps(result, scene, 0))
    assert left.get_array().count() > 0 and right.get_array().count() == 0


def test_the_plan_names_everything(scene: Scene) -> None:
    shown = texts(draw_plan(scene, 1))
    variant = scene.variants[1]
    things = (
        variant.sources,
        variant.seats,
        variant.blocks,
        variant.thin_partitions,
        variant.porous_volumes,
        variant.patches,
    )
    for thing in [t for group in (*things, variant.absorbers) for t in group]:
        # In the plan, and in the section unless it lies before it.
        assert 1 <= shown.count(thing.name) <= 2, thing.name
    assert shown.count("one-third point") == shown.count("sofa") == shown.count("shelf divider") == 2
    assert {"wall 1  7.20 m", "wall 6  5.60 m", "2.50 m high"} <= set(shown)
    assert {"Ell-shaped test room", "as in the variant “fitted”"} <= set(shown)


def test_what_a_source_plays_changes_no_drawing_of_the_room(scene: Scene) -> None:
    """Roll-off and crossovers are not in the plan: the same words at the same places."""
    first = scene.variants[1]
    sub = dataclasses.replace(
        first.sources[0],
        rolloff=Rolloff("vented", 28.0),
        lowpass=Crossover("linkwitz-riley", 4, 80.0, "low"),
        highpass=Crossover("butterworth", 2, 20.0, "high"),
    )
    played = dataclasses.replace(first, sources=(sub, *first.sources[1:]))
    other = dataclasses.replace(scene, variants=(scene.variants[0], played))
    assert texts(draw_plan(other, 1)) == texts(draw_plan(scene, 1))


def test_roll_off_is_in_the_curves_and_the_maps(scene: Scene, result: RunResult) -> None:
    """One source with a closed box of Q 0.707 at 61.3 Hz: 3.01 dB less there, by the box's formula."""
    changed = result.variants[0]
    box = Rolloff("closed", 61.3)
    absent = np.full(len(result.frequency), np.nan + 0j)
    alone = np.array([np.ones_like(absent), absent])
    boxed = np.array([box.response(result.frequency), absent])
    maps = np.array([[1.0, 1.0], [np.nan, np.nan]], dtype=complex)
    boxed_maps = np.array([box.response(result.map_frequency), maps[1]])
    variants = (
        dataclasses.replace(changed, playback=alone, map_playback=maps),
        dataclasses.replace(changed, name="boxed", playback=boxed, map_playback=boxed_maps),
    )
    result = dataclasses.replace(result, variants=variants)
    curves = [np.asarray(line.get_ydata(), dtype=float) for line in draw_responses(result, 0).axes[0].lines[:2]]
    expected = 20 * np.log10(np.abs(box.response(result.frequency)))
    np.testing.assert_allclose(curves[1] - curves[0], expected, atol=1e-9)
    _, _, difference = maps_of(draw_plan_maps(result, scene, 1))
    np.testing.assert_allclose(difference.get_array().compressed(), -3.0103, atol=1e-4)


def test_slanted_walls_and_slopes_are_drawn(tmp_path: Path) -> None:
    scene = make_scene(("attic",), SLANTED, ATTIC)
    figure = draw_plan(scene)
    assert {"wall 2  5.69 m", "1.20 m high", "1.50 m", "2.00 m"} <= set(texts(figure))
    assert len(save_figure(figure, tmp_path, "attic")) == 2
    (image,) = maps_of(draw_plan_maps(run_of(scene), scene, 0))
    assert image.get_clip_path() is not None


def test_modes_are_drawn_without_the_uniform_one(scene: Scene) -> None:
    cells = make_cells(scene, SMALL)
    x = centres(cells)[:, 0]
    shapes = np.array([np.ones_like(x), 5.0 * np.cos(np.pi * x / BOX[0]), np.cos(2 * np.pi * x / BOX[0])])
    figure = draw_modes(scene, cells, [0.0, 23.83, 47.67], shapes)
    assert {"mode 1: 23.8 Hz", "mode 2: 47.7 Hz"} <= set(texts(figure))
    first = maps_of(figure)[0]
    assert first.get_clim() == (-1.0, 1.0)
    assert np.abs(first.get_array()).max() == pytest.approx(1.0)
    assert draw_modes(scene, cells, [0.0], shapes[:1]) is not None


def test_lines_are_all_different() -> None:
    looks = [tuple(line_style(k).values()) for k in range(28)]
    assert len(set(looks)) == 28


def test_labels_keep_off_each_other() -> None:
    with figure_style():
        figure = new_figure(4.0, 4.0)
        axes = figure.subplots()
        figure.draw_without_rendering()
        labels = [Label(f"label {k}", (0.5 + 0.01 * k, 0.5)) for k in range(6)]
        boxes = place_labels(axes, labels, no_boxes(), line_boxes(axes, [(0.0, 0.2), (1.0, 0.2)]))
    assert len(boxes) == 6
    for k, a in enumerate(boxes):
        for b in boxes[:k]:
            assert min(a[2], b[2]) <= max(a[0], b[0]) + 1e-6 or min(a[3], b[3]) <= max(a[1], b[1]) + 1e-6


def test_drawing_changes_no_global_settings(scene: Scene) -> None:
    import matplotlib

    before = dict(matplotlib.rcParams)
    draw_plan(scene)
    assert dict(matplotlib.rcParams) == before


SCENE_TEXT = """
scene = 1
title = "Plain $room$"
[room]
plan = [[0, 0], [7.2, 0], [7.2, 5.6], [0, 5.6]]
height = 2.5
[surfaces]
floor = "hard"
ceiling = "hard"
walls = "hard"
[materials.hard]
admittance_ratio = 0.02
source = "invented"
[[sources]]
name = "left"
at = [0.8, 0.6, 0.5]
[[seats]]
name = "chair"
at = [5.0, 1.6, 1.1]
"""


def test_figures_can_be_drawn_from_the_result_file_alone(tmp_path: Path) -> None:
    scene = read_scene_text(SCENE_TEXT)
    result = dataclasses.replace(run_of(scene), scene_text=SCENE_TEXT)
    write_result(result, tmp_path / "result.h5")
    written = redraw(tmp_path / "result.h5", tmp_path / "again")
    assert len(written) == 2 * (1 + 1 + 2 * 2) + 1
    assert all(path.is_file() for path in written)


def test_a_folder_that_cannot_be_is_refused(tmp_path: Path, scene: Scene) -> None:
    (tmp_path / "taken").write_text("a file, not a folder")
    with pytest.raises(UnwritableError, match=r"plan\.png: cannot be written: part of this path is a file"):
        save_figure(draw_plan(scene), tmp_path / "taken", "plan")
