"""Every candidate place at once: a simulation with an excitation for each source and each face, in batches that can be
resumed.

The wall under a face goes on doing what it does; a unit comes on top of it. So the room without units is the room as it
is, and any choice of units on any of the faces follows (see predict.py).
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

import fdtd
from fdtd.model.excitations import Excitation, Port
from fdtd.model.problem import Problem, build_problem
from fdtd.model.rooms import cover_of
from fdtd.ports.candidate_limits import loop_frequencies, loop_top
from fdtd.ports.response import PortMatrices, PortSet, excitations_of, measure, port_set, readers_of
from fdtd.scene.schema import Absorber, Device, Scene, Variant
from fdtd.simulation.device import SINGLE, Execution
from fdtd.simulation.progress import Progress, part
from fdtd.simulation.transfer import transfer_functions

BATCH = 64
"""Excitations simulated at a time: enough to fill threads or a GPU, few enough that little is lost by a stop."""


LOOP_BATCH = 32
"""The same for loops, whose records are several times as long in memory."""
LOOPS = "loops-"
"""Beginning of the keys of their batches."""
LOOPS_TIME = 2.0 / 3.0
"""Share of the time in which the room falls by 60 dB that loops are recorded for."""
LOOPS_SHARE = 0.4
"""Share of the progress that loops are counted as."""
REACH = 0.95
"""Share of the excited band up to which loops are looked at."""


class Store(Protocol):
    """Where finished batches are kept."""

    def load(self, key: str, number: int) -> NDArray[np.complexfloating] | None:
        """The batch of that number, if it is there."""
        ...

    def save(self, key: str, number: int, values: NDArray[np.complexfloating]) -> None:
        """Keep a finished batch."""
        ...


@dataclass(frozen=True, eq=False)
class LoopMatrices:
    """What the places do to one another, as far up as electronics reach. duration : s, of the record; between :
    (frequency, port driven, port) complex64, Pa/(m³/s), at `candidate_limits.loop_frequencies`."""

    duration: float
    between: NDArray[np.complex64]


@dataclass(frozen=True, eq=False)
class CandidateResponse:
    """faces : the candidate faces; matrices : what sources and faces do to seats and faces; reused : share of the
    excitations that came from the store; key : hash of everything that the matrices depend on; loops : for the
    stability of active units, None without any or where the cells are too large for it."""

    faces: PortSet
    matrices: PortMatrices
    reused: float
    key: str
    loops: LoopMatrices | None = None


def candidate_response(
    scene: Scene,
    variant: Variant,
    candidates: tuple[Absorber, ...],
    frequency: NDArray[np.float64],
    *,
    spacing: float,
    execution: Execution = SINGLE,
    duration: float | None = None,
    active: Sequence[Device] = (),
    store: Store | None = None,
    progress: Progress | None = None,
) -> CandidateResponse:
    """Measure all `candidates` (absorbers that are not in `variant`; what their device is does not matter).

    frequency : Hz, of the matrices; spacing : m; duration : s, or None until 60 dB down; active : units to be tried
    whose electronics may oscillate
    """
    problem = candidate_problem(scene, variant, candidates, spacing)
    ports = candidate_ports(problem, candidates)
    limit = scene.run.max_frequency
    faces = port_set(problem, ports, limit)
    excitations, readers = excitations_of(scene, variant, problem, ports), readers_of(variant, ports)
    key = _fingerprint(scene, variant, candidates, frequency, (spacing, execution.precision, duration, BATCH))
    top, needed = loop_top(active, limit, problem.time_step)
    looped = duration is not None and bool(active) and top >= needed
    end = 1.0 - LOOPS_SHARE if looped else 1.0

    def transfer(batch: Sequence[Excitation], tell: Progress) -> NDArray:
        return transfer_functions(measure(scene, problem, batch, readers, duration, execution, tell), frequency)

    every, reused = in_batches(key, excitations, BATCH, transfer, store, part(progress, 0.0, end))
    loops = None
    if looped and duration is not None:
        length = LOOPS_TIME * duration
        axis = loop_frequencies(top, length, problem.time_step)

        def loop(batch: Sequence[Excitation], tell: Progress) -> NDArray:
            record = measure(scene, problem, batch, ports, length, execution, tell, top=top / REACH)
            return transfer_functions(record, axis).astype(np.complex64)

        driven, key_of_loops = excitations[len(variant.sources) :], f"{LOOPS}{key}-{top:.6g}"
        between, _ = in_batches(key_of_loops, driven, LOOP_BATCH, loop, store, part(progress, end, 1.0, "loops, "))
        loops = LoopMatrices(length, np.moveaxis(between, 2, 0))
    matrices = PortMatrices.of(every, frequency, variant)
    return CandidateResponse(faces, matrices, reused / len(excitations), key, loops)


def in_batches(
    key: str,
    excitations: Sequence[Excitation],
    size: int,
    transfer: Callable[[Sequence[Excitation], Progress], NDArray],
    store: Store | None,
    progress: Progress,
) -> tuple[NDArray, int]:
    """(excitation, reader, frequency) by `transfer`, `size` excitations at a time, each batch kept in the store; and
    how many excitations came from there."""
    batches = [excitations[k : k + size] for k in range(0, len(excitations), size)]
    rows, reused = [], 0
    for number, batch in enumerate(batches):
        kept = store.load(key, number) if store is not None else None
        if kept is None:
            doing = f"batch {number + 1} of {len(batches)}, "
            kept = transfer(batch, part(progress, number / len(batches), (number + 1) / len(batches), doing))
            if store is not None:
                store.save(key, number, kept)
        else:
            reused += len(batch)
        rows.append(kept)
    return np.concatenate(rows), reused


def candidate_problem(scene: Scene, variant: Variant, candidates: tuple[Absorber, ...], spacing: float) -> Problem:
    """The discrete problem of `variant` whose wall elements know the candidates' faces."""
    with_all = replace(variant, absorbers=(*variant.absorbers, *candidates))
    return build_problem(scene, variant, spacing, (variant, with_all))


def candidate_ports(problem: Problem, candidates: tuple[Absorber, ...]) -> tuple[Port, ...]:
    """The port of each candidate: all regions that it covers."""
    ports = []
    for candidate in candidates:
        cover = cover_of(candidate)
        ports.append(Port(candidate.name, tuple(k for k, (_, covers) in enumerate(problem.regions) if cover in covers)))
    return tuple(ports)


def _fingerprint(
    scene: Scene, variant: Variant, candidates: tuple[Absorber, ...], frequency: NDArray, settings: tuple
) -> str:
    """Hash of what the matrices depend on: not the units' devices and gains, nor how the sources are played."""
    plain = tuple(replace(c, device="", gain=1.0) for c in candidates)
    sources = tuple((s.name, s.at) for s in variant.sources)
    materials = [(m.name, m.branches) for m in scene.materials]
    devices = [(d.name, d.branches, d.motion, d.control) for d in variant.devices]
    room = (
        scene.air,
        scene.room,
        variant.patches,
        variant.blocks,
        variant.thin_partitions,
        variant.porous_volumes,
        variant.absorbers,
    )
    parts = (
        fdtd.__version__,
        room,
        variant.surfaces,
        variant.seats,
        sources,
        plain,
        materials,
        devices,
        frequency.tolist(),
        settings,
        scene.run.max_frequency,
    )
    return hashlib.sha256(repr(parts).encode()).hexdigest()
