"""A curve of cubics through given points: one pump's, or many pumps' end to end.

Plain arrays in SI. The cubics are evaluated in one place, `horner`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

from drainpump.units import FloatArray, frozen

Index = npt.NDArray[np.intp]


def horner(cubic: Any, t: FloatArray) -> FloatArray:
    """Value of cubics ``(c3, c2, c1, c0)``, highest power first, at ``t`` behind their knots."""
    c3, c2, c1, c0 = cubic
    return ((c3 * t + c2) * t + c1) * t + c0  # type: ignore[no-any-return]


def _one() -> Index:
    return np.zeros(1, dtype=np.intp)


@dataclass(frozen=True, eq=False)
class Curve:
    """A pump curve in SI, or P of them end to end: knots, heads, and the cubics between.

    The knots of all lie in one array, and so do their cubics (highest power first), of
    which each curve has one less than knots.
    """

    flow: FloatArray  # (K,) m³/s, increasing within a curve
    head: FloatArray  # (K,) m
    cubic: FloatArray  # (4, K - P)
    begin: Index = field(default_factory=_one)  # (P,) first knot of each curve
    _kept: dict[tuple[int, int], tuple[Index, FloatArray, FloatArray]] = field(
        default_factory=dict, init=False
    )

    @cached_property
    def end(self) -> Index:
        """Last knot of each curve, (P,)."""
        return np.append(self.begin[1:], self.flow.size) - 1

    def one(self, number: int) -> Curve:
        """One of the curves alone."""
        if self.begin.size == 1:
            return self
        knots = slice(self.begin[number], self.end[number] + 1)
        cubics = slice(self.begin[number] - number, self.end[number] - number)
        return Curve(self.flow[knots], self.head[knots], self.cubic[:, cubics])

    @cached_property
    def segments(self) -> int:
        """Most segments of any curve."""
        return int((self.end - self.begin).max())

    @cached_property
    def falls(self) -> bool:
        """True where head never rises with flow, so that one crossing is all there can be."""
        change = np.diff(self.head)
        change[self.end[:-1]] = 0.0  # from one curve to the next
        return not (change > 0).any()

    def at(self, x: FloatArray, knot: Index, number: Index | int = 0) -> FloatArray:
        """Head at ``x`` in the segments behind the named knots, of the numbered curves."""
        return np.asarray(horner(self.cubic[:, knot - number], x - self.flow[knot]))

    def read(self, flow: FloatArray) -> FloatArray:
        """Head of a single curve; NaN outside its knots, whose ends have 1e-12 of slack."""
        first, last = self.flow[0], self.flow[-1]
        slack = 1e-12 * last
        with np.errstate(invalid="ignore"):
            inside = (flow >= first - slack) & (flow <= last + slack)
        x = np.where(inside, np.clip(flow, first, last), first)
        knot = np.searchsorted(self.flow, x, side="right") - 1
        return np.where(inside, self.at(x, np.clip(knot, 0, self.flow.size - 2)), np.nan)

    def points(self, falling: int, rising: int) -> tuple[Index, FloatArray, FloatArray]:
        """Points along each curve: the knot before, flow, head (J, P).

        Segments are cut in so many pieces, those on which the head rises in others. Kept with
        the curve, which a slider asks again and again.
        """
        if (falling, rising) not in self._kept:
            every = np.delete(np.arange(self.flow.size), self.end)
            cuts = np.where(self.head[every] < self.head[every + 1], rising, falling)
            first = np.cumsum(cuts) - cuts
            segments = np.append(self.begin - np.arange(self.begin.size), every.size)
            starts = np.append(first, cuts.sum())[segments]
            # behind its last knot a shorter curve stays there
            step = np.arange(np.diff(starts).max() + 1)[:, None]
            at = starts[:-1] + np.minimum(step, np.diff(starts))
            which = np.searchsorted(first, at, side="right") - 1
            which = np.minimum(which, segments[1:] - 1)
            share = (at - first[which]) / cuts[which]
            knot = every[which]
            # exactly the knots' own flows and heads, at a curve's end too
            x = (1.0 - share) * self.flow[knot] + share * self.flow[knot + 1]
            heads = self.at(x, knot, np.arange(self.begin.size))
            heads = np.where(share == 1.0, self.head[knot + 1], heads)
            self._kept[falling, rising] = knot, x, heads
        return self._kept[falling, rising]


def through(flow: FloatArray, values: FloatArray) -> Curve:
    """Join points by shape-preserving cubics.

    Notes
    -----
    PCHIP: no overshoot, and between points that rise or fall the curve does so too.

    References
    ----------
    F. N. Fritsch and J. Butland, "A method for constructing local monotone piecewise
    cubic interpolants", SIAM J. Sci. Stat. Comput. 5(2), 1984, pp. 300-304.
    """
    from scipy.interpolate import PchipInterpolator

    return Curve(flow, values, frozen(np.array(PchipInterpolator(flow, values).c)))


def end_to_end(curves: Sequence[Curve]) -> Curve:
    """Lay curves end to end, each of which may be several."""
    first = np.cumsum([0, *(c.flow.size for c in curves[:-1])])
    return Curve(
        np.concatenate([c.flow for c in curves]),
        np.concatenate([c.head for c in curves]),
        np.concatenate([c.cubic for c in curves], axis=1),
        np.concatenate([c.begin + k for c, k in zip(curves, first, strict=True)]),
    )
