"""A line over a high point: the vented and the siphoning state, and the air between them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any, ClassVar

import numpy as np

from drainpump import units as u
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.pit import Pit
from drainpump.parts.pump.bank import Pump
from drainpump.parts.scalars import check_kinds
from drainpump.physics import air, system
from drainpump.physics.constants import GRAVITY
from drainpump.physics.system import LineArrays
from drainpump.results import Frame, Result, check_units, frame_of
from drainpump.solve.grid import Grid, make_grid
from drainpump.solve.operating_point import OperatingPoint, solve
from drainpump.states import BEYOND, NO_FLOW, OK
from drainpump.units import FloatArray, View

#: the verdicts in words, by code
VERDICTS: dict[str, str] = {
    "never_starts": "never starts: the pump cannot reach the high point",
    "needs_siphon": "starts, but only runs if the siphon holds",
    "vented_or_siphon": "runs vented; a siphon that holds brings more",
    "one_state": "no drop past a high point: vented or not, it runs the same",
    "unknown": "not known: the pump's data do not reach",
}


class HighPoint(Result):
    """Both states of a line with high points.

    Attributes
    ----------
    vented_flow_gpm, siphon_flow_gpm : float or ndarray (and ``_lps``)
        Flow at the pump-off level with air let in at the high points, and with the
        siphon running and the drop past them credited, however it was started.
    high_point_head_ft, high_point_head_m : float or ndarray
        Gauge pressure head at the run end where it is lowest when siphoning; NaN for a
        line of one run.
    high_point_run : int or ndarray of int
        The run whose end that is, 1, 2, ...; 0 for a line of one run.
    high_point_limit_ft, high_point_limit_m, vapour_limit_ft, vapour_limit_m : float or ndarray
        Gauge head below which a siphon is not to be relied on (dissolved air comes out:
        common practice, no source), and at which the water boils at sea level.
    siphon_holds : bool or ndarray of bool
        The high point's head stays above both limits.
    verdict_code, verdict : str or ndarray of str
        ``never_starts``, ``needs_siphon``, ``vented_or_siphon``, ``one_state`` or
        ``unknown``, and the same in words.
    clearing_share : float or ndarray
        Least share, over the falling runs, of the velocity that would carry trapped air
        out which the vented flow has; below 1 air stays. Infinite without falling runs.
    air_clears : bool or ndarray of bool
        True where that share is 1 or more. `falling_runs` lists each run.
    status, siphon_status : str or ndarray of str
        Status of the operating point in each state.
    """

    _grid: Grid
    _vented: FloatArray
    _siphon: FloatArray
    _high_point_head: FloatArray
    _high_point_run: Any
    _high_point_limit: FloatArray
    _vapour: FloatArray
    _verdict: Any
    _clearing: FloatArray
    _status: Any
    _siphon_status: Any
    _had: FloatArray  # (pumps, R, N) m/s at the vented flow
    _needed: FloatArray  # (R, N) m/s, NaN where a run does not fall

    vented_flow_gpm, vented_flow_lps = View("_vented"), View("_vented")
    siphon_flow_gpm, siphon_flow_lps = View("_siphon"), View("_siphon")
    high_point_head_ft, high_point_head_m = View("_high_point_head"), View("_high_point_head")
    high_point_run = View("_high_point_run")
    high_point_limit_ft, high_point_limit_m = View("_high_point_limit"), View("_high_point_limit")
    vapour_limit_ft, vapour_limit_m = View("_vapour"), View("_vapour")
    siphon_holds = View("_holds", bool)
    verdict_code = View("_verdict", str)
    clearing_share = View("_clearing")
    air_clears = View("_clears", bool)

    _mends: ClassVar[dict[str, str]] = OperatingPoint._mends

    @property
    def _holds(self) -> Any:
        with np.errstate(invalid="ignore"):
            return (self._high_point_head > self._high_point_limit) & (
                self._high_point_head > self._vapour
            )

    @property
    def _clears(self) -> Any:
        with np.errstate(invalid="ignore"):
            return np.asarray(self._clearing >= 1)

    @property
    def verdict(self) -> Any:
        """The verdict in words."""
        return u.out(np.vectorize(VERDICTS.__getitem__, otypes=[np.str_])(self._verdict))

    @property
    def siphon_status(self) -> Any:
        """Status of the operating point of the siphoning line."""
        return u.out(self._siphon_status)

    def falling_runs(self, units: u.System = "us") -> Frame:
        """Return one row per falling run: the velocity had, vented, and the one that clears air.

        Parameters
        ----------
        units : {"us", "metric"}
            Which spelling of the velocities becomes a column.

        Returns
        -------
        pandas.DataFrame
            Columns pump, line, element (flat), run, velocity, clearing_velocity, clears.
        """
        unit = "fps" if check_units(units) == "us" else "mps"
        falls = np.isfinite(self._needed)
        p, r, n = np.nonzero(np.broadcast_to(falls, self._had.shape))
        at, element = np.divmod(n, int(np.prod(self._grid.inner)))
        had, needed = self._had[p, r, n], self._needed[r, n]
        pumps, lines = self._grid.pumps, self._grid.lines
        return frame_of(
            {
                "pump": [pumps[i].name for i in p],
                "line": [lines[i].name for i in at],
                "element": element,
                "run": r + 1,
                f"velocity_{unit}": u.from_si(had, unit),
                f"clearing_velocity_{unit}": u.from_si(needed, unit),
                "clears": had >= needed,
            }
        )


def high_point(
    pump: Pump | Sequence[Pump],
    line: DischargeLine | Sequence[DischargeLine],
    pit: Pit | None = None,
    *,
    high_point_limit_ft: u.Quantity | None = None,
    high_point_limit_m: u.Quantity | None = None,
    formula: str = "wisner",
) -> HighPoint:
    """Report a line vented at its high points and siphoning over them.

    Parameters
    ----------
    pump, line : as in `operating_point`
        The line's own ``siphon`` does not matter here: both states are worked out.
    pit : Pit, optional
        With a pit the pump starts from its on level and is judged at its off level;
        without one it starts from the off level too.
    high_point_limit_ft, high_point_limit_m : float or array_like, default -7 m (-23 ft)
        Gauge head at the high point below which a siphon is not to be relied on.
    formula : str, default "wisner"
        Which air-clearing formula, see ``drainpump.physics.air.CLEARING``.

    Returns
    -------
    HighPoint
        Arrays of shape (pumps, lines, *shape of the quantities).

    Raises
    ------
    UnitError, InputError
        Bad units or values.

    Notes
    -----
    Pressure head at a run's end when siphoning: the head the pump makes, less the losses
    up to there, the elevation and the velocity head. Flow by gravity alone once the pump
    has stopped is not looked at.

    References
    ----------
    The air-clearing formulas: ``drainpump.physics.air.CLEARING``.

    Examples
    --------
    >>> import numpy as np
    >>> import drainpump as dp
    >>> q = np.linspace(0, 50, 51)
    >>> pump = dp.PumpCurve(name="A", flow_gpm=q, head_ft=20 * (1 - (q / 50) ** 2))
    >>> pipe = dp.Pipe(bore_in=2.047)
    >>> runs = [dp.Run(pipe=pipe, length_ft=30, rise_ft=12, k=3.9),
    ...         dp.Run(pipe=pipe, length_ft=120, rise_ft=-8, k=2.4)]
    >>> both = dp.high_point(pump, dp.DischargeLine(runs=runs))
    >>> round(both.vented_flow_gpm, 1), round(both.siphon_flow_gpm, 1), both.verdict
    (29.3, 36.8, 'runs vented; a siphon that holds brings more')
    """
    check_kinds({"pit": Pit}, {"pit": pit})
    said, usual = u.Typed(locals()), ("m", air.HIGH_POINT_LIMIT)
    limit = said.take("high_point_limit", "any", usual).si
    rise = np.zeros(()) if pit is None else pit.si.on - pit.si.off
    zero = np.zeros(np.broadcast_shapes(np.shape(rise), np.shape(limit)))
    grid = make_grid(pump, line, zero)
    asked = grid.line.without("siphon")
    vented = solve(replace(grid, line=asked))
    start = solve(replace(make_grid(pump, line, rise + zero), line=asked))
    siphon = solve(replace(grid, line=_running(grid.line)))
    head, run = _lowest_head(grid, siphon._reckoned)
    needed = _needed(grid, formula)
    flows = vented._reckoned.reshape(len(grid.pumps), 1, -1)
    had = flows / grid.line.area
    with np.errstate(invalid="ignore"):
        least = np.where(np.isnan(needed), np.inf, had / needed).min(axis=1)
    boils = [np.broadcast_to(air.vapour_limit(x.si.water), grid.inner) for x in grid.lines]
    vapour = np.stack(boils) if grid.listed[1] else boils[0]
    return HighPoint(
        grid,
        vented._flow,
        siphon._flow,
        head,
        run,
        np.broadcast_to(limit, grid.shape),
        np.broadcast_to(vapour, grid.shape),
        _verdicts(vented, siphon, start),
        np.where(np.isnan(vented._flow), np.nan, least.reshape(grid.shape)),
        np.asarray(vented.status),
        np.asarray(siphon.status),
        had,
        needed,
    )


def _running(line: LineArrays) -> LineArrays:
    """The lines with the siphon running: then no high point is in the way."""
    end = np.broadcast_to(line.end[-1], line.end.shape)
    return replace(line, siphon=np.ones_like(line.siphon), end=end)


def _lowest_head(grid: Grid, flow: FloatArray) -> tuple[FloatArray, Any]:
    """Lowest gauge head over the inner run ends at the siphoning flow, and whose end it is."""
    line = replace(grid.line, siphon=np.ones_like(grid.line.siphon))
    count = np.repeat([len(x.runs) for x in grid.lines], int(np.prod(grid.inner)))
    inner = np.arange(1, len(line.end) + 1)[:, None] < count
    heads, runs = [], []
    for q in flow.reshape(len(grid.pumps), -1):
        velocity = q / line.area
        # the faster of the two runs that meet there has the lower pressure
        following = np.concatenate([velocity[1:], velocity[-1:]])
        speed = np.maximum(velocity, following)
        grade = system.head(q, line) - system.losses(q, line)
        head = np.where(inner, grade - line.end - speed**2 / (2 * GRAVITY), np.inf)
        low = np.argmin(head, axis=0)
        heads.append(np.take_along_axis(head, low[None], axis=0)[0])
        runs.append(np.where(count > 1, low + 1, 0))
    found = np.reshape(heads, grid.shape)
    return np.where(np.isinf(found), np.nan, found), np.reshape(runs, grid.shape)


def _needed(grid: Grid, formula: str) -> FloatArray:
    """Velocity that clears air in each falling run (R, N), NaN in the others."""
    line = grid.line
    drop = np.concatenate([np.zeros_like(line.end[:1]), line.end[:-1]]) - line.end
    falls = drop > 0
    with np.errstate(divide="ignore", invalid="ignore"):
        sine = np.where(line.length > 0, np.minimum(drop / line.length, 1.0), 1.0)
    velocity = air.clearing_velocity(line.diameter, np.where(falls, sine, 1.0), formula)
    return np.where(falls, velocity, np.nan)


def _verdicts(vented: OperatingPoint, siphon: OperatingPoint, start: OperatingPoint) -> Any:
    stuck = vented._code == NO_FLOW
    with np.errstate(invalid="ignore"):
        more = siphon._reckoned > vented._reckoned * (1 + 1e-9)
    end, lead = vented._grid.line.end, (vented._grid.count, *vented._grid.inner)
    level = (np.maximum(end.max(axis=0), 0.0) <= end[-1]).reshape(lead)
    level = np.broadcast_to(level, (len(vented._grid.pumps), *lead)).reshape(vented._grid.shape)
    beyond = vented._code == BEYOND
    # beyond the curve more is seen of a siphon alone, and the same only where nothing falls
    over = np.where(beyond, level, (siphon._code == OK) | (more & (siphon._code == BEYOND)))
    known = ((vented._code == OK) | beyond) & over
    return np.select(
        [stuck & (start._code == NO_FLOW), stuck, known & more, known],
        ["never_starts", "needs_siphon", "vented_or_siphon", "one_state"],
        "unknown",
    )
