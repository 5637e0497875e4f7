"""What is told of a placement study: the plan, the places ranked, how many units, responses, how sure."""

from __future__ import annotations

import math

import numpy as np

from fdtd.report.loading import Subject
from fdtd.report.markup import Markup, prose
from fdtd.report.placement_drawings import placement_drawings
from fdtd.report.run_part import run_sections
from fdtd.report.sections import Figures, Progress, Section, between
from fdtd.report.templating import render
from fdtd.scene.shape import Shape
from fdtd.show.style import COLUMN_WIDTH
from fdtd.wording import advice
from fdtd.wording.answer import cost_text, how_many
from fdtd.wording.letters import capital, money
from fdtd.wording.loudest import meter_text
from fdtd.wording.places import place_text
from fdtd.wording.ranking import doubt_text

FIRST, RANKED = 5, 12
"""Places of the ranking that are seen at once, and all that are told."""
SPAN = 100
"""Width of a bar in its own units."""
DRAWINGS, OWN = 4, 0.3
"""Drawings of a study without its run; their share of the time with it."""


def placement_sections(subject: Subject, prefix: str, progress: Progress) -> list[Section]:
    """Sections of a placement study, and of the run of its advice if there is one."""
    study, run, found = subject.study, subject.run, subject.study.answer
    drawings = {one.stem: one for one in placement_drawings(study, subject.scene)}
    narrow = {one.stem: one for one in placement_drawings(study, subject.scene, COLUMN_WIDTH)}
    own = between(progress, 0.0, OWN if run is not None else 1.0)
    figures = Figures(prefix, DRAWINGS, own)

    def art(*stems: str) -> list[Markup]:
        return figures([drawings[stem] for stem in stems], narrow)

    places = render("sections/places.html", best=art("placement-plan"), tried=art("spots"))
    why = ""
    if found is not None and study.counts:
        why = how_many(found, study.seats, study.counts[-1].audible.tolist())
    if found is not None and found.worthwhile and (cost := cost_text(subject.spots, found)):
        why = f"{why} {cost}"
    costs = [subject.spots.cost(unit.device for unit in count.units) for count in study.counts]
    prices = ["" if math.isnan(cost) else money(cost) for cost in costs]
    counts = render("sections/count.html", study=study, text=why, prices=prices, art=art("placement-count"))
    predicted, shown = art("placement-response"), (run.shown if run is not None else None) or ()
    simulated = run_sections(run, prefix, between(progress, OWN, 1.0), False) if run is not None else []
    before_after = render(
        "sections/before-after.html",
        predicted=predicted,
        simulated=simulated[0].body if simulated else None,
        shown=shown,
        advised=found is not None and found.units == shown,
    )
    return [
        Section("plan", "Where units do most", places),
        Section("spots", "The spots, ranked", _ranking(subject)),
        Section("count", "How many units", counts),
        Section("responses", "Responses before and after", before_after),
        *simulated[1:],
        Section("sure", "Uncertainty", _sure(subject)),
    ]


def _ranking(subject: Subject) -> Markup:
    """The best places, with bars."""
    study, shown = subject.study, subject.study.ranked[:RANKED]
    ends = [v for r in shown for v in (r.benefit, r.benefit_low, r.benefit_high, 0.0) if math.isfinite(v)]
    return render(
        "sections/ranking.html",
        study=study,
        shown=shown,
        where={place.number: prose(place_text(place)) for place in subject.places},
        low=min(ends),
        high=max(ends),
        span=SPAN,
        first=FIRST,
    )


def _sure(subject: Subject) -> Markup:
    """What is in doubt, if anything, what came out of the perturbed rooms, and what was tried with the units in."""
    study, spots, places, known = subject.study, subject.spots, subject.places, subject.study.sureness
    active = {device.name for device in spots.devices if device.control is not None}
    further = {unit.device for count in study.counts[1:] for unit in count.units}
    text = [advice.in_doubt(known, spots, places)] if known is not None and not known.robust else []
    text.append(advice.confidence_of(known, study.grid, bool(active & further)))
    meter = ""
    if study.meter is not None:
        benefit = {one.unit.place: one.benefit for one in study.ranked}
        best = np.array([benefit.get(place.number, -np.inf) for place in study.places])
        meter = meter_text(study.meter, Shape(subject.scene.room), best)
    return render(
        "sections/sure.html",
        study=study,
        text=[capital(text) for text in text],
        doubt=doubt_text(known) if known is not None else None,
        tried=advice.what_was_tried(study.trials, spots, places) if study.trials else "",
        meter=meter,
    )
