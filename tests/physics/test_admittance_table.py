"""Tables of measured admittance: what they mean, and what is said about a broken one."""

from __future__ import annotations

import numpy as np
import pytest

from fdtd.physics.admittance import normal_absorption
from fdtd.physics.admittance_table import read_admittance_table
from fdtd.physics.medium import Medium

MEDIUM = Medium(1.2, 343.0)


def test_complex_values_are_ratios_to_the_characteristic_admittance() -> None:
    text = "# invented\nfrequency_hz, real, imag\n20, 0.1, 0.2\n\n40, 0.3, -0.1\n80, -0.01, 1e-2\n"
    frequency, values, absorption = read_admittance_table(text, MEDIUM)
    assert frequency.tolist() == [20.0, 40.0, 80.0] and absorption is None
    assert values * MEDIUM.impedance == pytest.approx([0.1 + 0.2j, 0.3 - 0.1j, -0.01 + 0.01j])


def test_semicolons_decimal_commas_and_any_order_of_columns() -> None:
    text = "\ufeffimag;Frequency_Hz;real\n0,5;31,5;0,25\n0;63;1\n0.1;125;2\n"
    frequency, values, _ = read_admittance_table(text, MEDIUM)
    assert frequency.tolist() == [31.5, 63.0, 125.0]
    assert values[0] * MEDIUM.impedance == pytest.approx(0.25 + 0.5j)


def test_absorption_gives_the_real_admittance_on_the_hard_side() -> None:
    """alpha = 4 b/(1 + b)² (Kuttruff, Room Acoustics, ch. 2): b = 1 absorbs all, b = 1/3 three quarters."""
    text = "frequency_hz,absorption_normal\n20,0.75\n40,1\n80,0\n160,1e-9\n"
    _, values, absorption = read_admittance_table(text, MEDIUM)
    assert absorption is not None and absorption.tolist() == [0.75, 1.0, 0.0, 1e-9]
    ratio = values * MEDIUM.impedance
    assert ratio[:3] == pytest.approx([1.0 / 3.0, 1.0, 0.0])
    assert normal_absorption(ratio) == pytest.approx([0.75, 1.0, 0.0, 1e-9], rel=1e-6)
    assert np.all(ratio.imag == 0.0)


GOOD = "frequency_hz,real,imag\n"


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "the table is empty: its first line must be 'frequency_hz,real,imag'"),
        ("20,0.1,0.1\n", "line 1: the first line must name the columns.*found '20,0.1,0.1'"),
        ("# note\nhz,real,imag\n", "line 2: the first line must name"),
        (GOOD + "20,0.1,0\n40,0.1,0\n", "line 3: the table ends after 2 rows.*at least 3"),
        (GOOD, "line 1: the table ends after 0 rows"),
        (GOOD + "20,0.1\n", "line 2: found 2 values in '20,0.1', expected 3"),
        (GOOD + "20,0.1,x\n", "line 2: imag must be a number, found 'x'"),
        (GOOD + "20,inf,0\n", "line 2: real must be a number, found 'inf'"),
        (GOOD + "20,,0\n", "line 2: real must be a number, found ''"),
        (GOOD + "0,0.1,0\n", r"line 2: frequency_hz must lie between 0.01 and 1e\+06 Hz, found 0"),
        (GOOD + "1e-300,0.1,0\n", r"line 2: frequency_hz must lie between 0.01 and 1e\+06 Hz, found 1e-300"),
        (GOOD + "20,0.1,-1e300\n", r"line 2: imag is of rho c Y, .* at most 1e\+06 in size, found -1e300"),
        (GOOD + "20,1,0\n\n40,1,0\n30,1,0\n", "line 5: frequencies must rise from line.*found 30 Hz after 40 Hz"),
        (GOOD + "20,1,0\n20,1,0\n30,1,0\n", "line 3: frequencies must rise"),
        ("frequency_hz;absorption_normal\n20;35\n", "line 2: absorption_normal must lie between 0 and 1.*found 35"),
        ("frequency_hz,absorption_normal\n20,-0.1\n", "line 2: absorption_normal must lie between 0 and 1"),
    ],
)
def test_broken_tables_name_the_line_and_the_remedy(text: str, words: str) -> None:
    with pytest.raises(ValueError, match=words):
        read_admittance_table(text, MEDIUM)
