"""The page: head, the answer of each part first, its sections after it. No script, nothing from outside."""

from __future__ import annotations

import datetime
from collections.abc import Callable, Sequence
from pathlib import Path

from fdtd import __version__
from fdtd.report.answer import Lead, lead
from fdtd.report.grounds import ground_sections
from fdtd.report.loading import Subject, load
from fdtd.report.markup import Markup, name, safe
from fdtd.report.placement_part import placement_sections
from fdtd.report.plan_sketch import absorbers_of, plan_sketch
from fdtd.report.run_part import run_sections
from fdtd.report.sections import Section
from fdtd.report.sheet import style_sheet
from fdtd.results.files import replaced_file
from fdtd.show.text import plain_text

TITLE = 120
POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action 'none'"

Progress = Callable[[float, str], None]


def write_report(paths: Sequence[str | Path], target: str | Path, progress: Progress | None = None) -> Path:
    """Read the result files in `paths` and write the page about them to `target`, whole or not at all.

    Raises ResultFileError for a file that can't be read, UnwritableError if the page can't be written.
    """
    report = progress or (lambda done, message: None)
    report(0.0, "reading")
    text = make_page(load(paths), progress)
    target = Path(target)
    with replaced_file(target) as temporary:
        temporary.write_text(text, encoding="utf-8")
    return target


def make_page(subjects: Sequence[Subject], progress: Progress | None = None) -> Markup:
    """The page about one or several subjects, as HTML text."""
    report = progress or (lambda done, message: None)
    several = len(subjects) > 1
    parts = []
    for number, subject in enumerate(subjects, start=1):
        report((number - 0.8) / len(subjects), f"drawing {plain_text(subject.title, 40)}")
        parts.append(_part(subject, number, several))
    title = safe(plain_text(subjects[0].title, TITLE)) if not several else f"{len(subjects)} results"
    head = (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        f'<meta http-equiv="Content-Security-Policy" content="{safe(POLICY)}">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        '<meta name="color-scheme" content="light dark"><meta name="referrer" content="no-referrer">'
        f'<meta name="generator" content="fdtd {safe(__version__)}">'
        f'<link rel="icon" href="data:,"><title>{title} – room acoustics report</title>'
        f"<style>{style_sheet()}</style></head>"
    )
    if several:
        contents = "".join(
            f'<li><a href="#part-{k}">{_heading(s)}</a><br>{lead(s).sentence}</li>' for k, s in enumerate(subjects, 1)
        )
        top = f'<h1>Room acoustics report</h1><nav class="parts" aria-label="Parts"><ol>{contents}</ol></nav>'
        body = f'<main class="page several" id="content">{top}{"".join(parts)}{_footer()}</main>'
    else:
        body = f'<main class="page" id="content">{parts[0]}{_footer()}</main>'
    return Markup(f'{head}<body><a class="skip" href="#answer-1">Skip to the answer</a>{body}</body></html>')


def _part(subject: Subject, number: int, several: bool) -> Markup:
    level = 2 if not several else 3
    prefix = f"p{number}-"
    told = lead(subject)
    parts = placement_sections(subject, prefix) if subject.placement is not None else _run(subject, prefix)
    sections = [*parts, *ground_sections(subject)]
    links = "".join(f'<li><a href="#{prefix}{s.key}">{safe(s.heading)}</a></li>' for s in sections)
    head = f"<h2>{_heading(subject)}</h2>" if several else _eyebrow(subject)
    return Markup(
        f'<article class="part" id="part-{number}">{head}{_answer(subject, told, number)}'
        f'<nav aria-label="Contents"><ul>{links}</ul></nav>{"".join(_section(s, prefix, level) for s in sections)}'
        "</article>"
    )


def _run(subject: Subject, prefix: str) -> list[Section]:
    assert subject.run is not None
    return run_sections(subject.run, prefix)


def _heading(subject: Subject) -> Markup:
    kind = "where to put units" if subject.placement is not None else "what is heard"
    return Markup(f"{name(subject.title, TITLE)}: {kind}")


def _eyebrow(subject: Subject) -> str:
    created = subject.placement.created if subject.placement else subject.run.result.created if subject.run else ""
    top = f"{subject.scene.run.max_frequency:g} Hz"
    day = f"<span>Simulated below {top}, {safe(created[:10])}</span>"
    return f'<header class="eyebrow"><h1>{_heading(subject)}</h1>{day}</header>'


def _answer(subject: Subject, told: Lead, number: int) -> str:
    more = "".join(f"<p>{one}</p>" for one in told.more)
    cards = "".join(
        f'<li><div class="label">{card.label}</div><div class="big">{card.big}</div>'
        f'<div class="small">{card.small}</div></li>'
        for card in told.cards
    )
    sketch = _sketch(subject, number)
    cards = f'<ul class="cards">{cards}</ul>' if cards else ""
    kind = "answer with-plan" if sketch else "answer"
    return (
        f'<div class="{kind}" id="answer-{number}"><div><p class="lead">{told.sentence}</p>'
        f'<div class="more">{more}</div></div>{sketch}{cards}</div>'
    )


def _sketch(subject: Subject, number: int) -> str:
    scene, study = subject.scene, subject.placement
    variants = (scene.spots.start,) if study is not None and scene.spots is not None else scene.variants
    chosen = [unit.place for unit in study.answer.units] if study is not None and study.answer is not None else []
    alike = [one.unit.place for one in study.ranked if one.alike] if study is not None and len(chosen) == 1 else []
    drawing = plan_sketch(scene, variants, subject.places, chosen, f"sketch-{number}", alike)
    advised = study is not None and study.answer is not None and study.answer.worthwhile > 0
    which = f"the {'advised' if advised else 'best'} spot{'s' * (len(chosen) > 1)}"
    equal = "Ringed: as good, as far as is known. " if set(alike) - set(chosen) else ""
    spots = f"Orange number: {which}. {equal}Dots: other spots that were tried. " if chosen else ""
    units = " Orange box: absorber." if absorbers_of(scene, variants) else ""
    grey = " Grey: furniture." if variants[-1].blocks or variants[-1].fills else ""
    key = f"From above. {spots}Square: loudspeaker. Circle: seat.{units}{grey}"
    return f"<figure>{drawing}<figcaption>{safe(key)}</figcaption></figure>"


def _section(section: Section, prefix: str, level: int) -> str:
    return (
        f'<section id="{prefix}{section.key}" aria-labelledby="{prefix}{section.key}-heading">'
        f'<h{level} id="{prefix}{section.key}-heading">{safe(section.heading)}</h{level}>{section.body}</section>'
    )


def _footer() -> str:
    day = datetime.datetime.now(datetime.UTC).date().isoformat()
    return (
        f"<footer>Written by fdtd {safe(__version__)} on {day}. A simulation, not a measurement: it knows the room "
        "only as the scene file tells it. Local codes and licensed practice come first.</footer>"
    )
