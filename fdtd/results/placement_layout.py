"""Names, units, meanings and right values of everything in the result file of a placement study."""

from __future__ import annotations

from collections.abc import Mapping

from numpy.typing import NDArray

from fdtd.results.derived import LabelledArray
from fdtd.results.layout import PRESSURE_PER_VELOCITY, SCENE, XYZ, names, numbers, text
from fdtd.results.statement import Entry, Group, Layout

FORMAT = 5
"""Of placement.h5; raise it if old readers would misread. Older: 1 without what figures and report are made from, 2
with sentences where there are numbers now."""

ATTRIBUTES = {
    "version": text("version of the program"),
    "created": text("date and time of the study"),
    "title": text("title of the scene"),
    "computed_from": text("hash of what the matrices depend on"),
    "precision": text("of the simulation", choices=("single", "double")),
    "grid": Entry((), "m", "longest cell edge", least=1e-4, most=100.0),
    "speed_of_sound": Entry((), "m/s", "of the air", least=10.0, most=1e4),
    "density": Entry((), "kg/m3", "of the air", least=1e-3, most=1e4),
    "designs": Entry((), "", "how many were scored", least=0.0),
    "reused": Entry((), "", "share of the excitations that were not simulated again", least=0.0, most=1.0),
}

VOLUME_VELOCITY_PER_PRESSURE = "m3/(s Pa)"


def _decibels(meaning: str, *axes: str, nan: bool = False, infinite: bool = False) -> Entry:
    return Entry(axes, "dB", meaning, nan=nan, infinite=infinite)


def _share(meaning: str, *axes: str, nan: bool = False) -> Entry:
    return Entry(axes, "1", meaning, least=0.0, most=1.0, nan=nan)


def _sooner(meaning: str, *axes: str) -> Entry:
    """A share by which a decay is shorter; below 0 it is longer, without limit."""
    return Entry(axes, "1", meaning, most=1.0, nan=True)


def _off(what: str) -> Entry:
    return Entry((), "1", f"how far off may be, {what}: 0.3 is a factor between 1/1.3 and 1.3", least=0.0)


def _yes(meaning: str, *axes: str) -> Entry:
    return Entry(axes, "1", meaning, "whole", choices=(0.0, 1.0))


def _pressure(at: str, of: str, *axes: str) -> Entry:
    meaning = f"pressure {at} per volume velocity of {of}, the room without units"
    return Entry(("frequency", *axes), PRESSURE_PER_VELOCITY, meaning, "complex")


def _places(axis: str, meaning: str, shortest: int = 0) -> Entry:
    return Entry((axis,), "1", meaning, "whole", least=1, order="distinct", shortest=shortest)


def _units(*axes: str) -> dict[str, Entry]:
    """Place, device and gain of every unit; padded with "no unit" where there may be several."""
    padded = len(axes) > 1
    numbered = {"unit": numbers("unit", "number of the unit")} if "unit" in axes else {}
    place, device, gain = (", " + text if padded else "" for text in ("0: no unit", "-1: no unit", "NaN: no unit"))
    return numbered | {
        "unit_place": Entry(
            axes, "1", f"number of the place{place}", "whole", member_of="place", none=0 if padded else None
        ),
        "unit_device": Entry(
            axes,
            "1",
            f"device on it, counted from 0 along /device{device}",
            "whole",
            places_of=("device",),
            none=-1 if padded else None,
        ),
        "unit_gain": Entry(axes, "1", f"its gain{gain}", least=0.0, most=1.0, nan=padded),
    }


def _figures(axis: str) -> dict[str, Entry]:
    return {
        "ringing": Entry(
            (axis,),
            "octave",
            "mean over log frequency of the octaves that decays are above the threshold (published from 32 Hz up, "
            "extrapolated below at constant Q; ours)",
        ),
        "uneven": _decibels("standard deviation of the level over log frequency, mean over seats", axis),
        "spread": _decibels("standard deviation of the level between seats, mean over log frequency", axis),
        "loss": _decibels("mean level below that of the room without units", axis),
        "benefit": _decibels("score against the room without units", axis),
    }


