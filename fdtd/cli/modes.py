"""`fdtd modes`: room modes, with rigid walls or damped, and their shapes."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from fdtd.cli.options import Grid, OutFolder, SceneFile, Theme, Width, results_folder
from fdtd.cli.tables import format_table, print_files, print_warnings
from fdtd.errors import OptionError
from fdtd.settings import checked_grid, checked_modes, checked_theme, checked_top, checked_width

if TYPE_CHECKING:
    from collections.abc import Sequence

    from fdtd.scene.schema import Scene

Count = Annotated[int, typer.Option("--count", metavar="N", help="Number of modes to list.")]
VariantName = Annotated[
    str | None,
    typer.Option("--variant", metavar="NAME", help="Variant to use. Default: the one with the most objects."),
]
Damped = Annotated[
    bool,
    typer.Option("--damped", help="Include all absorption: frequency and decay, compared with a run if there is one."),
]
Top = Annotated[float, typer.Option("--top", metavar="HZ", help="Highest frequency of damped modes in Hz.")]
ModeShapes = Annotated[
    int,
    typer.Option(
        "--mode-shapes",
        metavar="N",
        help="Draw and describe the shapes of the N lowest modes and how sources, seats and units couple to them.",
    ),
]
DRAWN = 6
MOST_MODE_SHAPES = 100


def modes(
    scene_file: SceneFile,
    count: Count = 30,
    variant: VariantName = None,
    grid: Grid = None,
    out: OutFolder = None,
    damped: Damped = False,
    top: Top = 120.0,
    mode_shapes: ModeShapes = 0,
    theme: Theme = "light",
    width: Width = None,
) -> None:
    """List the modes of the room, with rigid walls or with all absorption, and draw the lowest ones on the plan.

    --mode shapes draws the shape of each mode in a plan at seat height and in a section through the first seat, with
    its nodal lines, where it is silent. Bars beside it give the pressure, in percent of the largest in the room, at
    each source, at each seat, at the face of each absorber and of a unit at each candidate place of [spots]. The
    product of source and seat is how strongly that loudspeaker makes the mode audible there; --damped adds the level of
    a steady tone at its frequency from this mode alone. Damped modes are shown at the moment when they are largest.
    Modes so close in frequency that any mixture of them is also a mode are marked * and described together.
    """
    count = checked_modes(count)
    if not 0 <= mode_shapes <= MOST_MODE_SHAPES:
        raise OptionError(f"--mode shapes: found {mode_shapes}, expected 0 to {MOST_MODE_SHAPES} modes.")
    grid, theme, width = checked_grid(grid), checked_theme(theme), checked_width(width)
    from fdtd.scene.find import drawn_variant
    from fdtd.scene.read import read_scene

    scene = read_scene(scene_file)
    index = drawn_variant(scene, variant)
    folder = results_folder(scene_file, out)
    print_warnings(scene.warnings)
    if damped:
        top = checked_top(top, scene.run.max_frequency)
        _damped(scene, index, grid, top, folder, mode_shapes, theme, width)
    else:
        title = scene.title or scene_file.name
        _rigid(scene, title, index, count, grid, folder, mode_shapes, theme, width)


def _rigid(
    scene: Scene,
    title: str,
    index: int,
    count: int,
    grid: float | None,
    folder: Path,
    mode_shapes: int,
    theme: str,
    width: str | None,
) -> None:
    """Print, write and draw the modes with rigid walls."""
    from fdtd import workflow
    from fdtd.show.modes import NOT_A_MODE

    found = workflow.modes(scene, count=count, grid=grid, variant=index)
    frequencies = [float(f) for f in found.frequency if f >= NOT_A_MODE]
    typer.echo(f"{title}: modes with rigid walls, variant '{scene.variants[index].name}'\n")
    typer.echo(format_table(("Mode", "Frequency, Hz"), _rows(frequencies), left=0) + "\n")

    from fdtd.show.files import save_drawings
    from fdtd.show.scene_drawings import modes_drawing

    spacing = grid or scene.run.grid
    table = write_modes_csv(folder / "modes.csv", frequencies)
    drawing = modes_drawing(
        scene,
        found.cells,
        found.frequency,
        found.shape,
        count=DRAWN,
        variant_index=index,
        grid=spacing,
        stem="modes",
        width=width,
    )
    print_files([table, *save_drawings([drawing], folder, theme)])
    if mode_shapes:
        from fdtd.cli.mode_shape_tables import tell_mode_shapes
        from fdtd.study.mode_coupling import rigid_mode_shapes

        text = rigid_mode_shapes(scene, found, index, spacing)
        typer.echo("")
        stem = _stem(scene, index, "mode-shapes")
        tell_mode_shapes(text, scene, found.cells, spacing, index, mode_shapes, folder, stem, theme, width)


def _rows(frequencies: Sequence[float]) -> list[tuple[str, str]]:
    return [(str(number), f"{f:.3f}") for number, f in enumerate(frequencies, start=1)]


def write_modes_csv(path: Path, frequencies: Sequence[float]) -> Path:
    """Write columns mode (counted from 1) and frequency_hz to `path`, whole or not at all; returns `path`."""
    from fdtd.results.tables_csv import write_rows

    return write_rows(path, ("mode", "frequency_hz"), ((k, f"{f:.6f}") for k, f in enumerate(frequencies, start=1)))


def _stem(scene: Scene, index: int, kind: str) -> str:
    """Start of the file names, with the variant if there are several."""
    from fdtd.show.files import safe_file_name

    if len(scene.variants) == 1:
        return kind
    return "-".join(part for part in (kind, str(index + 1), safe_file_name(scene.variants[index].name)) if part)


def _damped(
    scene: Scene,
    index: int,
    grid: float | None,
    top: float,
    folder: Path,
    mode_shapes: int,
    theme: str,
    width: str | None,
) -> None:
    """Print, write and draw the damped modes, beside the resonances that a run in `folder` found at the seats."""
    import numpy as np

    from fdtd import workflow
    from fdtd.analysis.mode_shapes import at_its_largest
    from fdtd.cli.damped_tables import COLUMNS, HEADER, compared, csv_rows, notes, screen_rows

    name = scene.variants[index].name
    found, cells = workflow.damped_modes(scene, high=top, grid=grid, variant=index)
    spacing = grid or max(scene.run.grid, workflow.DAMPED_GRID)
    audible, reason = _audible(scene, name, folder, top, spacing)
    both = compared(found.frequency, found.decay_time, audible)
    typer.echo(f"{scene.title}: damped modes, variant '{name}'\n")
    typer.echo(format_table(HEADER if audible is not None else HEADER[:3], screen_rows(both), left=0) + "\n")
    for line in notes(both, found.unfinished, reason):
        typer.echo(line)

    from fdtd.results.tables_csv import write_rows
    from fdtd.show.files import save_drawings
    from fdtd.show.scene_drawings import modes_drawing

    stem = _stem(scene, index, "damped-modes")
    table = write_rows(folder / f"{stem}.csv", COLUMNS, csv_rows(both))
    turned = [at_its_largest(shape, cells.volume)[0] for shape in found.shape]
    drawing = modes_drawing(
        scene,
        cells,
        found.frequency,
        np.array(turned),
        count=DRAWN,
        variant_index=index,
        grid=spacing,
        stem=stem,
        rigid=False,
        width=width,
    )
    print_files([table, *save_drawings([drawing], folder, theme)])
    if mode_shapes:
        from fdtd.cli.mode_shape_tables import tell_mode_shapes
        from fdtd.study.mode_coupling import damped_mode_shapes

        text = damped_mode_shapes(scene, found, index, spacing)
        typer.echo("")
        stem = _stem(scene, index, "damped-mode-shapes")
        tell_mode_shapes(text, scene, cells, spacing, index, mode_shapes, folder, stem, theme, width)


def _audible(
    scene: Scene, name: str, folder: Path, top: float, spacing: float
) -> tuple[tuple[list[float], list[float]] | None, str]:
    """(frequency and decay of the resonances in a run of the same scene in `folder`, notes on the comparison)."""
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
    from fdtd.listening.study import ListeningError, cut_short, resonances_of
    from fdtd.wording.endings import too_short_text
    from fdtd.wording.names import on_screen

    try:
        found = resonances_of(result, variant)
    except ListeningError as error:
        return None, str(error)
    keep = found.frequency <= min(top, found.high)
    short = cut_short(variant)
    sentence = [on_screen(too_short_text(variant.name, short))] if short else []
    if abs(result.grid / spacing - 1.0) > 1e-6:
        sentence.append(
            f"the run has a grid of {result.grid:g} m, these modes {spacing:g} m; they differ a little by that"
        )
    return ([float(f) for f in found.frequency[keep]], [float(t) for t in found.decay_time[keep]]), "; ".join(sentence)
