"""One look for each cause of loss and each level of a pit, the same in every picture.

In the order in which causes stand on each other dark and light take turns, so that
neighbours hold in grey and for eyes that tell red from green badly; hatch and dash
differ between any two.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, NamedTuple

from drainpump.parts.pit import Pit
from drainpump.parts.pump.bank import PumpBank
from drainpump.plots.frame import Frame, Label, Style


class Cause(NamedTuple):
    """How a cause is drawn; ``ink`` is what its hatch is drawn with."""

    color: str
    ink: str
    hatch: str | None
    dash: Any

    @property
    def bar(self) -> dict[str, Any]:
        """Keywords of its bars: a dark dash round a light one; of a dark one the gaps are light."""
        dark, dashed = self.ink == "white", self.dash != "solid"
        return {"facecolor": self.color, "edgecolor": self.ink, "hatch": self.hatch,
                "ls": _gaps(self.dash) if dark and dashed else self.dash,
                "lw": (1.2 if dashed else 0.0) if dark else 0.8}  # fmt: skip


def _gaps(dash: Any) -> Any:
    """The dash of what a dash leaves out: a light line so drawn cuts a dark rim into it."""
    _, (first, *rest) = dash
    return sum(rest), (*rest, first)


#: in the order of the steps of an explanation
CAUSES = {
    "lift": Cause("#004488", "white", None, "solid"),
    "pipe": Cause("#9ecae1", "black", "////", (0, (6, 2))),
    "elbows": Cause("#7a5f00", "white", "\\\\", (0, (2, 1.5))),
    "fittings": Cause("#f0e2b6", "black", "....", (0, (8, 2, 2, 2))),
    "valve": Cause("#00564f", "white", "xx", (0, (4, 1, 1, 1, 1, 1))),
    "exit": Cause("#d9b8a0", "black", "----", (0, (1, 1))),
    "lid": Cause("#5e3c99", "white", "++", (0, (10, 2))),
    "pump": Cause("0.35", "white", None, "solid"),
}

#: what a cause's or a doubtful input's name holds, and whose look it has; the first that fits
_WORDS = {
    "lift": "lift", "length": "pipe", "pipe": "pipe", "bore": "pipe", "elbow": "elbows",
    "valve": "valve", "exit": "exit", "lid": "lid", "pump": "pump",
}  # fmt: skip


def cause_of(name: str) -> Cause:
    """Return the look of a cause, or of the cause that a doubtful input belongs to.

    >>> cause_of("check valve") is CAUSES["valve"], cause_of("tees") is CAUSES["fittings"]
    (True, True)
    """
    return CAUSES[next((kind for word, kind in _WORDS.items() if word in name), "fittings")]


def dress(bars: Any, names: Iterable[str], **more: Any) -> None:
    """Give each bar of a container the look of its cause."""
    for bar, name in zip(bars, names, strict=True):
        bar.set(**cause_of(name).bar | more)


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
