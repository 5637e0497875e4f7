"""What is told of a run: responses, resonances and tails seat by seat, maps."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from fdtd.analysis.response import level_db, seat_figures
from fdtd.listening.changes import Change, changes_at
from fdtd.listening.sentences import seat_sentences
from fdtd.listening.study import Listening, VariantListening
from fdtd.listening.threshold_words import NONE_PUBLISHED
from fdtd.report.loading import Heard
from fdtd.report.markup import Markup, folded, listed, number, prose, quoted, table
from fdtd.report.sections import Section, figures, of_kinds
from fdtd.show.drawings import Drawing, run_drawings
from fdtd.show.style import COLUMN_WIDTH

RESONANCES = 6
"""So many a seat and variant, those that change most."""


def run_sections(run: Heard, prefix: str, plans: bool = True) -> list[Section]:
    """Sections of a run; plans : whether the plan of each variant is among them"""
    drawings = run_drawings(run.result, run.scene, run.listening)
    narrow = {one.stem: one for one in run_drawings(run.result, run.scene, run.listening, width=COLUMN_WIDTH)}
    sections = []
    if plans:
        sections.append(Section("plan", "The room", figures(_plans(run, of_kinds(drawings, "plan")), prefix, narrow)))
    responses = figures(of_kinds(drawings, "response"), prefix)
    levels = folded("How loud and how even, in numbers", _levels(run))
    sections.append(Section("responses", "Response at each seat", Markup(responses + levels)))
    if run.listening is not None:
        body = _sentences(run.listening) + _changes(run.listening)
        body += figures(of_kinds(drawings, "resonances"), prefix, narrow)
        ordered = [one for kind in ("decay", "tail") for one in of_kinds(drawings, kind)]
        body += folded("Decay over frequency, and what is left of a tone", figures(ordered, prefix, narrow))
        sections.append(Section("decay", "Decay and tail", Markup(body)))
    maps = of_kinds(drawings, "map")
    if maps:
        more = folded(f"{len(maps) - 1} more map{'s' * (len(maps) > 2)}", figures(maps[1:], prefix, narrow))
        sections.append(Section("maps", "Where each note is loud", Markup(figures(maps[:1], prefix, narrow) + more)))
    return sections


def _plans(run: Heard, drawings: list[Drawing]) -> list[Drawing]:
    """Of the plans of all variants those that look different."""
    seen: dict[object, Drawing] = {}
    for variant, drawing in zip(run.scene.variants, drawings, strict=True):
        absorbers = tuple(replace(a, gain=1.0) for a in variant.absorbers)
        things = (variant.patches, variant.blocks, variant.sheets, variant.fills, variant.sources, variant.seats)
        seen.setdefault((*things, absorbers), drawing)
    return list(seen.values())


def _sentences(heard: Listening) -> Markup:
    told = [line for seat in range(len(heard.seats)) for line in seat_sentences(heard, seat)]
    return listed(prose(line) for line in told)


def _levels(run: Heard) -> Markup:
    """How loud and how even the bass is at every seat in every variant."""
    result, rows = run.result, []
    for k, seat in enumerate(result.seats):
        for variant in run.listening.variants if run.listening is not None else ():
            if not np.isfinite(variant.transfer[k]).all():
                continue
            found = seat_figures(level_db(variant.transfer[k], result.frequency, result.density), result.frequency)
            rows.append((
                quoted(seat), quoted(variant.name), number(found.mean_level, 1, "dB", key="mean-level"),
                number(found.standard_deviation, 1, "dB", key="deviation"),
                f"{number(found.peak, 1, 'dB', signed=True)} at {number(found.peak_frequency, 0, 'Hz')}",
                f"{number(found.dip, 1, 'dB', signed=True)} at {number(found.dip_frequency, 0, 'Hz')}",
            ))  # fmt: skip
    if not rows:
        return Markup("")
    header = ("Seat", "Variant", "Mean level", "Deviation over frequency", "Highest peak", "Deepest dip")
    caption = "Level from 20 to 160 Hz, all loudspeakers playing, re the same in free field at 1 m"
    return table(caption, header, rows, words=2)


def _changes(heard: Listening) -> Markup:
    """The resonances that change most, or that matter most where there is nothing to compare."""
    if len(heard.variants) == 1:
        return _only(heard)
    rows = []
    for seat, name in enumerate(heard.seats):
        for second in range(1, len(heard.variants)):
            short = any(heard.variants[k].too_short for k in (0, second))
            for change in [] if short else changes_at(heard, seat, 0, second)[:RESONANCES]:
                rows.append((
                    quoted(name), *([quoted(heard.variants[second].name)] if len(heard.variants) > 2 else []),
                    number(change.frequency, 1, "Hz", key="resonance"), _seconds(change, 0), _seconds(change, 1),
                    number(change.level_step, 1, "dB", signed=True, key="level-step"),
                    "yes" if change.decay_heard or change.level_heard else "no",
                ))  # fmt: skip
    if not rows:
        return Markup("")
    several = len(heard.variants) > 2
    after = "Decay after" if several else f"Decay {quoted(heard.variants[1].name)}"
    header = (
        "Seat", *(["Variant"] if several else []), "Resonance", f"Decay {quoted(heard.variants[0].name)}", after,
        "Level change", "Heard",
    )  # fmt: skip
    return table("Resonances that change most (decay by 60 dB)", header, rows, words=2 if several else 1)


def _seconds(change: Change, which: int) -> Markup:
    value = change.decay[which]
    return Markup("–") if value is None else number(value, 2, "s", key=("decay-first", "decay-second")[which])


def _rings(variant: VariantListening, place: int) -> str:
    if np.isnan(variant.limit[place]):
        return NONE_PUBLISHED
    return "yes" if variant.audible[place] else "no"


def _only(heard: Listening) -> Markup:
    variant, rows = heard.variants[0], []
    for seat, name in enumerate(heard.seats):
        for change in changes_at(heard, seat, 0, 0)[:RESONANCES]:
            place = heard.followed[change.number].numbers[0]
            assert place is not None  # the changes are those of this variant
            rows.append((
                quoted(name), number(change.frequency, 1, "Hz", key="resonance"), _seconds(change, 0),
                number(float(variant.limit[place]), 2, "s"), _rings(variant, place),
            ))  # fmt: skip
    header = ("Seat", "Resonance", "Decay by 60 dB", "Heard to ring above", "Rings")
    return table("Resonances that matter most", header, rows) if rows else Markup("")
