"""The figures of a placement study, drawn from its file alone, with captions."""

from __future__ import annotations

from functools import partial
from typing import Any

import numpy as np

from fdtd.results.placement_record import PlacementFile, Unit
from fdtd.scene.schema import Scene
from fdtd.scene.spots import candidates
from fdtd.show.drawings import Drawing
from fdtd.show.placement import Bar, Count, draw_before_after, draw_best_places, draw_ranking, draw_returns
from fdtd.show.spots import draw_spots
from fdtd.show.style import FULL_WIDTH
from fdtd.show.text import plain_text

BARS = 12


def placement_drawings(study: PlacementFile, scene: Scene, width: float = FULL_WIDTH) -> list[Drawing]:
    """Candidates, ranking, plan, returns, response before and after; `scene` is that of the file's text.

    width : inches
    """
    title = study.title or "room"
    places = candidates(scene)
    index = {place.number: k for k, place in enumerate(places)}
    designs = [[index[unit.place] for unit in count.units] for count in study.counts]
    return [
        _drawing(study, "spots", "candidates", "Places that were tried", lambda: draw_spots(scene, places, width=width),
                 f"The {len(places)} places where a unit was tried, numbered.",
                 f"Plan of the room with {len(places)} numbered places along its surfaces."),
        _drawing(study, "placement-ranking", "placement", "The best places for one unit",
                 lambda: draw_ranking(title, ranked_bars(study), len(places), width),
                 "Benefit of one unit at the best places, against no unit." + _bars_caption(study),
                 _ranking_words(study)),
        _drawing(study, "placement-plan", "placement", "Where units do most",
                 lambda: draw_best_places(scene, places, designs, width=width),
                 "The best choice of each number of units on the plan; the other places that were tried are faint.",
                 _plan_words(study)),
        _drawing(study, "placement-count", "placement", "What each more unit adds",
                 lambda: draw_returns(title, counts(study), list(study.seats), width=width),
                 "Benefit, decay and evenness at the seats against the number of units, each the best choice.",
                 _count_words(study)),
        _drawing(study, "placement-response", "placement", "Before and after", partial(_before_after, study, width),
                 "Level at each seat with all loudspeakers playing, without units and with them, and the change.",
                 _response_words(study)),
    ]  # fmt: skip


def _drawing(
    study: PlacementFile, stem: str, kind: str, title: str, draw: object, caption: str, alternative: str
) -> Drawing:
    whole = f"{caption} {plain_text(study.title or 'Room', 80)}; cells of {study.grid:.3g} m; "
    whole += f"fdtd {plain_text(study.program_version, 20)}."
    return Drawing(stem, kind, title, draw, whole, alternative)  # type: ignore[arg-type]


def ranked_bars(study: PlacementFile, most: int = BARS) -> list[Bar]:
    """The best places, best first."""
    bars = []
    for one in study.ranked[:most]:
        words = study.place(one.unit.place).words.partition("; ")[0]
        bars.append(Bar(f"{one.unit.place}: {words}", one.benefit, one.low, one.high))
    return bars


def counts(study: PlacementFile) -> list[Count]:
    """The best of each number of units against none."""
    return [Count(c.count, c.benefit, c.shorter, c.uneven, c.low, c.high) for c in study.counts]


def _before_after(study: PlacementFile, width: float) -> Any:
    title = f"{study.title or 'room'}: before and after"
    names, levels = list(study.level_names), list(study.levels)
    return draw_before_after(title, study.frequency, list(study.seats), names, levels, width)


def _bars_caption(study: PlacementFile) -> str:
    if study.sureness is None:
        return ""
    return (
        f" Lines: from 10 to 90 % of {study.sureness.draws} perturbed rooms, on cells of {study.sureness.grid:.3g} m."
    )


def numbers(units: tuple[Unit, ...]) -> str:
    """'3', '3 and 7', '3, 7 and 9'."""
    told = [str(unit.place) for unit in units]
    return told[0] if len(told) == 1 else f"{', '.join(told[:-1])} and {told[-1]}"


def _ranking_words(study: PlacementFile) -> str:
    best = [f"place {r.unit.place} {r.benefit:.1f} dB" for r in study.ranked[:3]]
    worst = f"the worst of all has {study.ranked[-1].benefit:.1f} dB"
    return f"Bars of benefit, the best first: {', '.join(best)}; {worst}."


def _plan_words(study: PlacementFile) -> str:
    told = [
        f"{c.count} {'unit' if c.count == 1 else 'units'} at place{'' if c.count == 1 else 's'} {numbers(c.units)}"
        for c in study.counts
    ]
    return f"Plan of the room with the best places marked: {'; '.join(told) or 'none'}."


def _count_words(study: PlacementFile) -> str:
    told = [f"{c.count}: {c.benefit:.1f} dB" for c in study.counts]
    return f"Benefit by number of units: {', '.join(told) or 'none'}."


def _response_words(study: PlacementFile) -> str:
    change = float(np.nanmax(np.abs(study.levels[-1] - study.levels[0])))
    return (
        f"Levels from 20 to 160 Hz at {len(study.seats)} seat(s), {' against '.join(study.level_names[::-1])}; "
        f"the largest change is {change:.0f} dB."
    )
