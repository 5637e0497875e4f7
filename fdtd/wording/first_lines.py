"""The first lines of a placement study's advice: how many units, where, what they do, what gain is left, how sure."""

from __future__ import annotations

import numpy as np

from fdtd.placement.study import Design
from fdtd.scene.text import show
from fdtd.study.decide import Decision
from fdtd.study.finished import FinishedPlacement
from fdtd.study.place import PlacementStudy
from fdtd.study.place_answer import answer, sureness
from fdtd.study.robust import Robustness
from fdtd.wording.answer import cost_text, gain_left, not_confident, on_cells, with_and_without_power
from fdtd.wording.designs import effect
from fdtd.wording.letters import listed, number
from fdtd.wording.names import named
from fdtd.wording.places import short_text
from fdtd.wording.worst_notes import MOST_SEATS, harm_lines, worst_note_lines


def first_lines(done: FinishedPlacement) -> str:
    """The advice, which is that of the result file and the report."""
    study, robust, decided, found = done.study, done.robustness, done.decision, answer(done)
    if decided is None or found is None or decided.figures.benefit <= study.found.untreated.benefit:
        devices = " or ".join(named(d.name) for d in study.spots.devices)
        lines = [f"Install none: no place was found for {devices} that improves this room by the score."]
    else:
        lines = [_advised(study, robust, decided, gain_left(found) if decided.worthwhile else "")]
        notes, seats = done.worst_notes, [seat.name for seat in study.variant.seats]
        lines += harm_lines(notes, seats)
        lines += worst_note_lines(notes[:MOST_SEATS], seats)
        lines += [cost] if decided.worthwhile and (cost := cost_text(study.spots, found)) else []
        lines += [power] if (power := with_and_without_power(found)) else []
        several = decided.worthwhile > 1  # of one unit it is in the same sentence
        lines += [doubt] if several and (doubt := not_confident(sureness(done), found)) else []
        lines += _each_device(study) if len(study.spots.devices) > 1 else []
    if found is not None and (cells := on_cells(found, study.spacing)):
        lines.append(cells)
    return "\n".join(lines)


def _advised(study: PlacementStudy, robust: Robustness | None, decided: Decision, left: str) -> str:
    design, put = decided.design, "Put "
    if len(design.ports) == 1:
        what = f"one {_unit(study, design)} {_where(study, design)}"
        put = (
            "NOT SURE which place is best. The most robust choice: put "
            if robust is not None and not robust.sure.robust
            else put
        )
    else:
        what = f"{number(len(design.ports))} {_units(study, design)}"
    put = put if decided.worthwhile else "Install none. The best found: "
    return f"{put}{what}: {effect(study, design)}." + (f" {left}" if left else "")


def _each_device(study: PlacementStudy) -> list[str]:
    """A line for each device: the best that one of it reaches."""
    table, lines = study.found.singles, ["The best that one of each reaches:"]
    for kind in range(len(study.spots.devices)):
        rows = np.flatnonzero(table.kinds[:, 0] == kind)
        if not len(rows):
            dear = not study.given.affordable([kind])
            why = "costs more than the budget" if dear else "would oscillate at every place and gain"
            lines.append(f"  {show(study.spots.devices[kind].name)}: {why}.")
            continue
        row = int(rows[np.argmax(table.benefit[rows])])
        design = Design((int(table.ports[row, 0]),), (kind,), (int(table.gains[row, 0]),))
        text = f"  {_unit(study, design)} at {study.places[design.ports[0]].name}: benefit {table.benefit[row]:.1f} dB"
        lines.append(f"{text}, {effect(study, design)}.")
    return lines


def _unit(study: PlacementStudy, design: Design) -> str:
    ((_, device, gain),) = study.units(design)
    turned = device.control is not None and len(study.spots.gains) > 1
    return named(device.name) + (f" at gain {gain:g}" if turned else "")


def _units(study: PlacementStudy, design: Design) -> str:
    """'units 'NAME' at gain 0.5 at spots 3 and 7', each with its own name and gain where they differ."""
    alone = [Design((p,), (k,), (g,)) for p, k, g in zip(design.ports, design.kinds, design.gains, strict=True)]
    names = [_unit(study, one) for one in alone]
    if len(set(names)) == 1:
        return f"units {names[0]} at spots {listed([str(study.places[port].number) for port in design.ports])}"
    each = [f"{name} at {study.places[one.ports[0]].name}" for name, one in zip(names, alone, strict=True)]
    return f"units, {listed(each)}"


def _where(study: PlacementStudy, design: Design) -> str:
    place = study.places[design.ports[0]]
    return f"at {place.name} ({short_text(place)})"
