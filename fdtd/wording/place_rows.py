"""A placement study as tables for spreadsheets: (name of the file, columns, rows)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

import numpy as np

from fdtd.placement.search import Scored
from fdtd.placement.steps import gained
from fdtd.study.place import PlacementStudy, gain_of
from fdtd.study.robust import Robustness
from fdtd.wording.designs import design_text
from fdtd.wording.names import on_screen
from fdtd.wording.places import place_text

Row = tuple[str | float, ...]
NONE = float("nan")


class Table(NamedTuple):
    """name : of the file"""

    name: str
    columns: tuple[str, ...]
    rows: list[Row]


FIGURES = ("benefit_db", "ringing_octaves", "uneven_db", "spread_db", "loss_db")


def placement_tables(study: PlacementStudy, robust: Robustness | None) -> tuple[Table, ...]:
    """Every single place ranked; the best of each count at each seat; designs that no other beats in everything."""
    place = ("rank", "place", "where", "x_m", "y_m", "z_m", "corner", "device", "gain", *FIGURES)
    return (
        Table("placement.csv", (*place, "benefit_low_db", "benefit_high_db", "on_top"), list(_singles(study, robust))),
        Table(
            "placement-counts.csv",
            (
                "units",
                "seat",
                "places",
                "where",
                *FIGURES,
                "decay_shorter",
                "more_even_db",
                "louder_db",
                "added_audible",
            ),
            list(_counts(study)),
        ),
        Table("placement-pareto.csv", ("units", "places", "where", *FIGURES), list(_pareto(study))),
    )


def _singles(study: PlacementStudy, robust: Robustness | None) -> Iterator[Row]:
    table = study.found.singles
    sure = {s.design: s for s in robust.singles} if robust is not None else {}
    for rank, row in enumerate(np.argsort(-table.benefit, kind="stable"), start=1):
        port, kind, gain = int(table.ports[row, 0]), int(table.kinds[row, 0]), int(table.gains[row, 0])
        place, device = study.places[port], study.spots.devices[kind]
        known = next((s for d, s in sure.items() if (d.ports, d.kinds, d.gains) == ((port,), (kind,), (gain,))), None)
        ends = (known.figures.benefit.low, known.figures.benefit.high, known.on_top) if known else (NONE,) * 3
        yield (
            rank,
            place.number,
            on_screen(place_text(place)),
            *place.at,
            place.corner,
            device.name,
            gain_of(device, study.spots.gains[gain]),
            float(table.benefit[row]),
            *(float(v) for v in table.figures[row]),
            *ends,
        )


def _counts(study: PlacementStudy) -> Iterator[Row]:
    best: Sequence[Scored | None] = study.found.best_of_count
    seats = [seat.name for seat in study.variant.seats]
    steps = {step.count: step for step in study.added}
    for count, scored in enumerate(best):
        if scored is None:
            continue
        change = gained(study.found.untreated, scored.objectives)
        for k, seat in enumerate(seats):
            step = steps.get(count)
            yield (
                count,
                seat,
                *_design(study, scored),
                float(change.ringing_at[k]),
                float(change.uneven_at[k]),
                float(change.level_at[k]),
                "" if step is None else "yes" if step.gained.audible_at[k] else "no",
            )


def _pareto(study: PlacementStudy) -> Iterator[Row]:
    for scored in study.found.pareto:
        yield (len(scored.design.ports), *_design(study, scored))


def _design(study: PlacementStudy, scored: Scored) -> Row:
    o = scored.objectives
    numbers = " ".join(str(study.places[port].number) for port in scored.design.ports)
    return (numbers, on_screen(design_text(study, scored.design)), o.benefit, o.ringing, o.uneven, o.spread, o.loss)
