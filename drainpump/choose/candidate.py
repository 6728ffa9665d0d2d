"""One pump on one line, judged: its numbers, the limits it breaks, what would admit it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from drainpump import units as u
from drainpump.choose.admit import said_change
from drainpump.choose.question import Question, Tried
from drainpump.choose.storms import WET, Dry
from drainpump.cycling.switching import cycles_of
from drainpump.doubt.band import percentiles
from drainpump.findings import Finding
from drainpump.limits.limits import unjudged_starts
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.pit import Pit
from drainpump.parts.pump.bank import Pump
from drainpump.results import html_lines
from drainpump.states import BEYOND
from drainpump.units import View
from drainpump.why.explanation import Explanation, explain

#: samples of pump, line and water for the band of a return period: each routes some ten storms
_DRY_SAMPLES = 64
#: a return period so near the table's end is its end
_END = 1 + 1e-6
_AT_LEAST = "flow is at least {}, the end of the pump's data; that bound is used"


class _Told:
    """A number of the candidate's trial, at its place; None where it was not asked."""

    def __set_name__(self, owner: type, name: str) -> None:
        self.name = name

    def __get__(self, candidate: Any, owner: type | None = None) -> Any:
        if candidate is None:
            return self
        column = candidate._tried.columns[self.name.strip("_")]
        return None if column is None else float(column[candidate._at])


@dataclass(frozen=True, eq=False)
class Candidate(u.Measured):
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
        ``run_short``, ``returned_overflows``, ``range_share_high``, ``best_flow_off``,
        ``best_flow_not_preferred``, ``solids_small``, ``solids_unknown``, ``voltage_other``,
        ``voltage_unknown``, ``pipe_below_outlet``, ``start_not_known``, ``no_flow``,
        ``below_curve``, ``multiple`` and ``bad_input``.
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

    rank: int
    _tried: Tried
    _at: tuple[int, int]
    _listed: Callable[[], str] = str
    _solves: bool = False

    _probability, _cost = _Told(), _Told()
    _flow, _low, _high, _head, _slowest, _fastest, _energy = (_Told() for _ in range(7))
    _worst_rate, _shortest_run, _peak_depth, _peak_pond = (_Told() for _ in range(4))
    _ponded, _overflow, _starts, _longest, _joules, _to_overflow = (_Told() for _ in range(6))

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

    @property
    def _asked(self) -> Question:
        return self._tried.asked

    @property
    def probability(self) -> float | None:
        """Of carrying the need; None without a doubt."""
        return self._probability  # type: ignore[no-any-return]

    @property
    def cost(self) -> float | None:
        """Over the years, in the user's currency; None without costs."""
        return self._cost  # type: ignore[no-any-return]

    @property
    def pump(self) -> Pump:
        """The pump or bank."""
        return self._tried.judged.op.si.grid.pumps[self._at[0]]  # type: ignore[no-any-return]

    @property
    def line(self) -> DischargeLine:
        """The line."""
        return self._tried.judged.op.si.grid.lines[self._at[1]]  # type: ignore[no-any-return]

    @property
    def pit(self) -> Pit | None:
        """The pit in which it was judged."""
        return self._tried.pit

    @property
    def number(self) -> int:
        """The pit's place among those given, from 1."""
        return self._tried.number

    @property
    def status(self) -> str:
        """That of the operating point at the off level."""
        return str(np.asarray(self._tried.judged.op.status)[self._at])

    # words are found when first asked for: of most candidates nobody does

    @cached_property
    def reasons(self) -> tuple[Finding, ...]:
        """Hard limits not kept; empty where accepted."""
        return self._tried.judged.findings(self._at, hard=True)

    @cached_property
    def warnings(self) -> tuple[Finding, ...]:
        """Soft limits not kept, which never reject."""
        return self._tried.judged.findings(self._at, hard=False)

    @cached_property
    def notes(self) -> tuple[str, ...]:
        """What to know though it does not reject."""
        return (*_notes(self._tried, self._at), *_floats(self._tried, self._at))

    @cached_property
    def _dry(self) -> Dry | None:
        storms, suffered = self._asked.storms, self._tried.suffered
        if storms is None or storms.period is None or suffered is None or self.pit is None:
            return None
        return storms.dry(self.pump, self.line, self.pit, suffered.margin[self._at])

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
        if self._dry is None or self._asked.storms is None:
            return None
        return self._asked.storms.chance(self._dry.period)

    @cached_property
    def _dry_band(self) -> tuple[float, float] | None:
        """P10 and P90 of the return period (years), over samples of pump, line and water."""
        storms, doubt = self._asked.storms, self._asked.doubt
        if storms is None or doubt is None or self._dry is None or self.pit is None:
            return None
        sampled = storms.dry_sampled(
            self.pump, self.line, self.pit, doubt, _DRY_SAMPLES, self._asked.seed
        )
        low, high = (float(u.from_si(x, "year")) for x in percentiles(sampled)[[0, -1]])
        return low, high

    @property
    def dry_up_to_low_year(self) -> float | None:
        """P10 of that return period, over 64 samples of pump, line and water.

        Found when first asked for. Where the table of storms ends it is its end; None
        without a doubt.
        """
        return None if self._dry_band is None else self._dry_band[0]

    @property
    def dry_up_to_high_year(self) -> float | None:
        """P90 of that return period, as the low one."""
        return None if self._dry_band is None else self._dry_band[1]

    @property
    def dry(self) -> str:
        """How rare a storm it keeps, in words: "" without return periods."""
        storms = self._asked.storms
        if self._dry is None or storms is None or storms.period is None:
            return ""
        first, last, years = (
            float(u.from_si(x, "year"))
            for x in (storms.period[0], storms.period[-1], self._dry.period)
        )
        words, bound = {
            "ok": ("dry up to the {}-year storm", ""),
            "below": ("not dry in the {}-year storm, the most frequent given", "more than "),
            "beyond": ("dry beyond the {}-year storm, the rarest given", "less than "),
        }[self._dry.status]
        band = ""
        if self._dry_band is not None:
            low, high = self._dry_band
            less = "less than " if low <= first * _END else ""
            more = "more than " if high * _END >= last else ""
            band = f" ({less}{low:.3g} to {more}{high:.3g} eight times in ten)"
        chance = f"{bound}{storms.chance(self._dry.period):.3g}"
        said = words.format(f"{years:.3g}")
        return f"{said}{band}; it fails in any year with probability {chance}"

    @cached_property
    def change(self) -> str:
        """The smallest change that would admit it; "" where it is accepted."""
        if self.accepted:
            return ""
        tried = self._asked, self.pump, self.line, self.pit, self.reasons
        return said_change(*tried, listed=self._listed(), solves=self._solves)

    def explain(self) -> Explanation:
        """Say why it moves what it moves, and what would mend it.

        Returns
        -------
        Explanation
            As `explain` with this candidate's need, limits, pit, costs and doubt.
        """
        asked = self._asked
        need = {} if asked.need is None else asked.need.spelled("need")
        return explain(
            self.pump, self.line, limits=asked.limits, pit=self.pit, doubt=asked.doubt,
            costs=asked.costs, **need,
        )  # fmt: skip

    @property
    def accepted(self) -> bool:
        """True where no hard limit is broken."""
        return not self._tried.judged.rejected[self._at]

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
        flow = self._asked.said(self._flow, "gpm")
        return f"Candidate({self.pump.name} on {self.line.name}: {flow}; {verdict})"


