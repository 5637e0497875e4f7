"""Variants: what is left out and what is changed, applied to the tables before anything is built from them."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import Any

from fdtd.scene import tables
from fdtd.scene.intake import complete, read_table
from fdtd.scene.locate import KeyPath
from fdtd.scene.mistakes import Change, Entry, Report
from fdtd.scene.sections import belongs
from fdtd.scene.text import did_you_mean, quoted, show
from fdtd.scene.tree import Tree, changed, keys_of

MOST_VARIANTS = 100


@dataclass(frozen=True)
class State:
    """One variant before it is built: its name, its own copy of the tables, what sets it apart."""

    name: str
    tree: Tree
    changes: str


def variant_states(entries: tuple[Entry, ...], tree: Tree, report: Report) -> list[State]:
    """The states to build: every variant that can be applied, or the scene as described if there are none."""
    if not entries:
        return [State("as described", tree, "")]
    if len(entries) > MOST_VARIANTS:
        extra = entries[MOST_VARIANTS]
        report.mistake(extra, None, f"found {len(entries)} variants; at most {MOST_VARIANTS} are taken")
    states = []
    for entry in entries[:MOST_VARIANTS]:
        values = read_table(entry, tables.TABLES["variant"], report)
        if complete(values, tables.TABLES["variant"]):
            states.append(_apply(entry, values, tree, report))
    return states


def _apply(entry: Entry, values: dict[str, Any], tree: Tree, report: Report) -> State:
    without, changes = values["without"], values["set"] or {}
    text = [f"without {', '.join(without)}"] if without else []
    tree = leave_out(entry, without, tree, report)
    for name, change in changes.items():
        where: KeyPath = (*entry.path, "set", name)
        if not isinstance(change, dict) or not change:
            remedy = "give the values that differ, as { key = value }"
            report.mistake(entry, "set", f"found {show(change)}; {remedy}", (name,))
        elif name in without:
            remedy = 'it is left out by "without"; a thing is either left out or changed'
            report.mistake(entry, "set", f"found {show(name)}; {remedy}", (name,))
        else:
            title = f"{entry.title}, set {show(name)}"
            origins = {key: Change((*where, key), title) for key in change}
            tree = _set(entry, name, change, origins, tree, report)
            text.append(f"{name}: " + ", ".join(f"{k} {show(v)}" for k, v in change.items()))
    return State(values["name"], tree, "; ".join(text))


def leave_out(entry: Entry, without: tuple[str, ...], tree: Tree, report: Report) -> Tree:
    """`tree` without the things named in `without`, a list under that key of `entry`; mistakes are reported."""
    removable = [k for k in tables.THINGS if k != "seats"]
    gone = set()
    for i, name in enumerate(without):
        found = tree.find(name)
        if found is None:
            known = [e.name for k in removable for e in tree.things[k] if e.name]
            remedy = did_you_mean(name, known, "things that can be left out")
            if name in tree.devices:
                remedy = f"it is a device: name the absorber that has it{_users(name, tree)}"
            report.mistake(entry, "without", f"found {show(name)}; there is no such thing: {remedy}", (i,))
        elif found[0] == "seats":
            remedy = "a seat can't be left out: all variants are compared at the same seats"
            report.mistake(entry, "without", f"found {show(name)}; {remedy}", (i,))
        else:
            gone.add(name)
    if tree.things["sources"] and all(e.name in gone for e in tree.things["sources"]):
        report.mistake(entry, "without", f"found {show(list(without))}; no source would be left: keep one of them")
    things = {k: tuple(e for e in v if e.name not in gone) for k, v in tree.things.items()}
    return Tree(things, tree.surfaces, tree.devices)


def _users(device: str, tree: Tree) -> str:
    """' ("corner unit")': the absorbers that have a device, for messages."""
    users = [e.name for e in tree.things["absorbers"] if e.name and e.values.get("device") == device]
    return f" ({quoted(users)})" if users else f"; none in this variant has device = {show(device)}"


def _set(
    entry: Entry, name: str, change: dict[str, Any], origins: dict[str, Change], tree: Tree, report: Report
) -> Tree:
    if name in tree.surfaces.values or name in tables.RESERVED or re.fullmatch(r"wall \d+", name):
        return _set_surface(entry, name, change, origins, tree, report)
    found = tree.find(name)
    if found is None:
        remedy = did_you_mean(name, [*tree.names(), "floor", "ceiling", "walls", "wall 1"], "things")
        if name in tree.devices:
            remedy = f"it is a device: change it through the absorber that has it{_users(name, tree)}"
        report.mistake(entry, "set", f"found {show(name)}; there is no such thing: {remedy}", (name,))
        return tree
    kind, thing = found
    own, device, good = keys_of(tables.TABLES[kind]), {}, {}
    for key, value in change.items():
        if key == "name":
            report.mistake(entry, "set", f'found "name"; a variant can\'t rename {show(name)}', (name, key))
        elif key in own:
            good[key] = value
        elif kind == "absorbers" and key in tables.device_keys():
            device[key] = value
        else:
            known = [k for k in own if k != "name"] + (list(tables.device_keys()) if kind == "absorbers" else [])
            remedy = belongs(kind, key) or did_you_mean(key, known, "known keys")
            report.mistake(entry, "set", f"found a key that {show(name)} does not have; {remedy}", (name, key))
    thing = changed(thing, good, origins)
    devices = dict(tree.devices)
    if device:
        thing = _own_device(entry, thing, device, origins, devices)
    entries = tuple(thing if e.name == name else e for e in tree.things[kind])
    return Tree({**tree.things, kind: entries}, tree.surfaces, devices)


def _own_device(
    entry: Entry, thing: Entry, change: dict[str, Any], origins: dict[str, Change], devices: dict[str, Entry]
) -> Entry:
    """Give an absorber its own changed copy of its device; `devices` gets the copy."""
    old = thing.values.get("device")
    if not isinstance(old, str) or old not in devices:
        return thing  # the missing device is told when the absorber is checked
    name = f"{old} (variant {entry.name})"
    if name in devices:
        name = f"{old} (variant {entry.name}, {thing.name})"
    devices[name] = changed(_of_kind(devices[old], change), change, origins)
    return Entry(thing.path, thing.title, {**thing.values, "device": name}, thing.changed)


def _of_kind(device: Entry, change: dict[str, Any]) -> Entry:
    """`device` without the keys that the kind it is changed to does not have."""
    kind = change.get("kind")
    if not isinstance(kind, str) or kind not in tables.DEVICE_KIND.choices:
        return device
    keys = keys_of(tables.device_fields(kind))
    return replace(device, values={k: v for k, v in device.values.items() if k in keys})


def _set_surface(
    entry: Entry, name: str, change: dict[str, Any], origins: dict[str, Change], tree: Tree, report: Report
) -> Tree:
    for key in change:
        if key != "material":
            remedy = 'a surface has only a material: { material = "NAME" }'
            report.mistake(entry, "set", f"found a key that {show(name)} does not have; {remedy}", (name, key))
    if "material" not in change:
        return tree
    surfaces = changed(tree.surfaces, {name: change["material"]}, {name: origins["material"]})
    return Tree(tree.things, surfaces, tree.devices)
