"""How often the pump switches: fill and pump-down times from the pit and the floats.

The pump-down time integrates over level, since the flow falls as the pit draws down:

    t_run = integral over volume from off to on of dV / (Q(level) - q_in),
    t_rest = V / q_in.

Between neighbouring levels the flow is taken as linear in the volume, for which both
this integral and its derivative by q_in are exact, however near q_in is to the flow.

For a constant flow Qp the cycle is V/q + V/(Qp - q), shortest at q = Qp/2, where it is
4V/Qp: MIL-HDBK-1005/9A eq. 1 and 2; UFC 3-240-04A (V = t q / 4).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, ClassVar

import numpy as np
from scipy.optimize import elementwise

from drainpump import units as u
from drainpump.cycling import lead_lag
from drainpump.errors import UnitError, wrong
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.line.run import granted_valve
from drainpump.parts.pit import Pit
from drainpump.parts.pump.bank import Pump, PumpBank
from drainpump.results import Result, one_shape
from drainpump.solve.grid import Grid, make_grid
from drainpump.solve.operating_point import solve
from drainpump.units import FloatArray, View

__all__ = ["ENDLESS", "PATTERNS", "Cycle", "cycle"]

#: the patterns in words, by code, but for the plain one
PATTERNS: dict[str, str] = {
    "idle": "no inflow",
    "runs_on": "it runs on: the inflow holds the pit above the off level",
    "falls_behind": "it falls behind: the inflow is more than the pump takes away",
    "restarts_at_once": "it restarts at once: what runs back fills the pit to the on level again",
    "lag_helps": "the lead alone falls behind, and the lag pumps help",
    "unknown": "the pump's flow is not known",
}
#: what a run or a rest without end means
ENDLESS: dict[str, str] = {"run": "never stops", "rest": "never starts"}

#: levels at which the pump-down is cut, as shares of the drawdown: closer together towards
#: the off level, where the flow is least and an inflow near to it holds the pump up longest
_SHARES = np.linspace(0.0, 1.0, 33) ** 2


@dataclass(frozen=True, eq=False, repr=False)
class Cycle(Result):
    """How the pump cycles at an inflow, and at the inflow that makes it switch most.

    Attributes
    ----------
    inflow_gpm, inflow_lps : float or ndarray
        Inflow asked about.
    flow_at_on_gpm, flow_at_off_gpm : float or ndarray (and ``_lps``)
        Pump flow at the pump-on and the pump-off level.
    run_s, rest_s : float or ndarray
        Time the pump runs and rests in a cycle; infinite where it never stops or starts.
    starts_per_h : float or ndarray
        3600 / (run + rest); 0 where it does not cycle.
    worst_starts_per_h, worst_inflow_gpm : float or ndarray
        Most starts per hour over all inflows, and the inflow that brings them.
    working_volume_gal, working_volume_l : float or ndarray
        Pit water between the floats.
    returned_gal, returned_l : float or ndarray
        Water that runs back from the line at each stop (0 with a check valve).
    keeps_up : bool or ndarray of bool
        Inflow below the flow at the pump-on level.
    pattern : str or ndarray of str
        ``cycles``; ``idle`` (no inflow); ``runs_on`` (inflow between the flows at off
        and at on: the pump never stops); ``falls_behind``; ``restarts_at_once`` (what
        runs back fills the pit to the on level again); ``lag_helps``; ``unknown``.
    lag_starts_per_h : float or ndarray, or None
        Starts of the lag pumps of a bank with a lag float. Its ``flow_at_on_gpm`` is that
        of all pumps at the lag's float, its other figures are the lead's.
    status : str or ndarray of str
        The first that is not ``ok`` among the operating points from the off level up to
        the on level. A flow known only by its bound (``beyond_curve``, ``below_curve``) is
        used as the bound.
    """

    _grid: Grid | None
    _inflow: FloatArray
    _at_on: FloatArray
    _at_off: FloatArray
    _run: FloatArray
    _rest: FloatArray
    _worst_rate: FloatArray
    _worst_inflow: FloatArray
    _working: FloatArray
    _returned: FloatArray
    _pattern: Any
    _status: Any
    _lag_rate: FloatArray | None = None

    inflow_gpm, inflow_lps = View("_inflow"), View("_inflow")
    flow_at_on_gpm, flow_at_on_lps = View("_at_on"), View("_at_on")
    flow_at_off_gpm, flow_at_off_lps = View("_at_off"), View("_at_off")
    run_s = View("_run")
    rest_s = View("_rest")
    starts_per_h = View("_rate")
    worst_starts_per_h = View("_worst_rate")
    worst_inflow_gpm, worst_inflow_lps = View("_worst_inflow"), View("_worst_inflow")
    working_volume_gal, working_volume_l = View("_working"), View("_working")
    returned_gal, returned_l = View("_returned"), View("_returned")
    keeps_up = View("_keeps_up")
    pattern = View("_pattern")
    lag_starts_per_h = View("_lag_rate")

    _mends: ClassVar[dict[str, str]] = {
        "no_flow": "the pump cannot reach the line's high point from the off level",
        "beyond_curve": "the curve's last point is used as the flow; it is at least that",
        "below_curve": "the curve's first point is used as the flow; it is at most that",
        "multiple": "the drooping curve crosses the line more than once",
        "bad_input": "an input of this element is NaN",
    }
    _patterns: ClassVar[dict[str, str]] = PATTERNS
    _endless: ClassVar[dict[str, str]] = {f"{name}_s": said for name, said in ENDLESS.items()}

    def _remarks(self) -> list[str]:
        if self._grid is None:
            return []
        risers = [r for p in self._grid.pumps for r in getattr(p, "risers", ()) if r is not None]
        said = [granted_valve((*x.runs, *risers)) for x in self._grid.lines if x.check_valve]
        count = len(self._grid.lines)
        return [
            text if count == 1 else f"on {said.count(text)} of {count} lines {text}"
            for text in dict.fromkeys(said)
            if text
        ]

    @property
    def _rate(self) -> FloatArray:
        with np.errstate(divide="ignore"):
            return np.asarray(1.0 / (self._run + self._rest))

    @property
    def _keeps_up(self) -> Any:
        return np.asarray(self._inflow < self._at_on)

    def _axes(self) -> list[tuple[str, list[str]]]:
        return [] if self._grid is None else self._grid.axes()


def cycle(
    pump: Pump | Sequence[Pump] | None = None,
    line: DischargeLine | Sequence[DischargeLine] | None = None,
    pit: Pit | None = None,
    *,
    inflow_gpm: Any = None,
    inflow_lps: Any = None,
    flow_gpm: Any = None,
    flow_lps: Any = None,
) -> Cycle:
    """Return run and rest times, starts per hour and the worst case over all inflows.

    Parameters
    ----------
    pump, line : PumpCurve or bank, and DischargeLine, or sequences of them
        What pumps the pit down; a bank with a lag float starts its lead alone. Leave
        both out to give a constant flow instead.
    pit : Pit
        The pit and its floats; its off level is the line's datum.
    inflow_gpm, inflow_lps : float or array_like
        Water coming in, >= 0. Exactly one.
    flow_gpm, flow_lps : float or array_like
        Constant pump flow, >= 0, in place of pump and line.

    Returns
    -------
    Cycle
        Arrays of shape (pumps, lines, *shape of the quantities).

    Raises
    ------
    UnitError, InputError
        Bad units or values; pump and line together with a constant flow.

    Notes
    -----
    Without a check valve the rising line's water runs back at each stop: it shortens the
    rest and is pumped again, the line being filled at the full line's flow.

    Examples
    --------
    >>> import drainpump as dp
    >>> pit = dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=13)
    >>> cyc = dp.cycle(flow_gpm=34.1, pit=pit, inflow_gpm=10)
    >>> round(cyc.rest_s, 1), round(cyc.run_s, 1), round(cyc.worst_starts_per_h, 1)
    (46.3, 19.2, 66.3)
    """
    if not isinstance(pit, Pit):
        raise wrong("pit", pit, "must be a Pit", "make one with Pit(...)")
    inflow = u.take("inflow", guard="inflow", gpm=inflow_gpm, lps=inflow_lps).si
    flow = u.maybe("flow", guard="flow", gpm=flow_gpm, lps=flow_lps)
    if (pump is None) != (line is None) or (pump is None) == (flow is None):
        raise UnitError(
            "cycle: give a pump with a line, or a constant flow (flow_gpm or flow_lps) without "
            "them."
        )
    shape = one_shape("cycle", inflow, np.zeros(pit.shape))
    nodes = _levels(pit, np.broadcast_shapes(shape, pit.shape))
    if flow is not None:
        shape = one_shape("cycle", inflow, np.zeros(pit.shape), flow.si)
        flows = np.broadcast_to(flow.si[..., None], (*shape, nodes.levels.shape[-1]))
        return _assemble(None, pit, inflow, nodes, flows, np.zeros(()), np.asarray("ok"))
    grid = make_grid(pump, line, np.zeros(shape))
    if any(isinstance(p, PumpBank) and p._lag_on is not None for p in grid.pumps):
        each = [_staged(p, line, pit, inflow) for p in grid.pumps]
        return each[0] if not grid.listed[0] else _stacked(grid, each)
    flows, status = _flows(grid, nodes)
    return _assemble(grid, pit, inflow, nodes, flows, _returned(grid), status)


def _staged(pump: Pump, line: Any, pit: Pit, inflow: FloatArray) -> Cycle:
    """The cycle of one pump or bank, whose lag pumps join where the lead falls behind."""
    if not isinstance(pump, PumpBank) or pump._lag_on is None:
        alone = cycle(pump, line, pit, inflow_lps=u.from_si(inflow, "lps"))
        return replace(alone, _lag_rate=np.zeros(alone._run.shape))
    lead = cycle(pump.lead, line, pit, inflow_lps=u.from_si(inflow, "lps"))
    shape = one_shape("cycle", inflow, np.zeros(pit.shape))
    whole, upper = lead_lag.with_lag(pit, pump)
    down, up = _levels(whole, shape), _levels(upper, shape)
    up = replace(up, levels=up.levels + (pit._on.si - pit._off.si + np.zeros(shape))[..., None])
    grid = make_grid(pump, line, np.zeros(shape))
    together, status = _flows(grid, down)
    one, _ = _flows(make_grid(pump.lead, line, np.zeros(shape)), up)
    rise = np.broadcast_to(up.volumes, (*one.shape[:-1], up.volumes.shape[-1]))
    fall = np.broadcast_to(down.volumes, (*together.shape[:-1], down.volumes.shape[-1]))
    q = lead._inflow
    empty = lead._working - np.minimum(lead._returned, lead._working)
    alone_s, together_s = lead_lag.lag_times(q, one, rise, together, fall)
    behind = q >= lead._at_on
    run = np.where(behind, alone_s + together_s, lead._run)
    with np.errstate(divide="ignore", invalid="ignore"):
        rest = np.where(behind, np.where(np.isinf(run), 0.0, empty / q), lead._rest)
        rate = np.where(behind, 1.0 / (run + rest), 0.0)
    pattern = np.select(
        [~behind, q >= together[..., -1], np.isinf(run)],
        [lead._pattern, "falls_behind", "runs_on"],
        "lag_helps",
    )
    most, at = lead_lag.lag_worst(empty, one, rise, together, fall)
    higher = most > lead._worst_rate
    return replace(
        lead, _grid=grid, _at_on=together[..., -1], _run=run, _rest=rest,
        _worst_rate=np.where(higher, most, lead._worst_rate),
        _worst_inflow=np.where(higher, at, lead._worst_inflow),
        _pattern=pattern, _status=np.where(lead._status == "ok", status, lead._status),
        _lag_rate=rate,
    )  # fmt: skip


def _stacked(grid: Grid, each: list[Cycle]) -> Cycle:
    """Cycles of single pumps as one, the pumps on axis 0."""
    names = [name for name in vars(each[0]) if name != "_grid"]
    return Cycle(grid, **{name: np.stack([vars(c)[name] for c in each]) for name in names})


@dataclass(frozen=True, eq=False)
class _Nodes:
    """Levels above off (..., n), from off to on, and the water between them (..., n - 1)."""

    levels: FloatArray
    volumes: FloatArray


def _levels(pit: Pit, shape: tuple[int, ...]) -> _Nodes:
    """Cut the drawdown at `_SHARES` and at the top of the pump body."""
    off, on = (np.broadcast_to(m.si, shape) for m in (pit._off, pit._on))
    drawdown = on - off
    # levels on axis 0, so that the pit's own arrays broadcast behind them
    cuts = drawdown * _SHARES.reshape(-1, *[1] * len(shape))
    bend = np.broadcast_to(np.clip(pit._body_top - off, 0.0, drawdown), shape)
    z = np.sort(np.concatenate([cuts, bend[None]]), axis=0)
    volumes = pit._volume_between(off + z[:-1], off + z[1:])
    return _Nodes(np.moveaxis(z, 0, -1), np.moveaxis(volumes, 0, -1))


def _flows(grid: Grid, nodes: _Nodes) -> tuple[FloatArray, Any]:
    """Pump flow at each level, (..., n), and the first status from off upwards that is not ok."""
    op = solve(grid.at_levels(nodes.levels))
    shape = (*grid.shape, nodes.levels.shape[-1])
    status = np.asarray(op.status).reshape(shape)
    first = np.argmax(status != "ok", axis=-1)[..., None]
    flows = np.asarray(op._bounded).reshape(shape)
    return flows, np.take_along_axis(status, first, axis=-1)[..., 0]


def _returned(grid: Grid) -> FloatArray:
    """Water that runs back from each line at a stop (m³), with the answer's axes."""
    each = [
        np.broadcast_to(line._returning_volume if not line.check_valve else 0.0, grid.inner)
        for line in grid.lines
    ]
    return np.stack(each) if grid.listed[1] else each[0]


