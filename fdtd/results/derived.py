"""Figures that were worked out from a result and are written beside it for other programs; this one makes them anew."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from numpy.typing import NDArray


@dataclass(frozen=True, eq=False)
class LabelledArray:
    """A dataset with all that a reader needs to know about it.

    name : of the dataset; axes : name of each dimension, () for a single number
    units, meaning : attributes `units` and `long_name`; data : numbers or texts
    An array whose only axis has its own name is the scale of that axis. An axis is looked for among the arrays of the
    same group first, then at the root of the file.
    """

    name: str
    axes: tuple[str, ...]
    units: str
    meaning: str
    data: NDArray[Any]

    @property
    def is_scale(self) -> bool:
        """True if it is the scale of its own axis."""
        return self.axes == (self.name,)


Derived = Mapping[str, Mapping[str, Sequence[LabelledArray]]]
"""Variant name -> group name in the variant's group -> arrays."""
