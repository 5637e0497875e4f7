"""A scene with units of several kinds; invented numbers."""

DRIVER = """diaphragm_area = 0.014
moving_mass = 0.014
suspension_compliance = 8e-4
mechanical_resistance = 1.2
force_factor = 7.0
coil_resistance = 6.0
box_volume = 0.01
count = 4
"""

SCENE = f"""scene = 1
title = "Units"
[air]
speed_of_sound = 343.0
density = 1.2
[room]
plan = [[0, 0], [6, 0], [6, 4], [0, 4]]
height = 2.5
[surfaces]
floor = "carpet on concrete"
ceiling = "rigid"
walls = "lining"
[materials.lining]
kind = "plate"
mass = 8.5
depth = 0.07
loss = 0.5
[materials.unused]
admittance_ratio = 0.1
[[sources]]
name = "loudspeaker"
at = [0.6, 0.5, 0.4]
[[seats]]
name = "chair"
at = [3.6, 2.4, 1.1]
[[absorbers]]
name = "trap"
device = "membrane"
on = "wall 4"
from = [0.5, 0.5]
to = [1.1, 1.1]
[[absorbers]]
name = "second trap"
device = "membrane"
on = "wall 4"
from = [1.5, 0.5]
to = [2.1, 1.1]
[[absorbers]]
name = "boxes"
device = "box"
on = "wall 3"
from = [1.0, 0.5]
to = [1.25, 0.75]
[[absorbers]]
name = "active corner"
device = "cones"
cabinet = {{ at = [0.02, 3.5, 0.0], size = [0.4, 0.45, 0.6], facing = "-y", opening = [0.25, 0.25] }}
[devices.membrane]
kind = "plate"
mass = 4.0
depth = 0.15
fill_depth = 0.05
fill_resistivity = 8000
[devices.box]
kind = "driver"
{DRIVER}
[devices.cones]
kind = "active"
{DRIVER}
target_resistance = 100
delay = 0.3
largest_stroke = 0.005
[[variants]]
name = "off"
set = {{ "active corner" = {{ gain = 0.0 }} }}
[[variants]]
name = "on"
[[variants]]
name = "half"
set = {{ "active corner" = {{ gain = 0.5 }} }}
"""
