"""The figures of a study of loudspeaker and absorber places together, with captions."""

from __future__ import annotations

from fdtd.report.source_drawings import SHOWN, point
from fdtd.show.drawing import Drawing
from fdtd.show.scene_drawings import listed, of_scene
from fdtd.show.sources import draw_now_and_best, draw_places
from fdtd.show.style import FULL_WIDTH, WIDTHS
from fdtd.show.text import plain_text
from fdtd.study.place import built_in, units_on
from fdtd.study.whole_arrangement import FinishedArrangement
from fdtd.wording.arrangements import points

STEM = "arrangements"
"""Beginning of the names of the files."""


def arrangement_drawings(done: FinishedArrangement, width: str | None = None) -> list[Drawing]:
    """The plan of all loudspeaker places, and the levels now and as advised.

    width : "column", "full" or None, which is full
    """
    study, best = done.study, done.options.best
    wide, room = WIDTHS.get(width or "", FULL_WIDTH), study.scene.title or "room"
    start, here = study.spots.start, len(study.spots.start.sources)
    conditions = of_scene(study.scene, study.grid)
    moved, seats = listed(study.moved, "loudspeakers"), [plain_text(seat.name, 40) for seat in start.seats]
    given, design = study.sound.given, best.scored.design
    now, after = given.untreated, study.with_design(best.arrangement, design)
    units, to = f"{best.count} unit{'s' * (best.count != 1)}", "; ".join(map(point, points(study, best.arrangement)))
    shown = [tuple(k - here for k in one.sources if k >= here) for one in study.others[:SHOWN]]
    variant = built_in(study.variant(best.arrangement), units_on(study.spots, study.places, design), start.name)
    title, level = f"{room}: places for {moved} with units", f"{room}: level at the seats, now and as advised"
    pair = "; of a pair the best one with that place" if study.pairs else ""
    figures = best.scored.objectives
    return [
        Drawing(
            f"{STEM}-plan",
            "sources",
            f"Places for {moved}, with units",
            lambda: draw_places(
                study.scene,
                variant,
                study.positions,
                study.benefit,
                shown,
                points(study, study.now),
                title,
                study.spacing,
                wide,
            ),
            f"Benefit of {moved} at each of {len(study.positions)} places {study.spacing:g} m apart, with the units "
            f"that suit it best, in dB against now{pair}. Numbers: the best, in order; ring: now; units: as advised. "
            f"{conditions}",
            f"Plan with {len(study.positions)} places. Advised: {to} m with {units}, "
            f"{figures.benefit:+.1f} dB against now.",
        ),
        Drawing(
            f"{STEM}-responses",
            "sources",
            "Level at the seats, now and as advised",
            lambda: draw_now_and_best(
                given.frequency, now, after, [seat.name for seat in start.seats], f"{units}; {to}", level, wide
            ),
            f"Level over frequency at {listed(seats, 'seats')} now and with {moved} at {to} m and {units}, relative to "
            f"one loudspeaker in free field at 1 m. {conditions}",
            f"Level curves from {given.frequency[0]:.0f} to {given.frequency[-1]:.0f} Hz at {len(seats)} seats. Now "
            f"the level varies by {study.present.uneven:.1f} dB (standard deviation, mean of the seats); "
            f"as advised by {figures.uneven:.1f} dB.",
        ),
    ]
