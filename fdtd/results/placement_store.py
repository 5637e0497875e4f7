"""Files of a placement study: batches of measured places that are kept while it runs, and its result file."""

from __future__ import annotations

import hashlib
import shutil
from collections.abc import Mapping, Sequence
from pathlib import Path

import h5py
import numpy as np
from numpy.typing import NDArray

from fdtd.results.hdf5_files import replaced_hdf5
from fdtd.results.layout import PROGRAM
from fdtd.results.placement_layout import FORMAT
from fdtd.results.records import write_arrays
from fdtd.results.statement import LabelledArray

KEPT = 3
"""Rooms whose batches are kept in a work folder, the ones used last."""

Groups = Mapping[str, Sequence[LabelledArray]]
"""Group name, "" for the root -> arrays."""


WORK = "work"
"""Folder for measured places, inside the results folder."""


class BatchFolder:
    """Finished batches in a folder, one file each, so that a study that was stopped goes on where it was.

    Files are found by the key, a hash of all that the numbers depend on. A file that is damaged, or not of that key and
    number, counts as missing. reused, saved : batches so far.
    """

    def __init__(self, folder: str | Path) -> None:
        self.folder = Path(folder)
        self.reused, self.saved = 0, 0

    def load(self, key: str, number: int) -> NDArray[np.complexfloating] | None:
        """The batch, or None if it is not there whole."""
        path = self._path(key, number)
        try:
            with h5py.File(path, "r") as file:
                values = file["transfer"][()]
                right = (file.attrs["key"], int(file.attrs["number"]), file.attrs["digest"])
        except (OSError, KeyError, ValueError, TypeError, RuntimeError):
            return None
        if right != (key, number, _digest(values)):
            return None
        path.parent.touch()  # used last
        self.reused += 1
        return np.asarray(values)

    def save(self, key: str, number: int, values: NDArray[np.complexfloating]) -> None:
        """Keep a batch. Raises UnwritableError."""
        with replaced_hdf5(self._path(key, number)) as file:
            data = np.ascontiguousarray(values)
            file.create_dataset("transfer", data=data).attrs["units"] = "Pa/(m3/s)"
            file.attrs.update({"key": key, "number": number, "digest": _digest(data)})
        self.saved += 1

    def tidy(self, kept: int = KEPT) -> None:
        """Delete the batches of all rooms but the `kept` used last."""
        if not self.folder.is_dir():
            return
        for kind in ("room-*", "loops-*"):
            rooms = sorted((f for f in self.folder.glob(kind) if f.is_dir()), key=lambda f: -f.stat().st_mtime)
            for room in rooms[kept:]:
                shutil.rmtree(room, ignore_errors=True)

    def _path(self, key: str, number: int) -> Path:
        loops = key.startswith("loops-")
        name = f"loops-{hashlib.sha256(key.encode()).hexdigest()[:16]}" if loops else f"room-{key[:16]}"
        return self.folder / name / f"batch-{number + 1:03d}.h5"


def _digest(values: NDArray) -> str:
    shape = repr((values.shape, values.dtype.str)).encode()
    return hashlib.sha256(shape + np.ascontiguousarray(values).tobytes()).hexdigest()


def write_placement(path: str | Path, attributes: Mapping[str, str | float], groups: Groups) -> Path:
    """Write a study to `path` (HDF5, docs/result-file.md), whole or not at all; returns the path.

    attributes : of the root, besides format and program; groups : arrays. An array's axes are looked for in its own
    group, then at the root. Raises UnwritableError.
    """
    target = Path(path)
    with replaced_hdf5(target) as file:
        file.attrs.update({"format": FORMAT, "program": PROGRAM, "study": "placement", **attributes})
        for name in sorted(groups):  # the root first
            write_arrays(file.require_group(name) if name else file, groups[name])
    return target
