"""What is told of a run: responses, resonances and tails seat by seat, maps."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np

from fdtd.analysis.response import level_db, seat_figures
from fdtd.listening.changes import Change, changes_at
from fdtd.listening.study import Listening, VariantListening
from fdtd.report.loading import Audible
from fdtd.report.markup import Markup, number, prose, quoted
from fdtd.report.sections import Figures, Progress, Section, of_kinds
from fdtd.report.templating import render
from fdtd.show.drawings import Drawing, run_drawings
from fdtd.show.style import COLUMN_WIDTH
from fdtd.wording.seats import seat_sentences
from fdtd.wording.thresholds import NONE_PUBLISHED

RESONANCES = 6
"""So many a seat and variant, those that change most."""
LEVELS = ("Seat", "Variant", "Mean level", "Deviation over frequency", "Highest peak", "Deepest dip")

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
    levels = render("sections/responses.html", curves=curves, header=LEVELS, rows=_levels(run))
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


def _levels(run: Audible) -> list[tuple[str, ...]]:
    """How loud and how even the bass is at every seat in every variant."""
    result = run.result
    rows: list[tuple[str, ...]] = []
    for k, seat in enumerate(result.seats):
        for variant in run.listening.variants if run.listening is not None else ():
            if not np.isfinite(variant.transfer[k]).all():
                continue
            found = seat_figures(level_db(variant.transfer[k], result.frequency, result.density), result.frequency)
            rows.append(
                (
                    quoted(seat),
                    quoted(variant.name),
                    number(found.mean_level, 1, "dB", key="mean-level"),
                    number(found.standard_deviation, 1, "dB", key="deviation"),
                    _level_at(found.peak, found.peak_frequency),
                    _level_at(found.dip, found.dip_frequency),
                )
            )
    return rows


def _level_at(level: float, frequency: float) -> Markup:
    return Markup("{} at {}").format(number(level, 1, "dB", signed=True), number(frequency, 0, "Hz"))


def _changes(audible: Listening) -> dict[str, Any]:
    """The table of the resonances that change most, or that matter most where there is nothing to compare."""
    if len(audible.variants) == 1:
        return _only(audible)
    rows = []
    for seat, name in enumerate(audible.seats):
        for second in range(1, len(audible.variants)):
            short = any(audible.variants[k].too_short for k in (0, second))
            for change in [] if short else changes_at(audible, seat, 0, second)[:RESONANCES]:
                rows.append(
                    (
                        quoted(name),
                        *([quoted(audible.variants[second].name)] if len(audible.variants) > 2 else []),
                        number(change.frequency, 1, "Hz", key="resonance"),
                        _seconds(change, 0),
                        _seconds(change, 1),
                        number(change.level_step, 1, "dB", signed=True, key="level-step"),
                        "yes" if change.decay_audible or change.level_audible else "no",
                    )
                )
    several = len(audible.variants) > 2
    before, after = (Markup("Decay {}").format(quoted(variant.name)) for variant in audible.variants[:2])
    header = (
        "Seat",
        *(["Variant"] if several else []),
        "Resonance",
        before,
        "Decay after" if several else after,
        "Level change",
        "Heard",
    )
    caption = "Resonances that change most (decay by 60 dB)"
    return {"caption": caption, "header": header, "rows": rows, "text_columns": 2 if several else 1}


def _seconds(change: Change, which: int) -> str:
    value = change.decay[which]
    return "–" if value is None else number(value, 2, "s", key=("decay-first", "decay-second")[which])


def _rings(variant: VariantListening, place: int) -> str:
    if np.isnan(variant.limit[place]):
        return NONE_PUBLISHED
    return "yes" if variant.audible[place] else "no"


def _only(audible: Listening) -> dict[str, Any]:
    variant, rows = audible.variants[0], []
    for seat, name in enumerate(audible.seats):
        for change in changes_at(audible, seat, 0, 0)[:RESONANCES]:
            place = audible.followed[change.number].numbers[0]
            assert place is not None  # the changes are those of this variant
            rows.append(
                (
                    quoted(name),
                    number(change.frequency, 1, "Hz", key="resonance"),
                    _seconds(change, 0),
                    number(float(variant.limit[place]), 2, "s"),
                    _rings(variant, place),
                )
            )
    header = ("Seat", "Resonance", "Decay by 60 dB", "Heard to ring above", "Rings")
    return {"caption": "Resonances that matter most", "header": header, "rows": rows, "text_columns": 1}
