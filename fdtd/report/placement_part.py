"""What is told of a placement study: the plan, the places ranked, how many units, responses, how sure."""

from __future__ import annotations

import math
from collections.abc import Callable

from fdtd.report.loading import Subject
from fdtd.report.markup import Markup, data, number, percent, prose, quoted
from fdtd.report.placement_drawings import numbers, placement_drawings
from fdtd.report.run_part import run_sections
from fdtd.report.sections import Figures, Progress, Section, between, table_of
from fdtd.report.study_text import confidence_of, how_many, on_surface, the_study, what_was_tried, with_a_meter
from fdtd.report.templating import render
from fdtd.results.placement_record import CountRecord, PlacementFile, RankedPlace, Sureness, Trial, Unit
from fdtd.show.style import COLUMN_WIDTH
from fdtd.wording.letters import capital
from fdtd.wording.ranking import doubt_text

FIRST, RANKED = 5, 12
"""Places of the ranking that are seen at once, and all that are told."""
SPAN = 100.0
"""Width of a bar in its own units."""
DRAWINGS, OWN = 4, 0.3
"""Drawings of a study without its run; their share of the time with it."""


def placement_sections(subject: Subject, prefix: str, progress: Progress) -> list[Section]:
    """Sections of a placement study, and of the run of its advice if there is one."""
    study = subject.placement
    assert study is not None
    drawings = {one.stem: one for one in placement_drawings(study, subject.scene)}
    narrow = {one.stem: one for one in placement_drawings(study, subject.scene, COLUMN_WIDTH)}
    own = between(progress, 0.0, OWN if subject.run is not None else 1.0)
    figures = Figures(prefix, DRAWINGS, own)

    def art(*stems: str) -> list[Markup]:
        return figures([drawings[stem] for stem in stems], narrow)

    places = render("sections/places.html", best=art("placement-plan"), tried=art("spots"))
    count, response = art("placement-count"), art("placement-response")
    run = run_sections(subject.run, prefix, between(progress, OWN, 1.0), False) if subject.run is not None else []
    before_after = _before_after(subject, response, run[0].body if run else None)
    return [
        Section("plan", "Where units do most", places),
        Section("spots", "The spots, ranked", _ranking(subject)),
        Section("count", "How many units", _counts(subject, count)),
        Section("responses", "Responses before and after", before_after),
        *run[1:],
        Section("sure", "Uncertainty", _sure(subject)),
    ]


def _before_after(subject: Subject, predicted: list[Markup], simulated: Markup | None) -> Markup:
    """simulated : the responses of the run of the advice, and which units it has"""
    study, shown = subject.placement, (subject.run.shown if subject.run is not None else None) or ()
    assert study is not None
    return render(
        "sections/before-after.html",
        predicted=predicted,
        simulated=simulated,
        shown=shown,
        advised=study.answer is not None and study.answer.units == shown,
    )


def _ranking(subject: Subject) -> Markup:
    """The best places, with bars."""
    study, _ = the_study(subject)
    shown, sure = study.ranked[:RANKED], study.sureness
    ends = [v for r in shown for v in (r.benefit, r.benefit_low, r.benefit_high, 0.0) if math.isfinite(v)]
    low, high = min(ends), max(ends)
    several = len({(r.unit.device, r.unit.gain) for r in shown}) > 1
    columns: list[tuple[object, Callable[[RankedPlace], object]]] = [
        ("Spot", lambda one: data(one.unit.place, str(one.unit.place), "ranked")),
        ("Where", lambda one: prose(on_surface(subject, one.unit, short=False))),
        ("With" if several else "", lambda one: _choice(study, one.unit)),
        (Markup('<span class="hidden">Bar</span>'), lambda one: _bar(one, low, high)),
        ("Benefit", lambda one: number(one.benefit, 1, "dB", key="benefit")),
        ("10–90 %" if sure else "", lambda one: _range(one.benefit_low, one.benefit_high)),
        ("Decay shorter", lambda one: percent(one.shorter, key="rank-shorter")),
        ("More even", lambda one: number(one.more_even, 1, "dB", True)),
        ("Louder", lambda one: number(one.louder, 1, "dB", True)),
        ("Among first three" if sure else "", lambda one: _on_top(one, sure)),
    ]
    caption = Markup(f"One unit: the best {len(shown)} of {len(study.places)} spots, against no unit")
    if shown and not several and (choice := _choice(study, shown[0].unit)):
        caption += Markup(", all with {}").format(choice)
    return render(
        "sections/ranking.html",
        caption=caption,
        **table_of([column for column in columns if column[0]], shown),
        first=FIRST,
        text_columns=3 if several else 2,
        worst=study.ranked[-1].benefit,
    )


