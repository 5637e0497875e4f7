"""[spots]: candidate places for a placement study, read and checked."""

from __future__ import annotations

import math
import re
from collections.abc import Collection, Sequence
from typing import Any

from fdtd.errors import SceneError
from fdtd.scene.assemble import build_variant
from fdtd.scene.checks import LARGEST_AREA_ERROR, check_device
from fdtd.scene.faces import find_face
from fdtd.scene.intake import made, only_one, read_table
from fdtd.scene.mistakes import Entry, Report
from fdtd.scene.schema import Air, Device, Point2, Point3, Spots, Variant
from fdtd.scene.shape import TOLERANCE, Shape
from fdtd.scene.spots import MOST_TRIED, places_tried, survey
from fdtd.scene.surfaces import read_device
from fdtd.scene.tables import TABLES, Field
from fdtd.scene.text import did_you_mean, number, numbers, quoted, show
from fdtd.scene.tree import Tree
from fdtd.scene.variants import State, leave_out

MOST_SPOTS = 500
"""Candidates of one study; each takes an excitation of the simulation."""


def read_spots(
    entry: Entry,
    tree: Tree,
    states: Sequence[State],
    shape: Shape | None,
    air: Air | None,
    materials: Collection[str],
    report: Report,
) -> Spots | None:
    """What [spots] asks for, or None after a mistake.

    states : the variants, in the order of the file; materials : names of those of the scene
    """
    values = read_table(entry, TABLES["spots"], report)
    devices = _devices(entry, values, tree, air, report)
    cabinet = None
    if values.get("cabinet") is not None:
        cabinet = read_table(entry.inner("cabinet"), TABLES["spot_cabinet"], report).get("size")
    size = _size(entry, values, devices, report)
    if size and cabinet:
        _check_cabinet(entry, size, cabinet, report)
    _check_height(entry, values, cabinet[2] if cabinet else size[1] if size else 0.0, report)
    weights = _weights(entry, values, [e.name for e in tree.things["seats"] if e.name], report)
    _check_budget(entry, values, devices, report)
    _check_avoid(entry, values, tree, report)
    state = _start(entry, values, states, report)
    on = _surfaces(entry, values, tree, shape, bool(cabinet), report)
    if report.failed or shape is None or size is None or state is None:
        return None
    start = _built(entry, state, shape, air, materials, report)
    if start is None:
        return None
    gains = tuple(sorted(set(values["gains"])))
    own = {"devices": devices, "size": size, "on": on, "cabinet": cabinet, "gains": gains, "seat_weights": weights}
    spots = made(Spots, values, start=start, **own)
    return spots if _check_blocks(entry, spots, shape, report) and _check_places(entry, spots, shape, report) else None


def _devices(entry: Entry, values: dict[str, Any], tree: Tree, air: Air | None, report: Report) -> tuple[Device, ...]:
    known = f" ({quoted(tree.devices)})" if tree.devices else '; describe it under [devices."NAME"]'
    missing = f'key "device" is missing; give the name of a device{known}'
    key = only_one(entry, ("device", "devices"), report, missing)
    if key is None or values.get(key) is None:
        return ()
    names = [values[key]] if key == "device" else list(dict.fromkeys(values[key]))
    if not names:
        report.mistake(entry, key, "found an empty list; name at least one device")
    made = []
    for i, name in enumerate(names):
        sub = (i,) if key == "devices" else ()
        if not check_device(entry, key, name, tree, report, sub):
            continue
        device = read_device(name, tree.devices[name], air, report)
        if device and device.motion == "local":
            remedy = 'its face reacts locally; the study takes it as moving as one (motion = "diaphragm")'
            report.warning(entry, key, f"found {show(name)}; {remedy}", sub)
        made += [device] if device else []
    return tuple(made)


