"""How the sound of one pulse dies at a seat: short-time spectra, and group delay beyond minimum phase."""

from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure
from numpy.typing import NDArray
from scipy.ndimage import convolve1d
from scipy.signal.windows import hann

from fdtd.analysis.group_delay import GroupDelay, excess_group_delay
from fdtd.analysis.impulse import impulse_of_transfer
from fdtd.analysis.response import free_field_reference
from fdtd.analysis.short_time import ShortTimeSpectra, short_time_spectra
from fdtd.analysis.tail import stepped_tones, tail_times
from fdtd.listening.study import LOW, Listening
from fdtd.results.result import RunResult
from fdtd.show.layout import heading, legend_below, legend_height
from fdtd.show.panels import (
    Picture,
    Scale,
    draw_panels,
    missing,
    reference_variant,
    resonances_within,
    time_span,
)
from fdtd.show.style import (
    BESIDE,
    COLUMN_WIDTH,
    FULL_WIDTH,
    figure_style,
    frequency_axis,
    line_style,
    look,
    new_figure,
    safe_text,
    variant_names,
)

WINDOW = 0.2
"""s, length of the window of the short-time spectra."""
BEFORE, TIME_STEP = 0.05, 0.01
"""s before the pulse that are shown, and between spectra."""
SPANS = (0.5, 0.8, 1.0, 1.5, 2.0)
"""s, times that a picture can end at."""
RANGE = 50.0
"""dB of the colour scale."""
QUIET = -40.0
"""dB; the picture ends when most frequencies have fallen to this level."""
FINER, KNOWN = 4, 0.1
"""Delays are worked out on so much finer frequencies, where the band's edges leave so much of the response."""
FADED = 0.25
"""Share of the response, at its end, that is faded out."""
SMOOTHED, STEPS = 6, 96
"""Delays are averaged over 1/6 octave, at so many frequencies an octave."""
SPREAD = 0.02
"""Share of the excess delays, at each end, that may run out of the picture: single dips reach any value."""


def draw_short_time(
    result: RunResult, listening: Listening, seat_index: int, variant_index: int = 1, width: float = FULL_WIDTH
) -> Figure:
    """Short-time spectra at one seat of the first variant and of variant `variant_index`, on one scale.

    The loudspeakers play one pulse, flat in free field, at 0 s; Hann window of 0.2 s. 0 dB is the highest level of the
    first variant. Beside them the difference. Other parameters as `tails.draw_tail`.
    """
    with figure_style():
        chosen = [0, variant_index] if 0 < variant_index < len(listening.variants) else [0]
        tones = stepped_tones(LOW, listening.high, 48)
        time = tail_times(BEFORE + SPANS[-1], TIME_STEP) - BEFORE
        spectra = [_spectra(result, listening, k, seat_index, tones, time) for k in chosen]
        highest = max((float(one.magnitude.max()) for one in spectra[:1] if one is not None), default=0.0)
        highest = highest or max((float(one.magnitude.max()) for one in spectra if one is not None), default=1.0)
        nothing = np.full((len(tones), len(time)), np.nan)
        levels = [nothing if one is None else one.level_db(highest) for one in spectra]
        shown = time <= time_span(levels, time, QUIET, SPANS) + 1e-9
        pictures = [
            Picture(
                safe_text(listening.variants[k].name, 26),
                level[:, shown],
                resonances_within(listening, k, tones),
                missing(listening, k, seat_index),
            )
            for k, level in zip(chosen, levels, strict=True)
        ]
        first = safe_text(listening.variants[reference_variant(listening, seat_index, chosen)].name, 16)
        scale = Scale(-RANGE, 0.0, (-20.0, -30.0, -40.0), QUIET, f"level in dB re highest level of “{first}”")
        resolution = next((f"{one.resolution:.1f} Hz wide" for one in spectra if one), "none")
        seat = safe_text(listening.seats[seat_index], 20 if width < BESIDE else 50)
        title = f"How a pulse decays at “{seat}”"
        note = f"each moment averages {WINDOW:g} s (Hann window, {resolution})"
        return draw_panels(pictures, tones, time[shown], scale, title, note, "time after the pulse in s", width)


def _spectra(
    result: RunResult, listening: Listening, variant: int, seat: int, tones: NDArray, time: NDArray
) -> ShortTimeSpectra | None:
    if missing(listening, variant, seat):
        return None
    transfer = listening.variants[variant].transfer[seat]
    flat = transfer / free_field_reference(result.frequency, result.density)
    impulse, rate, start = impulse_of_transfer(flat, result.frequency)
    return short_time_spectra(impulse, rate, tones, time - start, WINDOW)


