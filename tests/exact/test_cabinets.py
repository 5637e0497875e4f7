"""Free-standing cabinets as a scene file has them: in a true corner, stacked, behind a sofa, side by side.

Set-up: room 3.3 x 2.6 x 2.0 m, walls of admittance ratio 0.01, cells of 0.2 m; invented units.
Exact: a cabinet is a block with a device on one of its faces, so the same room built from those gives the same
simulation to rounding. Two equal units, one on the other from floor to ceiling, in a room that is symmetric about half
its height with source and seats there, move alike, so they are one unit of twice the height: to rounding without the
correction of the air mass (fdtd/model/piston.py), which takes each face by itself and does not see that two of them
adjoin; with it to 0.15 dB on cells of 0.1 m (it goes with the cell length). A stack on the floor is one unit in the
limit of low frequencies only: 0.8 m is a fourteenth of a wavelength at 30 Hz, a seventh at 60 Hz, up to which 0.25 dB
are allowed, most of it again the correction.
Law: the energy of a simulation with passive units never rises; see tests/laws/test_energy.py.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from energy import discrete_energy, snapshot
from numpy.typing import NDArray
from rooms import box_plan, level_error, make_scene, problem_of, simulate_scene

from fdtd.errors import FdtdError
from fdtd.model.excitations import make_excitation
from fdtd.model.piston import ColumnExcess
from fdtd.physics.active import ActiveUnit
from fdtd.physics.admittance import Branch
from fdtd.physics.panels import Plate
from fdtd.ports.units import check_units
from fdtd.scene.read import read_scene_text
from fdtd.scene.schema import Absorber, Block, Device, PorousVolume, Rectangle, Scene
from fdtd.show.plan import draw_plan
from fdtd.simulation.stepper import ExcitationBlock
from fdtd.simulation.transfer import transfer_functions

SPACING, FINE, DURATION = 0.2, 0.1, 1.5
FREQUENCY = np.arange(20.0, 160.1, 1.0)
SIZE = (3.3, 2.6, 2.0)
SOURCES, SEATS = [(2.9, 0.4, 1.0)], [(2.3, 1.9, 1.0), (1.4, 0.8, 1.0)]
WALL = (Branch(resistance=412.0 / 0.01),)
HEAD = """scene = 1
[air]
speed_of_sound = 343.2
density = 1.204
[room]
plan = [[0, 0], [3.3, 0], [3.3, 2.6], [0, 2.6]]
height = 2.0
[surfaces]
floor = "wall"
ceiling = "wall"
walls = "wall"
[materials.wall]
branches = [{ resistance = 41200 }]
[[sources]]
name = "loudspeaker"
at = [2.9, 0.4, 1.0]
[[seats]]
name = "sofa"
at = [2.3, 1.9, 1.0]
[[seats]]
name = "chair"
at = [1.4, 0.8, 1.0]
"""
DEVICES = {
    "active": """[devices.active]
kind = "active"
diaphragm_area = 0.05
moving_mass = 0.05
suspension_compliance = 6e-4
mechanical_resistance = 2.5
force_factor = 9.0
coil_resistance = 6.0
box_volume = 0.05
target_resistance = 120
target_share = 0.25
delay = 0.2
""",
    "plate": """[devices.plate]
kind = "plate"
mass = 3.0
depth = 0.15
loss = 0.3
""",
    "branches": """[devices.branches]
