"""Batches survive a stop and are not believed when damaged; the study's file opens elsewhere."""

from __future__ import annotations

import os
from pathlib import Path

import h5py
import numpy as np
import pytest

from fdtd.errors import ResultFileError, UnwritableError
from fdtd.results.placement_reader import is_placement, read_placement
from fdtd.results.placement_store import BatchFolder, write_placement
from fdtd.results.statement import LabelledArray

KEY, OTHER = "a" * 64, "b" * 64


def batch(seed: int = 1) -> np.ndarray:
    return np.random.default_rng(seed).standard_normal((3, 4, 5, 2)).view(complex)[..., 0]


def only_file(folder: Path) -> Path:
    (path,) = folder.rglob("batch-*.h5")
    return path


def test_what_was_saved_comes_back_to_the_bit(tmp_path: Path) -> None:
    BatchFolder(tmp_path).save(KEY, 1, batch())
    again = BatchFolder(tmp_path)
    loaded = again.load(KEY, 1)
    assert loaded is not None and np.array_equal(loaded, batch())
    assert again.load(KEY, 0) is None and again.load(OTHER, 1) is None
    assert (again.reused, again.saved) == (1, 0)
    assert list(tmp_path.rglob(".writing-*")) == []


@pytest.mark.parametrize("harm", ["cut", "noise", "empty", "changed", "renamed", "other key"])
def test_a_damaged_or_wrong_batch_counts_as_missing(tmp_path: Path, harm: str) -> None:
    store = BatchFolder(tmp_path)
    store.save(KEY, 0, batch())
    path = only_file(tmp_path)
    if harm == "cut":
        path.write_bytes(path.read_bytes()[:-200])
    elif harm == "noise":
        path.write_bytes(os.urandom(3000))
    elif harm == "empty":
        path.write_bytes(b"")
    elif harm == "changed":
        with h5py.File(path, "r+") as file:
            file["transfer"][0, 0, 0] = 7.0
    elif harm == "renamed":
        path.rename(path.with_name("batch-002.h5"))
    else:
        with h5py.File(path, "r+") as file:
            file.attrs["key"] = KEY[:16] + OTHER[16:]  # the same folder by its first letters
    assert store.load(KEY, 1 if harm == "renamed" else 0) is None
    store.save(KEY, 0, batch(2))
    loaded = store.load(KEY, 0)
    assert loaded is not None and np.array_equal(loaded, batch(2))


def test_only_the_rooms_used_last_are_kept(tmp_path: Path) -> None:
    store = BatchFolder(tmp_path)
    for number, letter in enumerate("abcd"):
        store.save(letter * 64, 0, batch())
        os.utime(only_file(tmp_path / f"room-{letter * 16}").parent, (1e9 + number, 1e9 + number))
    assert store.load("a" * 64, 0) is not None  # used again: now the last
    (tmp_path / "notes").mkdir()
    store.tidy(2)
    assert sorted(f.name[:6] for f in tmp_path.iterdir()) == ["notes", "room-a", "room-d"]


def test_a_folder_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    blocked = tmp_path / "work"
    blocked.write_text("a file, no folder")
    with pytest.raises(UnwritableError, match=r"work.*cannot be written: part of this path is a file"):
        BatchFolder(blocked).save(KEY, 0, batch())
    assert BatchFolder(blocked).load(KEY, 0) is None
    BatchFolder(blocked).tidy()
    with pytest.raises(UnwritableError, match="placement.h5"):
        write_placement(blocked / "placement.h5", {}, {})


def test_arrays_have_axes_units_and_meaning(tmp_path: Path) -> None:
    frequency = np.array([20.0, 30.0])
    groups = {
        "": [
            LabelledArray("matrix", ("frequency", "seat"), "Pa/(m3/s)", "pressure", np.ones((2, 1), complex)),
            LabelledArray("frequency", ("frequency",), "Hz", "frequency", frequency),
            LabelledArray("seat", ("seat",), "1", "seat", np.array(["sofa"], dtype=object)),
        ],
        "sure/singles": [
            LabelledArray("place", ("place",), "1", "number", np.array([4, 2])),
            LabelledArray("level", ("place", "seat"), "dB", "level", np.zeros((2, 1))),
        ],
    }
    path = write_placement(tmp_path / "placement.h5", {"title": "room", "grid": 0.1}, groups)
    with h5py.File(path, "r") as file:
        assert (file.attrs["program"], file.attrs["study"], file.attrs["title"]) == ("fdtd", "placement", "room")
        assert file["matrix"].dims[0][0].name == "/frequency"
        assert file["matrix"].attrs["units"] == "Pa/(m3/s)"
        level = file["sure/singles/level"]
        assert [d[0].name for d in level.dims] == ["/sure/singles/place", "/seat"]
    xarray = pytest.importorskip("xarray")
    with xarray.open_datatree(path, engine="h5netcdf") as tree:
        assert tree["sure/singles"]["level"].dims == ("place", "seat")
        assert float(tree["matrix"].sel(frequency=20.0).real.sum()) == 1.0


@pytest.mark.parametrize("harm", ["missing", "folder", "noise", "run", "old", "new", "cut"])
def test_a_file_that_is_not_a_study_is_refused_in_words(tmp_path: Path, harm: str) -> None:
    path = tmp_path / "placement.h5"
    told = {
        "missing": "no such file",
        "folder": "is a folder",
        "noise": "not HDF5",
        "run": "not a placement study",
        "old": "format 1.*run 'fdtd place' again",
        "new": "format 99.*newer version",
        "cut": "damaged or cut short",
    }
    if harm == "folder":
        path.mkdir()
    elif harm == "noise":
        path.write_bytes(os.urandom(3000))
    elif harm != "missing":
        write_placement(path, {}, {})
        with h5py.File(path, "r+") as file:
            if harm == "run":
                del file.attrs["study"]
            elif harm in ("old", "new"):
                file.attrs["format"] = 1 if harm == "old" else 99
    with pytest.raises(ResultFileError, match=told[harm]):
        read_placement(path)
    assert is_placement(path) is (harm in ("old", "new", "cut"))