def draw_group_delay(result: RunResult, listening: Listening, seat_index: int, width: float = COLUMN_WIDTH) -> Figure:
    """Group delay in excess of minimum phase at one seat, every variant, where the run's range lets it be known.

    The time that the sound travels is in it, and it is smoothed over 1/6 octave; the title says so.
    """
    with figure_style():
        names = variant_names((variant.name for variant in listening.variants), 40)
        figure = new_figure(width, 2.4 + legend_height(names, width))
        axes = figure.subplots()
        low, high = LOW, listening.high
        shown = []
        for number, variant in enumerate(listening.variants):
            found = _excess(result, variant.transfer[seat_index])
            if found is None:
                axes.plot([], [], label=f"{names[number]} (not there)", **line_style(number))
                continue
            low, high = max(low, found.low), min(high, found.high)
            axis, delay = _smoothed(found)
            valid = (axis >= max(low, found.low)) & (axis <= min(high, found.high))
            milliseconds = 1e3 * delay[valid]
            axes.plot(axis[valid], milliseconds, label=names[number], **line_style(number))
            shown.append(milliseconds)
        frequency_axis(axes, low, high)
        if any(len(one) for one in shown):
            bottom, top = np.quantile(np.concatenate(shown), [SPREAD, 1.0 - SPREAD])
            room = 0.1 * max(top - bottom, 1.0)
            axes.set_ylim(min(bottom, 0.0) - room, max(top, 0.0) + room)
        axes.axhline(0.0, color=look().faint, linewidth=0.8)
        seat = safe_text(listening.seats[seat_index], 26 if width < BESIDE else 70)
        note = f"beyond minimum phase, with the travel time; smoothed over 1/{SMOOTHED} octave"
        heading(figure, f"Group delay at “{seat}”", note)
        axes.set_xlabel("frequency in Hz")
        axes.set_ylabel("group delay beyond\nminimum phase in ms")
        handles, labels = axes.get_legend_handles_labels()
        legend_below(figure, handles, labels, width)
        return figure


def _excess(result: RunResult, transfer: NDArray) -> GroupDelay | None:
    if not np.isfinite(transfer).all():
        return None
    relative = transfer / free_field_reference(result.frequency, result.density)
    if not np.any(relative):
        return None
    axis, finer = _finer(relative, result.frequency)
    # Minimum phase needs a magnitude; a response of exactly 0 has none.
    least = 1e-9 * float(np.abs(finer).max())
    return excess_group_delay(np.where(np.abs(finer) < least, least, finer), axis)


def _smoothed(found: GroupDelay) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """(frequencies in equal steps of 1/96 octave, excess delay in s averaged there with a Hann window).

    What is 60 dB below the rest, a third of a second later, still ripples by half a millisecond; nobody hears it.
    """
    octaves = np.log2(found.frequency[-1] / found.frequency[0])
    axis = found.frequency[0] * 2.0 ** (np.arange(int(STEPS * octaves)) / STEPS)
    window = hann(2 * STEPS // SMOOTHED + 1)  # as wide at half its height as what is said
    delay = np.interp(axis, found.frequency, found.excess)
    return axis, convolve1d(delay, window / window.sum(), mode="nearest")


def _finer(transfer: NDArray, frequency: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray]:
    """(frequencies, transfer function) on a grid `FINER` times as fine, its response faded out to silence.

    A resonance as narrow as the spacing of a run's frequencies would leave ripples in the minimum phase (its cepstrum
    is as long as the response), and so would the abrupt end of the response. The band's own edges are divided out.
    """
    spacing = float(frequency[-1] - frequency[0]) / (len(frequency) - 1) / FINER
    both = np.stack([np.asarray(transfer, dtype=complex), np.ones(len(frequency), dtype=complex)])
    response, rate, start = impulse_of_transfer(both, frequency)
    place = np.arange(response.shape[-1]) / response.shape[-1]
    # The first eighth lies before the cause; what the band's edges ring there must not start abruptly either.
    rise, fall = np.clip(place / 0.1, 0.0, 1.0), np.clip((1.0 - place) / FADED, 0.0, 1.0)
    response = response * np.sin(0.5 * np.pi * rise) ** 2 * np.sin(0.5 * np.pi * fall) ** 2
    index = np.arange(round(frequency[0] / spacing), round(frequency[-1] / spacing) + 1)
    spectrum, edges = np.fft.rfft(response, FINER * response.shape[-1], axis=-1)[:, index] / rate
    known = np.abs(edges) > KNOWN
    axis = index[known] * spacing
    turn = np.exp(-2j * np.pi * axis * start)
    return axis, spectrum[known] * turn / np.abs(edges[known])
