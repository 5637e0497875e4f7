"""Bars beside a mode's portrait: how strongly each source, seat, absorber and candidate place couples to it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from fdtd.analysis.mode_shapes import Portrait, Portraits, best_first
from fdtd.show.style import SMALL, TINY, look, safe_text

MOST = {"source": 4, "seat": 6, "absorber": 4, "spot": 5}
"""Bars of each kind; the table has all."""
MOST_PAIRS = 6
NEAR_LINE = 0.4
"""m to a nodal line that is told beside a weak bar."""
HEADINGS = {
    "source": "Source drives it", "seat": "Seat hears it", "absorber": "Absorber stands in it",
    "spot": "Best places for a unit",
}  # fmt: skip


@dataclass(frozen=True)
class Row:
    """A bar, or a heading if `share` is None. value : what is written at its end."""

    text: str
    kind: str
    share: float | None = None
    value: str = ""


def rows_of(one: Portrait, portraits: Portraits, tags: dict[tuple[str, str], str]) -> list[Row]:
    """Bars from the top: sources, seats, absorbers, the best candidate places, and sources heard at seats."""
    share = one.share if len(one.family) == 1 else one.together
    found: list[Row] = []
    for kind, most in MOST.items():
        every = portraits.rows(kind)
        rows = best_first(share, every)[:most] if kind == "spot" else every[:most]
        if not rows:
            continue
        cut = f" ({len(rows)} of {len(every)})" if len(rows) < len(every) else ""
        found.append(Row(HEADINGS[kind] + cut, kind))
        for k in rows:
            place = portraits.places[k]
            tag = tags.get((kind, place.name))
            name = f"{tag} {safe_text(place.name, 18)}" if tag else safe_text(place.name, 18)
            found.append(Row(name, kind, float(share[k]), _value(one, share, k)))
    return found + _pairs(one, portraits, tags)


def _value(one: Portrait, share: Any, k: int) -> str:
    if not np.isfinite(share[k]):
        return "no air there"
    near = share[k] < 0.5 and one.distance[k] <= NEAR_LINE and len(one.family) == 1
    return f"{100.0 * share[k]:.0f} %" + (_node(one.distance[k]) if near else "")


def _node(distance: float) -> str:
    return ", on a node" if distance < 0.05 else f", node {distance:.1f} m"


def _pairs(one: Portrait, portraits: Portraits, tags: dict[tuple[str, str], str]) -> list[Row]:
    """Source times seat: how strongly the one makes the mode heard at the other."""
    sources, seats = portraits.rows("source"), portraits.rows("seat")
    pairs = [(i, j) for i in range(len(sources)) for j in range(len(seats))]
    if not pairs:
        return []
    known = bool(np.isfinite(one.level).any())
    found = [Row("Source × seat" + (", and a tone’s level there" if known else ""), "pair")]
    for i, j in pairs[:MOST_PAIRS]:
        ends = [portraits.places[sources[i]], portraits.places[seats[j]]]
        name = " → ".join(tags.get((p.kind, p.name)) or safe_text(p.name, 9) for p in ends)
        value = f"{100.0 * one.product[i, j]:.0f} %"
        if np.isfinite(one.level[i, j]):
            value += f", {one.level[i, j]:+.0f} dB".replace("-", "−")
        found.append(Row(name, "pair", float(one.product[i, j]), value))
    return found


def draw_bars(axes: Any, rows: list[Row]) -> None:
    """Horizontal bars from the top down, 0 to 100 % of the peak, each with its value."""
    active = look()
    colours = {
        "source": active.source, "seat": active.seat, "absorber": active.absorber, "spot": active.line_colours[4],
        "pair": active.muted,
    }  # fmt: skip
    for y, row in enumerate(rows):
        if row.share is None:
            axes.text(0.0, y + 0.12, row.text, fontsize=SMALL, fontweight="bold", va="center", ha="left")
            continue
        share = row.share if np.isfinite(row.share) else 0.0
        axes.barh(y, 100.0, height=0.6, color=active.grid, linewidth=0.0, alpha=0.5)
        axes.barh(y, 100.0 * share, height=0.6, color=colours[row.kind], linewidth=0.0)
        axes.text(103.0, y, row.value, fontsize=SMALL, va="center", ha="left")
    bars = [y for y, row in enumerate(rows) if row.share is not None]
    axes.set_yticks(bars, [rows[y].text for y in bars], fontsize=SMALL)
    axes.tick_params(axis="y", length=0)
    axes.set_xticks([0.0, 50.0, 100.0])
    axes.set_xlim(0.0, 172.0)
    axes.set_ylim(len(rows) - 0.4, -0.6)
    axes.set_xlabel("% of the mode’s largest pressure in the room", loc="left", labelpad=1, fontsize=TINY)
    for side in axes.spines.values():
        side.set_visible(False)
