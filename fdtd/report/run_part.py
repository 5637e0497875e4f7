"""What is told of a run: responses, resonances and tails seat by seat, maps."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from fdtd.analysis.response import SeatFigures, level_db, seat_figures
from fdtd.listening.changes import Change, changes_at
from fdtd.listening.study import Listening
from fdtd.report.loading import Audible
from fdtd.report.markup import Markup, prose
from fdtd.report.sections import Figures, Progress, Section, of_kinds
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


DRAWN = ("patches", "blocks", "thin_partitions", "porous_volumes", "sources", "seats")
"""What of a variant a plan shows besides its absorbers."""


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
    levels = render("sections/responses.html", curves=curves, levels=_levels(run))
    sections.append(Section("responses", "Response at each seat", levels))
    audible = run.listening
    if audible is not None:
        decay = render(
            "sections/decay.html",
            text=[prose(line) for seat in range(len(audible.seats)) for line in seat_sentences(audible, seat)],
            variants=[variant.name for variant in audible.variants],
            changes=_changes(audible),
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
        seen.setdefault((absorbers, *(getattr(variant, name) for name in DRAWN)), drawing)
    return list(seen.values())


def _levels(run: Audible) -> list[tuple[str, str, SeatFigures]]:
    """How loud and how even the bass is at every seat in every variant."""
    result = run.result
    return [
        (seat, variant.name, seat_figures(level_db(at_seat, result.frequency, result.density), result.frequency))
        for k, seat in enumerate(result.seats)
        for variant in (run.listening.variants if run.listening is not None else ())
        if np.isfinite(at_seat := variant.transfer[k]).all()
    ]


def _changes(audible: Listening) -> list[tuple[str, str, Change, float, str]]:
    """The resonances that change most, or that matter most where there is nothing to compare: the seat, the variant
    that is compared, the change, and of a single variant the decay above which ringing is heard, and whether it is."""
    variants, told = audible.variants, []
    for seat, name in enumerate(audible.seats):
        for second in range(1, len(variants)):
            if not any(variants[k].too_short for k in (0, second)):
                some = changes_at(audible, seat, 0, second)[:RESONANCES]
                told += [(name, variants[second].name, change, math.nan, "") for change in some]
        if len(variants) == 1:
            for change in changes_at(audible, seat, 0, 0)[:RESONANCES]:
                k = audible.followed[change.number].numbers[0] or 0  # the variant has all of these
                told.append((name, variants[0].name, change, float(variants[0].limit[k]), rings(variants[0], k)))
    return told
