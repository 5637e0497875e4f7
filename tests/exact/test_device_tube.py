"""Every kind of device at the end of an impedance tube absorbs what its own theory says.

Set-up: duct 4 m long, four cells wide, nearly reflection-free at the source's end; the whole other end is the device,
moving as one or each point by itself; two seats 0.62 and 0.27 m before it (two-microphone method, ISO 10534-2), 20 to
200 Hz. Units with a face or mouth of their own are spread over the end, as in a scene. All numbers of the devices are
invented.
Exact: absorption at normal incidence 1 - |R|², R = (1 - beta)/(1 + beta), beta = rho c Y, with Y from the design's own
`admittance` (not from its branches); an active unit may have Re Y < 0, and the absorption is then negative.
Expected error: that of the fit (0.007 at most for these) and that of the simulation, below 0.005 of the incident wave
at 0.05 m (see test_tube; at 0.1 m up to 0.02, which is all that is allowed). It counts 2 |R| fold in the absorption,
and |R| is up to 1.5 for active units, so they are simulated at 0.025 m in a duct half as wide. A run takes a second or
two. Tolerance: 0.02.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from duct import FREQUENCY, duct, pressures, waves
from numpy.typing import NDArray
from rooms import IMPEDANCE, make_scene

from fdtd.physics.active import ActiveUnit
from fdtd.physics.design import Design
from fdtd.physics.designs import DESIGNS, design_branches
from fdtd.physics.drivers import ClosedBoxDriver
from fdtd.physics.panels import HelmholtzResonator, PerforatedPanel, Plate, SlottedPanel
from fdtd.physics.porous import PorousLayer
from fdtd.scene.read import read_scene
from fdtd.scene.schema import Absorber, Device, Rectangle
from fdtd.scene.tables import DEVICE_KINDS

LENGTH = 4.0
FINE, USUAL = 0.025, 0.05
MEDIUM = make_scene(((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)), 1.0).air.medium
TOLERANCE = 0.02
DRIVER = {
    "diaphragm_area": 0.035,
    "moving_mass": 0.03,
    "suspension_compliance": 8e-4,
    "mechanical_resistance": 1.5,
    "force_factor": 9.0,
    "coil_resistance": 5.5,
    "box_volume": 0.03,
}
DEVICES: dict[str, Design] = {
    "plate": Plate(mass=4.0, depth=0.1, loss=0.3),
    "plate, light and deep": Plate(mass=1.2, depth=0.25, loss=0.8),
    "plate with wool": Plate(mass=3.0, depth=0.15, loss=0.1, fill_depth=0.1, fill_resistivity=8000.0),
    "plate with the cavity full": Plate(mass=3.0, depth=0.1, loss=0.1, fill_depth=0.1, fill_resistivity=12000.0),
    "perforated": PerforatedPanel(0.006, 0.06, 0.012, 0.15, resistance=200.0),
    "perforated with wool": PerforatedPanel(0.006, 0.05, 0.012, 0.2, fill_depth=0.1, fill_resistivity=6000.0),
    "slotted": SlottedPanel(0.004, 0.12, 0.018, 0.1, resistance=150.0),
    "slotted with wool": SlottedPanel(0.005, 0.1, 0.02, 0.2, fill_depth=0.2, fill_resistivity=5000.0),
    "helmholtz": HelmholtzResonator(neck_area=0.006, neck_length=0.08, volume=0.03, resistance=60.0),
    "helmholtz, short neck": HelmholtzResonator(neck_area=0.008, neck_length=0.0, volume=0.04, resistance=20.0),
    "porous": PorousLayer(thickness=0.2, flow_resistivity=8000.0),
    "porous with a gap": PorousLayer(thickness=0.1, flow_resistivity=12000.0, gap=0.3),
    "porous, thin": PorousLayer(thickness=0.03, flow_resistivity=20000.0),
    "driver, open": ClosedBoxDriver(**DRIVER),
    "driver, shunted": ClosedBoxDriver(**DRIVER, shunt_resistance=2.0),
    "driver, shunted, inductive": ClosedBoxDriver(**DRIVER, coil_inductance=0.0015, shunt_resistance=1.0),
    "two drivers": ClosedBoxDriver(**{**DRIVER, "diaphragm_area": 0.018, "moving_mass": 0.012}, count=2),
}
SMALL = {
    "diaphragm_area": 0.009,
    "moving_mass": 0.012,
    "suspension_compliance": 1e-3,
    "mechanical_resistance": 0.9,
    "force_factor": 6.5,
    "coil_resistance": 5.5,
    "box_volume": 0.008,
}
SMALLER = {**SMALL, "diaphragm_area": 0.0022, "moving_mass": 0.0035, "box_volume": 0.002, "mechanical_resistance": 0.3}
ACTIVE: dict[str, ActiveUnit] = {
    "active": ActiveUnit(**SMALL, target_resistance=0.9 * IMPEDANCE),
    "active with delay": ActiveUnit(**SMALL, target_resistance=0.8 * IMPEDANCE, delay=3e-4),
    "active, gentle filters": ActiveUnit(
        **SMALL, target_resistance=300.0, delay=3e-4, band_order=1, band_low=10.0, band_high=120.0
    ),
    "active, mismatched": ActiveUnit(
        **SMALL, target_resistance=350.0, mismatch_mass=0.1, mismatch_stiffness=-0.1, mismatch_force=0.1
    ),
    "active, four drivers": ActiveUnit(**SMALLER, target_resistance=400.0, count=4),
}


def absorption_found(device: Device, spacing: float) -> NDArray[np.float64]:
    """1 - |R|² by two microphones, (frequency,)."""
    at, width = (LENGTH - 0.62, LENGTH - 0.27), 4 * spacing
    end = Absorber("end", device.name, "wall 2", Rectangle((0.0, 0.0), (width, width)))
    first, second = pressures(duct(LENGTH, width, at, devices=(device,), absorbers=(end,)), spacing)
    there, back = waves(first, second, at, LENGTH)
    return np.asarray(1.0 - np.abs(back / there) ** 2)


def absorption(admittance: NDArray[np.complex128]) -> NDArray[np.float64]:
    """The same from a specific admittance, m/(Pa·s)."""
    beta = IMPEDANCE * admittance
    return np.asarray(1.0 - np.abs((1.0 - beta) / (1.0 + beta)) ** 2)


def face_of(design: Design) -> float | None:
    """Moving area, m², of designs that have one of their own."""
    return getattr(design, "face_area", getattr(design, "neck_area", None))


def spacing_of(design: Design) -> float:
    """Cells' length, m; the tube is four times as wide."""
    return FINE if isinstance(design, ActiveUnit) else USUAL


