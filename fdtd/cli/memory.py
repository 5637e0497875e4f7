"""Memory that a command needs before it reads any scene, checked first because libraries crash when they run out."""

from __future__ import annotations

import functools
import os
from collections.abc import Callable
from typing import Any, TypeVar

from fdtd.errors import FdtdError

Command = TypeVar("Command", bound=Callable[..., Any])

A_THREAD = 10
"""MB of address space for each thread that computes, its stack for the most part."""
SHORT = "can't start new thread"
"""What Python says when there is no room for the stack of a thread, or no process is left to the user."""
TOO_LARGE = (
    "not enough memory. Choose a coarser grid (--grid with a larger value); 'fdtd check' tells how much is needed."
)

NO_THREAD = (
    "no further thread could be started: either memory is short (choose a coarser grid: --grid with a larger value), "
    "or the number of processes is limited (ulimit -u). Raise the limit, or set NUMBA_NUM_THREADS to fewer threads."
)


def needing(megabytes: int) -> Callable[[Command], Command]:
    """A command that is refused if fewer than this many MB of address space are allowed.

    They are measured, with a margin; simulations take the most, when the first of them compiles.
    """

    def wrap(command: Command) -> Command:
        @functools.wraps(command)
        def checked(*arguments: Any, **options: Any) -> Any:
            allowed = allowed_megabytes()
            needed = megabytes + A_THREAD * threads()
            if allowed is not None and allowed < needed:
                raise FdtdError(
                    f"not enough memory: this process may use {allowed:.0f} MB (ulimit -v), and 'fdtd "
                    f"{command.__name__}' needs {needed} MB for the program alone. "
                    "Raise the limit, or set NUMBA_NUM_THREADS to fewer threads (10 MB each)."
                )
            return command(*arguments, **options)

        return checked  # type: ignore[return-value]

    return wrap


def threads() -> int:
    """Threads that will compute, as numba counts them; it is not imported for that, it is part of what is refused."""
    wanted = os.environ.get("NUMBA_NUM_THREADS", "")
    if wanted.isdecimal():
        return max(int(wanted), 1)
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def allowed_megabytes() -> float | None:
    """MB of address space that this process may have; None without a limit."""
    try:
        import resource
    except ImportError:  # not Unix
        return None
    limit = resource.getrlimit(resource.RLIMIT_AS)[0]
    return None if limit == resource.RLIM_INFINITY else limit / 1e6
