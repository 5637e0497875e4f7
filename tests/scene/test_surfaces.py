"""Materials and devices of every form: from the library, from absorption, from a table, from a build-up."""

from __future__ import annotations

import dataclasses
import re
import time

import numpy as np
import pytest

from fdtd.errors import SceneError
from fdtd.physics.admittance import admittance, diffuse_absorption, normal_absorption
from fdtd.scene.read import read_scene, read_scene_text
from fdtd.scene.surfaces import DESIGNS, ActiveUnit
from fdtd.scene.tables import DESIGN_FIELDS, DEVICE_KINDS, MATERIAL_KINDS, REQUIRED, design_values

from .sample import edited, line_of

DRIVER = (
    "diaphragm_area = 0.014, moving_mass = 0.014, suspension_compliance = 8e-4, mechanical_resistance = 1.2, "
    "force_factor = 7.0, coil_resistance = 6.0, box_volume = 0.01"
)
BUILD_UPS = {
    "plate": "mass = 8.5, depth = 0.1, loss = 0.3",
    "perforated": "hole_diameter = 0.005, hole_spacing = 0.03, thickness = 0.009, depth = 0.1, resistance = 300",
    "slotted": "slot_width = 0.004, slot_spacing = 0.08, thickness = 0.018, depth = 0.1, fill_depth = 0.05, "
    "fill_resistivity = 5000",
    "helmholtz": "neck_area = 0.01, neck_length = 0.05, volume = 0.06, resistance = 40",
    "porous": "thickness = 0.1, flow_resistivity = 10000, gap = 0.1",
    "pane": "mass = 10, frequency = 30",
    "opening": "width = 0.8, height = 2",
    "driver": DRIVER,
    "active": DRIVER + ", target_resistance = 400, count = 4, delay = 0.2",
}
"""Kind -> keys of an invented build-up, as a table in braces would hold them."""

DEVICE = 'kind = "branches"\nbranches = [{ mass = 0.6, resistance = 60.0, stiffness = 29000.0 }]\nmotion = "diaphragm"'
PLASTER = "admittance_ratio = 0.002"


def keys(kind: str) -> str:
    return "\n".join([f'kind = "{kind}"', *BUILD_UPS[kind].split(", ")])


def device(text: str):
    """The device of the sample's second variant, written as `text`."""
    scene = read_scene_text(edited((DEVICE, text)))
    return scene, scene.variants[1].devices[0]


def problems(*edits, path="scene.toml") -> list[str]:
    with pytest.raises(SceneError) as caught:
        read_scene_text(edited(*edits), path)
    return list(caught.value.problems)


# ---- the fields and the designs -----------------------------------------------------------------------------------


def test_fields_are_those_of_the_designs():
    for kind, fields in DESIGN_FIELDS.items():
        made = {f.name: f.default for f in dataclasses.fields({**DESIGNS, "active": ActiveUnit}[kind])}
        assert {f.key for f in fields} == set(made), kind
        for f in fields:
            given = dataclasses.MISSING if f.default is REQUIRED else design_values(kind, {f.key: f.default}).get(f.key)
            assert given == made[f.key], (kind, f.key)
    assert set(DESIGN_FIELDS) == set(MATERIAL_KINDS) | set(DEVICE_KINDS) == set(DESIGNS) | {"active"}


@pytest.mark.parametrize("kind", MATERIAL_KINDS)
def test_a_material_of_every_kind(kind):
    scene = read_scene_text(edited((PLASTER, keys(kind))))
    material = scene.material("plaster")
    assert material.design.kind == kind and material.branches == material.fit.branches
    frequency = np.geomspace(20, 200, 30)
    theory = diffuse_absorption(material.design.admittance(frequency, scene.air.medium) * scene.air.medium.impedance)
    found = diffuse_absorption(admittance(material.branches, frequency) * scene.air.medium.impedance)
    assert np.abs(found - theory).max() < 0.03


