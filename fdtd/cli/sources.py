"""`fdtd sources`: the best position for a loudspeaker, a pair of them, or a seat."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING, Annotated, Any

import typer

from fdtd.cli.options import Grid, OutFolder, SceneFile, Theme, Width, results_folder
from fdtd.cli.tables import format_table, print_files, print_warnings
from fdtd.errors import OptionError
from fdtd.settings import (
    checked_from_wall,
    checked_grid,
    checked_spacing,
    checked_theme,
    checked_tolerance,
    checked_width,
)

if TYPE_CHECKING:
    from fdtd.placement.objectives import Objectives
    from fdtd.study.sources import MoveStudy

VariantName = Annotated[
    str | None,
    typer.Option("--variant", metavar="NAME", help="Variant to use, with its absorbers. Default: the first."),
]
SourceName = Annotated[
    str | None, typer.Option("--source", metavar="NAME", help="Loudspeaker to move. Default: the first.")
]
SeatName = Annotated[
    str | None, typer.Option("--seat", metavar="NAME", help="Seat to move, with --seats. Default: the first.")
]
Seats = Annotated[bool, typer.Option("--seats", help="Move a seat instead of a loudspeaker.")]
Pairs = Annotated[
    bool,
    typer.Option(
        "--pairs",
        help="Try pairs of positions for two loudspeakers that suit the main seat (see --tolerance and --any-pair).",
    ),
]
AnyPair = Annotated[
    bool, typer.Option("--any-pair", help="With --pairs: every pair, as for two subwoofers with the same signal.")
]
Tolerance = Annotated[
    float,
    typer.Option(
        "--tolerance", metavar="M", help="With --pairs: largest difference in distance to the main seat in metres."
    ),
]
Spacing = Annotated[float, typer.Option("--spacing", metavar="M", help="Distance between positions in metres.")]
FromWall = Annotated[
    float, typer.Option("--from-wall", metavar="M", help="Minimum distance to walls and objects in metres.")
]
WIDTH = 110
"""Columns of the advice."""


def sources(
    scene_file: SceneFile,
    variant: VariantName = None,
    source: SourceName = None,
    pairs: Pairs = False,
    any_pair: AnyPair = False,
    tolerance: Tolerance = 0.2,
    seats: Seats = False,
    seat: SeatName = None,
    spacing: Spacing = 0.4,
    from_wall: FromWall = 0.3,
    grid: Grid = None,
    out: OutFolder = None,
    theme: Theme = "light",
    width: Width = None,
) -> None:
    """Score every floor position for a loudspeaker (or two, or a seat), and show the best and what changes there."""
    grid, theme, width = checked_grid(grid), checked_theme(theme), checked_width(width)
    spacing, from_wall = checked_spacing(spacing), checked_from_wall(from_wall)
    _check(seats, pairs, any_pair, source, seat)
    within = None if any_pair else checked_tolerance(tolerance)
    from fdtd.scene.find import chosen_variant
    from fdtd.scene.read import read_scene

    scene = read_scene(scene_file)
    chosen = chosen_variant(scene, variant)
    folder = results_folder(scene_file, out)
    print_warnings(scene.warnings)

    from fdtd import api
    from fdtd.cli.progress import Progress
    from fdtd.wording.names import on_screen
    from fdtd.wording.sources import advice

    with Progress() as progress:
        shared: dict[str, Any] = {"spacing": spacing, "from_wall": from_wall, "grid": grid, "progress": progress}
        if seats:
            study = api.seats(scene, variant, seat, **shared)
        else:
            study = api.sources(scene, variant, source, pairs=pairs, tolerance=within, **shared)
        progress(1.0, "done")
    typer.echo(f"{scene.title or scene_file.name}: variant '{chosen.name}'\n")
    for line in advice(study):
        typer.echo(textwrap.fill(on_screen(line), WIDTH, subsequent_indent="  ", break_on_hyphens=False))
    typer.echo("\n" + format_places(study) + "\n")
    typer.echo(_notes(seats) + "\n")
    print_files(api.save_sources(study, folder, grid=grid, theme=theme, width=width))


def _notes(one_seat: bool) -> str:
    """Legend of the table columns."""
    from fdtd.wording.thresholds import extrapolated_range

    between = "" if one_seat else ", averaged over the seats. Between seats: the same from seat to seat"
    text = (
        "Benefit: dB better than now, in one score of what follows (docs/commands/sources.md). Unevenness: standard "
        f"deviation of the level over frequency, 20 to 160 Hz, dB{between}. Ringing: octaves of decay time above the "
        f"threshold of what is heard to ring ({extrapolated_range()}), 0 where nothing is. Level: dB re free field at "
        "1 m."
    )
    return textwrap.fill(text, WIDTH)


def format_places(study: MoveStudy) -> str:
    """A table of the best choices and the present state."""
    from fdtd.report.source_drawings import SHOWN, point, where

    one = study.what == "seat"
    header = ("", "Place, m", "Benefit", "Unevenness", *(() if one else ("Between seats",)), "Ringing", "Level")
    rows = [
        (str(rank), where(study, c), *_figures(c.objectives, one)) for rank, c in enumerate(study.choices[:SHOWN], 1)
    ]
    if one:
        rows += [(name, "now", *_figures(o, one)) for name, o in study.seats_now]
    else:
        rows.append(("now", "; ".join(point(at) for at in study.at_present), *_figures(study.present, one)))
    return format_table(header, rows, left=2)


def _figures(o: Objectives, one_seat: bool) -> tuple[str, ...]:
    text = (f"{o.benefit:+.1f}" if o.benefit else "0.0", f"{o.uneven:.1f}")
    return (*text, *(() if one_seat else (f"{o.spread:.1f}",)), f"{o.ringing:.2f}", f"{o.level:.1f}")


def _check(seats: bool, pairs: bool, any_pair: bool, source: str | None, seat: str | None) -> None:
    if any_pair and not pairs:
        raise OptionError("--any-pair: says which pairs are tried, so it needs --pairs as well.")
    if seats and (pairs or source is not None):
        raise OptionError("--seats moves a seat, --pairs and --source move loudspeakers: ask for one of the two.")
    if seat is not None and not seats:
        raise OptionError("--seat: names the seat to move, so it needs --seats as well.")
