"""What the figures of a placement study are drawn from."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from fdtd.placement.study import Design
    from fdtd.show.placement import Bar, Count
    from fdtd.study.built import Built
    from fdtd.study.confirm import Confirmation
    from fdtd.study.loudest import LoudestMap
    from fdtd.study.place import PlacementStudy
    from fdtd.study.robust import Robustness

BARS = 12
WITHOUT = "without units"


def save_placement_figures(study: PlacementStudy, robust: Robustness | None, folder: Path) -> list[Path]:
    """Candidates, ranking, plan, returns, response before and after; returns the files."""
    from fdtd.show import placement as show
    from fdtd.show.files import save_figure
    from fdtd.show.spots import draw_spots

    title = study.scene.title or "room"
    designs = [step.scored.design for step in study.added]
    seats = [seat.name for seat in study.variant.seats]
    figures = [
        ("spots", draw_spots(study.scene, study.places)),
        ("placement-ranking", show.draw_ranking(title, ranked_bars(study, robust), len(study.places))),
        ("placement-plan", show.draw_best_places(study.scene, study.places, [d.ports for d in designs])),
        ("placement-count", show.draw_returns(title, counts(study, robust), seats)),
        ("placement-response", _before_after(study, winner(study, robust))),
    ]
    return [path for stem, figure in figures for path in save_figure(figure, folder, stem)]


def save_loudest_figure(study: PlacementStudy, meter: LoudestMap, folder: Path) -> list[Path]:
    """Level over floor and walls for the tone that rings worst."""
    from fdtd.show.files import save_figure
    from fdtd.show.loudest import draw_loudest

    spots = [(spot.at, spot.surfaces) for spot in meter.spots]
    title = f"{study.scene.title or 'room'}: where {meter.frequency[0]:.1f} Hz is loudest"
    figure = draw_loudest(study.scene, study.variant, meter.surface, meter.at, meter.level, spots, title)
    return save_figure(figure, folder, "loudest")


def winner(study: PlacementStudy, robust: Robustness | None, confirmed: Confirmation | None = None) -> Design:
    """The design that is advised: as many units as are worth while, at least one."""
    from fdtd.cli.place_advice import worthwhile

    return study.added[max(worthwhile(study, robust, confirmed), 1) - 1].scored.design


def ranked_bars(study: PlacementStudy, robust: Robustness | None) -> list[Bar]:
    """The best places, best first."""
    from fdtd.show.placement import Bar
    from fdtd.study.shortlist import ranked_singles

    table, bars = study.found.singles, []
    benefit = {
        (int(p[0]), int(k[0]), int(g[0])): float(b)
        for p, k, g, b in zip(table.ports, table.kinds, table.gains, table.benefit, strict=True)
    }
    sure = {s.design: s.figures.benefit for s in robust.singles} if robust is not None else {}
    for design in ranked_singles(study.found)[:BARS]:
        place = study.places[design.ports[0]]
        value = benefit[design.ports[0], design.kinds[0], design.gains[0]]
        span = sure.get(design)
        ends = (span.low, span.high) if span is not None else ()
        bars.append(Bar(f"{place.number}: {place.words.partition('; ')[0]}", value, *ends))
    return bars


def counts(study: PlacementStudy, robust: Robustness | None) -> list[Count]:
    """The best of each number of units against none."""
    from fdtd.placement.steps import gained
    from fdtd.show.placement import Count

    sure = {c.count: c.figures.benefit for c in robust.counts} if robust is not None else {}
    made = []
    for step in study.added:
        change, span = gained(study.found.bare, step.scored.objectives), sure.get(step.count)
        ends = (span.low, span.high) if span is not None else ()
        made.append(Count(step.count, step.scored.objectives.benefit, change.ringing_at, change.uneven_at, *ends))
    return made


def _before_after(study: PlacementStudy, best: Design) -> Any:
    import numpy as np

    from fdtd.placement.study import Design, design_response
    from fdtd.show.placement import draw_before_after

    first = study.added[0].scored.design
    designs = [Design(), first] + ([best] if best != first else [])
    names = [WITHOUT, *(_units(len(d.ports)) for d in designs[1:])]
    frequency = study.given.frequency
    levels = [20.0 * np.log10(np.maximum(np.abs(design_response(study.given, d)), 1e-15)) for d in designs]
    seats = [seat.name for seat in study.variant.seats]
    return draw_before_after(f"{study.scene.title or 'room'}: before and after", frequency, seats, names, levels)


def _units(count: int) -> str:
    return "the best place for one unit" if count == 1 else f"the best places for {count} units"


def shown_winner(study: PlacementStudy, robust: Robustness | None, confirmed: Confirmation) -> Built | None:
    """The design of the most units that are worth while, with gain enough to spare; None if there is none."""
    from fdtd.cli.place_advice import ENOUGH_MARGIN, margin_db

    most = len(winner(study, robust, confirmed).ports)
    steady = [b for b in confirmed.built if b.count <= most and b.marched is not None]
    safe = [b for b in steady if margin_db(b) >= ENOUGH_MARGIN]
    return max(safe, key=lambda b: b.count) if safe else min(steady, key=lambda b: b.count, default=None)


def save_winner_figures(
    study: PlacementStudy, robust: Robustness | None, confirmed: Confirmation, precision: str, folder: Path,
    progress: Callable[[float, str], None],
) -> list[Path]:  # fmt: skip
    """Run the room without units and with the advised ones as they would stand, and draw what is heard of both."""
    from dataclasses import replace

    from fdtd import workflow
    from fdtd.cli.heard import heard_in
    from fdtd.show.files import save_figures
    from fdtd.study.place import with_units
    from fdtd.study.settling import settling_time

    built = shown_winner(study, robust, confirmed)
    if built is None:
        return []
    count = built.count
    start = replace(study.variant, name=WITHOUT)
    after = with_units(study, built.design, "with one unit" if count == 1 else f"with {count} units")
    scene = replace(study.scene, variants=(start, after))
    # As long as the room without units rings: with hardly any gain to spare the end would not come for a minute.
    duration = scene.run.duration or settling_time(scene, start, study.spacing)
    result = workflow.run(
        scene, grid=study.spacing, frequencies=(), duration=duration, precision=precision, progress=progress
    )
    listening, _ = heard_in(result, ())
    return save_figures(result, scene, folder / "winner", listening)
