"""Pictures of an animation: one colour scale on both sides, loops without a jump, files of every kind, bounded
memory."""

from __future__ import annotations

import gc
import tracemalloc
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from PIL import Image

from fdtd.listening.animation import Field, Plane
from fdtd.listening.animation_make import Animation, make_animation, make_steady
from fdtd.listening.animation_signals import pulse_signal
from fdtd.listening.animation_times import even_times, loop_times, stroboscope_times
from fdtd.scene.schema import Scene, Seat
from fdtd.show import animation_video
from fdtd.show.animation_files import write_animation
from fdtd.show.animation_layout import animation_layout
from fdtd.show.animation_stage import PlanePixels, Stage
from fdtd.show.animation_still import draw_still
from fdtd.show.animation_video import missing_encoder
from fdtd.show.geometry import View
from fdtd.show.plane_field import Air
from fdtd.show.style import figure_style
from fdtd.wording.animations import speed_text

from .synthetic import BOX, make_scene

TONE = 40.0
HOSTILE = '<script>alert("x")</script> $\\frac{1}{0}$ \u202eevil \U0001f600 ' + "long " * 2000


def planes() -> tuple[Plane, Plane]:
    """Plan and section of a box of 10 cells along each axis."""
    x, y, z = (np.linspace(0.0, side, 11) for side in BOX)
    every = np.arange(100)
    return Plane(2, 1.2, (x, y), every), Plane(1, 1.5, (x, z), every)


def field(name: str, factor: complex, seats: int = 2) -> Field:
    values = factor * np.cos(np.arange(200 + seats) * 0.1)
    return Field(name, planes(), values[:, None].astype(np.complex64))


def steady(factors: tuple[complex, ...] = (1.0, 0.25), seconds: float = 1.2) -> Animation:
    fields = [field(f"variant {k}", factor) for k, factor in enumerate(factors)]
    names = [["one-third point", "desk"]] * len(fields)
    return make_steady(fields, names, TONE, loop_times(seconds, 30.0, TONE, None))


def stage(animation: Animation, scene: Scene | None = None, size: tuple[int, int | None] | None = (480, None)) -> Stage:
    scene = scene or make_scene()
    return Stage(animation, scene, scene.variants, size=size)


def panel(one: Stage, picture: Image.Image, number: int) -> np.ndarray:
    _, (left, upper), pixels, _, _ = one.panels[number]
    wide, high = pixels.size
    return np.asarray(picture.crop((left, upper, left + wide, upper + high))).astype(int)


def test_equal_pressures_have_equal_colours_on_both_sides() -> None:
    one = stage(steady((1.0, 1.0)))
    picture = one.picture(3)
    left, right = panel(one, picture, 0), panel(one, picture, 2)
    same = (left == right).all(axis=2)
    assert same.mean() > 0.85  # what differs is what stands in the rooms: the second one has a unit


def test_the_scale_is_one_for_all_variants_and_pictures() -> None:
    animation = steady((1.0, 0.25))
    one = stage(animation)
    assert animation.low == -animation.high
    place = np.zeros(100, np.float32)
    pixels = one.panels[0][2]
    for value in (0.0, 0.3, -0.7):
        colours = pixels.colours(place + value, animation.low, animation.high, one.table)
        expected = one.table[int((value - animation.low) / (animation.high - animation.low) * 256)]
        assert (colours == expected).all()
    # A quarter of the pressure is drawn as a quarter of it, not blown up to the same colours.
    loud, soft = np.abs(animation.values[0]).max(), np.abs(animation.values[1]).max()
    assert soft == pytest.approx(0.25 * loud, rel=1e-5)


def test_the_middle_of_the_scale_is_silence() -> None:
    one = stage(steady())
    middle = one.table[127:129].astype(int)
    assert np.ptp(middle, axis=1).max() < 12  # grey, no hue
    assert np.abs(one.table[60].astype(int) - one.table[195].astype(int)).max() > 60


def test_a_steady_tone_loops_without_a_jump() -> None:
    animation = steady()
    one = stage(animation)
    count = len(one)
    assert np.array_equal(np.asarray(one.picture(0)), np.asarray(one.picture(count)))
    turn = animation.timing.times[-1] + animation.timing.step
    assert turn * TONE == pytest.approx(round(turn * TONE), abs=1e-9)
    # The step over the seam is no larger than any other step.
    values = np.concatenate([animation.values[0], animation.values[0][:1]])
    steps = np.abs(np.diff(values, axis=0)).max(axis=1)
    assert steps[-1] <= steps[:-1].max() * (1.0 + 1e-5)


@pytest.mark.parametrize(("seconds", "rate", "slow"), [(4.0, 30.0, None), (2.0, 24.0, 50.0), (0.1, 10.0, 3.0)])
def test_loops_are_whole_periods(seconds: float, rate: float, slow: float | None) -> None:
    timing = loop_times(seconds, rate, 34.5, slow)
    periods = timing.length * 34.5
    assert periods == pytest.approx(round(periods)) and round(periods) >= 1
    assert timing.step * 34.5 <= 1.0 / 8.0 + 1e-9


