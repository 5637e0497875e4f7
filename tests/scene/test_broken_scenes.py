"""Deliberately broken scenes: every one is refused with its line, what was found and what would be right."""

from __future__ import annotations

import pytest

from fdtd.errors import SceneError
from fdtd.scene.read import read_scene, read_scene_text

from .sample import TEXT, edited, line_of

DOOR, SEAT, HEIGHT = "to = [2.8, 2.1]", "at = [5.0, 1.6, 1.1]", "height = 2.5"

# (what is wrong, old text, new text, text on the line that must be named, words that must be in the message)
CASES = [
    ("unknown key", HEIGHT, "heigth = 2.5", "heigth", ["[room]", 'did you mean "height"']),
    ("unknown table", "[run]", "[runs]", "[runs]", ["did you mean [run] ("]),
    ("far key", SEAT, SEAT + "\nzzz = 1", "zzz", ["known keys", '"at"']),
    ("version", "scene = 1", "scene = 2", "scene = 2", ["found 2", "scene = 1"]),
    ("version missing", "scene = 1", "", "# a test room", ['"scene" is missing']),
    ("text for number", "temperature = 21.0", 'temperature = "21,5"', "temperature", ['"21,5"', "decimal point"]),
    ("bool for number", "humidity = 45.0", "humidity = true", "humidity", ["found true", "a number"]),
    ("humidity", "humidity = 45.0", "humidity = 145", "humidity", ["found 145", "from 0 to 100 %"]),
    ("not finite", "temperature = 21.0", "temperature = nan", "temperature", ["found nan", "finite"]),
    ("half an air", "humidity = 45.0", "density = 1.2", "density", ["1.2 alone", '"speed_of_sound"']),
    ("two corners", "    [6.0, 3.1],\n    [4.0, 3.1],\n    [4.0, 5.2],\n    [0, 5.2],\n", "", "plan = [", ["from 3"]),
    ("corner of three", "[4.0, 3.1],", "[4.0, 3.1, 0],", "[4.0, 3.1, 0]", ["[4.0, 3.1, 0]", "2 numbers"]),
    ("repeated corner", "    [0, 5.2],", "    [0, 5.2],\n    [0, 0],", "    [0, 0],\n]", ["corner 1", "leave it out"]),
    ("self-crossing", "[4.0, 5.2],\n    [0, 5.2]", "[0, 5.2],\n    [4.0, 5.2]", "plan", ["wall 4 and wall 6", "order"]),
    ("spike", "    [4.0, 3.1],", "    [6.0, 1.0],", "[6.0, 3.1]", ["straight back", "leave that corner out"]),
    ("no height", HEIGHT, "", "[room]", ['"height" is missing']),
    ("zero height", HEIGHT, "height = 0", "height", ["found 0", "from 0.001"]),
    ("height and ceiling", HEIGHT, HEIGHT + "\nceiling = [[[0,0,2],[1,0,2],[0,1,3]]]", "ceiling = [[[", ["keep one"]),
    ("plane on a line", HEIGHT, "ceiling = [[[0,0,2],[1,1,2],[2,2,3]]]", "ceiling = [[[", ["on one line"]),
    ("ceiling below", HEIGHT, "ceiling = [[[0,0,-2],[1,0,-2],[0,1,-2]]]", "ceiling = [[[", ["nowhere above"]),
    ("no floor", 'floor = "boards"', "", "[surfaces]", ['"floor" is missing']),
    ("walls missing", 'walls = "plaster"', "", "[surfaces]", ['"wall 1" is missing']),
    ("wall 7", '"wall 2" = "rigid"', '"wall 7" = "rigid"', '"wall 7"', ["6 walls", '"wall 1" to "wall 6"']),
    ("surface name", "ceiling = ", "cieling = ", "cieling", ['did you mean "ceiling"']),
    ("no such material", 'walls = "plaster"', 'walls = "plastr"', "plastr", ['did you mean "plaster"', "library"]),
    ("redefined rigid", "[materials.plaster]", "[materials.rigid]", "[materials.rigid]", ["built in"]),
    ("two forms", "source =", "admittance_ratio = 0.1\nsource =", "admittance_ratio = 0.1", ["both", "keep one"]),
    ("no form", "admittance_ratio = 0.002", "", "[materials.plaster]", ["found none of", '"branches"', '"kind"']),
    ("negative ratio", "admittance_ratio = 0.002", "admittance_ratio = -0.1", "= -0.1", ["found -0.1", "from 0"]),
    ("absorption", "admittance_ratio = 0.002", "absorption = { 63 = 20 }", "absorption", ["found 20", "0 to 1.5"]),
    ("build-up", "admittance_ratio = 0.002", 'kind = "plate"', "[materials.plaster]", ['"mass" is missing', "kg/m²"]),
    (
        "branch key",
        "{ resistance = 9e4 }",
        "{ resistence = 9e4 }",
        "resistence",
        ['did you mean "resistance"', "item 2"],
    ),
    ("branch sign", "{ resistance = 9e4 }", "{ resistance = -9e4 }", "-9e4", ["-90000", "Pa·s/m", "from 0"]),
    ("empty branch", "{ resistance = 9e4 }", "{ mass = 0 }", "mass = 0 }", ["above zero", "rigid"]),
    ("outside the wall", DOOR, "to = [9.0, 2.1]", "to = [9.0", ["wall 2 is 3.1 m long", "first number", "at most 3.1"]),
    ("too high", DOOR, "to = [2.8, 2.7]", "to = [2.8, 2.7]", ["2.5 m high", "second number must be at most 2.5"]),
    ("below", "from = [1.0, 0.0]", "from = [1.0, -0.1]", "-0.1", ["second number must be at least 0"]),
    ("empty patch", DOOR, "to = [1.0, 2.1]", "to = [1.0, 2.1]", ["opposite corners"]),
    ("no such surface", 'on = "wall 2"', 'on = "wall9"', "wall9", ["no such surface", '"wall 1" to "wall 6"']),
    ("no such block", 'on = "block cupboard -x"', 'on = "block cubboard -x"', "cubboard", ['did you mean "cupboard"']),
    ("off the block", "to = [0.8, 1.8]", "to = [1.8, 1.8]", "to = [1.8, 1.8]", ["from 0 to 0.9 m in y", "at most 0.9"]),
    ("rug in the notch", "to = [3.0, 2.0]", "to = [5.0, 4.0]", "to = [5.0, 4.0]", ["outside the plan", "m²"]),
    (
        "patch material",
        'to = [2.8, 2.1]\nmaterial = "lining"',
        'to = [2.8, 2.1]\nmaterial = "linen"',
        '"linen"',
        ["lining"],
    ),
    ("flat block", "to = [6.0, 0.9, 2.0]", "to = [6.0, 0.9, 0.0]", "0.9, 0.0]", ["same z", "sheets"]),
    (
        "block outside",
        "from = [5.2, 0.0, 0.0]\nto = [6.0, 0.9, 2.0]",
        "from = [7, 7, 0]\nto = [8, 8, 1]",
        "to = [8, 8, 1]",
        ["outside the room"],
    ),
    (
        "thick sheet",
        "to = [4.0, 3.1, 2.0]",
        "to = [4.2, 3.1, 2.0]",
        "to = [4.2",
        ["no number in common", "exactly one"],
    ),
    ("sheet outside", "to = [4.0, 3.1, 2.0]", "to = [4.0, 6.1, 2.0]", "to = [4.0, 6.1", ["from 0 to 5.2 m in y"]),
    (
        "sheet on the wall",
        "from = [4.0, 0.0, 0.0]\nto = [4.0, 3.1, 2.0]\nopenings = [\n    { from = [0.8, 0.0], to = [1.7, 2.0] },\n]",
        "from = [0, 0.0, 0.0]\nto = [0, 3.1, 2.0]",
        "to = [0, 3.1, 2.0]",
        ["does not pass through the air"],
    ),
    ("opening", "to = [1.7, 2.0] }", "to = [1.7, 2.3] }", "to = [1.7, 2.3]", ["0 to 2 m in z", "item 1"]),
    ("open fraction", "open_fraction = 0.3", "open_fraction = 30", "open_fraction", ["found 30", "from 0 to 1"]),
    ("panel mass", "panel = { mass = 11.0,", "panel = { mass = 0.0,", "panel", ["more than 0"]),
    ("porosity", "porosity = 0.95", "porosity = 0", "porosity", ["0.01 to 1"]),
    ("fill outside", "to = [5.6, 2.8, 0.8]", "to = [7.6, 2.8, 0.8]", "to = [7.6", ["from 0 to 6 m in x"]),
    ("seat outside", SEAT, "at = [5.0, 4.0, 1.1]", "at = [5.0, 4.0", ["outside the plan", "nearest", "[5, 3.1]"]),
    ("seat too high", SEAT, "at = [5.0, 1.6, 3.1]", "at = [5.0, 1.6, 3.1]", ["above the ceiling", "at most 2.5"]),
    ("seat in the floor", SEAT, "at = [5.0, 1.6, -1.1]", "at = [5.0, 1.6, -1.1]", ["below the floor"]),
    ("seat in a block", SEAT, "at = [5.5, 0.5, 1.1]", "at = [5.5, 0.5, 1.1]", ['inside "cupboard"', "[6, 0.9, 2]"]),
    ("seat in a sheet", SEAT, "at = [4.0, 2.5, 1.1]", "at = [4.0, 2.5, 1.1]", ['"screen"', "one side of x = 4"]),
    ("source polarity", "polarity = -1", "polarity = 0", "polarity", ["found 0", "1 or -1"]),
    ("source delay", "delay = 2.5", "delay = -2.5", "delay", ["from 0 to 1000 ms"]),
    ("rolloff", "level = -3.0", 'rolloff = { kind = "closed" }', "rolloff", ['"frequency" is missing', "Hz"]),
    ("rolloff no table", "level = -3.0", "rolloff = 35", "rolloff", ["found 35", "a table in braces is needed"]),
    (
        "rolloff kind",
        "level = -3.0",
        'rolloff = { kind = "ported", frequency = 35 }',
        "rolloff",
        ['"ported"', '"closed"', '"vented"'],
    ),
    (
        "rolloff key",
        "level = -3.0",
        'rolloff = { kind = "closed", frequncy = 35 }',
        "rolloff",
        ['did you mean "frequency"'],
    ),
    (
        "rolloff frequency",
        "level = -3.0",
        'rolloff = { kind = "closed", frequency = 0 }',
        "rolloff",
        ["found 0", "from 1 to 500 Hz"],
    ),
    (
        "closed q",
        "level = -3.0",
        'rolloff = { kind = "closed", frequency = 35, q = 0.16 }',
        "rolloff",
        ['"q"', "found 0.16", "from 0.2 to 5", "0.707"],
    ),
    (
        "vented q",
        "level = -3.0",
        'rolloff = { kind = "vented", frequency = 35, q = 0.7 }',
        "rolloff",
        ['"q"', "found 0.7", "from 0.15 to 0.6", "0.383"],
    ),
    (
        "lowpass order",
        "level = -3.0",
        "lowpass = { frequency = 80, order = 3 }",
        "lowpass",
        ['key "order"', "order 3", "2, 4 or 8", '"butterworth" has 1 to 8'],
    ),
    (
        "lowpass order too high",
        "level = -3.0",
        'lowpass = { kind = "butterworth", frequency = 80, order = 12 }',
        "lowpass",
        ["found 12", "from 1 to 8"],
    ),
    (
        "lowpass kind",
        "level = -3.0",
        'lowpass = { kind = "linkwitz", frequency = 80 }',
        "lowpass",
        ['did you mean "linkwitz-riley"'],
    ),
    ("highpass without frequency", "level = -3.0", "highpass = { order = 4 }", "highpass", ['"frequency" is missing']),
    ("highpass in kHz", "level = -3.0", 'highpass = { frequency = "0.08 kHz" }', "highpass", ["a number is needed"]),
    ("name twice", 'name = "desk"', 'name = "left"', 'name = "left"\nat = [2.0', ["again", "[[sources]]", "another"]),
    ("reserved name", 'name = "rug"', 'name = "wall 3"', 'name = "wall 3"', ["reserved"]),
    ("empty name", 'name = "rug"', 'name = " "', 'name = " "', ["must not be empty"]),
    ("no name", 'name = "rug"\n', "", '[[patches]]\non = "floor"', ['"name" is missing']),
    ("device missing", 'device = "membrane"\non', 'device = "membrain"\non', "membrain", ['did you mean "membrane"']),
    ("device kind", 'kind = "branches"', 'kind = "plate"', "branches = [{ mass = 0.6", ["no meaning here"]),
    ("device kind unknown", 'kind = "branches"', 'kind = "brunches"', "brunches", ["branches"]),
    ("motion", 'motion = "diaphragm"', 'motion = "diafragm"', "diafragm", ['did you mean "diaphragm"']),
    ("absorber unplaced", 'on = "wall 6"\n', "", "[[absorbers]]", ['"on" is missing', "cabinet"]),
    ("absorber twice placed", "cabinet = {", 'on = "floor"\ncabinet = {', 'on = "floor"\ncabinet', ["keep one"]),
    ("cabinet opening", "opening = [0.2, 0.3]", "opening = [0.5, 0.3]", "cabinet = {", ["0.4 m wide", "at most 0.4"]),
    ("cabinet outside", "at = [0.1, 4.6, 0.0]", "at = [0.1, 4.8, 0.0]", "cabinet = {", ["outside the plan"]),
    ("cabinet facing", 'facing = "-y"', 'facing = "up"', "cabinet = {", ['"up"', '"+x"']),
    ("cabinet key", "facing =", "facin =", "cabinet = {", ["cabinet", 'did you mean "facing"']),
    ("cabinet key missing", 'facing = "-y", ', "", "cabinet = {", ['"facing" is missing', '"+x"']),
    ("cabinet at the wall", 'facing = "-y"', 'facing = "+y"', None, None),
    ("gain", "gain = 0.8", "gain = 1.8", "set = {", ['set "corner unit"', '"gain"', "from 0 to 1"]),
    (
        "set unknown thing",
        '"corner unit" = { gain',
        '"corner unti" = { gain',
        "set = {",
        ['did you mean "corner unit"'],
    ),
    ("set unknown key", "{ gain = 0.8", "{ gian = 0.8", "set = {", ['did you mean "gain"']),
    ("set a name", "{ gain = 0.8", '{ name = "x"', "set = {", ["can't rename"]),
    ("set a device", '"corner unit" = { gain = 0.8', '"membrane" = { gain = 0.8', "set = {", ["device", '"flat unit"']),
    ("without unknown", 'without = ["flat unit"', 'without = ["flat unti"', "without", ['did you mean "flat unit"']),
    ("without a seat", 'without = ["flat unit"', 'without = ["desk"', "without", ["same seats"]),
    (
        "without all sources",
        'without = ["flat unit"',
        'without = ["left", "right"',
        "without",
        ["no source would be left"],
    ),
    ("without a surface", 'without = ["flat unit"', 'without = ["floor"', "without", ["no such thing"]),
    (
        "without its block",
        'without = ["flat unit"',
        'without = ["cupboard"',
        'on = "block cupboard',
        ["no block", 'in variant "bare"'],
    ),
    ("variant name twice", 'name = "fitted"', 'name = "bare"', 'name = "bare"\nset', ["again"]),
    ("variant name with slash", 'name = "fitted"', 'name = "a/b"', 'name = "a/b"', ['no "/"']),
    ("spots", "[run]", "[spots]\ncount = 2\n[run]", "[spots]", ['"device" is missing', '"membrane"']),
    ("frequency", "max_frequency = 160.0", "max_frequency = 700", "max_frequency", ["from 30 to 500 Hz"]),
    ("coarse grid", "grid = 0.12", "grid = 0.5", "grid", ["0.5 m for 160 Hz", "at most 0.43 m", "137 Hz"]),
    ("duration", "duration = 1.5", "duration = 0", "duration", ["from 0.05 to 60 s"]),
    ("single brackets", "[[fills]]", "[fills]", "[fills]", ["[[fills]]", "two brackets"]),
    ("double brackets", "[air]", "[[air]]", "[[air]]", ["write [air]"]),
    ("many in double brackets", "[devices.membrane]", "[[devices]]", "[[devices]]", ["write [devices.NAME]"]),
    ("seat far away", SEAT, "at = [5000, 1.6, 1.1]", "at = [5000", ["outside the plan", "from 0 to 6 m in x"]),
    ("far away", "to = [6.0, 0.9, 2.0]", "to = [5000, 0.9, 2.0]", "to = [5000", ["at most 100;"]),
    (
        "absorbers overlap",
        "cabinet = {",
        'on = "wall 6"\nfrom = [4.4, 0.4]\nto = [4.8, 0.7]\ngain = 1.0\n#',
        "to = [4.8",
        ["0.06 m²", '"flat unit"'],
    ),
    (
        "absorber behind the cupboard",
        'on = "wall 6"\nfrom = [4.3, 0.3]\nto = [4.7, 0.6]',
        'on = "wall 2"\nfrom = [0.2, 0.3]\nto = [0.7, 0.6]',
        'on = "wall 2"\nfrom = [0.2',
        ["no air in front"],
    ),
]


