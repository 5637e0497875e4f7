"""The gain at which active units on any of the candidate places would oscillate, from the places' own matrices.

The loops reach far above the band that is scored, so their matrices are measured apart: up to where the electronics
have fallen off, and as long as the room takes to fall by 40 dB (an error of one per cent of a resonance's height).
Between the measured frequencies the loops follow from the record being of finite length.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from fdtd.physics.active import ActiveUnit
from fdtd.ports.response import PortSet
from fdtd.ports.stability import LOWEST, critical_gain
from fdtd.scene.schema import Device
from fdtd.simulation.discrete import DiscreteDevice, flux_factor

LEFT = 0.1
"""Loops are looked at up to where the low-pass has fallen to this, but at least to `BAND_FACTOR` times its edge."""
BAND_FACTOR = 4.0
HIGHEST_SHARE = 0.9
"""Share of the highest frequency that the time step can hold (pi f dt = 1) up to which it is used."""
FINER = 4
"""Frequencies that the loops are looked at, for each that was measured."""
KEPT = 256
"""Spectra that are kept for the next design; some tens of megabytes."""
BEFORE = 0.05
"""Share of the record that is taken as before its beginning, where a sharp end of the band rings."""


def loop_top(devices: Sequence[Device], max_frequency: float, time_step: float) -> tuple[float, float]:
    """Hz, highest frequency at which loops of `devices` are looked at, and the one that has to be reached."""
    wanted, needed = 0.0, 0.0
    for device in devices:
        if isinstance(device.design, ActiveUnit):
            factor = max(BAND_FACTOR, LEFT ** (-1.0 / device.design.band_order))
            wanted, needed = max(wanted, factor * device.design.band_high), max(needed, 2.0 * device.design.band_high)
        else:
            wanted = max(wanted, BAND_FACTOR * max_frequency)
    return min(wanted, HIGHEST_SHARE / (np.pi * time_step)), needed


def loop_frequencies(top: float, duration: float, time_step: float) -> NDArray[np.float64]:
    """Hz, evenly spaced by 1/`duration` on the simulation's own axis, from one step to `top`."""
    step = 2.0 * np.pi / duration
    count = int(2.0 / time_step * np.arcsin(np.pi * top * time_step) / step)
    return np.asarray(np.sin(0.5 * time_step * step * np.arange(1, count + 1)) / (np.pi * time_step))


def refined(values: NDArray[np.complexfloating]) -> NDArray[np.complex128]:
    """`values` (..., frequency) of `loop_frequencies`, `FINER` times as dense."""
    count = values.shape[-1]
    spectrum = np.concatenate([np.zeros((*values.shape[:-1], 1)), values], axis=-1)
    response = np.fft.irfft(spectrum, 2 * count)
    ahead = int((1.0 - BEFORE) * 2 * count)
    padded = np.zeros((*values.shape[:-1], 2 * count * FINER))
    padded[..., :ahead], padded[..., ahead - 2 * count :] = response[..., :ahead], response[..., ahead:]
    return np.asarray(np.fft.rfft(padded)[..., 1 : count * FINER + 1])


class CandidateLimits:
    """Critical gains of units on the candidate places, worked out when they are asked for."""

    def __init__(
        self,
        faces: PortSet,
        duration: float,
        between: NDArray[np.complex64],
        devices: Sequence[Sequence[DiscreteDevice]],
    ) -> None:
        """faces : of the places; duration : s, of the record; between : (frequency, port driven, port) at
        `loop_frequencies`; devices : each kind at gain 1 on each place."""
        self.faces, self.between, self.dt = faces, between, faces.time_step
        omega = 2.0 * np.pi / (duration * FINER) * np.arange(1, len(between) * FINER + 1)
        frequency = np.sin(0.5 * self.dt * omega) / (np.pi * self.dt)
        self._used = frequency >= LOWEST
        self.frequency = frequency[self._used]
        self._flux = flux_factor(self.frequency, self.dt)
        self.devices = devices
        self._known: dict[tuple[tuple[int, ...], tuple[int, ...]], float] = {}

    def active(self, kind: int) -> bool:
        """Whether units of that kind have electronics."""
        return self.devices[kind][0].control is not None

    def critical(self, ports: Sequence[int], kinds: Sequence[int]) -> float:
        """Gain at which these units, all at the same gain, start to oscillate; inf if none of them is active."""
        if not any(self.active(kind) for kind in kinds):
            return float("inf")
        key = (tuple(ports), tuple(kinds))
        if key not in self._known:
            self._known[key] = critical_gain(self._eigenvalues(ports, kinds), self.frequency)[0]
        return self._known[key]

    def _eigenvalues(self, ports: Sequence[int], kinds: Sequence[int]) -> NDArray[np.complex128]:
        """(frequency, loop), of (1 + Y_p W)⁻¹ Y_c W (see `stability`)."""
        load = np.empty((len(self.frequency), len(ports), len(ports)), dtype=complex)
        for i, one in enumerate(ports):
            for j, other in enumerate(ports):
                load[:, i, j] = self._between(min(one, other), max(one, other)) * self.faces.area[other]
        passive, electronics = np.ones_like(load), np.ones_like(load)
        for k, (port, kind) in enumerate(zip(ports, kinds, strict=True)):
            still, driven, mass = self._device(port, kind)
            load[:, k, k] += mass
            passive[:, k], electronics[:, k] = still[:, None], driven[:, None]
        passive = np.eye(len(ports)) + passive * load
        return _generalized(passive, electronics * load)

    @lru_cache(maxsize=KEPT)  # noqa: B019
    def _between(self, one: int, other: int) -> NDArray[np.complex128]:
        """Pressure at one port per volume velocity into another, whichever way (reciprocity)."""
        return refined(self.between[:, one, other])[self._used] * self._flux

    @lru_cache(maxsize=KEPT)  # noqa: B019
    def _device(self, port: int, kind: int) -> tuple[NDArray[np.complex128], NDArray[np.complex128], NDArray]:
        """Admittances of a unit switched off and of its electronics alone, and impedance of the air before it."""
        unit = self.devices[kind][port]
        still = DiscreteDevice(unit.branches, None, 0.0).admittance(self.frequency, self.dt)
        mass = 2j * np.pi * self.frequency / self._flux * unit.air_mass
        return still, unit.admittance(self.frequency, self.dt) - still, mass


def _generalized(passive: NDArray[np.complex128], electronics: NDArray[np.complex128]) -> NDArray[np.complex128]:
    """(frequency, loop) eigenvalues of passive⁻¹ electronics; one and two loops in closed form, which is faster."""
    if passive.shape[1] == 1:
        return np.asarray(electronics[:, :, 0] / passive[:, :, 0])
    if passive.shape[1] > 2:
        return np.asarray(np.linalg.eigvals(np.linalg.solve(passive, electronics)))
    (a, b), (c, d) = passive[:, 0].T, passive[:, 1].T
    (e, f), (g, h) = electronics[:, 0].T, electronics[:, 1].T
    below = a * d - b * c
    half, product = 0.5 * (d * e - b * g + a * h - c * f) / below, (e * h - f * g) / below
    root = np.sqrt(half * half - product)
    return np.stack([half + root, half - root], axis=-1)
