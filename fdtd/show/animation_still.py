"""What stands still in an animation: heading, rooms with what is in them, colour scale, traces, footer."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.colors import Normalize
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch
from matplotlib.path import Path
from matplotlib.ticker import MaxNLocator

from fdtd import __version__
from fdtd.listening.animation_make import Animation
from fdtd.scene.schema import Scene, Variant
from fdtd.show.animation_layout import EDGE, MOST_SEATS, Box, Layout, column_width
from fdtd.show.geometry import View
from fdtd.show.labels import Label, no_boxes, place_labels
from fdtd.show.style import line_style, look, safe_text, variant_names
from fdtd.show.things import all_lines, draw_room, room_path, tag_things
from fdtd.wording.animations import played_text, scale_text, speed_text, trace_text
from fdtd.wording.names import shown

NAMED = ("source", "seat", "absorber")
"""Kinds of things whose names stand in the plan."""
CROWDED = 1.3
"""Inches of a plan below which short tags (■1, ●1, ▬1) stand there instead of names."""
Tags = dict[tuple[str, str], str]
SAMPLE, SAMPLE_GAP = 0.17, 0.05
"""Inches: line before the name of a variant, and what is between them."""
LETTER = 5.0
"""Points that a letter of such a name takes."""


def draw_still(
    figure: Figure,
    animation: Animation,
    scene: Scene,
    variants: tuple[Variant, ...],
    views: tuple[View, ...],
    layout: Layout,
) -> tuple[list[Any], list[Any]]:
    """Draw on `figure` (without a background) and return the axes of the traces and their lines."""
    figure.patch.set_alpha(0.0)
    letters = (column_width(layout.inches[0], len(variants)) - SAMPLE - SAMPLE_GAP) * 72.0 / LETTER
    tags = tag_things(list(variants)) if layout.panels[0][0][2] < CROWDED else {}
    names = variant_names(animation.names, min(26, max(6, int(letters))))
    _text(figure, animation, scene, layout)
    for k, variant in enumerate(variants):
        for view, box, limits in zip(views, layout.panels[k], layout.limits, strict=True):
            axes = _axes(figure, box, layout)
            _room(axes, scene, variant, view, limits, tags, first=k == 0)
            if view is views[0]:
                _name(axes, names[k], k, box, alone=len(variants) == 1)
    _bar(figure, animation, layout)
    return _traces(figure, animation, tags, layout)


def _axes(figure: Figure, box: Box, layout: Layout) -> Any:
    wide, tall = layout.inches
    left, bottom, width, height = box
    axes = figure.add_axes((left / wide, bottom / tall, width / wide, height / tall))
    axes.patch.set_alpha(0.0)
    return axes


def _text(figure: Figure, animation: Animation, scene: Scene, layout: Layout) -> None:
    """Heading and footer; the clock is added to every picture."""
    wide, tall = layout.inches
    left, across, down = EDGE / wide, 1.0 - EDGE / wide, lambda inches: 1.0 - inches / tall
    figure.text(left, down(0.07), safe_text(scene.title or "room", 44), weight="bold", size=8.0, va="top")
    figure.text(
        left,
        down(0.235),
        safe_text(shown(played_text(animation.played), str), 60),
        size=7.0,
        va="top",
        color=look().muted,
    )
    pixels = f"{layout.pixels[0]} × {layout.pixels[1]} pixels, {animation.timing.rate:g} pictures a second"
    figure.text(across, down(0.25), pixels, size=5.5, va="top", ha="right", color=look().muted)
    figure.text(left, 0.075 / tall, speed_text(animation.timing), size=6.0, color=look().muted)
    figure.text(across, 0.075 / tall, f"fdtd {__version__}", size=6.0, color=look().muted, ha="right")


def _name(axes: Any, name: str, number: int, box: Box, alone: bool) -> None:
    """Name of a variant above its rooms, after a sample of its line in the traces."""
    _, _, wide, high = box
    start = 0.0 if alone else (SAMPLE + SAMPLE_GAP) / wide
    if not alone:
        up = 1.0 + 0.075 / high
        axes.plot(
            [0.0, SAMPLE / wide],
            [up, up],
            transform=axes.transAxes,
            clip_on=False,
            linewidth=1.6,
            **line_style(number),
        )
    axes.set_title(name, size=7.5, weight="bold", pad=2.0, loc="left", x=start)


def _room(
    axes: Any, scene: Scene, variant: Variant, view: View, limits: tuple[float, ...], tags: Tags, first: bool
) -> None:
    left, right, bottom, upper = limits
    axes.set_xlim(left, right)
    axes.set_ylim(bottom, upper)
    frame = Path([(left, bottom), (right, bottom), (right, upper), (left, upper), (left, bottom)], closed=True)
    outside = Path.make_compound_path(frame, _turned(room_path(scene, view)))
    axes.add_patch(PathPatch(outside, facecolor=look().paper, edgecolor="none", linewidth=0.0, zorder=2))
    marks = draw_room(axes, scene, variant, view)
    for side in axes.spines.values():
        side.set_visible(False)
    axes.tick_params(length=2.0, pad=1.5, labelsize=6.0, color=look().faint, labelcolor=look().muted)
    for axis in (axes.xaxis, axes.yaxis):
        axis.set_major_locator(MaxNLocator(nbins=5, integer=True, min_n_ticks=2))
    # The planes are those of all variants: the first ones tell where they lie.
    plan, section = f"plan, {view.position:.2f} m up", f"section, {'xyz'[view.normal]} = {view.position:.2f} m"
    here = f" ({plan if view.normal == 2 else section})" if first else ""
    axes.set_xlabel(f"{'xyz'[view.axes[0]]} in m{here}", size=6.0, labelpad=0.5, color=look().muted)
    if first:
        axes.set_ylabel(f"{'xyz'[view.axes[1]]} in m", size=6.0, labelpad=1.0, color=look().muted)
    else:
        axes.set_yticks([])
    axes.figure.draw_without_rendering()
    named = [m for m in marks if m.kind in NAMED] if view.normal == 2 else []
    labels = [Label(tags.get((m.kind, m.name)) or safe_text(m.name, 18), m.at, look().ink) for m in named]
    if labels:
        place_labels(axes, labels, no_boxes(), all_lines(axes, scene, view, marks), size=6.0)


def _turned(path: Path) -> Path:
    """The same outline as a hole: walked the other way round than the frame, whichever way it was walked."""
    holes = []
    for piece in map(np.asarray, path.to_polygons(closed_only=True)):
        x, y = piece[:, 0], piece[:, 1]
        area = float(np.sum(x[:-1] * y[1:] - x[1:] * y[:-1]))
        holes.append(Path(piece[::-1] if area > 0.0 else piece, closed=True))
    return Path.make_compound_path(*holes)


def _bar(figure: Figure, animation: Animation, layout: Layout) -> None:
    axes = _axes(figure, layout.bar, layout)
    shades = np.linspace(animation.low, animation.high, 256)[None, :]
    colours = look().signed_colours if animation.signed else look().level_colours
    axes.imshow(
        shades,
        aspect="auto",
        cmap=colours,
        norm=Normalize(animation.low, animation.high),
        extent=(animation.low, animation.high, 0.0, 1.0),
    )
    axes.set_yticks([])
    axes.tick_params(length=1.5, pad=1.5, labelsize=6.0)
    axes.xaxis.set_major_locator(MaxNLocator(nbins=6, steps=[1, 2, 2.5, 5, 10]))
    for side in axes.spines.values():
        side.set_visible(False)
    axes.set_xlabel("; ".join(scale_text(animation)), size=6.0, labelpad=1.0, color=look().muted)


def _traces(figure: Figure, animation: Animation, tags: Tags, layout: Layout) -> tuple[list[Any], list[Any]]:
    drawn, lines = [], []
    unit = 1e3 if animation.timing.length < 1.0 else 1.0
    for k, box in enumerate(layout.traces):
        axes = _axes(figure, box, layout)
        for n in range(len(animation.names)):
            lines += axes.plot(animation.trace_time, animation.traces[n, k], linewidth=1.1, **line_style(n))
        axes.set_xlim(0.0, animation.trace_time[-1])
        axes.set_ylim(animation.trace_low, animation.trace_high)
        axes.grid(True)
        axes.tick_params(length=2.0, pad=1.5, labelsize=6.0)
        axes.yaxis.set_major_locator(MaxNLocator(nbins=4, steps=[1, 2, 5, 10]))
        axes.xaxis.set_major_locator(MaxNLocator(nbins=6, steps=[1, 2, 5, 10]))
        if unit != 1.0:
            axes.xaxis.set_major_formatter(lambda value, _: f"{1e3 * value:g}")
        seat = f"{tags.get(('seat', animation.seats[k]), '')} {safe_text(animation.seats[k], 26)}".strip()
        axes.set_title(seat, size=6.5, pad=2.0, loc="left")
        if k >= len(layout.traces) - 2:
            axes.set_xlabel("time in ms" if unit != 1.0 else "time in s", size=6.0, labelpad=0.5)
        if k % 2:
            axes.set_yticklabels([])
        else:
            axes.set_ylabel(trace_text(animation), size=6.0, labelpad=1.0)
        drawn.append(axes)
    if len(animation.seats) > MOST_SEATS:
        note = f"{len(animation.seats) - MOST_SEATS} more seats are not shown"
        drawn[1].set_title(note, size=6.0, pad=2.0, loc="right", color=look().muted)
    return drawn, lines
