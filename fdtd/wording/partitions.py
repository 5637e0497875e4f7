"""What the variants of a partition change at the seats, in sentences and as a table."""

from __future__ import annotations

from collections.abc import Callable
from itertools import product

import numpy as np

from fdtd.listening.changes import LEVEL_JND, WITHIN
from fdtd.listening.study import Listening, VariantListening
from fdtd.placement.objectives import LOUDNESS_SHARE, OCTAVE
from fdtd.scene.text import number
from fdtd.study.partition_figures import LEAST_EVENER, LEAST_SHARE, LEAST_TIME, Compared
from fdtd.study.partitions import Deed
from fdtd.wording.letters import capital, louder
from fdtd.wording.listening_tables import Cell, Columns, Table, rings, table_of
from fdtd.wording.names import named, typed
from fdtd.wording.seats import format_time

DEEDS = {
    "doors": ("closing", "close", "its {openings} with {doors}"),
    "closed": ("closing", "close", "it{except_openings}"),
    "open": ("making", "make", "it {value} % open instead of {before} %"),
    "width": ("making", "make", "its opening {value} m wide"),
    "move": ("moving", "move", "it by {signed} m along {axis}"),
    "mass": ("making", "make", "its closed part a panel of {value} kg/m²"),
    "gone": ("leaving", "leave", "it out"),
}
"""Kind of a deed -> its verb as the beginning of a sentence and as an order, then what both go on with."""
SUGGESTED_DEPTH = 0.3
"""m, of shelves."""


def deed_text(deed: Deed, order: bool = False) -> str:
    """'closing it', or as an order 'close it'."""
    doing, do, rest = DEEDS[deed.kind]
    several = deed.openings != 1
    rest = rest.format(
        value=number(deed.value),
        before=number(deed.before),
        signed=f"{deed.value:+g}",
        axis="xyz"[deed.axis],
        openings="openings" if several else "opening",
        doors="doors" if several else "a door",
        except_openings=" except for its openings" if deed.openings else "",
    )
    return f"{do if order else doing} {rest}"


def left_out_text(idle: tuple[float, ...]) -> str:
    """Why these open shares in % were not tried."""
    return (
        f"{', '.join(map(number, idle))} % open is left out: without depth or resistance a partition that is open at "
        "all lets sound through as if it were not there. Give its depth, such as "
        f"{typed(f'--depth {SUGGESTED_DEPTH:g}')}"
    )


def sentences(listening: Listening, compared: Compared, deeds: tuple[Deed, ...]) -> list[str]:
    """One sentence for each variant but the first, then which of them is best at what; deeds : what each does."""
    told = []
    for k in range(1, len(listening.variants)):
        some = [text for text in audible_at_seats(listening, compared, k) if text]
        told.append(f"{capital(deed_text(deeds[k]))}: {'; '.join(some) or 'no audible change at any seat'}.")
    return [*told, *_best(listening, compared)]


def audible_at_seats(listening: Listening, compared: Compared, variant: int) -> list[str]:
    """What a variant does at each seat against the first as far as it is heard, "" where nothing is.

    Told are single tones; where none changes enough, the figures over all of them.
    """
    told = []
    for seat, name in enumerate(listening.seats):
        text = _at_seat(listening, compared, seat, variant)
        figures = [text for _, text in figures_at(listening, compared, variant, seat)]
        text = text or (f"over all tones: {', '.join(figures)}" if figures else "")
        told.append(f"at {named(name)}, {text}" if text else "")
    return told


