"""Where a line hands its water to a pipe that runs on by gravity."""

from __future__ import annotations

from typing import Any, ClassVar

import numpy as np

from drainpump import units as u
from drainpump.errors import UnusualValueWarning, warn
from drainpump.parts.line.outlet import Outlet
from drainpump.parts.scalars import factor
from drainpump.physics import open_channel
from drainpump.results import Result, one_shape, short
from drainpump.units import FloatArray, View


class GravityHandOff(Outlet):
    """An air break into a larger pipe that runs on by gravity.

    Parameters
    ----------
    bore_in, bore_mm : float or array_like
        Inside diameter of the gravity pipe, > 0. Exactly one.
    slope : float or array_like
        Fall over length, > 0 and at most 1: 0.01 for 1 %.
    n : float or array_like
        Manning's n, 0 < n <= 0.1: see ``drainpump.physics.open_channel.manning_n``.

    Notes
    -----
    The air break keeps the gravity pipe's water from pressing on the pump: the pump sees
    a free outlet. Whether the gravity pipe carries the flow is another question, and
    `carries` answers it.

    References
    ----------
    V. T. Chow, *Open-Channel Hydraulics*, 1959, ch. 6 (Manning's equation).

    Examples
    --------
    >>> import drainpump as dp
    >>> drain = dp.GravityHandOff(bore_in=4, slope=0.01, n=0.012)
    >>> round(drain.capacity_gpm, 1), drain.carries(flow_gpm=[40, 100]).status.tolist()
    (92.5, ['ok', 'full'])
    """

    _kind = "gravity"

    bore_in, bore_mm = View("_bore"), View("_bore")
    capacity_gpm, capacity_lps = View("_capacity"), View("_capacity")
    slope, n = View("_slope"), View("_n")

    def __init__(
        self,
        *,
        bore_in: u.Quantity | None = None,
        bore_mm: u.Quantity | None = None,
        slope: u.Quantity,
        n: u.Quantity,
    ) -> None:
        self._bore = u.Typed(locals()).take("bore")
        self._slope = factor("slope", slope, 1.0, "give fall over length, 0.01 for 1 %")
        self._n = factor("n", n, 0.1, "give Manning's n, about 0.01 for smooth plastic")
        one_shape("GravityHandOff", self._bore.si, self._slope, self._n)
        # steeper than yard pipes are laid: the slope was perhaps typed in percent
        if np.any(self._slope > 0.2):
            _, steep = u.first(self._slope, self._slope > 0.2)
            warn(
                f"slope={steep:.10g} is {100 * steep:.10g} %; did you mean "
                f"slope={steep / 100:.10g}?",
                UnusualValueWarning,
            )

    @property
    def _capacity(self) -> FloatArray:
        return open_channel.full_flow(self._bore.si, self._slope, self._n)

    def carries(
        self, *, flow_gpm: u.Quantity | None = None, flow_lps: u.Quantity | None = None
    ) -> GravityFlow:
        """Say whether the gravity pipe takes a flow, and how deep it runs.

        Parameters
        ----------
        flow_gpm, flow_lps : float or array_like
            Flow handed over, >= 0. Exactly one.

        Returns
        -------
        GravityFlow
            Its status is ``full`` where the flow is above the pipe's own full flow.
        """
        flow = u.take("flow", gpm=flow_gpm, lps=flow_lps).si
        shape = one_shape("carries", flow, self._capacity)
        ratio = open_channel.depth_ratio(flow, self._bore.si, self._slope, self._n)
        full = np.asarray(flow > self._capacity)
        status = np.where(np.isnan(ratio), "bad_input", np.where(full, "full", "ok"))
        flow, capacity = (np.broadcast_to(a, shape) for a in (flow, self._capacity))
        return GravityFlow(flow, capacity, ratio * self._bore.si, ratio, status)

    def __str__(self) -> str:
        return (
            f"GravityHandOff(bore {self._bore}, slope {short(self._slope)}, "
            f"n {short(self._n)}; {u.both(self._capacity, 'gpm')} full)"
        )


class GravityFlow(Result):
    """How a gravity pipe takes a flow.

    Attributes
    ----------
    flow_gpm, flow_lps, capacity_gpm, capacity_lps : float or ndarray
        The flow handed over, and what the pipe carries just full.
    depth_in, depth_mm : float or ndarray
        Depth of the flow; the bore where the pipe runs full.
    depth_ratio : float or ndarray
        Depth over bore.
    status : str or ndarray of str
        ``ok``, ``full`` (more comes than the pipe carries: it backs up to the air break
        and overflows there) or ``bad_input``.
    """

    _flow: FloatArray
    _capacity: FloatArray
    _depth: FloatArray
    _ratio: FloatArray
    _status: Any

    flow_gpm, flow_lps = View("_flow"), View("_flow")
    capacity_gpm, capacity_lps = View("_capacity"), View("_capacity")
    depth_in, depth_mm = View("_depth"), View("_depth")
    depth_ratio = View("_ratio")

    _mends: ClassVar[dict[str, str]] = {
        "full": "the gravity pipe carries less than the pump brings; take a larger or steeper one",
        "bad_input": "an input of this element is NaN",
    }
