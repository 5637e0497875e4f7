"""The questions of `fdtd new`, in order: wording, default for Enter, and parsing of the answer."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from fdtd.library.surfaces import names as surface_names
from fdtd.scene import first_answers as read
from fdtd.scene.first_scene import Answers


@dataclass(frozen=True)
class Question:
    """A question. key : name of its option; preset : what Enter stands for; only : shapes of which it is asked, () all
    take : text and the answers so far to a value, raising FdtdError; menu : what may be chosen
    told : a value in words, for a person to agree with, None where an answer can't be misunderstood
    """

    key: str
    prompt: str
    preset: str | Callable[[Mapping[str, Any]], str]
    take: Callable[[str, Mapping[str, Any]], Any]
    only: tuple[str, ...] = ()
    menu: Mapping[str, str] = field(default_factory=dict)
    shown: Callable[[Any], str] | None = None

    def asked(self, found: Mapping[str, Any]) -> bool:
        """Whether the question makes sense after the answers so far."""
        return not self.only or found.get("shape") in self.only

    def default(self, found: Mapping[str, Any]) -> str:
        """The default answer, taken on Enter."""
        return self.preset if isinstance(self.preset, str) else self.preset(found)

    def read(self, text: str, found: Mapping[str, Any]) -> Any:
        """The value of an answer; raises FdtdError that says what would be valid."""
        return self.take(text, found)

    def lines(self, found: Mapping[str, Any]) -> list[str]:
        """The question and its menu."""
        width = max((len(key) for key in self.menu), default=0)
        listed = [f"  {n}  {key.ljust(width)}  {prompt}" for n, (key, prompt) in enumerate(self.menu.items(), start=1)]
        return ["", self.prompt, *listed]


def _of_menu(menu: Mapping[str, str]) -> Callable[[str, Mapping[str, Any]], str]:
    return lambda text, found: read.choice(text, menu)


def _surface(menu: Mapping[str, str]) -> Callable[[str, Mapping[str, Any]], str]:
    return lambda text, found: read.choice(text, menu, surface_names())


def _half_notch(found: Mapping[str, Any]) -> str:
    a, b = found["size"]
    return f"{round(min(0.4 * a, a - read.NARROWEST), 2):g} x {round(min(0.4 * b, b - read.NARROWEST), 2):g}"


def _half_slope(found: Mapping[str, Any]) -> str:
    return f"{round(0.4 * found['height'], 2):g} x {round(0.6 * found['size'][1], 2):g}"


QUESTIONS = (
    Question("title", "What shall the scene be called?", "My room", lambda t, f: read.title(t)),
    Question("shape", "What does the room look like from above?", "rectangle", _of_menu(read.SHAPES), menu=read.SHAPES),
    Question(
        "size",
        "How long and how wide is it, in metres (an L: all of it)?",
        "5.0 x 4.0",
        lambda t, f: read.size(t),
        ("rectangle", "l-shape", "slope"),
    ),
    Question(
        "notch",
        "How long and how wide is the missing corner, in metres?",
        _half_notch,
        lambda t, f: read.notch(t, f["size"]),
        ("l-shape",),
    ),
    Question(
        "corners",
        "Where are the corners of the floor? x,y in metres, in order round the room.",
        "0,0 5,0 5,4 0,4",
        lambda t, f: _corners(t),
        ("corners",),
        shown=read.plan_text,
    ),
    Question(
        "height", "How high is it, in metres (under a slope: at its highest)?", "2.5", lambda t, f: read.height(t)
    ),
    Question(
        "slope",
        "How high is the low wall (along the length), and how far from it ends the slope, in metres?",
        _half_slope,
        lambda t, f: read.slope(t, f["size"][1], f["height"]),
        ("slope",),
    ),
    Question(
        "floor",
        "What is the floor made of? A number, or any name of 'fdtd surface --list'.",
        "timber floor on joists",
        _surface(read.FLOORS),
        menu=read.FLOORS,
    ),
    Question(
        "ceiling", "And the ceiling?", "plasterboard ceiling under joists", _surface(read.CEILINGS), menu=read.CEILINGS
    ),
    Question("walls", "And most of the walls?", "plastered masonry", _surface(read.WALLS), menu=read.WALLS),
    Question("loudspeakers", "What plays?", "two", _of_menu(read.LOUDSPEAKERS), menu=read.LOUDSPEAKERS),
    Question("seats", "How many seats?", "1", _of_menu(read.SEATS), menu=read.SEATS),
    Question("unit", "Which absorber would you like to try?", "panel", _of_menu(read.UNITS), menu=read.UNITS),
)
"""In the order in which they are asked; a question may use the answers before it."""


def _corners(text: str) -> Any:
    """Corners of a room large enough to sit in."""
    from fdtd.scene.first_scene import check_plan

    plan = read.corners(text)
    check_plan(plan)
    return plan


def answers_of(found: Mapping[str, Any]) -> Answers:
    """The answers to all questions in the form the scene writer expects."""
    shape = found["shape"]
    if shape == "corners":
        plan = found["corners"]
    elif shape == "l-shape":
        plan = read.l_plan(found["size"], found["notch"])
    else:
        plan = read.rectangle_plan(found["size"])
    return Answers(
        found["title"],
        plan,
        found["height"],
        found["floor"],
        found["ceiling"],
        found["walls"],
        found.get("slope"),
        found["loudspeakers"],
        int(found["seats"]),
        found["unit"],
    )