@pytest.mark.parametrize("kind", DEVICE_KINDS)
def test_a_device_of_every_kind(kind):
    _, made = device(keys(kind))
    assert made.design.kind == kind and made.branches
    assert made.motion == ("local" if kind == "porous" else "diaphragm")
    assert (made.control is not None) == (kind == "active")
    area = {"driver": 0.014, "active": 4 * 0.014, "helmholtz": 0.01}.get(kind)
    assert made.face_area == (pytest.approx(area) if area else None)


def test_the_active_unit_is_its_passive_box_and_its_control():
    scene, made = device(keys("active"))
    assert made.design.delay == pytest.approx(2e-4)  # ms in the file
    frequency = np.geomspace(20, 160, 20)
    total = admittance(made.branches, frequency) + made.control.admittance(frequency)
    theory = made.design.admittance(frequency, scene.air.medium)
    assert np.abs(total - theory).max() < 0.01 * np.abs(theory).max()


# ---- the library --------------------------------------------------------------------------------------------------


def test_a_name_that_the_scene_does_not_define_comes_from_the_library():
    scene = read_scene_text(
        edited(
            ('floor = "boards"', 'floor = "timber floor on concrete"'),
            ('walls = "plaster"', 'walls = "plasterboard on studs"'),
        )
    )
    floor, wall = scene.material("timber floor on concrete"), scene.material("plasterboard on studs")
    assert "Everest" in floor.source and floor.design is None and floor.fit.bands[0].wanted == 0.04
    assert wall.design.kind == "plate" and "judgement" in wall.source
    assert {m.name for m in scene.materials} == {"boards", "lining", "plaster", floor.name, wall.name}
    assert "this material is on no surface" in "".join(scene.warnings)  # plaster


def test_a_material_of_the_scene_goes_before_the_library():
    text = edited(("[materials.plaster]", "[materials.sofa]"), ('walls = "plaster"', 'walls = "sofa"'))
    scene = read_scene_text(text)
    assert [m.name for m in scene.materials].count("sofa") == 1 and scene.material("sofa").fit is None


def test_names_nearby_are_found_in_scene_and_library():
    (told,) = problems(('floor = "boards"', 'floor = "carpet on concreet"'))
    assert 'did you mean "carpet on concrete"' in told and "docs/surfaces.md" in told
    (told,) = problems(('floor = "boards"', 'floor = "bords"'))
    assert 'did you mean "boards"' in told


# ---- absorption and tables ----------------------------------------------------------------------------------------


def test_absorption_is_held_by_the_branches():
    scene = read_scene_text(edited((PLASTER, 'absorption = { 125 = 0.3, 250 = 0.12, "31.5" = 0.2, 4000 = 0.9 }')))
    material = scene.material("plaster")
    assert [b.frequency for b in material.fit.bands] == [31.5, 125.0, 250.0]
    for band in material.fit.bands:
        found = diffuse_absorption(admittance(material.branches, band.frequency) * scene.air.medium.impedance)
        assert float(found) == pytest.approx(band.wanted, abs=0.01)


def write(folder, table: str, *edits) -> str:
    (folder / "measured.csv").write_text(table, encoding="utf-8")
    path = folder / "scene.toml"
    path.write_text(edited(*edits), encoding="utf-8")
    return str(path)


def table_of(function) -> str:
    rows = [(f, complex(function(2j * np.pi * f))) for f in np.geomspace(20, 400, 60)]
    return "frequency_hz,real,imag\n" + "".join(f"{f:.6g},{b.real:.9g},{b.imag:.9g}\n" for f, b in rows)


def sprung(s: complex) -> complex:
    """rho c Y of an invented passive face, 60 Hz."""
    return 400.0 / (2.0 * s + 300.0 + 2.0 * (2 * np.pi * 60.0) ** 2 / s)


