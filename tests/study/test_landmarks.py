"""Places as people say them: behind a loudspeaker is away from the seats, far things are told with their distance."""

from __future__ import annotations

import pytest

from fdtd.scene.schema import Rectangle, Seat, Source, Variant
from fdtd.scene.spots import Candidate
from fdtd.study.landmarks import seen_from_things

ROOM = Variant(
    "room", (), (), (), (), (Source("left", (1.0, 1.0, 0.4)),), (Seat("Anna's chair", (4.0, 1.0, 1.1)),), (), (), ()
)


def place(
    at: tuple[float, float, float], corner: str, words: str, on: str = "wall 4", bottom: float = 0.0
) -> Candidate:
    height = f"{bottom:.2f} m above the floor" if bottom else "on the floor"
    return Candidate(1, "spot 1", words, height, on, Rectangle((0.0, bottom), (0.3, bottom + 0.5)), at, corner)


@pytest.mark.parametrize(
    ("one", "told"),
    [
        (place((0.1, 0.8, 0.2), "corner", "wall 4, in its corner with wall 1, on the floor"),
         "in the corner behind 'left'"),
        (place((0.1, 0.8, 0.9), "edge", "wall 4, in its corner with wall 1, 0.60 m above the floor", bottom=0.6),
         "up in the corner, 0.60 m above the floor, behind 'left'"),
        (place((1.0, 0.1, 0.2), "edge", "wall 1, 1.00 m from its corner with wall 4, on the floor"),
         "at the foot of the wall beside 'left'"),
        (place((5.0, 1.2, 0.9), "face", "wall 2, 1 m from its corner", "wall 2", 0.6),
         "on the wall, 0.60 m above the floor, behind 'Anna's chair'"),
        (place((4.0, 4.0, 0.0), "face", "floor", "floor"), "on the floor 3.0 m from 'Anna's chair'"),
        (place((1.5, 2.0, 1.0), "face", "block", "block shelf +x"), "on 'shelf' beside 'left'"),
    ],
)  # fmt: skip
def test_seen_from_the_nearest_thing(one: Candidate, told: str) -> None:
    assert seen_from_things(one, ROOM) == told
