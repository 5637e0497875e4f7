"""Names, units, meanings and right values of everything in a result file (docs/result-file.md is the readable form)."""

from __future__ import annotations

import re

from fdtd.results.statement import Entry, Group, Layout

FORMAT = 4
"""Older: 1 without `playback`, 2 without `output`, `settled` and `fallen`, 3 with sentences instead of `placed`."""
PROGRAM = "fdtd"

PRESSURE_PER_VELOCITY = "Pa/(m3/s)"


def text(meaning: str, axis: str = "", choices: tuple[str, ...] = ()) -> Entry:
    """A text, or texts along an axis."""
    return Entry((axis,) if axis else (), "1", meaning, "text", choices=choices)


def names(axis: str, meaning: str) -> Entry:
    """The scale of an axis that names its places."""
    return Entry((axis,), "1", meaning, "text", order="distinct", shortest=1)


def numbers(axis: str, meaning: str, first: int = 1, shortest: int = 0) -> Entry:
    """The scale of an axis that only counts its places."""
    return Entry((axis,), "1", meaning, "whole", least=first, order="counted", shortest=shortest)


XYZ = Entry(("axis",), "1", "axis", "text", fixed=("x", "y", "z"))
SCENE = text("text of the scene file")

ROOT_NUMBERS = {
    "speed_of_sound": Entry((), "m/s", "of the air", least=10.0, most=1e4),
    "density": Entry((), "kg/m3", "of the air", least=1e-3, most=1e4),
    "time_step": Entry((), "s", "of the simulation", least=1e-9, most=1.0),
    "grid": Entry((), "m", "longest cell edge", least=1e-4, most=100.0),
    "max_frequency": Entry((), "Hz", "highest frequency asked for", least=1.0),
    "output": Entry((), "dB", "level of a source of level 0 at 1 m in free field", nan=True),
}
"""Root attributes that are numbers, with the unit written beside each as attribute `<name>_units`."""

ROOT_TEXTS = {
    "version": text("version of the program"),
    "created": text("date and time of the run"),
    "title": text("title of the scene"),
    "computed_from": text("SHA-256 of everything that the numbers depend on"),
    "precision": text("of the simulation", choices=("single", "double")),
}

ROOT_AXES = {
    "frequency": Entry(
        ("frequency",), "Hz", "frequency of the transfer functions", least=0.1, order="rising", shortest=2
    ),
    "time": Entry(("time",), "s", "time of the impulse responses", least=0.0, order="even", shortest=2),
    "map_frequency": Entry(("map_frequency",), "Hz", "frequency of the pressure maps", least=0.1, order="rising"),
}

ROOT_NAMES = {
    "source": names("source", "name of the source"),
    "seat": names("seat", "name of the seat"),
}

VARIANT_ARRAYS = {
    "transfer": Entry(
        ("source", "seat", "frequency"),
        PRESSURE_PER_VELOCITY,
        "pressure at the seat per volume velocity of the source",
        "complex",
        absent=("source", "seat"),
    ),
    "impulse": Entry(
        ("source", "seat", "time"),
        "Pa/(m3/s)/s",
        "band-limited impulse response, pressure per volume velocity",
        absent=("source", "seat"),
    ),
    "map": Entry(
        ("source", "map_frequency", "cell"),
        PRESSURE_PER_VELOCITY,
        "pressure in each cell per volume velocity of the source",
        "complex",
        absent=("source",),
    ),
    "playback": Entry(
        ("source", "frequency"),
        "1",
        "complex factor on transfer in the combined response: level, delay, polarity, roll-off, crossovers",
        "complex",
        absent=("source",),
    ),
    "map_playback": Entry(
        ("source", "map_frequency"),
        "1",
        "complex factor on map in the combined response",
        "complex",
        absent=("source",),
    ),
    "source_level": Entry(("source",), "dB", "level of the source in the combined response", absent=("source",)),
    "source_delay": Entry(
        ("source",), "s", "delay of the source in the combined response", least=0.0, most=10.0, absent=("source",)
    ),
    "source_polarity": Entry(
        ("source",),
        "1",
        "polarity of the source in the combined response, +1 or -1",
        choices=(1.0, -1.0),
        absent=("source",),
    ),
}
"""NaN along the source or seat axis: that source or seat is not in this variant."""

