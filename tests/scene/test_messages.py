"""Messages as a newcomer meets them: slips of unit, trade words, keys in the wrong table, no follow-ups.

All values are invented; which unit or word is usual is common practice.
"""

from __future__ import annotations

import pytest

from fdtd.errors import SceneError
from fdtd.library.surfaces import names as library_names
from fdtd.scene.read import read_scene_text
from fdtd.scene.slips import length_slip, unit_slip
from fdtd.scene.tables import Field
from fdtd.scene.text import did_you_mean, nearest

from .sample import edited

PLASTER = "admittance_ratio = 0.002"
DEVICE = 'kind = "branches"\nbranches = [{ mass = 0.6, resistance = 60.0, stiffness = 29000.0 }]\nmotion = "diaphragm"'
CABINET = 'cabinet = { at = [0.1, 4.6, 0.0], size = [0.4, 0.5, 0.7], facing = "-y", opening = [0.2, 0.3] }'
PLATE = 'kind = "plate"\nmass = 8.0\ndepth = 0.1'


def problems(*edits: tuple[str, str]) -> list[str]:
    with pytest.raises(SceneError) as caught:
        read_scene_text(edited(*edits))
    return list(caught.value.problems)


def driver(key: str, value: str) -> str:
    numbers = {
        "diaphragm_area": "0.014",
        "moving_mass": "0.014",
        "suspension_compliance": "8e-4",
        "mechanical_resistance": "1.2",
        "force_factor": "7.0",
        "coil_resistance": "6.0",
        "box_volume": "0.01",
    } | {key: value}
    return "\n".join(['kind = "driver"', *(f"{k} = {v}" for k, v in numbers.items())])


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        (PLASTER, PLATE.replace("8.0", "8000"), "if it is 8000 g/m², write 8"),
        (PLASTER, PLATE.replace("0.1", "10"), "if it is 10 cm, write 0.1"),
        (DEVICE, driver("diaphragm_area", "140"), "if it is 140 cm², write 0.014"),
        (DEVICE, driver("moving_mass", "14"), "if it is 14 g, write 0.014"),
        (DEVICE, driver("suspension_compliance", "0.8"), "if it is 0.8 mm/N, write 0.0008"),
        (DEVICE, driver("box_volume", "10"), "if it is 10 litres, write 0.01"),
        (DEVICE, driver("coil_inductance", "0.5"), "if it is 0.5 mH, write 0.0005"),
        (PLASTER, "absorption = { 125 = 12 }", "if it is 12 per cent, write 0.12"),
        ("gain = 0.8", "gain = 80", "if it is 80 per cent, write 0.8"),
        ("height = 2.5", "height = 250", "if it is 250 cm, write 2.5"),
        ("duration = 1.5", "duration = 1500", "if it is 1500 ms, write 1.5"),
        ("max_frequency = 160.0", "max_frequency = 0.16", "if it is 0.16 kHz, write 160"),
        ("temperature = 21.0", "temperature = 294.15", "if it is 294.15 K, write 21"),
    ],
)
def test_a_slip_of_unit_is_named(old, new, words):
    told = problems((old, new))
    assert len(told) == 1 and words in told[0], told


def test_no_unit_is_guessed_where_none_helps():
    mass = Field("mass", "number", "mass", "kg/m²", low=0.05, high=200.0)
    assert unit_slip(mass, -3.0) == unit_slip(mass, 1e9) == unit_slip(mass, 0.0) == ""
    assert unit_slip(Field("q", "number", "total Q", "", low=0.15, high=5.0), 70.0) == ""  # no share
    assert length_slip((6.1, 1.0, 1.0), (6.0, 5.0, 2.5)) == ""


def test_a_cabinet_in_cm_blames_its_size_and_nothing_else():
    (told,) = problems((CABINET, CABINET.replace("[0.4, 0.5, 0.7]", "[40, 50, 70]")))
    assert 'key "size": found [40, 50, 70]' in told and "if these are cm, write [0.4, 0.5, 0.7]" in told


def test_a_cabinet_in_mm_is_said_what_it_is_in_m():
    (told,) = problems((CABINET, CABINET.replace("[0.4, 0.5, 0.7]", "[400, 500, 700]")))
    assert 'key "size": found [400, 500, 700]' in told and "if these are mm, write [0.4, 0.5, 0.7]" in told


def test_nothing_is_inside_a_cabinet_that_was_refused():
    """A cabinet as large as the room but pushed out of it: one mistake, and none of the sources and seats in it."""
    (told,) = problems((CABINET, CABINET.replace("[0.4, 0.5, 0.7]", "[6, 5, 2.5]").replace("4.6", "0.3")))
    assert "outside the plan" in told