def _on_top(one: RankedPlace, sure: Sureness | None) -> str:
    """In how many of the perturbed rooms a place is among the first three."""
    if sure is None or not math.isfinite(one.on_top):
        return "–"
    return f"{round(one.on_top * sure.perturbed_rooms)} of {sure.perturbed_rooms}"


def _choice(study: PlacementFile, unit: Unit) -> Markup:
    text = [quoted(unit.device)] if len(study.devices) > 1 else []
    text += [Markup("gain {}").format(f"{unit.gain:g}")] if len(study.gains) > 1 else []
    return Markup(", ").join(text)


def _range(low: float, high: float) -> str:
    if not math.isfinite(low):
        return "–"
    return Markup("{} to {}").format(number(low, 1, key="low"), number(high, 1, "dB", key="high"))


def _bar(one: RankedPlace, low: float, high: float) -> Markup:
    """A bar of the benefit, with a line from 10 to 90 % of the perturbed rooms."""
    scale = SPAN / max(high - low, 1e-9)
    zero, benefit, *ends = ((value - low) * scale for value in (0.0, one.benefit, one.benefit_low, one.benefit_high))
    left, right = sorted((zero, benefit))
    sure = ends if math.isfinite(one.benefit_low) else None
    return render("bar.html", span=f"{SPAN:.0f}", zero=zero, left=left, right=right, sure=sure)


def _counts(subject: Subject, art: list[Markup]) -> Markup:
    """What each number of units brings at each seat; art : the figure of it"""
    study, _ = the_study(subject)
    columns: list[tuple[object, Callable[[tuple[CountRecord, int]], object]]] = [
        ("Units", lambda one: one[0].count),
        ("Spots", lambda one: numbers(one[0].units)),
        ("Seat", lambda one: quoted(study.seats[one[1]])),
        ("Benefit", lambda one: number(one[0].benefit, 1, "dB", key="count-benefit")),
        ("The last adds", lambda one: number(one[0].adds, 1, "dB", True, "adds")),
        ("Decay shorter", lambda one: percent(float(one[0].shorter[one[1]]), key="count-shorter")),
        ("More even", lambda one: number(float(one[0].more_even[one[1]]), 1, "dB", True, "count-even")),
        ("Louder", lambda one: number(float(one[0].louder[one[1]]), 1, "dB", True, "count-louder")),
        ("Last one audible", lambda one: "yes" if one[0].audible[one[1]] else "no"),
    ]
    at_seats = [(count, seat) for count in study.counts for seat in range(len(study.seats))]
    return render("sections/count.html", text=how_many(subject), art=art, **table_of(columns, at_seats))


def _sure(subject: Subject) -> Markup:
    study, _ = the_study(subject)
    columns: list[tuple[object, Callable[[Trial], object]]] = [
        ("Design", lambda t: f"{'In the wall' if t.kind == 'face' else 'As installed'}, spot {numbers(t.units)}"),
        ("Benefit predicted", lambda t: number(t.predicted, 2, "dB", key="predicted")),
        ("Benefit simulated", lambda t: number(t.simulated, 2, "dB", key="simulated")),
        ("Largest difference of level", lambda t: number(t.error, 2, "dB")),
        ("Gain to spare", lambda t: number(t.margin, 1, "dB")),
    ]
    return render(
        "sections/sure.html",
        text=[capital(text) for text in confidence_of(subject)],
        doubt=doubt_text(study.sureness) if study.sureness is not None else None,
        tried=what_was_tried(subject),
        **table_of(columns, study.trials),
        meter=with_a_meter(subject),
    )
