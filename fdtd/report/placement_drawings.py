"""The figures of a placement study, drawn from its file alone, with captions."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from fdtd.results.placement_record import PlacementFile, Unit
from fdtd.scene.schema import Scene
from fdtd.scene.spots import candidates
from fdtd.show.best_places import draw_best_places
from fdtd.show.drawing import Drawing
from fdtd.show.placement import Bar, draw_before_after, draw_ranking, draw_returns
from fdtd.show.spots import draw_spots
from fdtd.show.style import FULL_WIDTH
from fdtd.show.text import in_caption, plain_text
from fdtd.wording.letters import listed, plural
from fdtd.wording.places import short_text

BARS = 12


def placement_drawings(study: PlacementFile, scene: Scene, width: float = FULL_WIDTH) -> list[Drawing]:
    """Candidates, ranking, plan, returns, response before and after; `scene` is that of the file's text.

    width : inches
    """
    title, places, seats = study.title or "room", candidates(scene), list(study.seats)
    index = {place.number: k for k, place in enumerate(places)}
    best = [count.units for count in study.counts]
    designs = list(best)
    advised = study.answer.units if study.answer is not None else ()
    if 0 < len(advised) <= len(designs):  # it may be safer than the best by the score
        designs[len(advised) - 1] = advised
    spots = [[index[unit.place] for unit in units] for units in designs]
    where = {place.number: in_caption(short_text(place)) for place in places}
    bars = [
        Bar(f"{one.unit.place}: {where[one.unit.place]}", one.benefit, one.benefit_low, one.benefit_high)
        for one in study.ranked[:BARS]
    ]
    names, levels = [_with_units(one.units) for one in study.levels], [one.level for one in study.levels]
    drawings = (
        (
            ("spots", "candidates", "Places that were tried"),
            lambda: draw_spots(scene, places, width=width),
            f"The {len(places)} places where a unit was tried, numbered.",
            f"Plan of the room with {len(places)} numbered places along its surfaces.",
        ),
        (
            ("placement-ranking", "placement", "The best places for one unit"),
            lambda: draw_ranking(title, bars, len(places), width),
            f"Benefit of one unit at the best places, against no unit.{_bars_caption(study)}",
            _ranking_text(study),
        ),
        (
            ("placement-plan", "placement", "Where units do most"),
            lambda: draw_best_places(scene, places, spots, len(advised) if study.answer is not None else 1, width),
            _plan_caption([_places(a) == _places(b) for a, b in zip(designs, best, strict=True)]),
            f"Plan of the room with the best places marked: {'; '.join(map(_at_places, designs)) or 'none'}.",
        ),
        (
            ("placement-count", "placement", "What each more unit adds"),
            lambda: draw_returns(title, study.counts, study.seats, width),
            "Benefit, decay and evenness at the seats against the number of units, each the best choice.",
            "Benefit by number of units: "
            f"{', '.join(f'{c.count}: {c.benefit:.1f} dB' for c in study.counts) or 'none'}.",
        ),
        (
            ("placement-response", "placement", "Before and after"),
            lambda: draw_before_after(f"{title}: before and after", study.frequency, seats, names, levels, width),
            "Level at each seat with all loudspeakers playing, without units and with them, and the change.",
            f"Levels from 20 to 160 Hz at {len(seats)} seat(s), {' against '.join(names[::-1])}; "
            f"the largest change is {np.nanmax(np.abs(levels[-1] - levels[0])):.0f} dB.",
        ),
    )
    made_from = f"{plain_text(study.title or 'Room', 80)}; cells of {study.grid:.3g} m; "
    made_from += f"fdtd {plain_text(study.program_version, 20)}."
    return [
        Drawing(*head, draw, f"{caption} {made_from}", alternative) for head, draw, caption, alternative in drawings
    ]


def _with_units(units: Sequence[Unit]) -> str:
    """'without units', '1 unit at 7'."""
    if not units:
        return "without units"
    return f"{plural(len(units), 'unit')} at {', '.join(str(unit.place) for unit in units)}"


def _at_places(units: Sequence[Unit]) -> str:
    """'2 units at places 3 and 7'."""
    spots = listed([str(unit.place) for unit in units])
    return f"{plural(len(units), 'unit')} at place{'' if len(units) == 1 else 's'} {spots}"


def _bars_caption(study: PlacementFile) -> str:
    if study.sureness is None:
        return ""
    return (
        f" Lines: from 10 to 90 % of {study.sureness.perturbed_rooms} perturbed rooms; how far the benefit moves "
        f"in them was computed on cells of {study.sureness.grid:.3g} m."
    )


def _ranking_text(study: PlacementFile) -> str:
    best = [f"place {r.unit.place} {r.benefit:.1f} dB" for r in study.ranked[:3]]
    worst = f"the worst of all has {study.ranked[-1].benefit:.1f} dB"
    return f"Bars of benefit, the best first: {', '.join(best)}; {worst}."


def _plan_caption(the_best: Sequence[bool]) -> str:
    text = "The best choice of each number of units on the plan; the other places that were tried are faint."
    if not all(the_best):
        text += " The filled one is the one that is advised: by the score another is as good, or a little better."
    return text


def _places(units: Sequence[Unit]) -> set[int]:
    return {unit.place for unit in units}
