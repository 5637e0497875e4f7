"""Answers to the questions of `fdtd new`: text in, checked values out, or one AnswerError that helps."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence

from shapely.geometry import Polygon

from fdtd.errors import FdtdError
from fdtd.scene.lengths import LENGTH, metres_of, unit_on_each
from fdtd.scene.read import LONGEST_TITLE
from fdtd.scene.schema import Point2
from fdtd.scene.text import nearest, number, one_line, show

SIDE = (1.5, 20.0)
HEIGHT = (2.0, 8.0)
"""m: what a room may measure."""
NARROWEST = 1.0
"""m: the narrowest leg of an L."""
LOW_WALL = (0.3, 0.3)
"""m: the lowest wall under a slope, and how far from it the slope must reach at least."""


class AnswerError(FdtdError):
    """An answer that can't be taken; the message says what would be right."""


def title(text: str) -> str:
    """A title: anything that has a character to be seen, on one line."""
    text = one_line(text)
    if not text:
        raise AnswerError("a title needs at least one letter")
    if len(text) > LONGEST_TITLE:
        raise AnswerError(f"the title is {len(text)} characters long; at most {LONGEST_TITLE} are taken")
    return text


def lengths(text: str, meanings: Sequence[str], example: str) -> tuple[float, ...]:
    """As many numbers in m as there are `meanings`, such as from "5.2 x 4.1"; the unit m may stand behind each."""
    text = _in_metres(text)
    commas = _DECIMAL_COMMA.findall(text)
    needed = " and ".join(meanings)
    if commas and (len(commas) == len(meanings) or len(meanings) > 1):
        pointed = _DECIMAL_COMMA.sub(r"\1.\2", text.strip())
        raise AnswerError(
            f"found {show(text)}; numbers have a decimal point, not a comma: is it {pointed}? "
            f"Enter {needed} in metres, such as {example}"
        )
    entered = [w for w in re.split(r"[\s;,x×*]+", text.strip().lower()) if w not in ("", "m", "by")]
    values = [_number(word, example) for word in entered]
    if len(values) != len(meanings):
        raise AnswerError(f"found {show(text)}; enter {needed} in metres, such as {example}")
    return tuple(values)


_DECIMAL_COMMA = re.compile(r"(?<![\d.,])(\d+),(\d+)(?![\d.,])")
"""Two numbers with a comma and no space between them, or one with a decimal comma."""


def _in_metres(text: str, apart: str = ",") -> str:
    """`text` with its lengths in metres as plain numbers; AnswerError, with what they are in metres, for other units.

    apart : what stands for a comma, so that none is taken for a decimal comma
    """
    spread = unit_on_each(text.replace(",", apart))
    converted = " ".join(LENGTH.sub(lambda m: number(metres_of(m)), spread).split()).replace(apart, ",")
    if any(not m["unit"] or m["unit"].lower() in ("cm", "mm", "km") for m in LENGTH.finditer(text)):
        without = re.search("[1-9]", LENGTH.sub("", spread))
        sentence = "give each its unit, or only the last one for all of them" if without else f"that is {converted}"
        raise AnswerError(f"found {show(text)}; lengths are in metres: {sentence}")
    return converted


def _number(word: str, example: str) -> float:
    try:
        value = float(word.removesuffix("m"))
    except ValueError:
        value = math.nan
    if not math.isfinite(value) or "_" in word:
        raise AnswerError(f"found {show(word)}; enter numbers in metres, such as {example}")
    return value


def within(value: float, low: float, high: float, what: str) -> float:
    """`value` to the millimetre if it is from `low` to `high`, m."""
    value = round(value, 3)
    if low - 1e-9 <= value <= high + 1e-9:
        return value
    text = f"found {number(value)} m; {what} must be from {number(low)} to {number(high)} m"
    for unit, many in (("centimetres", 100.0), ("millimetres", 1000.0)):
        if value > high and low <= value / many <= high:
            text += f"; was this in {unit}? That would be {number(value / many)} m"
            break
    raise AnswerError(text)


def size(text: str) -> Point2:
    """Length and width of a rectangle, m."""
    a, b = lengths(text, ("length", "width"), "5.2 x 4.1")
    return within(a, *SIDE, "the length"), within(b, *SIDE, "the width")


def notch(text: str, room: Point2) -> Point2:
    """Length and width of the corner that an L of the size `room` (m) lacks, m."""
    a, b = lengths(text, ("length", "width"), "2.0 x 1.5")
    highest = [round(side - NARROWEST, 3) for side in room]
    left = f"of what is missing (each leg of the L at least {number(NARROWEST)} m wide)"
    return within(a, 0.1, highest[0], f"the length {left}"), within(b, 0.1, highest[1], f"the width {left}")


