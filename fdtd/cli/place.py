"""`fdtd place`: where units do most, how many are worth while, and how sure that is."""

from __future__ import annotations

import shlex
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NamedTuple, TypeVar

import typer

from fdtd.cli.options import (
    Device,
    Grid,
    OptionError,
    OutFolder,
    SceneFile,
    Theme,
    Width,
    checked_device,
    checked_grid,
    checked_precision,
    checked_theme,
    checked_width,
    marching_told,
    results_folder,
)
from fdtd.cli.tables import print_files, print_warnings

if TYPE_CHECKING:
    from fdtd.results.result import RunResult
    from fdtd.scene.schema import Scene
    from fdtd.study.confirm import Confirmation
    from fdtd.study.loudest import LoudestMap
    from fdtd.study.place import PlacementStudy
    from fdtd.study.robust import Robustness

Answer = TypeVar("Answer")
MOST, FEWEST_DRAWS, MOST_DRAWS = 6, 2, 200
WORK = "work"
"""Folder for measured places, inside the results folder."""

Number = Annotated[
    int | None, typer.Option("--count", metavar="N", help="Most units at once. Default: the scene's count.")
]
Precision = Annotated[
    str, typer.Option("--precision", metavar="single|double", help="Floating-point precision of the sound field.")
]
Draws = Annotated[
    int, typer.Option("--draws", metavar="N", help="Rooms that are a little other, to see how sure it is.")
]
NoRobust = Annotated[bool, typer.Option("--no-robust", help="Don't look at how sure it is.")]
NoConfirm = Annotated[
    bool, typer.Option("--no-confirm", help="Don't simulate the best and worst places with units in.")
]
NoFigures = Annotated[bool, typer.Option("--no-figures", help="Draw nothing.")]


def place(
    scene_file: SceneFile,
    out: OutFolder = None,
    grid: Grid = None,
    count: Number = None,
    precision: Precision = "single",
    device: Device = "auto",
    draws: Draws = 10,
    no_robust: NoRobust = False,
    no_confirm: NoConfirm = False,
    theme: Theme = "light",
    width: Width = None,
    no_figures: NoFigures = False,
) -> None:
    """Try units on every candidate place and in every combination; say where to put them, and how many."""
    grid, precision = checked_grid(grid), checked_precision(precision)
    theme, width, device = checked_theme(theme), checked_width(width), checked_device(device)
    _check_numbers(count, draws)
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
    with marching_told(device):
        files = _study(scene, folder, grid, count, precision, draws if not no_robust else None, not no_confirm,
                       Look(not no_figures, theme, width))  # fmt: skip
    print_files(files)
    typer.echo(f"\nAll of it on one page, for reading and printing: fdtd report {shlex.quote(str(files[0]))}")


class Look(NamedTuple):
    """Whether figures are drawn, and how."""

    figures: bool
    theme: str
    width: str | None


def _study(
    scene: Scene, folder: Path, grid: float | None, count: int | None, precision: str, draws: int | None, tried: bool,
    look: Look,
) -> list[Path]:  # fmt: skip
    """The whole study; returns its files. draws : perturbed rooms, if any; tried : whether its winners are marched."""
    from fdtd.results.placement_store import BatchFolder
    from fdtd.study import place as study_place

    store = BatchFolder(folder / WORK)
    study = _with_bar(
        lambda tell: study_place.place(scene, grid=grid, precision=precision, most=count, store=store, progress=tell)
    )
    store.tidy()
    # Already now, and again with all that follows: a long study must not be lost to it.
    _write(study, precision, folder)
    robust = None if draws is None else _robust(study, draws, precision)
    confirmed = _confirm(study, robust, precision) if tried else None
    meter = _loudest(study)
    files = _write(study, precision, folder, robust, confirmed, meter)
    _tell(study, robust, confirmed, meter, folder)
    if look.figures:
        from fdtd.cli.place_figures import save_loudest_figure, save_placement_figures

        files += save_placement_figures(files[0], scene, folder, look.theme, look.width)
        files += save_loudest_figure(study, meter, folder, look.theme, look.width)
    made = _winner(study, robust, confirmed, meter) if confirmed is not None else None
    if made is not None:
        from fdtd.cli.place_figures import save_winner

        files += save_winner(*made, folder, look.figures, look.theme, look.width)
    return files


