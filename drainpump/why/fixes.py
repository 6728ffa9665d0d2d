"""Single changes that may bring more water, each with its gain and what it breaks."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from drainpump import units as u
from drainpump.errors import InputError
from drainpump.findings import Finding
from drainpump.limits.costs import Costs
from drainpump.limits.limit_tests import Judged, judge, velocities
from drainpump.limits.limits import Limits
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.pit import Pit
from drainpump.parts.pump.bank import Pump
from drainpump.results import check_units, html_lines
from drainpump.units import View
from drainpump.why.ideas import Idea, other_lines, other_pumps, together

#: a gain worth having, as a share of the flow: our judgement, no source
_WORTH = 0.02
#: a step of less than this share of the greatest gain is not the best one, however easy: our
#: judgement, no source
_TOO_SMALL = 0.25
#: of those that carry the need the most that is asked, as a share of the least: what asks
#: little more is weighed by its gain, our judgement, no source
_LITTLE_MORE = 1.5


def brief(si: Any, unit: str) -> str:
    """Print a quantity to three digits, as one says it.

    >>> brief(0.0016204, "gpm")
    '25.7 gpm'
    """
    return u.text(u.to_si(float(f"{float(u.from_si(si, unit)):.3g}"), unit), unit)


@dataclass(frozen=True, eq=False)
class Fix:
    """One change, and the flow it brings.

    Attributes
    ----------
    name : str
        The change in words.
    kind : str
        ``"valve"``, ``"pipe"``, ``"length"``, ``"elbows"``, ``"lid"``, ``"both"`` (two
        changes together) or ``"pump"``.
    pump : PumpCurve or PumpBank
    line : DischargeLine
        What would stand there then.
    asks : str
        What the change asks of the site.
    flow_gpm, flow_lps, gain_gpm, gain_lps : float
        The flow then, and how much more that is; a flow known only by its bound is it.
    velocity_slowest_fps, velocity_fastest_fps : float (and ``_mps``)
        Over all runs.
    breaks : tuple of Finding
        Each limit that would not be kept.
    sensible : bool
        A single step worth having, 2 % of the flow at least, that breaks no limit the
        present line keeps and worsens none that it breaks. Another pump is never one: it
        stands apart.
    serves : bool or None
        Whether it carries the need; None without one.
    price : float or None
        What is bought and laid for it, in the user's currency; None where not priced.
    effort_ft, effort_m : float
        What it asks, as a length of pipe laid: our judgement, no source.
    """

    name: str
    kind: str
    pump: Pump
    line: DischargeLine
    asks: str
    breaks: tuple[Finding, ...]
    sensible: bool
    _flow: float
    _gain: float
    _slowest: float
    _fastest: float
    _effort: float = 0.0
    price: float | None = None
    serves: bool | None = None

    flow_gpm, flow_lps = View("_flow"), View("_flow")
    gain_gpm, gain_lps = View("_gain"), View("_gain")
    velocity_slowest_fps, velocity_slowest_mps = View("_slowest"), View("_slowest")
    velocity_fastest_fps, velocity_fastest_mps = View("_fastest"), View("_fastest")

    effort_ft, effort_m = View("_effort"), View("_effort")

    @property
    def _asked(self) -> float:
        """Its price where that is known, else its effort."""
        return self._effort if self.price is None else self.price

    @property
    def _ease(self) -> float:
        """Gain for what it asks."""
        return float(self._gain / self._asked) if self._asked > 0 else float(np.inf)

    def text(self, units: u.System = "us") -> str:
        """Say the fix in one line."""
        flow = "gpm" if check_units(units) == "us" else "lps"
        sign = "+" if self._gain >= 0 else "−"
        gain = f"{sign}{brief(abs(self._gain), flow)}"
        broken = "; breaks: " + "; ".join(map(str, self.breaks)) if self.breaks else ""
        return f"{self.name}: {brief(self._flow, flow)} ({gain}){broken}"

    def __repr__(self) -> str:
        return f"Fix({self.text()})"

    def _repr_html_(self) -> str:
        return html_lines(self.text())


def list_fixes(
    pump: Pump,
    line: DischargeLine,
    pumps: Sequence[Pump],
    limits: Limits | None,
    pit: Pit | None,
    need: Any = None,
    costs: Costs | None = None,
) -> tuple[Fix, ...]:
    """Judge every change that can be thought of: the best first, then by gain, other pumps last.

    ``need`` in m³/s. Two changes together are tried where there is a need that no single
    one carries.
    """
    limits = Limits() if limits is None else limits
    wanted = np.zeros(()) if need is None else need
    ideas = list(other_lines(pump, line))
    now = judge([pump], [line, *(i.line for i in ideas)], pit, wanted, limits)
    fixes = [_fix(idea, now, (0, n), now, need, costs) for n, idea in enumerate(ideas, 1)]
    short = need is not None and float(now.op.si.counted[0, 0]) < float(need)
    if short and not any(f.sensible and f.serves for f in fixes):
        pairs = list(together(pump, line, ideas))
        if pairs:
            then = judge([pump], [i.line for i in pairs], pit, wanted, limits)
            both = [_fix(x, then, (0, n), now, need, costs) for n, x in enumerate(pairs)]
            # two at once only for what one cannot do, the easiest of them
            served = [f for f in both if f.sensible and f.serves]
            fixes += sorted(served, key=lambda f: -f._ease)[:1]
    if others := list(other_pumps(pump, line, pumps)):
        then = judge([i.pump for i in others], [line], pit, wanted, limits)
        fixes += [_fix(x, then, (n, 0), now, need, costs) for n, x in enumerate(others)]
    return tuple(sorted(fixes, key=lambda f: (f.kind == "pump", -f._gain)))


def best_fix(fixes: Sequence[Fix]) -> Fix | None:
    """The sensible fix that carries the need; else the easiest.

    Of those that carry it the one that gains most, among all that ask less than half as much
    again as the least, in price or effort. The easiest gains most for its price, or its
    effort, among those that gain a quarter at least of what the strongest does; a valve, for
    which nothing is dug, whatever it gains.
    """
    sensible = [f for f in fixes if f.sensible]
    if not sensible:
        return None
    if serving := [f for f in sensible if f.serves]:
        most = _LITTLE_MORE * min(f._asked for f in serving)
        return max((f for f in serving if f._asked <= most), key=lambda f: f._gain)
    most = max(f._gain for f in sensible)
    enough = [f for f in sensible if f.kind == "valve" or f._gain >= _TOO_SMALL * most]
    return max(enough, key=lambda f: f._ease)


def _fix(
    idea: Idea, then: Judged, at: tuple[int, int], now: Judged, need: Any, costs: Costs | None
) -> Fix:
    """What an idea brings, being one pair of a judged grid; what is now comes first in its own."""
    flow = float(then.op.si.counted[at])
    was = float(now.op.si.counted[0, 0])
    slowest, fastest = (float(v[at]) for v in velocities(then.op))
    breaks = then.findings(at, hard=True)
    return Fix(
        name=idea.name, kind=idea.kind, pump=idea.pump, line=idea.line, asks=idea.asks,
        breaks=breaks,
        sensible=bool(idea.single and flow - was > _WORTH * was and _worsens_none(then, at, now)),
        _flow=flow, _gain=flow - was, _slowest=slowest, _fastest=fastest, _effort=idea.effort,
        price=None if costs is None or idea.kind == "pump" else _price(idea, costs),
        serves=None if need is None else bool(flow >= float(need)),
    )  # fmt: skip


def _worsens_none(then: Judged, at: tuple[int, int], now: Judged) -> bool:
    """Whether no limit is broken that is kept now, and none broken now is broken by more."""
    before = {r.code: float(r.missed[0, 0]) for r in now.rules if now.hard(r)}
    after = {r.code: float(r.missed[at]) for r in then.rules if then.hard(r) and r.fails[at]}
    kept = {r.code for r in now.rules if now.hard(r) and not r.fails[0, 0]}
    return all(code not in kept and miss <= before[code] + 1e-9 for code, miss in after.items())


def _price(idea: Idea, costs: Costs) -> float | None:
    """What is bought and laid for a change; None where some of it is not priced."""
    if idea.kind == "elbows":
        return None  # the route is what it costs
    try:
        laid = sum(costs.runs(idea.relaid)) + costs.digging(idea.relaid)
        return laid + sum(costs.fitting(name) for name in idea.bought)
    except InputError:
        return None
