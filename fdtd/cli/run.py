"""`fdtd run`: simulate every variant of a scene and compare them at each seat."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from fdtd.cli.options import (
    CAUTION,
    Device,
    Grid,
    OutFolder,
    SceneFile,
    Smoothing,
    Theme,
    Tones,
    Width,
    parse_frequencies,
    parse_tones,
    results_folder,
    told_at_end,
)
from fdtd.cli.tables import format_facts, print_files, print_warnings
from fdtd.settings import (
    checked_device,
    checked_duration,
    checked_grid,
    checked_precision,
    checked_smoothing,
    checked_theme,
    checked_width,
)

if TYPE_CHECKING:
    from fdtd.listening.study import Listening

Frequencies = Annotated[
    str | None,
    typer.Option(
        "--frequencies",
        metavar="LIST",
        help='Frequencies of the pressure maps in Hz, such as "34.5,52". Default: chosen by the program.',
    ),
]
Duration = Annotated[
    float | None,
    typer.Option(
        "--duration", metavar="S", help="Simulated time in seconds. Default: until the sound has decayed by 60 dB."
    ),
]
Precision = Annotated[
    str, typer.Option("--precision", metavar="single|double", help="Floating-point precision of the simulation.")
]
NoFigures = Annotated[bool, typer.Option("--no-figures", help="Do not draw figures.")]


def run(
    scene_file: SceneFile,
    out: OutFolder = None,
    grid: Grid = None,
    frequencies: Frequencies = None,
    duration: Duration = None,
    precision: Precision = "double",
    device: Device = "auto",
    tones: Tones = None,
    smoothing: Smoothing = None,
    theme: Theme = "light",
    width: Width = None,
    no_figures: NoFigures = False,
) -> None:
    """Simulate every variant of a scene, write results and figures, and print what changes at each seat."""
    grid, duration, precision = checked_grid(grid), checked_duration(duration), checked_precision(precision)
    smoothing, theme, width = checked_smoothing(smoothing), checked_theme(theme), checked_width(width)
    device = checked_device(device)
    from fdtd.scene.read import read_scene

    scene = read_scene(scene_file)
    chosen = parse_frequencies(frequencies, scene.run.max_frequency)
    own = parse_tones(tones, scene.run.max_frequency)
    folder = results_folder(scene_file, out)
    print_warnings(scene.warnings)

    from fdtd.cli.progress import Progress

    with told_at_end() as tell, Progress() as progress:
        progress(0.0, "loading the program")
        from fdtd import workflow
        from fdtd.api.runs import listen_if_long_enough, save_tables
        from fdtd.cli.check import source_facts
        from fdtd.cli.seat_table import format_seats
        from fdtd.results.store import write_result
        from fdtd.simulation.device import Execution

        result = workflow.run(
            scene,
            grid=grid,
            frequencies=chosen,
            duration=duration,
            execution=Execution(precision, device, tell=tell),
            progress=progress,
        )
        write_result(result, folder / "result.h5")  # already now: a long run must not be lost to what follows
        progress(1.0, "working out what is heard")
        listening, reason = listen_if_long_enough(result, own)
    files = save_tables(result, listening, folder)
    typer.echo(f"{result.title or scene_file.name}\n\n{format_seats(result, listening)}\n")
    typer.echo(format_facts(source_facts(scene)) + "\n")
    typer.echo(f"{_audible(listening, reason, result.output)}\n")
    if not no_figures:
        from fdtd.show.files import save_figures

        files.extend(save_figures(result, scene, folder, listening, smoothing, theme, width))
    print_files(files)
    typer.echo("\n" + CAUTION)


def _audible(listening: Listening | None, reason: str, output: float) -> str:
    if listening is None:
        return f"Note: {reason}."
    from fdtd.cli.listening_tables import format_listening

    return format_listening(listening, output)