def _assemble(
    grid: Grid | None,
    pit: Pit,
    inflow: FloatArray,
    nodes: _Nodes,
    flows: FloatArray,
    returned: FloatArray,
    status: Any,
) -> Cycle:
    shape = np.broadcast_shapes(flows.shape[:-1], np.shape(inflow), np.shape(returned))
    working = np.broadcast_to(pit._working_volume, shape)
    q = np.broadcast_to(inflow, shape)
    back = np.broadcast_to(np.minimum(returned, working), shape)
    flows = np.broadcast_to(flows, (*shape, flows.shape[-1]))
    volumes = np.broadcast_to(nodes.volumes, (*shape, nodes.volumes.shape[-1]))
    run = _run_time(q, flows, volumes)
    with np.errstate(divide="ignore", invalid="ignore"):
        rest = np.where(q > 0, (working - back) / q, np.inf)
    rest = np.where(back >= working, 0.0, rest)
    rest = np.where(np.isinf(run) & (q > 0), 0.0, rest)
    worst_q = _worst(working - back, flows, volumes)
    with np.errstate(divide="ignore", invalid="ignore"):
        fill = np.where(worst_q > 0, (working - back) / worst_q, 0.0)
        worst = 1.0 / (fill + _run_time(worst_q, flows, volumes))
    at_off, at_on = flows[..., 0], flows[..., -1]
    pattern = np.select(
        [
            np.isnan(run),
            (back >= working) & (at_off > q),
            q == 0,
            q >= at_on,
            q >= at_off,
        ],
        ["unknown", "restarts_at_once", "idle", "falls_behind", "runs_on"],
        "cycles",
    )
    never = np.isnan(at_on) | (at_off <= 0)
    known = ~np.isnan(q + at_off + working) | (status != "ok")
    return Cycle(
        grid, q, at_on, at_off, run, rest,
        np.where(never & ~np.isnan(at_on), 0.0, worst),
        np.where(never, np.nan, worst_q),
        working, np.broadcast_to(returned, shape), pattern,
        np.where(known, status, "bad_input"),
    )  # fmt: skip


