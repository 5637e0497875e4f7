"""Air: Cramer 1993 and CIPM-2007 against values computed independently, and a printed table.

The conditions 23 °C, 101.325 kPa, 50 % and 20 °C, 80 kPa, 65 % are those of IEC 61094-2:2009, Annex F; all rows were
recomputed from the published formulas. Tolerance: half the last digit given, doubled.
"""

from __future__ import annotations

import pytest

from fdtd.physics import air


@pytest.mark.parametrize(
    ("temperature", "pressure", "humidity", "dioxide", "density", "speed"),
    [
        (23, 101.325, 50, 0.0004, 1.1860848, 345.86652),
        (20, 80.0, 65, 0.0004, 0.9441589, 344.38267),
        (20, 101.325, 50, 0.0004, 1.1993144, 343.98689),
        (20, 101.325, 0, 0.0004, 1.2045573, 343.35947),
        (0, 101.325, 0, 0.000314, 1.2930026, 331.45500),
        (25, 101.325, 50, 0.0004, 1.1773161, 347.12682),
        (15, 101.325, 50, 0.0004, 1.2216316, 340.87571),
    ],
)
def test_recomputed_values(temperature, pressure, humidity, dioxide, density, speed):
    assert air.density(temperature, humidity, pressure, dioxide) == pytest.approx(density, abs=1e-7)
    assert air.speed_of_sound(temperature, humidity, pressure, dioxide) == pytest.approx(speed, abs=1e-5)


def test_printed_table_of_speed_against_humidity():
    """A printed engineering table for 20 °C (10 to 90 % relative humidity), one decimal."""
    printed = [343.5, 343.6, 343.7, 343.9, 344.0, 344.1, 344.2, 344.4, 344.5]
    for humidity, speed in zip(range(10, 100, 10), printed, strict=True):
        assert air.speed_of_sound(20.0, humidity, 101.325) == pytest.approx(speed, abs=0.1)
