"""Files with mistakes of every sort end in a clear refusal or in a scene, quickly and in little memory."""

from __future__ import annotations

import dataclasses
import json
import os
import re
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from fdtd.scene.read import read_scene_text
from fdtd.scene.tables import TABLES

from . import every_key

TESTS = Path(__file__).resolve().parents[1]
MOST_BYTES = 1.5e9


def outcomes(seed: int, count: int, *options: str) -> dict:
    """What came of mutated scenes, looked at in a process of their own."""
    paths = os.pathsep.join([str(TESTS), str(TESTS.parent)])
    environment = os.environ | {"PYTHONPATH": paths, "OPENBLAS_NUM_THREADS": "1"}
    command = [sys.executable, "-m", "scene.mutations", str(seed), str(count), *options]
    done = subprocess.run(command, env=environment, capture_output=True, text=True, cwd=TESTS, timeout=60 + 12 * count)
    assert done.returncode == 0, done.stderr[-3000:]
    told = json.loads(done.stdout.splitlines()[-1])
    assert not told["bad"], f"{told}\n{done.stderr[-3000:]}"
    assert told["bytes"] < MOST_BYTES
    assert told["refused"] + told["accepted"] == count
    return told


needs_timer = pytest.mark.skipif(not hasattr(signal, "SIGPROF"), reason="this system has no timer of that sort")


@needs_timer
def test_some_mutated_scenes() -> None:
    told = outcomes(seed=1, count=22)
    assert told["refused"] > 8 and told["accepted"] > 2


@needs_timer
@pytest.mark.slow
@pytest.mark.parametrize("seed", range(100, 104))
def test_two_thousand_mutated_scenes(seed: int) -> None:
    told = outcomes(seed, 500, "commands")
    assert told["accepted"] > 50 and told["drawn"] and told["modes"] and told["run"]


def test_the_scene_that_is_mutated_has_every_key() -> None:
    excluded = {"ceiling", "speed_of_sound", "density", "table", "device"}
    keys = {field.key for fields in TABLES.values() for field in fields}
    assert {key for key in keys - excluded if not re.search(rf"\b{key} = ", every_key.TEXT)} == set()
    assert dataclasses.is_dataclass(read_scene_text(every_key.TEXT))
