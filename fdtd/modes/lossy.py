"""Complex eigenmodes of the lossy cell graph: frequency, decay time and shape of each resonance, without any
simulation.

Rigid modes span a first set of shapes; all eigenvalues in the band are found on them (lossy_reduced). What T(s) leaves
of each mode on the full graph, smoothed by an approximate inverse of a positive definite neighbour of T, is added to
the shapes, until nothing is left: a subspace-accelerated residual inverse iteration (Neumaier, SIAM J. Numer. Anal. 22
(1985) 914; Voss, BIT 44 (2004) 387). Nothing is factorised; memory is linear in cells.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array, diags_array

from fdtd.model.excitations import Excitation
from fdtd.model.operator import with_links
from fdtd.model.problem import Problem
from fdtd.modes.eigen import rigid_modes
from fdtd.modes.lossy_graph import Complex, LossyGraph, Real, lossy_graph
from fdtd.modes.lossy_reduced import Pair, Reduced, all_vectors, distinct, newton, presence, search

DECAY_60 = 3.0 * np.log(10.0)
"""Decay constant times T60."""
BASIS_REACH = 1.5
"""Rigid modes are taken up to this multiple of the highest frequency."""
SEARCHES = 3
"""How often, at least, all eigenvalues in the band are searched anew on the growing set of shapes."""
ROUNDS = 14
"""Most rounds of refinement."""
MOST_SHAPES = 700
"""Refinement ends when there are more shapes than this: memory and time."""
GROWTH = 10.0
"""1/s; modes that grow no faster are found too."""
SHIFT = 0.1
"""What keeps the smoother's matrix off the singular constant pressure, as a share of the band's highest k²."""
SHORTEST_DECAY = 0.08
"""s, T60; what dies sooner is no resonance."""
WEAKEST = 0.02
"""Least presence. A large resonant surface has many modes of its own that crowd at its resonance and hardly reach into
the room (any number of them on a fine grid): they are left out."""
TOLERANCE = 1e-5
"""Residual at which a mode is done."""
MARGIN = 1.05
"""Factor on the band's edges within which modes are followed: the first estimates are off by a little."""


@dataclass(frozen=True)
class LossyModes:
    """Modes p(t) = Re shape exp(s t), s = -ln(1000)/decay_time + 2 pi j frequency.

    frequency : (mode,) Hz, rising; decay_time : (mode,) s, T60; negative for a mode that grows
    shape : (mode, cell) complex, scaled so that a pulse of volume velocity, 1 m³ at cell i at t = 0, leaves at cell j
    sum over modes of Re (rho c²/V) shape_i shape_j exp(s t), Pa, V being the volume of air
    presence : (mode,) mean |shape|² over the air: about 1 for a mode of the room, little for one that lives in a
    surface
    residual : (mode,) norm of T(s) shape relative to that of (s/c)² V shape, in the norm that V⁻¹ and V give
    unfinished : (mode,) Hz, where modes were seen that the iteration did not settle
    """

    frequency: Real
    decay_time: Real
    shape: Complex
    presence: Real
    residual: Real
    unfinished: Real

    @property
    def eigenvalue(self) -> Complex:
        """(mode,) s, 1/s."""
        return np.asarray(-DECAY_60 / self.decay_time + 2j * np.pi * self.frequency)


