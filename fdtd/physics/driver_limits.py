"""Which numbers a loudspeaker driver or an active unit can have at all: finite ones of the right sign.

What is usual, and slips of units such as grams for kilograms, is for the scene file to judge (scene/design_tables.py).
"""

from __future__ import annotations

import math

UNITS: dict[str, str] = {
    "diaphragm_area": "m²",
    "moving_mass": "kg",
    "suspension_compliance": "m/N",
    "mechanical_resistance": "N·s/m",
    "force_factor": "T·m",
    "coil_resistance": "ohm",
    "coil_inductance": "H",
    "box_volume": "m³",
    "shunt_resistance": "ohm",
    "target_resistance": "Pa·s/m",
    "target_share": "",
    "band_low": "Hz",
    "band_high": "Hz",
    "delay": "s",
    "largest_stroke": "m",
    "largest_current": "A",
}
"""Field -> its unit."""
MAY_BE_ZERO = {"coil_inductance", "shunt_resistance", "delay"}


def check_sizes(kind: str, values: dict[str, float | None]) -> None:
    """ValueError unless each of `values` is finite and positive (or zero where that makes sense).

    `kind` opens the message; fields that are not in `UNITS` and values that are None are passed over.
    """
    for name, value in values.items():
        if name not in UNITS or value is None:
            continue
        found = f"{kind}: {name} = {value:g} {UNITS[name]}".rstrip()
        if not math.isfinite(value):
            raise ValueError(f"{found} is not a finite number")
        if value < 0.0 or (value == 0.0 and name not in MAY_BE_ZERO):
            wanted = "zero or more" if name in MAY_BE_ZERO else "above zero"
            raise ValueError(f"{found}: must be {wanted}")


def check_count(kind: str, count: int) -> None:
    """ValueError unless `count` is a whole number of drivers, at least 1."""
    if isinstance(count, bool) or not math.isfinite(count) or int(count) != count or count < 1:
        raise ValueError(f"{kind}: count = {count}: must be a whole number, at least 1")


def check_mismatch(kind: str, name: str, value: float) -> None:
    """ValueError unless `value` is a finite relative error that leaves the quantity positive."""
    if not (math.isfinite(value) and value > -1.0):
        raise ValueError(f"{kind}: {name} = {value:g}: a relative error above -1 is meant (10 % too much is 0.1)")
