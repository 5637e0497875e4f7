"""Whatever is in the file, only a Scene or a SceneError comes out: seeded mutations of valid scenes."""

from __future__ import annotations

import math
import random
import re
from pathlib import Path

import pytest

from fdtd.errors import SceneError
from fdtd.scene.read import read_scene_text
from fdtd.scene.schema import Scene
from fdtd.scene.tables import DESIGN_FIELDS, MATERIAL_KINDS, REQUIRED

from .sample import TEXT

SCENES = [TEXT] + [p.read_text(encoding="utf-8") for p in sorted((Path(__file__).parents[2] / "scenes").glob("*.toml"))]
STRANGE = [
    "0",
    "-1",
    "1e308",
    "-1e-320",
    "nan",
    "inf",
    "-inf",
    "true",
    '""',
    '" "',
    '"wall 2"',
    '"floor"',
    '"block  +x"',
    "[]",
    "{}",
    "[[]]",
    "[1, 2]",
    "[1, 2, 3]",
    "[0, 0, 0]",
    '"name"',
    "1979-05-27",
    "07:32:00",
    '"\\u0000"',
    '"ä\\n"',
    "10_000",
    "99999999999999999999999999999999999999",
    "{ from = [0, 0], to = [1, 1] }",
    "[[0, 0], [1, 1], [2, 2]]",
    '["sofa"]',
    "[{ mass = 1 }]",
    "{ gain = 2 }",
    "{ a = { b = [1] } }",
    '"' + "x" * 300 + '"',
    "1e-12",
    "0.1",
    "6",
    "5.2",
    "2.5",
]


DEVICE = 'kind = "branches"\nbranches = [{ mass = 0.6, resistance = 60.0, stiffness = 29000.0 }]\nmotion = "diaphragm"'


def read(text: str) -> None:
    try:
        assert isinstance(read_scene_text(text), Scene)
    except SceneError as error:
        assert error.problems and all(p and "\n" not in p and len(p) < 1500 for p in error.problems)


def mutated(text: str, dice: random.Random) -> str:
    tokens = re.findall(r'"[^"\n]*"|[A-Za-z_]+|-?[0-9][0-9.e]*|\s+|.', text)
    for _ in range(dice.choice([1, 1, 1, 2, 4])):
        spot, action = dice.randrange(len(tokens)), dice.randrange(5)
        if action == 0:
            del tokens[spot : spot + dice.choice([1, 1, 3, 20])]
        elif action == 1:
            tokens[spot:spot] = tokens[spot : spot + dice.choice([1, 5, 60])]
        elif action == 2:
            tokens[spot] = dice.choice(tokens)
        else:
            values = [i for i, t in enumerate(tokens) if t[0] in '"-0123456789']
            tokens[dice.choice(values) if values else 0] = dice.choice(STRANGE)
        if not tokens:
            return ""
    return "".join(tokens)


@pytest.mark.parametrize("seed", [0, 1, 2, *(pytest.param(seed, marks=pytest.mark.slow) for seed in range(3, 12))])
def test_mutations_of_tokens(seed):
    dice = random.Random(seed)
    for _ in range(90):
        read(mutated(dice.choice(SCENES), dice))


@pytest.mark.parametrize("count", [4, pytest.param(len(STRANGE), marks=pytest.mark.slow)])
def test_every_value_of_the_sample_replaced_by_strange_ones(count):
    """Whole right-hand sides, one at a time: these stay valid TOML, so they reach every check."""
    dice = random.Random(1)
    sides = list(re.finditer(r"(?<= = )[^\n]+", TEXT))
    for side in sides:
        for strange in dice.sample(STRANGE, count):
            read(TEXT[: side.start()] + strange + TEXT[side.end() :])


@pytest.mark.parametrize("count", [2, pytest.param(len(STRANGE), marks=pytest.mark.slow)])
def test_every_number_of_the_sample_replaced_by_strange_ones(count):
    dice = random.Random(2)
    for number in re.finditer(r"-?\d[\d.e]*", TEXT):
        for strange in dice.sample(STRANGE, count):
            read(TEXT[: number.start()] + strange + TEXT[number.end() :])


def test_every_line_left_out_or_doubled():
    lines = TEXT.split("\n")
    for i in range(len(lines)):
        read("\n".join(lines[:i] + lines[i + 1 :]))
        read("\n".join(lines[: i + 1] + lines[i:]))


def drawn(field, dice: random.Random) -> str:
    """A value of `field` anywhere in its range, the ends among them, even over the logarithm where it is above zero."""
    if field.choices:
        return f'"{dice.choice(field.choices)}"'
    low, high = field.low, field.high
    between = math.exp(dice.uniform(math.log(max(low, 1e-4 * high)), math.log(high)))
    value = dice.choice([low, high, between, between, between, between])
    return str(round(value)) if field.form == "integer" else repr(float(value))


@pytest.mark.parametrize("kind", DESIGN_FIELDS)
def test_build_ups_anywhere_in_their_ranges(kind):
    """Whatever a person may give, fits and checks answer; nothing that is accepted gives out energy."""
    dice = random.Random(kind)
    old, head = ("admittance_ratio = 0.002", "plaster") if kind in MATERIAL_KINDS else (DEVICE, "membrane")
    for _ in range(8):
        fields = [f for f in DESIGN_FIELDS[kind] if f.default is REQUIRED or dice.random() < 0.4]
        text = TEXT.replace(old, "\n".join([f'kind = "{kind}"', *(f"{f.key} = {drawn(f, dice)}" for f in fields)]))
        try:
            scene = read_scene_text(text)
        except SceneError as error:
            assert all("numbers that don't go together" in p for p in error.problems), error.problems
            continue
        made = scene.material(head) if head == "plaster" else scene.variants[1].devices[0]
        assert made.design.kind == kind
        assert all(math.isfinite(b.mass + b.resistance + b.stiffness) for b in made.branches)
