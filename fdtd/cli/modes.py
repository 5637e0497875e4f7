"""`fdtd modes`: the rigid eigenfrequencies of a room and what they look like."""

from __future__ import annotations

import csv
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

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
) -> None:
    """List the modes of the room with rigid walls, and draw the lowest ones on the plan."""
    if not 1 <= count <= MOST:
        raise OptionError(f"--count: found {count}, expected 1 to {MOST} modes.")
    grid = checked_grid(grid)
    from fdtd import workflow
    from fdtd.scene.read import read_scene

    scene = read_scene(scene_file)
    index = _variant_index(scene, variant)
    folder = results_folder(scene_file, out)
    print_warnings(scene.warnings)
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
