"""The keys of build-ups: what a material or device of each kind is made of, with units and ranges that catch slips.

A range is wide enough for anything that a person would build and narrow enough that grams for kilograms, centimetres
for metres, square centimetres for square metres or litres for cubic metres fall outside it.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from fdtd.scene.fields import REQUIRED, Field

_MASS = Field("mass", "number", "mass of the plate per area", "kg/m²", REQUIRED, 0.05, 200.0)
_LOSS = Field(
    "loss", "number", "loss factor at the resonance; 0.05 to 0.3 of a panel, to 1 for a whole wall", "", 0.1, 0.0, 5.0
)
_DEPTH = Field("depth", "number", "depth of the closed cavity behind", "m", REQUIRED, 0.001, 3.0)
_CLOTH = Field("resistance", "number", "flow resistance of a cloth behind the holes", "Pa·s/m", 0.0, 0.0, 1e5)
_FILL = (
    Field("fill_depth", "number", "depth of porous fill in the cavity; 0 is empty", "m", 0.0, 0.0, 3.0),
    Field("fill_resistivity", "number", "flow resistivity of the fill", "Pa·s/m²", 0.0, 0.0, 1e6),
)

_PLATE = (
    _MASS,
    _DEPTH,
    _LOSS,
    Field("stiffness", "number", "stiffness of the plate's own; 0 is a limp plate", "Pa/m", 0.0, 0.0, 1e10),
    *_FILL,
)
_PERFORATED = (
    Field("hole_diameter", "number", "diameter of the holes", "m", REQUIRED, 0.0001, 0.1),
    Field("hole_spacing", "number", "distance of hole centres in a square pattern", "m", REQUIRED, 0.0005, 0.5),
    Field("thickness", "number", "thickness of the panel", "m", REQUIRED, 0.0001, 0.1),
    _DEPTH,
    _CLOTH,
    *_FILL,
)
_SLOTTED = (
    Field("slot_width", "number", "width of the slots", "m", REQUIRED, 0.0001, 0.1),
    Field("slot_spacing", "number", "distance of slot centres", "m", REQUIRED, 0.0005, 0.5),
    Field("thickness", "number", "thickness of the panel", "m", REQUIRED, 0.0001, 0.1),
    _DEPTH,
    _CLOTH,
    *_FILL,
)
_HELMHOLTZ = (
    Field("neck_area", "number", "cross-section of the neck", "m²", REQUIRED, 0.00001, 0.5),
    Field("neck_length", "number", "length of the neck", "m", REQUIRED, 0.0, 1.0),
    Field("volume", "number", "volume of air behind the neck", "m³", REQUIRED, 0.00005, 5.0),
    Field("resistance", "number", "flow resistance of the neck", "Pa·s/m", 0.0, 0.0, 1e5),
)
_POROUS = (
    Field("thickness", "number", "thickness of the layer", "m", REQUIRED, 0.0005, 2.0),
    Field("flow_resistivity", "number", "flow resistivity", "Pa·s/m²", REQUIRED, 100.0, 1e6),
    Field("gap", "number", "depth of air between the layer and the wall", "m", 0.0, 0.0, 2.0),
    Field("porosity", "number", "share of the volume that is air", "", 0.95, 0.05, 1.0),
    Field("tortuosity", "number", "tortuosity; 1 for fibres", "", 1.0, 1.0, 10.0),
)
_PANE = (
    _MASS,
    Field("frequency", "number", "first bending resonance of the pane; 0 is a limp one", "Hz", 0.0, 0.0, 1000.0),
    _LOSS,
    Field(
        "behind",
        "choice",
        "what is behind: free air that it radiates into, or nothing",
        default="outside",
        choices=("outside", "still air"),
    ),
)
_OPENING = (
    Field("width", "number", "width of the opening", "m", REQUIRED, 0.01, 20.0),
    Field("height", "number", "height of the opening", "m", REQUIRED, 0.01, 20.0),
)
_MOTOR = (
    Field("diaphragm_area", "number", "effective area of one diaphragm", "m²", REQUIRED, 0.0005, 0.5),
    Field("moving_mass", "number", "moving mass without the air", "kg", REQUIRED, 0.0003, 0.6),
    Field("suspension_compliance", "number", "compliance of the suspension", "m/N", REQUIRED, 1e-6, 0.01),
    Field("mechanical_resistance", "number", "mechanical resistance", "N·s/m", REQUIRED, 0.01, 50.0),
    Field("force_factor", "number", "force factor", "T·m", REQUIRED, 0.1, 60.0),
    Field("coil_resistance", "number", "DC resistance of the coil", "ohm", REQUIRED, 0.5, 100.0),
    Field("box_volume", "number", "air in the closed box of one driver", "m³", REQUIRED, 0.0001, 1.0),
)
_COUNT = Field("count", "integer", "how many like drivers, each in a box of its own", "", 1, 1, 64)
_DRIVER = (
    *_MOTOR,
    Field("coil_inductance", "number", "inductance of the coil", "H", 0.0, 0.0, 0.05),
    Field("shunt_resistance", "number", "resistor across the terminals; without: open", "ohm", None, 0.0, 1e6),
    _COUNT,
)
_ACTIVE = (
    *_MOTOR,
    Field("target_resistance", "number", "specific resistance the face is driven to", "Pa·s/m", REQUIRED, 1.0, 1e5),
    Field("target_share", "number", "share of the driver's own mass and stiffness in the target", "", 0.15, 0.01, 1.0),
    Field("band_low", "number", "lower edge of the band in which it works", "Hz", 15.0, 1.0, 500.0),
    Field("band_high", "number", "upper edge of the band in which it works", "Hz", 160.0, 2.0, 1000.0),
    Field("band_order", "integer", "order of each of the two band filters", "", 2, 1, 8),
    Field("delay", "number", "delay of the controller", "ms", 0.0, 0.0, 20.0),
    Field("mismatch_mass", "number", "relative error of the mass that the controller assumes", "", 0.0, -0.9, 1.0),
    Field("mismatch_stiffness", "number", "the same of the stiffness", "", 0.0, -0.9, 1.0),
    Field("mismatch_resistance", "number", "the same of the mechanical resistance", "", 0.0, -0.9, 1.0),
    Field("mismatch_force", "number", "the same of the force factor", "", 0.0, -0.9, 1.0),
    _COUNT,
    Field("largest_stroke", "number", "largest stroke to one side, peak", "m", None, 0.0001, 0.05),
    Field("largest_current", "number", "largest current of the amplifier, peak", "A", None, 0.01, 100.0),
)

DESIGN_FIELDS: Mapping[str, tuple[Field, ...]] = {
    "plate": _PLATE,
    "perforated": _PERFORATED,
    "slotted": _SLOTTED,
    "helmholtz": _HELMHOLTZ,
    "porous": _POROUS,
    "pane": _PANE,
    "opening": _OPENING,
    "driver": _DRIVER,
    "active": _ACTIVE,
}
"""Kind of build-up -> its keys; each is the field of the same name of the kind's class in `physics.designs`."""

MATERIAL_KINDS = ("plate", "perforated", "slotted", "porous", "pane", "opening")
"""Kinds that cover a surface."""

DEVICE_KINDS = ("plate", "perforated", "slotted", "helmholtz", "porous", "driver", "active")
"""Kinds that are units on a surface."""

_FACTORS = {"ms": 1e-3}
"""Units of this table that are not SI, and what makes them so."""


def design_values(kind: str, values: Mapping[str, Any]) -> dict[str, Any]:
    """The values of a build-up's own keys in SI units, those left out (None) left out."""
    fields = {f.key: f for f in DESIGN_FIELDS[kind]}
    own = {k: v for k, v in values.items() if k in fields and v is not None}
    return {k: v * _FACTORS[fields[k].unit] if fields[k].unit in _FACTORS else v for k, v in own.items()}
