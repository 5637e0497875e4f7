"""What a placement study leaves behind, as numbers and names: figures, sentences and report are made from it.

What its file has of it is stated beside each field; records in a tuple are the rows of a table.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Any

import numpy as np
from numpy.typing import NDArray

from fdtd.results.entries import decibels, share, sooner, whole, yes
from fdtd.results.statement import SCENE, VERSION, Entry, Together, attribute, names, text

NAN = float("nan")
INFINITE = float("inf")
Real = NDArray[np.float64]


def unit_arrays(*axes: str, padded: bool = False) -> dict[str, Entry]:
    """Place, device and gain of every unit; padded with "no unit" where there may be several."""
    place, device, gain = (f", {text}" if padded else "" for text in ("0: no unit", "-1: no unit", "NaN: no unit"))
    none = (0, -1) if padded else (None, None)
    number, counted = f"number of the place{place}", f"device on it, counted from 0 along /device{device}"
    return {
        "unit_place": Entry(axes, "1", number, "whole", member_of="place", none=none[0]),
        "unit_device": Entry(axes, "1", counted, "whole", places_of=("device",), none=none[1]),
        "unit_gain": Entry(axes, "1", f"its gain{gain}", least=0.0, most=1.0, nan=padded),
    }


def _units(place: Any, device: Any, gain: Any) -> tuple[Unit, ...]:
    return tuple(Unit(int(p), d, float(g)) for p, d, g in zip(place, device, gain, strict=True) if p > 0)


def _ranges(name: str, meaning: str) -> Together:
    ends = {
        "nominal": "the room as described, that of the study",
        "low": "10 % of the draws are below",
        "middle": "median of the draws",
        "high": "10 % of the draws are above",
    }
    arrays = {f"{name}_{end}": decibels(f"{meaning}: {text}") for end, text in ends.items()}
    return Together(arrays, lambda *values: Spread(*map(float, values)))


UNITS = Together(unit_arrays("unit", padded=True), _units)
FIRST_UNIT = Together(UNITS.arrays, lambda *columns: _units(*columns)[0])
DEVICE_AND_GAIN = {name: entry for name, entry in unit_arrays().items() if name != "unit_place"}
COUNT = whole("number of units", 1, order="rising", shortest=1)
PERTURBED = "from the perturbed rooms"
MARGIN = "gain left before active units oscillate, infinite without any"
SURFACE = Entry(("meeting",), "1", "surface that meets there, empty: none", "text")


@dataclass(frozen=True)
class Unit:
    """A unit on a place. place : its number; device : name; gain : of the device, 1 for one without control."""

    place: Annotated[int, whole("number of its place in the study", 1)]
    device: Annotated[str, text("name of its device")]
    gain: Annotated[float, Entry((), "1", "gain of its device")]


@dataclass(frozen=True)
class PlaceRecord:
    """A candidate place. corner : 'corner', 'edge' or 'face'; height, bottom, at : as of `scene.spots.Candidate`."""

    number: Annotated[int, whole("number of the place", 1, order="distinct", shortest=1, called="place")]
    on: Annotated[str, text("surface that it is on")]
    corner: Annotated[
        str,
        text("corner, edge or face: how many surfaces rise beside it", choices=("corner", "edge", "face")),
    ]
    height: Annotated[
        str,
        text(
            "floor, ceiling, top (right under the ceiling) or raised: how high the unit is, cabinet and all",
            choices=("floor", "ceiling", "top", "raised"),
        ),
    ]
    bottom: Annotated[float, Entry((), "m", "its lower end above the floor")]
    at: Annotated[tuple[float, float, float], Entry(("axis",), "m", "centre of the face", called="position")]


@dataclass(frozen=True)
class RankedPlace:
    """A place with the device and gain that suit it best, against no unit."""

    unit: Annotated[Unit, FIRST_UNIT]
    benefit: Annotated[float, decibels("score against the room without units")]
    shorter: Annotated[float, sooner("mean share by which what rings dies away sooner")]
    more_even: Annotated[float, decibels("more even over frequency")]
    closer: Annotated[float, decibels("seats closer to each other")]
    louder: Annotated[float, decibels("mean level above that without units")]
    benefit_low: Annotated[float, decibels("10 % of the perturbed rooms are below, NaN: not tried", nan=True)] = NAN
    benefit_high: Annotated[float, decibels("10 % of the perturbed rooms are above, NaN: not tried", nan=True)] = NAN
    on_top: Annotated[float, share("share of them in which it is among the first three", nan=True)] = NAN
    helps: Annotated[float, share("share of them in which it is better than no unit", nan=True)] = NAN
    alike: Annotated[bool, yes("1: can't be told from the first place, as far as the room is known")] = False


@dataclass(frozen=True, eq=False)
class CountRecord:
    """The best design of `count` units, against none and (adds, audible) against the best of one unit less."""

    count: Annotated[int, COUNT]
    units: Annotated[tuple[Unit, ...], UNITS]
    benefit: Annotated[float, decibels("score against no unit")]
    adds: Annotated[float, decibels("score against one unit less")]
    shorter: Annotated[Real, sooner("share by which what rings dies sooner than without units", "seat")]
    more_even: Annotated[Real, decibels("more even than without units", "seat")]
    louder: Annotated[Real, decibels("mean level above that without units", "seat")]
    audible: Annotated[NDArray[np.bool_], yes("1: the last unit is heard at the seat", "seat")]
    benefit_low: Annotated[float, decibels(PERTURBED, nan=True)] = NAN
    benefit_high: Annotated[float, decibels(PERTURBED, nan=True)] = NAN
    audible_in: Annotated[float, share(PERTURBED, nan=True)] = NAN
    helps: Annotated[float, share("share of the perturbed rooms in which it is better than no unit", nan=True)] = NAN


@dataclass(frozen=True)
class Trial:
    """A design simulated with its units in. kind : 'face' (in the plane of the wall, on the study's cells: nothing but
    rounding may differ) or 'built' (as it would stand, cabinet and all)

    simulated : dB, NaN without a simulation to its end
    asked : the gain of each unit that was asked, where `units` have the ones that it was simulated with
    why : what the check of the gains said, on the screen only: the file has no message
    """

    kind: Annotated[str, text("face: in the plane of the wall; built: as it would stand", choices=("face", "built"))]
    units: Annotated[tuple[Unit, ...], UNITS]
    predicted: Annotated[float, decibels("benefit that was predicted")]
    simulated: Annotated[float, decibels("benefit of the simulation, NaN: the field grew", nan=True)]
    error: Annotated[float, decibels("largest difference of level at the seats, NaN: not looked at", nan=True)] = NAN
    margin: Annotated[float, decibels(f"{MARGIN}, NaN: not looked at", nan=True, infinite=True)] = INFINITE
    outcome: Annotated[
        str,
        text(
            "simulated; grew: the field grew by itself; unstable: active units would oscillate at every gain",
            choices=("simulated", "grew", "unstable"),
        ),
    ] = "simulated"
    asked: Annotated[
        tuple[float, ...],
        Together(
            {"gain_asked": Entry(("unit",), "1", "gain that was asked, NaN: no unit", least=0.0, most=1.0, nan=True)},
            lambda row: tuple(gain for gain in row.tolist() if not np.isnan(gain)),
        ),
    ] = ()
    refused: Annotated[bool, yes("1: active units would oscillate at the gains asked")] = False
    why: str = ""


WHY_NOT = ("untried", "nothing", "unheard", "seldom", "oscillates", "margin", "budget")


@dataclass(frozen=True)
class Answer:
    """What is advised. units : the design to build, at least one where any was found, as good as it gets
    shorter : mean over the seats by their weights; behind : dB on cells of `finer_grid` m
    why_not, margin, margin_of_more, lowered : as of `study.decide.Decision`
    """

    worthwhile: Annotated[int, whole("units that are worth while")]
    units: Annotated[tuple[Unit, ...], Together(unit_arrays("unit"), _units)]
    shorter: Annotated[float, sooner("mean share by which what rings dies away sooner with them")]
    why_not: Annotated[str, text("why there is not one unit more", choices=WHY_NOT)]
    benefit: Annotated[float, decibels("score against empty spots")]
    switched_off: Annotated[float, decibels("score of the same units without power, NaN: none needs any", nan=True)] = (
        NAN
    )
    margin: Annotated[float, decibels(f"{MARGIN}, NaN: not tried", nan=True, infinite=True)] = INFINITE
    margin_of_more: Annotated[
        float, decibels("what one unit more would leave, NaN: not why", nan=True, infinite=True)
    ] = NAN
    lowered: Annotated[bool, yes("1: that is at a lower gain than was ranked")] = False
    finer_grid: Annotated[
        float,
        Entry((), "m", "finer cells that the shortlist was tried on, NaN: none", least=1e-4, most=100.0, nan=True),
    ] = NAN
    behind: Annotated[
        float, decibels("how much better another design of as many units is on the finer cells, NaN: none", nan=True)
    ] = NAN


@dataclass(frozen=True)
class Spread:
    """nominal : of the study, nothing perturbed; low, middle, high : 10 %, 50 % and 90 % of the draws."""

    nominal: float
    low: float
    middle: float
    high: float


@dataclass(frozen=True)
class PlaceConfidence:
    """A place of the shortlist. behind : dB of benefit that it is behind the first place of the study."""

    unit: Annotated[
        Unit,
        Together(
            {"place": whole("number of the place", 1, order="distinct"), **DEVICE_AND_GAIN},
            lambda place, device, gain: Unit(int(place), device, float(gain)),
        ),
    ]
    first: Annotated[float, share("share of the draws in which it is first")]
    on_top: Annotated[float, share("share of the draws in which it is among the first three")]
    behind: Annotated[Spread, _ranges("behind", "benefit that it is behind the first place of the study")]
    benefit: Annotated[Spread, _ranges("benefit", "benefit")]


@dataclass(frozen=True)
class UnitsConfidence:
    """The best design of `count` units. adds : dB of benefit over the best of one unit less."""

    count: Annotated[int, whole("number of units", 1, order="rising")]
    audible: Annotated[float, share("share of the draws in which the last unit is heard, for the better")]
    benefit: Annotated[Spread, _ranges("benefit", "benefit")]
    adds: Annotated[Spread, _ranges("adds", "benefit over the best of one unit less")]


def _off(units: str, meaning: str) -> Entry:
    return Entry((), units, meaning, least=0.0)


FACTOR = "how far off may be, {}: 1 is a factor between 1/2 and 2"
DOUBT = {
    "wall_off": _off("1", FACTOR.format("of the admittance of every material")),
    "temperature_off": _off("K", "how far off the air may be"),
    "device_off": _off("1", FACTOR.format("of a unit's mass, resistance, stiffness and electronics' gain")),
    "place_off": _off("m", "how far off seats and sources may be along x and y"),
    "height_off": _off("m", "how far off they may be up and down"),
    "plan_off": _off("m", "how far off the plan may be along x and y"),
    "furniture_off": _off("1", "share of the rooms with a piece of furniture that was left out"),
    "door_off": _off("1", "share of the rooms with an open door that was left out"),
}


@dataclass(frozen=True)
class Sureness:
    """How sure it is. grid : m, cells of the perturbed rooms; robust : whether the first place stays first
    doubt : what was varied, and by how much, the fields of `study.perturb.Doubt`
    singles : places of the shortlist, best of the study first; counts : from 1 unit."""

    perturbed_rooms: Annotated[int, whole("perturbed rooms", 1)]
    grid: Annotated[float, Entry((), "m", "longest cell edge in them", least=1e-4, most=100.0)]
    robust: Annotated[bool, yes("1: the first place stays ahead of all others of the shortlist")]
    doubt: Annotated[
        Mapping[str, float],
        Together(DOUBT, lambda *off: {name.removesuffix("_off"): float(v) for name, v in zip(DOUBT, off, strict=True)}),
    ]
    singles: tuple[PlaceConfidence, ...]
    counts: tuple[UnitsConfidence, ...]


@dataclass(frozen=True)
class Searched:
    """How the best design of `count` units was found."""

    count: Annotated[int, COUNT]
    tried: Annotated[int, whole("designs scored")]
    possible: Annotated[int, whole("designs with every set of places")]
    whole: Annotated[bool, yes("1: all were tried that can be built; 0: greedy, then exchange of single units")]


@dataclass(frozen=True)
class Tone:
    """frequency : Hz; decay_time : s for 60 dB (NaN if no resonance)."""

    frequency: float
    decay_time: float


def _there(surfaces: Any, among: Any = None) -> tuple[str, ...]:
    """The names of surfaces that are not padding, or those of them that are `among`."""
    return tuple(surfaces[(surfaces != "") & (True if among is None else among)].tolist())


@dataclass(frozen=True)
class LoudSpot:
    """surfaces : that meet there; whole : those that are as loud nearly all over; beside : loudspeaker, or "" """

    at: Annotated[tuple[float, float, float], Entry(("axis",), "m", "of the spot", called="position")]
    level: Annotated[float, decibels("at the spot, likewise")]
    surfaces: Annotated[tuple[str, ...], Together({"surface": SURFACE}, _there)]
    whole: Annotated[
        tuple[str, ...],
        Together({"surface": SURFACE, "all_over": yes("1: as loud nearly all over this surface", "meeting")}, _there),
    ] = ()
    any_height: Annotated[bool, yes("1: as loud at nearly every height")] = False
    beside: Annotated[str, text("loudspeaker right beside it, empty: none")] = ""


@dataclass(frozen=True)
class WorstNote:
    """What stands out most at a seat before the change, and what becomes of it; decays : s for 60 dB
    risen, rise : of the note that stands out most more after the change; shorter, more_even : of the seat as a whole"""

    seat: Annotated[int, whole("number of the seat, from 0", called="of_seat")]
    frequency: Annotated[
        float,
        Entry((), "Hz", "what stands out most at the seat without units, a twelfth of an octave wide"),
    ]
    before: Annotated[float, decibels("above the mean level of the seat without units")]
    after: Annotated[float, decibels("likewise with the advised units")]
    decay_before: Annotated[float, Entry((), "s", "decay time about it, from the slope of the response")]
    decay_after: Annotated[float, Entry((), "s", "likewise with the advised units")]
    risen: Annotated[float, Entry((), "Hz", "what stands out most more at the seat with the advised units")]
    rise: Annotated[float, decibels("by which it stands out more from the seat's mean level")]
    shorter: Annotated[float, sooner("mean share by which what rings at the seat dies away sooner")]
    more_even: Annotated[float, decibels("more even at the seat than without units")]

    @property
    def louder(self) -> float:
        """dB by which the change raises it."""
        return self.after - self.before


@dataclass(frozen=True, eq=False)
class Meter:
    """What a level meter would find. tone : that is played; spots : the loudest ones, loudest first
    seat_level : (seat,), place_level : (place,) dB re the loudest."""

    tone: Annotated[
        Tone,
        Together(
            {
                "tone_frequency": Entry((), "Hz", "the note that rings worst without units", least=0.1),
                "tone_decay": Entry((), "s", "its decay time for 60 dB", nan=True, positive=True),
            },
            lambda *values: Tone(*map(float, values)),
        ),
    ]
    spots: tuple[LoudSpot, ...]
    seat_level: Annotated[Real, decibels("at the seat, re the loudest spot of floor and walls", "seat")]
    place_level: Annotated[Real, decibels("at the place, likewise", "place")]


@dataclass(frozen=True, eq=False)
class DesignLevels:
    """level : (frequency, seat) with the units of a design."""

    units: Annotated[tuple[Unit, ...], UNITS]
    level: Annotated[Real, decibels("level re a source of level 0 in free field at 1 m", "frequency", "seat")]


@dataclass(frozen=True, eq=False)
class PlacementFile:
    """A placement study as its file has it.

    ranked : every place, best first; counts : from 1 unit; trials : () if none was simulated; searched : from 1 unit
    levels : without units, with the best one, and with the design that is advised
    """

    title: Annotated[str, text("title of the scene", attribute=True)]
    scene_text: Annotated[str, SCENE]
    program_version: Annotated[str, VERSION]
    created: Annotated[str, text("date and time of the study", attribute=True)]
    computed_from: Annotated[str, text("hash of what the matrices depend on", attribute=True)]
    precision: Annotated[str, text("of the simulation", choices=("single", "double"), attribute=True)]
    designs: Annotated[int, attribute("", "how many were scored", least=0.0)]
    grid: Annotated[float, attribute("m", "longest cell edge", least=1e-4, most=100.0)]
    seats: Annotated[tuple[str, ...], names("seat", "name of the seat", called="seat")]
    sources: Annotated[tuple[str, ...], names("source", "name of the source", called="source")]
    devices: Annotated[tuple[str, ...], names("device", "name of the device", called="device")]
    gains: Annotated[
        tuple[float, ...],
        Entry(("gain",), "1", "gain of the device", least=0.0, most=1.0, order="rising", shortest=1, called="gain"),
    ]
    places: tuple[PlaceRecord, ...]
    ranked: tuple[RankedPlace, ...]
    counts: tuple[CountRecord, ...]
    answer: Answer | None
    sureness: Sureness | None
    trials: tuple[Trial, ...]
    searched: tuple[Searched, ...]
    reused: Annotated[
        float, attribute("", "share of the excitations that were not simulated again", least=0.0, most=1.0)
    ]
    frequency: Annotated[
        Real, Entry(("frequency",), "Hz", "frequency of the matrices", least=0.1, order="rising", shortest=2)
    ]
    levels: tuple[DesignLevels, ...]
    meter: Meter | None = None
    worst_notes: tuple[WorstNote, ...] = ()
