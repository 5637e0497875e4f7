"""Valid scenes: what the reader makes of them. All numbers are invented; formulas are named beside the checks."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from fdtd.errors import SceneError
from fdtd.physics.air import density, speed_of_sound
from fdtd.scene.read import read_scene, read_scene_text
from fdtd.scene.schema import Rectangle, Scene

from .sample import TEXT, edited

SHIPPED = sorted((Path(__file__).parents[2] / "scenes").glob("*.toml"))

SMALL = """scene = 1
[room]
plan = [[0, 0], [0, 4], [5, 4], [5, 0]]
height = 2.5
[surfaces]
floor = "rigid"
ceiling = "rigid"
walls = "rigid"
[[sources]]
name = "s"
at = [1, 1, 1]
[[seats]]
name = "r"
at = [3, 2, 1]
"""


@pytest.fixture(scope="module")
def sample() -> Scene:
    return read_scene_text(TEXT, "here/test.toml")


@pytest.mark.parametrize("path", SHIPPED, ids=[p.stem for p in SHIPPED])
def test_shipped_scenes_read_without_warnings(path):
    scene = read_scene(path)
    assert scene.warnings == ()
    assert len(scene.variants) == 2 and len(scene.variants[0].seats) == 2
    assert scene.text == path.read_text(encoding="utf-8")


def test_there_are_shipped_scenes():
    assert {p.stem for p in SHIPPED} >= {"l-shaped-living-room", "divided-ground-floor", "attic-with-loft"}


def test_smallest_scene_has_the_defaults():
    scene = read_scene_text(SMALL)
    (variant,) = scene.variants
    assert variant.name == "as described" and variant.changes == ""
    assert scene.air.speed_of_sound == speed_of_sound(20, 50, 101.325)
    assert scene.air.density == density(20, 50, 101.325)
    assert (scene.run.max_frequency, scene.run.grid, scene.run.duration) == (200.0, 0.1, None)
    assert scene.room.ceiling == ((2.5, 0.0, 0.0),)
    assert scene.room.plan[1] == (0.0, 4.0)  # the user's order is kept
    assert variant.surfaces[:3] == (("floor", "rigid"), ("ceiling", "rigid"), ("wall 1", "rigid"))
    assert len(variant.surfaces) == 6


def test_byte_order_mark_and_windows_line_ends_are_taken(tmp_path):
    path = tmp_path / "windows.toml"
    path.write_bytes(b"\xef\xbb\xbf" + SMALL.replace("\n", "\r\n").encode())
    assert read_scene(path).variants[0].seats[0].name == "r"


def test_things_in_metres_and_seconds(sample):
    fitted = sample.variants[1]
    assert sample.title == "Test room" and sample.path == "here/test.toml" and sample.text == TEXT
    assert fitted.sources[0].delay == pytest.approx(2.5e-3) and fitted.sources[0].polarity == -1
    thin_partition = fitted.thin_partitions[0]
    assert (thin_partition.axis, thin_partition.position) == (0, 4.0)
    assert thin_partition.openings == (Rectangle((0.8, 0.0), (1.7, 2.0)),)
    assert thin_partition.panel is not None and thin_partition.panel.stiffness == 0.0
    assert fitted.porous_volumes[0].porosity == 0.95
    assert dict(fitted.surfaces)["wall 2"] == "rigid" and dict(fitted.surfaces)["wall 3"] == "plaster"
    (plaster,) = sample.material("plaster").branches
    assert plaster.resistance == pytest.approx(sample.air.density * sample.air.speed_of_sound / 0.002)
    assert sample.material("rigid").branches == ()


def test_corners_may_come_in_either_order():
    a = read_scene_text(edited(("from = [1.0, 0.0]\nto = [2.8, 2.1]", "from = [2.8, 2.1]\nto = [1.0, 0.0]")))
    assert a.variants == read_scene_text(TEXT).variants


def test_cabinet_becomes_a_block_and_an_absorber_on_its_face(sample):
    fitted = sample.variants[1]
    block = next(b for b in fitted.blocks if b.name == "corner unit cabinet")
    assert block.lower == (0.1, 4.6, 0.0) and block.upper == (0.5, 5.1, 0.7) and block.material == "rigid"
    absorber = next(a for a in fitted.absorbers if a.name == "corner unit")
    assert absorber.on == "block corner unit cabinet -y"
    assert absorber.rectangle.lower == pytest.approx((0.2, 0.2))  # x and z, centred on the side
    assert absorber.rectangle.upper == pytest.approx((0.4, 0.5))


def test_cabinet_centre_is_measured_from_the_corner_of_its_side():
    scene = read_scene_text(edited(("opening = [0.2, 0.3]", "opening = [0.2, 0.3], centre = [0.15, 0.5]")))
    absorber = next(a for a in scene.variants[1].absorbers if a.name == "corner unit")
    assert absorber.rectangle.lower == pytest.approx((0.15, 0.35))


def test_variants(sample):
    untreated, fitted = sample.variants
    assert untreated.absorbers == () and untreated.thin_partitions == () and untreated.devices == ()
    assert [b.name for b in untreated.blocks] == ["cupboard"]  # the cabinet went with its absorber
    assert untreated.changes == "without flat unit, corner unit, screen"
    assert [a.gain for a in fitted.absorbers] == [1.0, 0.8]
    assert fitted.changes == "corner unit: gain 0.8"
    assert untreated.seats == fitted.seats


def test_set_changes_a_copy_of_the_device():
    scene = read_scene_text(edited(("{ gain = 0.8", "{ admittance_ratio = 0.5")))
    fitted = scene.variants[1]
    own = next(a for a in fitted.absorbers if a.name == "corner unit").device
    assert own == "membrane (variant fitted)"
    devices = {d.name: d for d in fitted.devices}
    assert set(devices) == {"membrane", own}
    assert devices[own].branches[0].mass == 0.0  # one form replaces the other
    assert devices["membrane"].branches[0].mass == 0.6
    assert devices[own].motion == "diaphragm"


def test_two_absorbers_with_different_changes_of_one_device():
    change = 'set = { "corner unit" = { motion = "local" }, "flat unit" = { admittance_ratio = 1 } }'
    scene = read_scene_text(edited(('set = { "corner unit" = { gain = 0.8 } }', change)))
    motions = {d.name: d.motion for d in scene.variants[1].devices}
    assert motions == {"membrane (variant fitted)": "local", "membrane (variant fitted, flat unit)": "diaphragm"}


def test_set_moves_things_and_changes_surfaces():
    change = (
        'set = { "right" = { at = [1, 1, 1] }, "wall 3" = { material = "lining" }, "walls" = { material = "boards" }, '
        '"corner unit" = { cabinet = { at = [0.2, 4.6, 0] } }, "screen" = { panel = { mass = 20 } } }'
    )
    fitted = read_scene_text(edited(('set = { "corner unit" = { gain = 0.8 } }', change))).variants[1]
    assert fitted.sources[1].at == (1.0, 1.0, 1.0)
    assert dict(fitted.surfaces)["wall 3"] == "lining" and dict(fitted.surfaces)["wall 1"] == "boards"
    block = next(b for b in fitted.blocks if b.name == "corner unit cabinet")
    assert block.lower == (0.2, 4.6, 0.0) and block.upper == (0.6, 5.1, 0.7)  # its size stayed
    panel = fitted.thin_partitions[0].panel
    assert panel is not None and (panel.mass, panel.resistance) == (20.0, 50.0)


def test_a_change_from_surface_to_cabinet():
    cabinet = 'cabinet = { at = [1, 4, 0], size = [0.4, 0.4, 0.6], facing = "+x", opening = [0.2, 0.2] }'
    scene = read_scene_text(edited(('"corner unit" = { gain = 0.8 }', f'"flat unit" = {{ {cabinet} }}')))
    assert {b.name for b in scene.variants[1].blocks} == {"cupboard", "flat unit cabinet", "corner unit cabinet"}


def test_a_thing_whose_name_begins_like_a_wall_can_be_changed():
    change = ('"corner unit" = { gain = 0.8 }', '"wall unit" = { material = "lining" }')
    scene = read_scene_text(edited(('name = "patio door"', 'name = "wall unit"'), change))
    assert scene.variants[1].patches[0].material == "lining"


def test_mistake_in_a_change_names_the_change():
    with pytest.raises(SceneError) as caught:
        read_scene_text(edited(("{ gain = 0.8", "{ cabinet = { at = [0.1, 9, 0] }")))
    (problem,) = caught.value.problems
    assert '[[variants]] "fitted", set "corner unit", cabinet, key "at": found [0.1, 9, 0]' in problem


def test_a_source_may_be_left_out():
    scene = read_scene_text(edited(('without = ["flat unit"', 'without = ["left", "flat unit"')))
    assert [len(v.sources) for v in scene.variants] == [1, 2]


def test_sloped_ceiling():
    """Through (0,0,1.4), (6,0,1.4), (0,4.2,3.0): z = 1.4 + y 1.6/4.2, the plane's own equation."""
    scene = read_scene_text(SMALL.replace("height = 2.5", "ceiling = [[[0, 0, 1.4], [6, 0, 1.4], [0, 4.2, 3.0]]]"))
    (plane,) = scene.room.ceiling
    assert plane == pytest.approx((1.4, 0.0, 1.6 / 4.2))