def _check_numbers(count: int | None, draws: int) -> None:
    if count is not None and not 1 <= count <= MOST:
        raise OptionError(f"--count: found {count}, expected the most units at once, 1 to {MOST}.")
    if not FEWEST_DRAWS <= draws <= MOST_DRAWS:
        raise OptionError(
            f"--draws: found {draws}, expected {FEWEST_DRAWS} to {MOST_DRAWS} perturbed rooms; 10 are usual, "
            "--no-robust leaves them out."
        )


def _with_bar(work: Callable[[Callable[[float, str], None]], Answer]) -> Answer:
    from fdtd.cli.progress import Progress

    with Progress() as progress:
        return work(progress)


def _robust(study: PlacementStudy, draws: int, precision: str) -> Robustness:
    from fdtd.study import robust

    return _with_bar(lambda tell: robust.robustness(study, draws=draws, precision=precision, progress=tell))


def _confirm(study: PlacementStudy, robust: Robustness | None, precision: str) -> Confirmation:
    from fdtd.study import confirm
    from fdtd.study.headline import first_choice

    also = (first_choice(study, robust),) if study.added else ()
    return _with_bar(lambda tell: confirm.confirm(study, also=also, precision=precision, progress=tell))


def _loudest(study: PlacementStudy) -> LoudestMap:
    from fdtd.study import loudest

    return _with_bar(lambda tell: loudest.loudest(study.scene, study.variant, grid=study.spacing, progress=tell))


def _winner(
    study: PlacementStudy, robust: Robustness | None, confirmed: Confirmation, meter: LoudestMap
) -> tuple[RunResult, Scene] | None:
    """The run of what is advised, as `fdtd run` makes one; None if no unit can stand anywhere.

    In double precision whatever the study was in: rounding drowns the ends of slow decays, which the report tells.
    """
    from fdtd.cli.place_figures import run_winner

    tones = (float(meter.frequency[0]),)
    return _with_bar(lambda tell: run_winner(study, robust, confirmed, tones, "double", tell))


def _write(
    study: PlacementStudy, precision: str, folder: Path, robust: Robustness | None = None,
    confirmed: Confirmation | None = None, meter: LoudestMap | None = None,
) -> list[Path]:  # fmt: skip
    """The result file and the tables; returns their paths."""
    from fdtd.results.placement_store import write_placement
    from fdtd.results.surface_csv import write_rows
    from fdtd.study.place_answer import place_words
    from fdtd.study.place_arrays import placement_arrays, placement_attributes
    from fdtd.study.place_rows import placement_sheets

    attributes = placement_attributes(study, precision)
    words = place_words(study, robust, confirmed, meter, str(folder / WORK))
    arrays = placement_arrays(study, robust, precision, confirmed, meter, words)
    file = write_placement(folder / "placement.h5", attributes, arrays)
    sheets = placement_sheets(study, robust)
    return [file, *(write_rows(folder / sheet.name, sheet.columns, sheet.rows) for sheet in sheets)]


def _tell(
    study: PlacementStudy, robust: Robustness | None, confirmed: Confirmation | None, meter: LoudestMap, folder: Path
) -> None:
    from fdtd.cli.place_tables import format_placement
    from fdtd.study import advice as words

    devices = " or ".join(f"'{d.name}'" for d in study.spots.devices)
    typer.echo(f"{study.scene.title or 'Room'}: where to put {devices}\n")
    typer.echo(words.advice(study, robust, confirmed) + "\n")
    typer.echo(words.wrapped(f"{words.reused(study, str(folder / WORK))} Searched: {study.found.method}.") + "\n")
    typer.echo(format_placement(study, robust) + "\n")
    typer.echo(words.wrapped(words.with_a_meter(study, meter)) + "\n")
    typer.echo(words.wrapped(words.MAINS) + "\n")
