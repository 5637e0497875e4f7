"""Result file: one HDF5 file that holds a whole run, with dimension scales, units and meanings on every dataset."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import h5py
import numpy as np
from numpy.typing import NDArray

from fdtd.errors import ResultFileError
from fdtd.results.checked import text_of
from fdtd.results.derived import Derived, LabelledArray
from fdtd.results.hdf5_files import replaced_hdf5
from fdtd.results.layout import (
    CELL,
    CELL_ARRAYS,
    FIELD_OF,
    FORMAT,
    PLACED,
    PROGRAM,
    ROOT_AXES,
    ROOT_NAMES,
    ROOT_NUMBERS,
    SCENE,
    UNIT_ARRAYS,
    UNIT_NUMBERS,
    VARIANT_ARRAYS,
    VARIANT_NUMBERS,
    VARIANT_TEXTS,
    XYZ,
    group_name,
)
from fdtd.results.opening import RESULT, opened
from fdtd.results.placement_record import Unit
from fdtd.results.responses_csv import write_responses_csv
from fdtd.results.result import CellGrid, RunResult, UnitResult, VariantResult
from fdtd.results.statement import Entry

__all__ = ["read_result", "write_labelled", "write_responses_csv", "write_result"]

_PACKED: dict[str, Any] = {"compression": "gzip", "compression_opts": 1, "shuffle": True}


def write_result(result: RunResult, path: str | Path, derived: Derived | None = None) -> None:
    """Write `result` to `path` (HDF5). An existing file is replaced only when the new one is complete.

    derived : arrays to write beside each variant's own, in groups; `read_result` passes over them

    Raises
    ------
    UnwritableError
        If the file cannot be written.
    ResultFileError
        If two variants have the same name, or if a text cannot be stored.
    """
    names = [v.name for v in result.variants]
    if len(set(names)) < len(names):
        raise ResultFileError(f"{path}: two variants have the same name, found {names}; give each its own")
    try:
        with replaced_hdf5(path) as file:
            _write_root(file, result)
            _write_variants(file, result)
            _write_derived(file, {} if derived is None else derived)
    except ValueError as error:
        raise ResultFileError(f"{path}: the result could not be written ({error})") from error


def _describe(dataset: h5py.Dataset, text: Entry | LabelledArray) -> h5py.Dataset:
    dataset.attrs["units"] = text.units
    dataset.attrs["long_name"] = text.meaning
    return dataset


def _write_root(file: h5py.File, result: RunResult) -> None:
    file.attrs["format"] = FORMAT
    file.attrs["program"] = PROGRAM
    file.attrs["version"] = result.program_version
    for name in ("created", "title", "computed_from", "precision"):
        file.attrs[name] = getattr(result, name)
    _write_numbers(file, result, ROOT_NUMBERS)
    text = h5py.string_dtype()
    _describe(file.create_dataset("scene", data=result.scene_text, dtype=text), SCENE)
    for name, entry in ROOT_AXES.items():
        data = np.asarray(getattr(result, name), dtype=float)
        _describe(file.create_dataset(name, data=data), entry).make_scale(name)
    for name, entry in ROOT_NAMES.items():
        data = np.array(list(getattr(result, f"{name}s")), dtype=object)
        _describe(file.create_dataset(name, data=data, dtype=text), entry).make_scale(name)
    file.create_group("cells")
    file.create_group("variants")


def _write_numbers(group: h5py.Group, found: object, numbers: Mapping[str, Entry]) -> None:
    """Attributes of `group` from fields of `found`, each with its unit beside it."""
    for name, entry in numbers.items():
        group.attrs[name] = float(getattr(found, name))
        group.attrs[f"{name}_units"] = entry.units


def _same_cells(a: CellGrid, b: CellGrid) -> bool:
    if a is b:
        return True
    pairs: list[tuple[NDArray[Any], NDArray[Any]]] = [
        *zip(a.edges, b.edges, strict=True),
        (a.index, b.index),
        (a.volume, b.volume),
    ]
    return all(np.array_equal(x, y) for x, y in pairs)


def _write_variants(file: h5py.File, result: RunResult) -> None:
    written: list[CellGrid] = []
    for order, variant in enumerate(result.variants):
        number = next((k for k, cells in enumerate(written) if _same_cells(cells, variant.cells)), len(written))
        if number == len(written):
            _write_cells(file["cells"].create_group(str(number)), variant.cells)
            written.append(variant.cells)
        group = file["variants"].create_group(group_name(variant.name))
        group.attrs["name"] = variant.name
        group.attrs["order"] = order
        group.attrs["cells"] = f"/cells/{number}"
        for name in VARIANT_TEXTS:
            group.attrs[name] = getattr(variant, name)
        group.attrs["steps"] = int(variant.steps)
        _write_numbers(group, variant, VARIANT_NUMBERS)
        _write_arrays(file, group, variant)
        _write_placed(group.create_group("placed"), variant.placed)
        _write_units(group.create_group("units"), variant.units)


def _write_arrays(file: h5py.File, group: h5py.Group, variant: VariantResult) -> None:
    # The cell axis is repeated in each variant, because a reader looks for axes in the group itself and above it.
    count = np.arange(len(variant.cells.volume), dtype=np.int32)
    _describe(group.create_dataset("cell", data=count, **_packing(count)), CELL).make_scale("cell")
    for name, entry in VARIANT_ARRAYS.items():
        data = np.asarray(getattr(variant, FIELD_OF.get(name, name)))
        if name == "source_polarity":
            data = data.astype(float)  # an integer cannot be NaN for a source that is not there
        dataset = _describe(group.create_dataset(name, data=data), entry)
        for k, axis in enumerate(entry.axes):
            dataset.dims[k].attach_scale(group["cell"] if axis == "cell" else file[axis])


def _write_placed(group: h5py.Group, placed: tuple[Unit, ...]) -> None:
    kinds: dict[str, type] = {"place": int, "device": object, "gain": float}
    columns: dict[str, NDArray[Any]] = {
        name: np.array([getattr(one, name) for one in placed], kind) for name, kind in kinds.items()
    }
    for name, data in {"unit": np.arange(1, len(placed) + 1), **columns}.items():
        entry = PLACED[name]
        write_labelled(group.file, group, LabelledArray(name, entry.axes, entry.units, entry.meaning, data))


def _write_units(parent: h5py.Group, units: tuple[UnitResult, ...]) -> None:
    for order, unit in enumerate(units):
        group = parent.create_group(str(order))
        group.attrs["name"] = unit.name
        _write_numbers(group, unit, UNIT_NUMBERS)
        for name, entry in UNIT_ARRAYS.items():
            data = np.asarray(getattr(unit, name), dtype=float)
            dataset = _describe(group.create_dataset(name, data=data), entry)
            if name == "band":
                dataset.make_scale("band")
            else:
                dataset.dims[0].attach_scale(group["band"])


def _packing(data: NDArray[Any]) -> dict[str, Any]:
    return _PACKED if data.size > 64 else {}


def _write_cells(group: h5py.Group, cells: CellGrid) -> None:
    arrays = {
        f"edge_{letter}": np.asarray(edges, dtype=float) for letter, edges in zip("xyz", cells.edges, strict=True)
    }
    arrays["cell"] = np.arange(len(cells.volume), dtype=np.int32)
    arrays["axis"] = np.array(XYZ.fixed, dtype=object)
    arrays["index"] = np.asarray(cells.index, dtype=np.int32)
    arrays["volume"] = np.asarray(cells.volume, dtype=float)
    for name, data in arrays.items():  # scales first
        entry = CELL_ARRAYS[name]
        write_labelled(group.file, group, LabelledArray(name, entry.axes, entry.units, entry.meaning, data))


def _write_derived(file: h5py.File, derived: Derived) -> None:
    for variant, groups in derived.items():
        for name, arrays in groups.items():
            group = file["variants"][group_name(variant)].create_group(name)
            # Scales first: the others are hung on them.
            for array in sorted(arrays, key=lambda one: not one.is_scale):
                write_labelled(file, group, array)


def write_labelled(file: h5py.File, group: h5py.Group, array: LabelledArray) -> None:
    """Write `array` into `group`; its axes are looked for there, then at the root of `file`."""
    data = np.asarray(array.data)
    text = data.dtype.kind in "OU"
    options = {"dtype": h5py.string_dtype()} if text else _packing(data) if data.ndim else {}
    dataset = group.create_dataset(array.name, data=data.astype(object) if text else data, **options)
    _describe(dataset, array)
    if array.is_scale:
        dataset.make_scale(array.name)
        return
    for k, axis in enumerate(array.axes):
        dataset.dims[k].attach_scale(group[axis] if axis in group else file[axis])


def read_result(path: str | Path) -> RunResult:
    """Read a result file whole.

    Raises
    ------
    ResultFileError
        If the file is missing, is not a result file, has another format number, or is damaged.
    """
    with opened(path, RESULT) as file:
        return _read_root(file)


def _read_root(file: h5py.File) -> RunResult:
    cells = {f"/cells/{name}": _read_cells(group) for name, group in file["cells"].items()}
    groups = sorted(file["variants"].values(), key=lambda group: int(group.attrs["order"]))
    fields: dict[str, Any] = {name: float(file.attrs[name]) for name in ROOT_NUMBERS}
    fields.update({name: file[name][()] for name in ROOT_AXES})
    return RunResult(
        title=text_of(file.attrs["title"]),
        scene_text=file["scene"].asstr()[()],
        program_version=text_of(file.attrs["version"]),
        created=text_of(file.attrs["created"]),
        computed_from=text_of(file.attrs["computed_from"]),
        precision=text_of(file.attrs["precision"]),
        sources=tuple(file["source"].asstr()[()]),
        seats=tuple(file["seat"].asstr()[()]),
        variants=tuple(_read_variant(group, cells) for group in groups),
        **fields,
    )


def _read_cells(group: h5py.Group) -> CellGrid:
    x, y, z = (group[f"edge_{letter}"][()] for letter in "xyz")
    return CellGrid(edges=(x, y, z), index=group["index"][()], volume=group["volume"][()])


def _read_variant(group: h5py.Group, cells: dict[str, CellGrid]) -> VariantResult:
    return VariantResult(
        name=text_of(group.attrs["name"]),
        cells=cells[text_of(group.attrs["cells"])],
        outcome=text_of(group.attrs["outcome"]),
        placed=_read_placed(group["placed"]),
        duration=float(group.attrs["duration"]),
        steps=int(group.attrs["steps"]),
        fallen=float(group.attrs["fallen"]),
        units=tuple(_read_unit(group["units"][str(k)]) for k in range(len(group["units"]))),
        **{FIELD_OF.get(name, name): group[name][()] for name in VARIANT_ARRAYS},
    )


def _read_placed(group: h5py.Group) -> tuple[Unit, ...]:
    columns = (group["place"][()].tolist(), group["device"].asstr()[()].tolist(), group["gain"][()].tolist())
    return tuple(Unit(*one) for one in zip(*columns, strict=True))


def _read_unit(group: h5py.Group) -> UnitResult:
    fields: dict[str, Any] = {name: float(group.attrs[name]) for name in UNIT_NUMBERS}
    fields.update({name: group[name][()] for name in UNIT_ARRAYS})
    return UnitResult(name=text_of(group.attrs["name"]), **fields)
