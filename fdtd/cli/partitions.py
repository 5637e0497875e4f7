"""`fdtd partitions`: variations of a room divider and its openings, side by side."""

from __future__ import annotations

import math
from typing import Annotated

import typer

from fdtd.cli.options import Grid, OutFolder, SceneFile, Theme, Width, results_folder
from fdtd.cli.tables import print_files, print_warnings
from fdtd.errors import OptionError
from fdtd.settings import checked_grid, checked_theme, checked_width

ThinPartitionName = Annotated[
    str, typer.Option("--sheet", metavar="NAME", help="Name of the partition ([[sheets]]) to vary.", show_default=False)
]
Open = Annotated[
    str | None,
    typer.Option(
        "--open", metavar="LIST", help='Open areas to try in percent, such as "0,30,60". Default: 0,30,60,100.'
    ),
]
Depth = Annotated[
    float | None, typer.Option("--depth", metavar="M", help="Depth of the open parts. Default: as in the scene.")
]
Door = Annotated[
    str,
    typer.Option("--door", metavar="open|closed", help="With closed, also try a door shut in each opening."),
]
DoorMass = Annotated[float, typer.Option("--door-mass", metavar="M", help="Mass of that door in kg/m².")]
OpeningWidth = Annotated[
    str | None, typer.Option("--opening-width", metavar="LIST", help="Widths to try for its only opening in metres.")
]
Move = Annotated[
    str | None,
    typer.Option("--move", metavar="LIST", help='Distances to move it along its normal in metres, such as "-0.3,0.3".'),
]
Mass = Annotated[
    str | None, typer.Option("--mass", metavar="LIST", help="Masses to try for a yielding closed part in kg/m².")
]
FromVariant = Annotated[
    str | None,
    typer.Option("--variant", metavar="NAME", help="Variant to start from. Default: the first with the partition."),
]


def partitions(
    scene_file: SceneFile,
    thin_partition: ThinPartitionName,
    open_shares: Open = None,
    depth: Depth = None,
    door: Door = "closed",
    door_mass: DoorMass = 10.0,
    opening_width: OpeningWidth = None,
    move: Move = None,
    mass: Mass = None,
    variant: FromVariant = None,
    grid: Grid = None,
    out: OutFolder = None,
    theme: Theme = "light",
    width: Width = None,
) -> None:
    """Compare a room divider as it is, closed, more open, moved, with a different mass, and removed."""
    grid, theme, width = checked_grid(grid), checked_theme(theme), checked_width(width)
    if door not in ("open", "closed"):
        raise OptionError(f"--door: found '{door}', expected open or closed.")
    shares = _numbers(open_shares, "--open", 0.0, 100.0, "% open")
    widths = _numbers(opening_width, "--opening-width", 0.001, 100.0, "m") or ()
    moves = _numbers(move, "--move", -100.0, 100.0, "m") or ()
    masses = _numbers(mass, "--mass", 0.01, 10000.0, "kg/m²") or ()
    _check(depth, "--depth", 0.0, 10.0, "m")
    _check(door_mass, "--door-mass", 0.01, 10000.0, "kg/m²")
    from fdtd.scene.read import read_scene
    from fdtd.study.partitions import PartitionRequest, partition_study
    from fdtd.wording.names import on_screen
    from fdtd.wording.partitions import left_out_text, sentences

    scene = read_scene(scene_file)
    asked = PartitionRequest(shares, depth, door, door_mass, widths, tuple(m for m in moves if m != 0.0), masses)
    study = partition_study(scene, thin_partition, asked, variant)
    folder = results_folder(scene_file, out)
    notes = [on_screen(left_out_text(study.idle))] if study.idle else []
    print_warnings([*scene.warnings, *notes])

    from fdtd.api.studies import finish_partitions, save_partitions
    from fdtd.cli.partition_tables import format_partitions
    from fdtd.cli.progress import Progress
    from fdtd.results.store import write_result
    from fdtd.wording.partition_verdict import verdict

    with Progress() as progress:
        # Written at once: a long run must not be lost to what follows.
        keep = lambda result: write_result(result, folder / "result.h5")  # noqa: E731
        done = finish_partitions(study, grid, keep, progress)
    listening, compared = done.listening, done.compared
    typer.echo(f"{done.result.title or scene_file.name}: '{thin_partition}'\n")
    told = [verdict(listening, compared, study.deeds), "", *sentences(listening, compared, study.deeds)]
    typer.echo(format_partitions(listening, compared, [on_screen(line) for line in told]) + "\n")
    print_files(save_partitions(done, folder, theme=theme, width=width))


def _check(value: float | None, option: str, low: float, high: float, unit: str) -> None:
    if value is not None and not low <= value <= high:
        raise OptionError(f"{option}: found {value:g}, expected {low:g} to {high:g} {unit}.")


def _numbers(text: str | None, option: str, low: float, high: float, unit: str) -> tuple[float, ...] | None:
    """Different numbers of a list like '0, 30', in the order given; None if not given."""
    if text is None:
        return None
    found: list[float] = []
    for word in text.replace(",", " ").replace(";", " ").split():
        try:
            value = float(word.rstrip("%"))
        except ValueError:
            value = math.nan
        if not low <= value <= high:
            raise OptionError(f"{option}: found '{word}', expected numbers from {low:g} to {high:g} ({unit}).")
        if value not in found:
            found.append(value)
    if not found:
        raise OptionError(f"{option}: found nothing, expected numbers from {low:g} to {high:g} ({unit}).")
    return tuple(found)
