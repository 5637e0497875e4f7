"""Settings that commands and public functions share: bounds, defaults, and the checks of their values."""

from __future__ import annotations

from typing import TypeVar

from fdtd.errors import OptionError

Number = TypeVar("Number", int, float)

SMALLEST_GRID, LARGEST_GRID = 0.01, 1.0
SHORTEST_DURATION, LONGEST_DURATION = 0.05, 60.0
"""s of sound, as `duration` in a scene."""
LOWEST_FREQUENCY = 10.0
"""Hz; transfer functions are valid from here up."""
PERTURBED_ROOMS, FEWEST_PERTURBED_ROOMS, MOST_PERTURBED_ROOMS = 10, 2, 200
"""Perturbed rooms of a placement study."""
MOST_UNITS = 6
"""Most units at once of a placement study."""
MOST_MODES = 500
LOWEST_TOP, HIGHEST_TOP = 20.0, 200.0
"""Hz, up to which damped modes may be asked for."""


def checked_device(device: str) -> str:
    """`device`; raises OptionError unless it is cpu, gpu or auto."""
    return _one_of("--device", device, ("cpu", "gpu", "auto"), "cpu (processor), gpu (GPU) or auto")


def checked_grid(grid: float | None) -> float | None:
    """`grid` in m, or None if not given; raises OptionError outside 0.01 to 1 m."""
    expected = (
        f"the longest cell edge in metres, {SMALLEST_GRID:g} to {LARGEST_GRID:g}; "
        "0.1 is usual, 0.15 serves for a first look"
    )
    return grid if grid is None else _within("--grid", grid, SMALLEST_GRID, LARGEST_GRID, expected)


def checked_duration(duration: float | None) -> float | None:
    """`duration` in s, or None if not given; raises OptionError outside 0.05 to 60 s."""
    expected = (
        f"{SHORTEST_DURATION:g} to {LONGEST_DURATION:g} s; without it, the run ends when the sound has decayed by 60 dB"
    )
    if duration is None:
        return None
    return _within("--duration", duration, SHORTEST_DURATION, LONGEST_DURATION, expected)


def checked_smoothing(smoothing: float | None) -> float | None:
    """`smoothing` (N of 1/N octave), or None if not given; raises OptionError outside 1 to 96."""
    expected = "N from 1 to 96 for 1/N octave; 3 and 12 are usual, without it the curves are drawn as they are"
    return smoothing if smoothing is None else _within("--smoothing", smoothing, 1.0, 96.0, expected)


def checked_theme(theme: str) -> str:
    """'light' or 'dark'; raises OptionError for anything else."""
    return _one_of("--theme", theme, ("light", "dark"), "light or dark")


def checked_width(width: str | None) -> str | None:
    """'column', 'full', or None if not given; raises OptionError for anything else."""
    expected = "column (8.5 cm) or full (17.5 cm); without it, every kind of figure has the width that suits it"
    return width if width is None else _one_of("--width", width, ("column", "full"), expected)


def checked_precision(precision: str) -> str:
    """'single' or 'double'; raises OptionError for anything else."""
    return _one_of("--precision", precision, ("single", "double"), "single or double")


def checked_spacing(spacing: float) -> float:
    """Metres from one place on the floor to the next; raises OptionError outside 0.1 to 2 m."""
    return _within("--spacing", spacing, 0.1, 2.0, "metres between places, 0.1 to 2; 0.4 is usual")


def checked_from_wall(distance: float) -> float:
    """Least metres to walls and objects; raises OptionError outside 0.05 to 3 m."""
    return _within("--from-wall", distance, 0.05, 3.0, "metres, 0.05 to 3; 0.3 is usual")


def checked_tolerance(tolerance: float | None) -> float | None:
    """Metres by which a pair's distances to the main seat may differ, or None for any pair; raises OptionError outside
    0.01 to 1 m."""
    expected = "metres between the distances of a pair to the main seat, 0.01 to 1"
    return tolerance if tolerance is None else _within("--tolerance", tolerance, 0.01, 1.0, expected)


def checked_count(count: int | None) -> int | None:
    """Most units at once, or None if not given; raises OptionError outside 1 to 6."""
    expected = f"the most units at once, 1 to {MOST_UNITS}"
    return count if count is None else _within("--count", count, 1, MOST_UNITS, expected)


def checked_perturbed_rooms(perturbed_rooms: int) -> int:
    """Number of perturbed rooms; raises OptionError outside 2 to 200."""
    expected = (
        f"{FEWEST_PERTURBED_ROOMS} to {MOST_PERTURBED_ROOMS} perturbed rooms; {PERTURBED_ROOMS} are usual, "
        "--no-robust leaves them out"
    )
    return _within("--perturbed-rooms", perturbed_rooms, FEWEST_PERTURBED_ROOMS, MOST_PERTURBED_ROOMS, expected)


def checked_modes(count: int) -> int:
    """Number of modes; raises OptionError outside 1 to 500."""
    return _within("--count", count, 1, MOST_MODES, f"1 to {MOST_MODES} modes")


def checked_top(top: float, max_frequency: float) -> float:
    """Highest frequency of damped modes, Hz; raises OptionError outside 20 Hz to 200 Hz or `max_frequency`."""
    limit = min(HIGHEST_TOP, max_frequency)
    if not LOWEST_TOP <= top <= limit:
        raise OptionError(f"--top: found {top:g} Hz, expected {LOWEST_TOP:g} to {limit:g} Hz.")
    return top


def _within(option: str, value: Number, low: Number, high: Number, expected: str) -> Number:
    if not low <= value <= high:
        found = f"{value:g}" if isinstance(value, float) else str(value)
        raise OptionError(f"{option}: found {found}, expected {expected}.")
    return value


def _one_of(option: str, value: str, known: tuple[str, ...], expected: str) -> str:
    if value not in known:
        raise OptionError(f"{option}: found '{value}', expected {expected}.")
    return value
