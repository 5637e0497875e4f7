"""The tables in docs/surfaces.md, made from the library itself.

`python -m fdtd.cli.pages docs/` rewrites what stands between the marks `<!-- surfaces: NAME -->` and `<!-- end -->`; a
test checks that it is fresh.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields

from fdtd.library.origins import absorption, apart
from fdtd.library.surfaces import LibrarySurface, find, names
from fdtd.physics.design import Design

BANDS = (31.5, 63.0, 125.0, 250.0)
"""Hz; the printed tables have the last two."""


def disagreement(surface: LibrarySurface) -> tuple[float, float, float] | None:
    """(band in Hz, printed absorption, that of the build-up) where they differ most; None within a factor of 2."""
    if len(surface.origins) < 2:
        return None
    bands, printed = list(surface.absorption), list(surface.absorption.values())
    built = absorption(surface, "design", bands)
    found = apart(printed, built)
    return None if found is None else (bands[found.worst], printed[found.worst], float(built[found.worst]))


def _main() -> str:
    at = " / ".join(f"{f:g}" for f in BANDS)
    rows = [
        f"| name | what it is | printed 125 / 250 Hz | table {at} Hz | build-up {at} Hz | used |",
        "| --- | --- | --- | --- | --- | --- |",
    ]
    for surface in map(find, names()):
        table, build_up = (_shown(surface, origin) for origin in ("absorption", "design"))
        used = "table" if surface.used == "absorption" else "build-up"
        printed = " / ".join(f"{a:g}" for a in surface.absorption.values()) or "not found"
        if surface.printed_range:
            low, high = surface.printed_range
            printed += f" (125 Hz: {low:g} to {high:g})"
        cells = (f"`{surface.name}`", surface.description, printed, table, build_up, used)
        rows.append(f"| {' | '.join(cells)} |")
    return "\n".join(rows) + "\n"


def _shown(surface: LibrarySurface, origin: str) -> str:
    if origin not in surface.origins:
        return "none"
    return " / ".join(f"{a:.2f}" for a in absorption(surface, origin, BANDS))


def _apart() -> str:
    lines = []
    for surface in map(find, names()):
        found = disagreement(surface)
        if found:
            band, table, build_up = found
            more = "more" if build_up > table else "less"
            factor = max(table / build_up, build_up / table)
            lines.append(
                f"- `{surface.name}`: by its build-up it absorbs {factor:.1f} times {more} at {band:.0f} Hz "
                f"({build_up:.2f} against {table:.2f})."
            )
    return "\n".join(lines) + "\n"


def _sources() -> str:
    rows = [
        "| name | source of the table | build-up, and where its values come from | note |",
        "| --- | --- | --- | --- |",
    ]
    for surface in map(find, names()):
        build_up = f"{_values(surface.design)}: {surface.design_source}" if surface.design else "none"
        table = surface.absorption_source or "no printed table was found"
        rows.append(f"| `{surface.name}` | {table} | {build_up} | {surface.note} |")
    return "\n".join(rows) + "\n"


def _values(design: Design) -> str:
    pairs = [(f.name, getattr(design, f.name), f.default) for f in fields(design)]  # type: ignore[arg-type]
    given = [f"{key} = {value:g}" for key, value, default in pairs if value != default and not isinstance(value, str)]
    return f'`kind = "{design.kind}"`, ' + ", ".join(f"`{pair}`" for pair in given)


PARTS: dict[str, Callable[[], str]] = {"table": _main, "apart": _apart, "sources": _sources}
"""Name of a mark -> what makes its text."""
