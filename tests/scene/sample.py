"""A valid scene that uses everything the reader reads; tests break it on purpose. Invented numbers."""

from __future__ import annotations

TEXT = """# a test room
scene = 1
title = "Test room"

[air]
temperature = 21.0
humidity = 45.0

[room]
plan = [
    [0, 0],
    [6.0, 0],
    [6.0, 3.1],
    [4.0, 3.1],
    [4.0, 5.2],
    [0, 5.2],
]
height = 2.5

[surfaces]
floor = "boards"
ceiling = "lining"
walls = "plaster"
"wall 2" = "rigid"

[materials.boards]
admittance_ratio = 0.01

[materials."lining"]
branches = [
    { mass = 9.5, resistance = 850.0, stiffness = 1.7e6 },
    { resistance = 9e4 },
]
source = "invented"

[materials.plaster]
admittance_ratio = 0.002

[[patches]]
name = "patio door"
on = "wall 2"
from = [1.0, 0.0]
to = [2.8, 2.1]
material = "lining"

[[patches]]
name = "rug"
on = "floor"
from = [1.0, 1.0]
to = [3.0, 2.0]
material = "boards"

[[patches]]
name = "cupboard front"
on = "block cupboard -x"
from = [0.1, 0.2]
to = [0.8, 1.8]
material = "boards"

[[blocks]]
name = "cupboard"
from = [5.2, 0.0, 0.0]
to = [6.0, 0.9, 2.0]
material = "boards"

[[sheets]]
name = "screen"
from = [4.0, 0.0, 0.0]
to = [4.0, 3.1, 2.0]
openings = [
    { from = [0.8, 0.0], to = [1.7, 2.0] },
]
open_fraction = 0.3
depth = 0.3
material = "boards"
panel = { mass = 11.0, resistance = 50.0 }

[[fills]]
name = "sofa body"
from = [4.6, 1.6, 0.1]
to = [5.6, 2.8, 0.8]
flow_resistivity = 5000.0
porosity = 0.95

[[sources]]
name = "left"
at = [0.8, 0.6, 0.5]
level = -3.0
delay = 2.5
polarity = -1

[[sources]]
name = "right"
at = [0.8, 2.6, 0.5]

[[seats]]
name = "sofa"
at = [5.0, 1.6, 1.1]

[[seats]]
name = "desk"
at = [2.0, 4.4, 1.2]

[[absorbers]]
name = "flat unit"
device = "membrane"
on = "wall 6"
from = [4.3, 0.3]
to = [4.7, 0.6]

[[absorbers]]
name = "corner unit"
device = "membrane"
cabinet = { at = [0.1, 4.6, 0.0], size = [0.4, 0.5, 0.7], facing = "-y", opening = [0.2, 0.3] }

[devices.membrane]
kind = "branches"
branches = [{ mass = 0.6, resistance = 60.0, stiffness = 29000.0 }]
motion = "diaphragm"

[[variants]]
name = "bare"
without = ["flat unit", "corner unit", "screen"]

[[variants]]
name = "fitted"
set = { "corner unit" = { gain = 0.8 } }

[run]
max_frequency = 160.0
grid = 0.12
duration = 1.5
"""


def edited(*edits: tuple[str, str]) -> str:
    """The sample with each (old, new) replaced; old must occur."""
    text = TEXT
    for old, new in edits:
        assert old in text, old
        text = text.replace(old, new, 1)
    return text


def line_of(text: str, part: str) -> int:
    """Line (from 1) of the first occurrence of `part`."""
    return text[: text.index(part)].count("\n") + 1
