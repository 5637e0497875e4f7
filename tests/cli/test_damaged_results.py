"""Damaged result files given to the commands: exit code 2 and one message, or an ordinary end; never a warning."""

from __future__ import annotations

import random
import warnings
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from results.damage import Harm, all_harms, damage

from fdtd.report.markup import Markup
from fdtd.results.result import RunResult
from fdtd.results.store import write_result
from fdtd.show.drawings import Drawing
from fdtd.show.style import figure_style

SCENE = """\
scene = 1
[air]
speed_of_sound = 343.0
density = 1.2
[room]
plan = [[0, 0], [2, 0], [2, 1], [0, 1]]
height = 1.0
[surfaces]
floor = "rigid"
ceiling = "rigid"
walls = "rigid"
[devices.plate]
kind = "plate"
mass = 4.0
depth = 0.2
[[absorbers]]
name = "unit"
device = "plate"
on = "floor"
from = [0.0, 0.0]
to = [0.2, 0.2]
[[sources]]
name = "sub"
at = [0.5, 0.5, 0.5]
[[seats]]
name = "sofa"
at = [1.0, 0.5, 0.5]
[[seats]]
name = "desk"
at = [1.5, 0.5, 0.5]
[[variants]]
name = "bare"
without = ["unit"]
[[variants]]
name = "fitted"
"""

COMMANDS = {
    "show": ("--out", "figures"),
    "report": ("--out", "page.html"),
    "animate": ("--steady", "40", "--seconds", "0.2", "--formats", "gif", "--out", "films"),
}


@pytest.fixture
def whole(run_result: RunResult, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A result file that is right, in a folder that is the current one; figures are made, but not written."""
    first = replace(run_result.variants[0], maps=np.ones_like(run_result.variants[0].maps), fallen=60.0)
    second = replace(first, name="fitted", transfer=0.5 * first.transfer, impulse=0.5 * first.impulse)
    write_result(replace(run_result, scene_text=SCENE, variants=(first, second)), tmp_path / "whole.h5")
    monkeypatch.chdir(tmp_path)

    def drawn(drawing: Drawing, prefix: str, narrow: Drawing | None = None) -> Markup:
        with figure_style("light"):
            drawing.draw()
        return Markup("<figure></figure>")

    monkeypatch.setattr("fdtd.show.files.save_figure", lambda *words, **more: [])
    monkeypatch.setattr("fdtd.report.sections.figure", drawn)
    return tmp_path / "whole.h5"


def ended(fdtd: Callable[..., int], name: str, capsys: Any) -> int:
    """Exit code of a command given result.h5; a refusal is one message that names the file."""
    capsys.readouterr()
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        code = fdtd(name, "result.h5", *COMMANDS[name])
    if code == 2:
        told = capsys.readouterr().err
        assert told.count("result.h5") == 1 and "Traceback" not in told, told
    return code


@pytest.mark.parametrize("name", COMMANDS)
@pytest.mark.parametrize(
    "harm",
    [
        Harm("transposed", "variants/bare/transfer"),
        Harm("all huge", "variants/bare/map"),
        Harm("text", "scene"),
        Harm("reversed", "seat"),
        Harm("deleted", "variants/fitted"),
    ],
    ids=str,
)
def test_a_damaged_result_ends_in_one_message(
    name: str, harm: Harm, whole: Path, fdtd: Callable[..., int], capsys: pytest.CaptureFixture[str]
) -> None:
    assert damage(whole, Path("result.h5"), harm)
    assert ended(fdtd, name, capsys) == 2
    assert not any(Path(given).exists() for given in ("figures", "page.html", "films"))


@pytest.mark.slow
def test_every_command_ends_well_on_damaged_results(
    whole: Path, fdtd: Callable[..., int], capsys: pytest.CaptureFixture[str]
) -> None:
    for harm in random.Random(4).sample(all_harms(whole), 40):
        if damage(whole, Path("result.h5"), harm):
            for name in COMMANDS:
                assert ended(fdtd, name, capsys) in (0, 2), harm
