"""The figures of a placement study: drawn from its file, and what is heard with the advised units from a run."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fdtd.results.result import RunResult
    from fdtd.scene.schema import Scene
    from fdtd.study.confirm import Confirmation
    from fdtd.study.loudest import LoudestMap
    from fdtd.study.place import PlacementStudy
    from fdtd.study.robust import Robustness

WINNER = "winner"
"""Folder of the run without and with the advised units, inside the results folder."""


def save_placement_figures(
    file: Path, scene: Scene, folder: Path, theme: str = "light", width: str | None = None
) -> list[Path]:
    """Candidates, ranking, plan, returns, response before and after, from the study's file; returns the files."""
    from fdtd.report.placement_drawings import placement_drawings
    from fdtd.results.placement_reader import read_placement
    from fdtd.show.files import save_drawings
    from fdtd.show.style import WIDTHS

    drawings = placement_drawings(read_placement(file), scene, WIDTHS[width or "full"])
    return save_drawings(drawings, folder, theme)


def save_loudest_figure(
    study: PlacementStudy, meter: LoudestMap, folder: Path, theme: str = "light", width: str | None = None
) -> list[Path]:
    """Level over floor and walls for the tone that rings worst."""
    from fdtd.show.files import save_figure
    from fdtd.show.loudest import draw_loudest
    from fdtd.show.style import WIDTHS, figure_style

    spots = [(spot.at, spot.surfaces) for spot in meter.spots]
    title = f"{study.scene.title or 'room'}: where {meter.frequency[0]:.1f} Hz is loudest"
    with figure_style(theme):
        figure = draw_loudest(
            study.scene, study.variant, meter.surface, meter.at, meter.level, spots, title, WIDTHS[width or "full"]
        )
        return save_figure(figure, folder, "loudest")


def run_winner(
    study: PlacementStudy, robust: Robustness | None, confirmed: Confirmation | None, tones: tuple[float, ...],
    precision: str, progress: Callable[[float, str], None],
) -> tuple[RunResult, Scene] | None:  # fmt: skip
    """Run the room without units and with the advised ones as they would stand; None if no design is stable.

    tones : Hz, of pressure maps
    """
    from dataclasses import replace

    from fdtd import workflow
    from fdtd.errors import StabilityError
    from fdtd.study.place import with_units
    from fdtd.study.place_answer import steady_designs
    from fdtd.study.place_told import WITHOUT
    from fdtd.study.settling import settling_time

    start = replace(study.variant, name=WITHOUT)
    for design in steady_designs(study, robust, confirmed):
        count = len(design.ports)
        after = with_units(study, design, "with one unit" if count == 1 else f"with {count} units")
        scene = replace(study.scene, variants=(start, after))
        # As long as the room without units rings: with hardly any gain to spare the end would not come for a minute.
        duration = scene.run.duration or settling_time(scene, start, study.spacing)
        try:
            result = workflow.run(
                scene, grid=study.spacing, frequencies=tones, duration=duration, precision=precision, progress=progress
            )
        except StabilityError:
            continue  # an active unit at a place that was not tried
        return result, scene
    return None


def save_winner(
    result: RunResult, scene: Scene, folder: Path, figures: bool, theme: str = "light", width: str | None = None
) -> list[Path]:
    """The result file of the advised design, and what is heard of it drawn; returns the files."""
    from fdtd.cli.heard import heard_in
    from fdtd.listening.arrays import derived_arrays
    from fdtd.results.store import write_result
    from fdtd.show.files import save_figures

    listening, _ = heard_in(result, ())
    path = folder / WINNER / "result.h5"
    write_result(result, path, None if listening is None else derived_arrays(listening, result.density))
    if not figures:
        return [path]
    return [path, *save_figures(result, scene, folder / WINNER, listening, theme=theme, width=width)]
