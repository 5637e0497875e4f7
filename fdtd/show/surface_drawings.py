"""Drawings of surfaces and units by themselves, with captions."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial

import numpy as np

from fdtd import __version__
from fdtd.show.drawing import Drawing
from fdtd.show.style import COLUMN_WIDTH, FULL_WIDTH, WIDTHS
from fdtd.show.surface import draw_surface, draw_surfaces, draw_units
from fdtd.show.text import plain_text
from fdtd.surface.lines import Subject
from fdtd.surface.units import BANDS, Unit

THIRDS = np.array([31.5, 63.0, 125.0])
"""Hz at which alternative texts tell the absorption."""
MOST = 8
"""Things that an alternative text tells one by one."""
MADE = f"fdtd {__version__}."


def surface_drawings(
    subjects: Sequence[Subject], units: Sequence[Unit], *, single: bool, tail: str = "", width: str | None = None
) -> list[Drawing]:
    """One drawing for all `subjects` or, if `single`, one for each, and one of `units` if there are any.

    tail : end of the file names; width : "column", "full" or None, which suits each kind
    """
    column, full = WIDTHS.get(width or "", COLUMN_WIDTH), WIDTHS.get(width or "", FULL_WIDTH)
    drawings = []
    if single:
        for number, subject in enumerate(subjects, start=1):
            count = f"-{number}" if len(subjects) > 1 else ""
            drawings.append(_one(subject, f"surface{tail}{count}", column))
    elif subjects:
        drawings.append(_all(subjects, full))
    if units:
        drawings.append(_units(units, f"units{tail}", column))
    return drawings


def _one(subject: Subject, stem: str, width: float) -> Drawing:
    name = plain_text(subject.name, 60)
    compared = f" Wide and pale: what that comes from ({subject.origin.label})." if subject.origin is not None else ""
    compared += " Dash-dotted: another origin, or switched off." if subject.others else ""
    compared += " Rings: printed values." if subject.bands else ""
    return Drawing(
        stem,
        "surface",
        f"Absorption and admittance of “{name}”",
        partial(draw_surface, subject, width),
        f"Absorption of “{name}” at random and normal incidence (above) and its admittance times the impedance of air "
        f"(below). Solid: as it is simulated.{compared} {MADE}",
        f"Curves of absorption and admittance from 20 to 200 Hz. Absorbed at random incidence: {_absorbed(subject)}.",
    )


def _absorbed(subject: Subject, normal: bool = False) -> str:
    used = subject.used
    values = used.normal(THIRDS) if normal else used.random(THIRDS)
    return ", ".join(f"{value:.2f} at {f:g} Hz" for value, f in zip(values, THIRDS, strict=True))


def _all(subjects: Sequence[Subject], width: float) -> Drawing:
    text = [f"“{plain_text(s.name, 40)}” {_absorbed(s, s.kind == 'device')}" for s in subjects[:MOST]]
    more = f"; and {len(subjects) - MOST} more" if len(subjects) > MOST else ""
    return Drawing(
        "surfaces",
        "surface",
        "Absorption of each surface",
        partial(draw_surfaces, subjects, width),
        "Absorption of each material at random incidence and of each device at normal incidence, as simulated, with "
        f"what it comes from. {MADE}",
        f"{len(subjects)} small diagrams of absorption from 20 to 200 Hz. {'; '.join(text)}{more}.",
    )


def _units(units: Sequence[Unit], stem: str, width: float) -> Drawing:
    bands = np.array(BANDS)
    text = []
    for unit in units[:MOST]:
        area = unit.band_area()
        k = int(np.argmax(area))
        text.append(f"“{plain_text(unit.name, 40)}” up to {area[k]:.2f} m² at {bands[k]:g} Hz")
    return Drawing(
        stem,
        "surface",
        "Equivalent absorption area",
        partial(draw_units, units, width),
        "Equivalent absorption area of one unit on a wall (above) and in a corner of three surfaces (below); "
        f"dotted: the most that a small passive face can absorb, wavelength squared over π. {MADE}",
        f"Curves from 20 to 200 Hz; on a wall, in third octaves: {'; '.join(text)}.",
    )
