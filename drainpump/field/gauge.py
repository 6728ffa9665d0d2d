"""A pressure gauge at the pump: the head it stands for, and where the curve makes it."""

from __future__ import annotations

import warnings
from typing import Any

import numpy as np

from drainpump import units as u
from drainpump.errors import InputError, UnusualValueWarning
from drainpump.field.reading import FieldTest, Kind, read_error, read_level
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.line.outlet import FreeOutlet, Junction
from drainpump.parts.line.pipe import Pipe
from drainpump.parts.line.run import Run
from drainpump.parts.pump.curve import PumpCurve
from drainpump.parts.scalars import check_kind, yes_or_no
from drainpump.physics import water
from drainpump.physics.constants import GRAVITY
from drainpump.results import one_shape
from drainpump.solve.operating_point import operating_point
from drainpump.units import FloatArray, Measure

#: one-sigma where none is given: our own judgement (common practice, no source)
_PRESSURE, _HEIGHT = ("psi", 0.3), ("in", 0.5)


def gauge_test(
    pump: PumpCurve,
    *,
    pressure_psi: u.Quantity | None = None,
    pressure_kpa: u.Quantity | None = None,
    gauge_above_water_ft: u.Quantity | None = None,
    gauge_above_water_m: u.Quantity | None = None,
    bore_in: u.Quantity | None = None,
    bore_mm: u.Quantity | None = None,
    water_f: u.Quantity | None = None,
    water_c: u.Quantity | None = None,
    level_above_off_ft: u.Quantity | None = None,
    level_above_off_m: u.Quantity | None = None,
    valve_shut: bool = False,
    pressure_error_psi: u.Quantity | None = None,
    pressure_error_kpa: u.Quantity | None = None,
    height_error_in: u.Quantity | None = None,
    height_error_mm: u.Quantity | None = None,
) -> FieldTest:
    """Return the pump's head from a pressure gauge at its outlet, and the flow by its curve.

    Parameters
    ----------
    pump : PumpCurve
        The curve read for the flow; the head does not need it.
    pressure_psi, pressure_kpa : float or array_like
        Gauge reading with the pump running, >= 0. Exactly one.
    gauge_above_water_ft, gauge_above_water_m : float or array_like
        Height of the gauge above the water in the pit, negative below it.
    bore_in, bore_mm : float, optional
        Bore where the gauge is tapped, for the velocity head; left out, none is added.
    water_f, water_c : float, default 60 °F
        Water temperature, for its density.
    level_above_off_ft, level_above_off_m : float or array_like, default 0
        Water level in the pit above its off level.
    valve_shut : bool, default False
        Whether the valve past the gauge was shut: the head is then that at no flow. Keep
        it to a few seconds; the pump heats the water it cannot move.
    pressure_error_psi, pressure_error_kpa : float, default 0.3 psi
        One-sigma of the pressure.
    height_error_in, height_error_mm : float, default 0.5 in
        One-sigma of the gauge's height. Both defaults: common practice, no source.

    Returns
    -------
    FieldTest
        With ``head_ft`` and ``head_sigma_ft``. The flow is that of the curve as it stands;
        a worn pump gives less than it says. ``off_curve`` where the curve has no such flow.

    Raises
    ------
    UnitError, InputError
        Bad units or values; a head of 0 or less; a head above the highest of the curve by
        more than three sigma.

    Notes
    -----
    ``H = p / (rho g) + z + V² / 2g``.

    References
    ----------
    Hydraulic Institute, *Engineering Data Library*, total head from gauge readings (from
    memory).

    Examples
    --------
    >>> import drainpump as dp
    >>> pump = dp.PumpCurve(flow_gpm=[0, 30, 50], head_ft=[20, 12.8, 0])
    >>> test = dp.field.gauge_test(pump, pressure_psi=6, gauge_above_water_ft=2)
    >>> round(test.head_ft, 1), round(test.head_sigma_ft, 1)
    (15.9, 0.7)
    """
    yes_or_no("valve_shut", valve_shut, "say whether the valve past the gauge was shut")
    said = u.Typed(locals())
    pressure = said.take("pressure", "not_negative")
    height, bore = said.take("gauge_above_water", "lift"), said.maybe("bore")
    warm, level = said.take("water", default=("f", 60.0)), read_level(said)
    blur = read_error(said, "pressure_error", _PRESSURE)
    tilt = read_error(said, "height_error", _HEIGHT)
    check_kind("pump", pump, PumpCurve)
    one_shape("gauge_test", pressure.si, height.si, level)
    weight = np.asarray(water.density(warm.si) * GRAVITY)
    still = pressure.si / weight + height.si
    tapped = None if valve_shut else bore
    flow = _flow_at(pump, still, tapped)
    head = still if tapped is None else still + _velocity_head(np.nan_to_num(flow), tapped)
    none = np.zeros_like(head)
    parts = {"pressure": (blur / weight) ** 2 + none, "height": tilt**2 + none}
    sigma = np.sqrt(parts["pressure"] + parts["height"])
    _refuse(pump, head, sigma, pressure)
    if valve_shut:
        kind: Kind = "gauge, valve shut"
        flow = flow_sigma = none
    else:
        kind, slope = "gauge", _slope(pump, flow, bore)
        with np.errstate(divide="ignore", invalid="ignore"):
            flow_sigma = np.where(slope < 0, sigma / -slope, np.nan)
    return FieldTest(
        kind, "pit", flow, flow_sigma, level + none, parts, _head=head, _head_sigma=sigma
    )


