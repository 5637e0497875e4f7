"""A valid scene in which every key of the format occurs, for tests that break it. Invented numbers."""

from __future__ import annotations

from .sample import edited

_MOTOR = """\
diaphragm_area = 0.014
moving_mass = 0.014
suspension_compliance = 8e-4
mechanical_resistance = 1.2
force_factor = 7.0
coil_resistance = 6.0
box_volume = 0.01
"""

_MATERIALS = """
[materials.tiles]
absorption = { 63 = 0.1, 125 = 0.14, 250 = 0.2 }

[materials.wainscot]
kind = "plate"
mass = 9.0
depth = 0.1
loss = 0.3
stiffness = 5000.0
fill_depth = 0.05
fill_resistivity = 8000.0

[materials."holed board"]
kind = "perforated"
hole_diameter = 0.006
hole_spacing = 0.02
thickness = 0.012
depth = 0.1
resistance = 50.0
fill_depth = 0.04
fill_resistivity = 6000.0

[materials.laths]
kind = "slotted"
slot_width = 0.005
slot_spacing = 0.08
thickness = 0.02
depth = 0.12
resistance = 40.0
fill_depth = 0.05
fill_resistivity = 7000.0

[materials."mineral wool"]
kind = "porous"
thickness = 0.1
flow_resistivity = 12000.0
gap = 0.1
porosity = 0.97
tortuosity = 1.05

[materials.window]
kind = "pane"
mass = 15.0
frequency = 18.0
loss = 0.1
behind = "still air"

[materials.doorway]
kind = "opening"
width = 0.9
height = 2.0
source = "invented"
"""

_PATCHES = "".join(
    f"""
[[patches]]
name = "patch of {material}"
on = "wall {wall}"
from = [{at}, 0.2]
to = [{at + 0.5}, 0.7]
material = "{material}"
"""
    for material, wall, at in (
        ("tiles", 1, 0.5),
        ("wainscot", 1, 1.2),
        ("holed board", 1, 1.9),
        ("laths", 1, 2.6),
        ("mineral wool", 5, 0.5),
        ("window", 5, 1.2),
        ("doorway", 5, 1.9),
    )
)

_DEVICES = f"""
[devices.port]
kind = "helmholtz"
neck_area = 0.005
neck_length = 0.1
volume = 0.05
price = 250.0
resistance = 60.0

[devices.shunted]
kind = "driver"
{_MOTOR}coil_inductance = 0.001
shunt_resistance = 5.0
count = 2

[devices.cones]
kind = "active"
{_MOTOR}target_resistance = 400.0
target_share = 0.15
band_low = 15.0
band_high = 160.0
band_order = 2
delay = 0.1
mismatch_mass = 0.05
mismatch_stiffness = 0.05
mismatch_resistance = 0.05
mismatch_force = 0.02
count = 4
largest_stroke = 0.008
largest_current = 5.0

[devices.plain]
admittance_ratio = 0.3
motion = "local"
price = 120.0
source = "invented"
"""

_SPOTS = """
[spots]
devices = ["membrane", "port"]
size = [0.3, 0.4]
on = ["wall 6", "wall 5"]
spacing = 1.1
height = [0.0, 1.2]
cabinet = { size = [0.4, 0.3, 0.5] }
keep_clear = [{ from = [0.0, 2.0], to = [0.0, 2.6] }]
avoid = ["rug"]
seat_distance = 0.4
count = 2
gains = [0.5, 1.0]
budget = 900.0
seat_weights = { "sofa" = 2.0, "desk" = 1.0 }
variant = "bare"
without = ["rug"]
"""

_PLAYBACK = """
rolloff = { kind = "vented", frequency = 32.0, q = 0.4 }
lowpass = { kind = "butterworth", frequency = 120.0, order = 3 }
highpass = { frequency = 20.0 }
"""

TEXT = (
    edited(
        ("humidity = 45.0", "humidity = 45.0\npressure = 99.0"),
        ('floor = "boards"', 'floor = "boards"\n"wall 4" = "carpet on concrete"'),
        ("polarity = -1\n", "polarity = -1" + _PLAYBACK),
        ("depth = 0.3\nmaterial", "depth = 0.3\nresistance = 5.0\nmaterial"),
        ("[[blocks]]", _PATCHES + "\n[[blocks]]"),
        ("opening = [0.2, 0.3] }", 'opening = [0.2, 0.3], centre = [0.2, 0.3], material = "boards" }'),
        ("grid = 0.12", "grid = 0.2\noutput = 85.0"),
        ('motion = "diaphragm"\n', 'motion = "diaphragm"\nprice = 150.0\n' + _DEVICES),
        ("[materials.plaster]", _MATERIALS + "\n[materials.plaster]"),
    )
    + _SPOTS
)
"""The sample with everything that it lacks, but `ceiling`, `speed_of_sound`, `density`, `table` and [spots] `device`,
which exclude what it has."""
