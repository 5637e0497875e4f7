"""Moving pictures of the sound in a scene: one simulation a geometry, then any signal through what it found."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from fdtd.analysis.response import combined_map, combined_transfer, free_field_reference
from fdtd.errors import FdtdError
from fdtd.listening.animation import Field, Plane, animation_axis, animation_spacing
from fdtd.listening.animation_signals import Signal
from fdtd.model.excitations import Excitation, by_geometry, make_excitation
from fdtd.model.problem import Problem, build_problem
from fdtd.results.result import CellGrid, RunResult
from fdtd.scene.schema import Scene, Variant
from fdtd.simulation.animation import AnimationRecord, animation_transfer, simulate_animation
from fdtd.simulation.compilation import Compilation
from fdtd.simulation.device import DOUBLE, Execution
from fdtd.simulation.progress import Progress, part
from fdtd.simulation.stepper import LONGEST

SIMULATION_SHARE = 0.8
"""Share of the progress that the simulation is counted as."""
MOST_BYTES = 500e6
"""Of the transfer functions of variants with the same cells."""
REACH = 0.1
"""s, how far a signal's band-limited parts reach beyond their time."""
NEAR_STORED = 0.1
"""Hz between a frequency that is asked for and one that is stored."""

Cut = tuple[int, float]
"""Axis and position, m, of a plane."""


def cut_cells(cells: CellGrid, cut: Cut) -> tuple[Plane, NDArray[np.int64]]:
    """The plane and the numbers of its cells; of those that share a place (cut by thin walls) the largest counts.

    cut : axis and m; a plane on an edge belongs to the layer above it, as in the maps.
    """
    axis, position = cut
    edges = cells.edges[axis]
    layer = int(np.clip(np.searchsorted(edges, position, side="right") - 1, 0, len(edges) - 2))
    first, second = (cells.edges[k] for k in range(3) if k != axis)
    place, chosen = cells.layer(axis, layer)
    return Plane(axis, position, (first, second), place), chosen


def animation_fields(
    scene: Scene,
    variants: Sequence[Variant],
    cuts: Sequence[Cut],
    signal: Signal,
    length: float,
    *,
    grid: float | None = None,
    execution: Execution = DOUBLE,
    progress: Progress | None = None,
) -> tuple[tuple[Field, ...], NDArray[np.float64], float]:
    """What each variant does to `signal` in the planes `cuts` and at its seats, for an animation of `length` s of
    sound.

    Returns the fields, the frequencies (Hz) of their transfer functions and the spacing (Hz) whose multiples these are.
    grid : m. Whether active units are stable is not looked into as a run does (`ports.units.check_units`).
    Raises StabilityError if the field is seen to grow, FdtdError if the animation would take too much memory.
    """
    longest = min(length, LONGEST) + REACH
    frequency = animation_axis(signal, scene.run.max_frequency, longest)
    found: dict[str, Field] = {}
    ready = Compilation(execution.precision)
    groups = by_geometry(variants)
    for number, group in enumerate(groups):
        tell = part(progress, number / len(groups), (number + 1) / len(groups))
        tell(0.0, "cutting the room into cells")
        problem = build_problem(scene, group[0], grid or scene.run.grid, tuple(group))
        ready.wait(tell)
        found.update(_group_fields(scene, problem, group, cuts, frequency, longest, execution, tell))
    return tuple(found[v.name] for v in variants), frequency, animation_spacing(signal, longest)


def _group_fields(
    scene: Scene,
    problem: Problem,
    variants: Sequence[Variant],
    cuts: Sequence[Cut],
    frequency: NDArray[np.float64],
    longest: float,
    execution: Execution,
    progress: Progress,
) -> dict[str, Field]:
    """The fields of variants that share their cells, from one simulation."""
    numbers: dict[Excitation, int] = {}
    shares = [
        [numbers.setdefault(make_excitation(scene, v, problem, s.at), len(numbers)) for s in v.sources]
        for v in variants
    ]
    places = list(dict.fromkeys(seat.at for v in variants for seat in v.seats))
    cells = CellGrid(problem.cells.edges, problem.cells.index.astype(np.int32), problem.cells.volume)
    planes, chosen = zip(*(cut_cells(cells, cut) for cut in cuts), strict=True)
    size = 8.0 * len(variants) * len(np.concatenate(chosen)) * len(frequency)
    if size > MOST_BYTES:
        raise FdtdError(
            f"the moving picture would need {size / 1e9:.1f} GB for what the room does in its planes, more than "
            f"{MOST_BYTES / 1e9:.1f} GB: choose larger cells (--grid) or a shorter animation (--seconds)"
        )
    record = simulate_animation(
        problem,
        list(numbers),
        np.concatenate(chosen),
        places,
        scene.run.max_frequency,
        longest,
        execution,
        part(progress, 0.0, SIMULATION_SHARE),
    )
    progress(SIMULATION_SHARE, "working out what any signal would do")
    return {
        v.name: Field(v.name, planes, _played(scene, v, record, share, frequency, places))
        for v, share in zip(variants, shares, strict=True)
    }


def _played(
    scene: Scene,
    variant: Variant,
    record: AnimationRecord,
    excitations: Sequence[int],
    frequency: NDArray[np.float64],
    places: Sequence,
) -> NDArray[np.complex64]:
    """(cell and seat of the variant, frequency) all its sources playing, relative to the free field at 1 m."""
    at_1_m = 4.0 * np.pi / scene.air.density  # m³/s² of a source that makes 1 Pa there (see free_field_reference)
    factor = np.asarray(at_1_m * np.array([source.playback(frequency) for source in variant.sources]), dtype=complex)
    return animation_transfer(record, frequency, factor, excitations, [places.index(seat.at) for seat in variant.seats])


def stored_fields(
    result: RunResult, numbers: Sequence[int], cuts: Sequence[Cut], tone: float
) -> tuple[tuple[Field, ...], float]:
    """Fields of a steady tone from a result's pressure maps, with one frequency each, which is also returned, Hz.

    numbers : of the result's variants. Raises FdtdError if no map is within 0.1 Hz of `tone` (Hz).
    """
    stored = result.map_frequency
    if len(stored) == 0 or np.min(np.abs(stored - tone)) > NEAR_STORED:
        there = ", ".join(f"{f:g}" for f in stored) or "none"
        raise FdtdError(
            f"--steady: this result has no pressure map at {tone:g} Hz; it has {there} (Hz). "
            f"Take one of these, or run the scene again with --frequencies {tone:g}."
        )
    row = int(np.argmin(np.abs(stored - tone)))
    frequency = float(stored[row])
    reference = free_field_reference(frequency, result.density) * 1j
    fields = []
    for number in numbers:
        variant = result.variants[number]
        planes, chosen = zip(*(cut_cells(variant.cells, cut) for cut in cuts), strict=True)
        whole = combined_map(variant.maps[:, [row]], variant.map_playback[:, [row]])[0]
        cells = [whole[picked] for picked in chosen]
        seats = _seats_at(result, number, frequency)
        fields.append(Field(variant.name, planes, (np.concatenate([*cells, seats]) / reference)[:, None]))
    return tuple(fields), frequency


def _seats_at(result: RunResult, number: int, frequency: float) -> NDArray[np.complex128]:
    """(seat,) pressure per volume velocity, all sources playing, between the stored frequencies."""
    variant = result.variants[number]
    both = combined_transfer(variant.transfer, variant.playback)
    return np.array([np.interp(frequency, result.frequency, row) for row in both])
