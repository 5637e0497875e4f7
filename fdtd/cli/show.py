"""`fdtd show`: redraw the figures from a result file alone."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from fdtd.cli.options import Smoothing, Theme, Tones, Width, parse_tones, results_folder
from fdtd.cli.tables import print_files
from fdtd.settings import checked_smoothing, checked_theme, checked_width

ResultFile = Annotated[
    Path, typer.Argument(metavar="RESULT", help="Result file (result.h5) of a run.", show_default=False)
]
ShowFolder = Annotated[
    Path | None,
    typer.Option("--out", metavar="DIR", help="Output folder. Default: that of the result file."),
]


def show(
    result_file: ResultFile,
    out: ShowFolder = None,
    tones: Tones = None,
    smoothing: Smoothing = None,
    theme: Theme = "light",
    width: Width = None,
) -> None:
    """Redraw the figures of a finished run; with --tones, also print the tails of these tones."""
    smoothing, theme, width = checked_smoothing(smoothing), checked_theme(theme), checked_width(width)
    from fdtd.results.store import read_result

    result = read_result(result_file)
    own = parse_tones(tones, result.max_frequency)

    from fdtd.api.runs import listen_if_long_enough
    from fdtd.cli.audible import reasons
    from fdtd.report.loading import check_belongs
    from fdtd.scene.read import read_scene_text
    from fdtd.scene.text import one_line
    from fdtd.show.files import save_figures

    scene = read_scene_text(result.scene_text, f"scene in {result_file.name}")
    if [v.name for v in scene.variants] != [v.name for v in result.variants]:  # the run of a study's advice
        from fdtd.report.loading import scene_of_run

        scene = scene_of_run(result_file, result)
    check_belongs(result_file, result, scene.variants)
    folder = results_folder(result_file, result_file.parent if out is None else out)
    title = scene.title or result_file.name
    typer.echo(f"{title}: computed {one_line(result.created)} by version {one_line(result.program_version)}\n")
    listening, reason = listen_if_long_enough(result, own)
    for note in reasons(listening, reason):
        typer.echo(f"{note}\n")
    if listening is not None and own:
        from fdtd.cli.listening_tables import format_own_tails

        typer.echo(format_own_tails(listening) + "\n")
    print_files(save_figures(result, scene, folder, listening, smoothing, theme, width))
