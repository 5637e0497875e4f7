"""The script of docs/script.md: it runs as it stands there, and gives the numbers of the commands to the last bit."""

from __future__ import annotations

import importlib
import inspect
import re
from collections.abc import Callable
from pathlib import Path

import h5py
import numpy as np
import pytest
from placement_scene import SCENE

from fdtd import api
from fdtd.errors import FdtdError
from fdtd.results.store import read_result
from fdtd.scene.read import read_scene_text
from fdtd.scene.schema import Scene

PAGE = Path(__file__).resolve().parents[1] / "docs" / "script.md"


def script() -> str:
    """The page's script, of the small room."""
    (code,) = re.findall(r"```python\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.DOTALL)
    assert code.count("scenes/l-shaped-living-room.toml") == 1
    assert len([line for line in code.splitlines() if line.strip() and not line.startswith("#")]) <= 35
    return code.replace("scenes/l-shaped-living-room.toml", "small.toml")


def arrays(path: Path) -> dict[str, np.ndarray]:
    """Every array of numbers in an HDF5 file."""
    found: dict[str, np.ndarray] = {}

    def keep(name: str, item: object) -> None:
        if isinstance(item, h5py.Dataset) and item.dtype.kind in "fiuc":
            found[name] = item[()]

    with h5py.File(path) as file:
        file.visititems(keep)
    return found


@pytest.mark.slow
def test_the_script_gives_what_the_commands_give(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from fdtd.cli.app import app

    (tmp_path / "small.toml").write_text(SCENE, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    exec(compile(script(), str(PAGE), "exec"), {"__name__": "script"})
    assert "Hz takes" in capsys.readouterr().out
    for words in (["run", "small.toml"], ["place", "small.toml"], ["sources", "small.toml"]):
        app([*words, "--out", "by-command"], standalone_mode=False)
    for name in ("result.h5", "placement.h5", "winner/result.h5"):
        ours, theirs = arrays(tmp_path / "living-room" / name), arrays(tmp_path / "by-command" / name)
        assert ours.keys() == theirs.keys() and len(ours) > 10
        for key, values in ours.items():
            np.testing.assert_array_equal(values, theirs[key], err_msg=f"{name}: {key}")
    for name in ("responses.csv", "placement.csv", "sources.csv", "resonances.csv"):
        assert (tmp_path / "living-room" / name).read_bytes() == (tmp_path / "by-command" / name).read_bytes()
    assert (tmp_path / "living-room" / "report.html").stat().st_size > 100_000


def test_run_gives_the_arrays_of_the_command(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    from fdtd.cli.app import app

    (tmp_path / "small.toml").write_text(SCENE, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    ours = api.run(api.read_scene("small.toml"))
    app(["run", "small.toml", "--no-figures", "--out", "out"], standalone_mode=False)
    theirs = read_result(tmp_path / "out" / "result.h5")
    assert np.array_equal(ours.frequency, theirs.frequency)
    for a, b in zip(ours.variants, theirs.variants, strict=True):
        assert np.array_equal(a.transfer, b.transfer, equal_nan=True)
        assert np.array_equal(a.impulse, b.impulse, equal_nan=True)


@pytest.mark.parametrize("name", ["run", "place", "sources", "modes", "animate", "partitions"])
def test_functions_have_the_defaults_of_the_commands(name: str) -> None:
    """Every setting that a function and its command share has the same default."""
    command = inspect.signature(getattr(importlib.import_module(f"fdtd.cli.{name}"), name)).parameters
    functions = [getattr(api, name), getattr(api, f"save_{name}", None), api.AnimationRequest, api.PartitionRequest]
    ours = {
        key: value.default
        for function in (functions[:3] if name == "animate" else [*functions[:2], *functions[3:]])
        if function is not None
        for key, value in inspect.signature(function).parameters.items()
    }
    shared = {key for key in ours.keys() & command.keys() if ours[key] is not inspect.Parameter.empty}
    assert {"grid", "theme", "width"} & shared
    for key in shared:
        assert command[key].default == ours[key], key


@pytest.mark.parametrize(
    ("call", "told"),
    [
        (lambda scene: api.run(scene, grid=-1.0), "--grid: found -1"),
        (lambda scene: api.run(scene, precision="half"), "--precision: found 'half'"),
        (lambda scene: api.run(scene, device="tpu"), "--device: found 'tpu'"),
        (lambda scene: api.place(scene, count=0), "--count: found 0"),
        (lambda scene: api.place(scene, perturbed_rooms=1), "--perturbed-rooms: found 1"),
        (lambda scene: api.check(scene, 7.0), "--grid: found 7"),
        (lambda scene: api.sources(scene, spacing=0.0), "--spacing: found 0"),
        (lambda scene: api.seats(scene, "loud"), "--variant: found 'loud'"),
        (lambda scene: api.modes(scene, "loud"), "--variant: found 'loud'"),
        (lambda scene: api.modes(scene, count=0), "--count: found 0"),
        (lambda scene: api.damped_modes(scene, top=5.0), "--top: found 5"),
        (lambda scene: api.animate("nowhere.toml", "out"), "nowhere.toml"),
    ],
)
def test_bad_settings_are_refused_in_words(call: Callable[[Scene], object], told: str) -> None:
    with pytest.raises(FdtdError) as refused:
        call(read_scene_text(SCENE))
    assert told in str(refused.value)
