"""Pump curves as the solver takes them, over N elements: single ones, and in series as one.

In series the heads add at one flow: the sum of piecewise cubics on the merged knots is again
one, and the solver of one pump takes it as it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any, NamedTuple, Protocol

import numpy as np
import numpy.typing as npt

from drainpump.parts.pump.head_curve import Curve, end_to_end, horner
from drainpump.solve.crossing import Crossing, Side, System, cross
from drainpump.states import BAD, NO_FLOW, OK
from drainpump.units import FloatArray

#: pieces a series cubic is cut into where a member's curve rises, to see each crossing
_PIECES = 16

Index = npt.NDArray[np.intp]


class Share(NamedTuple):
    """Flow of each pump of a bank and its status code, (M, N)."""

    flow: FloatArray
    code: npt.NDArray[np.int8]


class FlatPump(Protocol):
    """What the solver asks of anything that pumps, over N elements."""

    def cross(self, line: System, level: FloatArray) -> Crossing:
        """Operating flow against N lines, the water ``level`` (m) above the off level."""

    def shares(self, line: System, level: FloatArray, flow: FloatArray) -> Share:
        """How a total ``flow`` (m³/s) divides among the pumps."""

    def head_at(self, flow: FloatArray, level: FloatArray) -> FloatArray:
        """Head (m) at the line's start at which it gives a flow; NaN where there is none."""

    def shutoff(self) -> FloatArray:
        """Head at no flow (m), NaN where the curve has no such point."""

    def last(self) -> FloatArray:
        """Flow of the last point (m³/s)."""

    def top(self) -> FloatArray:
        """Highest head (m) at any point."""

    def range_share(self, shares: Share) -> FloatArray:
        """Largest share of its last point's flow at which a pump runs."""

    @property
    def falls(self) -> bool:
        """True where no pump's head rises with flow."""

    def take(self, index: Index) -> FlatPump:
        """The elements named by ``index``."""


_FACTORS = ("head_factor", "flow_factor", "number")


@dataclass(frozen=True, eq=False)
class FlatCurve:
    """One pump curve, or several it may have, with factors and the curve's number, (N,) each."""

    curve: Curve
    head_factor: FloatArray
    flow_factor: FloatArray
    number: Index

    def cross(self, line: System, level: FloatArray) -> Crossing:
        factors = self.head_factor, self.flow_factor, self.number
        return cross(self.curve, Side(line, level, *factors))

    def shares(self, line: System, level: FloatArray, flow: FloatArray) -> Share:
        code = np.where(flow > 0, OK, np.where(np.isnan(flow), BAD, NO_FLOW))
        return Share(flow[None], code[None].astype(np.int8))

    def ends(self) -> tuple[tuple[FloatArray, FloatArray], ...]:
        """Flow and head at the first and at the last point."""
        return tuple(
            (self.curve.flow[k] * self.flow_factor, self.curve.head[k] * self.head_factor)
            for k in (self.curve.begin[self.number], self.curve.end[self.number])
        )

    def head_at(self, flow: FloatArray, level: FloatArray) -> FloatArray:
        """Head (m) that is left for a line at a flow; NaN outside the points."""
        x = flow / self.flow_factor
        knot, knots, _ = (a[:, self.number] for a in self.curve.points(1, 1))
        inside = (x >= knots[0]) & (x <= knots[-1])
        place = np.clip((knots <= x).sum(axis=0) - 1, 0, len(knots) - 1)
        behind = np.take_along_axis(knot, place[None], axis=0)[0]
        made = self.head_factor * self.curve.at(x, behind, self.number)
        return np.where(inside, made + level, np.nan)

    def shutoff(self) -> FloatArray:
        first = self.curve.begin[self.number]
        at_no_flow = np.where(self.curve.flow[first] == 0, self.curve.head[first], np.nan)
        return np.asarray(at_no_flow * self.head_factor)

    def last(self) -> FloatArray:
        return np.asarray(self.curve.flow[self.curve.end[self.number]] * self.flow_factor)

    def top(self) -> FloatArray:
        tops = np.maximum.reduceat(self.curve.head, self.curve.begin)
        return np.asarray(tops[self.number] * self.head_factor)

    def range_share(self, shares: Share) -> FloatArray:
        return np.asarray(shares.flow[0] / self.last())

    @property
    def falls(self) -> bool:
        return self.curve.falls

    def take(self, index: Index) -> FlatCurve:
        factors: dict[str, Any] = {name: getattr(self, name)[index] for name in _FACTORS}
        return replace(self, **factors)

    @staticmethod
    def beside(flats: Sequence[FlatCurve]) -> FlatCurve:
        """The elements of all, one behind the other, each with its own curve."""
        # each pump's curves stand behind those of the pumps before it
        before = np.cumsum([0, *(f.curve.begin.size for f in flats[:-1])])
        return FlatCurve(
            end_to_end([f.curve for f in flats]),
            np.concatenate([f.head_factor for f in flats]),
            np.concatenate([f.flow_factor for f in flats]),
            np.concatenate([f.number + k for f, k in zip(flats, before, strict=True)]),
        )


