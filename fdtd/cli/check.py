"""`fdtd check`: is the scene as intended, and how much time and memory would a run take?"""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from fdtd.cli.options import Grid, OutFolder, SceneFile, Theme, Width, results_folder
from fdtd.cli.tables import format_bytes, format_estimate, format_facts, print_errors, print_files, print_warnings
from fdtd.errors import FdtdError, OptionError
from fdtd.settings import checked_grid, checked_theme, checked_width

if TYPE_CHECKING:
    from fdtd.scene.schema import Scene, Variant
    from fdtd.workflow import RoomFacts

BOUNDARY_FREQUENCIES = (31.5, 63.0, 125.0)
"""Hz at which the gain due to nearby surfaces is given."""

FigureFile = Annotated[
    Path | None,
    typer.Option(
        "--figure", metavar="FILE", help="Draw to FILE.png and FILE.svg instead of 'plan' in the output folder."
    ),
]


Watch = Annotated[
    bool,
    typer.Option(
        "--watch",
        help="Keep running and redraw whenever the scene is saved, even with mistakes. Ctrl-C ends it (exit code 0).",
    ),
]


def check(
    scene_file: SceneFile,
    grid: Grid = None,
    figure: FigureFile = None,
    out: OutFolder = None,
    theme: Theme = "light",
    width: Width = None,
    watch: Watch = False,
) -> None:
    """Read a scene, draw its plan and a section, and estimate the time and memory of a run.

    With --watch the drawing follows the file: keep it open in a viewer next to your editor.
    """
    grid, theme, width = checked_grid(grid), checked_theme(theme), checked_width(width)
    stem = _figure_stem(figure)

    def folder() -> Path:
        return results_folder(scene_file, out if figure is None else figure.parent)

    def draw(scene: Scene) -> list[Path]:
        from fdtd.scene.find import fullest_variant
        from fdtd.show.files import save_drawings
        from fdtd.show.scene_drawings import plan_drawing

        # A figure that is asked for by name goes to a folder of the user's own: nothing else is left there.
        one = plan_drawing(scene, fullest_variant(scene), stem, width)
        return save_drawings([one], folder(), theme) if figure is None else save_drawings([one], folder(), theme, None)

    def tell() -> None:
        _tell(scene_file, grid, folder, draw)

    if watch:
        _watch(scene_file, tell)
    else:
        tell()


def _tell(
    scene_file: Path, grid: float | None, folder: Callable[[], Path], draw: Callable[[Scene], list[Path]]
) -> None:
    """Read, report and draw the scene; `folder` creates the folder once the scene is known to be valid."""
    from fdtd import workflow
    from fdtd.scene.read import read_scene

    scene = read_scene(scene_file)
    folder()
    facts = workflow.check(scene, grid=grid)
    print_warnings((*scene.warnings, *facts.warnings))
    typer.echo(f"{scene.title or scene_file.name}\n")
    typer.echo(format_facts(room_facts(facts, scene.run.max_frequency)))
    typer.echo("\n" + format_facts(variant_facts(scene.variants)) + "\n")
    typer.echo(format_facts(source_facts(scene)) + "\n")
    if scene.spots is not None:
        typer.echo(format_facts(spot_facts(scene, facts)) + "\n")

    print_files(draw(scene))


def _watch(scene_file: Path, tell: Callable[[], None]) -> None:
    """Report on the scene now and after every change, until Ctrl-C."""
    from fdtd.cli.watch import watch

    if not scene_file.is_file():
        tell()  # says what is wrong with the name, as without --watch

    def now() -> None:
        try:
            tell()
        except FdtdError as error:
            print_errors(str(error))
        typer.echo(f"\n{time.strftime('%H:%M:%S')}  Watching {scene_file}. Ctrl-C ends it.")

    def gone() -> None:
        typer.echo(f"{time.strftime('%H:%M:%S')}  {scene_file} is gone. Waiting for it to come back.")

    def changed() -> None:
        typer.echo(f"\n{time.strftime('%H:%M:%S')}  {scene_file} has changed.\n")
        now()

    try:
        watch(scene_file, now, changed, gone)
    except KeyboardInterrupt:
        typer.echo("\nNo longer watching.")


