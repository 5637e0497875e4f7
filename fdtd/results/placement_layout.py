"""What the result file of a placement study holds besides the fields of its records, and in which groups.

The matrices and the tables of designs are for other programs; this one makes its figures and words from the records.
"""

from __future__ import annotations

from collections.abc import Mapping

from numpy.typing import NDArray

from fdtd.results import entries, records
from fdtd.results import placement_record as study
from fdtd.results.statement import (
    PRESSURE_PER_VELOCITY,
    XYZ,
    Entry,
    Group,
    LabelledArray,
    Layout,
    arrays_of,
    attribute,
    attributes_of,
    numbers,
)

FORMAT = 6
"""Of placement.h5; raise it if old readers would misread. Older: 1 without what figures and report are made from, 2
with sentences where there are numbers now, 5 without what finer cells say."""

ATTRIBUTES = attributes_of(study.PlacementFile) | {
    "speed_of_sound": attribute("m/s", "of the air", least=10.0, most=1e4),
    "density": attribute("kg/m3", "of the air", least=1e-3, most=1e4),
}
VOLUME_VELOCITY_PER_PRESSURE = "m3/(s Pa)"


def _pressure(at: str, of: str, *axes: str) -> Entry:
    meaning = f"pressure {at} per volume velocity of {of}, the room without units"
    return Entry(("frequency", *axes), PRESSURE_PER_VELOCITY, meaning, "complex")


UNIT = {"unit": numbers("unit", "number of the unit")}


def _figures(axis: str) -> dict[str, Entry]:
    return {
        "ringing": Entry(
            (axis,),
            "octave",
            "mean over log frequency of the octaves that decays are above the threshold (published from 32 Hz up, "
            "extrapolated below at constant Q; ours)",
        ),
        "uneven": entries.decibels("standard deviation of the level over log frequency, mean over seats", axis),
        "spread": entries.decibels("standard deviation of the level between seats, mean over log frequency", axis),
        "loss": entries.decibels("mean level below that of the room without units", axis),
        "benefit": entries.decibels("score against the room without units", axis),
    }


def _designs(axis: str, counted: Entry) -> Group:
    at_seats = {
        "ringing_at": Entry((axis, "seat"), "octave", "ringing at each seat by itself"),
        "uneven_at": entries.decibels("unevenness at each seat", axis, "seat"),
        "level_at": entries.decibels(
            "mean level at each seat, re a source of level 0 in free field at 1 m", axis, "seat"
        ),
    }
    units = study.unit_arrays(axis, "unit", padded=True)
    return Group({axis: counted, **UNIT, **units, **_figures(axis), **at_seats})


PLACES = arrays_of(study.PlaceRecord, "place")
MATRICES = {
    "place": PLACES.pop("place"),
    "driven_place": Entry(
        ("driven_place",),
        "1",
        "number of the place that is driven",
        "whole",
        least=1,
        order="distinct",
        shortest=1,
    ),
    "seats_from_sources": _pressure("at the seat", "the source", "source", "seat"),
    "places_from_sources": _pressure("on the place", "the source", "source", "place"),
    "seats_from_places": _pressure("at the seat", "the place", "driven_place", "seat"),
    "places_from_places": _pressure("on the place", "the driven place", "driven_place", "place"),
    "playback": Entry(
        ("source", "frequency"),
        VOLUME_VELOCITY_PER_PRESSURE,
        "factor of each source when all play, over the pressure in free field at 1 m per volume velocity",
        "complex",
    ),
    "admittance": Entry(
        ("device", "gain", "frequency", "place"),
        VOLUME_VELOCITY_PER_PRESSURE,
        "volume velocity that the device takes per pressure of the place",
        "complex",
    ),
    "face_area": Entry(("place",), "m2", "area of the face", positive=True),
    "air_mass": Entry(("place",), "kg/m2", "air of half a cell before the face", positive=True),
    "seat_weight": Entry(("seat",), "1", "how much the seat counts", least=0.0),
}
ADDED = {
    **{name: entries.decibels("from the perturbed rooms", "count", nan=True) for name in ("adds_low", "adds_high")},
    "added_audible": entries.yes("1: the last unit is heard somewhere, for the better", "count"),
    "added_shorter": Entry(("count", "seat"), "1", "the same share, of the last unit", most=1.0, nan=True),
    "added_even": entries.decibels("more even, by the last unit", "count", "seat"),
}
BEST_FIRST = numbers("design", "number of the design, the best first")
WITHOUT_FIRST = numbers("design", "number of the design, the first without units", shortest=1)

LAYOUT: Layout = {
    "": Group(arrays_of(study.PlacementFile) | MATRICES, ATTRIBUTES),
    "places": Group({"axis": XYZ, **PLACES, "excludes": entries.yes("1: not both at once", "driven_place", "place")}),
    "singles": Group(
        {"rank": numbers("rank", "rank by benefit, 1 the best"), **study.unit_arrays("rank"), **_figures("rank")}
    ),
    "best": _designs("design", BEST_FIRST),
    "counts": _designs("count", numbers("count", "number of units", 0)),
    "pareto": _designs("design", BEST_FIRST),
    "ranking": Group(
        {
            "rank": numbers("rank", "rank of the place, 1 the best", shortest=1),
            **UNIT,
            **arrays_of(study.RankedPlace, "rank"),
        }
    ),
    "before_after": Group(
        {
            "design": WITHOUT_FIRST,
            **UNIT,
            **arrays_of(study.DesignLevels, "design"),
        }
    ),
    "returns": Group(UNIT | arrays_of(study.CountRecord, "count") | ADDED, fewest=0),
    "answer": Group(UNIT | arrays_of(study.Answer), fewest=0),
    "worst_notes": Group(
        {"note": numbers("note", "number of the note"), **arrays_of(study.WorstNote, "note")}, fewest=0
    ),
    "sure": Group(arrays_of(study.Sureness), fewest=0),
    "sure/singles": Group(arrays_of(study.PlaceConfidence, "place")),
    "sure/counts": Group(arrays_of(study.UnitsConfidence, "count")),
    "trials": Group(
        {"trial": numbers("trial", "number of the trial"), **UNIT, **arrays_of(study.Trial, "trial")}, fewest=0
    ),
    "searched": Group(arrays_of(study.Searched, "count")),
    "meter": Group(
        {
            "spot": numbers("spot", "number of the spot, the loudest first"),
            "meeting": numbers("meeting", "number of the surface that meets there"),
            "axis": XYZ,
            **arrays_of(study.LoudSpot, "spot"),
            **arrays_of(study.Meter),
        },
        fewest=0,
    ),
}


def labelled(group: str, arrays: Mapping[str, NDArray]) -> list[LabelledArray]:
    """Arrays of a group with what the layout says of them."""
    return records.labelled(LAYOUT[group].arrays, arrays)
