"""Checks of things against the room and against one another: everything that a single table can't tell."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from fdtd.library import surfaces as library
from fdtd.scene.faces import Face, check_inside, find_face
from fdtd.scene.kinds import FARTHEST, TOO_FAR
from fdtd.scene.locate import KeyPath
from fdtd.scene.misplaced import outside_text
from fdtd.scene.mistakes import Entry, Report
from fdtd.scene.schema import (
    Absorber,
    Block,
    Device,
    Patch,
    Point3,
    PorousVolume,
    Rectangle,
    Seat,
    Source,
    ThinPartition,
)
from fdtd.scene.shape import NEAR, TOLERANCE, Shape, in_box, is_closed_at, overlap
from fdtd.scene.slips import length_slip
from fdtd.scene.text import did_you_mean, number, numbers, show
from fdtd.scene.tree import Tree

LARGEST_AREA_ERROR = 0.2
"""Relative difference between the opening drawn and the moving face of a device above which a warning is given."""


def check_material(entry: Entry, key: str, name: str, known: Collection[str], report: Report) -> None:
    """Report a material that neither the scene (`known`) nor the library has."""
    if name == "rigid" or name in known or name in library.names():
        return
    hint = did_you_mean(name, [*known, "rigid", *library.names()], "materials of this scene and of the library")
    remedy = f"all of the library are in docs/surfaces.md, or write [materials.{show(name)}] with its numbers"
    report.mistake(entry, key, f"found {show(name)}; there is no such material: {hint} ({remedy})")


def check_device(entry: Entry, key: str, name: str, tree: Tree, report: Report, sub: KeyPath = ()) -> bool:
    """Report a device that the scene does not have; True if it has it."""
    if name not in tree.devices:
        hint = did_you_mean(name, tree.devices, "devices of this scene")
        report.mistake(entry, key, f"found {show(name)}; there is no [devices.{show(name)}]: {hint}", sub)
    return name in tree.devices


def check_face_area(entry: Entry, absorber: Absorber, device: Device, report: Report) -> None:
    """Warn of an opening that is much larger or smaller than the face of its device."""
    (x0, y0), (x1, y1) = absorber.rectangle.lower, absorber.rectangle.upper
    area = (x1 - x0) * (y1 - y0)
    if device.face_area is not None and abs(area / device.face_area - 1.0) > LARGEST_AREA_ERROR:
        remedy = f"the moving face of its device is {number(device.face_area)} m²; that area counts"
        key = "cabinet" if "cabinet" in entry.values else "to"
        report.warning(entry, key, f"found an opening of {number(area)} m²; {remedy}, but not where it is drawn")


def check_fits_cabinet(entry: Entry, cabinet: Block, device: Device, report: Report) -> None:
    """Warn of a device that needs more room than its cabinet has."""
    size = [b - a for a, b in zip(cabinet.lower, cabinet.upper, strict=True)]
    volume = size[0] * size[1] * size[2]
    needed = getattr(device.design, "box_volume", 0.0) * getattr(device.design, "count", 1)
    needed = max(needed, getattr(device.design, "volume", 0.0))
    deep = getattr(device.design, "depth", getattr(device.design, "thickness", 0.0))
    found = f"found {show(entry.values['cabinet'])}"
    if needed > volume:
        remedy = f"its device needs {number(1000.0 * needed)} litres inside"
        report.warning(entry, "cabinet", f"{found}, {number(1000.0 * volume)} litres outside; {remedy}")
    if deep > max(size):
        remedy = f"its device is {number(deep)} m deep"
        report.warning(entry, "cabinet", f"{found}, at most {number(max(size))} m deep; {remedy}")


def check_box(entry: Entry, lower: Point3, upper: Point3, shape: Shape, report: Report, key: str = "to") -> None:
    """Report a block or porous volume that has no part in the room."""
    plan = Rectangle((lower[0], lower[1]), (upper[0], upper[1]))
    if upper[2] <= 0.0 or shape.air_over(plan, lower[2]) <= TOLERANCE:
        (x0, y0, _), (x1, y1, z1) = shape.bounds
        remedy = f"the room runs to {numbers((x1, y1, z1))} from {numbers((x0, y0, 0.0))}"
        report.mistake(entry, key, f"found {numbers(lower)} to {numbers(upper)}, all outside the room; {remedy}")


def check_cabinet(entry: Entry, block: Block, shape: Shape, report: Report) -> bool:
    """Report a cabinet that sticks out of the room; True if it does not."""
    plan = Rectangle((block.lower[0], block.lower[1]), (block.upper[0], block.upper[1]))
    inner = entry.inner("cabinet")
    (x0, y0, z0), (x1, y1, z1) = shape.bounds
    room = (x1 - x0, y1 - y0, z1 - z0)
    size = tuple(b - a for a, b in zip(block.lower, block.upper, strict=True))
    if any(s > most + TOLERANCE for s, most in zip(size, room, strict=True)):
        remedy = f"that is larger than the room, which is {numbers(room)} m along x, y and z"
        report.mistake(inner, "size", f"found {numbers(size)}; {remedy}{length_slip(size, room)}")
        return False
    if shape.outside_plan(plan) > TOLERANCE:
        remedy = f"part of the cabinet is outside the plan, which runs from {numbers((x0, y0))} to {numbers((x1, y1))}"
        report.mistake(inner, "at", f"found {numbers(block.lower)}; {remedy}")
        return False
    corners = [(x, y) for x in (plan.lower[0], plan.upper[0]) for y in (plan.lower[1], plan.upper[1])]
    ceiling = min(shape.ceiling_at(x, y) for x, y in corners)
    if block.lower[2] < -TOLERANCE or block.upper[2] > ceiling + TOLERANCE:
        remedy = f"it reaches from {number(block.lower[2])} to {number(block.upper[2])} m; floor and ceiling there"
        report.mistake(inner, "at", f"found {numbers(block.lower)}; {remedy} are at 0 and {number(ceiling)} m")
        return False
    return True


def check_thin_partition(entry: Entry, thin_partition: ThinPartition, shape: Shape, report: Report) -> None:
    """Report a thin partition that leaves the room's bounding box or has no air beside it."""
    good = _check_bounds(entry, shape, report)
    if good and not shape.crosses(thin_partition.axis, thin_partition.position, thin_partition.rectangle):
        remedy = "the thin partition does not pass through the air of the room: move it off the wall or into the plan"
        report.mistake(entry, "to", f"found {show(entry.values['from'])} to {show(entry.values['to'])}; {remedy}")
    if 0.0 < thin_partition.open_fraction < 1.0 and thin_partition.depth == 0.0 and thin_partition.resistance == 0.0:
        remedy = "without depth or resistance the open part lets sound through as if nothing were there: give its depth"
        report.warning(entry, "open_fraction", f"found {number(thin_partition.open_fraction)}; {remedy}")


