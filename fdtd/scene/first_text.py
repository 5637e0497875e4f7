"""The parts of a first scene file: what a person reads who sees the format for the first time."""

HEAD = """\
# A first scene, written by 'fdtd new'. Everything after a # is a comment.
#
# Lengths are in metres: x and y along the floor, z up, z = 0 is the floor. Numbers have a decimal point.
# Measure the room, change the numbers, save, and look at the drawing: 'fdtd check --watch' draws it again whenever
# this file is saved. Then 'fdtd run' simulates the variants at the end of this file and tells what each changes.

scene = 1                 # version of this format
title = {title}
"""

ROOM = """\
[room]
# The corners of the floor in order. Wall 1 runs from the first corner to the second, wall 2 on to the third, and so on.
plan = [{plan}]
{top}
"""

SLOPE = """\
# A sloped ceiling is a list of planes, each by any three of its points (x, y, height). Of two the lower one
# counts: here the slope that rises from wall 1, and the flat part.
ceiling = [
  {slope},
  {flat},
]
"""

SURFACES = """\
[surfaces]
# What they are made of: names of the library ('fdtd surface --list' tells them all).
{lines}
# One wall that differs has a line of its own, "wall 1" to "wall {last}":
# "wall 1" = "plasterboard on studs"
"""

EXAMPLES = """\
# What to add next: doors and windows, which change the bass more than furniture does. Take away the # before the lines.
# [[patches]]
# name = "window"
# on = "wall {wall}"
# from = {lower}       # metres along the wall from its first corner, height
# to = {upper}         # the opposite corner
# material = "double glazing"
#
# [[blocks]]              # a chest, a cupboard, a chimney: a solid box, by two opposite corners
# name = "chest"
# from = {chest_lower}
# to = {chest_upper}
# material = "wardrobe front"
#
# [[fills]]               # a sofa or a bed: a soft body that sound goes through
# name = "sofa body"
# from = {sofa_lower}
# to = {sofa_upper}
# flow_resistivity = 5000.0
# porosity = 0.95
"""

CROSSOVERS = {
    "highpass": "highpass = { frequency = 80.0 }    # crossover to the subwoofer, of fourth order\n",
    "lowpass": "lowpass = { frequency = 80.0 }     # crossover at 80 Hz, common practice; set what your system does\n",
}
"""Filters of loudspeakers that play together with a subwoofer."""

MOVED = """
# Two states of the room that are compared. 'set' changes values of a thing: here, another place for a loudspeaker.
[[variants]]
name = "as it is"

[[variants]]
name = "moved"
set = {{ {name} = {{ at = {at} }} }}

# A unit to try: 'fdtd new' with --unit panel or --unit resonator shows how one is written, and 'fdtd place' then tells
# where it does most.
"""

UNIT = """
# What is tried: a unit on the floor along a wall. Move it, or let 'fdtd place' look for the best place.
[[absorbers]]
name = "{name}"
device = "{name}"
{place}

# What it is made of. The other kinds of unit: loudspeaker drivers, active units, slotted and perforated panels, wool.
{device}
"""

VARIANTS = """\
# Two states of the room that are compared: without the unit and with it.
[[variants]]
name = "bare"
without = ["{name}"]

[[variants]]
name = "with the unit"

"""

SPOTS = """\
# Where could the unit stand, or two of them? 'fdtd place' tries these places, from the first variant on.
[spots]
device = "{name}"
{face}
height = [0.0, {high}]      # whole units lie between these heights
spacing = 0.5             # m, longest step between places
count = 2                 # at most so many at once
# keep_clear = [{{ from = [0.0, 1.0], to = [0.0, 1.9] }}]    # a door: x and y of its two ends
"""

TAIL = """
# [run]                    # how it is computed
# grid = 0.15             # m, longest cell edge: 0.15 for a first look, 0.1 without this line
"""
