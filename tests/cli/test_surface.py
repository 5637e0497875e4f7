"""`fdtd surface`: what it prints and writes for the library and for scenes, and what it refuses."""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from unit_scene import DRIVER, SCENE

from fdtd.library.surfaces import names
from fdtd.physics.radiation import largest_absorption_area
from fdtd.scene.read import read_scene_text
from fdtd.surface.subjects import device_subject, groups, library_subject, scene_materials
from fdtd.surface.units import BANDS, Unit, band_bound, scene_units
from fdtd.wording.surfaces import feeding_text, safety_text

Command = Callable[..., int]
Capture = pytest.CaptureFixture[str]


@pytest.fixture
def scene_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    path = tmp_path / "units.toml"
    path.write_text(SCENE, encoding="utf-8")
    return path


def units() -> dict[str, Unit]:
    return {u.name: u for u in scene_units(read_scene_text(SCENE))}


def test_the_list_has_every_surface_once(fdtd: Command, capsys: Capture) -> None:
    assert sorted(n for _, members in groups() for n in members) == sorted(names())
    assert len(groups()) > 3
    assert fdtd("surface") == 0
    first = capsys.readouterr().out
    assert fdtd("surface", "--list") == 0
    assert capsys.readouterr().out == first
    for name in names():
        assert len(re.findall(rf"^{name}  ", first, re.MULTILINE)) == 1
    assert "Windows and doors" in first


def test_a_library_surface_in_full(fdtd: Command, capsys: Capture, tmp_path: Path, monkeypatch) -> None:
    monkeypatch.chdir(tmp_path)
    assert fdtd("surface", "sash window") == 0
    printed = capsys.readouterr().out
    for word in ("|R|", "Source of the table", "Source of the build-up", "Fit error", "by the build-up"):
        assert word in printed
    assert re.search(r"disagree by more than a factor of 2 at .*200 Hz", printed)
    assert re.search(r"^ +125 +0\.350 +0\.350 +0\.10", printed, re.MULTILINE)  # printed, branches, build-up
    files = {"surface.csv", "surface.png", "surface.svg", "captions.txt"}
    assert {p.name for p in Path("sash-window-results").iterdir()} == files
    with Path("sash-window-results/surface.csv").open(newline="") as file:
        rows = list(csv.DictReader(file))
    assert {r["line"] for r in rows} == {"branches", "table", "by the build-up"}
    for row in (r for r in rows if float(r["frequency_hz"]) in (20.0, 125.0)):
        # Energy: what is not absorbed comes back.
        assert float(row["absorption_normal"]) == pytest.approx(1.0 - float(row["reflection"]) ** 2, abs=1e-5)


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("plasterbord on studs",), 'did you mean "plasterboard on studs"'),
        (("nothing like it at all xyz",), "'fdtd surface --list' shows all of them"),
        (("sofa", "--name", "x"), "--name: found 'x', which picks from a scene"),
        (("--name", "x"), "--name: found 'x', expected a scene before it"),
        (("missing.toml",), "missing.toml"),
        (("units.toml", "--name", "tarp"), 'did you mean "trap"?'),
        (("units.toml", "--name", "unused"), "which the scene does not use"),
    ],
)
def test_what_is_refused(fdtd: Command, capsys: Capture, scene_file: Path, arguments, said: str) -> None:
    assert fdtd("surface", *arguments) == 2
    told = capsys.readouterr().err
    assert "Error: " in told and said in told


