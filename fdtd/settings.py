"""Settings that commands and public functions share: bounds, defaults, and the checks of their values."""

from __future__ import annotations

from fdtd.errors import OptionError

SMALLEST_GRID, LARGEST_GRID = 0.01, 1.0
SHORTEST_DURATION, LONGEST_DURATION = 0.05, 60.0
"""s of sound, as `duration` in a scene."""
LOWEST_FREQUENCY = 10.0
"""Hz; transfer functions are valid from here up."""
DRAWS, FEWEST_DRAWS, MOST_DRAWS = 10, 2, 200
"""Perturbed rooms of a placement study."""
MOST_UNITS = 6
"""Most units at once of a placement study."""


def checked_device(device: str) -> str:
    """`device`; raises OptionError unless it is cpu, gpu or auto."""
    if device in ("cpu", "gpu", "auto"):
        return device
    raise OptionError(f"--device: found '{device}', expected cpu (processor), gpu (graphics card) or auto.")


def checked_grid(grid: float | None) -> float | None:
    """`grid` in m, or None if not given; raises OptionError outside 0.01 to 1 m."""
    if grid is None or SMALLEST_GRID <= grid <= LARGEST_GRID:
        return grid
    raise OptionError(
        f"--grid: found {grid:g}, expected the longest cell edge in metres, {SMALLEST_GRID:g} to {LARGEST_GRID:g}; "
        "0.1 is usual, 0.15 serves for a first look."
    )


def checked_duration(duration: float | None) -> float | None:
    """`duration` in s, or None if not given; raises OptionError outside 0.05 to 60 s."""
    if duration is None or SHORTEST_DURATION <= duration <= LONGEST_DURATION:
        return duration
    raise OptionError(
        f"--duration: found {duration:g}, expected {SHORTEST_DURATION:g} to {LONGEST_DURATION:g} s; "
        "without it, the run ends when the sound has decayed by 60 dB."
    )


def checked_smoothing(smoothing: float | None) -> float | None:
    """`smoothing` (N of 1/N octave), or None if not given; raises OptionError outside 1 to 96."""
    if smoothing is None or 1.0 <= smoothing <= 96.0:
        return smoothing
    raise OptionError(
        f"--smoothing: found {smoothing:g}, expected N from 1 to 96 for 1/N octave; "
        "3 and 12 are usual, without it the curves are drawn as they are."
    )


def checked_theme(theme: str) -> str:
    """'light' or 'dark'; raises OptionError for anything else."""
    if theme in ("light", "dark"):
        return theme
    raise OptionError(f"--theme: found '{theme}', expected light or dark.")


def checked_width(width: str | None) -> str | None:
    """'column', 'full', or None if not given; raises OptionError for anything else."""
    if width in (None, "column", "full"):
        return width
    raise OptionError(
        f"--width: found '{width}', expected column (8.5 cm) or full (17.5 cm); "
        "without it, every kind of figure has the width that suits it."
    )


def checked_precision(precision: str) -> str:
    """'single' or 'double'; raises OptionError for anything else."""
    if precision in ("single", "double"):
        return precision
    raise OptionError(f"--precision: found '{precision}', expected single or double.")


def checked_spacing(spacing: float) -> float:
    """Metres from one place on the floor to the next; raises OptionError outside 0.1 to 2 m."""
    if 0.1 <= spacing <= 2.0:
        return spacing
    raise OptionError(f"--spacing: found {spacing:g}, expected metres between places, 0.1 to 2; 0.4 is usual.")


def checked_from_wall(distance: float) -> float:
    """Least metres to walls and objects; raises OptionError outside 0.05 to 3 m."""
    if 0.05 <= distance <= 3.0:
        return distance
    raise OptionError(f"--from-wall: found {distance:g}, expected metres, 0.05 to 3; 0.3 is usual.")


def checked_count(count: int | None) -> int | None:
    """Most units at once, or None if not given; raises OptionError outside 1 to 6."""
    if count is None or 1 <= count <= MOST_UNITS:
        return count
    raise OptionError(f"--count: found {count}, expected the most units at once, 1 to {MOST_UNITS}.")


def checked_draws(draws: int) -> int:
    """Number of perturbed rooms; raises OptionError outside 2 to 200."""
    if FEWEST_DRAWS <= draws <= MOST_DRAWS:
        return draws
    raise OptionError(
        f"--draws: found {draws}, expected {FEWEST_DRAWS} to {MOST_DRAWS} perturbed rooms; {DRAWS} are usual, "
        "--no-robust leaves them out."
    )
