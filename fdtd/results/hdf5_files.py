"""HDF5 files written whole or not at all, also when the disk is full.

The HDF5 library writes what it still holds when a file is closed. If it can't, it tears the file down half closed and
crashes the process. So it never learns of a failure: errors are remembered, and raised when it has closed the file.
"""

from __future__ import annotations

import io
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import h5py

from fdtd.results.files import replaced_file

CHECKSUMMED = ("v110", "v110")
"""Of the library's formats the one whose own tables have checksums: damage in them is an error, not a crash."""


class _Remembering(io.FileIO):
    """A file to which writing always seems to succeed; error : the first that the operating system told, if any.

    From then on what is written is kept in memory: the library reads again what it wrote, and crashes on anything else.
    """

    error: OSError | None = None
    _size = 0

    def __init__(self, path: Path, mode: str) -> None:
        super().__init__(path, mode)
        self._kept: list[tuple[int, bytes]] = []
        """Places and what was written there, in order."""

    def write(self, data: memoryview) -> int:  # type: ignore[override]
        left, end = data, self.tell() + len(data)
        while len(left) and self.error is None:  # one call may write a part only
            try:
                left = left[super().write(left) :]
            except OSError as error:
                self.error = error
        if len(left):
            start = end - len(left)
            covered = [start <= place and place + len(piece) <= end for place, piece in self._kept]
            self._kept = [one for one, gone in zip(self._kept, covered, strict=True) if not gone]
            self._kept.append((start, bytes(left)))
        self._size = max(self._size, end)
        self.seek(end)
        return len(data)

    def readinto(self, buffer: memoryview) -> int:  # type: ignore[override]
        """Fill all of `buffer`, with zeros where nothing was written: the library doesn't ask how much was read."""
        start, view, done = self.tell(), memoryview(buffer), 0
        end = start + len(view)
        while part := super().readinto(view[done:]):
            done += part
        view[done:] = bytes(len(view) - done)
        for place, piece in self._kept:
            low, high = max(start, place), min(end, place + len(piece))
            if low < high:
                view[low - start : high - start] = piece[low - place : high - place]
        self.seek(end)
        return len(view)

    def seek(self, offset: int, whence: int = os.SEEK_SET) -> int:
        if whence == os.SEEK_END:
            return super().seek(self._size + offset)
        return super().seek(offset, whence)

    def truncate(self, size: int | None = None) -> int:
        self._size = end = self.tell() if size is None else size
        self._kept = [(place, piece[: end - place]) for place, piece in self._kept if place < end]
        try:
            return super().truncate(end)
        except OSError as error:
            self.error = self.error or error
            return end


@contextmanager
def replaced_hdf5(path: str | Path) -> Iterator[h5py.File]:
    """Yield an HDF5 file to write to; it stands at `path` once it is complete. Raises UnwritableError."""
    with replaced_file(path) as temporary, _Remembering(temporary, "w+") as stream:
        try:
            with h5py.File(stream, "w", libver=CHECKSUMMED) as file:
                yield file
        finally:
            if stream.error is not None:  # also in place of what the library makes of pieces that it can't read again
                raise stream.error
