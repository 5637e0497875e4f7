"""Questions at the terminal, one after another, with a way back; keeps the answers if interrupted."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import typer

from fdtd.cli.questions import Question
from fdtd.errors import FdtdError

INTRODUCTION = (
    "Enter takes what stands in brackets, 'back' returns to the question before.\nCtrl-C stops, and nothing is written."
)
_BACK = "back"


class Talk:
    """The questions that are asked, and the answers so far.

    given : key -> answer that is known beforehand, so that its question is not asked
    found, typed : key -> value and text of the answers so far
    """

    def __init__(self, questions: Sequence[Question], given: Mapping[str, str]) -> None:
        self._questions, self._given = questions, given
        self._asked: list[int] = []
        self._earlier: dict[str, str] = {}
        self.found: dict[str, Any] = {}
        self.typed: dict[str, str] = {}

    def hold(self) -> dict[str, Any]:
        """The values of all answers. EOFError and KeyboardInterrupt go through; see `so_far`."""
        typer.echo(INTRODUCTION)
        k = 0
        while k < len(self._questions):
            question = self._questions[k]
            if not question.asked(self.found):
                k += 1
            elif self._known(question):
                k += 1
            elif self._ask(question):
                self._asked.append(k)
                k += 1
            elif self._asked:
                k = self._asked.pop()
                self._forget(k)
            else:
                typer.echo("  This is the first question.")
        return self.found

    def so_far(self) -> dict[str, str]:
        """What was answered, also behind the place that `back` led to where it can still be taken."""
        found, typed = dict(self.found), dict(self.typed)
        for question in self._questions:
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
        for question in self._questions[k:]:
            self.found.pop(question.key, None)
            self.typed.pop(question.key, None)

    def _ask(self, question: Question) -> bool:
        """Store the answer to `question`, asking until it is valid; False to go back one question."""
        default = self._default(question)
        for line in question.lines(self.found):
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
            if question.shown is None or _agreed(question.shown(value)):
                self.found[question.key] = value
                self.typed[question.key] = value if isinstance(value, str) else text
                return True

    def _default(self, question: Question) -> str:
        """The default for Enter: the earlier answer if it is still valid."""
        earlier = self._earlier.get(question.key)
        if earlier is not None:
            try:
                question.read(earlier, self.found)
            except FdtdError:
                return question.default(self.found)
            return earlier
        return question.default(self.found)


def _agreed(prompt: str) -> bool:
    """Whether the user confirms the interpreted answer."""
    typer.echo(f"  Understood: {prompt}.")
    return input("  Is that right? [yes] > ").strip().lower() in ("", "y", "yes")


def sentence(error: FdtdError) -> str:
    """The text of an error, with a full stop."""
    text = str(error)
    return text if text.endswith((".", "?")) else f"{text}."
