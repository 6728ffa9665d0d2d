"""One sigma of an input's doubt, as it is typed."""

from __future__ import annotations

from typing import Any

import numpy as np

from drainpump import units as u
from drainpump.parts.scalars import one_plain
from drainpump.units import FloatArray

#: a doubt of so few percent, above 0, was perhaps meant as a share of 1
_SMALL_PCT = 0.2


def one_sigma(name: str, value: Any, high: float = 20.0) -> FloatArray:
    """Take one number from 0 to ``high``; warn where a share was perhaps typed for percent."""
    sigma = one_plain(name, value, "give one sigma of the input's doubt", high=high)
    if name.endswith("_pct") and 0 < sigma <= _SMALL_PCT:
        u.unusual(
            f"{name}={sigma:g} is {sigma:g} %, a share would be {100 * sigma:g} %; give 5 for 5 %.",
            name,
        )
    return np.asarray(sigma)
