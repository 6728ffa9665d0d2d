"""Where one pump curve crosses many system curves: one path from a scalar to a grid.

For each element the gap g(x) = pump head - line head is first tested at the curve's own
knots (by halving where the curve falls all the way, by a scan where it rises
somewhere), which settles the status and brackets the crossing in one cubic segment.
Inside it scipy's vectorised Newton with the exact derivative finishes; whatever leaves
its bracket or does not settle goes to scipy's bracketing solver.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from scipy import optimize
from scipy.optimize import elementwise

from drainpump.physics.system import SystemCurve
from drainpump.units import FloatArray

__all__ = ["STATUSES", "Crossing", "Curve", "Side", "cross"]

#: status names by code
STATUSES = np.array(["ok", "no_flow", "beyond_curve", "below_curve", "multiple", "bad_input"])
OK, NO_FLOW, BEYOND, BELOW, MULTIPLE, BAD = range(6)

#: gap (m of head) before the last Newton step up to which its root is taken
_SETTLED = 3e-10
#: Newton steps allowed; quadratic convergence inside one cubic needs about five
_STEPS = 8
#: knots times elements up to which all knots are compared in one call
_AT_ONCE = 2048
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

    def at(self, x: FloatArray, segment: npt.NDArray[np.intp]) -> FloatArray:
        """Head at ``x`` inside the named segments."""
        c3, c2, c1, c0 = self.cubic[:, segment]
        t = x - self.flow[segment]
        return np.asarray(((c3 * t + c2) * t + c1) * t + c0)


@dataclass(frozen=True, eq=False)
class Side:
    """The line's side of N elements, with the water level and the pump's factors.

    The curve in force is H = head_factor · h(Q / flow_factor); x below is Q / flow_factor.
    """

    system: SystemCurve
    level: FloatArray  # (N,) m above the pump-off level
    head_factor: FloatArray  # (N,)
    flow_factor: FloatArray  # (N,)

    def asks(self, x: FloatArray) -> FloatArray:
        """Head the line asks at the curve's flow ``x``, m."""
        return self.system.head(x * self.flow_factor) - self.level

    def asks_with_slope(self, x: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Head and its derivative by ``x``."""
        value, slope = self.system.head_with_slope(x * self.flow_factor)
        return value - self.level, slope * self.flow_factor

    def take(self, index: npt.NDArray[np.intp]) -> Side:
        """Return the elements named by ``index`` (with repeats where it repeats)."""
        return Side(
            self.system.take(index),
            self.level[index],
            self.head_factor[index],
            self.flow_factor[index],
        )


class Crossing(NamedTuple):
    """Flow (NaN where there is none), status code, and every crossing of the ``multiple``."""

    flow: FloatArray  # (N,) m³/s
    code: npt.NDArray[np.int8]  # (N,)
    several: dict[int, FloatArray]  # element -> its crossings, m³/s
    bound: FloatArray | None = None  # (N,) a bank's flow held to the ends of its data


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
    # few elements: all knots in one call, whose overhead would cost more than the knots
    gaps = _gaps(curve, side) if curve.flow.size * side.level.size <= _AT_ONCE else None
    if gaps is None:
        first, last = (
            side.head_factor * curve.head[k] - side.asks(np.full_like(side.level, curve.flow[k]))
            for k in (0, -1)
        )
    else:
        first, last = gaps[0], gaps[-1]
    code = np.zeros(side.level.shape, dtype=np.int8)
    code[last > 0] = BEYOND
    if curve.flow[0] == 0:
        # a siphon asks less once it runs, but must first be filled over its high point
        code[first - side.system.siphoned_head() <= 0] = NO_FLOW
    else:
        code[first < 0] = BELOW
    code[np.isnan(first) | np.isnan(last)] = BAD
    flow = np.full(side.level.shape, np.nan)
    flow[code == NO_FLOW] = 0.0
    several: dict[int, FloatArray] = {}
    if curve.falls:
        inside = np.flatnonzero(code == OK)
        part = side if inside.size == code.size else side.take(inside)
        if gaps is None:
            bracket = _halve(curve, part, first[inside], last[inside])
        else:
            bracket = _pick(curve, gaps[:, inside])
        flow[inside] = _solve(curve, part, bracket)
    else:
        _scan(curve, side, first, last, code, flow, several)
    return Crossing(flow, code, several)


class Bracket(NamedTuple):
    """Where one crossing lies: the cubic's number, its ends and the gaps there."""

    segment: npt.NDArray[np.intp]
    low: FloatArray
    high: FloatArray
    gap_low: FloatArray  # 0 or more
    gap_high: FloatArray  # below 0


def _gaps(curve: Curve, side: Side) -> FloatArray:
    """Gap at every knot for every element, (K, N)."""
    made = side.head_factor * curve.head[:, None]
    return np.asarray(made - side.asks(curve.flow[:, None]))


def _pick(curve: Curve, gaps: FloatArray) -> Bracket:
    """Bracket by the gaps at all knots: the last that is not negative, and the next."""
    low = np.maximum((gaps[:-1] >= 0).sum(axis=0) - 1, 0)
    element = np.arange(low.size)
    ends = (gaps[low, element], gaps[low + 1, element])
    return Bracket(low, curve.flow[low], curve.flow[low + 1], *ends)


def _halve(curve: Curve, side: Side, first: FloatArray, last: FloatArray) -> Bracket:
    """Bracket by halving the knots: the gap only falls, so comparing heads is enough."""
    low = np.zeros(side.level.shape, dtype=np.intp)
    high = np.full(side.level.shape, curve.flow.size - 1, dtype=np.intp)
    for _ in range(int(np.ceil(np.log2(curve.flow.size - 1)))):
        # an interval of one step halves to its own low end, whose gap is known to hold
        middle = (low + high) // 2
        gap = side.head_factor * curve.head[middle] - side.asks(curve.flow[middle])
        above = gap >= 0
        low, first = np.where(above, middle, low), np.where(above, gap, first)
        high, last = np.where(above, high, middle), np.where(above, last, gap)
    return Bracket(low, curve.flow[low], curve.flow[low + 1], first, last)


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
    heads = np.append(curve.at(x[:-1], segment), curve.head[-1])
    gaps = np.array(
        [
            side.head_factor * h - side.asks(np.full_like(side.level, q))
            for q, h in zip(x, heads, strict=True)
        ]
    )
    above = gaps >= 0
    # a crossing exactly at the last point belongs to the curve; one at no flow does not
    above[-1] = last > 0
    if curve.flow[0] == 0:
        above[0] = first > 0
    changes = above[1:] != above[:-1]
    count = changes.sum(axis=0)
    # a siphon that cannot be filled has no other state
    good = (code != BAD) & ~((code == NO_FLOW) & (first > 0))
    # one crossing is the operating point where the head falls through it. Where it rises
    # through, the pump cannot start against the line or has another flow outside its data.
    one = good & (count == 1) & above[0]
    several_or_unknown = good & ((count > 1) | ((count == 1) & ~above[0] & (code == BELOW)))
    code[one], code[several_or_unknown] = OK, MULTIPLE
    flow[several_or_unknown] = np.nan
    wanted = np.flatnonzero(one | (code == MULTIPLE))
    where, element = np.nonzero(changes[:, wanted])
    element = wanted[element]
    ends = (gaps[where, element], gaps[where + 1, element])
    bracket = Bracket(segment[where], x[where], x[where + 1], *ends)
    roots = _solve(curve, side.take(element), bracket)
    for i in np.flatnonzero(code == MULTIPLE):
        several[int(i)] = np.sort(roots[element == i])
    flow[element[one[element]]] = roots[one[element]]


def _solve(curve: Curve, side: Side, bracket: Bracket) -> FloatArray:
    """Return the flow (m³/s) at the one crossing in each bracket."""
    if bracket.low.size == 0:
        return bracket.low.copy()
    gap = _Gap(curve, side, bracket)
    low, high = bracket.low, bracket.high
    # where the chord between the ends crosses zero; the gap bends little within one cubic
    fall = bracket.gap_low - bracket.gap_high
    share = np.divide(bracket.gap_low, fall, out=np.zeros_like(fall), where=fall != 0)
    start = low + (high - low) * share
    # scipy's Newton is vectorised from two elements on: a single one goes in twice
    twice = np.resize(start, max(2, start.size))
    x = np.asarray(
        optimize.newton(gap.value, twice, fprime=gap.slope, tol=1e-14, maxiter=_STEPS + 1)
    )[: start.size]
    settled = (np.abs(gap.last[: start.size]) <= _SETTLED) & (x >= low) & (x <= high)
    if not settled.all():
        astray = np.flatnonzero(~settled)
        x[astray] = _bracketed(curve, side, bracket, astray)
    return np.asarray(x * side.flow_factor)


class _Gap:
    """Pump head less line head and its slope, computed together and handed out in turn.

    The step budget ends by reporting a gap of zero, so that scipy's Newton stops without
    a warning; ``last`` keeps the gap before the last step, by which a root is judged.
    """

    def __init__(self, curve: Curve, side: Side, bracket: Bracket) -> None:
        self.side, self.low, self.high = side, bracket.low, bracket.high
        self.knot = curve.flow[bracket.segment]
        self.cubic = curve.cubic[:, bracket.segment] * side.head_factor
        self.left = _STEPS
        self.last = np.full_like(bracket.low, np.inf)
        self._slope = np.ones_like(bracket.low)

    def value(self, x: FloatArray) -> FloatArray:
        self.left -= 1
        if self.left < 0:
            return np.zeros_like(x)
        x = np.minimum(np.maximum(x, self.low), self.high)
        c3, c2, c1, c0 = self.cubic
        t = x - self.knot
        asked, change = self.side.asks_with_slope(x)
        self._slope = (3 * c3 * t + 2 * c2) * t + c1 - change
        self._slope[self._slope == 0] = -1e-30
        self.last = ((c3 * t + c2) * t + c1) * t + c0 - asked
        return self.last

    def slope(self, x: FloatArray) -> FloatArray:
        return self._slope


def _bracketed(
    curve: Curve, side: Side, bracket: Bracket, which: npt.NDArray[np.intp]
) -> FloatArray:
    """Finish the elements that Newton left, by scipy's bracketing solver."""

    def gap(x: FloatArray, element: npt.NDArray[np.intp]) -> FloatArray:
        # the element's number travels with it, since finished elements are dropped
        one = side.take(element)
        made = one.head_factor * curve.at(x, bracket.segment[element])
        return np.asarray(made - one.asks(x))

    low, high = bracket.low[which], bracket.high[which]
    found = elementwise.find_root(gap, (low, high), args=(which,))
    # a bracket whose end is the root to rounding has no sign change left to follow
    ends = np.abs([gap(low, which), gap(high, which)])
    nearest = np.where(ends[0] <= ends[1], low, high)
    return np.where(found.success, found.x, np.where(ends.min(axis=0) <= 1e-9, nearest, np.nan))
