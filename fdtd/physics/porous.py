"""Porous materials as equivalent fluids with a rigid skeleton, and the porous layer on a rigid wall."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from numpy.typing import ArrayLike

from fdtd.physics import layers
from fdtd.physics.bounds import more_than_zero, zero_or_more
from fdtd.physics.layers import ComplexArray, Fluid
from fdtd.physics.medium import Medium

POROSITY = 0.95
"""Open share of the volume taken where none is given; mineral wool and foam have 0.92 to 0.99 (common practice)."""

TORTUOSITY = 1.0
"""Tortuosity taken where none is given; fibrous materials have 1.0 to 1.1 (common practice)."""


def johnson_champoux_allard(
    frequency: ArrayLike,
    medium: Medium,
    flow_resistivity: float,
    porosity: float = POROSITY,
    tortuosity: float = TORTUOSITY,
) -> Fluid:
    """Porous material by Johnson, Champoux and Allard, right at both ends of the frequency axis.

    frequency : Hz; flow_resistivity : Pa·s/m²; porosity : open share of the volume, at most 1; tortuosity : at least 1.
    At low frequency it turns into a flow resistance and isothermal air, at high frequency into air slowed down by the
    square root of the tortuosity. Characteristic lengths: `characteristic_lengths`.
    Sources: D. L. Johnson, J. Koplik, R. Dashen, J. Fluid Mech. 176 (1987) 379-402 (density); Y. Champoux, J. F.
    Allard, J. Appl. Phys. 70 (1991) 1975-1979 (bulk modulus); both in Allard and Atalla (2009), ch. 5.
    """
    omega = 2.0 * np.pi * np.asarray(frequency, dtype=float)
    viscous, thermal = characteristic_lengths(medium, flow_resistivity, porosity, tortuosity)
    drag = flow_resistivity * porosity
    inertia = omega * medium.density
    bend = np.sqrt(1.0 + 4j * tortuosity**2 * medium.viscosity * inertia / (drag * viscous) ** 2)
    density = tortuosity * medium.density / porosity * (1.0 + drag / (1j * inertia * tortuosity) * bend)
    heat = medium.prandtl * inertia * thermal**2 / medium.viscosity
    local_search = 1.0 + 8.0 / (1j * heat) * np.sqrt(1.0 + 1j * heat / 16.0)
    modulus = medium.bulk_modulus / porosity / (medium.heat_ratio - (medium.heat_ratio - 1.0) / local_search)
    return Fluid(np.sqrt(density * modulus), omega * np.sqrt(density / modulus))


def characteristic_lengths(
    medium: Medium, flow_resistivity: float, porosity: float, tortuosity: float
) -> tuple[float, float]:
    """Viscous and thermal characteristic length, m, where they were not measured.

    Viscous: that of round pores with the same flow resistivity, sqrt(8 eta tortuosity/(sigma porosity)). Thermal: twice
    as long, as for thin fibres across the flow. Sources: Allard and Atalla (2009), ch. 5; J. F. Allard, Y. Champoux,
    J. Acoust. Soc. Am. 91 (1992) 3346-3353, whose fibre formulas are these lengths at porosity and tortuosity 1.
    """
    viscous = float(np.sqrt(8.0 * medium.viscosity * tortuosity / (flow_resistivity * porosity)))
    return viscous, 2.0 * viscous


@dataclass(frozen=True)
class PorousLayer:
    """Porous layer on a rigid wall, or a gap of air in front of it.

    thickness, gap : m; flow_resistivity : Pa·s/m²; porosity : open share of the volume; tortuosity : at least 1.

    The material is that of Johnson, Champoux and Allard at every frequency, not Miki's: 20 to 200 Hz is rho f/sigma =
    0.0024 to 0.024 at 10,000 Pa·s/m², so Miki's formula is in its range (above 0.01) from 83 Hz only; at 5,000 Pa·s/m²
    from 42 Hz, at 30,000 from 250 Hz. The skeleton is taken as rigid: light wool of high
    resistivity moves with the air at the lowest frequencies and then absorbs less than this says. A gap is taken to be
    partitioned, or small against the wavelength, so that the layer reacts locally.
    Raises ValueError on numbers out of bounds.
    """

    kind: ClassVar[str] = "porous"

    thickness: float
    flow_resistivity: float
    gap: float = 0.0
    porosity: float = POROSITY
    tortuosity: float = TORTUOSITY

    def __post_init__(self) -> None:
        owner = "porous layer"
        more_than_zero(owner, "thickness", self.thickness, "m")
        more_than_zero(owner, "flow resistivity", self.flow_resistivity, "Pa·s/m²")
        zero_or_more(owner, "gap to the wall", self.gap, "m")
        if not 0.0 < self.porosity <= 1.0:
            raise ValueError(f"{owner}: porosity must be more than 0 and at most 1, found {self.porosity!r}")
        if not 1.0 <= self.tortuosity < float("inf"):
            raise ValueError(f"{owner}: tortuosity must be 1 or more, found {self.tortuosity!r}")

    def admittance(self, frequency: ArrayLike, medium: Medium) -> ComplexArray:
        """Specific admittance of the face at normal incidence, m/(Pa·s), at `frequency` in Hz; the shape of that."""
        behind = layers.admittance_in_front(layers.air(frequency, medium), self.gap)
        material = johnson_champoux_allard(frequency, medium, self.flow_resistivity, self.porosity, self.tortuosity)
        return layers.admittance_in_front(material, self.thickness, behind)
