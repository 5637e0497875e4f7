"""Read a scene file: TOML text in, a checked `Scene` out, or one `SceneError` with every mistake that was found."""

from __future__ import annotations

import re
import tomllib
from codecs import BOM_UTF16_BE, BOM_UTF16_LE
from pathlib import Path
from typing import Any

from fdtd.errors import SceneError, visible
from fdtd.scene import tables
from fdtd.scene.assemble import Parts, build_variant
from fdtd.scene.intake import read_table
from fdtd.scene.locate import DEEPEST, Lines
from fdtd.scene.mistakes import Entry, Report
from fdtd.scene.names import check_names, check_variant_names
from fdtd.scene.room import read_air, read_room, read_run
from fdtd.scene.schema import Scene, Spots, Variant
from fdtd.scene.sections import check_sections, renamed_sections
from fdtd.scene.spot_tables import read_spots
from fdtd.scene.surfaces import library_material, read_material
from fdtd.scene.syntax import syntax_faults
from fdtd.scene.text import one_line, show
from fdtd.scene.tree import Tree, listed, named, section
from fdtd.scene.variants import variant_states
from fdtd.scene.words import WORDS

LARGEST_FILE = 1_000_000
"""Bytes; a scene that a person wrote is a few thousand."""

LONGEST_TITLE = 200
"""Characters; it stands over tables and figures."""


def read_scene(path: str | Path) -> Scene:
    """Read and check the scene file at `path`. Raises SceneError with all mistakes, one line each."""
    path = Path(path)
    name = visible(path.name or str(path))
    try:
        with path.open("rb") as file:
            data = file.read(LARGEST_FILE + 1)
    except FileNotFoundError:
        raise SceneError([f"{visible(str(path))}: there is no such file; check the name and the folder"]) from None
    except IsADirectoryError:
        raise SceneError([f"{visible(str(path))}: this is a folder; give the scene file in it"]) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "the name is not one that a file can have"
        raise SceneError([f"{show(str(path))}: can't be read ({reason}); check the file and its permissions"]) from None
    if len(data) > LARGEST_FILE:
        raise SceneError([f"{name}: larger than {LARGEST_FILE // 1000} kB; a scene file is a short text"])
    if data[:2] in (BOM_UTF16_LE, BOM_UTF16_BE) or b"\0" in data[:4]:
        raise SceneError([f"{name}: this is text in UTF-16; save the file as UTF-8 (the editor asks for an encoding)"])
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        raise SceneError([f"{name}, line {line}: not UTF-8 text; save the file as UTF-8 (plain text)"]) from None
    return read_scene_text(text, str(path))


def read_scene_text(text: str, path: str = "scene.toml") -> Scene:
    """Read and check the text of a scene; `path` names it in messages. Raises SceneError with all mistakes."""
    file = visible(Path(path).name) or "scene.toml"
    text = re.sub("\r(?!\n)", "\n", text.removeprefix("\ufeff"))
    lines = Lines(text)
    as_written = _parse(text, file, lines)
    values, lines.written = renamed_sections(as_written)
    document = Entry((), "", values)
    report = Report(file, lines, folder=Path(path).parent)
    check_sections(as_written, report)
    top = read_table(
        Entry((), "", {f.key: document.values[f.key] for f in tables.TABLES["top"] if f.key in document.values}),
        tables.TABLES["top"],
        report,
    )
    if top.get("scene", 1) != 1:
        report.mistake(document, "scene", f"found {show(top['scene'])}; this program reads version 1: write scene = 1")
    if len(top.get("title", "")) > LONGEST_TITLE:
        sentence = f"the title is {len(top['title'])} characters long; at most {LONGEST_TITLE} are taken"
        report.mistake(document, "title", sentence)
    air = read_air(section(document, "air", report), report)
    shape = read_room(section(document, "room", report), report)
    run = read_run(section(document, "run", report), air, report)
    entries = named(document, "materials", report)
    made = {name: read_material(name, entry, air, report) for name, entry in entries.items()}
    tree = Tree(
        {kind: listed(document, kind, report) for kind in tables.THINGS},
        section(document, "surfaces", report),
        named(document, "devices", report),
    )
    _check_present(document, tree, report)
    check_names(tree, entries, report)
    states = listed(document, "variants", report)
    check_variant_names(states, report)
    if states:
        Parts(tree, air, report)  # a thing's own table is checked even if no variant holds it
    variants = []
    applied = variant_states(states, tree, report)
    for state in applied:
        report.enter(state.name, (entry for entries in state.tree.things.values() for entry in entries))
        variants.append(build_variant(state, shape, air, entries, report))
    report.variant = None
    spots: Spots | None = None
    if "spots" in document.values:
        spots = read_spots(section(document, "spots", report), tree, applied, shape, air, entries, report)
    report.raise_mistakes(len(variants))
    assert air and shape and run  # each of them is None only after a mistake
    used = _materials_used([*variants, spots.start] if spots else variants)
    _warn_unused(tree, entries, used, variants, {d.name for d in spots.devices} if spots else set(), report)
    materials = [m for m in made.values() if m]
    materials += [library_material(name, air) for name in used if name not in entries]
    warnings = report.warnings(len(variants))
    title = one_line(top["title"])
    return Scene(title, air, shape.room, tuple(materials), tuple(variants), run, text, path, warnings, spots)


