"""What a placement study advises, in sentences: how sure first if it is not, then where, what it changes, how many."""

from __future__ import annotations

import textwrap
from math import dist

import numpy as np

from fdtd.study.built import has_active
from fdtd.study.decide import UNTRIED, Decision
from fdtd.study.finished import FinishedPlacement
from fdtd.study.first_lines import first_lines, one_more
from fdtd.study.loudest import LoudestMap, agreement_with_best, describe
from fdtd.study.place import PlacementStudy
from fdtd.study.robust import Robustness
from fdtd.study.sure import alike, number, safest
from fdtd.study.unit_words import first_unit, further

WIDTH = 118
CLOSE_BY = 2.0
"""m between the farthest of several places that are said to lie together."""
FEW_DRAWS = 8
"""Perturbed rooms below which ranges are a rough idea."""
MAINS = (
    "Before you buy or build: let someone who knows fix what hangs on a wall or stands high (a loaded box weighs more "
    "than its fixings look), keep escape routes, heaters and sockets free, and leave work on mains electronics to an "
    "electrician. Try the first place with a borrowed unit, and start active units at a low gain: the study knows the "
    "room only as the scene tells it."
)


def advice(done: FinishedPlacement) -> str:
    """The answer, paragraph by paragraph, lines of at most 118 characters."""
    return "\n\n".join(wrapped(text) for _, text in paragraphs(done))


def paragraphs(done: FinishedPlacement) -> list[tuple[str, str]]:
    """The answer as (topic, text): headline, doubt, count, first, further, sure, tried."""
    study, robust, confirmed, decided = done.study, done.robustness, done.confirmation, done.decision
    parts = [("headline", first_lines(done))]
    parts += [("doubt", verdict_first(study, robust))] if robust is not None and not robust.robust else []
    parts += [("count", how_many(study, decided)), ("first", first_unit(done))]
    parts += [("further", further(done, step)) for step in study.added[1:]]
    parts.append(("sure", how_sure(study, robust)))
    if confirmed is not None:
        tried = ["Tried by simulations with the units in:", *(f"  {_capital(w)}." for w in confirmed.words)]
        parts.append(("tried", "\n".join(tried)))
    return [(topic, text) for topic, text in parts if text]


def wrapped(text: str) -> str:
    """`text` in lines that fit a screen; what goes on is indented by two more."""
    lines = []
    for line in text.splitlines():
        depth = len(line) - len(line.lstrip())
        indent = " " * (depth + 2 if depth else 0)
        # A number stays with its sign: textwrap breaks lines at plain spaces only.
        line = line.replace(" %", "\xa0%")
        lines.append(
            textwrap.fill(line, WIDTH, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False)
        )
    return "\n".join(lines).replace("\xa0%", " %")


def verdict_first(study: PlacementStudy, robust: Robustness) -> str:
    """Said at once when the order of the places is not sure: which are alike, and the safest of them."""
    same, best = alike(robust.singles), safest(robust.singles)
    others = [study.places[s.design.ports[0]].name for s in same if s is not best]
    lines = [f"How sure: {robust.words[0]}."]
    at = [study.places[s.design.ports[0]].at for s in same]
    apart = max(dist(a, b) for a in at for b in at)
    if others and apart <= CLOSE_BY:
        lines.append(f"  They all lie within {apart:.1f} m of each other: that part of the room is what matters.")
    low = best.figures.benefit.low
    lines.append(
        f"  The safest of them is {study.words(best.design)}: {low:.1f} dB of benefit or more in nine tenths "
        f"of the perturbed rooms, among the first three in {round(best.on_top * robust.draws)} of {robust.draws}."
    )
    if others:
        lines.append(f"  If it does not fit there: {', '.join(others)} will do as well, as far as is known.")
    return "\n".join(lines)


def how_many(study: PlacementStudy, decided: Decision | None) -> str:
    """The number of units to buy, and why not one more."""
    if decided is None:
        return ""
    count, why = decided.worthwhile, one_more(decided)
    if count == 0:
        return f"In short: buy none. {why}"
    if decided.why_not == UNTRIED:
        if count == 1:
            return "In short: one unit is worth while; more were not tried."
        heard = f"each one is heard{_where_last(study)}"
        return f"In short: {number(count)} units are worth while, {heard}; more were not tried."
    return f"In short: buy {number(count)}. {why}"


def _where_last(study: PlacementStudy) -> str:
    heard = study.added[-1].gained.heard_at
    if heard.all() or not heard.any():
        return ""
    seats = [f"'{s.name}'" for s, yes in zip(study.variant.seats, heard, strict=True) if yes]
    return f", the last only at {' and '.join(seats)}"


def how_sure(study: PlacementStudy, robust: Robustness | None) -> str:
    """What the study is sure of, and from what."""
    if robust is None:
        return "How sure this is was not looked at (--no-robust)."
    words = robust.words if robust.robust else robust.words[1:]
    lines = [
        f"How sure, from {robust.draws} rooms with walls, air, units, seats and loudspeakers a little other than said:"
    ]
    if robust.draws < FEW_DRAWS:
        lines.append(f"  Only {robust.draws} rooms tried: a rough idea. --draws 10 tells more.")
    if robust.spacing > 1.001 * study.spacing:
        lines.append(
            f"  How far figures move was computed on cells of {robust.spacing:.3g} m and added to the study's own, "
            f"from cells of {study.spacing:.3g} m."
        )
    lines += [f"  {_capital(w)}." for w in words]
    if len(study.added) > 1 and any(has_active(study, step.scored.design) for step in study.added[1:]):
        lines.append("  Of several units that is at the gains that were ranked, whether they are stable there or not.")
    return "\n".join(lines)


def reused(study: PlacementStudy, folder: str) -> str:
    """What had been measured before."""
    lanes = len(study.places) + len(study.variant.sources)
    old = round(study.response.reused * lanes)
    if old == lanes:
        return (
            f"{old} of {lanes} lanes reused from {folder}: what was changed, if anything, is only devices, gains, the "
            "number of units, seat weights or how loudspeakers are played."
        )
    if old:
        return f"{old} of {lanes} lanes were there from a study that was stopped, in {folder}; the others were marched."
    return f"{lanes} lanes marched, one for each place and loudspeaker, and kept in {folder}."


def with_a_meter(study: PlacementStudy, meter: LoudestMap) -> str:
    """Where a level meter would find it loudest, and whether that is where a unit does most."""
    table = study.found.singles
    best = np.full(len(study.places), -np.inf)
    np.maximum.at(best, table.ports[:, 0], table.benefit)
    said = agreement_with_best(meter.level_at([p.at for p in study.places]), best).words
    first, *rest = describe(meter)
    return "\n".join(
        [f"Is the loudest place the best? {_capital(said)}.", f"  {first}", *(f"  {line}" for line in rest)]
    )


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
