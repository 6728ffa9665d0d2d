"""Single changes that may bring more water, each with its gain and what it breaks."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
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
from drainpump.parts.line.pipe import Pipe, pvc, pvc_metric
from drainpump.parts.line.run import Run
from drainpump.parts.pit import Pit
from drainpump.parts.pump.bank import Pump
from drainpump.physics import pipes
from drainpump.results import check_units
from drainpump.units import Measure, View

__all__ = ["Fix", "best_fix", "brief", "in_pipe", "list_fixes"]

#: what is said of the sizes above the present one; only the first is a single step
_STEPS = ("", ", two sizes up", ", three sizes up")
_SIZES = len(_STEPS)
#: how much shorter a way is tried, as a share of its length
_SHORTER = 0.1
#: bores closer than this (m) are the same size
_SAME_BORE = 1.5e-5
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
        import html

        return f"<p>{html.escape(self.text())}</p>"


class _Idea(NamedTuple):
    name: str
    kind: str
    pump: Pump
    line: DischargeLine
    asks: str
    single: bool


def list_fixes(
    pump: Pump,
    line: DischargeLine,
    pumps: Sequence[Pump],
    limits: Limits | None,
    pit: Pit | None,
) -> tuple[Fix, ...]:
    """Judge every change that can be thought of, most gain first and other pumps last."""
    ideas = [*_other_lines(pump, line), *_other_pumps(pump, line, pumps)]

    limits, need = Limits() if limits is None else limits, np.zeros(())
    on_lines = [i for i in ideas if i.kind != "pump"]
    others = [i for i in ideas if i.kind == "pump"]
    judged = judge([pump], [line, *(i.line for i in on_lines)], pit, need, limits)
    now = _Seen.of(judged, (0, 0))
    fixes = [_fix(i, _Seen.of(judged, (0, n)), now) for n, i in enumerate(on_lines, 1)]
    if others:
        judged = judge([i.pump for i in others], [line], pit, need, limits)
        fixes += [_fix(i, _Seen.of(judged, (n, 0)), now) for n, i in enumerate(others)]
    return tuple(sorted(fixes, key=lambda f: (f.kind == "pump", -f._gain)))


def best_fix(fixes: Sequence[Fix]) -> Fix | None:
    """The sensible fix that gains most, or None."""
    return max((f for f in fixes if f.sensible), key=lambda f: f._gain, default=None)


class _Seen(NamedTuple):
    """One pair of a judged grid: its flow and velocities (SI), and what it breaks."""

    flow: float
    slowest: float
    fastest: float
    reasons: tuple[Finding, ...]

    @classmethod
    def of(cls, judged: Judged, at: tuple[int, int]) -> _Seen:
        flow = float(judged.op._bounded[at])
        slowest, fastest = (float(v[at]) for v in velocities(judged.op))
        return cls(flow, slowest, fastest, judged.findings(at, hard=True))


def _fix(idea: _Idea, then: _Seen, now: _Seen) -> Fix:
    gain = then.flow - now.flow
    kept = {r.code for r in then.reasons} <= {r.code for r in now.reasons}
    return Fix(
        name=idea.name,
        kind=idea.kind,
        pump=idea.pump,
        line=idea.line,
        asks=idea.asks,
        breaks=then.reasons,
        sensible=bool(idea.single and kept and gain > _GAIN * then.flow),
        _flow=then.flow,
        _gain=gain,
        _slowest=then.slowest,
        _fastest=then.fastest,
    )


def in_pipe(line: DischargeLine, pipe: Pipe) -> DischargeLine:
    """Return the line with every run in ``pipe``; fittings take its K from the table."""
    return _rebuilt(line, [_changed(run, pipe=pipe) for run in line.runs])


def _other_pumps(pump: Pump, line: DischargeLine, pumps: Sequence[Pump]) -> Iterator[_Idea]:
    for other in pumps:
        if other is not pump:
            asks = "another pump, its supply and its size in the pit"
            yield _Idea(f"another pump, {other.name}", "pump", other, line, asks, False)


def _other_lines(pump: Pump, line: DischargeLine) -> Iterator[_Idea]:
    for name, single, runs in _larger(line):
        yield _Idea(name, "pipe", pump, _rebuilt(line, runs), "the pipe to be laid anew", single)
    shorter = [_changed(r, share=_least_share(r)) for r in line.runs]
    saved = 1 - sum(float(r._length.si) for r in shorter) / max(float(line._length), 1e-9)
    if saved > 0.005:
        asks = "a straighter route, if the site has one"
        name = f"a way {saved:.0%} shorter"
        yield _Idea(name, "length", pump, _rebuilt(line, shorter), asks, True)
    total, fewer, runs = _fewer_elbows(line)
    if fewer:
        name = f"{total - fewer:g} elbows in place of {total:g}"
        yield _Idea(name, "elbows", pump, _rebuilt(line, runs), "a route with fewer bends", True)
    if np.any(line.outlet._least_head > 0) or np.any(line.outlet._orifice > 0):
        asks = "a wide grate in place of the lid, to keep animals out"
        bare = _rebuilt(line, line.runs, outlet=FreeOutlet())
        yield _Idea("an open end without a lid", "lid", pump, bare, asks, True)


def _least_share(run: Run) -> float:
    """Share of its length that a run can be brought to: never less than it rises."""
    length, rise = float(run._length.si), abs(float(run._rise.si))
    return min(1.0, max(1 - _SHORTER, rise / length)) if length > 0 else 1.0


def _larger(line: DischargeLine) -> Iterator[tuple[str, bool, list[Run]]]:
    """The line in larger pipe, one and more sizes up; runs already widest stay."""
    ladders = [_sizes_above(run.pipe) for run in line.runs]
    for step in range(_SIZES):
        larger = [a[step] if step < len(a) else None for a in ladders]
        if not any(larger):
            return
        runs = [
            r if p is None else _changed(r, pipe=p) for r, p in zip(line.runs, larger, strict=True)
        ]
        named = dict.fromkeys(_called(p) for p in larger if p is not None)
        yield " and ".join(named) + _STEPS[step], step == 0, runs


def _sizes_above(pipe: Pipe) -> list[Pipe]:
    """The next sizes of the same schedule, or of Schedule 40 where the bore is one's own."""
    bore = float(pipe._bore.si)
    found = [
        (size, convention)
        for size in pipes.sizes()
        for convention in pipes.BORES
        if abs(size.bore(convention) - bore) < _SAME_BORE
    ]
    # the first table that has the bore is Schedule 40's, the commonest
    usual: tuple[pipes.PipeSize | None, pipes.Convention] = (None, "average")
    if found:
        usual = found[0]
    same, convention = next(((s, c) for s, c in found if s.nominal == pipe.nominal), usual)
    schedule, metric = ("Sch 40", False)
    if same is not None:
        schedule, metric = same.schedule, same.nominal.endswith("mm")
    above = sorted(
        (
            s
            for s in pipes.sizes()
            if s.schedule == schedule
            and s.nominal.endswith("mm") == metric
            and s.bore(convention) > 1.02 * bore
        ),
        key=lambda s: s.bore(),
    )
    wall: dict[str, Any] = {
        "bore": convention,
        "roughness_m": float(pipe._roughness.si),
        "hazen_williams_c": float(pipe._c),
    }
    return [
        pvc_metric(float(s.nominal.split()[0]), s.schedule, **wall)
        if metric
        else pvc(s.nominal, s.schedule, **wall)
        for s in above[:_SIZES]
    ]