branches = [{ mass = 0.5, resistance = 60, stiffness = 3e4 }]
""",
}
UNIT = ActiveUnit(
    diaphragm_area=0.05,
    moving_mass=0.05,
    suspension_compliance=6e-4,
    mechanical_resistance=2.5,
    force_factor=9.0,
    coil_resistance=6.0,
    box_volume=0.05,
    target_resistance=120.0,
    target_share=0.25,
    delay=2e-4,
)
SOFA = '[[fills]]\nname = "sofa body"\nfrom = [0.7, 0.8, 0.0]\nto = [1.3, 2.2, 0.6]\nflow_resistivity = 4000\n'
Corner = tuple[float, float, float]
PLACES: dict[str, list[tuple[Corner, Corner, str]]] = {
    "corner": [((0.0, 0.0, 0.0), (0.4, 0.4, 0.6), "+x")],
    "stacked": [((0.0, 2.2, 0.0), (0.4, 0.4, 0.5), "-y"), ((0.0, 2.2, 0.5), (0.4, 0.4, 0.5), "-y")],
    "behind the sofa": [((0.05, 1.2, 0.0), (0.35, 0.5, 0.55), "+x")],
    "side by side": [((1.2, 0.0, 0.0), (0.4, 0.3, 0.5), "+y"), ((1.6, 0.0, 0.0), (0.4, 0.3, 0.5), "+y")],
}
"""Lower corner, size and side of each cabinet."""
OPENING = (0.25, 0.2)


def cabinet(name: str, device: str, at: Corner, size: Corner, facing: str, opening: tuple[float, float]) -> str:
    """The table of one cabinet."""
    inside = f'at = {list(at)}, size = {list(size)}, facing = "{facing}", opening = {list(opening)}'
    return f'[[absorbers]]\nname = "{name}"\ndevice = "{device}"\ncabinet = {{ {inside} }}\n'


def written(place: str, device: str) -> Scene:
    """The scene as read from text."""
    units = [cabinet(f"unit {n}", device, *one, OPENING) for n, one in enumerate(PLACES[place])]
    return read_scene_text(HEAD + DEVICES[device] + (SOFA if "sofa" in place else "") + "".join(units))


def built(place: str, kind: str) -> Scene:
    """The same from blocks and absorbers on their faces, worked out here."""
    medium = make_scene(box_plan(1.0, 1.0), 1.0).air.medium
    device = {
        "active": Device("active", UNIT.passive(medium), control=UNIT.control(medium), face_area=UNIT.face_area),
        "plate": Device("plate", Plate(3.0, 0.15, 0.3).branches(medium) or ()),
        "branches": Device("branches", (Branch(0.5, 60.0, 3e4),)),
    }[kind]
    blocks, absorbers = [], []
    for n, (at, size, facing) in enumerate(PLACES[place]):
        upper = tuple(round(a + s, 9) for a, s in zip(at, size, strict=True))
        blocks.append(Block(f"box {n}", at, upper, "rigid"))  # type: ignore[arg-type]
        along = 1 if facing[1] == "x" else 0
        middle = (at[along] + 0.5 * size[along], at[2] + 0.5 * size[2])
        low = tuple(round(m - 0.5 * o, 9) for m, o in zip(middle, OPENING, strict=True))
        high = tuple(round(m + 0.5 * o, 9) for m, o in zip(middle, OPENING, strict=True))
        absorbers.append(Absorber(f"face {n}", kind, f"block box {n} {facing}", Rectangle(low, high)))  # type: ignore[arg-type]
    porous_volumes = [PorousVolume("body", (0.7, 0.8, 0.0), (1.3, 2.2, 0.6), 4000.0)] if "sofa" in place else []
    return make_scene(
        box_plan(*SIZE[:2]),
        SIZE[2],
        surfaces=WALL,
        blocks=blocks,
        porous_volumes=porous_volumes,
        devices=(device,),
        absorbers=absorbers,
        sources=SOURCES,
        seats=SEATS,
    )


def transfers(scene: Scene, spacing: float = SPACING) -> NDArray[np.complex128]:
    """(seat, frequency)."""
    return transfer_functions(simulate_scene(scene, spacing, DURATION), FREQUENCY)[0]


@pytest.mark.parametrize("kind", ["active", "plate", "branches"])
@pytest.mark.parametrize("place", PLACES)
def test_a_cabinet_is_a_block_with_a_device_on_its_face(place: str, kind: str) -> None:
    scene = written(place, kind)
    assert scene.warnings == ()
    found, exact = transfers(scene), transfers(built(place, kind))
    assert np.abs(found - exact).max() < 1e-6 * np.abs(exact).max()
    still = replace(scene, variants=(replace(scene.variants[0], devices=(Device(kind, ()),)),))
    assert level_error(transfers(still), exact).max() > 0.2  # the unit does something


@pytest.mark.parametrize("place", PLACES)
def test_energy_never_rises(place: str) -> None:
    for kind in ("plate", "branches"):
        scene = written(place, kind)
        problem = problem_of(scene, SPACING)
        excitation = make_excitation(scene, scene.variants[0], problem, SOURCES[0])
        noise = np.random.default_rng(7).standard_normal(3)
        signal = np.diff(np.concatenate([[0.0, 0.0], noise, [0.0, 0.0]]), n=2)
        block = ExcitationBlock(problem, [excitation], [], signal, 200.0)
        block.advance(len(signal) + 1)
        energy = []
        for _ in range(200):
            before = snapshot(block)
            block.advance(1)
            energy.append(discrete_energy(block, before))
        assert min(energy) > 0.0
        assert np.diff(energy).max() <= 1e-11 * energy[0]


@pytest.mark.parametrize("place", ["corner", "stacked"])
def test_active_units_are_judged_before_the_simulation(place: str) -> None:
    scene = written(place, "active")
    units = check_units(scene, problem_of(scene, SPACING), list(scene.variants))["as described"]
    assert [unit.name for unit in units] == [f"unit {n}" for n in range(len(PLACES[place]))]
    assert all(unit.stability.margin_db > 1.0 for unit in units)


# ---- a stack is one tall unit ----------------------------------------------------------------------------------------


def stack(device: str, height: float, parts: int, more: str = "") -> Scene:
    """A stack `height` m high of `parts` cabinets at wall 4, their whole fronts moving."""
    one = height / parts
    units = [
        cabinet(f"part {n}", device, (0.0, 0.9, round(n * one, 9)), (0.3, 0.4, one), "+x", (0.4, one))
        for n in range(parts)
    ]
    return read_scene_text(HEAD + DEVICES[device] + more + "".join(units))


def apart(kind: str, height: float, more: str = "", spacing: float = FINE) -> NDArray[np.float64]:
    """|difference of level|, dB, (seat, frequency), of two units half as high and one whole one."""
    return level_error(transfers(stack(kind, height, 2), spacing), transfers(stack(kind, height, 1, more), spacing))


def test_a_symmetric_stack_of_two_is_one_unit() -> None:
    assert apart("branches", SIZE[2]).max() < 0.15


@pytest.mark.parametrize("kind", ["plate", "branches"])
def test_a_symmetric_stack_is_one_unit_to_rounding(kind: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ColumnExcess, "of", lambda self, face, cover, depth: 0.0)
    assert apart(kind, SIZE[2], spacing=SPACING).max() < 1e-6


def test_a_stack_on_the_floor_is_one_unit_at_low_frequency() -> None:
    assert apart("branches", 0.8)[:, FREQUENCY <= 60.0].max() < 0.25


def test_two_active_units_are_one_with_two_drivers_at_low_frequency() -> None:
    assert apart("active", 0.8, "count = 2\n")[:, FREQUENCY <= 60.0].max() < 0.1


# ---- drawing, and what a user may get wrong --------------------------------------------------------------------------


@pytest.mark.parametrize("place", PLACES)
def test_the_plan_names_every_cabinet(place: str) -> None:
    figure = draw_plan(written(place, "plate"))
    told = " ".join(text.get_text() for axes in figure.axes for text in axes.texts)
    assert all(f"unit {n}" in told for n in range(len(PLACES[place])))


def test_a_cabinet_that_faces_the_wall_is_refused() -> None:
    text = HEAD + DEVICES["plate"] + cabinet("unit", "plate", (0.0, 0.0, 0.0), (0.4, 0.4, 0.6), "-x", OPENING)
    with pytest.raises(FdtdError, match="no air in front of it"):
        read_scene_text(text)


def test_a_cabinet_that_faces_its_neighbour_is_refused() -> None:
    text = HEAD + DEVICES["plate"] + cabinet("left", "plate", (1.0, 0.0, 0.0), (0.4, 0.4, 0.6), "+x", OPENING)
    text += cabinet("right", "plate", (1.4, 0.0, 0.0), (0.4, 0.4, 0.6), "+y", OPENING)
    with pytest.raises(FdtdError, match="no air in front of it"):
        read_scene_text(text)
