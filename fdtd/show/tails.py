"""What is left after a tone stops, over frequency and time: first variant, another one, and the difference.

Below, the part for a glance: how long each tone takes to die, in both.
"""

from __future__ import annotations

from functools import partial
from typing import Any

import numpy as np
from matplotlib.figure import Figure
from matplotlib.legend_handler import HandlerTuple
from matplotlib.lines import Line2D
from numpy.typing import NDArray
from scipy.ndimage import convolve1d

from fdtd.analysis.impulse import impulse_of_transfer
from fdtd.analysis.response import level_db
from fdtd.analysis.short_time import decay_picture
from fdtd.analysis.tail import FADE, stepped_tones, tail_times
from fdtd.listening.changes import seat_tones
from fdtd.listening.study import LOW, Listening
from fdtd.results.result import RunResult
from fdtd.show.labels import Label, no_boxes, place_labels
from fdtd.show.layout import legend_below, mark_key, settle
from fdtd.show.panels import (
    Picture,
    Scale,
    Strip,
    draw_panels,
    missing,
    reference_variant,
    resonances_within,
    time_span,
)
from fdtd.show.style import (
    BESIDE,
    FEW_SECONDS,
    FULL_WIDTH,
    SMALL,
    figure_style,
    frequency_axis,
    look,
    safe_text,
    seconds_axis,
)

TONES_PER_OCTAVE = 48
"""Of the picture; the strip has the tones of the tables."""
TIME_STEP = 0.01
RIPPLE = 5
"""Time steps over which the power is averaged: the envelope of a low tone ripples at twice its frequency."""
LONGEST = 4.0
"""s after the stop that is looked at to choose what is shown."""
CONTOURS = (-20.0, -30.0, -40.0)
BOTTOM, TOP = -45.0, 0.0
"""dB, ends of the colour scale."""
DIP = 10.0
"""dB below the seat's mean at most that 0 dB is: a tone that is weaker there must not look as loud as the others."""
SPANS = (0.3, 0.4, 0.5, 0.6, 0.8, 1.0, 1.2, 1.5, 2.0)
"""s, times that a picture can end at."""
DIED = -30.0
"""dB; the picture ends when most tones have died to this level. The rest runs out of it, not of the strip."""
STRIP_HEIGHT = 2.1
NAMED = 3
"""So many of the strongest tones are named in the strip, besides the user's own."""
SHORTEST, ROOM = 0.05, 2.5
"""Lower end of the strip's axis, s, at least; the upper end is so many times the longest time, for the names."""


def draw_tail(
    result: RunResult, listening: Listening, seat_index: int, variant_index: int = 1, width: float = FULL_WIDTH
) -> Figure:
    """Level left at one seat after a tone has stopped: first variant, variant `variant_index`, and the difference.

    Pictures: tones over the analysed band in 1/48 octaves, played by the scene's loudspeakers until steady, then faded
    out within 0.1 s by a raised cosine, as in the tables (the click of an abrupt stop would make every tone ring at the
    room's strong resonances too); time counts from the end of the fade. 0 dB is the steady level of each tone
    itself in the first variant that has the seat, so that every tone starts alike whatever the room makes of its
    level; for a tone that is more than 10 dB below the mean over the tones (in dB) it is that limit. White lines are
    20, 30 and 40 dB below it; dashes above are resonances.

    Strip: time after a tone has faded out until it stays 30 dB below its steady
    level in that first variant, for each tone of the tables; hollow there, filled in the other variant. Pale where the
    tone is more than 10 dB below the mean.

    Parameters
    ----------
    variant_index : number of the other variant; with a run of one variant, or 0, only the first one is drawn
    width : inches; below 5 the pictures stand below each other
    """
    with figure_style():
        chosen = [0, variant_index] if 0 < variant_index < len(listening.variants) else [0]
        tones = stepped_tones(LOW, listening.high, TONES_PER_OCTAVE)
        time = tail_times(LONGEST, TIME_STEP)
        levels = [_tail_level(result, listening, k, seat_index, tones, time) for k in chosen]
        zero = _zero(levels[0][1], levels[-1][1])
        after = [level - zero[:, None] for level, _ in levels]
        shown = time <= time_span(after, time, DIED, SPANS) + 1e-9
        pictures = [
            Picture(
                safe_text(listening.variants[k].name, 26),
                level[:, shown],
                resonances_within(listening, k, tones),
                missing(listening, k, seat_index),
            )
            for k, level in zip(chosen, after, strict=True)
        ]
        first = safe_text(listening.variants[reference_variant(listening, seat_index, chosen)].name, 22)
        scale = Scale(BOTTOM, TOP, CONTOURS, CONTOURS[-1], f"dB re each tone’s steady level of “{first}”")
        seat = safe_text(listening.seats[seat_index], 20 if width < BESIDE else 50)
        title = f"What is left of a tone at “{seat}”"
        note = f"each tone is played until it is steady and then fades out within {FADE:g} s"
        strip = Strip(partial(_draw_times, listening, seat_index, chosen, width), STRIP_HEIGHT)
        return draw_panels(pictures, tones, time[shown], scale, title, note, "time after the tone in s", width, strip)