def _size(entry: Entry, values: dict[str, Any], devices: tuple[Device, ...], report: Report) -> Point2 | None:
    """The face of a unit: as given, else a square of the largest moving face."""
    if "size" not in values or not devices:
        return None
    if values["size"] is None:
        free = [d.name for d in devices if d.face_area is None]
        if free:
            remedy = "give the width and height of a unit's face in m, size = [0.6, 1.2]"
            report.mistake(entry, None, f'key "size" is missing, and {show(free[0])} has no size of its own; {remedy}')
            return None
        side = round(math.sqrt(max(d.face_area or 0.0 for d in devices)), 3)
        return side, side
    width, high = values["size"]
    for device in devices:
        if device.face_area is not None and abs(width * high / device.face_area - 1.0) > LARGEST_AREA_ERROR:
            moving = f"the moving face of {show(device.name)} is {number(device.face_area)} m²"
            text = f"found a face of {number(width * high)} m²; {moving}; that area counts, spread over the face"
            report.warning(entry, "size", text)
    return width, high


def _check_cabinet(entry: Entry, size: Point2, cabinet: Point3, report: Report) -> None:
    if size[0] > cabinet[0] + TOLERANCE or size[1] > cabinet[2] + TOLERANCE:
        face = f"the face is {number(size[0])} m wide and {number(size[1])} m high"
        remedy = f"{face}, so the cabinet must be at least that long (first number) and high (third)"
        report.mistake(entry.inner("cabinet"), "size", f"found {numbers(cabinet)}; {remedy}")


def _check_height(entry: Entry, values: dict[str, Any], unit: float, report: Report) -> None:
    if values.get("height") is None:
        return
    low, high = values["height"]
    if high <= low:
        remedy = "the first number is the lowest point of a unit, the second the highest"
        report.mistake(entry, "height", f"found {numbers((low, high))}; {remedy}")
    elif high - low < unit - TOLERANCE:
        remedy = f"the whole unit lies in this range and is {number(unit)} m high; the second number must be at least "
        report.mistake(entry, "height", f"found {numbers((low, high))}; {remedy}{number(low + unit)}")


def _weights(entry: Entry, values: dict[str, Any], seats: list[str], report: Report) -> tuple[tuple[str, float], ...]:
    found = values.get("seat_weights") or {}
    inner = entry.inner("seat_weights")
    for name in found:
        if name not in seats:
            hint = did_you_mean(name, seats, "seats")
            report.mistake(inner, name, f"found a seat that does not exist; {hint}")
    fields = [Field(n, "number", "weight of the seat", "", 1.0, 0.0, 1000.0) for n in seats]
    known = Entry(inner.path, inner.title, {k: v for k, v in found.items() if k in seats})
    read = read_table(known, fields, report)
    if seats and len(read) == len(seats) and not any(read.values()):
        report.mistake(entry, "seat_weights", f"found {show(found)}; at least one seat must count (more than 0)")
    return tuple((n, read[n]) for n in seats if n in read)


def _check_budget(entry: Entry, values: dict[str, Any], devices: tuple[Device, ...], report: Report) -> None:
    budget = values.get("budget")
    if budget is None or not devices:
        return
    free = [device.name for device in devices if device.price is None]
    if free:
        remedy = f'{show(free[0])} has no price; give it one, price = 500.0 under [devices."{free[0]}"]'
        report.mistake(entry, "budget", f"found {number(budget)}, but {remedy}")
    elif (least := min(device.price or 0.0 for device in devices)) > budget:
        report.mistake(entry, "budget", f"found {number(budget)}; even one unit costs {number(least)}")


def _check_avoid(entry: Entry, values: dict[str, Any], tree: Tree, report: Report) -> None:
    known = [e.name for kind, entries in tree.things.items() if kind not in ("seats", "sources") for e in entries]
    for i, name in enumerate(values.get("avoid") or ()):
        if name not in known:
            found = tree.find(name)
            remedy = did_you_mean(name, [n for n in known if n], "things that can be avoided")
            if found is not None:
                remedy = 'units keep off seats by "seat_distance"; a source is no surface'
            elif name in ("floor", "ceiling") or re.fullmatch(r"wall \d+", name):
                remedy = 'it is a surface: leave it out of "on"'
            report.mistake(entry, "avoid", f"found {show(name)}; {remedy}", (i,))


def _start(entry: Entry, values: dict[str, Any], states: Sequence[State], report: Report) -> State | None:
    """The state of the room that the study starts from."""
    name, without = values.get("variant"), values.get("without", ())
    state = next((s for s in states if name is None or s.name == name), None)
    if state is None:
        if name is not None:
            hint = did_you_mean(name, [s.name for s in states], "variants")
            report.mistake(entry, "variant", f"found {show(name)}; there is no such variant: {hint}")
        return None
    if not without:
        return state
    tree = leave_out(entry, without, state.tree, report)
    text = f"without {', '.join(without)}"
    return State(state.name, tree, "; ".join(w for w in (state.changes, text) if w))


