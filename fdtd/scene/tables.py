"""What a scene file holds: the fields of every table, as data. The reference in docs/scene.md is made from this."""

from __future__ import annotations

from dataclasses import replace

from fdtd.scene.design_tables import DESIGN_FIELDS, DEVICE_KINDS, MATERIAL_KINDS
from fdtd.scene.fields import REQUIRED, Field

TOP = (
    Field("scene", "integer", "version of this format, 1"),
    Field("title", "text", "title of the scene", default="Untitled room"),
)

AIR = (
    Field("temperature", "number", "air temperature", "°C", 20.0, -20.0, 50.0),
    Field("humidity", "number", "relative humidity", "%", 50.0, 0.0, 100.0),
    Field("pressure", "number", "static pressure", "kPa", 101.325, 50.0, 120.0),
    Field("speed_of_sound", "number", "speed of sound", "m/s", None, 10.0, 10000.0),
    Field("density", "number", "density of the air", "kg/m³", None, 0.001, 10000.0),
)

ROOM = (
    Field("plan", "points2", "corners of the floor in order, either way round", "m"),
    Field("height", "number", "height of the flat ceiling above the floor", "m", None, 0.001, 100.0),
    Field("ceiling", "planes", "sloped ceiling planes of three points each; the lowest counts", "m", None),
)

RUN = (
    Field("max_frequency", "number", "highest frequency of the results", "Hz", 200.0, 30.0, 500.0),
    Field("grid", "number", "longest cell edge", "m", 0.1, 0.01, 1.0),
    Field("duration", "number", "time simulated; without it until the decay is 60 dB down", "s", None, 0.05, 60.0),
    Field(
        "output",
        "number",
        "sound pressure level of a source of level 0, 1 m away in free field; for meter readings",
        "dB",
        None,
        40.0,
        130.0,
    ),
)

_NAME = Field("name", "name", "its name, unique in the scene")
_RATIO = Field(
    "admittance_ratio", "number", "rho c Y, real and the same at all frequencies; 0 is rigid", "", None, 0.0, 1000.0
)
_BRANCHES = Field("branches", "branches", "series branches in parallel", "kg/m², Pa·s/m and Pa/m", None)
_ORIGIN = Field("source", "text", "where the numbers come from", default="")
_ABSORPTION = Field("absorption", "absorption", "random-incidence absorption by band, centre in Hz = value", "", None)
_TABLE = Field("table", "text", "CSV file of measured admittance, beside the scene file", default=None)
_MOTION = Field(
    "motion",
    "choice",
    "motion of the face: it moves as one, or each point by its own pressure",
    default="diaphragm",
    choices=("diaphragm", "local"),
)

MATERIAL = (
    _BRANCHES,
    _RATIO,
    _ABSORPTION,
    _TABLE,
    Field("kind", "choice", "kind of build-up, with keys of its own", default=None, choices=MATERIAL_KINDS),
    _ORIGIN,
)

DEVICE_KIND = Field(
    "kind",
    "choice",
    "kind of device, with keys of its own",
    default="branches",
    choices=("branches", *DEVICE_KINDS, "table"),
)

DEVICE = (DEVICE_KIND, _BRANCHES, _RATIO, _MOTION, _ORIGIN)

_MOVES_AS_BUILT = ("driver", "active", "helmholtz")
"""Kinds whose face can only move as one."""


def material_fields(kind: str | None) -> tuple[Field, ...]:
    """The keys of a material: those of a build-up of `kind`, or of the other forms for None."""
    if kind is None:
        return MATERIAL
    return (*(f for f in MATERIAL if f.key in ("kind", "source")), *DESIGN_FIELDS[kind])


def device_fields(kind: str) -> tuple[Field, ...]:
    """The keys of a device of `kind`."""
    if kind == "branches":
        return DEVICE
    own = (replace(_TABLE, default=REQUIRED),) if kind == "table" else DESIGN_FIELDS[kind]
    motion = replace(_MOTION, default="local") if kind == "porous" else _MOTION
    return (DEVICE_KIND, *own, *(() if kind in _MOVES_AS_BUILT else (motion,)), _ORIGIN)


def device_keys() -> tuple[str, ...]:
    """The keys of devices of all kinds."""
    return tuple(dict.fromkeys(f.key for kind in DEVICE_KIND.choices for f in device_fields(kind)))


_GAIN = "factor on the device's admittance, loop gain if active; 0 leaves a rigid face, or a unit switched off"

