"""Empirical formulas of fibrous materials, independent of the model that the program uses: for comparison."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from fdtd.physics import layers
from fdtd.physics.layers import Fluid
from fdtd.physics.medium import Medium


def delany_bazley(frequency: ArrayLike, medium: Medium, flow_resistivity: float) -> Fluid:
    """Fibrous material by Delany and Bazley, for comparison. frequency : Hz; flow_resistivity : Pa·s/m².

    Made from measurements at 0.01 < rho f/sigma < 1; below that range a layer may come out active (Re Y < 0).
    Source: M. E. Delany, E. N. Bazley, Applied Acoustics 3 (1970) 105-116, in its form without units.
    """
    f = np.asarray(frequency, dtype=float)
    x = medium.density * f / flow_resistivity
    impedance = 1.0 + 0.0571 * x**-0.754 - 0.0870j * x**-0.732
    return _relative_to_air(f, medium, impedance, 1.0 + 0.0978 * x**-0.700 - 0.1890j * x**-0.595)


def miki(frequency: ArrayLike, medium: Medium, flow_resistivity: float) -> Fluid:
    """Fibrous material by Miki: Delany and Bazley's data refitted so that it stays passive. Hz; Pa·s/m².

    He claims no wider range than 0.01 < f/sigma < 1 m³/kg. Source: Y. Miki, J. Acoust. Soc. Jpn. (E) 11 (1990) 19-24.
    """
    f = np.asarray(frequency, dtype=float)
    x = 1000.0 * f / flow_resistivity
    return _relative_to_air(f, medium, 1.0 + (5.50 - 8.43j) * x**-0.632, 1.0 + (7.81 - 11.41j) * x**-0.618)


def _relative_to_air(f: ArrayLike, medium: Medium, impedance: ArrayLike, wavenumber: ArrayLike) -> Fluid:
    """The fluid from its impedance over rho c and its wavenumber over omega/c."""
    air = layers.air(f, medium)
    return Fluid(air.impedance * np.asarray(impedance), air.wavenumber * np.asarray(wavenumber))
