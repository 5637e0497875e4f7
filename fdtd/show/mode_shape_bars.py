"""Bars beside a mode's mode shape: how strongly each source, seat, absorber and candidate place couples to it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from fdtd.analysis.mode_shapes import ModeShape, ModeShapes, best_first
from fdtd.show.labels import note, text_box
from fdtd.show.page import Box, Page
from fdtd.show.style import SMALL, TINY, look, safe_text

MOST = {"source": 4, "seat": 6, "absorber": 4, "spot": 5}
"""Bars of each kind; the table has all."""
MOST_PAIRS = 6
NEAR_LINE = 0.4
"""m to a nodal line that is told beside a weak bar."""
HEADINGS = {
    "source": "Source drives it",
    "seat": "Seat hears it",
    "absorber": "Absorber stands in it",
    "spot": "Best places for a unit",
}


@dataclass(frozen=True)
class Row:
    """A bar, or a heading if `share` is None. value : what is written at its end."""

    text: str
    kind: str
    share: float | None = None
    value: str = ""


def rows_of(one: ModeShape, mode_shapes: ModeShapes, tags: dict[tuple[str, str], str]) -> list[Row]:
    """Bars from the top: sources, seats, absorbers, the best candidate places, and sources heard at seats."""
    share = one.share if len(one.family) == 1 else one.together
    found: list[Row] = []
    for kind, most in MOST.items():
        every = mode_shapes.rows(kind)
        rows = best_first(share, every)[:most] if kind == "spot" else every[:most]
        if not rows:
            continue
        cut = f" ({len(rows)} of {len(every)})" if len(rows) < len(every) else ""
        found.append(Row(HEADINGS[kind] + cut, kind))
        for k in rows:
            place = mode_shapes.places[k]
            tag = tags.get((kind, place.name))
            name = f"{tag} {safe_text(place.name, 18)}" if tag else safe_text(place.name, 18)
            found.append(Row(name, kind, float(share[k]), _value(one, share, k)))
    return found + _pairs(one, mode_shapes, tags)


def _value(one: ModeShape, share: Any, k: int) -> str:
    if not np.isfinite(share[k]):
        return "no air there"
    near = share[k] < 0.5 and one.distance[k] <= NEAR_LINE and len(one.family) == 1
    return f"{100.0 * share[k]:.0f} %" + (_node(one.distance[k]) if near else "")


def _node(distance: float) -> str:
    return ", on a node" if distance < 0.05 else f", node {distance:.1f} m"


def _pairs(one: ModeShape, mode_shapes: ModeShapes, tags: dict[tuple[str, str], str]) -> list[Row]:
    """Source times seat: how strongly the one makes the mode heard at the other."""
    sources, seats = mode_shapes.rows("source"), mode_shapes.rows("seat")
    pairs = [(i, j) for i in range(len(sources)) for j in range(len(seats))]
    if not pairs:
        return []
    known = bool(np.isfinite(one.level).any())
    found = [Row("Source × seat" + (", and a tone’s level there" if known else ""), "pair")]
    for i, j in pairs[:MOST_PAIRS]:
        ends = [mode_shapes.places[sources[i]], mode_shapes.places[seats[j]]]
        name = " → ".join(tags.get((p.kind, p.name)) or safe_text(p.name, 9) for p in ends)
        value = f"{100.0 * one.product[i, j]:.0f} %"
        if np.isfinite(one.level[i, j]):
            value += f", {one.level[i, j]:+.0f} dB".replace("-", "−")
        found.append(Row(name, "pair", float(one.product[i, j]), value))
    return found


def bars_height(rows: list[Row]) -> float:
    """Inches that `draw_bars` needs."""
    return 0.155 * len(rows) + 0.42


def draw_bars(page: Page, box: Box, rows: list[Row]) -> None:
    """Bars from the top down in `box` (inches), 0 to 100 % of the peak, each between its name and its value."""
    active = look()
    colours = {"source": active.source, "seat": active.seat, "absorber": active.absorber}
    colours |= {"spot": active.line_colours[4], "pair": active.muted}
    left, low, wide, high = box
    names, values = (
        _widest(page, [getattr(row, part) for row in rows if row.share is not None]) for part in ("text", "value")
    )
    start = left + 0.14 + names
    axes = page.add_axes((start, low + 0.34, max(wide - names - values - 0.28, 0.3), high - 0.38))
    for y, row in enumerate(rows):
        if row.share is None:
            at_left = (72.0 * (left + 0.06 - start), 0.0)
            note(axes, row.text, (0.0, y + 0.12), at_left, ha="left", fontweight="bold")
            continue
        share = row.share if np.isfinite(row.share) else 0.0
        axes.barh(y, 100.0, height=0.6, color=active.grid, linewidth=0.0, alpha=0.5)
        axes.barh(y, 100.0 * share, height=0.6, color=colours[row.kind], linewidth=0.0)
        note(axes, row.value, (100.0, y), (3.0, 0.0), ha="left")
    bars = [y for y, row in enumerate(rows) if row.share is not None]
    axes.set_yticks(bars, [rows[y].text for y in bars], fontsize=SMALL)
    axes.tick_params(axis="y", length=0)
    axes.set_xticks([0.0, 50.0, 100.0])
    axes.set_xlim(0.0, 100.0)
    axes.set_ylim(len(rows) - 0.4, -0.6)
    axes.set_xlabel("% of the mode’s largest pressure", loc="left", labelpad=1, fontsize=TINY)
    for side in axes.spines.values():
        side.set_visible(False)


def _widest(page: Page, texts: list[str]) -> float:
    """Inches of the widest of `texts`."""
    probes = [page.figure.text(0.0, 0.0, text, fontsize=SMALL) for text in texts]
    widths = [float(np.ptp(text_box(probe)[0, [0, 2]])) for probe in probes]
    for probe in probes:
        probe.remove()
    return max(widths, default=0.0) / page.figure.dpi
