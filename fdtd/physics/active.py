"""Active absorber: a driver in a closed box whose current follows the pressure at its diaphragm.

Motion (v into the unit, a positive current pushes out):   Zm v = Sd p - Bl i
Controller (what it believes is marked '):                 i = G p (Sd Zst - Zm') / (Bl' Zst),  G = g H(w) exp(-j w T)
Target, Pa·s/m:                                            Zst = j w mu Mms'/Sd + Rst + mu K'/(j w Sd)
Face:    Y = Sd/Zm + G (Bl/Bl') (Zm' - Sd Zst) / (Zst Zm);   if ' is exact, Y = (1 - G) Sd/Zm + G/Zst

H is a Butterworth high-pass times a low-pass, K = 1/Cmc the stiffness of suspension and box.
Source: Rivet, Karkar and Lissek, Broadband low-frequency electroacoustic absorbers through hybrid sensor-/shunt-based
impedance control, IEEE Trans. Control Syst. Technol. 25(1), 2017, doi 10.1109/TCST.2016.2547981; filter, delay and
errors of the model are added here.
"""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass
from typing import ClassVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from fdtd.physics.admittance import Branch, Branches
from fdtd.physics.control import StateSpace
from fdtd.physics.driver_limits import check_mismatch, check_sizes
from fdtd.physics.drivers import ClosedBoxDriver, displacement, pressure_at_limit
from fdtd.physics.medium import Medium
from fdtd.physics.sections import Section, butterworth, delay_sections, second_order, series

DELAY_ERROR = 1e-3
"""Largest error of the rational stand-in for the controller's delay, relative, up to `DELAY_TOP` times `band_high`."""
DELAY_TOP = 4.0
HIGHEST_ORDER = 8
MOST_STATES = 100
"""States of filters, delay, controller and driver together; a long delay takes many."""
MISMATCHES = ("mismatch_mass", "mismatch_stiffness", "mismatch_resistance", "mismatch_force")


@dataclass(frozen=True)
class Resonator:
    """Mechanical impedance j w mass + resistance + stiffness / (j w); kg, N·s/m, N/m."""

    mass: float
    resistance: float
    stiffness: float

    def polynomial(self, s: NDArray[np.complex128]) -> NDArray[np.complex128]:
        """s times the impedance at `s`, 1/s; kept so that s = 0 is harmless."""
        return (self.mass * s + self.resistance) * s + self.stiffness


