"""What a result file holds besides the fields of its records, and in which groups (docs/result-file.md)."""

from __future__ import annotations

import re

from fdtd.results.placement_record import Unit
from fdtd.results.result import CellGrid, RunResult, UnitResult, VariantResult
from fdtd.results.statement import XYZ as XYZ
from fdtd.results.statement import Entry, Group, Layout, arrays_of, attribute, attributes_of, numbers, text

FORMAT = 4
"""Older: 1 without `playback`, 2 without `output`, `settled` and `fallen`, 3 with sentences instead of `placed`."""
PROGRAM = "fdtd"

EDGES = {
    f"edge_{letter}": Entry((f"edge_{letter}",), "m", f"cell edges along {letter}", order="rising", shortest=2)
    for letter in "xyz"
}
CELL = {"cell": numbers("cell", "number of the cell", 0, shortest=1)}
NUMBER = {"unit": numbers("unit", "number of the unit")}
VARIANT_PLACE = {
    "order": attribute("", "its place in the scene, counted from 0", "whole", least=0),
    "cells": text("path of the group with the cells of map", attribute=True),
}

LAYOUT: Layout = {
    "": Group(arrays_of(RunResult), attributes_of(RunResult)),
    "cells": Group(),
    "cells/*": Group(EDGES | CELL | {"axis": XYZ} | arrays_of(CellGrid), link="number"),
    "variants": Group(),
    "variants/*": Group(
        CELL | arrays_of(VariantResult),
        attributes_of(VariantResult) | VARIANT_PLACE,
        link="name",
        order="order",
        at="cells",
        shared=("cell",),
    ),
    "variants/*/placed": Group(NUMBER | arrays_of(Unit, "unit")),
    "variants/*/units": Group(),
    "variants/*/units/*": Group(arrays_of(UnitResult), attributes_of(UnitResult), link="number", fewest=0),
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
