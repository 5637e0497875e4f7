"""Is a file what its layout states? Every array and attribute is looked at before anything is made of them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import h5py
import numpy as np
from numpy.typing import NDArray

from fdtd.results.check_values import Damage, check_absent, check_values, expected
from fdtd.results.layout import group_name
from fdtd.results.statement import Entry, Group, Layout

DENSEST = 1100
"""Bytes of numbers that one byte of a file can hold at most: deflate does not get beyond 1032 to 1."""
BLOCK = 1 << 25
"""Bytes that are looked at at once: the matrices of a study may be larger than the memory that is left."""

LONG_NAME = Entry((), "1", "meaning of the array", "text")

_SIZES = {"whole": ("iub", (1, 2, 4, 8)), "real": ("f", (8,)), "complex": ("c", (8, 16))}


def check_file(file: h5py.File, layout: Layout) -> None:
    """Raises Damage, with the array, what was found and what would be right, unless `file` is as `layout` states."""
    groups: dict[str, list[h5py.Group]] = {}
    for pattern, stated in layout.items():
        parent, _, last = pattern.rpartition("/")
        inside = groups[parent] if pattern else []
        there = [] if pattern else [file]
        for group in inside:
            links = list(group) if last == "*" else [last]
            if last == "*":
                _check_links(group, links, stated)
            there += [found for name in links if (found := _group(group, name, last == "*" or stated.fewest > 0))]
        groups[pattern] = there
        for group in there:
            _check_group(group, stated)
        if stated.order:
            _check_order(there, stated.order)


def text_of(value: Any) -> str:
    """An attribute as text."""
    return value.decode() if isinstance(value, bytes) else str(value)


def _check_links(group: h5py.Group, links: list[str], stated: Group) -> None:
    where = f"group {group.name}"
    if len(links) < stated.fewest:
        raise Damage(f"{where}: found {len(links)} groups in it; expected at least {stated.fewest}")
    if stated.link == "number" and set(links) != {str(k) for k in range(len(links))}:
        raise Damage(f"{where}: found {', '.join(links)} in it; expected the numbers from 0, without gaps")


def _group(parent: h5py.Group, name: str, needed: bool) -> h5py.Group | None:
    found = parent.get(name)
    if not isinstance(found, h5py.Group) and (needed or found is not None):
        what = "nothing" if found is None else "an array"
        raise Damage(f"group {parent.name.rstrip('/')}/{name}: found {what}; expected a group")
    return found


def _check_order(groups: list[h5py.Group], attribute: str) -> None:
    found = sorted(int(group.attrs[attribute]) for group in groups)
    if found != list(range(len(groups))):
        counted, last = ", ".join(map(str, found)), len(groups) - 1
        raise Damage(f"attribute {attribute} of its groups: found {counted}; expected 0 to {last}, each once")


def _check_group(group: h5py.Group, stated: Group) -> None:
    for name, entry in stated.attributes.items():
        _check_attribute(group, f"attribute {name} of {group.name}", name, entry)
    for name, entry in stated.arrays.items():
        if entry.axes == (name,):
            _check_scale(_dataset(group, name), entry)
    missing: dict[str, NDArray[np.bool_]] = {}
    for name, entry in stated.arrays.items():
        _check_array(group, name, entry, stated, missing)
    if stated.link == "name" and group_name(text_of(group.attrs["name"])) != group.name.rpartition("/")[2]:
        found = text_of(group.attrs["name"])
        raise Damage(f"attribute name of {group.name}: found {found!r}; expected the name of its group")
    if stated.at:
        _check_shared(group, stated)


def _check_scale(scale: h5py.Dataset, entry: Entry) -> None:
    if scale.shape is None or len(scale.shape) != 1 or len(scale) < entry.shortest:
        least = f"at least {entry.shortest} " if entry.shortest else ""
        raise Damage(f"array {scale.name}: found {_shape(scale.shape)}; expected a row of {least}values")


def _length(group: h5py.Group, stated: Group, axis: str) -> int:
    """How long an axis is, of the group or of the file."""
    return len(_dataset(group if axis in stated.arrays else group.file, axis))


def _dataset(group: h5py.Group, name: str) -> h5py.Dataset:
    found = group.get(name)
    where = f"array {group.name.rstrip('/')}/{name}"
    if found is None:
        raise Damage(f"{where}: it is missing")
    if not isinstance(found, h5py.Dataset):
        raise Damage(f"{where}: found a group; expected an array")
    return found


def _check_array(
    group: h5py.Group, name: str, entry: Entry, stated: Group, missing: dict[str, NDArray[np.bool_]]
) -> None:
    data = _dataset(group, name)
    where = f"array {data.name}"
    shape = tuple(_length(group, stated, axis) for axis in entry.axes)
    if data.shape != shape:
        text = f" ({', '.join(entry.axes)})" if entry.axes else ""
        raise Damage(f"{where}: found {_shape(data.shape)}; expected {_shape(shape)}{text}")
    _check_type(where, data.dtype, entry)
    if data.nbytes > DENSEST * group.file.id.get_filesize():
        raise Damage(f"{where}: found {data.nbytes} bytes of numbers, more than a file of this size can hold")
    _check_units(data.attrs, "units", entry, where)
    _check_attribute(data, f"attribute long_name of {where}", "long_name", LONG_NAME)
    members = np.asarray(_dataset(group.file, entry.member_of)[()]) if entry.member_of else None
    places = [_length(group, stated, axis) - entry.gaps for axis in entry.places_of]
    for part in _parts(data, whole=bool(entry.absent)):
        check_values(where, part, entry, places, members)
        if entry.absent:
            check_absent(where, part, entry, missing)


def _check_units(attributes: Mapping[str, Any], name: str, entry: Entry, where: str) -> None:
    found = text_of(attributes[name]) if name in attributes else None
    if found != entry.units:
        what = "it is missing" if found is None else f"found {found!r}"
        raise Damage(f"attribute {name} of {where}: {what}; expected {entry.units!r}")


def _check_attribute(group: h5py.Group | h5py.Dataset, where: str, name: str, entry: Entry) -> None:
    if name not in group.attrs:
        raise Damage(f"{where}: it is missing")
    stored = group.attrs.get_id(name)
    value = group.attrs[name]
    if stored.shape != () or isinstance(value, h5py.Empty):
        found = _shape(None if isinstance(value, h5py.Empty) else stored.shape)
        raise Damage(f"{where}: found {found}; expected a single value")
    _check_type(where, stored.dtype, entry)
    value = text_of(value) if entry.kind == "text" else value
    check_values(where, np.array(value, dtype=object if entry.kind == "text" else None), entry, [], None)
    if entry.kind == "real" and entry.units:
        _check_units(group.attrs, f"{name}_units", entry, group.name)


def _check_type(where: str, dtype: np.dtype, entry: Entry) -> None:
    if entry.kind == "text":
        right = h5py.check_string_dtype(dtype) is not None
    else:
        kinds, sizes = _SIZES[entry.kind]
        right = dtype.kind in kinds and dtype.itemsize in sizes
    if not right:
        found = "text" if h5py.check_string_dtype(dtype) is not None else f"values of type {dtype}"
        raise Damage(f"{where}: found {found}; expected {expected(entry)}")


def _parts(data: h5py.Dataset, whole: bool) -> Iterator[NDArray[Any]]:
    """The values, in pieces along the first axis if there are many and they need not be seen together."""
    source = data.asstr() if h5py.check_string_dtype(data.dtype) is not None else data
    if whole or data.ndim < 2 or data.nbytes <= BLOCK:
        yield np.asarray(source[()], dtype=object if source is not data else None)
        return
    rows = max(BLOCK * len(data) // data.nbytes, 1)
    for first in range(0, len(data), rows):
        yield data[first : first + rows]


def _check_shared(group: h5py.Group, stated: Group) -> None:
    other = text_of(group.attrs[stated.at])
    if not isinstance(group.file.get(other), h5py.Group):
        where = f"attribute {stated.at} of {group.name}"
        raise Damage(f"{where}: found {other!r}; expected the path of a group in this file")
    for axis in stated.shared:
        here, there = _length(group, stated, axis), len(_dataset(group.file[other], axis))
        if here != there:
            raise Damage(f"array {group.name}/{axis}: found {here} values; expected {there}, as in {other}")


def _shape(shape: tuple[int, ...] | None) -> str:
    if shape is None:
        return "nothing in it"
    return f"{' x '.join(map(str, shape))} values" if shape else "a single value"
