"""`fdtd modes`: the rigid eigenfrequencies of a room and what they look like."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from fdtd.cli.check import fullest_variant
from fdtd.cli.options import Grid, OptionError, OutFolder, SceneFile, checked_grid, results_folder
from fdtd.cli.tables import format_table, print_files, print_warnings

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fdtd.scene.schema import Scene

Count = Annotated[int, typer.Option("--count", metavar="N", help="How many modes to list.")]
VariantName = Annotated[
    str | None,
    typer.Option("--variant", metavar="NAME", help="Which variant. Default: the one with the most things in it."),
]
Damped = Annotated[
    bool,
    typer.Option("--damped", help="With all that absorbs: frequency and decay, beside those of a run if there is one."),
]
Top = Annotated[float, typer.Option("--top", metavar="HZ", help="Highest frequency of damped modes.")]
DRAWN = 6
NOT_A_MODE = 0.5
"""Hz; below it lies only the uniform pressure of a closed room, which is not a resonance."""
MOST = 500


def modes(
    scene_file: SceneFile,
    count: Count = 30,
    variant: VariantName = None,
    grid: Grid = None,
    out: OutFolder = None,
    damped: Damped = False,
    top: Top = 120.0,
) -> None:
    """List the modes of the room, with rigid walls or with all that absorbs, and draw the lowest ones on the plan."""
    if not 1 <= count <= MOST:
        raise OptionError(f"--count: found {count}, expected 1 to {MOST} modes.")
    grid = checked_grid(grid)
    from fdtd import workflow
    from fdtd.scene.read import read_scene

    scene = read_scene(scene_file)
    index = _variant_index(scene, variant)
    folder = results_folder(scene_file, out)
    print_warnings(scene.warnings)
    if damped:
        _damped(scene, index, grid, _checked_top(top, scene), folder)
        return
    found = workflow.modes(scene, count=count, grid=grid, variant=index)
    frequencies = [float(f) for f in found.frequency if f >= NOT_A_MODE]
    typer.echo(f"{scene.title or scene_file.name}: modes with rigid walls, variant '{scene.variants[index].name}'\n")
    typer.echo(format_table(("Mode", "Frequency, Hz"), _rows(frequencies), left=0) + "\n")

    from fdtd.show.files import save_figure
    from fdtd.show.modes import draw_modes

    table = write_modes_csv(folder / "modes.csv", frequencies)
    figure = draw_modes(scene, found.cells, found.frequency, found.shape, count=DRAWN, variant_index=index)
    print_files([table, *save_figure(figure, folder, "modes")])


def _variant_index(scene: Scene, name: str | None) -> int:
    if name is None:
        return fullest_variant(scene)
    names = [v.name for v in scene.variants]
    if name not in names:
        raise OptionError(f"--variant: found '{name}', expected one of: {', '.join(names)}.")
    return names.index(name)


def _rows(frequencies: Sequence[float]) -> list[tuple[str, str]]:
    return [(str(number), f"{f:.3f}") for number, f in enumerate(frequencies, start=1)]


def write_modes_csv(path: Path, frequencies: Sequence[float]) -> Path:
    """Write columns mode (counted from 1) and frequency_hz to `path`, whole or not at all; returns `path`."""
    from fdtd.results.files import replaced_file

    with replaced_file(path) as unfinished, unfinished.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(("mode", "frequency_hz"))
        writer.writerows((number, f"{f:.6f}") for number, f in enumerate(frequencies, start=1))
    return path


def _checked_top(top: float, scene: Scene) -> float:
    limit = min(200.0, scene.run.max_frequency)
    if not 20.0 <= top <= limit:
        raise OptionError(f"--top: found {top:g} Hz, expected 20 to {limit:g} Hz.")
    return top


def _damped(scene: Scene, index: int, grid: float | None, top: float, folder: Path) -> None:
    """The damped modes on screen, in a file and drawn; with those that a run in `folder` heard at the seats."""
    from fdtd import workflow
    from fdtd.cli.damped_tables import COLUMNS, HEADER, compared, csv_rows, notes, screen_rows

    name = scene.variants[index].name
    found, cells = workflow.damped_modes(scene, high=top, grid=grid, variant=index)
    spacing = grid or max(scene.run.grid, workflow.DAMPED_GRID)
    heard, reason = _heard(scene, name, folder, top, spacing)
    both = compared(found.frequency, found.decay_time, heard)
    typer.echo(f"{scene.title}: damped modes, variant '{name}'\n")
    typer.echo(format_table(HEADER if heard is not None else HEADER[:3], screen_rows(both), left=0) + "\n")
    for line in notes(both, found.unfinished, reason):
        typer.echo(line)

    from fdtd.results.surface_csv import write_rows
    from fdtd.show.files import safe_file_name, save_figure
    from fdtd.show.modes import draw_modes

    stem = "damped-modes"
    if len(scene.variants) > 1:
        stem = "-".join(part for part in (stem, str(index + 1), safe_file_name(name)) if part)
    table = write_rows(folder / f"{stem}.csv", COLUMNS, csv_rows(both))
    turned = [_real_shape(shape) for shape in found.shape]
    figure = draw_modes(scene, cells, found.frequency, _stack(turned), count=DRAWN, variant_index=index)
    print_files([table, *save_figure(figure, folder, stem)])


def _stack(shapes: Sequence[Any]) -> Any:
    import numpy as np

    return np.array(shapes)


def _real_shape(shape: Any) -> Any:
    """A complex shape turned so that most of it is real, as far as one drawing can show it."""
    import numpy as np

    return np.real(shape * np.exp(-0.5j * np.angle(np.sum(shape**2))))


def _heard(
    scene: Scene, name: str, folder: Path, top: float, spacing: float
) -> tuple[tuple[list[float], list[float]] | None, str]:
    """(frequency and decay of what rings in a run of the same scene in `folder`, what to note of the comparison)."""
    from fdtd.errors import ResultFileError
    from fdtd.results.store import read_result

    path = folder / "result.h5"
    if not path.is_file():
        return None, f"there is no {path}; 'fdtd run' makes one"
    try:
        result = read_result(path)
    except ResultFileError as error:
        return None, str(error)
    variant = next((v for v in result.variants if v.name == name), None)
    if result.scene_text != scene.text:
        return None, f"{path} is of another scene, or the scene has changed since; run it again"
    if variant is None:
        return None, f"{path} has no variant '{name}'; run the scene again"
    from fdtd.listening.study import ListeningError, resonances_of, too_short

    try:
        found = resonances_of(result, variant)
    except ListeningError as error:
        return None, str(error)
    keep = found.frequency <= min(top, found.high)
    told = [too_short(variant)]
    if abs(result.grid / spacing - 1.0) > 1e-6:
        told.append(f"the run has a grid of {result.grid:g} m, these modes {spacing:g} m; they differ a little by that")
    return ([float(f) for f in found.frequency[keep]], [float(t) for t in found.decay_time[keep]]), "; ".join(
        part for part in told if part
    )
