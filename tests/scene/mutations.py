"""Seeded mutations of valid scenes, each read and checked: what came of them, with limits on time and memory.

    python -m scene.mutations SEED COUNT [commands]     (in tests/)

With `commands` some good ones are also drawn, and simulated on coarse cells, by the command line. Prints what came of
the scenes as JSON and keeps those that ended badly.
"""

from __future__ import annotations

import json
import os
import random
import re
import resource
import signal
import sys
import tempfile
import traceback
import warnings
from collections import Counter
from collections.abc import Callable
from pathlib import Path

from . import every_key

LONGEST = 10.0
"""s of processor time that a scene may take."""
MEMORY = 30e6
"""Bytes that the machine is said to have: rooms of a hundred thousand cells are refused, for their time's sake."""
DRAWN, SIMULATED = 20, 25
"""Of so many accepted scenes one also goes through the command line's check; through modes and a simulation."""

EXTREME = [
    "0",
    "-1",
    "-0.0",
    "1e-300",
    "1e-9",
    "1e-3",
    "0.5",
    "3",
    "42",
    "1e3",
    "1e6",
    "1e9",
    "1e300",
    "1e400",
    "nan",
    "inf",
    "-inf",
    "5e-324",
    "1" + "0" * 400,
    "1" + "0" * 5000,
    "1_000",
    "0x10",
    "1,5",
    "1.",
    "007",
    "1e",
]
TYPES = [
    '"text"',
    "true",
    "[]",
    "{}",
    "[1]",
    "[[1, 2], [3, 4]]",
    "{ a = 1 }",
    "1979-05-27",
    "07:32:00",
    '""',
    "1.5",
    "[[0, 0], [1, 0], [1, 1]]",
    '["a"]',
    "",
    "nothing",
    "'it'",
]
STRANGE = ["ä", "漢字", "𝄞", "µ", "“", "’", "–", "\x00", "\x01", "\x1b[31m", "\x7f", "\r", "\x85", "\u200b", "\u202e"]
LONG = [
    "x" * 100_000 + " = 1",
    ".".join("a" * 50_000) + " = 1",
    'title = "' + "x" * 100_000 + '"',
    "#" * 100_000,
    "a = [" + "1, " * 30_000 + "]",
    "a = " + "[" * 5_000 + "]" * 5_000,
    "[" + ".".join("a" * 50_000) + "]",
    "\n".join(f"k{k} = 1" for k in range(20_000)),
    "\n".join(f"[materials.m{k}]" for k in range(3_000)),
    "[[seats]]\n" * 20_000,
    "a = " + '"' * 50_000,
    "a = " + "{a=" * 500 + "1" + "}" * 500,
]


def _scenes() -> list[str]:
    """The scene with every key and the shipped ones, on coarse cells."""
    shipped = sorted((Path(__file__).parents[2] / "scenes").glob("*.toml"))
    texts = [every_key.TEXT, *(path.read_text(encoding="utf-8") for path in shipped)]
    texts = [re.sub(r"(?m)^grid = .*\n", "", text) for text in texts]
    texts = [text if "[run]\n" in text else f"{text}\n[run]\n" for text in texts]
    return [text.replace("[run]\n", "[run]\ngrid = 0.34\n") for text in texts]


def _characters(text: str, dice: random.Random) -> str:
    for _ in range(dice.choice([1, 1, 2, 5])):
        at, length = dice.randrange(len(text)), dice.choice([1, 1, 1, 4, 30])
        part, rest = text[at : at + length], text[at + length :]
        text = text[:at] + dice.choice(["", part + part, part[::-1]]) + rest
    return text


def _lines(text: str, dice: random.Random) -> str:
    lines = text.split("\n")
    for _ in range(dice.choice([1, 1, 2, 4])):
        line = lines.pop(dice.randrange(len(lines)))
        for _ in range(dice.choice([0, 1, 2])):
            lines.insert(dice.randrange(len(lines)), line)
    return "\n".join(lines)


def _replaced(pattern: str, choices: list[str] | None) -> Callable[[str, random.Random], str]:
    """One or two places of a pattern replaced by one of `choices`, or by what another place has."""

    def mutate(text: str, dice: random.Random) -> str:
        for _ in range(dice.choice([1, 1, 2])):
            found = list(re.finditer(pattern, text))
            place = dice.choice(found)
            other = dice.choice(choices) if choices is not None else dice.choice(found).group()
            text = text[: place.start()] + other + text[place.end() :]
        return text

    return mutate


def _inserted(parts: list[str], lines: bool) -> Callable[[str, random.Random], str]:
    def mutate(text: str, dice: random.Random) -> str:
        at = dice.choice([m.end() for m in re.finditer("\n", text)]) if lines else dice.randrange(len(text))
        return text[:at] + dice.choice(parts) + ("\n" if lines else "") + text[at:]

    return mutate