@pytest.mark.parametrize(
    "edit", [(PLASTER, 'table = "measured.csv"'), (DEVICE, 'kind = "table"\ntable = "measured.csv"')]
)
def test_a_table_beside_the_scene_file(tmp_path, edit):
    scene = read_scene(write(tmp_path, table_of(sprung), edit))
    made = scene.material("plaster") if "kind" not in edit[1] else scene.variants[1].devices[0]
    assert made.fit.error < 0.01
    found = admittance(made.branches, [30.0, 60.0, 120.0]) * scene.air.medium.impedance
    assert found == pytest.approx([sprung(2j * np.pi * f) for f in (30.0, 60.0, 120.0)], rel=0.02)


def test_a_table_that_gives_out_energy_is_for_devices_only(tmp_path):
    table = table_of(lambda s: -0.5 * sprung(s))
    scene = read_scene(write(tmp_path, table, (DEVICE, 'kind = "table"\ntable = "measured.csv"')))
    made = scene.variants[1].devices[0]
    assert made.branches == () and made.control is not None and made.motion == "diaphragm"
    found = made.control.admittance(60.0) * scene.air.medium.impedance
    assert complex(found) == pytest.approx(-0.5 * sprung(2j * np.pi * 60.0), rel=0.03)
    path = write(tmp_path, table, (PLASTER, 'table = "measured.csv"'))
    with pytest.raises(SceneError, match=r'key "table".*gives out energy.*a material can\'t'):
        read_scene(path)
    path = write(tmp_path, table, (DEVICE, 'kind = "table"\ntable = "measured.csv"\nmotion = "local"'))
    with pytest.raises(SceneError, match=r'key "motion".*found "local".*moves as one'):
        read_scene(path)


def test_a_table_of_absorption_at_normal_incidence(tmp_path):
    table = "frequency_hz,absorption_normal\n63,.1\n80,.2\n100,.6\n125,.9\n160,.5\n200,.2\n250,.1\n"
    scene = read_scene(write(tmp_path, table, (PLASTER, 'table = "measured.csv"')))
    found = admittance(scene.material("plaster").branches, [90.0, 112.0, 140.0]) * scene.air.medium.impedance
    assert 0.25 < normal_absorption(found[0]) < 0.6 < normal_absorption(found[1])
    assert normal_absorption(found[2]) > 0.5
    assert any("begins at 63 Hz; what is below is a guess" in w for w in scene.warnings)


@pytest.mark.parametrize(
    ("first", "last", "words"),
    [
        (20, 400, ""),
        (25, 400, "begins at 25 Hz; what is below"),
        (20, 180, "ends at 180 Hz; what is above"),
        (40, 160, "begins at 40 Hz and ends at 160 Hz; what is below and above is a guess"),
    ],
)
def test_a_table_that_does_not_reach_is_said(tmp_path, first, last, words):
    rows = "".join(f"{f},0.1,0\n" for f in range(first, last + 1, 5))
    scene = read_scene(write(tmp_path, "frequency_hz,real,imag\n" + rows, (PLASTER, 'table = "measured.csv"')))
    told = [w for w in scene.warnings if 'key "table"' in w]
    assert len(told) == bool(words) and all(words in w for w in told), told


@pytest.mark.parametrize(
    ("name", "content", "words"),
    [
        ("absent.csv", None, ["no such file", "folder of the scene"]),
        (".", None, ["is a folder"]),
        ("measured.csv", b"", ["not a table of admittance", "empty"]),
        ("measured.csv", b"\xff\xfe\x00", ["not UTF-8"]),
        ("measured.csv", b"f,a\n1,2\n", ["frequency_hz"]),
        ("measured.csv", b"frequency_hz,real,imag\n600,1,0\n700,1,0\n800,1,0\n", ["begins at 600 Hz", "up to 500 Hz"]),
        ("measured.csv", b"frequency_hz,real,imag\n300,1,0\n400,1,0\n800,1,0\n", ["has 2 rows up to", "least 3"]),
        ("a\\u0000b", None, [r"a\x00b"]),
        ("measured.csv", b"#" * 2_000_002, ["larger than"]),
    ],
)
def test_a_wrong_file_is_said_with_its_line(tmp_path, name, content, words):
    if content is not None:
        (tmp_path / name).write_bytes(content)
    text = edited((PLASTER, f'table = "{name}"'))
    (told,) = problems((PLASTER, f'table = "{name}"'), path=str(tmp_path / "scene.toml"))
    assert f'line {line_of(text, "table = ")}, [materials."plaster"], key "table"' in told
    assert all(w in told for w in words), told


