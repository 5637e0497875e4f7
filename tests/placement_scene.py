"""A small room with a few places for a small resonator: a placement study of it takes about a second."""

from __future__ import annotations

SCENE = """\
scene = 1
title = "Small room"

[air]
speed_of_sound = 343.0
density = 1.2

[room]
plan = [[0, 0], [3.0, 0], [3.0, 2.2], [0, 2.2]]
height = 2.1

[materials.plaster]
admittance_ratio = 0.01

[surfaces]
floor = "plaster"
ceiling = "plaster"
walls = "plaster"

# Sprung boards of 57 and 81 Hz (invented), near the first modes of the room.
[devices.low]
kind = "branches"
branches = [{ mass = 3.0, resistance = 250.0, stiffness = 385000.0 }]

[devices.high]
kind = "branches"
branches = [{ mass = 2.0, resistance = 250.0, stiffness = 518000.0 }]

[[sources]]
name = "subwoofer"
at = [2.7, 0.3, 0.3]

[[seats]]
name = "stool"
at = [0.6, 1.6, 1.0]

[[seats]]
name = "bench"
at = [1.9, 1.2, 1.1]

[spots]
devices = ["low", "high"]
size = [0.6, 0.6]
on = ["wall 1", "wall 4"]
spacing = 1.3
height = [0.0, 0.6]
count = 2
gains = [1.0]

[run]
grid = 0.3
duration = 0.8
max_frequency = 180.0
"""
