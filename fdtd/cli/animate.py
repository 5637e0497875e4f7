"""`fdtd animate`: an animation of the sound in the room, variants side by side."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from fdtd.cli.options import CAUTION, Grid, Theme, results_folder
from fdtd.cli.tables import print_files, print_warnings
from fdtd.errors import OptionError
from fdtd.settings import checked_grid, checked_theme

Input = Annotated[
    Path,
    typer.Argument(metavar="SCENE|RESULT", help="Scene file (.toml), or the result file of a run.", show_default=False),
]
Tone = Annotated[float | None, typer.Option("--tone", metavar="HZ", help="Play a tone that stops after a while.")]
Sound = Annotated[
    Path | None, typer.Option("--sound", metavar="FILE", help="Play a recording (WAV); only its bass is simulated.")
]
Steady = Annotated[
    float | None,
    typer.Option(
        "--steady", metavar="HZ", help="Loop a steady tone from the pressure map of a RESULT, without simulation."
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
        "--show",
        metavar="pressure|level",
        help="Show sound pressure or its running level (125 ms). Default: level with --sound, otherwise pressure.",
    ),
]
Seconds = Annotated[
    float | None,
    typer.Option("--seconds", metavar="S", help="Length of the animation. Default: 10, or 4 with --steady."),
]
Rate = Annotated[float, typer.Option("--rate", metavar="N", help="Frames per second.")]
Slow = Annotated[
    float | None,
    typer.Option(
        "--slow",
        metavar="N",
        help="Slow motion factor. Default: 40 for a pulse, 1 for --sound; a tone runs at about real speed, with frames "
        "chosen as by a stroboscope so that the eye can follow the wave.",
    ),
]
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
        "--section",
        metavar="x=M|y=M",
        help='Position of the vertical section, such as "y=1.5". Default: as in the plan and maps of the scene.',
    ),
]
Size = Annotated[
    str | None,
    typer.Option(
        "--size",
        metavar="W|WxH",
        help='Size in pixels, such as "1080" or "1280x720". Default: 1080 wide, as high as needed.',
    ),
]
Formats = Annotated[
    str | None,
    typer.Option(
        "--formats",
        metavar="LIST",
        help="Any of mp4, webm, gif, webp, png (single frames). Default: mp4 if its encoder is installed, else webp.",
    ),
]
Folder = Annotated[
    Path | None,
    typer.Option(
        "--out",
        metavar="DIR",
        help="Output folder. Default: the scene's name with '-results', here; for a result, its own folder.",
    ),
]

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
    """Animate the sound field in a plan and a section of the room, with variants side by side on one colour scale.

    Without --tone, --sound or --steady it shows a short pulse in slow motion. The level at each seat is traced below
    the rooms. Speed, size and frame rate are stated in the picture.

    --tone plays a tone and stops it, to show the build-up and the tail. --sound plays a recording in the room, below
    the scene's max_frequency, and writes the sound at each seat as WAV files, all scaled by one factor so that they can
    be compared; an MP4 or WebM at full speed uses the first of them as its soundtrack. --steady loops one period of a
    tone for as long as wanted, from a map already in the result.
    """
    grid, theme = checked_grid(grid), checked_theme(theme)
    pixels = _size(size)
    from fdtd.api import animation
    from fdtd.cli.progress import Progress

    asked = animation.AnimationRequest(tone, sound, steady, seconds, rate, slow, on, show, grid)
    kinds = animation.checked_formats(None if formats is None else tuple(formats.lower().replace(",", " ").split()))
    animation.check_asked(asked)
    given = animation.read_input(source, variants, height, section, steady is not None)
    animation.check_tone(asked, given.scene)
    folder = results_folder(source, source.parent if given.result is not None and out is None else out)
    print_warnings([*given.scene.warnings, *animation.unchecked_units(given)])
    with Progress() as progress:
        done = animation.animate_given(given, asked, folder, kinds, pixels, theme, progress)
    from fdtd.wording.animations import played_text, scale_text, speed_text
    from fdtd.wording.names import on_screen

    moving = done.animation
    unit, meaning = scale_text(moving)
    typer.echo(
        f"{on_screen(played_text(moving.played))}: {done.pictures} pictures, "
        f"{done.pixels[0]} x {done.pixels[1]} pixels, "
        f"{moving.timing.rate:g} a second, {speed_text(moving.timing)}.\nColours: {unit}, {moving.low:g} to "
        f"{moving.high:g} in all rooms and pictures; {meaning}."
    )
    print_files([*done.files, *done.sounds])
    if done.sounds:
        typer.echo(f"\n{CAUTION} {FULL_SCALE}")


def _size(text: str | None) -> tuple[int, int | None] | None:
    """Width and height in pixels, made even because video needs it."""
    from fdtd.show.animation_layout import LARGEST, SMALLEST

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
