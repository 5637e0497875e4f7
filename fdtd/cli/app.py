"""The `fdtd` command: its sub-commands, and how failures are reported to the user."""

from __future__ import annotations

import os
import sys
from typing import Annotated

import typer

from fdtd import __version__
from fdtd.cli.animate import animate
from fdtd.cli.arrange import arrange
from fdtd.cli.check import check
from fdtd.cli.failures import INTERRUPTED, REFUSED, os_error_message
from fdtd.cli.memory import NO_THREAD, SHORT, TOO_LARGE, needing
from fdtd.cli.modes import modes
from fdtd.cli.new import new
from fdtd.cli.partitions import partitions
from fdtd.cli.place import place
from fdtd.cli.report import report
from fdtd.cli.run import run
from fdtd.cli.show import show
from fdtd.cli.sources import sources
from fdtd.cli.streams import NOBODY_READS, last_words, open_streams
from fdtd.cli.surface import surface
from fdtd.cli.tables import print_errors
from fdtd.errors import FdtdError

app = typer.Typer(
    name="fdtd",
    help="Room acoustics below 200 Hz: what a room, and an absorber in it, does to the bass at each seat.",
    epilog="Start with 'fdtd new', then 'fdtd check SCENE' and 'fdtd run SCENE'.",
    add_completion=False,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)
app.command(short_help="Ask a few questions and write a first scene file.")(needing(350)(new))
app.command(short_help="Draw a scene; estimate time and memory.")(needing(750)(check))
app.command(short_help="Simulate all variants and compare them at each seat.")(needing(1100)(run))
app.command(short_help="Redraw the figures of a finished run.")(needing(650)(show))
app.command(short_help="Animate the sound field.")(needing(1100)(animate))
app.command(short_help="Find where an absorber helps most, and how many are worthwhile.")(needing(1100)(place))
app.command(short_help="Write a one-page report to read, print or share.")(needing(750)(report))
app.command(short_help="Find the best position for a loudspeaker or a seat.")(needing(1100)(sources))
app.command(short_help="Arrange loudspeakers and absorbers together.")(needing(1100)(arrange))
app.command(short_help="List room modes: frequency, decay, shape and coupling.")(needing(750)(modes))
app.command(short_help="Compare variations of a room divider and its openings.")(needing(1100)(partitions))
app.command(short_help="Show the properties of a surface, device or unit.")(needing(650)(surface))


def _print_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"fdtd {__version__}")
        raise typer.Exit


@app.callback()
def _options(
    version: Annotated[
        bool, typer.Option("--version", callback=_print_version, is_eager=True, help="Print the version and exit.")
    ] = False,
) -> None:
    pass


def main() -> None:
    """Run the command line and exit: 0 success, 2 refused with a message, 130 stopped by Ctrl-C, 141 when the reader of
    the output has gone.

    A bug keeps its traceback.
    """
    # Small matrices, many of them: more threads inside one product only get in each other's way.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    open_streams()
    output = sys.stdout
    code: int | str | None = REFUSED
    failure: OSError | None = None
    try:
        code = _run()
    except OSError as error:
        failure = error
    lost = last_words(output)
    if isinstance(lost, BrokenPipeError):
        code = NOBODY_READS
    elif lost is not None:
        code = _refuse(f"the output cannot be written ({lost.strerror}). Files that were written before are complete.")
    elif failure is not None:
        message = os_error_message(failure)
        if message is None:
            raise failure
        code = _refuse(message)
    sys.exit(code)


def _run() -> int | str | None:
    """Run the command; its exit code."""
    try:
        app()
    except FdtdError as error:
        return _refuse(str(error))
    except MemoryError:
        return _refuse(TOO_LARGE)
    except RuntimeError as error:
        if SHORT not in str(error):
            raise
        return _refuse(NO_THREAD)
    except (KeyboardInterrupt, SystemExit) as stop:
        if isinstance(stop, SystemExit) and stop.code != INTERRUPTED:
            return stop.code
        print("Stopped by Ctrl-C. Files that were not finished have not been written.", file=sys.stderr)
        return INTERRUPTED
    return 0


def _refuse(message: str) -> int:
    print_errors(message)
    return REFUSED
