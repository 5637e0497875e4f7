"""What moving a loudspeaker or a seat would do, in sentences."""

from __future__ import annotations

import numpy as np

from fdtd.placement.steps import AUDIBLE_DECAY, AUDIBLE_EVENNESS, Gained, gained
from fdtd.results.placement_record import WorstNote
from fdtd.scene.schema import Scene, Variant
from fdtd.scene.shape import Shape
from fdtd.study.sources import Choice, MoveStudy
from fdtd.study.stereo import ANGLE, DISTANCE, main_seat
from fdtd.study.worst_note import worst_notes
from fdtd.wording.letters import faster, listed, louder, more_even, seats_closer
from fdtd.wording.names import named, typed
from fdtd.wording.places import position_text
from fdtd.wording.thresholds import more_prominent

AUDIBLE_LEVEL = 1.0
"""dB of level that are just noticed (common practice)."""
AS_GOOD = 0.5
"""dB of benefit within which places are taken as equally good; ours."""
ANY_PAIR = (
    "Stereo is not considered: both play the same signal, and a pair may be unequally far from the seats, on different "
    "sides of them, or in different parts of the room."
)


def advice(study: MoveStudy) -> tuple[str, ...]:
    """Where to put what was moved, what that changes, and how much the exact spot matters."""
    best, found = study.choices[0], gained(study.present, study.choices[0].objectives)
    many = f"{len(study.choices):,} {'pairs of places' if study.what == 'pair' else 'places'}"
    stereo = _stereo(study)
    gain = best.objectives.benefit
    if gain < AS_GOOD or not found.audible:
        now = " and ".join(position_text(Shape(study.scene.room), at) for at in study.at_present)
        leave = (
            f"Leave {_them(study)} where {'they are' if len(study.moved) > 1 else 'it is'} ({now})"
            f"{_staying(study)}: none of {many} is clearly better (the best by {gain:.1f} dB)."
        )
        return (leave, *stereo, *_not_to(study))
    harm = _at_seats(study, _harms(study, best, found))
    but = f", but {listed(harm)}" if harm else ""
    where = f"{_them(study)} {'to' if study.what == 'seat' else 'at'} {choice_text(study, best)}{_staying(study)}"
    than = "the one there is now" if study.what == "pair" and len(study.moved) == 1 else "now"
    put = f"{'Move' if study.what == 'seat' else 'Put'} {where}: {gain:.1f} dB better than {than}, best of {many}{but}."
    effect = f"What it changes: {changes(study, best, found)}."
    more = filter(None, (_nearby(study, best), _along_walls(study)))
    return (put, *stereo, effect, *more, *_not_to(study))


def changes(study: MoveStudy, choice: Choice, found: Gained | None = None) -> str:
    """What a choice changes: a clause for each seat that changes by what is heard, then how alike the seats are."""
    found = found or gained(study.present, choice.objectives)
    one = len(study.seats) == 1
    harms = _harms(study, choice, found)
    parts = _at_seats(study, [[*_gains(found, k), *harms[k]] for k in range(len(study.seats))])
    parts = parts or ["nothing audible" if one else "nothing audible at any one seat"]
    if not one:
        close = found.spread
        parts.append(seats_closer(close) if abs(close) >= AUDIBLE_EVENNESS else "the seats differ as much as now")
    return "; ".join(parts)


def _gains(found: Gained, seat: int) -> list[str]:
    """What becomes audibly better, or only louder or quieter, at one seat."""
    even, share, step = (float(v[seat]) for v in (found.uneven_at, found.ringing_at, found.level_at))
    said = [f"{more_even(even)} over frequency"] if even >= AUDIBLE_EVENNESS else []
    said += [louder(step)] if abs(step) >= AUDIBLE_LEVEL else []
    return [*said, *([f"{faster(share)} decay"] if share >= AUDIBLE_DECAY else [])]


def _harms(study: MoveStudy, choice: Choice, found: Gained) -> list[list[str]]:
    """What becomes audibly worse, seat by seat."""
    notes = worst_notes(study.frequency, study.now, study.response(choice))
    return [_harm(found, note) for note in notes]


def _harm(found: Gained, note: WorstNote) -> list[str]:
    even, share = float(found.uneven_at[note.seat]), float(found.ringing_at[note.seat])
    said = [f"{more_even(even)} over frequency"] if even <= -AUDIBLE_EVENNESS else []
    said += [text] if (text := more_prominent(np.array([note.risen]), np.array([note.rise]))) else []
    return [*said, *([f"{faster(share)} decay"] if share <= -AUDIBLE_DECAY else [])]


