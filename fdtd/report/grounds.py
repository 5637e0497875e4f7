"""What a result rests on: assumptions, method, cautions, and how to get it again."""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterator

from fdtd.report.loading import Subject
from fdtd.report.markup import Markup, name, prose
from fdtd.report.sections import Section
from fdtd.report.templating import render
from fdtd.scene.faces import wall_number
from fdtd.scene.schema import Block, Patch, Scene, ThinPartition, Variant
from fdtd.wording.advice import MAINS, how_measured
from fdtd.wording.endings import outcome_text
from fdtd.wording.names import named

ASSUMED = re.compile(r"assum|judg|guess|estimat|typical|invented|made up", re.IGNORECASE)
"""Words in a source that say that the number was not measured or published for this thing."""
LONGEST_SCENE = 60_000


def ground_sections(subject: Subject) -> list[Section]:
    """Assumptions, method, cautions, how to reproduce."""
    own = MAINS if subject.placement is not None else ""
    reproduce = render(
        "sections/reproduce.html",
        study=subject.placement,
        result=subject.run.result if subject.run is not None else None,
        file=shlex.quote(subject.files[0]),
        files=subject.files,
        longest_scene=LONGEST_SCENE,
    )
    return [
        Section("assumptions", "Assumptions", _assumptions(subject.scene)),
        Section("method", "Method", _method(subject)),
        Section("cautions", "Before you build", render("sections/cautions.html", own=own)),
        Section("reproduce", "How to reproduce this", reproduce),
    ]


def _assumptions(scene: Scene) -> Markup:
    variant = scene.spots.start if scene.spots is not None else scene.variants[0]
    materials = [
        (name(material), _used(used), source, not source.strip() or ASSUMED.search(source) is not None)
        for material, used, source in _materials(scene, variant)
    ]
    return render("sections/assumptions.html", air=scene.air, sources=variant.sources, materials=materials)


def _materials(scene: Scene, variant: Variant) -> Iterator[tuple[str, list[str], str]]:
    """(name, where it is used, source) of every material and device."""
    used: dict[str, list[str]] = {}
    for surface, material in variant.surfaces:
        used.setdefault(material, []).append(surface)
    things: tuple[Patch | Block | ThinPartition, ...] = (*variant.patches, *variant.blocks, *variant.thin_partitions)
    for thing in things:
        used.setdefault(thing.material, []).append(named(thing.name))
    for material, where in used.items():
        source = "perfectly hard: assumed" if material == "rigid" else scene.material(material).source
        yield material, where, source
    for fill in variant.porous_volumes:
        numbers = f"flow resistivity {fill.flow_resistivity:g} Pa·s/m², porosity {fill.porosity:g}: as the scene says"
        yield fill.name, ["soft body"], numbers
    devices = {d.name: d for v in (variant, *scene.variants) for d in v.devices}
    devices |= {d.name: d for d in scene.spots.devices} if scene.spots is not None else {}
    for device in devices.values():
        yield device.name, ["device"], device.source


def _used(where: list[str]) -> Markup:
    walls = [str(number) for surface in where if (number := wall_number(surface))]
    others = [one for one in where if not wall_number(one)]
    text = ([f"wall{'s' * (len(walls) > 1)} {', '.join(walls)}"] if walls else []) + others
    return prose(", ".join(text))


def _method(subject: Subject) -> Markup:
    variants = subject.run.result.variants if subject.run is not None else ()
    study, measured = subject.placement, ""
    if study is not None:
        excitations = len(study.places) + len(study.sources)
        measured = how_measured(excitations, study.reused, study.searched, "the work folder of the study")
    endings = [(v.name, v.duration, outcome_text(v)) for v in variants]
    return render("sections/method.html", study=study, measured=measured, endings=endings)