def lossy_modes(problem: Problem, excitation: Excitation, low: float = 20.0, high: float = 120.0) -> LossyModes:
    """Complex modes of the room of `problem` with the surfaces and devices of `excitation`, between `low` and `high`
    Hz.

    Continuous in time: a simulation has the same modes but for what its rule for branches leaves of its time error.
    The error of frequency and decay is of the order of the residual squared.

    Raises
    ------
    ValueError
        If the band is empty or begins at 0 Hz.
    """
    if not 0.0 < low < high:
        raise ValueError(f"need 0 < low < high in Hz, found {low:g} and {high:g}")
    graph = lossy_graph(problem, excitation)
    reduced = Reduced(graph, _rigid_shapes(problem, BASIS_REACH * high))
    region = _Region(2 * np.pi * low, 2 * np.pi * high)
    smooth = _Smoother(graph, problem, high)
    pairs: list[Pair] = []
    count, wanted = -1, np.zeros(0, dtype=bool)
    for number in range(ROUNDS):
        fresh = number < SEARCHES or (len(pairs) != count and number <= SEARCHES)
        count = len(pairs)
        pairs = region.search(reduced) if fresh else _followed(region, reduced, pairs, wanted)
        if not pairs:
            break
        remainder, size = _remainder(graph, reduced, pairs)
        wanted = size > TOLERANCE
        if not wanted.any() and number >= SEARCHES - 1:
            break
        if len(reduced.stiffness) > MOST_SHAPES:
            break
        if wanted.any() and number < ROUNDS - 1:
            reduced.add(smooth(remainder[:, wanted] / size[wanted]))
    return _result(graph, reduced, region, pairs)


def _followed(region: _Region, reduced: Reduced, pairs: list[Pair], wanted: NDArray[np.bool_]) -> list[Pair]:
    """The pairs on shapes that have grown since: those that are done as they are, the wanted ones improved."""
    padded = [(s, np.pad(v, (0, len(reduced.stiffness) - len(v)))) for s, v in pairs]
    done = [pair for pair, more in zip(padded, wanted, strict=True) if not more]
    improved = region.follow(reduced, [pair for pair, more in zip(padded, wanted, strict=True) if more])
    return sorted(done + improved, key=lambda pair: pair[0].imag)


@dataclass(frozen=True)
class _Region:
    """low, high : bounds of Im s, 1/s; those of Re s are a mode's fastest decay and growth."""

    low: float
    high: float
    left = -DECAY_60 / SHORTEST_DECAY
    right = GROWTH

    def search(self, reduced: Reduced) -> list[Pair]:
        low, high = self.low / MARGIN, self.high * MARGIN
        found = [p for p in search(reduced, self.left * MARGIN, self.right, low, high) if self.holds(p[0], MARGIN**2)]
        # Crowds of surface modes are sorted out while rough: each step of Newton's method costs.
        return self.follow(reduced, [p for p in found if presence(reduced, p)[0] >= 0.3 * WEAKEST])

    def follow(self, reduced: Reduced, pairs: list[Pair]) -> list[Pair]:
        """The eigenpairs that Newton's method reaches from `pairs`, as far as they are wanted."""
        reached = [pair for pair in (newton(reduced, p) for p in pairs) if pair is not None]
        near = [pair for pair in reached if self.holds(pair[0], MARGIN)]
        scaled = [(s, *presence(reduced, (s, v))) for s, v in distinct(near, reduced)]
        return [(s, v) for s, share, v in scaled if share >= WEAKEST]

    def holds(self, s: complex, margin: float = 1.0) -> bool:
        inside = self.low / margin <= s.imag <= self.high * margin
        return inside and self.left * margin <= s.real <= self.right