@pytest.mark.parametrize(("old", "new", "place", "words"), [c[1:] for c in CASES], ids=[c[0] for c in CASES])
def test_refused_with_line_and_remedy(old, new, place, words):
    text = edited((old, new))
    if words is None:  # legal, kept beside the broken ones for contrast
        read_scene_text(text)
        return
    with pytest.raises(SceneError) as caught:
        read_scene_text(text, "room/living.toml")
    line = line_of(text, place)
    hits = [
        p for p in caught.value.problems if p.startswith(f"living.toml, line {line}") and all(w in p for w in words)
    ]
    assert hits, f"wanted line {line} and {words}, got:\n" + "\n".join(caught.value.problems)
    assert all("\n" not in p for p in caught.value.problems)


def test_there_are_enough_cases():
    assert len(CASES) >= 60


def test_no_case_reports_a_flood():
    """One slip gives one or two messages, not a cascade (a slip in the plan or a name may touch more)."""
    for name, old, new, _, words in CASES:
        if words is not None:
            with pytest.raises(SceneError) as caught:
                read_scene_text(edited((old, new)))
            assert len(caught.value.problems) <= 4, (name, caught.value.problems)


def test_example_message_in_full():
    with pytest.raises(SceneError) as caught:
        read_scene_text(edited((DOOR, "to = [9.0, 2.1]")), "living.toml")
    line = line_of(edited((DOOR, "to = [9.0, 2.1]")), "to = [9.0")
    assert str(caught.value) == (
        f'living.toml, line {line}, [[patches]] "patio door", key "to": found [9.0, 2.1]; '
        "wall 2 is 3.1 m long, so the first number must be at most 3.1"
    )


