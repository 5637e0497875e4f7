"""Result file: one HDF5 file that holds a whole run, with dimension scales, units and meanings on every dataset."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import h5py
import numpy as np

from fdtd.errors import ResultFileError
from fdtd.results.checked import text_of
from fdtd.results.hdf5_files import replaced_hdf5
from fdtd.results.layout import CELL, EDGES, FORMAT, NUMBER, PROGRAM, group_name
from fdtd.results.opening import RESULT, opened
from fdtd.results.placement_record import Unit
from fdtd.results.records import labelled, read_record, read_rows, write_arrays, write_record
from fdtd.results.result import CellGrid, RunResult, UnitResult, VariantResult
from fdtd.results.statement import XYZ, Derived, arrays_of


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
            file.attrs.update({"format": FORMAT, "program": PROGRAM})
            write_record(file, result)
            file.create_group("cells")
            file.create_group("variants")
            _write_variants(file, result)
            for name, groups in (derived or {}).items():
                for group, arrays in groups.items():
                    write_arrays(file["variants"][group_name(name)].create_group(group), arrays)
    except ValueError as error:
        raise ResultFileError(f"{path}: the result could not be written ({error})") from error


def _same_cells(a: CellGrid, b: CellGrid) -> bool:
    return a is b or (
        np.array_equal(a.index, b.index)
        and np.array_equal(a.volume, b.volume)
        and all(np.array_equal(x, y) for x, y in zip(a.edges, b.edges, strict=True))
    )


def _write_variants(file: h5py.File, result: RunResult) -> None:
    written: list[CellGrid] = []
    for order, variant in enumerate(result.variants):
        number = next((k for k, cells in enumerate(written) if _same_cells(cells, variant.cells)), len(written))
        count = labelled(CELL, {"cell": np.arange(len(variant.cells.volume), dtype=np.int32)})
        if number == len(written):
            written.append(variant.cells)
            group = file["cells"].create_group(str(number))
            edges = dict(zip(EDGES, variant.cells.edges, strict=True))
            write_arrays(group, [*count, *labelled(EDGES | {"axis": XYZ}, edges | {"axis": XYZ.fixed})])
            write_record(group, variant.cells, packed=True)
        group = file["variants"].create_group(group_name(variant.name))
        group.attrs.update({"order": order, "cells": f"/cells/{number}"})
        # The cell axis is repeated in each variant, because a reader looks for axes in the group itself and above it.
        write_arrays(group, count)
        write_record(group, variant)
        entries = NUMBER | arrays_of(Unit, "unit")
        columns = {name: [getattr(unit, name) for unit in variant.placed] for name in arrays_of(Unit)}
        placed = labelled(entries, {"unit": range(1, len(variant.placed) + 1), **columns})
        write_arrays(group.create_group("placed"), placed)
        units = group.create_group("units")
        for k, unit in enumerate(variant.units):
            write_record(units.create_group(str(k)), unit)


def read_result(path: str | Path) -> RunResult:
    """Read a result file whole.

    Raises
    ------
    ResultFileError
        If the file is missing, is not a result file, has another format number, or is damaged.
    """
    with opened(path, RESULT) as file:
        cells = {f"/cells/{name}": _read_cells(group) for name, group in file["cells"].items()}
        groups = sorted(file["variants"].values(), key=lambda group: int(group.attrs["order"]))
        return read_record(RunResult, file, variants=tuple(_read_variant(group, cells) for group in groups))


def _read_cells(group: h5py.Group) -> CellGrid:
    edges: Any = tuple(group[name][()] for name in EDGES)
    return read_record(CellGrid, group, edges=edges)


def _read_variant(group: h5py.Group, cells: dict[str, CellGrid]) -> VariantResult:
    units = (group["units"][str(k)] for k in range(len(group["units"])))
    return read_record(
        VariantResult,
        group,
        cells=cells[text_of(group.attrs["cells"])],
        placed=read_rows(Unit, group["placed"]),
        units=tuple(read_record(UnitResult, unit) for unit in units),
    )
