"""Boundary gain against Waterhouse (J. Acoust. Soc. Am. 30 (1958) 4-13) and the method of images."""

from __future__ import annotations

import numpy as np
import pytest

from fdtd.analysis.boundary import boundary_gain

SPEED = 343.2


@pytest.mark.parametrize(("walls", "gain"), [(0, 0.0), (1, 3.0103), (2, 6.0206), (3, 9.0309)])
def test_long_waves_meet_so_many_images(walls: int, gain: float) -> None:
    """2, 4, 8 images in phase: common knowledge of the trade, and the limit of Waterhouse's sums."""
    assert boundary_gain((0.3,) * walls, 0.01, SPEED) == pytest.approx(gain, abs=1e-4)


def test_one_wall_has_its_least_power_where_waterhouse_says() -> None:
    """1 + sin(x)/x is least at x = 4.4934 (tan x = x): 0.7828, -1.06 dB."""
    frequency = np.linspace(1.0, 600.0, 60001)
    gain = boundary_gain((0.5,), frequency, SPEED)
    k = int(np.argmin(gain))
    assert 4.0 * np.pi * frequency[k] * 0.5 / SPEED == pytest.approx(4.4934, abs=2e-3)
    assert gain[k] == pytest.approx(10.0 * np.log10(1.0 - 0.21723), abs=1e-3)


def test_power_is_what_the_images_send_back_to_the_source() -> None:
    """Re Z of a monopole among its images: each adds Re of j k rho c e^(-jkR)/(4 pi R), over that at R = 0."""
    distances, frequency = (0.4, 0.7, 0.9), 72.0
    k = 2.0 * np.pi * frequency / SPEED
    total = 1.0
    for mask in range(1, 8):
        r = 2.0 * np.sqrt(sum(d**2 for n, d in enumerate(distances) if mask >> n & 1))
        total += float(np.real(1j * np.exp(-1j * k * r) / (k * r)))
    assert boundary_gain(distances, frequency, SPEED) == pytest.approx(10.0 * np.log10(total), abs=1e-12)


def test_more_than_three_walls_are_refused() -> None:
    with pytest.raises(ValueError, match="up to three"):
        boundary_gain((1.0, 1.0, 1.0, 1.0), 50.0, SPEED)
