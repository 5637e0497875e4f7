"""All drawings of a run, with their captions."""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

from fdtd.listening.study import Listening
from fdtd.results.result import RunResult
from fdtd.scene.schema import Scene
from fdtd.show import captions
from fdtd.show.decay import draw_band_decay
from fdtd.show.drawing import Drawing, described, stem_of
from fdtd.show.maps import draw_plan_maps, draw_section_maps
from fdtd.show.plan import draw_plan
from fdtd.show.resonances import draw_resonances
from fdtd.show.responses import draw_responses
from fdtd.show.scene_drawings import plan_text
from fdtd.show.style import COLUMN_WIDTH, FULL_WIDTH, WIDTHS
from fdtd.show.tails import draw_tail
from fdtd.show.time_frequency import draw_group_delay, draw_short_time


def run_drawings(
    result: RunResult,
    scene: Scene,
    audible: Listening | None,
    smoothing: float | None = None,
    width: str | float | None = None,
) -> list[Drawing]:
    """All figures of a run: plans, responses, maps and, with `heard`, resonances, decays, tails, delays.

    smoothing : n, responses are smoothed over 1/n octave
    width : of all figures, "column", "full" or inches; None: what suits each kind
    """
    if isinstance(width, str):
        width = WIDTHS[width]
    column, full = (COLUMN_WIDTH, FULL_WIDTH) if width is None else (width, width)
    drawings = list(_plans(result, scene, full)) + list(_responses(result, smoothing, column))
    drawings += list(_maps(result, scene, audible, width))
    if audible is not None:
        text = captions.resonances(result, audible)
        drawings.append(described("resonances", "resonances", text, partial(draw_resonances, audible, full)))
        for seat in range(len(audible.seats)):
            drawings += _audible_at(result, audible, seat, column, full)
    return drawings


def _plans(result: RunResult, scene: Scene, width: float) -> Iterator[Drawing]:
    for k, variant in enumerate(scene.variants):
        text = plan_text(scene, k, captions.conditions(result))
        yield described(stem_of("room", k + 1, variant.name), "plan", text, partial(draw_plan, scene, k, width))


def _responses(result: RunResult, smoothing: float | None, width: float) -> Iterator[Drawing]:
    for k, seat in enumerate(result.seats):
        draw = partial(draw_responses, result, k, width=width, smoothing=smoothing)
        yield described(stem_of("response", k + 1, seat), "response", captions.response(result, k, smoothing), draw)


def _maps(result: RunResult, scene: Scene, audible: Listening | None, width: float | None) -> Iterator[Drawing]:
    for k, frequency in enumerate(result.map_frequency):
        name = f"{frequency:.1f}hz"
        note = captions.nearest_resonance(float(frequency), audible)
        for view, function in (("plan", draw_plan_maps), ("section", draw_section_maps)):
            text = captions.maps(result, scene, k, view, note)
            draw = partial(function, result, scene, k, note=note, width=width)
            yield described(stem_of(f"map-{view}", k + 1, name), "map", text, draw)


def _audible_at(result: RunResult, audible: Listening, k: int, column: float, full: float) -> Iterator[Drawing]:
    """The pictures over frequency and time compare two variants each: the first one with every other."""
    seat = audible.seats[k]
    stem = stem_of("decay", k + 1, seat)
    yield described(stem, "decay", captions.decay(result, audible, k), partial(draw_band_decay, audible, k, column))
    draw = partial(draw_group_delay, result, audible, k, column)
    yield described(stem_of("group-delay", k + 1, seat), "group-delay", captions.group_delay(result, audible, k), draw)
    for other in range(1, len(audible.variants)) or [0]:
        # The other variant's number stands before the names, which may be cut short.
        several = len(audible.variants) > 2
        number = f"{k + 1}-{other + 1}" if several else str(k + 1)
        name = f"{seat} {audible.variants[other].name}" if several else seat
        text = captions.tail(result, audible, k, other)
        draw = partial(draw_tail, result, audible, k, other, full)
        yield described(stem_of("tail", number, name), "tail", text, draw)
        text = captions.short_time(result, audible, k, other)
        draw = partial(draw_short_time, result, audible, k, other, full)
        yield described(stem_of("short-time", number, name), "short-time", text, draw)
