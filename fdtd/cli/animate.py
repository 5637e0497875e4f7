"""`fdtd animate`: the sound in the room as a moving picture, variants side by side."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from fdtd.cli.options import (
    CAUTION,
    LOWEST_FREQUENCY,
    Grid,
    OptionError,
    Theme,
    checked_grid,
    checked_theme,
    results_folder,
)
from fdtd.cli.tables import print_files, print_warnings

if TYPE_CHECKING:
    from fdtd.cli.animate_input import Asked, Given

Input = Annotated[
    Path,
    typer.Argument(
        metavar="SCENE|RESULT", help="Scene file (.toml), or the result file of a run.", show_default=False
    ),
]
Tone = Annotated[
    float | None, typer.Option("--tone", metavar="HZ", help="Play a tone, switched on and, after a while, off.")
]
Sound = Annotated[
    Path | None, typer.Option("--sound", metavar="FILE", help="Play a recording (WAV), of which the bass is simulated.")
]
Steady = Annotated[
    float | None,
    typer.Option(
        "--steady", metavar="HZ", help="A steady tone that loops, from the pressure map of a RESULT; no march."
    ),
]
Variants = Annotated[
    str | None,
    typer.Option(
        "--variants", metavar="LIST", help='Variants to show side by side, such as "off,on". Default: the first two.'
    ),
]
Show = Annotated[
    str | None,
    typer.Option(
        "--show", metavar="pressure|level",
        help="Show the sound pressure, or its running level (125 ms). Default: level for --sound, else pressure.",
    ),
]  # fmt: skip
Seconds = Annotated[
    float | None, typer.Option("--seconds", metavar="S", help="Length of the film. Default: 10, for --steady 4.")
]
Rate = Annotated[float, typer.Option("--rate", metavar="N", help="Pictures a second.")]
Slow = Annotated[
    float | None,
    typer.Option(
        "--slow", metavar="N",
        help="Times slower than in the room. Default: 40 for a pulse, 1 for --sound; a tone is shown about as fast as "
        "it happens, its pictures chosen as by a stroboscope so that the wave can be followed.",
    ),
]  # fmt: skip
On = Annotated[
    float | None,
    typer.Option("--on", metavar="S", help="Seconds after which --tone stops. Default: half of the time shown."),
]
Height = Annotated[
    float | None,
    typer.Option("--height", metavar="M", help="Height of the plan. Default: mean height of the seats."),
]
Section = Annotated[
    str | None,
    typer.Option(
        "--section", metavar="x=M|y=M",
        help='Where the vertical section lies, such as "y=1.5". Default: where plan and maps of the scene have it.',
    ),
]  # fmt: skip
Size = Annotated[
    str | None,
    typer.Option(
        "--size", metavar="W|WxH", help='Pixels, such as "1080" or "1280x720". Default: 1080 wide, as high as needed.'
    ),
]
Formats = Annotated[
    str | None,
    typer.Option(
        "--formats", metavar="LIST",
        help="Any of mp4, webm, gif, webp, png (single pictures). Default: mp4 if its encoder is installed, else webp.",
    ),
]  # fmt: skip
Folder = Annotated[
    Path | None,
    typer.Option("--out", metavar="DIR", help="Folder for the files. Default: the scene's name with '-results', here; "
                 "for a result its own."),
]  # fmt: skip

FULL_SCALE = "The files hold the bass alone, at full scale."


def animate(
    source: Input,
    tone: Tone = None,
    sound: Sound = None,
    steady: Steady = None,
    variants: Variants = None,
    show: Show = None,
    seconds: Seconds = None,
    rate: Rate = 30.0,
    slow: Slow = None,
    on: On = None,
    height: Height = None,
    section: Section = None,
    size: Size = None,
    formats: Formats = None,
    theme: Theme = "light",
    grid: Grid = None,
    out: Folder = None,
) -> None:
    """Show the sound in the plan and in a section of the room over time, variants side by side on one colour scale.

    Without --tone, --sound or --steady a short pulse is shown in slow motion. Below the rooms the level at each seat is
    traced. How fast it is shown, the size and the pictures a second stand in the picture.

    --tone plays a tone and stops it: how the sound builds up, and the tail. --sound plays a recording through the
    room below the scene's max_frequency; what is heard at each seat is written as WAV files, all scaled by one factor
    so that they can be compared, and the first of them goes with an MP4 or WebM shown at full speed.
    --steady loops one period of a tone for as long as wanted, from a map that the result holds already.
    """
    grid, theme = checked_grid(grid), checked_theme(theme)
    _check_choice(tone, sound, steady, on, show, grid)
    _check_numbers(seconds, rate, slow, on)
    kinds, pixels = _formats(formats), _size(size)
    from fdtd.cli.animate_input import Asked, read_input, unchecked_units

    given = read_input(source, variants, height, section, steady is not None)
    top = 0.9 * given.scene.run.max_frequency
    if tone is not None and not LOWEST_FREQUENCY <= tone <= top:
        raise OptionError(
            f"--tone: found {tone:g} Hz, expected {LOWEST_FREQUENCY:g} to {top:g} Hz "
            "(the upper end is 0.9 of max_frequency under [run] in the scene)."
        )
    folder = results_folder(source, source.parent if given.result is not None and out is None else out)
    print_warnings([*given.scene.warnings, *unchecked_units(given)])
    level = show == "level" or (show is None and sound is not None)
    _make(given, Asked(tone, sound, steady, seconds, rate, slow, on, level, grid), folder, kinds, pixels, theme)


def _make(
    given: Given, asked: Asked, folder: Path, kinds: tuple[str, ...], size: tuple[int, int | None] | None, theme: str
) -> None:
    """Simulate, draw and write everything; print what was written."""
    from fdtd.cli.animate_input import film_of
    from fdtd.cli.progress import Progress
    from fdtd.show.film_files import write_film
    from fdtd.show.film_stage import Stage

    simulated = 0.0 if asked.steady is not None else 0.5
    with Progress() as progress:
        film, sounds, stem = film_of(given, asked, folder, lambda d, m: progress(simulated * d, m))
        stage = Stage(film, given.scene, given.variants, theme, size)
        files = []
        for k, kind in enumerate(kinds):

            def tell(done: int, k: int = k, kind: str = kind) -> None:
                share = (k + done / len(stage)) / len(kinds)
                progress(simulated + (1.0 - simulated) * share, f"{kind}: picture {done} of {len(stage)}")

            heard = sounds[0] if sounds and film.timing.real else None
            files.append(write_film(stage, folder, stem, kind, tell, heard))
    typer.echo(
        f"{film.words}: {len(stage)} pictures, {stage.layout.pixels[0]} x {stage.layout.pixels[1]} pixels, "
        f"{film.timing.rate:g} a second, {film.timing.words}.\nColours: {film.unit}, {film.low:g} to {film.high:g} in "
        f"all rooms and pictures; {film.meaning}."
    )
    print_files([*files, *sounds])
    if sounds:
        typer.echo(f"\n{CAUTION} {FULL_SCALE}")


def _check_choice(
    tone: float | None, sound: Path | None, steady: float | None, on: float | None, show: str | None,
    grid: float | None,
) -> None:  # fmt: skip
    """Raises OptionError for options that don't go together."""
    if sum(value is not None for value in (tone, sound, steady)) > 1:
        raise OptionError("--tone, --sound and --steady: found several, expected one of them, or none for a pulse.")
    if show not in (None, "pressure", "level"):
        raise OptionError(f"--show: found '{show}', expected pressure or level.")
    if steady is not None and show == "level":
        raise OptionError("--show level: the level of a steady tone does not change; 'fdtd run' draws it as a map.")
    if steady is not None and grid is not None:
        raise OptionError("--grid: does not go with --steady; a map has the cells of its run ('fdtd run --grid').")
    if on is not None and tone is None:
        raise OptionError("--on: tells when --tone is switched off; there is no --tone.")