def _rigid_shapes(problem: Problem, top: float) -> Real:
    """Modes up to about `top` Hz without losses (impedance links by their mass alone), (cell, mode)."""
    impedance_links, volume = problem.impedance_links, float(problem.operator.volume.sum())
    operator = with_links(
        problem.operator, impedance_links.cells, problem.density * impedance_links.area / impedance_links.mass
    )
    # Number of modes below a frequency with the surface term (Kuttruff, Room Acoustics, ch. 3; from memory), and a few.
    k, area = 2.0 * np.pi * top / problem.speed_of_sound, float(problem.cells.faces.area.sum())
    count = 6 + int(volume * k**3 / (6.0 * np.pi**2) + area * k**2 / (16.0 * np.pi))
    return np.asarray(rigid_modes(operator, min(count, len(operator.volume) // 3), volume)[1].T)


class _Smoother:
    """Approximate inverse of the positive definite matrix K + SHIFT k² V + E^T |g| E, k of the top of the band.

    Chebyshev iteration (Saad, Iterative Methods for Sparse Linear Systems, sec. 12.3), tuned to what lies above the
    rigid modes, which the shapes hold anyway. |g| is taken in the band, and not above that of the least mass alone, so
    that a resonance of a surface does not spoil the bounds.
    """

    def __init__(self, graph: LossyGraph, problem: Problem, high: float) -> None:
        band = (2.0 * np.pi * high / problem.speed_of_sound) ** 2
        self.least = 0.7 * BASIS_REACH**2 * band
        movers = graph.movers
        weight = np.abs(movers.coupling(1.4j * np.pi * high))
        weight = np.minimum(weight, movers.density / np.maximum(movers.least_mass, 1e-9))
        self.root = 1.0 / np.sqrt(problem.operator.volume)
        matrix = graph.stiffness + graph.rows.T @ diags_array(weight[graph.kind]) @ graph.rows
        scale = diags_array(self.root)
        self.matrix = csr_array(scale @ matrix @ scale + diags_array(np.full(len(self.root), SHIFT * band)))
        self.top = float(abs(self.matrix).sum(axis=1).max())
        self.degree = int(np.ceil(2.5 * np.sqrt(self.top / self.least)))

    def __call__(self, right: Complex) -> Real:
        """(cell, 2 columns) the inverse applied to real and imaginary parts of `right`, (cell, column)."""
        b = np.hstack([right.real, right.imag]) * self.root[:, None]
        centre, half = 0.5 * (self.top + self.least), 0.5 * (self.top - self.least)
        sigma = centre / half
        rho, change = 1.0 / sigma, b / centre
        x = change.copy()
        for _ in range(self.degree):
            following = 1.0 / (2.0 * sigma - rho)
            left = self.matrix @ x
            np.subtract(b, left, out=left)
            left *= 2.0 * following / half
            change *= following * rho
            change += left
            x += change
            rho = following
        return np.asarray(x * self.root[:, None])


def _remainder(graph: LossyGraph, reduced: Reduced, pairs: list[Pair]) -> tuple[Complex, Real]:
    """T(s) p of each pair, (cell, pair), and its size relative to (s/c)² V p."""
    s, p = np.array([s for s, _ in pairs]), all_vectors(pairs, reduced)
    left = graph.apply(s, p)
    norm = np.sqrt(np.sum(graph.volume[:, None] * np.abs(p) ** 2, axis=0))
    size = np.sqrt(np.sum(np.abs(left) ** 2 / graph.volume[:, None], axis=0)) / (np.abs(s) ** 2 * norm)
    return left, np.asarray(size)


def _result(graph: LossyGraph, reduced: Reduced, region: _Region, pairs: list[Pair]) -> LossyModes:
    # Modes that meet on the way are one; and the scaling is that of the final shapes.
    padded = [(s, np.pad(v, (0, len(reduced.stiffness) - len(v)))) for s, v in pairs if region.holds(s)]
    pairs = [(s, presence(reduced, (s, v))[1]) for s, v in distinct(padded, reduced)]
    cells = len(graph.volume)
    if not pairs:
        none = np.empty(0)
        return LossyModes(none, none, np.empty((0, cells), dtype=complex), none, none, none)
    size = _remainder(graph, reduced, pairs)[1]
    done = size <= 10.0 * TOLERANCE
    s = np.array([s for s, _ in pairs])
    share = np.array([np.sum(np.abs(v) ** 2) for _, v in pairs])
    # v^T T'(s) v = 2 s with unit vectors for V/c²: times sqrt(V)/c for the scale of the docstring.
    shape = all_vectors(pairs, reduced).T * np.sqrt(graph.volume.sum())
    return LossyModes(
        frequency=s.imag[done] / (2.0 * np.pi),
        decay_time=-DECAY_60 / s.real[done],
        shape=shape[done],
        presence=share[done],
        residual=size[done],
        unfinished=s.imag[~done] / (2.0 * np.pi),
    )
