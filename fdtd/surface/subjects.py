"""Subjects from the library and from a scene."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from fdtd.library import surfaces as library
from fdtd.library.origins import AIR
from fdtd.physics.active import ActiveUnit
from fdtd.physics.design import Band
from fdtd.physics.drivers import ClosedBoxDriver
from fdtd.physics.medium import Medium
from fdtd.scene.schema import Device, Material, Scene
from fdtd.surface.lines import (
    FINE,
    Subject,
    branch_line,
    disagreement,
    error_text,
    theory_line,
    wanted_line,
)

BRANCHES = "branches"
ORIGIN = {"absorption": "the table", "design": "the build-up"}


def groups() -> tuple[tuple[str, tuple[str, ...]], ...]:
    """(group, names of its surfaces) in the order of the library."""
    found: dict[str, list[str]] = {}
    for name in library.names():
        found.setdefault(library.find(name).group, []).append(name)
    return tuple((title, tuple(members)) for title, members in found.items())


def library_subject(name: str, medium: Medium = AIR) -> Subject:
    """The library surface called `name` with both its origins; raises KeyError if there is none."""
    surface = library.find(name)
    fit = library.fitted(surface, medium)
    used = branch_line(BRANCHES, fit.branches, medium)
    theory = surface.design if surface.used == "design" else None
    others, difference = [], ""
    for other in (o for o in surface.origins if o != surface.used):
        line = branch_line(f"by {ORIGIN[other]}", library.fitted(surface, medium, other).branches, medium)
        others.append(line)
        difference = disagreement(replace(used, label=ORIGIN[surface.used]), replace(line, label=ORIGIN[other]))
        if difference and "absorption" in (other, surface.used):
            lowest = min(surface.absorption)
            difference += f" Below {lowest:g} Hz the table says nothing; its lowest value is held there."
    facts = [("What it is", surface.description), ("Used", ORIGIN[surface.used])]
    facts += [(f"Source of {ORIGIN[o]}", surface.source(o)) for o in surface.origins]
    return Subject(
        name,
        "library surface",
        used,
        theory_line("theory", theory, medium) if theory is not None else wanted_line("table", fit, medium),
        tuple(others),
        bands=tuple(Band(f, a, float(used.random(f))) for f, a in sorted(surface.absorption.items())),
        error=fit.error,
        error_of=error_text(fit),
        facts=tuple([*facts, ("Note", surface.note)] if surface.note else facts),
        design=surface.design,
        disagreement=difference,
    )


def material_subject(material: Material, medium: Medium) -> Subject:
    """A material of a scene; one that comes from the library with all that the library knows of it."""
    if material.library:
        return library_subject(material.name, medium)
    return _subject(material, "material", medium)


def device_subject(device: Device, medium: Medium) -> Subject:
    """A device of a scene at gain 1; for one with electronics also what it does switched off."""
    if device.control is None:
        return _subject(device, "device", medium)
    used = branch_line("as simulated", device.branches, medium, device.control)
    origin, error, text = None, None, ""
    if isinstance(device.design, ActiveUnit):
        origin = theory_line("theory", device.design, medium)
        error = float(np.abs(used.normal(FINE) - origin.normal(FINE)).max())
        text = "normal incidence, 15 to 250 Hz"
    elif device.fit is not None:
        origin = wanted_line("table", device.fit, medium)
        text = f"poles against the table: off by up to {100.0 * device.fit.error:.1f} % of its largest admittance"
    return Subject(
        device.name,
        "device",
        used,
        origin,
        (branch_line("switched off", device.branches, medium),) if device.branches else (),
        error=error,
        error_of=text,
        facts=_facts(device, medium),
        design=device.design,
    )


def _subject(thing: Material | Device, kind: str, medium: Medium) -> Subject:
    subject = Subject(
        thing.name,
        kind,
        branch_line(BRANCHES, thing.branches, medium),
        facts=_facts(thing, medium),
        design=thing.design,
    )
    fit = thing.fit
    if fit is None:
        return subject
    design, table = thing.design, wanted_line("table", fit, medium)
    origin = table if design is None else theory_line("theory", design, medium)
    return replace(subject, origin=origin, bands=fit.bands, error=fit.error, error_of=error_text(fit))


def _facts(thing: Material | Device, medium: Medium) -> tuple[tuple[str, str], ...]:
    if thing.design is not None:
        given = f'build-up of kind "{thing.design.kind}" in the scene'
    elif thing.fit is not None:
        given = "absorption by band in the scene" if thing.fit.bands else "measured table beside the scene"
    elif isinstance(thing, Device) and thing.control is not None:
        given = "measured table beside the scene, which gives out energy"
    else:
        given = "branches in the scene" if thing.branches else "rigid"
    facts = [("Given as", given)]
    if thing.source:
        facts.append(("Source", thing.source))
    if isinstance(thing.design, ClosedBoxDriver):
        facts.append(("Note", _shunt_text(thing.design, medium)))
    return tuple(facts)


def _shunt_text(driver: ClosedBoxDriver, medium: Medium) -> str:
    """Which resistor across the terminals of a driver absorbs most, in words."""
    best, resonance = driver.optimal_shunt(medium), driver.resonance(medium)
    if best is None:
        return f"No resistor makes it absorb more of a plane wave at its resonance, {resonance:.0f} Hz: leave it open."
    what = f"{best:.2g} ohm" if best > 0.0 else "a short circuit"
    given = driver.shunt_resistance
    now = "open terminals" if given is None else f"{given:g} ohm"
    return (
        f"Of all resistors across the terminals, {what} absorbs most of a plane wave at its resonance, "
        f"{resonance:.0f} Hz (the scene has {now}). A small unit in a large room wants less damping, thus a larger one."
    )


def scene_materials(scene: Scene) -> tuple[Material, ...]:
    """The materials that some variant of the scene uses, in the order of the scene."""
    used: set[str] = set()
    for v in scene.variants:
        used.update(material for _, material in v.surfaces)
        used.update(thing.material for kind in (v.patches, v.blocks, v.thin_partitions) for thing in kind)
    return tuple(m for m in scene.materials if m.name in used)


def scene_devices(scene: Scene) -> tuple[Device, ...]:
    """The devices that some absorber of some variant has, then those that only [spots] tries.

    Copies that a variant changed are devices of their own.
    """
    found: dict[str, Device] = {}
    for variant in scene.variants:
        used = {absorber.device for absorber in variant.absorbers}
        for device in variant.devices:
            if device.name in used:
                found.setdefault(device.name, device)
    for device in scene.spots.devices if scene.spots else ():
        found.setdefault(device.name, device)
    return tuple(found.values())
