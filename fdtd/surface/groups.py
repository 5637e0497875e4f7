"""The library's surfaces by group, for a list that can be read."""

from __future__ import annotations

from fdtd.library.surfaces import find, names


def groups() -> tuple[tuple[str, tuple[str, ...]], ...]:
    """(group, names of its surfaces) in the order of the library."""
    found: dict[str, list[str]] = {}
    for name in names():
        found.setdefault(find(name).group, []).append(name)
    return tuple((title, tuple(members)) for title, members in found.items())
