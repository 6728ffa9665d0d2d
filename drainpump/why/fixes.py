"""Single changes that may bring more water, each with its gain and what it breaks."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import zip_longest
from typing import Any, NamedTuple

import numpy as np

from drainpump import units as u
from drainpump.findings import Finding
from drainpump.limits.judged import Judged, judge
from drainpump.limits.limit_tests import velocities
from drainpump.limits.limits import Limits
from drainpump.parts.line.fitting import Fitting
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.line.outlet import FreeOutlet
from drainpump.parts.line.pipe import Pipe
from drainpump.parts.line.run import Run
from drainpump.parts.pit import Pit
from drainpump.parts.pump.bank import Pump
from drainpump.results import check_units, html_lines
from drainpump.solve.changed_line import in_pipes
from drainpump.units import View
from drainpump.why.pipe_sizes import above

__all__ = ["Fix", "best_fix", "brief", "list_fixes"]

#: what is said of the sizes above the present one; only the first is a single step
_STEPS = ("", ", two sizes up", ", three sizes up")
#: how much shorter a way is tried, as a share of its length
_SHORTER = 0.1
#: gain, as a share of the flow, that is more than the solver's rounding
_GAIN = 1e-6


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
        ``"pipe"``, ``"length"``, ``"elbows"``, ``"lid"`` or ``"pump"``.
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
        A single step that breaks no limit the present line keeps. Another pump is never
        one: it stands apart.
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

    flow_gpm, flow_lps = View("_flow"), View("_flow")
    gain_gpm, gain_lps = View("_gain"), View("_gain")
    velocity_slowest_fps, velocity_slowest_mps = View("_slowest"), View("_slowest")
    velocity_fastest_fps, velocity_fastest_mps = View("_fastest"), View("_fastest")

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


class _Idea(NamedTuple):
    name: str
    kind: str
    pump: Pump
    line: DischargeLine
    asks: str
    single: bool = True


def list_fixes(
    pump: Pump,
    line: DischargeLine,
    pumps: Sequence[Pump],
    limits: Limits | None,
    pit: Pit | None,
) -> tuple[Fix, ...]:
    """Judge every change that can be thought of, most gain first and other pumps last."""
    limits, need = Limits() if limits is None else limits, np.zeros(())
    on_lines = list(_other_lines(pump, line))
    now = judge([pump], [line, *(i.line for i in on_lines)], pit, need, limits)
    fixes = [_fix(idea, now, (0, n), now) for n, idea in enumerate(on_lines, 1)]
    if others := list(_other_pumps(pump, line, pumps)):
        then = judge([i.pump for i in others], [line], pit, need, limits)
        fixes += [_fix(idea, then, (n, 0), now) for n, idea in enumerate(others)]
    return tuple(sorted(fixes, key=lambda f: (f.kind == "pump", -f._gain)))


def best_fix(fixes: Sequence[Fix]) -> Fix | None:
    """The sensible fix that gains most, or None."""
    return max((f for f in fixes if f.sensible), key=lambda f: f._gain, default=None)


def _fix(idea: _Idea, then: Judged, at: tuple[int, int], now: Judged) -> Fix:
    """What an idea brings, being one pair of a judged grid; what is now comes first in its own."""
    flow = float(then.op.si.counted[at])
    gain = flow - float(now.op.si.counted[0, 0])
    slowest, fastest = (float(v[at]) for v in velocities(then.op))
    breaks = then.findings(at, hard=True)
    kept = {r.code for r in breaks} <= {r.code for r in now.findings((0, 0), hard=True)}
    return Fix(
        **{name: value for name, value in idea._asdict().items() if name != "single"},
        breaks=breaks,
        sensible=bool(idea.single and kept and gain > _GAIN * flow),
        _flow=flow,
        _gain=gain,
        _slowest=slowest,
        _fastest=fastest,
    )


def _other_pumps(pump: Pump, line: DischargeLine, pumps: Sequence[Pump]) -> Iterator[_Idea]:
    for other in pumps:
        if other is not pump:
            asks = "another pump, its supply and its size in the pit"
            yield _Idea(f"another pump, {other.name}", "pump", other, line, asks, False)


def _other_lines(pump: Pump, line: DischargeLine) -> Iterator[_Idea]:
    for step, larger in enumerate(
        zip_longest(*(above(run.pipe, len(_STEPS)) for run in line.runs))
    ):
        # a run that is already the widest stays
        pipes = [pipe or run.pipe for pipe, run in zip(larger, line.runs, strict=True)]
        name = " and ".join(dict.fromkeys(_called(p) for p in larger if p is not None))
        asks = "the pipe to be laid anew"
        yield _Idea(name + _STEPS[step], "pipe", pump, in_pipes(line, pipes), asks, step == 0)
    shorter = line.variant(runs=[_shorter(run) for run in line.runs], name=None)
    saved = 1 - float(shorter.si.length) / max(float(line.si.length), 1e-9)
    if saved > 0.005:
        asks = "a straighter route, if the site has one"
        yield _Idea(f"a way {saved:.0%} shorter", "length", pump, shorter, asks)
    total = sum(sum(_elbows(run).values()) for run in line.runs)
    if total >= 1:
        fewer = max(total // 2, 1.0)
        name, asks = f"{total - fewer:g} elbows in place of {total:g}", "a route with fewer bends"
        yield _Idea(name, "elbows", pump, _with_fewer_elbows(line, fewer), asks)
    if np.any(line.outlet.si.least_head > 0) or np.any(line.outlet.si.orifice > 0):
        asks = "a wide grate in place of the lid, to keep animals out"
        bare = line.variant(outlet=FreeOutlet(), name=None)
        yield _Idea("an open end without a lid", "lid", pump, bare, asks)


def _shorter(run: Run) -> Run:
    """The run shorter by the share that is tried, but never shorter than it rises."""
    length, rise = float(run.si.length), abs(float(run.si.rise))
    share = min(1.0, max(1 - _SHORTER, rise / length)) if length > 0 else 1.0
    return run.variant(**{k: x * share for k, x in run.given.items() if k.startswith("length_")})


def _called(pipe: Pipe) -> str:
    unit = "mm" if str(pipe.nominal).endswith("mm") else "in"
    return f"{pipe.name} (bore {u.text(pipe.si.bore, unit)})"


def _elbows(run: Run) -> dict[str, float]:
    """How many of each elbow a run has."""
    return {x.name: float(x.count) for x in run.losses if x.name.startswith("elbow")}


def _with_fewer_elbows(line: DischargeLine, fewer: float) -> DischargeLine:
    runs = []
    for run in line.runs:
        fittings = run.fittings
        for name, pieces in _elbows(run).items():
            taken = min(fewer, pieces)
            fewer -= taken
            own = fittings[name]
            left = pieces - taken
            fittings[name] = own.variant(count=left) if isinstance(own, Fitting) else left
        runs.append(run.variant(fittings=fittings))
    return line.variant(runs=runs, name=None)