def check_point(
    entry: Entry,
    thing: Source | Seat,
    shape: Shape,
    blocks: Sequence[Block],
    thin_partitions: Sequence[ThinPartition],
    report: Report,
) -> None:
    """Report a source or seat that is not in air."""
    x, y, z = thing.at
    found = f"found {show(entry.values['at'])}"

    def wrong(remedy: str) -> None:
        report.mistake(entry, "at", f"{found}; {remedy}")

    if not shape.covers(x, y):
        wrong(outside_text(thing.at, shape))
        return
    ceiling = shape.ceiling_at(x, y)
    if z < -TOLERANCE:
        wrong("this is below the floor; the third number must be at least 0")
    elif z > ceiling + TOLERANCE:
        wrong(f"this is above the ceiling; the third number must be at most {number(ceiling)} there")
    for block in blocks:
        if in_box(thing.at, block.lower, block.upper, NEAR):
            wrong(f"this is inside {show(block.name)}, which fills {numbers(block.lower)} to {numbers(block.upper)}")
    for thin_partition in thin_partitions:
        off = abs(thing.at[thin_partition.axis] - thin_partition.position)
        if off <= NEAR and is_closed_at(thin_partition, thing.at):
            remedy = f"move it to one side of {'xyz'[thin_partition.axis]} = {number(thin_partition.position)}"
            wrong(f"this is in the plane of the thin partition {show(thin_partition.name)}; {remedy}")
    if isinstance(thing, Seat) and 0.0 <= z <= ceiling and shape.wall_distance(thing.at) < 0.1:
        report.warning(entry, "at", f"{found}; the head is less than 10 cm from a wall, the floor or the ceiling")


