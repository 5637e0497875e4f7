"""What a placement search is given, and one design's response from it, the plain way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

Complex = NDArray[np.complex128]


@dataclass(frozen=True)
class Design:
    """Units on ports. ports : numbers from 0, rising; kinds, gains : of the unit on each, indices of `admittance`."""

    ports: tuple[int, ...] = ()
    kinds: tuple[int, ...] = ()
    gains: tuple[int, ...] = ()


class Limits(Protocol):
    """What keeps active units from oscillating."""

    def active(self, kind: int) -> bool:
        """Whether units of that kind can oscillate."""
        ...

    def critical(self, ports: Sequence[int], kinds: Sequence[int]) -> float:
        """Gain at which these units, all at the same gain, start to oscillate."""
        ...


@dataclass(frozen=True)
class SearchInput:
    """The room's matrices and the devices to be tried.

    frequency : (F,) Hz, rising
    untreated : (F, seat) relative to free field at 1 m, without units, sources combined; driven : (F, port) likewise
    seats_from_ports : (F, port, seat), ports_from_ports : (F, port driven, port seen), Pa/(m³/s)
    admittance : (kind, gain, F, port) m³/(s Pa), volume velocity taken per pressure of the port; (choice, F, port) is
    read as kinds with one gain each
    excludes : (port, port) bool, pairs that cannot be built at once (their faces overlap), and on the diagonal ports
    that cannot be used at all; None: all can
    seat_weight : (seat,), relative; None: all alike
    count : (kind,) most units of each kind, None in it for any number; None: any number of each
    price, budget : (kind,) of one unit, and the most that the units of a design may cost together; None: any sum
    limits, gains, margin : designs whose units oscillate at `margin` times their gain are left out; gains : (gain,)
    of the kinds that can oscillate; None: nothing is left out

    Raises ValueError if the shapes do not agree or nothing is left to weigh.
    """

    frequency: NDArray[np.float64]
    untreated: Complex
    driven: Complex
    seats_from_ports: Complex
    ports_from_ports: Complex
    admittance: Complex
    excludes: NDArray[np.bool_] | None = None
    seat_weight: NDArray[np.float64] | None = None
    count: Sequence[int | None] | None = None
    price: Sequence[float] | None = None
    budget: float | None = None
    limits: Limits | None = None
    gains: Sequence[float] = ()
    margin: float = 1.0
    shape: tuple[int, int] = field(init=False)
    """(kinds, gains)"""

    def __post_init__(self) -> None:
        if self.admittance.ndim == 3:
            object.__setattr__(self, "admittance", self.admittance[:, None])
        kinds, gains = self.admittance.shape[:2]
        object.__setattr__(self, "shape", (kinds, gains))
        f, ports, seats = len(self.frequency), self.driven.shape[1], self.untreated.shape[1]
        wanted = {
            "untreated": (f, seats),
            "driven": (f, ports),
            "seats_from_ports": (f, ports, seats),
            "ports_from_ports": (f, ports, ports),
            "admittance": (kinds, gains, f, ports),
            "excludes": (ports, ports),
            "seat_weight": (seats,),
            "count": (kinds,),
            "price": (kinds,),
        }
        for name, shape in wanted.items():
            value = getattr(self, name)
            if value is not None and np.shape(value) != shape:
                raise ValueError(f"{name} is of shape {np.shape(value)}, not {shape}")
        if self.seat_weight is not None and not (np.min(self.seat_weight) >= 0.0 < np.max(self.seat_weight)):
            raise ValueError(f"seat weights must be 0 or more and not all 0, not {self.seat_weight}")

    @property
    def weights(self) -> NDArray[np.float64]:
        """(seat,) weights, 1 where none are given."""
        return (
            np.ones(self.untreated.shape[1]) if self.seat_weight is None else np.asarray(self.seat_weight, dtype=float)
        )

    def affordable(self, kinds: Sequence[int]) -> bool:
        """Whether units of these kinds together are within the budget."""
        if self.price is None or self.budget is None:
            return True
        return sum(self.price[kind] for kind in kinds) <= self.budget * (1.0 + 1e-12)

    @property
    def usable(self) -> NDArray[np.bool_]:
        """(port,) those that a unit can be put on."""
        if self.excludes is None:
            return np.ones(self.driven.shape[1], dtype=bool)
        return np.asarray(~self.excludes.diagonal())

    def within(self, band: tuple[float, float]) -> SearchInput:
        """The same at the frequencies within `band`, Hz. Raises ValueError if fewer than two are left."""
        inside = (self.frequency >= band[0] - 1e-9) & (self.frequency <= band[1] + 1e-9)
        if inside.sum() < 2:
            raise ValueError(f"{inside.sum()} frequencies lie within {band[0]:g}-{band[1]:g} Hz; at least 2 are needed")
        if inside.all():
            return self
        return replace(
            self,
            frequency=self.frequency[inside],
            untreated=self.untreated[inside],
            driven=self.driven[inside],
            seats_from_ports=self.seats_from_ports[inside],
            ports_from_ports=self.ports_from_ports[inside],
            admittance=self.admittance[:, :, inside],
        )


def design_response(given: SearchInput, design: Design) -> Complex:
    """(F, seat), like `untreated`, with the units of `design`: p = p_0 - G D (1 + Z D)⁻¹ z_s."""
    if not design.ports:
        return given.untreated
    at = list(design.ports)
    picked = zip(design.kinds, design.gains, at, strict=True)
    y = np.stack([given.admittance[kind, gain, :, port] for kind, gain, port in picked], axis=-1)
    between = np.swapaxes(given.ports_from_ports[:, np.array(at)[:, None], at], 1, 2)
    system = np.eye(len(at)) + between * y[:, None, :]
    pressure = np.linalg.solve(system, given.driven[:, at, None])[:, :, 0]
    return np.asarray(given.untreated - np.einsum("fa,fas->fs", y * pressure, given.seats_from_ports[:, at]))
