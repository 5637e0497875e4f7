"""Every sentence from numbers alone: no simulation, no file; all figures are invented."""

from __future__ import annotations

import math
from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from rooms import box_plan, make_scene

from fdtd.analysis.mode_shapes import Loudest, ModeShape, Place
from fdtd.listening.animation_signals import Played
from fdtd.listening.animation_times import even_times, stroboscope_times
from fdtd.listening.changes import Change
from fdtd.listening.study import CutShort
from fdtd.placement.objectives import Objectives
from fdtd.placement.steps import MOST_OCTAVES_LONGER, Gained
from fdtd.results.placement_record import (
    Answer,
    LoudSpot,
    Meter,
    PlaceConfidence,
    Searched,
    Spread,
    Sureness,
    Tone,
    Trial,
    Unit,
    UnitsConfidence,
)
from fdtd.scene.schema import Device, Rectangle
from fdtd.scene.shape import Shape
from fdtd.scene.spots import Candidate, WallEnd
from fdtd.study.loudest import Agreement
from fdtd.study.partitions import Deed
from fdtd.study.sources import Choice, MoveStudy
from fdtd.wording import (
    advice,
    animations,
    answer,
    endings,
    letters,
    loudest,
    partitions,
    ranking,
    seats,
    sources,
    thresholds,
)
from fdtd.wording import trials as trial_words
from fdtd.wording import units as unit_words
from fdtd.wording.mode_shapes import mode_shape_text
from fdtd.wording.names import on_screen

NAN, INF = math.nan, math.inf
ROOM = make_scene(box_plan(5.0, 4.0), 2.4, sources=[(1.0, 1.0, 0.4)], seats=[(4.0, 2.0, 1.1), (2.0, 3.0, 1.1)])
BOX = Shape(ROOM.room)


def spread(nominal: float, low: float, high: float) -> Spread:
    return Spread(nominal, low, 0.5 * (low + high), high)


def single(place: int, behind: float, benefit: Spread, first: float = 0.6) -> PlaceConfidence:
    return PlaceConfidence(Unit(place, "trap", 1.0), first, 0.9, spread(behind, behind, behind), benefit)


def sureness(*singles: PlaceConfidence, robust: bool = False, grid: float = 0.15) -> Sureness:
    doubt = {"wall": 0.3, "temperature": 3.0, "device": 0.1, "place": 0.1, "height": 0.05, "plan": 0.05}
    doubt |= {"furniture": 0.5, "door": 0.25}
    counts = (UnitsConfidence(2, 0.7, spread(2.0, 1.5, 2.5), spread(0.4, 0.1, 0.6)),)
    return Sureness(10, grid, robust, doubt, singles, counts)


SURE = sureness(single(7, 0.0, spread(1.2, 0.8, 1.6), 0.95), single(3, 0.4, spread(0.8, 0.5, 1.0)), robust=True)
UNSURE = sureness(single(7, 0.0, spread(1.2, 0.2, 1.6)), single(3, -0.1, spread(1.1, 0.8, 1.4)), grid=0.225)


def found(count: int, *places: int, why: str = "untried", benefit: float = 1.2, **more: Any) -> Answer:
    return Answer(count, tuple(Unit(place, "trap", 1.0) for place in places), 0.17, why, benefit, **more)


def place(number: int) -> Candidate:
    face = Rectangle((0.2 * number, 0.0), (0.2 * number + 0.3, 0.5))
    at = (0.2 * number, 0.0, 0.25)
    return Candidate(number, "wall 1", face, at, "edge", "floor", 0.0, "", WallEnd(2, "corner", 1.0))


PLACES = [place(number) for number in (3, 7)]
SPOTS = SimpleNamespace(devices=(Device("trap", ()),), gains=(1.0,))
ACTIVE = SimpleNamespace(
    devices=(SimpleNamespace(name="trap", control=object()),),
    gains=(1.0, 0.5),
)