# ---- mistakes -----------------------------------------------------------------------------------------------------

UNITS = [
    ("plate", "mass = 8.5", "mass = 8500", ["from 0.05 to 200 kg/m²"]),  # g
    ("plate", "depth = 0.1", "depth = 10", ["from 0.001 to 3 m"]),  # cm
    ("perforated", "hole_diameter = 0.005", "hole_diameter = 5", ["0.1 m"]),  # mm
    ("slotted", "slot_width = 0.004", "slot_width = 0.4", ["0.1 m"]),  # cm
    ("helmholtz", "volume = 0.06", "volume = 60", ["5 m³"]),  # litres
    ("helmholtz", "neck_area = 0.01", "neck_area = 100", ["0.5 m²"]),  # cm²
    ("porous", "thickness = 0.1", "thickness = 10", ["2 m"]),  # cm
    ("porous", "flow_resistivity = 10000", "flow_resistivity = 10", ["from 100", "Pa·s/m²"]),  # kPa·s/m²
    ("driver", "moving_mass = 0.014", "moving_mass = 14", ["0.6 kg"]),  # g
    ("driver", "diaphragm_area = 0.014", "diaphragm_area = 140", ["0.5 m²"]),  # cm²
    ("driver", "box_volume = 0.01", "box_volume = 10", ["1 m³"]),  # litres
    ("driver", "suspension_compliance = 8e-4", "suspension_compliance = 0.8", ["0.01 m/N"]),  # mm/N
    ("active", "count = 4", "count = 4.5", ["whole number"]),
    ("active", "delay = 0.2", "delay = 200", ["from 0 to 20 ms"]),  # µs
    ("active", "count = 4", "largest_stroke = 5", ["0.05 m"]),  # mm
]


@pytest.mark.parametrize(("kind", "old", "new", "words"), UNITS, ids=[f"{u[0]} {u[2]}" for u in UNITS])
def test_slips_of_units_are_caught(kind, old, new, words):
    wrong = keys(kind).replace(old, new)
    (told,) = problems((DEVICE, wrong))
    line = line_of(edited((DEVICE, wrong)), wrong) + line_of(wrong, new) - 1
    assert f"line {line}," in told and all(w in told for w in words), told


