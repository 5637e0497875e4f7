"""What a result rests on: assumptions, method, cautions, and how to get it again."""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterator

from fdtd.report.loading import Subject
from fdtd.report.markup import Markup, escaped, name, number, prose, quoted
from fdtd.report.sections import Section
from fdtd.report.study_text import how_measured
from fdtd.report.templating import render
from fdtd.scene.faces import wall_number
from fdtd.scene.schema import Block, Patch, Scene, Source, ThinPartition, Variant
from fdtd.wording.advice import MAINS
from fdtd.wording.endings import outcome_text
from fdtd.wording.names import named

ASSUMED = re.compile(r"assum|judg|guess|estimat|typical|invented|made up", re.IGNORECASE)
"""Words in a source that say that the number was not measured or published for this thing."""
TAG = Markup('<span class="tag">assumed</span>')
LONGEST_SCENE = 60_000


def ground_sections(subject: Subject) -> list[Section]:
    """Assumptions, method, cautions, how to reproduce."""
    return [
        Section("assumptions", "Assumptions", _assumptions(subject.scene)),
        Section("method", "Method", _method(subject)),
        Section("cautions", "Before you build", _cautions(subject)),
        Section("reproduce", "How to reproduce this", _reproduce(subject)),
    ]


def _assumptions(scene: Scene) -> Markup:
    variant = scene.spots.start if scene.spots is not None else scene.variants[0]
    sources = [(source.name, _trim(source)) for source in variant.sources]
    rows = [(name(material), _used(used), *_origin(source)) for material, used, source in _materials(scene, variant)]
    assumed = sum(known is TAG for *_, known in rows)
    return render(
        "sections/assumptions.html", air=scene.air, air_given=_air(scene), sources=sources, rows=rows, assumed=assumed
    )


def _air(scene: Scene) -> str:
    air = scene.air
    text = [f"{air.temperature:g} °C"] if air.temperature is not None else []
    text += [f"{air.humidity:g} % humidity"] if air.humidity is not None else []
    return ", ".join(text)


def _trim(source: Source) -> str:
    text = [f"{source.level:+g} dB"] if source.level else []
    text += [f"{1000 * source.delay:g} ms"] if source.delay else []
    text += ["inverted"] if source.polarity < 0 else []
    return ", ".join(text)


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


def _origin(source: str) -> tuple[str, str]:
    """The source, and whether it is assumed."""
    if not source.strip():
        return "none given", TAG
    return escaped(source, 400), TAG if ASSUMED.search(source) else "from its source"


def _method(subject: Subject) -> Markup:
    variants = subject.run.result.variants if subject.run is not None else ()
    rows = [(quoted(v.name), number(v.duration, 2, "s"), outcome_text(v)) for v in variants]
    measured = how_measured(subject) if subject.placement is not None else ""
    return render("sections/method.html", study=subject.placement, measured=measured, rows=rows)


def _cautions(subject: Subject) -> Markup:
    return render("sections/cautions.html", own=MAINS if subject.placement is not None else "")


def _reproduce(subject: Subject) -> Markup:
    study, result = subject.placement, subject.run.result if subject.run is not None else None
    commands = []
    if study is not None:
        perturbed_rooms = (
            f" --perturbed-rooms {study.sureness.perturbed_rooms}" if study.sureness is not None else " --no-robust"
        )
        most = f" --count {len(study.counts)}" if study.counts else ""
        confirm = "" if study.trials else " --no-confirm"
        options = f"--grid {study.grid:g} --precision {study.precision}{most}{perturbed_rooms}{confirm}"
        commands.append(f"fdtd place SCENE.toml {options}")
    elif result is not None:
        commands.append(f"fdtd run SCENE.toml --grid {result.grid:g} --precision {result.precision}")
    commands.append(f"fdtd report {shlex.quote(subject.files[0])}")
    return render(
        "sections/reproduce.html",
        study=study,
        result=result,
        commands="\n".join(commands),
        files=subject.files,
        longest_scene=LONGEST_SCENE,
    )
