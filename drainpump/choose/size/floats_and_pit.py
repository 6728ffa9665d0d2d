"""How far apart the floats, or how wide the pit, for a wished number of starts."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import Any, ClassVar, NamedTuple, TypeAlias

import numpy as np
import numpy.typing as npt
from scipy.optimize import elementwise

from drainpump import units as u
from drainpump.cycling.switching import Cycle, cycles_at, cycles_of
from drainpump.errors import InputError, UnitError, wrong
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.pit import Pit
from drainpump.parts.pump.bank import Pump, PumpBank
from drainpump.parts.pump.curve import PumpCurve
from drainpump.parts.scalars import one_measure
from drainpump.results import Result
from drainpump.solve.grid import Grid, make_grid
from drainpump.states import BAD, MENDS, NO_FLOW, codes
from drainpump.units import FloatArray, View

#: the least travel and the widest pit that are looked at, m
_LEAST_TRAVEL, _LEAST_WIDTH, _WIDEST = 1e-4, 1e-3, 20.0

#: what starts most often is asked with no inflow
_NO_INFLOW = np.zeros(())

_Resize: TypeAlias = Callable[[FloatArray], Pit]
_Ends: TypeAlias = tuple[float, float]
Index = npt.NDArray[np.intp]


class _Kind(NamedTuple):
    """Pairs of pump and line that are cycled together, by their place in the answer."""

    pairs: Index
    cycled: Callable[[Pit, Index], Cycle]  # in a pit, or one for each of numbered pairs


class _ForStarts(Result):
    """What the two share: the wish, the starts there, and the axes' names."""

    _grid: Grid | None
    _worst_rate: FloatArray
    _status: Any
    _wish: FloatArray
    _most: float  # largest size looked at, m
    #: how the largest size looked at is said
    _largest: ClassVar[str]

    _mends: ClassVar[dict[str, str]] = {
        **MENDS,
        "none_serves": "widen the pit, or take a smaller pump",
    }

    def _explain_at(self, index: tuple[int, ...]) -> str:
        if str(np.asarray(self.status)[index]) != "none_serves":
            return super()._explain_at(index)
        rate = np.asarray(self._worst_rate)
        wish = np.broadcast_to(self._wish, rate.shape)[index]
        return (
            f"none_serves; even {self._largest.format(u.both(self._most, 'in'))} it starts "
            f"{u.text(rate[index], 'per_h')} in the worst case, more than {u.text(wish, 'per_h')}; "
            f"{self._mends['none_serves']}"
        )


class FloatTravel(_ForStarts):
    """The least float travel that keeps the starts; arrays of shape (pumps, lines, *wish).

    Attributes
    ----------
    travel_in, travel_mm : float or ndarray
        From the off to the on level; NaN where none serves.
    on_in, on_mm : float or ndarray
        The on level above the pit's floor.
    working_volume_gal, working_volume_l : float or ndarray
        Water between the two.
    worst_starts_per_h : float or ndarray
        Starts over all inflows at that travel; where none serves, at the largest.
    status : str or ndarray of str
        ``ok``; ``none_serves``; or that of the cycle, the starts being those of the flow to
        be reckoned with.
    """

    _travel: FloatArray
    _on: FloatArray
    _working: FloatArray
    _largest: ClassVar[str] = "with the on float at {}, as high as it may go,"

    travel_in, travel_mm = View("_travel"), View("_travel")
    on_in, on_mm = View("_on"), View("_on")
    working_volume_gal, working_volume_l = View("_working"), View("_working")
    worst_starts_per_h = View("_worst_rate")


class PitSize(_ForStarts):
    """The least round pit that keeps the starts; shaped and coded as `FloatTravel`.

    Attributes
    ----------
    diameter_in, diameter_mm : float or ndarray
        Inside diameter of a round pit with nothing in it; NaN where none serves.
    area_ft2, area_m2 : float or ndarray
        Its plan area, for a pit of another shape.
    working_volume_gal, working_volume_l : float or ndarray
        Water between the floats.
    worst_starts_per_h : float or ndarray
        Starts over all inflows in it.
    """

    _diameter: FloatArray
    _working: FloatArray
    _largest: ClassVar[str] = "in a pit {} across"
    _mends: ClassVar[dict[str, str]] = {
        **_ForStarts._mends,
        "none_serves": "set the floats further apart, or take a smaller pump",
    }

    diameter_in, diameter_mm = View("_diameter"), View("_diameter")
    area_ft2, area_m2 = View("_area"), View("_area")
    working_volume_gal, working_volume_l = View("_working"), View("_working")
    worst_starts_per_h = View("_worst_rate")

    @property
    def _area(self) -> FloatArray:
        return np.asarray(0.25 * np.pi * self._diameter**2)


