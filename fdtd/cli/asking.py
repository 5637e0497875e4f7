"""Questions at the terminal, one after another, with a way back; keeps the answers if interrupted."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import typer

from fdtd.errors import FdtdError
from fdtd.new_scene.answers import plan_text
from fdtd.new_scene.questions import QUESTIONS, Found, Question, read_answers, sentence

INTRODUCTION = (
    "Enter takes what stands in brackets, 'back' returns to the question before.\nCtrl-C stops, and nothing is written."
)
_BACK = "back"


class Talk:
    """The questions that are asked, and the answers so far.

    given : key -> answer that is known beforehand, so that its question is not asked
    typed : key -> answer at the terminal, also behind the place that `back` led to
    """

    def __init__(self, given: Mapping[str, str]) -> None:
        self._given = given
        self._typed: dict[str, str] = {}

    def hold(self) -> dict[str, Any]:
        """The values of all answers. EOFError and KeyboardInterrupt go through; see `so_far`."""
        typer.echo(INTRODUCTION)
        asked: list[int] = []
        k = 0
        while k < len(QUESTIONS):
            question, found = QUESTIONS[k], self._found(k)
            if not question.asked(found) or self._known(question, found):
                k += 1
            elif self._ask(question, found):
                asked.append(k)
                k += 1
            elif asked:
                k = asked.pop()
            else:
                typer.echo("  This is the first question.")
        return self._found(k)

    def so_far(self) -> dict[str, str]:
        """What was answered at the terminal, as far as it can still be taken."""
        return {key: self._typed[key] for key in self._found(len(QUESTIONS)) if key in self._typed}

    def _found(self, count: int) -> dict[str, Any]:
        """The values of the answers to the first `count` questions."""
        return read_answers({**self._given, **self._typed}, count)[0]

    def _known(self, question: Question, found: Found) -> bool:
        """Whether a valid answer was given beforehand."""
        key = question.key
        if key not in self._given or key in self._typed:
            return False
        try:
            question.read(self._given[key], found)
        except FdtdError as error:
            typer.echo(f"\n--{key}: {sentence(error)}")
            return False
        return True

    def _ask(self, question: Question, found: Found) -> bool:
        """Store the answer to `question`, asking until it is valid; False to go back one question."""
        default = self._default(question, found)
        for line in question.lines():
            typer.echo(line)
        while True:
            text = input(f"  [{default}] > ").strip() or default
            if text == _BACK:
                return False
            try:
                value = question.read(text, found)
            except FdtdError as error:
                shown = sentence(error)
                typer.echo(f"  {shown[:1].upper()}{shown[1:]}")
                continue
            if question.key != "corners" or _agreed(plan_text(value)):
                self._typed[question.key] = value if isinstance(value, str) else text
                return True

    def _default(self, question: Question, found: Found) -> str:
        """The default for Enter: the earlier answer if it is still valid."""
        earlier = self._typed.get(question.key)
        if earlier is not None:
            try:
                question.read(earlier, found)
                return earlier
            except FdtdError:
                pass
        return question.preset(found)


def _agreed(prompt: str) -> bool:
    """Whether the user confirms the interpreted answer."""
    typer.echo(f"  Understood: {prompt}.")
    return input("  Is that right? [yes] > ").strip().lower() in ("", "y", "yes")