def figures_at(listening: Listening, compared: Compared, k: int, seat: int) -> list[tuple[float, str]]:
    """The figures that change by what is heard, each with its points in dB, positive for the better.

    NaN, of a seat that is not there, changes nothing."""
    told: list[tuple[float, str]] = []
    before, after = compared.deviation[[0, k], seat]
    if abs(after - before) >= LEVEL_JND:
        told.append((before - after, f"unevenness {before:.1f} -> {after:.1f} dB"))
    old, new = compared.tail[[0, k], seat]
    cut_short = listening.variants[0].too_short or listening.variants[k].too_short
    if not cut_short and abs(new - old) >= LEAST_SHARE * old:
        told.append((OCTAVE * float(np.log2(old / new)), f"tail {old:.2f} -> {new:.2f} s"))
    step = compared.mean[k, seat] - compared.mean[0, seat]
    if abs(step) >= LEVEL_JND:
        told.append((LOUDNESS_SHARE * min(step, 0.0), louder(step, 0)))
    return told


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
    told = []
    if weight[first] * abs(step[first]) >= LEVEL_JND:
        told.append(f"{compared.reported[first]:.0f} Hz is {louder(step[first], 0)}")
    if weight[second] * audible[second] > 0.0:
        it = "" if told and second == first else f"{compared.reported[second]:.0f} Hz "
        how = "longer" if longer[second] > 0.0 else "shorter"
        before, after = (format_time(float(t), 0.0) for t in gone[second])
        told.append(f"{it}rings {abs(longer[second]):.1f} s {how} ({after} instead of {before})")
    return " and ".join(told)


def _best(listening: Listening, compared: Compared) -> list[str]:
    """Which variant is the most even and rings least; said only if it beats the first by what can be heard."""
    spread, between, tail = np.nanmean(compared.deviation, axis=1), compared.between, np.nanmean(compared.tail, axis=1)
    mean, told = "averaged over tones and seats", []
    figures = (
        (
            spread,
            spread[0] - LEAST_EVENER,
            "Most even over frequency",
            "standard deviation {:.1f} dB, averaged over the seats; as it is {:.1f} dB",
            f"None makes the bass clearly more even at the seats (standard deviation {spread[0]:.1f} dB).",
        ),
        (between, between[0] - LEAST_EVENER, "Seats most alike", "{:.1f} dB between them; as it is {:.1f} dB", ""),
        (
            tail,
            (1.0 - LEAST_SHARE) * tail[0],
            "Shortest tails",
            f"30 dB down after {{:.2f}} s, {mean}; as it is {{:.2f}} s",
            f"None shortens the tails clearly (30 dB down after {tail[0]:.2f} s, {mean}).",
        ),
    )
    for values, most, what, text, none in figures:
        best = int(np.argmin(np.nan_to_num(values, nan=np.inf)))
        found = f"{what}: {named(listening.variants[best].name)} ({text.format(values[best], values[0])})."
        told.append(found if values[best] <= most else none)
    return [text for text in told if text]


def partition_table(listening: Listening, compared: Compared) -> Table:
    """partitions.csv: a row for each variant, resonance and seat; tone_* : of a steady tone at the frequency of the
    resonance in the first variant that has it (docs/commands/partitions.md)."""
    variants, followed = listening.variants, [listening.followed[number].numbers for number in compared.number]
    Row = tuple[int, int, int]

    def own(one: Row, value: Callable[[VariantListening, int], Cell], missing: Cell) -> Cell:
        """What only a resonance that was found in the variant has."""
        place = followed[one[1]][one[0]]
        return missing if place is None else value(variants[one[0]], place)

    nan = float("nan")
    columns: Columns[Row] = [
        ("variant", lambda one: variants[one[0]].name),
        ("resonance", lambda one: compared.number[one[1]] + 1),
        ("frequency_hz", lambda one: compared.frequency[one[1], one[0]]),
        ("decay_time_s", lambda one: compared.decay[one[1], one[0]]),
        ("threshold_s", lambda one: own(one, lambda variant, place: variant.limit[place], nan)),
        ("rings_longer", lambda one: own(one, rings, "not found")),
        ("tone_hz", lambda one: compared.reported[one[1]]),
        ("seat", lambda one: listening.seats[one[2]]),
        ("resonance_level_db", lambda one: own(one, lambda variant, place: variant.seat_level[one[2], place], nan)),
        ("tone_level_db", lambda one: compared.level[one[1], one[0], one[2]]),
        ("tone_to_30_db_s", lambda one: compared.gone[one[1], one[0], one[2]]),
        ("mean_level_db", lambda one: compared.mean[one[0], one[2]]),
        ("standard_deviation_db", lambda one: compared.deviation[one[0], one[2]]),
        ("mean_tail_s", lambda one: compared.tail[one[0], one[2]]),
        ("between_seats_db", lambda one: compared.between[one[0]]),
    ]
    rows = product(range(len(variants)), range(len(followed)), range(len(listening.seats)))
    return table_of("partitions.csv", columns, rows)
