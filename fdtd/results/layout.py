"""Names, units and meanings of everything in a result file (docs/result-file.md is the readable form)."""

from __future__ import annotations

import re

FORMAT = 3
"""Older: 1 without `playback`, 2 without `output`, `settled` and `fallen`."""
PROGRAM = "fdtd"

ROOT_NUMBERS = {
    "speed_of_sound": "m/s",
    "density": "kg/m3",
    "time_step": "s",
    "grid": "m",
    "max_frequency": "Hz",
    "output": "dB",
}
"""Root attributes that are numbers, with the unit written beside each as attribute `<name>_units`."""

PRESSURE_PER_VELOCITY = "Pa/(m3/s)"

ROOT_AXES = {
    "frequency": ("Hz", "frequency of the transfer functions"),
    "time": ("s", "time of the impulse responses"),
    "map_frequency": ("Hz", "frequency of the pressure maps"),
}

VARIANT_ARRAYS = {
    "transfer": (
        ("source", "seat", "frequency"),
        PRESSURE_PER_VELOCITY,
        "pressure at the seat per volume velocity of the source",
    ),
    "impulse": (
        ("source", "seat", "time"),
        "Pa/(m3/s)/s",
        "band-limited impulse response, pressure per volume velocity",
    ),
    "map": (
        ("source", "map_frequency", "cell"),
        PRESSURE_PER_VELOCITY,
        "pressure in each cell per volume velocity of the source",
    ),
    "playback": (
        ("source", "frequency"),
        "1",
        "complex factor on transfer in the combined response: level, delay, polarity, roll-off, crossovers",
    ),
    "map_playback": (("source", "map_frequency"), "1", "complex factor on map in the combined response"),
    "source_level": (("source",), "dB", "level of the source in the combined response"),
    "source_delay": (("source",), "s", "delay of the source in the combined response"),
    "source_polarity": (("source",), "1", "polarity of the source in the combined response, +1 or -1"),
}
"""Dataset of a variant: (dimensions, unit, meaning). NaN along the source axis: that source is not in this variant."""

UNIT_NUMBERS = {"gain": "1", "critical_gain": "1", "critical_frequency": "Hz", "distance": "1", "settled": "1"}
"""Attributes of an active unit, with their units."""

UNIT_ARRAYS = {
    "band": ("Hz", "mid frequency of the third-octave bands"),
    "stroke_level": ("dB", "level at the seats of tones in the band at which the diaphragm's stroke ends"),
    "drive_level": ("dB", "level at the seats of tones in the band at which the amplifier's current ends"),
}
"""Dataset of an active unit: (unit, meaning); all of shape (band,)."""

FIELD_OF = {"map": "maps"}
"""Where the field of VariantResult is not called like the dataset."""


def group_name(name: str) -> str:
    """The HDF5 link name of a variant: the name itself unless it holds what a link name cannot.

    '/', control characters, a name of dots only and an empty name are written as %XX (hexadecimal, UTF-8);
    so is a '%' that would look like such an escape. Different names give different link names.
    """

    def escape(match: re.Match[str]) -> str:
        return "".join(f"%{byte:02X}" for byte in match.group().encode("utf-8", "surrogatepass"))

    escaped = re.sub(r"[/\x00-\x1f\x7f\ud800-\udfff]|%(?=[0-9A-Fa-f]{2}|$)", escape, name)
    if not escaped:
        return "%"
    return re.sub(r"^\.(?=\.*$)", "%2E", escaped)
