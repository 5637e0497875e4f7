"""The ranges of the scene file judge what a driver can be, physics its sign only; what the docs say of devices."""

from __future__ import annotations

import math
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from fdtd.physics.active import ActiveUnit
from fdtd.physics.driver_limits import MAY_BE_ZERO, UNITS
from fdtd.physics.radiation import equivalent_absorption_area
from fdtd.scene.read import read_scene_text
from fdtd.scene.tables import DESIGN_FIELDS
from fdtd.surface.units import scene_units

from .sample import edited, line_of
from .test_surfaces import DEVICE, device, keys, problems

ROOT = Path(__file__).parents[2]

SLIPS = [
    ("driver", "moving_mass = 0.014", "moving_mass = 13.4", "from 0.0003 to 0.6 kg"),  # g
    ("driver", "suspension_compliance = 8e-4", "suspension_compliance = 0.9", "0.01 m/N"),  # mm/N
    ("driver", "box_volume = 0.01", "box_volume = 0.01\ncoil_inductance = 0.6", "0.05 H"),  # mH
    ("active", "count = 4", "target_share = 15", "from 0.01 to 1"),  # %
    ("active", "count = 4", "largest_stroke = 4.0", "0.05 m"),  # mm
    ("active", "count = 4", "largest_current = 500", "100 A"),  # mA
    ("active", "count = 4", "mismatch_mass = 10", "from -0.9 to 1"),  # %
    ("active", "count = 4", "count = 65", "from 1 to 64"),
]


@pytest.mark.parametrize(("kind", "old", "new", "says"), SLIPS, ids=[s[2].split("\n")[-1] for s in SLIPS])
def test_slips_of_units_of_drivers_are_caught(kind: str, old: str, new: str, says: str) -> None:
    wrong = keys(kind).replace(old, new)
    (told,) = problems((DEVICE, wrong))
    key = new.split("\n")[-1]
    assert f"line {line_of(edited((DEVICE, wrong)), key)}," in told and says in told, told


@pytest.mark.parametrize("kind", ["driver", "active"])
def test_every_number_of_a_driver_has_a_range_that_physics_allows(kind: str) -> None:
    for field in DESIGN_FIELDS[kind]:
        if field.key in UNITS:
            assert field.low is not None and field.high is not None and math.isfinite(field.high)
            assert field.low > 0.0 or field.key in MAY_BE_ZERO


def test_the_source_of_a_device_is_kept() -> None:
    _, found = device(keys("plate") + '\nsource = "measured by us"')
    assert found.source == "measured by us"


def test_a_material_of_the_library_is_marked_whatever_its_source_says() -> None:
    room = 'scene = 1\n[room]\nplan = [[0, 0], [4, 0], [4, 3], [0, 3]]\nheight = 2.5\n[surfaces]\nfloor = "sofa"\n'
    room += 'ceiling = "x"\nwalls = "x"\n[[sources]]\nname = "s"\nat = [3, 2, 1]\n[[seats]]\nname = "c"\n'
    text = room + "at = [2, 2, 1]\n" + '[materials.x]\nabsorption = { 125 = 0.1 }\nsource = "library, absorption: no"\n'
    found = {m.name: m.library for m in read_scene_text(text).materials}
    assert found == {"sofa": True, "x": False}
    own = read_scene_text(text + "[materials.sofa]\nabsorption = { 125 = 0.1 }\n")
    assert not own.material("sofa").library  # the scene's own material of that name goes first


def test_the_example_of_set_fits_the_shipped_scene() -> None:
    page = (ROOT / "docs" / "scene.md").read_text(encoding="utf-8")
    (example,) = re.findall(r"```toml\n(\[\[variants\]\].*?)```", page, re.DOTALL)
    shipped = (ROOT / "scenes" / "l-shaped-living-room.toml").read_text(encoding="utf-8")
    scene = read_scene_text(shipped + "\n" + example)
    assert scene.variants[-1].name == "half" and not scene.warnings
    assert scene.variants[-1].absorbers[0].gain == 0.5


def test_what_the_docs_say_of_filter_corners_holds() -> None:
    """Butterworth high-pass of order 2: s²/(s² + sqrt(2) s + 1) (common practice), and the area in the corner."""
    page = (ROOT / "docs" / "scene.md").read_text(encoding="utf-8")
    scene = read_scene_text((ROOT / "scenes" / "l-shaped-living-room.toml").read_text(encoding="utf-8"))
    unit = next(u for u in scene_units(scene) if u.gain > 0.0)
    words = r"shifts\s+the\s+phase\s+by\s+(\d+)\s+degrees\s+at\s+24\s+Hz.*?one\s+at\s+6\s+Hz\s+shifts\s+it\s+by\s+(\d+)"
    told = re.search(words, page, re.DOTALL)
    areas = re.search(r"that is ([\d.]+) instead of ([\d.]+) m² at 24 Hz", page)
    assert told and areas and isinstance(unit.design, ActiveUnit)
    for corner, degrees, area in zip((18.0, 6.0), told.groups(), areas.groups(), strict=True):
        s = 24j / corner
        assert np.degrees(np.angle(s**2 / (s**2 + math.sqrt(2.0) * s + 1.0))) == pytest.approx(float(degrees), abs=0.5)
        design = replace(unit.design, band_low=corner)
        y = design.admittance(np.array([24.0, 20.0]), unit.medium)
        found = equivalent_absorption_area(
            y, unit.face_area, unit.width, unit.height, np.array([24.0, 20.0]), unit.medium, corner=True
        )
        assert found[0] == pytest.approx(float(area), abs=0.1)
        assert (found[1] < 0.0) == (corner == 18.0)
