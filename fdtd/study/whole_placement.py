"""The whole placement study in one call: search, robustness, trials, the loudest place, and the run of the advice."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from fdtd import workflow
from fdtd.errors import StabilityError
from fdtd.placement.study import Design
from fdtd.ports.candidates import Store
from fdtd.results.result import RunResult
from fdtd.scene.schema import Scene
from fdtd.settings import PERTURBED_ROOMS
from fdtd.simulation.device import DOUBLE, SINGLE, Execution
from fdtd.simulation.progress import Progress, part
from fdtd.study.confirm import confirm
from fdtd.study.design_figures import first_choice
from fdtd.study.finer import USUAL, finer_cells
from fdtd.study.finished import FinishedPlacement, finished
from fdtd.study.loudest import loudest
from fdtd.study.place import place, with_units
from fdtd.study.place_answer import steady_designs
from fdtd.study.robust import robustness
from fdtd.study.settling import settling_time

WITHOUT = "without units"
SHARES = {"search": 0.55, "robustness": 0.15, "finer": 0.05, "confirmation": 0.22, "loudest": 0.03}
"""Shares of the progress, as the parts took on two cores."""


def whole_placement(
    scene: Scene,
    *,
    grid: float | None = None,
    count: int | None = None,
    execution: Execution = SINGLE,
    perturbed_rooms: int | None = PERTURBED_ROOMS,
    confirmed: bool = True,
    store: Store | None = None,
    searched: Callable[[FinishedPlacement], None] | None = None,
    progress: Progress | None = None,
) -> FinishedPlacement:
    """Every place and every choice of units of `scene.spots`, how sure the ranking is, and what is advised.

    grid : m; count : most units at once (default: the scene's); draws : perturbed rooms, None: robustness left out
    confirmed : whether winners are simulated with the units in; store : where measured places are kept
    searched : called with what is known once the search is done, so that a long study is not lost to what follows
    Raises FdtdError if the scene has no [spots] or no candidate place is left.
    """
    coarse = perturbed_rooms is not None and (grid or scene.run.grid) > USUAL + 1e-9
    left_out = {"robustness": perturbed_rooms is None, "finer": not coarse, "confirmation": not confirmed}
    shares = {name: share for name, share in SHARES.items() if not left_out.get(name, False)}
    ends = np.cumsum([0.0, *shares.values()]) / sum(shares.values())
    parts = {name: part(progress, ends[k], ends[k + 1]) for k, name in enumerate(shares)}
    study = place(scene, grid=grid, execution=execution, most=count, store=store, progress=parts["search"])
    if searched is not None:
        searched(finished(study, execution.precision))
    robust, finer = None, None
    if perturbed_rooms is not None:
        robust = robustness(study, perturbed_rooms=perturbed_rooms, execution=execution, progress=parts["robustness"])
    if coarse:
        finer = finer_cells(study, execution=execution, progress=part(parts["finer"], 0.0, 1.0, "finer cells, "))
    tried = None
    if confirmed:
        also = (first_choice(study, robust),) if study.added else ()
        tried = confirm(study, also=also, execution=execution, progress=parts["confirmation"])
    meter = loudest(
        study.scene, study.variant, grid=study.spacing, execution=execution.double, progress=parts["loudest"]
    )
    return finished(study, execution.precision, robust, tried, meter, finer)


def advised_run(
    done: FinishedPlacement,
    *,
    frequencies: tuple[float, ...] | None = None,
    execution: Execution = DOUBLE,
    progress: Progress | None = None,
) -> tuple[RunResult, Scene, Design] | None:
    """Run the room without units and with the advised ones as they would stand, and which; None if no design is stable.

    In double precision whatever the study was in: rounding drowns the ends of slow decays, which the report tells.

    frequencies : Hz, of the pressure maps (default: the tone that rings worst, if that was looked for)
    """
    study = done.study
    if frequencies is None and done.loudest is not None:
        frequencies = (float(done.loudest.frequency[0]),)
    start = replace(study.variant, name=WITHOUT)
    for design in steady_designs(done):
        count = len(design.ports)
        after = with_units(study, design, "with one unit" if count == 1 else f"with {count} units")
        scene = replace(study.scene, variants=(start, after))
        # As long as the room without units rings: with hardly any gain to spare the end would not come for a minute.
        duration = scene.run.duration or settling_time(scene, start, study.spacing, execution=execution)
        try:
            result = workflow.run(
                scene,
                grid=study.spacing,
                frequencies=frequencies,
                duration=duration,
                execution=execution,
                progress=progress,
            )
        except StabilityError:
            continue  # an active unit at a place that was not tried
        return result, scene, design
    return None
