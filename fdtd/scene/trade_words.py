"""What people call things that the scene file calls otherwise: other words and their terms here, as data.

Used for suggestions only, and only where the term is one that may stand there. Common usage of the trade.
"""

from __future__ import annotations

import re

_KINDS = {
    "membrane": ("plate",), "panel": ("plate",), "panel absorber": ("plate",), "diaphragmatic": ("plate",),
    "foam": ("porous",), "wool": ("porous",), "fibre": ("porous",), "fiber": ("porous",), "felt": ("porous",),
    "resonator": ("helmholtz",), "bottle": ("helmholtz",), "neck": ("helmholtz",), "slats": ("slotted",),
    "slot": ("slotted",), "slits": ("slotted",), "holes": ("perforated",), "microperforated": ("perforated",),
    "loudspeaker": ("driver",), "speaker": ("driver",), "woofer": ("driver",), "subwoofer": ("driver",),
    "passive": ("driver",), "electronic": ("active",), "feedback": ("active",), "glass": ("pane",),
    "glazing": ("pane",), "window": ("pane",), "doorway": ("opening",), "hole": ("opening",), "csv": ("table",),
    "measured": ("table",), "branch": ("branches",), "sealed": ("closed",), "ported": ("vented",),
    "reflex": ("vented",), "bass reflex": ("vented",), "off": ("none",),
}  # fmt: skip

_KEYS = {
    "position": ("at",), "pos": ("at",), "location": ("at",), "gain": ("level",), "spl": ("level",),
    "volume": ("level",), "invert": ("polarity",), "inverted": ("polarity",), "phase": ("polarity",),
    "slope": ("order",), "hpf": ("highpass",), "lpf": ("lowpass",), "wall": ("on",), "surface": ("on",),
    "direction": ("facing",), "dimensions": ("size",), "surface_mass": ("mass",), "area_mass": ("mass",),
    "surface_density": ("mass",), "cavity": ("depth",), "air_gap": ("gap", "depth"), "distance": ("gap", "depth"),
    "sd": ("diaphragm_area",), "mms": ("moving_mass",), "mmd": ("moving_mass",), "cms": ("suspension_compliance",),
    "rms": ("mechanical_resistance",), "bl": ("force_factor",), "re": ("coil_resistance",),
    "le": ("coil_inductance",), "vb": ("box_volume",), "xmax": ("largest_stroke",), "fs": ("frequency",),
    "fc": ("frequency",), "qts": ("q",), "qtc": ("q",),
}  # fmt: skip

TERMS: dict[str, tuple[str, ...]] = {**_KINDS, **_KEYS}
"""Other word, in lower case -> the terms here."""

PARTS: dict[str, tuple[str, ...]] = {
    "drywall": ("plasterboard",), "gypsum": ("plasterboard",), "brick": ("brick",),
    "glass": ("glazing", "window"), "pane": ("glazing", "window"), "parquet": ("timber",), "wood": ("wood", "timber"),
    "wooden": ("wood", "timber"), "oak": ("timber", "wood"),
    "pine": ("timber", "wood"), "laminate": ("timber",), "floorboards": ("timber",), "drapes": ("curtain",),
    "drape": ("curtain",), "couch": ("sofa",), "settee": ("sofa",), "bookcase": ("bookshelf",),
    "books": ("bookshelf",), "shelf": ("bookshelf",), "bed": ("mattress",), "cupboard": ("wardrobe",),
    "closet": ("wardrobe",), "cabinet": ("wardrobe",), "osb": ("plywood",), "chipboard": ("plywood",), "mdf": ("wood",),
    "foam": ("wool",), "insulation": ("wool",), "fibre": ("wool",), "absorber": ("wool",),
    "cement": ("concrete",), "stone": ("concrete", "brick"), "hard": ("rigid",), "reflective": ("rigid",),
    "doorway": ("door",), "stud": ("studs",), "mat": ("rug", "carpet"),
}  # fmt: skip
"""Word inside a name, in lower case -> words that the names here have for it."""

POLARITY = {
    **dict.fromkeys(("inverted", "invert", "reversed", "reverse", "negative", "minus", "-", "-1", "180"), -1),
    **dict.fromkeys(("normal", "positive", "plus", "+", "+1", "1", "0"), 1),
}
"""Words for a choice between 1 and -1."""

_FILTER = re.compile(r"(lr|linkwitz[ -]?riley|bw|butterworth)[ -]?(\d{1,2})")


def filter_meant(word: str) -> tuple[str, int] | None:
    """(kind, order) of a crossover in short hand, 'LR4' or 'BW24'; two digits are dB an octave, 6 an order."""
    found = _FILTER.fullmatch(word.strip().lower())
    if not found:
        return None
    size = int(found[2])
    order = size // 6 if size >= 12 and size % 6 == 0 else size
    return ("linkwitz-riley" if found[1].startswith("l") else "butterworth"), order