def gained(ringing: float, uneven: float, level: float, benefit: float = 1.0, between: float = 0.0) -> Gained:
    audible = np.array([abs(ringing) >= 0.05 or abs(uneven) >= 0.5])
    return Gained(uneven, between, benefit, np.array([ringing]), np.array([uneven]), np.array([level]), audible)


def objectives(benefit: float, uneven: float = 6.0, decay: float = 0.0, level: float = 0.0) -> Objectives:
    both = np.ones(2)
    return Objectives(decay, uneven, 2.0, level, 0.0, 0.0, benefit, decay * both, uneven * both, level * both, both)


def moved(*benefits: float, what: str = "source", uneven: float = 4.5) -> MoveStudy:
    """A loudspeaker at the best of several places; the response does not change."""
    at = np.array([(0.5 + 0.4 * k, 0.3, 0.4) for k in range(len(benefits))])
    count = (3, len(benefits), 2)
    choices = tuple(Choice((k,), objectives(benefit, uneven)) for k, benefit in enumerate(benefits))
    return MoveStudy(
        scene=ROOM,
        variant=ROOM.variants[0],
        what=what,
        moved=("source 0",),
        places=at,
        frequency=np.array([20.0, 40.0, 80.0]),
        parts=np.ones(count, complex),
        staying=np.zeros((3, 2), complex),
        now=np.ones((3, 2), complex),
        present=objectives(0.0),
        at_present=((1.0, 1.0, 0.4),),
        choices=choices,
        seats=("sofa", "chair"),
        spacing=0.4,
        by_wall=np.ones(len(benefits), bool),
    )


def mode(**given: Any) -> str:
    share = np.array([1.0, 0.05, 0.5, 0.9, 0.2])
    whole: dict[str, Any] = {
        "number": 1,
        "frequency": 34.3,
        "decay_time": 1.25,
        "shape": np.ones(1),
        "travelling": 0.0,
        "share": share,
        "together": share,
        "distance": np.array([1.0, 0.02, 0.3, 1.0, 1.0]),
        "product": np.ones((1, 1)),
        "level": np.ones((1, 1)),
        "family": (1,),
        "loudest": Loudest(("floor", "wall 3")),
    }
    at = (1.0, 1.0, 1.0)
    places = [Place("source", "sub", at), Place("seat", "sofa", at), Place("absorber", "trap", at)]
    places += [Place("spot", f"spot {number}", at, number) for number in (4, 9)]
    return mode_shape_text(ModeShape(**{**whole, **given}), places, BOX)


def change(before: float | None, after: float | None, step: float = 0.0, heard: bool = True) -> Change:
    return Change(0, 34.6, (before, after), step, 1.0, heard, abs(step) >= 1.0)


def at_seat(*changes: Change, short: CutShort | None = None, names: tuple[str, ...] = ("off", "on")) -> list[str]:
    """Sentences of a seat about `changes`, with a tone that is 30 dB down after 0.46 and 0.16 s."""
    variants = tuple(
        SimpleNamespace(
            name=name,
            too_short=short,
            limit=[0.64],
            audible=[True],
            resonances=SimpleNamespace(decay_time=[time], low=15.0, high=165.0),
            tail=SimpleNamespace(steady=np.ones((1, 1)), time=np.array([0.0, 3.5])),
            figures=SimpleNamespace(time_to=np.array([[[tail]]]), drops=(30.0,)),
        )
        for name, time, tail in zip(names, (0.92, 0.41), (0.46, 0.16), strict=False)
    )
    listening = SimpleNamespace(
        seats=("sofa",),
        variants=variants,
        tones=np.array([34.6]),
        own_tones=(),
        high=160.0,
        followed=[SimpleNamespace(numbers=(0, 0))],
        first_with=lambda seat: 0,
    )
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(seats, "changes_at", lambda *rest: list(changes))
        patch.setattr(seats, "text_tone", lambda *rest: 0)
        return seats.seat_sentences(listening, 0)  # type: ignore[arg-type]


