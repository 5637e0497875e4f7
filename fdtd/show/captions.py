"""Captions and alternative texts of the figures of a run, with the numbers of that run.

A caption says what is shown and under which conditions, so that it can stand under the figure in an article as it is.
An alternative text says what somebody would see, in a sentence or two with the main numbers.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from fdtd.analysis.response import SeatFigures, seat_figures
from fdtd.analysis.tail import FADE
from fdtd.listening.study import Listening, variant_levels
from fdtd.results.result import RunResult
from fdtd.scene.schema import Scene
from fdtd.show.drawing import NAMES, FigureText
from fdtd.show.geometry import plan_view, scene_section
from fdtd.show.levels import NEAR_RESONANCE, map_levels, resonance_near
from fdtd.show.scene_drawings import listed
from fdtd.show.text import in_caption, plain_text
from fdtd.wording.seats import format_time, seat_sentences


def conditions(result: RunResult) -> str:
    """How it was computed: grid, band, sources, version of the program."""
    playing = "Loudspeaker" if len(result.sources) == 1 else "Loudspeakers playing together"
    title = f"{plain_text(result.title, 80)}. " if result.title.strip() else ""
    return (
        f"{title}{playing}: {listed(result.sources, 'loudspeakers')}. Finite differences in time on a grid of "
        f"{result.grid:.3g} m, up to {result.max_frequency:g} Hz; fdtd {plain_text(result.program_version, 20)}."
    )


def _variants(result: RunResult) -> str:
    return listed([variant.name for variant in result.variants], "variants")


def _seat(name: str) -> str:
    return f"“{plain_text(name, 60)}”"


def _level(value: float) -> str:
    return f"{value:+.1f}".replace("-", "\N{MINUS SIGN}") + " dB"


def response(result: RunResult, seat: int, smoothing: float | None) -> FigureText:
    """Of the level curves at one seat."""
    smooth = f", smoothed over 1/{smoothing:g} octave" if smoothing is not None else ""
    below = f" Below: change against “{plain_text(result.variants[0].name, 40)}”." if len(result.variants) > 1 else ""
    caption = (
        f"Level at {_seat(result.seats[seat])} over frequency{smooth}, relative to the same loudspeaker in free "
        f"field at 1 m: {_variants(result)}.{below} {conditions(result)}"
    )
    return replace(seat_text(result, seat), caption=caption)


def seat_text(result: RunResult, seat: int) -> FigureText:
    """Heading and alternative text of level curves at one seat, with the main numbers; no caption."""
    levels = [variant_levels(result, variant)[seat] for variant in result.variants]
    text = [_figures(level, result) for level in levels]
    lines = []
    for variant, one in list(zip(result.variants, text, strict=True))[:NAMES]:
        name = plain_text(variant.name, 40)
        lines.append(
            f"“{name}”: largest peak {_level(one.peak)} at {one.peak_frequency:.1f} Hz and deepest dip "
            f"{_level(one.dip)} at {one.dip_frequency:.1f} Hz about its mean, standard deviation "
            f"{one.standard_deviation:.1f} dB"
            if one
            else f"“{name}”: not there"
        )
    alternative = f"Level curves at {_seat(result.seats[seat])}, 20 to {result.max_frequency:g} Hz. {'; '.join(lines)}."
    if len(levels) > 1 and text[0] and text[1]:
        alternative += f" {_largest_change(levels[0], levels[1], result)}"
    return FigureText(f"Level at {_seat(result.seats[seat])}", "", alternative)


def _figures(level: NDArray[np.float64], result: RunResult) -> SeatFigures | None:
    try:
        return seat_figures(level, result.frequency) if np.isfinite(level).all() else None
    except ValueError:  # a run over less than a third of an octave has no such figures
        return None


def _largest_change(first: NDArray[np.float64], second: NDArray[np.float64], result: RunResult) -> str:
    """What changes at the highest peak of the first variant."""
    inside = np.flatnonzero((result.frequency >= 20.0) & (result.frequency <= 160.0))
    top = inside[int(np.argmax(first[inside]))]
    name = plain_text(result.variants[1].name, 40)
    change = _level(float(second[top] - first[top]))
    return f"With “{name}” the highest level, at {result.frequency[top]:.1f} Hz, changes by {change}."


def nearest_resonance(frequency: float, audible: Listening | None) -> str:
    """For the title of a map: which of the resonances in the tables it shows, or how far the next one is."""
    found = resonance_near(frequency, audible)
    if found is None or audible is None:
        return ""
    number, own, decay, distance = found
    if distance <= NEAR_RESONANCE:
        return f"resonance {number + 1} ({own:.1f} Hz, decays in {format_time(decay, 0.0)})"
    return f"no resonance found here; the nearest is at {own:.1f} Hz"


def maps(result: RunResult, scene: Scene, number: int, kind: str, note: str) -> FigureText:
    """Of pressure maps; kind : "plan" or "section"."""
    frequency = float(result.map_frequency[number])
    first = scene.variants[0]
    view = plan_view(first) if kind == "plan" else scene_section(scene)
    where = (
        f"in the plane {view.position:.2f} m above the floor"
        if kind == "plan"
        else f"in the section at {'xyz'[view.normal]} = {view.position:.2f} m"
    )
    own = f", {note}" if note else ""
    difference = " and their difference from the first" if len(result.variants) > 1 else ""
    caption = (
        f"Sound pressure level {where} at {frequency:.1f} Hz{own}: {_variants(result)}{difference}. One scale for all; "
        f"0 dB is the highest level of all variants in the plane. {conditions(result)}"
    )
    levels = map_levels(result, scene, number, view)
    parts = []
    for variant, level in list(zip(result.variants, levels, strict=True))[:NAMES]:
        known = level[np.isfinite(level)]
        if known.size:
            low, high = np.quantile(known, [0.05, 0.95])
            parts.append(f"“{plain_text(variant.name, 40)}”: nine tenths of it within {high - low:.0f} dB")
    changes = [level - levels[0] for level in levels[1:2]]
    known = np.concatenate([c[np.isfinite(c)] for c in changes]) if changes else np.empty(0)
    change = f" The change is {_level(float(np.median(known)))} in the middle (median)." if known.size else ""
    alternative = f"Maps of the level at {frequency:.1f} Hz {where}{own}. {'; '.join(parts) or 'No level'}.{change}"
    return FigureText(f"{frequency:.1f} Hz, {kind}", caption, alternative)


def resonances(result: RunResult, listening: Listening) -> FigureText:
    """Of decay times over frequency."""
    caption = (
        f"Resonances found in {_variants(result)}: decay time (60 dB) over frequency, area of a mark after the level "
        "at the seat where it is loudest; lines join the same resonance in the variants. Grey: published thresholds "
        f"above which a decay is heard. {conditions(result)}"
    )
    parts = []
    for variant in listening.variants[:NAMES]:
        found = variant.resonances
        if len(found.frequency):
            k = int(np.argmax(found.decay_time))
            ringing = int(variant.audible.sum())
            parts.append(
                f"“{plain_text(variant.name, 40)}”: {len(found.frequency)} resonances, {ringing} ring audibly, "
                f"the longest {format_time(float(found.decay_time[k]), 0.0)} at {found.frequency[k]:.1f} Hz"
            )
        else:
            parts.append(f"“{plain_text(variant.name, 40)}”: none found")
    return FigureText("Resonances", caption, f"Decay times of the resonances. {'; '.join(parts)}.")


def decay(result: RunResult, audible: Listening, seat: int) -> FigureText:
    """Of the decay per third octave at one seat."""
    caption = (
        f"Decay time T20 in third octaves at {_seat(audible.seats[seat])}: {_variants(result)}. Dot: straight decay; "
        f"cross: the band filter rings as long; diamonds: single resonances heard at this seat. {conditions(result)}"
    )
    parts = []
    for variant in audible.variants[:NAMES]:
        times = [(b.times.t20.seconds, b.band.middle) for b in variant.decays[seat] if np.isfinite(b.times.t20.seconds)]
        if times:
            seconds, middle = max(times)
            parts.append(f"“{plain_text(variant.name, 40)}”: longest {format_time(seconds, 0.0)} at {middle:.0f} Hz")
    text = f"Decay time per third octave. {'; '.join(parts) or 'None is known'}."
    return FigureText(f"Decay per third octave at {_seat(audible.seats[seat])}", caption, text)


def _pair(audible: Listening, other: int) -> str:
    names = [f"“{plain_text(audible.variants[k].name, 40)}”" for k in dict.fromkeys((0, other))]
    return " and ".join(names) + (", and the difference" if len(names) > 1 else "")


def _text(audible: Listening, seat: int, other: int) -> str:
    """The sentence about the seat, of variant `other` against the first."""
    chosen = replace(audible, variants=tuple(audible.variants[k] for k in dict.fromkeys((0, other))))
    numbers = [tuple(one.numbers[k] for k in dict.fromkeys((0, other))) for one in audible.followed]
    followed = tuple(replace(one, numbers=n) for one, n in zip(audible.followed, numbers, strict=True))
    kept = replace(chosen, followed=tuple(one for one in followed if any(n is not None for n in one.numbers)))
    return in_caption(" ".join(seat_sentences(kept, seat)))


def tail(result: RunResult, audible: Listening, seat: int, other: int) -> FigureText:
    """Of what is left after a tone."""
    caption = (
        f"What is left at {_seat(audible.seats[seat])} of a steady tone that fades out within {FADE:g} s (raised "
        f"cosine), over its frequency and the time after the fade: {_pair(audible, other)}; 0 dB is the steady tone "
        f"in the first. Below: time until it stays 30 dB down. {conditions(result)}"
    )
    return FigureText(f"Tail of tones at {_seat(audible.seats[seat])}", caption, _text(audible, seat, other))


def short_time(result: RunResult, audible: Listening, seat: int, other: int) -> FigureText:
    """Of short-time spectra."""
    caption = (
        f"Short-time spectra (Hann window of 0.2 s) of a pulse at {_seat(audible.seats[seat])}: "
        f"{_pair(audible, other)}; "
        f"0 dB is the highest level of the first. {conditions(result)}"
    )
    return FigureText(f"Short-time spectra at {_seat(audible.seats[seat])}", caption, _text(audible, seat, other))


def group_delay(result: RunResult, audible: Listening, seat: int) -> FigureText:
    """Of the group delay beyond minimum phase."""
    caption = (
        f"Group delay beyond minimum phase at {_seat(audible.seats[seat])}: {_variants(result)}, smoothed over 1/6 "
        f"octave; the time that the sound travels is in it. {conditions(result)}"
    )
    text = f"Curves of the group delay beyond minimum phase at {_seat(audible.seats[seat])}, in milliseconds."
    return FigureText(f"Group delay at {_seat(audible.seats[seat])}", caption, text)
