"""One pit with the pumps that may run in it, as a storm is walked through it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from drainpump.routing.drawdown import Drive, Priming

#: what drives the pumps during a piece of time
MAINS, LEAD_FAILED, BATTERY, NO_POWER = range(4)


class Stage(NamedTuple):
    """The pumps that run together: on the full line, and while it fills."""

    drive: Drive
    priming: Priming | None  # None where the line stays full


@dataclass(frozen=True, eq=False)
class Station:
    """One pit with its pumps, in volumes of stored water above the off level (m³)."""

    stages: list[list[Stage | None]]  # by supply, then by how many floats are up
    floats: list[int]  # nodes at which the floats go up, lead first
    overflow: float  # infinite without an overflow level
    rim: float
    returning: float  # runs back from the line at each stop
    tail: Drive | None  # tail water that runs back while no pump runs, as a flow below 0
    battery: float  # J
    kept: float  # share of the discharge that does not soak back

    @property
    def nodes(self) -> list[float]:
        """Stored water at the levels, up to the rim or to the overflow level below it."""
        stage = self.stages[MAINS][1]
        assert stage is not None
        return stage.drive.nodes

    @property
    def working(self) -> float:
        """Water between the off level and the lead pump's float, m³."""
        return self.nodes[self.floats[0]]