_NUMBER, _KEY, _VALUE = r"(?<![\w\"#.])-?\d[\d.e]*", r"(?m)^\w+(?= = )", r"(?m)(?<= = ).*$"
MUTATIONS: dict[str, Callable[[str, random.Random], str]] = {
    "characters deleted, doubled, turned round": _characters,
    "lines moved, deleted, doubled": _lines,
    "numbers made extreme": _replaced(_NUMBER, EXTREME),
    "numbers swapped": _replaced(_NUMBER, None),
    "keys renamed": _replaced(_KEY, None),
    "types changed": _replaced(_VALUE, TYPES),
    "values swapped": _replaced(_VALUE, None),
    "brackets and quotes lost": _replaced(r"[\[\]{}\"=,.]", ["", "", '"', "[", "{"]),
    "names swapped": _replaced(r"\"[^\"\n]*\"", None),
    "strange characters": _inserted(STRANGE, lines=False),
    "long lines": _inserted(LONG, lines=True),
}


def mutants(seed: int, count: int) -> list[tuple[str, bytes]]:
    """(kind, file) of `count` mutated scenes; now and then one of them is not UTF-8."""
    dice, scenes, made = random.Random(seed), _scenes(), []
    for number in range(count):
        kind = list(MUTATIONS)[number % len(MUTATIONS)]
        text = MUTATIONS[kind](dice.choice(scenes), dice)
        if dice.random() < 0.2:
            text = MUTATIONS[dice.choice(list(MUTATIONS))](text or "\n", dice)
        made.append((kind, text.encode("utf-16" if dice.random() < 0.01 else "utf-8")))
    return made


class TooSlow(BaseException):
    """A scene has taken too long; no handler of errors may catch it."""


def _look(path: Path) -> str:
    """Read and check one scene: 'refused' or 'accepted'."""
    from fdtd import workflow
    from fdtd.errors import FdtdError
    from fdtd.scene.read import read_scene

    try:
        workflow.check(read_scene(path))
    except FdtdError as error:
        assert str(error) and len(str(error)) < 200_000
        return "refused"
    return "accepted"


def _command_line(path: Path, number: int, tell: Counter[str]) -> None:
    """The accepted scene of that `number` by the command line, if it is one of the few."""
    out, coarse = ["--out", str(path.parent / "out")], ["--grid", "0.5"]
    if number % DRAWN == 0:
        tell["drawn"] += _command("check", str(path), *out)
    if number % SIMULATED == 1:
        tell["modes"] += _command("modes", str(path), *out, *coarse, "--count", "5")
        tell["run"] += _command("run", str(path), *out, *coarse, "--duration", "0.1", "--no-figures")


def _command(*words: str) -> int:
    """1 if the command ended well or refused; what else it raised is raised again."""
    from typer.testing import CliRunner

    from fdtd.cli.app import app
    from fdtd.errors import FdtdError

    error = CliRunner().invoke(app, list(words)).exception
    if error is not None and not isinstance(error, FdtdError):
        raise error
    return 1


def look(seed: int, count: int, commands: bool) -> dict[str, object]:
    """What came of `count` mutated scenes: numbers by outcome, the bad ones, memory in bytes."""
    import fdtd.model.size

    fdtd.model.size.machine_memory = lambda: MEMORY
    told: Counter[str] = Counter()
    bad: list[str] = []

    def stop(*_: object) -> None:
        raise TooSlow

    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "scene.toml"
        path.write_text(_scenes()[0], encoding="utf-8")
        assert _look(path) == "accepted"
        if commands:
            _command_line(path, 1, Counter())  # compiles what is not compiled yet
        warnings.simplefilter("error")
        signal.signal(signal.SIGPROF, stop)
        for number, (kind, data) in enumerate(mutants(seed, count)):
            path.write_bytes(data)
            signal.setitimer(signal.ITIMER_PROF, LONGEST)
            try:
                outcome = _look(path)
                if commands and outcome == "accepted":
                    _command_line(path, told[outcome], told)
            except TooSlow:
                outcome = "too slow"
            except Warning:
                outcome = "warning"
            except Exception:
                outcome = "traceback"
            finally:
                signal.setitimer(signal.ITIMER_PROF, 0.0)
            if outcome not in ("refused", "accepted"):
                kept = Path(tempfile.mkdtemp(prefix="mutated-")) / f"scene-{seed}-{number}.toml"
                kept.write_bytes(data)
                bad.append(f"{kept}, {kind}: {outcome}")
                traceback.print_exc()
            told[outcome] += 1
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * (1 if sys.platform == "darwin" else 1024)
    return {**told, "bad": bad, "bytes": peak}


if __name__ == "__main__":
    os.environ["MPLBACKEND"] = "agg"
    print(json.dumps(look(int(sys.argv[1]), int(sys.argv[2]), "commands" in sys.argv)))
