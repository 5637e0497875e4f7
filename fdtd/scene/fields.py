"""A field of a table: what a key means, its type, unit, range and default."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Any

from fdtd.scene.text import number

REQUIRED = object()
"""Default of a field that has none."""


@dataclass(frozen=True)
class Field:
    """A key of a table.

    kind : one of `kinds.KINDS`; meaning : for messages and the reference
    low, high : range (low itself excluded if `above`)
    not_yet : for a key of the format that this version can't use: what to do instead
    in_room : whether it is compared with the room, which tells best what a place in cm or mm would be in m
    """

    key: str
    kind: str
    meaning: str
    unit: str = ""
    default: Any = REQUIRED
    low: float = -math.inf
    high: float = math.inf
    above: bool = False
    choices: tuple[Any, ...] = ()
    not_yet: str = ""
    in_room: bool = False

    @property
    def short(self) -> str:
        """The meaning up to its first punctuation mark, to stand inside a sentence."""
        return re.split(r"[;:,]", self.meaning)[0]

    @property
    def in_unit(self) -> str:
        """' in m', or nothing for a pure number."""
        return f" in {self.unit}" if self.unit else ""

    @property
    def range(self) -> str:
        """The range in words, with the unit."""
        unit = f" {self.unit}" if self.unit else ""
        if self.low == -math.inf and self.high == math.inf:
            return ""
        if self.high == math.inf:
            return f"{'more than' if self.above else 'at least'} {number(self.low)}{unit}"
        if self.above:
            return f"more than {number(self.low)} and at most {number(self.high)}{unit}"
        return f"from {number(self.low)} to {number(self.high)}{unit}"
