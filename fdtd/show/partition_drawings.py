"""Drawings of a partition study with captions: the resonances of all variants, and the level at each seat."""

from __future__ import annotations

from functools import partial

import numpy as np

from fdtd.listening.study import Listening
from fdtd.results.result import RunResult
from fdtd.show.captions import conditions, seat_text
from fdtd.show.drawing import NAMES, Drawing, stem_of
from fdtd.show.partitions import draw_partition_responses, draw_partition_strip
from fdtd.show.style import FULL_WIDTH, WIDTHS
from fdtd.show.text import plain_text
from fdtd.wording.seats import format_time


def partition_drawings(result: RunResult, listening: Listening, width: str | None = None) -> list[Drawing]:
    """The strip of resonances, then every seat; width : "column", "full" or None, which is full."""
    wide = WIDTHS.get(width or "", FULL_WIDTH)
    first = plain_text(result.variants[0].name, 40)
    drawings = [
        Drawing(
            "partitions",
            "partitions",
            "The strongest resonances in each variant",
            partial(draw_partition_strip, listening, wide),
            "The strongest resonances in each variant. Colour: decay time (60 dB); area: level at the seat where it is "
            f"loudest; rings: heard to ring by the published threshold “{plain_text(listening.threshold.name, 40)}”; "
            f"lines join what is the same resonance in “{first}”. {conditions(result)}",
            _strip_text(listening),
        )
    ]
    for seat, name in enumerate(listening.seats):
        text = seat_text(result, seat)
        drawings.append(
            Drawing(
                stem_of("partitions", seat + 1, name),
                "partitions",
                text.title,
                partial(draw_partition_responses, result, listening, seat, wide),
                f"Level at “{plain_text(name, 60)}” over frequency, relative to the same loudspeaker in free field at "
                f"1 m, a panel for each variant; grey: “{first}”; tinted: the difference. {conditions(result)}",
                text.alternative,
            )
        )
    return drawings


def _strip_text(listening: Listening) -> str:
    reported = []
    for variant in listening.variants[:NAMES]:
        found = variant.resonances
        name = plain_text(variant.name, 40)
        if not len(found.frequency):
            reported.append(f"“{name}”: none found")
            continue
        k = int(np.argmax(found.decay_time))
        seconds = format_time(float(found.decay_time[k]), 0.0)
        reported.append(
            f"“{name}”: {int(variant.audible.sum())} ring audibly, the longest {seconds} at {found.frequency[k]:.1f} Hz"
        )
    return f"A row of marks over frequency for each of {len(listening.variants)} variants. {'; '.join(reported)}."
