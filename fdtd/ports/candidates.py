"""Every candidate place at once: a simulation with an excitation for each source and each face, in batches that can be
resumed.

The wall under a face goes on doing what it does; a unit comes on top of it. So the room without units is the room as it
is, and any choice of units on any of the faces follows (see predict.py).
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

import fdtd
from fdtd.model.excitations import Place, Port, make_excitation
from fdtd.model.problem import Problem, build_problem
from fdtd.model.rooms import cover_of
from fdtd.ports.response import PortMatrices, PortSet, port_set
from fdtd.scene.schema import Absorber, Scene, Variant
from fdtd.simulation.stepper import simulate
from fdtd.simulation.transfer import transfer_functions

BATCH = 64
"""Excitations simulated at a time: enough to fill threads or a GPU, few enough that little is lost by a stop."""


class Store(Protocol):
    """Where finished batches are kept."""

    def load(self, key: str, number: int) -> NDArray[np.complex128] | None:
        """The batch of that number, if it is there."""
        ...

    def save(self, key: str, number: int, values: NDArray[np.complex128]) -> None:
        """Keep a finished batch."""
        ...


@dataclass(frozen=True, eq=False)
class CandidateResponse:
    """faces : the candidate faces; matrices : what sources and faces do to seats and faces; reused : share of the
    excitations that came from the store; key : hash of everything that the matrices depend on."""

    faces: PortSet
    matrices: PortMatrices
    reused: float
    key: str


def candidate_response(
    scene: Scene,
    variant: Variant,
    candidates: tuple[Absorber, ...],
    frequency: NDArray[np.float64],
    *,
    spacing: float,
    precision: str = "single",
    duration: float | None = None,
    store: Store | None = None,
    progress: Callable[[float, str], None] | None = None,
) -> CandidateResponse:
    """Measure all `candidates` (absorbers that are not in `variant`; what their device is does not matter).

    frequency : Hz, of the matrices; spacing : m; duration : s, or None until 60 dB down.
    """
    problem = candidate_problem(scene, variant, candidates, spacing)
    ports = candidate_ports(problem, candidates)
    top = scene.run.max_frequency
    faces = port_set(problem, ports, problem.time_step, top)
    template = make_excitation(scene, variant, problem, variant.sources[0].at)
    places: list[Place] = [*(source.at for source in variant.sources), *ports]
    readers: list[Place] = [*(seat.at for seat in variant.seats), *ports]
    key = _fingerprint(scene, variant, candidates, frequency, (spacing, precision, duration, BATCH))
    rows, reused = [], 0
    batches = [places[k : k + BATCH] for k in range(0, len(places), BATCH)]
    for number, batch in enumerate(batches):
        kept = store.load(key, number) if store is not None else None
        if kept is None:
            tell = _share(progress, number, len(batches))
            excitations = [replace(template, source=place) for place in batch]
            record = simulate(
                problem, excitations, readers, top, duration, precision=precision, progress=tell, sparse=True
            )
            kept = transfer_functions(record, frequency)
            if store is not None:
                store.save(key, number, kept)
        else:
            reused += len(batch)
        rows.append(kept)
    every = np.moveaxis(np.concatenate(rows), 2, 0)
    s, r = len(variant.sources), len(variant.seats)
    matrices = PortMatrices(frequency, every[:, :s, :r], every[:, :s, r:], every[:, s:, :r], every[:, s:, r:])
    return CandidateResponse(faces, matrices, reused / len(places), key)


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


def _share(
    progress: Callable[[float, str], None] | None, number: int, count: int
) -> Callable[[float, str], None] | None:
    if progress is None:
        return None
    return lambda done, message: progress((number + done) / count, f"batch {number + 1} of {count}, {message}")


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
