"""A weep hole below the check valve: what it takes from the flow while the pump runs."""

from __future__ import annotations

from typing import Any, ClassVar

import numpy as np
import numpy.typing as npt
from scipy.optimize import elementwise

from drainpump import units as u
from drainpump.errors import InputError
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.pump.curve import PumpCurve
from drainpump.parts.scalars import factor
from drainpump.physics.constants import GRAVITY
from drainpump.results import Result, one_shape
from drainpump.solve.flat_curve import FlatCurve
from drainpump.solve.grid import Grid, make_grid
from drainpump.solve.operating_point import OperatingPoint, solve
from drainpump.states import BAD, MULTIPLE, NAMES, NO_FLOW
from drainpump.units import FloatArray, View

#: discharge coefficient of a drilled hole: Munson, Young & Okiishi, *Fundamentals of Fluid
#: Mechanics*, ch. 3 (0.61 sharp-edged; rounded, from memory)
_DISCHARGE = 0.6


class WeepLoss(Result):
    """What a weep hole costs.

    Attributes
    ----------
    flow_gpm, flow_lps : float or ndarray
        Flow that leaves by the outlet.
    weep_gpm, weep_lps : float or ndarray
        Flow that falls back through the hole; NaN, not worked out, where none leaves by the
        outlet.
    without_gpm, without_lps : float or ndarray
        Flow by the outlet were there no hole.
    status : str or ndarray of str
        ``ok``, ``beyond_curve`` (the pump gives more than its last point: NaN), ``all_lost``
        (the hole takes all: no flow by the outlet), ``bad_input``, or what the operating
        point without the hole has.
    """

    _grid: Grid
    _flow: FloatArray
    _weep: FloatArray
    _without: FloatArray
    _status: Any

    flow_gpm, flow_lps = View("_flow"), View("_flow")
    weep_gpm, weep_lps = View("_weep"), View("_weep")
    without_gpm, without_lps = View("_without"), View("_without")

    _mends: ClassVar[dict[str, str]] = OperatingPoint._mends | {
        "all_lost": "the hole takes all that the pump gives; drill a smaller one"
    }


def weep_loss(
    pump: PumpCurve,
    line: DischargeLine,
    *,
    hole_in: u.Quantity | None = None,
    hole_mm: u.Quantity | None = None,
    discharge_coefficient: float = _DISCHARGE,
) -> WeepLoss:
    """Return the flow that a weep hole takes at the operating point.

    Parameters
    ----------
    pump : PumpCurve
    line : DischargeLine
    hole_in, hole_mm : float or array_like
        Diameter of the hole near the pump's outlet, > 0. Exactly one.
    discharge_coefficient : float, default 0.6
        Of the hole, 0 < C <= 1.

    Returns
    -------
    WeepLoss
        Arrays of the shape of the quantities.

    Raises
    ------
    UnitError, InputError
        Bad units or values.

    Notes
    -----
    The hole lets the air out when the pump starts, and stands under the whole head H the
    pump makes: ``q = C A sqrt(2 g H)``. Solved with the line: ``H_pump(Q + q) = H_line(Q)``.

    Examples
    --------
    >>> import drainpump as dp
    >>> pump = dp.PumpCurve(name="A", flow_gpm=[0, 30, 50], head_ft=[20, 12.8, 0])
    >>> line = dp.straight_line(pipe=dp.Pipe(bore_in=2.047), length_ft=150, lift_ft=6)
    >>> round(dp.weep_loss(pump, line, hole_in=0.1875).weep_gpm, 1)
    1.3
    """
    if not isinstance(pump, PumpCurve) or not isinstance(line, DischargeLine):
        raise InputError(
            "weep_loss: takes one PumpCurve and one DischargeLine; ask for each of a list."
        )
    hole = u.take("hole", **u.inches(hole_in, hole_mm)).si
    c = factor("discharge_coefficient", discharge_coefficient, 1.0, "0.6 is a sharp-edged hole")
    grid = make_grid(pump, line, np.zeros(one_shape("weep_loss", hole, c)))
    area = grid.spread(c * 0.25 * np.pi * hole**2)
    plain = solve(grid)
    flow, weep, status = _beside_hole(grid, area, plain.si.code.ravel())
    flow, weep, status = (a.reshape(grid.shape) for a in (flow, weep, status))
    return WeepLoss(grid, flow, weep, plain.si.flow, status)


def _beside_hole(
    grid: Grid, area: FloatArray, code: npt.NDArray[np.int8]
) -> tuple[FloatArray, FloatArray, Any]:
    """Flow by the outlet, flow through holes of effective ``area`` (N,), and status."""
    flat, system = grid.flat(grid.pumps[0]), grid.line.curve
    assert isinstance(flat, FlatCurve)
    unknown = np.isnan(area) | (code == BAD) | (code == MULTIPLE)
    flow, weep = np.where(unknown, np.nan, 0.0), np.full(area.shape, np.nan)
    status = np.where(np.isnan(area), "bad_input", NAMES[code]).astype(object)
    # with two flows, or none, the pump's own does not tell what a hole takes
    can = np.flatnonzero(~unknown & (code != NO_FLOW))
    if not can.size:
        return flow, weep, status.astype(np.str_)
    first, last = flat.curve.flow[0] * flat.flow_factor, flat.last()

    def total(q: FloatArray, i: Any) -> FloatArray:
        # the number of each element travels with it, since finished ones are dropped
        head = np.maximum(system.take(i).head(q), 0.0)
        return np.asarray(q + area[i] * np.sqrt(2 * GRAVITY * head))

    def reaching(wanted: FloatArray) -> FloatArray:
        """Flow by the outlet at which the pump gives so much in all; 0 where it is more at once."""
        found = elementwise.find_root(
            lambda q, i: total(q, i) - wanted[i], (np.zeros(can.size), wanted[can]), args=(can,)
        )
        return np.where(total(np.zeros(can.size), can) >= wanted[can], 0.0, found.x)

    def gap(q: FloatArray, i: Any) -> FloatArray:
        part = flat.take(i)
        # held to the data, which the ends of the bracket leave by rounding alone
        given = np.clip(total(q, i) / part.flow_factor, part.curve.flow[0], part.curve.flow[-1])
        return np.asarray(part.head_factor * part.curve.read(given) - system.take(i).head(q))

    low, high = reaching(first), reaching(last)
    # the hole takes so much that the pump no longer makes the line's head
    lost = (high <= 0) | ((low <= 0) & (gap(low, can) <= 0))
    beyond = [lost, gap(low, can) < 0, gap(high, can) > 0]
    status[can] = np.select(beyond, ["all_lost", "below_curve", "beyond_curve"], "ok")
    found = elementwise.find_root(gap, (low, high), args=(can,))
    flow[can] = np.select(beyond, [0.0, np.nan, np.nan], found.x)
    weep[can] = np.where(status[can] == "ok", total(flow[can], can) - flow[can], np.nan)
    return flow, weep, status.astype(np.str_)
