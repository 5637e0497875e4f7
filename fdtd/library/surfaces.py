"""The library of surfaces: what `surfaces.toml` holds, checked, and the branches that stand for each."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files
from typing import Any

from fdtd.library.fits import absorption_fit, design_fit
from fdtd.physics.design import Design, Fit
from fdtd.physics.designs import DESIGNS
from fdtd.physics.medium import Medium

ORIGINS = ("absorption", "design")


@dataclass(frozen=True)
class LibrarySurface:
    """A surface of a dwelling with one or two origins of its numbers.

    group : heading of a list; absorption : band's centre in Hz -> random-incidence absorption as printed ({}: no table
    was found); design : a build-up, or None; used : the origin that a scene gets; note : what else to know
    printed_range : lowest and highest printed absorption at 125 Hz where tables of the same thing disagree, else None
    """

    name: str
    group: str
    description: str
    absorption: dict[float, float] = field(hash=False)
    absorption_source: str
    design: Design | None
    design_source: str
    used: str
    note: str = ""
    printed_range: tuple[float, float] | None = None

    @property
    def origins(self) -> tuple[str, ...]:
        """The origins that it has."""
        return tuple(o for o in ORIGINS if (self.absorption if o == "absorption" else self.design))

    def source(self, origin: str | None = None) -> str:
        """Where the numbers of `origin` (None: the one used) come from."""
        return self.absorption_source if (origin or self.used) == "absorption" else self.design_source


@cache
def _surfaces() -> dict[str, LibrarySurface]:
    text = files("fdtd.library").joinpath("surfaces.toml").read_text(encoding="utf-8")
    return {name: _surface(name, row) for name, row in tomllib.loads(text).items()}


def _surface(name: str, row: dict[str, Any]) -> LibrarySurface:
    build_up = dict(row.get("design", {}))
    design = DESIGNS[build_up.pop("kind")](**build_up) if build_up else None
    surface = LibrarySurface(
        name,
        row["group"],
        row["description"],
        {float(f): a for f, a in row.get("absorption", {}).items()},
        row.get("absorption_source", ""),
        design,
        row.get("design_source", ""),
        row["used"],
        row.get("note", ""),
        tuple(row["printed_range"]) if "printed_range" in row else None,
    )
    if surface.used not in surface.origins:
        raise ValueError(f"{name}: uses {surface.used}, which it does not have")
    return surface


def names() -> tuple[str, ...]:
    """The names of all surfaces, in the order of the table in docs/surfaces.md."""
    return tuple(_surfaces())


def find(name: str) -> LibrarySurface:
    """The surface called `name`; raises KeyError if there is none."""
    return _surfaces()[name]


def fitted(surface: LibrarySurface, medium: Medium, origin: str | None = None) -> Fit:
    """Branches of `surface` by `origin`, "absorption" or "design" (None: the one used), in the air `medium`.

    Raises ValueError if the surface does not have that origin.
    """
    origin = origin or surface.used
    if origin not in surface.origins:
        raise ValueError(f"{surface.name} has no {origin}, only {' and '.join(surface.origins)}")
    if origin == "design" and surface.design is not None:
        return design_fit(surface.design, medium)
    return absorption_fit(tuple(surface.absorption.items()), medium)
