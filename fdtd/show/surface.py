"""Absorption and admittance of surfaces, and the equivalent absorption area of units, over frequency."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from fdtd.physics.radiation import largest_absorption_area
from fdtd.show.layout import heading, heading_height, legend_below, legend_height
from fdtd.show.style import (
    BESIDE,
    COLUMN_WIDTH,
    FULL_WIDTH,
    figure_style,
    frequency_axis,
    line_style,
    look,
    new_figure,
    safe_text,
)
from fdtd.surface.lines import FINE, Line, Subject
from fdtd.surface.units import Unit

LOW, HIGH = 20.0, 200.0
"""Hz of the drawings."""
ORIGIN_STYLE: dict[str, Any] = {"linestyle": (0, (2.0, 1.2)), "linewidth": 2.8, "alpha": 0.35}
"""What a line comes from: pale and wide, so that it shows under a line that agrees with it."""
OTHER_STYLE: dict[str, Any] = {"linestyle": "-.", "linewidth": 0.8}
RING: dict[str, Any] = {
    "linestyle": "",
    "marker": "o",
    "markerfacecolor": "none",
    "markersize": 5,
    "markeredgewidth": 1.3,
    "clip_on": False,
}
RANDOM, NORMAL, REAL, IMAGINARY, PRINTED = 0, 2, 1, 3, 4
"""Numbers of the line colours of what is drawn."""
_SHOWN = (FINE >= LOW) & (FINE <= HIGH)
_AXIS = FINE[_SHOWN]


def _colour(number: int) -> str:
    return look().line_colours[number]


def draw_surface(subject: Subject, width: float = COLUMN_WIDTH) -> Figure:
    """Absorption at random and normal incidence, and rho c Y, of one material or device, 20 to 200 Hz.

    Solid: what the simulation uses; dashed: what it comes from; dash-dotted: other lines; rings: printed values.
    width : inches
    """
    with figure_style():
        keys = _keys(subject)
        labels = [str(key.get_label()) for key in keys]
        figure = new_figure(width, 4.2 + legend_height(labels, width) + heading_height())
        upper, lower = figure.subplots(2, 1, sharex=True, height_ratios=[5, 4])
        for line, style in _styled(subject):
            upper.plot(_AXIS, line.random(_AXIS), color=_colour(RANDOM), **style)
            upper.plot(_AXIS, line.normal(_AXIS), color=_colour(NORMAL), **style)
            if line not in subject.others:
                beta = line.ratio(_AXIS)
                lower.plot(_AXIS, beta.real, color=_colour(REAL), **style)
                lower.plot(_AXIS, beta.imag, color=_colour(IMAGINARY), **style)
        _printed(upper, subject)
        for axes in (upper, lower):
            frequency_axis(axes, LOW, HIGH)
        _absorption_limits(upper)
        lower.axhline(0.0, color=look().faint, linewidth=0.8)
        heading(figure, safe_text(subject.name, 40 if width < BESIDE else 80))
        upper.set_ylabel("absorption")
        lower.set_ylabel(r"admittance $\rho c\,Y$")
        lower.set_xlabel("frequency in Hz")
        figure.align_ylabels()
        legend_below(figure, keys, labels, width)
        return figure


def _styled(subject: Subject) -> list[tuple[Line, dict[str, Any]]]:
    """Lines with their dashes; what lies on top comes last."""
    styled: list[tuple[Line, dict[str, Any]]] = [(line, OTHER_STYLE) for line in subject.others]
    if subject.origin is not None:
        styled.append((subject.origin, ORIGIN_STYLE))
    return [*styled, (subject.used, {"linestyle": "-"})]


def _printed(axes: Any, subject: Subject) -> None:
    bands = [b for b in subject.bands if LOW <= b.frequency <= HIGH]
    if bands:
        x, y = [b.frequency for b in bands], [b.wanted for b in bands]
        axes.plot(x, y, color=_colour(PRINTED), **RING)


def _keys(subject: Subject) -> list[Line2D]:
    keys = [
        Line2D([], [], color=_colour(RANDOM), label="random incidence"),
        Line2D([], [], color=_colour(NORMAL), label="normal incidence"),
        Line2D([], [], color=_colour(REAL), label="real part"),
        Line2D([], [], color=_colour(IMAGINARY), label="imaginary part"),
        Line2D([], [], color=look().muted, label="simulated"),
    ]
    if subject.origin is not None:
        keys.append(Line2D([], [], color=look().muted, label=subject.origin.label, **ORIGIN_STYLE))
    keys += [Line2D([], [], color=look().muted, label=line.label, **OTHER_STYLE) for line in subject.others]
    if any(LOW <= b.frequency <= HIGH for b in subject.bands):
        keys.append(Line2D([], [], label="printed (random)", color=_colour(PRINTED), **RING))
    return keys


def draw_surfaces(subjects: Sequence[Subject], width: float = FULL_WIDTH) -> Figure:
    """One small picture each: random-incidence absorption of materials, normal-incidence absorption of devices."""
    with figure_style():
        columns = 3 if width >= BESIDE else 2
        columns = min(columns, max(2, len(subjects)))
        rows = int(np.ceil(len(subjects) / columns))
        keys = _overview_keys(subjects)
        labels = [str(key.get_label()) for key in keys]
        figure = new_figure(width, 1.5 * rows + legend_height(labels, width) + heading_height() + 0.2)
        grid = figure.subplots(rows, columns, sharex=True, squeeze=False)
        for number, axes in enumerate(grid.flat):
            if number < len(subjects):
                _small(axes, subjects[number])
                axes.tick_params(labelbottom=number + columns >= len(subjects))
                if number + columns >= len(subjects):
                    axes.set_xlabel("frequency in Hz")
                if number % columns == 0:
                    axes.set_ylabel("absorption")
            else:
                axes.set_axis_off()
        heading(figure, "Absorption of each surface")
        legend_below(figure, keys, labels, width)
        return figure


def _small(axes: Any, subject: Subject) -> None:
    device = subject.kind == "device"
    for line, style in _styled(subject):
        values = line.normal(_AXIS) if device else line.random(_AXIS)
        axes.plot(_AXIS, values, color=_colour(NORMAL if device else RANDOM), **style)
    if not device:
        _printed(axes, subject)
    frequency_axis(axes, LOW, HIGH, (20, 40, 80, 160))
    low, _ = axes.get_ylim()
    axes.set_ylim(0.0 if low >= -0.06 else -0.5, 1.02)
    axes.axhline(0.0, color=look().faint, linewidth=0.8)
    axes.set_title(safe_text(subject.name, 32))


def _overview_keys(subjects: Sequence[Subject]) -> list[Line2D]:
    keys = []
    if any(s.kind != "device" for s in subjects):
        keys.append(Line2D([], [], color=_colour(RANDOM), label="material, random incidence"))
    if any(s.kind == "device" for s in subjects):
        keys.append(Line2D([], [], color=_colour(NORMAL), label="device, normal incidence"))
    if any(s.origin is not None for s in subjects):
        keys.append(Line2D([], [], color=look().muted, label="theory or table", **ORIGIN_STYLE))
    if any(s.others for s in subjects):
        keys.append(Line2D([], [], color=look().muted, **OTHER_STYLE, label="other origin, or switched off"))
    if any(LOW <= b.frequency <= HIGH for s in subjects for b in s.bands):
        keys.append(Line2D([], [], label="printed (random)", color=_colour(PRINTED), **RING))
    return keys


def draw_units(units: Sequence[Unit], width: float = COLUMN_WIDTH) -> Figure:
    """Equivalent absorption area of units on a wall and in a corner, 20 to 200 Hz, under the most that is possible."""
    with figure_style():
        active = any(u.active and u.gain > 0.0 for u in units)
        labels = [safe_text(unit.name, 44) for unit in units] + ["most possible, lambda²/pi"]
        labels += ["thin: the same, switched off"] * active
        figure = new_figure(width, 4.2 + legend_height(labels, width) + heading_height())
        grid = figure.subplots(2, 1, sharex=True)
        for axes, corner in zip(grid, (False, True), strict=True):
            text: set[tuple[object, ...]] = set()
            for number, unit in enumerate(units):
                style = line_style(number)
                axes.plot(_AXIS, unit.area(_AXIS, corner), label=safe_text(unit.name, 44), **style)
                if unit.active and unit.gain > 0.0 and unit.box not in text:
                    text.add(unit.box)
                    faint = {**style, "linewidth": 0.8, "alpha": 0.8}
                    axes.plot(_AXIS, unit.area(_AXIS, corner, off=True), **faint)
            frequency_axis(axes, LOW, HIGH)
            low, high = axes.get_ylim()
            axes.set_ylim(low, max(high, 0.1))
            bound = largest_absorption_area(_AXIS, units[0].medium)
            axes.plot(_AXIS, bound, color=look().muted, linestyle=":", label=r"most possible, $\lambda^2/\pi$")
            axes.axhline(0.0, color=look().faint, linewidth=0.8)
            axes.set_ylabel("in a corner, in m²" if corner else "on a wall, in m²")
        heading(figure, "Equivalent absorption area")
        grid[1].set_xlabel("frequency in Hz")
        figure.align_ylabels()
        handles, labels = grid[0].get_legend_handles_labels()
        if active:
            handles.append(Line2D([], [], color=look().muted, linewidth=0.7))
            labels.append("thin: the same, switched off")
        legend_below(figure, handles, labels, width)
        return figure


def _absorption_limits(axes: Any) -> None:
    """From 0 to 1 or as far as an active device goes, down to -0.5."""
    low, high = axes.get_ylim()
    axes.set_ylim(min(0.0, max(low, -0.5)), max(min(1.25 * high, 1.02), 0.05) if low >= -0.06 else 1.02)
