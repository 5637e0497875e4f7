"""The resonance that stands for a band at a seat."""

from __future__ import annotations

import numpy as np

from fdtd.analysis.bands import Band
from fdtd.listening.study import VariantListening


def modal_decay(variant: VariantListening, seat: int, band: Band) -> int | None:
    """Number of the resonance in the band (edges included) that is loudest at the seat; None if there is none."""
    level, frequency = variant.seat_level[seat], variant.resonances.frequency
    inside = np.flatnonzero((frequency >= band.lower) & (frequency <= band.upper) & np.isfinite(level))
    return int(inside[np.argmax(level[inside])]) if len(inside) else None
