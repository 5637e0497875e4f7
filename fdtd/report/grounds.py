"""What a result rests on: assumptions, method, cautions, and how to get it again."""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterator

from fdtd.report.loading import Subject
from fdtd.report.markup import Markup, facts, folded, listed, name, number, paragraphs, prose, quoted, safe, table
from fdtd.report.sections import Section
from fdtd.report.study_words import how_measured
from fdtd.scene.schema import Block, Patch, Scene, Sheet, Source, Variant
from fdtd.wording.advice import MAINS

ASSUMED = re.compile(r"assum|judg|guess|estimat|typical|invented|made up", re.IGNORECASE)
"""Words in a source that say that the number was not measured or published for this thing."""
LONGEST_SCENE = 60_000

METHOD = (
    "The wave equation is solved in the time domain on rectangular cells that are cut where they meet a wall (finite "
    "differences, leapfrog in time). Surfaces are complex impedances: masses, resistances and stiffnesses fitted to "
    "the build-up or to published absorption. Each loudspeaker is a point source; levels are relative to the same "
    "source in free field at 1 m.",
    "Decay times are those of single resonances, fitted to the responses of all seats together as damped sinusoids, "
    "for 60 dB. A tail is what is left of a tone after its stop. A change of decay counts as heard above published "
    "thresholds, a change of level from 1 dB (ISO 3382-1:2009, table A.1).",
)
STUDY = (
    "Every candidate spot is driven once in the room without units; from these responses the effect of any choice "
    "of units follows exactly, reaction of the room included, so that all designs could be compared."
)
TRIED = "The best and worst were then simulated with the units in."
CAUTIONS = (  # the short of docs/cautions.md
    ("Loud tones",
     "Loud bass tones can damage loudspeakers and hearing. Start low, keep them short, stop if anything rattles."),
    ("Weight",
     "A loaded box or panel is heavier than it looks. What hangs on a wall or from a ceiling, or stands high, needs "
     "fixings made for that wall and that weight, and somebody who knows; mind old plaster, hollow walls, pipes and "
     "cables."),
    ("Fire",
     "Porous linings, foams and fabrics can burn. Use materials whose fire class is allowed for the room, keep them "
     "from heaters, lamps and chimneys, and keep escape routes free."),
    ("Mains",
     "Work on mains-powered units is for an electrician: what is in them stays charged when they are unplugged. "
     "Leave amplifiers room to cool, and start active units at a low gain: too much, and they oscillate."),
    ("Walls",
     "Do not open, load or remove a wall before it is known whether it bears or braces the house, and what runs "
     "inside it."),
    ("Codes",
     "Local building, fire and electrical codes and licensed practice come before anything said here. This page "
     "knows the room only as the scene file tells it."),
)  # fmt: skip


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
    speed, density = number(scene.air.speed_of_sound, 1, "m/s"), number(scene.air.density, 3, "kg/m³")
    air = [
        ("Air", f"{speed}, {density}{_air(scene)}"),
        ("Loudspeakers", ", ".join(_source(source) for source in variant.sources)),
        ("Everything else", "rigid and shut: walls move only as their material says, doors and windows are closed"),
    ]
    rows = [
        (name(material), _used(used), *_origin(source))
        for material, used, source in _materials(scene, variant)
    ]  # fmt: skip
    header = ("Material or device", "Where", "Source of the numbers", "Known how")
    assumed = sum("tag" in known for *_, known in rows)
    lead = (
        f"<p>{assumed} of {len(rows)} materials and devices are assumed: their numbers were not measured in this room "
        "nor printed for this very thing.</p>"
    )
    sources = table("Materials and devices", header, rows, words=4)
    return Markup(facts(air) + lead + folded("Each with its source", sources))


def _air(scene: Scene) -> str:
    air = scene.air
    told = [f"{air.temperature:g} °C"] if air.temperature is not None else []
    told += [f"{air.humidity:g} % humidity"] if air.humidity is not None else []
    return safe(f" ({', '.join(told)})") if told else " (given)"


def _source(source: Source) -> str:
    told = [f"{source.level:+g} dB"] if source.level else []
    told += [f"{1000 * source.delay:g} ms"] if source.delay else []
    told += ["inverted"] if source.polarity < 0 else []
    return quoted(source.name) + (safe(f" ({', '.join(told)})") if told else "")


