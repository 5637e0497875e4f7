"""Active units before a run: are they stable where they stand, and how loud may it get before they run out?"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from fdtd.errors import StabilityError
from fdtd.model.excitations import Diaphragm
from fdtd.model.problem import Problem
from fdtd.physics.active import ActiveUnit
from fdtd.ports.candidate_limits import loop_top
from fdtd.ports.predict import face_velocities, seat_transfer
from fdtd.ports.response import PortResponse, diaphragms_of, port_response
from fdtd.ports.stability import Stability, stability
from fdtd.scene.schema import Absorber, Device, Scene, Source, Variant
from fdtd.simulation.device import DOUBLE, Execution

BANDS = 1000.0 * 10.0 ** (np.arange(-17, -7) / 10.0)
"""Third-octave mid frequencies from 20 to 160 Hz (IEC 61260-1, base ten)."""
REFERENCE = 20e-6
"""Pa, of sound pressure levels."""
SAFE = 0.7
"""Share of the critical gain (3 dB below it) that is named as safe."""


@dataclass(frozen=True, eq=False)
class UnitFigures:
    """One active unit in one variant, at its gain.

    stability : of all units of the variant together
    band : (band,) Hz; stroke_level, drive_level : (band,) dB, sound pressure level (mean of the seats' energy, and of
    the band) of a tone in the band at which the diaphragm's stroke or the amplifier's current reaches its limit; NaN
    without a limit
    """

    name: str
    gain: float
    stability: Stability
    band: NDArray[np.float64]
    stroke_level: NDArray[np.float64]
    drive_level: NDArray[np.float64]


def active_absorbers(variant: Variant) -> tuple[Absorber, ...]:
    """The absorbers of a variant whose electronics are on."""
    active = {d.name for d in variant.devices if d.control is not None}
    return tuple(a for a in variant.absorbers if a.device in active and a.gain > 0.0)


def check_units(
    scene: Scene,
    problem: Problem,
    variants: list[Variant],
    progress: Callable[[float, str], None] | None = None,
    known: dict[Variant, PortResponse] | None = None,
    execution: Execution = DOUBLE,
) -> dict[str, tuple[UnitFigures, ...]]:
    """Figures of the active units of each of `variants` (which share `problem`), by the variant's name.

    known : rooms that were measured already, for calls that differ in gains only; what is measured is added.

    Raises StabilityError for a variant whose units would oscillate, naming the gain at which they would not.
    """
    known = {} if known is None else known
    found: dict[str, tuple[UnitFigures, ...]] = {}
    for variant in variants:
        units = active_absorbers(variant)
        found[variant.name] = ()
        if not units:
            continue
        names = tuple(a.name for a in units)
        top = _top(scene, problem, variant, units)
        # Gains and how the sources are played change nothing in the room with the units rigid.
        absorbers = tuple(_plain(a, names) for a in variant.absorbers)
        sources = tuple(Source(s.name, s.at) for s in variant.sources)
        key = replace(variant, name="", changes="", absorbers=absorbers, sources=sources)
        if key not in known:
            known[key] = port_response(
                scene, variant, problem, names, top=top / 0.95, progress=progress, execution=execution
            )
        response = known[key]
        diaphragms = diaphragms_of(scene, variant, problem, names)
        verdict = stability(response, diaphragms, top)
        if not verdict.stable:
            raise StabilityError(_refusal(variant, units, verdict))
        found[variant.name] = _figures(scene, variant, units, response, diaphragms, verdict)
    return found


def _plain(absorber: Absorber, names: tuple[str, ...]) -> Absorber:
    return replace(absorber, gain=1.0) if absorber.name in names else absorber


def _device(variant: Variant, absorber: Absorber) -> Device:
    return next(d for d in variant.devices if d.name == absorber.device)


def _top(scene: Scene, problem: Problem, variant: Variant, units: tuple[Absorber, ...]) -> float:
    """Highest frequency that stability is looked at, Hz. Raises StabilityError if the cells are too large for it."""
    devices = [_device(variant, unit) for unit in units]
    top, needed = loop_top(devices, scene.run.max_frequency, problem.time_step)
    if top < needed:
        raise StabilityError(
            f"variant '{variant.name}': with cells so large, the stability of {_named(units)} can be judged up to "
            f"{top:.0f} Hz only, and {needed:.0f} Hz are needed; choose a finer grid, or a lower band_high"
        )
    return top


def _named(units: tuple[Absorber, ...]) -> str:
    return ", ".join(f"'{a.name}' (gain {a.gain:g})" for a in units)


def _refusal(variant: Variant, units: tuple[Absorber, ...], verdict: Stability) -> str:
    limits = ", ".join(f"{verdict.critical * a.gain:.2g}" for a in units)
    safe = ", ".join(f"{SAFE * verdict.critical * a.gain:.2g}" for a in units)
    where = f"at about {verdict.frequency:.0f} Hz" if np.isfinite(verdict.frequency) else "above its band"
    would = "would" if np.isfinite(verdict.frequency) else "might"
    designs = [_device(variant, a).design for a in units]
    built = " Or shorten its delay, or raise its target_resistance or target_share."
    return (
        f"variant '{variant.name}': {_named(units)} {would} oscillate {where}: stable only up to gain {limits}. "
        f"Set gain to {safe} or less (3 dB below that), or stand it elsewhere."
        + (built if any(isinstance(d, ActiveUnit) for d in designs) else "")
    )


def _figures(
    scene: Scene,
    variant: Variant,
    units: tuple[Absorber, ...],
    response: PortResponse,
    diaphragms: tuple[Diaphragm, ...],
    verdict: Stability,
) -> tuple[UnitFigures, ...]:
    edges = (BANDS[0] * 10.0**-0.05, BANDS[-1] * 10.0**0.05)
    frequency = np.geomspace(*edges, 40 * len(BANDS))
    matrices = response.at(frequency)
    playback = np.stack([source.playback(frequency) for source in variant.sources])
    seats = np.einsum("srf,sf->rf", seat_transfer(response, matrices, diaphragms), playback)
    pressure = _band_sums(np.mean(np.abs(seats) ** 2, axis=0))
    velocity = np.einsum("fsa,sf->af", face_velocities(response, matrices, diaphragms), playback)
    found = []
    for unit, v, area in zip(units, velocity, response.area, strict=True):
        design = _device(variant, unit).design
        stroke = drive = np.full(len(BANDS), np.nan)
        if isinstance(design, ActiveUnit):
            own = v * area / design.face_area
            stroke = _limit_level(design.largest_stroke, own / (2j * np.pi * frequency), pressure)
            y = design.admittance(frequency, scene.air.medium, unit.gain)
            current = design.current(frequency, scene.air.medium, unit.gain) * own / y
            drive = _limit_level(design.largest_current, current, pressure)
        found.append(UnitFigures(unit.name, unit.gain, verdict, BANDS, stroke, drive))
    return tuple(found)


def _band_sums(power: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(power.reshape(len(BANDS), -1).sum(axis=1))


def _limit_level(
    limit: float | None, response: NDArray[np.complex128], pressure: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Level at the seats, dB, at which sqrt(2) times the rms of `response` in a band is `limit` (a peak value)."""
    if limit is None:
        return np.full(len(BANDS), np.nan)
    rms = np.sqrt(_band_sums(np.abs(response) ** 2) / pressure)
    return np.asarray(20.0 * np.log10(limit / (np.sqrt(2.0) * rms) / REFERENCE))
