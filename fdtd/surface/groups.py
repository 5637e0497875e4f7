"""The headings of the library's data file, for a list that can be read."""

from __future__ import annotations

import re
from functools import cache
from importlib.resources import files

from fdtd.library.surfaces import names

_HEADING = re.compile(r"^# -{3,} (.+?) -{3,}$")
_NAME = re.compile(r'^\["(.+)"\]$|^\[([\w-]+)\]$')


@cache
def groups() -> tuple[tuple[str, tuple[str, ...]], ...]:
    """(heading, names of its surfaces) in the order of the file; a surface without a heading is under 'other'."""
    known, found = set(names()), {"other": list[str]()}
    heading = "other"
    for line in files("fdtd.library").joinpath("surfaces.toml").read_text(encoding="utf-8").splitlines():
        if title := _HEADING.match(line):
            heading = title[1]
            found.setdefault(heading, [])
        elif (name := _NAME.match(line)) and (name[1] or name[2]) in known:
            found[heading].append(name[1] or name[2])
    return tuple((title, tuple(members)) for title, members in found.items() if members)
