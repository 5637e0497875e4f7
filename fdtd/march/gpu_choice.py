"""Whether a march goes to a graphics card, and why; what it needs there."""

from __future__ import annotations

import importlib.util
import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

from fdtd.errors import FdtdError
from fdtd.march.gpu_tables import LANES_TOGETHER, lane_width
from fdtd.model.problem import Problem

if TYPE_CHECKING:
    from fdtd.kernels.gpu import Card

WORTH = 20.0
"""Seconds on the processor from which a card pays, its start included."""
USABLE = 0.9
"""Share of a card's free memory that a march may take."""
REMEDY = "use a coarser grid, fewer maps or --device cpu"
INSTALL = "pip install '.[gpu]'"


class CardError(FdtdError):
    """A graphics card that was asked for and is not there, or is too small."""


@dataclass(frozen=True)
class DeviceChoice:
    """cards : those to march on, none for the processor; reason : a finished phrase for the user."""

    cards: tuple[Card, ...]
    reason: str


@cache
def find_cards() -> tuple[tuple[Card, ...], str]:
    """The cards that can be used, and why there are none. Looked for once."""
    installed = importlib.util.find_spec("numba_cuda") is not None
    if not installed and os.environ.get("NUMBA_ENABLE_CUDASIM", "0") != "1":
        return (), f"the package for graphics cards is not installed; {INSTALL} adds it"
    try:
        from fdtd.kernels import gpu

        found = tuple(gpu.cards())
    except Exception as error:  # driver, compiler and array package must fit each other: anything may be raised here
        words = str(error).strip().splitlines()
        said = f"{type(error).__name__}: {words[0] if words else 'no message'}"
        return (), f"the part that marches on graphics cards did not start ({said}); try {INSTALL}"
    if found:
        return found, ""
    return (), "no graphics card with CUDA was found"


def choose_device(wish: str, seconds: float) -> DeviceChoice:
    """wish : 'cpu', 'gpu' or 'auto'; seconds : estimated time on the processor.

    Raises CardError if a card is wished for and there is none.
    """
    if wish == "cpu":
        return DeviceChoice((), "the processor, as asked")
    if wish == "auto" and seconds < WORTH:
        return DeviceChoice((), f"the processor: it takes {_time(seconds)} there")
    found, why = find_cards()
    if not found:
        if wish == "gpu":
            raise CardError(f"--device gpu: {why}. Or use --device cpu")
        return DeviceChoice((), f"the processor: {why}")
    name = found[0].name if len(found) == 1 else f"{len(found)} x {found[0].name}"
    if wish == "gpu":
        return DeviceChoice(found, f"the graphics card ({name}), as asked")
    return DeviceChoice(found, f"the graphics card ({name}): the processor would take {_time(seconds)}")


def _time(seconds: float) -> str:
    if seconds < 1.0:
        return "less than a second"
    return f"about {seconds:.0f} s" if seconds < 100.0 else f"about {seconds / 60.0:.0f} min"


def card_bytes(problem: Problem, lanes: int, maps: int, precision: str) -> int:
    """Memory that a march takes on a card: two pressures, walls and map sums a lane, and the room's tables."""
    real = 4 if precision == "single" else 8
    width = sum(lane_width(min(LANES_TOGETHER, lanes - k)) for k in range(0, lanes, LANES_TOGETHER))
    cells, faces, links = len(problem.cells.volume), len(problem.pieces.area), len(problem.loose.mass)
    state = cells * (2 + 2 * maps) + 4 * faces + 4 * links
    return int(state * width * real + cells * 16 + faces * 60 + (64 << 20))


def check_memory(problem: Problem, lanes: Sequence[int], maps: int, precision: str, cards: Sequence[Card]) -> None:
    """Raises CardError if the lanes of any card do not fit into its free memory."""
    for number, card in zip(lanes, cards, strict=True):
        need, have = card_bytes(problem, number, maps, precision), USABLE * card.free
        elements = (len(problem.cells.volume) + 4) * number
        if need <= have and elements < 1 << 32:
            continue
        what = f"{number} lane{'s' if number != 1 else ''} of {len(problem.cells.volume):,} cells"
        raise CardError(
            f"{what} need {need / 1e9:.1f} GB on the graphics card and may take {have / 1e9:.1f} GB of it: {REMEDY}"
        )


@contextmanager
def within_memory() -> Iterator[None]:
    """Raises CardError where the card's memory runs out all the same: another program may have taken it since."""
    try:
        yield
    except Exception as error:  # what is raised depends on the versions of driver and package; its text does not
        if "OUT_OF_MEMORY" not in str(error).upper().replace(" ", "_"):
            raise
        raise CardError(f"the memory of the graphics card ran out, though more was free before: {REMEDY}") from error
