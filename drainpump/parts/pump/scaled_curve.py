"""A curve times factors on its head, its flow and its power: another speed, wear."""

from __future__ import annotations

import copy
from typing import Any, Self

import numpy as np
import numpy.typing as npt

from drainpump import units as u
from drainpump.errors import UnusualValueWarning, warn
from drainpump.parts.part import Part
from drainpump.parts.scalars import factor
from drainpump.results import one_shape
from drainpump.units import FloatArray

#: the factor that changes nothing
ONE: FloatArray = u.frozen(np.ones(()))


class ScaledCurve(Part):
    """What a pump curve can do with its three factors; each broadcasts with the others."""

    name: str
    _head_factor: FloatArray
    _flow_factor: FloatArray
    _power_factor: FloatArray
    #: which of the curves it may have each draw took; a plain 0 for the middle one
    _number: npt.NDArray[np.intp]

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
