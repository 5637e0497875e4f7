"""The page: what templates/page.html tells, and how it is written."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from fdtd import __version__
from fdtd.report.answers import run_answer, study_answer
from fdtd.report.grounds import ground_sections
from fdtd.report.loading import Subject, load
from fdtd.report.markup import Markup, name
from fdtd.report.placement_part import placement_sections
from fdtd.report.plan_sketch import absorbers_of, furniture_of, plan_sketch
from fdtd.report.run_part import run_sections
from fdtd.report.sections import Progress, between
from fdtd.report.templating import render
from fdtd.results.files import replaced_file
from fdtd.show.style import DARK, LIGHT
from fdtd.show.text import plain_text

TITLE = 120
POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action 'none'"


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


def make_page(subjects: Sequence[Subject], progress: Progress | None = None) -> str:
    """The page about one or several subjects, as HTML text."""
    report = progress or (lambda done, message: None)
    parts = []
    for number, subject in enumerate(subjects, start=1):
        text = between(report, (number - 0.8) / len(subjects), number / len(subjects))
        text(0.0, f"drawing {plain_text(subject.title, 40)}")
        parts.append(_part(subject, number, text))
    title = plain_text(subjects[0].title, TITLE) if len(subjects) == 1 else f"{len(subjects)} results"
    return render(
        "page.html",
        policy=POLICY,
        version=__version__,
        title=title,
        day=datetime.datetime.now(datetime.UTC).date(),
        light=LIGHT.tokens,
        dark=DARK.tokens,
        parts=parts,
    )


def _part(subject: Subject, number: int, progress: Progress) -> dict[str, Any]:
    """What the template tells of one subject."""
    study, run, prefix = subject.placement, subject.run, f"p{number}-"
    if study is not None:
        kind, created, sections = "where to put units", study.created, placement_sections(subject, prefix, progress)
        answer = study_answer(subject)
    else:
        assert run is not None
        kind, created, sections = "what is audible", run.result.created, run_sections(run, prefix, progress)
        answer = run_answer(run)
    plan, legend = _plan(subject, f"sketch-{number}")
    return {
        "number": number,
        "prefix": prefix,
        "heading": Markup("{}: {}").format(name(subject.title, TITLE), kind),
        "top": f"{subject.scene.run.max_frequency:g} Hz",
        "created": created[:10],
        "answer": answer,
        "plan": plan,
        "legend": legend,
        "sections": [*sections, *ground_sections(subject)],
    }


def _plan(subject: Subject, ids: str) -> tuple[Markup, dict[str, Any]]:
    """The plan of the first screen, and what its legend has to tell."""
    scene, study = subject.scene, subject.placement
    variants = (scene.spots.start,) if study is not None and scene.spots is not None else scene.variants
    answer = study.answer if study is not None else None
    chosen = [unit.place for unit in answer.units] if answer is not None else []
    alike = [one.unit.place for one in study.ranked if one.alike] if study is not None and len(chosen) == 1 else []
    legend = {
        "chosen": len(chosen),
        "advised": answer is not None and answer.worthwhile > 0,
        "equal": set(alike) - set(chosen),
        "absorbers": absorbers_of(scene, variants),
        "furniture": furniture_of(variants),
    }
    return plan_sketch(scene, variants, subject.places, chosen, ids, alike), legend
