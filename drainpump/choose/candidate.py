"""One pump on one line, judged: its numbers, the limits it breaks, what would admit it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from drainpump import units as u
from drainpump.choose.admit import said_change
from drainpump.choose.objectives import energy
from drainpump.choose.question import Question
from drainpump.findings import Finding
from drainpump.limits.costs import CostGrid
from drainpump.limits.judged import Judged
from drainpump.limits.limit_tests import velocities
from drainpump.limits.limits import unjudged_starts
from drainpump.results import html_lines
from drainpump.states import BEYOND
from drainpump.units import View

if TYPE_CHECKING:
    from drainpump.parts.line.line import DischargeLine
    from drainpump.parts.pit import Pit
    from drainpump.parts.pump.bank import Pump

__all__ = ["Candidate", "candidates"]

_AT_LEAST = "flow is at least {}, the end of the pump's data; that bound is used"


@dataclass(frozen=True, eq=False)
class Candidate:
    """One pump on one line, judged.

    Attributes
    ----------
    pump : PumpCurve or PumpBank
    line : DischargeLine
    rank : int
        1 for the best; rejected candidates come after all accepted ones.
    status : str
        That of the operating point at the off level.
    reasons, warnings : tuple of Finding
        Hard limits not kept (empty where accepted), and soft ones, which never reject. Their
        codes: ``flow_short``, ``flow_uncertain``, ``flow_ample``, ``hand_off_short``,
        ``velocity_low``, ``velocity_high``, ``starts_high``, ``starts_uncertain``,
        ``run_short``, ``range_share_high``, ``best_flow_off``, ``best_flow_not_preferred``,
        ``solids_small``, ``solids_unknown``, ``voltage_other``, ``voltage_unknown``,
        ``pipe_below_outlet``, ``no_flow``, ``below_curve``, ``multiple`` and ``bad_input``.
    notes : tuple of str
        What to know though it does not reject.
    change : str
        For a rejected one: the smallest change that would admit it, found by solving when
        first asked for (floats, outlet, pipe, pit, a second pump), and what on the list
        would take its place.
    pit : Pit or None
        In which it was judged.
    flow_gpm, flow_lps, head_ft, head_m : float
        Operating point at the pump-off level: the flow that may be counted on, and the
        head where the flow is known.
    velocity_slowest_fps, velocity_fastest_fps : float (and ``_mps``)
        Over all runs, as it is to be reckoned with.
    worst_starts_per_h, shortest_run_s : float or None
        Over all inflows, and with none; None without a pit.
    flow_low_gpm, flow_high_gpm : float or None (and ``_lps``)
        P10 and P90 of the flow; None without a doubt.
    probability : float or None
        Of carrying the need; None without a doubt.
    cost : float or None
        Over the years, in the user's currency; None without costs.
    energy_wh : float
        For each cubic metre moved; NaN where the power is not known.
    """

    pump: Pump
    line: DischargeLine
    rank: int
    status: str
    reasons: tuple[Finding, ...]
    warnings: tuple[Finding, ...]
    notes: tuple[str, ...]
    _flow: float
    _low: float | None
    _high: float | None
    _head: float
    _slowest: float
    _fastest: float
    _worst_rate: float | None
    _shortest_run: float | None
    probability: float | None
    cost: float | None
    _energy: float
    pit: Pit | None = None
    _asked: Question | None = None
    _listed: str = ""
    _solves: bool = False

    flow_gpm, flow_lps = View("_flow"), View("_flow")
    flow_low_gpm, flow_low_lps = View("_low", maybe=True), View("_low", maybe=True)
    flow_high_gpm, flow_high_lps = View("_high", maybe=True), View("_high", maybe=True)
    head_ft, head_m = View("_head"), View("_head")
    velocity_slowest_fps, velocity_slowest_mps = View("_slowest"), View("_slowest")
    velocity_fastest_fps, velocity_fastest_mps = View("_fastest"), View("_fastest")
    worst_starts_per_h = View("_worst_rate", maybe=True)
    shortest_run_s = View("_shortest_run", maybe=True)
    energy_wh = View("_energy")

    @property
    def si(self) -> u.SI:
        """The candidate's quantities in SI, by the stem of their names: ``c.si.flow``."""
        return u.SI(self)

    @cached_property
    def change(self) -> str:
        """The smallest change that would admit it; "" where it is accepted."""
        if self.accepted:
            return ""
        asked = self._asked if self._solves else None
        return said_change(asked, self.pump, self.line, self.pit, self.reasons, self._listed)

    @property
    def accepted(self) -> bool:
        """True where no hard limit is broken."""
        return not self.reasons

    def _repr_html_(self) -> str:
        quantities = {v.name: v.__get__(self) for v in u.views(type(self))}
        said = [f"{name}: {u.number(x)}" for name, x in quantities.items() if x is not None]
        said += [f"{word}: {r.text}" for word, found in self._found.items() for r in found]
        return html_lines("\n".join([repr(self), *said, *(f"note: {x}" for x in self.notes)]))

    @property
    def _found(self) -> dict[str, tuple[Finding, ...]]:
        return {"rejected": self.reasons, "warned": self.warnings}

    def __repr__(self) -> str:
        verdict = "accepted" if self.accepted else "; ".join(r.text for r in self.reasons)
        if not self.accepted:
            verdict += f"; {self.change}"
        return (
            f"Candidate({self.pump.name} on {self.line.name}: "
            f"{u.both(self._flow, 'gpm')}; {verdict})"
        )


def candidates(
    judged: Judged,
    costs: CostGrid | None,
    order: Sequence[tuple[int, int]],
    asked: Question,
    pit: Pit | None,
) -> Iterator[Candidate]:
    """Turn the grids into candidates, in the order of their ranks."""
    op, still, sure = judged.op, judged.still, judged.sure
    slowest, fastest = velocities(op)
    columns = {
        "_flow": op.si.counted,
        "_low": None if sure is None else sure.band.si.flow[0],
        "_high": None if sure is None else sure.band.si.flow[-1],
        "_head": op.si.head,
        "_slowest": slowest,
        "_fastest": fastest,
        "_worst_rate": None if still is None else still.si.worst_rate,
        "_shortest_run": None if still is None else still.si.run,
        "probability": None if sure is None else sure.probability,
        "cost": None if costs is None else costs.total,
        "_energy": energy(op),
    }
    status = np.asarray(op.status)
    for rank, at in enumerate(order, 1):
        numbers: dict[str, Any] = {
            name: None if column is None else float(column[at]) for name, column in columns.items()
        }
        yield Candidate(
            pump=op.si.grid.pumps[at[0]],
            line=op.si.grid.lines[at[1]],
            rank=rank,
            status=str(status[at]),
            reasons=judged.findings(at, hard=True),
            warnings=judged.findings(at, hard=False),
            notes=tuple(_notes(judged, costs, at)),
            pit=pit,
            _asked=asked,
            **numbers,
        )


def _notes(judged: Judged, costs: CostGrid | None, at: tuple[int, int]) -> Iterator[str]:
    """What to know of one pair though it does not reject it."""
    op = judged.op
    if op.si.code[at] == BEYOND:
        yield _AT_LEAST.format(u.both(op.si.counted[at], "gpm"))
    yield from op.si.grid.pumps[at[0]].notes
    if costs is not None and (matters := costs.note(at)):
        yield matters
    if judged.still is not None:
        often = unjudged_starts(judged.limits, float(judged.still.si.worst_rate[at]))
        if often:
            yield often
