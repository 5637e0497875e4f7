"""A made-up room with made-up results, for figures only: closed-form modal sums of a box, cut to the room's shape."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np

from fdtd.physics.admittance import Branch
from fdtd.results.result import CellGrid, RunResult, VariantResult
from fdtd.scene.schema import (
    Absorber,
    Air,
    Block,
    Device,
    Patch,
    Plane,
    Point2,
    PorousVolume,
    Rectangle,
    Room,
    Scene,
    Seat,
    Source,
    ThinPartition,
    Variant,
)
from fdtd.show.geometry import View, outlines

BOX = (7.2, 5.6, 2.5)
ELL: tuple[Point2, ...] = ((0, 0), (7.2, 0), (7.2, 3.1), (4.1, 3.1), (4.1, 5.6), (0, 5.6))
SLANTED: tuple[Point2, ...] = ((0, 0), (7.2, 0), (6.2, 5.6), (1.0, 5.6), (0, 3.0))
ATTIC: tuple[Plane, ...] = ((1.2, 0.0, 0.7), (1.2 + 0.7 * 5.6, 0.0, -0.7), (2.5, 0.0, 0.0))


def make_variant(name: str = "bare", *, absorber: bool = False, plan: tuple[Point2, ...] = ELL) -> Variant:
    """One state of the room; `absorber` adds the corner unit."""
    unit = (
        (Absorber("corner unit", "unit", f"wall {len(plan)}", Rectangle((0.2, 0.2), (0.6, 0.7))),) if absorber else ()
    )
    return Variant(
        name=name,
        patches=(Patch("patio door", "wall 1", Rectangle((4.4, 0.0), (6.2, 2.1)), "glass"),),
        blocks=(Block("cupboard", (2.6, 0.0, 0.0), (3.6, 0.6, 2.0), "wood"),),
        thin_partitions=(
            ThinPartition(
                "shelf divider", 0, 4.1, Rectangle((0.0, 0.0), (3.1, 2.5)), (Rectangle((0.8, 0.0), (1.8, 2.1)),), 0.3
            ),
        ),
        porous_volumes=(PorousVolume("sofa", (5.2, 0.9, 0.1), (6.2, 2.7, 1.15), 5000.0),),
        sources=(Source("left", (0.8, 0.6, 0.5)), Source("right", (0.8, 2.6, 0.5), 0.0, 0.002)),
        seats=(Seat("one-third point", (5.6, 1.6, 1.1)), Seat("desk", (2.0, 4.6, 1.2))),
        absorbers=unit,
        devices=(Device("unit", (Branch(0.6, 60.0, 29020.0),)),),
        surfaces=(),
    )


def make_scene(
    names: tuple[str, ...] = ("bare", "fitted"),
    plan: tuple[Point2, ...] = ELL,
    ceiling: tuple[Plane, ...] = ((2.5, 0.0, 0.0),),
    title: str = "Ell-shaped test room",
) -> Scene:
    """The room with one variant a name; all but the first have the corner unit."""
    variants = tuple(make_variant(n, absorber=k > 0, plan=plan) for k, n in enumerate(names))
    return Scene(title, Air(343.2, 1.204), Room(plan, ceiling), (), variants)


def box_of(scene: Scene) -> tuple[float, float, float]:
    """Sides of the box around the room, m; its plan begins at (0, 0)."""
    x, y = np.max(scene.room.plan, axis=0)
    high = max(
        float(piece[:, 1].max())
        for normal, size in ((0, x), (1, y))
        for at in np.linspace(0.0, size, 9)
        for piece in outlines(scene.room, View(normal, float(at)))
    )
    return float(x), float(y), high


def make_cells(scene: Scene, shape: tuple[int, int, int] = (30, 25, 20)) -> CellGrid:
    """Cells that are at least partly in the room and have their centre in no block."""
    edges = tuple(np.linspace(0.0, size, n + 1) for size, n in zip(box_of(scene), shape, strict=True))
    index = np.array(list(product(*map(range, shape))), dtype=np.int32)
    middle = np.stack([0.5 * (e[1:] + e[:-1])[index[:, k]] for k, e in enumerate(edges)], axis=1)
    step = [e[1] - e[0] for e in edges]
    keep = np.zeros(len(middle), dtype=bool)
    for shift in product((-0.49, 0.49), repeat=3):
        x, y, z = (middle + np.array(shift) * step).T
        low = np.min([a + b * x + c * y for a, b, c in scene.room.ceiling], axis=0)
        keep |= _inside(np.array(scene.room.plan, dtype=float), x, y) & (z < low)
    for block in scene.variants[0].blocks:
        keep &= ~((middle > block.lower) & (middle < block.upper)).all(axis=1)
    return CellGrid(edges, index[keep], np.full(int(keep.sum()), step[0] * step[1] * step[2]))  # type: ignore[arg-type]


def _inside(plan: np.ndarray, x: np.ndarray, y: np.ndarray) -> np.ndarray:
    odd = np.zeros(len(x), dtype=bool)
    for (x0, y0), (x1, y1) in zip(plan, np.roll(plan, -1, axis=0), strict=True):
        if y0 != y1:
            odd ^= ((y0 > y) != (y1 > y)) & (x < x0 + (y - y0) / (y1 - y0) * (x1 - x0))
    return odd


def centres(cells: CellGrid) -> np.ndarray:
    """(cell, 3) m."""
    return np.stack([0.5 * (e[1:] + e[:-1])[cells.index[:, k]] for k, e in enumerate(cells.edges)], axis=1)


def modal_sum(
    sources: np.ndarray, places: np.ndarray, frequency: np.ndarray, damping: float, box: tuple[float, ...] = BOX
) -> np.ndarray:
    """(source, place, frequency) transfer of a rigid box with uniform damping (Kuttruff, Room Acoustics, ch. 3)."""
    c, rho, volume = 343.2, 1.204, float(np.prod(box))
    omega = 2 * np.pi * np.asarray(frequency)
    total = np.zeros((len(sources), len(places), len(omega)), dtype=complex)
    for n in product(range(9), range(7), range(4)):
        own = np.pi * c * np.sqrt(sum((k / size) ** 2 for k, size in zip(n, box, strict=True)))
        if own > 2 * np.pi * 260:
            continue
        weight = np.prod([2.0 if k else 1.0 for k in n])
        at_source, at_place = (
            np.prod([np.cos(np.pi * k * p[:, a] / box[a]) for a, k in enumerate(n)], axis=0) for p in (sources, places)
        )
        shape = 1j * omega * rho * c**2 * weight / volume / (own**2 - omega**2 + 2j * damping * omega)
        total += (at_source[:, None] * at_place[None, :])[..., None] * shape
    return total


def make_result(scene: Scene, cells: CellGrid | None = None) -> RunResult:
    """Results for `scene`; every further variant is damped more."""
    cells = make_cells(scene) if cells is None else cells
    frequency, maps, box = np.arange(10.0, 200.5, 0.5), np.array([23.8, 61.3]), box_of(scene)
    first = scene.variants[0]
    sources = np.array([s.at for s in first.sources])
    seats = np.array([s.at for s in first.seats])
    variants = []
    for k, variant in enumerate(scene.variants):
        damping = 6.0 + 9.0 * k
        variants.append(
            VariantResult(
                name=variant.name,
                transfer=modal_sum(sources, seats, frequency, damping, box),
                impulse=np.zeros((len(sources), len(seats), 4)),
                maps=modal_sum(sources, centres(cells), maps, damping, box).swapaxes(1, 2).astype(np.complex64),
                cells=cells,
                source_level=np.array([s.level for s in first.sources]),
                source_delay=np.array([s.delay for s in first.sources]),
                source_polarity=np.array([float(s.polarity) for s in first.sources]),
                playback=np.array([s.playback(frequency) for s in first.sources]),
                map_playback=np.array([s.playback(maps) for s in first.sources]),
                outcome="quiet",
                duration=1.0,
                steps=1000,
            )
        )
    names = tuple(s.name for s in first.sources), tuple(s.name for s in first.seats)
    return RunResult(
        scene.title,
        scene.text,
        "0",
        "2026-01-01T00:00:00Z",
        "0" * 64,
        343.2,
        1.204,
        1e-4,
        0.24,
        200.0,
        "double",
        *names,
        frequency,
        np.arange(4) * 1e-3,
        maps,
        tuple(variants),
    )


def renamed(result: RunResult, sources: tuple[str, ...], seats: tuple[str, ...]) -> RunResult:
    """The same result with other names."""
    return replace(result, sources=sources, seats=seats)
