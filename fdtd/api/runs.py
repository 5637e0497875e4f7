"""A run, its files, and the page about results."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from fdtd import workflow
from fdtd.listening.arrays import derived_arrays
from fdtd.listening.study import Listening, ListeningError, listen
from fdtd.report.page import write_report
from fdtd.results.result import RunResult
from fdtd.results.store import read_result as read_result
from fdtd.results.store import write_result
from fdtd.results.tables_csv import write_responses_csv, write_rows
from fdtd.scene.schema import Scene
from fdtd.settings import (
    checked_device,
    checked_duration,
    checked_grid,
    checked_precision,
    checked_smoothing,
    checked_theme,
    checked_width,
)
from fdtd.show.files import save_figures
from fdtd.simulation.device import Execution
from fdtd.wording.listening_tables import listening_tables

Progress = Callable[[float, str], None]


def run(
    scene: Scene,
    *,
    grid: float | None = None,
    frequencies: tuple[float, ...] | None = None,
    duration: float | None = None,
    precision: str = "double",
    device: str = "auto",
    progress: Progress | None = None,
) -> RunResult:
    """Simulate every variant of `scene`: `fdtd.workflow.run` on a device."""
    return workflow.run(
        scene,
        grid=checked_grid(grid),
        frequencies=frequencies,
        duration=checked_duration(duration),
        execution=Execution(checked_precision(precision), checked_device(device)),
        progress=progress,
    )


def listen_if_long_enough(result: RunResult, tones: tuple[float, ...] = ()) -> tuple[Listening | None, str]:
    """(what is heard, ""), or (None, the reason): a run that is too short for it still has its results."""
    try:
        return listen(result, tones), ""
    except ListeningError as error:
        return None, str(error)


def save_run(
    result: RunResult,
    scene: Scene,
    folder: str | Path,
    *,
    listening: Listening | None = None,
    figures: bool = True,
    smoothing: float | None = None,
    theme: str = "light",
    width: str | None = None,
) -> list[Path]:
    """Write what `fdtd run` writes: result.h5, tables, and figures unless they are not wanted; returns the paths.

    listening : what is heard (`listen`); None: worked out here, and left out if the run was too short for it
    """
    checked_theme(theme), checked_width(width), checked_smoothing(smoothing)
    if listening is None:
        listening, _ = listen_if_long_enough(result)
    files = save_tables(result, listening, Path(folder))
    if figures:
        files += save_figures(result, scene, Path(folder), listening, smoothing, theme, width)
    return files


def save_tables(result: RunResult, listening: Listening | None, folder: Path) -> list[Path]:
    """Result file, responses, and the tables of what is heard if it is known; returns the paths."""
    files = save_responses(result, listening, folder)
    if listening is not None:
        files += [write_rows(folder / t.name, t.columns, t.rows) for t in listening_tables(result, listening)]
    return files


def save_responses(result: RunResult, listening: Listening | None, folder: Path) -> list[Path]:
    """result.h5, with what is heard if it is known, and responses.csv; returns the paths."""
    files = [folder / "result.h5", folder / "responses.csv"]
    write_result(result, files[0], None if listening is None else derived_arrays(listening, result.density))
    write_responses_csv(result, files[1])
    return files


def report(results: Sequence[str | Path], target: str | Path, progress: Progress | None = None) -> Path:
    """Write the page about the result files in `results` to `target`; returns its path."""
    return write_report(results, target, progress)
