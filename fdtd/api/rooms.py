"""Facts about a room, and its modes."""

from __future__ import annotations

from fdtd import workflow
from fdtd.model.facts import RoomFacts
from fdtd.modes.lossy import LossyModes
from fdtd.results.result import CellGrid
from fdtd.scene.find import fullest_variant, variant_number
from fdtd.scene.schema import Scene
from fdtd.settings import checked_grid
from fdtd.workflow import ModesResult


def check(scene: Scene, grid: float | None = None) -> RoomFacts:
    """Facts about the room, and estimates of time and memory; nothing is simulated. grid : m"""
    return workflow.check(scene, checked_grid(grid))


def modes(scene: Scene, variant: str | None = None, *, count: int = 30, grid: float | None = None) -> ModesResult:
    """The lowest `count` eigenmodes with rigid walls; variant : its name (default: the one with most objects)."""
    return workflow.modes(scene, count=count, grid=checked_grid(grid), variant=_number(scene, variant))


def damped_modes(
    scene: Scene, variant: str | None = None, *, top: float = 120.0, grid: float | None = None
) -> tuple[LossyModes, CellGrid]:
    """Modes from 15 Hz to `top` (Hz) with everything that absorbs, and their cells; variant : as for `modes`."""
    return workflow.damped_modes(scene, high=top, grid=checked_grid(grid), variant=_number(scene, variant))


def _number(scene: Scene, variant: str | None) -> int:
    return fullest_variant(scene) if variant is None else variant_number(scene, variant)
