"""What `fdtd run` prints about audibility: a sentence per seat, resonances, tails after a tone, meter readings."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING

from fdtd.cli.tables import cut, format_table

if TYPE_CHECKING:
    from fdtd.listening.study import Listening, VariantListening

WIDTH = 118
LONGEST_NAME = 20
NOTES = (
    "Decay: time for 60 dB. Level: the resonance by itself at its own frequency, all sources playing, in the dB of the "
    "tables above. A resonance rings 'longer than' the time up to which its decay is not heard ({source}; "
    "{published}).",
    "Tail: a steady tone fades out within 0.1 s; time from the end of that after which it stays 20, 30, 40 dB below "
    "what it was, and level left after 100, 200, 300 ms, both relative to the steady tone in the first variant.",
    "Reading of a meter for pink noise from 20 Hz to {high:g} Hz and for steady tones, unweighted (Z), C and A. "
    "Between the seats: standard deviation over the seats, mean over log frequency, and largest. Definitions: "
    "docs/listening.md.",
)


def format_listening(listening: Listening, output: float = math.nan) -> str:
    """All audibility figures as text, at most 120 columns wide if there are few seats and names are short."""
    from fdtd.wording.names import on_screen
    from fdtd.wording.seats import seat_sentences
    from fdtd.wording.thresholds import published_range

    seats = range(len(listening.seats))
    lines = [on_screen(line) for seat in seats for line in seat_sentences(listening, seat)]
    threshold = listening.threshold
    facts = {"source": threshold.source, "published": published_range(threshold), "high": listening.high}
    notes = [text.format(**facts) for text in NOTES]
    parts = [
        "\n".join(_wrapped(line) for line in lines),
        *_resonance_tables(listening),
        _wrapped(notes[0], indent=""),
        *(_tail_table(listening, seat) for seat in seats),
        _wrapped(notes[1], indent=""),
        _readings_table(listening, output),
        _wrapped(notes[2], indent=""),
    ]
    return "\n\n".join(part for part in parts if part)


def _wrapped(text: str, indent: str = "  ") -> str:
    return textwrap.fill(text, WIDTH, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False)


def _short(name: str) -> str:
    return cut(name, LONGEST_NAME)


def _resonance_tables(listening: Listening) -> list[str]:
    """The strongest resonances in all variants; several tables if there are too many seats for one."""
    from fdtd.listening.changes import strongest_followed

    numbers = strongest_followed(listening)
    if not numbers:
        return ["No resonance is found."]
    tables, seats = [], list(range(len(listening.seats)))
    while seats:
        count = len(seats)
        while count > 1 and _width(_resonance_table(listening, numbers, seats[:count])) > WIDTH:
            count -= 1
        tables.append(_resonance_table(listening, numbers, seats[:count]))
        seats = seats[count:]
    return tables


def _width(text: str) -> int:
    return max(len(line) for line in text.splitlines())


def _resonance_table(listening: Listening, numbers: Sequence[int], seats: Sequence[int]) -> str:
    names = [_short(f"'{listening.seats[seat]}'") for seat in seats]
    header = ("Resonance", "variant", "frequency", "decay", *names, "rings")
    rows: list[list[str]] = []
    for number in numbers:
        for k, variant in enumerate(listening.variants):
            place = listening.followed[number].numbers[k]
            first = str(number + 1) if k == 0 else ""
            if place is None:
                rows.append([first, _short(variant.name), "not resolved"])
                continue
            rows.append([first, _short(variant.name), *_resonance_cells(variant, place, seats)])
    return format_table(header, rows, left=2)


def _resonance_cells(variant: VariantListening, place: int, seats: Sequence[int]) -> list[str]:
    from fdtd.wording.thresholds import NONE_PUBLISHED

    found, limit = variant.resonances, float(variant.limit[place])
    if math.isnan(limit):
        rings = NONE_PUBLISHED
    else:
        rings = f"longer than {limit:.2f} s" if variant.audible[place] else ""
    levels = [float(variant.seat_level[seat, place]) for seat in seats]
    return [
        f"{found.frequency[place]:.1f} Hz",
        f"{found.decay_time[place]:.2f} s",
        *("" if math.isnan(level) else f"{level:.1f} dB" for level in levels),
        rings,
    ]


def format_own_tails(listening: Listening) -> str:
    """The tails and readings of the user's own tones alone, at every seat."""
    from fdtd.listening.changes import number_of_tone

    tones = sorted(number_of_tone(listening, f) for f in listening.own_tones)
    parts = [_tail_table(listening, seat, tones) for seat in range(len(listening.seats))]
    return "\n\n".join([*parts, _wrapped(NOTES[1], indent="")])


