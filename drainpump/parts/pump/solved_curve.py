"""A pump's points in SI, the curves through them, and its factors of speed, wear and doubt."""

from __future__ import annotations

import copy
from collections.abc import Sequence
from functools import cached_property
from typing import Any, Self

import numpy as np
import numpy.typing as npt

from drainpump import units as u
from drainpump.errors import UnusualValueWarning, warn
from drainpump.parts.part import Part
from drainpump.parts.pump import curve_points as points
from drainpump.parts.pump.head_curve import Curve, end_to_end, through
from drainpump.parts.pump.likely import Likely, falling
from drainpump.parts.scalars import factor
from drainpump.results import one_shape
from drainpump.units import FloatArray, Measure

#: the factor that changes nothing
ONE: FloatArray = u.frozen(np.ones(()))


class SolvedCurve(Part):
    """What the solver reads of a pump curve, all SI, and what its three factors do to it."""

    name: str
    _flow_given: Measure  # (K,)
    _head_given: Measure
    _best_given: Measure | None
    _power: FloatArray | None  # (K,) W
    _likely: Likely | None
    _reading: float  # one-sigma of the points, as a share of the largest
    _head_factor: FloatArray
    _flow_factor: FloatArray
    _power_factor: FloatArray
    #: which of the curves it may have each sample took; a plain 0 for the middle one
    _number: npt.NDArray[np.intp]

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
        """The head before any factor: the middle curve, or after a sample all it may have."""
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

    def _sampled(
        self, head: FloatArray, flow: FloatArray, which: Any = None, misread: Any = None
    ) -> Self:
        """Return the curve with N samples behind its own axes.

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

    def _beside(self, pumps: Sequence[Self], number: npt.NDArray[np.intp]) -> Self:
        """Many pumps as one, of another curve in each of N elements: the numbered ones."""
        head, flow, power = (
            np.array([float(getattr(p, name)) for p in pumps])[number]
            for name in ("_head_factor", "_flow_factor", "_power_factor")
        )
        twin = self._with_factors(head, flow, power)
        vars(twin).update(_family=end_to_end([p._curve for p in pumps]), _number=u.frozen(number))
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

    # another speed, wear
    @property
    def _many(self) -> bool:
        own = (self._head_factor, self._flow_factor, self._power_factor, self._number)
        return any(f.ndim for f in own)

    def _scaled(self, head_factor: Any = 1.0, flow_factor: Any = 1.0) -> Self:
        """Return a copy with further factors multiplied in; they broadcast to one shape."""
        a, b = (np.asarray(f, dtype=np.float64) for f in (head_factor, flow_factor))
        one_shape(f"pump {self.name!r}", a, b, self._head_factor, self._flow_factor)
        return self._with_factors(self._head_factor * a, self._flow_factor * b, self._power_factor)

    def _with_factors(self, head: Any, flow: Any, power: Any) -> Self:
        twin = copy.copy(self)
        factors = {"_head_factor": head, "_flow_factor": flow, "_power_factor": power}
        vars(twin).update({name: u.frozen(np.asarray(f)) for name, f in factors.items()})
        return twin

    def at_speed(self, ratio: u.Quantity) -> Self:
        """Return the curve at another speed by the affinity laws.

        Parameters
        ----------
        ratio : float or array_like
            New speed over the speed of the points, > 0 and at most 3. Outside 0.5 to
            1.2 it warns (common practice, no source): efficiency no longer stays put.

        Returns
        -------
        PumpCurve
            Every point moved. Its crossing with a line does not move by the same laws where
            there is static lift: solve again.

        Notes
        -----
        Q ~ n, H ~ n², P ~ n³.

        References
        ----------
        Hydraulic Institute, *Engineering Data Library*, "Affinity laws", worked example 1.

        Examples
        --------
        >>> import drainpump as dp
        >>> pump = dp.PumpCurve(flow_gpm=[0, 50], head_ft=[20, 0]).at_speed(0.9)
        >>> round(pump.shutoff_ft, 6), round(pump.run_out_gpm, 6)
        (16.2, 45.0)
        """
        n = factor("ratio", ratio, 3.0, "give new speed over old, such as 0.9")
        odd = n[np.isfinite(n) & ((n < 0.5) | (n > 1.2))]
        if odd.size:
            warn(
                f"ratio={odd.flat[0]:.10g}: outside 0.5 to 1.2 the affinity laws are rough; "
                "is it new speed over old?",
                UnusualValueWarning,
            )
        twin = self._scaled(n**2, n)
        return twin._with_factors(twin._head_factor, twin._flow_factor, self._power_factor * n**3)

    def worn(self, *, head: u.Quantity = 1.0, flow: u.Quantity = 1.0) -> Self:
        """Return the curve of a worn pump: its heads and flows times a factor.

        Parameters
        ----------
        head, flow : float or array_like, default 1
            What is left of the head at each flow and of the flow at each head, in (0, 1.5].

        Returns
        -------
        PumpCurve
            The power is left as it was at the corresponding point: wear wastes power, it
            does not save it (our own careful choice, no source).

        Examples
        --------
        >>> import drainpump as dp
        >>> dp.PumpCurve(flow_gpm=[0, 50], head_ft=[20, 0]).worn(head=0.9).shutoff_ft
        18.0
        """
        mend = "give the share that is left, such as 0.9"
        return self._scaled(factor("head", head, 1.5, mend), factor("flow", flow, 1.5, mend))
