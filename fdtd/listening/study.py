"""From a run to what is heard at each seat: resonances followed through the variants, decays, tails, readings.

Everything is worked out from the stored transfer functions, so it can be made anew at any time; the figures themselves
are functions of plain arrays in `analysis/`, and take measured responses as well.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from fdtd.analysis.audibility import ANY_STIMULUS, DecayThreshold, exceedance
from fdtd.analysis.bands import octave_bands
from fdtd.analysis.decay import BandDecay, band_decays, unknown_decay
from fdtd.analysis.evenness import SeatEvenness, seat_evenness
from fdtd.analysis.impulse import impulse_of_transfer
from fdtd.analysis.matching import match_resonances
from fdtd.analysis.resonances import Resonances, find_resonances, nothing
from fdtd.analysis.response import combined_transfer, level_db
from fdtd.analysis.tail import FADE, Tail, TailFigures, stepped_tones, tail_figures, tail_of_impulse, tail_times
from fdtd.analysis.weighting import Weighting, pink_noise_reading, weight_db
from fdtd.errors import FdtdError
from fdtd.results.result import RunResult, VariantResult

LOW, HIGH = 20.0, 160.0
"""Hz, band of everything that is heard of here."""
TOP_SHARE = 0.8
"""Of the highest frequency computed: what lies above is faded out where responses are made of a band."""
EDGE = 5.0
"""Hz, resonances are looked for so far below the band: the lowest one of a room may lie there."""
LONGEST_TAIL = 4.0
"""s after the stop that the tail is followed."""
ENOUGH = 40.0
"""dB that the sound must have decayed by when the simulation ends for tails and band decays to be told."""
LEAST_CYCLES = 24.0
"""Band width times duration below which resonances are not looked for."""
DROP = 30.0
"""dB of the tone that a sentence tells of."""
TOO_SHORT = "simulation too short"
WEIGHTINGS: tuple[Weighting, ...] = ("Z", "A", "C")
"""Z: none (IEC 61672-1)."""


class ListeningError(FdtdError):
    """A run from which it cannot be worked out what is heard."""


@dataclass(frozen=True)
class CutShort:
    """A simulation that ended while the room still rang. duration : s; fallen : dB that the slowest seat was down."""

    duration: float
    fallen: float


@dataclass(frozen=True, eq=False)
class VariantListening:
    """One variant. A seat that it lacks has NaN.

    transfer : (seat, frequency) complex, all sources together, Pa/(m³/s)
    resonances : of all its sources and seats together
    seat_level : (seat, resonance) dB, level of each resonance by itself at its own frequency, all sources playing
    limit : (resonance,) s, decay time above which it is heard to ring, NaN where no threshold is known
    audible : (resonance,) True where the decay is longer than that
    tail : envelopes (seat, tone, time), Pa/(m³/s); figures : (seat, tone, ...) relative to the steady tone of the first
        variant that has the seat
    decays : for each seat, third-octave decays; empty for a seat that it lacks
    readings : (seat, weighting) dB, meter reading of pink noise from 20 to 160 Hz, Z, A, C
    evenness : between the seats; None with fewer than two
    tone_readings : (seat, tone, weighting) dB, meter reading of each steady tone
    too_short : set if tails (NaN) and band decays (unknown) are not known because the simulation was cut short.
        What rings is known all the same, with larger errors: the fit ends where the simulation did
    """

    name: str
    transfer: NDArray[np.complex128]
    resonances: Resonances
    seat_level: NDArray[np.float64]
    limit: NDArray[np.float64]
    audible: NDArray[np.bool_]
    tail: Tail
    figures: TailFigures
    decays: tuple[tuple[BandDecay, ...], ...]
    readings: NDArray[np.float64]
    evenness: SeatEvenness | None
    tone_readings: NDArray[np.float64] = field(default_factory=lambda: np.empty((0, 0, len(WEIGHTINGS))))
    too_short: CutShort | None = None


@dataclass(frozen=True)
class Followed:
    """One resonance through the variants: its number in each, None where it has no match."""

    numbers: tuple[int | None, ...]


@dataclass(frozen=True, eq=False)
class Listening:
    """A whole run.

    tones : (tone,) Hz of the tails; followed : every resonance, by rising frequency
    own_tones : Hz, the tones among them that the user asked for; high : Hz, upper end of the band, from 20 Hz
    """

    seats: tuple[str, ...]
    threshold: DecayThreshold
    tones: NDArray[np.float64]
    variants: tuple[VariantListening, ...]
    followed: tuple[Followed, ...]
    own_tones: tuple[float, ...] = ()
    high: float = HIGH

    def first_with(self, seat: int) -> int | None:
        """Number of the first variant that has the seat, with which its others are compared; None if none has it."""
        return next((k for k, v in enumerate(self.variants) if np.isfinite(v.tail.steady[seat]).all()), None)

    @property
    def reference(self) -> NDArray[np.float64]:
        """(seat, tone) Pa/(m³/s), steady tone of the first variant that has the seat: 0 dB of the tail figures."""
        return _first_finite([v.tail.steady for v in self.variants])


def highest_audible(max_frequency: float) -> float:
    """Upper end of the band that is analysed, Hz, in a run computed up to `max_frequency`."""
    return min(HIGH, TOP_SHARE * max_frequency)


def listen(result: RunResult, tones: tuple[float, ...] = (), threshold: DecayThreshold = ANY_STIMULUS) -> Listening:
    """Everything that is heard in `result`; tones : Hz, added to the stepped ones (20 to 160 Hz in 1/12 octaves).

    The band ends at 160 Hz, or at 0.8 of the highest frequency of the run if that is lower.

    Raises
    ------
    ListeningError
        If the run is too short or its frequencies are not evenly spaced.
    """
    found = [resonances_of(result, variant) for variant in result.variants]
    try:
        return _listen(result, found, tones, threshold)
    except ValueError as error:
        raise _refusal(error) from error


def _refusal(error: ValueError) -> ListeningError:
    return ListeningError(
        f"what is heard cannot be worked out from this run: {error}; a longer run (duration under [run]) may do"
    )


def cut_short(variant: VariantResult) -> CutShort | None:
    """Whether the simulation of `variant` ended while it still rang, so that its decays and tails cannot be told."""
    return None if variant.fallen >= ENOUGH else CutShort(variant.duration, variant.fallen)


def _listen(
    result: RunResult, found: list[Resonances], tones: tuple[float, ...], threshold: DecayThreshold
) -> Listening:
    high = highest_audible(result.max_frequency)
    followed = _follow(found)
    # What rings in the first variant, and what only others have, is what a listener notices: always among the tones.
    starts = [next((v, k) for v, k in enumerate(one.numbers) if k is not None) for one in followed]
    own = np.array([found[v].frequency[k] for v, k in starts], dtype=float)
    own = own[(own >= LOW) & (own <= high)]
    stepped = stepped_tones(LOW, high, extra=np.concatenate([own, np.asarray(tones)]))
    made: list[VariantListening] = []
    for variant, resonances in zip(result.variants, found, strict=True):
        made.append(_listen_variant(result, variant, resonances, stepped, [v.tail for v in made], threshold))
    return Listening(result.seats, threshold, stepped, tuple(made), followed, tuple(tones), high)


def _first_finite(arrays: list[NDArray[np.float64]]) -> NDArray[np.float64]:
    """Element by element the first that is not NaN."""
    whole = arrays[0].copy()
    for other in arrays[1:]:
        whole = np.where(np.isnan(whole), other, whole)
    return whole


def resonances_of(result: RunResult, variant: VariantResult) -> Resonances:
    """Resonances of all sources and seats of a variant together; responses that it lacks are NaN in `amplitude`.

    Raises
    ------
    ListeningError
        If the run is too short.
    """
    responses = variant.impulse.reshape(-1, len(result.time))
    there = np.isfinite(responses).all(axis=1)
    step = float(result.time[1] - result.time[0])
    low, high = LOW - EDGE, highest_audible(result.max_frequency)
    some = there.any()
    try:
        if some and (high - low) * variant.duration < LEAST_CYCLES:
            needed = LEAST_CYCLES / (high - low)
            raise ValueError(f"it has {variant.duration:.2g} s of sound, {needed:.2g} s are needed")
        found = nothing(0, low, high)
        if some:
            found = find_resonances(responses[there], step, low, high, recorded=variant.duration)
    except ValueError as error:
        raise _refusal(error) from error
    amplitude = np.full((len(responses), len(found.frequency)), np.nan + 0j)
    amplitude[there] = found.amplitude
    return Resonances(
        found.frequency,
        found.decay_time,
        amplitude,
        found.frequency_error,
        found.decay_error,
        found.residual,
        found.order,
        found.low,
        found.high,
    )


def _follow(found: list[Resonances]) -> tuple[Followed, ...]:
    """Chains through the variants, each matched with the first; what the first lacks comes as chains of their own."""
    count = len(found)
    rows: list[list[int | None]] = [[k, *[None] * (count - 1)] for k in range(len(found[0].frequency))]
    for number, other in enumerate(found[1:], start=1):
        # A response that one of them lacks must not count; one without any resonance has none to match.
        both = np.isfinite(np.concatenate([found[0].amplitude, other.amplitude], axis=1)).all(axis=1)
        matching = match_resonances(_only(found[0], both), _only(other, both))
        for pair in matching.pairs:
            rows[pair.first][number] = pair.second
        rows += [[*[None] * number, k, *[None] * (count - 1 - number)] for k in matching.only_second]

    def place(row: list[int | None]) -> float:
        return float(next(found[v].frequency[k] for v, k in enumerate(row) if k is not None))

    return tuple(Followed(tuple(row)) for row in sorted(rows, key=place))


def _only(found: Resonances, responses: NDArray) -> Resonances:
    return Resonances(
        found.frequency,
        found.decay_time,
        found.amplitude[responses],
        found.frequency_error,
        found.decay_error,
        found.residual,
        found.order,
        found.low,
        found.high,
    )


def _listen_variant(
    result: RunResult,
    variant: VariantResult,
    resonances: Resonances,
    tones: NDArray,
    before: list[Tail],
    threshold: DecayThreshold,
) -> VariantListening:
    seats = range(len(result.seats))
    together = np.array([combined_transfer(variant.transfer[:, [s]], variant.playback)[0] for s in seats])
    there = np.isfinite(together).all(axis=1)
    impulse, rate, start = impulse_of_transfer(together[there], result.frequency)
    short = cut_short(variant)
    tail = _tail(impulse, rate, start, tones, there, variant.duration)
    if short:
        tail = Tail(tail.frequency, tail.time, np.full_like(tail.envelope, np.nan), tail.steady)
    figures = tail_figures(tail, _first_finite([one.steady for one in (*before, tail)]))
    decaying = _faded_out(impulse[:, round(-start * rate) :])
    bands = _bands(result)
    audible = iter(unknown_decay(bands, TOO_SHORT) if short else band_decays(one, rate, bands) for one in decaying)
    level = level_db(together[there], result.frequency, result.density)
    readings = np.full((len(there), len(WEIGHTINGS)), np.nan)
    steady = level_db(tail.steady, tones, result.density)
    tone_readings = np.stack([steady + weight_db(tones, weighting) for weighting in WEIGHTINGS], axis=-1)
    top = highest_audible(result.max_frequency)
    for k, weighting in enumerate(WEIGHTINGS):
        readings[there, k] = pink_noise_reading(level, result.frequency, LOW, top, weighting)
    exceeding = exceedance(resonances.frequency, resonances.decay_time, threshold)
    return VariantListening(
        variant.name,
        together,
        resonances,
        _seat_level(result, variant, resonances),
        exceeding.limit,
        exceeding.exceeds,
        tail,
        figures,
        tuple(next(audible) if s else () for s in there),
        readings,
        seat_evenness(level, result.frequency) if there.sum() > 1 else None,
        tone_readings,
        short,
    )


def _faded_out(response: NDArray[np.float64]) -> NDArray[np.float64]:
    """`response` (..., sample) without a step at its end, from which a filter in reversed time would ring.

    What ends there is 80 dB down and the ringing of the band's lower edge; the last eighth falls by a half-cosine.
    """
    count = response.shape[-1] // 8
    fade = np.ones(response.shape[-1])
    fade[len(fade) - count :] = 0.5 + 0.5 * np.cos(np.pi * np.arange(count) / count)
    return response * fade


def _bands(result: RunResult) -> tuple:
    return octave_bands(3, LOW, highest_audible(result.max_frequency))


def _tail(
    impulse: NDArray, rate: float, start: float, tones: NDArray, there: NDArray[np.bool_], simulated: float
) -> Tail:
    """Tails of the seats that are there, NaN at the others; no longer than the simulation, which would look silent."""
    last = max(min(LONGEST_TAIL, start + (impulse.shape[-1] - 1) / rate, simulated), 0.1)
    some = tail_of_impulse(impulse, rate, tones, tail_times(last), start=start, fade=FADE)
    envelope = np.full((len(there), *some.envelope.shape[1:]), np.nan)
    steady = np.full((len(there), len(tones)), np.nan)
    envelope[there], steady[there] = some.envelope, some.steady
    return Tail(tones, some.time, envelope, steady)


def _seat_level(result: RunResult, variant: VariantResult, found: Resonances) -> NDArray[np.float64]:
    """A damped sinusoid of amplitude a answers a tone of its own frequency with |a|/(2 delta), delta = 3 ln(10)/T."""
    sources = len(result.sources)
    amplitude = found.amplitude.reshape(sources, len(result.seats), len(found.frequency))
    factor = np.array([np.interp(found.frequency, result.frequency, one) for one in variant.playback])
    playing = np.isfinite(variant.source_level)
    together = np.einsum("srm,sm->rm", amplitude[playing], factor[playing])
    steady = np.abs(together) * found.decay_time / (6.0 * np.log(10.0))
    return level_db(steady, found.frequency, result.density)


def variant_levels(result: RunResult, variant: VariantResult) -> NDArray[np.float64]:
    """(seat, frequency) level of all sources together, dB; NaN for a seat that the variant lacks.

    0 dB is the free field at 1 m of a source of level 0 without roll-off and crossovers.
    """
    # Seat by seat: a seat that a variant lacks is NaN, and must not make its sources look missing elsewhere.
    seats = range(variant.transfer.shape[1])
    together = [combined_transfer(variant.transfer[:, [seat]], variant.playback)[0] for seat in seats]
    return level_db(np.array(together), result.frequency, result.density)
