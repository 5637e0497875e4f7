"""Levels of a run at its seats, all loudspeakers together, as tables and drawings show them."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from fdtd.analysis.response import combined_transfer, level_db
from fdtd.results.result import RunResult, VariantResult


def variant_levels(result: RunResult, variant: VariantResult) -> NDArray[np.float64]:
    """(seat, frequency) level of all sources together, dB; NaN for a seat that the variant lacks.

    0 dB is the free field at 1 m of a source of level 0 without roll-off and crossovers.
    """
    # Seat by seat: a seat that a variant lacks is NaN, and must not make its sources look missing elsewhere.
    seats = range(variant.transfer.shape[1])
    together = [combined_transfer(variant.transfer[:, [seat]], variant.playback)[0] for seat in seats]
    return level_db(np.array(together), result.frequency, result.density)
