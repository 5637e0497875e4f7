"""Between the cells: their own values at their middles, smooth, as deep in a null as it is, nothing across a wall."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fdtd.results.result import CellGrid
from fdtd.scene.schema import Block, Rectangle, Scene, ThinPartition, Variant
from fdtd.show.geometry import View
from fdtd.show.plane_field import Picture, plane_air, plane_values

from .synthetic import centres, make_cells, make_scene

SIZE = (4.0, 3.0)
BOX_PLAN = ((0.0, 0.0), (4.0, 0.0), (4.0, 3.0), (0.0, 3.0))
VIEW = View(2, 1.2)


def untreated(plan: tuple[tuple[float, float], ...] = BOX_PLAN, **things: object) -> tuple[Scene, Variant]:
    scene = make_scene(("bare",), plan)
    none = {"patches": (), "blocks": (), "thin_partitions": (), "porous_volumes": (), **things}
    variant = replace(scene.variants[0], **none)
    return replace(scene, variants=(variant,)), variant


def drawn(
    scene: Scene, variant: Variant, values: np.ndarray, cells: CellGrid, u: np.ndarray, v: np.ndarray
) -> np.ndarray:
    plane = plane_values(cells, values, scene, variant, VIEW)
    return Picture(plane_air(cells.edges[:2], np.isfinite(plane), scene, variant, VIEW), u, v)(plane)


def middles(cells: CellGrid) -> list[np.ndarray]:
    return [0.5 * (edges[1:] + edges[:-1]) for edges in cells.edges]


def test_the_middles_of_cells_keep_their_values() -> None:
    scene, variant = untreated()
    cells = make_cells(scene, (11, 8, 5))
    rng = np.random.default_rng(3)
    values = rng.normal(size=len(cells.index)) + 1j * rng.normal(size=len(cells.index))
    u, v, z = middles(cells)
    shown = Picture(plane_air(cells.edges[:2], np.ones((11, 8), bool), scene, variant, View(2, z[2])), u, v)(
        plane_values(cells, values, scene, variant, View(2, float(z[2])))
    )
    own = np.empty((11, 8), complex)
    layer = cells.index[:, 2] == 2
    own[cells.index[layer, 0], cells.index[layer, 1]] = values[layer]
    np.testing.assert_allclose(shown, own, rtol=0.0, atol=1e-9)


def test_a_mode_is_drawn_as_it_is_up_to_the_wall() -> None:
    """Cells of a quarter of a metre: the rigid box's own cosine within a thousandth, at the wall as well."""
    scene, variant = untreated()
    cells = make_cells(scene, (16, 12, 10))
    x, y, _ = centres(cells).T
    wave = np.cos(2.0 * np.pi * x / 4.0) * np.cos(np.pi * y / 3.0)
    u, v = np.linspace(0.0, 4.0, 81), np.linspace(0.0, 3.0, 61)
    exact = np.outer(np.cos(2.0 * np.pi * u / 4.0), np.cos(np.pi * v / 3.0))
    np.testing.assert_allclose(drawn(scene, variant, wave, cells, u, v), exact, atol=1e-3)


def test_a_null_between_cells_is_as_deep_as_it_is() -> None:
    """A null of a tone halfway between two cells: there the level of a mean of levels would end 20 dB down."""
    scene, variant = untreated()
    cells = make_cells(scene, (16, 12, 10))
    x, y, _ = centres(cells).T
    # A rotating wave, silent at one point: x = 2, y = 1.5 on the corner of four cells.
    wave = np.cos(np.pi * x / 4.0) + 1j * np.cos(np.pi * y / 3.0)
    shown = np.abs(drawn(scene, variant, wave, cells, np.array([1.5, 2.0, 2.5]), np.array([1.0, 1.5, 2.0])))
    assert 20.0 * np.log10(shown[1, 1]) < -80.0 and shown[[0, 0, 2, 2], [0, 2, 0, 2]].min() > 0.5


