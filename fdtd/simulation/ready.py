"""The wait for the compiled simulation: begun while the room is being cut, told while it lasts."""

from __future__ import annotations

from collections.abc import Callable
from time import monotonic

from fdtd.simulation.warm import warm_up

COMPILING = "compiling for this machine (the first run only)"
UNTOLD = 0.7
"""s that reading the compiled simulation from disk may take without a word."""
LOOK = 0.2
"""s between two reports."""


class Ready:
    """Compiles, or reads from disk, the simulation of one precision in the background from the moment it is made."""

    def __init__(self, precision: str = "double") -> None:
        self._compiled = warm_up(precision)

    def wait(self, report: Callable[[float, str], None] | None, fraction: float = 0.0) -> None:
        """Return when a simulation can begin at once; says so with `report(fraction, message)` if that takes long.

        Raises what compiling raised, such as MemoryError.
        """
        start, look = monotonic(), UNTOLD
        while True:
            try:
                return self._compiled.result(look)
            except TimeoutError:
                look = LOOK
            if report is not None:
                report(fraction, f"{COMPILING}, {monotonic() - start:.0f} s")