def _parse(text: str, file: str, lines: Lines) -> dict[str, Any]:
    if lines.too_deep:
        sentence = f"found keys or brackets nested more than {DEEPEST} deep; no scene needs more than nine levels"
        remedy = "is a bracket not closed, or a point in a key that belongs in quotes?"
        raise SceneError([f"{file}, line {lines.too_deep}: {sentence}: {remedy}"])
    try:
        return tomllib.loads(text)
    except ValueError as error:  # TOMLDecodeError, or a whole number of thousands of digits
        faults = [f"{file}, line {line}: {sentence}" for line, sentence in syntax_faults(text)]
        raise SceneError(faults or [_syntax_fault(text, file, str(error))]) from None


def _syntax_fault(text: str, file: str, complaint: str) -> str:
    place = re.search(r"\(at line (\d+), column \d+\)", complaint)
    lines = text.split("\n")
    number = int(place[1]) if place else len(lines)
    found = lines[number - 1].strip() if 0 < number <= len(lines) else ""
    where = f"{file}, line {number}" if place or "end of document" in complaint else file
    reason = re.sub(r"\s*\(at [^)]*\)$", "", complaint)
    hint = next(
        (remedy for word, remedy in WORDS["syntax"].items() if word in complaint),
        "see docs/scene.md for the form of the file",
    )
    return f"{where}: found {show(found)}; this is not valid TOML ({reason[:120]}): {hint}"


def _check_present(document: Entry, tree: Tree, report: Report) -> None:
    for kind, text in (("sources", "a loudspeaker"), ("seats", "a listening place")):
        if not tree.things[kind] and not isinstance(document.values.get(kind), dict):
            report.mistake(document, None, f"there is no [[{kind}]]; give at least one ({text}) with name and at")


def _materials_used(variants: list[Variant]) -> list[str]:
    """The names of the materials that are on some surface, in the order in which they come."""
    used = [m for v in variants for _, m in v.surfaces]
    used += [thing.material for v in variants for kind in (v.patches, v.blocks, v.thin_partitions) for thing in kind]
    return [name for name in dict.fromkeys(used) if name != "rigid"]


def _warn_unused(
    tree: Tree, materials: dict[str, Entry], used: list[str], variants: list[Variant], tried: set[str], report: Report
) -> None:
    for name, entry in materials.items():
        if name not in used:
            report.warning(entry, None, "this material is on no surface")
    for name, entry in tree.devices.items():
        if name not in tried and all(e.values.get("device") != name for e in tree.things["absorbers"]):
            report.warning(entry, None, "no absorber has this device")
    built = {
        t.name
        for v in variants
        for k in (v.patches, v.blocks, v.thin_partitions, v.porous_volumes, v.absorbers)
        for t in k
    }
    for kind in ("patches", "blocks", "sheets", "fills", "absorbers"):
        for entry in tree.things[kind]:
            if entry.name not in built:
                report.warning(entry, None, "this is in no variant")