def float_travel(
    pump: Pump | Sequence[Pump] | None = None,
    line: DischargeLine | Sequence[DischargeLine] | None = None,
    pit: Pit | None = None,
    *,
    starts_max_per_h: u.Quantity | None = None,
    flow_gpm: u.Quantity | None = None,
    flow_lps: u.Quantity | None = None,
) -> FloatTravel:
    """Return the least travel from off to on that keeps the starts within a number.

    Parameters
    ----------
    pump, line : pump and DischargeLine, or sequences of them
        What pumps the pit down, in scalars. Leave both out to give a constant flow.
    pit : Pit
        Its off level stays; its on level is not used. The on float may rise to the
        lowest of the inlet's invert, the alarm and the rim.
    starts_max_per_h : float or array_like
        Starts per hour allowed in the worst case over all inflows, > 0.
    flow_gpm, flow_lps : float
        Constant pump flow, > 0, in place of pump and line.

    Returns
    -------
    FloatTravel

    Raises
    ------
    UnitError, InputError
        Bad units or values, or arrays other than the wish.

    Notes
    -----
    The root of worst starts(travel) = wish, as `cycle` has them. For a constant flow Qp
    it is the travel that holds V = Qp / (4·starts): MIL-HDBK-1005/9A eq. 2.

    Examples
    --------
    >>> import drainpump as dp
    >>> pit = dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=13)
    >>> found = dp.size.float_travel(flow_gpm=34.1, pit=pit, starts_max_per_h=40)
    >>> round(found.travel_in, 1), round(found.working_volume_gal, 2)
    (11.6, 12.79)
    """
    if not isinstance(pit, Pit) or pit.shape:
        raise wrong("pit", pit, "must be a Pit of scalars", "make one with Pit(...)")
    off, top = float(pit.si.off), float(pit.si.highest_on)
    # no level is in the way of the search, by rounding either
    bare = pit.variant(alarm_in=None, inlet_in=None, depth_mm=top * 1001)

    def resize(travel: FloatArray) -> Pit:
        return bare.variant(on_mm=(off + travel) * 1000)

    if top - off <= _LEAST_TRAVEL:
        raise InputError(
            f"pit: off level {pit.si.off} leaves no room below the inlet, the alarm or the rim; "
            "lower the off float."
        )
    grid, kinds = _emptied("float_travel", pump, line, flow_gpm, flow_lps)
    wish = _take_wish(starts_max_per_h)
    travel, at, status = _least(grid, kinds, resize, wish, (_LEAST_TRAVEL, top - off))
    known = np.isfinite(travel)
    working = np.where(known, pit.si.volume_between(np.asarray(off), off + travel), np.nan)
    return FloatTravel(grid, at, status, wish, top, travel, off + travel, working)


def pit_size(
    pump: Pump | Sequence[Pump] | None = None,
    line: DischargeLine | Sequence[DischargeLine] | None = None,
    *,
    travel_in: u.Quantity | None = None,
    travel_mm: u.Quantity | None = None,
    starts_max_per_h: u.Quantity | None = None,
    flow_gpm: u.Quantity | None = None,
    flow_lps: u.Quantity | None = None,
) -> PitSize:
    """Return the least round pit that keeps the starts within a number.

    Parameters
    ----------
    pump, line : pump and DischargeLine, or sequences of them
        What pumps the pit down, in scalars. Leave both out to give a constant flow.
    travel_in, travel_mm : float
        From the off to the on level, > 0. Exactly one.
    starts_max_per_h : float or array_like
        Starts per hour allowed in the worst case over all inflows, > 0.
    flow_gpm, flow_lps : float
        Constant pump flow, > 0, in place of pump and line.

    Returns
    -------
    PitSize

    Raises
    ------
    UnitError, InputError
        Bad units or values, or arrays other than the wish.

    Notes
    -----
    As `float_travel`, over diameters up to 20 m, the pit empty but for water. Codes that
    ask for at least 18 in by 24 in are not in it.

    Examples
    --------
    >>> import drainpump as dp
    >>> found = dp.size.pit_size(flow_gpm=34.1, travel_in=10, starts_max_per_h=40)
    >>> round(found.diameter_in, 1), round(found.working_volume_gal, 2)
    (19.4, 12.79)
    """
    travel = u.take("travel", guard="level", **u.inches(travel_in, travel_mm))
    one_measure("travel", travel, "give off level to on level", above_zero=True)
    span = float(travel.si)
    # the usual size; only its diameter is looked for
    blank = Pit(diameter_mm=500, depth_mm=max(span, 0.5) * 1000, off_mm=0, on_mm=span * 1000)

    def resize(width: FloatArray) -> Pit:
        return blank.variant(diameter_mm=width * 1000)

    grid, kinds = _emptied("pit_size", pump, line, flow_gpm, flow_lps)
    wish = _take_wish(starts_max_per_h)
    width, at, status = _least(grid, kinds, resize, wish, (_LEAST_WIDTH, _WIDEST))
    return PitSize(grid, at, status, wish, _WIDEST, width, 0.25 * np.pi * width**2 * span)


def _take_wish(starts_max_per_h: Any) -> FloatArray:
    wish = u.take("starts_max", guard="rate", per_h=starts_max_per_h)
    if (wish.si == 0).any():
        raise wrong(
            "starts_max_per_h", wish.typed, "must be more than 0", "a pump that never starts "
            "keeps no pit dry",
        )  # fmt: skip
    return wish.si


