"""Batches of a simulation and samples of a sparse one, whatever is left over: of steps in batches, of a batch in
strides.

Set-up: a room of eight cells, so that a simulation takes milliseconds; the time step and the highest frequency are
varied. Exact: a sparse record holds every so many samples of the record of all steps, bit for bit.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest
from rooms import box_plan, make_scene, problem_of

from fdtd.model.excitations import Excitation, make_excitation
from fdtd.model.problem import Problem
from fdtd.physics.admittance import Branch
from fdtd.simulation.animation import LOOK_TIME, sample_steps, simulate_animation
from fdtd.simulation.signals import pulse, sampling_stride
from fdtd.simulation.stepper import BATCH_TIME, Simulation, simulate
from fdtd.simulation.transfer import transfer_functions

SCENE = make_scene(box_plan(1.0, 1.0), 1.0, surfaces=(Branch(resistance=2000.0),), sources=[(0.3, 0.3, 0.3)])
SEATS = [(0.7, 0.6, 0.5)]
STRIDES = range(2, 7)
Setting = tuple[Problem, float, int, int, int]
"""Problem, highest frequency (Hz), stride, whole steps in a batch's time, what is left of these in strides."""


def settings() -> Iterator[Setting]:
    """Every stride with every number of steps that can be left over of a batch's time, once each."""
    eight_cells, met = problem_of(SCENE, 0.5), set()
    for batch in range(50, 80):
        step = BATCH_TIME / (batch + 0.4)  # far below what these cells would bear
        for top in (30.0, 40.0, 50.0, 60.0):
            stride = sampling_stride(top, step)
            if stride in STRIDES and (stride, batch % stride) not in met:
                met.add((stride, batch % stride))
                yield replace(eight_cells, time_step=step), top, stride, batch, batch % stride


def excitation(problem: Problem) -> Excitation:
    """The source in the untreated room."""
    return make_excitation(SCENE, SCENE.variants[0], problem, SCENE.variants[0].sources[0].at)


def simulated(problem: Problem, top: float, steps: int, sparse: bool, shares: list[float] | None = None) -> Simulation:
    """`steps` steps: half a step less is asked for, as a duration is rounded up; shares : gets those of the progress"""
    duration, tell = (steps - 0.5) * problem.time_step, [] if shares is None else shares
    return simulate(
        problem, [excitation(problem)], SEATS, top, duration, sparse=sparse, progress=lambda s, _: tell.append(s)
    )


def compare(problem: Problem, top: float, stride: int, steps: range) -> None:
    """Sparse simulations of so many steps each against the dense one of the most."""
    dense = simulated(problem, top, steps[-1], sparse=False)
    assert dense.every == 1 and dense.steps == dense.seats.shape[-1] == steps[-1]
    for count in steps:
        shares: list[float] = []
        found = simulated(problem, top, count, sparse=True, shares=shares)
        assert found.every == found.stride == stride and found.steps == count
        assert found.duration == pytest.approx(count * problem.time_step, rel=1e-12)
        assert (found.seats == dense.seats[..., :count:stride]).all()
        assert shares == sorted(shares) and shares[-1] == 1.0


def test_a_sparse_record_is_the_dense_one_subsampled_whatever_is_left_of_a_batch_in_strides() -> None:
    met = set()
    for problem, top, stride, batch, left in settings():
        compare(problem, top, stride, range(2 * batch - stride, 2 * batch + stride + 1))
        met.add((stride, left))
    assert met == {(stride, left) for stride in STRIDES for left in range(stride)}


@pytest.mark.parametrize("wanted", [(5, 1), (6, 3)])
def test_a_sparse_record_is_the_dense_one_subsampled_whatever_is_left_of_the_steps_in_batches(wanted) -> None:
    problem, top, stride, batch, _ = next(s for s in settings() if (s[2], s[4]) == wanted)
    steps = range(2 * batch - stride, 3 * batch + stride)
    compare(problem, top, stride, steps)
    for length in (batch, stride * round(batch / stride)):  # with and without whole strides in a batch
        assert {count % length for count in steps} == set(range(length))


def test_a_simulation_of_one_step_has_one_sample_and_a_spectrum() -> None:
    problem, top, *_ = next(settings())
    found = simulated(problem, top, 1, sparse=True)
    assert found.seats.shape == (1, 1, 1) and found.steps == 1
    assert np.isfinite(transfer_functions(found, np.array([12.0, 25.0]))).all()


def test_a_animation_is_the_dense_record_subsampled_however_many_samples_its_last_look_has() -> None:
    problem, top, *_ = next(settings())
    stride, dt = sample_steps(top, problem.time_step), problem.time_step
    few, lead = round(LOOK_TIME / (stride * dt)), len(pulse(top, dt)) // 2
    first, met = -(-lead // stride) + 1, set()
    dense = simulated(problem, top, (first + few) * stride, sparse=False)
    for samples in range(first, first + few):
        duration = ((samples - 0.5) * stride - lead) * dt
        found = simulate_animation(problem, [excitation(problem)], np.arange(8), SEATS, top, duration)
        assert found.kept.shape == (samples, 1, 8) and found.duration == pytest.approx(samples * stride * dt)
        # The last few samples are faded out.
        assert (found.seats[..., :-3] == dense.seats[..., : samples * stride : stride][..., :-3]).all()
        met.add(samples % few)
    assert few > 3 and met == set(range(few))
