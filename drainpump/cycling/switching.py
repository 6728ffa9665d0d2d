"""How often the pump switches: fill and pump-down times from the pit and the floats.

The pump-down time integrates over level, since the flow falls as the pit draws down:

    t_run = integral over volume from off to on of dV / (Q(level) - q_in),
    t_rest = V / q_in.

Between neighbouring levels the flow is taken as linear in the volume, for which both
this integral and its derivative by q_in are exact, however near q_in is to the flow. A line
without a check valve is filled anew in each cycle, see `settled`. `cycles_of` and `cycles_at`
take SI and are what other rooms call.

For a constant flow Qp the cycle is V/q + V/(Qp - q), shortest at q = Qp/2, where it is
4V/Qp: MIL-HDBK-1005/9A eq. 1 and 2; UFC 3-240-04A (V = t q / 4).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any, ClassVar

import numpy as np

from drainpump import states
from drainpump import units as u
from drainpump.cycling.lead_lag import helped
from drainpump.cycling.level_flows import (
    Flows,
    Nodes,
    flows_at,
    levels_of,
    time_through,
    worst_inflow,
)  # fmt: skip
from drainpump.cycling.settled import make_draining
from drainpump.errors import UnitError, wrong
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.line.run import granted_valves
from drainpump.parts.pit import Pit, floats_in_force
from drainpump.parts.pump.bank import Pump, PumpBank
from drainpump.results import Result, one_shape
from drainpump.solve.grid import Grid, make_grid
from drainpump.units import FloatArray, View
from drainpump.work_budget import spend

#: the patterns in words, by code, but for the plain one
PATTERNS: dict[str, str] = {
    "idle": "no inflow",
    "runs_on": "it runs on: the inflow holds the pit above the off level",
    "falls_behind": "it falls behind: the inflow is more than the pump takes away",
    "restarts_at_once": "it restarts at once: what runs back fills the pit to the on level again",
    "never_delivers": "nothing ever reaches the outlet: more runs back than the pit has room for",
    "lag_helps": "the lead alone falls behind, and the lag pumps help",
    "unknown": "the pump's flow is not known",
}
#: pumps times lines that are cycled at a time, so that memory stays bounded
_PART = 1 << 12
#: what a run or a rest without end means
ENDLESS: dict[str, str] = {"run": "never stops", "rest": "never starts"}


class Cycle(Result):
    """How the pump cycles at an inflow, and at the inflow that makes it switch most.

    Attributes
    ----------
    inflow_gpm, inflow_lps : float or ndarray
        Inflow asked about.
    flow_at_on_gpm, flow_at_off_gpm : float or ndarray (and ``_lps``)
        Pump flow at the pump-on and the pump-off level, as it is to be reckoned with.
    run_s, rest_s : float or ndarray
        Time the pump runs and rests in a cycle; infinite where it never stops or starts.
    starts_per_h : float or ndarray
        3600 / (run + rest); 0 where it does not cycle.
    worst_starts_per_h, worst_inflow_gpm : float or ndarray
        Most starts per hour over all inflows, and the inflow that brings them; 0 where the
        starts of a line without a check valve go on rising as the inflow dies out.
    working_volume_gal, working_volume_l : float or ndarray
        Pit water between the floats.
    returned_gal, returned_l : float or ndarray
        Water that runs back from the line at each stop (0 with a check valve).
    keeps_up : bool or ndarray of bool
        Inflow below the flow that may be counted on at the pump-on level, and room in the
        pit for what runs back.
    pattern : str or ndarray of str
        ``cycles``; ``idle`` (no inflow); ``runs_on`` (inflow between the flows at off
        and at on: the pump never stops); ``falls_behind``; ``restarts_at_once`` (what
        runs back fills the pit to the on level again); ``never_delivers`` (more than the pit
        holds); ``lag_helps``; ``unknown``, also where the flow counted on would do otherwise.
    lag_starts_per_h : float or ndarray, or None
        Starts of the lag pumps of a bank with a lag float. Its ``flow_at_on_gpm`` is that
        of all pumps at the lag's float, its other figures are the lead's.
    status : str or ndarray of str
        The first that is not ``ok`` among the operating points from the off level up to
        the on level. Times and starts are then those of the flow to be reckoned with: the
        end of the curve's points, or the greatest of several crossings.
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
    _takes_all: Any  # whether the flow that may be counted on at the on level is the greater
    _pattern: Any
    _status: Any
    #: whether some flow between the levels may be more, or less, than what is reckoned with
    _more: Any
    _less: Any
    #: water (m³) the pit holds above its off level; without end where the line holds its own
    _room: FloatArray
    _lag_rate: FloatArray | None = None
    _pit: Pit | None = None  # whose floats are said

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
    keeps_up = View("_keeps_up", bool)
    pattern = View("_pattern", str)
    lag_starts_per_h = View("_lag_rate", maybe=True)

    _mends: ClassVar[dict[str, str]] = states.MENDS
    _patterns: ClassVar[dict[str, str]] = PATTERNS
    _endless: ClassVar[dict[str, str]] = {f"{name}_s": said for name, said in ENDLESS.items()}

    def _remarks(self) -> list[str]:
        if self._grid is None:
            return []
        risers = [r for p in self._grid.pumps for r in getattr(p, "risers", ()) if r is not None]
        said = granted_valves(self._grid.lines, risers)
        return said + ([] if self._pit is None else floats_in_force(self._pit, self._grid.pumps))

    @property
    def _keeps_up(self) -> Any:
        return self._takes_all & ~(self._returned > self._room)

    @property
    def _rate(self) -> FloatArray:
        with np.errstate(divide="ignore"):
            return np.asarray(1.0 / (self._run + self._rest))


