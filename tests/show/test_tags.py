"""Short tags of things on maps: no letter that could be read as left, right or seat, and the same in the key."""

from __future__ import annotations

import dataclasses

import pytest

from fdtd.scene.schema import Scene, Seat, Source
from fdtd.show.maps import draw_plan_maps
from fdtd.show.style import COLUMN_WIDTH, FULL_WIDTH
from fdtd.show.things import tag_things
from show.synthetic import make_cells, make_result, make_scene


def pair() -> Scene:
    """A room with loudspeakers called left and right."""
    scene = make_scene()
    sources = (Source("left", (1.0, 1.0, 0.9)), Source("right", (1.0, 2.6, 0.9)))
    seats = (Seat("sofa, left", (4.0, 1.2, 1.1)), Seat("sofa, right", (4.0, 2.2, 1.1)))
    variants = tuple(dataclasses.replace(v, sources=sources, seats=seats) for v in scene.variants)
    return dataclasses.replace(scene, variants=variants)


def test_a_tag_is_the_shape_of_the_mark_and_a_number() -> None:
    tags = tag_things(list(pair().variants))
    assert tags["source", "left"] == "■1" and tags["seat", "sofa, right"] == "●2"
    assert len(set(tags.values())) == len(tags)
    assert not any(letter.isalpha() for tag in tags.values() for letter in tag)


@pytest.mark.parametrize("width", [COLUMN_WIDTH, FULL_WIDTH])
def test_the_key_of_a_map_has_mark_number_and_name(width: float) -> None:
    scene = pair()
    figure = draw_plan_maps(make_result(scene, make_cells(scene, (12, 10, 5))), scene, 0, width=width)
    (legend,) = figure.legends
    told = [text.get_text() for text in legend.get_texts()]
    assert {"1 left", "2 right", "1 sofa, left", "2 sofa, right"} <= set(told)
    shapes = [getattr(handle, "get_marker", lambda: "")() for handle in legend.legend_handles]
    assert shapes[told.index("2 sofa, right")] == "o" != shapes[told.index("2 right")]
    written = {text.get_text() for axes in figure.axes for text in axes.texts}
    assert {"■1", "■2", "●1", "●2"} <= written
