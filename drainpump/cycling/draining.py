"""What a line without a check valve does: water runs back at every stop and is pumped again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, ClassVar, NamedTuple

import numpy as np
from scipy.optimize import elementwise

from drainpump import units as u
from drainpump.cycling.filling import Filling, level_of, make_filling
from drainpump.errors import wrong
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.pit import Pit
from drainpump.parts.pump.bank import Pump
from drainpump.results import Result, one_shape
from drainpump.solve.grid import Grid, make_grid
from drainpump.solve.operating_point import OperatingPoint, solve
from drainpump.states import NAMES, OK, first_failed, may_be_less
from drainpump.units import FloatArray, View

__all__ = ["DrainBack", "drain_back"]

#: steps followed until the outlet sees water, and the share of the line's volume by which
#: one of them may push on: a step is a cycle, or many alike where the inflow is small
_STEPS, _PUSH = 500, 0.005
_HOUR = 3600.0
#: levels at which the full line's flow is worked out, closer together at both ends
_ROWS = 0.5 * (1 - np.cos(np.pi * np.linspace(0.0, 1.0, 17)))
_POINTS, _WEIGHTS = np.polynomial.legendre.leggauss(12)

#: the patterns in words, by code
PATTERNS: dict[str, str] = {
    "holds": "the check valve holds the line; nothing runs back",
    "cycles": "the pump rests between runs; what runs back is pumped again",
    "short_cycling": "endless short cycling: what runs back fills the pit to the on level at "
    "each stop, and the pump restarts at once",
    "never_delivers": "nothing ever reaches the outlet: the pump only lifts the same water "
    "again and again, and the pit spills",
    "runs_on": "the pump never stops: the inflow holds the pit above the off level",
    "falls_behind": "the inflow is more than the pump takes away, and the pit fills up",
    "stalls": "the pump cannot fill the line to its high point",
    "idle": "no inflow",
    "unknown": "not known: an input is NaN, or the pump's data do not reach",
}


@dataclass(frozen=True, eq=False, repr=False)
class DrainBack(Result):
    """How a line that drains back cycles at an inflow.

    Attributes
    ----------
    inflow_gpm, inflow_lps : float or ndarray
        Inflow asked about.
    line_volume_gal, line_volume_l : float or ndarray
        Water the line takes before the outlet sees any.
    returned_gal, returned_l : float or ndarray
        Water that runs back when the pump stops with the line full.
    working_volume_gal, working_volume_l : float or ndarray
        Pit water between the floats.
    threshold_inflow_gpm, threshold_inflow_lps : float or ndarray
        Inflow at which the first cycle, from the on level with an empty line, just
        reaches the outlet, the filling taken quasi-steadily.
    threshold_full_line_gpm, threshold_full_line_lps : float or ndarray
        The same with the full line's flow throughout; it fills too slowly and so is low.
    delivers : bool or ndarray of bool
        The first cycle reaches the outlet.
    reaches_outlet : bool or ndarray of bool
        Some cycle does.
    cycles_to_outlet : float or ndarray
        Number of the first cycle that does; infinite where none does. Above some hundred
        it is known to 1 %.
    priming_s : float or ndarray
        Time to fill the line from the on level, were the pit not to run out.
    first_water_s : float or ndarray
        Time from the first start until the outlet sees water, over all cycles.
    starts_per_h, settled_starts_per_h : float or ndarray
        In the first hour, from the on level with an empty line, and once each cycle is
        like the last; 0 where the pump does not stop.
    net_gal, net_l : float or ndarray
        Water that leaves by the outlet in each cycle, in the long run.
    spills : bool or ndarray of bool
        The pit overflows at some time.
    pattern : str or ndarray of str
        ``holds``, ``cycles``, ``short_cycling``, ``never_delivers``, ``runs_on``,
        ``falls_behind``, ``stalls``, ``idle`` or ``unknown``; `message` says it in words.
    status : str or ndarray of str
        The first that is not ``ok`` from the off level to the rim, or in filling may be
        less than reckoned with: ``unknown`` where delivery is then not counted on.
    """

    _grid: Grid
    _inflow: FloatArray
    _line_volume: FloatArray
    _returned: FloatArray
    _working: FloatArray
    _threshold: FloatArray
    _threshold_full: FloatArray
    _delivers: Any
    _reaches: Any
    _cycles: FloatArray
    _priming: FloatArray
    _first_water: FloatArray
    _rate: FloatArray
    _settled: FloatArray
    _net: FloatArray
    _spills: Any
    _pattern: Any
    _status: Any

    inflow_gpm, inflow_lps = View("_inflow"), View("_inflow")
    line_volume_gal, line_volume_l = View("_line_volume"), View("_line_volume")
    returned_gal, returned_l = View("_returned"), View("_returned")
    working_volume_gal, working_volume_l = View("_working"), View("_working")
    threshold_inflow_gpm, threshold_inflow_lps = View("_threshold"), View("_threshold")
    threshold_full_line_gpm = View("_threshold_full")
    threshold_full_line_lps = View("_threshold_full")
    delivers = View("_delivers", bool)
    reaches_outlet = View("_reaches", bool)
    cycles_to_outlet = View("_cycles")
    priming_s = View("_priming")
    first_water_s = View("_first_water")
    starts_per_h = View("_rate")
    settled_starts_per_h = View("_settled")
    net_gal, net_l = View("_net"), View("_net")
    spills = View("_spills", bool)
    pattern = View("_pattern", str)

    _mends: ClassVar[dict[str, str]] = OperatingPoint._mends
    _patterns: ClassVar[dict[str, str]] = PATTERNS
    _endless: ClassVar[dict[str, str]] = {
        **dict.fromkeys(("cycles_to_outlet", "first_water_s", "priming_s"), "never"),
        **dict.fromkeys(("threshold_inflow_gpm", "threshold_full_line_gpm"), "no inflow does"),
    }

    @property
    def message(self) -> Any:
        """The pattern in words."""
        return u.out(np.vectorize(PATTERNS.__getitem__, otypes=[np.str_])(self._pattern))

    def _axes(self) -> list[tuple[str, list[str]]]:
        return self._grid.axes()


class _Case(NamedTuple):
    """The elements E = pumps × lines × inner, flat."""

    fill: Filling
    inflow: FloatArray
    working: FloatArray
    room: FloatArray  # from the off level to the rim, m³
    returned: FloatArray
    flow: FloatArray  # (E, levels) full line, evenly from off to rim
    holds: Any
    sure: Any  # whether all flows in use may be counted on
    code: Any  # the first status of theirs that is not ok


def drain_back(
    pump: Pump | Sequence[Pump],
    line: DischargeLine | Sequence[DischargeLine],
    pit: Pit,
    *,
    inflow_gpm: u.Quantity | None = None,
    inflow_lps: u.Quantity | None = None,
) -> DrainBack:
    """Say how much runs back at each stop, what reaches the outlet, and how the pump cycles.

    Parameters
    ----------
    pump, line : as in `operating_point`
        Lines with ``check_valve=False`` drain back; one with a check valve holds.
    pit : Pit
        Its off level is the line's datum, its rim is where it spills.
    inflow_gpm, inflow_lps : float or array_like
        Water coming in, >= 0. Exactly one.

    Returns
    -------
    DrainBack
        Arrays of shape (pumps, lines, *shape of the quantities).

    Raises
    ------
    UnitError, InputError
        Bad units or values.

    Notes
    -----
    The filling is quasi-steady: the pump faces the lift, the friction and the losses of
    the filled part, a run's losses spread evenly over it; the outlet counts when water is
    there. What runs back is in the pit at once. Where the first cycle does not reach the
    outlet, all of it comes back and the inflow besides, so each cycle pushes further, until
    the outlet sees water or the pit spills. Water is conserved throughout. With a check
    valve, `cycle` tells more.

    Examples
    --------
    >>> import numpy as np
    >>> import drainpump as dp
    >>> q = np.linspace(0, 50, 51)
    >>> pump = dp.PumpCurve(name="A", flow_gpm=q, head_ft=20 * (1 - (q / 50) ** 2))
    >>> line = dp.straight_line(pipe=dp.Pipe(bore_in=2.047), length_ft=150, lift_ft=6, k=6.3,
    ...                         check_valve=False)
    >>> pit = dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=13)
    >>> back = dp.drain_back(pump, line, pit, inflow_gpm=5)
    >>> round(back.returned_gal, 2), round(back.threshold_inflow_gpm, 1), back.delivers
    (25.64, 29.1, False)
    """
    if not isinstance(pit, Pit):
        raise wrong("pit", pit, "must be a Pit", "make one with Pit(...)")
    inflow = u.take("inflow", guard="inflow", gpm=inflow_gpm, lps=inflow_lps).si
    shape = one_shape("drain_back", inflow, np.zeros(pit.shape))
    grid = make_grid(pump, line, np.zeros(shape))
    case = _case(grid, pit, inflow)
    threshold, full_line, priming = _threshold(case)
    stalls = np.isinf(priming) & ~case.holds
    first = case.fill.march(case.working, case.inflow, dips_full=False)
    early = _until_outlet(case, stalls)
    reaches = case.holds | np.isfinite(early.cycles)
    pattern, settled, net, over = _long_run(case, reaches)
    # the quicker cycles before it settles, and what is left of the hour
    rate = (early.starts + np.maximum(_HOUR - early.until, 0.0) * settled) / _HOUR
    rate = np.where(settled > 0, rate, 0.0)
    known = np.isfinite(case.flow[:, 0] + case.inflow + case.fill.flow.sum(axis=(1, 2)))
    pattern = np.where(known & case.sure, np.where(stalls, "stalls", pattern), "unknown")
    pattern = np.where(known & (case.inflow == 0), "idle", pattern)
    still = known & ((case.inflow == 0) | stalls)

    def shaped(values: Any, unknown: Any = np.nan, hard: Any = None) -> Any:
        # where the flow is not relied on, neither is what needs it
        values = values if hard is None else np.where(case.sure, values, hard)
        return np.reshape(np.where(known, values, unknown), grid.shape)

    return DrainBack(
        grid,
        np.reshape(case.inflow, grid.shape),
        np.reshape(np.where(case.holds, 0.0, case.fill.filled[:, -1]), grid.shape),
        np.reshape(case.returned, grid.shape),
        np.reshape(case.working, grid.shape),
        shaped(np.where(case.holds, 0.0, threshold), hard=np.inf),
        shaped(np.where(case.holds, 0.0, full_line), hard=np.inf),
        shaped(case.holds | (first.reached & ~stalls), False, hard=False),
        shaped(reaches, False, hard=False),
        shaped(np.where(case.holds, 1.0, early.cycles), hard=np.inf),
        shaped(priming),
        shaped(np.where(case.holds, 0.0, early.waited), hard=np.inf),
        shaped(np.where(still, 0.0, rate)),
        shaped(np.where(still, 0.0, settled)),
        shaped(np.where(still, 0.0, net), hard=0.0),
        shaped((case.inflow != 0) & (over | (early.spills & ~case.holds) | ~case.sure), False),
        np.reshape(pattern, grid.shape),
        NAMES[case.code].reshape(grid.shape),
    )


def _case(grid: Grid, pit: Pit, inflow: FloatArray) -> _Case:
    count = len(grid.pumps)

    def each(quantity: FloatArray) -> FloatArray:
        return np.tile(grid.spread(quantity), count)

    height = np.broadcast_to(pit._depth.si - pit._off.si, grid.inner)
    full = solve(grid.at_levels(height[..., None] * _ROWS))
    held, fill = np.tile(grid.line.holds, count), make_filling(grid, pit)
    fills, code = np.where(held, OK, fill.code), full.si.code.reshape(-1, _ROWS.size)
    return _Case(
        fill,
        each(inflow),
        each(pit._working_volume),
        each(pit._volume_between(pit._off.si, pit._depth.si)),
        np.tile(grid.returning, count),
        full.si.reckoned.reshape(code.shape),
        held,
        ~may_be_less(code).any(axis=1) & (fills == OK),
        first_failed(np.concatenate([code, fills[:, None]], axis=1)),
    )


def _full_flow(case: _Case, water: FloatArray) -> FloatArray:
    """Flow of the full line with ``water`` (E, k) above the off level."""
    level = level_of(case.fill, water.T).T
    part = np.clip(level / case.fill.top[:, None], 0.0, 1.0)
    place = np.arccos(1 - 2 * part) / np.pi * (_ROWS.size - 1)
    low = np.minimum(np.nan_to_num(place), _ROWS.size - 2).astype(np.intp)
    a, b = (np.take_along_axis(case.flow, low + k, axis=1) for k in (0, 1))
    share = (part - _ROWS[low]) / (_ROWS[low + 1] - _ROWS[low])
    return np.asarray(a + share * (b - a))


def _threshold(case: _Case) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Inflow that just reaches the outlet, the same by the full line's flow, the time to fill."""
    volume, flow = case.fill.filled[:, -1], case.flow[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        full_line = np.maximum(flow * (1 - case.working / volume), 0.0)
    _, priming = case.fill.left(case.working, case.inflow)
    priming = np.where(priming > 1e9, np.inf, priming)
    threshold = np.where(case.working >= volume, 0.0, np.inf)
    can = np.flatnonzero((case.working < volume) & np.isfinite(priming))
    if can.size:

        def short(q: FloatArray, i: Any) -> FloatArray:
            # finished elements are dropped, so the number of each travels with it
            return case.fill.take(i).left(case.working[i], q)[0]

        most = case.fill.flow[can].max(axis=(1, 2))
        found = elementwise.find_root(short, (np.zeros(can.size), most), args=(can,))
        threshold[can] = found.x
    return threshold, np.where(np.isinf(threshold), np.inf, full_line), priming


class _Early(NamedTuple):
    """What happens before the cycles repeat themselves."""

    cycles: FloatArray  # number of the cycle that first reaches the outlet
    waited: FloatArray  # s until it does
    starts: FloatArray  # starts in the first hour before it settles
    until: FloatArray  # s when it settles
    spills: Any


def _until_outlet(case: _Case, stalls: Any) -> _Early:
    """Follow cycle after cycle until the outlet sees water or no cycle gets further."""
    size = case.inflow.size
    cycles, waited = np.full(size, np.inf), np.full(size, np.inf)
    starts, spills = np.zeros(size), np.zeros(size, dtype=bool)
    can = ~case.holds & ~stalls & (case.inflow > 0) & np.isfinite(case.fill.flow[:, 0, 0])
    left = np.flatnonzero(can)
    start, time, count = case.working.copy(), np.zeros(size), np.zeros(size)
    for number in range(1, _STEPS + 1):
        if not left.size:
            break
        fill, q = case.fill.take(left), case.inflow[left]
        march = fill.march(start[left], q, dips_full=number > 1)
        done, on = left[march.reached], ~march.reached
        cycles[done], waited[done] = count[done] + 1, time[done] + march.time[march.reached]
        back = _interp(march.filled, fill.filled, fill.back)
        spills[left] |= on & (back > case.room[left])
        kept = np.minimum(back, case.room[left])
        rest = np.maximum(case.working[left] - kept, 0.0) / q
        after = np.maximum(kept, case.working[left])
        # full to the rim and no further than before: it will never get there
        stuck = (after <= start[left] * (1 + 1e-12)) & (number > 2) & (rest == 0)
        # a small inflow pushes on so little that many cycles are as good as one
        gain = np.maximum(after - start[left], 1e-300)
        many = np.maximum(np.floor(_PUSH * fill.filled[:, -1] / gain), 1.0)
        many = np.where(on & (number > 2) & (rest == 0) & ~stuck, many, 1.0)
        one = march.time + rest
        with np.errstate(divide="ignore"):
            fit = np.ceil((_HOUR - time[left]) / one)
        starts[left] += np.where(on, np.clip(fit, 0.0, many), 0.0)
        start[left] = np.minimum(start[left] + many * (after - start[left]), case.room[left])
        time[left] += np.where(on, many * one, 0.0)
        count[left] += many
        left = left[on & ~stuck & np.isfinite(march.time)]
    return _Early(cycles, waited, starts, time, spills)


def _interp(x: FloatArray, xs: FloatArray, ys: FloatArray) -> FloatArray:
    return np.array([np.interp(a, b, c) for a, b, c in zip(x, xs, ys, strict=True)])


def _long_run(case: _Case, reaches: Any) -> tuple[Any, FloatArray, FloatArray, Any]:
    """Pattern, starts per second, net water per cycle and spilling once it repeats itself."""
    q = case.inflow
    start = np.minimum(np.maximum(case.working, case.returned), case.room)
    march = case.fill.march(start, q, dips_full=True)
    pit = np.where(case.holds, start, march.pit)
    filling = np.where(case.holds, 0.0, march.time)
    # the line is full: draw the pit down with the inflow still coming
    nodes = 0.5 * (_POINTS + 1) * pit[:, None]
    with np.errstate(divide="ignore", invalid="ignore"):
        net = _full_flow(case, nodes) - q[:, None]
        down = (0.5 * _WEIGHTS * pit[:, None] / net).sum(axis=1)
        rest = np.maximum(case.working - np.minimum(case.returned, case.room), 0.0) / q
        # where the outlet sees no water, what the pump lifts only comes back
        period = np.where(reaches, filling + down, march.time) + rest
        rate = 1.0 / period
        delivered = q * period - np.maximum(case.returned - case.room, 0.0)
    over = q >= _full_flow(case, case.room[:, None])[:, 0]
    on = q >= case.flow[:, 0]
    rate = np.where(on & reaches, 0.0, rate)
    delivered = np.where(reaches, np.maximum(delivered, 0.0), 0.0)
    delivered = np.where(on & reaches, np.nan, delivered)
    again = case.returned >= case.working
    pattern = np.select(
        [reaches & over, reaches & on, ~reaches, case.holds, again],
        ["falls_behind", "runs_on", "never_delivers", "holds", "short_cycling"],
        "cycles",
    )
    spills = (reaches & over) | ((case.returned > case.room) & ~(on & reaches)) | ~reaches
    return pattern, rate, delivered, spills
