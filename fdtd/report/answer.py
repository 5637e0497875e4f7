"""The answer of one part of the page, in words and in three figures."""

from __future__ import annotations

from fdtd.report.answer_run import run_lead
from fdtd.report.answer_study import study_lead
from fdtd.report.cards import Lead
from fdtd.report.loading import Subject


def lead(subject: Subject) -> Lead:
    """The answer of one part of the page."""
    if subject.placement is not None:
        return study_lead(subject)
    assert subject.run is not None
    return run_lead(subject.run)
