"""The tables in docs/surfaces.md, made from the library itself.

    python -m fdtd.library.page docs/surfaces.md

rewrites what stands between the marks `<!-- surfaces: NAME -->` and `<!-- end -->`; a test checks that it is fresh.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Callable
from dataclasses import fields
from pathlib import Path

import numpy as np

from fdtd.library.surfaces import LibrarySurface, find, fitted, names
from fdtd.physics import air
from fdtd.physics.admittance import admittance, diffuse_absorption
from fdtd.physics.design import Design
from fdtd.physics.medium import Medium

AIR = Medium(air.density(20.0, 50.0, 101.325), air.speed_of_sound(20.0, 50.0, 101.325))
"""The air of the tables: 20 °C, 50 % humidity, 101.325 kPa."""

BANDS = (63.0, 125.0, 250.0)
"""Hz; the printed tables have the last two."""

FAR_APART = 2.0
"""Ratio of absorption above which the two origins are said to disagree."""

_MARK = re.compile(r"(<!-- surfaces: (\w+) -->\n).*?(<!-- end -->)", re.DOTALL)


def absorption(surface: LibrarySurface, origin: str, medium: Medium = AIR) -> tuple[float, ...]:
    """Random-incidence absorption at `BANDS` of the branches that stand for `surface` by `origin`."""
    branches = fitted(surface, medium, origin).branches
    found = diffuse_absorption(admittance(branches, np.array(BANDS)) * medium.impedance)
    return tuple(float(a) for a in found)


def disagreement(surface: LibrarySurface) -> tuple[float, float, float] | None:
    """(band in Hz, absorption of the table, of the build-up) where they differ most; None within a factor of 2."""
    if len(surface.origins) < 2:
        return None
    build_up = dict(zip(BANDS, absorption(surface, "design"), strict=True))
    pairs = [(f, a, build_up[f]) for f, a in surface.absorption.items() if f in build_up]
    worst = max(pairs, key=lambda pair: abs(np.log(pair[1] / pair[2])))
    return worst if abs(np.log(worst[1] / worst[2])) > np.log(FAR_APART) else None


def _main() -> str:
    rows = [
        "| name | what it is | printed 125 / 250 Hz | table 63 / 125 / 250 Hz | build-up 63 / 125 / 250 Hz | used |",
        "| --- | --- | --- | --- | --- | --- |",
    ]
    for surface in map(find, names()):
        table = absorption(surface, "absorption") if "absorption" in surface.origins else ()
        build_up = absorption(surface, "design") if "design" in surface.origins else ()
        used = "table" if surface.used == "absorption" else "build-up"
        printed = " / ".join(f"{a:g}" for a in surface.absorption.values()) or "not found"
        cells = (f"`{surface.name}`", surface.description, printed, _shown(table), _shown(build_up), used)
        rows.append(f"| {' | '.join(cells)} |")
    return "\n".join(rows) + "\n"


def _shown(values: tuple[float, ...]) -> str:
    return " / ".join(f"{a:.2f}" for a in values) or "none"


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


def refreshed(page: str) -> str:
    """`page` with every marked part made anew; raises KeyError for an unknown mark."""
    return _MARK.sub(lambda m: m[1] + PARTS[m[2]]() + m[3], page)


if __name__ == "__main__":
    target = Path(sys.argv[1])
    draft = target.with_suffix(".new")
    draft.write_text(refreshed(target.read_text(encoding="utf-8")), encoding="utf-8")
    draft.replace(target)
