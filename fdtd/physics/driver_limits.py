"""What a loudspeaker driver's data can be: bounds that catch grams, litres and millimetres given where SI is meant.

The bounds are generous (common practice): no driver that fits into a room comes near them, a value in the wrong unit
does.
"""

from __future__ import annotations

import math

LARGEST: dict[str, tuple[float, str, str]] = {
    "diaphragm_area": (0.5, "m²", "140 cm² is 0.014"),
    "moving_mass": (1.0, "kg", "14 g is 0.014"),
    "suspension_compliance": (0.05, "m/N", "0.8 mm/N is 0.0008"),
    "mechanical_resistance": (200.0, "N·s/m", "usual values are 0.3 to 5"),
    "force_factor": (100.0, "T·m", "usual values are 2 to 20"),
    "coil_resistance": (1000.0, "ohm", "usual values are 3 to 16"),
    "coil_inductance": (0.05, "H", "0.6 mH is 0.0006"),
    "box_volume": (2.0, "m³", "20 litres are 0.02"),
    "shunt_resistance": (1e6, "ohm", "leave it out for an open circuit"),
    "target_resistance": (1e5, "Pa·s/m", "that of air is about 413"),
    "target_share": (1.0, "", "15 % is 0.15"),
    "band_low": (1000.0, "Hz", "15 to 160 Hz is usual"),
    "band_high": (1000.0, "Hz", "15 to 160 Hz is usual"),
    "delay": (0.02, "s", "0.5 ms is 0.0005"),
    "largest_stroke": (0.05, "m", "5 mm is 0.005"),
    "largest_current": (100.0, "A", "500 mA is 0.5"),
}
"""Field -> largest value that is believed, its unit, a hint for whoever mistook the unit."""
MAY_BE_ZERO = {"coil_inductance", "shunt_resistance", "delay"}
MOST_DRIVERS = 1000
LARGEST_MISMATCH = 1.0
SMALLEST_MISMATCH = -0.9


def check_sizes(kind: str, values: dict[str, float | None]) -> None:
    """ValueError unless each of `values` is finite, positive (or zero where that makes sense) and of a believable size.

    `kind` opens the message; fields that are not in `LARGEST` and values that are None are passed over.
    """
    for name, value in values.items():
        if name not in LARGEST or value is None:
            continue
        largest, unit, hint = LARGEST[name]
        found = f"{kind}: {name} = {value:g} {unit}".rstrip()
        if not math.isfinite(value):
            raise ValueError(f"{found} is not a finite number")
        if value < 0.0 or (value == 0.0 and name not in MAY_BE_ZERO):
            wanted = "zero or more" if name in MAY_BE_ZERO else "above zero"
            raise ValueError(f"{found}: must be {wanted}")
        if value > largest:
            raise ValueError(f"{found}: at most {largest:g} {unit} is believed ({hint})".replace("  ", " "))


def check_count(kind: str, count: int) -> None:
    """ValueError unless `count` is a whole number of drivers, 1 to `MOST_DRIVERS`."""
    if isinstance(count, bool) or int(count) != count or not 1 <= count <= MOST_DRIVERS:
        raise ValueError(f"{kind}: count = {count}: must be a whole number from 1 to {MOST_DRIVERS}")


def check_mismatch(kind: str, name: str, value: float) -> None:
    """ValueError unless `value` is a relative error that leaves the quantity positive."""
    if not SMALLEST_MISMATCH <= value <= LARGEST_MISMATCH:
        raise ValueError(
            f"{kind}: {name} = {value:g}: a relative error from {SMALLEST_MISMATCH:g} to {LARGEST_MISMATCH:g} is meant "
            "(10 % too much is 0.1)"
        )
