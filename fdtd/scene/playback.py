"""What a source does to its signal: roll-off and crossover filters, read from the tables inside [[sources]]."""

from __future__ import annotations

from typing import Any

from fdtd.physics.loudspeaker import CLOSED_RANGE, ORDERS, VENTED_RANGE, Crossover, Rolloff
from fdtd.scene.intake import complete, read_table
from fdtd.scene.mistakes import Entry, Report
from fdtd.scene.tables import REQUIRED, TABLES, Field
from fdtd.scene.text import number, show

Playback = dict[str, Rolloff | Crossover | None]


def read_playback(entry: Entry, report: Report) -> Playback | None:
    """ "rolloff", "lowpass" and "highpass" of a source, each None if it has none; None after a mistake in one of them.

    A value that is not a table is left to the reader of the source itself.
    """
    found: Playback = {}
    for key, fields in (("rolloff", "rolloff"), ("lowpass", "crossover"), ("highpass", "crossover")):
        inner = entry.inner(key)
        if not isinstance(entry.values.get(key), dict):
            found[key] = None
        elif values := _read(inner, TABLES[fields], report):
            if values["kind"] == "none":
                found[key] = None
            elif key == "rolloff":
                _rolloff(inner, values, found, report)
            else:
                _crossover(inner, key, values, found, report)
    if len(found) < 3:
        return None
    low, high = found["lowpass"], found["highpass"]
    if low and high and high.frequency >= low.frequency:
        text = f"found {number(high.frequency)} Hz, but the low-pass is at {number(low.frequency)} Hz"
        report.warning(entry, "highpass", f"{text}; next to nothing is left of this source: are the two swapped?")
    return found


def _read(inner: Entry, fields: tuple[Field, ...], report: Report) -> dict[str, Any] | None:
    """All values of a table, or None after a mistake; kind "none" needs nothing else."""
    if inner.values.get("kind") == "none":
        fields = tuple(f for f in fields if f.key in inner.values or f.default is not REQUIRED)
    values = read_table(inner, fields, report)
    return values if complete(values, fields) else None


def _rolloff(inner: Entry, values: dict[str, Any], found: Playback, report: Report) -> None:
    kind, q = values["kind"], values["q"]
    low, high = CLOSED_RANGE if kind == "closed" else VENTED_RANGE
    if q is not None and not low <= q <= high:
        whose = "of the driver in its closed box" if kind == "closed" else "of the driver by itself, for a vented box,"
        usual = "without q it is 0.707" if kind == "closed" else "without q it is 0.383"
        report.mistake(inner, "q", f"found {number(q)}; the total Q {whose} is from {low:g} to {high:g} ({usual})")
        return
    found["rolloff"] = Rolloff(kind, values["frequency"], q)


def _crossover(inner: Entry, key: str, values: dict[str, Any], found: Playback, report: Report) -> None:
    kind, order = values["kind"], values["order"]
    if order not in ORDERS[kind]:
        # A variant that changed only the kind finds the fault there, and not at an order that was right before.
        only_kind = "kind" in inner.changed and "order" not in inner.changed
        where = "kind" if only_kind or "order" not in inner.values else "order"
        text = f'found order {order} for {show(kind)}; that kind has order 2, 4 or 8 ("butterworth" has 1 to 8)'
        report.mistake(inner, where, text)
        return
    found[key] = Crossover(kind, order, values["frequency"], "low" if key == "lowpass" else "high")
