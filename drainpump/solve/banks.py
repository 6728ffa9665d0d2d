"""Pumps and banks of pumps against many lines, all behind one question: where do they cross?

A pump in a parallel bank, at a head h at the junction, is that pump crossing a line made
of its riser with h standing on the end of it; so the solver of one pump answers for each,
and one bracketed root over h closes the shared line:

    H_line(sum of q_i(h)) = h.

Each q_i falls as h rises, so the bracket runs from the line's head at no flow to its head
at the flow found there. In series the heads add at one flow: the sum of piecewise cubics
on the merged knots is again one, and the solver of one pump takes it as it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from typing import Any, NamedTuple, Protocol

import numpy as np
import numpy.typing as npt
from scipy.optimize import elementwise

from drainpump.parts.pump.head_curve import Curve, horner
from drainpump.physics.system import LineArrays
from drainpump.solve.crossing import AT_REST, Crossing, Side, System, cross
from drainpump.states import BAD, BELOW, BEYOND, MULTIPLE, NO_FLOW, OK
from drainpump.units import FloatArray

__all__ = ["FlatCurve", "FlatParallel", "FlatPump", "FlatSeries", "Share"]

#: head (m) by which a bracket is opened on both sides, so that its ends differ in sign
_SLACK = 1e-9
#: gap (m) above which the junction's head is a jump between branches and no crossing
_JUMP = 1e-6
#: step of head (m) to both sides of a level stretch, and the share of its flow by which a
#: bank's pumps must miss the whole to be on one
_HAIR, _APART = 1e-8, 1e-7
#: pieces a series cubic is cut into where a member's curve rises, to see each crossing
_PIECES = 16
_TOLERANCES = {"xatol": 1e-13, "xrtol": 1e-14}

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

    def shutoff(self) -> FloatArray:
        at_no_flow = self.curve.head[0] if self.curve.flow[0] == 0 else np.nan
        return np.asarray(at_no_flow * self.head_factor)

    def last(self) -> FloatArray:
        return np.asarray(self.curve.flow[-1] * self.flow_factor)

    def top(self) -> FloatArray:
        return np.asarray(self.curve.head.max() * self.head_factor)

    def range_share(self, shares: Share) -> FloatArray:
        return np.asarray(shares.flow[0] / self.last())

    @property
    def falls(self) -> bool:
        return self.curve.falls

    def take(self, index: Index) -> FlatCurve:
        by_head, by_flow = self.head_factor[index], self.flow_factor[index]
        return FlatCurve(self.curve, by_head, by_flow, self.number[index])


@dataclass(frozen=True, eq=False)
class FlatSeries:
    """Curves one behind the other: one summed curve for each set of factors that occurs."""

    members: tuple[FlatCurve, ...]

    @cached_property
    def groups(self) -> list[tuple[Curve, Index]]:
        factors = np.array(
            [f for m in self.members for f in (m.head_factor, m.flow_factor, m.number)]
        )
        # elements whose factors are NaN cross nothing; they form a group like any other
        rows, group = np.unique(factors, axis=1, return_inverse=True, equal_nan=True)
        found = []
        for i, row in enumerate(rows.T):
            numbers = row[2::3].astype(np.intp)
            curves = [m.curve.one(k) for m, k in zip(self.members, numbers, strict=True)]
            index = np.flatnonzero(group.ravel() == i)
            found.append((_summed(curves, row[0::3], row[1::3]), index))
        return found

    def cross(self, line: System, level: FloatArray) -> Crossing:
        flow, reckoned = (np.full(level.shape, np.nan) for _ in range(2))
        code = np.full(level.shape, BAD, dtype=np.int8)
        several: dict[int, FloatArray] = {}
        for curve, index in self.groups:
            one = np.ones(index.size)
            whole = index.size == level.size
            number = np.zeros(index.size, dtype=np.intp)
            side = Side(line if whole else line.take(index), level[index], one, one, number)
            found = cross(curve, side)
            flow[index], code[index] = found.flow, found.code
            reckoned[index] = found.reckoned
            several |= {int(index[i]): roots for i, roots in found.several.items()}
        return Crossing(flow, code, several, reckoned)

    def shares(self, line: System, level: FloatArray, flow: FloatArray) -> Share:
        each, code = self.members[0].shares(line, level, flow)
        count = len(self.members)
        return Share(np.repeat(each, count, axis=0), np.repeat(code, count, axis=0))

    def shutoff(self) -> FloatArray:
        return np.asarray(np.sum([m.shutoff() for m in self.members], axis=0))

    def last(self) -> FloatArray:
        return np.asarray(np.min([m.last() for m in self.members], axis=0))

    def top(self) -> FloatArray:
        return np.asarray(np.sum([m.top() for m in self.members], axis=0))

    def range_share(self, shares: Share) -> FloatArray:
        return np.asarray(shares.flow[0] / self.last())

    @property
    def falls(self) -> bool:
        return all(member.falls for member in self.members)

    def take(self, index: Index) -> FlatSeries:
        return FlatSeries(tuple(m.take(index) for m in self.members))


@dataclass(frozen=True, eq=False)
class _Behind:
    """Lines that begin behind a riser: one pump alone on it pushes through both."""

    riser: LineArrays
    line: System

    @cached_property
    def _own(self) -> System:
        """What the riser takes from start to junction, though it fall."""
        return replace(self.riser, siphon=np.ones_like(self.riser.siphon)).curve

    def head(self, flow: FloatArray) -> FloatArray:
        return self._whole(self._own.head(flow) + self.line.head(flow))

    def head_with_slope(self, flow: FloatArray) -> tuple[FloatArray, FloatArray]:
        both = self._own.head_with_slope(flow), self.line.head_with_slope(flow)
        head, slope = (a + b for a, b in zip(*both, strict=True))
        return self._whole(head), np.where(self._whole(head) == head, slope, 0.0)

    def _whole(self, head: FloatArray) -> FloatArray:
        # a vented line never asks less than its start does
        return np.where(self.riser.siphon, head, np.maximum(head, 0.0))

    def siphoned_head(self) -> FloatArray:
        return self.line.siphoned_head()

    def take(self, index: Index) -> _Behind:
        return _Behind(self.riser.take(index), self.line.take(index))


@dataclass(frozen=True, eq=False)
class FlatParallel:
    """Pumps side by side, each on a riser (flat, of one run) to the junction."""

    members: tuple[FlatPump, ...]
    risers: tuple[LineArrays, ...]
    #: whether a pump left of its first point counts with that point's flow or with none
    below_counts: bool = True

    def cross(self, line: System, level: FloatArray) -> Crossing:
        if len(self.members) == 1:
            return self.members[0].cross(_Behind(self.risers[0], line), level)
        code = np.full(level.shape, NO_FLOW, dtype=np.int8)
        bound, head = np.zeros(level.shape), line.head(np.zeros_like(level))
        flow, _ = self.flows(head, level)
        total = flow.sum(axis=0)
        # a siphon that the strongest pump would keep going must first be filled over its crest
        spare = self.shutoff() + level - self.risers[0].end[-1] - head
        total[(spare > AT_REST) & (spare - line.siphoned_head() <= AT_REST)] = 0.0
        code[np.isnan(total)] = BAD
        bound[np.isnan(total)] = np.nan
        runs = np.flatnonzero(total > 0)
        if runs.size:
            part, system = self.take(runs), line.take(runs)
            high = system.head(total[runs])
            bound[runs], code[runs] = part._close(system, level[runs], head[runs], high)
        both = np.flatnonzero(code == -1)
        if both.size:
            # one pump past its last point, one before its first: a bound from below alone
            least = replace(self.take(both), below_counts=False)
            bound[both] = least.cross(line.take(both), level[both]).reckoned
            code[both] = BEYOND
        known = (code == OK) | (code == NO_FLOW)
        several = {int(i): bound[i : i + 1] for i in np.flatnonzero(code == MULTIPLE)}
        return Crossing(np.where(known, bound, np.nan), code, several, bound)

    def _close(
        self, line: System, level: FloatArray, low: FloatArray, high: FloatArray
    ) -> tuple[FloatArray, npt.NDArray[np.int8]]:
        """Total flow and code where head at the junction and head asked there agree."""

        def gap(head: FloatArray, i: Index) -> FloatArray:
            # the element's number travels with it, since finished elements are dropped
            flow, _ = self.take(i).flows(head, level[i])
            return line.take(i).head(flow.sum(axis=0)) - head

        every = np.arange(level.size)
        slack = _SLACK * (1 + np.abs(high))
        head = elementwise.find_root(
            gap, (low - slack, high + slack), args=(every,), tolerances=_TOLERANCES
        ).x
        flow, code = self.flows(head, level)
        total = np.asarray(flow.sum(axis=0))
        jump = ~(np.abs(line.head(total) - head) <= _JUMP)
        at = np.flatnonzero(jump)
        if at.size and self.falls:
            # a level stretch, where many flows have one head: the line takes what it can
            part, system = self.take(at), line.take(at)
            total[at], code[:, at] = part._on_the_level(system, level[at], head[at])
            jump[at] = False

        def some(which: int) -> npt.NDArray[np.bool_]:
            return np.asarray((code == which).any(axis=0))

        # -1: both ends of the data at once, settled by the caller
        whole = np.select(
            [some(BAD), some(MULTIPLE) | jump, some(BEYOND) & some(BELOW), some(BEYOND),
             some(BELOW), (code == NO_FLOW).all(axis=0)],
            [BAD, MULTIPLE, -1 if self.below_counts else BEYOND, BEYOND, BELOW, NO_FLOW],
            OK,
        )  # fmt: skip
        return total, whole.astype(np.int8)

    def _on_the_level(
        self, line: System, level: FloatArray, head: FloatArray
    ) -> tuple[FloatArray, npt.NDArray[np.int8]]:
        """Total flow, and each pump's code, where curves are level at a head at the junction."""
        (few, _), (many, code) = (self.flows(head + step, level) for step in (_HAIR, -_HAIR))
        ends = few.sum(axis=0), many.sum(axis=0)

        def gap(total: FloatArray, i: Index) -> FloatArray:
            return line.take(i).head(total) - head[i]

        found = elementwise.find_root(gap, ends, args=(np.arange(level.size),))
        nearest = np.where(gap(ends[0], np.arange(level.size)) >= 0, *ends)
        return np.where(found.success, found.x, nearest), code

    @property
    def falls(self) -> bool:
        """True where no pump's head rises with flow."""
        return all(member.falls for member in self.members)

    def flows(self, head: FloatArray, level: FloatArray) -> tuple[FloatArray, Any]:
        """Flow of each pump at a head at the junction, held to its data, and its code (M, N)."""
        flows, codes = [], []
        for member, riser in zip(self.members, self.risers, strict=True):
            found = member.cross(replace(riser, tail=head).curve, level)
            flow = found.reckoned
            if not self.below_counts:
                flow = np.where(found.code == BELOW, 0.0, flow)
            flows.append(flow)
            codes.append(found.code)
        return np.array(flows), np.array(codes)

    def shares(self, line: System, level: FloatArray, flow: FloatArray) -> Share:
        if len(self.members) == 1:
            return self.members[0].shares(line, level, flow)
        head = line.head(flow)
        flows, code = self.flows(head, level)
        apart = np.abs(flows.sum(axis=0) - flow) > _APART * np.abs(flow)
        if self.falls and apart.any():
            # pumps on a level stretch take the rest alike, each by the room it has there
            few, _ = self.flows(head + _HAIR, level)
            many, wide = self.flows(head - _HAIR, level)
            room = (many - few).sum(axis=0)
            with np.errstate(divide="ignore", invalid="ignore"):
                part = np.clip((flow - few.sum(axis=0)) / room, 0.0, 1.0)
            flows = np.where(apart, few + part * (many - few), flows)
            code = np.where(apart, wide, code)
        return Share(np.where(np.isnan(flow), np.nan, flows), code)

    def shutoff(self) -> FloatArray:
        return np.asarray(np.max([m.shutoff() for m in self.members], axis=0))

    def last(self) -> FloatArray:
        return np.asarray(np.sum([m.last() for m in self.members], axis=0))

    def top(self) -> FloatArray:
        return np.asarray(np.max([m.top() for m in self.members], axis=0))

    def range_share(self, shares: Share) -> FloatArray:
        each = [q / m.last() for q, m in zip(shares.flow, self.members, strict=True)]
        return np.asarray(np.max(each, axis=0))

    def take(self, index: Index) -> FlatParallel:
        return FlatParallel(
            tuple(m.take(index) for m in self.members),
            tuple(riser.take(index) for riser in self.risers),
            self.below_counts,
        )


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
