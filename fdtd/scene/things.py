"""Single things made from their tables: everything that is placed in the room."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from fdtd.scene.intake import complete, made, only_one, read_table
from fdtd.scene.kinds import rectangle
from fdtd.scene.mistakes import Entry, Report
from fdtd.scene.playback import read_playback
from fdtd.scene.schema import Absorber, Block, Patch, PorousVolume, Rectangle, Seat, Source, ThinPartition
from fdtd.scene.shape import NEAR
from fdtd.scene.tables import TABLES
from fdtd.scene.text import number, numbers, show

SHORTEST_DELAY = 0.05
"""ms; a shorter delay, less than 2 cm of path, is taken for one in seconds."""


def read_thing(kind: str, entry: Entry, report: Report) -> Any:
    """What an entry of the list `kind` holds (of an absorber: with its cabinet or None); None after a mistake."""
    fields = TABLES[kind]
    values = read_table(entry, fields, report)
    if kind == "absorbers":
        return _absorber(entry, values, report)
    cls, read = _THINGS[kind]
    own = read(entry, values, report)
    return made(cls, values, **own) if own is not None and complete(values, fields) else None


Own = dict[str, Any] | None
"""What a thing has besides its keys, made from them; None after a mistake."""


def _corners(entry: Entry, values: dict[str, Any], report: Report) -> Own:
    return {"rectangle": rectangle(values["from"], values["to"])} if {"from", "to"} <= values.keys() else None


def _box(entry: Entry, values: dict[str, Any], report: Report) -> Own:
    if not {"from", "to"} <= values.keys():
        return None
    a, b = values["from"], values["to"]
    sides = [abs(p - q) for p, q in zip(a, b, strict=True)]
    if min(sides) < NEAR:
        axis = "xyz"[sides.index(min(sides))]
        remedy = "it must be at least 1 mm thick; thin partitions belong in [[sheets]]"
        report.mistake(entry, "to", f'found {numbers(b)}, which has the same {axis} as "from" {numbers(a)}; {remedy}')
        return None
    return {"lower": tuple(map(min, a, b)), "upper": tuple(map(max, a, b))}


def _thin_partition(entry: Entry, values: dict[str, Any], report: Report) -> Own:
    panel = values.get("panel")
    if panel is not None and panel.mass <= 0.0:
        report.mistake(entry, "panel", "found a panel without mass; its mass must be more than 0 kg/m²", ("mass",))
        return None
    plane = _plane(entry, values, report)
    if plane is None or not complete(values, TABLES["sheets"]):
        return None
    axis, position, area = plane
    for i, opening in enumerate(values["openings"]):
        if not _opening_inside(entry, i, opening, area, axis, report):
            return None
    return {"axis": axis, "position": position, "rectangle": area}


def _plane(entry: Entry, values: dict[str, Any], report: Report) -> tuple[int, float, Rectangle] | None:
    if not {"from", "to"} <= values.keys():
        return None
    a, b = values["from"], values["to"]
    equal = [i for i in range(3) if abs(a[i] - b[i]) < 1e-9]
    if len(equal) != 1:
        count = {0: "no number", 2: "two numbers", 3: "all numbers"}[len(equal)]
        remedy = "exactly one must be the same: the plane of the thin partition (thicker things belong in [[blocks]])"
        found = f'found {numbers(b)}, which has {count} in common with "from" {numbers(a)}'
        report.mistake(entry, "to", f"{found}; {remedy}")
        return None
    rest = [i for i in range(3) if i != equal[0]]
    area = rectangle([a[i] for i in rest], [b[i] for i in rest])
    if min(area.upper[0] - area.lower[0], area.upper[1] - area.lower[1]) < NEAR:
        report.mistake(entry, "to", f"found {numbers(b)}; the thin partition must be at least 1 mm wide and high")
        return None
    return equal[0], a[equal[0]], area


def _opening_inside(entry: Entry, i: int, opening: Rectangle, area: Rectangle, axis: int, report: Report) -> bool:
    rest = [c for j, c in enumerate("xyz") if j != axis]
    found = f"found {numbers(opening.lower)} to {numbers(opening.upper)}"
    if min(opening.upper[0] - opening.lower[0], opening.upper[1] - opening.lower[1]) < NEAR:
        report.mistake(entry, "openings", f"{found}; an opening must be at least 1 mm wide and high", (i,))
        return False
    for j in (0, 1):
        if opening.lower[j] < area.lower[j] - 1e-6 or opening.upper[j] > area.upper[j] + 1e-6:
            remedy = f"an opening must lie in its thin partition, which runs from {number(area.lower[j])} to "
            report.mistake(entry, "openings", f"{found}; {remedy}{number(area.upper[j])} m in {rest[j]}", (i,))
            return False
    return True


def _source(entry: Entry, values: dict[str, Any], report: Report) -> Own:
    played = read_playback(entry, report)
    if played is None or not complete(values, TABLES["sources"]):
        return None
    delay = values["delay"]
    if 0.0 < delay < SHORTEST_DELAY:
        remedy = f"delays are in ms, and this one is hardly any; if it is in s, write {number(1000.0 * delay)}"
        report.warning(entry, "delay", f"found {number(delay)}; {remedy}")
    return {"delay": delay / 1000.0, **played}


_THINGS: dict[str, tuple[type, Callable[[Entry, dict[str, Any], Report], Own]]] = {
    "patches": (Patch, _corners),
    "blocks": (Block, _box),
    "sheets": (ThinPartition, _thin_partition),
    "fills": (PorousVolume, _box),
    "sources": (Source, _source),
    "seats": (Seat, lambda entry, values, report: {}),
}
"""List -> what its entries are, and how what they have besides their keys is made."""


def _absorber(entry: Entry, values: dict[str, Any], report: Report) -> tuple[Absorber, Block | None] | None:
    place = [key for key in ("on", "from", "to") if key in entry.values]
    missing = [key for key in ("on", "from", "to") if key not in entry.values]
    if "cabinet" in entry.values:
        alone = only_one(entry, ("cabinet", *place), report)
        return _cabinet(entry, values, report) if alone else None
    if missing:
        remedy = 'give "on", "from" and "to" on a surface, or a free-standing "cabinet"'
        report.mistake(entry, None, f"key {show(missing[0])} is missing; {remedy}")
        return None
    if not complete(values, TABLES["absorbers"]):
        return None
    return made(Absorber, values, rectangle=rectangle(values["from"], values["to"])), None


def _clean(length: float) -> float:
    """`length` without the rounding of sums, so that faces meant to be in one plane are."""
    return round(length, 9)


def _cabinet(entry: Entry, values: dict[str, Any], report: Report) -> tuple[Absorber, Block] | None:
    inner = entry.inner("cabinet")
    v = read_table(inner, TABLES["cabinet"], report) if "cabinet" in values else {}
    if not complete(v, TABLES["cabinet"]) or any(k not in values for k in ("name", "device", "gain")):
        return None
    lower, size, facing = v["at"], v["size"], v["facing"]
    upper = (_clean(lower[0] + size[0]), _clean(lower[1] + size[1]), _clean(lower[2] + size[2]))
    rest = [a for a in range(3) if a != "xyz".index(facing[1])]
    centre = v["centre"] or (size[rest[0]] / 2.0, size[rest[1]] / 2.0)
    for j, what in enumerate(("width", "height")):
        most = 2.0 * min(centre[j], size[rest[j]] - centre[j])
        if v["opening"][j] > most + 1e-6 or most < NEAR:
            remedy = f"the side facing {facing} is {number(size[rest[0]])} m wide and {number(size[rest[1]])} m high"
            room = f", so around its centre {numbers(centre)} the {what} must be at most {number(max(most, 0.0))}"
            report.mistake(inner, "opening", f"found {numbers(v['opening'])}; {remedy}{room}")
            return None
    low = [_clean(lower[rest[j]] + centre[j] - v["opening"][j] / 2.0) for j in (0, 1)]
    high = [_clean(lower[rest[j]] + centre[j] + v["opening"][j] / 2.0) for j in (0, 1)]
    block = Block(f"{values['name']} cabinet", lower, upper, v["material"])
    on = f"block {block.name} {facing}"
    return Absorber(values["name"], values["device"], on, rectangle(low, high), values["gain"]), block
