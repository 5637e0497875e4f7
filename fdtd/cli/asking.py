"""Questions at the terminal, one after another, with a way back; keeps the answers if interrupted."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import typer

from fdtd.errors import FdtdError
from fdtd.new_scene.answers import plan_text
from fdtd.new_scene.questions import QUESTIONS, Question, sentence

INTRODUCTION = (
    "Enter takes what stands in brackets, 'back' returns to the question before.\nCtrl-C stops, and nothing is written."
)
_BACK = "back"


class Talk:
    """The questions that are asked, and the answers so far.

    given : key -> answer that is known beforehand, so that its question is not asked
    found, typed : key -> value and text of the answers so far
    """

    def __init__(self, given: Mapping[str, str]) -> None:
        self._given = given
        self._earlier: dict[str, str] = {}
        self.found: dict[str, Any] = {}
        self.typed: dict[str, str] = {}

    def hold(self) -> dict[str, Any]:
        """The values of all answers. EOFError and KeyboardInterrupt go through; see `so_far`."""
        typer.echo(INTRODUCTION)
        asked: list[int] = []
        k = 0
        while k < len(QUESTIONS):
            question = QUESTIONS[k]
            if not question.asked(self.found) or self._known(question):
                k += 1
            elif self._ask(question):
                asked.append(k)
                k += 1
            elif asked:
                k = asked.pop()
                self._forget(k)
            else:
                typer.echo("  This is the first question.")
        return self.found

    def so_far(self) -> dict[str, str]:
        """What was answered, also behind the place that `back` led to where it can still be taken."""
        found, typed = dict(self.found), dict(self.typed)
        for question in QUESTIONS:
            key = question.key
            text = self._earlier.get(key, self._given.get(key))
            if text is None or key in found or not question.asked(found):
                continue
            try:
                found[key] = question.read(text, found)
            except FdtdError:
                continue
            if key in self._earlier:
                typed[key] = text
        return typed

    def _known(self, question: Question) -> bool:
        """Whether a valid answer was given beforehand."""
        if question.key not in self._given:
            return False
        try:
            self.found[question.key] = question.read(self._given[question.key], self.found)
        except FdtdError as error:
            typer.echo(f"\n--{question.key}: {sentence(error)}")
            return False
        return True

    def _forget(self, k: int) -> None:
        """Drop the answers from question `k` on; each is offered as the default when asked again."""
        self._earlier |= self.typed
        for question in QUESTIONS[k:]:
            self.found.pop(question.key, None)
            self.typed.pop(question.key, None)

    def _ask(self, question: Question) -> bool:
        """Store the answer to `question`, asking until it is valid; False to go back one question."""
        default = self._default(question)
        for line in question.lines():
            typer.echo(line)
        while True:
            text = input(f"  [{default}] > ").strip() or default
            if text == _BACK:
                return False
            try:
                value = question.read(text, self.found)
            except FdtdError as error:
                shown = sentence(error)
                typer.echo(f"  {shown[:1].upper()}{shown[1:]}")
                continue
            if question.key != "corners" or _agreed(plan_text(value)):
                self.found[question.key] = value
                self.typed[question.key] = value if isinstance(value, str) else text
                return True

    def _default(self, question: Question) -> str:
        """The default for Enter: the earlier answer if it is still valid."""
        earlier = self._earlier.get(question.key)
        if earlier is not None:
            try:
                question.read(earlier, self.found)
                return earlier
            except FdtdError:
                pass
        return question.preset(self.found)


def _agreed(prompt: str) -> bool:
    """Whether the user confirms the interpreted answer."""
    typer.echo(f"  Understood: {prompt}.")
    return input("  Is that right? [yes] > ").strip().lower() in ("", "y", "yes")
