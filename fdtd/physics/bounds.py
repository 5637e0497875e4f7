"""Checks that designs share: one clear sentence for a number that no build-up can have."""

from __future__ import annotations

import math


def more_than_zero(owner: str, name: str, value: float, unit: str) -> None:
    """ValueError unless `value` is a finite number above zero. owner : what is being built, 'plate absorber'."""
    if not (math.isfinite(value) and value > 0.0):
        raise ValueError(f"{owner}: {name} must be more than 0{_spaced(unit)}, found {value!r}")


def zero_or_more(owner: str, name: str, value: float, unit: str) -> None:
    """ValueError unless `value` is a finite number, zero or above."""
    if not (math.isfinite(value) and value >= 0.0):
        raise ValueError(f"{owner}: {name} must be 0{_spaced(unit)} or more, found {value!r}")


def check_porous_volume(owner: str, depth: float, fill_depth: float, fill_resistivity: float) -> None:
    """ValueError unless a cavity `depth` m deep can hold the porous fill, m and Pa·s/m²; both zero means none."""
    more_than_zero(owner, "depth of the cavity", depth, "m")
    zero_or_more(owner, "depth of the fill", fill_depth, "m")
    zero_or_more(owner, "flow resistivity of the fill", fill_resistivity, "Pa·s/m²")
    if fill_depth > depth:
        raise ValueError(f"{owner}: the fill, {fill_depth!r} m deep, must fit the cavity, which is {depth!r} m deep")
    if (fill_depth > 0.0) != (fill_resistivity > 0.0):
        raise ValueError(
            f"{owner}: a fill needs both a depth and a flow resistivity above 0 (both 0 for an empty cavity), "
            f"found {fill_depth!r} m and {fill_resistivity!r} Pa·s/m²"
        )


def _spaced(unit: str) -> str:
    return f" {unit}" if unit else ""