def check_near(entry: Entry, thing: Source | Seat, report: Report) -> None:
    """Report a source or seat that is in no room, while the room itself is not known."""
    if max(abs(v) for v in thing.at) > FARTHEST:
        report.mistake(entry, "at", f"found {show(entry.values['at'])}; {TOO_FAR}")


def check_on(
    entry: Entry, thing: Patch | Absorber, shape: Shape, blocks: Sequence[Block], unsure: set[str], report: Report
) -> None:
    """Report a patch or absorber whose surface does not exist, that sticks out of it or has no air in front."""
    face = find_face(thing.on, shape, blocks, unsure)
    cabinet = "cabinet" in entry.values
    if isinstance(face, str):
        if face and not cabinet:
            report.mistake(entry, "on", f"found {show(thing.on)}; {face}")
        return
    if not cabinet and not check_inside(entry, face, thing.rectangle, shape, report):
        return
    _check_air(entry, thing, face, shape, blocks, report)


def _check_air(
    entry: Entry, thing: Patch | Absorber, face: Face, shape: Shape, blocks: Sequence[Block], report: Report
) -> None:
    share = face.share_in_air(shape, thing.rectangle, blocks)
    if share == 1.0:
        return
    alone = face.share_in_air(shape, thing.rectangle, [])
    why = [show(b.name) for b in blocks if face.share_in_air(shape, thing.rectangle, [b]) < alone][:3]
    cause = " and ".join([f"covered by {' and '.join(why)}"] * bool(why) + ["outside the room"] * (alone < 1.0))
    key = "cabinet" if "cabinet" in entry.values else "on"
    found = f"found {show(thing.on)}; the {'absorber' if isinstance(thing, Absorber) else 'patch'}"
    if key == "cabinet":
        found = f"found a cabinet facing {show(thing.on[-2:])}; that face"
    if share == 0.0 and isinstance(thing, Absorber):
        report.mistake(entry, key, f"{found} has no air in front of it: it is {cause}; move it")
    else:
        report.warning(entry, key, f"{found} is {'' if share == 0.0 else 'partly '}{cause}")


def check_overlap(entries: Sequence[Entry], absorbers: Sequence[Absorber], report: Report) -> None:
    """Report absorbers that overlap on the same surface."""
    for i, later in enumerate(absorbers):
        for earlier in absorbers[:i]:
            if earlier.on == later.on and overlap(earlier.rectangle, later.rectangle) > TOLERANCE:
                area = f"{overlap(earlier.rectangle, later.rectangle):.2g}"
                remedy = f"it shares {area} m² with the absorber {show(earlier.name)}; move one"
                key = "cabinet" if "cabinet" in entries[i].values else "to"
                report.mistake(entries[i], key, f"found {show(entries[i].values[key])}; {remedy}")


def check_porous_volume(entry: Entry, fill: PorousVolume, shape: Shape, report: Report) -> None:
    """Report a porous volume that leaves the room's bounding box or has no part in the room."""
    if _check_bounds(entry, shape, report):
        check_box(entry, fill.lower, fill.upper, shape, report)


def _check_bounds(entry: Entry, shape: Shape, report: Report) -> bool:
    """Report corners outside the room's bounding box; True if there are none."""
    good = True
    for key in ("from", "to"):
        for axis, (value, low, high) in enumerate(zip(entry.values[key], *shape.bounds, strict=True)):
            if not low - TOLERANCE <= value <= high + TOLERANCE:
                remedy = f"the room runs from {number(low)} to {number(high)} m in {'xyz'[axis]}"
                report.mistake(entry, key, f"found {show(entry.values[key])}; {remedy}")
                good = False
    return good
