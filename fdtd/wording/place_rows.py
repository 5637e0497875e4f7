"""A placement study as tables for spreadsheets."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from fdtd.placement.search import Scored
from fdtd.placement.steps import gained
from fdtd.placement.study import Design
from fdtd.study.place import PlacementStudy
from fdtd.study.robust import Robustness
from fdtd.wording.designs import design_text
from fdtd.wording.listening_tables import Cell, Table, yes
from fdtd.wording.names import on_screen
from fdtd.wording.places import place_text

FIGURES = {
    "benefit_db": "benefit",
    "ringing_octaves": "ringing",
    "uneven_db": "uneven",
    "spread_db": "spread",
    "loss_db": "loss",
}
"""Column -> what of the objectives is in it."""
Row = dict[str, Cell]


def placement_tables(study: PlacementStudy, robust: Robustness | None) -> tuple[Table, ...]:
    """Every single place ranked; the best of each count at each seat; designs that no other beats in everything."""
    pareto: list[Row] = [{"units": len(one.design.ports), **_design(study, one)} for one in study.found.pareto]
    return (
        _table("placement.csv", _singles(study, robust)),
        _table("placement-counts.csv", _counts(study)),
        _table("placement-pareto.csv", pareto),
    )


def _table(name: str, rows: Sequence[Row]) -> Table:
    return Table(name, tuple(rows[0]), tuple(tuple(row.values()) for row in rows))


def _singles(study: PlacementStudy, robust: Robustness | None) -> list[Row]:
    found, rows = study.found.singles, []
    for rank, k in enumerate(np.argsort(-found.benefit, kind="stable"), start=1):
        port, kind, gain = (int(numbers[k, 0]) for numbers in (found.ports, found.kinds, found.gains))
        design = Design((port,), (kind,), (gain,))
        ((place, device, set_to),) = study.units(design)
        known = robust.singles.get(design) if robust is not None else None
        row: Row = {
            "rank": rank,
            "place": place.number,
            "where": on_screen(place_text(place)),
            **{f"{axis}_m": value for axis, value in zip("xyz", place.at, strict=True)},
            "corner": place.corner,
            "device": device.name,
            "gain": set_to,
            "price": study.spots.cost([device.name]),
            **dict(zip(FIGURES, [float(found.benefit[k]), *found.figures[k].tolist()], strict=True)),
            "benefit_low_db": known.benefit.low if known is not None else float("nan"),
            "benefit_high_db": known.benefit.high if known is not None else float("nan"),
            "on_top": known.on_top if known is not None else float("nan"),
        }
        rows.append(row)
    return rows


def _counts(study: PlacementStudy) -> list[Row]:
    heard = {step.count: step.gained.audible_at for step in study.added}
    rows: list[Row] = []
    for count, scored in enumerate(study.found.best_of_count):
        if scored is None:
            continue
        change = gained(study.found.untreated, scored.objectives)
        rows += [
            {
                "units": count,
                "seat": seat.name,
                **_design(study, scored),
                "decay_shorter": float(change.ringing_at[k]),
                "more_even_db": float(change.uneven_at[k]),
                "louder_db": float(change.level_at[k]),
                "added_audible": yes(heard[count][k]) if count in heard else "",
            }
            for k, seat in enumerate(study.variant.seats)
        ]
    return rows


def _design(study: PlacementStudy, scored: Scored) -> Row:
    return {
        "places": " ".join(str(study.places[port].number) for port in scored.design.ports),
        "where": on_screen(design_text(study, scored.design)),
        "price": study.spots.cost(study.spots.devices[kind].name for kind in scored.design.kinds),
        **{name: getattr(scored.objectives, field) for name, field in FIGURES.items()},
    }
