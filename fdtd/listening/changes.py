"""Which resonances and tones matter at a seat, and which changes between two variants are large enough to be heard."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fdtd.analysis.bands import Band
from fdtd.analysis.tail import FADE
from fdtd.listening.study import LOW, Followed, Listening, VariantListening

LOWEST = 15.0
"""Hz, resonances from here up to the end of the band are told of."""
COUNT = 10
"""So many resonances are followed on screen."""
TONES = 5
"""So many tones a seat, besides the user's own."""
WITHIN = 20.0
"""dB below the loudest resonance of a seat: what is weaker there is passed over."""
LEVEL_JND = 1.0
"""dB: a smaller change of level is taken not to be heard (just noticeable difference of sound strength, ISO 3382-1:2009
table A.1)."""
QUALITY_JND = ((1.0, 16.0), (10.0, 10.0), (30.0, 6.0))
"""Q, and the change of it that is just heard (Avis, Fazenda and Davies, J. Audio Eng. Soc. 55, 2007; values from
memory), straight over log Q between (ours), held beyond (ours)."""


@dataclass(frozen=True)
class Change:
    """One resonance of a seat, from one variant to another.

    number : of the followed resonance; frequency : Hz in the first of the two that has it
    decay : s in both, None where it has no match; level_step : dB at the seat, of a steady tone of its frequency; 0
        where the resonance by itself changes the other way (NaN without a match where there is no such tone)
    weight : amplitude at the seat in the first that has it, relative to the loudest resonance of the first, times how
        far the decay is above the threshold (1 where it is below or none is known)
    decay_audible, level_audible : whether the change is as large as is just audible. Without a match nothing is known
        of the resonance there; `decay_audible` is then whether a tone of its frequency changes so much, steady or in
        its tail
    """

    number: int
    frequency: float
    decay: tuple[float | None, float | None]
    level_step: float
    weight: float
    decay_audible: bool
    level_audible: bool

    @property
    def score(self) -> float:
        """What changes most where it matters most: weight times |ln| of the ratio of the decays or of the amplitudes,
        whichever is more; at least 1 for that without a match."""
        if self.decay[0] is None or self.decay[1] is None:
            step = 0.0 if np.isnan(self.level_step) else abs(self.level_step)
            return self.weight * max(1.0, step * float(np.log(10.0)) / 20.0)
        decay = abs(float(np.log(self.decay[1] / self.decay[0])))
        return self.weight * max(decay, abs(self.level_step) * float(np.log(10.0)) / 20.0)

    @property
    def decay_step(self) -> float:
        """Change of the decay relative to the first; infinite without a match."""
        before, after = self.decay
        return float("inf") if before is None or after is None else abs(after / before - 1.0)


def quality(frequency: ArrayLike, decay_time: ArrayLike) -> NDArray[np.float64]:
    """Q = pi f T/(3 ln 10) (Kuttruff, Room Acoustics); frequency : Hz; decay_time : s for 60 dB."""
    return np.pi * np.asarray(frequency, dtype=float) * np.asarray(decay_time, dtype=float) / (3.0 * np.log(10.0))


def quality_jnd(value: ArrayLike) -> NDArray[np.float64]:
    """Change of Q that is just heard at a Q of `value`, see QUALITY_JND."""
    points, jnds = np.array(QUALITY_JND).T
    return np.interp(np.log(np.asarray(value, dtype=float)), np.log(points), jnds)


def frequency_of(listening: Listening, followed: Followed) -> float:
    """Hz in the first variant that has it."""
    pairs = zip(listening.variants, followed.numbers, strict=True)
    return next(float(v.resonances.frequency[k]) for v, k in pairs if k is not None)


def strongest_followed(listening: Listening, count: int = COUNT) -> list[int]:
    """Numbers of the `count` followed resonances that are loudest at any seat in any variant, by rising frequency."""
    loudest = {}
    for number, one in enumerate(listening.followed):
        pairs = zip(listening.variants, one.numbers, strict=True)
        levels = np.array([v.seat_level[:, k] for v, k in pairs if k is not None])
        if LOWEST <= frequency_of(listening, one) <= listening.high and np.isfinite(levels).any():
            loudest[number] = float(np.nanmax(levels))
    return sorted(sorted(loudest, key=lambda number: -loudest[number])[:count])


