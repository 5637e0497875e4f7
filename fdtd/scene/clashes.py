"""Things that take up the same space: cabinets with one another and with everything else, points in soft bodies."""

from __future__ import annotations

from collections.abc import Sequence

from shapely.geometry import box

from fdtd.scene.mistakes import Entry, Report
from fdtd.scene.schema import Block, PorousVolume, Seat, Source, ThinPartition
from fdtd.scene.shape import NEAR, TOLERANCE, closed_part, in_box
from fdtd.scene.text import number, numbers, show


def check_cabinets(
    cabinets: Sequence[tuple[Entry, Block]],
    blocks: Sequence[Block],
    porous_volumes: Sequence[PorousVolume],
    thin_partitions: Sequence[ThinPartition],
    report: Report,
) -> set[str]:
    """Report cabinets that stand in one another or in a block, and warn of what is soft or thin and goes through them.

    Returns the names of the cabinets that were refused.
    """
    text = set()
    for i, (entry, cabinet) in enumerate(cabinets):
        in_the_way = [(f"the cabinet of {show(other.name)}", "", earlier) for other, earlier in cabinets[:i]]
        for block in blocks:
            instead = f', or put the absorber on a side of it: on = "block {block.name} ..", instead of "cabinet"'
            in_the_way.append((f"the block {show(block.name)}", instead, block))
        for what, instead, other in in_the_way:
            depths = _common(cabinet, other)
            if depths:
                remedy = f"it overlaps {what} by {depths}: move one of them{instead}"
                report.mistake(entry, "cabinet", f"{_found(cabinet)}; {remedy}")
                text.add(cabinet.name)
        for fill in porous_volumes:
            depths = _common(cabinet, fill)
            if depths:
                remedy = f"it overlaps the porous volume {show(fill.name)} by {depths}, and takes its place there"
                report.warning(entry, "cabinet", f"{_found(cabinet)}; {remedy}")
        for thin_partition in thin_partitions:
            if _runs_through(thin_partition, cabinet):
                plane = f"{'xyz'[thin_partition.axis]} = {number(thin_partition.position)}"
                remedy = f"the thin partition {show(thin_partition.name)} runs through it at {plane}"
                report.warning(entry, "cabinet", f"{_found(cabinet)}; {remedy}: is it meant to stand on one side?")
    return text


def warn_in_porous_volumes(
    entry: Entry, thing: Source | Seat, porous_volumes: Sequence[PorousVolume], report: Report
) -> None:
    """Warn of a source or seat inside a soft body."""
    for fill in porous_volumes:
        if in_box(thing.at, fill.lower, fill.upper, NEAR):
            what = "the head" if isinstance(thing, Seat) else "this"
            where = f"inside {show(fill.name)}, which fills {numbers(fill.lower)} to {numbers(fill.upper)}"
            report.warning(entry, "at", f"found {show(entry.values['at'])}; {what} is {where}")


def _found(cabinet: Block) -> str:
    return f"found {numbers(cabinet.lower)} to {numbers(cabinet.upper)}"


def _common(a: Block, b: Block | PorousVolume) -> str:
    """What two boxes share, '0.2 m along x and ..'; "" if they only touch."""
    sides = [min(a.upper[i], b.upper[i]) - max(a.lower[i], b.lower[i]) for i in range(3)]
    if min(sides) <= NEAR:
        return ""
    return " and ".join(f"{number(round(side, 4))} m along {axis}" for axis, side in zip("xyz", sides, strict=True))


def _runs_through(thin_partition: ThinPartition, cabinet: Block) -> bool:
    """Whether the part of a thin partition that is not an opening goes through a cabinet."""
    axis = thin_partition.axis
    if not cabinet.lower[axis] + NEAR < thin_partition.position < cabinet.upper[axis] - NEAR:
        return False
    low, high = ([p for a, p in enumerate(corner) if a != axis] for corner in (cabinet.lower, cabinet.upper))
    return bool(closed_part(thin_partition).intersection(box(*low, *high)).area > TOLERANCE)
