"""Prices and a budget against brute force over every set: a small room, two kinds of boards, invented prices."""

from __future__ import annotations

from functools import cache
from itertools import combinations, product

import pytest
from placement_scene import SCENE

from fdtd.cli.place_tables import counts_table, singles_table
from fdtd.placement.study import Design
from fdtd.scene.read import read_scene_text
from fdtd.simulation.device import DOUBLE
from fdtd.study.finished import FinishedPlacement, finished
from fdtd.study.place import PlacementStudy, place
from fdtd.study.place_answer import answer
from fdtd.study.shortlist import Scores
from fdtd.wording.answer import cost_text, how_many
from fdtd.wording.first_lines import first_lines
from fdtd.wording.names import on_screen
from fdtd.wording.place_rows import placement_tables

PRICES = {"low": 400.0, "high": 250.0}


@cache
def studied(budget: float | None, high: float = PRICES["high"]) -> PlacementStudy:
    text = SCENE.replace("[devices.high]\n", f"[devices.high]\nprice = {high}\n")
    text = text.replace("[devices.low]\n", f"[devices.low]\nprice = {PRICES['low']}\n")
    text = text if budget is None else text.replace("[spots]\n", f"[spots]\nbudget = {budget}\n")
    return place(read_scene_text(text), execution=DOUBLE)


def advised(budget: float | None, **more: float) -> tuple[FinishedPlacement, str]:
    done = finished(studied(budget, **more))
    return done, how_many(answer(done), ["stool", "bench"], [True, True])


@pytest.mark.parametrize("budget", [None, 800.0, 650.0, 500.0])
def test_the_best_set_within_the_budget_is_that_of_brute_force(budget: float | None) -> None:
    study = studied(budget)
    scores, ports = Scores(study.given), range(len(study.places))
    most = float("inf") if budget is None else budget
    names = [device.name for device in study.spots.devices]
    excluded = study.given.excludes
    for units in (1, 2):
        every = {
            Design(at, kinds, (0,) * units): scores.of(Design(at, kinds, (0,) * units)).benefit
            for at in combinations(ports, units)
            for kinds in product(range(2), repeat=units)
            if sum(PRICES[names[kind]] for kind in kinds) <= most
            and not any(excluded[i, j] for i, j in combinations(at, 2))
        }
        found = study.found.best_of_count[units]
        assert found.objectives.benefit == pytest.approx(max(every.values()), abs=1e-9)
        assert every[found.design] == pytest.approx(max(every.values()), abs=1e-9)


def test_the_answer_says_what_it_costs_and_that_the_budget_is_the_end() -> None:
    done, text = advised(400.0)
    assert text == "In short: buy one. More units would cost more than the budget."
    study, decided = done.study, done.decision
    spent = study.spots.cost(study.spots.devices[kind].name for kind in decided.design.kinds)
    assert spent in PRICES.values() and decided.why_not == "budget"
    cost = cost_text(study.spots, answer(done))
    assert cost.startswith(f"It costs {spent:.0f} of a budget of 400, ") and cost in on_screen(first_lines(done))
    assert f", about {float(f'{spent / decided.figures.benefit:.2g}'):.0f} for each dB of benefit." in cost
    assert cost_text(studied(None).spots, answer(finished(studied(None)))).count("budget") == 0


def test_a_kind_beyond_the_budget_is_left_out_and_said() -> None:
    done, _ = advised(500.0, high=900.0)
    assert {kind for scored in done.study.found.best for kind in scored.design.kinds} == {0}
    assert '"high": costs more than the budget.' in on_screen(first_lines(done))


def test_tables_have_a_column_of_prices() -> None:
    study = studied(800.0)
    assert "price" in singles_table(study, None).splitlines()[1] and "price" in counts_table(study).splitlines()[1]
    singles, counts, pareto = placement_tables(study, None)
    for table in (singles, counts, pareto):
        assert "price" in table.columns
    price, device = singles.columns.index("price"), singles.columns.index("device")
    assert all(row[price] == PRICES[row[device]] for row in singles.rows)
