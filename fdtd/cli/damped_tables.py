"""Damped modes beside the resonances that a run found at the seats: tables and notes."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

HEADER = ("Mode", "Frequency, Hz", "Decay (60 dB), s", "In the run, Hz", "s", "")
COLUMNS = ("mode", "frequency_hz", "decay_time_s", "run_frequency_hz", "run_decay_time_s", "agrees")
ENDLESS = 1000.0
"""s; a longer decay time cannot be told from no decay, given rounding."""


@dataclass(frozen=True)
class Compared:
    """mode : (frequency, Hz, decay, s) for each mode; beside : likewise of the run's resonance and whether both agree

    alone : those of the run that no mode matches; known : whether there is a run
    """

    mode: tuple[tuple[float, float], ...]
    beside: dict[int, tuple[float, float, bool]]
    alone: tuple[tuple[float, float], ...]
    known: bool


def decays(seconds: float) -> bool:
    """True for a valid decay time."""
    return 0.0 < seconds < ENDLESS


def compared(
    frequency: Iterable[float], decay: Iterable[float], audible: tuple[Sequence[float], Sequence[float]] | None
) -> Compared:
    """Modes (Hz, s for 60 dB) beside the resonances `heard` in a run; a mode that does not decay has no match."""
    from fdtd.analysis.agreement import agreement

    modes = tuple((float(f), float(t)) for f, t in zip(frequency, decay, strict=True))
    if audible is None:
        return Compared(modes, {}, (), False)
    run = [(float(f), float(t)) for f, t in zip(*audible, strict=True)]
    fit = [k for k, (_, t) in enumerate(modes) if decays(t)]
    match = agreement([modes[k][0] for k in fit], [modes[k][1] for k in fit], *audible)
    beside = {fit[int(a)]: (*run[int(b)], bool(good)) for (a, b), good in zip(match.pairs, match.agrees, strict=True)}
    return Compared(modes, beside, tuple(run[int(k)] for k in match.only_second), True)


def screen_rows(both: Compared) -> list[tuple[str, ...]]:
    """Rows for HEADER, the run's own at the end; the first three columns without a run."""
    rows: list[tuple[str, ...]] = []
    for k, (frequency, seconds) in enumerate(both.mode):
        own = (str(k + 1), f"{frequency:.2f}", decay_text(seconds))
        pair = both.beside.get(k)
        run = ("", "", "") if pair is None else (f"{pair[0]:.2f}", f"{pair[1]:.2f}", "" if pair[2] else "differs")
        rows.append((*own, *run) if both.known else own)
    return rows + [("", "", "", f"{f:.2f}", f"{t:.2f}", "in the run only") for f, t in both.alone]


def decay_text(seconds: float) -> str:
    """'0.41', or that it does not decay, or grows."""
    if seconds < 0.0:
        return "grows"
    return f"{seconds:.2f}" if decays(seconds) else "does not decay"


def csv_rows(both: Compared) -> list[tuple[str | float, ...]]:
    """Rows for COLUMNS; empty where there is nothing, and for the decay time of what does not decay."""
    rows: list[tuple[str | float, ...]] = []
    for k, (frequency, seconds) in enumerate(both.mode):
        pair = both.beside.get(k)
        run: tuple[str | float, ...] = ("", "", "")
        if pair is not None:
            run = (pair[0], pair[1], "yes" if pair[2] else "no")
        rows.append((float(k + 1), frequency, seconds if decays(seconds) else math.nan, *run))
    return rows + [("", "", "", f, t, "") for f, t in both.alone]


def notes(both: Compared, unfinished: Iterable[float], reason: str) -> list[str]:
    """Notes under the table; reason : why there is no comparison, or a caveat about it."""
    text = []
    if not both.known:
        text.append(f"No run to compare with: {reason}.\n")
    else:
        good = sum(1 for pair in both.beside.values() if pair[2])
        text.append(
            f"{good} of {len(both.mode)} modes agree with a resonance heard in the run (0.5 % in frequency, 10 % in "
            f"decay);\n{len(both.beside) - good} differ by more; the rest are too weak at the seats, or lie too close "
            "to others, to be told apart there.\n"
        )
        if both.alone:
            text.append(f"{len(both.alone)} resonances of the run match no mode: go by the modes there.\n")
        if reason:
            text.append(f"Mind: {reason}.\n")
    if any(seconds < 0.0 for _, seconds in both.mode):
        text.append("A mode that grows is fed by an active unit or surface: such a room would oscillate.\n")
    places = ", ".join(f"{f:.1f}" for f in unfinished)
    if places:
        text.append(
            f"Near {places} Hz modes were seen that could not be settled; surfaces that resonate there do that.\n"
        )
    return text
