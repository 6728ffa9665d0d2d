"""Rules of thumb beside the truth: how wrong each is here, and where it holds.

The rules are common practice, no source; the truth is the engine's. The outlet's lid is
left out of the rules, as it is on site.
"""

from __future__ import annotations

import html
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from drainpump import states
from drainpump import units as u
from drainpump.errors import wrong
from drainpump.limits.limit_tests import inch_size
from drainpump.physics import system
from drainpump.physics.constants import GRAVITY
from drainpump.physics.tables import read_table
from drainpump.results import check_units, html_table, plain
from drainpump.solve.one_case import one_case
from drainpump.solve.operating_point import OperatingPoint, operating_point, solve_arrays
from drainpump.units import View
from drainpump.why.losses import flow_at_head

if TYPE_CHECKING:
    import pandas as pd

    from drainpump.parts.line.line import DischargeLine
    from drainpump.parts.line.pipe import Pipe
    from drainpump.parts.pump.bank import Pump

_SOURCE = "common practice, no source"
_FOOT = 0.3048
#: what must be so for each rule to hold
_HOLDS = {row["rule"]: row["holds"] for row in read_table("rules_of_thumb.csv")}


@dataclass(frozen=True, eq=False)
class RuleOfThumb:
    """One guess beside the truth.

    Attributes
    ----------
    name : str
        The rule in words.
    guess_gpm, guess_lps, truth_gpm, truth_lps : float or None
        What the rule says and what is so, where the rule is about a flow.
    guess_ft, guess_m, truth_ft, truth_m : float or None
        The same where it is about a length of pipe.
    error : float
        Guess over truth, less 1: 0.63 reads 63 % too much; NaN where the truth is 0.
    holds : str
        What must be so for the rule to hold.
    bound : str
        "at least" or "at most" where the guess or the truth lies past the pump's points, "not
        known" where it is the greatest of several crossings.
    source : str
    """

    name: str
    holds: str
    bound: str = ""
    _guess_flow: float | None = None  # m³/s
    _truth_flow: float | None = None
    _guess_length: float | None = None  # of pipe, m
    _truth_length: float | None = None
    source: str = _SOURCE

    guess_gpm, guess_lps = View("_guess_flow", maybe=True), View("_guess_flow", maybe=True)
    truth_gpm, truth_lps = View("_truth_flow", maybe=True), View("_truth_flow", maybe=True)
    guess_ft, guess_m = View("_guess_length", maybe=True), View("_guess_length", maybe=True)
    truth_ft, truth_m = View("_truth_length", maybe=True), View("_truth_length", maybe=True)

    @property
    def _both(self) -> tuple[Any, Any]:
        """Guess and truth."""
        if self._guess_length is None:
            return self._guess_flow, self._truth_flow
        return self._guess_length, self._truth_length

    @property
    def error(self) -> float:
        """Guess over truth, less 1."""
        guess, truth = self._both
        return guess / truth - 1 if truth else float("nan")

    def text(self, units: u.System = "us") -> str:
        """Say the rule in one line."""
        us = check_units(units) == "us"
        unit = ("gpm" if us else "lps") if self._guess_length is None else ("ft" if us else "m")
        guess, truth = (u.text(x, unit) for x in self._both)
        bound = f" ({self.bound})" if self.bound else ""
        off = "" if np.isnan(self.error) else f", {self.error:+.0%}"
        if self.error > 2:
            off = f", {self.error + 1:.0f} times as much"
        return f"{self.name}: {guess}{bound}, in truth {truth}{off}; holds {self.holds}"

    def __repr__(self) -> str:
        return f"RuleOfThumb({self.text()})"

    def _repr_html_(self) -> str:
        return f"<p>{html.escape(self.text())}</p>"


@dataclass(frozen=True, eq=False, repr=False)
class RulesOfThumb:
    """The rules for one pump on one line; a sequence of `RuleOfThumb`, also by name.

    Attributes
    ----------
    rules : tuple of RuleOfThumb
    operating : OperatingPoint
        The truth.
    source : str
        Where the rules come from: common practice, no source.
    """

    rules: tuple[RuleOfThumb, ...]
    operating: OperatingPoint
    source: str = _SOURCE

    def __iter__(self) -> Iterator[RuleOfThumb]:
        return iter(self.rules)

    def __len__(self) -> int:
        return len(self.rules)

    def __getitem__(self, which: int | str) -> RuleOfThumb:
        """Return a rule by its place or its name."""
        if not isinstance(which, str):
            return self.rules[which]
        by_name = {rule.name: rule for rule in self.rules}
        if which not in by_name:
            known = ", ".join(map(repr, by_name))
            raise wrong("rule", which, f"must be one of {known}", "pick one of them")
        return by_name[which]

    def to_dict(self) -> dict[str, Any]:
        """Return plain values, one mapping a rule; both spellings of each quantity."""
        return {"source": self.source, "rules": plain(self._rows(u.views(RuleOfThumb)))}

    def _rows(self, picked: Iterable[View[Any]]) -> list[dict[str, Any]]:
        picked = list(picked)
        return [
            {"rule": r.name}
            | {v.name: v.__get__(r) for v in picked}
            | {"error": r.error, "bound": r.bound, "holds": r.holds, "source": r.source}
            for r in self.rules
        ]

    def to_frame(self, units: u.System = "us") -> pd.DataFrame:
        """Return one row per rule: guess, truth and error, columns in one unit system."""
        import pandas as pd

        picked = list(u.views(RuleOfThumb, check_units(units)))
        frame = pd.DataFrame(self._rows(picked))
        names = [v.name for v in picked]
        return frame.astype(dict.fromkeys(names, float)).dropna(axis="columns", how="all")

    def text(self, units: u.System = "us") -> str:
        """Say all rules, one a line, with what they are worth."""
        title = f"Rules of thumb ({self.source}) beside the truth:"
        return "\n".join([title, *(f"  - {rule.text(units)}" for rule in self.rules)])

    def __repr__(self) -> str:
        return self.text()

    def _repr_html_(self) -> str:
        title = html.escape(f"Rules of thumb ({self.source}) beside the truth")
        return f"<p>{title}</p>{html_table(self.to_frame())}"


