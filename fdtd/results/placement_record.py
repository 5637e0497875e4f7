"""What a placement study leaves behind, as numbers and names: figures, sentences and report are made from it."""

from __future__ import annotations

from collections.abc import Mapping
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
    """A candidate place. corner : 'corner', 'edge' or 'face'; height, bottom, at : as of `scene.spots.Candidate`."""

    number: int
    on: str
    corner: str
    height: str
    bottom: float
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
    """The best design of `count` units, against none and (adds, audible) against the best of one unit less.

    benefit, adds : dB; shorter, uneven, louder : (seat,) share, dB, dB; audible : (seat,) whether the last unit is
    low, high : dB, 10 and 90 % of the perturbed rooms; audible_in, helps : share of them in which
        the last unit is heard for the better, and the design is better than no unit; NaN where not known
    """

    count: int
    units: tuple[Unit, ...]
    benefit: float
    adds: float
    shorter: NDArray[np.float64]
    uneven: NDArray[np.float64]
    louder: NDArray[np.float64]
    audible: NDArray[np.bool_]
    low: float = float("nan")
    high: float = float("nan")
    audible_in: float = float("nan")
    helps: float = float("nan")


@dataclass(frozen=True)
class Trial:
    """A design simulated with its units in. kind : 'face' (in the plane of the wall, on the study's cells: nothing but
    rounding may differ) or 'built' (as it would stand, cabinet and all)

    predicted, simulated : dB of benefit, simulated NaN without a simulation to its end; error : dB, largest difference
    of level at the seats; margin : dB of gain left before active units oscillate, infinite without any; NaN where not
    looked at
    outcome : 'simulated', 'grew' (the field grew by itself) or 'unstable' (its active units, at every gain)
    asked : the gain of each unit that was asked, where `units` have the ones that it was simulated with
    refused : whether the active units would oscillate at the gains asked; why : what that check said of it, on the
    screen only: the file has no message
    """

    kind: str
    units: tuple[Unit, ...]
    predicted: float
    simulated: float
    error: float = float("nan")
    margin: float = float("inf")
    outcome: str = "simulated"
    asked: tuple[float, ...] = ()
    refused: bool = False
    why: str = ""


@dataclass(frozen=True)
class Answer:
    """What is advised. worthwhile : units that are worth while, 0: none; units : the design to build, at least one
    where any was found, as good as it gets
    shorter : share by which what rings dies away sooner with them, mean over the seats by their weights
    benefit : dB, against empty spots; switched_off : dB, of the same units without power, NaN if none needs any
    why_not, margin, margin_of_more, lowered : as of `study.decide.Decision`
    """

    worthwhile: int
    units: tuple[Unit, ...]
    shorter: float
    why_not: str
    benefit: float
    switched_off: float = float("nan")
    margin: float = float("inf")
    margin_of_more: float = float("nan")
    lowered: bool = False


@dataclass(frozen=True)
class Spread:
    """nominal : of the study, nothing perturbed; low, middle, high : 10 %, 50 % and 90 % of the draws."""

    nominal: float
    low: float
    middle: float
    high: float


@dataclass(frozen=True)
class PlaceConfidence:
    """A place of the shortlist. first, on_top : share of the draws in which it is first, or among the first three
    behind : dB of benefit that it is behind the first place of the study; benefit : dB."""

    unit: Unit
    first: float
    on_top: float
    behind: Spread
    benefit: Spread


@dataclass(frozen=True)
class UnitsConfidence:
    """The best design of `count` units. heard : share of the draws in which the last one is heard, for the better
    benefit : dB; adds : dB of it over the best of one unit less."""

    count: int
    audible: float
    benefit: Spread
    adds: Spread


@dataclass(frozen=True)
class Sureness:
    """How sure it is. draws : perturbed rooms; grid : m, their cells; robust : whether the first place stays first
    doubt : what was varied, and by how much, the fields of `study.perturb.Doubt`
    singles : places of the shortlist, best of the study first; counts : from 1 unit."""

    perturbed_rooms: int
    grid: float
    robust: bool
    doubt: Mapping[str, float]
    singles: tuple[PlaceConfidence, ...]
    counts: tuple[UnitsConfidence, ...]


@dataclass(frozen=True)
class Searched:
    """How the best design of `count` units was found. tried : designs scored; possible : with every set of places
    whole : whether all were tried; else some by a greedy start and exchange of single units."""

    count: int
    tried: int
    possible: int
    whole: bool


@dataclass(frozen=True)
class Tone:
    """frequency : Hz; decay_time : s for 60 dB (NaN if no resonance)."""

    frequency: float
    decay_time: float


@dataclass(frozen=True)
class LoudSpot:
    """at : m; level : dB below the loudest; surfaces : that meet there; whole : those that are as loud nearly all over
    any_height : whether it is as loud at nearly every height there; beside : name of a loudspeaker right there, or ""
    """

    at: tuple[float, float, float]
    level: float
    surfaces: tuple[str, ...]
    whole: tuple[str, ...] = ()
    any_height: bool = False
    beside: str = ""


@dataclass(frozen=True)
class WorstNote:
    """seat : number; frequency : Hz, of what stands out most at the seat before the change
    before, after : dB above the seat's mean level before the change; decay_before, decay_after : s for 60 dB
    risen, rise : Hz, of the note that stands out most more after the change, and dB by how much
    shorter, more_even : share by which decays are shorter, and dB by which the level is more even, at the seat"""

    seat: int
    frequency: float
    before: float
    after: float
    decay_before: float
    decay_after: float
    risen: float
    rise: float
    shorter: float
    more_even: float

    @property
    def louder(self) -> float:
        """dB by which the change raises it."""
        return self.after - self.before


@dataclass(frozen=True, eq=False)
class Meter:
    """What a level meter would find. tone : that is played; spots : the loudest ones, loudest first
    seat_level : (seat,), place_level : (place,) dB re the loudest."""

    tone: Tone
    spots: tuple[LoudSpot, ...]
    seat_level: NDArray[np.float64]
    place_level: NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class PlacementFile:
    """A placement study as its file has it.

    ranked : every place, best first; counts : from 1 unit; trials : () if none was simulated
    searched : from 1 unit; reused : share of the excitations that were not simulated again
    levels : (design, frequency, seat) dB re a source of level 0 in free field at 1 m, of the designs `level_units`
    """

    title: str
    scene_text: str
    program_version: str
    created: str
    computed_from: str
    precision: str
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
    searched: tuple[Searched, ...]
    reused: float
    frequency: NDArray[np.float64]
    level_units: tuple[tuple[Unit, ...], ...]
    levels: NDArray[np.float64]
    meter: Meter | None = None
    worst_notes: tuple[WorstNote, ...] = ()
