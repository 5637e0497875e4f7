"""What is told of a placement study: the plan, the places ranked, how many units, responses, how sure."""

from __future__ import annotations

import math

from fdtd.report.loading import Subject
from fdtd.report.markup import Markup, folded, number, paragraphs, percent, prose, quoted, safe, table
from fdtd.report.placement_drawings import numbers, placement_drawings
from fdtd.report.run_part import run_sections
from fdtd.report.sections import Section, figures
from fdtd.report.study_words import how_many, how_sure, on_surface, the_study, what_was_tried, with_a_meter
from fdtd.results.placement_record import PlacementFile, RankedPlace, Unit
from fdtd.show.style import COLUMN_WIDTH
from fdtd.wording.ranking import doubt_words

FIRST, RANKED = 5, 12
"""Places of the ranking that are seen at once, and all that are told."""
SPAN = 100.0
"""Width of a bar in its own units."""


def placement_sections(subject: Subject, prefix: str) -> list[Section]:
    """Sections of a placement study, and of the run of its advice if there is one."""
    study = subject.placement
    assert study is not None
    drawings = {one.stem: one for one in placement_drawings(study, subject.scene)}
    narrow = {one.stem: one for one in placement_drawings(study, subject.scene, COLUMN_WIDTH)}

    def art(*stems: str) -> Markup:
        return figures([drawings[stem] for stem in stems], prefix, narrow)

    sections = [
        Section("plan", "Where units do most",
                Markup(art("placement-plan") + folded("All places that were tried", art("spots")))),
        Section("spots", "The spots, ranked", _ranking(subject)),
        Section("count", "How many units", _counts(subject, art("placement-count"))),
    ]  # fmt: skip
    response = art("placement-response")
    run = run_sections(subject.run, prefix, plans=False) if subject.run is not None else []
    if run:
        note = f"<p>{_shown(subject)}</p>"
        first = Section("responses", "Responses before and after", Markup(note + response + run[0].body))
        sections += [first, *run[1:]]
    else:
        note = "<p>What is heard of the tail was not simulated: the study was made without its confirming runs.</p>"
        sections.append(Section("responses", "Responses before and after", Markup(response + note)))
    sections.append(Section("sure", "How sure", _sure(subject)))
    return sections


def _shown(subject: Subject) -> Markup:
    """Which units the run of the advice has."""
    study, run = subject.placement, subject.run
    assert study is not None and run is not None and run.shown is not None
    told = f"unit{'s' * (len(run.shown) > 1)} at spot {numbers(run.shown)}, built in as {_they(run.shown)} would stand"
    same = study.answer is not None and study.answer.units == run.shown
    why = "" if same else " (not the design advised above, which would oscillate or was not to be simulated)"
    return Markup(f"The first curves are predicted by the study; the tables and figures after them are a simulation of "
                  f"the room without units and with the {safe(told)}{why}.")  # fmt: skip


def _they(units: tuple[Unit, ...]) -> str:
    return "they" if len(units) > 1 else "it"


def _ranking(subject: Subject) -> Markup:
    """The best places as a table with bars."""
    study, _ = the_study(subject)
    shown = study.ranked[:RANKED]
    ends = [v for r in shown for v in (r.benefit, r.low, r.high, 0.0) if math.isfinite(v)]
    low, high = min(ends), max(ends)
    several = len({(r.unit.device, r.unit.gain) for r in shown}) > 1
    sure = study.sureness
    bar = '<span class="hidden">Bar</span>'
    header = ["Spot", "Where", *(["With"] if several else []), bar, "Benefit", *(["10–90 %"] if sure else []),
              "Decay shorter", "More even", "Louder", *(["Among first three"] if sure else [])]  # fmt: skip
    rows = []
    for one in shown:
        cells = [
            f'<data value="{one.unit.place}" data-of="ranked">{one.unit.place}</data>',
            prose(on_surface(subject, one.unit, short=False)),
            *([_choice(study, one.unit)] if several else []),
            _bar(one, low, high), number(one.benefit, 1, "dB", key="benefit"),
        ]  # fmt: skip
        if sure:
            cells.append(_range(one.low, one.high))
        cells += [percent(one.shorter, key="rank-shorter"), number(one.uneven, 1, "dB", True),
                  number(one.louder, 1, "dB", True)]  # fmt: skip
        if sure:
            known = math.isfinite(one.on_top)
            cells.append(f"{round(one.on_top * sure.draws)} of {sure.draws}" if known else "–")
        rows.append(cells)
    caption = f"One unit: the best {len(shown)} of {len(study.places)} spots, against no unit"
    if shown and not several and (choice := _choice(study, shown[0].unit)):
        caption += f", all with {choice}"
    worst = f"<p>The worst of all places has {number(study.ranked[-1].benefit, 1, 'dB', key='worst')} of benefit. "
    note = (
        "Benefit is a score in dB of our own: dB that the level is more even over frequency, plus dB that the seats "
        "are closer to each other, plus 6 for each halving of decays that are too long, minus a quarter of the dB of "
        "loudness lost; 20 to 160 Hz over log frequency.</p>"
    )
    words = 3 if several else 2
    rest = table(f"The best {len(shown)} spots, from number {FIRST + 1}", header, rows[FIRST:], words, "ranking")
    more = folded(f"The next {len(rows) - FIRST}", rest) if len(rows) > FIRST else ""
    return Markup(table(caption, header, rows[:FIRST], words, "ranking") + more + worst + note)


