"""Options that several commands share, and the checks on their values."""

from __future__ import annotations

import math
import os
import re
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated

import typer

from fdtd.errors import OptionError
from fdtd.settings import LOWEST_FREQUENCY

SceneFile = Annotated[Path, typer.Argument(metavar="SCENE", help="Scene file (.toml).", show_default=False)]
OutFolder = Annotated[
    Path | None,
    typer.Option("--out", metavar="DIR", help="Output folder. Default: the scene's name with '-results', here."),
]
Grid = Annotated[
    float | None,
    typer.Option("--grid", metavar="H", help="Longest cell edge in metres. Default: the scene's, or 0.1."),
]
Tones = Annotated[
    str | None,
    typer.Option(
        "--tones",
        metavar="LIST",
        help='Additional tones in Hz whose tails are reported, such as "34.5,52".',
    ),
]
Smoothing = Annotated[
    float | None,
    typer.Option(
        "--smoothing",
        metavar="N",
        help="Smooth the responses in the figures over 1/N octave, such as 12. Default: no smoothing.",
    ),
]

Theme = Annotated[
    str, typer.Option("--theme", metavar="light|dark", help="Figure colours, on a white or a nearly black background.")
]
Width = Annotated[
    str | None,
    typer.Option(
        "--width",
        metavar="column|full",
        help="Figure width: 8.5 cm or 17.5 cm. Default: depends on the kind of figure.",
    ),
]

MOST_FREQUENCIES = 50
"""In one list: each is a map of the whole room, or a tail for every seat."""
LOWEST_TONE, HIGHEST_TONE = 15.0, 160.0
"""Hz, tones whose tail is told; what is above 0.8 of the highest frequency of a run is not known well enough."""


CAUTION = "Caution: loud bass tones can damage loudspeakers and hearing. Start low, and stop if anything rattles."


Device = Annotated[
    str,
    typer.Option(
        "--device",
        metavar="cpu|gpu|auto",
        help="Where to run the simulation: CPU, GPU, or whichever is faster.",
    ),
]


@contextmanager
def told_at_end() -> Iterator[Callable[[str], None]]:
    """Yields what hears where simulations ran and why; printed at the end."""
    reasons: list[str] = []
    yield reasons.append
    # Many simulations of a study differ in their size only; each reason is told once, whatever its numbers.
    numbers = re.compile(r"less than a second|(about )?[\d.,]+( excitations?| s| min)?\b")
    first: dict[str, str] = {}
    for reason in reasons:
        first.setdefault(numbers.sub("", reason), reason)
    for reason in first.values():
        typer.echo(reason, err=True)


def parse_frequencies(text: str | None, max_frequency: float) -> tuple[float, ...] | None:
    """Frequencies in Hz from a list like '34.5, 52', in the order given; None if not given.

    Raises OptionError for something that is not a number or is outside 10 Hz to `max_frequency` (Hz).
    """
    if text is None:
        return None
    where = "(the upper end is max_frequency under [run] in the scene)"
    return _frequency_list(text, "--frequencies", LOWEST_FREQUENCY, max_frequency, where)


def parse_tones(text: str | None, max_frequency: float) -> tuple[float, ...]:
    """Tones in Hz from a list like '34.5, 52', in the order given; () if not given.

    Raises OptionError for something that is not a number or is outside 15 to 160 Hz or above 0.8 `max_frequency` (Hz).
    """
    if text is None:
        return ()
    where = "(the upper end is 160, or 0.8 of max_frequency under [run] in the scene)"
    return _frequency_list(text, "--tones", LOWEST_TONE, min(HIGHEST_TONE, 0.8 * max_frequency), where)


def _frequency_list(text: str, option: str, low: float, high: float, where: str) -> tuple[float, ...]:
    """Different frequencies in Hz; `where` says in the message what sets the upper end."""
    sentence = text.replace(",", " ").replace(";", " ").split()
    if not sentence:
        raise OptionError(f'{option}: found nothing, expected frequencies in Hz, such as "34.5,52".')
    frequencies: list[float] = []
    for word in sentence:
        try:
            value = float(word)
        except ValueError:
            value = math.nan
        if math.isnan(value):
            raise OptionError(f"{option}: found '{word}', expected frequencies in Hz, such as \"34.5,52\".")
        if not low <= value <= high:
            raise OptionError(f"{option}: found {value:g} Hz, expected {low:g} to {high:g} Hz {where}.")
        if value not in frequencies:
            frequencies.append(value)
    if len(frequencies) > MOST_FREQUENCIES:
        raise OptionError(f"{option}: found {len(frequencies)} frequencies, expected at most {MOST_FREQUENCIES}.")
    return tuple(frequencies)


def results_folder(scene_file: Path, out: Path | None) -> Path:
    """The output folder, created if needed and known to be writable before any long work starts.

    Raises OptionError if a file or a link to nothing has that name, OSError if it cannot be made or written to.
    """
    folder = Path(f"{scene_file.stem}-results") if out is None else out
    if folder.is_symlink() and not folder.exists():
        raise OptionError(
            f"--out: {folder} is a symbolic link that leads nowhere (to {os.readlink(folder)}). "
            "Make the folder that it should lead to, or choose another name."
        )
    if folder.exists() and not folder.is_dir():
        raise OptionError(f"--out: {folder} is a file, expected a folder. Choose another name.")
    folder.mkdir(parents=True, exist_ok=True)
    try:
        with tempfile.TemporaryFile(dir=folder):
            pass
    except OSError as error:
        raise OSError(error.errno, error.strerror, str(folder)) from error
    return folder
