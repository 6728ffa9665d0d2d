"""What the solver reads of a pump curve, all SI: the middle curve, or all it may have."""

from __future__ import annotations

from functools import cached_property
from typing import Any, Self

import numpy as np

from drainpump import units as u
from drainpump.parts.pump import curve_points as points
from drainpump.parts.pump.head_curve import Curve, through
from drainpump.parts.pump.likely import Likely, falling
from drainpump.parts.pump.scaled_curve import ScaledCurve
from drainpump.units import FloatArray, Measure


class SolvedCurve(ScaledCurve):
    """A pump's points in SI, the curve through them, and draws from its own doubt."""

    _flow_given: Measure  # (K,)
    _head_given: Measure
    _best_given: Measure | None
    _power: FloatArray | None  # (K,) W
    _likely: Likely | None
    _reading: float  # one-sigma of the points, as a share of the largest

    @property
    def _flow(self) -> FloatArray:
        """The knots' flows before any factor, (K,) m³/s."""
        return self._flow_given.si

    @property
    def _head(self) -> FloatArray:
        """The knots' heads before any factor, (K,) m."""
        return self._head_given.si

    @property
    def _curve(self) -> Curve:
        """The head before any factor: the middle curve, or after a draw all it may have."""
        return self._family if self._number.ndim else self._middle

    @cached_property
    def _middle(self) -> Curve:
        if self._likely is None or self._likely.shape is None:
            return through(self._flow, self._head)
        exponent = self._likely.middle[0]
        assert exponent is not None
        return falling(self._flow, self._head, exponent)

    @cached_property
    def _family(self) -> Curve:
        if self._likely is None or self._likely.shape is None:
            return self._middle
        return falling(self._flow, self._head, self._likely.shape)

    def _drawn(
        self, head: FloatArray, flow: FloatArray, which: Any = None, misread: Any = None
    ) -> Self:
        """Return the curve with N draws behind its own axes.

        ``head`` and ``flow`` are a tolerance's factors, ``which`` picks one of the curves it
        may have, 0 to 1, and ``misread`` says how many sigma its points were misread.
        """
        likely, number = self._likely, self._number
        if self._reading and misread is not None:
            off = 1.0 + self._reading * misread
            head, flow = head * off, flow * off
        if likely is not None and likely.learned:
            # the readings have seen the tolerance of this very pump
            head, flow = np.ones_like(head), np.ones_like(flow)
        if likely is not None and which is not None:
            number = np.minimum((which * likely.count).astype(np.intp), likely.count - 1)
            head, flow = head * likely.head[number], flow * likely.flow[number]
        own = (self._head_factor, self._flow_factor, self._power_factor)
        by_head, by_flow, power = (factor[..., None] for factor in own)
        twin = self._with_factors(by_head * head, by_flow * flow, power)
        if likely is not None and likely.shape is not None:
            vars(twin)["_number"] = u.frozen(number)
        return twin

    @cached_property
    def _power_curve(self) -> Curve | None:
        """The power before any factor, at points of its own: a given shutoff brings none."""
        if self._power is None or (known := np.isfinite(self._power)).sum() < 2:
            return None
        return through(self._flow[known], self._power[known])

    def _head_at(self, flow: FloatArray) -> FloatArray:
        """Head (m) at ``flow`` (m³/s), NaN outside the points."""
        x = flow / self._flow_factor
        if not self._number.ndim:
            return np.asarray(self._head_factor * self._curve.read(x))
        assert self._likely is not None
        made = self._likely.heads(x, self._flow, self._head, self._number)
        return np.asarray(self._head_factor * made)

    def _power_at(self, flow: FloatArray) -> FloatArray | None:
        """Power (W) at ``flow`` (m³/s), NaN where not known; None without power points."""
        if self._power_curve is None:
            return None
        return np.asarray(self._power_factor * self._power_curve.read(flow / self._flow_factor))

    # what the views answer
    @property
    def _flow_points(self) -> Measure | FloatArray:
        return points.times(self._flow_factor, self._flow_given)

    @property
    def _head_points(self) -> Measure | FloatArray:
        return points.times(self._head_factor, self._head_given)

    @property
    def _power_points(self) -> FloatArray | None:
        return None if self._power is None else np.multiply.outer(self._power_factor, self._power)

    @property
    def _shutoff(self) -> Measure | FloatArray | None:
        if self._flow[0] > 0:
            return None
        return points.times(self._head_factor, self._head_given, 0)

    @property
    def _run_out(self) -> Measure | FloatArray:
        return points.times(self._flow_factor, self._flow_given, -1)

    @property
    def _best_flow(self) -> Measure | FloatArray | None:
        return (
            None if self._best_given is None else points.times(self._flow_factor, self._best_given)
        )

    @property
    def droops(self) -> bool:
        """True where the head at the first point is not the highest."""
        return bool(self._head[0] < self._head.max())

    @property
    def rises(self) -> bool:
        """True where the head rises with flow anywhere."""
        return bool((np.diff(self._head) > 0).any())