@dataclass(frozen=True, eq=False)
class FlatSeries(FlatCurve):
    """Curves one behind the other as one: a summed curve for each set of factors that occurs."""

    count: int = 1

    @staticmethod
    def of(members: Sequence[FlatCurve]) -> FlatSeries:
        """Sum curves; what all factors have in common stays a factor, as in samples."""
        lead = members[0]
        by_head, by_flow, number = (
            np.array([getattr(m, name) for m in members]) for name in _FACTORS
        )
        by_head, by_flow = by_head / lead.head_factor, by_flow / lead.flow_factor
        # ratios of like factors differ by rounding alone
        sets = np.round(np.concatenate([by_head, by_flow, number]), 12)
        first, group = np.zeros(1, dtype=np.intp), np.zeros_like(lead.number)
        if not (sets == sets[:, :1]).all():
            # elements whose factors are NaN cross nothing; they form a set like any other
            _, first, group = np.unique(
                sets, axis=1, return_index=True, return_inverse=True, equal_nan=True
            )
        curves = [
            _summed([m.curve.one(int(m.number[i])) for m in members], by_head[:, i], by_flow[:, i])
            for i in first
        ]
        factors = lead.head_factor, lead.flow_factor, group.ravel()
        return FlatSeries(end_to_end(curves), *factors, count=len(members))

    def shares(self, line: System, level: FloatArray, flow: FloatArray) -> Share:
        alike, code = super().shares(line, level, flow)
        return Share(np.repeat(alike, self.count, axis=0), np.repeat(code, self.count, axis=0))


def _summed(curves: Sequence[Curve], head_factor: FloatArray, flow_factor: FloatArray) -> Curve:
    """Add the heads of curves at equal flow: piecewise cubics on the merged knots."""
    knots = [c.flow * f for c, f in zip(curves, flow_factor, strict=True)]
    first, last = max(k[0] for k in knots), min(k[-1] for k in knots)
    if np.isnan(head_factor.sum() + flow_factor.sum()) or first >= last:
        nothing = np.full(2, np.nan)
        return Curve(np.array([0.0, 1.0]), nothing, np.full((4, 1), np.nan))
    merged = np.unique(np.clip(np.concatenate(knots), first, last))
    # knots of unlike curves may differ by rounding alone
    merged = merged[np.append(True, np.diff(merged) > 1e-12 * last)]
    merged[-1] = last
    if not all(c.falls for c in curves):
        cut = [np.linspace(a, b, _PIECES, endpoint=False) for a, b in pairwise(merged)]
        merged = np.append(np.concatenate(cut), last)
    total = np.zeros((4, merged.size - 1))
    for curve, a, b, own in zip(curves, head_factor, flow_factor, knots, strict=True):
        middle = 0.5 * (merged[1:] + merged[:-1])
        segment = np.clip(np.searchsorted(own, middle) - 1, 0, own.size - 2)
        c3, c2, c1, c0 = curve.cubic[:, segment]
        t = (merged[:-1] - own[segment]) / b
        # the same cubic about the merged knot, in the flow of the bank
        shifted = [c3, 3 * c3 * t + c2, (3 * c3 * t + 2 * c2) * t + c1,
                   horner((c3, c2, c1, c0), t)]  # fmt: skip
        total += a * np.array([c / b**k for c, k in zip(shifted, (3, 2, 1, 0), strict=True)])
    end = horner(total[:, -1], merged[-1] - merged[-2])
    return Curve(merged, np.append(total[3], end), total)
