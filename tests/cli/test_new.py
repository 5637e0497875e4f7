"""`fdtd new`: questions at a terminal, options without one, and nothing written when something is wrong."""

from __future__ import annotations

import builtins
import shlex
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from fdtd.scene.read import read_scene

Command = Callable[..., int]
Capture = pytest.CaptureFixture[str]
Patch = pytest.MonkeyPatch


@pytest.fixture(autouse=True)
def _in_an_empty_folder(tmp_path: Path, monkeypatch: Patch) -> None:
    monkeypatch.chdir(tmp_path)


@pytest.fixture
def typed(monkeypatch: Patch) -> Callable[..., None]:
    """`typed("Den", ...)`: somebody sits at the terminal and gives these answers; an exception is raised in place."""

    def install(*answers: str | type[BaseException]) -> None:
        left: Iterator[str | type[BaseException]] = iter(answers)

        def answer(prompt: str = "") -> str:
            given = next(left, EOFError)
            if isinstance(given, str):
                return given
            raise given

        monkeypatch.setattr(builtins, "input", answer)
        monkeypatch.setattr("fdtd.cli.new._somebody_there", lambda: True)

    return install


def test_enter_all_the_way_writes_a_scene_that_is_read_without_a_word(
    typed: Callable[..., None], fdtd: Command, capsys: Capture
) -> None:
    typed(*[""] * 11)
    assert fdtd("new") == 0
    assert read_scene("room.toml").warnings == ()
    printed = capsys.readouterr().out
    assert printed.endswith(
        "Written: room.toml\n\nNext:\n"
        "  fdtd check room.toml --watch  draws the room again whenever you save the file\n"
        "  fdtd run room.toml            simulates both variants\n"
        "  fdtd place room.toml          looks for the best place of the unit\n"
    )


def test_a_wrong_answer_is_asked_again_at_once(typed: Callable[..., None], fdtd: Command, capsys: Capture) -> None:
    typed("Den", "4", "0,0 4,4 4,0 0,3", "0,0 5,0 5,4 0,4", "", "250", "2.5", "zzz", "3", "", "", "3", "2", "3")
    assert fdtd("new", "den.toml") == 0
    printed = capsys.readouterr().out
    for said in (
        "Found an outline that crosses or touches itself",
        "was this in centimetres? That would be 2.5 m.\n",
        'Found "zzz"; enter timber floor on joists or timber floor on concrete or ',
    ):
        assert said in printed
    scene = read_scene("den.toml")
    assert scene.title == "Den" and dict(scene.variants[0].surfaces)["floor"] == "carpet on concrete"
    assert [s.name for s in scene.variants[0].sources] == ["subwoofer"] and len(scene.variants[0].seats) == 2
    assert scene.spots is None


@pytest.mark.parametrize(("end", "code"), [(EOFError, 2), (KeyboardInterrupt, 130)])
def test_an_end_in_the_middle_leaves_nothing(
    typed: Callable[..., None], fdtd: Command, capsys: Capture, end: type[BaseException], code: int
) -> None:
    typed('My "den"', "2", end)
    assert fdtd("new") == code
    assert list(Path().iterdir()) == []
    printed, told = capsys.readouterr()
    assert len(told.splitlines()) == 1 and ("the answers ended" in told or "Stopped by Ctrl-C" in told)
    assert printed.endswith("\n  fdtd new room.toml --ask --title 'My \"den\"' --shape l-shape\n")


def test_the_command_that_is_said_goes_on_from_there(
    typed: Callable[..., None], fdtd: Command, capsys: Capture
) -> None:
    typed('My "den"', "2", "6 x 5", EOFError)
    assert fdtd("new", "den.toml") == 2
    words = shlex.split(capsys.readouterr().out.splitlines()[-1])
    assert words[:4] == ["fdtd", "new", "den.toml", "--ask"]
    typed("2 x 1.5", "2.4", *[""] * 6)
    assert fdtd(*words[1:]) == 0
    scene = read_scene("den.toml")
    assert scene.title == 'My "den"' and len(scene.room.plan) == 6 and scene.room.ceiling == ((2.4, 0.0, 0.0),)


def test_nothing_is_said_where_nothing_was_answered(typed: Callable[..., None], fdtd: Command, capsys: Capture) -> None:
    typed(EOFError)
    assert fdtd("new") == 2 and "To go on" not in capsys.readouterr().out


def test_answers_that_leave_no_place_for_the_unit_are_not_lost(
    typed: Callable[..., None], fdtd: Command, capsys: Capture, monkeypatch: Patch
) -> None:
    monkeypatch.setattr("fdtd.new_scene.writing.best_spot", lambda *_: None)
    typed(*[""] * 11)
    assert fdtd("new") == 2
    printed, told = capsys.readouterr()
    assert "choose no unit" in told and printed.splitlines()[-1].endswith("--seats 1 --unit panel")
    assert list(Path().iterdir()) == []


def test_an_option_that_can_not_be_taken_is_asked_for(
    typed: Callable[..., None], fdtd: Command, capsys: Capture
) -> None:
    typed("", "6 x 5", "2.4", *[""] * 6)
    assert fdtd("new", "--ask", "--size", "600 x 500", "--notch", "1 x 1", "--shape", "rectangle") == 0
    printed = capsys.readouterr().out
    assert "--size: found 600 m; the length must be from 1.5 to 20 m" in printed
    assert "--notch was not used: it does not go with --shape rectangle." in printed
    assert read_scene("room.toml").room.plan[2] == (6, 5)