def test_a_stroboscope_moves_on_by_a_sixteenth_of_a_period() -> None:
    for tone in (15.0, 34.0, 120.0):
        timing = stroboscope_times(10.0, 30.0, tone)
        assert (timing.step * tone) % 1.0 == pytest.approx(1.0 / 16.0)
        assert 0.4 < 1.0 / (timing.rate * timing.step) < 2.0
    assert speed_text(even_times(1.0, 30.0, 1.04)) == "shown nearly as fast as it happens"
    assert speed_text(even_times(1.0, 30.0, 40.0)) == "shown 40 times slower"


def open_air(plane: Plane) -> Air:
    """The air of a plane in which nothing stands but the cells that are missing."""
    there = np.isfinite(plane.grid(np.ones(len(plane.place), np.float32)))
    return Air(plane.edges, there, (there[1:] & there[:-1], there[:, 1:] & there[:, :-1]))


def test_pixels_show_the_cells_and_the_nearest_ones_outside() -> None:
    plane = Plane(2, 1.0, (np.array([0.0, 1.0, 2.0, 3.0]), np.array([0.0, 1.0, 2.0])), np.array([0, 1, 2, 4]))
    pixels = PlanePixels(plane, open_air(plane), (0.0, 3.0, 0.0, 2.0), (33, 22))
    table = np.repeat(np.arange(256, dtype=np.uint8)[:, None], 3, axis=1)
    colours = pixels.colours(np.array([20.0, 100.0, 200.0, 50.0], np.float32), 0.0, 256.0, table)[..., 0].astype(int)
    assert colours.shape == (22, 33)
    middles = colours[16, 5], colours[5, 5], colours[16, 16], colours[16, 27]
    assert middles == (20, 100, 200, 50)
    # No air there: what is nearest.
    assert colours[5, 16] in (colours[5, 10], colours[11, 16]) and colours[10, 27] == colours[11, 27]


def test_rising_pressure_is_up_and_to_the_right() -> None:
    x, y, _ = (np.linspace(0.0, side, 11) for side in BOX)
    rows, columns = np.meshgrid(np.arange(10), np.arange(10), indexing="ij")
    table = np.repeat(np.arange(256, dtype=np.uint8)[:, None], 3, axis=1)
    plane = Plane(2, 1.0, (x, y), np.arange(100))
    pixels = PlanePixels(plane, open_air(plane), (0.0, BOX[0], 0.0, BOX[1]), (60, 40))
    right = pixels.colours(rows.ravel().astype(np.float32), 0.0, 10.0, table)[..., 0].astype(int)
    up = pixels.colours(columns.ravel().astype(np.float32), 0.0, 10.0, table)[..., 0].astype(int)
    assert right[20, 50] > right[20, 10] and up[5, 30] > up[35, 30]


@pytest.mark.parametrize("size", [(480, None), (640, 360), (360, 640), (1920, 1080)])
@pytest.mark.parametrize("variants", [1, 2, 4])
def test_nothing_leaves_the_picture(size: tuple[int, int | None], variants: int) -> None:
    for seats in (0, 1, 2, 3, 9):
        layout = animation_layout(make_scene(), (View(2, 1.2), View(1, 1.5)), variants, seats, size)
        wide, tall = layout.inches
        assert layout.pixels[0] % 2 == 0 and layout.pixels[1] % 2 == 0
        for left, bottom, width, height in [*(b for column in layout.panels for b in column), *layout.traces]:
            assert width > 0 and height > 0
            assert left >= 0 and bottom >= 0 and left + width <= wide + 1e-9 and bottom + height <= tall + 1e-9


@pytest.mark.parametrize("kind", ["gif", "webp", "mp4", "webm"])
def test_files_hold_all_pictures(tmp_path: Path, kind: str) -> None:
    if missing_encoder((kind,)):
        pytest.skip("no video encoder here")
    one = stage(steady(seconds=1.0), size=(320, None))
    seen: list[int] = []
    path = write_animation(one, tmp_path, "film", kind, seen.append)
    assert path.stat().st_size > 1000 and seen[-1] == len(one)
    assert [p.name for p in tmp_path.iterdir()] == [f"film.{kind}"]
    if kind in ("gif", "webp"):
        animation = Image.open(path)
        assert animation.n_frames == len(one) and animation.size == one.layout.pixels and animation.info["loop"] == 0
        total = 0
        for k in range(animation.n_frames):
            animation.seek(k)
            animation.load()
            total += animation.info["duration"]
        assert total == pytest.approx(1e3 * len(one) / 30.0, abs=10)
        animation.seek(5)
        got, wanted = np.asarray(animation.convert("RGB")).astype(int), np.asarray(one.picture(5)).astype(int)
        assert np.abs(got - wanted).mean() < 4.0
        if kind == "gif":
            assert (got[0, 0] == wanted[0, 0]).all()  # the paper keeps its colour


