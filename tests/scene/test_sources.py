"""What a source plays: roll-off and crossovers in the scene file, in variants, and as one complex factor."""

from __future__ import annotations

import numpy as np
import pytest

from fdtd.errors import SceneError
from fdtd.physics.loudspeaker import Crossover, Rolloff
from fdtd.scene.read import read_scene_text
from fdtd.scene.schema import Scene, Source

FREQUENCY = np.array([10.0, 35.0, 80.0, 200.0])

ROOM = """scene = 1
[room]
plan = [[0, 0], [5, 0], [5, 4], [0, 4]]
height = 2.5
[surfaces]
floor = "rigid"
ceiling = "rigid"
walls = "rigid"
[[seats]]
name = "r"
at = [3, 2, 1]
[[sources]]
name = "sub"
at = [1, 1, 0.3]
"""


def scene(keys: str, change: str = "") -> Scene:
    """A scene whose one source has `keys`, with a variant that sets `change` of it."""
    variants = f'[[variants]]\nname = "a"\n[[variants]]\nname = "b"\nset = {{ sub = {{ {change} }} }}\n'
    return read_scene_text(ROOM + keys + "\n" + (variants if change else ""), "room.toml")


def played(keys: str, change: str = "") -> Source:
    """The source, after the change if there is one."""
    return scene(keys, change).variants[-1].sources[0]


def test_a_plain_source_plays_flat() -> None:
    source = played("")
    assert (source.rolloff, source.lowpass, source.highpass) == (None, None, None)
    np.testing.assert_array_equal(source.playback(FREQUENCY), np.ones(4))


def test_the_keys_arrive() -> None:
    source = played(
        'rolloff = { kind = "closed", frequency = 35.0, q = 0.8 }\n'
        'lowpass = { frequency = 80, order = 4, kind = "linkwitz-riley" }\n'
        'highpass = { frequency = 20, order = 3, kind = "butterworth" }'
    )
    assert source.rolloff == Rolloff("closed", 35.0, 0.8)
    assert source.lowpass == Crossover("linkwitz-riley", 4, 80.0, "low")
    assert source.highpass == Crossover("butterworth", 3, 20.0, "high")


def test_defaults_are_those_of_the_document() -> None:
    source = played('rolloff = { kind = "vented", frequency = 28 }\nlowpass = { frequency = 80 }')
    assert source.rolloff == Rolloff("vented", 28.0, None)
    assert source.lowpass == Crossover("linkwitz-riley", 4, 80.0, "low")


def test_playback_is_the_product_of_everything() -> None:
    source = played(
        "level = -6\ndelay = 4\npolarity = -1\n"
        'rolloff = { kind = "closed", frequency = 35 }\nlowpass = { frequency = 80 }\nhighpass = { frequency = 20 }'
    )
    assert source.rolloff and source.lowpass and source.highpass
    expected = -(10 ** (-6 / 20)) * np.exp(-2j * np.pi * FREQUENCY * 0.004) * source.rolloff.response(FREQUENCY)
    expected = expected * source.lowpass.response(FREQUENCY) * source.highpass.response(FREQUENCY)
    np.testing.assert_allclose(source.playback(FREQUENCY), expected, rtol=1e-12)
    assert source.playback(80.0).shape == ()


def test_two_halves_of_a_crossover_are_one_loudspeaker() -> None:
    """Sub and main at one place, Linkwitz-Riley order 4 at 80 Hz: their sum is an all-pass (Linkwitz 1976)."""
    both = played("lowpass = { frequency = 80 }").playback(FREQUENCY)
    both = both + played("highpass = { frequency = 80 }").playback(FREQUENCY)
    np.testing.assert_allclose(np.abs(both), 1.0, rtol=1e-12)


CLOSED = 'rolloff = { kind = "closed", frequency = 35, q = 0.9 }'


@pytest.mark.parametrize(
    ("keys", "change", "rolloff"),
    [
        ("", 'rolloff = { kind = "closed", frequency = 40 }', Rolloff("closed", 40.0)),
        (CLOSED, "rolloff = { frequency = 40 }", Rolloff("closed", 40.0, 0.9)),
        (CLOSED, "rolloff = { q = 0.5 }", Rolloff("closed", 35.0, 0.5)),
        # q of the closed box means nothing for a vented one: it goes, and with it an error about its range.
        (CLOSED, 'rolloff = { kind = "vented" }', Rolloff("vented", 35.0)),
        (CLOSED, 'rolloff = { kind = "vented", q = 0.3 }', Rolloff("vented", 35.0, 0.3)),
        (CLOSED, 'rolloff = { kind = "closed", frequency = 40 }', Rolloff("closed", 40.0, 0.9)),
        (
            'rolloff = { kind = "vented", frequency = 30, q = 0.17 }',
            'rolloff = { kind = "closed" }',
            Rolloff("closed", 30.0),
        ),
        (CLOSED, 'rolloff = { kind = "none" }', None),
        ("", 'rolloff = { kind = "none" }', None),
        (CLOSED, "level = 3", Rolloff("closed", 35.0, 0.9)),
    ],
)
def test_variants_change_the_roll_off(keys: str, change: str, rolloff: Rolloff | None) -> None:
    read = scene(keys, change)
    assert read.variants[1].sources[0].rolloff == rolloff
    assert read.variants[0].sources == scene(keys).variants[0].sources


def test_variants_change_crossovers() -> None:
    low = "lowpass = { frequency = 80, order = 8 }"
    assert played(low, "lowpass = { frequency = 60 }").lowpass == Crossover("linkwitz-riley", 8, 60.0, "low")
    changed = played(low, 'lowpass = { kind = "butterworth" }, delay = 3')
    assert changed.lowpass == Crossover("butterworth", 8, 80.0, "low") and changed.delay == pytest.approx(0.003)
    assert played(low, 'lowpass = { kind = "none" }').lowpass is None
    assert played("", "highpass = { frequency = 80 }").highpass == Crossover("linkwitz-riley", 4, 80.0, "high")


@pytest.mark.parametrize(
    ("keys", "change", "words"),
    [
        (CLOSED, "rolloff = { q = 9 }", ['set "sub", rolloff, key "q"', "found 9"]),
        (CLOSED, 'rolloff = { kind = "vented", q = 0.9 }', ['set "sub", rolloff, key "q"', "from 0.15 to 0.6"]),
        ("", 'rolloff = { kind = "vented" }', ['set "sub", rolloff', '"frequency" is missing']),
        (
            'lowpass = { kind = "butterworth", frequency = 80, order = 3 }',
            'lowpass = { kind = "linkwitz-riley" }',
            ['set "sub", lowpass, key "kind"', "found order 3", "2, 4 or 8"],
        ),
    ],
)
def test_a_mistake_in_a_change_is_said_there(keys: str, change: str, words: list[str]) -> None:
    with pytest.raises(SceneError) as caught:
        scene(keys, change)
    (problem,) = caught.value.problems
    assert all(word in problem for word in words), problem


def test_swapped_crossovers_are_pointed_out() -> None:
    (warning,) = scene("lowpass = { frequency = 40 }\nhighpass = { frequency = 80 }").warnings
    assert "found 80 Hz, but the low-pass is at 40 Hz" in warning
    assert scene("lowpass = { frequency = 80 }\nhighpass = { frequency = 20 }").warnings == ()