def _at_seats(study: MoveStudy, said: list[list[str]]) -> list[str]:
    """A clause for each seat of which something is said."""
    where = ["" if len(study.seats) == 1 else f"at {named(name)} " for name in study.seats]
    return [f"{at}{listed(some)}" for at, some in zip(where, said, strict=True) if some]


def _stereo(study: MoveStudy) -> list[str]:
    """Which pairs were looked at."""
    if study.what != "pair":
        return []
    if study.tolerance is None:
        return [ANY_PAIR]
    return [pairs_tried(study.scene, study.variant, study.tolerance)]


def pairs_tried(scene: Scene, variant: Variant, tolerance: float) -> str:
    """Which pairs suit two channels; tolerance : m"""
    seat = variant.seats[main_seat(scene, variant)].name
    return (
        f"Only pairs for two channels at {named(seat)} were tried: in front of it and in sight, {DISTANCE[0]:g} to "
        f"{DISTANCE[1]:g} m away, {ANGLE[0]:g} to {ANGLE[1]:g} degrees apart, distances equal within "
        f"{tolerance:g} m. For two subwoofers try {typed('--any-pair')}."
    )


def choice_text(study: MoveStudy, choice: Choice) -> str:
    """Where a choice is."""
    return " and at ".join(position_text(Shape(study.scene.room), tuple(study.places[k])) for k in choice.places)


def _them(study: MoveStudy) -> str:
    if study.what == "pair" and len(study.moved) == 1:
        return f"{named(study.moved[0])} and a second one like it"
    return " and ".join(named(name) for name in study.moved)


def _staying(study: MoveStudy) -> str:
    """Which loudspeakers stay put and play along, and how to ask for those; "" where a seat moves or none stays."""
    others = [s.name for s in study.variant.sources if s.name not in study.moved]
    if study.what == "seat" or not others:
        return ""
    text = " and ".join(named(name) for name in others)
    hint = (
        f"for that one try {typed('--source')} {named(others[0])}"
        if len(others) == 1
        else f"for one of those try {typed('--source')}"
    )
    pair = f"for a pair try {typed('--pairs')}, " if study.what == "source" else ""
    return f", with {text} where {'it is' if len(others) == 1 else 'they are'} and playing along ({pair}{hint})"


def _nearby(study: MoveStudy, best: Choice) -> str:
    """How much the exact spot matters, from the places beside the best one."""
    if len(best.places) > 1:
        equal = sum(c.objectives.benefit >= study.choices[0].objectives.benefit - AS_GOOD for c in study.choices)
        return f"{equal} pairs are within {AS_GOOD:g} dB of it." if equal > 1 else ""
    gap = np.linalg.norm(study.places - study.places[best.places[0]], axis=1)
    beside = (gap > 0.0) & (gap <= 1.2 * study.spacing)
    if not beside.any():
        return ""
    low, high = study.benefit[beside].min(), study.benefit[beside].max()
    if low <= 0.0:
        text = "so the exact spot matters: listen before you settle on it"
    elif low >= 0.5 * best.objectives.benefit:
        text = "so a step to either side does no harm"
    else:
        text = "so stay within 20 cm of it"
    return f"The places beside it, {gap[beside].min():.2f} m away, gain {low:.1f} to {high:.1f} dB: {text}."


def _along_walls(study: MoveStudy) -> str:
    """The best choice along the walls, where things usually stand, if the best of all is out in the room."""
    if study.what == "seat" or study.by_wall[list(study.choices[0].places)].all():
        return ""
    best = next((c for c in study.choices if study.by_wall[list(c.places)].all()), None)
    if best is None:
        return ""
    if best.objectives.benefit <= 0.0:
        return "That is out in the room; along the walls no place is better than the present one."
    return (
        f"That is out in the room. Along the walls the best is {choice_text(study, best)}: "
        f"{best.objectives.benefit:.1f} dB better than now; {changes(study, best)}."
    )


def _not_to(study: MoveStudy) -> tuple[str, ...]:
    """The worst place, if it is clearly worse than the present one."""
    worst = study.choices[-1]
    if study.what == "pair" or worst.objectives.benefit > -1.0:
        return ()
    return (f"Worst: {choice_text(study, worst)}, {-worst.objectives.benefit:.1f} dB worse than now.",)
