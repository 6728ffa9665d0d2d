"""The reference problem with its losses as one K, so that a test can change them."""

from __future__ import annotations

from typing import Any

import drainpump as dp
from tests.problems import BORES_IN, PUMP_A, PUMP_B, r1_line

A, B = PUMP_A, PUMP_B


def line(bore_in: float, **changed: Any) -> dp.DischargeLine:
    """Return the site's line in one bore, K 6.3 in the run, with what is changed."""
    return r1_line(bore_in, **{"fittings": {}, "k": 6.3, **changed})


LINES = [line(bore) for bore in BORES_IN]
#: pump A's line of the checks: 1.590 in
LINE = LINES[1]