def spread(design: Design) -> float:
    """Share of the tube's end that moves."""
    face = face_of(design)
    return 1.0 if face is None else face / (4 * spacing_of(design)) ** 2


@pytest.mark.parametrize("name", DEVICES)
def test_passive_device(name: str) -> None:
    design = DEVICES[name]
    motions = ["diaphragm"] if face_of(design) else ["diaphragm", "local"]
    wanted = absorption(design.admittance(FREQUENCY, MEDIUM) * spread(design))
    fit = design_branches(design, MEDIUM)
    for motion in motions:
        device = Device("device", fit.branches, motion, design, fit, None, face_of(design))
        assert np.abs(absorption_found(device, USUAL) - wanted).max() < TOLERANCE, motion
    assert np.ptp(wanted) > 0.05  # it does something in this band


@pytest.mark.parametrize("name", ACTIVE)
def test_active_unit(name: str) -> None:
    unit = ACTIVE[name]
    wanted = absorption(unit.admittance(FREQUENCY, MEDIUM) * spread(unit))
    device = Device("unit", unit.passive(MEDIUM), "diaphragm", unit, None, unit.control(MEDIUM), unit.face_area)
    assert np.abs(absorption_found(device, FINE) - wanted).max() < TOLERANCE
    off = absorption(unit.admittance(FREQUENCY, MEDIUM, 0.0) * spread(unit))
    assert np.abs(wanted - off).max() > 0.3  # the controller does a lot


def test_an_active_unit_switched_off_is_the_passive_box() -> None:
    unit = ACTIVE["active"]
    wanted = absorption(unit.driver.admittance(FREQUENCY, MEDIUM) * spread(unit))
    device = Device("unit", unit.passive(MEDIUM), "diaphragm", unit, None, None, unit.face_area)
    assert np.abs(absorption_found(device, FINE) - wanted).max() < TOLERANCE


def test_every_kind_of_device_is_in_the_tube() -> None:
    assert {d.kind for d in (*DEVICES.values(), *ACTIVE.values())} == set(DEVICE_KINDS)
    assert set(DEVICE_KINDS) - {"active"} <= set(DESIGNS)


# ---- measured tables, as a scene file names them ---------------------------------------------------------------------

SCENE = """scene = 1
[air]
speed_of_sound = 343.2
density = 1.204
[room]
plan = [[0, 0], [2, 0], [2, 2], [0, 2]]
height = 2
[surfaces]
floor = "rigid"
ceiling = "rigid"
walls = "rigid"
[[sources]]
name = "loudspeaker"
at = [0.5, 0.5, 0.5]
[[seats]]
name = "chair"
at = [1.0, 1.5, 1.1]
[devices.measured]
kind = "table"
table = "measured.csv"
[[absorbers]]
name = "unit"
device = "measured"
on = "wall 2"
from = [0.2, 0.2]
to = [0.8, 0.8]
"""


def device_of_table(folder: Path, frequency: NDArray[np.float64], beta: NDArray[np.complex128]) -> Device:
    """What a scene makes of a CSV file of rho c Y."""
    lines = [f"{f:.10g},{b.real:.8g},{b.imag:.8g}" for f, b in zip(frequency, beta, strict=True)]
    (folder / "measured.csv").write_text("\n".join(["frequency_hz,real,imag", *lines]) + "\n", encoding="utf-8")
    (folder / "scene.toml").write_text(SCENE, encoding="utf-8")
    return read_scene(folder / "scene.toml").variants[0].devices[0]


@pytest.mark.parametrize("name", ["plate with wool", "porous with a gap", "active with delay"])
def test_table(name: str, tmp_path: Path) -> None:
    """The admittance of a build-up as if measured from 10 to 300 Hz; the active unit's gives out energy."""
    design = {**DEVICES, **ACTIVE}[name]
    axis = np.geomspace(10.0, 300.0, 120)
    device = device_of_table(tmp_path, axis, IMPEDANCE * design.admittance(axis, MEDIUM) * spread(design))
    assert (device.control is not None) == (design.kind == "active")
    wanted = absorption(design.admittance(FREQUENCY, MEDIUM) * spread(design))
    assert np.abs(absorption_found(device, spacing_of(design)) - wanted).max() < TOLERANCE