def _tail_level(
    result: RunResult, listening: Listening, variant: int, seat: int, tones: NDArray, time: NDArray
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """((tone, time), (tone,)) levels in the tail and steady, dB re free field at 1 m; NaN at a seat not there."""
    transfer = listening.variants[variant].transfer[seat]
    if missing(listening, variant, seat):
        return np.full((len(tones), len(time)), np.nan), np.full(len(tones), np.nan)
    impulse, rate, start = impulse_of_transfer(transfer, result.frequency)
    tail = decay_picture(impulse, rate, tones, time - start, FADE)
    power = convolve1d(tail.envelope**2, np.full(RIPPLE, 1.0 / RIPPLE), axis=-1, mode="nearest")
    # A loudspeaker that is flat in free field: without this the lowest tones would count too little in the mean.
    return level_db(np.sqrt(power).T, tones, result.density).T, level_db(tail.steady, tones, result.density)


def _zero(first: NDArray[np.float64], other: NDArray[np.float64]) -> NDArray[np.float64]:
    """(tone,) dB that are 0 dB of the pictures, from the steady levels of the two variants."""
    for steady in (first, other):
        if np.isfinite(steady).all():
            return np.maximum(steady, steady.mean() - DIP)
    return np.zeros(len(first))


def _draw_times(
    listening: Listening, seat: int, chosen: list[int], width: float, figure: Figure, part: Any, axes: Any
) -> None:
    """The strip: time to -30 dB of every tone, a hollow and a filled mark, joined."""
    there = [k for k in chosen if not missing(listening, k, seat)]
    drop = listening.variants[0].figures.drops.index(-DIED)
    seconds = np.array([listening.variants[k].figures.time_to[seat, :, drop] for k in there])
    seconds = seconds.reshape(len(there), len(listening.tones))
    ends, endless = np.array([listening.variants[k].tail.time[-1] for k in there]), np.isnan(seconds)
    shown = np.clip(np.where(endless, ends[:, None], seconds), SHORTEST, None)
    weak = _weak(listening, seat)
    frequency_axis(axes, LOW / 1.02, listening.high * 1.02)
    seconds_axis(
        axes, max(float(shown.min(initial=1.0)), SHORTEST) / 1.3, float(shown.max(initial=1.0)) * ROOM, FEW_SECONDS
    )
    axes.set_xlabel("frequency of the tone in Hz")
    axes.set_ylabel(f"time to \N{MINUS SIGN}{-DIED:g} dB in s")
    axes.set_title(f"how long each tone rings on{' after it stops' if width >= BESIDE else ''} (lower: gone sooner)")
    if not there:
        axes.text(0.5, 0.5, missing(listening, chosen[0], seat), transform=axes.transAxes, ha="center", va="center")
        return
    joined = np.where(weak, look().faint, look().muted)
    axes.vlines(listening.tones, shown.min(axis=0), shown.max(axis=0), linewidth=1.0, color=joined, zorder=2)
    entries: dict[str, Any] = {}
    for row, variant in enumerate(there):
        hollow, colour = row < len(there) - 1, look().line_colours[variant % len(look().line_colours)]
        for some, edge in ((weak, look().faint), (~weak, colour)):
            size = 13.0 if width >= BESIDE else 7.0
            _marks(axes, listening.tones, shown[row], endless[row], some, edge, hollow, size)
        entries[safe_text(listening.variants[variant].name, 26)] = (_key("o", colour, hollow),)
    if weak.any():
        # Both kinds of mark, as they stand in the drawing, or the pale hollow ones would have no entry.
        kinds = tuple(_key("o", look().faint, row < len(there) - 1) for row in range(len(there)))
        entries[f"the same, weak tone ({DIP:g} dB or more below the mean)"] = kinds
    if endless.any():
        entries["longer than it was followed"] = (_key("^", look().muted, False),)
    options = {"handler_map": {tuple: HandlerTuple(ndivide=None, pad=0.3)}, "handlelength": 1.6}
    legend_below(part, list(entries.values()), list(entries), width, **options)
    settle(figure)
    _name_tones(axes, listening, seat, seconds, shown)


def _marks(
    axes: Any, tones: NDArray, shown: NDArray, endless: NDArray, some: NDArray, edge: str, hollow: bool, size: float
) -> None:
    """Of the tones `some`; a triangle where the tone rings longer than the tail was followed."""
    for which, marker in ((some & ~endless, "o"), (some & endless, "^")):
        style = {"facecolor": look().paper if hollow else edge, "edgecolor": edge, "linewidth": 0.9}
        axes.scatter(tones[which], shown[which], size, marker=marker, zorder=3, **style)


def _key(marker: str, colour: str, hollow: bool) -> Line2D:
    return mark_key(marker, colour, look().paper if hollow else colour, markersize=4)


def _weak(listening: Listening, seat: int) -> NDArray[np.bool_]:
    """(tone,) True where the steady tone is weak at the seat, in the first variant that has it."""
    relative = listening.reference[seat] / listening.tones  # the pressure of free field rises with frequency
    level = 20.0 * np.log10(np.maximum(relative, 1e-200))
    weak: NDArray[np.bool_] = level < np.mean(level) - DIP
    return weak


def _name_tones(axes: Any, listening: Listening, seat: int, seconds: NDArray, shown: NDArray) -> None:
    """Write frequency and times at the strongest tones and the user's own; the figure must be laid out."""
    own = {int(np.argmin(np.abs(listening.tones - tone))) for tone in listening.own_tones}
    labels = []
    for tone in seat_tones(listening, seat, NAMED):
        times = " → ".join("longer" if np.isnan(value) else f"{value:.2f}" for value in seconds[:, tone])
        text = f"{listening.tones[tone]:.1f} Hz{' (yours)' if tone in own else ''}: {times}"
        labels.append(Label(text, (float(listening.tones[tone]), float(shown[:, tone].max()))))
    half = 3.0 * axes.figure.dpi / 72.0
    # The marks, and the lines that join two of them.
    shares = np.linspace(0.0, 1.0, 5)[:, None]
    rows = shown[0] ** (1.0 - shares) * shown[-1] ** shares
    middle = axes.transData.transform(np.vstack([np.stack([listening.tones, row], axis=-1) for row in rows]))
    place_labels(axes, labels, np.hstack([middle - half, middle + half]), no_boxes(), size=SMALL)
