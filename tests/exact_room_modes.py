"""Exact complex modes of a rectangular room with one admittance per axis end: one transcendental equation per axis.

p = product over axes of cosh(a x + b); at x = 0 and x = L:  dp/dx = +- rho s Y p (into the wall), a² summed over the
axes is (s/c)². (Morse and Ingard, Theoretical Acoustics, sec. 9.4; Kuttruff, Room Acoustics, ch. 3.)
"""

from __future__ import annotations

import warnings
from collections.abc import Callable

import numpy as np
from scipy.optimize import newton, root

from fdtd.physics.admittance import Branch

Admittance = Callable[[complex], complex]
"""Y(s), m/(Pa·s)."""
Walls = tuple[tuple[Admittance, Admittance], ...]
"""Y at the low and the high end of each axis."""


def exact_mode(
    size: tuple[float, float, float],
    walls: Walls,
    start: tuple[complex, tuple[complex, complex, complex]],
    speed: float,
    density: float,
) -> tuple[complex, tuple[complex, complex, complex]]:
    """The eigenvalue s (1/s) and the separation constants a (1/m) nearest to `start`, to 1e-10.

    walls : Y at the low and the high end of each axis
    """

    def equations(s: complex, a: np.ndarray) -> np.ndarray:
        found = [(a[0] ** 2 + a[1] ** 2 + a[2] ** 2) * speed**2 / abs(start[0]) ** 2 - s * s / abs(start[0]) ** 2]
        for axis in range(3):
            low, high = (density * s * wall(s) for wall in walls[axis])
            q, length = a[axis], size[axis]
            # p' = g_low p at 0 and p' = -g_high p at L, divided by a so that a = 0 is no root of its own.
            found.append(
                (q**2 + low * high) * length**2 * _sinhc(q * length) + (low + high) * length * np.cosh(q * length)
            )
        return np.array(found)

    def real(x: np.ndarray) -> np.ndarray:
        z = x[:4] + 1j * x[4:]
        f = equations(abs(start[0]) * z[0], z[1:])
        return np.concatenate([f.real, f.imag])

    z = np.array([start[0] / abs(start[0]), *start[1]])
    done = root(real, np.concatenate([z.real, z.imag]), method="hybr", tol=1e-14)
    assert np.max(np.abs(done.fun)) < 1e-10, f"no root near {start}: {done.message}"
    z = done.x[:4] + 1j * done.x[4:]
    return complex(abs(start[0]) * z[0]), (complex(z[1]), complex(z[2]), complex(z[3]))


def _sinhc(x: complex) -> complex:
    """sinh(x)/x."""
    return complex(np.sinh(x) / x) if abs(x) > 1e-4 else 1.0 + x * x / 6.0


def followed_mode(
    size: tuple[float, float, float],
    walls: Walls,
    order: tuple[int, int, int],
    speed: float,
    density: float,
    steps: int = 12,
) -> complex:
    """The eigenvalue that the rigid mode `order` turns into as the admittances grow from nothing to theirs."""
    a = tuple(1j * np.pi * n / side for n, side in zip(order, size, strict=True))
    state = (1j * speed * float(np.sqrt(sum(abs(x) ** 2 for x in a))), a)
    for share in np.linspace(0.0, 1.0, steps + 1)[1:] ** 2:
        part = tuple(tuple(_scaled(wall, share) for wall in pair) for pair in walls)
        if share == (1.0 / steps) ** 2:
            # Leave the branch point a = 0 of order 0: a² = -(g_low + g_high)/L to first order.
            s = state[0]
            first = [
                x if n else complex(np.sqrt(-sum(density * s * w(s) for w in pair) / side + 0j))
                for n, x, pair, side in zip(order, a, part, size, strict=True)
            ]
            state = (s, tuple(first))
        state = exact_mode(size, part, state, speed, density)
    return state[0]


def _scaled(wall: Admittance, share: float) -> Admittance:
    return lambda s: share * wall(s)


def ceiling_modes(
    size: tuple[float, float, float],
    branch: Branch,
    low: float,
    high: float,
    shortest_decay: float,
    speed: float,
    density: float,
) -> tuple[np.ndarray, np.ndarray]:
    """All s (1/s) between `low` and `high` Hz of a hard room whose ceiling is one branch, rising, and their presence.

    For orders m, n along the floor, a² = (s/c)² + (m pi/Lx)² + (n pi/Ly)² and  a sinh(a H) (L s² + R s + K) + rho s²
    cosh(a H) = 0. Presence: (2 s/c²) times the integral of |p|² over that of the derivative by s, p on both sides.
    """
    found: list[tuple[complex, float]] = []
    left = -3.0 * np.log(10.0) / shortest_decay
    for m in range(int(2 * size[0] * high / speed) + 6):
        for n in range(int(2 * size[1] * high / speed) + 6):
            plane = (np.pi * m / size[0]) ** 2 + (np.pi * n / size[1]) ** 2
            for s in _roots(plane, size[2], branch, low, high, left, speed, density):
                found.append((s, _presence(s, plane, size[2], branch, speed, density)))
    found.sort(key=lambda one: one[0].imag)
    return np.array([s for s, _ in found]), np.array([share for _, share in found])


def _roots(
    plane: float, height: float, branch: Branch, low: float, high: float, left: float, speed: float, density: float
) -> list[complex]:
    """Roots that Newton's method reaches from many places of the region."""
    start = 2j * np.pi * np.arange(low, high, 1.5)[:, None] - np.array([0.3, 4.0, 12.0, 20.0, 40.0])

    def equation(s: np.ndarray) -> np.ndarray:
        a = np.sqrt((s / speed) ** 2 + plane)
        load = branch.mass * s**2 + branch.resistance * s + branch.stiffness
        # Divided by cosh, which has other zeros, to keep numbers small: fine for Newton.
        return a * np.tanh(a * height) * load + density * s**2

    with warnings.catch_warnings():
        warnings.simplefilter("ignore", RuntimeWarning)  # some places lead nowhere
        reached, converged, _ = newton(equation, start.ravel(), tol=1e-11, maxiter=60, full_output=True)
    good = reached[converged & (np.abs(equation(reached)) < 1e-6)]
    inside = (good.imag > 2 * np.pi * low) & (good.imag < 2 * np.pi * high) & (good.real > left) & (good.real < 1.0)
    roots: list[complex] = []
    for s in good[inside]:
        if all(abs(s - other) > 1e-6 for other in roots):
            roots.append(complex(s))
    return roots


def _presence(s: complex, plane: float, height: float, branch: Branch, speed: float, density: float) -> float:
    a = np.sqrt((s / speed) ** 2 + plane)
    node, weight = np.polynomial.legendre.leggauss(40)
    shape, weight = np.cosh(a * 0.5 * height * (node + 1.0)), 0.5 * height * weight
    load = branch.mass * s**2 + branch.resistance * s + branch.stiffness
    slope = density * (2.0 * s * load - s**2 * (2.0 * branch.mass * s + branch.resistance)) / load**2
    whole = 2.0 * s / speed**2 * (weight @ shape**2) + slope * np.cosh(a * height) ** 2
    return float(abs(2.0 * s / speed**2) * (weight @ np.abs(shape) ** 2) / abs(whole))