def test_all_mistakes_at_once_in_order_of_lines():
    edits = [
        (HEIGHT, "heigth = 2.5"),
        (DOOR, "to = 5"),
        (SEAT, 'at = "sofa"'),
        ("grid = 0.12", "grid = 7"),
        ('walls = "plaster"', 'walls = "plastr"'),
        ("gain = 0.8", "gain = 2"),
    ]
    text = edited(*edits)
    with pytest.raises(SceneError) as caught:
        read_scene_text(text)
    lines = [int(p.split("line ")[1].split(",")[0]) for p in caught.value.problems]
    assert lines == sorted(lines)
    for part in ("heigth", "to = 5", 'at = "sofa"', "grid = 7", "plastr", "gain = 2"):
        assert line_of(text, part) in lines, part


def test_every_faulty_item_of_a_list_is_said():
    text = edited(
        ("{ mass = 9.5, resistance = 850.0", "{ mass = -1, resistance = -2"), ("{ resistance = 9e4 }", "{ mas = 1 }")
    )
    with pytest.raises(SceneError) as caught:
        read_scene_text(text)
    assert len(caught.value.problems) == 3


def test_the_same_mistake_in_all_variants_is_said_once():
    with pytest.raises(SceneError) as caught:
        read_scene_text(edited((SEAT, "at = [5.0, 4.0, 1.1]")))
    assert len(caught.value.problems) == 1
    assert "in variant" not in caught.value.problems[0]


