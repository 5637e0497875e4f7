"""Materials and devices made from their tables, and the materials that come from the library."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np

from fdtd.library import surfaces as library
from fdtd.library.fits import absorption_fit, active_parts, admittance_fit, design_fit, normal_fit, pole_fit
from fdtd.physics.active import ActiveUnit
from fdtd.physics.admittance import RIGID, Branches, resistive
from fdtd.physics.control import StateSpace
from fdtd.physics.design import Design, Fit
from fdtd.physics.designs import DESIGNS
from fdtd.physics.fitting import held, poles_compared
from fdtd.physics.medium import Medium
from fdtd.scene import tables
from fdtd.scene.intake import complete, only_one, read_table
from fdtd.scene.measured import read_measured
from fdtd.scene.mistakes import Entry, Report
from fdtd.scene.schema import Air, Device, Material
from fdtd.scene.tables import MATERIAL_KINDS, Field, design_values
from fdtd.scene.text import number, one_line, quoted, show

FORMS = ("branches", "admittance_ratio", "absorption", "table", "kind")
"""Keys of which a material has exactly one."""

LARGEST_ERROR = 0.03
"""Difference between what was asked for and what is simulated (see Fit.error) above which a warning is given."""

NOISE = 0.02
"""Share of the largest admittance by which the real part of a measured passive surface may dip below zero."""


@dataclass(frozen=True)
class _Made:
    branches: Branches
    design: Design | None = None
    fit: Fit | None = None
    control: StateSpace | None = None


def read_material(name: str, entry: Entry, air: Air | None, report: Report) -> Material | None:
    """A material, or None after a mistake (or without air, whose own mistake was told)."""
    given = [key for key in FORMS if key in entry.values]
    kind = entry.values.get("kind")
    if "kind" in given and kind not in MATERIAL_KINDS:
        _only(entry, "kind", tables.TABLES["material"], report)
        return None
    form = only_one(entry, FORMS, report, f"found none of {quoted(FORMS)}; give one of them")
    if len(given) > 1:
        return None
    fields = tables.material_fields(kind)
    values = read_table(entry, fields, report)
    if form is None or air is None or not complete(values, fields):
        return None
    made = _make(entry, kind or form, values, air, report, "material")
    return Material(name, made.branches, one_line(values["source"]), made.design, made.fit) if made else None


def read_device(name: str, entry: Entry, air: Air | None, report: Report) -> Device | None:
    """A device, or None after a mistake."""
    kind = entry.values.get("kind", tables.DEVICE_KIND.default)
    if kind not in tables.DEVICE_KIND.choices:
        _only(entry, "kind", tables.TABLES["device"], report)
        return None
    fields = tables.device_fields(kind)
    values = read_table(entry, fields, report)
    form = kind
    if kind == "branches":
        missing = 'found neither "branches" nor "admittance_ratio"; give one of them'
        form = only_one(entry, ("branches", "admittance_ratio"), report, missing)
    if form is None or not complete(values, fields) or air is None:
        return None
    made = _make(entry, form, values, air, report, "device")
    if made is None:
        return None
    motion = values.get("motion", "diaphragm")
    if made.control is not None and motion == "local":
        remedy = 'what is not passive moves as one: write motion = "diaphragm"'
        report.mistake(entry, "motion", f'found "local" for a table that gives out energy; {remedy}')
        return None
    area = _face_area(made.design)
    source, price = one_line(values["source"]), values["price"]
    return Device(name, made.branches, motion, made.design, made.fit, made.control, area, source, price)


def _face_area(design: Design | None) -> float | None:
    """m² of the moving face or mouth, for designs that have one of their own."""
    return getattr(design, "face_area", None) or getattr(design, "neck_area", None)


def _only(entry: Entry, key: str, fields: Iterable[Field], report: Report) -> None:
    """Read `key` alone, for its mistake."""
    alone = Entry(entry.path, entry.title, {key: entry.values[key]}, entry.changed)
    read_table(alone, [f for f in fields if f.key == key], report)


def _make(entry: Entry, form: str, values: dict[str, Any], air: Air, report: Report, what: str) -> _Made | None:
    """What a material or device does by its values. form : one of `FORMS`, or the kind of a build-up"""
    if form == "branches":
        return _Made(values["branches"])
    if form == "absorption":
        fit = absorption_fit(values["absorption"], air.medium)
        _warn_error(entry, form, fit, report, "this table at random incidence")
        return _Made(fit.branches, None, fit)
    if form == "table":
        return _measured(entry, values["table"], air.medium, report, what)
    if form != "admittance_ratio":
        return _built(entry, form, values, air.medium, report)
    ratio = values[form]
    if 0.0 < ratio < 1e-9:
        report.mistake(entry, form, f"found {number(ratio)}; give 0 for a rigid surface")
        return None
    return _Made(resistive(ratio, air.density, air.speed_of_sound))


def _built(entry: Entry, kind: str, values: dict[str, Any], medium: Medium, report: Report) -> _Made | None:
    """What a build-up does; a value that its own checks refuse is a mistake of the table."""
    own = design_values(kind, values)
    try:
        if kind == ActiveUnit.kind:
            unit = ActiveUnit(**own)
            branches, control = active_parts(unit, medium)
            return _Made(branches, unit, None, control)
        design = DESIGNS[kind](**own)
        fit = design_fit(design, medium)
    except ValueError as error:
        report.mistake(entry, None, f"found numbers that don't go together; {_reason(error)}")
        return None
    _warn_error(entry, "kind", fit, report, "this build-up by theory")
    return _Made(fit.branches, design, fit)


def _reason(error: ValueError) -> str:
    """What a design says is wrong, without its own name in front ("perforated panel: "): the place is told already."""
    return re.sub(r"^[a-zA-Z]+(?:[ -][a-zA-Z]+){0,2}: ", "", str(error))


def _measured(entry: Entry, name: str, medium: Medium, report: Report, what: str) -> _Made | None:
    """Branches of a measured admittance; poles for a device whose face gives out energy."""
    table = read_measured(entry, name, medium, report)
    if table is None:
        return None
    if table.absorption is not None:
        fit = normal_fit(table.frequency, table.absorption, medium)
        _warn_error(entry, "table", fit, report, "this table at normal incidence")
        return _Made(fit.branches, None, fit)
    frequency, admittance = table.frequency, table.admittance
    if admittance.real.min() >= -NOISE * np.abs(admittance).max():
        fit = admittance_fit(frequency, admittance, medium)
        _warn_error(entry, "table", fit, report, "this table at normal incidence")
        return _Made(fit.branches, None, fit)
    worst = frequency[int(np.argmin(admittance.real))]
    if what == "material":
        remedy = "a material can't; check the signs (time factor e^{+j omega t}, velocity into the surface)"
        found = f"found {show(name)}, which gives out energy (negative real part, most at {number(worst)} Hz)"
        report.mistake(entry, "table", f"{found}; {remedy}")
        return None
    control = pole_fit(*held(frequency, admittance))
    fit = poles_compared(control, frequency, admittance, medium)
    if fit.error > LARGEST_ERROR:
        text = f"the poles differ from it by up to {100.0 * fit.error:.0f} % of its largest admittance"
        report.warning(entry, "table", f"found {show(name)}; {text} (see fdtd surface)")
    return _Made(RIGID, None, fit, control)


def _warn_error(entry: Entry, key: str, fit: Fit, report: Report, asked: str) -> None:
    """Warn if the branches of `fit` absorb unlike what was `asked` for, in words."""
    if fit.error > LARGEST_ERROR:
        text = f"what the simulation uses absorbs up to {fit.error:.2f} more or less than {asked} (see fdtd surface)"
        report.warning(entry, key, f"found {show(entry.values.get(key))}; {text}")


def library_material(name: str, air: Air) -> Material:
    """The material called `name` of the library, by the origin that it uses; raises KeyError if there is none."""
    surface = library.find(name)
    fit = library.fitted(surface, air.medium)
    design = surface.design if surface.used == "design" else None
    return Material(name, fit.branches, surface.source(), design, fit, library=True)
