"""Places for loudspeakers and seats, partitions, and their files."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from fdtd import workflow
from fdtd.api.runs import save_responses
from fdtd.listening.study import Listening, listen
from fdtd.placement.objectives import Objectives
from fdtd.report.arrangement_drawings import arrangement_drawings
from fdtd.report.source_drawings import source_drawings
from fdtd.results.placement_store import WORK, BatchFolder
from fdtd.results.result import RunResult
from fdtd.results.tables_csv import write_rows
from fdtd.scene.find import chosen_variant
from fdtd.scene.schema import Scene
from fdtd.settings import (
    PERTURBED_ROOMS,
    checked_count,
    checked_device,
    checked_from_wall,
    checked_grid,
    checked_perturbed_rooms,
    checked_precision,
    checked_spacing,
    checked_theme,
    checked_tolerance,
    checked_width,
)
from fdtd.show.files import save_drawings
from fdtd.show.partition_drawings import partition_drawings
from fdtd.simulation.device import Execution
from fdtd.study.partition_figures import Compared, compare
from fdtd.study.partitions import PartitionRequest, PartitionStudy, partition_study
from fdtd.study.sources import FROM_WALL, SPACING, MoveStudy, seat_study, source_study
from fdtd.study.stereo import TOLERANCE
from fdtd.study.whole_arrangement import FinishedArrangement, whole_arrangement
from fdtd.wording.arrangements import arrangement_table
from fdtd.wording.partitions import partition_table

Progress = Callable[[float, str], None]
STEMS = {"source": "sources", "pair": "source-pairs", "seat": "seats"}
"""Beginnings of file names, by what was moved."""
SOURCE_COLUMNS = ("benefit_db", "unevenness_db", "spread_db", "ringing_octaves", "level_db")


@dataclass(frozen=True, eq=False)
class FinishedPartitions:
    """study : the variants, and what is done in each; result : their run; listening, compared : what is heard in them,
    and all side by side"""

    study: PartitionStudy
    result: RunResult
    listening: Listening
    compared: Compared


def sources(
    scene: Scene,
    variant: str | None = None,
    source: str | None = None,
    *,
    pairs: bool = False,
    tolerance: float | None = TOLERANCE,
    spacing: float = SPACING,
    from_wall: float = FROM_WALL,
    grid: float | None = None,
    progress: Progress | None = None,
) -> MoveStudy:
    """Every place on the floor for a loudspeaker, or for two with the same signal.

    variant, source : names (default: the first); spacing, from_wall, grid : m
    tolerance : m by which a pair's distances to the main seat may differ, for two channels; None: any pair
    Raises OptionError for what is out of range, FdtdError if there is no such source, no seat, or no place is left.
    """
    return source_study(
        scene,
        chosen_variant(scene, variant),
        name=source,
        pairs=pairs,
        tolerance=checked_tolerance(tolerance),
        spacing=checked_spacing(spacing),
        from_wall=checked_from_wall(from_wall),
        grid=checked_grid(grid),
        progress=progress,
    )


def seats(
    scene: Scene,
    variant: str | None = None,
    seat: str | None = None,
    *,
    spacing: float = SPACING,
    from_wall: float = FROM_WALL,
    grid: float | None = None,
    progress: Progress | None = None,
) -> MoveStudy:
    """Every place on the floor for a seat, the loudspeakers staying: as `sources`."""
    return seat_study(
        scene,
        chosen_variant(scene, variant),
        name=seat,
        spacing=checked_spacing(spacing),
        from_wall=checked_from_wall(from_wall),
        grid=checked_grid(grid),
        progress=progress,
    )


def arrange(
    scene: Scene,
    folder: str | Path | None = None,
    source: str | None = None,
    *,
    pairs: bool = False,
    tolerance: float | None = TOLERANCE,
    spacing: float = SPACING,
    from_wall: float = FROM_WALL,
    grid: float | None = None,
    count: int | None = None,
    precision: str = "single",
    device: str = "auto",
    perturbed_rooms: int | None = PERTURBED_ROOMS,
    confirmed: bool = True,
    tell: Callable[[str], None] = lambda text: None,
    progress: Progress | None = None,
) -> FinishedArrangement:
    """Every place for a loudspeaker, or for two, with every choice of the units of `scene.spots`.

    folder : where finished simulations are kept, None: nowhere; source : name (default: the first); pairs, tolerance,
    spacing, from_wall : as of `sources`; all else as of `place`
    Raises OptionError for what is out of range, FdtdError if the scene has no [spots], no seat, no such source, or no
    place is left for either.
    """
    store = None if folder is None else BatchFolder(Path(folder) / WORK)
    done = whole_arrangement(
        scene,
        name=source,
        pairs=pairs,
        tolerance=checked_tolerance(tolerance),
        spacing=checked_spacing(spacing),
        from_wall=checked_from_wall(from_wall),
        grid=checked_grid(grid),
        count=checked_count(count),
        execution=Execution(checked_precision(precision), checked_device(device), tell=tell),
        perturbed_rooms=None if perturbed_rooms is None else checked_perturbed_rooms(perturbed_rooms),
        confirmed=confirmed,
        store=store,
        progress=progress,
    )
    if store is not None:
        store.tidy()
    return done


def save_arrangement(
    done: FinishedArrangement, folder: str | Path, *, theme: str = "light", width: str | None = None
) -> list[Path]:
    """Write what `fdtd arrange` writes: the table of all arrangements and the figures; returns the paths."""
    checked_theme(theme), checked_width(width)
    table = arrangement_table(done.study)
    written = write_rows(Path(folder) / table.name, table.columns, table.rows)
    return [written, *save_drawings(arrangement_drawings(done, width), Path(folder), theme)]


def partitions(
    scene: Scene,
    thin_partition: str,
    asked: PartitionRequest | None = None,
    variant: str | None = None,
    *,
    grid: float | None = None,
    simulated: Callable[[RunResult], None] | None = None,
    progress: Progress | None = None,
) -> FinishedPartitions:
    """Compare the room with a divider as it is, closed, more open, moved, of another mass, and without it.

    sheet : its name in the scene; asked : what is varied (default: as the command does); variant : room to start from
    (default: the first with the sheet); simulated : called with the run before it is listened to
    Raises PartitionError for what is not there or cannot be.
    """
    study = partition_study(scene, thin_partition, asked or PartitionRequest(), variant)
    return finish_partitions(study, grid, simulated, progress)


def finish_partitions(
    study: PartitionStudy,
    grid: float | None = None,
    simulated: Callable[[RunResult], None] | None = None,
    progress: Progress | None = None,
) -> FinishedPartitions:
    """Simulate the variants of `study` and compare what is heard in them."""
    result = workflow.run(study.scene, grid=checked_grid(grid), progress=progress)
    if simulated is not None:
        simulated(result)
    if progress is not None:
        progress(1.0, "working out what is heard")
    listening = listen(result)
    return FinishedPartitions(study, result, listening, compare(result, listening))


def save_partitions(
    done: FinishedPartitions, folder: str | Path, *, theme: str = "light", width: str | None = None
) -> list[Path]:
    """Write what `fdtd partitions` writes: result.h5, tables, figures; returns the paths."""
    checked_theme(theme), checked_width(width)
    files = save_responses(done.result, done.listening, Path(folder))
    table = partition_table(done.listening, done.compared)
    files.append(write_rows(Path(folder) / table.name, table.columns, table.rows))
    drawings = partition_drawings(done.result, done.listening, width)
    return [*files, *save_drawings(drawings, Path(folder), theme)]


def save_sources(
    study: MoveStudy,
    folder: str | Path,
    *,
    grid: float | None = None,
    theme: str = "light",
    width: str | None = None,
) -> list[Path]:
    """Write what `fdtd sources` writes: the table of all places and the figures; returns the paths.

    grid : m, of the study's cells, for the captions (default: the scene's)
    """
    checked_theme(theme), checked_width(width)
    stem = STEMS[study.what]
    points = ("x_m", "y_m", "z_m") if study.what != "pair" else ("x1_m", "y1_m", "z1_m", "x2_m", "y2_m", "z2_m")
    columns = ("rank", *points, *SOURCE_COLUMNS)
    table = write_rows(Path(folder) / f"{stem}.csv", columns, _source_rows(study, len(points)))
    drawings = source_drawings(study, stem, study.scene.run.grid if grid is None else grid, width)
    return [table, *save_drawings(drawings, Path(folder), theme)]


def _source_rows(study: MoveStudy, width: int) -> Iterator[tuple[str | float, ...]]:
    """Rank 0 is the present state."""

    def row(rank: int, points: list[float], o: Objectives) -> tuple[str | float, ...]:
        padded = [*points, *[float("inf")] * (width - len(points))]
        return (rank, *padded, o.benefit, o.uneven, o.spread, o.ringing, o.level)

    yield row(0, [v for at in study.at_present for v in at], study.present)
    for rank, choice in enumerate(study.choices, start=1):
        yield row(rank, [float(v) for k in choice.places for v in study.places[k]], choice.objectives)
