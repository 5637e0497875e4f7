"""One look for all figures: sizes, fonts, colours that colour-blind readers can tell apart, and safe text."""

from __future__ import annotations

import warnings
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.ticker import FixedLocator, FuncFormatter, NullLocator
from numpy.typing import NDArray

COLUMN_WIDTH = 3.5
"""Width of a figure in one column of a page, inches."""
FULL_WIDTH = 7.2
"""Width of a figure across the page, inches."""

BLACK, ORANGE, SKY, GREEN, YELLOW, BLUE, VERMILION, PURPLE = (
    "#000000", "#E69F00", "#56B4E9", "#009E73", "#F0E442", "#0072B2", "#D55E00", "#CC79A7",
)  # fmt: skip
"""Okabe and Ito, Color Universal Design (2008)."""
LINE_COLOURS = (BLACK, VERMILION, BLUE, GREEN, ORANGE, PURPLE, SKY)
LINE_DASHES = ("-", "--", "-.", ":")
SOURCE_COLOUR, SEAT_COLOUR, ABSORBER_COLOUR, PATCH_COLOUR = BLUE, GREEN, VERMILION, PURPLE

LEVEL_COLOURS = "viridis"
SIGNED_COLOURS = "RdBu_r"

SECONDS = (0.05, 0.1, 0.2, 0.3, 0.5, 0.7, 1.0, 1.5, 2.0, 3.0, 5.0, 7.0, 10.0, 15.0, 20.0)
FEW_SECONDS = (0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 4.0)
"""Ticks of an axis of times; the few are for low drawings."""

_SETTINGS: Any = {
    "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans"],
    "font.size": 7.5,
    "axes.titlesize": 7.5,
    "axes.labelsize": 7.5,
    "xtick.labelsize": 7.0,
    "ytick.labelsize": 7.0,
    "legend.fontsize": 7.0,
    "figure.titlesize": 8.5,
    "axes.linewidth": 0.6,
    "lines.linewidth": 1.1,
    "grid.color": "#d8d8d8",
    "grid.linewidth": 0.5,
    "legend.frameon": False,
    "legend.handlelength": 2.2,
    "axes.axisbelow": True,
    "axes.unicode_minus": True,
    "hatch.linewidth": 0.4,
    "svg.fonttype": "none",
    "svg.hashsalt": "fdtd",
    "figure.dpi": 200,
    "savefig.dpi": 200,
    "savefig.bbox": None,
}


@contextmanager
def figure_style() -> Iterator[None]:
    """The settings under which figures are made and saved; the ones outside are left as they were."""
    with mpl.rc_context(_SETTINGS), warnings.catch_warnings():
        # A name in a script that the font lacks is drawn as boxes in the PNG; that is no reason to complain.
        warnings.filterwarnings("ignore", message="Glyph .* missing from")
        yield


def new_figure(width: float, height: float) -> Figure:
    """An empty figure, inches, drawn without a screen and laid out by constraints. Use inside `figure_style()`."""
    figure = Figure(figsize=(width, height), layout="constrained")
    FigureCanvasAgg(figure)
    return figure


def safe_text(text: object, limit: int = 28) -> str:
    """User text as one printable line of at most `limit` characters that is drawn as it stands.

    Dollar signs don't start a formula, and a leading underscore doesn't hide a legend entry.
    """
    line = " ".join("".join(c if c.isprintable() else " " for c in str(text)).split())
    if len(line) > limit:
        line = line[: limit - 1].rstrip() + "…"
    if not line:
        line = "(no name)"
    if line.startswith("_"):
        line = " " + line
    return line.replace("$", r"\$")


def line_style(number: int) -> dict[str, Any]:
    """Colour and dash of line `number`; 28 different ones."""
    return {
        "color": LINE_COLOURS[number % len(LINE_COLOURS)],
        "linestyle": LINE_DASHES[(number + 2 * (number // len(LINE_COLOURS))) % len(LINE_DASHES)],
    }


def frequency_axis(axes: Any, low: float, high: float) -> None:
    """A logarithmic frequency axis from `low` to `high` Hz with third-octave ticks where there is room."""
    ticks = [8, 10, 12.5, 16, 20, 31.5, 40, 50, 63, 80, 100, 125, 160, 200, 315, 400, 500, 630, 800, 1000]
    axes.set_xscale("log")
    axes.set_xlim(low, high)
    axes.xaxis.set_major_locator(FixedLocator([t for t in ticks if low * 0.999 <= t <= high * 1.001]))
    axes.xaxis.set_minor_locator(NullLocator())
    axes.xaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    axes.grid(True)


def seconds_axis(axes: Any, low: float, high: float, ticks: tuple[float, ...] = SECONDS) -> None:
    """A logarithmic axis of times from `low` to `high` s, upwards."""
    axes.set_yscale("log")
    axes.set_ylim(low, high)
    axes.yaxis.set_major_locator(FixedLocator([s for s in ticks if low <= s <= high]))
    axes.yaxis.set_minor_locator(NullLocator())
    axes.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))


def frequency_text(frequency: float) -> str:
    """A frequency for titles: 23.4 Hz."""
    return f"{frequency:.1f} Hz"


def signed_limit(values: Iterable[NDArray[np.float64]], least: float = 3.0, largest: float = 24.0) -> float:
    """Half-width of a scale of changes, dB: covers 98 % of the finite values, a multiple of 3 within the bounds."""
    finite = [np.abs(one[np.isfinite(one)]) for one in values]
    sizes = np.concatenate(finite) if finite else np.empty(0)
    wanted = float(np.quantile(sizes, 0.98)) if sizes.size else least
    return float(np.clip(3.0 * np.ceil(wanted / 3.0), least, largest))


def variant_names(names: Iterable[str], limit: int = 28) -> list[str]:
    """Names for a legend: safe, and told apart by a number where cutting them short made them equal."""
    short = [safe_text(name, limit) for name in names]
    return [f"{one} ({k + 1})" if short.count(one) > 1 else one for k, one in enumerate(short)]
