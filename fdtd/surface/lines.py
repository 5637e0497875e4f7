"""An admittance over frequency, and what it does to plane waves."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fdtd.library.origins import FAR_APART, apart
from fdtd.physics.admittance import Branches, admittance, diffuse_absorption, normal_absorption
from fdtd.physics.control import StateSpace
from fdtd.physics.design import Band, Design, Fit
from fdtd.physics.medium import Medium

FREQUENCIES = (20.0, 25.0, 31.5, 40.0, 50.0, 63.0, 80.0, 100.0, 125.0, 160.0, 200.0)
"""Hz of the tables: nominal centres of third-octave bands (IEC 61260-1)."""

FINE: NDArray[np.float64] = np.arange(15.0, 250.1, 0.5)
"""Hz of drawings and files."""

Admittance = Callable[[NDArray[np.float64]], NDArray[np.complex128]]
"""Frequency in Hz -> specific admittance, m/(Pa·s), of the same shape."""


@dataclass(frozen=True, eq=False)
class Line:
    """One way to the admittance of a surface; known from `low` to `high` Hz, NaN outside.

    label : in words; of : its specific admittance; impedance : rho c, Pa·s/m
    """

    label: str
    of: Admittance
    impedance: float
    low: float = 0.0
    high: float = np.inf

    def ratio(self, frequency: ArrayLike) -> NDArray[np.complex128]:
        """Complex rho c Y at `frequency` in Hz (> 0), its shape."""
        f = np.asarray(frequency, dtype=float)
        known = (f >= self.low * (1.0 - 1e-9)) & (f <= self.high * (1.0 + 1e-9))
        return np.where(known, self.of(f) * self.impedance, complex(np.nan, np.nan))

    def normal(self, frequency: ArrayLike) -> NDArray[np.float64]:
        """Absorption at normal incidence."""
        return normal_absorption(self.ratio(frequency))

    def random(self, frequency: ArrayLike) -> NDArray[np.float64]:
        """Absorption at random incidence, each point of the surface moving by itself."""
        return diffuse_absorption(self.ratio(frequency))

    def reflection(self, frequency: ArrayLike) -> NDArray[np.float64]:
        """Size of the reflection factor at normal incidence, |1 - beta|/|1 + beta| (Kuttruff, Room Acoustics, 2)."""
        beta = self.ratio(frequency)
        with np.errstate(invalid="ignore"):  # NaN where the line is not known
            return np.asarray(np.abs((1.0 - beta) / (1.0 + beta)))


@dataclass(frozen=True, eq=False)
class Subject:
    """A material or a device with all that is known of it.

    used : what the simulation uses; origin : what that comes from (theory, a table), None if it was given as branches;
    others : further lines to compare with; bands : printed random-incidence absorption and what `used` absorbs
    error : largest difference of absorption between used and origin, of the kind `error_of`; None without an origin,
    and then `error_of` says why if it is not for want of a fit
    facts : (name, value) in words: sources, notes; disagreement : where two origins absorb unlike, in words
    """

    name: str
    kind: str
    used: Line
    origin: Line | None = None
    others: tuple[Line, ...] = ()
    bands: tuple[Band, ...] = ()
    error: float | None = None
    error_of: str = ""
    facts: tuple[tuple[str, str], ...] = ()
    design: Design | None = None
    disagreement: str = ""

    @property
    def lines(self) -> tuple[Line, ...]:
        """All its lines, that of the simulation first."""
        return (self.used, *(() if self.origin is None else (self.origin,)), *self.others)


def branch_line(label: str, branches: Branches, medium: Medium, control: StateSpace | None = None) -> Line:
    """The line of `branches` and what a `control` adds to them."""

    def of(frequency: NDArray[np.float64]) -> NDArray[np.complex128]:
        added = 0.0 if control is None else control.admittance(frequency)
        return np.asarray(admittance(branches, frequency) + added, dtype=complex)

    return Line(label, of, medium.impedance)


def theory_line(label: str, design: Design, medium: Medium) -> Line:
    """The line of a build-up by its own theory."""
    return Line(label, lambda frequency: design.admittance(frequency, medium), medium.impedance)


def wanted_line(label: str, fit: Fit, medium: Medium) -> Line:
    """The line of what a fit was made for, between its frequencies linear in rho c Y over log f."""

    def of(frequency: NDArray[np.float64]) -> NDArray[np.complex128]:
        return np.asarray(np.interp(np.log(frequency), np.log(fit.frequency), fit.wanted) / medium.impedance)

    return Line(label, of, medium.impedance, float(fit.frequency[0]), float(fit.frequency[-1]))


def error_text(fit: Fit) -> str:
    """Of which absorption, and where, the error of a fit is."""
    if fit.bands:
        return f"random incidence, at the printed bands only: {', '.join(f'{b.frequency:g}' for b in fit.bands)} Hz"
    return f"normal incidence, {fit.frequency[0]:.0f} to {fit.frequency[-1]:.0f} Hz"


def runs(hit: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """First and last index of every run of True in `hit` (n,)."""
    change = np.flatnonzero(np.diff(np.concatenate(([0], hit.astype(int), [0]))))
    return [(int(a), int(b) - 1) for a, b in zip(change[::2], change[1::2], strict=True)]


def disagreement(one: Line, other: Line) -> str:
    """Where two lines absorb unlike at random incidence, in words; "" where they are within a factor of 2."""
    f = np.array(FREQUENCIES)
    a, b = one.random(f), other.random(f)
    found = apart(a, b)
    if found is None:
        return ""
    k, far = found.worst, [f"{f[a]:g} to {f[b]:g}" if b > a else f"{f[a]:g}" for a, b in runs(found.far)]
    where = " and ".join(filter(None, (", ".join(far[:-1]), far[-1])))
    return (
        f"The two origins disagree by more than a factor of {FAR_APART:g} at {where} Hz: at {f[k]:g} Hz "
        f"{one.label} gives a random-incidence absorption of {a[k]:.2g}, {other.label} {b[k]:.2g}."
    )
