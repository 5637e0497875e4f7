"""What couples to a mode: closed forms in a box, nodal lines, families of modes, coupled rooms, and damped modes.

Rigid box: shape cos(l pi x/L) cos(m pi y/W) cos(n pi z/H), frequency c/2 sqrt((l/L)² + (m/W)² + (n/H)²) (Kuttruff, Room
Acoustics, ch. 3), so shares are products of cosines; the mean over a face is a product of sines over their arguments.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from rooms import DENSITY, SPEED, box_plan, closed_thin_partition, make_scene
from study_rooms import BOX, TRAP

from fdtd import workflow
from fdtd.analysis.mode_shapes import ModeShape, ModeShapes
from fdtd.analysis.response import free_field_reference
from fdtd.physics.admittance import Branch
from fdtd.scene.read import read_scene_text
from fdtd.scene.schema import Absorber, Device, Point3, Rectangle, Scene
from fdtd.scene.shape import Shape
from fdtd.study.mode_coupling import damped_mode_shapes, rigid_mode_shapes
from fdtd.wording.mode_shapes import mode_shape_text
from fdtd.wording.names import on_screen

L, W, H = 5.0, 3.7, 2.4
GRID = 0.2
CORNER, MID_WALL, ON_PLANE, INSIDE = (0.001, 0.001, 0.001), (2.5, 0.001, 0.001), (2.5, 1.2, 0.6), (1.1, 0.9, 0.7)
FACE = Rectangle((1.0, 0.4), (1.8, 1.0))
ORDERS = [(1, 0, 0), (0, 1, 0), (1, 1, 0), (2, 0, 0), (0, 0, 1)]


def with_face(scene: Scene) -> Scene:
    """A unit on wall 1, which runs along x: it takes part in the mode shapes, rigid modes don't feel it."""
    device = Device("still", (Branch(1e6, 1.0, 1.0),))
    unit = Absorber("unit", "still", "wall 1", FACE)
    return replace(scene, variants=(replace(scene.variants[0], absorbers=(unit,), devices=(device,)),))


def said(found: ModeShapes, number: int, scene: Scene) -> str:
    return on_screen(mode_shape_text(found.modes[number], found.places, Shape(scene.room)))


def rigid(scene: Scene, count: int, grid: float = GRID) -> ModeShapes:
    return rigid_mode_shapes(scene, workflow.modes(scene, count=count, grid=grid), 0, grid)


@cache
def box() -> ModeShapes:
    scene = make_scene(box_plan(L, W), H, sources=[CORNER], seats=[CORNER, MID_WALL, ON_PLANE, INSIDE])
    return rigid(with_face(scene), 5)


def exact(order: tuple[int, int, int], at: Point3) -> float:
    return float(np.prod([np.cos(n * np.pi * x / s) for n, x, s in zip(order, at, (L, W, H), strict=True)]))


@pytest.mark.parametrize("number", range(5))
def test_shares_in_a_box_are_products_of_cosines(number: int) -> None:
    # 0.2 m cells, fourth order: 0.5 % of the peak is loose; a value of the cell, not of the point, is off by 6 %.
    one, order = box().modes[number], ORDERS[number]
    frequency = 0.5 * SPEED * np.sqrt(sum((n / s) ** 2 for n, s in zip(order, (L, W, H), strict=True)))
    assert one.frequency == pytest.approx(frequency, rel=1e-3)
    shares = [abs(exact(order, at)) for at in (CORNER, CORNER, MID_WALL, ON_PLANE, INSIDE)]
    np.testing.assert_allclose(one.share[:5], shares, atol=5e-3)
    np.testing.assert_allclose(one.product[0], np.array(shares[1:]) * shares[0], atol=5e-3)
    assert one.travelling == pytest.approx(0.0, abs=1e-9) and len(one.family) == 1


