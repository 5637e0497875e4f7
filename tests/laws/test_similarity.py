"""A room of twice the size sounds the same an octave lower.

Set-up: random rooms (tests/random_rooms.py), and the same with all lengths doubled, masses doubled, resistances kept,
stiffnesses halved, flow resistivities halved; the pulse an octave lower, as many steps.
Exact: the equations keep their form; for equal dQ/dt the pressure is halved (rho/(4 pi r)).
Expected error: rounding of lengths to a nanometre whatever the room's size (depths of air columns before walls,
corners and shapes of cut cells): some 1e-9, up to 1e-6 where thin cut cells lie in a fill.
Tolerance: 1e-6 of the largest pressure; 1e-11 with rigid axis-aligned surfaces, where no such rounding is left.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from random_rooms import points_in_air, random_room
from rooms import problem_of

from fdtd.model.excitations import make_excitation
from fdtd.physics.admittance import Branch, Branches
from fdtd.scene.schema import Rectangle, Scene, Variant
from fdtd.simulation.device import DOUBLE
from fdtd.simulation.stepper import simulate


def bigger_branch(branch: Branch) -> Branch:
    """The same impedance at half the frequency."""
    return Branch(2.0 * branch.mass, branch.resistance, 0.5 * branch.stiffness)


def bigger_branches(branches: Branches) -> Branches:
    """All of them."""
    return tuple(bigger_branch(b) for b in branches)


def stiff(branches: Branches) -> Branches:
    """Stiffness raised until each branch resonates above 21 Hz with any air mass up to 0.4 kg/m²: the program tunes
    each
    branch's time discretisation to its resonance if that is above 10 Hz, and no branch may change sides."""
    least = (2.0 * np.pi * 21.0) ** 2
    return tuple(
        replace(b, stiffness=max(b.stiffness, least * (b.mass + 0.4))) if b.stiffness > 0.0 else b for b in branches
    )


def stiffened(scene: Scene) -> Scene:
    """The scene with all surfaces and devices made `stiff`."""
    variant = scene.variants[0]
    devices = tuple(replace(d, branches=stiff(d.branches)) for d in variant.devices)
    materials = tuple(replace(m, branches=stiff(m.branches)) for m in scene.materials)
    return replace(scene, materials=materials, variants=(replace(variant, devices=devices),))


def twice(values: tuple) -> tuple:
    """Every coordinate doubled."""
    return tuple(2.0 * v for v in values)


def bigger_rectangle(rectangle: Rectangle) -> Rectangle:
    """Doubled."""
    return Rectangle(twice(rectangle.lower), twice(rectangle.upper))


def bigger_variant(v: Variant) -> Variant:
    """Everything in the room doubled."""
    return replace(
        v,
        patches=tuple(replace(p, rectangle=bigger_rectangle(p.rectangle)) for p in v.patches),
        absorbers=tuple(replace(a, rectangle=bigger_rectangle(a.rectangle)) for a in v.absorbers),
        devices=tuple(replace(d, branches=bigger_branches(d.branches)) for d in v.devices),
        blocks=tuple(replace(b, lower=twice(b.lower), upper=twice(b.upper)) for b in v.blocks),
        porous_volumes=tuple(
            replace(f, lower=twice(f.lower), upper=twice(f.upper), flow_resistivity=0.5 * f.flow_resistivity)
            for f in v.porous_volumes
        ),
        thin_partitions=tuple(
            replace(
                s,
                position=2.0 * s.position,
                rectangle=bigger_rectangle(s.rectangle),
                depth=2.0 * s.depth,
                openings=tuple(bigger_rectangle(o) for o in s.openings),
                panel=s.panel and bigger_branch(s.panel),
            )
            for s in v.thin_partitions
        ),
    )


def bigger(scene: Scene) -> Scene:
    """The scene with all lengths doubled and its surfaces an octave lower."""
    room = replace(
        scene.room,
        plan=tuple(twice(corner) for corner in scene.room.plan),
        ceiling=tuple((2.0 * a, b, c) for a, b, c in scene.room.ceiling),
    )
    return replace(
        scene,
        room=room,
        materials=tuple(replace(m, branches=bigger_branches(m.branches)) for m in scene.materials),
        variants=(bigger_variant(scene.variants[0]),),
    )


def pressures(
    scene: Scene, spacing: float, max_frequency: float, seconds: float, scale: float, seed: int
) -> np.ndarray:
    """(seat, step) from a source and two seats at the same places (times `scale`), Pa."""
    problem = problem_of(scene, spacing)
    places = points_in_air(problem_of(random_room(seed), 0.3), 3, seed)
    points = [twice(p) if scale == 2.0 else p for p in places]
    excitation = make_excitation(scene, scene.variants[0], problem, points[0])
    return simulate(problem, [excitation], points[1:], max_frequency, seconds, execution=DOUBLE).seats[0]


def scaling_error(scene: Scene, seed: int) -> float:
    """Largest difference between the room and its double, as a share of the largest pressure."""
    small = pressures(scene, 0.3, 200.0, 0.1, 1.0, seed)
    large = pressures(bigger(scene), 0.6, 100.0, 0.2, 2.0, seed)
    steps = min(small.shape[1], large.shape[1])
    return float(np.abs(2.0 * large[:, :steps] - small[:, :steps]).max() / np.abs(small).max())


@pytest.mark.parametrize("seed", range(1, 41, 8))
def test_double_size_is_half_the_frequency(seed: int) -> None:
    assert scaling_error(stiffened(random_room(seed)), seed) < 1e-6


@pytest.mark.parametrize("seed", [0, 1, 4, 20, 21, 24])
def test_double_size_with_rigid_surfaces_and_no_slopes(seed: int) -> None:
    scene = random_room(seed)
    variant = replace(scene.variants[0], absorbers=())
    materials = tuple(replace(m, branches=()) for m in scene.materials)
    assert scaling_error(replace(scene, materials=materials, variants=(variant,)), seed) < 1e-11