def two_rooms(x: np.ndarray) -> np.ndarray:
    return np.where(x < 2.0, 1.0, -0.3 + 0.4j)


PARTED = {
    "partition": untreated(thin_partitions=(ThinPartition("screen", 0, 2.0, Rectangle((0.0, 0.0), (3.0, 2.5))),)),
    "block": untreated(blocks=(Block("wall", (1.9, 0.0, 0.0), (2.1, 3.0, 2.5), "brick"),)),
    # 4 cm: thinner than the cells, which are air on both sides of it.
    "thin block": untreated(blocks=(Block("board", (1.98, 0.0, 0.0), (2.02, 3.0, 2.5), "board"),)),
    "thin wall": untreated(
        ((0.0, 0.0), (1.98, 0.0), (1.98, 2.99), (2.02, 2.99), (2.02, 0.0), (4.0, 0.0), (4.0, 3.0), (0.0, 3.0))
    ),
}


@pytest.mark.parametrize("kind", PARTED)
def test_nothing_is_mixed_across(kind: str) -> None:
    scene, variant = PARTED[kind]
    cells = make_cells(scene, (16, 12, 10))
    u, v = np.linspace(0.0, 4.0, 161), np.linspace(0.0, 2.6, 40)
    shown = drawn(scene, variant, two_rooms(centres(cells)[:, 0]), cells, u, v)
    left, right = u < 1.97, u > 2.03
    np.testing.assert_allclose(shown[left], 1.0, atol=1e-9)
    np.testing.assert_allclose(shown[right], -0.3 + 0.4j, atol=1e-9)


def test_through_a_door_the_field_goes_on() -> None:
    thin_partition = ThinPartition(
        "screen", 0, 2.0, Rectangle((0.0, 0.0), (3.0, 2.5)), (Rectangle((1.0, 0.0), (2.0, 2.1)),)
    )
    scene, variant = untreated(thin_partitions=(thin_partition,))
    cells = make_cells(scene, (16, 12, 10))
    x = centres(cells)[:, 0]
    u, v = np.linspace(1.5, 2.5, 101), np.array([0.4, 1.5])
    shown = drawn(scene, variant, two_rooms(x).real, cells, u, v)
    assert np.abs(np.diff(shown[:, 0])).max() > 1.0  # a step at the partition
    assert np.abs(np.diff(shown[:, 1])).max() < 0.2  # none in the door


def test_a_shelf_under_the_plane_keeps_what_is_below_it_out() -> None:
    shelf = ThinPartition("shelf", 2, 1.0, Rectangle((0.0, 0.0), (4.0, 1.5)))
    scene, variant = untreated(thin_partitions=(shelf,))
    cells = make_cells(scene, (16, 12, 10))
    values = np.where(centres(cells)[:, 2] < 1.0, 1.0, 0.0)
    shown = plane_values(cells, values, scene, variant, View(2, 1.05)).real
    assert (shown[:, :6] == 0.0).all()
    np.testing.assert_allclose(shown[:, 6:], 0.3, atol=1e-9)  # 0.2 of 0.25 m from one middle to the other


def test_a_slanted_wall_has_colour_up_to_it() -> None:
    scene, variant = untreated(((0.0, 0.0), (4.0, 0.0), (2.6, 3.0), (0.0, 3.0)))
    cells = make_cells(scene, (16, 12, 10))
    u, v = np.linspace(0.0, 4.0, 81), np.linspace(0.0, 3.0, 61)
    x, y, _ = centres(cells).T
    shown = drawn(scene, variant, np.cos(np.pi * x / 4.0), cells, u, v)
    inside = u[:, None] < 4.0 - 1.4 / 3.0 * v
    exact = np.broadcast_to(np.cos(np.pi * u / 4.0)[:, None], shown.shape)
    # At the wall the field is level over half a cell.
    assert np.abs(shown - exact)[inside].max() < 0.15 and np.median(np.abs(shown - exact)[inside]) < 1e-3