def test_single_pictures_replace_older_ones(tmp_path: Path) -> None:
    one = stage(steady(seconds=0.3), size=(320, None))
    (tmp_path / "animation-pictures").mkdir()
    (tmp_path / "animation-pictures" / "9999.png").write_bytes(b"old")
    folder = write_animation(one, tmp_path, "film", "png")
    assert sorted(p.name for p in folder.iterdir()) == [f"{k + 1:04d}.png" for k in range(len(one))]
    assert np.array_equal(np.asarray(Image.open(folder / "0003.png")), np.asarray(one.picture(2)))


def test_a_failure_leaves_nothing_behind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    one = stage(steady(seconds=0.5), size=(320, None))
    for kind in ("gif", "webp", "png"):

        def fail(done: int) -> None:
            if done > 3:
                raise KeyboardInterrupt

        with pytest.raises(KeyboardInterrupt):
            write_animation(one, tmp_path, "film", kind, fail)
        assert list(tmp_path.iterdir()) == []
    monkeypatch.setattr(animation_video, "encoder", lambda: None)
    assert "pip install" in missing_encoder(("mp4", "gif")) and missing_encoder(("gif", "png")) == ""


def test_memory_does_not_grow_with_the_length(tmp_path: Path) -> None:
    """Three pictures' worth of memory, whatever the length: 36 or 144 pictures.

    What is held is meant, not what waits for the collector of cycles: that comes the more rarely, the more objects the
    tests before this one have left.
    """
    peaks, pictures = [], []
    for seconds in (1.2, 4.8):
        one = stage(steady(seconds=seconds), size=(480, None))
        pictures.append(len(one))
        gc.collect()
        gc.freeze()
        tracemalloc.start()
        write_animation(one, tmp_path, "film", "gif", lambda done: gc.collect())
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
        gc.unfreeze()
    assert pictures == [36, 144] and peaks[1] < 1.3 * peaks[0]


@pytest.mark.parametrize("count", [2, 4])
def test_names_stand_in_their_columns_and_tags_where_there_is_no_room(count: int) -> None:
    names = tuple(f"variant {k} with a name that is much too long" for k in range(count))
    scene = make_scene(names)
    fields = [field(name, 1.0) for name in names]
    animation = make_steady(fields, [["one-third point", "desk"]] * count, TONE, loop_times(0.3, 30.0, TONE, None))
    views = (View(2, 1.2), View(1, 1.5))
    layout = animation_layout(scene, views, count, 2, None)
    figure = Figure(figsize=layout.inches, dpi=layout.dots)
    FigureCanvasAgg(figure)
    with figure_style("light"):
        draw_still(figure, animation, scene, scene.variants, views, layout)
    titles = [axes._left_title.get_window_extent() for axes in figure.axes[: 2 * count : 2]]
    assert all(a.x1 <= b.x0 for a, b in pairwise(titles)) and titles[-1].x1 <= layout.pixels[0]
    words = {text.get_text() for text in figure.axes[0].texts}
    assert ("■1" in words) == (count == 4)


def test_hostile_names_are_drawn_as_text(tmp_path: Path) -> None:
    scene = make_scene((HOSTILE, HOSTILE + "2"), title=HOSTILE)
    variants = tuple(replace(v, seats=(Seat(HOSTILE, (5.6, 1.6, 1.1)),)) for v in scene.variants)
    scene = replace(scene, variants=variants)
    fields = [field(v.name, 1.0, 1) for v in variants]
    animation = make_steady(fields, [[HOSTILE]] * 2, TONE, loop_times(0.3, 30.0, TONE, None))
    assert stage(animation, scene).picture(0).size[0] == 480


def test_a_seat_that_a_variant_lacks_has_no_trace() -> None:
    frequency = np.arange(1.0, 160.0)
    made = []
    for name, seats in (("both", 2), ("one", 1)):
        transfer = np.ones((200 + seats, len(frequency)), np.complex64) * np.exp(-2j * np.pi * frequency * 0.01)
        made.append(Field(name, planes(), transfer.astype(np.complex64)))
    timing = even_times(0.5, 30.0, 5.0)
    animation = make_animation(made, [["sofa", "desk"], ["desk"]], pulse_signal(160.0), frequency, 1.0, timing, 160.0)
    assert animation.seats == ("sofa", "desk")
    assert np.isnan(animation.traces[1, 0]).all() and np.isfinite(animation.traces[:, 1]).all()
    # A pulse that is only delayed by 10 ms has its peak, 0 dB, so much after its middle.
    peak = animation.trace_time[np.argmax(animation.traces[0, 0])]
    assert peak == pytest.approx(0.01 + 1.5 / 48.0, abs=5e-4) and animation.traces[0, 0].max() == pytest.approx(
        0.0, abs=0.2
    )
    # It is not heard before it has come, though its envelope, worked out from all of it, rises earlier.
    assert animation.traces[0, 0, animation.trace_time < 0.009].max() < animation.traces[0, 0].max() - 50.0
    assert stage(animation, make_scene(("both", "one"))).picture(9).size[0] == 480
