"""What holds with a wished certainty: the flow that is carried, starts within their limit."""

from __future__ import annotations

from typing import Any

import numpy as np

from drainpump.cycling.switching import cycles_of
from drainpump.doubt.band import Band, at_shares
from drainpump.doubt.doubt import sample
from drainpump.parts.pit import Pit
from drainpump.units import FloatArray


def carried_with(band: Band, certainty: float) -> FloatArray:
    """Flow (m³/s) that is carried with a certainty, 0 to 1: one of the samples."""
    sampled = band.si.flow_sampled
    return at_shares(sampled, [1 - certainty])[..., 0]


def starts_within(band: Band, pit: Pit, most: FloatArray, where: Any) -> FloatArray:
    """Share of the band's samples whose starts (1/s), at worst, keep to ``most``.

    Of lists of pumps and of lines, (P, L), only ``where`` it is asked: a sample costs some
    35 operating points. NaN elsewhere.
    """
    sampled = sample(band.doubt, band.samples, band.seed)
    grid = band.si.grid
    share = np.full(np.shape(where), np.nan)
    for p, pump in enumerate(grid.pumps):
        asked = np.flatnonzero(where[p])
        if not asked.size:
            continue
        lines = [sampled.line(grid.lines[k].si.arrays) for k in asked]
        found = cycles_of([sampled.pump(pump)], lines, pit, np.zeros(band.samples))
        # what cannot be told is not taken for kept
        share[p, asked] = (found.si.worst_rate <= most).mean(axis=-1)[0]
    return share
