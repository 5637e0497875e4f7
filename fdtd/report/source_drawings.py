"""The figures of a study of places for loudspeakers or seats, with captions."""

from __future__ import annotations

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
    pair = "; of a pair the best one with that place" if study.what == "pair" else ""
    seats = [plain_text(name, 40) for name in study.seats]
    count, spacing, to = len(study.places), study.spacing, where(study, best)
    gain, worst = best.objectives.benefit, min(choice.objectives.benefit for choice in study.choices)
    chosen, over = [choice.places for choice in choices], "(standard deviation over frequency, mean of the seats)"
    title, level = f"{room}: places for {moved}", f"{room}: level at the seats with {moved} moved"
    scene, variant, axis, now = study.scene, study.variant, study.frequency, study.now
    return [
        Drawing(
            f"{stem}-plan",
            "sources",
            f"Places for {moved}",
            lambda: draw_places(
                scene, variant, study.places, study.benefit, chosen, study.at_present, title, spacing, wide
            ),
            f"Benefit of moving {moved} to each of {count} places {spacing:g} m apart, in dB against now, one score of "
            f"evenness, ringing and level{pair}. Numbers: the best, in order; ring: now. {conditions}",
            f"Plan with {count} places. The best is at {to} m, {gain:+.1f} dB against now; "
            f"the worst has {worst:+.1f} dB.",
        ),
        Drawing(
            f"{stem}-responses",
            "sources",
            f"Level at the seats with {moved} moved",
            lambda: draw_now_and_best(axis, now, study.response(best), study.seats, to, level, wide),
            f"Level over frequency at {listed(seats, 'seats')} with {moved} now and at the best place, {to} m, "
            f"relative to one loudspeaker in free field at 1 m. {conditions}",
            f"Level curves from {axis[0]:.0f} to {axis[-1]:.0f} Hz at {len(seats)} seats. Now the level varies by "
            f"{study.present.uneven:.1f} dB {over}; at the best place the level varies by "
            f"{best.objectives.uneven:.1f} dB {over}.",
        ),
    ]


def point(at: tuple[float, float, float]) -> str:
    """Where on the floor, m: '1.20, 3.40'."""
    return f"{at[0]:.2f}, {at[1]:.2f}"


def where(study: MoveStudy, choice: Choice) -> str:
    """Places of a choice: '1.20, 3.40; 2.00, 0.30'."""
    return "; ".join(point(tuple(study.places[k])) for k in choice.places)
