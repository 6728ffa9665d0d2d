"""Where one pump curve crosses many system curves: one path from a scalar to a grid.

For each element the gap g(x) = pump head - line head is first tested at the curve's own
knots (by halving where the curve falls all the way, by a scan where it rises
somewhere), which settles the status and brackets the crossing in one cubic segment.
Inside it scipy's vectorised Newton with the exact derivative finishes; whatever leaves
its bracket or does not settle goes to scipy's bracketing solver.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt
from scipy import optimize
from scipy.optimize import elementwise

from drainpump.physics import system
from drainpump.units import FloatArray

__all__ = ["STATUSES", "Crossing", "Curve", "Side", "cross"]

#: status names by code
STATUSES = np.array(["ok", "no_flow", "beyond_curve", "below_curve", "multiple", "bad_input"])
OK, NO_FLOW, BEYOND, BELOW, MULTIPLE, BAD = range(6)

#: residual (m of head) above which a Newton root is handed to the bracketing solver
_SETTLED = 1e-11
#: Newton steps allowed; quadratic convergence inside one cubic needs about five
_STEPS = 8
#: points a rising segment is scanned at, so that two crossings in one segment are seen
_SCAN = 32


class Curve(NamedTuple):
    """A pump curve in SI: knots, heads and the cubics between them (highest power first)."""

    flow: FloatArray  # (K,) m³/s, increasing
    head: FloatArray  # (K,) m
    cubic: FloatArray  # (4, K-1)

    @property
    def falls(self) -> bool:
        """True where head never rises with flow, so that one crossing is all there can be."""
        return bool(np.all(np.diff(self.head) <= 0))

    def at(self, x: FloatArray, segment: npt.NDArray[np.intp]) -> tuple[FloatArray, FloatArray]:
        """Head and its derivative by flow inside the named segments."""
        c3, c2, c1, c0 = self.cubic[:, segment]
        t = x - self.flow[segment]
        return ((c3 * t + c2) * t + c1) * t + c0, (3 * c3 * t + 2 * c2) * t + c1


@dataclass(frozen=True, eq=False)
class Side:
    """The line's side of N elements: flat arrays, with level and the pump's factors.

    The curve in force is H = head_factor · h(Q / flow_factor); x below is Q / flow_factor.
    """

    line: system.LineArrays  # run fields (R, N)
    level: FloatArray  # (N,) m above the pump-off level
    head_factor: FloatArray  # (N,)
    flow_factor: FloatArray  # (N,)

    def asks(self, x: FloatArray) -> FloatArray:
        """Head the line asks at the curve's flow ``x``, m."""
        return system.head(x * self.flow_factor, self.line) - self.level

    def asks_with_slope(self, x: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Head and its derivative by ``x``."""
        value, slope = system.head_with_slope(x * self.flow_factor, self.line)
        return value - self.level, slope * self.flow_factor

    def take(self, index: npt.NDArray[np.intp]) -> Side:
        """Return the elements named by ``index`` (with repeats where it repeats)."""
        return Side(
            self.line.map(lambda _, a: a[..., index]),
            self.level[index],
            self.head_factor[index],
            self.flow_factor[index],
        )


class Crossing(NamedTuple):
    """Flow (NaN where there is none), status code, and every crossing of the ``multiple``."""

    flow: FloatArray  # (N,) m³/s
    code: npt.NDArray[np.int8]  # (N,)
    several: dict[int, FloatArray]  # element -> its crossings, m³/s


def cross(curve: Curve, side: Side) -> Crossing:
    """Find the operating flow of one pump curve against N lines.

    Parameters
    ----------
    curve : Curve
        The pump.
    side : Side
        The lines, flat.

    Returns
    -------
    Crossing
        Flow in m³/s: the root where ``ok``, 0 where ``no_flow``, NaN elsewhere.
    """
    first, last = (
        side.head_factor * curve.head[k] - side.asks(np.full_like(side.level, curve.flow[k]))
        for k in (0, -1)
    )
    code = np.zeros(side.level.shape, dtype=np.int8)
    if curve.flow[0] == 0:
        code[first <= 0] = NO_FLOW
    else:
        code[first < 0] = BELOW
    code[last > 0] = BEYOND
    code[np.isnan(first) | np.isnan(last)] = BAD
    flow = np.full(side.level.shape, np.nan)
    flow[code == NO_FLOW] = 0.0
    several: dict[int, FloatArray] = {}
    if curve.falls:
        inside = np.flatnonzero(code == OK)
        part = side if inside.size == code.size else side.take(inside)
        flow[inside] = _solve(curve, part, *_halve(curve, part))
    else:
        _scan(curve, side, first, last, code, flow, several)
    return Crossing(flow, code, several)


def _halve(curve: Curve, side: Side) -> tuple[Any, FloatArray, FloatArray]:
    """Bracket by halving the knots: the gap only falls, so comparing heads is enough."""
    low = np.zeros(side.level.shape, dtype=np.intp)
    high = np.full(side.level.shape, curve.flow.size - 1, dtype=np.intp)
    for _ in range(int(np.ceil(np.log2(curve.flow.size)))):
        middle = (low + high) // 2
        above = side.head_factor * curve.head[middle] >= side.asks(curve.flow[middle])
        open_ = high - low > 1
        low = np.where(open_ & above, middle, low)
        high = np.where(open_ & ~above, middle, high)
    return low, curve.flow[low], curve.flow[high]


def _scan(
    curve: Curve,
    side: Side,
    first: FloatArray,
    last: FloatArray,
    code: npt.NDArray[np.int8],
    flow: FloatArray,
    several: dict[int, FloatArray],
) -> None:
    """Bracket every crossing of a curve that rises somewhere; fills code, flow, several."""
    steps = [
        np.linspace(a, b, _SCAN if rises else 1, endpoint=False)
        for a, b, rises in zip(curve.flow, curve.flow[1:], np.diff(curve.head) > 0, strict=False)
    ]
    x = np.append(np.concatenate(steps), curve.flow[-1])
    segment = np.repeat(np.arange(len(steps)), [s.size for s in steps])
    heads = np.append(curve.at(x[:-1], segment)[0], curve.head[-1])
    above = np.array(
        [
            side.head_factor * h >= side.asks(np.full_like(side.level, q))
            for q, h in zip(x, heads, strict=True)
        ]
    )
    # a crossing exactly at the last point belongs to the curve; one at no flow does not
    above[-1] = last > 0
    if curve.flow[0] == 0:
        above[0] = first > 0
    changes = above[1:] != above[:-1]
    count = changes.sum(axis=0)
    good = code != BAD
    code[good & (count > 1)] = MULTIPLE
    # one crossing is the operating point, unless the pump cannot start against the line
    one = good & (count == 1) & (code != NO_FLOW)
    code[one] = OK
    flow[good & (count > 1)] = np.nan
    wanted = np.flatnonzero(one | (code == MULTIPLE))
    where, element = np.nonzero(changes[:, wanted])
    element = wanted[element]
    roots = _solve(curve, side.take(element), segment[where], x[where], x[where + 1])
    for i in np.flatnonzero(code == MULTIPLE):
        several[int(i)] = np.sort(roots[element == i])
    flow[element[one[element]]] = roots[one[element]]


def _solve(curve: Curve, side: Side, segment: Any, low: FloatArray, high: FloatArray) -> FloatArray:
    """Return the flow (m³/s) at the one crossing in each bracket ``low..high``."""
    if low.size == 0:
        return low.copy()
    if low.size == 1:
        # scipy's Newton is vectorised from two elements on; one path for all
        pair = np.zeros(2, dtype=np.intp)
        return _solve(curve, side.take(pair), segment[pair], low[pair], high[pair])[:1]
    gap = _Gap(curve, side, segment, low, high)
    start = 0.5 * (low + high)
    x = np.asarray(
        optimize.newton(gap.value, start, fprime=gap.slope, tol=1e-14, maxiter=_STEPS + 1)
    )
    x = np.clip(x, low, high)
    astray = np.flatnonzero(~(np.abs(gap.of(x)) <= _SETTLED))
    if astray.size:
        x[astray] = _bracketed(curve, side, segment, low, high, astray)
    return np.asarray(x * side.flow_factor)


class _Gap:
    """Pump head less line head and its slope, computed together and handed out in turn.

    The step budget ends by reporting a gap of zero, so that scipy's Newton stops without
    a warning; every root is checked afterwards.
    """

    def __init__(
        self, curve: Curve, side: Side, segment: Any, low: FloatArray, high: FloatArray
    ) -> None:
        self.curve, self.side, self.segment = curve, side, segment
        self.low, self.high = low, high
        self.left = _STEPS
        self._slope = np.ones_like(low)

    def of(self, x: FloatArray) -> FloatArray:
        head, _ = self.curve.at(x, self.segment)
        return np.asarray(self.side.head_factor * head - self.side.asks(x))

    def value(self, x: FloatArray) -> FloatArray:
        self.left -= 1
        if self.left < 0:
            return np.zeros_like(self.low)
        x = np.clip(x, self.low, self.high)
        head, rate = self.curve.at(x, self.segment)
        asked, change = self.side.asks_with_slope(x)
        slope = self.side.head_factor * rate - change
        self._slope = np.where(slope == 0, -1e-30, slope)
        return np.asarray(self.side.head_factor * head - asked)

    def slope(self, x: FloatArray) -> FloatArray:
        return self._slope


def _bracketed(
    curve: Curve, side: Side, segment: Any, low: FloatArray, high: FloatArray, which: Any
) -> FloatArray:
    """Finish the elements that Newton left, by scipy's bracketing solver."""

    def gap(x: FloatArray, element: npt.NDArray[np.intp]) -> FloatArray:
        # the element's number travels with it, since finished elements are dropped
        one = side.take(element)
        return np.asarray(one.head_factor * curve.at(x, segment[element])[0] - one.asks(x))

    found = elementwise.find_root(gap, (low[which], high[which]), args=(which,))
    # a bracket whose end is the root to rounding has no sign change left to follow
    ends = np.array([np.abs(gap(b[which], which)) for b in (low, high)])
    nearest = np.where(ends[0] <= ends[1], low[which], high[which])
    return np.where(found.success, found.x, np.where(ends.min(axis=0) <= 1e-9, nearest, np.nan))