def _refuse(pump: PumpCurve, head: FloatArray, sigma: FloatArray, pressure: Measure) -> None:
    """Refuse a head that no pump of this curve can make, or none at all."""
    most = np.max(pump.si.head) * np.max(pump.si.head_factor)
    if np.any(head <= 0):
        raise InputError(
            f"pressure {pressure}: the pump would make no head at all; check the gauge's "
            "height, which is positive above the water."
        )
    if np.any(head > most + 3 * sigma):
        raise InputError(
            f"pressure {pressure}: stands for {u.both(head, 'ft')}, above the "
            f"{u.both(most, 'ft')} that {pump.name!r} makes at most; check the gauge, its "
            "height and the curve."
        )


def _flow_at(pump: PumpCurve, still: FloatArray, bore: Measure | None) -> FloatArray:
    """Find the flow at which the curve makes ``still`` and V²/2g; NaN where there is none.

    That sum is a system curve like any other: a line of no length with an exit in the
    gauge's bore, so the plain solver finds the crossing.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UnusualValueWarning)
        pipe = Pipe(bore_mm=1000.0 if bore is None else bore.get("mm"))
        run = Run(pipe=pipe, length_m=0, rise_m=u.out(still))
        outlet: Any = Junction() if bore is None else FreeOutlet()
        op = operating_point(pump, DischargeLine(runs=[run], outlet=outlet, siphon=True))
    return np.where(op.ok, op.si.flow, np.nan)


def _velocity_head(flow: FloatArray, bore: Measure) -> FloatArray:
    return np.asarray((flow / (0.25 * np.pi * bore.si**2)) ** 2 / (2 * GRAVITY))


def _slope(pump: PumpCurve, flow: FloatArray, bore: Measure | None) -> FloatArray:
    """Change of the static part of the head with flow at the crossing, m per m³/s."""
    factor = pump.si.flow_factor
    step = 1e-4 * pump.si.flow[-1] * factor
    ends = (flow - step, flow + step)
    low, high = (np.clip(q, pump.si.flow[0] * factor, pump.si.flow[-1] * factor) for q in ends)
    rise = pump.si.head_at(high) - pump.si.head_at(low)
    if bore is not None:
        rise = rise - _velocity_head(high, bore) + _velocity_head(low, bore)
    return np.asarray(rise / (high - low))
