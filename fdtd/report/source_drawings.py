"""The figures of a study of places for loudspeakers or seats, with captions."""

from __future__ import annotations

from functools import partial

from fdtd.show.drawing import Drawing
from fdtd.show.scene_drawings import listed, of_scene
from fdtd.show.sources import draw_now_and_best, draw_places
from fdtd.show.style import FULL_WIDTH, WIDTHS
from fdtd.show.text import plain_text
from fdtd.study.sources import Choice, MoveStudy

SHOWN = 8
"""Best choices that are numbered on the plan."""


def source_drawings(study: MoveStudy, stem: str, grid: float, width: str | None = None) -> list[Drawing]:
    """The plan of all places and the levels now and with the best choice.

    stem : beginning of the file names; grid : m, of the cells; width : "column", "full" or None, which is full
    """
    wide, room = WIDTHS.get(width or "", FULL_WIDTH), study.scene.title or "room"
    kind = "seats" if study.what == "seat" else "loudspeakers"
    moved = listed(study.moved, kind)
    best, choices = study.choices[0], study.choices[:SHOWN]
    conditions = f"Variant “{plain_text(study.variant.name, 40)}”. {of_scene(study.scene, grid)}"
    plan = partial(
        draw_places,
        study.scene,
        study.variant,
        study.places,
        study.benefit,
        [c.places for c in choices],
        study.at_present,
        f"{room}: places for {moved}",
        study.spacing,
        wide,
    )
    curves = partial(
        draw_now_and_best,
        study.frequency,
        study.now,
        study.response(best),
        study.seats,
        where(study, best),
        f"{room}: level at the seats with {moved} moved",
        wide,
    )
    pair = "; of a pair the best one with that place" if study.what == "pair" else ""
    seats = [plain_text(name, 40) for name in study.seats]
    worst = min(choice.objectives.benefit for choice in study.choices)
    return [
        Drawing(
            f"{stem}-plan",
            "sources",
            f"Places for {moved}",
            plan,
            f"Benefit of moving {moved} to each of {len(study.places)} places {study.spacing:g} m apart, in dB "
            f"against now, one score of evenness, ringing and level{pair}. Numbers: the best, in order; ring: now. "
            f"{conditions}",
            f"Plan with {len(study.places)} places. The best is at {where(study, best)} m, "
            f"{best.objectives.benefit:+.1f} dB against now; the worst has {worst:+.1f} dB.",
        ),
        Drawing(
            f"{stem}-responses",
            "sources",
            f"Level at the seats with {moved} moved",
            curves,
            f"Level over frequency at {listed(seats, 'seats')} with {moved} now and at the best place, "
            f"{where(study, best)} m, relative to one loudspeaker in free field at 1 m. {conditions}",
            f"Level curves from {study.frequency[0]:.0f} to {study.frequency[-1]:.0f} Hz at {len(seats)} seats. "
            f"{_text(study.present.uneven, 'Now')}; {_text(best.objectives.uneven, 'at the best place')}.",
        ),
    ]


def point(at: tuple[float, float, float]) -> str:
    """Where on the floor, m: '1.20, 3.40'."""
    return f"{at[0]:.2f}, {at[1]:.2f}"


def where(study: MoveStudy, choice: Choice) -> str:
    """Places of a choice: '1.20, 3.40; 2.00, 0.30'."""
    return "; ".join(point(tuple(study.places[k])) for k in choice.places)


def _text(uneven: float, when: str) -> str:
    return f"{when} the level varies by {uneven:.1f} dB (standard deviation over frequency, mean of the seats)"