def test_a_scene_compares_its_units(fdtd: Command, capsys: Capture, scene_file: Path) -> None:
    assert fdtd("surface", "units.toml") == 0
    printed = capsys.readouterr().out
    assert max(len(line) for line in printed.splitlines()) <= 120
    assert "unused" not in printed and "rigid" not in printed
    rows = [re.split(r"  +", line) for line in printed.splitlines()]
    trap = next(r for r in rows if r[0] == "trap")
    assert trap == ["trap", "membrane", "and 1 alike", "0.60 x 0.60", "0.360", "1", "54", "0.090"]
    corner = next(r for r in rows if r[0] == "active corner (on)")
    assert corner[-3:] == ["1", "108", "0.180"]  # 0.4 x 0.45 x 0.6 m
    assert next(r for r in rows if r[0] == "boxes")[-2:] == ["40", "not told"]
    assert "off, in a corner" in printed and "stroke" in printed and "limit of current" in printed
    assert "'active corner (on)' feeds energy into the room up to" in printed.replace("\n", " ")
    assert "draws sound from all around" in printed.replace("\n", " ")
    for word in ("Fire: ", "Weight: ", "Mains: "):
        assert word in printed
    assert {p.name for p in Path("units-results").iterdir()} == {
        f"{stem}.{end}"
        for stem, ends in (("surface", ["csv"]), ("units", ["csv", "png", "svg"]), ("surfaces", ["png", "svg"]))
        for end in ends
    } | {"captions.txt"}


def test_one_unit_of_a_scene(fdtd: Command, capsys: Capture, scene_file: Path) -> None:
    assert fdtd("surface", "units.toml", "--name", "second trap") == 0
    printed = capsys.readouterr().out
    assert "membrane (device)" in printed and "theory" in printed and "cones" not in printed
    assert Path("units-results/surface-second-trap.png").exists()
    assert fdtd("surface", "units.toml", "--name", "lining") == 0
    assert "Equivalent absorption area" not in capsys.readouterr().out
    assert fdtd("surface", "units.toml", "--name", "cones") == 0
    printed = capsys.readouterr().out
    assert "switched off" in printed and "active corner (half)" in printed
    assert max(len(line) for line in printed.splitlines()) <= 120


def test_how_well_poles_fit_an_active_table_is_said(fdtd: Command, capsys: Capture, scene_file: Path) -> None:
    rows = [f"{f},{0.2 - f / 1000.0},{-f / 500.0}" for f in range(20, 401, 10)]
    Path("measured.csv").write_text("\n".join(["frequency_hz,real,imag", *rows]), encoding="utf-8")
    plate = 'kind = "plate"\nmass = 4.0\ndepth = 0.15\nfill_depth = 0.05\nfill_resistivity = 8000'
    assert plate in SCENE
    scene_file.write_text(SCENE.replace(plate, 'kind = "table"\ntable = "measured.csv"'), encoding="utf-8")
    assert fdtd("surface", "units.toml", "--name", "trap") == 0
    captured = capsys.readouterr()
    printed = captured.out
    assert "the poles differ from it by up to" in captured.err
    assert "poles against the table" in printed and "none needed" not in printed
    assert re.search(r"^trap .* not told +not told$", printed, re.MULTILINE)


def test_only_what_is_used_is_shown() -> None:
    assert [m.name for m in scene_materials(read_scene_text(SCENE))] == ["lining", "carpet on concrete"]


def test_passive_units_stay_below_the_bound_and_active_ones_may_not() -> None:
    frequency = np.linspace(20.0, 200.0, 400)
    found = units()
    bound = largest_absorption_area(frequency, found["trap"].medium)
    for name in ("trap", "boxes"):
        for corner in (False, True):
            area = found[name].area(frequency, corner)
            assert (area > 0.0).all() and (area <= bound * (1.0 + 1e-9)).all()
    # wavelength²/pi at 343 m/s: 343²/(pi 100²) = 3.745 m² at 100 Hz, a little more as the mean of its band
    assert band_bound(found["trap"].medium)[BANDS.index(100.0)] == pytest.approx(3.745, rel=0.02)


def test_a_hard_small_face_takes_eight_times_its_admittance() -> None:
    # 8 rho c Re(y), the limit of Paris' integral for small admittance (Kuttruff, Room Acoustics, ch. 2).
    unit = units()["boxes"]
    area = float(unit.area(20.0))
    y = unit.face_area * unit.admittance(20.0)
    assert area == pytest.approx(8.0 * unit.medium.impedance * y.real, rel=0.1)


