"""Sums of damped sinusoids in a band: the model, its amplitudes, and the refinement of its poles by least squares.

A response is h(t) = Re sum_m a_m exp(s_m t), s_m = -delta_m + j omega_m, from the source pulse at t = 0. Its discrete
Fourier transform over a record of N samples is exactly

    sum_m a_m/2 (1 - z_m^N) / (1 - z_m exp(-j omega_k dt)) + the same with conjugates,      z_m = exp(s_m dt),

whatever is still ringing at the end of the record. So a band is cut out by taking its bins alone: no filter, nothing
lost at the beginning. What lies outside the band (higher and lower resonances, and with them the direct sound) is
smooth inside it and is given to a background: a low polynomial and the term 1/(j omega) of the air spring of the closed
room.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.polynomial.chebyshev import chebvander
from numpy.typing import NDArray
from scipy.linalg import solve_triangular

Real = NDArray[np.float64]
Complex = NDArray[np.complex128]

DECAY_60 = float(np.log(1000.0))
"""T60 = ln(1000) / delta: the time in which exp(-delta t) falls by 60 dB (ISO 3382-1, definition of T)."""


@dataclass(frozen=True)
class Band:
    """The bins of a record inside a band.

    frequency : (bin,) Hz; spectrum : (response, bin) discrete Fourier transform times the sample step
    sample_step : s; samples : length of the record; degree : of the background polynomial
    """

    frequency: Real
    spectrum: Complex
    sample_step: float
    samples: int
    degree: int

    @property
    def values(self) -> Real:
        """(2 bin, response) real and imaginary parts, one under the other."""
        return np.concatenate([self.spectrum.real, self.spectrum.imag], axis=1).T

    def part(self, low: float, high: float, degree: int) -> Band:
        """The bins from `low` to `high`, Hz."""
        inside = (self.frequency >= low) & (self.frequency <= high)
        return Band(self.frequency[inside], self.spectrum[:, inside], self.sample_step, self.samples, degree)

    def less(self, fitted: Real) -> Band:
        """This band without what `fitted` (2 bin, response) explains."""
        count = len(self.frequency)
        rest = self.spectrum - (fitted[:count] + 1j * fitted[count:]).T
        return Band(self.frequency, rest, self.sample_step, self.samples, self.degree)


def cut_band(impulse: Real, sample_step: float, low: float, high: float, degree: int) -> Band:
    """The bins of `impulse` (response, time) from `low` to `high`, Hz."""
    samples = impulse.shape[1]
    frequency = np.asarray(np.fft.rfftfreq(samples, sample_step), dtype=np.float64)
    whole = Band(frequency, np.fft.rfft(impulse, axis=1) * sample_step, sample_step, samples, degree)
    return whole.part(low, high, degree)


def stacked(columns: Complex) -> Real:
    """Real and imaginary parts, one under the other."""
    return np.concatenate([columns.real, columns.imag])


def basis(band: Band, pole: Complex) -> tuple[Complex, Complex]:
    """(bin, mode) transform of exp(s t) over the record, and its derivative with respect to s; pole : (mode,) 1/s."""
    turn = np.exp(-2j * np.pi * band.frequency * band.sample_step)[:, None]
    z = np.exp(pole * band.sample_step)[None, :]
    last = z**band.samples
    below = 1.0 - z * turn
    value = band.sample_step * (1.0 - last) / below
    slope = band.sample_step**2 * (z * turn * (1.0 - last) / below**2 - band.samples * last / below)
    return value, slope


def background(band: Band) -> Real:
    """(2 bin, column) of the smooth background."""
    low, high = band.frequency[0], band.frequency[-1]
    place = (2.0 * band.frequency - low - high) / max(high - low, 1e-9)
    smooth = np.column_stack([chebvander(place, band.degree), -1j * low / band.frequency]).astype(complex)
    return np.column_stack([stacked(smooth), stacked(1j * smooth)])


def design(band: Band, pole: Complex) -> Real:
    """(2 bin, 2 mode) columns of the real, then of the imaginary parts of the amplitudes."""
    value, mirrored = basis(band, pole)[0], basis(band, pole.conj())[0]
    return np.column_stack([stacked(0.5 * (value + mirrored)), stacked(0.5j * (value - mirrored))])


@dataclass(frozen=True)
class LinearFit:
    """Amplitudes for given poles.

    amplitude : (response, mode) complex; residual : (2 bin, response); frame : orthonormal columns of the whole model
    modes : (2 bin, response) the part of the fit that the modes make, without the background
    solution : (column, response) factors of the columns of the model; spread : (column, column) their covariance over
    that of the noise
    """

    amplitude: Complex
    residual: Real
    frame: Real
    modes: Real
    solution: Real
    spread: Real

    @property
    def error(self) -> float:
        """Sum of the squared residual."""
        return float(np.sum(self.residual**2))


def fit_amplitudes(band: Band, pole: Complex) -> LinearFit:
    """Amplitudes of `pole` (mode,) and background by linear least squares over the band."""
    columns = design(band, pole)
    matrix = np.column_stack([columns, background(band)])
    scale = np.linalg.norm(matrix, axis=0)
    scale[scale == 0.0] = 1.0
    frame, corner = np.linalg.qr(matrix / scale)
    diagonal = np.diag(corner)
    corner = corner + np.diag(np.where(np.abs(diagonal) < 1e-12, 1e-12, 0.0))
    values = band.values
    seen = frame.T @ values
    inverse = solve_triangular(corner, np.eye(len(corner))) / scale[:, None]
    solution = inverse @ seen
    count = len(pole)
    return LinearFit(
        amplitude=(solution[:count] + 1j * solution[count : 2 * count]).T,
        residual=values - frame @ seen,
        frame=frame,
        modes=columns @ solution[: 2 * count],
        solution=solution,
        spread=inverse @ inverse.T,
    )


def weakest_modes(fit: LinearFit, modes: int, price: float, noise: float, free: int) -> list[int]:
    """Modes to leave out: one by one the one that explains least, while that is less than `price` times the noise.

    noise : least mean squared residual per degree of freedom that is taken for noise; free : degrees of freedom
    """
    solution, spread, error = fit.solution, fit.spread, fit.error
    left, gone = list(range(modes)), []
    responses = solution.shape[1]
    while left:
        rows = np.array([left, [mode + modes for mode in left]]).T
        blocks = spread[rows[:, :, None], rows[:, None, :]]
        values = solution[rows]
        gain = np.einsum("mir,mir->m", values, np.linalg.solve(blocks, values))
        least = int(np.argmin(gain))
        if gain[least] > price * max(error / free, noise):
            break
        # Leaving columns out of a least-squares fit: the block formula, no new fit needed.
        taken = rows[least]
        turn = np.linalg.solve(blocks[least], spread[taken]).T
        solution = solution - turn @ solution[taken]
        spread = spread - turn @ spread[taken]
        error += float(gain[least])
        free += 2 * responses + 2
        gone.append(left.pop(least))
    return gone


def pole_slopes(band: Band, pole: Complex, fit: LinearFit) -> Real:
    """(response, 2 bin, 2 mode) slope of the model with frequency (Hz), then with ln delta, amplitudes eliminated.

    Variable projection with the simplified derivative of Kaufman, BIT 15 (1975).
    """
    slope, mirrored = basis(band, pole)[1], basis(band, pole.conj())[1]
    one, two = 0.5 * fit.amplitude[:, None, :] * slope, 0.5 * fit.amplitude.conj()[:, None, :] * mirrored
    complex_slope = np.concatenate([2j * np.pi * (one - two), pole.real * (one + two)], axis=2)
    both = np.concatenate([complex_slope.real, complex_slope.imag], axis=1)
    return both - fit.frame @ (fit.frame.T @ both)


def refine_poles(band: Band, pole: Complex, enough: float, steps: int = 12, accuracy: float = 1e-4) -> Complex:
    """Poles that fit the band best, from a good start, by damped Gauss-Newton steps (Levenberg-Marquardt).

    enough : squared residual that needs no improvement; accuracy : relative gain at which to stop
    """
    if len(pole) == 0:
        return pole
    fit = fit_amplitudes(band, pole)
    damping, fresh = 1e-3, True
    for _ in range(steps):
        if fit.error <= enough or damping > 1e4:
            break
        if fresh:
            slopes = pole_slopes(band, pole, fit)
            flat = slopes.reshape(-1, slopes.shape[2])
            normal, right = flat.T @ flat, flat.T @ fit.residual.T.reshape(-1)
            diagonal = np.maximum(np.diag(normal), 1e-20 * np.trace(normal) + 1e-300)
        change = np.linalg.solve(normal + damping * np.diag(diagonal), right)
        # A step stays within reach of the linear picture: half a hertz, a factor of 1.5 in decay.
        hertz, logarithm = np.split(change, 2)
        hertz, logarithm = np.clip(hertz, -0.5, 0.5), np.clip(logarithm, -0.4, 0.4)
        tried = pole.real * np.exp(logarithm) + 1j * (pole.imag + 2.0 * np.pi * hertz)
        tried_fit = fit_amplitudes(band, tried)
        gain = fit.error - tried_fit.error
        fresh = gain > 0.0
        if not fresh:
            damping *= 10.0
            continue
        small = gain < accuracy * fit.error
        pole, fit, damping = tried, tried_fit, max(0.1 * damping, 1e-9)
        if small:
            break
    return pole


def pole_errors(band: Band, pole: Complex, fit: LinearFit) -> tuple[Real, Real]:
    """Standard errors of frequency (Hz) and of ln delta of each mode, from the residual as noise (Cramér-Rao)."""
    slopes = pole_slopes(band, pole, fit)
    flat = slopes.reshape(-1, slopes.shape[2])
    normal = flat.T @ flat
    size = np.sqrt(np.maximum(np.diag(normal), 1e-300))
    inverse = np.linalg.pinv(normal / np.outer(size, size), rcond=1e-13, hermitian=True)
    variance = np.maximum(np.diag(inverse), 1.0) / size**2 * noise_power(fit, len(pole))
    frequency, logarithm = np.split(np.sqrt(variance), 2)
    return frequency, logarithm


def degrees_of_freedom(fit: LinearFit, modes: int) -> int:
    """Real numbers in the data less those fitted."""
    return max(fit.residual.size - fit.residual.shape[1] * fit.frame.shape[1] - 2 * modes, 1)


def noise_power(fit: LinearFit, modes: int) -> float:
    """Mean squared residual per real degree of freedom."""
    return fit.error / degrees_of_freedom(fit, modes)
