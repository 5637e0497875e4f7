"""A placement study as tables for spreadsheets."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from fdtd.placement.search import Scored
from fdtd.placement.steps import Gained, gained
from fdtd.placement.study import Design
from fdtd.study.place import PlacementStudy, gain_of
from fdtd.study.robust import Robustness
from fdtd.wording.designs import design_text
from fdtd.wording.listening_tables import Cell, Columns, Table, table_of, yes
from fdtd.wording.names import on_screen
from fdtd.wording.places import place_text

FIGURES = ("benefit_db", "ringing_octaves", "uneven_db", "spread_db", "loss_db")


def placement_tables(study: PlacementStudy, robust: Robustness | None) -> tuple[Table, ...]:
    """Every single place ranked; the best of each count at each seat; designs that no other beats in everything."""
    pareto: Columns[Scored] = [("units", lambda scored: len(scored.design.ports)), *_design(study)]
    return _singles(study, robust), _counts(study), table_of("placement-pareto.csv", pareto, study.found.pareto)


def _singles(study: PlacementStudy, robust: Robustness | None) -> Table:
    found, sure = study.found.singles, robust.singles if robust is not None else {}
    Row = tuple[int, int, Design]

    def place(row: Row, name: str) -> Cell:
        return getattr(study.places[row[2].ports[0]], name)

    def known(value: Callable[..., Cell]) -> Callable[[Row], Cell]:
        return lambda row: value(sure[row[2]]) if row[2] in sure else float("nan")

    device = lambda row: study.spots.devices[row[2].kinds[0]]  # noqa: E731
    columns: Columns[Row] = [
        ("rank", lambda row: row[0]),
        ("place", lambda row: place(row, "number")),
        ("where", lambda row: on_screen(place_text(study.places[row[2].ports[0]]))),
        *((f"{axis}_m", lambda row, k=k: study.places[row[2].ports[0]].at[k]) for k, axis in enumerate("xyz")),
        ("corner", lambda row: place(row, "corner")),
        ("device", lambda row: device(row).name),
        ("gain", lambda row: gain_of(device(row), study.spots.gains[row[2].gains[0]])),
        (FIGURES[0], lambda row: float(found.benefit[row[1]])),
        *((name, lambda row, k=k: float(found.figures[row[1], k])) for k, name in enumerate(FIGURES[1:])),
        ("benefit_low_db", known(lambda spot: spot.benefit.low)),
        ("benefit_high_db", known(lambda spot: spot.benefit.high)),
        ("on_top", known(lambda spot: spot.on_top)),
    ]
    rows = []
    for rank, row in enumerate(np.argsort(-found.benefit, kind="stable"), start=1):
        port, kind, gain = (int(numbers[row, 0]) for numbers in (found.ports, found.kinds, found.gains))
        rows.append((rank, int(row), Design((port,), (kind,), (gain,))))
    return table_of("placement.csv", columns, rows)


def _counts(study: PlacementStudy) -> Table:
    Row = tuple[int, int, Scored, Gained]
    heard = {step.count: step.gained.audible_at for step in study.added}
    columns: Columns[Row] = [
        ("units", lambda row: row[0]),
        ("seat", lambda row: study.variant.seats[row[1]].name),
        *((name, lambda row, cell=cell: cell(row[2])) for name, cell in _design(study)),
        ("decay_shorter", lambda row: float(row[3].ringing_at[row[1]])),
        ("more_even_db", lambda row: float(row[3].uneven_at[row[1]])),
        ("louder_db", lambda row: float(row[3].level_at[row[1]])),
        ("added_audible", lambda row: yes(heard[row[0]][row[1]]) if row[0] in heard else ""),
    ]
    rows = [
        (count, seat, scored, gained(study.found.untreated, scored.objectives))
        for count, scored in enumerate(study.found.best_of_count)
        if scored is not None
        for seat in range(len(study.variant.seats))
    ]
    return table_of("placement-counts.csv", columns, rows)


def _design(study: PlacementStudy) -> Columns[Scored]:
    numbers = lambda scored: (str(study.places[port].number) for port in scored.design.ports)  # noqa: E731
    fields = ("benefit", "ringing", "uneven", "spread", "loss")
    return [
        ("places", lambda scored: " ".join(numbers(scored))),
        ("where", lambda scored: on_screen(design_text(study, scored.design))),
        *(
            (name, lambda scored, field=field: getattr(scored.objectives, field))
            for name, field in zip(FIGURES, fields, strict=True)
        ),
    ]
