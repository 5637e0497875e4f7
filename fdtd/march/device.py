"""Where marches run: on the processor, on graphics cards, or wherever they are done sooner. One choice a command."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from threading import Lock
from typing import TYPE_CHECKING

from fdtd.march.gpu_choice import CardError, check_memory, choose_device
from fdtd.march.gpu_tables import LANES_TOGETHER
from fdtd.model.problem import Problem

if TYPE_CHECKING:
    from fdtd.kernels.gpu import Card


@dataclass
class _Setting:
    """wish : 'cpu', 'gpu' or 'auto'; tell : hears where marches go and why, each reason once."""

    wish: str = "cpu"
    tell: Callable[[str], None] = lambda words: None
    told: set[str] = field(default_factory=set)
    lock: Lock = field(default_factory=Lock)


_setting = _Setting()
ON_CARDS = Lock()
"""Marches on graphics cards take turns: each fills the cards by itself."""


@contextmanager
def marching_on(wish: str, tell: Callable[[str], None] = lambda words: None) -> Iterator[None]:
    """Marches inside run on `wish`: 'cpu', 'gpu' or 'auto'; without this, on the processor.

    It holds for all threads of the program, as a command has one wish.
    """
    global _setting
    before, _setting = _setting, _Setting(wish, tell)
    try:
        yield
    finally:
        _setting = before


def cards_for(problem: Problem, lanes: int, maps: int, precision: str, seconds: float) -> tuple[Card, ...]:
    """The cards that a march goes to, none for the processor; seconds : estimated time on the processor.

    Raises CardError if a card is wished for and there is none, or too small a one.
    """
    setting = _setting
    if setting.wish == "cpu":
        return ()
    with setting.lock:
        choice = choose_device(setting.wish, seconds)
        # A further card pays only when each has its fill of lanes.
        cards, reason = choice.cards[: max(1, lanes // LANES_TOGETHER)], choice.reason
        if cards:
            shares = [len(range(k, lanes, len(cards))) for k in range(len(cards))]
            try:
                check_memory(problem, shares, maps, precision, cards)
            except CardError as error:
                if setting.wish == "gpu":
                    raise
                cards, reason = (), f"the processor: {error}"
        # Many marches of a study differ in their size only; each reason is told once, whatever its numbers.
        kind = re.sub(r"less than a second|(about )?[\d.,]+( lanes?| s| min)?\b", "", reason)
        if kind not in setting.told:
            setting.told.add(kind)
            setting.tell(f"Marched on {reason}.")
    return tuple(cards)
