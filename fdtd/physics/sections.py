"""Chains of first- and second-order sections as state spaces: filters, delays, resonators.

Each section is scaled by its own natural frequency and the sections are connected in series, so that no large
polynomial is ever formed and all entries of the matrix have the size of the frequencies at hand.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

LONGEST_ELEMENT = 10.0
"""rad; a delay is cut into equal pieces with no more phase than this, each a Padé approximant of modest order."""
HIGHEST_PADE = 30
LOW_ORDER = 8
"""Up to which the eigenvalues of the recurrence are exact to 1e-12."""


@dataclass(frozen=True, eq=False)
class Section:
    """x' = matrix x + drive u, y = read x + direct u; matrix : (state, state) 1/s, drive and read : (state,)."""

    matrix: NDArray[np.float64]
    drive: NDArray[np.float64]
    read: NDArray[np.float64]
    direct: float


def first_order(corner: float, one: float, zero: float) -> Section:
    """(one q + zero) / (q + 1) with q = s / corner; corner : 1/s, positive."""
    return Section(np.array([[-corner]]), np.array([corner]), np.array([zero - one]), one)


def second_order(natural: float, loss: float, two: float, one: float, zero: float) -> Section:
    """(two q² + one q + zero) / (q² + loss q + 1) with q = s / natural; natural : 1/s, positive; loss is 1/Q.

    The states are the band-pass and the low-pass output; both are about as large as the input.
    """
    matrix = natural * np.array([[-loss, -1.0], [1.0, 0.0]])
    return Section(matrix, np.array([natural, 0.0]), np.array([one - loss * two, zero - two]), two)


def series(sections: Sequence[Section]) -> Section:
    """The sections one after the other; the first receives the input."""
    total = Section(np.zeros((0, 0)), np.zeros(0), np.zeros(0), 1.0)
    for part in sections:
        size, more = len(total.drive), len(part.drive)
        matrix = np.zeros((size + more, size + more))
        matrix[:size, :size] = total.matrix
        matrix[size:, :size] = np.outer(part.drive, total.read)
        matrix[size:, size:] = part.matrix
        drive = np.concatenate([total.drive, part.drive * total.direct])
        read = np.concatenate([part.direct * total.read, part.read])
        total = Section(matrix, drive, read, part.direct * total.direct)
    return total


def butterworth(order: int, corner: float, highpass: bool) -> list[Section]:
    """Butterworth filter of `order` with its -3 dB point at `corner`, 1/s."""
    # As scipy.signal.buttap, which takes half a second to load.
    poles = -np.exp(1j * np.pi * np.arange(1 - order, order, 2) / (2 * order))
    sections = []
    for pole in _upper(poles):
        if pole.imag == 0.0:
            sections.append(first_order(corner, float(highpass), float(not highpass)))
        else:
            sections.append(second_order(corner, -2.0 * pole.real, float(highpass), 0.0, float(not highpass)))
    return sections


def delay_sections(delay: float, top: float, error: float) -> list[Section]:
    """All-pass sections for exp(-s delay); delay : s; within `error` of it up to the angular frequency `top`, 1/s.

    Padé approximant [n/n], whose denominator is the reverse Bessel polynomial theta_n(s/2) (Baker and Graves-Morris,
    Padé Approximants, 1996, sect. 1.2, for the approximant of exp; values from memory), so its poles are twice those
    of the Bessel filter with unit delay.
    """
    phase = top * delay
    if phase == 0.0:
        return []
    pieces = math.ceil(phase / LONGEST_ELEMENT)
    piece = delay / pieces
    poles = _pade_poles(phase / pieces, error / pieces) / piece
    sections = []
    for pole in _upper(poles):
        if pole.imag == 0.0:
            sections.append(first_order(-pole.real, -1.0, 1.0))
        else:
            natural = abs(pole)
            loss = -2.0 * pole.real / natural
            sections.append(second_order(natural, loss, 1.0, -loss, 1.0))
    return sections * pieces


def _pade_poles(phase: float, error: float) -> NDArray[np.complex128]:
    """Poles of the lowest Padé approximant of exp(-s) that is within `error` on the imaginary axis up to `phase`."""
    q = 1j * np.linspace(0.0, phase, 400)[1:]
    for order in range(1, HIGHEST_PADE + 1):
        poles = 2.0 * _bessel_poles(order)
        found = np.prod((q[:, None] + poles) / (poles - q[:, None]), axis=1)
        if np.abs(found - np.exp(-q)).max() < error:
            return np.asarray(poles, dtype=complex)
    raise ValueError(f"no Padé approximant up to order {HIGHEST_PADE} holds {error:g} over {phase:g} rad")


def _bessel_poles(order: int) -> NDArray[np.complex128]:
    """Poles of the Bessel filter with unit delay: inverse zeros of the Bessel polynomial, eigenvalues of its recurrence
    y_k = (2 k - 1) x y_{k-1} + y_{k-2} (Krall and Frink, Trans. Am. Math. Soc. 65 (1949) 100-115)."""
    if order > LOW_ORDER:
        from scipy.signal import besselap  # takes a second to load

        return np.asarray(besselap(order, norm="delay")[1], dtype=complex)
    inverse = 1.0 / np.arange(1.0, 2.0 * order, 2.0)
    matrix = np.diag(inverse[:-1], 1) - np.diag(inverse[1:], -1)
    matrix[0, 0] = -1.0
    return np.asarray(1.0 / np.linalg.eigvals(matrix), dtype=complex)


def _upper(poles: NDArray[np.complex128]) -> list[complex]:
    """One pole of each conjugate pair, and the real ones with an imaginary part of exactly zero."""
    size = np.abs(poles)
    kept = []
    for pole, magnitude in zip(poles, size, strict=True):
        if abs(pole.imag) < 1e-9 * magnitude:
            kept.append(complex(pole.real, 0.0))
        elif pole.imag > 0.0:
            kept.append(complex(pole))
    return kept
