"""What is asked of a choice: the need, how sure, the limits; and pumps on lines judged by it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from drainpump import units as u
from drainpump.doubt.band import band
from drainpump.doubt.doubt import Doubt
from drainpump.limits.costs import Costs
from drainpump.limits.judged import Judged, judge
from drainpump.limits.limit_tests import Sure
from drainpump.limits.limits import Limits
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.pit import Pit
from drainpump.parts.pump.bank import Pump

__all__ = ["Question"]


@dataclass(frozen=True, eq=False)
class Question:
    """What every candidate of a choice is held against, so that a change can be too."""

    need: u.Measure
    limits: Limits
    doubt: Doubt | None
    certainty: float
    samples: int
    seed: int
    costs: Costs | None = None

    def judge(
        self, pumps: Sequence[Pump], lines: Sequence[DischargeLine], pit: Pit | None
    ) -> Judged:
        """Hold every pump on every line against it."""
        sure = None
        if self.doubt is not None:
            spread = band(pumps, lines, self.doubt, self.samples, self.seed)
            sure = Sure(spread, self.need.si, self.certainty)
        return judge(pumps, lines, pit, self.need.si, self.limits, sure)

    def serves(self, pump: Pump, line: DischargeLine, pit: Pit | None) -> bool:
        """Whether one pump on one line is accepted."""
        return not bool(self.judge([pump], [line], pit).rejected[0, 0])
