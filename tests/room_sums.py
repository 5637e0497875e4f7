"""Sums of damped sinusoids with known answers."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

SPEED, DENSITY = 343.2, 1.204
BOX = (6.4, 4.3, 2.6)


def damped_sum(
    frequency: ArrayLike, decay: ArrayLike, amplitude: NDArray[np.complexfloating], samples: int, step: float
) -> NDArray[np.float64]:
    """(response, time): Re sum of amplitude (response, mode) exp(-ln(1000) t/T60 + 2 pi j f t)."""
    pole = -np.log(1000.0) / np.asarray(decay) + 2j * np.pi * np.asarray(frequency)
    return np.real(amplitude @ np.exp(np.outer(pole, np.arange(samples) * step)))


def random_sum(draw: np.random.Generator, modes: int, responses: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Frequencies 20 to 160 Hz, T60 0.3 to 1.5 s, Gaussian complex amplitudes (response, mode)."""
    shape = (responses, modes)
    amplitude = draw.normal(size=shape) + 1j * draw.normal(size=shape)
    return np.sort(draw.uniform(20.0, 160.0, modes)), draw.uniform(0.3, 1.5, modes), amplitude


def add_noise(clean: NDArray[np.float64], ratio: float, draw: np.random.Generator) -> NDArray[np.float64]:
    """White noise `ratio` dB below the mean power of the whole record."""
    return clean + draw.normal(size=clean.shape) * np.sqrt(np.mean(clean**2)) * 10.0 ** (-ratio / 20.0)


def box_responses(admittance: float) -> tuple[np.ndarray, float, np.ndarray, np.ndarray]:
    """Two seats in a box with a weak real specific admittance on all walls: responses, step, Hz and T60 of its modes.

    Modal sum of Kuttruff, Room Acoustics (Green's function of a room with weak losses): p/Q = rho c² sum of
    psi(r) psi(s) / (V K) j omega / (omega_n² - omega² + 2 j delta_n omega), with delta_n = c beta sum of eps_i / L_i,
    eps 1 for index 0 and 2 otherwise: the damped frequency of each term is (omega_n² - delta_n²)^1/2 exactly.
    """
    size, limit = np.array(BOX), 450.0
    axes = [np.arange(int(2.0 * limit * length / SPEED) + 1) for length in size]
    index = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)
    natural = 0.5 * SPEED * np.linalg.norm(index / size, axis=1)
    order = np.argsort(natural, kind="stable")
    index, natural = index[order][natural[order] <= limit], natural[order][natural[order] <= limit]
    double = np.where(index == 0, 1.0, 2.0)
    delta = SPEED * admittance * np.sum(double / size, axis=1)

    def shape(point: tuple[float, float, float]) -> np.ndarray:
        return np.prod(np.cos(np.pi * index * np.array(point) / size), axis=1)

    # Four seconds: every 0.25 Hz, tapered at both ends like the impulse responses of a run.
    frequency = np.arange(10.0, 200.01, 0.25)
    omega, strength = 2.0 * np.pi * frequency, DENSITY * SPEED**2 / np.prod(size) * np.prod(double, axis=1)
    line = 1j * omega / ((2 * np.pi * natural[:, None]) ** 2 - omega**2 + 2j * delta[:, None] * omega)
    seats = np.array([shape((4.1, 1.3, 1.2)), shape((5.2, 2.9, 1.1))])
    transfer = (seats * strength * shape((0.4, 0.5, 0.3))) @ line
    low, high = np.clip((frequency - 10.0) / 5.0, 0.0, 1.0), np.clip((200.0 - frequency) / 20.0, 0.0, 1.0)
    bins = np.zeros((2, 2001), dtype=complex)
    bins[:, 40 : 40 + len(frequency)] = transfer * np.sin(0.5 * np.pi * low) ** 2 * np.sin(0.5 * np.pi * high) ** 2
    damped = np.sqrt(np.maximum(natural**2 - (delta / (2.0 * np.pi)) ** 2, 0.0))
    inside = (damped >= 20.0) & (damped <= 160.0)
    return np.fft.irfft(bins, n=4000) * 1000.0, 1e-3, damped[inside], np.log(1000.0) / delta[inside]
