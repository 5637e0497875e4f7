"""What is heard, as arrays for the result file (docs/result-file.md has the readable form)."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from fdtd.analysis.decay import BandDecay, DecayTimes
from fdtd.analysis.response import level_db
from fdtd.listening.changes import modal_decay
from fdtd.listening.study import WEIGHTINGS, Listening, VariantListening
from fdtd.results.statement import Derived, LabelledArray

GROUP = "listening"
PICTURE_STEP = 0.01
"""s between two moments of the stored tails: enough to draw, and a tenth of the numbers."""
QUIETEST = -120.0
"""dB, stored tails end there."""


def derived_arrays(listening: Listening, density: float) -> Derived:
    """Group `listening` of every variant for results.store.write_result; density : kg/m³, of the run."""
    return {
        variant.name: {
            GROUP: [
                *_resonances(listening, k),
                *_tails(listening, variant, density),
                *_decays(listening, variant),
                *_readings(variant),
            ]
        }
        for k, variant in enumerate(listening.variants)
    }


def _resonances(listening: Listening, number: int) -> list[LabelledArray]:
    variant = listening.variants[number]
    found, axes = variant.resonances, ("resonance",)
    followed: NDArray[np.int32] = np.zeros(len(found.frequency), dtype=np.int32)
    for label, one in enumerate(listening.followed, start=1):
        place = one.numbers[number]
        if place is not None:
            followed[place] = label
    rings = np.where(np.isnan(variant.limit), -1, variant.audible).astype(np.int8)
    source = f"decay time above which a resonance is heard to ring ({listening.threshold.source})"
    return [
        LabelledArray("resonance", axes, "1", "number of the resonance, the same in every variant", followed),
        LabelledArray("resonance_frequency", axes, "Hz", "frequency of the damped oscillation", found.frequency),
        LabelledArray("resonance_frequency_error", axes, "Hz", "standard error of it", found.frequency_error),
        LabelledArray("resonance_decay", axes, "s", "decay time for 60 dB", found.decay_time),
        LabelledArray("resonance_decay_error", axes, "s", "standard error of it", found.decay_error),
        LabelledArray("resonance_threshold", axes, "s", source, variant.limit),
        LabelledArray("resonance_rings", axes, "1", "1 longer than the threshold, 0 not, -1 no threshold", rings),
        LabelledArray(
            "resonance_level",
            ("seat", *axes),
            "dB",
            "level of the resonance by itself at its own frequency, all "
            "sources playing, relative to a source of level 0 in free field at 1 m",
            variant.seat_level,
        ),
    ]


def _tails(listening: Listening, variant: VariantListening, density: float) -> list[LabelledArray]:
    tail, figures = variant.tail, variant.figures
    every = max(round(PICTURE_STEP / float(tail.time[1] - tail.time[0])), 1)
    level = np.maximum(tail.level_db(listening.reference), QUIETEST)[..., ::every].astype(np.float32)
    with np.errstate(invalid="ignore"):  # seats that are not there are NaN
        steady = level_db(tail.steady, tail.frequency, density)
    relative = "relative to the steady tone of the first variant that has the seat"
    return [
        LabelledArray("tone", ("tone",), "Hz", "frequency of the tone that stops", tail.frequency),
        LabelledArray("after_stop", ("after_stop",), "s", "time after the tone has faded out", tail.time[::every]),
        LabelledArray("drop", ("drop",), "dB", "fall of level", np.array(figures.drops)),
        LabelledArray("moment", ("moment",), "s", "time after the tone has faded out", np.array(figures.moments)),
        LabelledArray(
            "tail_level",
            ("seat", "tone", "after_stop"),
            "dB",
            f"level of what is left of the tone, {relative}, not below {QUIETEST:g}",
            level,
        ),
        LabelledArray(
            "tail_steady_level",
            ("seat", "tone"),
            "dB",
            "level of the steady tone, relative to a source of level 0 in free field at 1 m",
            steady,
        ),
        LabelledArray(
            "tail_time",
            ("seat", "tone", "drop"),
            "s",
            f"time after which the tone stays below the drop, {relative}; NaN if it does not within the tail",
            figures.time_to,
        ),
        LabelledArray("tail_left", ("seat", "tone", "moment"), "dB", f"level left, {relative}", figures.left),
    ]


def _decays(listening: Listening, variant: VariantListening) -> list[LabelledArray]:
    bands = next((some for one in listening.variants for some in one.decays if some), ())
    axes = ("seat", "band")

    def gather(value: Callable[[BandDecay], float]) -> NDArray[np.float64]:
        rows = [[value(one) for one in some] if some else [np.nan] * len(bands) for some in variant.decays]
        return np.array(rows, dtype=float).reshape(len(variant.decays), len(bands))

    def seconds(pick: Callable[[DecayTimes], float]) -> NDArray[np.float64]:
        return gather(lambda one: pick(one.times))

    modal = np.full((len(variant.decays), len(bands)), np.nan)
    for seat in range(len(modal)):
        for k, one in enumerate(bands):
            place = modal_decay(variant, seat, one.band)
            modal[seat, k] = np.nan if place is None else variant.resonances.decay_time[place]
    product = gather(lambda one: one.bandwidth_time)
    middles = np.array([one.band.middle for one in bands])
    ringing = "1 where the ringing of the band filter may hide the decay, or no decay time is known"
    return [
        LabelledArray("band", ("band",), "Hz", "exact mid frequency of the third-octave band (IEC 61260-1)", middles),
        LabelledArray("decay_edt", axes, "s", "early decay time, EDT", seconds(lambda t: t.early.seconds)),
        LabelledArray("decay_t20", axes, "s", "decay time T20", seconds(lambda t: t.t20.seconds)),
        LabelledArray("decay_t30", axes, "s", "decay time T30", seconds(lambda t: t.t30.seconds)),
        LabelledArray("decay_bandwidth_time", axes, "1", "band width times the shortest of them", product),
        LabelledArray("decay_ringing", axes, "1", ringing, gather(lambda one: float(one.ringing))),
        LabelledArray("decay_modal", axes, "s", "decay time of the loudest resonance in the band at the seat", modal),
    ]


def _readings(variant: VariantListening) -> list[LabelledArray]:
    even = variant.evenness
    letters = np.array(WEIGHTINGS, dtype=object)
    return [
        LabelledArray("weighting", ("weighting",), "1", "frequency weighting of IEC 61672-1, Z: none", letters),
        LabelledArray(
            "reading",
            ("seat", "weighting"),
            "dB",
            "meter reading of pink noise in the band, relative to a source of level 0 in free field at 1 m",
            variant.readings,
        ),
        LabelledArray(
            "tone_reading",
            ("seat", "tone", "weighting"),
            "dB",
            "meter reading of a steady tone, relative to a source of level 0 in free field at 1 m",
            variant.tone_readings,
        ),
        LabelledArray(
            "between_seats_deviation",
            (),
            "dB",
            "standard deviation of the level over the seats, mean over log frequency; NaN with fewer than two seats",
            np.array(np.nan if even is None else even.mean_deviation),
        ),
        LabelledArray(
            "between_seats_variance",
            (),
            "dB2",
            "variance of the level over the seats, mean over log frequency",
            np.array(np.nan if even is None else even.mean_spatial_variance),
        ),
    ]
