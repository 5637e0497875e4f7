"""What is heard, on screen: narrow enough, complete, and in the numbers of the analysis."""

from __future__ import annotations

import numpy as np
import pytest
from listening.damped_runs import Mode, cut_short, run_of, seats

from fdtd.cli.listening_tables import format_listening
from fdtd.cli.seat_table import format_seats
from fdtd.listening.study import Listening, listen

NAN = float("nan")


@pytest.fixture(scope="module")
def audible() -> Listening:
    """The second variant lacks the desk."""
    off = [Mode(25.0, 0.9, seats(3e4, 2e4)), Mode(52.0, 0.6, seats(3e4, -3e4))]
    on = [Mode(25.0, 0.5, seats(3e4, NAN)), Mode(52.0, 0.4, seats(3e4, NAN))]
    return listen(run_of({"off": off, "on": on}, ("sofa", "desk")), (45.0,))


def rows_of(text: str, title: str) -> list[list[str]]:
    """Cells of the table whose header starts with `title`."""
    (block,) = [part for part in text.split("\n\n") if part.startswith(title)]
    return [[cell.strip() for cell in line.split("  ") if cell.strip()] for line in block.splitlines()[2:]]


def test_sentences_come_first(audible: Listening) -> None:
    lines = format_listening(audible).splitlines()
    assert lines[0].startswith("At 'sofa' the 25.0 Hz resonance decays by 60 dB in 0.50 s with 'on' instead of 0.90")
    assert any(line.startswith("At 'desk' the 25.0 Hz resonance decays by 60 dB in 0.90 s; ") for line in lines[:5])


def test_resonances(audible: Listening) -> None:
    rows = rows_of(format_listening(audible), "Resonance ")
    off, on = audible.variants
    levels = [f"{level:.1f} dB" for level in off.seat_level[:, 0]]
    assert rows[0] == ["1", "off", "25.0 Hz", "0.90 s", *levels, "no published threshold"]
    assert rows[1] == ["on", "25.0 Hz", "0.50 s", f"{on.seat_level[0, 0]:.1f} dB", "no published threshold"]
    # 0.46 s at 52 Hz lies on the line from 0.85 s at 32 Hz to 0.2 s at 100 Hz (Stephenson 2012, abstract).
    assert rows[2][-1] == "longer than 0.46 s" and rows[3][-1] == f"{on.seat_level[0, 1]:.1f} dB"


def test_tails(audible: Listening) -> None:
    text = format_listening(audible)
    rows = rows_of(text, "Tail at 'sofa'")
    assert [row[0] for row in rows[::2]] == ["25.0 Hz", "45.0 Hz (yours)", "52.0 Hz"]
    tone = int(np.argmin(np.abs(audible.tones - 52.0)))
    figures = audible.variants[1].figures
    times = [f"{value:.2f} s" for value in figures.time_to[0, tone]]
    assert rows[5] == ["on", *times, *(f"{value:.1f} dB" for value in figures.left[0, tone])]
    assert rows_of(text, "Tail at 'desk'")[1] == ["on", "not there"]


def test_readings(audible: Listening) -> None:
    rows = rows_of(format_listening(audible), "Reading   ")
    off = audible.variants[0]
    assert off.evenness is not None
    assert rows[0][:5] == ["'sofa', pink noise", "off", *(f"{off.readings[0, k]:.1f}" for k in (0, 2, 1))]  # Z, C, A
    assert rows[0][5] == f"{off.evenness.mean_deviation:.1f} dB"
    tone = int(np.argmin(np.abs(audible.tones - 45.0)))
    assert rows[2] == ["'sofa', 45.0 Hz tone", "off", *(f"{off.tone_readings[0, tone, k]:.1f}" for k in (0, 2, 1))]
    assert rows[5] == ["on", "not there"]
    # 0 dB at 1 m is 80 dB there.
    louder = rows_of(format_listening(audible, 80.0), "Reading   ")
    assert float(louder[2][2]) == pytest.approx(80.0 + float(rows[2][2]), abs=0.11)


def test_a_simulation_too_short_is_said_in_the_tables() -> None:
    room = {"off": [Mode(34.6, 2.0)], "on": [Mode(34.6, 0.5)]}
    text = format_listening(listen(cut_short(run_of(room), room, 0.5, 15.0)))
    assert "simulation too short" in text
    assert [row[-1] for row in rows_of(text, "Tail at 'sofa'")] == ["too short"] * 2


def test_one_variant_and_one_seat() -> None:
    text = format_listening(listen(run_of({"only": [Mode(52.0, 0.6)]})))
    assert "between the seats" not in text
    assert rows_of(text, "Tail at 'sofa'")[0][:2] == ["52.0 Hz", "only"]


def test_nothing_rings() -> None:
    text = format_listening(listen(run_of({"off": [Mode(52.0, 0.02)], "on": [Mode(52.0, 0.02)]})))
    assert "No resonance is found." in text


def test_lines_stay_narrow_with_many_seats_and_long_names() -> None:
    names = tuple(f"seat number {k} of the back row" for k in range(9))
    amplitude = ((3e4,) * 9,)
    variants = {"a variant with a rather long name": [Mode(52.0, 0.6, amplitude)], "on": [Mode(52.0, 0.4, amplitude)]}
    audible = listen(run_of(variants, names))
    text = format_listening(audible)
    assert max(len(line) for line in text.splitlines()) <= 120
    assert sum(line.startswith("Resonance ") for line in text.splitlines()) > 1
    for name in names:
        tables = [part for part in text.split("\n\n") if part.startswith("Resonance ") and f"'{name[:18]}…" in part]
        assert len(tables) == 1, name


def test_a_resonance_has_one_frequency_and_one_level_in_all_tables() -> None:
    """Two sharp resonances between the samples of the response: levels of steady tones in the seat's table, in the
    sentence, beside the tail and on the meter. By themselves they are 20 log10 of the ratio of the decays quieter."""
    off = [Mode(24.13, 3.0, seats(3e4)), Mode(61.37, 1.5, seats(1e4))]
    on = [Mode(24.13, 2.0, seats(3e4)), Mode(61.37, 1.5, seats(1e4))]
    run = run_of({"off": off, "on": on}, ("sofa",))
    found = listen(run)
    seat, heard = format_seats(run, found), format_listening(found)
    table, meter = rows_of(seat, "At 'sofa'"), rows_of(heard, "Reading   ")
    assert "24.1 Hz" in seat.splitlines()[0] and rows_of(heard, "Resonance ")[0][2] == "24.1 Hz"
    assert [row[-3] for row in meter[2:4]] == [table[0][1], table[1][1]]
    step = float(table[2][1])
    assert step == pytest.approx(20.0 * np.log10(2.0 / 3.0), abs=0.1)
    assert f"is {-step:.1f} dB quieter" in heard.splitlines()[0]
