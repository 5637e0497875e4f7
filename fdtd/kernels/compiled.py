"""How the kernels are compiled: options, and a name for what is kept on disk that changes with any of their sources."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from pathlib import Path
from types import FunctionType
from typing import Any

import numba
import numpy as np

FAST_MATH = {"contract", "nsz", "arcp"}
"""Liberties with sums and products that leave infinities and what is not a number as they are."""
_OPTIONS: dict[str, Any] = {"error_model": "numpy", "fastmath": FAST_MATH}
_UNSEEN: dict[str, Any] = {"no_cpython_wrapper": True, "no_cfunc_wrapper": True}
_COUNTED: dict[str, Any] = {"_nrt": True, **_OPTIONS, **_UNSEEN}
_UNCOUNTED: dict[str, Any] = {**_COUNTED, "_nrt": False}
phase: Callable[[Any], Any] = numba.njit(**_COUNTED)
"""A part of a kernel, kept on disk only as part of it; without an entry from Python, a third of the compiling."""
steady: Callable[[Any], Any] = numba.njit(**_UNCOUNTED)
"""A phase that makes no arrays: it counts no references to those in its tables, which takes longer than some phases,
and more so in a thread group, as the counts are shared."""
inline: Callable[[Any], Any] = numba.njit(inline="always", **_OPTIONS)
"""Pasted into its caller before compilation: calls would cost more than the arithmetic."""

_OTHERS = ("gpu", "designs")
"""Beginnings of the names of modules that no kernel of the simulation on the CPU calls."""


@inline
def place(index):
    """An index that cannot be negative: places in arrays need no check then for counting from the end."""
    return np.uint64(index)


def kernel(function: Any) -> Any:
    """Compiled, free of the interpreter's lock, and kept on disk under a name that holds a digest of the sources.

    The compiler's disk cache looks only at the file in which a function stands, not at those it calls.
    """
    digest = hashlib.sha256()
    for path in sorted(Path(__file__).parent.glob("*.py")):
        if not path.name.startswith(_OTHERS):
            digest.update(path.read_bytes())
    name = f"{function.__name__}_{digest.hexdigest()[:12]}"
    named = FunctionType(function.__code__, function.__globals__, name, function.__defaults__, function.__closure__)
    named.__qualname__, named.__doc__, named.__module__ = name, function.__doc__, function.__module__
    return numba.njit(cache=True, nogil=True, **_OPTIONS)(named)


def available_threads() -> int:
    """Threads that a simulation may use."""
    return int(numba.get_num_threads())
