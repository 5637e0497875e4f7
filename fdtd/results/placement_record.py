"""What a placement study leaves behind, as plain numbers and words: all that figures and report are made from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True)
class Unit:
    """A unit on a place. place : its number; device : name; gain : of the device, 1 for one without control."""

    place: int
    device: str
    gain: float


@dataclass(frozen=True)
class PlaceRecord:
    """A candidate place. corner : 'corner', 'edge' or 'face'; at : m, centre of the face."""

    number: int
    words: str
    on: str
    corner: str
    at: tuple[float, float, float]


@dataclass(frozen=True)
class RankedPlace:
    """A place with the device and gain that suit it best.

    benefit : dB; shorter : mean share by which what rings dies away sooner; uneven, spread : dB more even over
        frequency and between the seats; louder : dB
    low, high : dB, 10 and 90 % of the perturbed rooms; on_top, helps : share of them in which it is among the first
        three, and better than no unit; NaN where not known
    alike : whether it can't be told from the first place, as far as the room is known
    """

    unit: Unit
    benefit: float
    shorter: float
    uneven: float
    spread: float
    louder: float
    low: float = float("nan")
    high: float = float("nan")
    on_top: float = float("nan")
    helps: float = float("nan")
    alike: bool = False


@dataclass(frozen=True, eq=False)
class CountRecord:
    """The best design of `count` units, against none and (adds_...) against the best of one unit less.

    benefit, adds : dB; shorter, uneven, louder : (seat,) share, dB, dB; added_* : likewise, of the last unit
    heard : (seat,) whether the last unit is heard there; added_heard : whether it is heard anywhere, for the better
    low, high, adds_low, adds_high : dB, 10 and 90 % of the perturbed rooms; heard_in, helps : share of them in which
        the last unit is heard for the better, and the design is better than no unit; NaN where not known
    verdict : in words
    """

    count: int
    units: tuple[Unit, ...]
    benefit: float
    adds: float
    shorter: NDArray[np.float64]
    uneven: NDArray[np.float64]
    louder: NDArray[np.float64]
    added_shorter: NDArray[np.float64]
    added_uneven: NDArray[np.float64]
    heard: NDArray[np.bool_]
    added_heard: bool
    verdict: str
    low: float = float("nan")
    high: float = float("nan")
    adds_low: float = float("nan")
    adds_high: float = float("nan")
    heard_in: float = float("nan")
    helps: float = float("nan")


@dataclass(frozen=True)
class Trial:
    """A design marched with its units in. kind : 'face' (in the plane of the wall, on the study's cells: nothing but
    rounding may differ) or 'built' (as it would stand, cabinet and all)

    predicted, marched : dB of benefit, marched NaN if the field grew; error : dB, largest difference of level at the
    seats; margin : dB of gain left before active units oscillate, infinite without any; NaN where not looked at
    """

    kind: str
    units: tuple[Unit, ...]
    predicted: float
    marched: float
    error: float = float("nan")
    margin: float = float("inf")


@dataclass(frozen=True)
class Answer:
    """What is advised. worthwhile : units that are worth while, 0: none; units : the design to build, at least one
    where any was found, as good as it gets; where : in words, seen from the loudspeakers and seats
    shorter : share by which what rings dies away sooner with them, mean over the seats by their weights; NaN
        where the file does not tell
    """

    worthwhile: int
    units: tuple[Unit, ...]
    where: tuple[str, ...]
    shorter: float


@dataclass(frozen=True, eq=False)
class Sureness:
    """How sure it is. draws : perturbed rooms; grid : m, their cells; robust : whether the first place stays first
    doubt : what was varied, and by how much, in words."""

    draws: int
    grid: float
    robust: bool
    doubt: str


@dataclass(frozen=True, eq=False)
class PlacementFile:
    """A placement study as its file has it.

    ranked : every place, best first; counts : from 1 unit; trials : () if none was marched
    words : (topic, text) in the order they are told; topics are headline, doubt, count, first, further, sure, tried,
        more, unsure, gain, measured, meter and before (docs/result-file.md)
    levels : (design, frequency, seat) dB re a source of level 0 in free field at 1 m, of the designs `level_names`
    tone : Hz, the note that rings worst without units; tone_decay : s, its decay time (60 dB); NaN if unknown
    """

    title: str
    scene_text: str
    program_version: str
    created: str
    computed_from: str
    precision: str
    method: str
    designs: int
    grid: float
    seats: tuple[str, ...]
    sources: tuple[str, ...]
    devices: tuple[str, ...]
    gains: tuple[float, ...]
    places: tuple[PlaceRecord, ...]
    ranked: tuple[RankedPlace, ...]
    counts: tuple[CountRecord, ...]
    answer: Answer | None
    sureness: Sureness | None
    trials: tuple[Trial, ...]
    words: tuple[tuple[str, str], ...]
    frequency: NDArray[np.float64]
    level_names: tuple[str, ...]
    levels: NDArray[np.float64]
    tone: float = float("nan")
    tone_decay: float = float("nan")

    def place(self, number: int) -> PlaceRecord:
        """The place of that number; raises KeyError."""
        for one in self.places:
            if one.number == number:
                return one
        raise KeyError(f"no place {number}")

    def told(self, *topics: str) -> list[str]:
        """The texts of these topics, in order."""
        return [text for topic, text in self.words if topic in topics]