def _designs(axis: str, counted: Entry) -> Group:
    at_seats = {
        "ringing_at": Entry((axis, "seat"), "octave", "ringing at each seat by itself"),
        "uneven_at": _decibels("unevenness at each seat", axis, "seat"),
        "level_at": _decibels("mean level at each seat, re a source of level 0 in free field at 1 m", axis, "seat"),
    }
    return Group({axis: counted, **_units(axis, "unit"), **_figures(axis), **at_seats})


def _ranges(name: str, meaning: str, axis: str) -> dict[str, Entry]:
    ends = {
        "nominal": "the room as described, that of the study",
        "low": "10 % of the draws are below",
        "middle": "median of the draws",
        "high": "10 % of the draws are above",
    }
    return {f"{name}_{end}": _decibels(f"{meaning}: {text}", axis) for end, text in ends.items()}


_ROOT = {
    "scene": SCENE,
    "frequency": Entry(("frequency",), "Hz", "frequency of the matrices", least=0.1, order="rising", shortest=2),
    "source": names("source", "name of the source"),
    "seat": names("seat", "name of the seat"),
    "place": _places("place", "number of the place", 1),
    "driven_place": _places("driven_place", "number of the place that is driven", 1),
    "device": names("device", "name of the device"),
    "gain": Entry(("gain",), "1", "gain of the device", least=0.0, most=1.0, order="rising", shortest=1),
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

_PLACES = {
    "on": text("surface that it is on", "place"),
    "corner": text(
        "corner, edge or face: how many surfaces rise beside it", "place", choices=("corner", "edge", "face")
    ),
    "height": text(
        "floor, ceiling, top (right under the ceiling) or raised: how high the unit is, cabinet and all",
        "place",
        choices=("floor", "ceiling", "top", "raised"),
    ),
    "bottom": Entry(("place",), "m", "its lower end above the floor"),
    "axis": XYZ,
    "position": Entry(("place", "axis"), "m", "centre of the face"),
    "excludes": _yes("1: not both at once", "driven_place", "place"),
}

_RANKING = {
    "rank": numbers("rank", "rank of the place, 1 the best", shortest=1),
    **_units("rank", "unit"),
    "benefit": _decibels("score against the room without units", "rank"),
    "shorter": _sooner("mean share by which what rings dies away sooner", "rank"),
    "more_even": _decibels("more even over frequency", "rank"),
    "closer": _decibels("seats closer to each other", "rank"),
    "louder": _decibels("mean level above that without units", "rank"),
    "benefit_low": _decibels("10 % of the perturbed rooms are below, NaN: not tried", "rank", nan=True),
    "benefit_high": _decibels("10 % of the perturbed rooms are above, NaN: not tried", "rank", nan=True),
    "on_top": _share("share of them in which it is among the first three", "rank", nan=True),
    "helps": _share("share of them in which it is better than no unit", "rank", nan=True),
    "alike": _yes("1: can't be told from the first place, as far as the room is known", "rank"),
}

_PERTURBED = "from the perturbed rooms"
_RETURNS = {
    "count": Entry(("count",), "1", "number of units", "whole", least=1, order="rising", shortest=1),
    **_units("count", "unit"),
    "benefit": _decibels("score against no unit", "count"),
    "adds": _decibels("score against one unit less", "count"),
    "added_audible": _yes("1: the last unit is heard somewhere, for the better", "count"),
    "helps": _share("share of the perturbed rooms in which it is better than no unit", "count", nan=True),
    **{
        name: _decibels(_PERTURBED, "count", nan=True)
        for name in ("benefit_low", "benefit_high", "adds_low", "adds_high")
    },
    "audible_in": _share(_PERTURBED, "count", nan=True),
    "shorter": _sooner("share by which what rings dies sooner than without units", "count", "seat"),
    "more_even": _decibels("more even than without units", "count", "seat"),
    "louder": _decibels("mean level above that without units", "count", "seat"),
    "added_shorter": _sooner("the same share, of the last unit", "count", "seat"),
    "added_even": _decibels("more even, by the last unit", "count", "seat"),
    "audible": _yes("1: the last unit is heard at the seat", "count", "seat"),
}

WHY_NOT = ("untried", "nothing", "unheard", "seldom", "oscillates", "margin")
_MARGIN = "gain left before active units oscillate, infinite without any"
_ANSWER = {
    "worthwhile": Entry((), "1", "units that are worth while", "whole", least=0),
    "shorter": _sooner("mean share by which what rings dies away sooner with them"),
    **_units("unit"),
    "why_not": text("why there is not one unit more", choices=WHY_NOT),
    "benefit": _decibels("score against empty spots"),
    "switched_off": _decibels("score of the same units without power, NaN: none needs any", nan=True),
    "margin": _decibels(f"{_MARGIN}, NaN: not tried", nan=True, infinite=True),
    "margin_of_more": _decibels("what one unit more would leave, NaN: not why", nan=True, infinite=True),
    "lowered": _yes("1: that is at a lower gain than was ranked"),
}

_TRIALS = {
    "trial": numbers("trial", "number of the trial"),
    "kind": text("face: in the plane of the wall; built: as it would stand", "trial", choices=("face", "built")),
    **_units("trial", "unit"),
    "predicted": _decibels("benefit that was predicted", "trial"),
    "simulated": _decibels("benefit of the simulation, NaN: the field grew", "trial", nan=True),
    "error": _decibels("largest difference of level at the seats, NaN: not looked at", "trial", nan=True),
    "margin": _decibels(f"{_MARGIN}, NaN: not looked at", "trial", nan=True, infinite=True),
    "outcome": text(
        "simulated; grew: the field grew by itself; unstable: active units would oscillate at every gain",
        "trial",
        choices=("simulated", "grew", "unstable"),
    ),
    "gain_asked": Entry(("trial", "unit"), "1", "gain that was asked, NaN: no unit", least=0.0, most=1.0, nan=True),
    "refused": _yes("1: active units would oscillate at the gains asked", "trial"),
}

_SEARCHED = {
    "count": Entry(("count",), "1", "number of units", "whole", least=1, order="rising", shortest=1),
    "tried": Entry(("count",), "1", "designs scored", "whole", least=0),
    "possible": Entry(("count",), "1", "designs with every set of places", "whole", least=0),
    "whole": _yes("1: all were tried that can be built; 0: greedy, then exchange of single units", "count"),
}
_METER = {
    "tone_frequency": Entry((), "Hz", "the note that rings worst without units", least=0.1),
    "tone_decay": Entry((), "s", "its decay time for 60 dB", nan=True, positive=True),
    "seat_level": _decibels("at the seat, re the loudest spot of floor and walls", "seat"),
    "place_level": _decibels("at the place, likewise", "place"),
    "spot": numbers("spot", "number of the spot, the loudest first"),
    "meeting": numbers("meeting", "number of the surface that meets there"),
    "axis": XYZ,
    "position": Entry(("spot", "axis"), "m", "of the spot"),
    "level": _decibels("at the spot, likewise", "spot"),
    "surface": Entry(("spot", "meeting"), "1", "surface that meets there, empty: none", "text"),
    "all_over": _yes("1: as loud nearly all over this surface", "spot", "meeting"),
    "any_height": _yes("1: as loud at nearly every height", "spot"),
    "beside": text("loudspeaker right beside it, empty: none", "spot"),
}

_SURE = {
    "perturbed_rooms": Entry((), "1", "perturbed rooms", "whole", least=1),
    "grid": Entry((), "m", "longest cell edge in them", least=1e-4, most=100.0),
    "wall_off": _off("of the admittance of every material"),
    "temperature_off": Entry((), "K", "how far off the air may be", least=0.0),
    "device_off": _off("of a unit's mass, resistance, stiffness and electronics' gain"),
    "place_off": Entry((), "m", "how far off seats and sources may be along x and y", least=0.0),
    "height_off": Entry((), "m", "how far off they may be up and down", least=0.0),
    "plan_off": Entry((), "m", "how far off the plan may be along x and y", least=0.0),
    "furniture_off": Entry((), "1", "share of the rooms with a piece of furniture that was left out", least=0.0),
    "door_off": Entry((), "1", "share of the rooms with an open door that was left out", least=0.0),
    "robust": _yes("1: the first place stays ahead of all others of the shortlist"),
}
_SURE_SINGLES = {
    "place": _places("place", "number of the place"),
    **{name: entry for name, entry in _units("place").items() if name != "unit_place"},
    "first": _share("share of the draws in which it is first", "place"),
    "on_top": _share("share of the draws in which it is among the first three", "place"),
    **_ranges("benefit", "benefit", "place"),
    **_ranges("behind", "benefit that it is behind the first place of the study", "place"),
}
_SURE_COUNTS = {
    "count": Entry(("count",), "1", "number of units", "whole", least=1, order="rising"),
    "audible": _share("share of the draws in which the last unit is heard, for the better", "count"),
    **_ranges("benefit", "benefit", "count"),
    **_ranges("adds", "benefit over the best of one unit less", "count"),
}

_WORST_NOTES = {
    "note": numbers("note", "number of the note"),
    "of_seat": Entry(("note",), "1", "number of the seat, from 0", "whole", least=0),
    "frequency": Entry(("note",), "Hz", "what stands out most at the seat without units, a twelfth of an octave wide"),
    "before": _decibels("above the mean level of the seat without units", "note"),
    "after": _decibels("likewise with the advised units", "note"),
    "decay_before": Entry(("note",), "s", "decay time about it, from the slope of the response"),
    "decay_after": Entry(("note",), "s", "likewise with the advised units"),
    "risen": Entry(("note",), "Hz", "what stands out most more at the seat with the advised units"),
    "rise": _decibels("by which it stands out more from the seat's mean level", "note"),
    "shorter": _sooner("mean share by which what rings at the seat dies away sooner", "note"),
    "more_even": _decibels("more even at the seat than without units", "note"),
}

LAYOUT: Layout = {
    "": Group(_ROOT, ATTRIBUTES),
    "places": Group(_PLACES),
    "singles": Group({"rank": numbers("rank", "rank by benefit, 1 the best"), **_units("rank"), **_figures("rank")}),
    "best": _designs("design", numbers("design", "number of the design, the best first")),
    "counts": _designs("count", numbers("count", "number of units", 0)),
    "pareto": _designs("design", numbers("design", "number of the design, the best first")),
    "ranking": Group(_RANKING),
    "before_after": Group(
        {
            "design": numbers("design", "number of the design, the first without units", shortest=1),
            **_units("design", "unit"),
            "level": _decibels("level re a source of level 0 in free field at 1 m", "design", "frequency", "seat"),
        }
    ),
    "returns": Group(_RETURNS, fewest=0),
    "answer": Group(_ANSWER, fewest=0),
    "worst_notes": Group(_WORST_NOTES, fewest=0),
    "sure": Group(_SURE, fewest=0),
    "sure/singles": Group(_SURE_SINGLES, fewest=0),
    "sure/counts": Group(_SURE_COUNTS, fewest=0),
    "trials": Group(_TRIALS, fewest=0),
    "searched": Group(_SEARCHED),
    "meter": Group(_METER, fewest=0),
}


def labelled(group: str, arrays: Mapping[str, NDArray]) -> list[LabelledArray]:
    """Arrays of a group with what the layout says of them."""
    made = []
    for name, data in arrays.items():
        entry = LAYOUT[group].arrays[name]
        made.append(LabelledArray(name, entry.axes, entry.units, entry.meaning, data))
    return made