def test_a_seat_in_cm():
    (told,) = problems(("at = [5.0, 1.6, 1.1]", "at = [500, 160, 110]"))
    assert told.endswith("if these are cm, write [5, 1.6, 1.1]")


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        (PLASTER, PLATE.replace("plate", "membrane"), 'did you mean "plate"?'),
        (PLASTER, 'kind = "panel"', 'did you mean "plate"?'),
        (PLASTER, 'kind = "Foam"', 'did you mean "porous"?'),
        (PLASTER, 'kind = "mineral wool"', '"porous"'),
        (DEVICE, 'kind = "resonator"', 'did you mean "helmholtz"?'),
        (DEVICE, 'kind = "loudspeaker"', 'did you mean "driver"?'),
        (
            "level = -3.0",
            'lowpass = { kind = "LR4", frequency = 80 }',
            'did you mean kind = "linkwitz-riley" with order = 4?',
        ),
        ("level = -3.0", 'lowpass = { kind = "BW24", frequency = 80 }', 'kind = "butterworth" with order = 4?'),
        ("level = -3.0", 'rolloff = { kind = "ported", frequency = 35 }', 'did you mean "vented"?'),
        ("polarity = -1", 'polarity = "inverted"', "did you mean -1 (a number, without quotes)?"),
        ("polarity = -1", 'polarity = "-"', "did you mean -1 (a number, without quotes)?"),
        ("polarity = -1", 'polarity = "+"', "did you mean 1 (a number, without quotes)?"),
        ('walls = "plaster"', 'walls = "door open"', 'did you mean "open door"?'),
        ('walls = "plaster"', 'walls = "Plasterboard on studs"', 'did you mean "plasterboard on studs"?'),
        ("level = -3.0", "gain = -3.0", 'did you mean "level"?'),
        (DEVICE, driver("sd", "0.01").replace("diaphragm_area", "#"), 'did you mean "diaphragm_area"?'),
    ],
)
def test_trade_words(old, new, words):
    told = problems((old, new))
    assert any(words in t for t in told), told


@pytest.mark.parametrize(
    ("name", "candidate"),
    [
        ("parquet floor", "timber floor on joists"),
        ("brick wall", "painted brickwork"),
        ("drywall", "plasterboard on studs"),
        ("drapes", "heavy curtain"),
        ("glass", "single glazing"),
        ("bookcase", "full bookshelf"),
        ("concrete", "painted concrete"),
        ("window", "sash window"),
    ],
)
def test_a_name_that_the_library_lacks_gets_sensible_candidates(name, candidate):
    hint = did_you_mean(name, ["my wall", "rigid", *library_names()], "materials")
    assert hint.startswith("did you mean") and f'"{candidate}"' in hint, hint


def test_a_cut_list_begins_with_the_likest():
    known = [*(f"item {n}" for n in range(20)), "xyzzy 1"]
    assert nearest("qxyzq", known) == []
    assert did_you_mean("qxyzq", known, "things").startswith('things: "xyzzy 1"')


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        (DEVICE, DEVICE + "\ngain = 0.5", "belongs to the absorber that has this device"),
        ("cabinet = {", 'facing = "-y"\ncabinet = {', 'inside the braces of "cabinet"'),
        ('facing = "-y",', 'facing = "-y", gain = 0.5,', "outside the braces of its cabinet"),
        ("{ gain = 0.8", '{ facing = "+x"', 'inside the braces of "cabinet"'),
        ("cabinet = {", "mass = 3\ncabinet = {", "belongs to the device"),
        ("level = -3.0", "q = 0.7", 'inside the braces of "rolloff"'),
        ("height = 2.5", "height = 2.5\ngrid = 0.1", "belongs to [run]"),
    ],
)
def test_a_key_that_belongs_elsewhere(old, new, words):
    (told,) = problems((old, new))
    assert "found a key that" in told and words in told, told


def test_keys_of_another_kind_are_one_line():
    (told,) = problems((DEVICE, 'kind = "helmholtz"\nmass = 8.0\ndepth = 0.1\nloss = 0.1\nstiffness = 0'))
    assert 'found "mass", "depth", "loss", "stiffness"' in told and 'keys of kind "plate"' in told
    assert 'kind "helmholtz" needs "neck_area", "neck_length", "volume"' in told
    (told,) = problems((PLASTER, PLASTER + "\nmass = 8.0\ndepth = 0.1\nloss = 0.2"))
    assert 'keys of kind "plate": give the kind' in told


def test_one_key_short_of_its_full_name():
    told = problems((DEVICE, driver("x", "1").replace("x = 1", "").replace("moving_mass", "mass")))
    assert any('key "mass"' in t and 'did you mean "moving_mass"?' in t for t in told), told


def test_a_device_without_absorbers_is_not_said_with_empty_brackets():
    told = problems(
        ('device = "membrane"\non', 'device = "x"\non'),
        ('device = "membrane"\ncabinet', 'device = "x"\ncabinet'),
        ('"corner unit" = { gain', '"membrane" = { gain'),
        ('without = ["flat unit"', 'without = ["membrane"'),
    )
    hits = [t for t in told if "it is a device" in t]
    assert len(hits) == 2 and all('none in this variant has device = "membrane"' in t for t in hits)
    assert not any("()" in t for t in told)


