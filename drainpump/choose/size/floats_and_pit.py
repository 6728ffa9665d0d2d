"""How far apart the floats, or how wide the pit, for a wished number of starts."""

from __future__ import annotations

import copy
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, ClassVar, TypeAlias

import numpy as np
from scipy.optimize import elementwise

from drainpump import units as u
from drainpump.cycling.switching import Cycle, cycle
from drainpump.errors import InputError, UnitError, wrong
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.pit import Pit
from drainpump.parts.pump.bank import Pump
from drainpump.parts.scalars import one_measure
from drainpump.results import Result
from drainpump.solve.grid import Grid, make_grid
from drainpump.units import FloatArray, Measure, View

__all__ = ["FloatTravel", "PitSize", "float_travel", "pit_size"]

#: the least travel and the widest pit that are looked at, m
_LEAST_TRAVEL, _LEAST_WIDTH, _WIDEST = 1e-4, 1e-3, 20.0

_Resize: TypeAlias = Callable[[FloatArray], Pit]


class _ForStarts(Result):
    """What the two share: the wish, the starts there, and the axes' names."""

    _grid: Grid | None
    _worst_rate: FloatArray
    _wish: FloatArray
    _most: float
    #: how the largest size looked at is said
    _largest: ClassVar[str]

    _mends: ClassVar[dict[str, str]] = {
        "none_serves": "widen the pit, or take a smaller pump",
        "no_flow": "the pump cannot reach the line's high point from the off level",
        "beyond_curve": "the curve's last point is used as the flow; it is at least that",
        "below_curve": "the curve's first point is used as the flow; it is at most that",
        "multiple": "the drooping curve crosses the line more than once",
        "bad_input": "an input of this element is NaN",
    }

    def _axes(self) -> list[tuple[str, list[str]]]:
        return [] if self._grid is None else self._grid.axes()

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


