"""A grid of pumps and lines held against the limits: what each pair breaks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np

from drainpump.cycling.switching import Cycle, cycles_of
from drainpump.doubt.surely import starts_within
from drainpump.findings import Finding
from drainpump.limits.limit_tests import Rule, Sure, rules
from drainpump.limits.limits import Limits
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.pit import Pit
from drainpump.parts.pump.bank import Pump
from drainpump.solve.operating_point import OperatingPoint, operating_point
from drainpump.units import FloatArray


@dataclass(frozen=True, eq=False)
class Judged:
    """Operating points (P, L), the pit's cycles with no inflow, and every test over them."""

    op: OperatingPoint
    still: Cycle | None  # its shortest runs, and its starts in the worst case
    sure: Sure | None
    rules: list[Rule]
    limits: Limits

    @cached_property
    def rejected(self) -> Any:
        """True where a pair breaks a hard limit (P, L)."""
        return np.any([rule.fails for rule in self.rules if self.hard(rule)], axis=0)

    def hard(self, rule: Rule) -> bool:
        """True where breaking the rule rejects."""
        return not {rule.limit_name, rule.code} & {*self.limits.soft}

    @property
    def missed(self) -> FloatArray:
        """How far each pair is from being accepted: its misses, each a share, added up."""
        off = [rule.missed for rule in self.rules if self.hard(rule)]
        return np.asarray(np.sum(np.broadcast_arrays(*off), axis=0))

    def findings(self, at: tuple[int, ...], hard: bool) -> tuple[Finding, ...]:
        """The hard limits that one pair breaks, or the soft ones, which only warn."""
        pump, line = self.op.si.grid.pumps[at[0]], self.op.si.grid.lines[at[1]]
        return tuple(
            rule.finding(
                at, f"{pump.name} on {line.name}", self.limits.sources.get(rule.limit_name, "")
            )
            for rule in self.rules
            if rule.fails[at] and self.hard(rule) == hard
        )


def judge(
    pumps: Sequence[Pump],
    lines: Sequence[DischargeLine],
    pit: Pit | None,
    need: FloatArray,
    limits: Limits,
    sure: Sure | None = None,
    more: Sequence[Rule] = (),
) -> Judged:
    """Solve every pump on every line and hold it against the limits; ``need`` in m³/s.

    ``more`` are rules of others, over the same pumps and lines.
    """
    op = operating_point(pumps, lines)
    still = None if pit is None else cycles_of(pumps, lines, pit, np.zeros(()))
    plain = Judged(op, still, sure, [*rules(op, still, need, limits, sure), *more], limits)
    if pit is None or sure is None or not limits.applies("starts_max"):
        return plain
    # samples of starts are dear: only where nothing else rejects
    rare = starts_within(sure.band, pit, limits.si.starts_max, ~plain.rejected)
    sure = replace(sure, rare_starts=rare)
    return Judged(op, still, sure, [*rules(op, still, need, limits, sure), *more], limits)
