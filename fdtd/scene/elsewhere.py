"""Keys that have no meaning where they stand but one somewhere else: where that is."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from fdtd.scene import tables
from fdtd.scene.design_tables import DESIGN_FIELDS, DEVICE_KINDS, MATERIAL_KINDS
from fdtd.scene.fields import Field
from fdtd.scene.mistakes import Entry
from fdtd.scene.text import show


def _keys(fields: Iterable[Field]) -> set[str]:
    return {f.key for f in fields}


_PLACES: dict[str, tuple[tuple[set[str], str], ...]] = {
    "top": (
        (_keys(tables.ROOM), "it belongs to [room]"),
        (_keys(tables.AIR), "it belongs to [air]"),
        (_keys(tables.RUN), "it belongs to [run]"),
        ({"floor", "ceiling", "walls"}, "it belongs to [surfaces]"),
    ),
    "devices": ((_keys(tables.THINGS["absorbers"]), "it belongs to the absorber that has this device, [[absorbers]]"),),
    "absorbers": (
        (_keys(tables.CABINET), 'it belongs inside the braces of "cabinet"'),
        (set(tables.device_keys()), "it belongs to the device, [devices.NAME]"),
    ),
    "cabinet": (
        (_keys(tables.THINGS["absorbers"]), "it belongs to the absorber, outside the braces of its cabinet"),
        (set(tables.device_keys()), "it belongs to the device, [devices.NAME]"),
    ),
    "sources": (
        ({"q"}, 'it belongs inside the braces of "rolloff"'),
        ({"order"}, 'it belongs inside the braces of "lowpass" or "highpass"'),
    ),
    "rolloff": (
        ({"order"}, 'it belongs inside the braces of "lowpass" or "highpass"'),
        (_keys(tables.THINGS["sources"]), "it belongs to the source, outside these braces"),
    ),
    "lowpass": ((_keys(tables.THINGS["sources"]), "it belongs to the source, outside these braces"),),
    "seats": ((_keys(tables.THINGS["sources"]), "it belongs to a source, [[sources]]"),),
    "room": ((_keys(tables.AIR), "it belongs to [air]"), (_keys(tables.RUN), "it belongs to [run]")),
    "air": ((_keys(tables.ROOM), "it belongs to [room]"), (_keys(tables.RUN), "it belongs to [run]")),
    "run": ((_keys(tables.AIR), "it belongs to [air]"), (_keys(tables.ROOM), "it belongs to [room]")),
}
_PLACES["highpass"] = _PLACES["lowpass"]


def belongs(where: str, key: str) -> str:
    """Where `key` belongs that has no meaning in a table `where` (list, section or inner table); "" if unknown."""
    return next((place for keys, place in _PLACES.get(where, ()) if key in keys), "")


def place_of(entry: Entry) -> str:
    """The list, section or inner table that `entry` is, as `belongs` names it; "" at the top."""
    inner = entry.path[-1] if len(entry.path) > 2 else ""
    return str(inner) if inner in _PLACES else str(entry.path[0]) if entry.path else ""


def other_kind(entry: Entry, unknown: Sequence[str]) -> tuple[list[str], str]:
    """Keys among `unknown` that a material or device of another kind has, and those kinds in words."""
    place, own = place_of(entry), entry.values.get("kind")
    if place not in ("materials", "devices"):
        return [], ""
    kinds = {k: _keys(DESIGN_FIELDS[k]) for k in (MATERIAL_KINDS if place == "materials" else DEVICE_KINDS)}
    if place == "devices":
        kinds |= {"branches": {"branches", "admittance_ratio"}, "table": {"table"}}
    kinds.pop(str(own), None)
    held = {kind: [key for key in unknown if key in keys] for kind, keys in kinds.items()}
    most = max((len(keys) for keys in held.values()), default=0)
    best = [kind for kind, keys in held.items() if len(keys) == most]
    if not most:
        return [], ""
    return held[best[0]], " or ".join(f"{show(kind)}" for kind in best[:3])
