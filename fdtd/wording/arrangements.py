"""What loudspeakers moved, units added, and both together would do, in sentences and a table."""

from __future__ import annotations

from functools import partial
from math import isnan, nan

from fdtd.placement.study import Design
from fdtd.scene.schema import Point3
from fdtd.scene.shape import Shape
from fdtd.study.arrange import Arrangement, ArrangementStudy
from fdtd.study.built import margin_db
from fdtd.study.place import units_on
from fdtd.study.whole_arrangement import WORTH_MOVING, FinishedArrangement, Option
from fdtd.wording.answer import COARSE, cost_of
from fdtd.wording.designs import units_text
from fdtd.wording.letters import decibels, listed, number
from fdtd.wording.listening_tables import Columns, Table, table_of
from fdtd.wording.names import named, typed
from fdtd.wording.places import position_text
from fdtd.wording.sources import ANY_PAIR, pairs_tried
from fdtd.wording.worst_notes import MOST_SEATS, harm_lines, worst_note_lines


def advice(done: FinishedArrangement) -> list[str]:
    """The first lines: what to do, what each part of it does alone, the worst notes, and what was not looked at."""
    study, options, seats = done.study, done.options, [seat.name for seat in done.study.spots.start.seats]
    lines = [_in_short(done), *_each(done)]
    lines += [text] if (text := _along_walls(study, options.best)) else []
    if options.best.count:
        devices = [study.spots.devices[kind].name for kind in options.best.scored.design.kinds]
        alone = options.best.scored.objectives.benefit if options.best.arrangement is study.now else nan
        lines += [text] if (text := cost_of(study.spots, devices, alone)) else []
    if options.best is not options.leaving[0]:
        lines += harm_lines(done.worst_notes, seats) + worst_note_lines(done.worst_notes[:MOST_SEATS], seats)
        lines += [text] if (text := _tried(done)) else []
    if study.pairs:
        lines.append(
            ANY_PAIR if study.tolerance is None else pairs_tried(study.scene, study.spots.start, study.tolerance)
        )
    if study.grid > COARSE + 1e-9:
        lines.append(
            f"Cells of {study.grid:.3g} m: a first look. Try {typed('--grid 0.1')} before you decide: arrangements "
            "that differ little may change order."
        )
    return lines


def _in_short(done: FinishedArrangement) -> str:
    study, options, best = done.study, done.options, done.options.best
    them, units = _them(study), f"{number(best.count)} {'unit' if best.count == 1 else 'units'}"
    if options.advised == "leaving":
        return f"In short: leave {them} and buy no unit: nothing that was tried is clearly better."
    what = {
        "moving": f"move {them} and buy no unit",
        "adding": f"leave {them} and install {units}",
        "both": f"move {them} and install {units}",
    }
    return f"In short: {what[options.advised]}: {_amount(best)} better than now."


def _each(done: FinishedArrangement) -> list[str]:
    """A sentence for each thing that can be done."""
    study, options, lines = done.study, done.options, []
    them = "Loudspeakers" if len(study.moved) > 1 else "The loudspeaker"
    for name, option in (("moving", options.moving), ("adding", options.adding), ("both", options.both)):
        if not option:
            continue
        one = option[0]
        units = units_at(study, one.scored.design)
        what = {
            "moving": f"{them} alone: {positions(study, one.arrangement)}",
            "adding": f"Units alone: {units}",
            "both": f"Both: {positions(study, one.arrangement)}, with {units}",
        }
        lines.append(f"{what[name]}: {_amount(one)}.")
    if done.perturbed_rooms:
        lines.append(
            f"In brackets: where the benefit lies in 8 of 10 rooms that are a little different ({done.perturbed_rooms} "
            "were simulated)."
        )
    if options.moving and options.moving[0].scored.objectives.benefit < WORTH_MOVING:
        lines.append(f"Nothing is moved for less than {WORTH_MOVING:g} dB.")
    return lines


