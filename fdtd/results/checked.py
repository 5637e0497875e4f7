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
    for pattern, stated in layout.items():
        paths = _paths(file, pattern)
        if pattern.endswith("*"):
            for parent in _paths(file, pattern.rpartition("/")[0]):
                _check_links(file, parent, stated)
        there = [path for path in paths if _is_group(file, path, needed=stated.fewest > 0 or pattern.endswith("*"))]
        for path in there:
            _check_group(file, path, stated)
        if stated.order:
            _check_order(file, there, stated.order)


def text_of(value: Any) -> str:
    """An attribute as text."""
    return value.decode() if isinstance(value, bytes) else str(value)


def _paths(file: h5py.File, pattern: str) -> list[str]:
    """Groups that match a path whose '*' stands for any name, whether they are there or not."""
    paths = [""]
    for part in pattern.split("/") if pattern else ():
        paths = [
            f"{path}/{name}" if path else name
            for path in paths
            for name in (list(file[path]) if part == "*" else [part])
        ]
    return paths


def _check_links(file: h5py.File, parent: str, stated: Group) -> None:
    links = list(file[parent])
    if len(links) < stated.fewest:
        raise Damage(f"group /{parent}: found {len(links)} groups in it; expected at least {stated.fewest}")
    if stated.link == "number" and set(links) != {str(k) for k in range(len(links))}:
        raise Damage(f"group /{parent}: found {', '.join(links)} in it; expected the numbers from 0, without gaps")


def _is_group(file: h5py.File, path: str, needed: bool) -> bool:
    found = file.get(path) if path else file
    if found is None and not needed:
        return False
    if not isinstance(found, h5py.Group):
        raise Damage(f"group /{path}: found {'nothing' if found is None else 'an array'}; expected a group")
    return True


def _check_order(file: h5py.File, paths: list[str], attribute: str) -> None:
    found = sorted(int(file[path].attrs[attribute]) for path in paths)
    if found != list(range(len(paths))):
        counted, last = ", ".join(map(str, found)), len(paths) - 1
        raise Damage(f"attribute {attribute} of its groups: found {counted}; expected 0 to {last}, each once")


def _check_group(file: h5py.File, path: str, stated: Group) -> None:
    group = file[path] if path else file
    for name, entry in stated.attributes.items():
        _check_attribute(group, f"attribute {name} of /{path}", name, entry)
    lengths = _Lengths(file, group, stated)
    for name, entry in stated.arrays.items():
        if entry.axes == (name,):
            lengths.see(name, entry)
    missing: dict[str, NDArray[np.bool_]] = {}
    for name, entry in stated.arrays.items():
        if name in group or entry.needed:
            _check_array(file, group, name, entry, lengths, missing)
    if stated.link == "name" and group_name(text_of(group.attrs["name"])) != path.rpartition("/")[2]:
        raise Damage(
            f"attribute name of /{path}: found {text_of(group.attrs['name'])!r}; expected the name of its group"
        )
    if stated.at:
        _check_shared(file, path, group, stated, lengths)


class _Lengths:
    """How long the axes of a group are."""

    def __init__(self, file: h5py.File, group: h5py.Group, stated: Group) -> None:
        self.file, self.group, self.stated = file, group, stated

    def see(self, name: str, entry: Entry) -> None:
        """Raise Damage if the scale of an axis is no row of values, or too short a one."""
        scale = _dataset(self.group, name)
        if scale.shape is None or len(scale.shape) != 1 or len(scale) < entry.shortest:
            least = f"at least {entry.shortest} " if entry.shortest else ""
            raise Damage(f"array {scale.name}: found {_shape(scale.shape)}; expected a row of {least}values")

    def __getitem__(self, axis: str) -> int:
        own = axis in self.stated.arrays
        return len(_dataset(self.group if own else self.file, axis))


