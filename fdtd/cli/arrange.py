"""`fdtd arrange`: loudspeakers moved, units added, or both: what is worth doing in which combination."""

from __future__ import annotations

import textwrap
from typing import TYPE_CHECKING

import typer

from fdtd.cli.options import Device, Grid, OutFolder, SceneFile, Theme, Width, results_folder, told_at_end
from fdtd.cli.place import NoConfirm, NoRobust, Number, PerturbedRooms
from fdtd.cli.sources import AnyPair, FromWall, Pairs, SourceName, Spacing, Tolerance
from fdtd.cli.tables import format_table, print_files, print_warnings
from fdtd.errors import OptionError
from fdtd.settings import (
    PERTURBED_ROOMS,
    checked_count,
    checked_device,
    checked_from_wall,
    checked_grid,
    checked_perturbed_rooms,
    checked_spacing,
    checked_theme,
    checked_tolerance,
    checked_width,
)

if TYPE_CHECKING:
    from fdtd.study.arrange import Arrangement
    from fdtd.study.whole_arrangement import FinishedArrangement

WIDTH = 110
"""Columns of the advice."""
LEGEND = (
    "Benefit in dB against now, in one score of evenness, ringing and likeness of the seats (docs/placement.md), by "
    "the number of units; levels are matched after the loudspeakers have moved. Spots: of the largest number of units."
)


def arrange(
    scene_file: SceneFile,
    source: SourceName = None,
    pairs: Pairs = False,
    any_pair: AnyPair = False,
    tolerance: Tolerance = 0.2,
    spacing: Spacing = 0.4,
    from_wall: FromWall = 0.3,
    grid: Grid = None,
    count: Number = None,
    device: Device = "auto",
    perturbed_rooms: PerturbedRooms = PERTURBED_ROOMS,
    no_robust: NoRobust = False,
    no_confirm: NoConfirm = False,
    out: OutFolder = None,
    theme: Theme = "light",
    width: Width = None,
) -> None:
    """Try every loudspeaker position together with every choice of units; recommend which of the two to change."""
    grid, theme, width, device = checked_grid(grid), checked_theme(theme), checked_width(width), checked_device(device)
    spacing, from_wall, count = checked_spacing(spacing), checked_from_wall(from_wall), checked_count(count)
    perturbed_rooms = checked_perturbed_rooms(perturbed_rooms)
    if any_pair and not pairs:
        raise OptionError("--any-pair: says which pairs are tried, so it needs --pairs as well.")
    within = None if any_pair else checked_tolerance(tolerance)
    from fdtd.scene.read import read_scene

    scene = read_scene(scene_file)
    folder = results_folder(scene_file, out)
    print_warnings(scene.warnings)
    from fdtd import api
    from fdtd.cli.progress import Progress
    from fdtd.wording.advice import MAINS
    from fdtd.wording.arrangements import advice
    from fdtd.wording.names import on_screen

    with told_at_end() as tell:
        with Progress() as progress:
            done = api.arrange(
                scene,
                folder,
                source,
                pairs=pairs,
                tolerance=within,
                spacing=spacing,
                from_wall=from_wall,
                grid=grid,
                count=count,
                device=device,
                perturbed_rooms=None if no_robust else perturbed_rooms,
                confirmed=not no_confirm,
                tell=tell,
                progress=progress,
            )
            progress(1.0, "done")
        typer.echo(f"{scene.title or scene_file.name}: loudspeakers and units together\n")
        for line in advice(done):
            typer.echo(textwrap.fill(on_screen(line), WIDTH, subsequent_indent="  ", break_on_hyphens=False))
        typer.echo("\n" + format_arrangements(done) + "\n")
        typer.echo(textwrap.fill(LEGEND, WIDTH) + "\n")
        typer.echo(textwrap.fill(MAINS, WIDTH) + "\n")
        files = api.save_arrangement(done, folder, theme=theme, width=width)
    print_files(files)


def format_arrangements(done: FinishedArrangement) -> str:
    """A table of the best arrangements and the present one."""
    from fdtd.report.source_drawings import SHOWN, point
    from fdtd.wording.arrangements import points, spots

    study = done.study
    counts = range(len(study.now.best))
    header = ("", "Place, m", *("No unit" if n == 0 else f"{n} unit{'s' * (n > 1)}" for n in counts), "Spots")

    def row(name: str, one: Arrangement) -> tuple[str, ...]:
        figures = (one.with_units(n) for n in counts)
        text = ("" if each is None else f"{each.benefit:+.1f}" for each in figures)
        return name, "; ".join(map(point, points(study, one))), *text, spots(study, one)

    ranked = [row(str(rank), one) for rank, one in enumerate(study.others[:SHOWN], 1)]
    return format_table(header, [*ranked, row("now", study.now)], left=2)
