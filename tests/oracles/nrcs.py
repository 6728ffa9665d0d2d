"""24-hour NRCS storms from the 0.1-h tables, and the time-area flow they bring."""

from __future__ import annotations

from importlib.resources import files
from typing import Any

import numpy as np
import pandas as pd

KINDS = ("I", "IA", "II", "III")


def table(kind: str) -> tuple[np.ndarray, np.ndarray]:
    """Hours, and share of the day's depth fallen by then; IA has every fifth row."""
    path = files("drainpump.physics") / "data" / "nrcs_24h.csv"
    with path.open() as text:
        rows = pd.read_csv(text, comment="#")[["time_h", kind]].dropna()
    return rows["time_h"].to_numpy(), rows[kind].to_numpy()


def blocks(kind: str, depth: float, block_min: float) -> np.ndarray:
    """Depth in each block, straight between the rows."""
    ends = np.arange(round(1440 / block_min) + 1) * block_min / 60
    return depth * np.diff(np.interp(ends, *table(kind)))


def peak_gpm(
    depths_in: Any, block_min: float, area_ft2: float, runoff: float, tc_min: float
) -> float:
    """Largest flow: C·A times the rain averaged over the time of concentration.

    The average over a moving window is straight between the times at which one of its two
    ends meets the end of a block, so the largest of those is the peak.
    """
    depths = np.asarray(depths_in, float)
    ends = np.arange(depths.size + 1) * block_min
    fallen = np.concatenate([[0], np.cumsum(depths)])
    at = np.unique(np.concatenate([ends, ends + tc_min]))
    window = np.interp(at, ends, fallen) - np.interp(at - tc_min, ends, fallen)
    return float(runoff * area_ft2 * window.max() / tc_min / 12 * 1728 / 231)