BROKEN = [
    ("two forms", PLASTER, PLASTER + "\nabsorption = { 125 = 0.1 }", "absorption =", ["found both", "keep one"]),
    ("kind and form", PLASTER, PLASTER + '\nkind = "plate"', "kind =", ["found both", "keep one"]),
    ("kind of a device", PLASTER, keys("driver"), 'kind = "driver"', ['"plate"', '"opening"', "must be"]),
    ("kind of a material", DEVICE, keys("opening"), 'kind = "opening"', ['"plate"', '"active"', "must be"]),
    ("kind misspelt", PLASTER, 'kind = "poros"', 'kind = "poros"', ['did you mean "porous"']),
    ("kind no text", DEVICE, "kind = [1]", "kind = [1]", ["found [1]", '"branches"']),
    ("key misspelt", PLASTER, keys("porous").replace("gap", "gab"), "gab =", ['did you mean "gap"']),
    (
        "key of another kind",
        DEVICE,
        keys("plate") + "\nvolume = 1",
        "volume =",
        ["no meaning", '"helmholtz"', "change the kind"],
    ),
    (
        "key missing",
        PLASTER,
        'kind = "porous"\nthickness = 0.1',
        "[materials.plaster]",
        ['"flow_resistivity" is missing'],
    ),
    (
        "fill too deep",
        PLASTER,
        keys("plate") + "\nfill_depth = 0.2\nfill_resistivity = 5e3",
        "[materials.plaster]",
        ["don't go together; the fill", "must fit the cavity"],
    ),
    (
        "holes too wide",
        DEVICE,
        keys("perforated").replace("0.005", "0.04"),
        "[devices.membrane]",
        ["don't go together; holes"],
    ),
    (
        "band filters",
        DEVICE,
        keys("active") + "\nband_low = 200",
        "[devices.membrane]",
        ["don't go together; band_low"],
    ),
    ("motion of a driver", DEVICE, keys("driver") + '\nmotion = "local"', "motion =", ["no meaning"]),
    ("band's name", PLASTER, "absorption = { low = 0.1 }", "absorption =", ["centre in Hz", "{ 125 = 0.10"]),
    ("band with a point", PLASTER, "absorption = { 31.5 = 0.1 }", "absorption =", ["needs quotes"]),
    (
        "one band twice",
        PLASTER,
        'absorption = { 125 = 0.1, "125.0" = 0.3 }',
        "absorption =",
        ['found "125.0"', 'one band twice (with "125")'],
    ),
    (
        "bands too close",
        PLASTER,
        "absorption = { 100 = 0.1, 110 = 0.3 }",
        "absorption =",
        ['found "110"', "less than a third octave", 'with "100"'],
    ),
    ("no low band", PLASTER, "absorption = { 1000 = 0.1 }", "absorption =", ["up to 500 Hz"]),
    ("no band", PLASTER, "absorption = {}", "absorption =", ["at least one band"]),
    ("percent", PLASTER, "absorption = { 125 = 12 }", "absorption =", ["found 12", "from 0 to 1.5"]),
    ("above one", PLASTER, "absorption = { 125 = 1.02 }", "absorption =", ["found 1.02", "enter 0.95"]),
    ("absorption of a device", DEVICE, "absorption = { 125 = 0.1 }", "absorption =", ["no meaning"]),
    ("no table", DEVICE, 'kind = "table"', "[devices.membrane]", ['"table" is missing']),
]


@pytest.mark.parametrize(("old", "new", "place", "words"), [b[1:] for b in BROKEN], ids=[b[0] for b in BROKEN])
def test_refused_with_line_and_remedy(old, new, place, words):
    text = edited((old, new))
    told = problems((old, new))
    start = text.index(new) if place in new else text.index(place)
    line = text[: text.index(place, start)].count("\n") + 1
    assert any(f"line {line}," in p and all(w in p for w in words) for p in told), (line, told)
    assert len(told) <= 3


# ---- warnings, variants, time -------------------------------------------------------------------------------------


def test_an_opening_unlike_the_face_is_said():
    scene, _ = device(keys("driver"))  # openings of 0.12 and 0.06 m², a diaphragm of 0.014 m²
    told = [w for w in scene.warnings if "moving face" in w]
    assert len(told) == 2 and "0.12 m²" in told[0] and "0.014 m²" in told[0]
    scene, _ = device(keys("plate"))
    assert not any("moving face" in w for w in scene.warnings)


def test_a_poor_fit_is_said(tmp_path):
    comb = table_of(lambda s: 0.5 + 0.49 * np.cos(abs(s) / 12.0))
    scene = read_scene(write(tmp_path, comb, (PLASTER, 'table = "measured.csv"')))
    words = r"what the simulation uses absorbs up to 0\.\d\d more or less than this table at normal incidence"
    assert any('key "table"' in w and re.search(words, w) for w in scene.warnings)
    poor = keys("porous").replace("0.1", "0.065", 1).replace("10000", "12444").replace("gap = 0.1", "gap = 0.76")
    scene = read_scene_text(edited((PLASTER, poor)))
    words = r"uses absorbs up to 0\.\d\d more or less than this build-up by theory \(see fdtd surface\)"
    assert any('key "kind"' in w and re.search(words, w) for w in scene.warnings)