CABINET = (
    Field("at", "point3", "corner with the smallest coordinates", "m"),
    Field("size", "point3", "length of its edges along x, y and z", "m", low=0.0, above=True, in_room=True),
    Field("facing", "choice", "side that the device looks out of", choices=("+x", "-x", "+y", "-y")),
    Field("opening", "point2", "width and height of the device's face", "m", low=0.0, above=True),
    Field("centre", "point2", "centre of the face, from the lower corner of that side", "m", None),
    Field("material", "text", "material of the cabinet", default="rigid"),
)

ROLLOFF = (
    Field("kind", "choice", "kind of box; none takes the roll-off away", choices=("closed", "vented", "none")),
    Field(
        "frequency",
        "number",
        "frequency; closed: resonance in its box, vented: where it is 3 dB down",
        "Hz",
        low=1.0,
        high=500.0,
    ),
    Field("q", "number", "total Q of the driver; closed: in its box, vented: by itself", "", None, 0.15, 5.0),
)

CROSSOVER = (
    Field(
        "kind",
        "choice",
        "kind of filter; none takes the filter away",
        default="linkwitz-riley",
        choices=("linkwitz-riley", "butterworth", "none"),
    ),
    Field("frequency", "number", "crossover frequency", "Hz", low=1.0, high=1000.0),
    Field("order", "integer", "order; each adds 6 dB an octave", default=4, low=1, high=8),
)

THINGS: dict[str, tuple[Field, ...]] = {
    "patches": (
        _NAME,
        Field("on", "text", 'surface: "wall n", "floor", "ceiling" or "block NAME +x"'),
        Field("from", "point2", "corner on the surface", "m"),
        Field("to", "point2", "opposite corner on the surface", "m"),
        Field("material", "text", "its material"),
    ),
    "blocks": (
        _NAME,
        Field("from", "point3", "corner", "m"),
        Field("to", "point3", "opposite corner", "m"),
        Field("material", "text", "its material", default="rigid"),
    ),
    "sheets": (
        _NAME,
        Field("from", "point3", "corner; one number is the same in from and to", "m"),
        Field("to", "point3", "opposite corner", "m"),
        Field("openings", "rectangles", "openings, in the two remaining axes in x, y, z order", "m", ()),
        Field("open_fraction", "number", "open share of the part that is not an opening", "", 0.0, 0.0, 1.0),
        Field("depth", "number", "depth of the open parts", "m", 0.0, 0.0, 10.0),
        Field("resistance", "number", "flow resistance of the open parts", "Pa·s/m", 0.0, 0.0, 1e9),
        Field("material", "text", "material of both faces of the closed part", default="rigid"),
        Field("panel", "branch", "the closed part gives way as a whole", "kg/m², Pa·s/m and Pa/m", None),
    ),
    "fills": (
        _NAME,
        Field("from", "point3", "corner", "m"),
        Field("to", "point3", "opposite corner", "m"),
        Field("flow_resistivity", "number", "flow resistivity", "Pa·s/m²", REQUIRED, 0.0, 1e9),
        Field("porosity", "number", "share of the volume that is air", "", 1.0, 0.01, 1.0),
    ),
    "sources": (
        _NAME,
        Field("at", "point3", "acoustic centre", "m", in_room=True),
        Field("level", "number", "level", "dB", 0.0, -120.0, 120.0),
        Field("delay", "number", "delay", "ms", 0.0, 0.0, 1000.0),
        Field("polarity", "choice", "polarity", default=1, choices=(1, -1)),
        Field("rolloff", "table", "low-frequency roll-off of its box", default=None),
        Field("lowpass", "table", "crossover filter that keeps what is below its frequency", default=None),
        Field("highpass", "table", "crossover filter that keeps what is above its frequency", default=None),
    ),
    "seats": (_NAME, Field("at", "point3", "centre of the head", "m", in_room=True)),
    "absorbers": (
        _NAME,
        Field("device", "text", "name of its device"),
        Field("on", "text", 'surface: "wall n", "floor", "ceiling" or "block NAME +x"', default=None),
        Field("from", "point2", "corner on the surface", "m", None),
        Field("to", "point2", "opposite corner on the surface", "m", None),
        Field("cabinet", "table", "free-standing cabinet, instead of on, from and to", default=None),
        Field("gain", "number", _GAIN, "", 1.0, 0.0, 1.0),
    ),
}
"""Everything that is listed with double brackets and has a name in the room."""

VARIANT = (
    Field("name", "name", "its name, unique among the variants"),
    Field("without", "names", "names of things that are left out", default=()),
    Field("set", "table", 'values that differ: { "thing" = { key = value } }', default=None),
)

SECTIONS = ("air", "room", "surfaces", "materials", *THINGS, "devices", "variants", "spots", "run")
"""Top-level tables and arrays of tables."""

RESERVED = ("floor", "ceiling", "walls", "rigid")
"""Names that nothing in the room may have; 'wall n' besides."""