def test_back_goes_to_the_question_before(typed: Callable[..., None], fdtd: Command, capsys: Capture) -> None:
    typed("back", "Den", "2", "6 x 5", "back", "7 x 5", "2 x 2", "back", "back", "back", "1", "", "", *[""] * 6)
    assert fdtd("new") == 0
    printed = capsys.readouterr().out
    assert "'back' returns to the question before" in printed and "This is the first question." in printed
    scene = read_scene("room.toml")
    assert scene.title == "Den" and scene.room.plan == ((0, 0), (7, 0), (7, 5), (0, 5))


@pytest.mark.parametrize(
    ("answers", "command"),
    [
        (["Den", "1", "6 x 5", "back", "back"], "--title Den --shape rectangle --size '6 x 5'"),
        (["Den", "1", "6 x 5", "back", "back", "2"], "--title Den --shape l-shape --size '6 x 5'"),
        (["Den", "1", "6 x 5", "back", "back", "4"], "--title Den --shape corners"),
        (
            ["Den", "2", "6 x 5", "4 x 4", "2.4", "back", "back", "back", "4 x 3"],
            "--title Den --shape l-shape --size '4 x 3' --height 2.4",
        ),
        (["Den", "back"], "--title Den"),
    ],
)
def test_answers_behind_a_step_back_are_said_where_they_still_hold(
    typed: Callable[..., None], fdtd: Command, capsys: Capture, answers: list[str], command: str
) -> None:
    typed(*answers, KeyboardInterrupt)
    assert fdtd("new") == 130
    assert capsys.readouterr().out.endswith(f"\n  fdtd new room.toml --ask {command}\n")


def test_answers_that_rest_on_an_option_are_said_behind_a_step_back(
    typed: Callable[..., None], fdtd: Command, capsys: Capture
) -> None:
    typed("Den", "2", "2 x 1.5", "back", "back", KeyboardInterrupt)
    assert fdtd("new", "--ask", "--size", "6 x 5") == 130
    assert capsys.readouterr().out.endswith("--ask --size '6 x 5' --title Den --shape l-shape --notch '2 x 1.5'\n")


def test_corners_are_read_back_and_can_be_put_right(typed: Callable[..., None], fdtd: Command, capsys: Capture) -> None:
    typed("", "4", "0,0 4,2,0 4,2,3,3 0,3,3", "0,0 4,2 4,3 0,3", "no", "0,0 4.2,0 4.2,3.3 0,3.3", "y", *[""] * 7)
    assert fdtd("new") == 0
    printed = capsys.readouterr().out
    assert 'Found "4,2,0"; it is not clear which commas are decimal ones' in printed
    assert "Understood: (0, 0) (4, 2) (4, 3) (0, 3); 4 m x 3 m over all, 8.00 m²." in printed
    assert "\nFloor: (0, 0) (4.2, 0) (4.2, 3.3) (0, 3.3); 4.2 m x 3.3 m over all, 13.86 m²\nWritten: " in printed
    assert read_scene("room.toml").room.plan[1] == (4.2, 0)


def test_without_a_terminal_there_is_one_clear_error(fdtd: Command, capsys: Capture, monkeypatch: Patch) -> None:
    for stream in (None, open("/dev/null")):  # noqa: SIM115
        monkeypatch.setattr("sys.stdin", stream)
        assert fdtd("new") == 2
        told = capsys.readouterr().err
        assert told.startswith("Error: fdtd new asks questions") and len(told.splitlines()) == 1
    assert list(Path().iterdir()) == []


def test_options_ask_nothing(fdtd: Command, capsys: Capture) -> None:
    assert (
        fdtd(
            "new",
            "attic.toml",
            "--slope",
            "1.0 x 2.4",
            "--unit",
            "resonator",
            "--walls",
            "plaster on laths",
            "--loudspeakers",
            "two-and-subwoofer",
            "--seats",
            "2",
            "--title",
            'a "b" \\',
        )
        == 0
    )
    scene = read_scene("attic.toml")
    assert scene.title == 'a "b" \\' and scene.warnings == () and len(scene.room.ceiling) == 2
    assert len(scene.variants[0].sources) == 3 and scene.spots is not None
    assert fdtd("new", "l.toml", "--notch", "2 x 1.5") == 0
    assert len(read_scene("l.toml").room.plan) == 6


def test_every_wrong_option_is_said(fdtd: Command, capsys: Capture) -> None:
    assert fdtd("new", "--floor", "marble", "--unit", "sofa", "--notch", "2x1", "--shape", "rectangle") == 2
    told = capsys.readouterr().err.splitlines()
    assert [line.split(":")[1].strip() for line in told] == ["--notch", "--floor", "--unit"]
    assert told[0].endswith("does not go with --shape rectangle; leave it out.")
    assert list(Path().iterdir()) == []


def test_no_file_is_written_over_unless_forced(fdtd: Command, capsys: Capture) -> None:
    Path("room.toml").write_text("mine")
    assert fdtd("new", "--seats", "1") == 2
    assert "'room.toml' exists" in capsys.readouterr().err and Path("room.toml").read_text() == "mine"
    assert fdtd("new", "--seats", "1", "--force") == 0
    assert read_scene("room.toml").title == "My room"
    for name, said in (("room.txt", "ends in .toml"), ("folder.toml", "is a folder")):
        Path("folder.toml").mkdir(exist_ok=True)
        assert fdtd("new", name, "--seats", "1") == 2
        assert said in capsys.readouterr().err
