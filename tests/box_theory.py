"""Exact complex eigenvalues of a box whose six walls react locally, and decays measured from single modes.

Modal equation of one axis with equal walls of admittance ratio beta at both ends, e^{j omega t}, k = omega/c:
    kx tan(kx L/2) = j k beta (even n),  kx cot(kx L/2) = -j k beta (odd n)
(Morse and Ingard, Theoretical Acoustics, section 9.4; Kuttruff, Room Acoustics, ch. 3), omega² = c² (kx² + ky² + kz²).
beta is that of the branches at the complex frequency, so the walls may have resonances.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

import numpy as np
from numpy.typing import NDArray
from rooms import IMPEDANCE, SPEED, problem_of
from scipy.optimize import newton

from fdtd.model.excitations import make_excitation
from fdtd.physics.admittance import Branches
from fdtd.scene.schema import Scene
from fdtd.simulation.stepper import ExcitationBlock

Order = tuple[int, int, int]
Size = tuple[float, float, float]
SAMPLING = 1.2e-3
"""s, about, between samples of a mode's amplitude."""


def rigid_frequency(order: Order, size: Size) -> float:
    """Hz, Rayleigh."""
    return 0.5 * SPEED * float(np.sqrt(sum((n / side) ** 2 for n, side in zip(order, size, strict=True))))


def modes_below(top: float, size: Size) -> list[Order]:
    """Orders of the rigid modes up to `top` Hz, without that of constant pressure."""
    most = [int(2.0 * top * side / SPEED) + 1 for side in size]
    orders = product(*(range(m + 1) for m in most))
    return [(a, b, c) for a, b, c in orders if 0.0 < rigid_frequency((a, b, c), size) <= top]


def ratio_at(branches: Branches, omega: complex) -> complex:
    """rho c Y at a complex angular frequency, 1/s."""
    s = 1j * omega
    return IMPEDANCE * sum(s / (b.mass * s * s + b.resistance * s + b.stiffness) for b in branches)


def _axis(n: int, side: float, wavenumber: complex, beta: complex) -> complex:
    """kx of one axis, 1/m."""
    push = 1j * wavenumber * beta
    start = np.sqrt((n * np.pi / side) ** 2 + (2.0 if n == 0 else 4.0) * push / side)

    def equation(kx: complex) -> complex:
        half = 0.5 * kx * side
        return kx * np.sin(half) - push * np.cos(half) if n % 2 == 0 else kx * np.cos(half) + push * np.sin(half)

    return complex(newton(equation, start, tol=1e-12, maxiter=200))


def eigenvalue(order: Order, size: Size, branches: Branches) -> complex:
    """omega of the mode that grows out of the rigid one, 1/s; its imaginary part is the decay constant delta."""

    def mismatch(omega: complex) -> complex:
        beta, wavenumber = ratio_at(branches, omega), omega / SPEED
        return sum(_axis(n, side, wavenumber, beta) ** 2 for n, side in zip(order, size, strict=True)) - wavenumber**2

    start = 2.0 * np.pi * rigid_frequency(order, size)
    first = SPEED * np.sqrt(mismatch(start) + (start / SPEED) ** 2)
    return complex(newton(mismatch, first, x1=first * (1.0 + 1e-3 + 1e-3j), tol=1e-10, maxiter=200))


def single_modes(
    scene: Scene, size: Size, orders: Sequence[Order], spacing: float, duration: float
) -> tuple[NDArray[np.float64], float, float]:
    """(sample, mode) amplitude of each rigid mode shape in a simulation that starts from that shape at rest, the step
    from sample to sample and that of the simulation, s.

    Each mode is an excitation; amplitudes are the volume integrals of pressure times shape.
    """
    problem = problem_of(scene, spacing)
    excitation = make_excitation(scene, scene.variants[0], problem, scene.variants[0].sources[0].at)
    block = ExcitationBlock(problem, [excitation] * len(orders), [], np.zeros(1), 200.0)
    at = problem.cells.centre
    shapes = np.stack(
        [np.prod([np.cos(n * np.pi * at[:, a] / size[a]) for a, n in enumerate(order)], axis=0) for order in orders],
        axis=1,
    )
    block.state.p_now[:] = shapes
    block.state.p_before[:] = shapes
    weight = problem.operator.volume[:, None] * shapes
    every = max(2, 2 * round(0.5 * SAMPLING / problem.time_step))
    found = []
    for _ in range(int(duration / (every * problem.time_step))):
        found.append(np.sum(weight * block.state.p_now, axis=0))
        block.advance(every)
    return np.array(found), every * problem.time_step, problem.time_step


def strongest_pole(samples: NDArray[np.float64], step: float, poles: int = 6) -> complex:
    """omega (decay constant as imaginary part), 1/s, of the strongest damped sinusoid in `samples` (sample,).

    Matrix pencil: Y. Hua, T. K. Sarkar, IEEE Trans. Acoust. Speech Signal Process. 38 (1990) 814-824.
    """
    rows = len(samples) // 2
    data = np.lib.stride_tricks.sliding_window_view(samples, rows + 1)
    _, _, right = np.linalg.svd(data, full_matrices=False)
    space = right[:poles].T
    z = np.linalg.eigvals(np.linalg.pinv(space[:-1]) @ space[1:])
    z = z[np.abs(z) > 1e-3]
    powers = z[None, :] ** np.arange(len(samples))[:, None]
    weights = np.linalg.lstsq(powers, samples.astype(complex), rcond=None)[0]
    best = np.log(z[np.argmax(np.abs(weights))]) / (1j * step)
    return complex(abs(best.real), best.imag)
