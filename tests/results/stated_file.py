"""The smallest file of a placement study that its layout calls right: every array, made from what is stated of it."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np

from fdtd.results.placement_layout import ATTRIBUTES, LAYOUT
from fdtd.results.placement_store import write_placement
from fdtd.results.statement import Entry, LabelledArray

LENGTHS = {"axis": 3, "frequency": 3, "source": 1, "seat": 2, "device": 1, "gain": 1, "unit": 2}
"""Of axes; all others are 2 long."""


def values(name: str, entry: Entry) -> np.ndarray:
    """Values that are right for an array."""
    shape = tuple(LENGTHS.get(axis, 2) for axis in entry.axes)
    if entry.kind == "text":
        found = entry.fixed or [_text(name, entry, k) for k in range(math.prod(shape))]
        return np.array(found, dtype=object).reshape(shape)
    least = max(entry.least, 0.0)
    if entry.order:
        made = least + np.arange(shape[0])
    elif entry.kind == "whole":
        made = np.full(shape, max(least, 1.0 if entry.member_of else 0.0))
    elif entry.kind == "complex":
        return np.full(shape, 0.5 + 0.25j)
    else:
        made = np.full(shape, least + 0.5)
    return made.astype(int if entry.kind == "whole" else float)


def _text(name: str, entry: Entry, number: int) -> str:
    return str(entry.choices[0]) if entry.choices else f"{name} {number}"


def write_stated(path: Path) -> Path:
    """Write it; returns the path."""
    attributes: dict[str, str | float] = {}
    for name, entry in ATTRIBUTES.items():
        made = values(name, entry)
        attributes[name] = str(made[()]) if entry.kind == "text" else float(np.clip(made, entry.low, entry.high))
        if entry.kind == "real" and entry.units:
            attributes[f"{name}_units"] = entry.units
    groups = {
        group: [LabelledArray(n, e.axes, e.units, e.meaning, values(n, e)) for n, e in stated.arrays.items()]
        for group, stated in LAYOUT.items()
    }
    return write_placement(path, attributes, groups)
