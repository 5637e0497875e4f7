"""What the variants of a partition change at the seats, in sentences and as a table."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from fdtd.listening.changes import LEVEL_JND, WITHIN
from fdtd.listening.study import Listening
from fdtd.placement.objectives import LOUDNESS_SHARE, OCTAVE
from fdtd.study.partition_figures import LEAST_EVENER, LEAST_SHARE, LEAST_TIME, Compared
from fdtd.wording.listening_tables import Cell, Table
from fdtd.wording.seats import format_time
from fdtd.wording.thresholds import NONE_PUBLISHED


def sentences(listening: Listening, compared: Compared, deeds: tuple[str, ...]) -> list[str]:
    """One sentence for each variant but the first, then which of them is best at what; deeds : what each does."""
    reported = []
    for k in range(1, len(listening.variants)):
        some = [text for text in audible_at_seats(listening, compared, k) if text]
        reported.append(f"{deeds[k]}: {'; '.join(some) if some else 'nothing changes enough to be heard at any seat'}.")
    return [*reported, *_best(listening, compared)]


def audible_at_seats(listening: Listening, compared: Compared, variant: int) -> list[str]:
    """What a variant does at each seat against the first as far as it is heard, "" where nothing is.

    Told are single tones; where none changes enough, the figures over all of them.
    """
    reported = []
    for seat, name in enumerate(listening.seats):
        text = _at_seat(listening, compared, seat, variant)
        figures = [text for _, text in figures_at(listening, compared, variant, seat)]
        reported.append(text or (f"at '{name}', over all tones: {', '.join(figures)}" if figures else ""))
    return reported


def figures_at(listening: Listening, compared: Compared, k: int, seat: int) -> list[tuple[float, str]]:
    """The figures that change by what is heard, each with its points in dB, positive for the better.

    NaN, of a seat that is not there, changes nothing."""
    reported: list[tuple[float, str]] = []
    before, after = compared.deviation[[0, k], seat]
    if abs(after - before) >= LEVEL_JND:
        reported.append((before - after, f"{before:.1f} -> {after:.1f} dB uneven"))
    old, new = compared.tail[[0, k], seat]
    cut_short = listening.variants[0].too_short or listening.variants[k].too_short
    if not cut_short and abs(new - old) >= LEAST_SHARE * old:
        reported.append((OCTAVE * float(np.log2(old / new)), f"tail {old:.2f} -> {new:.2f} s"))
    louder = compared.mean[k, seat] - compared.mean[0, seat]
    if abs(louder) >= LEVEL_JND:
        sentence = f"{abs(louder):.0f} dB {'louder' if louder > 0.0 else 'quieter'}"
        reported.append((LOUDNESS_SHARE * min(louder, 0.0), sentence))
    return reported


def _at_seat(listening: Listening, compared: Compared, seat: int, variant: int) -> str:
    """What a variant does at one seat to steady tones of the followed resonances; "" if nothing that is heard.

    Told are the tone whose level changes most and the one whose tail does, where the tone is loud.
    """
    level = compared.level[:, [0, variant], seat]
    gone = np.minimum(compared.gone[:, [0, variant], seat], compared.longest)
    if not np.isfinite(gone).any():
        return ""
    loud = level.max(axis=1) - np.nanmax(level)
    fine = compared.reported <= compared.highest
    weight = np.where(fine & (loud > -WITHIN) & np.isfinite(gone).all(axis=1), 10.0 ** (loud / 20.0), 0.0)
    step, longer = level[:, 1] - level[:, 0], np.nan_to_num(gone[:, 1] - gone[:, 0])
    audible = (np.abs(longer) >= LEAST_TIME) & (np.abs(longer) >= LEAST_SHARE * np.nan_to_num(gone[:, 0]))
    first = int(np.argmax(weight * np.abs(step)))
    second = int(np.argmax(weight * audible * np.abs(longer)))
    said = [] if weight[first] * abs(step[first]) < LEVEL_JND else [_louder(compared.reported[first], step[first])]
    if weight[second] * audible[second] > 0.0:
        it = "it" if said and second == first else f"{compared.reported[second]:.0f} Hz"
        how = "longer" if longer[second] > 0.0 else "less long"
        before, after = (format_time(float(t), 0.0) for t in gone[second])
        said.append(f"lets {it} ring {abs(longer[second]):.1f} s {how} ({after} instead of {before})")
    return f"at '{listening.seats[seat]}' it {' and '.join(said)}" if said else ""


def _louder(frequency: float, step: float) -> str:
    return f"{'adds' if step > 0.0 else 'takes off'} {abs(step):.0f} dB at {frequency:.0f} Hz"


def _best(listening: Listening, compared: Compared) -> list[str]:
    """Which variant is the most even and rings least; said only if it beats the first by what can be heard."""
    names, found = [v.name for v in listening.variants], []
    spread = np.nanmean(compared.deviation, axis=1)
    even = int(np.argmin(spread))
    if spread[even] <= spread[0] - LEAST_EVENER:
        figures = f"standard deviation {spread[even]:.1f} dB, mean of the seats; as it is {spread[0]:.1f} dB"
        found.append(f"Most even over frequency: '{names[even]}' ({figures}).")
    else:
        found.append(f"None makes the bass clearly more even at the seats (standard deviation {spread[0]:.1f} dB).")
    near = int(np.argmin(np.nan_to_num(compared.between, nan=np.inf)))
    if compared.between[near] <= compared.between[0] - LEAST_EVENER:
        figures = f"{compared.between[near]:.1f} dB between them; as it is {compared.between[0]:.1f} dB"
        found.append(f"Seats most alike: '{names[near]}' ({figures}).")
    tail = np.nanmean(compared.tail, axis=1)
    short = int(np.argmin(tail))
    if tail[short] <= (1.0 - LEAST_SHARE) * tail[0]:
        figures = f"30 dB down after {tail[short]:.2f} s, mean of tones and seats; as it is {tail[0]:.2f} s"
        found.append(f"Shortest tails: '{names[short]}' ({figures}).")
    else:
        found.append(f"None shortens the tails clearly (30 dB down after {tail[0]:.2f} s, mean of tones and seats).")
    return found


COLUMNS = (
    "variant",
    "resonance",
    "frequency_hz",
    "decay_time_s",
    "threshold_s",
    "rings_longer",
    "tone_hz",
    "seat",
    "resonance_level_db",
    "tone_level_db",
    "tone_to_30_db_s",
    "mean_level_db",
    "standard_deviation_db",
    "mean_tail_s",
    "between_seats_db",
)
"""tone_* : of a steady tone at the resonance's frequency in the first variant that has it
(docs/commands/partitions.md)."""


def partition_table(listening: Listening, compared: Compared) -> Table:
    """partitions.csv: a row for each variant, resonance and seat."""
    return Table("partitions.csv", COLUMNS, tuple(_rows(listening, compared)))


def _rows(listening: Listening, compared: Compared) -> Iterator[tuple[Cell, ...]]:
    for k, variant in enumerate(listening.variants):
        for row, number in enumerate(compared.number):
            place = listening.followed[number].numbers[k]
            limit = float("nan") if place is None else float(variant.limit[place])
            known = NONE_PUBLISHED if np.isnan(limit) else "yes" if compared.rings[row, k] else "no"
            found = (
                variant.name,
                float(number + 1),
                float(compared.frequency[row, k]),
                float(compared.decay[row, k]),
                limit,
                "not found" if place is None else known,
                float(compared.reported[row]),
            )
            for seat, name in enumerate(listening.seats):
                own = float("nan") if place is None else float(variant.seat_level[seat, place])
                yield (
                    *found,
                    name,
                    own,
                    float(compared.level[row, k, seat]),
                    float(compared.gone[row, k, seat]),
                    float(compared.mean[k, seat]),
                    float(compared.deviation[k, seat]),
                    float(compared.tail[k, seat]),
                    float(compared.between[k]),
                )