def test_gain_and_off() -> None:
    found, frequency = units(), np.array([40.0, 63.0])
    on, half, box = found["active corner (on)"], found["active corner (half)"], found["boxes"]
    off = on.admittance(frequency, off=True)
    np.testing.assert_allclose(off, box.admittance(frequency))  # the same driver with open terminals
    np.testing.assert_allclose(half.admittance(frequency) - off, 0.5 * (on.admittance(frequency) - off))
    exact = on.design.admittance(frequency, on.medium, 1.0)
    np.testing.assert_allclose(on.admittance(frequency), exact, rtol=2e-3)


def test_the_stroke_runs_out_where_the_face_moves_that_far() -> None:
    unit = units()["active corner (half)"]
    ((what, pressure),) = unit.runs_out(np.array([50.0]))
    velocity = math.sqrt(2.0) * float(pressure[0]) * abs(unit.admittance(50.0))
    assert what == "stroke" and velocity / (2.0 * math.pi * 50.0) == pytest.approx(0.005, rel=2e-3)


def test_feeding_is_said_for_active_units_only() -> None:
    found = units()
    assert feeding_text(found["trap"]) == feeding_text(found["boxes"]) == ""
    unit = found["active corner (on)"]
    (first, last) = re.search(r"up to (\d+) Hz .* from (\d+) Hz on", feeding_text(unit)).groups()
    inside, outside = np.array([float(first) + 2.0, float(last) - 2.0]), np.array([float(first) - 2.0, float(last) + 2])
    assert (unit.admittance(inside).real > 0.0).all() and (unit.admittance(outside).real < 0.0).all()


def test_the_subject_of_an_active_device_is_near_its_theory() -> None:
    scene = read_scene_text(SCENE)
    device = next(d for d in scene.variants[1].devices if d.name == "cones")
    subject = device_subject(device, scene.air.medium)
    assert [line.label for line in subject.lines] == ["as simulated", "theory", "switched off"]
    assert 0.0 <= subject.error < 0.01


def test_safety_lines_fit() -> None:
    assert safety_text([]) == []
    soft, heavy = library_subject("sofa").design, library_subject("plasterboard on battens").design
    (line,) = safety_text([soft])
    assert line.startswith("Fire")
    (line,) = safety_text([heavy])
    assert line.startswith("Weight: a plate of 8.5 kg/m²")


def test_the_source_and_the_best_shunt_of_a_driver_are_shown(fdtd: Command, capsys: Capture, scene_file: Path) -> None:
    """Bl² / (rho c Sd - Rms) - Re (Lissek, Boulandet and Fleury, J. Acoust. Soc. Am. 129, 2011)."""
    told = "[devices.cones]\n"
    assert told in SCENE
    kind = SCENE.split(told)[1].split("\n[")[0]
    driver = 'kind = "driver"\nsource = "our own idea"\nshunt_resistance = 3\n' + DRIVER
    scene_file.write_text(SCENE.replace(told + kind, told + driver), encoding="utf-8")
    fdtd("surface", "units.toml", "--name", "cones")
    printed = " ".join(capsys.readouterr().out.split())
    best = 7.0**2 / (1.2 * 343.0 * 0.014 - 1.2) - 6.0
    assert "our own idea" in printed and f"{best:.2g} ohm absorbs most of a plane wave" in printed


def test_the_error_of_a_table_is_said_to_be_that_of_the_printed_bands(fdtd: Command, capsys: Capture) -> None:
    assert library_subject("heavy door").error_of == "random incidence, at the printed bands only: 125, 250 Hz"


def test_a_device_that_only_spots_tries_is_shown(scene_file: Path, fdtd: Command, capsys: Capture) -> None:
    spots = """[devices.tried]
kind = "plate"
mass = 4.0
depth = 0.2
[spots]
device = "tried"
size = [0.6, 1.2]
"""
    scene_file.write_text(SCENE + spots, encoding="utf-8")
    assert fdtd("surface", "units.toml") == 0
    assert "\ntried" in capsys.readouterr().out
    with Path("units-results/surface.csv").open(newline="") as file:
        assert "tried" in {row["name"] for row in csv.DictReader(file)}
    assert fdtd("surface", "units.toml", "--name", "tried") == 0