@pytest.mark.parametrize(
    ("old", "new", "place", "words"),
    [
        ("title = ", "title ", 'title "', ["an equals sign is missing"]),
        ('title = "Test room"', "title = Test room", "title", ["text stands in quotes"]),
        ("humidity = 45.0", "humidity = 45,0", "humidity", ["decimal point"]),
        ("humidity = 45.0", "temperature = 3", "temperature = 3", ["given twice"]),
        ("grid = 0.12", "grid = " + "9" * 5000, None, ["too many digits"]),
    ],
)
def test_toml_mistakes(old, new, place, words):
    text = edited((old, new))
    with pytest.raises(SceneError) as caught:
        read_scene_text(text, "living.toml")
    (problem,) = caught.value.problems
    assert all(w in problem for w in words), problem
    assert place is None or f"line {line_of(text, place)}" in problem


def test_huge_hexadecimal_number_is_shown_without_its_digits():
    with pytest.raises(SceneError, match="more than 30 digits"):
        read_scene_text(edited(("grid = 0.12", "grid = 0x" + "F" * 9000)))


def test_deep_nesting():
    with pytest.raises(SceneError):
        read_scene_text("scene = 1\nx = " + "[" * 20000 + "]" * 20000)


@pytest.mark.parametrize(
    "text", ["", "\n", "scene = 1", "[room]", "\ufeff" + "scene = 1", "\x00", "[[room]]\n[[surfaces]]"]
)
def test_little_or_nothing(text):
    with pytest.raises(SceneError):
        read_scene_text(text)


def test_files_that_cannot_be_read(tmp_path):
    binary, large = tmp_path / "binary.toml", tmp_path / "large.toml"
    binary.write_bytes(b'scene = 1\ntitle = "\xff\xfe"\n')
    large.write_bytes(b"#" * 1_000_002)
    for path, words in [
        (tmp_path / "none.toml", "no such file"),
        (tmp_path, "folder"),
        (binary, "line 2: not UTF-8"),
        (large, "larger than 1000 kB"),
        ("nul\0byte.toml", "can't be read"),
        ("x" * 5000, "can't be read"),
        ("", "folder"),
    ]:
        with pytest.raises(SceneError, match=words):
            read_scene(path)


def test_the_sample_itself_is_right():
    assert read_scene_text(TEXT).warnings == ()