CELL = numbers("cell", "number of the cell", 0, shortest=1)
VARIANT_NUMBERS = {
    "duration": Entry((), "s", "time that was simulated", positive=True),
    "fallen": Entry((), "dB", "fall of the sound at the slowest seat by then", infinite=True),
}
VARIANT_TEXTS = {
    "outcome": text("why the simulation ended", choices=("quiet", "asked", "limit")),
}
VARIANT_PLACE = {
    "name": text("name of the variant"),
    "order": Entry((), "", "its place in the scene, counted from 0", "whole", least=0),
    "steps": Entry((), "", "number of time steps", "whole", least=1),
    "cells": text("path of the group with the cells of map"),
}

PLACED = {
    "unit": numbers("unit", "number of the unit"),
    "place": Entry(("unit",), "1", "number of its place in the study", "whole", least=1),
    "device": text("name of its device", "unit"),
    "gain": Entry(("unit",), "1", "gain of its device"),
}
"""Units of a placement study that stand in a variant."""

UNIT_NUMBERS = {
    "gain": Entry((), "1", "loop gain"),
    "critical_gain": Entry((), "1", "gain at which it starts to oscillate", least=0.0, infinite=True, nan=True),
    "critical_frequency": Entry((), "Hz", "of that oscillation", least=0.0, nan=True),
    "distance": Entry((), "1", "of the loop from it", least=0.0, nan=True),
    "settled": Entry((), "1", "0 if the room still rang", choices=(0.0, 1.0)),
}
"""Attributes of an active unit."""

UNIT_ARRAYS = {
    "band": Entry(("band",), "Hz", "mid frequency of the third-octave bands", least=0.1, order="rising"),
    "stroke_level": Entry(
        ("band",),
        "dB",
        "level at the seats of tones in the band at which the diaphragm's stroke ends",
        nan=True,
        infinite=True,
    ),
    "drive_level": Entry(
        ("band",),
        "dB",
        "level at the seats of tones in the band at which the amplifier's current ends",
        nan=True,
        infinite=True,
    ),
}

CELL_ARRAYS = {
    **{
        f"edge_{letter}": Entry((f"edge_{letter}",), "m", f"cell edges along {letter}", order="rising", shortest=2)
        for letter in "xyz"
    },
    "cell": CELL,
    "axis": XYZ,
    "index": Entry(
        ("cell", "axis"),
        "1",
        "position of the cell among the edges along x, y, z, counted from 0",
        "whole",
        places_of=("edge_x", "edge_y", "edge_z"),
        gaps=True,
    ),
    "volume": Entry(("cell",), "m3", "air in the cell", positive=True),
}

FIELD_OF = {"map": "maps"}
"""Where the field of VariantResult is not called like the dataset."""

LAYOUT: Layout = {
    "": Group({"scene": SCENE, **ROOT_AXES, **ROOT_NAMES}, ROOT_TEXTS | ROOT_NUMBERS),
    "cells": Group(),
    "cells/*": Group(CELL_ARRAYS, link="number"),
    "variants": Group(),
    "variants/*": Group(
        {"cell": CELL, **VARIANT_ARRAYS},
        VARIANT_PLACE | VARIANT_TEXTS | VARIANT_NUMBERS,
        link="name",
        order="order",
        at="cells",
        shared=("cell",),
    ),
    "variants/*/placed": Group(PLACED),
    "variants/*/units": Group(),
    "variants/*/units/*": Group(
        UNIT_ARRAYS, {"name": text("name of the unit"), **UNIT_NUMBERS}, link="number", fewest=0
    ),
}


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
