"""The benchmarks that compare with other programs work; what they find is not tested."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def printed(name: str) -> str:
    command = [sys.executable, str(ROOT / "benchmarks" / name), "--smoke"]
    done = subprocess.run(command, capture_output=True, text=True, cwd=ROOT, timeout=300)
    assert done.returncode == 0, done.stderr
    return done.stdout


def test_sweep_prints_errors_and_times_of_both() -> None:
    row = r"(?:this program|sweep), .*? +([\d,]+) +([\d.]+) +([\d.]+) +([\d.]+)$"
    rows = re.findall(row, printed("sweep.py"), re.MULTILINE)
    assert len(rows) == 2
    assert all(0.0 < float(median) < float(most) and float(seconds) > 0.0 for _, median, most, seconds in rows)


def test_stencil_compiler_prints_our_speed_and_theirs_if_it_is_there() -> None:
    text = printed("stencil_compiler.py")
    assert re.search(r"ours +\d+ million updates a second", text)
    assert "ratio" in text or "not installed" in text
