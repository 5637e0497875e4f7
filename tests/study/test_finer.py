"""A study's shortlist on finer cells: a small box; of cells that are the same, the figures are."""

from __future__ import annotations

from dataclasses import replace

import pytest
from study_rooms import trap_room

from fdtd.simulation.device import DOUBLE
from fdtd.study import finer
from fdtd.study.finer import finer_cells
from fdtd.study.finished import finished
from fdtd.study.place import PlacementStudy, place
from fdtd.study.place_answer import answer
from fdtd.study.shortlist import Scores, shortlist
from fdtd.wording.answer import on_cells
from fdtd.wording.names import on_screen


@pytest.fixture(scope="module")
def study() -> PlacementStudy:
    return place(trap_room(0.5), execution=DOUBLE)


def test_how_far_a_design_is_behind_is_told_on_the_finer_cells(
    study: PlacementStudy, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On the study's own cells, called finer: what its own figures say."""
    monkeypatch.setattr(finer, "USUAL", study.spacing)
    found = finer_cells(replace(study, spacing=2.0 * study.spacing), execution=DOUBLE)
    own, singles = Scores(study.given), shortlist(study.found, study.places).singles
    best = own.of(singles[0]).benefit
    for design in singles:
        assert found.behind(study, design) == pytest.approx(best - own.of(design).benefit, abs=1e-6)
    pair = study.found.best_of_count[2].design
    assert found.behind(study, pair) == 0.0
    worse = next(s.design for s in study.found.best if len(s.design.ports) == 2 and s.design != pair)
    if set(worse.ports) <= set(found.ports):
        assert found.behind(study, worse) == pytest.approx(own.of(pair).benefit - own.of(worse).benefit, abs=1e-6)


def test_the_shortlist_is_simulated_on_the_usual_cells_and_said(study: PlacementStudy) -> None:
    """Benefits move by 0.1 to 0.3 dB from 0.3 m to 0.1 m cells here; both are of the same room."""
    found = finer_cells(study, execution=DOUBLE)
    assert found.grid == 0.1
    scores, own = Scores(found.given), Scores(study.given)
    moved = [
        scores.of(replace(one, ports=tuple(found.ports.index(p) for p in one.ports))).benefit - own.of(one).benefit
        for one in shortlist(study.found, study.places).singles
    ]
    assert 0.0 < max(map(abs, moved)) < 0.4
    told = answer(finished(study, finer=found))
    assert told.finer_grid == 0.1 and told.behind >= 0.0
    good, bad = (on_screen(on_cells(replace(told, behind=behind), 0.3)) for behind in (0.04, 0.3))
    assert good == "Tried again on cells of 0.1 m, no other design of the shortlist is better."
    assert bad.startswith("BUT on cells of 0.1 m another design of the shortlist is 0.3 dB better: try --grid 0.1")
    first = on_screen(on_cells(answer(finished(study)), 0.3))
    assert first.startswith("Cells of 0.3 m: a first look") and on_cells(answer(finished(study)), 0.15) == ""


def test_a_study_on_the_usual_cells_is_not_looked_at_again(study: PlacementStudy) -> None:
    assert finer_cells(replace(study, spacing=0.1)) is None
