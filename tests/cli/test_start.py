"""Help and version: there for every command, and quick because nothing heavy is loaded."""

from __future__ import annotations

import subprocess
import sys
import time

import pytest

import fdtd as package

HEAVY = ("numpy", "numba", "scipy", "h5py", "matplotlib", "shapely", "jinja2")
COMMANDS = ("check", "run", "show", "modes")


def program(*arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, "-m", "fdtd", *arguments], capture_output=True, text=True, timeout=60)


def test_help_names_every_command_and_is_quick() -> None:
    """Wanted: 0.7 s on an idle machine; the bound leaves room for a busy one. Best of three."""
    seconds = []
    for _ in range(3):
        start = time.perf_counter()
        done = program("--help")
        seconds.append(time.perf_counter() - start)
        assert done.returncode == 0, done.stderr
    assert all(f"  {name} " in done.stdout for name in COMMANDS)
    assert "..." not in done.stdout.partition("\n")[2], "a short help is cut off"
    assert min(seconds) < 1.5


@pytest.mark.parametrize("arguments", [["--help"], *([name, "--help"] for name in COMMANDS)])
def test_help_loads_nothing_heavy(arguments: list[str]) -> None:
    code = (
        "import sys\n"
        f"sys.argv = ['fdtd', *{arguments!r}]\n"
        "from fdtd.cli.app import main\n"
        "try:\n    main()\nexcept SystemExit:\n    pass\n"
        f"print('loaded:', *[name for name in {HEAVY!r} if name in sys.modules])\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60)
    assert done.stdout.splitlines()[0].startswith("Usage: fdtd")
    assert done.stdout.splitlines()[-1] == "loaded:"


def test_version() -> None:
    assert program("--version").stdout == f"fdtd {package.__version__}\n"


def test_the_installed_version_is_the_package_s() -> None:
    from importlib.metadata import PackageNotFoundError, version

    try:
        installed = version("roomfdtd")
    except PackageNotFoundError:
        pytest.skip("roomfdtd is not installed here, only on the path")
    assert installed == package.__version__


def test_no_command_shows_help_and_a_wrong_one_is_refused() -> None:
    untreated = program()
    assert "Commands:" in untreated.stdout + untreated.stderr
    wrong = program("simulate")
    assert wrong.returncode == 2
    assert "simulate" in wrong.stderr
