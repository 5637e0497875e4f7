"""Names in sentences: marked where a sentence is made, put between quotation marks where it is shown.

A sentence holds each name between two of Unicode's noncharacters, which are meant for use inside a program and never
stand in a text that is exchanged. A screen, a caption and a page each quote a name in their own way, whatever is in it.
"""

from __future__ import annotations

import re
from collections.abc import Callable

from fdtd.errors import visible

NAME, TYPED, END = "\ufdd0", "\ufdd1", "\ufdd2"
_MARKED = re.compile(f"([{NAME}{TYPED}])(.*?){END}", re.DOTALL)
_MARKS = str.maketrans("", "", NAME + TYPED + END)


def named(name: object) -> str:
    """A name that a user gave, marked as such."""
    return f"{NAME}{str(name).translate(_MARKS)}{END}"


def typed(command: str) -> str:
    """What one types on the command line, such as '--count 3', marked as such."""
    return f"{TYPED}{command}{END}"


def shown(
    text: str, name: Callable[[str], str], command: Callable[[str], str] = str, plain: Callable[[str], str] = str
) -> str:
    """`text` with its names, commands and all that is between as these functions give them."""
    first, *rest = _MARKED.split(text)
    pieces = [plain(first)]
    for kind, marked, after in zip(rest[0::3], rest[1::3], rest[2::3], strict=True):
        pieces += [(name if kind == NAME else command)(marked), plain(after)]
    return "".join(pieces)


def on_screen(text: str) -> str:
    """`text` for a terminal or a table: names between single quotation marks."""
    return shown(text, lambda name: f"'{visible(name)}'")
