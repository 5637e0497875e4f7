"""The placement study and its files."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from fdtd.api.runs import listen_if_long_enough
from fdtd.listening.arrays import derived_arrays
from fdtd.report.placement_drawings import placement_drawings
from fdtd.results.placement_reader import read_placement
from fdtd.results.placement_store import WORK, BatchFolder, write_placement
from fdtd.results.result import RunResult
from fdtd.results.store import write_result
from fdtd.results.tables_csv import write_rows
from fdtd.scene.schema import Scene
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
from fdtd.show.files import save_drawings, save_figure, save_figures
from fdtd.show.loudest import draw_loudest
from fdtd.show.style import WIDTHS, figure_style
from fdtd.simulation.device import Execution
from fdtd.study.finished import FinishedPlacement
from fdtd.study.place_answer import units_of
from fdtd.study.place_arrays import placement_arrays, placement_attributes
from fdtd.study.whole_placement import advised_run as run_advice
from fdtd.study.whole_placement import whole_placement
from fdtd.wording.place_rows import placement_tables

WINNER = "winner"
"""Folder of the run without and with the advised units, inside the results folder."""


def place(
    scene: Scene,
    folder: str | Path | None = None,
    *,
    grid: float | None = None,
    count: int | None = None,
    precision: str = "single",
    device: str = "auto",
    perturbed_rooms: int | None = PERTURBED_ROOMS,
    confirmed: bool = True,
    tell: Callable[[str], None] = lambda text: None,
    progress: Callable[[float, str], None] | None = None,
) -> FinishedPlacement:
    """The whole placement study of `scene`, its advice included: see `fdtd.study.whole_placement`.

    folder : where measured places are kept, so that a study that was stopped goes on, and where placement.h5 is
    written as soon as the search is done; None: nothing is written; tell : hears where simulations go, and why
    """
    store = None if folder is None else BatchFolder(Path(folder) / WORK)

    def searched(done: FinishedPlacement) -> None:
        if store is not None and folder is not None:
            store.tidy()
            save_files(done, Path(folder))

    return whole_placement(
        scene,
        grid=checked_grid(grid),
        count=checked_count(count),
        execution=Execution(checked_precision(precision), checked_device(device), tell=tell),
        perturbed_rooms=None if perturbed_rooms is None else checked_perturbed_rooms(perturbed_rooms),
        confirmed=confirmed,
        store=store,
        searched=searched,
        progress=progress,
    )


def advised_run(
    done: FinishedPlacement,
    *,
    frequencies: tuple[float, ...] | None = None,
    precision: str = "double",
    device: str = "auto",
    tell: Callable[[str], None] = lambda text: None,
    progress: Callable[[float, str], None] | None = None,
) -> tuple[RunResult, Scene] | None:
    """Run the room without units and with the advised ones as they would stand; None if no design is stable.

    See `fdtd.study.whole_placement.advised_run`; the second variant says which units it has.
    """
    execution = Execution(checked_precision(precision), checked_device(device), tell=tell)
    made = run_advice(done, frequencies=frequencies, execution=execution, progress=progress)
    if made is None:
        return None
    result, scene, design = made
    before, after = result.variants
    return replace(result, variants=(before, replace(after, placed=units_of(done.study, design)))), scene


def save_files(done: FinishedPlacement, folder: Path) -> list[Path]:
    """Write placement.h5 and its tables to `folder`; returns their paths, the result file first.

    Raises UnwritableError.
    """
    file = write_placement(folder / "placement.h5", placement_attributes(done), placement_arrays(done))
    tables = placement_tables(done.study, done.robustness)
    return [file, *(write_rows(folder / table.name, table.columns, table.rows) for table in tables)]


def save_placement(
    done: FinishedPlacement,
    folder: str | Path,
    *,
    figures: bool = True,
    theme: str = "light",
    width: str | None = None,
) -> list[Path]:
    """Write the study's placement.h5, tables and figures; returns the paths, the result file first."""
    checked_theme(theme), checked_width(width)
    files = save_files(done, Path(folder))
    if figures:
        files += save_placement_figures(done, files[0], Path(folder), theme, width)
    return files


def save_placement_figures(
    done: FinishedPlacement, file: Path, folder: Path, theme: str = "light", width: str | None = None
) -> list[Path]:
    """Candidates, ranking, plan, returns, response before and after, from the study's file, and the loudest map."""
    scene, meter = done.study.scene, done.loudest
    drawings = placement_drawings(read_placement(file), scene, WIDTHS[width or "full"])
    files = save_drawings(drawings, folder, theme)
    if meter is None:
        return files
    spots = [(spot.at, spot.surfaces) for spot in meter.spots]
    title = f"{scene.title or 'room'}: where {meter.frequency[0]:.1f} Hz is loudest"
    with figure_style(theme):
        figure = draw_loudest(
            scene, done.study.variant, meter.surface, meter.at, meter.level, spots, title, WIDTHS[width or "full"]
        )
        return [*files, *save_figure(figure, folder, "loudest")]


def save_winner(
    result: RunResult,
    scene: Scene,
    folder: str | Path,
    *,
    figures: bool = True,
    theme: str = "light",
    width: str | None = None,
) -> list[Path]:
    """Write the run of the advice (`advised_run`) to the folder "winner": its result file and figures; returns them."""
    checked_theme(theme), checked_width(width)
    folder = Path(folder)
    listening, _ = listen_if_long_enough(result)
    path = folder / WINNER / "result.h5"
    write_result(result, path, None if listening is None else derived_arrays(listening, result.density))
    if not figures:
        return [path]
    return [path, *save_figures(result, scene, folder / WINNER, listening, theme=theme, width=width)]
