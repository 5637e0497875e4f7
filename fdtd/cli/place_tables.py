"""Tables of a placement study: the best single places, the best of each count, and who wants most of one thing."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from fdtd.cli.tables import format_table

if TYPE_CHECKING:
    from fdtd.placement.objectives import Objectives
    from fdtd.placement.search import Scored
    from fdtd.results.placement_record import PlaceConfidence
    from fdtd.study.place import PlacementStudy
    from fdtd.study.robust import Robustness

SINGLES = 10
LONGEST_TEXT = 57
NOTE = (
    "Benefit: score in dB (ours) = dB more even at the seats + dB closer to each other + 6 for each halving of decays\n"
    "that are too long - a quarter of the dB lost - what the seat that loses most loses. Decay: mean share by which\n"
    "what rings above the threshold decays faster. Even, close: dB less standard deviation over frequency, and\n"
    "between the seats. 10-90 %, top 3: in the perturbed rooms. From 20 to 160 Hz over log frequency, against the\n"
    "room without units. More: docs/placement.md."
)


def format_placement(study: PlacementStudy, robust: Robustness | None) -> str:
    """All tables, and what their columns mean."""
    parts = [singles_table(study, robust), spread_of_places(study), counts_table(study), pareto_table(study), NOTE]
    return "\n\n".join(part for part in parts if part)


def singles_table(study: PlacementStudy, robust: Robustness | None, most: int = SINGLES) -> str:
    """The best places for one unit, each with the device and gain that suit it best."""
    from fdtd.placement.study import Design
    from fdtd.wording.names import on_screen
    from fdtd.wording.places import short_text

    table = study.found.singles
    best = _best_of_places(study)[:most]
    sure = robust.singles if robust is not None else {}
    choices = [_choice(study, (int(table.kinds[row, 0]),), (int(table.gains[row, 0]),)) for row in best]
    differ = len(set(choices)) > 1
    costs = [_cost(study, (int(table.kinds[row, 0]),)) for row in best]
    priced = len(set(costs)) > 1
    header = [
        "Place",
        "where",
        *(["with"] if differ else []),
        *(["price"] if priced else []),
        "benefit",
        *(["10-90 %", "top 3"] if sure else []),
        "decay",
        "even",
        "close",
        "level",
    ]
    rows = []
    for row, choice, cost in zip(best, choices, costs, strict=True):
        port, kind, gain = (int(v[row, 0]) for v in (table.ports, table.kinds, table.gains))
        place = study.places[port]
        text = _cut(on_screen(short_text(place)), LONGEST_TEXT - (len(choice) if differ else 0))
        cells = [str(place.number), text, *([choice] if differ else []), *([cost] if priced else [])]
        cells.append(_plain(float(table.benefit[row])))
        if sure:
            cells += _sure_cells(sure.get(Design((port,), (kind,), (gain,))), robust)
        rows.append(cells + _figure_cells(study, [float(v) for v in table.figures[row]]))
    together = f", all with {choices[0]}" if choices and choices[0] and not differ else ""
    title = f"One unit: the best of {len(study.places)} places{together}\n"
    return title + format_table(header, rows, left=3 if differ else 2)


def _sure_cells(known: PlaceConfidence | None, robust: Robustness | None) -> list[str]:
    if known is None or robust is None:
        return ["", ""]
    span, rooms = known.benefit, robust.sure.perturbed_rooms
    return [
        f"{_plain(span.low)}..{_plain(span.high)}",
        f"{round(known.on_top * rooms)}/{rooms}",
    ]


def _best_of_places(study: PlacementStudy) -> list[int]:
    """Rows of the table of singles, one for each place, best first."""
    import numpy as np

    table = study.found.singles
    seen: dict[int, int] = {}
    for row in np.argsort(-table.benefit, kind="stable"):
        seen.setdefault(int(table.ports[row, 0]), int(row))
    return list(seen.values())


def spread_of_places(study: PlacementStudy) -> str:
    """How much it matters where a unit is."""
    rows = _best_of_places(study)
    values = [float(study.found.singles.benefit[row]) for row in rows]
    if len(values) < 3:
        return ""
    return (
        f"Best place {_plain(values[0])} dB of benefit, a middling one {_plain(values[len(values) // 2])} dB, "
        f"the worst {_plain(values[-1])} dB."
    )


def counts_table(study: PlacementStudy) -> str:
    """The best of each count, seat by seat: as it is, and what the last unit added."""
    from fdtd.placement.steps import gained

    untreated = study.found.untreated
    costs = [_cost(study, step.scored.design.kinds) for step in study.added]
    price = ("price",) if any(costs) else ()
    header = ("Units", "places", *price, "benefit", "adds", "seat", "decay", "adds", "even", "adds", "level")
    rows: list[list[str]] = []
    for step, cost in zip(study.added, costs, strict=True):
        change = gained(untreated, step.scored.objectives)
        numbers = ", ".join(str(study.places[port].number) for port in step.scored.design.ports)
        for k, seat in enumerate(study.variant.seats):
            first = [
                str(step.count),
                numbers,
                *([cost] if price else []),
                _plain(step.scored.objectives.benefit),
                _signed(step.gained.benefit),
            ]
            rows.append(
                [
                    *(first if k == 0 else [""] * len(first)),
                    f"'{_cut(seat.name, 24)}'",
                    _percent(change.ringing_at[k]),
                    _percent(step.gained.ringing_at[k]),
                    _signed(change.uneven_at[k]),
                    _signed(step.gained.uneven_at[k]),
                    _signed(change.level_at[k]),
                ]
            )
    return "The best of each number of units, against none; 'adds': against one unit less\n" + format_table(
        header, rows, left=2
    )


WISHES: tuple[tuple[str, Callable[[Objectives], float]], ...] = (
    ("the best score", lambda o: -o.benefit),
    ("the shortest decay", lambda o: o.ringing),
    ("the most even level", lambda o: o.uneven),
    ("seats most alike", lambda o: o.spread),
    ("no loudness lost", lambda o: max(o.loss, 0.0)),
)


def pareto_table(study: PlacementStudy) -> str:
    """Of the designs that none beats in everything: the best for each wish, of each number of units."""
    rows: list[list[str]] = []
    shown: dict[object, int] = {}
    for wish, value in WISHES:
        best: Scored = min(study.found.pareto, key=lambda s: (value(s.objectives), -s.objectives.benefit))  # noqa: B023
        if best.design in shown:
            rows[shown[best.design]][0] += f", {wish}"
            continue
        shown[best.design] = len(rows)
        o = best.objectives
        numbers = ", ".join(str(study.places[port].number) for port in best.design.ports)
        choice = _choice(study, best.design.kinds, best.design.gains)
        figures = _figure_cells(study, [o.ringing, o.uneven, o.spread, o.loss])
        rows.append([wish, numbers, choice, _plain(o.benefit), *figures])
    if not any(row[2] for row in rows):
        rows = [[*row[:2], *row[3:]] for row in rows]
    total = study.found.pareto_size
    several = len(rows[0]) == 8
    header = ("Who wants", "places", *(("with",) if several else ()), "benefit", "decay", "even", "close", "level")
    intro = f"{total} of {study.found.number:,} designs are beaten by none in everything; of them"
    return f"{intro}\n{format_table(header, rows, left=3 if several else 2)}"


def _figure_cells(study: PlacementStudy, figures: list[float]) -> list[str]:
    """Decay, even, close, level from ringing (octaves), unevenness, spread, loss (dB)."""
    from fdtd.study.design_figures import shorter

    untreated = study.found.untreated
    ringing, uneven, spread, loss = figures
    return [
        _percent(shorter(study, ringing)),
        _signed(untreated.uneven - uneven),
        _signed(untreated.spread - spread),
        _signed(-loss),
    ]


def _choice(study: PlacementStudy, kinds: tuple[int, ...], gains: tuple[int, ...]) -> str:
    """Devices and gains of a design, as far as there is a choice; each once if all are alike."""
    text = []
    if len(study.spots.devices) > 1:
        names = [_cut(study.spots.devices[kind].name, 16) for kind in kinds]
        text.append(names[0] if len(set(names)) == 1 else " + ".join(names))
    turned = [g for kind, g in zip(kinds, gains, strict=True) if study.spots.devices[kind].control is not None]
    if len(study.spots.gains) > 1 and turned:
        values = [f"{study.spots.gains[gain]:g}" for gain in turned]
        text.append("gain " + (values[0] if len(set(values)) == 1 else ", ".join(values)))
    return ", ".join(text)


def _cost(study: PlacementStudy, kinds: tuple[int, ...]) -> str:
    """Price of the units of a design, "" where it is not known."""
    from fdtd.wording.letters import money

    cost = study.spots.cost(study.spots.devices[kind].name for kind in kinds)
    return "" if cost != cost else money(cost)


def _percent(share: float) -> str:
    if share < -9.99:
        return "<-999 %"
    return f"{round(100 * share) + 0:+d} %"


def _plain(value: float) -> str:
    """A decimal, without the sign of a zero."""
    return f"{round(value, 1) + 0.0:.1f}"


def _signed(value: float) -> str:
    return f"{round(value, 1) + 0.0:+.1f}"


def _cut(text: str, longest: int = LONGEST_TEXT) -> str:
    return text if len(text) <= longest else text[: longest - 1] + "…"
