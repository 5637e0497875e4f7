"""Units: a device with its face and its size, and how much of the sound in a room it takes in."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

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
    found: dict[tuple[object, ...], list[tuple[str, Variant, Absorber]]] = {}
    for variant in scene.variants:
        for absorber in variant.absorbers:
            key = _key(variant, absorber)
            if all(a.name != absorber.name for _, _, a in found.setdefault(key, [])):
                found[key].append((absorber.name, variant, absorber))
    working = {name for uses in found.values() for name, _, a in uses if a.gain > 0.0}
    kept = [[u for u in uses if u[2].gain > 0.0 or u[0] not in working] for uses in found.values()]
    kept = [uses for uses in kept if uses]
    count: dict[str, int] = {}
    for uses in kept:
        count[uses[0][0]] = count.get(uses[0][0], 0) + 1
    return tuple(_unit(scene, uses, count[uses[0][0]] > 1) for uses in kept)


def _key(variant: Variant, absorber: Absorber) -> tuple[object, ...]:
    (width, height), (litres, footprint) = _sides(absorber), _size(variant, absorber)
    sizes = tuple(None if v is None else round(v, 6) for v in (width, height, litres, footprint))
    return (absorber.device, absorber.gain, *sizes)


def _unit(scene: Scene, uses: list[tuple[str, Variant, Absorber]], text_apart: bool) -> Unit:
    name, variant, absorber = uses[0]
    device = next(d for d in variant.devices if d.name == absorber.device)
    width, height = _sides(absorber)
    litres, footprint = _size(variant, absorber)
    return Unit(
        f"{name} ({variant.name})" if text_apart else name,
        device,
        absorber.gain,
        width,
        height,
        width * height if device.face_area is None else device.face_area,
        litres,
        footprint,
        scene.air.medium,
        name,
        tuple(other for other, _, _ in uses[1:]),
    )


def _sides(absorber: Absorber) -> tuple[float, float]:
    low, high = absorber.rectangle.lower, absorber.rectangle.upper
    return high[0] - low[0], high[1] - low[1]


def _size(variant: Variant, absorber: Absorber) -> tuple[float | None, float | None]:
    """(litres of room taken, m² of floor taken): of its cabinet, else of its build-up, else None."""
    cabinet = next((b for b in variant.blocks if b.name == f"{absorber.name} cabinet"), None)
    if cabinet is not None:
        x, y, z = np.subtract(cabinet.upper, cabinet.lower)
        stands = cabinet.lower[2] < ABOVE_FLOOR
        return float(1000.0 * x * y * z), float(x * y) if stands else 0.0
    design = next(d for d in variant.devices if d.name == absorber.device).design
    width, height = _sides(absorber)
    depth = _depth(design)
    if depth is not None:
        floor = width * height if absorber.on == "floor" else 0.0 if absorber.on == "ceiling" else width * depth
        return 1000.0 * width * height * depth, floor
    return _box_litres(design), width * height if absorber.on == "floor" else 0.0 if absorber.on == "ceiling" else None


def _depth(design: Design | None) -> float | None:
    """Depth in m of a build-up that is as large as its face."""
    if design is None:
        return None
    if design.kind == "porous":
        return float(design.thickness + design.gap)  # type: ignore[attr-defined]
    if design.kind in ("plate", "perforated", "slotted"):
        return float(design.depth + getattr(design, "thickness", 0.0))  # type: ignore[attr-defined]
    return None


def _box_litres(design: Design | None) -> float | None:
    """Litres of air of a build-up with a volume of its own."""
    if design is None:
        return None
    box, volume = getattr(design, "box_volume", None), getattr(design, "volume", None)
    if box is not None:
        return float(1000.0 * box * design.count)  # type: ignore[attr-defined]
    return None if volume is None else float(1000.0 * volume)
