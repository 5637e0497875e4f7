"""Records in HDF5: datasets and attributes as the fields of a dataclass state them, written and read alike."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, TypeVar

import h5py
import numpy as np

from fdtd.results.checked import text_of
from fdtd.results.statement import Entry, LabelledArray, stated

T = TypeVar("T")
_TYPES: dict[str, tuple[str, type]] = {
    "text": ("O", object),
    "whole": ("iu", int),
    "real": ("f", float),
    "complex": ("c", complex),
}
"""Kinds of NumPy's types that are right, and the type that others are turned into."""
_PACKED: dict[str, Any] = {"compression": "gzip", "compression_opts": 1, "shuffle": True}


def labelled(entries: Mapping[str, Entry], values: Mapping[str, Any]) -> list[LabelledArray]:
    """Values by name with what is stated of them."""
    made = []
    for name, value in values.items():
        entry = entries[name]
        data = np.asarray(value, dtype=object if entry.kind == "text" else None)
        kinds, usual = _TYPES[entry.kind]
        data = data if data.dtype.kind in kinds else data.astype(usual)
        made.append(LabelledArray(name, entry.axes, entry.units, entry.meaning, data))
    return made


def write_arrays(group: h5py.Group, arrays: Iterable[LabelledArray], packed: bool = True) -> None:
    """Write `arrays` into `group`; their axes are looked for there, then at the root; packed : if they are long"""
    for array in sorted(arrays, key=lambda one: not one.is_scale):  # the others are hung on scales
        data = np.asarray(array.data)
        text = data.dtype.kind in "OU"
        options = _PACKED if packed and data.size > 64 else {}
        options = {"dtype": h5py.string_dtype()} if text else options
        dataset = group.create_dataset(array.name, data=data.astype(object) if text else data, **options)
        dataset.attrs["units"] = array.units
        dataset.attrs["long_name"] = array.meaning
        if array.is_scale:
            dataset.make_scale(array.name)
            continue
        for k, axis in enumerate(array.axes):
            dataset.dims[k].attach_scale(group[axis] if axis in group else group.file[axis])


def write_record(group: h5py.Group, record: Any, packed: bool = False) -> None:
    """Write the attributes and arrays that the class of `record` states into `group`."""
    entries, values = {}, {}
    for field, together in stated(type(record)).items():
        ((name, entry),) = together.arrays.items()
        value = getattr(record, field)
        if not entry.attribute:
            entries[name], values[name] = entry, value
        elif entry.kind == "real":
            group.attrs[name], group.attrs[f"{name}_units"] = float(value), entry.units
        else:
            group.attrs[name] = value
    write_arrays(group, labelled(entries, values), packed)


def read_record(record: type[T], group: h5py.Group, **given: Any) -> T:
    """The fields that `record` states, from `group`, and those that are `given`."""
    read = {
        field: together.make(*(_values(group, name, entry) for name, entry in together.arrays.items()))
        for field, together in stated(record).items()
    }
    return record(**read, **given)


def read_rows(record: type[T], group: h5py.Group) -> tuple[T, ...]:
    """A record of each row of the arrays that it states."""
    fields = stated(record)
    columns = {
        field: [_values(group, name, entry) for name, entry in together.arrays.items()]
        for field, together in fields.items()
    }
    count = len(next(iter(columns.values()))[0])
    return tuple(
        record(**{field: fields[field].make(*(column[k] for column in some)) for field, some in columns.items()})
        for k in range(count)
    )


def _values(group: h5py.Group, name: str, entry: Entry) -> Any:
    """An attribute, or an array of the group or of the root; a device's number becomes its name."""
    if entry.attribute:
        return text_of(group.attrs[name]) if entry.kind == "text" else group.attrs[name]
    data = group[name] if name in group else group.file[name]
    if entry.kind == "text":
        return data.asstr()[()]
    values = data[()]
    if entry.places_of == ("device",):
        return np.array([*group.file["device"].asstr()[()], ""], dtype=object)[values]  # -1, no unit: the last
    return values.astype(bool) if entry.yes else values
