"""Pumps side by side against many lines: where do they cross?

A pump in a parallel bank, at a head h at the junction, is that pump crossing a line made
of its riser with h standing on the end of it; so the solver of one pump answers for each,
and one bracketed root over h closes the shared line:

    H_line(sum of q_i(h)) = h.

Each q_i falls as h rises, so the bracket runs from the line's head at no flow to its head
at the flow found there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, NamedTuple, Protocol

import numpy as np
import numpy.typing as npt
from scipy.optimize import elementwise

from drainpump.physics.system import LineArrays, SystemCurve, beside
from drainpump.solve.crossing import AT_REST, Crossing, Newton, System
from drainpump.solve.flat_curve import FlatCurve, Share
from drainpump.states import BAD, BELOW, BEYOND, MULTIPLE, NO_FLOW, OK
from drainpump.units import FloatArray

#: head (m) by which a bracket is opened on both sides, so that its ends differ in sign
_SLACK = 1e-9
#: gap (m) above which the junction's head is a jump between branches and no crossing
_JUMP = 1e-6
#: step of head (m) to both sides of a level stretch, and the share of its flow by which a
#: bank's pumps must miss the whole to be on one
_HAIR, _APART = 1e-8, 1e-7
#: rounds of a few steps each, of the elements that are not settled
_ROUNDS = 4
_TOLERANCES = {"xatol": 1e-13, "xrtol": 1e-14}

Index = npt.NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class _Behind:
    """Lines that begin behind a riser: one pump alone on it pushes through both."""

    riser: SystemCurve
    line: System

    @cached_property
    def _own(self) -> System:
        """What the riser takes from start to junction, though it fall."""
        return self.riser.siphoning()

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


class _Asked(Protocol):
    """What the flow of all pumps has to meet at a head at the junction."""

    def gap(self, head: FloatArray, flow: FloatArray) -> tuple[Any, Any, Any]:
        """How far they are apart, falling with the head; and its change by flow and by head."""

    def take(self, index: Index) -> _Asked:
        """The elements named by ``index``."""


class _OfLine(NamedTuple):
    """The line behind the junction."""

    line: System

    def gap(self, head: FloatArray, flow: FloatArray) -> tuple[Any, Any, Any]:
        asked, slope = self.line.head_with_slope(flow)
        return asked - head, slope, -1.0

    def take(self, index: Index) -> _OfLine:
        return _OfLine(self.line.take(index))


class _OfFlow(NamedTuple):
    """One flow, whatever the head."""

    flow: FloatArray

    def gap(self, head: FloatArray, flow: FloatArray) -> tuple[Any, Any, Any]:
        return flow - self.flow, 1.0, 0.0

    def take(self, index: Index) -> _OfFlow:
        return _OfFlow(self.flow[index])


class _Ends(NamedTuple):
    """Least head at the junction, the pumps' flow there, and its change by the head, (N,)."""

    head: FloatArray
    total: FloatArray
    rate: FloatArray


