"""House style: sizes, fonts and colours of all figures, light and dark, and the axes that they share.

Colours are taken from `look()` inside `figure_style(theme)`. Unsigned quantities (levels) get a map that rises in
lightness from end to end, so that it also reads in grey. Signed quantities (changes, mode shapes) get one whose middle
is the paper, white or near black: no change is no ink. Its two sides are blue and red, which colour-blind readers tell
apart.
"""

from __future__ import annotations

import warnings
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

import matplotlib as mpl
import numpy as np
from cycler import cycler
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.colors import LinearSegmentedColormap
from matplotlib.figure import Figure
from matplotlib.ticker import FixedLocator, NullLocator
from numpy.typing import NDArray

# Drawings that look for them here find them here.
from fdtd.show.text import safe_text as safe_text
from fdtd.show.text import variant_names as variant_names


def centimetres(length: float) -> float:
    """`length` in cm as inches, in which figures are measured."""
    return length / 2.54


COLUMN_WIDTH = centimetres(8.5)
"""Width of a figure in one column of a page, inches."""
FULL_WIDTH = centimetres(17.5)
"""Width of a figure across the page, inches."""
WIDTHS = {"column": COLUMN_WIDTH, "full": FULL_WIDTH}
BESIDE = 5.0
"""Inches; in a figure as wide as this, pictures stand side by side, in a narrower one below each other."""

LINE_DASHES = ("-", "--", "-.", ":")
THEMES = ("light", "dark")


@dataclass(frozen=True)
class Look:
    """The colours of one theme, each a different hexadecimal number, and the names of two colour maps.

    ink : text, axes, walls, the first line; paper : behind everything; grid : grid lines; muted : secondary text
    faint : reference lines, weak marks; shade : a region meant to be noticed last; nothing : a map without data
    solid : things cut by a plan's plane; halo : lines drawn on level maps
    line_colours : of the lines of a figure, the first is `ink`; source, seat, absorber, patch : things in a plan
    level_colours, signed_colours : names of colour maps
    """

    theme: str
    ink: str
    paper: str
    grid: str
    muted: str
    faint: str
    shade: str
    nothing: str
    solid: str
    halo: str
    line_colours: tuple[str, ...]
    level_colours: str
    signed_colours: str

    @property
    def source(self) -> str:
        return self.line_colours[2]

    @property
    def seat(self) -> str:
        return self.line_colours[3]

    @property
    def absorber(self) -> str:
        return self.line_colours[1]

    @property
    def patch(self) -> str:
        return self.line_colours[5]

    @property
    def tokens(self) -> dict[str, str]:
        """Name -> colour, for style sheets that colour an SVG anew; lines are line-2, line-3 ... (line-1 is ink)."""
        plain = {f.name: getattr(self, f.name) for f in fields(self) if str(getattr(self, f.name)).startswith("#")}
        return plain | {f"line-{k}": colour for k, colour in enumerate(self.line_colours[1:], start=2)}


INK, PAPER, GRID, MUTED = "#1c1c20", "#ffffff", "#dddcd8", "#5e5d62"
ORANGE, SKY, GREEN, BLUE, VERMILION, PURPLE = "#e69f00", "#56b4e9", "#009e73", "#0072b2", "#d55e00", "#cc79a7"
"""Okabe and Ito, Color Universal Design (2008)."""

LIGHT = Look(
    "light",
    INK,
    PAPER,
    GRID,
    MUTED,
    faint="#9a999e",
    shade="#f6efdc",
    nothing="#d4d3cf",
    solid="#c7c6c3",
    halo="#fffffe",
    line_colours=(INK, VERMILION, BLUE, GREEN, ORANGE, PURPLE, SKY),
    level_colours="viridis",
    signed_colours="RdBu_r",
)
# The same hues, lighter, so that lines stand out from dark paper by 4.5 to 1 or more.
DARK = Look(
    "dark",
    "#e9e7e1",
    "#15171b",
    "#33363c",
    "#a3a4aa",
    faint="#74767d",
    shade="#2b2719",
    nothing="#3d4047",
    solid="#54575e",
    halo="#fdfdfb",
    line_colours=("#e9e7e1", "#ff8548", "#58aef2", "#2cc59a", "#f2b632", "#e39cc4", "#a3daf7"),
    level_colours="viridis",
    signed_colours="fdtd-signed-dark",
)
LOOKS = {"light": LIGHT, "dark": DARK}
# The middle of this map is the dark paper itself; both arms are equally light at equal distance from it.
mpl.colormaps.register(
    LinearSegmentedColormap.from_list(
        DARK.signed_colours, ["#c4e2ff", "#56a8e8", "#1f5f99", DARK.paper, "#93401f", "#ef7a45", "#ffd9bf"]
    ),
    force=True,
)

