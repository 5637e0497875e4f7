"""Variants of one thin partition of a scene: its doorways closed, open by so much, wider, moved, of another mass, left
out.

The variants are written as text after the scene's own, so that the reader checks them like any others and a result file
made from them can be drawn again.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from fdtd.errors import FdtdError, SceneError
from fdtd.scene.read import read_scene_text
from fdtd.scene.schema import Rectangle, Scene, Seat, Source, ThinPartition, Variant
from fdtd.scene.shape import NEAR, Shape
from fdtd.scene.text import did_you_mean, number, show

AS_IS = "as it is"
DOOR_MASS = 10.0
"""kg/m², a light inner door (common practice)."""
MOST = 12
"""Most variants of one study: what is side by side must fit a page."""
OWN_SECTIONS = ("variants", "spots")
"""Sections of the scene that the study replaces (variants), or that would name what it replaces."""


class PartitionError(FdtdError):
    """A partition study that cannot be made of this scene."""


@dataclass(frozen=True)
class PartitionRequest:
    """What is varied, one thing at a time, all in m or kg/m².

    open_percent : open share of what is no opening, in %, None: 0, 30, 60 and 100 as far as they make a difference
    depth : of the open parts of those variants, None: the thin partition's own
    door : 'closed' adds a variant with door leaves of `door_mass` in the openings, 'open' does not
    opening_widths : of its only opening; moves : along its normal; masses : of the closed part as a whole
    """

    open_percent: tuple[float, ...] | None = None
    depth: float | None = None
    door: str = "closed"
    door_mass: float = DOOR_MASS
    opening_widths: tuple[float, ...] = ()
    moves: tuple[float, ...] = ()
    masses: tuple[float, ...] = ()


@dataclass(frozen=True)
class Deed:
    """What is done to the thin partition in a variant.

    kind : "none", "doors" (its openings shut by door leaves), "closed" (except for its openings), "open" (a share of
        what is no opening), "width" (of its only opening), "move" (along its normal), "mass" (of its closed part) or
        "gone" (left out)
    value : of what is varied: %, m, m or kg/m²; before : % open as it is; openings : that it has; axis : its normal
    """

    kind: str
    value: float = 0.0
    before: float = 0.0
    openings: int = 0
    axis: int = 0


@dataclass(frozen=True)
class PartitionStudy:
    """scene : with just the variants of the study, the room as it is first; deeds : what is done in each
    idle : open shares in % that were left out, as the thin partition has neither depth nor resistance."""

    scene: Scene
    thin_partition: ThinPartition
    deeds: tuple[Deed, ...]
    idle: tuple[float, ...]


@dataclass(frozen=True)
class _Try:
    """One variant: its name, what is done, the thin partition's keys that change."""

    name: str
    deed: Deed
    change: dict[str, Any]


def partition_study(
    scene: Scene, thin_partition_name: str, asked: PartitionRequest, variant_name: str | None = None
) -> PartitionStudy:
    """The scene with the variants to compare.

    variant_name : the state of the room that the study starts from; None: the first one that holds the thin partition.

    Raises
    ------
    PartitionError
        If there is no such thin partition or variant, or something asked for is impossible (its message says which).
    """
    start = _start(scene, thin_partition_name, variant_name)
    thin_partition = next(s for s in start.thin_partitions if s.name == thin_partition_name)
    tries = [_Try(AS_IS, Deed("none"), {})]
    if asked.door == "closed" and thin_partition.openings:
        what = "opening" if len(thin_partition.openings) == 1 else "openings"
        tries.append(_Try(f"{what} closed", Deed("doors", openings=len(thin_partition.openings)), {}))
    shares = (0.0, 30.0, 60.0, 100.0) if asked.open_percent is None else asked.open_percent
    idle = tuple(share for share in shares if 0.0 < share < 100.0 and _idle(thin_partition, asked))
    # Wholly open, doors and all, is 'without it'.
    kept = [share for share in shares if share not in (*idle, 100.0) and not _as_is(thin_partition, asked, share)]
    tries += [_open(thin_partition, asked, share) for share in kept]
    tries += [_width(thin_partition, w) for w in asked.opening_widths]
    tries += [_move(scene, start, thin_partition, m) for m in asked.moves]
    tries += [_mass(thin_partition, m) for m in asked.masses]
    tries.append(_Try("without it", Deed("gone"), {}))
    if len(tries) > MOST:
        raise PartitionError(f"that is {len(tries)} variants, 'as it is' and 'without it' included; at most {MOST}")
    text = _text(scene, start, thin_partition, tries, asked.door_mass)
    try:
        made = read_scene_text(text, scene.path or "scene.toml")
    except SceneError as error:
        raise PartitionError("\n".join(f"the study of this thin partition: {p}" for p in error.problems)) from error
    wanted = {t.name for t in tries}
    variants = tuple(v for v in made.variants if v.name in wanted)
    made = replace(made, variants=variants, warnings=scene.warnings)
    return PartitionStudy(made, thin_partition, tuple(t.deed for t in tries), idle)