def _surfaces(
    entry: Entry, values: dict[str, Any], tree: Tree, shape: Shape | None, cabinet: bool, report: Report
) -> tuple[str, ...]:
    """The surfaces asked for, one by one: walls by number, then blocks, floor and ceiling."""
    wanted = values.get("on", ())
    if "on" in values and not wanted:
        report.mistake(entry, "on", 'found an empty list; name at least one surface, for instance on = ["walls"]')
    if shape is None:
        return ()
    walls = [f"wall {n + 1}" for n in range(len(shape.room.plan))]
    blocks = [e.name for e in tree.things["blocks"] if e.name]
    blocks += [f"{e.name} cabinet" for e in tree.things["absorbers"] if "cabinet" in e.values]
    for i, on in enumerate(wanted):
        block = re.fullmatch(r"block (.+) [+-][xyz]", on)
        face = None if on == "walls" or block else find_face(on, shape, [], set())
        if block and block[1] not in blocks:
            hint = did_you_mean(block[1], blocks, "blocks")
            report.mistake(entry, "on", f"found {show(on)}; there is no block {show(block[1])}: {hint}", (i,))
        elif isinstance(face, str):
            report.mistake(entry, "on", f'found {show(on)}; {face} ("walls" is all of them)', (i,))
        elif cabinet and (on in ("floor", "ceiling") or on.endswith(("+z", "-z"))):
            remedy = "a cabinet stands before a wall or the side of a block: leave this surface or the cabinet out"
            report.mistake(entry, "on", f"found {show(on)}; {remedy}", (i,))
    found = [w for w in walls if "walls" in wanted or w in wanted]
    found += sorted((on for on in wanted if on.startswith("block ")), key=wanted.index)
    return tuple(dict.fromkeys([*found, *(on for on in ("floor", "ceiling") if on in wanted)]))


def _built(
    entry: Entry, state: State, shape: Shape, air: Air | None, materials: Collection[str], report: Report
) -> Variant | None:
    """The room that the study starts from. Its warnings are those of the variant and are not told again."""
    scratch = Report(report.file, report.lines, folder=report.folder)
    made = build_variant(state, shape, air, materials, scratch)
    try:
        scratch.raise_mistakes(1)
    except SceneError as error:
        found = f"found {show(entry.values.get('without', []))}; without these the room has a mistake"
        report.mistake(entry, "without", f"{found}: {error.problems[0]}")
        return None
    return made


def _check_blocks(entry: Entry, spots: Spots, shape: Shape, report: Report) -> bool:
    good = True
    for on in spots.on:
        face = find_face(on, shape, spots.start.blocks, set())
        if isinstance(face, str):
            items = entry.values.get("on", [])
            report.mistake(entry, "on", f"found {show(on)}; {face}", (items.index(on),) if on in items else ())
            good = False
    return good


def _check_places(entry: Entry, spots: Spots, shape: Shape, report: Report) -> bool:
    """Report a study without any candidate, and one with too many."""
    tried = places_tried(shape, spots.start, spots)
    if tried > MOST_TRIED:
        remedy = f"that makes about {tried} places to look at; enter a larger one, or fewer surfaces"
        report.mistake(entry, "spacing", f"found {number(spots.spacing)} m; {remedy}")
        return False
    found = survey(shape, spots.start, spots)
    count = len(found.candidates)
    if count > MOST_SPOTS:
        factor = math.ceil(10.0 * spots.spacing * math.sqrt(count / MOST_SPOTS)) / 10.0
        remedy = f"enter a larger one (about {number(factor)} m), fewer surfaces or a smaller range of heights"
        text = f"that makes {count} candidates, and a study takes at most {MOST_SPOTS}; {remedy}"
        report.mistake(entry, "spacing", f"found {number(spots.spacing)} m; {text}")
    elif not count:
        why = "; ".join(f"{many} {reason}" for reason, many in found.left_out[:4])
        report.mistake(entry, None, f"found no place where a unit could be. Places looked at: {why}")
    return 0 < count <= MOST_SPOTS