def seat_tones(listening: Listening, seat: int, count: int = TONES) -> list[int]:
    """Numbers of the tones to tell of at a seat, rising: its `count` strongest resonances, and the user's own.

    The resonances are those of the first variant that has the seat; without any, the middles of the octaves serve.
    """
    first = listening.first_with(seat)
    wanted = list(listening.own_tones)
    if first is not None:
        variant = listening.variants[first]
        frequency, level = variant.resonances.frequency, variant.seat_level[seat]
        inside = np.flatnonzero((frequency >= LOW) & (frequency <= listening.high) & np.isfinite(level))
        wanted += [float(frequency[k]) for k in inside[np.argsort(-level[inside], kind="stable")][:count]]
    if not wanted:
        wanted = [f for f in (31.6228, 63.0957, 125.8925) if f <= listening.high] or [LOW]
    return sorted({number_of_tone(listening, f) for f in wanted})


def number_of_tone(listening: Listening, frequency: float) -> int:
    """Number of the tone nearest to `frequency`, Hz."""
    return int(np.argmin(np.abs(np.log(listening.tones / frequency))))


def loudest_tone(listening: Listening, seat: int) -> int:
    """Number of the tone of `seat_tones` that is loudest while it plays, in the first variant that has the seat."""
    first = listening.first_with(seat)
    tones = seat_tones(listening, seat)
    if first is None:
        return tones[0]
    return max(tones, key=lambda k: float(listening.variants[first].tail.steady[seat, k] / listening.tones[k]))


def changes_at(listening: Listening, seat: int, first: int, second: int) -> list[Change]:
    """Resonances within 20 dB of the loudest of `first` at the seat, as they are in both; greatest score first.

    Those that only `second` has are among them.
    """
    one, two = listening.variants[first], listening.variants[second]
    level = one.seat_level[seat]
    text = (one.resonances.frequency >= LOWEST) & (one.resonances.frequency <= listening.high) & np.isfinite(level)
    if not text.any():
        return []
    loudest = level[text].max()
    found = []
    for number, followed in enumerate(listening.followed):
        k, m = followed.numbers[first], followed.numbers[second]
        if k is None and m is not None and first != second:
            found += _unmatched(listening, seat, number, (first, second), (None, m), loudest)
        if k is None or not text[k] or level[k] < loudest - WITHIN:
            continue
        if m is None:
            found += _unmatched(listening, seat, number, (first, second), (k, None), loudest)
            continue
        frequency, decay = float(one.resonances.frequency[k]), float(one.resonances.decay_time[k])
        above = decay / one.limit[k] if one.audible[k] else 1.0
        weight = float(10.0 ** ((level[k] - loudest) / 20.0) * above)
        other, after = float(two.resonances.frequency[m]), float(two.resonances.decay_time[m])
        alone = float(two.seat_level[seat, m] - level[k])
        step = _level_step(listening, seat, first, second, frequency, alone)
        is_audible = bool(one.audible[k] != two.audible[m]) or _quality_audible(frequency, decay, other, after)
        found.append(
            Change(number, frequency, (decay, after), step, weight, is_audible, min(abs(alone), abs(step)) >= LEVEL_JND)
        )
    return sorted(found, key=lambda change: -change.score)


def _unmatched(
    listening: Listening,
    seat: int,
    number: int,
    variants: tuple[int, int],
    places: tuple[int | None, int | None],
    loudest: float,
) -> list[Change]:
    """The change of a resonance that only one of two variants has; () if it is too weak or outside the band."""
    which = 0 if places[0] is not None else 1
    variant, place = listening.variants[variants[which]], places[which]
    assert place is not None
    frequency, decay = float(variant.resonances.frequency[place]), float(variant.resonances.decay_time[place])
    level = float(variant.seat_level[seat, place])
    if not LOWEST <= frequency <= listening.high or not level >= loudest - WITHIN:
        return []
    above = decay / float(variant.limit[place]) if variant.audible[place] else 1.0
    step = _steady_step(listening, seat, *variants, frequency)
    is_audible = abs(step) >= LEVEL_JND or _tail_audible(listening, seat, *variants, frequency)  # NaN is not
    decays = (decay, None) if which == 0 else (None, decay)
    return [Change(number, frequency, decays, step, 10.0 ** ((level - loudest) / 20.0) * above, is_audible, False)]