def _materials(scene: Scene, variant: Variant) -> Iterator[tuple[str, list[str], str]]:
    """(name, where it is used, source) of every material and device."""
    used: dict[str, list[str]] = {}
    for surface, material in variant.surfaces:
        used.setdefault(material, []).append(surface)
    things: tuple[Patch | Block | Sheet, ...] = (*variant.patches, *variant.blocks, *variant.sheets)
    for thing in things:
        used.setdefault(thing.material, []).append(f"'{thing.name}'")
    for material, where in used.items():
        source = "perfectly hard: assumed" if material == "rigid" else scene.material(material).source
        yield material, where, source
    for fill in variant.fills:
        numbers = f"flow resistivity {fill.flow_resistivity:g} Pa·s/m², porosity {fill.porosity:g}: as the scene says"
        yield fill.name, ["soft body"], numbers
    devices = {d.name: d for v in (variant, *scene.variants) for d in v.devices}
    devices |= {d.name: d for d in scene.spots.devices} if scene.spots is not None else {}
    for device in devices.values():
        yield device.name, ["device"], device.source


def _used(where: list[str]) -> Markup:
    walls = [w.removeprefix("wall ") for w in where if w.startswith("wall ")]
    others = [w for w in where if not w.startswith("wall ")]
    told = ([f"wall{'s' * (len(walls) > 1)} {', '.join(walls)}"] if walls else []) + others
    return prose(", ".join(told))


def _origin(source: str) -> tuple[Markup, Markup]:
    """The source, and whether it is assumed."""
    if not source.strip():
        return Markup("none given"), Markup('<span class="tag">assumed</span>')
    assumed = ASSUMED.search(source) is not None
    return safe(source, 400), Markup('<span class="tag">assumed</span>') if assumed else Markup("from its source")


def _method(subject: Subject) -> Markup:
    study = subject.placement
    parts = [*METHOD, *([STUDY] if study is not None else []), *([TRIED] if study is not None and study.trials else [])]
    body = "".join(f"<p>{safe(part)}</p>" for part in parts)
    if subject.placement is not None:
        body += paragraphs(how_measured(subject))
    if subject.run is not None:
        rows = [
            (quoted(v.name), number(v.duration, 2, "s"), prose(v.outcome or "–"))
            for v in subject.run.result.variants
        ]  # fmt: skip
        body += table("How the simulations ended", ("Variant", "Sound", "Outcome"), rows)
    return folded("How the room was simulated, and what the numbers mean", body)


def _cautions(subject: Subject) -> Markup:
    items = [f"<strong>{safe(what)}.</strong> {safe(told)}" for what, told in CAUTIONS]
    own = paragraphs(MAINS) if subject.placement is not None else ""
    return Markup(f'<div class="caution">{listed(items)}{own}</div>')


def _reproduce(subject: Subject) -> Markup:
    study, run = subject.placement, subject.run
    commands, told = [], []
    if study is not None:
        draws = f" --draws {study.sureness.draws}" if study.sureness is not None else " --no-robust"
        most = f" --count {len(study.counts)}" if study.counts else ""
        confirm = "" if study.trials else " --no-confirm"
        options = f"--grid {study.grid:g} --precision {study.precision}{most}{draws}{confirm}"
        commands.append(f"fdtd place SCENE.toml {options}")
        told += _stamp("Study", study.program_version, study.created, study.computed_from, study.grid, study.precision)
        told.append(("Designs compared", number(study.designs, 0, key="designs")))
    if run is not None:
        r = run.result
        if study is None:
            commands.append(f"fdtd run SCENE.toml --grid {r.grid:g} --precision {r.precision}")
        told += _stamp("Run", r.program_version, r.created, r.computed_from, r.grid, r.precision)
    commands.append(f"fdtd report {shlex.quote(subject.files[0])}")
    told.append(("Files", ", ".join(f"<code>{safe(file)}</code>" for file in subject.files)))
    text = study.scene_text if study is not None else run.result.scene_text if run is not None else ""
    scene = folded("The scene file, SCENE.toml", f"<pre>{safe(text, LONGEST_SCENE)}</pre>", printed=False)
    stamps = folded("Versions and fingerprints", facts(told))
    return Markup(f"<pre><code>{safe(chr(10).join(commands))}</code></pre>{stamps}{scene}")


def _stamp(
    what: str, version: str, created: str, fingerprint: str, grid: float, precision: str
) -> list[tuple[str, str]]:
    return [
        (what, f"fdtd {safe(version)}, {safe(created)}"),
        ("Cells", f"{number(grid, 3, 'm', key='grid')}, {safe(precision)} precision"),
        ("Fingerprint (SHA-256 of all that the numbers depend on)", f"<code>{safe(fingerprint)}</code>"),
    ]
