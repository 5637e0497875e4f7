"""Units: a device with its face and its size, and how much of the sound in a room it takes in."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fdtd.physics.active import ActiveUnit
from fdtd.physics.admittance import admittance
from fdtd.physics.design import Design
from fdtd.physics.medium import Medium
from fdtd.physics.radiation import equivalent_absorption_area, largest_absorption_area
from fdtd.scene.schema import Absorber, Device, Scene, Variant

BANDS = (31.5, 40.0, 50.0, 63.0, 80.0, 100.0, 125.0, 160.0)
"""Hz, centres of third-octave bands."""
_IN_BAND = np.geomspace(2.0 ** (-1.0 / 6.0), 2.0 ** (1.0 / 6.0), 41)


ABOVE_FLOOR = 0.1
"""m; a cabinet that begins higher stands on something else, and takes no floor of its own."""


@dataclass(frozen=True, eq=False)
class Unit:
    """An absorber of a scene by itself.

    name : of the absorber, with that of its variant where it differs between variants; plain_name : without;
    others : absorbers just like it; width, height : m, of its face; face_area : m² that moves
    litres : room taken; footprint : m² of floor; None where the scene does not tell
    """

    name: str
    device: Device
    gain: float
    width: float
    height: float
    face_area: float
    litres: float | None
    footprint: float | None
    medium: Medium
    plain_name: str = ""
    others: tuple[str, ...] = ()

    @property
    def design(self) -> Design | None:
        """Its build-up, if it was given as one."""
        return self.device.design

    @property
    def active(self) -> bool:
        """Whether electronics drive it, so that it can be switched off."""
        return self.device.control is not None and bool(self.device.branches)

    @property
    def box(self) -> tuple[object, ...]:
        """Equal for units that are the same when switched off, whatever their gain."""
        return (self.device.name, self.width, self.height, self.litres)

    def admittance(self, frequency: ArrayLike, off: bool = False) -> NDArray[np.complex128]:
        """Specific admittance per area that moves, as the simulation uses it, m/(Pa·s); off : switched off."""
        passive = admittance(self.device.branches, frequency)
        if self.device.control is None:
            return (0.0 if off else self.gain) * passive
        return passive if off else passive + self.gain * self.device.control.admittance(frequency)

    def area(self, frequency: ArrayLike, corner: bool = False, off: bool = False) -> NDArray[np.float64]:
        """Equivalent absorption area, m², at `frequency` in Hz, on a wall or in a corner of three walls."""
        f = np.asarray(frequency, dtype=float)
        y = self.admittance(f, off)
        return equivalent_absorption_area(y, self.face_area, self.width, self.height, f, self.medium, corner)

    def band_area(self, corner: bool = False, off: bool = False) -> NDArray[np.float64]:
        """The same as means over the third-octave bands `BANDS`."""
        return self.area(np.outer(BANDS, _IN_BAND), corner, off).mean(axis=1)

    def runs_out(self, frequency: ArrayLike) -> Iterator[tuple[str, NDArray[np.float64]]]:
        """(what is used up, pressure at the face in Pa rms at which it is) for every limit of an active unit."""
        if not isinstance(self.design, ActiveUnit) or self.gain == 0.0:
            return
        if self.design.largest_stroke is not None:
            yield "stroke", self.design.pressure_at_stroke(frequency, self.medium, self.gain)
        if self.design.largest_current is not None:
            yield "current", self.design.pressure_at_current(frequency, self.medium, self.gain)


def band_bound(medium: Medium) -> NDArray[np.float64]:
    """Most that a small passive face absorbs, wavelength²/pi, m², as means over `BANDS`."""
    return largest_absorption_area(np.outer(BANDS, _IN_BAND), medium).mean(axis=1)


def scene_units(scene: Scene) -> tuple[Unit, ...]:
    """Every unit that differs from the others, in all variants; those that are switched off everywhere last.

    An absorber at gain 0 counts only if it has no other gain anywhere.
    """
    found: dict[tuple[object, ...], dict[str, tuple[str, Unit]]] = {}
    for variant in scene.variants:
        for absorber in variant.absorbers:
            unit = _unit(scene, variant, absorber)
            sizes = (unit.width, unit.height, unit.litres, unit.footprint)
            key = (unit.device.name, unit.gain, *(None if size is None else round(size, 6) for size in sizes))
            found.setdefault(key, {}).setdefault(unit.name, (variant.name, unit))
    every = [(name, unit) for uses in found.values() for name, (_, unit) in uses.items()]
    working = {name for name, unit in every if unit.gain > 0.0}
    kept = []
    for uses in found.values():
        names = [name for name, (_, unit) in uses.items() if unit.gain > 0.0 or name not in working]
        if names:
            kept.append((*uses[names[0]], tuple(names[1:])))
    count = Counter(unit.name for _, unit, _ in kept)
    return tuple(
        replace(unit, name=f"{unit.name} ({where})" if count[unit.name] > 1 else unit.name, others=others)
        for where, unit, others in kept
    )


def _unit(scene: Scene, variant: Variant, absorber: Absorber) -> Unit:
    device = next(d for d in variant.devices if d.name == absorber.device)
    width, height = (float(side) for side in np.subtract(absorber.rectangle.upper, absorber.rectangle.lower))
    litres, footprint = _size(variant, absorber, device.design, width, height)
    return Unit(
        absorber.name,
        device,
        absorber.gain,
        width,
        height,
        width * height if device.face_area is None else device.face_area,
        litres,
        footprint,
        scene.air.medium,
        absorber.name,
    )


def _size(
    variant: Variant, absorber: Absorber, design: Design | None, width: float, height: float
) -> tuple[float | None, float | None]:
    """(litres of room taken, m² of floor taken): of its cabinet, else of its build-up, else None."""
    cabinet = next((b for b in variant.blocks if b.name == f"{absorber.name} cabinet"), None)
    if cabinet is not None:
        x, y, z = np.subtract(cabinet.upper, cabinet.lower)
        stands = cabinet.lower[2] < ABOVE_FLOOR
        return float(1000.0 * x * y * z), float(x * y) if stands else 0.0
    depth = _depth(design)
    floor = {"floor": width * height, "ceiling": 0.0}.get(absorber.on, None if depth is None else width * depth)
    return _box_litres(design) if depth is None else 1000.0 * width * height * depth, floor


def _depth(design: Design | None) -> float | None:
    """Depth in m of a build-up that is as large as its face."""
    kind, thickness = getattr(design, "kind", ""), getattr(design, "thickness", 0.0)
    if kind == "porous":
        return float(thickness + design.gap)  # type: ignore[union-attr]
    return float(design.depth + thickness) if kind in ("plate", "perforated", "slotted") else None  # type: ignore[union-attr]


def _box_litres(design: Design | None) -> float | None:
    """Litres of air of a build-up with a volume of its own."""
    box, volume = getattr(design, "box_volume", None), getattr(design, "volume", None)
    if box is not None:
        return float(1000.0 * box * design.count)  # type: ignore[union-attr]
    return None if volume is None else float(1000.0 * volume)
