"""Places as people say them: behind a loudspeaker is away from the seats, far things are told with their distance."""

from __future__ import annotations

import pytest

from fdtd.scene.schema import Rectangle, Seat, Source, Variant
from fdtd.scene.spots import Candidate, WallEnd
from fdtd.wording.names import on_screen
from fdtd.wording.places import place_text, seen_from_things

ROOM = Variant(
    "room", (), (), (), (), (Source("left", (1.0, 1.0, 0.4)),), (Seat("Anna's chair", (4.0, 1.0, 1.1)),), (), (), ()
)


def place(
    at: tuple[float, float, float],
    corner: str,
    end: WallEnd | None = None,
    on: str = "wall 4",
    bottom: float = 0.0,
    beside: str = "",
) -> Candidate:
    face = Rectangle((0.0, bottom), (0.3, bottom + 0.5))
    return Candidate(1, on, face, at, corner, "raised" if bottom else "floor", bottom, beside, end)


@pytest.mark.parametrize(
    ("one", "told"),
    [
        (place((0.1, 0.8, 0.2), "corner", WallEnd(1, "corner", 0.0)), "in the corner behind 'left'"),
        (
            place((0.1, 0.8, 0.9), "edge", WallEnd(1, "corner", 0.0), bottom=0.6),
            "up in the corner, 0.60 m above the floor, behind 'left'",
        ),
        (place((1.0, 0.1, 0.2), "edge", WallEnd(4, "corner", 1.0), "wall 1"), "at the foot of the wall beside 'left'"),
        (
            place((5.0, 1.2, 0.9), "face", WallEnd(1, "corner", 1.0), "wall 2", 0.6),
            "on the wall, 0.60 m above the floor, behind 'Anna's chair'",
        ),
        (place((4.0, 4.0, 0.0), "face", on="floor"), "on the floor 3.0 m from 'Anna's chair'"),
        (place((1.5, 2.0, 1.0), "face", on="block shelf +x"), "on 'shelf' beside 'left'"),
    ],
)
def test_seen_from_the_nearest_thing(one: Candidate, told: str) -> None:
    assert on_screen(seen_from_things(one, ROOM)) == told


@pytest.mark.parametrize(
    ("one", "told"),
    [
        (
            place((0.1, 0.8, 0.2), "edge", WallEnd(1, "outer", 0.0)),
            "wall 4, at its outer corner with wall 1, on the floor; at an edge",
        ),
        (
            place((0.1, 0.8, 0.2), "face", WallEnd(1, "straight", 0.5), bottom=0.6),
            "wall 4, 0.50 m from its end at wall 1, 0.60 m above the floor",
        ),
        (
            place((1.5, 2.0, 0.2), "corner", on="block tall shelf +x", beside="box"),
            "'tall shelf', side +x, beside 'box', on the floor; in a corner",
        ),
        (
            place((1.5, 2.0, 0.2), "face", on="block shelf +x"),
            "'shelf', side +x, its centre at y = 2.00 m, on the floor",
        ),
        (
            place((1.5, 2.0, 1.2), "face", on="block shelf +z", bottom=1.2),
            "'shelf', side +z, its centre at x = 1.50 m, y = 2.00 m",
        ),
        (place((1.5, 2.0, 0.0), "face", on="floor"), "floor, its centre at x = 1.50 m, y = 2.00 m"),
    ],
)
def test_said_with_a_tape_measure(one: Candidate, told: str) -> None:
    assert on_screen(place_text(one)) == told
