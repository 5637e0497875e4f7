"""What is told of a run: responses, resonances and tails seat by seat, maps."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np

from fdtd.analysis.response import SeatFigures, level_db, seat_figures
from fdtd.listening.changes import Change, changes_at
from fdtd.listening.study import Listening
from fdtd.report.loading import Audible
from fdtd.report.markup import Markup, number, prose, quoted
from fdtd.report.sections import Figures, Progress, Section, of_kinds, table_of
from fdtd.report.templating import render
from fdtd.show.drawing import Drawing
from fdtd.show.drawings import run_drawings
from fdtd.show.style import COLUMN_WIDTH
from fdtd.wording.listening_tables import rings
from fdtd.wording.seats import seat_sentences

RESONANCES = 6
"""So many a seat and variant, those that change most."""

KINDS = ("response", "resonances", "decay", "tail", "map")
"""Of the drawings that are shown besides plans."""


def run_sections(run: Audible, prefix: str, progress: Progress, plans: bool = True) -> list[Section]:
    """Sections of a run; plans : whether the plan of each variant is among them"""
    drawings = run_drawings(run.result, run.scene, run.listening)
    narrow = {one.stem: one for one in run_drawings(run.result, run.scene, run.listening, width=COLUMN_WIDTH)}
    different = _plans(run, of_kinds(drawings, "plan")) if plans else []
    figures = Figures(prefix, len(different) + len(of_kinds(drawings, *KINDS)), progress)

    def art(*some: Drawing) -> list[Markup]:
        return figures(some, narrow)

    sections = []
    if plans:
        sections.append(Section("plan", "The room", render("sections/room.html", plans=art(*different))))
    curves = figures(of_kinds(drawings, "response"))
    levels = render("sections/responses.html", curves=curves, **_levels(run))
    sections.append(Section("responses", "Response at each seat", levels))
    if run.listening is not None:
        decay = render(
            "sections/decay.html",
            text=_sentences(run.listening),
            **_changes(run.listening),
            resonances=art(*of_kinds(drawings, "resonances")),
            tails=art(*of_kinds(drawings, "decay"), *of_kinds(drawings, "tail")),
        )
        sections.append(Section("decay", "Decay and tail", decay))
    if maps := of_kinds(drawings, "map"):
        # Maps take long to draw: those that are folded have no drawing of their own for a telephone.
        shown = art(maps[0]) + figures(maps[1:])
        sections.append(Section("maps", "Where each note is loud", render("sections/maps.html", maps=shown)))
    return sections


def _plans(run: Audible, drawings: list[Drawing]) -> list[Drawing]:
    """Of the plans of all variants those that look different."""
    seen: dict[object, Drawing] = {}
    for variant, drawing in zip(run.scene.variants, drawings, strict=True):
        absorbers = tuple(replace(a, gain=1.0) for a in variant.absorbers)
        things = (
            variant.patches,
            variant.blocks,
            variant.thin_partitions,
            variant.porous_volumes,
            variant.sources,
            variant.seats,
        )
        seen.setdefault((*things, absorbers), drawing)
    return list(seen.values())


def _sentences(audible: Listening) -> list[Markup]:
    return [prose(line) for seat in range(len(audible.seats)) for line in seat_sentences(audible, seat)]


def _levels(run: Audible) -> dict[str, Any]:
    """How loud and how even the bass is at every seat in every variant."""
    result = run.result
    found = [
        (seat, variant.name, seat_figures(level_db(at_seat, result.frequency, result.density), result.frequency))
        for k, seat in enumerate(result.seats)
        for variant in (run.listening.variants if run.listening is not None else ())
        if np.isfinite(at_seat := variant.transfer[k]).all()
    ]
    columns: list[tuple[object, Callable[[tuple[str, str, SeatFigures]], object]]] = [
        ("Seat", lambda one: quoted(one[0])),
        ("Variant", lambda one: quoted(one[1])),
        ("Mean level", lambda one: number(one[2].mean_level, 1, "dB", key="mean-level")),
        ("Deviation over frequency", lambda one: number(one[2].standard_deviation, 1, "dB", key="deviation")),
        ("Highest peak", lambda one: _level_at(one[2].peak, one[2].peak_frequency)),
        ("Deepest dip", lambda one: _level_at(one[2].dip, one[2].dip_frequency)),
    ]
    return table_of(columns, found)


def _level_at(level: float, frequency: float) -> Markup:
    return Markup("{} at {}").format(number(level, 1, "dB", signed=True), number(frequency, 0, "Hz"))


def _changes(audible: Listening) -> dict[str, Any]:
    """The table of the resonances that change most, or that matter most where there is nothing to compare."""
    variants, several = audible.variants, len(audible.variants) > 2
    if len(variants) == 1:
        return _only(audible)
    found = [
        (seat, second, change)
        for seat in range(len(audible.seats))
        for second in range(1, len(variants))
        if not any(variants[k].too_short for k in (0, second))
        for change in changes_at(audible, seat, 0, second)[:RESONANCES]
    ]
    before, after = (Markup("Decay {}").format(quoted(variant.name)) for variant in variants[:2])
    columns: list[tuple[object, Callable[[tuple[int, int, Change]], object]]] = [
        ("Seat", lambda one: quoted(audible.seats[one[0]])),
        ("Variant" if several else "", lambda one: quoted(variants[one[1]].name)),
        ("Resonance", lambda one: number(one[2].frequency, 1, "Hz", key="resonance")),
        (before, lambda one: _seconds(one[2], 0)),
        ("Decay after" if several else after, lambda one: _seconds(one[2], 1)),
        ("Level change", lambda one: number(one[2].level_step, 1, "dB", signed=True, key="level-step")),
        ("Audible", lambda one: "yes" if one[2].decay_audible or one[2].level_audible else "no"),
    ]
    table = table_of([column for column in columns if column[0]], found)
    return {"caption": "Resonances that change most (decay by 60 dB)", "text_columns": 2 if several else 1, **table}


def _seconds(change: Change, which: int) -> str:
    value = change.decay[which]
    return "–" if value is None else number(value, 2, "s", key=("decay-first", "decay-second")[which])


def _only(audible: Listening) -> dict[str, Any]:
    (variant,) = audible.variants
    # The changes are those of this variant, which has their resonances.
    found = [
        (name, change, audible.followed[change.number].numbers[0] or 0)
        for seat, name in enumerate(audible.seats)
        for change in changes_at(audible, seat, 0, 0)[:RESONANCES]
    ]
    columns: list[tuple[object, Callable[[tuple[str, Change, int]], object]]] = [
        ("Seat", lambda one: quoted(one[0])),
        ("Resonance", lambda one: number(one[1].frequency, 1, "Hz", key="resonance")),
        ("Decay by 60 dB", lambda one: _seconds(one[1], 0)),
        ("Ringing audible above", lambda one: number(float(variant.limit[one[2]]), 2, "s")),
        ("Rings", lambda one: rings(variant, one[2])),
    ]
    return {"caption": "Resonances that matter most", "text_columns": 1, **table_of(columns, found)}
