"""The tables of a scene file and their keys, as `keys.toml` states them."""

from __future__ import annotations

import math
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from importlib.resources import files
from typing import Any

from fdtd.scene.text import number

REQUIRED = object()
"""Default of a field that has none."""


@dataclass(frozen=True)
class Field:
    """A key of a table. form : one of `kinds.KINDS`; low itself is excluded if `above`; the rest is in `keys.toml`."""

    key: str
    form: str
    help: str
    unit: str = ""
    default: Any = REQUIRED
    low: float = -math.inf
    high: float = math.inf
    above: bool = False
    choices: tuple[Any, ...] = ()
    in_room: bool = False

    @property
    def short(self) -> str:
        """The help up to its first punctuation mark, to stand inside a sentence."""
        return re.split(r"[;:,]", self.help)[0]

    @property
    def in_unit(self) -> str:
        """' in m', or nothing for a pure number."""
        return f" in {self.unit}" if self.unit else ""

    @property
    def range(self) -> str:
        """The range in words, with the unit."""
        unit = f" {self.unit}" if self.unit else ""
        if self.low == -math.inf and self.high == math.inf:
            return ""
        if self.high == math.inf:
            return f"{'more than' if self.above else 'at least'} {number(self.low)}{unit}"
        return f"from {number(self.low)} to {number(self.high)}{unit}"


def _read(key: str, row: Mapping[str, Any]) -> Field:
    given: dict[str, Any] = {name: tuple(value) if isinstance(value, list) else value for name, value in row.items()}
    if "range" in given:
        given["low"], given["high"] = given.pop("range")
    if "above" in given:
        given["low"], given["above"] = given["above"], True
    if given.pop("optional", False):
        given["default"] = None
    return Field(key, **{"form": "number", **given})


_ROWS = tomllib.loads(files("fdtd.scene").joinpath("keys.toml").read_text(encoding="utf-8"))

TABLES: dict[str, tuple[Field, ...]] = {
    name: tuple(_read(key, _ROWS[row][key] if isinstance(row, str) else row) for key, row in rows.items())
    for name, rows in _ROWS.items()
}
"""Name of a table -> its keys, in the order of the reference."""

THINGS = ("patches", "blocks", "sheets", "fills", "sources", "seats", "absorbers")
"""Lists of what has a name and a place in the room."""

SECTIONS = ("air", "room", "surfaces", "materials", *THINGS, "devices", "variants", "spots", "run")
"""Top-level tables and arrays of tables."""

RESERVED = ("floor", "ceiling", "walls", "rigid")
"""Names that nothing in the room may have; 'wall n' besides."""


def _field(table: str, key: str) -> Field:
    return next(field for field in TABLES[table] if field.key == key)


DEVICE_KIND = _field("device", "kind")

MATERIAL_KINDS: tuple[str, ...] = _field("material", "kind").choices
"""Build-ups that cover a surface. The keys of each kind are the fields of its class in `physics.designs`."""

DEVICE_KINDS: tuple[str, ...] = tuple(kind for kind in DEVICE_KIND.choices if kind in TABLES)
"""Build-ups that are units on a surface."""

DESIGN_FIELDS = {kind: fields for kind, fields in TABLES.items() if kind in (*MATERIAL_KINDS, *DEVICE_KINDS)}
"""Kind of build-up -> its keys."""

_MOVES_AS_BUILT = ("driver", "active", "helmholtz")
"""Kinds whose face can only move as one."""


def material_fields(kind: str | None) -> tuple[Field, ...]:
    """The keys of a material: those of a build-up of `kind`, or of the other forms for None."""
    if kind is None:
        return TABLES["material"]
    return (_field("material", "kind"), _field("material", "source"), *TABLES[kind])


def device_fields(kind: str) -> tuple[Field, ...]:
    """The keys of a device of `kind`."""
    if kind == "branches":
        return TABLES["device"]
    own = TABLES.get(kind) or (replace(_field("material", "table"), default=REQUIRED),)
    motion = replace(_field("device", "motion"), default="local" if kind == "porous" else "diaphragm")
    shared = (_field("device", "price"), _field("device", "source"))
    return (DEVICE_KIND, *own, *(() if kind in _MOVES_AS_BUILT else (motion,)), *shared)


def device_keys() -> tuple[str, ...]:
    """The keys of devices of all kinds."""
    return tuple(dict.fromkeys(f.key for kind in DEVICE_KIND.choices for f in device_fields(kind)))


def design_values(kind: str, values: Mapping[str, Any]) -> dict[str, Any]:
    """The values of a build-up's own keys in SI units, those left out (None) left out."""
    own = {field.key: field.unit for field in TABLES[kind]}
    return {k: v * 1e-3 if own[k] == "ms" else v for k, v in values.items() if k in own and v is not None}
