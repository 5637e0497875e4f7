"""What a mode shape shows, in a sentence or two."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
from numpy.typing import NDArray

from fdtd.analysis.mode_shapes import Loudest, ModeShape, Place, best_first
from fdtd.results.placement_record import LoudSpot
from fdtd.scene.faces import wall_number
from fdtd.scene.shape import Shape
from fdtd.wording.letters import listed
from fdtd.wording.names import named
from fdtd.wording.places import spot_text

MOST_NAMED = 4
"""Seats or sources that a sentence names; the table has all of them."""
BEST_SPOTS = 3
NEAR_LINE = 0.4
"""m to a nodal line that is worth telling of a weak seat."""
DRIVEN = ("fully", "well", "moderately", "weakly", "hardly")
HEARD = ("at full strength", "strongly", "moderately", "weakly", "hardly")
BLURRED = 0.1
"""Share of travelling energy from which it is told."""


def loudest_text(shape: Shape, loudest: Loudest) -> str:
    """Where a mode is loudest: "all over wall 3 and wall 5"."""
    covered = [name if wall_number(name) else f"the {name}" for name in loudest.covered]
    rest = list(dict.fromkeys(_place(shape, spot) for spot in loudest.spots))
    named = ([f"all over {listed(covered[:3])}"] if covered else []) + rest[: max(0, 3 - len(covered[:3]))]
    more = len(covered) + len(rest) - min(3, len(covered)) - len(named) + bool(covered)
    return listed(named) + (f" (and {more} more place{'s' * (more > 1)})" if more > 0 else "")


def _place(shape: Shape, spot: LoudSpot) -> str:
    place, height = spot_text(shape, spot)
    if not height:
        return place
    corner = sum(wall_number(name) > 0 for name in spot.surfaces) > 1
    return f"{'in the' if corner else 'at'} {place} ({height})"


def mode_shape_text(one: ModeShape, places: Sequence[Place], shape: Shape) -> str:
    """A mode shape in a sentence; of a family of modes what doesn't change when they are mixed; shape : of the room."""
    share = one.share if len(one.family) == 1 else one.together
    kinds = ("source", "seat", "absorber", "spot")
    rows = {kind: [k for k, p in enumerate(places) if p.kind == kind] for kind in kinds}
    text = [f"{one.frequency:.1f} Hz{_decay(one.decay_time)}: {_family(one)}loudest {loudest_text(shape, one.loudest)}"]
    text += _each(rows["source"], places, lambda k: f"drives it {_step(share[k], DRIVEN)}", share)
    text += _each(rows["seat"], places, lambda k: f"hears it {_step(share[k], HEARD)}{_line(one, share, k)}", share)
    text += _each(rows["absorber"], places, lambda k: f"is where it has {percent(share[k])} of its peak", share)
    best = best_first(share, rows["spot"])[:BEST_SPOTS]
    if best:
        numbers = listed([str(places[k].number) for k in best])
        low, high = percent(share[best[-1]]), percent(share[best[0]])
        shares = low if low == high else f"{low} to {high}"
        text.append(f"spots {numbers} couple best ({shares})" if len(best) > 1 else f"spot {numbers} couples best")
    if one.travelling >= BLURRED:
        text.append(f"its nodal lines are blurred, as {percent(one.travelling)} of its energy travels")
    return "; ".join(text) + "."


def _decay(seconds: float) -> str:
    if math.isnan(seconds):
        return ""
    if seconds < 0.0:
        return ", growing"
    return f", decaying by 60 dB in {seconds:.2f} s" if seconds < 1000.0 else ", not decaying"


def _family(one: ModeShape) -> str:
    others = [str(n) for n in one.family if n != one.number]
    if not others:
        return ""
    plural = "s" if len(others) > 1 else ""
    return (
        f"one of a family with mode{plural} {listed(others)}, so close in frequency that any mix of them is a mode "
        "(shares are of all of them together); this one is "
    )


def _each(
    rows: Sequence[int], places: Sequence[Place], sentence: Callable[[int], str], share: NDArray[np.float64]
) -> list[str]:
    """What `sentence` says of each place in air, of the first few."""
    known = [k for k in rows if np.isfinite(share[k])]
    text = [f"{named(places[k].name)} {sentence(k)}" for k in known[:MOST_NAMED]]
    return text + ([f"{len(known) - MOST_NAMED} more in the table"] if len(known) > MOST_NAMED else [])


def _line(one: ModeShape, share: NDArray[np.float64], k: int) -> str:
    if share[k] >= 0.5 or one.distance[k] > NEAR_LINE or len(one.family) > 1:
        return ""
    return f", {one.distance[k]:.2f} m from a nodal line" if one.distance[k] >= 0.05 else ", on a nodal line"


def percent(share: float) -> str:
    """'34 %', and that it is less than one."""
    return "less than 1 %" if share < 0.005 else f"{100.0 * share:.0f} %"


def _step(share: float, text: tuple[str, ...]) -> str:
    """How strongly a place hears or drives a mode, from its share of the peak pressure; the steps are ours."""
    limits = (0.89, 0.63, 0.316, 0.1)  # 1, 4, 10 and 20 dB below the peak
    word = text[next((k for k, limit in enumerate(limits) if share >= limit), len(limits))]
    return f"{word} ({percent(share)})"