def room_facts(facts: RoomFacts, max_frequency: float) -> list[tuple[str, str]]:
    """Name and value of everything that `fdtd check` prints; max_frequency in Hz."""
    cells_a_wave = facts.shortest_wavelength / facts.largest_cell
    modes = ", ".join(f"{f:.1f}" for f in facts.box_modes)
    return [
        ("Volume", f"{facts.volume:.2f} m³"),
        ("Floor area", f"{facts.floor_area:.2f} m²"),
        ("Total surface area", f"{facts.surface_area:.2f} m²"),
        ("Mean absorption, 50 to 160 Hz", f"{facts.mean_absorption:.3f}"),
        ("Schroeder frequency", _hertz(facts.schroeder_frequency)),
        ("First modes of the bounding box", f"{modes} Hz"),
        ("Shortest wavelength", f"{facts.shortest_wavelength:.2f} m at {max_frequency:g} Hz"),
        ("Cell edges", f"{facts.smallest_cell:.3f} to {facts.largest_cell:.3f} m"),
        ("Cells per shortest wavelength", f"{cells_a_wave:.1f}"),
        ("Cells", f"{facts.cells:,}"),
        ("Time step", f"{1e6 * facts.time_step:.1f} µs"),
        ("Steps", f"{facts.steps:,} ({facts.steps * facts.time_step:.2f} s of sound)"),
        ("Memory", format_bytes(facts.memory)),
        ("Time for a run", format_estimate(facts.seconds)),
    ]


def variant_facts(variants: tuple[Variant, ...]) -> list[tuple[str, str]]:
    """The variants and how each differs."""
    return [(f"Variant '{v.name}'", v.changes or "everything in the scene") for v in variants]


def source_facts(scene: Scene) -> list[tuple[str, str]]:
    """What floor and walls near each loudspeaker would add to its power if they were hard (first variant)."""
    from fdtd.analysis.boundary import boundary_gain
    from fdtd.scene.shape import Shape

    facts = []
    for source in scene.variants[0].sources:
        near = Shape(scene.room).walls_near(source.at)
        gains = boundary_gain(near, BOUNDARY_FREQUENCIES, scene.air.speed_of_sound)
        text = ", ".join(f"{g:+.1f} dB at {f:g} Hz" for g, f in zip(gains, BOUNDARY_FREQUENCIES, strict=True))
        distances = ", ".join(f"{d:.2f}" for d in near)
        facts.append((f"Source '{source.name}'", f"floor and walls at {distances} m add {text}"))
    return facts


def spot_facts(scene: Scene, facts: RoomFacts) -> list[tuple[str, str]]:
    """Candidate places in [spots], why others are excluded, and how long `fdtd place` takes on these cells."""
    from fdtd.kernels.compiled import available_threads
    from fdtd.scene.shape import Shape
    from fdtd.scene.spots import survey
    from fdtd.simulation.stepper import UPDATES_PER_SECOND

    if scene.spots is None:
        return []
    start = scene.spots.start
    found = survey(Shape(scene.room), start, scene.spots)
    excitations = len(start.sources) + len(found.candidates)
    text = [("Candidate places", str(len(found.candidates)) if found.candidates else "none: fdtd place has no choice")]
    # Reasons are names of things or clauses about a place; the number of places goes before.
    text += [(f"  left out: {count}", reason) for reason, count in found.left_out]
    if found.candidates:
        seconds = facts.cells * facts.steps * excitations / (UPDATES_PER_SECOND * available_threads())
        text.append(("Time for fdtd place", f"{format_estimate(seconds)} for the sound in the room, then the search"))
    return text


def _hertz(value: float) -> str:
    return f"{value:.0f} Hz" if value < 1e5 else "none: nothing in the room absorbs"


def _figure_stem(figure: Path | None) -> str:
    """File name without its extension; raises OptionError for an extension other than .png or .svg."""
    if figure is None:
        return "plan"
    if figure.suffix.lower() not in ("", ".png", ".svg"):
        raise OptionError(f"--figure: found {figure.name}, expected a name that ends in .png or .svg.")
    return figure.stem