def rules_of_thumb(pump: Pump, line: DischargeLine) -> RulesOfThumb:
    """Put common guesses beside the truth for one pump on one line.

    Parameters
    ----------
    pump : PumpCurve or PumpBank
    line : DischargeLine
        One of each, of scalars.

    Returns
    -------
    RulesOfThumb

    Raises
    ------
    InputError
        Arrays.
    StatusError
        No operating flow can be told: an input is NaN.

    Notes
    -----
    All rules are common practice, no source. None counts the outlet's lid. A guess past
    the pump's points is the bound, and says so. An elbow is worth K·D/f of its own pipe, f
    the pipe's friction factor at the operating flow. What twice the horsepower gives is not
    told: another motor is another pump, and only its own curve knows.

    Examples
    --------
    >>> import drainpump as dp
    >>> pump = dp.PumpCurve(name="A", flow_gpm=[0, 15, 30, 50], head_ft=[20, 18.2, 12.8, 0])
    >>> line = dp.straight_line(pipe=dp.pvc("1-1/2"), length_ft=150, lift_ft=6, k=6.3)
    >>> rule = dp.teach.rules_of_thumb(pump, line)["read the pump's table at the lift"]
    >>> round(rule.guess_gpm, 1), round(rule.truth_gpm, 1), round(rule.error, 2)
    (41.9, 25.9, 0.62)
    """
    op = one_case("rules_of_thumb", pump, line, told=True)
    works: tuple[Callable[[Pump, DischargeLine, OperatingPoint], list[RuleOfThumb]], ...]
    works = (_constant_heads, _per_elbow, _nominal, _two_pumps)
    return RulesOfThumb(tuple(rule for work in works for rule in work(pump, line, op)), op)


def _flow_rule(name: str, guess: Any, truth: Any, *status: Any, here: str = "") -> RuleOfThumb:
    """A rule about a flow, with the statuses of the flows it rests on."""
    bound = next((b for b in map(states.bound, status) if b), "")
    return RuleOfThumb(name, _HOLDS[name].format(here=here), bound, float(guess), float(truth))


def _constant_heads(pump: Pump, line: DischargeLine, op: OperatingPoint) -> list[RuleOfThumb]:
    plain, truth = line.si.arrays, op.si.reckoned
    lift, run = float(plain.end[-1] + plain.tail), float(line.si.length)
    flows, status = flow_at_head(pump, line, np.array([lift, lift + run / 10]))
    here = ""
    if run > 0:
        share = (float(system.head(truth, plain)) - lift) / run
        here = f"; here they total {u.number(100 * share)} ft in 100 ft"
    names = ("read the pump's table at the lift", "ten feet of run as one foot of head")
    return [
        _flow_rule(name, q, truth, s, op.status, here=here)
        for name, q, s in zip(names, flows, status, strict=True)
    ]


def _per_elbow(_: Pump, line: DischargeLine, op: OperatingPoint) -> list[RuleOfThumb]:
    """Eight feet of pipe an elbow; nothing to tell where nothing flows or nothing bends."""
    plain, flow = line.si.arrays, op.si.reckoned
    metre_of = replace(plain, length=np.ones_like(plain.length)).without("k", "fitting_length")
    slopes = np.diff(system.losses(flow, metre_of), axis=0, prepend=0.0)
    squares = (flow / plain.area) ** 2 / (2 * GRAVITY)
    count = worth = 0.0
    for run, slope, square in zip(line.runs, slopes, squares, strict=True):
        for loss in run.losses:
            if loss.name.startswith("elbow") and slope > 0:
                count += float(loss.count)
                worth += float(loss.k * square / slope + loss.length)
    if count == 0:
        return []
    name = "eight feet of pipe an elbow"
    holds = _HOLDS[name].format(here=f"; here it is {u.both(worth / count, 'ft')}")
    return [RuleOfThumb(name, holds, _guess_length=8 * _FOOT * count, _truth_length=worth)]


def _nominal(pump: Pump, line: DischargeLine, op: OperatingPoint) -> list[RuleOfThumb]:
    bores = np.array([_size_called(run.pipe) for run in line.runs])
    nominal = line.si.arrays.map(lambda name, a: bores if name == "diameter" else a)
    then, name = solve_arrays(pump, nominal), "the nominal size for the true bore"
    return [_flow_rule(name, then.si.reckoned, op.si.reckoned, then.status, op.status)]


def _size_called(pipe: Pipe) -> float:
    """The size (m) a pipe is called by; of a bore of one's own, the nearest Schedule 40 size."""
    if pipe.nominal is not None and pipe.nominal.endswith("mm"):
        return float(pipe.nominal.split()[0]) * 1e-3
    return inch_size(pipe)


def _two_pumps(pump: Pump, line: DischargeLine, op: OperatingPoint) -> list[RuleOfThumb]:
    then, name = operating_point(pump.si.scaled(1.0, 2.0), line), "two pumps, twice the flow"
    return [_flow_rule(name, 2 * op.si.reckoned, then.si.reckoned, op.status, then.status)]