def _choice(study: PlacementFile, unit: Unit) -> Markup:
    told = [quoted(unit.device)] if len(study.devices) > 1 else []
    if len(study.gains) > 1:
        told.append(Markup(f"gain {unit.gain:g}"))
    return Markup(", ".join(told))


def _range(low: float, high: float) -> Markup:
    if not math.isfinite(low):
        return Markup("–")
    return Markup(f"{number(low, 1, key='low')} to {number(high, 1, 'dB', key='high')}")


def _bar(one: RankedPlace, low: float, high: float) -> Markup:
    """A bar of the benefit, with a line from 10 to 90 % of the perturbed rooms."""
    scale = SPAN / max(high - low, 1e-9)
    x = [(value - low) * scale for value in (0.0, one.benefit, one.low, one.high)]
    left, right = sorted(x[:2])
    span = ""
    if math.isfinite(one.low):
        span = f'<path class="s" d="M{x[2]:.1f} 5H{x[3]:.1f}M{x[2]:.1f} 2V8M{x[3]:.1f} 2V8"/>'
    return Markup(
        f'<svg class="bar" viewBox="0 0 {SPAN:.0f} 10" preserveAspectRatio="none" aria-hidden="true">'
        f'<rect class="b" x="{left:.1f}" y="1" width="{right - left:.1f}" height="8"/>'
        f'<path class="z" d="M{x[0]:.1f} 0V10"/>{span}</svg>'
    )


def _counts(subject: Subject, art: Markup) -> Markup:
    """What each number of units brings at each seat; art : the figure of it"""
    study, _ = the_study(subject)
    rows = []
    for count in study.counts:
        for k, seat in enumerate(study.seats):
            rows.append((
                safe(count.count), safe(numbers(count.units)), quoted(seat),
                number(count.benefit, 1, "dB", key="count-benefit"), number(count.adds, 1, "dB", True, "adds"),
                percent(float(count.shorter[k]), key="count-shorter"),
                number(float(count.uneven[k]), 1, "dB", True, "count-even"),
                number(float(count.louder[k]), 1, "dB", True, "count-louder"), "yes" if count.heard[k] else "no",
            ))  # fmt: skip
    header = ("Units", "Spots", "Seat", "Benefit", "The last adds", "Decay shorter", "More even", "Louder",
              "Last one heard")  # fmt: skip
    told = paragraphs(how_many(subject))
    numbers_too = table("The best of each number of units, against none", header, rows, words=3) if rows else ""
    return Markup(told + art + folded("In numbers, at each seat", numbers_too))


def _headless(text: str) -> str:
    """Without what the heading of the section says already."""
    rest = text.removeprefix("How sure").lstrip(":, ")
    return rest[:1].upper() + rest[1:]


def _sure(subject: Subject) -> Markup:
    study, _ = the_study(subject)
    body = "".join(paragraphs(_headless(text)) for text in how_sure(subject))
    if study.sureness is not None:
        body += f"<p>Varied at once in each room, evenly within the range: {doubt_words(study.sureness)}.</p>"
    tried = str(paragraphs(what_was_tried(subject)))
    rows = [
        (
            safe(f"{'In the wall' if t.kind == 'face' else 'As it would stand'}, spot {numbers(t.units)}"),
            number(t.predicted, 2, "dB", key="predicted"), number(t.marched, 2, "dB", key="marched"),
            number(t.error, 2, "dB"), number(t.margin, 1, "dB"),
        )
        for t in study.trials
    ]  # fmt: skip
    if rows:
        header = ("Design", "Benefit predicted", "Benefit simulated", "Largest difference of level", "Gain to spare")
        tried += table("Predictions against simulations with the units in", header, rows)
    folds = folded("Simulations with the units in", tried)
    folds = Markup(folds + folded("What a level meter would find", paragraphs(with_a_meter(subject))))
    return Markup(body + folds)