def _tail_table(listening: Listening, seat: int, tones: Sequence[int] | None = None) -> str:
    from fdtd.listening.changes import seat_tones

    figures = listening.variants[0].figures
    header = (
        f"Tail at '{_short(listening.seats[seat])}'",
        "variant",
        *(f"-{drop:g} dB" for drop in figures.drops),
        *(f"after {1000 * moment:g} ms" for moment in figures.moments),
    )
    rows = []
    for tone in seat_tones(listening, seat) if tones is None else tones:
        own = any(abs(listening.tones[tone] - f) < 1e-6 for f in listening.own_tones)
        name = f"{listening.tones[tone]:.1f} Hz{' (yours)' if own else ''}"
        for k, variant in enumerate(listening.variants):
            rows.append((name if k == 0 else "", _short(variant.name), *_tail_cells(variant, seat, tone)))
    return format_table(header, rows, left=2)


def _tail_cells(variant: VariantListening, seat: int, tone: int) -> list[str]:
    if math.isnan(variant.tail.steady[seat, tone]):
        return ["not there"]
    if variant.too_short:
        return ["too short"]
    longest = math.floor(10.0 * variant.tail.time[-1] + 1e-9) / 10.0
    times = [float(value) for value in variant.figures.time_to[seat, tone]]
    return [
        *(f"> {longest:.1f} s" if math.isnan(value) else f"{value:.2f} s" for value in times),
        *("" if math.isnan(value) else f"{value:.1f} dB" for value in variant.figures.left[seat, tone]),
    ]


def _readings_table(listening: Listening, output: float) -> str:
    """Meter readings: sound pressure levels if the loudspeakers' output at 1 m is known (dB), else relative to it."""
    from fdtd.listening.study import WEIGHTINGS

    several = any(variant.evenness is not None for variant in listening.variants)
    order = [WEIGHTINGS.index(letter) for letter in ("Z", "C", "A")]
    header = ["Reading", "variant", *(f"dB({WEIGHTINGS[k]})" for k in order)]
    header += ["between the seats", "largest"] if several else []
    known, rows = 0.0 if math.isnan(output) else output, []
    for seat, name in enumerate(listening.seats):
        label = _short(f"'{name}'") + ", "
        for what, tone in _read(listening, seat):
            for k, variant in enumerate(listening.variants):
                read = variant.readings[seat] if tone is None else variant.tone_readings[seat, tone]
                values = [known + float(read[n]) for n in order]
                row = [label + what if k == 0 else "", _short(variant.name)]
                row += ["not there"] if math.isnan(values[0]) else [f"{value:.1f}" for value in values]
                if seat == 0 and tone is None and variant.evenness is not None:
                    even = variant.evenness
                    row += [""] * (len(order) + 2 - len(row))
                    row.append(f"{even.mean_deviation:.1f} dB")
                    row.append(f"{even.worst_deviation:.1f} dB at {even.worst_frequency:.1f} Hz")
                rows.append(row)
    text = f"Sound pressure levels, for sources that give {output:g} dB at 1 m in free field."
    if math.isnan(output):
        text = "0 dB as above; give output under [run] for sound pressure levels."
    return format_table(header, rows, left=2) + "\n" + text


def _read(listening: Listening, seat: int) -> list[tuple[str, int | None]]:
    """Signals with a meter reading at a seat: pink noise (None), and the user's tones or else the loudest one."""
    from fdtd.listening.changes import loudest_tone, number_of_tone

    tones = sorted({number_of_tone(listening, f) for f in listening.own_tones}) or [loudest_tone(listening, seat)]
    return [("pink noise", None), *((f"{listening.tones[k]:.1f} Hz tone", k) for k in tones)]
