"""The questions of `fdtd new`, as `questions.toml` states them, and how their answers are read."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from importlib.resources import files
from typing import Any

from fdtd.errors import FdtdError
from fdtd.library.surfaces import names as surface_names
from fdtd.new_scene import answers as read
from fdtd.new_scene.writing import Answers, check_plan

Found = Mapping[str, Any]
"""Key of a question -> value of its answer."""


def _corners(text: str) -> Any:
    """Corners of a room large enough to sit in."""
    plan = read.corners(text)
    check_plan(plan)
    return plan


_READERS: dict[str, Callable[[str, Found], Any]] = {
    "title": lambda text, found: read.title(text),
    "size": lambda text, found: read.size(text),
    "notch": lambda text, found: read.notch(text, found["size"]),
    "corners": lambda text, found: _corners(text),
    "height": lambda text, found: read.height(text),
    "slope": lambda text, found: read.slope(text, found["size"][1], found["height"]),
}
"""How answers that are no choice are read; they raise FdtdError that says what would be valid."""


@dataclass(frozen=True)
class Question:
    """A question; see `questions.toml`. key : name of its option"""

    key: str
    ask: str
    default: str = ""
    shapes: tuple[str, ...] = ()
    library: bool = False
    menu: Mapping[str, str] = field(default_factory=dict)

    def asked(self, found: Found) -> bool:
        """Whether the question makes sense after the answers so far."""
        return not self.shapes or found.get("shape") in self.shapes

    def preset(self, found: Found) -> str:
        """What Enter stands for."""
        if self.key == "notch":
            return " x ".join(f"{round(min(0.4 * side, side - read.NARROWEST), 2):g}" for side in found["size"])
        if self.key == "slope":
            return f"{round(0.4 * found['height'], 2):g} x {round(0.6 * found['size'][1], 2):g}"
        return self.default

    def read(self, text: str, found: Found) -> Any:
        """The value of an answer; raises FdtdError that says what would be valid."""
        if self.menu:
            return read.choice(text, self.menu, surface_names() if self.library else ())
        return _READERS[self.key](text, found)

    def lines(self) -> list[str]:
        """The question and its menu."""
        width = max((len(key) for key in self.menu), default=0)
        return ["", self.ask, *(f"  {n}  {k.ljust(width)}  {v}" for n, (k, v) in enumerate(self.menu.items(), start=1))]


def _load() -> tuple[Question, ...]:
    rows = tomllib.loads(files("fdtd.new_scene").joinpath("questions.toml").read_text(encoding="utf-8"))
    return tuple(Question(key, **row) for key, row in rows.items())


QUESTIONS = _load()
"""In the order in which they are asked; a question may use the answers before it."""


def with_shape(texts: Mapping[str, str]) -> dict[str, str]:
    """`texts` with the shape that one of them belongs to, if none is given."""
    implied = {"corners": "corners", "notch": "l-shape", "slope": "slope"}
    shape = next((shape for key, shape in implied.items() if key in texts), None)
    return {"shape": shape, **texts} if shape else dict(texts)


def read_answers(
    texts: Mapping[str, str], count: int = len(QUESTIONS), presets: bool = False
) -> tuple[dict[str, Any], list[str]]:
    """The values of the answers `texts` to the first `count` questions, and what is wrong with them.

    It ends at the first question without one (with `presets` none is), and at a wrong one by which others are judged.
    """
    found: dict[str, Any] = {}
    wrong: list[str] = []
    for question in QUESTIONS[:count]:
        key = question.key
        if not question.asked(found):
            if key in texts:
                wrong.append(f"--{key}: does not go with --shape {found['shape']}; leave it out.")
            continue
        text = texts.get(key, question.preset(found) if presets else None)
        if text is None:
            break
        try:
            found[key] = question.read(text, found)
        except FdtdError as error:
            wrong.append(f"--{key}: {sentence(error)}")
            if key in ("shape", "size", "height", "corners"):
                break
    return found, wrong


def sentence(error: FdtdError) -> str:
    """The text of an error, with a full stop."""
    text = str(error)
    return text if text.endswith((".", "?")) else f"{text}."


def answers_of(found: Found) -> Answers:
    """The answers to all questions in the form the scene writer expects."""
    if found["shape"] == "corners":
        plan = found["corners"]
    elif found["shape"] == "l-shape":
        plan = read.l_plan(found["size"], found["notch"])
    else:
        plan = read.rectangle_plan(found["size"])
    same: dict[str, Any] = {
        key: found.get(key) for key in ("title", "height", "floor", "ceiling", "walls", "slope", "unit")
    }
    return Answers(plan=plan, loudspeakers=found["loudspeakers"], seats=int(found["seats"]), **same)
