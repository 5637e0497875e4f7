"""What `fdtd partitions` says: words first, then resonances and seats with the variants side by side."""

from __future__ import annotations

import math
import string
import textwrap
from typing import TYPE_CHECKING

from fdtd.cli.tables import format_facts, format_table

if TYPE_CHECKING:
    from fdtd.listening.study import Listening
    from fdtd.study.partition_figures import Compared

WIDTH = 118
RESONANCE_NOTE = (
    "Frequency in Hz and time for 60 dB in s; * rings longer than the time up to which a decay is not heard ({source}; "
    "{published}). A resonance with '-' was not found in that variant: weak at the seats, or too different to be "
    "called the same."
)
SEAT_NOTE = (
    "A steady tone of that frequency, all sources playing: its level in dB (0 dB: a source of level 0 in free field at "
    "1 m), and the time in s after its stop until it stays 30 dB below the steady tone of variant A. Last rows: mean "
    "and standard deviation of the level from 20 to 160 Hz; mean of that time over all tones from 20 Hz up."
)
ROUGH_NOTE = (
    "Rough at this grid: above {highest:.0f} Hz the cells are coarser than eight to a wavelength. What lies there is "
    "not told above, though it counts in the last rows; it is in partitions.csv. A smaller --grid shows more."
)


def _filled(line: str) -> str:
    return textwrap.fill(line, WIDTH, subsequent_indent="  ", break_on_hyphens=False)


def format_partitions(listening: Listening, compared: Compared, lines: list[str]) -> str:
    """Words, a key of the variants, the resonances, each seat, and how much the seats differ."""
    from fdtd.wording.thresholds import published_range

    letters = string.ascii_uppercase[: len(listening.variants)]
    threshold = listening.threshold
    key = format_facts((letter, v.name) for letter, v in zip(letters, listening.variants, strict=True))
    parts = [
        "\n".join(_filled(line) for line in lines),
        "Variants\n" + key,
        _resonances(compared, letters),
        textwrap.fill(RESONANCE_NOTE.format(source=threshold.source, published=published_range(threshold)), WIDTH),
        *(_seat(compared, letters, seat, name) for seat, name in enumerate(listening.seats)),
        textwrap.fill(SEAT_NOTE, WIDTH),
    ]
    if any(reported > compared.highest for reported in compared.reported):
        parts.append(_filled(ROUGH_NOTE.format(highest=compared.highest)))
    if not all(math.isnan(value) for value in compared.between):
        row = ["Between the seats, dB", *(f"{value:.1f}" for value in compared.between)]
        parts.append(format_table(["Evenness", *letters], [row]))
    return "\n\n".join(parts)


def _resonances(compared: Compared, letters: str) -> str:
    rows = []
    for row, number in enumerate(compared.number):
        if compared.reported[row] > compared.highest:
            continue
        cells = [
            "-" if math.isnan(f) else f"{f:.1f} {t:.2f}{'*' if ring else ' '}"
            for f, t, ring in zip(compared.frequency[row], compared.decay[row], compared.rings[row], strict=True)
        ]
        rows.append([str(number + 1), *cells])
    if not rows:
        return "No resonance is found."
    return format_table(["Resonance", *letters], rows)


def _seat(compared: Compared, letters: str, seat: int, name: str) -> str:
    rows = []
    for row, reported in enumerate(compared.reported):
        if reported > compared.highest:
            continue
        pairs = zip(compared.level[row, :, seat], compared.gone[row, :, seat], strict=True)
        rows.append([f"{reported:.1f} Hz", *(_tone(level, time, compared.longest) for level, time in pairs)])
    rows.append(["Mean, dB", *(_number(value) for value in compared.mean[:, seat])])
    rows.append(["Std. dev., dB", *(_number(value) for value in compared.deviation[:, seat])])
    rows.append(["Tail, s", *("-" if math.isnan(v) else f"{v:.2f}" for v in compared.tail[:, seat])])
    return format_table([f"At '{name}'", *letters], rows)


def _number(value: float) -> str:
    return "-" if math.isnan(value) else f"{value:.1f}"


def _tone(level: float, time: float, longest: float) -> str:
    if math.isnan(level):
        return "-"
    if math.isnan(time):
        return f"{level:+.1f}     "
    return f"{level:+.1f} {f'>{longest:.1f}' if math.isinf(time) else f'{time:.2f}'}"
