"""The placement study: measure every candidate place once, then score every choice of units on them.

    candidates -> matrices (one simulation, kept on disk) -> search -> the best of each count

What a study is sure of (robust.py) and the simulation that confirms its winner come after it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fdtd.analysis.response import free_field_reference
from fdtd.errors import FdtdError
from fdtd.model.excitations import Diaphragm, diaphragm_of
from fdtd.placement.search import Scored, SearchResult, Table, search
from fdtd.placement.steps import Step, steps
from fdtd.placement.study import Design, SearchInput
from fdtd.ports.candidate_limits import CandidateLimits
from fdtd.ports.candidates import CandidateResponse, LoopMatrices, Store, candidate_response
from fdtd.ports.predict import port_admittance
from fdtd.ports.response import PortMatrices, PortSet
from fdtd.results.placement_record import Unit
from fdtd.scene.schema import Device, Scene, Spots, Variant
from fdtd.scene.spots import Candidate, candidates
from fdtd.simulation.compilation import Compilation
from fdtd.simulation.device import SINGLE, Execution
from fdtd.simulation.progress import Progress, part
from fdtd.study.settling import settling_time

LOWEST, STEP = 15.0, 0.25
"""Hz, frequencies of the matrices: from the lowest up to a little above the band that is scored."""
HIGHEST = 165.0
ENOUGH_MARGIN = 3.0
"""dB of gain that must be left before a unit oscillates (common practice)."""
SEARCH_SHARE = 0.25
"""Share of the progress that the search is counted as."""


@dataclass(frozen=True, eq=False)
class PlacementStudy:
    """spots : what was asked; places : the candidates; response : their matrices; given : what the search was given
    found : its outcome; added : the best of each count with what it adds; spacing : m, cells of the simulation."""

    scene: Scene
    spots: Spots
    places: tuple[Candidate, ...]
    response: CandidateResponse
    given: SearchInput
    found: SearchResult
    added: tuple[Step, ...]
    spacing: float

    @property
    def variant(self) -> Variant:
        """The room without units."""
        return self.spots.start

    def units(self, design: Design) -> tuple[tuple[Candidate, Device, float], ...]:
        """Place, device and gain of every unit of a design; a device without control has only gain 1."""
        return units_on(self.spots, self.places, design)


Units = Sequence[tuple[Candidate, Device, float]]
"""Place, device and gain of each unit of a design."""


def units_on(spots: Spots, places: Sequence[Candidate], design: Design) -> tuple[tuple[Candidate, Device, float], ...]:
    """Place, device and gain of every unit of a design; a device without control has only gain 1."""
    return tuple(
        (places[port], spots.devices[kind], gain_of(spots.devices[kind], spots.gains[gain]))
        for port, kind, gain in zip(design.ports, design.kinds, design.gains, strict=True)
    )


def place(
    scene: Scene,
    *,
    grid: float | None = None,
    execution: Execution = SINGLE,
    most: int | None = None,
    store: Store | None = None,
    progress: Progress | None = None,
) -> PlacementStudy:
    """The whole study of `scene.spots`.

    grid : m; most : units at once (default: the scene's count); store : where finished batches are kept
    Raises FdtdError if the scene has no [spots] or no candidate place is left.
    """
    spots = scene.spots
    if spots is None:
        raise FdtdError("the scene has no [spots]: say there which unit to try, and on which surfaces (docs/scene.md)")
    places = candidates(scene)
    if not places:
        raise FdtdError("no candidate place is left: widen the height range or the surfaces in [spots]")
    if all(device.control is None for device in spots.devices):
        spots = replace(spots, gains=(1.0,))
    report = part(progress, 0.0, 1.0)
    spacing = grid or scene.run.grid
    report(0.0, "how long does the room ring?")
    duration = scene.run.duration or settling_time(scene, spots.start, spacing, report, execution)
    Compilation(execution.precision).wait(report)
    response = candidate_response(
        scene,
        spots.start,
        tuple(p.absorber("") for p in places),
        frequencies(scene),
        spacing=spacing,
        execution=execution,
        duration=duration,
        active=[device for device in spots.devices if device.control is not None],
        store=store,
        progress=part(progress, 0.0, 1.0 - SEARCH_SHARE),
    )
    given = search_input(scene, spots, places, response.faces, response.matrices, response.loops)
    found = search(given, most or spots.count, progress=part(progress, 1.0 - SEARCH_SHARE, 1.0))
    found = _each_once(found, spots)
    return PlacementStudy(scene, spots, places, response, given, found, steps(found), spacing)


def _each_once(found: SearchResult, spots: Spots) -> SearchResult:
    """Without designs that differ only in the gain of devices that have none."""
    passive = np.array([device.control is None for device in spots.devices])
    if len(spots.gains) == 1 or not passive.any():
        return found
    table = found.singles
    keep = ~(passive[table.kinds[:, 0]] & (table.gains[:, 0] > 0))
    rows = (table.ports[keep], table.kinds[keep], table.gains[keep], table.figures[keep], table.benefit[keep])

    def once(listed: tuple[Scored, ...]) -> tuple[Scored, ...]:
        seen: dict[object, Scored] = {}
        for scored in listed:
            d = scored.design
            gains = tuple(0 if passive[kind] else gain for kind, gain in zip(d.kinds, d.gains, strict=True))
            seen.setdefault((d.ports, d.kinds, gains), scored)
        return tuple(seen.values())

    pareto = once(found.pareto)
    size = found.pareto_size - (len(found.pareto) - len(pareto))
    return replace(found, best=once(found.best), singles=Table(*rows), pareto=pareto, pareto_size=size)


def frequencies(scene: Scene) -> NDArray[np.float64]:
    """Hz, of the matrices."""
    top = min(HIGHEST, scene.run.max_frequency)
    return np.asarray(LOWEST + STEP * np.arange(int((top - LOWEST) / STEP) + 1), dtype=float)


def search_input(
    scene: Scene,
    spots: Spots,
    places: tuple[Candidate, ...],
    faces: PortSet,
    m: PortMatrices,
    loops: LoopMatrices | None = None,
) -> SearchInput:
    """What the search needs of the measured room: sources combined, devices as admittances at every place."""
    playback = played(spots.start, m.frequency, scene.air.density)
    numbers = {p.number: k for k, p in enumerate(places)}
    excludes = np.zeros((len(places), len(places)), dtype=bool)
    for k, p in enumerate(places):
        excludes[k, [numbers[n] for n in p.excludes if n in numbers]] = True
    return SearchInput(
        frequency=m.frequency,
        untreated=np.einsum("fsr,sf->fr", m.seats_from_sources, playback),
        driven=np.einsum("fsa,sf->fa", m.ports_from_sources, playback),
        seats_from_ports=m.seats_from_ports,
        ports_from_ports=m.ports_from_ports,
        admittance=np.array(
            [
                [
                    port_admittance(faces, m.frequency, diaphragms(faces, device, gain_of(device, gain), places))
                    for gain in spots.gains
                ]
                for device in spots.devices
            ]
        ),
        excludes=excludes | excludes.T,
        limits=limits(spots, places, faces, loops),
        gains=spots.gains,
        margin=10.0 ** (ENOUGH_MARGIN / 20.0),
        seat_weight=np.array(scene.seat_weights(spots.start.seats)),
        price=None if spots.budget is None else [device.price or 0.0 for device in spots.devices],
        budget=spots.budget,
    )


def limits(
    spots: Spots, places: tuple[Candidate, ...], faces: PortSet, loops: LoopMatrices | None
) -> CandidateLimits | None:
    """Critical gains of the units on the places; None without active units, or where the cells are too large."""
    if loops is None:
        return None
    devices = [faces.simulated(diaphragms(faces, device, 1.0, places)) for device in spots.devices]
    return CandidateLimits(faces, loops.duration, loops.between, devices)


def gain_of(device: Device, gain: float) -> float:
    """The gain that `device` runs at where `gain` is to be tried: one without control has no gain to be set."""
    return gain if device.control is not None else 1.0


def played(variant: Variant, frequency: NDArray[np.float64], density: float) -> NDArray[np.complex128]:
    """(source, frequency) factor on transfer functions that makes them relative to free field at 1 m."""
    flat = 1j * free_field_reference(frequency, density)
    return np.stack([source.playback(frequency) for source in variant.sources]) / flat


def diaphragms(faces: PortSet, device: Device, gain: float, places: tuple[Candidate, ...]) -> tuple[Diaphragm, ...]:
    """The device at `gain` on every place."""
    on = zip(places, faces.ports, strict=True)
    return tuple(diaphragm_of(place.absorber(device.name, gain), device, port) for place, port in on)


def units_of(study: PlacementStudy, design: Design) -> tuple[Unit, ...]:
    """The units of a design as the result file has them."""
    return tuple(Unit(place.number, device.name, gain) for place, device, gain in study.units(design))


def with_units(study: PlacementStudy, design: Design, name: str) -> Variant:
    """The room of the study with the units of `design` built in, cabinets and all."""
    return built_in(study.variant, study.units(design), name)


def built_in(start: Variant, units: Units, name: str) -> Variant:
    """`start` with units built in, cabinets and all."""
    absorbers, blocks = list(start.absorbers), list(start.blocks)
    devices = {d.name: d for d in start.devices}
    for place, device, gain in units:
        devices[device.name] = device
        standing = place.standing(device.name, gain)
        if standing is None:
            absorbers.append(place.absorber(device.name, gain))
        else:
            absorbers.append(standing[0])
            blocks.append(standing[1])
    return replace(
        start,
        name=name,
        absorbers=tuple(absorbers),
        blocks=tuple(blocks),
        devices=tuple(devices.values()),
        changes="",
    )
