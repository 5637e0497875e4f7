"""Are the values of an array those that its statement allows?"""

from __future__ import annotations

from collections.abc import Sequence
from functools import reduce
from typing import Any

import numpy as np
from numpy.typing import NDArray

from fdtd.results.statement import LARGEST_OTHER, Entry

EVEN = 1e-6
"""Share by which steps of an even axis may differ: they are rounded sums."""


class Damage(ValueError):
    """What is wrong with a file: which array, what was found, what would be right."""


def expected(entry: Entry) -> str:
    """What is right for the values, in words."""
    kinds = {"text": "text", "whole": "whole numbers", "real": "numbers", "complex": "complex numbers"}
    if entry.fixed or entry.choices:
        return " or ".join(map(_text, entry.fixed or entry.choices))
    if entry.kind == "text":
        return "texts that are all different" if entry.order == "distinct" else "text"
    units = "" if entry.units in ("", "1") else f" {entry.units}"
    both = entry.kind != "complex" and entry.low > -LARGEST_OTHER
    limits = f", {entry.low:g} to {entry.high:g}{units}" if both else f", at most {entry.high:g}{units}"
    orders = {"rising": ", rising", "even": ", rising in equal steps", "counted": ", each one more than the one before"}
    return kinds[entry.kind] + limits + orders.get(entry.order, ", all different" if entry.order else "")


def check_values(
    where: str, values: NDArray[Any], entry: Entry, places: Sequence[int], members: NDArray[Any] | None
) -> None:
    """Raise Damage unless `values` are right; places : how many there are to count; members : what they may be."""
    if entry.kind == "text":
        _check_texts(where, values, entry)
        return
    _check_size(where, values, entry)
    if entry.choices:
        _refuse(where, values[~(np.isin(values, entry.choices) | np.isnan(values))], expected(entry))
    if entry.order:
        _check_order(where, values, entry)
    known = values if entry.none is None else np.where(values == entry.none, 0, values)
    for column, count in zip(np.atleast_2d(known.T) if len(places) > 1 else [known], places, strict=bool(places)):
        _refuse(where, column[(column < 0) | (column >= count)], f"whole numbers from 0 to {count - 1}")
    if members is not None:
        _refuse(where, values[~np.isin(values, members) & (values != entry.none)], f"numbers of /{entry.member_of}")


def _refuse(where: str, wrong: NDArray[Any], right: str) -> None:
    if wrong.size:
        raise Damage(f"{where}: found {_text(wrong.flat[0].item())}; expected {right}")


def check_absent(where: str, values: NDArray[Any], entry: Entry, missing: dict[str, NDArray[np.bool_]]) -> None:
    """Raise Damage unless NaN fills whole places of the axes `entry.absent`, the same as in the arrays before.

    missing : axis -> places that are not there, of the arrays of the group so far; what is new is put in
    """
    empty = np.isnan(values)
    rest = tuple(k for k, axis in enumerate(entry.axes) if axis not in entry.absent)
    gone = empty.all(axis=rest)
    if values.size == 0:
        return
    others = [tuple(n for n in range(gone.ndim) if n != k) for k in range(gone.ndim)]
    masks = [gone.all(axis=rest, keepdims=True) for rest in others]
    whole = reduce(np.logical_or, masks)
    if not np.array_equal(empty.any(axis=rest), whole) or whole.all():
        raise Damage(f"{where}: found NaN; expected {expected(entry)}, or NaN all along a {' or '.join(entry.absent)}")
    for axis, mask in zip(entry.absent, masks, strict=True):
        if not np.array_equal(missing.setdefault(axis, mask.ravel()), mask.ravel()):
            raise Damage(f"{where}: found NaN for another {axis} than in the arrays beside it; expected the same")


def _check_texts(where: str, values: NDArray[Any], entry: Entry) -> None:
    texts = [str(value) for value in values.ravel()]
    allowed = entry.fixed or entry.choices
    wrong = next((t for t in texts if allowed and t not in allowed), None)
    if wrong is not None or (entry.fixed and tuple(texts) != entry.fixed):
        raise Damage(f"{where}: found {_text(wrong or ', '.join(texts))}; expected {expected(entry)}")
    if entry.order == "distinct" and len(set(texts)) < len(texts):
        double = next(t for k, t in enumerate(texts) if t in texts[:k])
        raise Damage(f"{where}: found {_text(double)} twice; expected {expected(entry)}")


def _check_size(where: str, values: NDArray[Any], entry: Entry) -> None:
    unknown = np.isnan(values)
    if unknown.any() and not (entry.nan or entry.absent):
        raise Damage(f"{where}: found NaN; expected {expected(entry)}")
    if np.isinf(values).any() and not entry.infinite:
        raise Damage(f"{where}: found an infinite number; expected {expected(entry)}")
    known = values[np.isfinite(values)]
    # Of a complex number part by part: its size may overflow.
    for part in (known.real, known.imag) if known.dtype.kind == "c" else (known,):
        _refuse(where, part[(part < entry.low) | (part > entry.high)], expected(entry))


def _check_order(where: str, values: NDArray[Any], entry: Entry) -> None:
    if entry.order == "distinct":
        right = len(np.unique(values)) == len(values)
    elif entry.order == "counted":
        right = np.array_equal(values, int(entry.least) + np.arange(len(values)))
    else:
        steps = np.diff(values)
        right = bool((steps > 0.0).all())
        if right and entry.order == "even" and len(steps):
            right = bool(np.ptp(steps) <= EVEN * np.abs(values).max())
    if not right:
        raise Damage(f"{where}: found values in another order; expected {expected(entry)}")


def _text(value: str | float) -> str:
    text = f"{value:g}" if isinstance(value, float) else repr(value)
    return text if len(text) <= 60 else f"{text[:57]}..."
