"""One look for each level of a pit and its floats, the same in every picture."""

from __future__ import annotations

from typing import Any

from drainpump.parts.pit import Pit
from drainpump.parts.pump.bank import PumpBank
from drainpump.plots.frame import Frame, Label, Style

#: highest first
LEVELS = {
    "overflow": Style("#882255", (0, (1, 1))),
    "rim": Style("#7a5f00"),
    "inlet": Style("#4d4d4d", (0, (8, 2, 2, 2))),
    "alarm": Style("#aa3344", (0, (4, 1, 1, 1, 1, 1))),
    "lag on": Style("#33668f", (0, (10, 2))),
    "on": Style("#004488", (0, (6, 2))),
    "off": Style("#004488", (0, (2, 1.5))),
}


def heights(pit: Pit, pump: Any, overflow: Any = None) -> dict[str, float]:
    """Return the levels there are, above the pit's floor (m)."""
    si = pit.si
    lag = pump.si.lag_on if isinstance(pump, PumpBank) else None
    known = {"overflow": overflow, "rim": si.depth, "inlet": si.inlet, "alarm": si.alarm,
             "lag on": lag, "on": si.on, "off": si.off}  # fmt: skip
    return {name: float(height) for name, height in known.items() if height is not None}


def draw_levels(frame: Frame, levels: dict[str, float], x: float) -> list[Label]:
    """Draw levels right across; return their names, to stand at ``x``."""
    labels = []
    for name, height in levels.items():
        look = LEVELS[name]
        frame.across(height, color=look.color, ls=look.dash, lw=1.0)
        labels.append(Label(x, height, f"{name} {frame.y.said(height)}", look.color))
    return labels