def moving(kind: str, signed: bool = True) -> Any:
    return SimpleNamespace(played=Played(kind), signed=signed)


def ended(outcome: str, fallen: float) -> Any:
    return SimpleNamespace(outcome=outcome, duration=2.0, fallen=fallen)


def tried(kind: str, *places: int, gain: float = 1.0, **more: Any) -> Trial:
    benefit = 1.2 if places[0] == 7 else 0.8
    return Trial(kind, tuple(Unit(one, "trap", gain) for one in places), benefit, benefit - 0.05, **more)


TONE = Tone(24.2, 3.8)
SPOT = LoudSpot((0.0, 1.0, 0.8), -0.04, ("wall 4",))
METER = Meter(TONE, (SPOT,), np.array([-9.0, -6.0]), np.array([0.0, -6.0]))

CASES: list[tuple[Callable[[], Any], str]] = [
    # comparisons
    (lambda: letters.decay_text(0.12), "resonances decay 12 % faster"),
    (lambda: letters.decay_text(0.0, 2), "resonances decay as before, averaged over the seats"),
    (lambda: letters.decay_text(-0.5), "resonances decay 50 % slower"),
    # Where hardly anything rang before, the share is huge and means little: it said "102300 % slower".
    (
        lambda: letters.decay_text(1.0 - 2.0**MOST_OCTAVES_LONGER),
        "resonances take more than 10 times as long to decay",
    ),
    (lambda: letters.louder(-1.25), "1.2 dB quieter"),
    (lambda: letters.more_even(0.6), "0.6 dB more even"),
    (lambda: letters.decibels(-0.04), "0.0 dB"),
    (lambda: letters.plural(2, "unit"), "2 units"),
    (lambda: letters.listed(["a", "b", "c"]), "a, b and c"),
    # animations
    (lambda: animations.played_text(Played("pulse", 48.2)), "a pulse, strongest at 48 Hz"),
    (lambda: animations.played_text(Played("tone", 24.2, 3.014)), "24.2 Hz, switched off after 3 s"),
    (lambda: animations.played_text(Played("steady", 34.5)), "a steady tone of 34.5 Hz"),
    (lambda: animations.played_text(Played("sound", name="a song.wav")), "'a song.wav'"),
    (
        lambda: animations.speed_text(stroboscope_times(2.0, 10.0, 40.0)),
        "shown nearly as fast as it happens, a picture every 4 1/16 periods (stroboscope)",
    ),
    (lambda: animations.speed_text(even_times(1.0, 30.0, 0.5)), "shown 2 times faster"),
    (
        lambda: animations.scale_text(moving("tone")),
        "sound pressure 1, and 0 dB below: the same tone at 1 m in free field",
    ),
    (lambda: animations.scale_text(moving("steady")), "sound pressure 1: the same tone at 1 m in free field"),
    (
        lambda: animations.scale_text(moving("sound", False)),
        "level in dB 0 dB: the same sound at 1 m in free field, at its loudest",
    ),
    (lambda: animations.trace_text(moving("pulse")), "level in dB"),
    # how a simulation ended
    (
        lambda: endings.outcome_text(ended("quiet", 60.4)),
        "stopped after 2.00 s, when the sound at every seat had decayed by 60 dB",
    ),
    (lambda: endings.outcome_text(ended("asked", 52.0)), "ran for 2.00 s, as the scene asks"),
    (
        lambda: endings.outcome_text(ended("limit", 12.0)),
        "stopped after 2.00 s, still ringing; only 12 dB down by then, so sharp resonances are smeared: simulate for "
        "longer",
    ),
    (
        lambda: endings.too_short_text("off", CutShort(0.5, 15.0)),
        "simulation too short ('off' ended after 0.50 s, when the sound was 15 dB down; decays and tails need 40 dB: "
        "give a longer duration, or none)",
    ),
    (
        lambda: endings.too_short_text("off", CutShort(0.5, 0.0)),
        "simulation too short ('off' ended after 0.50 s, when nothing had decayed yet; decays and tails need 40 dB: "
        "give a longer duration, or none)",
    ),
    # seats
    (
        lambda: at_seat(change(0.92, 0.41, -7.0)),
        "At 'sofa' the 34.6 Hz resonance decays by 60 dB in 0.41 s with 'on' instead of 0.92 s with 'off' and is 7.0 "
        "dB quieter; a 34.6 Hz tone is 30 dB down after 0.16 s instead of 0.46 s.",
    ),
    (
        lambda: at_seat(change(0.5, 0.5, 6.0, heard=False)),
        "At 'sofa' the 34.6 Hz resonance is 6.0 dB louder with 'on' than with 'off'; a 34.6 Hz tone is 30 dB down "
        "after 0.16 s instead of 0.46 s.",
    ),
    (
        lambda: at_seat(change(0.8, None)),
        "At 'sofa' the 34.6 Hz resonance (0.80 s for 60 dB with 'off') is no longer found with 'on'; a 34.6 Hz tone "
        "is 30 dB down after 0.16 s instead of 0.46 s.",
    ),
    (
        lambda: at_seat(change(None, 2.5)),
        "At 'sofa' there is a new 34.6 Hz resonance with 'on', which takes 2.5 s to decay by 60 dB; a 34.6 Hz tone is "
        "30 dB down after 0.16 s instead of 0.46 s.",
    ),
    (
        lambda: at_seat(change(0.9, 0.89, heard=False)),
        "At 'sofa' no resonance from 20 to 160 Hz changes audibly with 'on' instead of 'off'.",
    ),
    (
        lambda: at_seat(change(0.92, 0.92), names=("only",)),
        "At 'sofa' the 34.6 Hz resonance decays by 60 dB in 0.92 s (ringing is audible above 0.64 s); a 34.6 Hz tone "
        "is 30 dB down after 0.46 s.",
    ),
    (lambda: at_seat(names=("only",)), "At 'sofa' no resonance was found from 15 to 165 Hz."),
    (
        lambda: at_seat(short=CutShort(0.5, 15.0)),
        "At 'sofa' 'on' is not compared with 'off': simulation too short ('off' ended after 0.50 s, when the sound "
        "was 15 dB down; decays and tails need 40 dB: give a longer duration, or none).",
    ),
    # thresholds
    (lambda: thresholds.against_threshold(32.0, 1.7), "2.0 times the published threshold of 0.85 s"),
    (lambda: thresholds.against_threshold(20.0, 1.0), "no published threshold below 32 Hz"),
    (
        lambda: thresholds.more_prominent(np.array([31.0, 47.0]), np.array([2.0, 9.0])),
        "9 dB more prominent at 47 Hz",
    ),
    (lambda: thresholds.more_prominent(np.array([31.0]), np.array([2.0])), ""),
    # partitions
    *(
        (lambda deed=deed, order=order: partitions.deed_text(deed, order), told)
        for deed, order, told in (
            (Deed("doors", openings=1), False, "closing its opening with a door"),
            (Deed("doors", openings=2), True, "close its openings with doors"),
            (Deed("closed", openings=1), True, "close it except for its openings"),
            (Deed("closed"), False, "closing it"),
            (Deed("open", 60.0, 30.0), True, "make it 60 % open instead of 30 %"),
            (Deed("width", 1.5), False, "making its opening 1.5 m wide"),
            (Deed("move", 0.3, axis=1), True, "move it by +0.3 m along y"),
            (Deed("mass", 8.0), False, "making its closed part a panel of 8 kg/m²"),
            (Deed("gone"), True, "leave it out"),
        )
    ),
    (
        lambda: partitions.left_out_text((30.0, 60.0)),
        "30, 60 % open is left out: without depth or resistance a partition that is open at all lets sound through as "
        "if it were not there. Give its depth, such as --depth 0.3",
    ),
    # loudspeakers and seats
    (
        lambda: sources.advice(moved(2.0, 1.5)),
        "Put 'source 0' at x = 0.50 m, y = 0.30 m (0.30 m from wall 1 and 0.50 m from wall 4): 2.0 dB better than "
        "now, best of 2 places. What it changes: at 'sofa' 1.5 dB more even over frequency; at 'chair' 1.5 dB more "
        "even over frequency; the seats differ as much as now. The places beside it, 0.40 m away, gain 1.5 to 1.5 dB: "
        "so a step to either side does no harm.",
    ),
    (
        lambda: sources.advice(moved(-0.2, -2.0)),
        "Leave 'source 0' where it is (x = 1.00 m, y = 1.00 m (1.00 m from wall 1 and 1.00 m from wall 4)): none of 2 "
        "places is clearly better (the best by -0.2 dB). Worst: x = 0.90 m, y = 0.30 m (0.30 m from wall 1 and 0.90 m "
        "from wall 4), 2.0 dB worse than now.",
    ),
    # mode shapes
    (
        mode,
        "34.3 Hz, decaying by 60 dB in 1.25 s: loudest all over the floor and wall 3; 'sub' drives it fully (100 %); "
        "'sofa' hears it hardly (5 %), on a nodal line; 'trap' is where it has 50 % of its peak; spots 4 and 9 couple "
        "best (20 % to 90 %).",
    ),
    (
        lambda: mode(decay_time=NAN, family=(1, 2), travelling=0.3, loudest=Loudest(spots=(SPOT,))),
        "34.3 Hz: one of a family with mode 2, so close in frequency that any mix of them is a mode (shares are of "
        "all of them together); this one is loudest at wall 4, 1.0 m from its end at wall 1 (0.8 m up); 'sub' drives "
        "it fully (100 %); 'sofa' hears it hardly (5 %); 'trap' is where it has 50 % of its peak; spots 4 and 9 "
        "couple best (20 % to 90 %); its nodal lines are blurred, as 30 % of its energy travels.",
    ),
    # the answer of a placement study
    *(
        (lambda one=one, seen=seen: answer.how_many(one, ["sofa", "chair"], seen), told)
        for one, seen, told in (
            (found(1, 7), [True, True], "In short: one unit is worthwhile; more were not tried."),
            (found(1, 7, why="budget"), [True], "In short: buy one. More units would cost more than the budget."),
            (
                found(2, 7, 3),
                [True, False],
                "In short: two units are worthwhile, and each is audible, the last only at 'sofa'; more were not "
                "tried.",
            ),
            (found(1, 7, why="unheard"), [], "In short: buy one. A second unit adds nothing audible."),
            (
                found(1, 7, why="nothing", lowered=True),
                [],
                "In short: buy one. A second unit, at the lower gain that both would need, adds nothing.",
            ),
            (
                found(2, 7, 3, why="seldom"),
                [],
                "In short: buy two. A third unit is audible in too few of the perturbed rooms.",
            ),
            (found(1, 7, why="oscillates"), [], "In short: buy one. A second unit would oscillate."),
            (
                found(1, 7, why="margin", margin_of_more=1.5),
                [],
                "In short: buy one. A second unit would oscillate with only 1.5 dB more gain, which is too little "
                "margin.",
            ),
            (found(0, 7, why="oscillates"), [], "In short: buy none. It would oscillate."),
            (found(0, 7, why="unheard"), [], "In short: buy none. Even the first unit may not be audible."),
        )
    ),
    (lambda: answer.gain_left(found(2, 7, 3, margin=3.3)), "The gain could rise by 3.3 dB before they oscillate."),
    (lambda: answer.gain_left(found(1, 7, margin=NAN)), "Whether it oscillates there was not checked."),
    (lambda: answer.gain_left(found(1, 7)), ""),
    (
        lambda: answer.not_confident(UNSURE, found(1, 7)),
        "Not sure which place is best: spot 3 is equally good within the uncertainty of the room.",
    ),
    (
        lambda: answer.not_confident(UNSURE, found(2, 7, 3)),
        "Not sure which places are best: for a single unit, spots 3 and 7 are equally good within the uncertainty of "
        "the room.",
    ),
    (lambda: answer.not_confident(SURE, found(1, 7)), ""),
    # its uncertainty
    (
        lambda: ranking.ranking_text(SURE),
        "the ranking is robust: spot 7 comes first of the shortlist in 10 of 10 perturbed rooms spot 7: benefit 1.2 "
        "dB, 10-90 % 0.8 to 1.6 dB: an improvement in at least 90 % of the rooms the best two units: the last adds "
        "0.4 dB, 10-90 % 0.1 to 0.6 dB, audible in 7 of 10 rooms",
    ),
    (
        lambda: ranking.doubt_text(SURE),
        "wall admittances by a factor of 1.3 up or down, temperature ±3 °C, units ±10 %, seats and loudspeakers ±10 cm "
        "(height ±5 cm), the plan ±5 cm, a piece of furniture more in 50 % of the rooms and an open door in 25 %",
    ),
    (
        lambda: advice.in_doubt(UNSURE, SPOTS, PLACES),  # type: ignore[arg-type]
        "the ranking is not robust: the first two places (spot 7 and spot 3) differ by less than the uncertainty of "
        "the room; the most robust is spot 3 (among the first three in 9 of 10 perturbed rooms), the other one is "
        "equally good. They all lie within 0.8 m of each other: that part of the room is what matters. The most "
        "robust of them is spot 3 (wall 1, 1.00 m from its corner with wall 2, on the floor; at an edge): 0.8 dB of "
        "benefit or more in 90 % of such rooms, among the first three in 9 of 10. If it does not fit there, "
        "spot 7 will do as well.",
    ),
    (lambda: advice.confidence_of(None, 0.15, False), "not estimated (--no-robust)."),
    (
        lambda: advice.confidence_of(UNSURE, 0.15, False),
        "from 10 rooms with slightly different walls, air, units, seats and loudspeakers: The shifts of the figures "
        "were computed on cells of 0.225 m and added to the study's own, from cells of 0.15 m. Spot 3: benefit 1.1 dB,"
        " 10-90 % 0.8 to 1.4 dB: an improvement in at least 90 % of the rooms. The best two units: the last adds 0.4 "
        "dB, 10-90 % 0.1 to 0.6 dB, audible in 7 of 10 rooms.",
    ),
    # what was simulated
    (
        lambda: advice.how_measured(4, 0.0, [Searched(1, 6, 6, True), Searched(2, 90, 300, False)], "work"),
        "4 excitations simulated, one for each place and loudspeaker, and kept in work. Searched: 1 unit: all 6 "
        "designs; 2 units: greedy, then exchange of single units, 90 designs tried out of 300 (not all: a better one "
        "may exist).",
    ),
    (
        lambda: trial_words.on_wall_text([tried("face", 7, error=0.004), tried("face", 3, error=0.01)]),
        "2 places simulated with the unit built in: the order is as predicted; levels at the seats differ from the "
        "prediction by 0.01 dB at most",
    ),
    (
        lambda: trial_words.on_wall_text([tried("face", 7, outcome="grew"), tried("face", 3, error=0.01)]),
        "2 places simulated with the unit built in: the field grew by itself with the unit at spot 7: unstable at "
        "that gain",
    ),
    (
        lambda: trial_words.trial_text([tried("face", 7), tried("built", 7)], SPOTS, PLACES)[1],  # type: ignore[arg-type]
        "1 unit, spot 7 (wall 1, 1.00 m from its corner with wall 2, on the floor; at an edge): predicted benefit 1.2 "
        "dB, simulated as installed 1.1 dB",
    ),
    (
        lambda: trial_words.trial_text(  # type: ignore[arg-type]
            [tried("face", 7), tried("built", 7, gain=0.5, asked=(1.0,), margin=2.0)], ACTIVE, PLACES
        )[1],
        "1 unit, spot 7 (wall 1, 1.00 m from its corner with wall 2, on the floor; at an edge), gain 0.5: predicted "
        "benefit 1.2 dB, simulated as installed 1.1 dB; with gain 0.5, because less than 3 dB of gain would be left "
        "with gain 1; stable, with 2.0 dB of gain to spare (less than the usual 3 dB, and no lower gain was tried)",
    ),
    # a unit more
    (
        lambda: unit_words.step_text(gained(0.12, 0.6, 0.0, between=0.7), 2),
        "the second unit is audible at 1 of 1 seats: resonances decay up to 12 % faster, the level is up to 0.6 dB "
        "more even at a seat, the seats are 0.7 dB closer to each other",
    ),
    (lambda: unit_words.step_text(gained(0.01, 0.1, 0.0), 3), "the third unit adds nothing audible"),
    (
        lambda: unit_words.step_text(gained(0.2, 0.1, 0.0, benefit=-0.1), 7),
        "unit 7 as one more unit adds nothing: no place found for it improves the score",
    ),
    (
        lambda: unit_words.seat_changes(SEATS, gained(0.12, -0.3, 1.5))[0][1],  # type: ignore[arg-type]
        "resonances decay 12 % faster, the level is 0.3 dB less even, the bass is 1.5 dB louder on average",
    ),
    (
        lambda: unit_words.seat_changes(SEATS, gained(0.01, 0.1, 0.0))[0][1],  # type: ignore[arg-type]
        "resonances decay 1 % faster, the level is 0.1 dB more even (inaudible)",
    ),
    # a level meter
    (
        lambda: loudest.meter_text(METER, BOX, np.array([1.0, 0.5])),
        "Is the loudest place the best? Too little to compare the loudest places with the best (2 places). Tone: 24.2 "
        "Hz, a resonance that takes 3.80 s to decay by 60 dB (no published threshold below 32 Hz). With a level meter "
        "along floor and walls it is loudest at: 1. 0.0 dB wall 4, 1.0 m from its end at wall 1, 0.8 m up At the "
        "seats: -9 to -6 dB on the same scale (0 dB is the loudest).",
    ),
    *(
        (lambda rank=rank, both=both, rho=rho: loudest.agreement_text(Agreement(76, rank, 7, both, rho)), told)
        for rank, both, rho, told in (
            (1, 5, 0.9, "yes: in this room the loudest places are among the best ones (..."),
            (3, 4, 0.8, "nearly: in this room the loudest places are among the best ones (..."),
            (3, 1, 0.8, "in this room the loudest place is among the best ones, but other loud places are not (..."),
            (20, 2, 0.5, "no: in this room the loudest place is not among the best ones, though some other loud..."),
            (
                20,
                0,
                0.5,
                "no: in this room the loudest places are not the best ones: a level meter is no guide here...",
            ),
            (70, 0, -0.5, "no: in this room the loudest places are rather the worse ones: do not go by a level..."),
        )
    ),
]
SEATS = SimpleNamespace(variant=SimpleNamespace(seats=(SimpleNamespace(name="sofa"),)))


@pytest.mark.parametrize(("say", "told"), CASES)
def test_sentences(say: Callable[[], Any], told: str) -> None:
    """Of a text that goes on with figures that are tested elsewhere the beginning is given, then "..."."""
    said = say()
    text = said if isinstance(said, str) else " ".join(said)
    shown = " ".join(on_screen(text).split())
    assert shown == told or (told.endswith("...") and shown.startswith(told.removesuffix("...")))
