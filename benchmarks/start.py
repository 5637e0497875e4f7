"""Time from the start of `fdtd run` to its first words, to its first sound, with and without compiled kernels at hand.

    python benchmarks/start.py [SCENE] [--smoke] [--repeats N]

Each case is a process of its own that writes to a terminal (a pseudo-terminal) and is stopped once sound is under way.
First run: nothing compiled on disk. Later runs: what the first run left. Nothing passes or fails here.

--smoke: on 0.5 m cells, one later run.
"""

from __future__ import annotations

import argparse
import os
import pty
import re
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
SOUND = re.compile(r"\d s of sound")
PATIENCE = 600.0
"""s after which a run is given up."""


def text(scene: Path, cache: Path, out: Path, extra: list[str]) -> list[tuple[float, str]]:
    """(s since the start, message) of every change of message until sound is under way."""
    environment = {**os.environ, "NUMBA_CACHE_DIR": str(cache), "PYTHONPATH": str(ROOT)}
    command = [sys.executable, "-m", "fdtd", "run", str(scene), "--out", str(out), "--no-figures", *extra]
    outer, inner = pty.openpty()
    start, found = time.monotonic(), []
    process = subprocess.Popen(command, stdout=inner, stderr=inner, env=environment, cwd=ROOT)
    os.close(inner)
    last, text = "", ""
    try:
        while time.monotonic() - start < PATIENCE:
            try:
                text += os.read(outer, 4096).decode(errors="replace")
            except OSError:
                break
            pieces = re.split(r"[\r\n]+", text)
            text = pieces.pop() if not text.endswith("%") else text
            for piece in [*pieces, text]:
                message = re.sub(r"^\[[#.]*\] +\d+ % ", "", piece).strip()
                known = re.sub(r", \d+ s.*|\d+\.\d+", "", message)
                if known and known != last:
                    last = known
                    found.append((time.monotonic() - start, message))
            if found and SOUND.search(found[-1][1]):
                break
        if not (found and SOUND.search(found[-1][1])):
            raise RuntimeError(f"no sound was under way; the last words were: {text.strip() or 'none'}")
    finally:
        process.kill()
        process.wait()
        os.close(outer)
    return found


def row(name: str, found: list[tuple[float, str]]) -> None:
    """One line of the table, and what was said when."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    if not found:
        print(f"  {name}: nothing was said")
        return
    print(
        f"  {name}: first words after {found[0][0]:.1f} s, sound after {found[-1][0]:.1f} s "
        f"(all runs so far: {used.ru_utime + used.ru_stime:.1f} s of processor time)"
    )
    for at, message in found:
        print(f"    {at:6.1f} s  {message}")


def main() -> None:
    """Read the command line and print."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("scene", nargs="?", type=Path, default=ROOT / "scenes" / "l-shaped-living-room.toml")
    parser.add_argument("--smoke", action="store_true")
    parser.add_argument("--repeats", type=int, default=3, help="later runs")
    chosen = parser.parse_args()
    extra = ["--grid", "0.5"] if chosen.smoke else []
    print(f"{chosen.scene.name}, load {os.getloadavg()[0]:.1f}")
    with tempfile.TemporaryDirectory() as folder:
        cache, out = Path(folder) / "cache", Path(folder) / "out"
        cache.mkdir()
        row("first run", text(chosen.scene, cache, out, extra))
        for n in range(1 if chosen.smoke else chosen.repeats):
            row(f"later run {n + 1}", text(chosen.scene, cache, out, extra))


if __name__ == "__main__":
    main()
