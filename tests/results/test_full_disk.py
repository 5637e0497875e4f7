"""A full disk ends in one error: nothing crashes, nothing is left over, earlier results stay as they are."""

from __future__ import annotations

import errno
import io
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from limited import check_full_disk

from fdtd.errors import UnwritableError
from fdtd.listening.animation_audible import write_audible
from fdtd.results import hdf5_files
from fdtd.results.files import replaced_folder
from fdtd.results.placement_store import BatchFolder, write_placement
from fdtd.results.statement import LabelledArray
from fdtd.results.store import read_result, write_result
from fdtd.results.tables_csv import write_responses_csv

from .test_result_file import some_result

REMEDY = "Free some space, or choose another folder."
MANY = np.random.default_rng(4).standard_normal((40, 50, 20))


def placement(folder: Path) -> None:
    arrays = [LabelledArray(name, (), "1", "numbers", MANY) for name in ("one", "two")]
    write_placement(folder / "placement.h5", {"title": "room"}, {"": arrays, "more": arrays})


WRITERS: dict[str, Callable[[Path], object]] = {
    "result": lambda folder: write_result(some_result(), folder / "result.h5"),
    "placement": placement,
    "batch": lambda folder: BatchFolder(folder).save("k" * 64, 0, MANY + 1j),
    "table": lambda folder: write_responses_csv(some_result(), folder / "responses.csv"),
    "sound": lambda folder: write_audible([MANY[:4].reshape(4, -1)], [[folder / f"{k}.wav" for k in range(4)]]),
}


@pytest.mark.parametrize("kind", WRITERS)
def test_a_full_disk_is_said_and_harms_nothing(kind: str, tmp_path: Path) -> None:
    (tmp_path / "files").mkdir()
    check_full_disk(WRITERS[kind], tmp_path / "files")


class Disk(io.FileIO):
    left = 0

    def write(self, data: memoryview) -> int:  # type: ignore[override]
        Disk.left -= 1
        if Disk.left < 0:
            raise OSError(errno.ENOSPC, "No space left on device")
        return super().write(data[: max(1, len(data) // 2)])  # a part only, as near the end of a disk


class Stream(hdf5_files._Remembering, Disk):
    """Disk comes after it in the order of look-up."""


@pytest.mark.parametrize("writes", range(0, 200, 20))
def test_what_could_not_be_written_is_read_again_all_the_same(writes: int, tmp_path: Path) -> None:
    """The library reads its own pieces again while it writes, and trusts them: it crashes on any others."""
    draw, right = np.random.default_rng(writes), bytearray()
    Disk.left = writes
    with Stream(tmp_path / "file", "w+") as stream:
        for _ in range(60):
            place, length = (int(n) for n in draw.integers(0, 400, 2))
            piece = draw.bytes(length)
            right.extend(bytes(max(0, place + length - len(right))))
            right[place : place + length] = piece
            stream.seek(place)
            assert stream.write(memoryview(piece)) == length
            if draw.random() < 0.1:
                del right[int(draw.integers(0, len(right))) :]
                stream.truncate(len(right))
            assert stream.seek(0, io.SEEK_END) == len(right)
            place, length = (int(n) for n in draw.integers(0, 400, 2))
            found = memoryview(bytearray(b"?" * length))
            stream.seek(place)
            assert stream.readinto(found) == length and stream.tell() == place + length
            assert found == right[place : place + length].ljust(length, b"\0")
    assert (stream.error is None) == (Disk.left >= 0)


def test_a_disk_that_fills_up_in_one_of_many_writes(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each write of a result file in turn is the first that fails."""
    path = tmp_path / "result.h5"
    write_result(some_result(("old",)), path)
    before = path.read_bytes()
    monkeypatch.setattr(hdf5_files, "_Remembering", Stream)
    tried = 0
    while True:
        Disk.left = tried
        try:
            write_result(some_result(("new",)), path)
            break
        except UnwritableError as error:
            assert str(error) == f"{path}: cannot be written: the disk is full. {REMEDY}"
        assert path.read_bytes() == before and [p.name for p in tmp_path.iterdir()] == ["result.h5"]
        tried += 40
    assert tried > 100
    assert read_result(path).variants[0].name == "new"


def test_an_error_of_the_caller_is_not_taken_for_one_of_the_disk(tmp_path: Path) -> None:
    with pytest.raises(ZeroDivisionError), hdf5_files.replaced_hdf5(tmp_path / "x.h5") as file:
        file.create_dataset("much", data=MANY)
        raise ZeroDivisionError
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_cannot_take_its_place_leaves_the_older_one(tmp_path: Path) -> None:
    target = tmp_path / "pictures"
    with replaced_folder(target) as made:
        (made / "old.png").write_text("old")
    with pytest.raises(UnwritableError, match="pictures: cannot be written"), replaced_folder(target) as made:
        (made / "new.png").write_text("new")
        (made / "new.png").unlink()
        made.rmdir()  # so that it cannot be moved
    assert [p.name for p in tmp_path.rglob("*")] == ["pictures", "old.png"]
    with replaced_folder(target) as made:
        (made / "new.png").write_text("new")
    assert [p.name for p in tmp_path.rglob("*")] == ["pictures", "new.png"]