def _start(scene: Scene, thin_partition_name: str, variant_name: str | None) -> Variant:
    names = [v.name for v in scene.variants]
    if variant_name is not None and variant_name not in names:
        raise PartitionError(
            f"--variant: found {show(variant_name)}; there is no such variant: "
            f"{did_you_mean(variant_name, names, 'variants')}"
        )
    among = [v for v in scene.variants if variant_name in (None, v.name)]
    held = next((v for v in among if any(s.name == thin_partition_name for s in v.thin_partitions)), None)
    if held is not None:
        return held
    thin_partitions = list(dict.fromkeys(s.name for v in scene.variants for s in v.thin_partitions))
    if thin_partition_name in thin_partitions:
        raise PartitionError(
            f"--thin partition: {show(thin_partition_name)} is left out of the variant {show(variant_name)}"
        )
    remedy = (
        did_you_mean(thin_partition_name, thin_partitions, "sheets")
        if thin_partitions
        else "the scene has no [[sheets]]"
    )
    raise PartitionError(
        f"--thin partition: found {show(thin_partition_name)}; there is no such thin partition: {remedy}"
    )


def _idle(thin_partition: ThinPartition, asked: PartitionRequest) -> bool:
    """Whether sound passes it as if it were not there, as soon as it is open at all."""
    depth = thin_partition.depth if asked.depth is None else asked.depth
    return depth == 0.0 and thin_partition.resistance == 0.0


def _as_is(thin_partition: ThinPartition, asked: PartitionRequest, percent: float) -> bool:
    return percent == 100.0 * thin_partition.open_fraction and asked.depth in (None, thin_partition.depth)


def _open(thin_partition: ThinPartition, asked: PartitionRequest, percent: float) -> _Try:
    change = {"open_fraction": percent / 100.0} | ({} if asked.depth is None else {"depth": asked.depth})
    before, openings = 100.0 * thin_partition.open_fraction, len(thin_partition.openings)
    return _Try(f"{number(percent)} % open", Deed("open" if percent else "closed", percent, before, openings), change)


def _width(thin_partition: ThinPartition, width: float) -> _Try:
    if len(thin_partition.openings) != 1:
        count = len(thin_partition.openings) or "no"
        raise PartitionError(
            f"--opening-width: {show(thin_partition.name)} has {count} openings; it must have just one"
        )
    opening, (low, high) = (
        thin_partition.openings[0],
        (thin_partition.rectangle.lower[0], thin_partition.rectangle.upper[0]),
    )
    if not NEAR <= width <= high - low:
        raise PartitionError(
            f"--opening-width: found {number(width)} m; {show(thin_partition.name)} is {number(high - low)} m wide"
        )
    middle = 0.5 * (opening.lower[0] + opening.upper[0])
    begin = round(min(max(middle - 0.5 * width, low), high - width), 9)
    wider = Rectangle((begin, opening.lower[1]), (round(begin + width, 9), opening.upper[1]))
    name = f"opening {number(width)} m wide"
    return _Try(name, Deed("width", width), {"openings": [_rectangle(wider)]})


def _move(scene: Scene, start: Variant, thin_partition: ThinPartition, by: float) -> _Try:
    axis, position = thin_partition.axis, round(thin_partition.position + by, 9)
    shape = Shape(scene.room)
    where = f"--move: {by:+g} m puts {show(thin_partition.name)} at {'xyz'[axis]} = {number(position)} m"
    low, high = (corner[axis] for corner in shape.bounds)
    if not (low < position < high and shape.crosses(axis, position, thin_partition.rectangle)):
        raise PartitionError(f"{where}, out of the air of the room ({number(low)} to {number(high)} m)")
    reach = max(0.5 * thin_partition.depth, NEAR)
    things: tuple[Seat | Source, ...] = (*start.seats, *start.sources)
    for thing in things:
        if abs(thing.at[axis] - position) <= reach and _beside(thing.at, thin_partition):
            raise PartitionError(f"{where}, where {show(thing.name)} is; move it by less or by more")
    crossed = [
        thing.name for thing in things if (thing.at[axis] - position) * (thing.at[axis] - thin_partition.position) < 0.0
    ]
    if crossed:
        raise PartitionError(f"{where}, which leaves {show(crossed[0])} on its other side; move it by less")
    points = {
        "from": _point(axis, position, thin_partition.rectangle.lower),
        "to": _point(axis, position, thin_partition.rectangle.upper),
    }
    return _Try(f"moved {by:+g} m", Deed("move", by, axis=axis), points)


