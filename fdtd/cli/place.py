"""`fdtd place`: where an absorber helps most, how many are worthwhile, and how certain that is."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from fdtd.cli.options import Device, Grid, OutFolder, SceneFile, Theme, Width, results_folder, told_at_end
from fdtd.cli.tables import print_files, print_warnings
from fdtd.settings import (
    PERTURBED_ROOMS,
    checked_count,
    checked_device,
    checked_grid,
    checked_perturbed_rooms,
    checked_precision,
    checked_theme,
    checked_width,
)

if TYPE_CHECKING:
    from fdtd.study.finished import FinishedPlacement


Number = Annotated[
    int | None, typer.Option("--count", metavar="N", help="Maximum number of units. Default: the scene's count.")
]
Precision = Annotated[
    str, typer.Option("--precision", metavar="single|double", help="Floating-point precision of the simulation.")
]
PerturbedRooms = Annotated[
    int, typer.Option("--perturbed-rooms", metavar="N", help="Number of perturbed rooms for the uncertainty estimate.")
]
NoRobust = Annotated[bool, typer.Option("--no-robust", help="Skip the uncertainty estimate.")]
NoConfirm = Annotated[bool, typer.Option("--no-confirm", help="Skip the confirming simulations with units installed.")]
NoFigures = Annotated[bool, typer.Option("--no-figures", help="Do not draw figures.")]


def place(
    scene_file: SceneFile,
    out: OutFolder = None,
    grid: Grid = None,
    count: Number = None,
    precision: Precision = "single",
    device: Device = "auto",
    perturbed_rooms: PerturbedRooms = PERTURBED_ROOMS,
    no_robust: NoRobust = False,
    no_confirm: NoConfirm = False,
    theme: Theme = "light",
    width: Width = None,
    no_figures: NoFigures = False,
) -> None:
    """Try units at every candidate place and in every combination; recommend where to put them and how many to use."""
    grid, precision = checked_grid(grid), checked_precision(precision)
    theme, width, device = checked_theme(theme), checked_width(width), checked_device(device)
    count, perturbed_rooms = checked_count(count), checked_perturbed_rooms(perturbed_rooms)
    from fdtd.errors import FdtdError
    from fdtd.scene.read import read_scene

    scene = read_scene(scene_file)
    if scene.spots is None:
        raise FdtdError(
            f"{scene_file}: found no [spots], expected one that says which unit to try and where, such as\n"
            '  [spots]\n  device = "NAME"\n  on = ["walls"]\n(docs/scene.md has all keys)'
        )
    folder = results_folder(scene_file, out)
    print_warnings(scene.warnings)
    from fdtd import api
    from fdtd.cli.progress import Progress

    with told_at_end() as tell:
        with Progress() as progress:
            done = api.place(
                scene,
                folder,
                grid=grid,
                count=count,
                precision=precision,
                device=device,
                tell=tell,
                perturbed_rooms=None if no_robust else perturbed_rooms,
                confirmed=not no_confirm,
                progress=progress,
            )
        files = api.save_placement(done, folder, figures=not no_figures, theme=theme, width=width)
        _tell(done, folder)
        if done.confirmation is not None:
            with Progress() as progress:
                winner = api.advised_run(done, device=device, tell=tell, progress=progress)
            if winner is not None:
                files += api.save_winner(*winner, folder, figures=not no_figures, theme=theme, width=width)
    print_files(files)
    typer.echo(f"\nAll of it on one page, for reading and printing: fdtd report {shlex.quote(str(files[0]))}")


def _tell(done: FinishedPlacement, folder: Path) -> None:
    import numpy as np

    from fdtd.cli.place_tables import format_placement
    from fdtd.results.placement_store import WORK
    from fdtd.scene.shape import Shape
    from fdtd.study.place_answer import meter, searched
    from fdtd.wording import advice as text
    from fdtd.wording.loudest import meter_text

    study, audible = done.study, meter(done)
    devices = " or ".join(f"'{d.name}'" for d in study.spots.devices)
    typer.echo(f"{study.scene.title or 'Room'}: where to put {devices}\n")
    typer.echo(text.advice(done) + "\n")
    typer.echo(format_placement(study, done.robustness) + "\n")
    typer.echo(text.details(done) + "\n")
    excitations = len(study.places) + len(study.variant.sources)
    measured = text.how_measured(excitations, study.response.reused, searched(study), str(folder / WORK))
    typer.echo(text.wrapped(measured) + "\n")
    if audible is not None:
        benefit = np.full(len(study.places), -np.inf)
        np.maximum.at(benefit, study.found.singles.ports[:, 0], study.found.singles.benefit)
        typer.echo(text.wrapped(meter_text(audible, Shape(study.scene.room), benefit)) + "\n")
    typer.echo(text.wrapped(text.MAINS) + "\n")