@pytest.mark.parametrize(
    ("low", "high", "fits"),
    [([0.2, 0.1], [1.0, 1.3], True), ([0.2, 0.1], [1.0, 1.5], False), ([3.0, 0.1], [3.9, 2.4], True)],
)
def test_patch_on_a_wall_under_a_sloped_ceiling(low, high, fits):
    """Wall 1 of SMALL runs along y from 0 to 4; at y = 0.2 the ceiling is 1.476 m, at y = 3 it is 2.543 m high."""
    text = SMALL.replace("height = 2.5", "ceiling = [[[0, 0, 1.4], [6, 0, 1.4], [0, 4.2, 3.0]]]")
    text += f'[[patches]]\nname = "p"\non = "wall 1"\nfrom = {low}\nto = {high}\nmaterial = "rigid"\n'
    if fits:
        read_scene_text(text)
    else:
        with pytest.raises(SceneError, match="sloped ceiling cuts it off: wall 1 is 1.4 m high"):
            read_scene_text(text)


def test_seat_under_a_ridge_may_be_higher_than_at_the_eaves():
    """Two planes that meet over y = 2 at 1.5 + 2 = 3.5 m: higher than over any corner of the plan."""
    ridge = "ceiling = [[[0, 0, 1.5], [1, 0, 1.5], [0, 1, 2.5]], [[0, 4, 1.5], [1, 4, 1.5], [0, 3, 2.5]]]"
    text = SMALL.replace("height = 2.5", ridge)
    read_scene_text(text.replace("at = [3, 2, 1]", "at = [3, 2, 3.3]"))
    thin_partition = '[[sheets]]\nname = "w"\nfrom = [2, 0, 0]\nto = [2, 4, {}]\n'
    read_scene_text(text + thin_partition.format(3.5))
    with pytest.raises(SceneError, match="from 0 to 3.5 m in z"):
        read_scene_text(text + thin_partition.format(3.6))
    with pytest.raises(SceneError, match="at most 2.5 there"):
        read_scene_text(text.replace("at = [3, 2, 1]", "at = [3, 1, 3.3]"))