def _tone_near(listening: Listening, frequency: float) -> int | None:
    """Number of the tone within 1 % of `frequency`, Hz."""
    tone = int(np.argmin(np.abs(listening.tones - frequency)))
    return tone if abs(listening.tones[tone] / frequency - 1.0) <= 0.01 else None


def _steady_step(listening: Listening, seat: int, first: int, second: int, frequency: float) -> float:
    """dB by which a steady tone of `frequency` changes; NaN without one."""
    tone = _tone_near(listening, frequency)
    if tone is None:
        return float("nan")
    before, after = (listening.variants[k].tail.steady[seat, tone] for k in (first, second))
    return 20.0 * float(np.log10(max(after, 1e-200) / max(before, 1e-200)))


def _tail_audible(listening: Listening, seat: int, first: int, second: int, frequency: float) -> bool:
    """Does the tail of a tone of `frequency` change by as much as is just heard, taken for that of one resonance?"""
    tone = _tone_near(listening, frequency)
    if tone is None or any(listening.variants[k].too_short for k in (first, second)):
        return False
    # One resonance falls by 30 dB in half its decay time, counted from the middle of the fade.
    before, after = (2.0 * time_down(listening, seat, k, tone) + FADE for k in (first, second))
    return _quality_audible(frequency, before, frequency, after)


def time_down(listening: Listening, seat: int, variant: int, tone: int) -> float:
    """s after which a tone is 30 dB down; the length of the tail where it does not fall so far within it."""
    one = listening.variants[variant]
    seconds = float(one.figures.time_to[seat, tone, one.figures.drops.index(30.0)])
    return float(one.tail.time[-1]) if np.isnan(seconds) else seconds


def _level_step(listening: Listening, seat: int, first: int, second: int, frequency: float, alone: float) -> float:
    """dB by which a steady tone of the frequency of a resonance changes, that of the resonance by itself (`alone`) if
    there is no such tone; 0 if the two go different ways.

    Of two resonances that lie close together one may gain what the other loses, while nothing changes for the ear.
    """
    together = _steady_step(listening, seat, first, second, frequency)
    if np.isnan(together):
        return alone
    return 0.0 if alone * together <= 0.0 else together


def _quality_audible(frequency: float, decay: float, other: float, after: float) -> bool:
    before, now = float(quality(frequency, decay)), float(quality(other, after))
    return abs(now - before) >= float(quality_jnd(np.sqrt(before * now)))


def text_tone(listening: Listening, seat: int, first: int, second: int, at: float | None) -> int | None:
    """Number of the tone to tell of; None if no tone serves.

    The user's first tone goes before all others, then that of the resonance that is told of (`at`, Hz), then that whose
    time to -30 dB changes most where it matters most. A tone that does not fall so far within the tail counts with the
    length of the tail; one that does so in neither variant tells nothing.
    """
    one = listening.variants[first]
    if listening.own_tones:
        return int(np.argmin(np.abs(listening.tones - listening.own_tones[0])))
    place = one.figures.drops.index(30.0)
    before, after = (listening.variants[k].figures.time_to[seat, :, place] for k in (first, second))
    known = np.isfinite(before) | np.isfinite(after)
    same = None if at is None else _tone_near(listening, at)
    if same is not None and known[same]:
        return same
    candidates = [k for k in seat_tones(listening, seat) if known[k]]
    steady = one.tail.steady[seat] / listening.tones  # relative to free field

    def change(tone: int) -> float:
        times = [time_down(listening, seat, k, tone) for k in (first, second)]
        return float(steady[tone]) * abs(times[1] - times[0])

    return max(candidates, key=change) if candidates else None


def modal_decay(variant: VariantListening, seat: int, band: Band) -> int | None:
    """Number of the resonance in the band (edges included) that is loudest at the seat; None if there is none."""
    level, frequency = variant.seat_level[seat], variant.resonances.frequency
    inside = np.flatnonzero((frequency >= band.lower) & (frequency <= band.upper) & np.isfinite(level))
    return int(inside[np.argmax(level[inside])]) if len(inside) else None