@pytest.mark.parametrize("number", range(5))
def test_a_face_feels_the_mean_pressure_on_it(number: int) -> None:
    (x0, z0), (x1, z1) = FACE.lower, FACE.upper
    mean = 1.0
    for n, size, low, high in ((ORDERS[number][0], L, x0, x1), (ORDERS[number][2], H, z0, z1)):
        k = n * np.pi / size
        mean *= (np.sin(k * high) - np.sin(k * low)) / (k * (high - low)) if n else 1.0
    assert box().modes[number].share[5] == pytest.approx(abs(mean), abs=5e-3)


def test_a_point_on_the_nodal_plane_hears_less_than_one_percent() -> None:
    first = box().modes[0]
    assert first.share[2] < 0.01 and first.share[3] < 0.01
    # Distance to the plane x = L/2; the last place is the middle of the unit's face.
    np.testing.assert_allclose(first.distance, [2.499, 2.499, 0.0, 0.0, 1.4, 1.1], atol=5e-3)


def test_a_mode_is_said_in_words() -> None:
    words = said(box(), 0, make_scene(box_plan(L, W), H))
    assert words.startswith("34.3 Hz: loudest all over wall ") and "wall 2" in words and "wall 4" in words
    assert "'source 0' drives it fully (100 %)" in words
    assert "'seat 2' hears it hardly (less than 1 %), on a nodal line" in words
    assert "'unit' is where it has 6" in words


def test_the_nodal_line_of_an_l_shape_stays_where_it_is() -> None:
    plan = ((0.0, 0.0), (6.4, 0.0), (6.4, 2.9), (3.7, 2.9), (3.7, 5.0), (0.0, 5.0))
    scene = make_scene(plan, 0.3, seats=[(2.0, 0.1, 0.15), (5.0, 2.0, 0.15), (3.4, 2.6, 0.15)])
    coarse, fine, finer = (rigid(scene, 1, h).modes[0] for h in (0.3, 0.15, 0.1))
    # The second seat is past the end of the line, which is known to half a cell.
    assert (np.ptp([m.distance[1:] for m in (fine, finer)], axis=0) < (0.003, 0.02, 0.003)).all()
    assert (np.ptp([m.distance[1:] for m in (coarse, finer)], axis=0) < (0.05, 0.08, 0.02)).all()
    np.testing.assert_allclose(fine.share, finer.share, atol=3e-3)


def test_the_pair_of_a_square_room_is_said_as_a_family() -> None:
    # cos(pi x/L) and cos(pi y/L): together sqrt(cos² + cos²), loudest in the corners, silent in the middle.
    at = (1.0, 1.7, 0.8)
    scene = make_scene(box_plan(4.0, 4.0), 2.2, sources=[(0.001, 0.001, 0.5)], seats=[at, (2.0, 2.0, 1.0)])
    found = rigid(scene, 4)
    pair = found.modes[:2]
    both = np.cos(np.pi * np.array(at[:2]) / 4.0)
    for one in pair:
        assert one.family == (1, 2) and "any mix of them is a mode" in said(found, one.number - 1, scene)
        np.testing.assert_allclose(one.together, [1.0, np.sqrt(np.sum(both**2) / 2.0), 0.0], atol=5e-3)
        np.testing.assert_allclose(one.product, [[abs(both.sum()) / 2.0, 0.0]], atol=5e-3)
    assert found.modes[2].family == (3,) and "any mix" not in said(found, 2, scene)


def damped(scene: Scene, top: float) -> ModeShapes:
    found, _ = workflow.damped_modes(scene, high=top, grid=GRID)
    return damped_mode_shapes(scene, found, 0, GRID)


