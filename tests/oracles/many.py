"""How many random cases a comparison runs: few by default, DRAINPUMP_ORACLES=N for N."""

from __future__ import annotations

import os
from collections.abc import Iterator

import numpy as np


def many(usual: int) -> int:
    """Number of random cases."""
    return int(os.environ.get("DRAINPUMP_ORACLES", usual))


def dice(usual: int, seed: int) -> Iterator[np.random.Generator]:
    """One generator a case, so that a case can be run again alone by its number."""
    for case in range(many(usual)):
        yield np.random.default_rng([seed, case])