@dataclass(frozen=True)
class ActiveUnit:
    """A closed-box driver with microphone, controller and current amplifier; several are alike, each in its own box.

    The driver's fields are those of `ClosedBoxDriver`. target_resistance : Rst, Pa·s/m; target_share : mu, the share of
    the driver's mass and stiffness that is left; band_low, band_high : Hz, -3 dB points of the high-pass and the
    low-pass, each of order `band_order`; delay : s, of the controller; mismatch_* : relative errors of the controller's
    idea of moving mass, total stiffness, mechanical resistance and force factor (0.1: it believes 10 % too much);
    largest_stroke : m peak, of the diaphragm to one side; largest_current : A peak, per driver; None: no limit.
    Raises ValueError for values that no such unit has, most often a slip of the unit.
    """

    kind: ClassVar[str] = "active"

    diaphragm_area: float
    moving_mass: float
    suspension_compliance: float
    mechanical_resistance: float
    force_factor: float
    coil_resistance: float
    box_volume: float
    target_resistance: float
    target_share: float = 0.15
    band_low: float = 15.0
    band_high: float = 160.0
    band_order: int = 2
    delay: float = 0.0
    mismatch_mass: float = 0.0
    mismatch_stiffness: float = 0.0
    mismatch_resistance: float = 0.0
    mismatch_force: float = 0.0
    largest_stroke: float | None = None
    largest_current: float | None = None
    count: int = 1

    def __post_init__(self) -> None:
        values = asdict(self)
        check_sizes("active unit", values)
        for name in MISMATCHES:
            check_mismatch("active unit", name, values[name])
        if not self.band_low < self.band_high:
            raise ValueError(
                f"active unit: band_low = {self.band_low:g} Hz, band_high = {self.band_high:g} Hz: "
                "band_low must be the smaller"
            )
        if int(self.band_order) != self.band_order or not 1 <= self.band_order <= HIGHEST_ORDER:
            raise ValueError(
                f"active unit: band_order = {self.band_order}: must be a whole number from 1 to {HIGHEST_ORDER}"
            )
        _ = self.driver

    @property
    def driver(self) -> ClosedBoxDriver:
        """The driver in its box with open terminals."""
        return ClosedBoxDriver(
            diaphragm_area=self.diaphragm_area,
            moving_mass=self.moving_mass,
            suspension_compliance=self.suspension_compliance,
            mechanical_resistance=self.mechanical_resistance,
            force_factor=self.force_factor,
            coil_resistance=self.coil_resistance,
            box_volume=self.box_volume,
            count=self.count,
        )

    @property
    def face_area(self) -> float:
        """Moving area of all the drivers, m²."""
        return self.driver.face_area

    def passive(self, medium: Medium) -> Branches:
        """The unit powered off, its terminals open: one branch."""
        true, area = self._true(medium), self.diaphragm_area
        return (Branch(true.mass / area, true.resistance / area, true.stiffness / area),)

    def admittance(self, frequency: ArrayLike, medium: Medium, loop_gain: float = 1.0) -> NDArray[np.complex128]:
        """Specific admittance, m/(Pa·s), with the exact delay; `frequency` in Hz, its shape."""
        s = _laplace(frequency)
        per_force = s / self._true(medium).polynomial(s)
        passive = per_force * self.diaphragm_area
        return passive - per_force * self.force_factor * self.current(frequency, medium, loop_gain)

    def target_admittance(self, frequency: ArrayLike, medium: Medium) -> NDArray[np.complex128]:
        """1/Zst, m/(Pa·s): what the face would have without filter, delay and error; `frequency` in Hz, its shape."""
        s = _laplace(frequency)
        return s * self.diaphragm_area / self._target(medium).polynomial(s)

    def loop_filter(self, frequency: ArrayLike) -> NDArray[np.complex128]:
        """G at loop gain 1: band filter and delay; `frequency` in Hz, its shape."""
        from scipy import signal  # slow to load, and most scenes do without it

        s = _laplace(frequency)
        total = np.exp(-s * self.delay)
        for corner, side in ((self.band_low, "highpass"), (self.band_high, "lowpass")):
            zpk = signal.butter(self.band_order, 2.0 * math.pi * corner, side, analog=True, output="zpk")
            total = total * signal.freqs_zpk(*zpk, worN=s.imag.ravel())[1].reshape(s.shape)
        return total

    def current(self, frequency: ArrayLike, medium: Medium, loop_gain: float = 1.0) -> NDArray[np.complex128]:
        """Current of each driver per pressure at its face, A/Pa; `frequency` in Hz, its shape."""
        s = _laplace(frequency)
        target, believed = self._target(medium).polynomial(s), self._believed(medium).polynomial(s)
        force = self.force_factor * (1.0 + self.mismatch_force)
        return loop_gain * self.loop_filter(frequency) * self.diaphragm_area * (target - believed) / (force * target)

    def displacement(self, frequency: ArrayLike, medium: Medium, loop_gain: float = 1.0) -> NDArray[np.complex128]:
        """Displacement of the diaphragms per pressure at the face, m/Pa; `frequency` in Hz, its shape."""
        return displacement(self.admittance(frequency, medium, loop_gain), frequency)

    def pressure_at_stroke(self, frequency: ArrayLike, medium: Medium, loop_gain: float = 1.0) -> NDArray[np.float64]:
        """Pressure at the face, Pa rms, at which a sine reaches `largest_stroke`; infinite without such a limit."""
        return pressure_at_limit(self.displacement(frequency, medium, loop_gain), self.largest_stroke)

    def pressure_at_current(self, frequency: ArrayLike, medium: Medium, loop_gain: float = 1.0) -> NDArray[np.float64]:
        """Pressure at the face, Pa rms, at which a sine reaches `largest_current`; infinite without such a limit."""
        return pressure_at_limit(self.current(frequency, medium, loop_gain), self.largest_current)

    def control(self, medium: Medium) -> StateSpace:
        """What the controller adds to the passive admittance, at loop gain 1: Y = passive + gain times this.

        Filter, delay (as Padé approximant), controller and driver in series. Strictly proper, because the driver has
        mass, and stable by itself, because each block is; whether it is stable in a room is another question.
        """
        top = 2.0 * math.pi * DELAY_TOP * self.band_high
        chain = series(
            [
                *butterworth(self.band_order, 2.0 * math.pi * self.band_low, highpass=True),
                *butterworth(self.band_order, 2.0 * math.pi * self.band_high, highpass=False),
                *delay_sections(self.delay, top, DELAY_ERROR),
                self._controller_section(medium),
                self._driver_section(medium),
            ]
        )
        if len(chain.drive) > MOST_STATES:
            raise ValueError(
                f"active unit: delay = {self.delay:g} s is too long for a band up to {self.band_high:g} Hz: "
                "no such unit would be of use; give a shorter delay or a lower band_high"
            )
        return StateSpace(chain.matrix, chain.drive, chain.read)

    def _true(self, medium: Medium) -> Resonator:
        """Zm."""
        return Resonator(self.moving_mass, self.mechanical_resistance, self.driver.stiffness(medium))

    def _believed(self, medium: Medium) -> Resonator:
        """Zm'."""
        true = self._true(medium)
        return Resonator(
            true.mass * (1.0 + self.mismatch_mass),
            true.resistance * (1.0 + self.mismatch_resistance),
            true.stiffness * (1.0 + self.mismatch_stiffness),
        )

    def _target(self, medium: Medium) -> Resonator:
        """Sd Zst."""
        believed, share = self._believed(medium), self.target_share
        resistance = self.diaphragm_area * self.target_resistance
        return Resonator(share * believed.mass, resistance, share * believed.stiffness)

    def _controller_section(self, medium: Medium) -> Section:
        """Motor force into the unit per pressure: Sd (Zm' - Sd Zst)/(Sd Zst) (Bl/Bl'), m²."""
        target, believed = self._target(medium), self._believed(medium)
        natural, root = math.sqrt(target.stiffness / target.mass), math.sqrt(target.stiffness * target.mass)
        scale = self.diaphragm_area / (1.0 + self.mismatch_force)
        two = scale * (believed.mass - target.mass) / target.mass
        one = scale * (believed.resistance - target.resistance) / root
        zero = scale * (believed.stiffness - target.stiffness) / target.stiffness
        return second_order(natural, target.resistance / root, two, one, zero)

    def _driver_section(self, medium: Medium) -> Section:
        """Velocity per force, 1/Zm, m/(s·N)."""
        true = self._true(medium)
        natural, root = math.sqrt(true.stiffness / true.mass), math.sqrt(true.stiffness * true.mass)
        return second_order(natural, true.resistance / root, 0.0, 1.0 / root, 0.0)


def _laplace(frequency: ArrayLike) -> NDArray[np.complex128]:
    """s = j w of `frequency` in Hz, 1/s."""
    return np.asarray(2j * np.pi * np.asarray(frequency, dtype=float), dtype=complex)
