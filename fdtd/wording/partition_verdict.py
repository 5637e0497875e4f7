"""The verdict of a partition study: leave the thin partition or do what does most good, from what changes by what is
heard."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fdtd.listening.changes import LEVEL_JND, WITHIN, quality, quality_jnd
from fdtd.listening.study import Listening
from fdtd.placement.objectives import LOUDNESS_SHARE, OCTAVE
from fdtd.study.clearly_worse import CLEAR_DECAY, stands_out_more
from fdtd.study.partition_figures import LEAST_TIME, Compared
from fdtd.study.partitions import Deed
from fdtd.wording.letters import capital
from fdtd.wording.names import named
from fdtd.wording.partitions import audible_at_seats, deed_text, figures_at
from fdtd.wording.seats import format_time
from fdtd.wording.thresholds import more_prominent


@dataclass(frozen=True)
class Effect:
    """What one variant does against the first, as far as it is heard.

    score : dB, positive for the better: evenness and the seats' likeness as they are, decay 6 dB an octave, loudness a
        quarter (the weights of `placement.objectives.benefit`); mean of the seats, less what the seat that loses most
        loses at single notes (`clearly_worse`)
    better, worse : words for each place, such as "at 'sofa' (unevenness 7.4 -> 10.5 dB)"
    """

    score: float
    better: tuple[str, ...]
    worse: tuple[str, ...]

    @property
    def text(self) -> str:
        parts = (("better", self.better), ("worse", self.worse))
        return ", ".join(f"{how} {' and '.join(told)}" for how, told in parts if told)


def verdict(listening: Listening, compared: Compared, deeds: tuple[Deed, ...]) -> str:
    """One line: what to do with the thin partition, and the deed that does most harm; deeds : what each variant does.

    Only what is heard at some seat is advised for or against, so that this agrees with `partitions.sentences`.
    """
    audible = [k for k in range(1, len(listening.variants)) if any(audible_at_seats(listening, compared, k))]
    effects = {k: one for k in audible if (one := effect(listening, compared, k)).text}
    if not effects:
        what = "is audibly better or worse overall" if audible else "audibly changes the sound at any seat"
        return f"Leave it as it is: nothing that was tried {what}."
    order = sorted(effects, key=lambda k: -effects[k].score)
    best, worst = effects[order[0]], effects[order[-1]]
    harm = deed_text(deeds[order[-1]])
    if best.score <= 0.0:
        told = "nothing that was tried is audibly better overall"
        return f"Leave it as it is: {told}{f'; {harm} makes it {worst.text}' if worst.score < 0.0 else ''}."
    first = f"{capital(deed_text(deeds[order[0]], order=True))}: {best.text}."
    return f"{first} The worst is {harm}: {worst.text}." if worst.score < 0.0 else first


def effect(listening: Listening, compared: Compared, k: int) -> Effect:
    """What variant `k` does against the first, by what is heard at each seat, between the seats and in what rings."""
    better: list[str] = []
    worse: list[str] = []
    scores, costs, score = [], [0.0], 0.0
    for seat, name in enumerate(listening.seats):
        figures = figures_at(listening, compared, k, seat)
        scores.append(sum(points for points, _ in figures))
        gains = [text for points, text in figures if points > 0.0]
        notes = clearly_worse(compared, k, seat)
        costs.append(sum(cost for cost, _ in notes))
        harms = [text for points, text in figures if points < 0.0] + [text for _, text in notes]
        # Being louder on the whole is neither: it is told along with what is.
        (gains or harms).extend(text for points, text in figures if points == 0.0)
        if gains:
            but = f", but worse: {', '.join(harms)}" if harms else ""
            better.append(f"at {named(name)} ({', '.join(gains)}{but})")
        elif harms:
            worse.append(f"at {named(name)} ({', '.join(harms)})")
    before, after = compared.between[0], compared.between[k]
    if abs(after - before) >= LEVEL_JND:
        score += before - after
        (better if after < before else worse).append(f"between the seats ({before:.1f} -> {after:.1f} dB)")
    longest = _longest(compared, k)
    if longest is not None:
        (old, new), sentence = longest
        score += OCTAVE * float(np.log2(old / new)) / 2.0  # half: tails at the seats have told part of it
        (better if new < old else worse).append(sentence)
    score += (float(np.mean(scores)) if scores else 0.0) - max(costs)
    return Effect(score, tuple(better), tuple(worse))


def clearly_worse(compared: Compared, k: int, seat: int) -> list[tuple[float, str]]:
    """The note that stands out most more than before at a seat, and the one that decays latest, if far more so; each
    with what it costs in dB: as lost loudness does, a quarter (ours; one note is not the whole band)."""
    pair = [0, k]
    level, gone = compared.level[:, pair, seat], compared.gone[:, pair, seat]
    fine = compared.reported <= compared.highest
    more = np.where(fine, stands_out_more(level, compared.mean[pair, seat]), -np.inf)
    reported = []
    if sentence := more_prominent(compared.reported, more):
        reported.append((LOUDNESS_SHARE * float(more.max()), sentence))
    loud = fine & (level[:, 1] >= np.max(level[fine, 1], initial=-np.inf) - WITHIN)
    time = np.minimum(gone, compared.longest)
    long = loud & (time[:, 1] - time[:, 0] >= LEAST_TIME) & (time[:, 1] >= CLEAR_DECAY * time[:, 0])
    if long.any():
        slowest = int(np.argmax(np.where(long, gone[:, 1], -np.inf)))
        known = np.where(np.isinf(gone[slowest]), np.nan, gone[slowest])
        before, after = (format_time(float(t), compared.longest) for t in known)
        octaves = float(np.log2(time[slowest, 1] / max(time[slowest, 0], LEAST_TIME)))
        sentence = f"{compared.reported[slowest]:.0f} Hz rings {after} instead of {before}"
        reported.append((LOUDNESS_SHARE * OCTAVE * octaves, sentence))
    return reported


def _longest(compared: Compared, k: int) -> tuple[tuple[float, float], str] | None:
    """The longest decays of the followed resonances before and after; None unless both are known and that is heard."""
    fine = compared.reported <= compared.highest
    pairs = np.where(fine[:, None], compared.decay[:, [0, k]], np.nan)
    if not np.isfinite(pairs).any(axis=0).all():
        return None
    rows = np.nanargmax(pairs, axis=0)
    (old, new), at = pairs[rows, [0, 1]], compared.frequency[rows, [0, k]]
    # Both at the frequency of the first: it is the time that is compared, not what a higher resonance has in Q.
    values = quality(at[0], [old, new])
    if abs(values[1] - values[0]) < float(quality_jnd(np.sqrt(values[0] * values[1]))):
        return None
    sentence = f"in the longest decay ({old:.2f} s at {at[0]:.0f} Hz -> {new:.2f} s at {at[1]:.0f} Hz)"
    return (float(old), float(new)), sentence