def _beside(point: tuple[float, float, float], thin_partition: ThinPartition) -> bool:
    u, v = (p for a, p in enumerate(point) if a != thin_partition.axis)
    r = thin_partition.rectangle
    return r.lower[0] <= u <= r.upper[0] and r.lower[1] <= v <= r.upper[1]


def _mass(thin_partition: ThinPartition, mass: float) -> _Try:
    own = thin_partition.panel
    held = {"resistance": 0.0, "stiffness": 0.0} if own is None else {}
    return _Try(f"panel {number(mass)} kg per m²", Deed("mass", mass), {"panel": {"mass": mass, **held}})


def _text(scene: Scene, start: Variant, thin_partition: ThinPartition, tries: list[_Try], door_mass: float) -> str:
    """The scene with the study's variants in place of its own."""
    given = tomllib.loads(scene.text)
    own: dict[str, Any] = next((v for v in given.get("variants", []) if v.get("name") == start.name), {})
    doors = _doors(thin_partition, door_mass, _taken(given)) if any(t.deed.kind == "doors" for t in tries) else []
    parts = [_without_sections(scene.text, given).rstrip()]
    parts += [_table("sheets", door) for door in doors]
    for one in tries:
        gone = one.deed.kind == "gone"
        without = [*own.get("without", []), *([thin_partition.name] if gone else [])]
        without += [door["name"] for door in doors if one.deed.kind != "doors"]
        changes = {k: v for k, v in own.get("set", {}).items() if not (gone and k == thin_partition.name)}
        if one.change:
            changes[thin_partition.name] = _merged(changes.get(thin_partition.name, {}), one.change)
        parts.append(_table("variants", {"name": one.name, "without": without, "set": changes}))
    return "\n\n".join(parts) + "\n"


def _merged(old: dict[str, Any], new: dict[str, Any]) -> dict[str, Any]:
    both = {k: {**old[k], **v} for k, v in new.items() if isinstance(v, dict) and isinstance(old.get(k), dict)}
    return {**old, **new, **both}


def _taken(given: dict[str, Any]) -> set[str]:
    lists = [v for v in given.values() if isinstance(v, list)]
    return {entry.get("name", "") for one in lists for entry in one if isinstance(entry, dict)}


def _doors(thin_partition: ThinPartition, mass: float, taken: set[str]) -> list[dict[str, Any]]:
    """A door leaf for each opening, as tables of thin partitions."""
    doors = []
    for opening in thin_partition.openings:
        name = f"door of {thin_partition.name}"[:70]
        k = 1
        while name in taken:
            k, name = k + 1, f"door {k + 1} of {thin_partition.name}"[:70]
        taken.add(name)
        doors.append(
            {
                "name": name,
                "from": _point(thin_partition.axis, thin_partition.position, opening.lower),
                "to": _point(thin_partition.axis, thin_partition.position, opening.upper),
                "panel": {"mass": mass, "resistance": 0.0, "stiffness": 0.0},
            }
        )
    return doors


def _point(axis: int, position: float, rest: tuple[float, float]) -> list[float]:
    point = list(rest)
    point.insert(axis, position)
    return point


def _rectangle(r: Rectangle) -> dict[str, list[float]]:
    return {"from": list(r.lower), "to": list(r.upper)}


def _without_sections(text: str, given: dict[str, Any]) -> str:
    """`text` without the sections of OWN_SECTIONS; raises PartitionError if they can't be told apart line by line."""
    names = "|".join(OWN_SECTIONS)
    mine: Callable[[str], bool] = lambda line: re.match(rf"\s*\[+\s*({names})\s*[\].]", line) is not None  # noqa: E731
    kept, skipping = [], False
    for line in text.splitlines():
        if re.match(r"\s*\[+\s*[A-Za-z]", line):
            skipping = mine(line)
        if not skipping:
            kept.append(line)
    rest = "\n".join(kept)
    wanted = {k: v for k, v in given.items() if k not in OWN_SECTIONS}
    try:
        if tomllib.loads(rest) == wanted and "[[sheets]]" in "".join(rest.split()):
            return rest
    except tomllib.TOMLDecodeError:
        pass
    raise PartitionError(
        "the variants of this scene can't be replaced: write [[sheets]], [[variants]] and [spots] with their brackets "
        "on lines of their own"
    )


def _table(kind: str, values: dict[str, Any]) -> str:
    return "\n".join([f"[[{kind}]]", *(f"{key} = {_toml(value)}" for key, value in values.items())])


def _toml(value: Any) -> str:
    """A value in TOML, all in one line."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{_toml(k)} = {_toml(v)}" for k, v in value.items()) + " }" if value else "{}"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(_toml(v) for v in value) + "]"
    return repr(value)
