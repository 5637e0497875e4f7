"""What a placement study advises, in sentences."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from math import dist

from fdtd.results.placement_record import Searched, Sureness, Trial
from fdtd.scene.schema import Spots
from fdtd.scene.spots import Candidate
from fdtd.study.built import has_active
from fdtd.study.finished import FinishedPlacement
from fdtd.study.place_answer import answer, placed, sureness, trials
from fdtd.study.sure import alike, safest
from fdtd.wording.answer import how_many
from fdtd.wording.designs import units_text
from fdtd.wording.first_lines import first_lines
from fdtd.wording.letters import capital, listed, plural
from fdtd.wording.names import on_screen, typed
from fdtd.wording.ranking import ranking_text
from fdtd.wording.trials import trial_text
from fdtd.wording.units import first_unit, further

WIDTH = 118
CLOSE_BY = 2.0
"""m between the farthest of several places that are said to lie together."""
FEW_PERTURBED_ROOMS = 8
"""Perturbed rooms below which ranges are a rough idea."""
MAINS = (
    "Before you buy or build: have whatever hangs on a wall or stands high fixed by someone qualified (a loaded box is "
    "heavier than it looks), keep escape routes, heaters and sockets clear, and leave mains electronics to an "
    "electrician. Try the first place with a borrowed unit, and start active units at a low gain: the study knows the "
    "room only as the scene describes it."
)


def advice(done: FinishedPlacement) -> str:
    """What to do, in a few lines of at most 118 characters, before any table."""
    study, found, parts = done.study, answer(done), [first_lines(done)]
    if found is not None:
        parts.append(how_many(found, [s.name for s in study.variant.seats], study.added[-1].gained.audible_at.tolist()))
    return "\n\n".join(wrapped(text) for text in parts)


def details(done: FinishedPlacement) -> str:
    """What the advice rests on, paragraph by paragraph: what is in doubt, the first unit, each further one, how sure,
    what was tried."""
    study, known, tried, parts = done.study, sureness(done), trials(done), []
    if known is not None and not known.robust:
        parts.append(f"Uncertainty: {in_doubt(known, study.spots, study.places)}")
    parts += [first_unit(done), *(further(done, step) for step in study.added[1:])]
    active = study.given.limits is None and any(has_active(study, step.scored.design) for step in study.added)
    parts.append(f"Uncertainty: {confidence_of(known, study.spacing, active)}")
    parts += [what_was_tried(tried, study.spots, study.places)] if tried else []
    if study.found.unstable:
        parts.append(
            f"Left out: {study.found.unstable} of {len(study.places)} places, where a unit would oscillate, or nearly, "
            "at every gain tried."
        )
    return "\n\n".join(wrapped(text) for text in parts)


def wrapped(text: str) -> str:
    """`text` in lines that fit a screen; what goes on is indented by two more."""
    lines = []
    # A number stays with its sign: textwrap breaks lines at plain spaces only.
    for line in on_screen(text).replace(" %", "\xa0%").splitlines():
        depth = len(line) - len(line.lstrip())
        wrapper = textwrap.TextWrapper(WIDTH, break_long_words=False, break_on_hyphens=False)
        wrapper.subsequent_indent = " " * (depth + 2 if depth else 0)
        lines.append(wrapper.fill(line))
    return "\n".join(lines).replace("\xa0%", " %")


def in_doubt(known: Sureness, spots: Spots, places: Sequence[Candidate]) -> str:
    """Said at once when the order of the places is not sure: which are alike, and the most robust of them."""
    same, best = alike(known.singles), safest(known.singles)
    others = [f"spot {one.unit.place}" for one in same if one is not best]
    lines = [f"{ranking_text(known)[0]}."]
    at = [place.at for place, _, _ in placed(spots, places, [one.unit for one in same])]
    apart = max(dist(a, b) for a in at for b in at)
    if others and apart <= CLOSE_BY:
        lines.append(f"  They all lie within {apart:.1f} m of each other: that part of the room is what matters.")
    lines.append(
        f"  The most robust of them is {units_text(spots, placed(spots, places, [best.unit]))}: {best.benefit.low:.1f} "
        "dB of benefit or more in 90 % of such rooms, among the first three in "
        f"{round(best.on_top * known.perturbed_rooms)} of {known.perturbed_rooms}."
    )
    if others:
        lines.append(f"  If it does not fit there, {listed(others)} will do as well.")
    return "\n".join(lines)


def confidence_of(known: Sureness | None, grid: float, active: bool) -> str:
    """What the study is sure of, and from what; grid : m, of the study
    active : whether units were ranked that may oscillate"""
    if known is None:
        return f"not estimated ({typed('--no-robust')})."
    text = ranking_text(known)
    lines = [f"from {known.perturbed_rooms} rooms with slightly different walls, air, units, seats and loudspeakers:"]
    if known.perturbed_rooms < FEW_PERTURBED_ROOMS:
        more = typed("--perturbed-rooms 10")
        lines.append(f"  Only {known.perturbed_rooms} rooms: a rough estimate; {more} gives a better one.")
    if known.grid > 1.001 * grid:
        lines.append(
            f"  The shifts of the figures were computed on cells of {known.grid:.3g} m and added to the study's own, "
            f"from cells of {grid:.3g} m."
        )
    lines += [f"  {capital(w)}." for w in (text if known.robust else text[1:])]
    if active:
        lines.append("  Stability was not part of the ranking, as the cells are too large for it.")
    return "\n".join(lines)


def what_was_tried(trials: Sequence[Trial], spots: Spots, places: Sequence[Candidate]) -> str:
    """What came out of the simulations with the units in."""
    text = (f"  {capital(sentence)}." for sentence in trial_text(trials, spots, places))
    return "\n".join(["Simulations with the units installed:", *text])


def how_measured(excitations: int, reused: float, searched: Sequence[Searched], folder: str) -> str:
    """What was simulated, what was reused, what was searched; excitations : of the places and loudspeakers
    reused : share of them; folder : where measured places are kept."""
    found = "; ".join(map(_searched, searched))
    return f"{_reused(excitations, round(reused * excitations), folder)} Searched: {found}."


def _searched(one: Searched) -> str:
    units = plural(one.count, "unit")
    if one.whole:
        return f"{units}: all {one.tried:,} designs"
    return (
        f"{units}: greedy, then exchange of single units, {one.tried:,} designs tried out of {one.possible:,} (not "
        "all: a better one may exist)"
    )


def _reused(excitations: int, old: int, folder: str) -> str:
    if old == excitations:
        return (
            f"{old} of {excitations} excitations reused from {folder}: what was changed, if anything, is only "
            "devices, gains, the number of units, seat weights or how loudspeakers are played."
        )
    if old:
        return (
            f"{old} of {excitations} excitations were there from a study that was stopped, in {folder}; the others "
            "were simulated."
        )
    return f"{excitations} excitations simulated, one for each place and loudspeaker, and kept in {folder}."
