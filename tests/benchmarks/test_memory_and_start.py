"""The benchmarks of memory and of the first words work; what they find is not tested."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]


def printed(name: str) -> str:
    command = [sys.executable, str(ROOT / "benchmarks" / name), "--smoke"]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    done = subprocess.run(command, capture_output=True, text=True, cwd=ROOT, timeout=400, env=environment)
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_memory_prints_a_line_for_each_size() -> None:
    lines = re.findall(r"^ +([\d,]+) +([\d.]+) - 12 =", printed("memory.py"), re.MULTILINE)
    assert len(lines) == 2 and all(float(simulation) > 8.0 for _, simulation in lines)


@pytest.mark.slow
@pytest.mark.skipif(sys.platform == "win32", reason="needs a pseudo-terminal")
def test_start_prints_the_first_words_of_both_runs() -> None:
    text = printed("start.py")
    assert len(re.findall(r"first words after [\d.]+ s, sound after [\d.]+ s", text)) == 2, text
    assert "loading the program" in text and "of sound" in text