def cycle(
    pump: Pump | Sequence[Pump] | None = None,
    line: DischargeLine | Sequence[DischargeLine] | None = None,
    pit: Pit | None = None,
    *,
    inflow_gpm: u.Quantity | None = None,
    inflow_lps: u.Quantity | None = None,
    flow_gpm: u.Quantity | None = None,
    flow_lps: u.Quantity | None = None,
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
    Without a check valve the rising line's water is back in the pit at each stop: it
    shortens the rest, and the line is filled again as in `drain_back`, whose settled cycle
    this is. Tail water that nothing holds fills the pit besides the inflow. The worst case
    is then over inflows above zero: an inflow of 0 tells whether the pump ever starts.

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
    if flow is None:
        return replace(cycles_of(pump, line, pit, inflow), _pit=pit)
    return cycles_at(flow.si, pit, inflow)


def cycles_at(flow: FloatArray, pit: Pit, inflow: FloatArray) -> Cycle:
    """The cycle under a constant flow (m³/s)."""
    shape = one_shape("cycle", inflow, np.zeros(pit.shape), flow)
    nodes = levels_of(pit, np.broadcast_shapes(inflow.shape, pit.shape))
    known = np.broadcast_to(flow[..., None], (*shape, nodes.levels.shape[-1]))
    flows = Flows(known, known, np.zeros(known.shape, dtype=np.int8))
    return _held(None, pit.si.working_volume, inflow, nodes, flows)


def cycles_of(pump: Any, line: Any, pit: Pit, inflow: FloatArray) -> Cycle:
    """The cycle of a pump on a line, or of lists of them, with an inflow (m³/s)."""
    shape = one_shape("cycle", inflow, np.zeros(pit.shape))
    grid = make_grid(pump, line, np.zeros(shape))
    if pit.open:  # each pump by its own float
        return _stacked(grid, [cycles_of(p, line, pit.floats_of(p), inflow) for p in grid.pumps])
    nodes = levels_of(pit, pit.shape)
    if any(isinstance(p, PumpBank) and p.si.lag_on is not None for p in grid.pumps):
        return _stacked(grid, [_staged(p, line, pit, inflow) for p in grid.pumps])
    # what the pump gives at a level does not hang on what comes in
    alone = make_grid(pump, line, np.zeros(pit.shape)) if inflow.ndim else grid
    if alone.shape == grid.shape:
        held = _in_parts(grid, pit, inflow, nodes)
    else:
        lead = len(grid.shape) - len(grid.inner)
        flows = flows_at(alone, nodes).behind(lead, len(grid.inner) - len(alone.inner))
        held = _held(grid, pit.si.working_volume, inflow, nodes, flows)
    return held if grid.line.holds.all() else _drained(held, grid, pit)


def _staged(pump: Pump, line: Any, pit: Pit, inflow: FloatArray) -> Cycle:
    """The cycle of one pump or bank, whose lag pumps join where the lead falls behind.

    Up to its own flow the lead cycles alone, and the answer is the lead's. From there on it
    runs on while the water rises to the lag's float; then all pumps draw the pit down to the
    off level, and all rest until it is full to the on level again.
    """
    if not isinstance(pump, PumpBank) or pump.si.lag_on is None:
        alone = cycles_of(pump, line, pit, inflow)
        return replace(alone, _lag_rate=np.zeros(alone._run.shape))
    lead = cycles_of(pump.lead, line, pit, inflow)
    q, empty = lead._inflow, lead._working - np.minimum(lead._returned, lead._working)
    shape = one_shape("cycle", inflow, np.zeros(pit.shape))
    found = helped(pump, line, pit, shape, q, empty)
    behind, at_on = q >= lead._at_on, found.both.reckoned[..., -1]
    run = np.where(behind, found.run, lead._run)
    with np.errstate(divide="ignore", invalid="ignore"):
        rest = np.where(behind, np.where(np.isinf(run), 0.0, empty / q), lead._rest)
        rate = np.where(behind, 1.0 / (run + rest), 0.0)
    pattern = np.select(
        [~behind, q >= at_on, np.isinf(run)],
        [lead._pattern, "falls_behind", "runs_on"],
        "lag_helps",
    )
    higher = found.most > lead._worst_rate
    staged = replace(
        lead, _grid=found.grid, _at_on=at_on, _run=run, _rest=rest,
        _worst_rate=np.where(higher, found.most, lead._worst_rate),
        _worst_inflow=np.where(higher, found.at, lead._worst_inflow),
        _takes_all=q < found.both.counted[..., -1],
        _pattern=np.where(found.both.in_doubt(q), "unknown", pattern),
        _status=np.where(lead._status == "ok", found.both.status, lead._status),
        _more=lead._more | found.both.more, _less=lead._less | found.both.less,
        _lag_rate=rate,
    )  # fmt: skip
    lifts = lead._returned >= pit.si.volume_between(pit.si.off, pump.si.lag_on)
    return _at_once(staged, pit, inflow, lifts) if lifts.any() else staged


def _at_once(staged: Cycle, pit: Pit, inflow: FloatArray, lifts: Any) -> Cycle:
    """The same where what runs back lifts the lag's float too: all pumps start together."""
    assert staged._grid is not None
    assert staged._lag_rate is not None
    nodes = levels_of(pit, np.broadcast_shapes(inflow.shape, pit.shape))
    held = _held(staged._grid, pit.si.working_volume, inflow, nodes, flows_at(staged._grid, nodes))
    together = _drained(held, staged._grid, pit)
    names = ("_run", "_rest", "_worst_rate", "_worst_inflow", "_room", "_pattern")
    whole = {n: np.where(lifts, getattr(together, n), getattr(staged, n)) for n in names}
    return replace(staged, _lag_rate=np.where(lifts, together._rate, staged._lag_rate), **whole)


def _stacked(grid: Grid, each: list[Cycle]) -> Cycle:
    """Cycles of single pumps as one, the pumps on axis 0."""
    return _joined(grid, each, np.stack) if grid.listed[0] else each[0]


def _joined(grid: Grid, each: list[Cycle], join: Callable[[list[Any]], Any]) -> Cycle:
    names = [name for name, x in vars(each[0]).items() if name != "_grid" and x is not None]
    whole: dict[str, Any] = {name: join([vars(c)[name] for c in each]) for name in names}
    return Cycle(grid, **whole)


def _in_parts(grid: Grid, pit: Pit, inflow: FloatArray, nodes: Nodes) -> Cycle:
    """The cycle of lines that hold their water, so many elements at a time."""
    size, volume = grid.level.size, pit.si.working_volume
    many = max(1, _PART // len(grid.pumps))
    if size <= many:
        return _held(grid, volume, inflow, nodes, flows_at(grid, nodes))
    spend("levels", pumps=len(grid.pumps), elements=size, levels=nodes.levels.shape[-1])
    each = []
    for start in range(0, size, many):
        part = grid.some(slice(start, min(start + many, size)))
        own = nodes.at(grid.inner, part.numbers)
        each.append(_held(part, part.spread(volume), part.spread(inflow), own, flows_at(part, own)))
    return _joined(grid, each, lambda rows: np.concatenate(rows, axis=-1).reshape(grid.shape))


def _held(
    grid: Grid | None, volume: FloatArray, inflow: FloatArray, nodes: Nodes, found: Flows
) -> Cycle:
    """The cycle of lines that hold their water, from a working volume."""
    flows, volumes = found.reckoned, nodes.volumes
    of_pit = np.broadcast_shapes(flows.shape[:-1], volume.shape)
    shape = np.broadcast_shapes(of_pit, np.shape(inflow))
    working, q = np.broadcast_to(volume, shape), np.broadcast_to(inflow, shape)
    run = np.broadcast_to(time_through(flows - q[..., None], volumes), shape)
    # the worst case is over all inflows: the same for each
    store = np.broadcast_to(volume, of_pit)
    flows = np.broadcast_to(flows, (*of_pit, flows.shape[-1]))
    worst_q = worst_inflow(store, flows, np.broadcast_to(volumes, (*of_pit, volumes.shape[-1])))
    with np.errstate(divide="ignore", invalid="ignore"):
        rest = np.where(q > 0, np.where(np.isinf(run), 0.0, working / q), np.inf)
        fill = np.where(worst_q > 0, store / worst_q, 0.0)
        worst = 1.0 / (fill + time_through(flows - worst_q[..., None], volumes))
    worst_q, worst, at_off, at_on = (
        np.broadcast_to(x, shape) for x in (worst_q, worst, flows[..., 0], flows[..., -1])
    )
    pattern = np.select(
        [np.isnan(run), q == 0, q >= at_on, q >= at_off],
        ["unknown", "idle", "falls_behind", "runs_on"],
        "cycles",
    )
    pattern = np.where(found.in_doubt(q), "unknown", pattern)
    never, status = np.isnan(at_on) | (at_off <= 0), found.status
    status = np.where(np.isnan(q + at_off + working) & (status == "ok"), "bad_input", status)
    return Cycle(
        grid, q, at_on, at_off, run, rest,
        np.where(never & ~np.isnan(at_on), 0.0, worst),
        np.where(never, np.nan, worst_q),
        working, np.zeros(shape), q < found.counted[..., -1], pattern, status,
        np.broadcast_to(found.more, shape), np.broadcast_to(found.less, shape),
        np.full(shape, np.inf),
    )  # fmt: skip


def _drained(held: Cycle, grid: Grid, pit: Pit) -> Cycle:
    """The cycle, as found of lines that hold, with what is otherwise where nothing holds them."""
    draining = make_draining(grid, pit)
    holds = np.tile(grid.line.holds, len(grid.pumps))
    was = {name: np.ravel(x) for name, x in vars(held).items() if name not in ("_grid", "_pit")}
    q, at_off, status = was["_inflow"], was["_at_off"], was["_status"]
    settled = [x[:, 0] for x in draining.at(q[:, None])]
    run, rest, reached = settled[0], settled[1], settled[-1].astype(bool)
    # what runs back, or tail water, starts the pump without any inflow
    back = draining.returned
    again = (back >= draining.working) & (at_off > q)
    fills = (q == 0) & np.isfinite(rest) & (rest > 0) & (at_off > 0)
    never_out = (back > draining.room) & ~reached & (q > 0) & (at_off > 0)
    # a filling that may stall is not relied on
    unsure = (draining.fill.code != states.OK) & (status == "ok")
    pattern = np.select(
        [unsure | (was["_pattern"] == "unknown") | np.isnan(run), never_out, again, fills],
        ["unknown", "never_delivers", "restarts_at_once", "cycles"],
        was["_pattern"],
    )
    (most, at), never = draining.worst(), np.isnan(at_off) | (at_off <= 0)
    found = {
        "_run": run,
        "_rest": rest,
        "_worst_rate": np.where(never & ~np.isnan(at_off), 0.0, most),
        "_worst_inflow": np.where(never, np.nan, at),
        "_returned": back,
        "_room": draining.room,
        "_pattern": pattern,
        "_status": np.where(unsure, states.NAMES[draining.fill.code], status),
    }
    whole = {k: np.where(holds, was[k], v).reshape(grid.shape) for k, v in found.items()}
    return replace(held, **whole)  # type: ignore[arg-type]  # none of them is the grid
