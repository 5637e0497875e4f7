"""HDF5 files written whole or not at all, also when the disk is full.

The HDF5 library writes what it still holds when a file is closed. If it can't, it tears the file down half closed and
crashes the process. So it never learns of a failure: errors are remembered, and raised when it has closed the file.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import h5py

from fdtd.results.files import replaced_file

CHECKSUMMED = ("v110", "v110")
"""Of the library's formats the one whose own tables have checksums: damage in them is an error, not a crash."""


class _Remembering(io.FileIO):
    """A file to which writing always seems to succeed; error : the first that the operating system told, if any."""

    error: OSError | None = None

    def write(self, data: memoryview) -> int:  # type: ignore[override]
        left = data
        while len(left) and self.error is None:  # one call may write a part only
            try:
                left = left[super().write(left) :]
            except OSError as error:
                self.error = error
        return len(data)

    def truncate(self, size: int | None = None) -> int:
        try:
            return super().truncate(size)
        except OSError as error:
            self.error = self.error or error
            return self.tell() if size is None else size


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
