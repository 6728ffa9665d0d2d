"""What a line without a check valve does: water runs back at every stop and is pumped again.

`drains` takes SI and is what other rooms call.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, ClassVar, NamedTuple

import numpy as np

from drainpump import units as u
from drainpump.cycling.first_cycles import threshold, until_outlet
from drainpump.cycling.settled import Draining, make_draining
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.pit import Pit
from drainpump.parts.pump.bank import Pump
from drainpump.parts.scalars import check_kind
from drainpump.results import Result, one_shape
from drainpump.solve.grid import Grid, make_grid
from drainpump.states import MENDS, NAMES, OK, first_failed, may_be_less
from drainpump.units import FloatArray, View
from drainpump.work_budget import spend

_HOUR = 3600.0
#: a filling that takes longer (s) never ends
_NEVER = 1e9

#: the patterns in words, by code
PATTERNS: dict[str, str] = {
    "holds": "the check valve holds the line; nothing runs back",
    "cycles": "the pump rests between runs; what runs back is pumped again",
    "short_cycling": "endless short cycling: what runs back fills the pit to the on level at "
    "each stop, and the pump restarts at once",
    "never_delivers": "nothing ever reaches the outlet: the pump only lifts the same water "
    "again and again, and the pit overflows",
    "runs_on": "the pump never stops: the inflow holds the pit above the off level",
    "falls_behind": "the inflow is more than the pump takes away, and the pit fills up",
    "stalls": "the pump cannot fill the line to its high point",
    "idle": "no inflow",
    "unknown": "not known: an input is NaN, or the pump's data do not reach",
}


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
        reaches the outlet before the pit runs out on the way.
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
        Time to fill the line from the on level, were the pit not to run out; 0 where it
        holds its water.
    first_water_s : float or ndarray
        Time from the first start until the outlet sees water, over all cycles.
    starts_per_h, settled_starts_per_h : float or ndarray
        In the first hour, from the on level with an empty line, and once each cycle is
        like the last; 0 where the pump does not stop.
    net_gal, net_l : float or ndarray
        Water that leaves by the outlet in each cycle, in the long run.
    overflows : bool or ndarray of bool
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
    _overflows: Any
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
    overflows = View("_overflows", bool)
    pattern = View("_pattern", str)

    _mends: ClassVar[dict[str, str]] = MENDS
    _patterns: ClassVar[dict[str, str]] = PATTERNS
    _endless: ClassVar[dict[str, str]] = {
        **dict.fromkeys(("cycles_to_outlet", "first_water_s", "priming_s"), "never"),
        **dict.fromkeys(("threshold_inflow_gpm", "threshold_full_line_gpm"), "no inflow does"),
    }

    @property
    def message(self) -> Any:
        """The pattern in words."""
        return u.out(np.vectorize(PATTERNS.__getitem__, otypes=[np.str_])(self._pattern))


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
        Its off level is the line's datum, its rim is where it overflows.
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
    the outlet sees water or the pit overflows. Water is conserved throughout. A line whose
    outlet stands under water stays full, and the tail water runs back through it as long as
    it stands above the pit's level. With a check valve, `cycle` tells more.

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
    check_kind("pit", pit, Pit)
    inflow = u.take("inflow", guard="inflow", gpm=inflow_gpm, lps=inflow_lps).si
    return drains(pump, line, pit, inflow)


def drains(pump: Any, line: Any, pit: Pit, inflow: FloatArray) -> DrainBack:
    """The same for an inflow in m³/s."""
    shape = one_shape("drain_back", inflow, np.zeros(pit.shape))
    grid = make_grid(pump, line, np.zeros(shape))
    spend("drain_back", pumps=len(grid.pumps), elements=math.prod(shape), points_each=100)
    draining, count = make_draining(grid, pit), len(grid.pumps)
    q = np.tile(grid.spread(inflow), count)
    holds = np.tile(grid.line.holds, count)
    fills = np.where(holds, OK, draining.fill.code)
    sure = ~may_be_less(draining.code).any(axis=1) & (fills == OK)

    _, priming = (x[:, 0] for x in draining.fill.lowest(draining.working[:, None], q[:, None]))
    priming = np.where(priming > _NEVER, np.inf, priming)
    stalls = np.isinf(priming) | (draining.flow[:, -1] <= 0)
    least, full_line = threshold(draining, priming)
    first = draining.fill.march(draining.working[:, None], q[:, None], dips_full=False)
    early = until_outlet(draining, q, ~stalls)
    # a line that stays full never waits for its first water
    full = draining.fill.filled[:, -1] == 0
    reaches = np.where(full, ~stalls, np.isfinite(early.cycles))

    found = _long_run(draining, q, reaches, holds)
    # the quicker cycles before it settles, and what is left of the hour
    rate = (early.starts + np.maximum(_HOUR - early.until, 0.0) * found.rate) / _HOUR
    rate = np.where(found.rate > 0, rate, 0.0)
    known = np.isfinite(draining.flow[:, 0] + q + draining.fill.flow.sum(axis=(1, 2)))
    # tail water starts the pump without any inflow
    idle = known & (q == 0) & ~(draining.tail[:, 0] > 0)
    unknown = ~(known & sure)
    pattern = np.select([idle, unknown, stalls], ["idle", "unknown", "stalls"], found.pattern)
    still = known & (idle | stalls)

    def shaped(values: Any, otherwise: Any = np.nan, hard: Any = None) -> Any:
        # where the flow is not relied on, neither is what needs it
        values = values if hard is None else np.where(sure, values, hard)
        return np.reshape(np.where(known, values, otherwise), grid.shape)

    return DrainBack(
        _grid=grid,
        _inflow=np.reshape(q, grid.shape),
        _line_volume=np.reshape(draining.fill.filled[:, -1], grid.shape),
        _returned=np.reshape(draining.returned, grid.shape),
        _working=np.reshape(draining.working, grid.shape),
        _threshold=shaped(least, hard=np.inf),
        _threshold_full=shaped(full_line, hard=np.inf),
        _delivers=shaped(first.reached[:, 0] & ~stalls, False, hard=False),
        _reaches=shaped(reaches, False, hard=False),
        _cycles=shaped(np.where(full & ~stalls, 1.0, early.cycles), hard=np.inf),
        _priming=shaped(priming),
        _first_water=shaped(np.where(full & ~stalls, 0.0, early.waited), hard=np.inf),
        _rate=shaped(np.where(still, 0.0, rate)),
        _settled=shaped(np.where(still, 0.0, found.rate)),
        _net=shaped(np.where(still, 0.0, found.net), hard=0.0),
        _overflows=shaped(~idle & (found.overflows | early.overflows | ~sure), False),
        _pattern=np.reshape(pattern, grid.shape),
        _status=NAMES[
            first_failed(np.concatenate([draining.code, fills[:, None]], axis=1))
        ].reshape(grid.shape),
    )


class _LongRun(NamedTuple):
    """What goes on once each cycle is like the last, (E,)."""

    pattern: Any
    rate: FloatArray  # starts per second
    net: FloatArray  # m³ that leave by the outlet in each cycle
    overflows: Any


def _long_run(draining: Draining, q: FloatArray, reaches: Any, holds: Any) -> _LongRun:
    """The settled cycle, and the pattern it makes."""
    settled = draining.at(q[:, None])
    period = (settled.run + settled.rest)[:, 0]
    over = q >= draining.flow[:, -1]
    runs_on = reaches & (q >= draining.flow[:, 0])
    with np.errstate(divide="ignore", invalid="ignore"):
        rate = np.where(runs_on, 0.0, 1.0 / period)
        # what has no room in the pit is lost over the rim at each stop
        net = np.maximum(q * period - np.maximum(draining.returned - draining.room, 0.0), 0.0)
    net = np.where(reaches, np.where(runs_on, np.nan, net), 0.0)
    pattern = np.select(
        [reaches & over, runs_on, ~reaches, holds, draining.returned >= draining.working],
        ["falls_behind", "runs_on", "never_delivers", "holds", "short_cycling"],
        "cycles",
    )
    overflows = (reaches & over) | ((draining.returned > draining.room) & ~runs_on) | ~reaches
    return _LongRun(pattern, rate, net, overflows)