def test_the_error_of_poles_is_said_in_parts_of_the_admittance(tmp_path):
    draw = np.random.default_rng(0)
    table = table_of(lambda s: -0.99 + 0.3 * draw.normal())
    scene = read_scene(write(tmp_path, table, (DEVICE, 'kind = "table"\ntable = "measured.csv"')))
    (told,) = [w for w in scene.warnings if 'key "table"' in w]
    percent = int(re.search(r"the poles differ from it by up to (\d+) % of its largest admittance", told)[1])
    assert 3 < percent < 100 and percent == round(100 * scene.variants[1].devices[0].fit.error)


def test_another_kind_in_a_variant_drops_the_keys_of_the_old_one():
    change = 'set = { "corner unit" = { kind = "porous", thickness = 0.1, flow_resistivity = 9000 } }'
    scene = read_scene_text(edited((DEVICE, keys("plate")), ('set = { "corner unit" = { gain = 0.8 } }', change)))
    kinds = {d.name: d.design.kind for d in scene.variants[1].devices}
    assert kinds == {"membrane": "plate", "membrane (variant fitted)": "porous"}
    scene = read_scene_text(edited(('set = { "corner unit" = { gain = 0.8 } }', change)))  # from branches
    assert scene.variants[1].devices[-1].design.thickness == 0.1


def test_active_in_one_variant_and_shunted_in_another():
    change = 'set = { "corner unit" = { kind = "driver", shunt_resistance = 5 } }'
    scene = read_scene_text(edited((DEVICE, keys("active")), ('set = { "corner unit" = { gain = 0.8 } }', change)))
    unit, shunted = scene.variants[1].devices
    assert unit.control is not None and shunted.control is None
    assert shunted.design.count == 4 and shunted.design.shunt_resistance == 5.0


def test_a_mistake_in_a_variant_names_the_variant():
    change = 'set = { "corner unit" = { depth = 90 } }'
    edits = [(DEVICE, keys("plate")), ('set = { "corner unit" = { gain = 0.8 } }', change)]
    (told,) = problems(*edits)
    assert f"line {line_of(edited(*edits), change)}" in told and 'set "corner unit"' in told and "found 90" in told


def test_a_hundred_variants_fit_once():
    variants = "".join(
        f'[[variants]]\nname = "v{i}"\nset = {{ "flat unit" = {{ gain = 0.{i + 1:03d} }} }}\n\n' for i in range(98)
    )
    slotted = keys("slotted").replace("0.018", "0.0187")
    start = time.perf_counter()
    scene = read_scene_text(edited((DEVICE, slotted), ("[run]", variants + "[run]")))
    assert len(scene.variants) == 100
    devices = [d for v in scene.variants for d in v.devices if d.name == "membrane"]
    assert all(d.fit is devices[0].fit for d in devices) and time.perf_counter() - start < 8.0


def test_a_device_larger_than_its_cabinet_is_said() -> None:
    cabinet = 'cabinet = { at = [0.2, 0.2, 0.0], size = [0.3, 0.3, 0.4], facing = "+x", opening = [0.2, 0.2] }'
    text = (
        'scene = 1\n[room]\nplan = [[0, 0], [4, 0], [4, 3], [0, 3]]\nheight = 2.5\n[surfaces]\nfloor = "rigid"\n'
        'ceiling = "rigid"\nwalls = "rigid"\n[[sources]]\nname = "s"\nat = [3, 2, 1]\n[[seats]]\nname = "c"\n'
        f'at = [2, 2, 1]\n[[absorbers]]\nname = "a"\ndevice = "d"\n{cabinet}\n[devices.d]\n'
    )
    deep = read_scene_text(text + 'kind = "plate"\nmass = 4.0\ndepth = 0.5\n')
    assert any("its device is 0.5 m deep" in warning for warning in deep.warnings)
    large = read_scene_text(text + 'kind = "helmholtz"\nneck_area = 0.04\nneck_length = 0.1\nvolume = 0.05\n')
    assert any("36 litres outside; its device needs 50 litres" in warning for warning in large.warnings)
    assert not read_scene_text(text + 'kind = "plate"\nmass = 4.0\ndepth = 0.2\n').warnings