def _dataset(group: h5py.Group, name: str) -> h5py.Dataset:
    found = group.get(name)
    where = f"array {group.name.rstrip('/')}/{name}"
    if found is None:
        raise Damage(f"{where}: it is missing")
    if not isinstance(found, h5py.Dataset):
        raise Damage(f"{where}: found a group; expected an array")
    return found


def _check_array(
    file: h5py.File,
    group: h5py.Group,
    name: str,
    entry: Entry,
    lengths: _Lengths,
    missing: dict[str, NDArray[np.bool_]],
) -> None:
    data = _dataset(group, name)
    where = f"array {data.name}"
    shape = tuple(lengths[axis] for axis in entry.axes)
    if data.shape != shape:
        text = f" ({', '.join(entry.axes)})" if entry.axes else ""
        raise Damage(f"{where}: found {_shape(data.shape)}; expected {_shape(shape)}{text}")
    _check_type(where, data.dtype, entry)
    if data.nbytes > DENSEST * file.id.get_filesize():
        raise Damage(f"{where}: found {data.nbytes} bytes of numbers, more than a file of this size can hold")
    if "units" not in data.attrs or text_of(data.attrs["units"]) != entry.units:
        raise Damage(f"attribute units of {where}: {_found(data.attrs, 'units')}; expected {entry.units!r}")
    _check_attribute(data, f"attribute long_name of {where}", "long_name", LONG_NAME)
    members = _members(file, entry)
    places = [lengths[axis] - entry.gaps for axis in entry.places_of]
    for part in _parts(data, whole=bool(entry.absent)):
        check_values(where, part, entry, places, members)
        if entry.absent:
            check_absent(where, part, entry, missing)


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
    units = f"{name}_units"
    if (
        entry.kind == "real"
        and entry.units
        and (units not in group.attrs or text_of(group.attrs[units]) != entry.units)
    ):
        raise Damage(f"attribute {units} of {group.name}: {_found(group.attrs, units)}; expected {entry.units!r}")


def _check_type(where: str, dtype: np.dtype, entry: Entry) -> None:
    if entry.kind == "text":
        right = h5py.check_string_dtype(dtype) is not None
    else:
        kinds, sizes = _SIZES[entry.kind]
        right = dtype.kind in kinds and dtype.itemsize in sizes
    if not right:
        found = "text" if h5py.check_string_dtype(dtype) is not None else f"values of type {dtype}"
        raise Damage(f"{where}: found {found}; expected {expected(entry)}")


def _members(file: h5py.File, entry: Entry) -> NDArray[Any] | None:
    return np.asarray(_dataset(file, entry.member_of)[()]) if entry.member_of else None


def _parts(data: h5py.Dataset, whole: bool) -> Iterator[NDArray[Any]]:
    """The values, in pieces along the first axis if there are many and they need not be seen together."""
    source = data.asstr() if h5py.check_string_dtype(data.dtype) is not None else data
    if whole or data.ndim < 2 or data.nbytes <= BLOCK:
        yield np.asarray(source[()], dtype=object if source is not data else None)
        return
    rows = max(BLOCK * len(data) // data.nbytes, 1)
    for first in range(0, len(data), rows):
        yield data[first : first + rows]


def _check_shared(file: h5py.File, path: str, group: h5py.Group, stated: Group, lengths: _Lengths) -> None:
    other = text_of(group.attrs[stated.at])
    where = f"attribute {stated.at} of /{path}"
    if not isinstance(file.get(other), h5py.Group):
        raise Damage(f"{where}: found {other!r}; expected the path of a group in this file")
    for axis in stated.shared:
        there = len(_dataset(file[other], axis))
        if lengths[axis] != there:
            raise Damage(f"array /{path}/{axis}: found {lengths[axis]} values; expected {there}, as in {other}")


def _shape(shape: tuple[int, ...] | None) -> str:
    if shape is None:
        return "nothing in it"
    return f"{' x '.join(map(str, shape))} values" if shape else "a single value"


def _found(attributes: Mapping[str, Any], name: str) -> str:
    return f"found {text_of(attributes[name])!r}" if name in attributes else "it is missing"
