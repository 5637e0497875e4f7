"""What people call things that the scene file calls otherwise: other words and their terms here, as data.

Used for suggestions only, and only where the term is one that may stand there. Common usage of the trade.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from fdtd.scene.section_words import WORDS

_KINDS = {
    "membrane": ("plate",),
    "panel": ("plate",),
    "panel absorber": ("plate",),
    "diaphragmatic": ("plate",),
    "foam": ("porous",),
    "wool": ("porous",),
    "fibre": ("porous",),
    "fiber": ("porous",),
    "felt": ("porous",),
    "resonator": ("helmholtz",),
    "bottle": ("helmholtz",),
    "neck": ("helmholtz",),
    "slats": ("slotted",),
    "slot": ("slotted",),
    "slits": ("slotted",),
    "holes": ("perforated",),
    "microperforated": ("perforated",),
    "loudspeaker": ("driver",),
    "speaker": ("driver",),
    "woofer": ("driver",),
    "subwoofer": ("driver",),
    "passive": ("driver",),
    "electronic": ("active",),
    "feedback": ("active",),
    "glass": ("pane",),
    "glazing": ("pane",),
    "window": ("pane",),
    "doorway": ("opening",),
    "hole": ("opening",),
    "csv": ("table",),
    "measured": ("table",),
    "branch": ("branches",),
    "sealed": ("closed",),
    "ported": ("vented",),
    "reflex": ("vented",),
    "bass reflex": ("vented",),
    "off": ("none",),
}

_KEYS = {
    "scene": "version, format",
    "title": "name, heading",
    "name": "label, id, title, tag",
    "at": "position, pos, location, loc, xyz, coordinate, coord, place, point, centre, center, origin, x, y, z",
    "size": "dimension, width, length, height, extent, depth",
    "plan": "corner, outline, floor plan, polygon, vertices, vertex, point, footprint, contour, width, length, depth, "
    "size, dimension",
    "from": "start, lower, min, first corner, corner, origin, position, at, x, y, z, width, length, height, depth, "
    "size, dimension",
    "to": "end, upper, max, opposite corner, second corner, corner, position, at, x, y, z, width, length, height, "
    "depth, size, dimension",
    "on": "wall, surface, side, attached to, mounted on",
    "material": "finish, covering, made of, type, kind, surface, absorption",
    "device": "type, model, product, kind, unit",
    "cabinet": "box, enclosure, housing, position, location, at, size",
    "gain": "amount, feedback, amplification, factor, enabled",
    "level": "gain, spl, volume, db, amplitude, loudness, sensitivity",
    "delay": "time delay, latency, offset, delay ms",
    "polarity": "invert, inverted, phase",
    "rolloff": "box, enclosure, bass extension, cutoff",
    "lowpass": "lpf, lp, crossover, xover, filter",
    "highpass": "hpf, hp, crossover, xover, filter",
    "order": "slope, steepness",
    "kind": "type, alignment",
    "facing": "direction, orientation, front, side, normal",
    "opening": "face, aperture, hole, front, window",
    "openings": "opening, hole, door, doorway, window, gap",
    "open_fraction": "openness, porosity, transparency, open area, perforation, open",
    "height": "ceiling height, h, room height",
    "ceiling": "slope, roof, sloped ceiling",
    "temperature": "temp, t, degrees",
    "humidity": "rh, relative humidity",
    "pressure": "p, barometer",
    "speed_of_sound": "c, sound speed",
    "density": "rho",
    "max_frequency": "fmax, max freq, highest frequency, upper frequency, bandwidth, frequency",
    "grid": "cell, cell size, mesh, dx, resolution, step, spacing, grid size, voxel",
    "duration": "time, length, second, simulation time",
    "output": "spl, level",
    "without": "exclude, remove, omit, leave out, disable, skip, off",
    "set": "change, override, modify, with, value",
    "mass": "surface mass, area mass, surface density, weight, density",
    "gap": "air gap, distance, cavity",
    "depth": "cavity, air gap, distance, cavity depth",
    "loss": "damping, loss factor",
    "flow_resistivity": "resistivity, sigma, flow resistance",
    "porosity": "phi",
    "absorption": "alpha, coefficient, absorption coefficient",
    "admittance_ratio": "admittance, impedance, beta, ratio, reflection",
    "neck_area": "port area, hole area",
    "neck_length": "port length",
    "volume": "cavity volume, litres, liters",
    "diaphragm_area": "sd, cone area, piston area",
    "moving_mass": "mms, mmd",
    "suspension_compliance": "cms",
    "mechanical_resistance": "rms",
    "force_factor": "bl",
    "coil_resistance": "re",
    "coil_inductance": "le",
    "box_volume": "vb, volume",
    "largest_stroke": "xmax",
    "frequency": "fs, fc, f0, freq, cutoff, hz, corner frequency, tuning, resonance",
    "q": "qts, qtc",
    "count": "number, units, how many, max",
    "spacing": "step, distance, pitch, grid",
    "keep_clear": "door, clear",
    "seat_distance": "distance",
    "seat_weights": "weight",
    "gains": "gain",
}
"""Key -> what people call it, in the singular."""


def _inverted(text: Mapping[str, str], terms: dict[str, tuple[str, ...]]) -> dict[str, tuple[str, ...]]:
    """`terms` and every word that stands for a term in `words`."""
    for term, others in text.items():
        for word in others.split(", "):
            terms[word] = (*terms.get(word, ()), term)
    return terms


TERMS: dict[str, tuple[str, ...]] = _inverted(WORDS, _inverted(_KEYS, dict(_KINDS)))
"""Other word, in lower case -> the terms here."""


def terms_for(word: str) -> tuple[str, ...]:
    """The terms that a word stands for: singular or plural, with spaces, hyphens or underscores, or with a number."""
    whole = " ".join(re.split(r"[\s_-]+", word.strip().lower()))
    plain = whole.rstrip(" 0123456789")
    forms = [whole, plain, plain.removesuffix("s"), plain.removesuffix("es")]
    if plain.endswith("ves"):
        forms.append(f"{plain[:-3]}f")
    return next((TERMS[form] for form in forms if form in TERMS), ())


PARTS: dict[str, tuple[str, ...]] = {
    "drywall": ("plasterboard",),
    "gypsum": ("plasterboard",),
    "brick": ("brick",),
    "glass": ("glazing", "window"),
    "pane": ("glazing", "window"),
    "parquet": ("timber",),
    "wood": ("wood", "timber"),
    "wooden": ("wood", "timber"),
    "oak": ("timber", "wood"),
    "pine": ("timber", "wood"),
    "laminate": ("timber",),
    "floorboards": ("timber",),
    "drapes": ("curtain",),
    "drape": ("curtain",),
    "couch": ("sofa",),
    "settee": ("sofa",),
    "bookcase": ("bookshelf",),
    "books": ("bookshelf",),
    "shelf": ("bookshelf",),
    "bed": ("mattress",),
    "cupboard": ("wardrobe",),
    "closet": ("wardrobe",),
    "cabinet": ("wardrobe",),
    "osb": ("plywood",),
    "chipboard": ("plywood",),
    "mdf": ("wood",),
    "foam": ("wool",),
    "insulation": ("wool",),
    "fibre": ("wool",),
    "absorber": ("wool",),
    "cement": ("concrete",),
    "stone": ("concrete", "brick"),
    "hard": ("rigid",),
    "reflective": ("rigid",),
    "doorway": ("door",),
    "stud": ("studs",),
    "mat": ("rug", "carpet"),
}
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