def _check_numbers(seconds: float | None, rate: float, slow: float | None, on: float | None) -> None:
    for value, option, low, high, unit in (
        (seconds, "--seconds", 0.1, 120.0, "s"), (rate, "--rate", 1.0, 60.0, "pictures a second"),
        (slow, "--slow", 0.1, 10000.0, "times slower"), (on, "--on", 0.01, 60.0, "s"),
    ):  # fmt: skip
        if value is not None and not low <= value <= high:
            raise OptionError(f"{option}: found {value:g}, expected {low:g} to {high:g} {unit}.")


def _formats(text: str | None) -> tuple[str, ...]:
    """Wanted formats in the order given; raises OptionError for another one, or if there is no encoder for it."""
    from fdtd.show.film_files import FORMATS
    from fdtd.show.film_video import encoder, missing_encoder

    if text is None:
        return ("mp4",) if encoder() is not None else ("webp",)
    words = tuple(dict.fromkeys(text.lower().replace(",", " ").split()))
    unknown = [word for word in words if word not in FORMATS]
    if unknown or not words:
        found = f"'{unknown[0]}'" if unknown else "nothing"
        raise OptionError(f"--formats: found {found}, expected any of {', '.join(FORMATS)}.")
    if reason := missing_encoder(words):
        raise OptionError(f"--formats: {reason}")
    return words


def _size(text: str | None) -> tuple[int, int | None] | None:
    """Width and height in pixels, made even because video needs it."""
    from fdtd.show.film_layout import LARGEST, SMALLEST

    if text is None:
        return None
    parts = text.lower().replace("×", "x").split("x")
    try:
        numbers = [int(part) for part in parts]
    except ValueError:
        numbers = []
    if len(numbers) not in (1, 2) or not all(SMALLEST <= n <= LARGEST for n in numbers):
        raise OptionError(
            f"--size: found '{text}', expected a width, or width x height, of {SMALLEST} to {LARGEST} pixels, "
            'such as "1080" or "1280x720".'
        )
    even = [n - n % 2 for n in numbers]
    if even != numbers:
        typer.echo(f"Note: video needs even sizes, so it is {' x '.join(map(str, even))} pixels.", err=True)
    return even[0], even[1] if len(even) == 2 else None