@dataclass(frozen=True, eq=False)
class FlatParallel:
    """M pumps side by side, each on a riser (of one run) to the junction, over N elements.

    The pumps' elements stand one behind the other, (M N,), so that one call crosses them all.
    """

    count: int
    pumps: FlatCurve
    risers: LineArrays
    rise: FloatArray  # (N,) m, of the junction
    #: whether a pump left of its first point counts with that point's flow or with none
    below_counts: bool = True

    @staticmethod
    def of(members: Sequence[FlatCurve], risers: Sequence[LineArrays]) -> FlatParallel:
        """Pumps, each with its riser."""
        pumps = FlatCurve.beside(members) if len(members) > 1 else members[0]
        return FlatParallel(len(members), pumps, beside(list(risers)), risers[0].end[-1])

    @staticmethod
    def beside(banks: Sequence[FlatParallel]) -> FlatParallel:
        """The elements of banks of as many pumps, one bank behind the other."""
        count, each = banks[0].count, [bank.rise.size for bank in banks]
        first = np.cumsum([0, *(count * n for n in each[:-1])])
        # one pump of each bank after the other
        order = np.concatenate(
            [
                k + m * n + np.arange(n)
                for m in range(count)
                for k, n in zip(first, each, strict=True)
            ]
        )
        pumps = FlatCurve.beside([bank.pumps for bank in banks]).take(order)
        risers = beside([bank.risers for bank in banks]).take(order)
        rise = np.concatenate([bank.rise for bank in banks])
        return FlatParallel(count, pumps, risers, rise)

    def cross(self, line: System, level: FloatArray) -> Crossing:
        if self.count == 1:
            return self.pumps.cross(_Behind(self.risers.curve, line), level)
        code = np.full(level.shape, NO_FLOW, dtype=np.int8)
        bound, head = np.zeros(level.shape), line.head(np.zeros_like(level))
        flow, _, rate = self.flows(head, level)
        total = flow.sum(axis=0)
        # a siphon that the strongest pump would keep going must first be filled over its high point
        spare = self.shutoff() + level - self.rise - head
        total[(spare > AT_REST) & (spare - line.siphoned_head() <= AT_REST)] = 0.0
        code[np.isnan(total)] = BAD
        bound[np.isnan(total)] = np.nan
        runs = np.flatnonzero(total > 0)
        if runs.size:
            part, system = self.take(runs), line.take(runs)
            ends = _Ends(head[runs], total[runs], rate[runs])
            bound[runs], code[runs] = part._close(system, level[runs], ends)
        both = np.flatnonzero(code == -1)
        if both.size:
            # one pump past its last point, one before its first: a bound from below alone
            least = replace(self.take(both), below_counts=False)
            bound[both] = least.cross(line.take(both), level[both]).reckoned
            code[both] = BEYOND
        known = (code == OK) | (code == NO_FLOW)
        several = {int(i): bound[i : i + 1] for i in np.flatnonzero(code == MULTIPLE)}
        flow = np.where(known, bound, np.nan)
        return Crossing(flow, code, several, bound, np.full_like(flow, np.nan))

    def _close(
        self, line: System, level: FloatArray, least: _Ends
    ) -> tuple[FloatArray, npt.NDArray[np.int8]]:
        """Total flow and code where head at the junction and head asked there agree."""
        high, slope = line.head_with_slope(least.total)
        start = least.head + (high - least.head) / (1.0 - slope * least.rate)
        head = self._meet(_OfLine(line), level, least.head, high, start)
        flow, code, _ = self.flows(head, level)
        total = np.asarray(flow.sum(axis=0))
        jump = ~(np.abs(line.head(total) - head) <= _JUMP)
        at = np.flatnonzero(jump)
        if at.size and self.falls:
            # a level stretch, where many flows have one head: the line takes what it can
            part, system = self.take(at), line.take(at)
            total[at], code[:, at] = part._on_the_level(system, level[at], head[at])
            jump[at] = False
        droops = np.flatnonzero((code == MULTIPLE).any(axis=0) & ~jump)
        if droops.size:
            part, system = self.take(droops), line.take(droops)
            code[:, droops] = part._settled(system, level[droops], code[:, droops])

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

    def head_at(self, flow: FloatArray, level: FloatArray) -> FloatArray:
        """Head at the junction (m) at which all together give a flow; NaN where none is found."""
        firsts, lasts = self.pumps.ends()
        upward = self.risers.curve
        nets = (self._each(made - upward.head(q)) + level for q, made in (lasts, firsts))
        low, high = (pick(net, axis=0) for pick, net in zip((np.min, np.max), nets, strict=True))
        return self._meet(_OfFlow(flow), level, low, high, 0.5 * (low + high))

    def _meet(
        self, asked: _Asked, level: FloatArray, low: FloatArray, high: FloatArray, head: FloatArray
    ) -> FloatArray:
        """Head at the junction between two where the pumps' flow is what is asked, from a start."""
        ends = [low.copy(), high.copy()]
        left = np.arange(level.size)
        for _ in range(_ROUNDS if self.falls else 0):
            if not left.size:
                return head
            whole = left.size == level.size
            part, its = (self, asked) if whole else (self.take(left), asked.take(left))

            def with_slope(
                head: FloatArray, part: Any = part, its: Any = its, above: Any = level[left]
            ) -> tuple[FloatArray, FloatArray]:
                flow, _, rate = part.flows(head, above)
                gap, by_flow, by_head = its.gap(head, flow.sum(axis=0))
                return gap, by_flow * rate + by_head

            steps = Newton(with_slope, ends[0][left], ends[1][left], shrinks=True)
            head[left] = steps.solve(head[left], 1e-12)
            ends[0][left], ends[1][left] = steps.low, steps.high
            left = left[~(steps.settled & (head[left] >= low[left]) & (head[left] <= high[left]))]
        if not left.size:
            return head

        def gap(head: FloatArray, i: Index) -> FloatArray:
            # the element's number travels with it, since finished elements are dropped
            flow, _, _ = self.take(i).flows(head, level[i])
            return np.asarray(asked.take(i).gap(head, flow.sum(axis=0))[0])

        low, high = low[left], high[left]
        slack = _SLACK * (1 + np.abs(high))
        ends_of = (low - slack, high + slack)
        found = elementwise.find_root(gap, ends_of, args=(left,), tolerances=_TOLERANCES)
        head[left] = found.x
        return head

    def _on_the_level(
        self, line: System, level: FloatArray, head: FloatArray
    ) -> tuple[FloatArray, npt.NDArray[np.int8]]:
        """Total flow, and each pump's code, where curves are level at a head at the junction."""
        (few, *_), (many, code, _) = (self.flows(head + step, level) for step in (_HAIR, -_HAIR))
        ends = few.sum(axis=0), many.sum(axis=0)

        def gap(total: FloatArray, i: Index) -> FloatArray:
            return line.take(i).head(total) - head[i]

        found = elementwise.find_root(gap, ends, args=(np.arange(level.size),))
        nearest = np.where(gap(ends[0], np.arange(level.size)) >= 0, *ends)
        return np.where(found.success, found.x, nearest), code

    def _settled(
        self, line: System, level: FloatArray, code: npt.NDArray[np.int8]
    ) -> npt.NDArray[np.int8]:
        """Each pump's code, ``ok`` of those with several flows where the bank has no other state.

        Without one drooping pump the others would have to hold the junction at its head at no
        flow, or above; less of them hold less.
        """
        at_rest = self._each(self.pumps.shutoff()) + level - self.rise
        sure = np.ones(level.shape, dtype=np.bool_)
        for k, head in enumerate(at_rest):
            others, _, _ = self.flows(head, level)
            others[k] = 0.0
            sure &= (code[k] != MULTIPLE) | (line.head(others.sum(axis=0)) < head)
        return np.where((code == MULTIPLE) & sure, np.int8(OK), code)

    @property
    def falls(self) -> bool:
        """True where no pump's head rises with flow."""
        return self.pumps.falls

    def flows(self, head: FloatArray, level: FloatArray) -> tuple[FloatArray, Any, FloatArray]:
        """Flow and code of each pump at a head at the junction, (M, N), held to its data.

        And the change of the sum of the flows by that head, (N,), where the pumps' curves fall.
        """
        behind, above = np.tile(head, self.count), np.tile(level, self.count)
        found = self.pumps.cross(self.risers.curve.under(behind), above)
        flow = found.reckoned
        if not self.below_counts:
            flow = np.where(found.code == BELOW, 0.0, flow)
        return self._each(flow), self._each(found.code), self._each(found.rate).sum(axis=0)

    def _each(self, values: Any) -> Any:
        return values.reshape(self.count, -1)

    def shares(self, line: System, level: FloatArray, flow: FloatArray) -> Share:
        if self.count == 1:
            return self.pumps.shares(line, level, flow)
        head = line.head(flow)
        flows, code, _ = self.flows(head, level)
        apart = np.abs(flows.sum(axis=0) - flow) > _APART * np.abs(flow)
        if self.falls and apart.any():
            # pumps on a level stretch take the rest alike, each by the room it has there
            few, *_ = self.flows(head + _HAIR, level)
            many, wide, _ = self.flows(head - _HAIR, level)
            room = (many - few).sum(axis=0)
            with np.errstate(divide="ignore", invalid="ignore"):
                part = np.clip((flow - few.sum(axis=0)) / room, 0.0, 1.0)
            flows = np.where(apart, few + part * (many - few), flows)
            code = np.where(apart, wide, code)
        # a bank with one flow has each pump at the greater of its own
        code = np.where(code == MULTIPLE, np.int8(OK), code)
        return Share(np.where(np.isnan(flow), np.nan, flows), code)

    def shutoff(self) -> FloatArray:
        return np.asarray(self._each(self.pumps.shutoff()).max(axis=0))

    def last(self) -> FloatArray:
        return np.asarray(self._each(self.pumps.last()).sum(axis=0))

    def top(self) -> FloatArray:
        return np.asarray(self._each(self.pumps.top()).max(axis=0))

    def range_share(self, shares: Share) -> FloatArray:
        return np.asarray((shares.flow / self._each(self.pumps.last())).max(axis=0))

    def take(self, index: Index) -> FlatParallel:
        every = (np.arange(self.count)[:, None] * self.rise.size + index).ravel()
        return replace(
            self, pumps=self.pumps.take(every), risers=self.risers.take(every),
            rise=self.rise[index],
        )  # fmt: skip