THIRD_OCTAVES = (8, 10, 12.5, 16, 20, 25, 31.5, 40, 50, 63, 80, 100, 125, 160, 200, 250, 315, 400, 500, 630, 800, 1000)
"""Hz, ticks of an axis of frequencies."""
SECONDS = (0.05, 0.1, 0.2, 0.3, 0.5, 0.7, 1.0, 1.5, 2.0, 3.0, 5.0, 7.0, 10.0, 15.0, 20.0)
FEW_SECONDS = (0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 4.0)
"""Ticks of an axis of times; the few are for low drawings."""
SMALL, TINY = 6.5, 6.0
"""Points: labels within a drawing."""

_SETTINGS = mpl.rc_params_from_file(str(Path(__file__).with_name("house.mplstyle")), use_default_template=False)
_ACTIVE: ContextVar[Look] = ContextVar("look", default=LIGHT)


def look() -> Look:
    """The colours of the theme that figures are drawn in now."""
    return _ACTIVE.get()


def _coloured(active: Look) -> dict[str, Any]:
    inked = ("text.color", "xtick.color", "ytick.color", "hatch.color")
    edges = ("axes.edgecolor", "axes.labelcolor", "patch.edgecolor")
    return {
        **dict.fromkeys((*inked, *edges), active.ink),
        "figure.facecolor": active.paper,
        "axes.facecolor": active.paper,
        "grid.color": active.grid,
        "axes.prop_cycle": cycler(color=list(active.line_colours)),
        "image.cmap": active.level_colours,
    }


@contextmanager
def figure_style(theme: str | None = None) -> Iterator[None]:
    """The settings under which figures are made and saved; the ones outside are left as they were.

    theme : "light" or "dark"; None keeps the one around it (light if there is none), so that a drawing function
        follows whoever calls it.

    Raises
    ------
    KeyError
        For another theme.
    """
    active = look() if theme is None else LOOKS[theme]
    before = _ACTIVE.set(active)
    try:
        settings: Any = {**_SETTINGS, **_coloured(active)}
        with mpl.rc_context(settings), warnings.catch_warnings():
            # A name in a script that the font lacks is drawn as boxes in the PNG; that is no reason to complain.
            warnings.filterwarnings("ignore", message="Glyph .* missing from")
            yield
    finally:
        _ACTIVE.reset(before)


def new_figure(width: float, height: float) -> Figure:
    """An empty figure, inches, drawn without a screen and laid out by constraints. Use inside `figure_style()`."""
    figure = Figure(figsize=(width, height), layout="constrained")
    FigureCanvasAgg(figure)
    return figure


def line_style(number: int) -> dict[str, Any]:
    """Colour and dash of line `number`; 28 different ones."""
    colours = look().line_colours
    return {
        "color": colours[number % len(colours)],
        "linestyle": LINE_DASHES[(number + 2 * (number // len(colours))) % len(LINE_DASHES)],
    }


def plain_ticks(axis: Any, values: Iterable[float], low: float, high: float) -> None:
    """Marks at those of `values` that lie within low..high, as plain numbers, and none between them."""
    axis.set_major_locator(FixedLocator([v for v in values if low * 0.999 <= v <= high * 1.001]))
    axis.set_minor_locator(NullLocator())
    axis.set_major_formatter(lambda value, _: f"{value:g}")


def frequency_axis(axes: Any, low: float, high: float, ticks: Iterable[float] = THIRD_OCTAVES) -> None:
    """A logarithmic frequency axis from `low` to `high` Hz with grid lines at `ticks`."""
    axes.set_xscale("log")
    axes.set_xlim(low, high)
    plain_ticks(axes.xaxis, ticks, low, high)
    axes.grid(True)


def seconds_axis(axes: Any, low: float, high: float, ticks: Iterable[float] = SECONDS) -> None:
    """A logarithmic axis of times from `low` to `high` s, upwards."""
    axes.set_yscale("log")
    axes.set_ylim(low, high)
    plain_ticks(axes.yaxis, ticks, low, high)


def decay_axis(axes: Any, times: list[NDArray[np.float64]], label: str) -> None:
    """A logarithmic axis of decay times that holds all of `times` (s; NaN: not known) and 0.3 to 1 s."""
    every = np.concatenate([np.asarray(one)[np.isfinite(one)] for one in times])
    low, high = (float(every.min()), float(every.max())) if every.size else (0.2, 1.0)
    seconds_axis(axes, min(low, 0.3) / 1.25, max(high, 1.0) * 1.25)
    axes.set_ylabel(label)


def frequency_text(frequency: float) -> str:
    """A frequency for titles: 23.4 Hz."""
    return f"{frequency:.1f} Hz"


def signed_limit(values: Iterable[NDArray[np.float64]], least: float = 3.0, largest: float = 24.0) -> float:
    """Half-width of a scale of changes, dB: covers 98 % of the finite values, a multiple of 3 within the bounds."""
    finite = [np.abs(one[np.isfinite(one)]) for one in values]
    sizes = np.concatenate(finite) if finite else np.empty(0)
    wanted = float(np.quantile(sizes, 0.98)) if sizes.size else least
    return float(np.clip(3.0 * np.ceil(wanted / 3.0), least, largest))
