"""Mode shapes: what is printed and written beside the drawings."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from fdtd.cli.damped_tables import decays
from fdtd.cli.tables import cut, format_table, print_files

if TYPE_CHECKING:
    from fdtd.analysis.mode_shapes import ModeShape, ModeShapes
    from fdtd.results.result import CellGrid
    from fdtd.scene.schema import Scene

COLUMNS = (
    "mode",
    "frequency_hz",
    "decay_time_s",
    "kind",
    "place",
    "x_m",
    "y_m",
    "z_m",
    "share_percent",
    "share_db",
    "family_share_percent",
    "nodal_distance_m",
)
"""share : of the mode's largest pressure; family : with all modes so near that any mix is a mode."""
PAIR_COLUMNS = ("mode", "frequency_hz", "decay_time_s", "source", "seat", "product_percent", "product_db", "tone_db")
"""product : share at the source times share at the seat; tone : dB re the same source in free field at 1 m."""
MOST_COLUMNS = 8
SHORT = 17
"""Columns of a name in a heading."""


def tell_mode_shapes(
    mode_shapes: ModeShapes,
    scene: Scene,
    cells: CellGrid,
    grid: float,
    index: int,
    count: int,
    folder: Path,
    stem: str,
    theme: str = "light",
    width: str | None = None,
) -> None:
    """Table and sentences on screen; tables and drawings in the folder `stem` in `folder`.

    grid : m, of the cells; index : of the variant; count : modes that get a mode shape of their own
    theme : "light" or "dark"; width : "column", "full" or None, which is full
    """
    from fdtd.results.tables_csv import write_rows
    from fdtd.scene.shape import Shape
    from fdtd.show.files import save_drawings
    from fdtd.show.mode_shape_drawings import mode_shape_drawings
    from fdtd.show.style import COLUMN_WIDTH, FULL_WIDTH
    from fdtd.wording.mode_shapes import mode_shape_text
    from fdtd.wording.names import on_screen

    header, rows = coupling_table(mode_shapes)
    typer.echo("Share of each mode's largest pressure, in percent (100: as loud as anywhere in the room, 0: silent)\n")
    typer.echo(format_table(header, rows, left=0) + "\n")
    for one in mode_shapes.modes[:count]:
        typer.echo(f"{one.number}. {on_screen(mode_shape_text(one, mode_shapes.places, Shape(scene.room)))}\n")
    drawings = mode_shape_drawings(
        scene,
        cells,
        mode_shapes,
        grid=grid,
        variant_index=index,
        count=count,
        width=COLUMN_WIDTH if width == "column" else FULL_WIDTH,
    )
    # A folder of their own: there are many, and their captions must not replace those of a run.
    inside = folder / stem
    files = [
        write_rows(inside / "coupling.csv", COLUMNS, place_rows(mode_shapes)),
        write_rows(inside / "source-seat.csv", PAIR_COLUMNS, pair_rows(mode_shapes)),
        *save_drawings(drawings, inside, theme),
    ]
    print_files(files)


def coupling_table(mode_shapes: ModeShapes) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Header and rows: a column for each source, seat and absorber, as far as they fit, and the best places."""
    from fdtd.analysis.mode_shapes import best_first
    from fdtd.errors import visible

    every = [k for kind in ("source", "seat", "absorber") for k in mode_shapes.rows(kind)][:MOST_COLUMNS]
    spots = mode_shapes.rows("spot")
    names = [cut(visible(mode_shapes.places[k].name), SHORT) for k in every]
    header = ("Mode", "Hz", "60 dB, s", *names, *(("Best spots",) if spots else ()))
    rows = []
    for one in mode_shapes.modes:
        share = one.share if len(one.family) == 1 else one.together
        best = ", ".join(str(mode_shapes.places[k].number) for k in best_first(share, spots)[:3])
        mark = f"{one.number}*" if len(one.family) > 1 else str(one.number)
        seconds = f"{one.decay_time:.2f}" if decays(one.decay_time) else ""
        shares = [f"{100.0 * share[k]:.0f}" if share[k] == share[k] else "no air" for k in every]
        rows.append((mark, f"{one.frequency:.1f}", seconds, *shares, *((best,) if spots else ())))
    return header, rows


def place_rows(mode_shapes: ModeShapes) -> Iterator[tuple[str | float, ...]]:
    """Rows for COLUMNS: every mode at every place."""
    for one in mode_shapes.modes:
        for k, place in enumerate(mode_shapes.places):
            yield (
                *_mode(one),
                place.kind,
                place.name,
                *place.at,
                100.0 * float(one.share[k]),
                _db(float(one.share[k])),
                100.0 * float(one.together[k]),
                float(one.distance[k]),
            )


def pair_rows(mode_shapes: ModeShapes) -> Iterator[tuple[str | float, ...]]:
    """Rows for PAIR_COLUMNS: every mode from every source to every seat."""
    sources, seats = (
        [mode_shapes.places[k].name for k in mode_shapes.rows("source")],
        [mode_shapes.places[k].name for k in mode_shapes.rows("seat")],
    )
    for one in mode_shapes.modes:
        for i, source in enumerate(sources):
            for j, seat in enumerate(seats):
                product = float(one.product[i, j])
                yield (*_mode(one), source, seat, 100.0 * product, _db(product), float(one.level[i, j]))


def _mode(one: ModeShape) -> tuple[str | float, ...]:
    return float(one.number), one.frequency, one.decay_time if decays(one.decay_time) else float("nan")


def _db(share: float) -> float:
    import math

    return 20.0 * math.log10(share) if share > 0.0 else float("nan")