def _run_time(q: FloatArray, flows: FloatArray, volumes: FloatArray) -> FloatArray:
    """Integrate dV / (Q - q) from off to on; infinite where the pump cannot get past a level."""
    net = flows - q[..., None]
    with np.errstate(divide="ignore", invalid="ignore"):
        low, growth = net[..., :-1], np.diff(net) / net[..., :-1]
        # the integral of a linear flow; its limit where the flow stays as it is
        mean = np.where(growth == 0, 1.0, np.log1p(growth) / growth)
        total = (volumes / low * mean).sum(axis=-1)
        stuck = (net <= 0).any(axis=-1)
    unknown = np.isnan(net).any(axis=-1) | np.isnan(volumes).any(axis=-1)
    return np.where(unknown, np.nan, np.where(stuck, np.inf, total))


def _worst(fill: FloatArray, flows: FloatArray, volumes: FloatArray) -> FloatArray:
    """Inflow that makes the cycle shortest: where -fill/q² + integral of dV/(Q-q)² is zero.

    Both terms are convex, so the root is the one minimum; where what runs back fills the
    pit again (fill = 0) the shortest cycle is at no inflow.
    """
    least = flows.min(axis=-1)
    can = np.flatnonzero((least > 0).ravel() & (fill > 0).ravel())
    worst = np.where(np.isnan(least + fill), np.nan, 0.0).ravel()
    if can.size:
        v, f, w = (
            fill.ravel()[can],
            flows.reshape(-1, flows.shape[-1])[can],
            volumes.reshape(-1, volumes.shape[-1])[can],
        )

        def rate(share: FloatArray, i: Any) -> FloatArray:
            q = share * least.ravel()[can[i]]
            net = f[i] - q[..., None]
            return np.asarray(-v[i] / q**2 + (w[i] / (net[..., :-1] * net[..., 1:])).sum(axis=-1))

        ends = (np.full(can.size, 1e-6), np.full(can.size, 1 - 1e-12))
        found = elementwise.find_root(rate, ends, args=(np.arange(can.size),))
        worst[can] = found.x * least.ravel()[can]
    return worst.reshape(fill.shape)