def test_weakly_damped_modes_look_like_the_rigid_ones_and_ring_as_they_should() -> None:
    # A locally reacting wall of admittance ratio b damps as delta = c b S-bar/(2 V), each wall by the mean square of
    # the shape on it: an axial mode counts its own two walls twice (Kuttruff, ch. 3; Morse and Ingard, sec. 9.5).
    ratio = 1e-3
    walls = (Branch(0.0, SPEED * DENSITY / ratio, 0.0),)
    scene = make_scene(box_plan(L, W), H, surfaces=walls, sources=[CORNER], seats=[CORNER, MID_WALL, ON_PLANE, INSIDE])
    still = box()
    for one, other in zip(damped(scene, 62.0).modes, still.modes[:3], strict=True):
        assert one.frequency == pytest.approx(other.frequency, rel=1e-4)
        np.testing.assert_allclose(one.share, other.share[:5], atol=5e-3)
        np.testing.assert_allclose(one.product, other.product, atol=5e-3)
        assert one.travelling < 1e-3
    first = damped(scene, 40.0).modes[0]
    area = 2.0 * W * H * 2.0 + 2.0 * (L * W + L * H)
    delta = SPEED * ratio * area / (2.0 * L * W * H)
    assert first.decay_time == pytest.approx(3.0 * np.log(10.0) / delta, rel=5e-3)
    # At resonance p/Q = rho c² Λ/(V 2 delta) with Λ = 2 in the corner (∫ shape² = V).
    peak = DENSITY * SPEED**2 * 2.0 / (L * W * H * 2.0 * delta)
    level = 20.0 * np.log10(peak / float(free_field_reference(np.array([first.frequency]), DENSITY)[0]))
    assert first.level[0, 0] == pytest.approx(level, abs=0.1)


def test_two_rooms_joined_by_a_gap_share_modes_one_way_and_the_other() -> None:
    # Equal halves behind a thin partition with a small opening: the pairs of the halves' own modes become one with
    # equal and one with opposite pressure in the two; both are as loud on either side of the thin partition.
    thin_partition = closed_thin_partition("wall", 0, 2.5, (0.0, 0.0), (2.0, 2.4), [((0.0, 0.0), (0.2, 2.4))])
    ends = [(0.1, 1.8, 1.0), (4.9, 1.8, 1.0)]
    scene = make_scene(box_plan(5.0, 2.0), 2.4, thin_partitions=[thin_partition], sources=[ends[0]], seats=ends)
    first = rigid(scene, 3).modes[0]
    assert first.frequency < 0.5 * SPEED / 5.0  # the opening alone lets the two swing against each other
    np.testing.assert_allclose(first.share[0], first.share[2], rtol=1e-3)
    assert first.share[0] > 0.9
    # The nodal surface lies in the opening; the jump across the thin partition is none.
    assert first.distance[0] == pytest.approx(np.hypot(2.4, 1.6), abs=0.15)


def test_a_place_without_air_is_left_open() -> None:
    block = '[[blocks]]\nname = "chest"\nfrom = [0.0, 0.0, 0.0]\nto = [3.3, 0.3, 1.0]\nmaterial = "lining"\n'
    text = BOX.format(floor=0.01, duration=0.3) + TRAP + 'without = ["chest"]\n' + block
    scene = read_scene_text(text, "box.toml")
    found = rigid(scene, 2, 0.3)
    spots = found.rows("spot")
    share = found.modes[0].share[spots]
    on_wall_1 = [found.places[k].at[1] < 0.01 for k in spots]
    assert np.isnan(share[on_wall_1]).all() and np.isfinite(share[~np.array(on_wall_1)]).any()
    assert "couples best" in said(found, 0, scene) or "couple best" in said(found, 0, scene)


def test_shapes_of_another_grid_are_refused() -> None:
    scene = make_scene(box_plan(3.0, 2.0), 2.0)
    with pytest.raises(ValueError, match="cells"):
        rigid_mode_shapes(scene, workflow.modes(scene, count=1, grid=0.4), 0, 0.25)


def test_mode_shapes_are_of_the_peak_whatever_the_scale() -> None:
    scene = make_scene(box_plan(3.0, 2.0), 2.0, seats=[(0.5, 0.5, 0.5)])
    modes = workflow.modes(scene, count=2, grid=0.25)
    ours: list[ModeShape] = list(rigid_mode_shapes(scene, modes, 0, 0.25).modes)
    scaled = rigid_mode_shapes(scene, replace(modes, shape=-7.0 * modes.shape), 0, 0.25).modes
    for one, other in zip(ours, scaled, strict=True):
        np.testing.assert_allclose(one.share, other.share, rtol=1e-9)
        np.testing.assert_allclose(one.shape, other.shape, atol=1e-9)
        assert np.isnan(one.level).all()
