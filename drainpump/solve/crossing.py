"""Where pump curves cross system curves: one path from a scalar to a grid.

For each element the gap g(x) = pump head - line head is first tested at points of the
curve (few elements: all at once; many: by halving the knots; a curve that rises
somewhere: by a scan), which settles the status and brackets the crossing inside one cubic
segment. There scipy's vectorised Newton with the exact derivative finishes; whatever
leaves its bracket or does not settle goes to scipy's bracketing solver.

Curves that fall all the way may be laid end to end and solved in one go, each element
naming its own.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple, Protocol

import numpy as np
import numpy.typing as npt
from scipy import optimize
from scipy.optimize import elementwise

from drainpump.parts.pump.head_curve import Curve, horner
from drainpump.states import BAD, BELOW, BEYOND, MULTIPLE, NO_FLOW, OK, reckoned_with
from drainpump.units import FloatArray

Index = npt.NDArray[np.intp]


#: gap (m of head) before the last Newton step up to which its root is taken
_SETTLED = 3e-10
#: head (m) up to which the pump's and the line's at no flow are one, whatever the rounding
AT_REST = 1e-10
#: slope at the root over that of the bracket below which Newton only creeps (a double root)
_FLAT = 1e-3
#: Newton steps allowed; quadratic convergence inside one cubic needs about five
_STEPS = 8
#: the same where the gap has kinks, and a step that gains little becomes a halving
_MORE_STEPS = 5
#: points along a curve at which an element is tested where that takes one call, whose
#: overhead costs more than its points: so close that two Newton steps then serve; and the
#: points of all elements up to which it is so
_ALONG, _AT_ONCE = 96, 2048
#: points asked in one call, so that memory stays bounded
_AT_A_CALL = 1 << 16
#: points a rising segment is scanned at, so that two crossings in one segment are seen
_SCAN = 32


class System(Protocol):
    """What is asked of N lines, over and over."""

    def head(self, flow: FloatArray) -> FloatArray:
        """Head asked at a flow (m³/s), m."""

    def head_with_slope(self, flow: FloatArray) -> tuple[FloatArray, FloatArray]:
        """The same and its derivative by flow."""

    def siphoned_head(self) -> FloatArray:
        """Head (m) that is needed besides to start."""

    def take(self, index: Index) -> System:
        """The lines named by ``index``."""


@dataclass(frozen=True, eq=False)
class Side:
    """The line's side of N elements, with the water level, the pump's factors and number.

    The curve in force is H = head_factor · h(Q / flow_factor); x below is Q / flow_factor.
    """

    system: System
    level: FloatArray  # (N,) m above the pump-off level
    head_factor: FloatArray  # (N,)
    flow_factor: FloatArray  # (N,)
    number: Index  # (N,) which of the curves that lie end to end

    def asks(self, x: FloatArray) -> FloatArray:
        """Head the line asks at the curve's flow ``x``, m."""
        return self.system.head(x * self.flow_factor) - self.level

    def asks_with_slope(self, x: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Head and its derivative by ``x``."""
        value, slope = self.system.head_with_slope(x * self.flow_factor)
        return value - self.level, slope * self.flow_factor

    def take(self, index: Index) -> Side:
        """Return the elements named by ``index`` (with repeats where it repeats)."""
        return Side(
            self.system.take(index),
            self.level[index],
            self.head_factor[index],
            self.flow_factor[index],
            self.number[index],
        )


class Crossing(NamedTuple):
    """Flow (NaN where there is none), status code, and every crossing of the ``multiple``."""

    flow: FloatArray  # (N,) m³/s
    code: npt.NDArray[np.int8]  # (N,)
    several: dict[int, FloatArray]  # element -> its crossings, m³/s
    reckoned: FloatArray  # (N,) flow to be reckoned with, m³/s
    rate: FloatArray  # (N,) change of the flow by the head asked of a falling curve, m²/s


def cross(curve: Curve, side: Side) -> Crossing:
    """Find the operating flow of pump curves against N lines.

    Parameters
    ----------
    curve : Curve
        The pump, or several that fall all the way.
    side : Side
        The lines, flat, each with its curve's number.

    Returns
    -------
    Crossing
        Flow in m³/s: the root where ``ok``, 0 where ``no_flow``, NaN elsewhere.
    """
    begin, end = curve.begin[side.number], curve.end[side.number]
    segments = curve.segments
    pieces = min(max(1, _ALONG // segments), _AT_ONCE // max(1, segments * side.level.size))
    few = not curve.falls or segments * pieces > 1
    if few:
        tested = _test(curve, side, max(1, pieces) if curve.falls else 1)
        first, last = tested.gap[0], tested.gap[-1]
    else:
        first, last = (
            side.head_factor * curve.head[k] - side.asks(curve.flow[k]) for k in (begin, end)
        )
    code = np.zeros(side.level.shape, dtype=np.int8)
    code[last > 0] = BEYOND
    # a siphon asks less once it runs, but must first be filled over its high point
    from_rest = curve.flow[begin] == 0
    code[from_rest & (first - side.system.siphoned_head() <= AT_REST)] = NO_FLOW
    code[~from_rest & (first < 0)] = BELOW
    code[np.isnan(first) | np.isnan(last)] = BAD
    flow = np.where(code == NO_FLOW, 0.0, np.nan)
    several: dict[int, FloatArray] = {}
    greatest, rate = flow, np.zeros_like(flow)
    if curve.falls:
        inside = np.flatnonzero(code == OK)
        whole = inside.size == code.size
        part = side if whole else side.take(inside)
        if few:
            bracket = tested.pick(inside)
        else:
            bracket = _halve(curve, part, begin[inside], end[inside], first[inside], last[inside])
        flow[inside], slope = _solve(curve, part, bracket)
        if whole:  # as a slider's one element mostly is
            return Crossing(flow, code, several, flow, slope)
        rate[inside] = slope
    else:
        several, greatest = _scan(curve, side, tested, from_rest, code, flow)
    low, high = (curve.flow[k] * side.flow_factor for k in (begin, end))
    reckoned = reckoned_with(code, flow, low, high, greatest)
    return Crossing(flow, code, several, reckoned, rate)


class Bracket(NamedTuple):
    """Where one crossing lies: the knot before it, the ends and the gaps there."""

    knot: Index
    low: FloatArray
    high: FloatArray
    gap_low: FloatArray  # 0 or more
    gap_high: FloatArray  # 0 or less
    start: FloatArray | None  # where to begin, if known better than by `_Gap.start`


class _Tested(NamedTuple):
    """Points along the curves of N elements: the knot before each, flow and gap, (J, N)."""

    knot: Index
    flow: FloatArray
    gap: FloatArray

    def pick(self, element: Index) -> Bracket:
        """Bracket by the last point whose gap is positive, and the next."""
        low = np.maximum((self.gap[:-1, element] > 0).sum(axis=0) - 1, 0)
        aside = np.where(low > 0, low - 1, 2)
        (x0, g0), (x1, g1), (x2, g2) = (
            (self.flow[i, element], self.gap[i, element]) for i in (low, low + 1, aside)
        )
        with np.errstate(all="ignore"):
            # the flow as a parabola of the gap through both ends and a neighbour, at no gap
            chord = (x1 - x0) / (g1 - g0)
            bend = ((x2 - x1) / (g2 - g1) - chord) / (g2 - g0)
            start = x0 - g0 * (chord - g1 * bend)
        start = np.where((start > x0) & (start < x1), start, _chord(x0, x1, g0, g1))
        return Bracket(self.knot[low, element], x0, x1, g0, g1, start)


def _chord(low: FloatArray, high: FloatArray, at_low: FloatArray, at_high: FloatArray) -> Any:
    """Flow where the chord between the ends of a bracket has no gap."""
    fall = at_low - at_high
    return low + (high - low) * np.divide(at_low, fall, out=np.zeros_like(fall), where=fall != 0)


def _test(curve: Curve, side: Side, pieces: int) -> _Tested:
    """Gap at every knot and at points between, of all elements in as few calls as fit."""
    knot, x, heads = curve.points(pieces, _SCAN)
    knot, x, heads = knot[:, side.number], x[:, side.number], heads[:, side.number]
    rows = max(1, _AT_A_CALL // max(1, side.level.size))
    asked = [side.asks(x[k : k + rows]) for k in range(0, len(x), rows)]
    return _Tested(knot, x, side.head_factor * heads - np.concatenate(asked))


def _halve(
    curve: Curve, side: Side, low: Index, high: Index, first: FloatArray, last: FloatArray
) -> Bracket:
    """Bracket by halving the knots: the gap only falls, so comparing heads is enough."""
    most = int(np.max(high - low, initial=1))
    for _ in range(int(np.ceil(np.log2(most)))):
        # an interval of one step halves to its own low end, whose gap is known to hold
        middle = (low + high) // 2
        gap = side.head_factor * curve.head[middle] - side.asks(curve.flow[middle])
        above = gap > 0
        low, first = np.where(above, middle, low), np.where(above, gap, first)
        high, last = np.where(above, high, middle), np.where(above, last, gap)
    return Bracket(low, curve.flow[low], curve.flow[low + 1], first, last, None)


def _scan(
    curve: Curve,
    side: Side,
    tested: _Tested,
    from_rest: npt.NDArray[np.bool_],
    code: npt.NDArray[np.int8],
    flow: FloatArray,
) -> tuple[dict[int, FloatArray], FloatArray]:
    """Find every crossing of a curve that rises somewhere; fills code and flow.

    Returns those of the ``multiple`` and the greatest of each, which is the last point where
    a flow may lie beyond it.
    """
    knot, x, gaps = tested
    first, last = gaps[0], gaps[-1]
    # a crossing exactly at the last point belongs to the curve; one at no flow does not
    above = np.where(x < x[-1], gaps >= 0, last > 0)
    above[0] = np.where(from_rest, first > AT_REST, above[0])
    changes = above[1:] != above[:-1]
    count = changes.sum(axis=0)
    # a siphon that cannot be filled has no other state
    good = (code != BAD) & ~((code == NO_FLOW) & (first > AT_REST))
    # one crossing is the operating point where the head falls through it. Where it rises
    # through, the pump cannot start against the line or has another flow outside its data.
    one = good & (count == 1) & above[0]
    code[one] = OK
    code[good & ((count > 1) | ((count == 1) & ~above[0] & (code == BELOW)))] = MULTIPLE
    flow[code == MULTIPLE] = np.nan
    at = np.nonzero(changes & (one | (code == MULTIPLE)))
    element = at[1]
    ends = (x[:-1][at], x[1:][at], gaps[:-1][at], gaps[1:][at])
    roots, _ = _solve(curve, side.take(element), Bracket(knot[at], *ends, _chord(*ends)))
    several = {int(i): np.sort(roots[element == i]) for i in np.flatnonzero(code == MULTIPLE)}
    flow[element[one[element]]] = roots[one[element]]
    greatest = np.full_like(flow, np.nan)
    np.fmax.at(greatest, element, roots)
    return several, np.where(last > 0, x[-1] * side.flow_factor, greatest)


def _solve(curve: Curve, side: Side, bracket: Bracket) -> tuple[FloatArray, FloatArray]:
    """Return the flow (m³/s) at the one crossing in each bracket, and its rise by head there."""
    if bracket.low.size == 0:
        return bracket.low.copy(), bracket.low.copy()
    gap = _Gap(curve, side, bracket)
    low, high = bracket.low, bracket.high
    start = gap.start(bracket) if bracket.start is None else bracket.start
    steps = Newton(gap.with_slope, low, high)
    x = steps.solve(start)
    fall = bracket.gap_low - bracket.gap_high
    steep = np.abs(steps.slope) * (high - low) >= _FLAT * np.abs(fall)
    settled = steps.settled & steep & (x >= low) & (x <= high)
    if not settled.all():
        astray = np.flatnonzero(~settled)
        x[astray] = _bracketed(curve, side, bracket, astray)
    return x * side.flow_factor, side.flow_factor / steps.slope


class Newton:
    """Scipy's vectorised Newton inside brackets, value and slope from one call.

    The step budget ends by reporting a gap of zero, so that scipy's Newton stops without
    a warning; ``last`` keeps the gap before the last step, by which a root is judged.
    """

    def __init__(
        self, with_slope: Any, low: FloatArray, high: FloatArray, shrinks: bool = False
    ) -> None:
        self.with_slope, self.low, self.high, self.shrinks = with_slope, low, high, shrinks
        self.left = _MORE_STEPS if shrinks else _STEPS
        self.slow = np.zeros(low.shape, dtype=np.bool_)
        self.last, self.slope = np.full_like(low, np.inf), np.ones_like(low)

    def solve(self, start: FloatArray, tol: float = 1e-14) -> FloatArray:
        """Return where the steps end; inside the bracket or not."""
        # it is vectorised from two elements on: a single one goes in twice
        twice = start if start.size > 1 else start.repeat(2)
        ends = optimize.newton(
            self._value, twice, fprime=lambda x: np.broadcast_to(self.slope, x.shape),
            tol=tol, maxiter=self.left + 1,
        )  # fmt: skip
        return np.asarray(ends)[: start.size]

    def _value(self, x: FloatArray) -> FloatArray:
        self.left -= 1
        if self.left < 0:
            return np.zeros_like(x)
        given = x[: self.low.size]
        inside = np.minimum(np.maximum(given, self.low), self.high)
        if not self.shrinks:
            self.last, self.slope = self.with_slope(inside)
            return np.broadcast_to(self.last, x.shape)
        inside = np.where((inside == given) & ~self.slow, given, 0.5 * (self.low + self.high))
        before = self.last
        self.last, self.slope = self.with_slope(inside)
        # from one side of a kink to the other and back, steps would not come nearer
        self.slow = np.abs(self.last) > np.maximum(0.5 * np.abs(before), _SETTLED)
        above = self.last > 0
        self.low, self.high = np.where(above, inside, self.low), np.where(above, self.high, inside)
        # the tangent, so that scipy's next step sets out from where the gap was asked
        return np.broadcast_to(self.last + self.slope * (given - inside), x.shape)

    @property
    def settled(self) -> npt.NDArray[np.bool_]:
        """True where the last step set out from so near that its end is the root."""
        return np.asarray(np.abs(self.last) <= _SETTLED)


class _Gap:
    """Pump head less line head and its slope, in known segments."""

    def __init__(self, curve: Curve, side: Side, bracket: Bracket) -> None:
        self.side, self.knot = side, curve.flow[bracket.knot]
        c3, c2, c1, c0 = curve.cubic[:, bracket.knot - side.number] * side.head_factor
        self.cubic, self.rate = (c3, c2, c1, c0), (3.0 * c3, 2.0 * c2, c1)

    def start(self, bracket: Bracket) -> FloatArray:
        """Flow near the crossing in a whole segment, the line's head taken for a parabola."""
        c3, c2, c1, _ = self.cubic
        _, low, high, first, last, _ = bracket
        wide = high - low
        rise = ((c3 * wide + c2) * wide + c1) * wide - (last - first)
        with np.errstate(all="ignore"):
            square = rise / (wide * (high + low))
        c2, c1 = c2 - square, c1 - 2.0 * square * low
        t = _chord(low, high, first, last) - low
        rate = (3.0 * c3 * t + 2.0 * c2) * t + c1 - 1e-30
        t = t - horner((c3, c2, c1, first), t) / rate
        return np.asarray(np.minimum(np.maximum(low + t, low), high))

    def with_slope(self, x: FloatArray) -> tuple[FloatArray, FloatArray]:
        t = x - self.knot
        asked, change = self.side.asks_with_slope(x)
        (c3, c2, c1, c0), (d2, d1, d0) = self.cubic, self.rate
        # Newton divides by it: never 0, where a flat curve meets a line without friction
        slope = (d2 * t + d1) * t + (d0 - change) - 1e-30
        return horner((c3, c2, c1, c0 - asked), t), slope


def _bracketed(curve: Curve, side: Side, bracket: Bracket, which: Index) -> FloatArray:
    """Finish the elements that Newton left, by scipy's bracketing solver."""

    def gap(x: FloatArray, element: Index) -> FloatArray:
        # the element's number travels with it, since finished elements are dropped
        one = side.take(element)
        made = one.head_factor * curve.at(x, bracket.knot[element], one.number)
        return np.asarray(made - one.asks(x))

    low, high = bracket.low[which], bracket.high[which]
    ends = np.abs([bracket.gap_low[which], bracket.gap_high[which]])
    found = elementwise.find_root(gap, (low, high), args=(which,))
    # a bracket whose end is the root to rounding has no sign change left to follow
    nearest = np.where(ends[0] <= ends[1], low, high)
    x = np.where(found.success, found.x, np.where(ends.min(axis=0) <= 1e-9, nearest, np.nan))
    # an end that is the root itself is known exactly; of a level stretch the first counts
    return np.where(ends.min(axis=0) == 0, nearest, x)