@dataclass(frozen=True, eq=False, repr=False)
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
        ``ok``; ``none_serves``; or that of the operating point, a flow known only by its
        bound being used as the bound (``beyond_curve``, ``below_curve``).
    """

    _grid: Grid | None
    _travel: FloatArray
    _on: FloatArray
    _working: FloatArray
    _worst_rate: FloatArray
    _status: Any
    _wish: FloatArray
    _most: float  # highest on level, m
    _largest: ClassVar[str] = "with the on float at {}, as high as it may go,"

    travel_in, travel_mm = View("_travel"), View("_travel")
    on_in, on_mm = View("_on"), View("_on")
    working_volume_gal, working_volume_l = View("_working"), View("_working")
    worst_starts_per_h = View("_worst_rate")


@dataclass(frozen=True, eq=False, repr=False)
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

    _grid: Grid | None
    _diameter: FloatArray
    _working: FloatArray
    _worst_rate: FloatArray
    _status: Any
    _wish: FloatArray
    _most: float = _WIDEST
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
    off = float(pit._off.si)
    top = float(min(m.si for m in (pit._depth, pit._alarm, pit._inlet) if m is not None))

    def resize(travel: FloatArray) -> Pit:
        return _copy(pit, on=off + travel)

    if top - off <= _LEAST_TRAVEL:
        raise InputError(
            f"pit: off level {pit._off} leaves no room below the inlet, the alarm or the rim; "
            "lower the off float."
        )
    pair = _Pair.make("float_travel", pump, line, flow_gpm, flow_lps)
    wish = _take_wish(starts_max_per_h)
    travel, at, status = pair.least(resize, wish, _LEAST_TRAVEL, top - off)
    known = np.isfinite(travel)
    working = np.where(known, pit._volume_between(np.asarray(off), off + travel), np.nan)
    return FloatTravel(pair.grid, travel, off + travel, working, at, status, wish, top)


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
        return _copy(blank, diameter=width)

    pair = _Pair.make("pit_size", pump, line, flow_gpm, flow_lps)
    wish = _take_wish(starts_max_per_h)
    width, at, status = pair.least(resize, wish, _LEAST_WIDTH, _WIDEST)
    return PitSize(pair.grid, width, 0.25 * np.pi * width**2 * span, at, status, wish)


def _take_wish(starts_max_per_h: Any) -> FloatArray:
    wish = u.take("starts_max", guard="rate", per_h=starts_max_per_h)
    if (wish.si == 0).any():
        raise wrong(
            "starts_max_per_h", wish.typed, "must be more than 0", "a pump that never starts "
            "keeps no pit dry",
        )  # fmt: skip
    return wish.si


def _copy(pit: Pit, **sizes: FloatArray) -> Pit:
    """Return the pit with some sizes (m) replaced, without the warnings meant for a real one."""
    twin = copy.copy(pit)
    for name, si in sizes.items():
        vars(twin)[f"_{name}"] = Measure(si, "mm", si * 1000)
    return twin


@dataclass(frozen=True, eq=False)
class _Pair:
    """What empties the pit: pumps and lines, or one constant flow (m³/s)."""

    grid: Grid | None
    flow: float | None

    @classmethod
    def make(cls, name: str, pump: Any, line: Any, flow_gpm: Any, flow_lps: Any) -> _Pair:
        flow = u.maybe("flow", guard="flow", gpm=flow_gpm, lps=flow_lps)
        if (pump is None) != (line is None) or (pump is None) == (flow is None):
            raise UnitError(
                f"{name}: give a pump with a line, or a constant flow (flow_gpm or flow_lps) "
                "without them."
            )
        if flow is not None and np.any(flow.si == 0):
            raise wrong(f"flow_{flow.unit}", flow.typed, "must be more than 0", "give the flow")
        grid = None if flow is not None else make_grid(pump, line, np.zeros(()))
        if grid is not None and any(getattr(p, "_lag_on", None) is not None for p in grid.pumps):
            raise InputError(
                f"{name}: a bank's lag float would have to move with the others; give its lead "
                "pump, which starts most."
            )
        if (grid is not None and grid.inner) or (flow is not None and flow.si.ndim):
            raise InputError(
                f"{name}: an input holds an array; give scalars, and variants in the lists of "
                "pumps and lines."
            )
        return cls(grid, None if flow is None else float(flow.si))

    def least(
        self, resize: _Resize, wish: FloatArray, low: float, high: float
    ) -> tuple[FloatArray, FloatArray, Any]:
        """Least size in low..high that keeps the wish, the starts there, and a status.

        Arrays of shape (pumps, lines, *shape of the wish).
        """
        if self.grid is None:
            found = [self._one(self._constant, resize, wish, low, high)]
            shape: tuple[int, ...] = wish.shape
        else:
            found = [
                self._one(
                    lambda pit, p=p, x=x: cycle(p, x, pit, inflow_gpm=0),  # type: ignore[misc]
                    resize, wish, low, high,
                )
                for p in self.grid.pumps
                for x in self.grid.lines
            ]  # fmt: skip
            shape = (*self.grid.shape, *wish.shape)
        size, rate, status = (np.reshape(rows, shape) for rows in zip(*found, strict=True))
        return size, rate, status

    def _constant(self, pit: Pit) -> Cycle:
        assert self.flow is not None
        return cycle(pit=pit, inflow_gpm=0, flow_lps=self.flow * 1000)

    def _one(
        self,
        ask: Callable[[Pit], Cycle],
        resize: _Resize,
        wish: FloatArray,
        low: float,
        high: float,
    ) -> tuple[FloatArray, FloatArray, Any]:
        wishes = wish.ravel()

        def spare(size: FloatArray, wanted: FloatArray) -> FloatArray:
            return np.asarray(wanted - ask(resize(size))._worst_rate)

        largest = ask(resize(np.array([high])))
        status = np.broadcast_to(np.asarray(largest.status), wishes.shape)
        lost = np.isin(status, ("no_flow", "multiple", "bad_input")) | np.isnan(wishes)
        ends = [spare(np.array([x]), wishes) for x in (low, high)]
        size = np.where(lost | (ends[1] < 0), np.nan, low)
        inside = (ends[0] < 0) & ~np.isnan(size)
        if inside.any():
            bracket = np.full(inside.sum(), low), np.full(inside.sum(), high)
            size[inside] = elementwise.find_root(spare, bracket, args=(wishes[inside],)).x
        rate = np.asarray(ask(resize(np.where(np.isnan(size), high, size)))._worst_rate)
        status = np.where(np.isnan(wishes), "bad_input", status)
        none = ~lost & (ends[1] < 0)
        return size, np.where(lost, np.nan, rate), np.where(none, "none_serves", status)
