"""Small rooms for the tests of the placement study; invented numbers."""

from __future__ import annotations

from fdtd.scene.read import read_scene_text
from fdtd.scene.schema import Scene

BOX = """scene = 1
title = "Small box"
[air]
temperature = 20.0
[room]
plan = [[0, 0], [3.3, 0], [3.3, 2.7], [0, 2.7]]
height = 2.3
[surfaces]
floor = "boards"
ceiling = "lining"
walls = "lining"
[materials.boards]
admittance_ratio = {floor}
[materials.lining]
branches = [{{ mass = 12.0, resistance = 2500.0, stiffness = 1.2e6 }}]
[[sources]]
name = "loudspeaker"
at = [0.6, 0.5, 0.5]
[[seats]]
name = "chair"
at = [2.3, 1.6, 1.1]
[[seats]]
name = "stool"
at = [1.4, 2.0, 1.1]
[run]
grid = 0.3
duration = {duration}
max_frequency = 180
"""

TRAP = """[devices.trap]
kind = "plate"
mass = 3.0
depth = 0.15
loss = 0.4
motion = "diaphragm"
[spots]
device = "trap"
on = ["wall 1", "wall 2", "wall 3"]
size = [0.6, 0.8]
spacing = 1.1
height = [0.0, 0.8]
count = 2
gains = [0.5, 1.0]
"""

CONES = """[devices.cones]
kind = "active"
diaphragm_area = 0.06
moving_mass = 0.04
suspension_compliance = 8e-4
mechanical_resistance = 1.5
force_factor = 9.0
coil_resistance = 6.0
box_volume = 0.05
target_resistance = {target}
band_low = 8.0
band_high = 90.0
delay = {delay}
[spots]
device = "cones"
on = ["wall 1", "wall 3"]
size = [0.2, 0.3]
cabinet = {{ size = [0.4, 0.35, 0.6] }}
spacing = 1.3
height = [0.0, 0.6]
count = 1
gains = [0.1, 0.5, 1.0]
"""


def trap_room(duration: float = 2.5) -> Scene:
    """Some ten places for one or two plates. duration : s, of simulations."""
    return read_scene_text(BOX.format(duration=duration, floor=0.02) + TRAP)


def active_room(target: float = 200.0, delay: float = 0.0) -> Scene:
    """A well damped box with a few places for one active unit in a cabinet. target : Pa·s/m; delay : ms."""
    return read_scene_text(BOX.format(duration=0.5, floor=0.3) + CONES.format(target=target, delay=delay))
