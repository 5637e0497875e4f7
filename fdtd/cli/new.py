"""`fdtd new`: a first scene file from a few answers."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from fdtd.cli.tables import format_facts
from fdtd.errors import OptionError

if TYPE_CHECKING:
    from collections.abc import Mapping

Text = str | None


def _answer(metavar: str, text: str) -> Any:
    """An answer given as an option."""
    return typer.Option(metavar=metavar, help=text)


def new(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="Scene file to write (.toml).")] = Path("room.toml"),
    title: Annotated[Text, _answer("TEXT", "Title of the scene.")] = None,
    shape: Annotated[Text, _answer("SHAPE", "rectangle, l-shape, slope or corners. Default: rectangle.")] = None,
    size: Annotated[Text, _answer("LxW", 'Length and width in metres, such as "5.2 x 4.1".')] = None,
    notch: Annotated[Text, _answer("LxW", "For an L-shape: length and width of the missing corner in metres.")] = None,
    corners: Annotated[Text, _answer("LIST", 'Corners of the floor in order, such as "0,0 5,0 5,4 0,4".')] = None,
    height: Annotated[Text, _answer("H", "Height of the highest part in metres.")] = None,
    slope: Annotated[
        Text,
        _answer(
            "LxR",
            "For a slope along the first side: height of the low wall and horizontal extent of the slope in metres.",
        ),
    ] = None,
    floor: Annotated[Text, _answer("SURFACE", "Floor surface; 'fdtd surface --list' shows all names.")] = None,
    ceiling: Annotated[Text, _answer("SURFACE", "Ceiling surface.")] = None,
    walls: Annotated[Text, _answer("SURFACE", "Wall surface.")] = None,
    loudspeakers: Annotated[Text, _answer("KIND", "one, two, subwoofer or two-and-subwoofer. Default: two.")] = None,
    seats: Annotated[Text, _answer("N", "1 or 2. Default: 1.")] = None,
    unit: Annotated[Text, _answer("KIND", "Unit to try: panel, resonator or none. Default: panel.")] = None,
    ask: Annotated[bool, typer.Option("--ask", help="Ask for anything not given as an option.")] = False,
    force: Annotated[bool, typer.Option("--force", help="Overwrite FILE if it exists.")] = False,
) -> None:
    """Ask a few questions about a room and write a commented scene file, ready for the other commands.

    If any answer is given as an option, no questions are asked and the rest take their defaults, unless --ask is given.
    Loudspeakers and seats are placed where they usually stand; the file says what to change next.
    """
    options = {key: text for key, text in locals().items() if isinstance(text, str)}  # all of them are answers
    _check_target(file, force)
    found = _from_questions(options, file, force) if ask or not options else _from_options(options)
    _write(file, _scene_text(found), force)
    _tell_what_next(file, found)


def _somebody_there() -> bool:
    """Whether the answers can come from a person at a terminal."""
    return sys.stdin is not None and not sys.stdin.closed and sys.stdin.isatty()


def _check_target(file: Path, force: bool) -> None:
    if file.suffix.lower() != ".toml":
        raise OptionError(f"FILE: found {str(file)!r}, expected a name that ends in .toml, such as room.toml.")
    if file.is_dir():
        raise OptionError(f"FILE: {str(file)!r} is a folder; give the name of a file.")
    if not force and (file.exists() or file.is_symlink()):
        raise OptionError(f"FILE: {str(file)!r} exists. Choose another name, or --force to write over it.")


def _from_options(options: dict[str, str]) -> dict[str, object]:
    """All answers, from options and defaults; raises OptionError with every invalid option."""
    from fdtd.new_scene.questions import read_answers, with_shape

    found, wrong = read_answers(with_shape(options), presets=True)
    if wrong:
        raise OptionError("\n".join(wrong))
    return found


def _from_questions(options: dict[str, str], file: Path, force: bool) -> dict[str, object]:
    """All answers that are not among `options`, asked at the terminal; OptionError without a terminal.

    Whatever ends it early, the answers so far are told as a command that goes on from there.
    """
    from fdtd.cli.asking import Talk
    from fdtd.new_scene.questions import with_shape

    if not _somebody_there():
        raise OptionError(
            "fdtd new asks questions, and nobody can answer them here. "
            'Give the answers as options, such as --size "5.2 x 4.1" --height 2.5; the others have defaults.'
        )
    talk = Talk(with_shape(options))
    try:
        found = talk.hold()
        for key in options.keys() - found.keys():
            typer.echo(f"\n--{key} was not used: it does not go with --shape {found['shape']}.")
        _scene_text(found)  # an answer may turn out to leave no place for a thing
        return found
    except BaseException as error:
        answered = talk.so_far()
        if answered:
            _tell_how_to_go_on(file, force, {**options, **answered})
        if isinstance(error, EOFError):
            raise OptionError("the answers ended before the last question; nothing has been written.") from None
        raise


def _scene_text(found: Mapping[str, object]) -> str:
    from fdtd.new_scene.questions import answers_of
    from fdtd.new_scene.writing import first_scene

    return first_scene(answers_of(found))


def _tell_how_to_go_on(file: Path, force: bool, answered: dict[str, str]) -> None:
    import shlex

    prompt = ["fdtd", "new", str(file), "--ask", *(["--force"] if force else [])]
    prompt += [word for key, text in answered.items() for word in (f"--{key}", text)]
    typer.echo(f"\n\nTo go on from here, or to change an answer:\n  {shlex.join(prompt)}")


def _write(file: Path, text: str, force: bool) -> None:
    from fdtd.results.files import replaced_file

    _check_target(file, force)
    with replaced_file(file) as unfinished:
        unfinished.write_text(text, encoding="utf-8")


def _tell_what_next(file: Path, found: Mapping[str, object]) -> None:
    import shlex

    from fdtd.new_scene.answers import plan_text
    from fdtd.new_scene.questions import answers_of

    name = shlex.quote(str(file))
    steps = [
        (f"  fdtd check {name} --watch", "draws the room again whenever you save the file"),
        (f"  fdtd run {name}", "simulates both variants"),
    ]
    if found["unit"] != "none":
        steps.append((f"  fdtd place {name}", "looks for the best place of the unit"))
    typer.echo(f"\nFloor: {plan_text(answers_of(found).plan)}\nWritten: {file}\n\nNext:\n{format_facts(steps)}")
