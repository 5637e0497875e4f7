"""How the layout of a file is stated: for each array and attribute what it is and which values it may hold.

Fields of a dataclass are annotated with it. Writer and reader (records.py), and the checks (checked.py), go by it.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import partial
from typing import Any, Literal, get_type_hints

from numpy.typing import NDArray

Kind = Literal["text", "whole", "real", "complex"]

LARGEST: Mapping[str, float] = {"dB": 1e3, "dB2": 1e6, "Hz": 1e5, "s": 1e6, "m": 1e5, "m2": 1e10}
"""Sizes that no number of that unit reaches in a room, with much to spare."""
LARGEST_OTHER = 1e15
"""Of all other units: squares of it still fit into single precision, so that nothing overflows further on."""
SMALLEST_POSITIVE = 1e-15
"""What must be above 0 is divided by further on."""


@dataclass(frozen=True)
class Entry:
    """An array or attribute: what it is, and what is right for it.

    axes : name of each dimension, () for a single value; an array whose only axis has its own name is its scale, and
        all others along it are as long. An axis is looked for in the own group, then at the root of the file
    units, meaning : attributes `units` and `long_name`; an attribute has its units beside it as `<name>_units`
    kind : of the values; real is double precision, complex single or double
    least, most : of the values, besides LARGEST; positive : above 0
    nan, infinite : whether a value may be NaN (not known), infinite
    absent : axes of which whole places may be missing, NaN in every array of the group that names them
    order : 'rising', 'even' (rising in equal steps), 'distinct' or 'counted' (in steps of 1 from `least`)
    choices : texts or numbers that are allowed; fixed : the very texts it holds
    places_of : axis whose places, counted from 0, these are; one for each column if there are several
    gaps : the places are those between the values of the axis
    member_of : array at the root that holds each of these values
    none : value that stands for "there is none" beside those of places_of or member_of
    shortest : fewest values along its axis, of a scale
    attribute : whether it is an attribute of the group; called : its name in the file, "" for that of the field
    """

    axes: tuple[str, ...]
    units: str
    meaning: str
    kind: Kind = "real"
    least: float = -math.inf
    most: float = math.inf
    positive: bool = False
    nan: bool = False
    infinite: bool = False
    absent: tuple[str, ...] = ()
    order: Literal["", "rising", "even", "distinct", "counted"] = ""
    choices: tuple[str | float, ...] = ()
    fixed: tuple[str, ...] = ()
    places_of: tuple[str, ...] = ()
    gaps: bool = False
    member_of: str = ""
    none: int | None = None
    shortest: int = 0
    attribute: bool = False
    called: str = ""

    @property
    def yes(self) -> bool:
        """Whether it is 1 for yes and 0 for no."""
        return self.kind == "whole" and self.choices == (0.0, 1.0)

    @property
    def low(self) -> float:
        """Smallest value that is right."""
        return max(self.least, SMALLEST_POSITIVE if self.positive else -self._limit)

    @property
    def high(self) -> float:
        """Largest value that is right."""
        return min(self.most, self._limit)

    @property
    def _limit(self) -> float:
        return LARGEST.get(self.units, LARGEST_OTHER)


@dataclass(frozen=True)
class Group:
    """A group of a file, or, stated with '*' at the end of its path, each of several of any names.

    link : what it is called: like its attribute of that name, written as `group_name` does; 'number': 0, 1, 2, …
    order : attribute that counts the groups from 0, without gaps
    at : attribute that holds the path of another group; shared : axes that are as long there
    fewest : how many there are at least, wherever there is the group around it
    """

    arrays: Mapping[str, Entry] = field(default_factory=dict)
    attributes: Mapping[str, Entry] = field(default_factory=dict)
    link: str = ""
    order: str = ""
    at: str = ""
    shared: tuple[str, ...] = ()
    fewest: int = 1


Layout = Mapping[str, Group]
"""Path of a group, '' for the root -> what is in it; groups before what is in them."""


@dataclass(frozen=True)
class Together:
    """Arrays that one field of a record is made from: `make` takes their values in this order."""

    arrays: Mapping[str, Entry]
    make: Callable[..., Any]


def stated(record: type) -> dict[str, Together]:
    """What each field of a dataclass is made from, of those whose annotation states it."""
    found: dict[str, Together] = {}
    module = vars(sys.modules[record.__module__])
    for name, hint in get_type_hints(record, module, {}, include_extras=True).items():
        for note in getattr(hint, "__metadata__", ()):
            plain = isinstance(note, Entry)
            found[name] = Together({note.called or name: note}, partial(_as, hint.__origin__)) if plain else note
    return found


def _as(kind: Any, value: Any) -> Any:
    """A value as a field of that type."""
    if kind in (float, int, bool, str):
        return kind(value)
    return tuple(value.tolist()) if getattr(kind, "__origin__", None) is tuple else value


def arrays_of(record: type, axis: str = "") -> dict[str, Entry]:
    """The arrays that a dataclass states; axis : along which a table of such records has its rows"""
    return {
        name: replace(entry, axes=(axis, *entry.axes)) if axis else entry
        for field in stated(record).values()
        for name, entry in field.arrays.items()
        if not entry.attribute
    }


def attributes_of(record: type) -> dict[str, Entry]:
    """The attributes that a dataclass states."""
    every = (item for field in stated(record).values() for item in field.arrays.items())
    return {name: entry for name, entry in every if entry.attribute}


def text(meaning: str, axis: str = "", choices: tuple[str, ...] = (), **more: Any) -> Entry:
    """A text, or texts along an axis."""
    return Entry((axis,) if axis else (), "1", meaning, "text", choices=choices, **more)


def names(axis: str, meaning: str, **more: Any) -> Entry:
    """The scale of an axis that names its places."""
    return Entry((axis,), "1", meaning, "text", order="distinct", shortest=1, **more)


def numbers(axis: str, meaning: str, first: int = 1, shortest: int = 0) -> Entry:
    """The scale of an axis that only counts its places."""
    return Entry((axis,), "1", meaning, "whole", least=first, order="counted", shortest=shortest)


def attribute(units: str, meaning: str, kind: Kind = "real", **more: Any) -> Entry:
    """An attribute of a group."""
    return Entry((), units, meaning, kind, attribute=True, **more)


PRESSURE_PER_VELOCITY = "Pa/(m3/s)"
XYZ = Entry(("axis",), "1", "axis", "text", fixed=("x", "y", "z"))
SCENE = text("text of the scene file", called="scene")
VERSION = text("version of the program", attribute=True, called="version")
COMPUTED = "SHA-256 of everything that the numbers depend on"


@dataclass(frozen=True, eq=False)
class LabelledArray:
    """A dataset with all that a reader needs to know about it.

    name : of the dataset; axes : name of each dimension, () for a single number
    units, meaning : attributes `units` and `long_name`; data : numbers or texts
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