def _emptied(
    name: str, pump: Any, line: Any, flow_gpm: Any, flow_lps: Any
) -> tuple[Grid | None, list[_Kind]]:
    """How each pump on each line, or one constant flow, cycles a pit that is given."""
    flow = u.maybe("flow", guard="flow", gpm=flow_gpm, lps=flow_lps)
    if (pump is None) != (line is None) or (pump is None) == (flow is None):
        raise UnitError(
            f"{name}: give a pump with a line, or a constant flow (flow_gpm or flow_lps) "
            "without them."
        )
    if flow is not None:
        one_measure("flow", flow, "give the flow", above_zero=True)
        return None, [_Kind(np.zeros(1, int), lambda pit, _: cycles_at(flow.si, pit, _NO_INFLOW))]
    grid = make_grid(pump, line, _NO_INFLOW)
    if any(isinstance(p, PumpBank) and p.si.lag_on is not None for p in grid.pumps):
        raise InputError(
            f"{name}: a bank's lag float would have to move with the others; give its lead "
            "pump, which starts most."
        )
    if grid.inner:
        raise InputError(
            f"{name}: an input holds an array; give scalars, and variants in the lists of "
            "pumps and lines."
        )
    return grid, _kinds(grid)


def _kinds(grid: Grid) -> list[_Kind]:
    """Pairs of a grid in kinds that are cycled together: curves of one kind, and each bank."""
    kinds: dict[Any, list[int]] = {}
    for p, pump in enumerate(grid.pumps):
        kind = pump.si.curve.falls if isinstance(pump, PumpCurve) else (p,)
        kinds.setdefault(kind, []).append(p)
    count = len(grid.lines)
    found = []
    for which in kinds.values():
        pairs = np.add.outer(np.multiply(which, count), np.arange(count)).ravel()
        found.append(_Kind(pairs, partial(_cycled, grid, [grid.pumps[p] for p in which])))
    return found


def _cycled(grid: Grid, pumps: list[Pump], pit: Pit, number: Index) -> Cycle:
    """The cycles of numbered pairs of pumps of a kind and the grid's lines, in a pit for each."""
    which, line = np.divmod(number, len(grid.lines))
    pump = pumps[0]
    if len(pumps) > 1:
        pump = pump.si.beside(pumps, which)
    return cycles_of(pump, grid.line.take(line), pit, _NO_INFLOW)


def _least(
    grid: Grid | None, kinds: list[_Kind], resize: _Resize, wish: FloatArray, ends: _Ends
) -> tuple[FloatArray, FloatArray, Any]:
    """Least size between the ends that keeps the wish, the starts there, and a status.

    Arrays of shape (pumps, lines, *shape of the wish).
    """
    shape = (*(() if grid is None else grid.shape), *wish.shape)
    count = sum(kind.pairs.size for kind in kinds)
    size, rate = np.empty((2, count, wish.size))
    status = np.empty((count, wish.size), dtype="U16")
    for kind in kinds:
        number = np.repeat(np.arange(kind.pairs.size), wish.size)
        found = _least_of(
            lambda x, i, kind=kind: kind.cycled(resize(x), i),  # type: ignore[misc]
            number, np.tile(wish.ravel(), kind.pairs.size), ends,
        )  # fmt: skip
        for target, values in zip((size, rate, status), found, strict=True):
            target[kind.pairs] = values.reshape(kind.pairs.size, wish.size)
    return size.reshape(shape), rate.reshape(shape), status.reshape(shape)


def _least_of(
    sized: Callable[[FloatArray, Index], Cycle], number: Index, wish: FloatArray, ends: _Ends
) -> tuple[FloatArray, FloatArray, Any]:
    """The same of numbered pairs, (N,), whose cycles are known by size and number."""

    def spare(size: FloatArray, wanted: FloatArray, i: Index) -> FloatArray:
        return np.asarray(wanted - sized(size, i).si.worst_rate)

    low, high = (np.full(wish.shape, end) for end in ends)
    largest = sized(high, number)
    status = np.broadcast_to(np.asarray(largest.status), wish.shape)
    # without a flow there are no starts
    lost = np.isin(codes(status), (NO_FLOW, BAD)) | np.isnan(wish)
    none_serves = ~lost & (largest.si.worst_rate > wish)
    size = np.where(lost | none_serves, np.nan, low)
    inside = np.flatnonzero((spare(low, wish, number) < 0) & ~np.isnan(size))
    if inside.size:
        bracket, args = (low[inside], high[inside]), (wish[inside], number[inside])
        size[inside] = elementwise.find_root(spare, bracket, args=args).x
    rate = np.asarray(sized(np.where(np.isnan(size), high, size), number).si.worst_rate)
    status = np.select([np.isnan(wish), none_serves], ["bad_input", "none_serves"], status)
    return size, np.where(lost, np.nan, rate), status