def _called(pipe: Pipe) -> str:
    unit = "mm" if str(pipe.nominal).endswith("mm") else "in"
    return f"{pipe.name} (bore {u.text(pipe._bore.si, unit)})"


def _fewer_elbows(line: DischargeLine) -> tuple[float, float, list[Run]]:
    """How many elbows, how many fewer (half of them, one at least), and the runs then."""

    def count(run: Run) -> dict[str, float]:
        return {x.name: float(x.count) for x in run.losses if x.name.startswith("elbow")}

    total = sum(sum(count(run).values()) for run in line.runs)
    left = fewer = float(max(total // 2, 1)) if total >= 1 else 0.0
    runs = []
    for run in line.runs:
        fittings = run.fittings
        for name, pieces in count(run).items():
            taken = min(left, pieces)
            left -= taken
            fittings[name] = _with_count(fittings[name], pieces - taken)
        runs.append(_changed(run, fittings=fittings))
    return total, fewer, runs


def _with_count(item: Any, count: float) -> Any:
    if not isinstance(item, Fitting):
        return count
    own = item._equivalent_length
    length = {} if own is None else _typed("equivalent_length", own)
    return Fitting(count=count, k=item.k, name=item.name, **length)


def _changed(
    run: Run, *, pipe: Pipe | None = None, share: float = 1.0, fittings: Any = None
) -> Run:
    """Return the run in another pipe, of a share of its length, or with other fittings."""
    return Run(
        pipe=run.pipe if pipe is None else pipe,
        fittings=run.fittings if fittings is None else fittings,
        k=run.k,
        name=run.name,
        **_typed("length", run._length, share),
        **_typed("rise", run._rise),
        **_typed("equivalent_length", run._extra_length),
    )


def _typed(name: str, measure: Measure, share: float = 1.0) -> dict[str, Any]:
    """A measure as the keyword it was given by."""
    return {f"{name}_{measure.unit}": measure.get(measure.unit) * share}


def _rebuilt(line: DischargeLine, runs: Sequence[Run], outlet: Any = None) -> DischargeLine:
    return DischargeLine(
        runs=runs,
        outlet=line.outlet if outlet is None else outlet,
        friction=line.friction,
        siphon=line.siphon,
        check_valve=line.check_valve,
        **_typed("water", line._water),
    )
