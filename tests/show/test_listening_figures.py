"""Figures of what is heard: drawn for any number of variants and any name, on one scale, no text on another."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import numpy as np
import pytest
from matplotlib.collections import PathCollection, QuadMesh
from matplotlib.colors import to_rgb
from matplotlib.figure import Figure
from matplotlib.text import Text

from fdtd.analysis.audibility import ANY_STIMULUS, exceedance
from fdtd.analysis.bands import octave_bands
from fdtd.analysis.decay import band_decays
from fdtd.analysis.impulse import impulse_of_transfer
from fdtd.analysis.resonances import Resonances
from fdtd.analysis.response import combined_transfer, free_field_reference
from fdtd.analysis.tail import Tail, tail_figures
from fdtd.listening.study import CutShort, Followed, Listening, VariantListening
from fdtd.results.result import RunResult
from fdtd.show.decay import audible_at, draw_band_decay
from fdtd.show.drawings import run_drawings
from fdtd.show.files import save_drawings
from fdtd.show.resonances import draw_resonances
from fdtd.show.responses import draw_responses
from fdtd.show.style import COLUMN_WIDTH, FULL_WIDTH, LIGHT, figure_style, signed_limit, variant_names
from fdtd.show.tails import BOTTOM, CONTOURS, draw_tail
from fdtd.show.time_frequency import SMOOTHED, draw_group_delay, draw_short_time
from show.synthetic import make_cells, make_result, make_scene
from show.test_figures import HOSTILE

COUNT = 30
"""Resonances of the made-up runs."""


def texts_overlap(figure: Figure) -> list[tuple[str, str]]:
    """Pairs of visible texts that cover each other, and texts that leave the canvas (paired with 'canvas')."""
    figure.draw_without_rendering()
    renderer = figure.canvas.get_renderer()  # type: ignore[attr-defined]
    ticks, shown = set(), set()
    for axes in figure.axes:
        for axis, limits in ((axes.xaxis, axes.get_xlim()), (axes.yaxis, axes.get_ylim())):
            every = [*axis.majorTicks, *axis.minorTicks]  # those no longer in use as well
            ticks |= {id(label) for tick in every for label in (tick.label1, tick.label2)}
            inside = [t for t in axis.get_major_ticks() if min(limits) <= t.get_loc() <= max(limits)]
            shown |= {id(tick.label1) for tick in inside}
    texts = [t for t in figure.findobj(Text) if t.get_text() and t.get_visible()]
    items = [t for t in texts if id(t) not in ticks or id(t) in shown]
    boxes = [(t.get_text(), Text.get_window_extent(t, renderer)) for t in items]
    boxes = [(text, box) for text, box in boxes if box.width > 0]
    wide, tall = figure.bbox.width, figure.bbox.height
    outside = [(text, "canvas") for text, b in boxes if b.x0 < -1 or b.y0 < -1 or b.x1 > wide + 1 or b.y1 > tall + 1]
    return outside + [
        (a, b) for i, (a, p) in enumerate(boxes) for b, q in boxes[i + 1 :] if p.padded(-1).overlaps(q.padded(-1))
    ]


def run_of(names: tuple[str, ...]) -> RunResult:
    scene = make_scene(names)
    return make_result(scene, make_cells(scene, (12, 10, 5)))


def resonances(number: int, count: int = COUNT) -> Resonances:
    """Of variant `number`: the same frequencies with small shifts, decaying sooner in later variants; invented."""
    draw = np.random.default_rng(4)
    frequency = np.sort(draw.uniform(18.0, 158.0, count)) * (1.0 + 0.001 * number)
    decay = draw.uniform(0.5, 1.5, count) * (25.0 / frequency) ** 0.6 / (1.0 + 0.3 * number)
    amplitude = draw.normal(size=(4, count)) + 1j * draw.normal(size=(4, count))
    small = np.full(count, 1e-3)
    return Resonances(frequency, decay, amplitude, small, small, 0.01, count, 15.0, 160.0)


def listening_of(result: RunResult, missing: tuple[tuple[int, int], ...] = (), count: int = COUNT) -> Listening:
    """By hand, without the search for resonances; missing : (variant, seat) that are not there."""
    variants = []
    bands = octave_bands(3, 20.0, 160.0)
    for number, variant in enumerate(result.variants):
        transfer = combined_transfer(variant.transfer, variant.playback)
        decays = []
        for seat in range(len(result.seats)):
            impulse, rate, start = impulse_of_transfer(transfer[seat], result.frequency)
            decays.append(band_decays(impulse[round(-start * rate) :], rate, bands))
            if (number, seat) in missing:
                transfer[seat], decays[seat] = np.nan, ()
        found = resonances(number, count)
        audible = exceedance(found.frequency, found.decay_time, ANY_STIMULUS)
        level = 20.0 * np.log10(np.abs(found.amplitude[:2]))
        level[[seat for v, seat in missing if v == number]] = np.nan
        tail = Tail(np.array([40.0]), np.array([0.0, 1.0]), np.ones((2, 1, 2)), np.ones((2, 1)))
        variants.append(
            VariantListening(
                variant.name,
                transfer,
                found,
                level,
                audible.limit,
                audible.exceeds,
                tail,
                tail_figures(tail),
                tuple(decays),
                np.zeros((2, 3)),
                None,
            )
        )
    lacks_last = [k if v == 0 or k < count - 2 else None for k in range(count) for v in range(len(variants))]
    chains = np.array(lacks_last, dtype=object).reshape(count, len(variants))
    followed = tuple(Followed(tuple(row)) for row in chains)
    return Listening(result.seats, ANY_STIMULUS, np.array([40.0]), tuple(variants), followed)


@pytest.fixture(scope="module")
def result() -> RunResult:
    return run_of(("off", "on"))


@pytest.fixture(scope="module")
def audible(result: RunResult) -> Listening:
    return listening_of(result)


def meshes(figure: Figure) -> list[QuadMesh]:
    found = [m for axes in figure.axes for m in axes.collections if isinstance(m, QuadMesh)]
    return [m for m in found if min(m.get_array().shape) > 1]


def drawn(result: RunResult, audible: Listening, width: float, variant: int = 1) -> list[Figure]:
    return [
        draw_resonances(audible, width),
        draw_band_decay(audible, 0, width),
        draw_group_delay(result, audible, 0, width),
        draw_tail(result, audible, 0, variant, width),
        draw_short_time(result, audible, 0, variant, width),
    ]


TAIL, SPECTRA = 3, 4
"""Of the figures that are drawn."""


@pytest.fixture(scope="module")
def tail(result: RunResult, audible: Listening) -> Figure:
    return draw_tail(result, audible, 0)


@pytest.mark.parametrize("width", [COLUMN_WIDTH, FULL_WIDTH])
def test_no_text_covers_another(result: RunResult, audible: Listening, width: float) -> None:
    for figure in drawn(result, audible, width):
        assert texts_overlap(figure) == []


@pytest.mark.parametrize("width", [COLUMN_WIDTH, FULL_WIDTH])
def test_hostile_names_and_many_variants(width: float) -> None:
    many = run_of(HOSTILE)
    many = dataclasses.replace(many, seats=(HOSTILE[3], HOSTILE[0]))
    audible = listening_of(many)
    with figure_style():
        of_variant = [draw(many, audible, 0, 3, width) for draw in (draw_tail, draw_short_time)]
        for figure in (*drawn(many, audible, width, 7), *of_variant):
            assert texts_overlap(figure) == []


def test_one_variant_one_seat(result: RunResult) -> None:
    alone = run_of(("as it is",))
    transfer = [dataclasses.replace(v, transfer=v.transfer[:, :1]) for v in alone.variants]
    alone = dataclasses.replace(alone, seats=alone.seats[:1], variants=tuple(transfer))
    audible = listening_of(alone)
    figures = drawn(alone, audible, COLUMN_WIDTH, 0)
    assert [texts_overlap(figure) for figure in figures] == [[]] * len(figures)
    assert len(meshes(figures[TAIL])) == 1


@pytest.mark.parametrize("missing", [((1, 0),), ((0, 0),), ((0, 0), (1, 0))])
def test_a_seat_that_a_variant_lacks(result: RunResult, missing: tuple[tuple[int, int], ...]) -> None:
    audible = listening_of(result, missing)
    figures = drawn(result, audible, FULL_WIDTH)
    assert [texts_overlap(figure) for figure in figures] == [[]] * len(figures)
    pictures = meshes(figures[TAIL])
    for variant in (0, 1):
        assert (pictures[variant].get_array().count() == 0) == ((variant, 0) in missing)
    named = "on" if missing == ((0, 0),) else "off"  # whose level is 0 dB
    for figure in (figures[TAIL], figures[SPECTRA]):
        words = " ".join(axes.get_xlabel() for axes in figure.axes)
        assert f"level of “{named}”" in words


def test_no_resonance_at_all(result: RunResult) -> None:
    for figure in drawn(result, listening_of(result, count=0), COLUMN_WIDTH):
        assert texts_overlap(figure) == []


def test_both_sides_have_the_same_scale(result: RunResult, audible: Listening, tail: Figure) -> None:
    for figure in (tail, draw_short_time(result, audible, 0)):
        left, right, *change = meshes(figure)
        assert left.get_clim() == right.get_clim() and left.get_cmap().name == right.get_cmap().name
        assert left.axes.get_ylim() == right.axes.get_ylim() and left.axes.get_xlim() == right.axes.get_xlim()
        for one in change:
            low, high = one.get_clim()
            assert low == -high < 0.0


def test_the_difference_is_second_minus_first_where_it_can_be_heard(tail: Figure) -> None:
    left, right, change = (m.get_array() for m in meshes(tail))
    loud = np.maximum(left.filled(-999), right.filled(-999)) > CONTOURS[-1]
    assert np.array_equal(~np.ma.getmaskarray(change), loud) and not loud.all()
    np.testing.assert_allclose(change[loud], (right - left)[loud], atol=1e-9)


def test_the_same_variant_twice_does_not_differ(result: RunResult) -> None:
    twin = dataclasses.replace(result, variants=(result.variants[0], result.variants[0]))
    figure = draw_tail(twin, listening_of(twin), 0)
    assert np.abs(meshes(figure)[2].get_array()).max() == 0.0
    assert figure.axes[2].get_facecolor()[:3] == pytest.approx(to_rgb(LIGHT.nothing))


def test_the_tail_falls_as_its_resonance_does(result: RunResult, audible: Listening) -> None:
    """One damped resonance, H = j w/(w0^2 - w^2 + 2 j delta w): on its own tone it falls by 8.686 delta dB a second."""
    frequency, delta = 60.0, 8.0
    omega, own = 2.0 * np.pi * result.frequency, 2.0 * np.pi * frequency
    one = 1j * omega / (own**2 + delta**2 - omega**2 + 2j * delta * omega)
    transfer = np.broadcast_to(one, audible.variants[0].transfer.shape)
    alone = dataclasses.replace(
        audible, variants=tuple(dataclasses.replace(v, transfer=transfer) for v in audible.variants)
    )
    mesh = meshes(draw_tail(result, alone, 0))[0]
    edges = mesh.get_coordinates()
    column = int(np.searchsorted(edges[0, :, 0], frequency)) - 1
    level = np.asarray(mesh.get_array()[:, column], dtype=float)
    time = 0.5 * (edges[1:, 0, 1] + edges[:-1, 0, 1])
    part = (time > 0.05) & (level > BOTTOM + 5.0)
    assert part.sum() > 10
    slope = np.polyfit(time[part], level[part], 1)[0]
    assert slope == pytest.approx(-20.0 * np.log10(np.e) * delta, rel=0.02)


def test_every_resonance_of_every_variant_is_marked(audible: Listening) -> None:
    axes = draw_resonances(audible).axes[0]
    marks = [c for c in axes.collections if len(c.get_offsets()) == COUNT]
    assert len(marks) == len(audible.variants)
    for mark, variant in zip(marks, audible.variants, strict=True):
        np.testing.assert_allclose(mark.get_offsets()[:, 0], variant.resonances.frequency)
        np.testing.assert_allclose(mark.get_offsets()[:, 1], variant.resonances.decay_time)
        loud = np.argmax(variant.seat_level.max(axis=0))
        assert np.argmax(mark.get_sizes()) == loud or mark.get_sizes()[loud] == mark.get_sizes().max()
    followed = [line for line in axes.lines if len(line.get_xdata()) == 2 and line.get_color() == LIGHT.muted]
    assert len(followed) == COUNT - 2


def test_only_bands_that_can_be_relied_on_have_a_dot(audible: Listening) -> None:
    axes = draw_band_decay(audible, 0).axes[0]
    points = [(line.get_ydata()[0], line.get_marker()) for line in axes.lines if len(line.get_xdata()) == 1]
    known = [d for v in audible.variants for d in v.decays[0] if np.isfinite(d.times.t20.seconds)]
    marked = [(d.times.t20.seconds, "x" if d.ringing else "o") for d in known if d.ringing or d.times.straight]
    assert points == marked


def test_group_delay_ends_where_it_is_not_known(result: RunResult, audible: Listening) -> None:
    line = draw_group_delay(result, audible, 0).axes[0].lines[0]
    axis = np.asarray(line.get_xdata())
    assert axis[0] >= 20.0 and axis[-1] <= result.frequency[-1] / np.sqrt(2.0) + 1e-9


def with_tails(audible: Listening) -> Listening:
    """Tones 30, 60 and 90 Hz that fall at 60 and 120 dB a second; 90 Hz is 30 dB weaker and never dies in `on`."""
    time = np.linspace(0.0, 1.0, 1001)
    tones, steady = np.array([30.0, 60.0, 90.0]), np.array([1.0, 2.0, 0.1])
    variants = []
    for number, variant in enumerate(audible.variants):
        slope = 60.0 * (1 + number) * np.array([1.0, 1.0, 1.0 if number == 0 else 0.01])
        envelope = steady[:, None] * 10.0 ** (-slope[:, None] * time / 20.0)
        tail = Tail(tones, time, np.stack([envelope] * 2), np.stack([steady] * 2))
        variants.append(dataclasses.replace(variant, tail=tail, figures=tail_figures(tail)))
    return dataclasses.replace(audible, tones=tones, variants=tuple(variants), own_tones=(60.0,))


@pytest.mark.parametrize("width", [COLUMN_WIDTH, FULL_WIDTH])
def test_the_strip_shows_how_long_each_tone_rings(result: RunResult, audible: Listening, width: float) -> None:
    """Times of straight decays: 30 dB at 60 and 120 dB a second take 0.5 and 0.25 s."""
    figure = draw_tail(result, with_tails(audible), 0, 1, width)
    axes = next(one for one in figure.axes if "time to" in one.get_ylabel())
    points = np.vstack([c.get_offsets() for c in axes.collections if isinstance(c, PathCollection)])
    shown = {(round(float(x)), round(float(y), 3)) for x, y in points}
    assert {(30, 0.5), (60, 0.5), (30, 0.25), (60, 0.25), (90, 0.5), (90, 1.0)} == shown
    words = [text.get_text() for text in axes.texts]
    assert any(word.startswith("60.0 Hz (yours): 0.50 → 0.25") for word in words)
    legend = [text.get_text() for text in figure.findobj(Text)]
    assert any("weak tone" in text for text in legend) and any("longer than" in text for text in legend)
    assert any("dashes at the upper edge: resonances; grey: too quiet" in text for text in legend)
    assert texts_overlap(figure) == []


def test_a_simulation_that_was_too_short_is_said(result: RunResult, audible: Listening) -> None:
    short = dataclasses.replace(audible.variants[1], too_short=CutShort(0.5, 15.0))
    cut = dataclasses.replace(audible, variants=(audible.variants[0], short))
    for draw in (draw_tail, draw_short_time):
        figure = draw(result, cut, 0)
        assert meshes(figure)[1].get_array().count() == 0
        assert "simulation too short" in [text.get_text() for text in figure.axes[1].texts]


def test_single_resonances_are_those_heard_at_the_seat(audible: Listening) -> None:
    level = np.full((2, COUNT), -90.0)
    level[0, 3], level[0, 5], level[0, 6], level[1, 7] = 0.0, -19.0, -21.0, 0.0
    changed = dataclasses.replace(audible.variants[0], seat_level=level)
    assert list(np.flatnonzero(audible_at(changed, 0))) == [3, 5] and list(np.flatnonzero(audible_at(changed, 1))) == [
        7
    ]
    alone = dataclasses.replace(audible, variants=(changed,))
    dashes = draw_band_decay(alone, 0).axes[0].collections[0].get_offsets()
    np.testing.assert_allclose(dashes[:, 0], changed.resonances.frequency[[3, 5]])


def test_thresholds_are_said_in_words_with_their_source(audible: Listening) -> None:
    entries = [text.get_text() for text in draw_resonances(audible).legends[0].get_texts()]
    assert "decays longer than this are heard (Stephenson 2012)" in entries
    assert any("Fazenda et al. 2015" in entry for entry in entries)
    assert not any("stimulus" in entry or "Q of" in entry for entry in entries)


def test_group_delay_of_a_late_resonance_does_not_ripple(result: RunResult, audible: Listening) -> None:
    """A delayed minimum-phase resonance has its delay, 12 ms, as excess, however narrow it is on the run's grid.

    H = 1 + g delta j w/(w0^2 - w^2 + 2 j delta w): poles and, for g > -2, zeros to the left; T60 = 6.9/delta = 3.5 s.
    """
    frequency = np.arange(10.0, 200.1, 0.25)
    omega, own, delta = 2j * np.pi * frequency, 2.0 * np.pi * 24.2, 2.0
    flat = (1.0 + 20.0 * delta * omega / (own**2 + omega**2 + 2.0 * delta * omega)) * np.exp(-0.012 * omega)
    run = dataclasses.replace(result, frequency=frequency)
    transfer = np.stack([flat * free_field_reference(frequency, run.density)] * 2)
    alone = dataclasses.replace(audible, variants=(dataclasses.replace(audible.variants[0], transfer=transfer),))
    axes = draw_group_delay(run, alone, 0).axes[0]
    axis, delay = (np.asarray(values, dtype=float) for values in axes.lines[0].get_data())
    part = axis < 100.0
    np.testing.assert_allclose(delay[part], 12.0, atol=0.5)
    words = " ".join(text.get_text() for text in axes.figure.texts)
    assert "travel time" in words and f"1/{SMOOTHED} octave" in words


def test_smoothing_is_said_and_flattens(result: RunResult) -> None:
    plain, smooth = (draw_responses(result, 0, smoothing=n) for n in (None, 3.0))
    ranges = [np.ptp(np.asarray(f.axes[0].lines[0].get_ydata())[40:]) for f in (plain, smooth)]
    assert ranges[1] < 0.8 * ranges[0]
    words = [" ".join(text.get_text() for text in figure.texts) for figure in (smooth, plain)]
    assert "1/3 octave" in words[0] and "octave" not in words[1]


def test_all_are_saved(result: RunResult, audible: Listening, tmp_path: Path) -> None:
    without_maps = dataclasses.replace(result, map_frequency=np.empty(0))
    drawings = run_drawings(without_maps, make_scene(("off", "on")), audible)
    # Two rooms and two responses; resonances; decay, delay, tail and spectra at two seats.
    assert len(drawings) == len({one.stem for one in drawings}) == 2 + 2 + 1 + 2 * 4
    of_each_kind = {one.kind: one for one in drawings}.values()
    written = save_drawings(list(of_each_kind), tmp_path)
    assert len(set(written)) == len(written) == 2 * len(of_each_kind) + 1  # PNG and SVG; captions
    assert all(path.stat().st_size > 2000 for path in written)


def test_names_that_were_cut_stay_apart() -> None:
    names = variant_names(["long " * 20 + "a", "long " * 20 + "b", "c"])
    assert len(set(names)) == 3 and names[2] == "c"


def test_a_scale_of_changes_covers_them() -> None:
    assert signed_limit([]) == signed_limit([np.array([np.nan])]) == 3.0
    assert signed_limit([np.array([0.0, -7.0])]) == 9.0 and signed_limit([np.array([99.0])]) == 24.0
