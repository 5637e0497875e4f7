"""The texts that `fdtd surface` prints; no line is longer than 120 characters."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from itertools import zip_longest
from typing import TYPE_CHECKING

from fdtd.cli.tables import format_facts, format_table

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from fdtd.physics.design import Design
    from fdtd.surface.lines import Line, Subject
    from fdtd.surface.units import Unit

WIDTH = 110
NAME = 28
"""Characters of a name in a table."""
DEVICE_NAME = 20


def library_list() -> str:
    """All surfaces of the library by group, with the absorption that a scene gets."""
    from fdtd.library.surfaces import find, fitted
    from fdtd.surface.lines import branch_line
    from fdtd.surface.subjects import AIR, groups

    parts = ["Surfaces of the library: random-incidence absorption that the simulation gets, in air of 20 °C\n"]
    for title, members in groups():
        rows = []
        for name in members:
            surface = find(name)
            random = branch_line("", fitted(surface, AIR).branches, AIR).random([31.5, 63.0, 125.0, 200.0])
            origin = "table" if surface.used == "absorption" else "build-up"
            rows.append((name, *(f"{a:.2f}" for a in random), origin))
        header = (f"{title.capitalize():<42}", "31.5 Hz", "63 Hz", "125 Hz", "200 Hz", "from")
        parts.append(format_table(header, rows) + "\n")
    parts.append("fdtd surface NAME shows one in full, with its sources.")
    return "\n".join(parts)


def subject_text(subject: Subject) -> str:
    """One material or device in full: what it is, its lines at third-octave centres, its fit."""
    facts = [*subject.facts, *_fit_facts(subject)]
    blocks = [_frequency_block(), _full_block(subject.used)]
    if subject.origin is not None:
        blocks.append(_full_block(subject.origin))
    blocks += [_short_block(line) for line in subject.others]
    if sum(len(block[2]) for block in blocks) + 3 * len(blocks) > WIDTH + 8:
        blocks = [block for k, block in enumerate(blocks) if k < 3]
    parts = [f"{subject.name} ({subject.kind})\n", wrapped_facts(facts), "", beside(blocks), ""]
    if subject.bands:
        parts += [_band_table(subject), ""]
    if subject.disagreement:
        parts += [wrapped(subject.disagreement), ""]
    return "\n".join(parts)


def _fit_facts(subject: Subject) -> list[tuple[str, str]]:
    if subject.error is None:
        return [("Fit", subject.error_of or "none needed: it was given as branches")]
    return [("Fit error", f"{_error(subject)}, largest difference of absorption ({subject.error_of})")]


def _error(subject: Subject) -> str:
    if subject.error is None:
        return "not known" if subject.error_of else "no fit"
    return f"{subject.error:.3f}" if subject.error >= 0.0005 else "< 0.001"


def _band_table(subject: Subject) -> str:
    others = [line for line in subject.others if line.label.startswith("by ")]
    rows = [
        (f"{b.frequency:g}", *(f"{a:.3f}" for a in (b.wanted, b.found, *(line.random(b.frequency) for line in others))))
        for b in subject.bands
    ]
    header = ("Band, Hz", "printed", subject.used.label, *(line.label for line in others))
    return "Random-incidence absorption, band by band\n" + format_table(header, rows, left=0)


def _frequency_block() -> list[str]:
    from fdtd.surface.lines import FREQUENCIES

    return ["", *format_table(("Hz",), [(f"{f:g}",) for f in FREQUENCIES], left=0).splitlines()]


def _full_block(line: Line) -> list[str]:
    from fdtd.surface.lines import FREQUENCIES

    beta = line.ratio(FREQUENCIES)
    columns = (beta.real, beta.imag, line.reflection(FREQUENCIES), line.normal(FREQUENCIES), line.random(FREQUENCIES))
    forms = (_signed, _signed, _share, _share, _share)
    rows = [[form(float(c[k])) for form, c in zip(forms, columns, strict=True)] for k in range(len(FREQUENCIES))]
    return _block(line.label, ("Re rho c Y", "Im", "|R|", "normal", "random"), rows)


def _short_block(line: Line) -> list[str]:
    from fdtd.surface.lines import FREQUENCIES

    pairs = zip(line.normal(FREQUENCIES), line.random(FREQUENCIES), strict=True)
    return _block(line.label, ("normal", "random"), [[_share(float(a)), _share(float(b))] for a, b in pairs])


def _block(title: str, header: Sequence[str], rows: Iterable[Sequence[str]]) -> list[str]:
    lines = format_table(header, rows, left=0).splitlines()
    return [title, *lines]


def beside(blocks: Sequence[Sequence[str]]) -> str:
    """Blocks of lines, each with a title first, side by side."""
    widths = [max(len(line) for line in block) for block in blocks]
    rows = zip_longest(*blocks, fillvalue="")  # a block whose last rows are empty is shorter
    texts = ("   ".join(cell.ljust(w) for cell, w in zip(row, widths, strict=True)).rstrip() for row in rows)
    return "\n".join(texts)


def _signed(value: float) -> str:
    if value != value:
        return ""
    return f"{value:.4f}" if abs(value) < 9.9995 else f"{value:.1f}"


def _share(value: float) -> str:
    return "" if value != value else f"{value:.3f}"


def overview_text(subjects: Sequence[Subject]) -> str:
    """Every material and device of a scene in one line each, and where the numbers come from."""
    from fdtd.surface.lines import FREQUENCIES

    parts = []
    kinds = (
        ("Materials: absorption at random incidence, of the branches that the simulation uses", False),
        ("Devices: absorption at normal incidence, of what the simulation uses, at gain 1", True),
    )
    for title, devices in kinds:
        chosen = [s for s in subjects if (s.kind == "device") == devices]
        rows = [(clipped(s.name), *(f"{a:.2f}" for a in _absorption(s, devices)), _error(s)) for s in chosen]
        if rows:
            header = ("Hz", *(f"{f:g}" for f in FREQUENCIES), "fit error")
            parts.append(f"{title}\n\n{format_table(header, rows)}\n")
    pairs = [(clipped(s.name), _sources(s)) for s in subjects if s.facts]
    if pairs:
        parts.append(f"Where the numbers come from\n\n{wrapped_facts(pairs)}\n")
    apart = [wrapped(f"'{s.name}': {s.disagreement}", "  ") for s in subjects if s.disagreement]
    if apart:
        parts.append("\n".join(apart) + "\n")
    if subjects:
        parts.append('--name "..." shows one of them in full: admittance, reflection and both kinds of absorption.\n')
    return "\n".join(parts) if parts else "The scene uses no material or device: everything is rigid.\n"


def _sources(subject: Subject) -> str:
    """'the table: ...; the build-up: ...' for a surface of the library, else how it was given and its source."""
    left_out = ("Note", "What it is")
    facts = [(name.removeprefix("Source of "), value) for name, value in subject.facts if name not in left_out]
    if subject.kind != "library surface":
        return "; ".join(value for _, value in facts)
    used = next(value for name, value in facts if name == "Used")
    return "library; " + "; ".join(
        f"{name}{' (used)' if name == used else ''}: {value}" for name, value in facts if name != "Used"
    )


def _absorption(subject: Subject, normal: bool) -> NDArray:
    from fdtd.surface.lines import FREQUENCIES

    return subject.used.normal(FREQUENCIES) if normal else subject.used.random(FREQUENCIES)


def units_text(units: Sequence[Unit]) -> str:
    """The units of a scene compared: size, absorption area by band and per 100 litres, limits, warnings."""
    from fdtd.surface.units import BANDS, band_bound
    from fdtd.wording.surfaces import feeding_text, size_text, target_text

    header = ("Unit", "where", *(f"{f:g}" for f in BANDS))
    bound = ("most a small unit can", "anywhere", *map(_amount, band_bound(units[0].medium)))
    parts = [
        f"Units: the room that each takes\n\n{_size_table(units)}\n",
        "Equivalent absorption area in m², mean over third-octave bands (centre in Hz)\n\n"
        f"{format_table(header, [*_area_rows(units, None), bound], left=2)}\n",
    ]
    by_size = [u for u in units if u.litres]
    if by_size:
        parts.append(f"The same, m² per 100 litres\n\n{format_table(header, _area_rows(by_size, 100.0), left=2)}\n")
    limits = _limit_rows(units)
    if limits:
        limit_header = ("Unit", "runs out of", *(f"{f:g}" for f in BANDS))
        title = "Level of a pure tone at the face, dB re 20 µPa, at which an active unit runs out (centre in Hz)"
        parts.append(f"{title}\n\n{format_table(limit_header, limits, left=2)}\n")
    said = [text for tell in (target_text, feeding_text, size_text) for u in units if (text := tell(u))]
    if said:
        parts.append("\n".join(wrapped(text) for text in said) + "\n")
    return "\n".join(parts)


def _size_table(units: Sequence[Unit]) -> str:
    rows = []
    for u in units:
        face = f"{u.width:.2f} x {u.height:.2f}"
        litres = "not told" if u.litres is None else f"{u.litres:.0f}" if u.litres >= 10.0 else f"{u.litres:.1f}"
        floor = "not told" if u.footprint is None else f"{u.footprint:.3f}"
        alike = f"and {len(u.others)} alike" if u.others else ""
        names = (clipped(u.name), clipped(u.device.name, DEVICE_NAME), alike)
        rows.append((*names, face, f"{u.face_area:.3f}", f"{u.gain:g}", litres, floor))
    header = ("Unit", "Device", "", "Face, m", "Moves, m²", "Gain", "Litres", "Footprint, m²")
    return format_table(header, rows, left=3)


def _area_rows(units: Sequence[Unit], litres: float | None) -> list[tuple[str, ...]]:
    rows = []
    text: set[tuple[object, ...]] = set()
    for unit in units:
        both = unit.active and unit.gain > 0.0 and unit.box not in text
        text.add(unit.box)
        scale = 1.0 if litres is None or not unit.litres else litres / unit.litres
        first = True
        for off in (False, True) if both else (False,):
            for corner in (False, True):
                where = ("off, " if off else "") + ("in a corner" if corner else "on a wall")
                values = (_amount(a) for a in scale * unit.band_area(corner, off))
                rows.append((clipped(unit.name) if first else "", where, *values))
                first = False
    return rows


def _limit_rows(units: Sequence[Unit]) -> list[tuple[str, ...]]:
    import numpy as np

    from fdtd.surface.units import BANDS

    rows = []
    for unit in units:
        for limit, pressure in unit.runs_out(np.array(BANDS)):
            level = 20.0 * np.log10(pressure / 20e-6)
            rows.append((clipped(unit.name), limit, *("" if np.isinf(v) else f"{v:.0f}" for v in level)))
    return rows


def _amount(area: float) -> str:
    text = f"{area:.2f}" if abs(area) < 10.0 else f"{area:.1f}"
    return text.removeprefix("-") if float(text) == 0.0 else text


def closing_text(devices: Sequence[Subject], designs: Sequence[Design]) -> str:
    """The hint on plane waves if there are devices, and the safety lines that fit."""
    from fdtd.wording.surfaces import HINT, safety_text

    said = [*([HINT] if devices else []), *safety_text(designs)]
    return "".join(wrapped(text) + "\n" for text in said)


def clipped(name: str, limit: int = NAME) -> str:
    """A name of at most `limit` characters."""
    return name if len(name) <= limit else name[: limit - 1].rstrip() + "…"


def wrapped(text: str, indent: str = "") -> str:
    """`text` in lines of at most `WIDTH` characters, all but the first one indented."""
    return textwrap.fill(text, WIDTH, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False)


def wrapped_facts(facts: Sequence[tuple[str, str]]) -> str:
    """As `format_facts`, with long values on several lines."""
    width = max(len(name) for name, _ in facts)
    pairs = []
    for name, value in facts:
        lines = textwrap.wrap(value, WIDTH - width - 2, break_on_hyphens=False) or [""]
        pairs += [(name, lines[0]), *(("", line) for line in lines[1:])]
    return format_facts(pairs)
