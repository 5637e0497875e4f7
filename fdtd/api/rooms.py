"""Facts about a room, and its modes."""

from __future__ import annotations

from fdtd import workflow
from fdtd.model.facts import RoomFacts
from fdtd.modes.lossy import LossyModes
from fdtd.results.result import CellGrid
from fdtd.scene.find import drawn_variant
from fdtd.scene.schema import Scene
from fdtd.settings import checked_grid, checked_modes, checked_top
from fdtd.workflow import ModesResult


def check(scene: Scene, grid: float | None = None) -> RoomFacts:
    """Facts about the room, and estimates of time and memory; nothing is simulated. grid : m"""
    return workflow.check(scene, checked_grid(grid))


def modes(scene: Scene, variant: str | None = None, *, count: int = 30, grid: float | None = None) -> ModesResult:
    """The lowest `count` eigenmodes with rigid walls; variant : its name (default: the one with most objects)."""
    number = drawn_variant(scene, variant)
    return workflow.modes(scene, count=checked_modes(count), grid=checked_grid(grid), variant=number)


def damped_modes(
    scene: Scene, variant: str | None = None, *, top: float = 120.0, grid: float | None = None
) -> tuple[LossyModes, CellGrid]:
    """Modes from 15 Hz to `top` (Hz) with everything that absorbs, and their cells; variant : as for `modes`."""
    number, high = drawn_variant(scene, variant), checked_top(top, scene.run.max_frequency)
    return workflow.damped_modes(scene, high=high, grid=checked_grid(grid), variant=number)
