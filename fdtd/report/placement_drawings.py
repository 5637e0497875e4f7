"""The figures of a placement study, drawn from its file alone, with captions."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import Any

import numpy as np

from fdtd.results.placement_record import PlacementFile, Unit
from fdtd.scene.schema import Scene
from fdtd.scene.spots import Candidate, candidates
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
    title = study.title or "room"
    places = candidates(scene)
    index = {place.number: k for k, place in enumerate(places)}
    text = shown_designs(study)
    designs = [[index[unit.place] for unit in units] for units in text]
    advised = len(study.answer.units) if study.answer is not None else 1
    return [
        _drawing(
            study,
            "spots",
            "candidates",
            "Places that were tried",
            lambda: draw_spots(scene, places, width=width),
            f"The {len(places)} places where a unit was tried, numbered.",
            f"Plan of the room with {len(places)} numbered places along its surfaces.",
        ),
        _drawing(
            study,
            "placement-ranking",
            "placement",
            "The best places for one unit",
            lambda: draw_ranking(title, ranked_bars(study, places), len(places), width),
            "Benefit of one unit at the best places, against no unit." + _bars_caption(study),
            _ranking_text(study),
        ),
        _drawing(
            study,
            "placement-plan",
            "placement",
            "Where units do most",
            lambda: draw_best_places(scene, places, designs, advised, width),
            _plan_caption(study),
            _plan_text(text),
        ),
        _drawing(
            study,
            "placement-count",
            "placement",
            "What each more unit adds",
            lambda: draw_returns(title, study.counts, study.seats, width),
            "Benefit, decay and evenness at the seats against the number of units, each the best choice.",
            _count_text(study),
        ),
        _drawing(
            study,
            "placement-response",
            "placement",
            "Before and after",
            partial(_before_after, study, width),
            "Level at each seat with all loudspeakers playing, without units and with them, and the change.",
            _response_text(study),
        ),
    ]


def _drawing(
    study: PlacementFile, stem: str, kind: str, title: str, draw: object, caption: str, alternative: str
) -> Drawing:
    whole = f"{caption} {plain_text(study.title or 'Room', 80)}; cells of {study.grid:.3g} m; "
    whole += f"fdtd {plain_text(study.program_version, 20)}."
    return Drawing(stem, kind, title, draw, whole, alternative)  # type: ignore[arg-type]


def ranked_bars(study: PlacementFile, places: Sequence[Candidate], most: int = BARS) -> list[Bar]:
    """The best places, best first."""
    where = {place.number: in_caption(short_text(place)) for place in places}
    return [
        Bar(f"{one.unit.place}: {where[one.unit.place]}", one.benefit, one.benefit_low, one.benefit_high)
        for one in study.ranked[:most]
    ]


def _before_after(study: PlacementFile, width: float) -> Any:
    title = f"{study.title or 'room'}: before and after"
    names, levels = level_names(study), [one.level for one in study.levels]
    return draw_before_after(title, study.frequency, list(study.seats), names, levels, width)


def level_names(study: PlacementFile) -> list[str]:
    """What the levels of the study are of: 'without units', '1 unit at 7'."""
    return [
        f"{plural(len(one.units), 'unit')} at {', '.join(str(unit.place) for unit in one.units)}"
        if one.units
        else "without units"
        for one in study.levels
    ]


def _bars_caption(study: PlacementFile) -> str:
    if study.sureness is None:
        return ""
    return (
        f" Lines: from 10 to 90 % of {study.sureness.perturbed_rooms} perturbed rooms; how far the benefit moves "
        "in them was "
        f"computed on cells of {study.sureness.grid:.3g} m."
    )


def numbers(units: tuple[Unit, ...]) -> str:
    """'3', '3 and 7', '3, 7 and 9'."""
    return listed([str(unit.place) for unit in units])


def _ranking_text(study: PlacementFile) -> str:
    best = [f"place {r.unit.place} {r.benefit:.1f} dB" for r in study.ranked[:3]]
    worst = f"the worst of all has {study.ranked[-1].benefit:.1f} dB"
    return f"Bars of benefit, the best first: {', '.join(best)}; {worst}."


def shown_designs(study: PlacementFile) -> list[tuple[Unit, ...]]:
    """The design of each number of units from one: the best by the score, and the advised one, which may be safer."""
    designs = [count.units for count in study.counts]
    if study.answer is not None and 0 < len(study.answer.units) <= len(designs):
        designs[len(study.answer.units) - 1] = study.answer.units
    return designs


def _plan_caption(study: PlacementFile) -> str:
    text = "The best choice of each number of units on the plan; the other places that were tried are faint."
    if [_places(units) for units in shown_designs(study)] != [_places(count.units) for count in study.counts]:
        text += " The filled one is the one that is advised: by the score another is as good, or a little better."
    return text


def _places(units: tuple[Unit, ...]) -> set[int]:
    return {unit.place for unit in units}


def _plan_text(designs: list[tuple[Unit, ...]]) -> str:
    text = [f"{plural(len(d), 'unit')} at place{'' if len(d) == 1 else 's'} {numbers(d)}" for d in designs]
    return f"Plan of the room with the best places marked: {'; '.join(text) or 'none'}."


def _count_text(study: PlacementFile) -> str:
    text = [f"{c.count}: {c.benefit:.1f} dB" for c in study.counts]
    return f"Benefit by number of units: {', '.join(text) or 'none'}."


def _response_text(study: PlacementFile) -> str:
    change = float(np.nanmax(np.abs(study.levels[-1].level - study.levels[0].level)))
    return (
        f"Levels from 20 to 160 Hz at {len(study.seats)} seat(s), {' against '.join(level_names(study)[::-1])}; "
        f"the largest change is {change:.0f} dB."
    )