def _along_walls(study: ArrangementStudy, best: Option) -> str:
    """The best arrangement along the walls, where loudspeakers usually stand, if the advised one is out in the room."""
    if study.along_walls(best.arrangement):
        return ""
    near = next((one for one in study.ranked(best.count) if study.along_walls(one)), None)
    if near is None:
        return "That is out in the room; there is no arrangement along the walls."
    gain = decibels(Option(near, best.count).scored.objectives.benefit)
    return f"That is out in the room. Along the walls the best is {positions(study, near)}: {gain}."


def _amount(option: Option) -> str:
    """'2.1 dB (0.9 to 2.6 dB)'."""
    found, known = decibels(option.scored.objectives.benefit), option.benefit
    return found if known is None else f"{found} ({known.low:.1f} to {decibels(known.high)})"


def _tried(done: FinishedArrangement) -> str:
    """What the simulation of the advice found."""
    if done.tried is None:
        return ""
    if isnan(done.simulated):
        return "Simulated as installed, the units would oscillate at every gain that was tried."
    text = f"Simulated as installed: {decibels(done.simulated)}"
    asked, used = done.tried.asked, done.tried.design
    if used != asked:
        text += f", at the lower gain {done.study.spots.gains[min(used.gains)]:g}, which they need to be stable"
    margin = margin_db(done.tried)
    return text + (f"; the gain could rise by {decibels(margin)} before they oscillate." if margin < 1e3 else ".")


def _them(study: ArrangementStudy) -> str:
    if study.pairs and len(study.moved) == 1:
        return f"{named(study.moved[0])}, with a second one like it,"
    return listed([named(name) for name in study.moved])


def positions(study: ArrangementStudy, arrangement: Arrangement) -> str:
    """Where the moved loudspeakers are."""
    shape = Shape(study.scene.room)
    return " and ".join(position_text(shape, at) for at in points(study, arrangement))


def points(study: ArrangementStudy, arrangement: Arrangement) -> list[Point3]:
    """m, where the loudspeakers that can move are."""
    if arrangement is study.now:
        return [source.at for source in study.spots.start.sources if source.name in study.moved]
    return [source.at for source in study.moved_to(arrangement)]


def units_at(study: ArrangementStudy, design: Design) -> str:
    """The units of a design and where they are."""
    if len(design.ports) == 1:
        return units_text(study.spots, units_on(study.spots, study.places, design))
    return f"{number(len(design.ports))} units at spots {listed([str(study.places[p].number) for p in design.ports])}"


def spots(study: ArrangementStudy, arrangement: Arrangement) -> str:
    """Numbers of the spots of its largest number of units: '3, 17'; "" without any."""
    last = next(scored for scored in reversed(arrangement.best) if scored is not None)
    return ", ".join(str(study.places[port].number) for port in last.design.ports)


def arrangement_table(study: ArrangementStudy) -> Table:
    """arrangements.csv: a row for each, rank 0 as it is now (docs/commands/arrange.md)."""
    counts, most = range(len(study.now.best)), 2 if study.pairs else 1
    Row = tuple[int, Arrangement]

    def point(one: Row, k: int, axis: int) -> float:
        at = points(study, one[1])
        return at[k][axis] if k < len(at) else float("inf")

    def benefit(one: Row, n: int) -> float:
        figures = one[1].with_units(n)
        return float("nan") if figures is None else figures.benefit

    names = ("x", "y", "z") if most == 1 else ("x1", "y1", "z1", "x2", "y2", "z2")
    columns: Columns[Row] = [
        ("rank", lambda one: one[0]),
        *((f"{name}_m", partial(point, k=k // 3, axis=k % 3)) for k, name in enumerate(names)),
        *((f"benefit_{n}_units_db", partial(benefit, n=n)) for n in counts),
        ("spots", lambda one: spots(study, one[1])),
    ]
    return table_of("arrangements.csv", columns, enumerate((study.now, *study.others)))