def _floats(tried: Tried, at: tuple[int, int]) -> Iterator[str]:
    """Whose float is in force, and what the other would do."""
    pit, grid = tried.pit, tried.judged.op.si.grid
    pump, line = grid.pumps[at[0]], grid.lines[at[1]]
    said = "" if pit is None else pit.floats_said(pump)
    if pit is None or not said:
        return
    fits = getattr(pump, "on_mm", None) is not None and pump.si.on <= pit.si.depth
    if not pit.whose and fits and not tried.judged.rejected[at]:
        bare = pit.variant(off_mm=None, on_mm=None, inlet_in=None, alarm_in=None)
        often = cycles_of(pump, line, bare, np.zeros(())).si.worst_rate
        said += f": on them {u.text(often, 'per_h')} starts in the worst case"
    yield said


def _notes(tried: Tried, at: tuple[int, int]) -> Iterator[str]:
    """What to know of one pair though it does not reject it."""
    op, still = tried.judged.op, tried.judged.still
    if op.si.code[at] == BEYOND:
        yield _AT_LEAST.format(tried.asked.said(op.si.counted[at], "gpm"))
    yield from op.si.grid.pumps[at[0]].notes
    if tried.prices is not None and (matters := tried.prices.note(at)):
        yield matters
    often = "" if still is None else unjudged_starts(tried.judged.limits, still.si.worst_rate[at])
    if often:
        yield often