def test_numbers_that_do_not_go_together():
    holes = 'kind = "perforated"\nhole_diameter = 0.04\nhole_spacing = 0.03\nthickness = 0.01\ndepth = 0.1'
    (told,) = problems((PLASTER, holes))
    assert "found numbers that don't go together; holes 0.04 m wide run into each other" in told


@pytest.mark.parametrize(
    ("old", "new", "write"),
    [
        ("humidity = 45.0", "humidity = 45,5", "write 45.5"),
        ("grid = 0.12", "grid = 0,12", "write 0.12"),
        ("level = -3.0", "level = -3,5", "write -3.5"),
    ],
)
def test_decimal_comma(old, new, write):
    (told,) = problems((old, new))
    assert "decimal point, not a comma" in told and told.endswith(write)


def test_decimal_commas_in_a_list_and_lines_with_other_faults():
    (told,) = problems(("at = [5.0, 1.6, 1.1]", "at = [5,0, 1,6, 1,1]"))
    assert "decimal point" in told
    (told,) = problems(('title = "Test room"', 'title = "a" x = "1,5"'))
    assert "decimal" not in told


def test_overlapping_cabinets_name_both_and_the_overlap():
    other = '[[absorbers]]\nname = "second unit"\ndevice = "membrane"\n' + CABINET.replace(
        "0.1, 4.6, 0.0", "0.3, 4.5, 0.5"
    )
    told = problems(("[devices.membrane]", other + "\n\n[devices.membrane]"), ("gain = 0.8", "gain = 0.7"))
    assert len(told) == 1
    assert '[[absorbers]] "second unit", key "cabinet": found [0.3, 4.5, 0.5] to [0.7, 5, 1.2]' in told[0]
    assert 'overlaps the cabinet of "corner unit" by 0.2 m along x and 0.4 m along y and 0.2 m along z' in told[0]
    touching = other.replace("[0.3, 4.5, 0.5]", "[0.1, 4.6, 0.7]")
    read_scene_text(edited(("[devices.membrane]", touching + "\n\n[devices.membrane]")))


def test_what_covers_a_face_is_named():
    shelf = '[[blocks]]\nname = "shelf"\nfrom = [0.1, 4.0, 0.0]\nto = [0.3, 4.6, 0.7]\n'
    (warning,) = read_scene_text(edited(("[[sheets]]", shelf + "\n[[sheets]]"))).warnings
    assert 'found a cabinet facing "-y"; that face is partly covered by "shelf"' in warning


COVERED = '[[patches]]\nname = "mat"\non = "floor"\nfrom = [0.1, 4.0]\nto = [0.5, 5.0]\nmaterial = "rigid"\n\n'
"""A mat that the cabinet of the corner unit partly covers, where a variant holds that unit."""


@pytest.mark.parametrize(
    ("holding", "lacking", "told"), [(3, 0, "(in 4 of 5 variants)"), (0, 3, '(in variant "fitted")')]
)
def test_variants_are_named_if_few_and_counted_if_many(holding, lacking, told):
    more = "".join(f'[[variants]]\nname = "v{n}"\n' for n in range(holding))
    more += "".join(f'[[variants]]\nname = "w{n}"\nwithout = ["corner unit"]\n' for n in range(lacking))
    (warning,) = read_scene_text(edited(("[[patches]]", COVERED + "[[patches]]"), ("[run]", more + "\n[run]"))).warnings
    assert 'partly covered by "corner unit cabinet"' in warning and warning.endswith(told)


def test_no_variants_are_named_where_all_that_hold_the_thing_agree():
    """The opening is larger than the device's face wherever the absorber is: in one variant of two."""
    warnings = read_scene_text(edited((DEVICE, driver("diaphragm_area", "0.014")))).warnings
    assert len(warnings) == 2 and not any("variant" in w for w in warnings), warnings


def test_a_changed_device_does_not_repeat_a_warning_in_other_words():
    plate = driver("diaphragm_area", "0.014")
    changed = edited(
        (DEVICE, plate),
        ('without = ["flat unit", "corner unit", "screen"]', 'set = { "corner unit" = { moving_mass = 0.02 } }'),
    )
    warnings = read_scene_text(changed).warnings
    assert len(warnings) == len(set(w.split(", ")[1] for w in warnings)), warnings
    assert not any("variant" in w for w in warnings)


@pytest.mark.parametrize(("delay", "told"), [("0.003", True), ("0.049", True), ("0.05", False), ("0", False)])
def test_a_delay_in_seconds(delay, told):
    warnings = read_scene_text(edited(("delay = 2.5", f"delay = {delay}"))).warnings
    assert len(warnings) == told
    if delay == "0.003":
        assert "delays are in ms" in warnings[0] and warnings[0].endswith("write 3")