def height(text: str) -> float:
    """Height of the room, m; the highest part of a sloped one."""
    return within(lengths(text, ("the height",), "2.5")[0], *HEIGHT, "the height")


def slope(text: str, width: float, top: float) -> Point2:
    """Height of the low wall and how far from it the ceiling has its full height `top`, in a room `width` m wide."""
    low, reach = lengths(text, ("the height of the low wall", "how far the slope reaches into the room"), "1.0 x 2.4")
    lowest, shortest = LOW_WALL
    low = within(low, lowest, round(top - 0.1, 3), "the height of the low wall")
    return low, within(reach, shortest, width, "the reach of the slope")


def corners(text: str) -> tuple[Point2, ...]:
    """Corners of the floor, m, such as from "0,0 5,0 5,4 0,4"; whether they make a room is not looked at here."""
    example = "0,0 5,0 5,4 2,4 2,3 0,3"
    text = _in_metres(text, apart=" , ")
    _check_commas(text, example)
    values = [_number(word, example) for word in re.split(r"[\s;,\[\]()]+", text.strip()) if word]
    if len(values) % 2 or not 6 <= len(values) <= 80:
        sentence = f"{len(values)} numbers" if len(values) != 1 else "1 number"
        raise AnswerError(f"found {sentence}; enter x and y of 3 to 40 corners in metres, in order, such as {example}")
    if max(abs(v) for v in values) > 50.0:
        raise AnswerError(f"found {number(max(values, key=abs))}; corners are in metres and at most 50: are these cm?")
    points = [(round(x, 3), round(y, 3)) for x, y in zip(values[::2], values[1::2], strict=True)]
    return tuple(points[:-1] if len(points) > 3 and points[0] == points[-1] else points)


def _check_commas(text: str, example: str) -> None:
    """Raise AnswerError if commas may stand for decimal points: some words have one and others none, or several."""
    phrase = [word.strip(",") for word in re.split(r"[\s;\[\]()]+", text) if word.strip(",")]
    counts = {word.count(",") for word in phrase}
    plain = len(phrase) == 1 or len(counts) < 2 and counts <= {0, 1}
    if plain or ("." in text or re.search(r"[\[(]", text)) and max(counts) <= 1:
        return
    odd = next((word for word in phrase if word.count(",") > 1), text)
    sentence = f"found {show(odd)}; it is not clear which commas are decimal ones"
    raise AnswerError(f"{sentence}: numbers have a decimal point, x and y a comma between them, such as {example}")


def plan_text(plan: Sequence[Point2]) -> str:
    """A plan in words: its corners, what it measures in all, its area."""
    outline = Polygon(plan)
    x0, y0, x1, y1 = outline.bounds
    corners = " ".join(f"({number(x)}, {number(y)})" for x, y in plan)
    return f"{corners}; {number(x1 - x0)} m x {number(y1 - y0)} m over all, {outline.area:.2f} m²"


def choice(text: str, menu: Mapping[str, str], others: Sequence[str] = ()) -> str:
    """A key of `menu` (or one of `others`) by its name or by its number in the menu, from 1."""
    word, keys = " ".join(text.strip().lower().split()), list(menu)
    if word in menu or word in others:
        return word
    if word.isascii() and word.isdigit() and len(word) < 4 and 1 <= int(word) <= len(keys):
        return keys[int(word) - 1]
    near = [] if word.isdigit() else nearest(word, [*keys, *others])
    hint = f"did you mean {' or '.join(show(n) for n in near)}" if near else f"enter {' or '.join(keys)}"
    raise AnswerError(f"found {show(text)}; {hint}, or a number from 1 to {len(keys)}")


def l_plan(room: Point2, missing: Point2) -> tuple[Point2, ...]:
    """Corners of an L: a rectangle of the size `room` without the corner of the size `missing` at its far end, m."""
    (a, b), (c, d) = room, missing
    e, f = round(a - c, 6), round(b - d, 6)
    return (0.0, 0.0), (a, 0.0), (a, f), (e, f), (e, b), (0.0, b)


def rectangle_plan(room: Point2) -> tuple[Point2, ...]:
    """Corners of a rectangle of the size `room`, m."""
    a, b = room
    return (0.0, 0.0), (a, 0.0), (a, b), (0.0, b)
