"""Where a level meter would find it loudest, and whether that is where a unit does most."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from fdtd.results.placement_record import LoudSpot, Meter, Tone
from fdtd.scene.shape import Shape
from fdtd.study.loudest import Agreement, LoudestMap, agreement_with_best
from fdtd.wording.letters import capital
from fdtd.wording.names import named
from fdtd.wording.places import spot_text
from fdtd.wording.thresholds import against_threshold


def meter_text(meter: Meter, shape: Shape, benefit: NDArray[np.float64]) -> str:
    """Where a level meter would find it loudest, and whether it is best there; benefit : (place,) dB of one unit"""
    said = agreement_text(agreement_with_best(meter.place_level, benefit))
    lines = [f"Tone: {tone_text(meter.tone)}.", *spot_lines(shape, meter.spots, meter.seat_level)]
    return "\n".join([f"Is the loudest place the best? {capital(said)}.", *(f"  {line}" for line in lines)])


def tone_text(tone: Tone) -> str:
    """A tone, and why it was chosen."""
    if not math.isfinite(tone.decay_time):
        return f"{tone.frequency:.1f} Hz, where it is loudest at the seats"
    return (
        f"{tone.frequency:.1f} Hz, a resonance that takes {tone.decay_time:.2f} s to decay by 60 dB "
        f"({against_threshold(tone.frequency, tone.decay_time)})"
    )


def describe(found: LoudestMap, shape: Shape) -> tuple[str, ...]:
    """A map in lines: which tone, the loudest spots, the seats."""
    if found.tone is not None:
        text = f"Tone: {tone_text(found.tone)}."
    elif len(found.frequency) > 1:
        text = f"Pink noise from {found.frequency[0]:g} to {found.frequency[-1]:g} Hz."
    else:
        text = f"Tone: {found.frequency[0]:g} Hz."
    return (text, *spot_lines(shape, found.spots, found.seat_level))


def spot_lines(shape: Shape, spots: Sequence[LoudSpot], seat_level: NDArray[np.float64]) -> list[str]:
    """The loudest spots and the seats, a line each."""
    lines = ["With a level meter along floor and walls it is loudest at:"]
    # Rounded first: a level just below 0 is told as 0.0, not as -0.0.
    lines += [f"{k:2d}. {round(s.level, 1) + 0.0:5.1f} dB  {_where(shape, s)}" for k, s in enumerate(spots, start=1)]
    if len(seat_level):
        low, high = seat_level.min(), seat_level.max()
        seats = f"{high:.0f} dB" if high - low < 1.0 else f"{low:.0f} to {high:.0f} dB"
        lines.append(f"At the seats: {seats} on the same scale (0 dB is the loudest).")
    return lines


def _where(shape: Shape, spot: LoudSpot) -> str:
    text = ", ".join(filter(None, spot_text(shape, spot)))
    return f"{text} (beside {named(spot.beside)})" if spot.beside and not spot.whole else text


def agreement_text(found: Agreement) -> str:
    """Whether the loudest places are the best ones."""
    if math.isnan(found.correlation):
        return f"too little to compare the loudest places with the best ({found.places} places)"
    text = (
        f"the loudest place is number {found.rank} of {found.places} by benefit; {found.both} of the {found.few} "
        f"loudest are among the {found.few} best; rank correlation of all places {found.correlation:.1f}"
    )
    if found.rank <= found.few and 2 * found.both >= found.few:
        said = f"{'yes' if found.rank == 1 else 'nearly'}: in this room the loudest places are among the best ones"
    elif found.rank <= found.few:
        said = "in this room the loudest place is among the best ones, but other loud places are not"
    elif found.both:
        said = "no: in this room the loudest place is not among the best ones, though some other loud ones are"
    elif found.correlation > -0.2:
        said = "no: in this room the loudest places are not the best ones: a level meter is no guide here"
    else:
        said = "no: in this room the loudest places are rather the worse ones: do not go by a level meter here"
    return f"{said} ({text})"
