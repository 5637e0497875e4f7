"""The benchmark of the simulation works and prints its ratios; how fast it is, is not tested."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def test_speed_prints_its_ratios() -> None:
    command = [sys.executable, str(ROOT / "benchmarks" / "speed.py"), "--smoke"]
    done = subprocess.run(command, capture_output=True, text=True, cwd=ROOT, timeout=300)
    assert done.returncode == 0, done.stderr
    shares = [float(x) for x in re.findall(r"([0-9.]+) of the bound", done.stdout)]
    assert len(shares) == 8 and min(shares) > 0.0, done.stdout
    assert "Bare fourth-order kernel" in done.stdout and "4 maps" in done.stdout and "GB/s" in done.stdout
