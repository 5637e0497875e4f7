"""Which places of a shortlist are as good as the first one, and which of these is the safest."""

from __future__ import annotations

from collections.abc import Iterable

from fdtd.results.placement_record import PlaceConfidence


def alike(singles: Iterable[PlaceConfidence]) -> list[PlaceConfidence]:
    """The first place and those that can't be told from it."""
    first, *rest = singles
    return [first, *(place for place in rest if place.behind.low <= 0.0)]


def safest(singles: Iterable[PlaceConfidence]) -> PlaceConfidence:
    """Of the places that are alike the one with the highest mean of its benefit in the room as described and of the
    median over the perturbed rooms: either by itself is swayed more by chance (measured: benchmarks/confidence.py)."""
    return max(alike(singles), key=lambda place: place.benefit.nominal + place.benefit.middle)
