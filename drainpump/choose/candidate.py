"""One pump on one line, judged: its numbers, the limits it breaks, what would admit it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from drainpump import units as u
from drainpump.choose.admit import said_change
from drainpump.choose.objectives import energy
from drainpump.choose.question import Case, Question
from drainpump.choose.storms import WET, Dry
from drainpump.cycling.switching import cycles_of
from drainpump.doubt.band import percentiles
from drainpump.findings import Finding
from drainpump.limits.costs import CostGrid
from drainpump.limits.judged import Judged
from drainpump.limits.limit_tests import velocities
from drainpump.limits.limits import unjudged_starts
from drainpump.results import html_lines
from drainpump.states import BEYOND
from drainpump.units import View
from drainpump.why.explanation import Explanation, explain

if TYPE_CHECKING:
    from drainpump.parts.line.line import DischargeLine
    from drainpump.parts.pit import Pit
    from drainpump.parts.pump.bank import Pump

__all__ = ["Candidate", "candidates"]

#: draws of pump, line and water for the band of a return period: each routes some ten storms
_DRY_SAMPLES = 64
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
        In which it was judged; ``number`` is its place among those given, from 1.
    peak_pond_in, peak_pond_gal, pond_min, overflow_gal, starts, longest_run_min, energy_kwh
        What storms do, each the worst of all storms: depth and volume above the rim, minutes
        with water above it, what ran over, starts, longest run, energy. None without storms.
    to_overflow_min : float or None
        Minutes from the on level to the rim without power, at the storms' greatest inflow.
    dry_up_to_year : float or None
        Return period up to which the limits on pond and overflow hold, where the storms
        have theirs; ``dry_status`` says where their table ends before.
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
    _case: Case
    _at: tuple[int, int]
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
    number: int = 1
    _asked: Question | None = None
    _listed: Callable[[], str] = str
    _solves: bool = False
    _margin: Any = None
    _peak_depth: float | None = None
    _peak_pond: float | None = None
    _ponded: float | None = None
    _overflow: float | None = None
    _starts: float | None = None
    _longest: float | None = None
    _joules: float | None = None
    _to_overflow: float | None = None

    flow_gpm, flow_lps = View("_flow"), View("_flow")
    flow_low_gpm, flow_low_lps = View("_low", maybe=True), View("_low", maybe=True)
    flow_high_gpm, flow_high_lps = View("_high", maybe=True), View("_high", maybe=True)
    head_ft, head_m = View("_head"), View("_head")
    velocity_slowest_fps, velocity_slowest_mps = View("_slowest"), View("_slowest")
    velocity_fastest_fps, velocity_fastest_mps = View("_fastest"), View("_fastest")
    worst_starts_per_h = View("_worst_rate", maybe=True)
    shortest_run_s = View("_shortest_run", maybe=True)
    energy_wh = View("_energy")
    peak_pond_in, peak_pond_mm = View("_peak_depth", maybe=True), View("_peak_depth", maybe=True)
    peak_pond_gal, peak_pond_l = View("_peak_pond", maybe=True), View("_peak_pond", maybe=True)
    pond_min = View("_ponded", maybe=True)
    overflow_gal, overflow_l = View("_overflow", maybe=True), View("_overflow", maybe=True)
    starts = View("_starts", maybe=True)
    longest_run_min = View("_longest", maybe=True)
    energy_kwh = View("_joules", maybe=True)
    to_overflow_min = View("_to_overflow", maybe=True)
    dry_up_to_year = View("_dry_up_to", maybe=True)

    @cached_property
    def _dry(self) -> Dry | None:
        asked = self._asked
        if asked is None or asked.storms is None or asked.storms.period is None:
            return None
        assert self.pit is not None
        return asked.storms.dry(self.pump, self.line, self.pit, self._margin)

    @property
    def _dry_up_to(self) -> float | None:
        return None if self._dry is None else self._dry.period

    @property
    def dry_status(self) -> str:
        """``ok``, or ``below`` or ``beyond`` where the table of storms ends; "" without one."""
        return "" if self._dry is None else self._dry.status

    @property
    def yearly_probability(self) -> float | None:
        """Of a storm in any year in which the limits fail."""
        if self._dry is None:
            return None
        assert self._asked is not None
        assert self._asked.storms is not None
        return self._asked.storms.chance(self._dry.period)

    @cached_property
    def _dry_band(self) -> tuple[float, float] | None:
        """P10 and P90 of the return period (s), over draws of pump, line and water."""
        asked = self._asked
        if asked is None or asked.storms is None or asked.doubt is None or self._dry is None:
            return None
        assert self.pit is not None
        drawn = asked.storms.dry_drawn(
            self.pump, self.line, self.pit, asked.doubt, _DRY_SAMPLES, asked.seed
        )
        found = percentiles(drawn)
        return float(found[0]), float(found[-1])

    @property
    def dry_up_to_low_year(self) -> float | None:
        """P10 of that return period, over 64 draws of pump, line and water.

        Found when first asked for. Where the table of storms ends it is its end; None
        without a doubt.
        """
        return None if self._dry_band is None else float(u.from_si(self._dry_band[0], "year"))

    @property
    def dry_up_to_high_year(self) -> float | None:
        """P90 of that return period, as the low one."""
        return None if self._dry_band is None else float(u.from_si(self._dry_band[1], "year"))

    @property
    def dry(self) -> str:
        """How rare a storm it keeps, in words: "" without return periods."""
        if self._dry is None:
            return ""
        years = f"{float(u.from_si(self._dry.period, 'year')):.3g}"
        words = {
            "ok": f"dry up to the {years}-year storm",
            "below": f"not dry in the {years}-year storm, the most frequent given",
            "beyond": f"dry beyond the {years}-year storm, the rarest given",
        }[self._dry.status]
        chance = self.yearly_probability
        assert chance is not None
        bound = {"ok": "", "below": "more than ", "beyond": "less than "}[self._dry.status]
        low, high = self.dry_up_to_low_year, self.dry_up_to_high_year
        band = "" if low is None else f" ({low:.3g} to {high:.3g} in eight cases of ten)"
        return f"{words}{band}; it fails in any year with probability {bound}{chance:.3g}"

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
        return said_change(asked, self.pump, self.line, self.pit, self.reasons, self._listed())

    def explain(self) -> Explanation:
        """Say why it moves what it moves, and what would mend it.

        Returns
        -------
        Explanation
            As `explain` with this candidate's need, limits, pit, costs and doubt.
        """
        asked = self._asked
        if asked is None:
            return explain(self.pump, self.line, pit=self.pit)
        need = {} if asked.need is None else asked.need.spelled("need")
        return explain(
            self.pump, self.line, limits=asked.limits, pit=self.pit, doubt=asked.doubt,
            costs=asked.costs, **need,
        )  # fmt: skip

    # words are found when first asked for: of most candidates nobody does

    @cached_property
    def reasons(self) -> tuple[Finding, ...]:
        """Hard limits not kept; empty where accepted."""
        return self._case.judged.findings(self._at, hard=True)

    @cached_property
    def warnings(self) -> tuple[Finding, ...]:
        """Soft limits not kept, which never reject."""
        return self._case.judged.findings(self._at, hard=False)

    @cached_property
    def notes(self) -> tuple[str, ...]:
        """What to know of it besides."""
        case = self._case
        return (*_notes(case.judged, case.prices, self._at), *_floats(case, self._at))

    @property
    def accepted(self) -> bool:
        """True where no hard limit is broken."""
        return not self._case.judged.rejected[self._at]

    @property
    def wet_alone(self) -> bool:
        """True where it breaks no limit but those on pond and overflow."""
        return {r.code for r in self.reasons} <= WET

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
    cases: Sequence[Case], order: Sequence[tuple[int, int, int]], asked: Question
) -> Iterator[Candidate]:
    """Turn the grids into candidates, in the order of their ranks."""
    told = [(_columns(case, asked), np.asarray(case.judged.op.status)) for case in cases]
    for rank, (j, p, k) in enumerate(order, 1):
        case, at = cases[j], (p, k)
        columns, status = told[j]
        numbers: dict[str, Any] = {
            name: None if column is None else float(column[at]) for name, column in columns.items()
        }
        grid = case.judged.op.si.grid
        yield Candidate(
            pump=grid.pumps[at[0]],
            line=grid.lines[at[1]],
            rank=rank,
            status=str(status[at]),
            _case=case,
            _at=at,
            pit=case.pit,
            number=case.number,
            _asked=asked,
            _margin=None if case.suffered is None else case.suffered.margin[at],
            **numbers,
        )


def _columns(case: Case, asked: Question) -> dict[str, Any]:
    """The numbers of a case's candidates, by the candidate's field."""
    judged = case.judged
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
        "probability": None if sure is None or asked.need is None else sure.probability,
        "cost": None if case.prices is None else case.prices.total,
        "_energy": energy(op),
    }
    if case.suffered is None:
        return columns
    assert asked.storms is not None
    assert case.pit is not None
    without = asked.storms.to_overflow(case.pit)
    return columns | {
        "_peak_depth": case.suffered.worst("peak_depth"),
        "_peak_pond": case.suffered.worst("peak_pond"),
        "_ponded": case.suffered.worst("ponded"),
        "_overflow": case.suffered.worst("overflow"),
        "_starts": case.suffered.worst("starts"),
        "_longest": case.suffered.worst("longest"),
        "_joules": case.suffered.worst("energy"),
        "_to_overflow": np.full(op.si.code.shape, without),
    }


def _floats(case: Case, at: tuple[int, int]) -> Iterator[str]:
    """Whose float is in force, and what the other would do."""
    pit, grid = case.pit, case.judged.op.si.grid
    pump, line = grid.pumps[at[0]], grid.lines[at[1]]
    said = "" if pit is None else pit.floats_said(pump)
    if pit is None or not said:
        return
    fits = getattr(pump, "on_mm", None) is not None and pump.si.on <= pit.si.depth
    if not pit.whose and fits and not case.judged.rejected[at]:
        bare = pit.variant(off_mm=None, on_mm=None, inlet_in=None, alarm_in=None)
        often = cycles_of(pump, line, bare, np.zeros(())).si.worst_rate
        said += f": on them {u.text(often, 'per_h')} starts in the worst case"
    yield said


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
