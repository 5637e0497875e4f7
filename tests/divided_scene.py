"""A small room with a divider, quick to simulate; invented numbers."""

SCENE = """scene = 1
title = "Two halves"

[room]
plan = [[0, 0], [6, 0], [6, 3], [0, 3]]
height = 2.4

[surfaces]
floor = "lining"
ceiling = "lining"
walls = "lining"

[materials.lining]
admittance_ratio = 0.01

[[sheets]]
name = "divider"
from = [3.6, 0, 0]
to = [3.6, 3, 2.4]
openings = [{ from = [1.8, 0.0], to = [2.7, 2.1] }]

[[sources]]
name = "subwoofer"
at = [0.4, 0.5, 0.3]

[[seats]]
name = "table"
at = [2.1, 1.5, 1.2]

[[seats]]
name = "sofa"
at = [5.1, 1.2, 1.2]

[[variants]]
name = "no divider"
without = ["divider"]

[[variants]]
name = "hard floor"
set = { floor = { material = "rigid" }, divider = { material = "lining" } }

[run]
max_frequency = 125
grid = 0.3
duration = 1.5
"""
