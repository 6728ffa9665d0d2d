"""The question turned round: how long, how high, how narrow, for a needed flow."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any, ClassVar, TypeAlias

import numpy as np
import numpy.typing as npt
from scipy.optimize import elementwise

from drainpump import units as u
from drainpump.errors import InputError, wrong
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.pump.bank import Pump
from drainpump.parts.scalars import whole
from drainpump.physics.constants import GRAVITY
from drainpump.physics.system import LineArrays, losses
from drainpump.results import Result
from drainpump.solve.flat_curve import FlatPump
from drainpump.solve.grid import Grid, make_grid
from drainpump.solve.operating_point import solve
from drainpump.states import BAD, BELOW, BEYOND, Codes, counted_on
from drainpump.units import FloatArray, View

#: the longest run and the greatest lift that are looked at, m
_LONGEST, _HIGHEST = 1e5, 1e3

#: lines, the size sought, and how high above the off level the lines begin
_Change: TypeAlias = Callable[[LineArrays, FloatArray, FloatArray], LineArrays]
#: the size at which lines that begin so high ask heads (P, N) at their flows (N,)
_Exact: TypeAlias = Callable[[FloatArray, FloatArray, FloatArray], FloatArray]


class _Limit(Result):
    """What the two share: the need, and what a status asks."""

    _grid: Grid
    _need: FloatArray

    need_gpm, need_lps = View("_need"), View("_need")

    _mends: ClassVar[dict[str, str]] = {
        "none_serves": "not even at 0 does the pump give the need; see duty_to_buy for another",
        "always_serves": "the pump gives the need at any value looked at",
        "beyond_curve": "the need is past the curve's last point; get points further out",
        "below_curve": "the need is before the curve's first point; give shutoff_ft",
        "bad_input": "an input of this element is NaN",
    }


class MaxLength(_Limit):
    """The longest run that still carries a need; arrays of shape (pumps, lines, *quantities).

    Attributes
    ----------
    length_ft, length_m : float or ndarray
        Greatest length of the run; NaN where there is none.
    need_gpm, need_lps : float or ndarray
        Flow that was needed.
    status : str or ndarray of str
        ``ok``; ``none_serves`` (the flow falls short at no length at all);
        ``always_serves`` (it is carried over 100 km); ``beyond_curve`` and
        ``below_curve`` (the need lies outside the curve's points); ``bad_input``.
    """

    _length: FloatArray
    _status: Any

    length_ft, length_m = View("_length"), View("_length")


class MaxLift(_Limit):
    """The greatest lift at which a need is still carried; shaped and coded as `MaxLength`.

    Attributes
    ----------
    lift_ft, lift_m : float or ndarray
        Greatest height of the line's end above the pump-off level; NaN where there is none.
    need_gpm, need_lps : float or ndarray
        Flow that was needed.
    """

    _lift: FloatArray
    _status: Any

    lift_ft, lift_m = View("_lift"), View("_lift")


def max_length(
    pump: Pump | Sequence[Pump],
    line: DischargeLine | Sequence[DischargeLine],
    *,
    need_gpm: u.Quantity | None = None,
    need_lps: u.Quantity | None = None,
    run: int | None = None,
) -> MaxLength:
    """Return the longest run that still carries the need.

    Parameters
    ----------
    pump, line : pump and DischargeLine, or sequences of them
        The lines' own length of that run is not used; rises and fittings stay.
    need_gpm, need_lps : float or array_like
        Flow needed at the pump-off level, > 0. Exactly one.
    run : int, optional
        Which run is stretched, 1 for the first; needed where a line has several.

    Returns
    -------
    MaxLength

    Raises
    ------
    UnitError, InputError
        Bad units or values; a run that a line does not have.

    Notes
    -----
    The greatest x with Q(x) >= need, Q falling as x grows, by scipy's bracketing root
    finder over all elements at once. A flow known only as more than the curve's last
    point serves up to that point; one that is ``multiple``, or known only as less than
    the first point, does not serve.

    Examples
    --------
    >>> import drainpump as dp
    >>> pump = dp.PumpCurve(name="A", flow_gpm=[0, 15, 30, 50], head_ft=[20, 18.2, 12.8, 0])
    >>> line = dp.straight_line(pipe=dp.Pipe(bore_in=2.047), length_ft=150, lift_ft=6, k=6.3)
    >>> round(dp.size.max_length(pump, line, need_gpm=30).length_ft)
    342
    """
    need = take_need(need_gpm, need_lps)
    grid = make_grid(pump, line, np.zeros(need.shape))
    at = _run_index(grid, run)

    def stretch(lines: LineArrays, x: FloatArray, _: FloatArray) -> LineArrays:
        length = np.array(lines.length)
        length[at] = x
        return replace(lines, length=length)

    def longest(head: FloatArray, flow: FloatArray, _: FloatArray) -> FloatArray:
        return _length_at(head, flow, grid.line, at)

    found, status = _greatest(grid, need, stretch, _LONGEST, longest)
    return MaxLength(grid, np.broadcast_to(need, grid.shape), found, status)


def max_lift(
    pump: Pump | Sequence[Pump],
    line: DischargeLine | Sequence[DischargeLine],
    *,
    need_gpm: u.Quantity | None = None,
    need_lps: u.Quantity | None = None,
) -> MaxLift:
    """Return the greatest lift at which the need is still carried.

    Parameters
    ----------
    pump, line : pump and DischargeLine, or sequences of them
        The whole line is raised or lowered, its high points with it; lengths stay.
    need_gpm, need_lps : float or array_like
        Flow needed at the pump-off level, > 0. Exactly one.

    Returns
    -------
    MaxLift

    Raises
    ------
    UnitError, InputError
        Bad units or values.

    Notes
    -----
    As `max_length`, over lifts from 0 to 1 km.

    Examples
    --------
    >>> import drainpump as dp
    >>> pump = dp.PumpCurve(name="A", flow_gpm=[0, 15, 30, 50], head_ft=[20, 18.2, 12.8, 0])
    >>> line = dp.straight_line(pipe=dp.Pipe(bore_in=2.047), length_ft=150, lift_ft=6, k=6.3)
    >>> round(dp.size.max_lift(pump, line, need_gpm=30).lift_ft, 1)
    9.3
    """
    need = take_need(need_gpm, need_lps)
    grid = make_grid(pump, line, np.zeros(need.shape))

    def raised(lines: LineArrays, x: FloatArray, start: FloatArray) -> LineArrays:
        return replace(lines, end=lines.end + (x - start - lines.end[-1]))

    def highest(head: FloatArray, flow: FloatArray, start: FloatArray) -> FloatArray:
        # every end rises alike, the last from where the line begins
        ends = _ends(flow, grid.line) - grid.line.end[-1]
        found = head - _asked(ends, grid.line) + start
        # a siphon ends where it can no longer be started over its high point
        return np.where(grid.line.siphon, np.nan, found)

    found, status = _greatest(grid, need, raised, _HIGHEST, highest)
    return MaxLift(grid, np.broadcast_to(need, grid.shape), found, status)


def take_need(need_gpm: Any, need_lps: Any) -> FloatArray:
    """Take a needed flow, > 0, in m³/s."""
    need = u.take("need", guard="flow", gpm=need_gpm, lps=need_lps)
    if (need.si == 0).any():
        name = f"need_{need.unit}"
        raise wrong(name, need.typed, "must be more than 0", "give the flow to be carried")
    return need.si


def _run_index(grid: Grid, run: int | None) -> int:
    fewest, most = (pick(len(x.runs) for x in grid.lines) for pick in (min, max))
    if run is None:
        if most > 1:
            raise InputError(
                f"run: none given, but a line has {most}; say which run is stretched, 1 for the "
                "first."
            )
        return 0
    return whole("run", run, "count the runs from the pump", high=fewest) - 1


def _length_at(head: FloatArray, flow: FloatArray, lines: LineArrays, at: int) -> FloatArray:
    """Length of a run (m) at which each of N lines asks heads (P, N) at their flows (N,).

    At a given flow each run's end asks its share of the length, and what is left of it.
    """
    bare, metre = np.array(lines.length), np.zeros_like(lines.length)
    bare[at], metre[at] = 0.0, 1.0
    slope = losses(flow, replace(lines.without("fitting_length", "k"), length=metre))[-1]
    ends = _ends(flow, replace(lines, length=bare))
    return np.asarray((head - _asked(ends[at:], lines)) / slope)


def _ends(flow: FloatArray, lines: LineArrays) -> FloatArray:
    """Head (m) that each run's end asks, (R, N)."""
    ends = losses(flow, lines) + lines.end
    ends += lines.exits * (flow / lines.area) ** 2 / (2 * GRAVITY)
    ends[-1] += lines.tail + np.maximum(lines.lid, lines.orifice * flow**2)
    return ends


def _asked(ends: FloatArray, lines: LineArrays) -> FloatArray:
    """Of a line that siphons the last end alone asks, of others the highest."""
    return np.asarray(np.where(lines.siphon, ends[-1], ends.max(axis=0)))


def _greatest(
    grid: Grid, need: FloatArray, change: _Change, high: float, exact: _Exact
) -> tuple[FloatArray, npt.NDArray[np.str_]]:
    """Return the greatest x in 0..high at which each pair carries the need, and a status.

    ``exact`` answers x from the head at the need, for pumps that cross a line but once.
    """
    wanted = np.tile(np.broadcast_to(need, grid.inner).ravel(), grid.count)
    found = np.empty((len(grid.pumps), wanted.size))
    status = np.empty(found.shape, dtype="U13")
    starts = [grid.starts(pump) for pump in grid.pumps]
    # pumps are asked together where their lines begin alike
    for start in {start.tobytes(): start for start in starts}.values():
        alike = [
            p for p, other in enumerate(starts) if np.array_equal(start, other, equal_nan=True)
        ]
        found[alike], status[alike] = _of_pumps(grid, alike, start, wanted, change, high, exact)
    return found.reshape(grid.shape), status.reshape(grid.shape)


def _of_pumps(
    grid: Grid,
    which: list[int],
    start: FloatArray,
    need: FloatArray,
    change: _Change,
    high: float,
    exact: _Exact,
) -> tuple[FloatArray, npt.NDArray[np.str_]]:
    """Answer for pumps whose lines begin alike: (P, N)."""  # fmt: skip
    pumps = tuple(grid.pumps[p] for p in which)
    flows, codes = [], []
    for end in (0.0, high):
        line = change(grid.line, np.full(need.size, end), start)
        op = solve(replace(grid, pumps=pumps, listed=(True, True), line=line))
        flows.append(op.si.reckoned.reshape(len(pumps), -1))
        codes.append(op.si.code.reshape(len(pumps), -1))
    status = _status(need, flows, codes)
    flats, head = [grid.flats[p] for p in which], np.full(status.shape, np.nan)
    for p, flat in enumerate(flats):
        i = np.flatnonzero(status[p] == "ok")
        if flat.falls and i.size:
            head[p, i] = flat.take(i).head_at(need[i], grid.level[i])
    x = np.clip(exact(head, need, start), 0.0, high)
    for p, flat in enumerate(flats):
        i = np.flatnonzero((status[p] == "ok") & np.isnan(x[p]))
        if i.size:
            x[p, i] = _searched(grid, flat, start, need, change, high, i)
    return np.where(status == "ok", x, np.nan), status


def _status(
    need: FloatArray, flow: Sequence[FloatArray], code: Sequence[Codes]
) -> npt.NDArray[np.str_]:
    """Status of a search between two ends, from the flows to be reckoned with there."""
    (least, most), (first, last) = flow, code
    at_low, at_high = (counted_on(c, q, q) - need for c, q in zip(code, flow, strict=True))
    return np.select(
        [
            (first == BAD) | np.isnan(need),
            (first == BEYOND) & (least < need),
            (last == BELOW) & (most >= need),
            at_low < 0,
            at_high >= 0,
        ],
        ["bad_input", "beyond_curve", "below_curve", "none_serves", "always_serves"],
        "ok",
    )


def _searched(
    grid: Grid,
    flat: FlatPump,
    start: FloatArray,
    need: FloatArray,
    change: _Change,
    high: float,
    which: npt.NDArray[np.intp],
) -> FloatArray:
    """Answer by search, for pumps that may cross a line more than once."""  # fmt: skip

    def surplus(x: FloatArray, i: Any) -> FloatArray:
        lines = change(grid.line.take(i), x, start[i])
        found = flat.take(i).cross(lines.curve, grid.level[i])
        return np.asarray(counted_on(found.code, found.reckoned, found.reckoned) - need[i])

    ends = np.zeros(which.size), np.full(which.size, high)
    return np.asarray(elementwise.find_root(surplus, ends, args=(which,)).x)