def test_points_and_things_on_walls_are_taken():
    text = SMALL.replace("at = [1, 1, 1]", "at = [0, 0, 0]")
    text += '[[blocks]]\nname = "b"\nfrom = [4, 3, 0]\nto = [5, 4, 2.5]\n'
    assert read_scene_text(text).variants[0].blocks[0].material == "rigid"


def test_air_given_directly():
    scene = read_scene_text(SMALL + "[air]\nspeed_of_sound = 343.2\ndensity = 1.204\n")
    assert (scene.air.speed_of_sound, scene.air.density, scene.air.temperature) == (343.2, 1.204, None)


def test_slanted_plan_and_wall_coordinates():
    length = math.hypot(3, 4)
    text = SMALL.replace("[[0, 0], [0, 4], [5, 4], [5, 0]]", "[[0, 0], [5, 0], [5, 4], [3, 4]]")
    text += f'[[patches]]\nname = "p"\non = "wall 4"\nfrom = [1, 0]\nto = [{length}, 2]\nmaterial = "rigid"\n'
    read_scene_text(text)
    with pytest.raises(SceneError, match="wall 4 is 5 m long"):
        read_scene_text(text.replace(f"to = [{length}", f"to = [{length + 0.01}"))


@pytest.mark.parametrize(
    ("extra", "words"),
    [
        ("[materials.spare]\nadmittance_ratio = 0.1\n", 'line 15, [materials."spare"]: this material is on no surface'),
        ("[devices.spare]\nadmittance_ratio = 0.1\n", 'line 15, [devices."spare"]: no absorber has this device'),
        ("[air]\ntemperature = 35\n", "from 0 to 30 °C"),
        ('[[seats]]\nname = "close"\nat = [0.05, 1, 1]\n', "less than 10 cm"),
        (
            '[[blocks]]\nname = "b"\nfrom = [4, 3, 0]\nto = [5, 4, 1]\n[[patches]]\nname = "p"\non = "floor"\n'
            'from = [4.1, 3.1]\nto = [4.5, 3.5]\nmaterial = "rigid"\n',
            "covered by",
        ),
        (
            '[[blocks]]\nname = "b"\nfrom = [4, 3, 0]\nto = [5, 4, 1]\n[[variants]]\nname = "v"\nwithout = ["b"]\n',
            "in no variant",
        ),
    ],
)
def test_warnings(extra, words):
    warnings = read_scene_text(SMALL + extra).warnings
    assert len(warnings) == 1 and words in warnings[0]
