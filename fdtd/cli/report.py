"""`fdtd report`: results as one page that anyone can open, read and print."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from fdtd.cli.options import results_folder
from fdtd.cli.tables import format_bytes
from fdtd.errors import OptionError

ResultFiles = Annotated[
    list[Path],
    typer.Argument(
        metavar="RESULT...",
        help="result.h5 of a run, placement.h5 of a placement study, or several of them.",
        show_default=False,
    ),
]
Page = Annotated[
    Path | None,
    typer.Option("--out", metavar="FILE", help="Output file (.html). Default: report.html next to the first result."),
]

SUFFIXES = (".html", ".htm")


def report(results: ResultFiles, out: Page = None) -> None:
    """Write a self-contained HTML page about finished runs and placement studies.

    The answer comes first, in words: which spot, how many units, how the decay changes. Then follow the plan, the
    ranked spots, responses, decay and tail, pressure maps, uncertainty, assumptions with their sources, method,
    cautions, and how to reproduce the numbers. For a run, the page compares the first variant with the others at each
    seat.

    The page needs no network, contains no scripts, follows the reader's light or dark setting, fits a phone and prints
    to A4. The run of a study's recommendation (winner/result.h5) is found next to its placement.h5. Several results,
    also of different scenes, become parts of one page.
    """
    target = results[0].parent / "report.html" if out is None else out
    if target.suffix.lower() not in SUFFIXES:
        raise OptionError(f"--out: found '{target.name}', expected a file name that ends in .html.")
    if target.is_dir():
        raise OptionError(f"--out: {target} is a folder, expected the name of a file.")
    from fdtd.cli.progress import Progress
    from fdtd.report.page import write_report

    results_folder(results[0], target.parent)
    with Progress() as progress:
        written = write_report(results, target, progress)
    typer.echo(f"{written} ({format_bytes(written.stat().st_size)}): open it in any browser; it prints to A4.")
