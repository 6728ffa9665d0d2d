"""When the pump fails: minutes until it floods, and how long a battery puts that off.

The share of time a pump runs is that of its settled cycles, so that a line without a check
valve drains the battery as often as `cycle` says it starts. `overflows` takes SI and is what
other rooms call.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, ClassVar

import numpy as np

from drainpump import units as u
from drainpump.cycling.switching import Cycle, cycles_of
from drainpump.errors import InputError, UnitError
from drainpump.parts.pit import Pit
from drainpump.parts.pond import take_pond
from drainpump.parts.scalars import check_kind
from drainpump.results import Result, one_shape
from drainpump.solve.grid import make_grid
from drainpump.solve.operating_point import solve
from drainpump.states import MENDS
from drainpump.units import FloatArray, View

if TYPE_CHECKING:
    from drainpump.parts.line.line import DischargeLine
    from drainpump.parts.pond import PondStorage
    from drainpump.parts.pump.bank import Pump


class Outage(Result):
    """How long the pit holds without power.

    Attributes
    ----------
    inflow_gpm, inflow_lps : float or ndarray
        Inflow asked about.
    overflow_min : float or ndarray
        Minutes from the power's failure, the water being as high as it gets without the
        pump running, to the rim or the overflow level; infinite at no inflow.
    room_gal, room_l : float or ndarray
        Water that fits till then.
    battery_h : float or ndarray or None
        Hours a battery carries the pump at that inflow; infinite at no inflow. None
        without a battery.
    battery_power_w : float or ndarray or None
        Mean power taken from it.
    status : str or ndarray of str
        ``ok``; ``no_flow`` (too weak a pump); ``falls_behind`` (the pump does not keep up
        even on its battery, which it empties running on: the water rises all the same);
        ``unknown``; ``bad_input``; or that of the pump's flow, as in `cycle`: past its
        curve a pump takes at least the last point's power, which is used.
    """

    _inflow: FloatArray
    _minutes: FloatArray
    _room: FloatArray
    _battery: FloatArray | None
    _power: FloatArray | None
    _status: Any

    _mends: ClassVar[dict[str, str]] = MENDS | {
        "falls_behind": "the water rises though the pump runs; choose one that gives more",
        "unknown": "a flow or a power is not known; get points further out, or give power_w",
    }

    inflow_gpm, inflow_lps = View("_inflow"), View("_inflow")
    overflow_min = View("_minutes")
    room_gal, room_l = View("_room"), View("_room")
    battery_h = View("_battery", maybe=True)
    battery_power_w = View("_power", maybe=True)


def outage(
    pit: Pit,
    *,
    inflow_gpm: u.Quantity | None = None,
    inflow_lps: u.Quantity | None = None,
    level_in: u.Quantity | None = None,
    level_mm: u.Quantity | None = None,
    overflow_in: u.Quantity | None = None,
    overflow_mm: u.Quantity | None = None,
    pond_area_ft2: u.Quantity | None = None,
    pond_area_m2: u.Quantity | None = None,
    pond_storage: PondStorage | None = None,
    battery_wh: u.Quantity | None = None,
    power_w: u.Quantity | None = None,
    pump: Pump | None = None,
    line: DischargeLine | None = None,
) -> Outage:
    """Return the minutes to overflow without power, and the hours of a battery.

    Parameters
    ----------
    pit : Pit
    inflow_gpm, inflow_lps : float or array_like
        Steady inflow, >= 0. Exactly one.
    level_in, level_mm : float or array_like, optional
        Level when the power fails; the pump-on level by default, the worst.
    overflow_in, overflow_mm : float or array_like, optional
        Level above the floor at which it overflows; the rim by default. Above the rim it
        needs the pond's size.
    pond_area_ft2, pond_area_m2, pond_storage : optional
        The low spot around the pit, as in `route`.
    battery_wh : float or array_like, optional
        Energy the battery gives to the pump, after the inverter's losses.
    power_w : float or array_like, optional
        Power of the battery pump while it runs; by default that of the pump's curve.
    pump, line : PumpCurve or bank, and DischargeLine
        What runs on the battery; needed with ``battery_wh``.

    Returns
    -------
    Outage

    Raises
    ------
    UnitError, InputError
        Bad units or values, a level above the overflow, power that is not known.

    Notes
    -----
    ``t = V/q`` from the level to the overflow. The battery gives its energy over the
    share of time the pump runs: ``h = Wh / (P t_run/(t_run + t_rest))``, P taken midway
    between the floats. A storm with an outage in it is a matter for `route`, which counts
    too what a line without a check valve gives back when the power fails.

    Examples
    --------
    >>> import drainpump as dp
    >>> pit = dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=16)
    >>> dp.outage(pit, inflow_gpm=[2, 10, 40]).overflow_min.round(2).tolist()
    [7.71, 1.54, 0.39]
    """
    check_kind("pit", pit, Pit)
    inflow = u.take("inflow", guard="inflow", gpm=inflow_gpm, lps=inflow_lps).si
    level = u.maybe("level", guard="level", **u.inches(level_in, level_mm))
    overflow = u.maybe("overflow", guard="level", **u.inches(overflow_in, overflow_mm))
    found = overflows(
        pit,
        inflow,
        pit.si.on if level is None else level.si,
        pit.si.depth if overflow is None else overflow.si,
        take_pond(pond_area_ft2, pond_area_m2, pond_storage),
    )
    if battery_wh is None:
        if power_w is not None or pump is not None or line is not None:
            raise UnitError("battery_wh: no value given; pump, line and power_w belong to it.")
        return found
    energy = u.take("battery", guard="not_negative", wh=battery_wh).si
    if pump is None or line is None:
        raise UnitError("outage: battery_wh needs the pump and the line that run on it.")
    if isinstance(pump, list | tuple) or isinstance(line, list | tuple):
        raise InputError("outage: takes one pump and one line; ask for each of a list.")
    own = u.maybe("power", guard="power", w=power_w)
    power = _power(pump, line, pit) if own is None else own.si
    return _on_battery(found, cycles_of(pump, line, pit, inflow), energy, power)


def overflows(
    pit: Pit, inflow: FloatArray, level: FloatArray, top: FloatArray, pond: Any
) -> Outage:
    """The outage without a battery, from a level (m) to the one at which it overflows."""
    one_shape("outage", inflow, level, top, np.zeros(pit.shape), pond.si.area)
    room = _room(pit, level, top, pond)
    # without inflow it never overflows, unless the room is not known
    with np.errstate(divide="ignore", invalid="ignore"):
        seconds = np.where(inflow > 0, room / inflow, np.where(np.isnan(room), np.nan, np.inf))
    seconds = np.where(np.isnan(inflow), np.nan, seconds)
    status = np.where(np.isnan(seconds), "bad_input", "ok")
    return Outage(inflow, seconds, room, None, None, status)


def _room(pit: Pit, start: FloatArray, top: FloatArray, pond: Any) -> FloatArray:
    """Water from a level to the overflow, m³."""
    over = np.asarray(start > top)
    if over.any():
        raise InputError(
            f"level {u.both(start, 'in')}: must be at most the overflow level {u.both(top, 'in')}; "
            "it is overflowing already."
        )
    inside = pit.si.volume_between(start, np.minimum(top, pit.si.depth))
    return np.asarray(inside + pond.si.room_to(top, pit.si.depth))


def _power(pump: Pump, line: DischargeLine, pit: Pit) -> FloatArray:
    """Power (W) midway between the floats, at the flow to be reckoned with."""
    # the power changes little over the travel, so one flow stands for all
    middle = np.asarray(0.5 * (pit.si.on - pit.si.off))
    op = solve(make_grid(pump, line, middle))
    power = np.asarray(op.at_flow(op.si.reckoned).si.power)
    if np.isnan(power).all():
        raise InputError(
            "power_w: not given, and the pump's curve has no power there; give power_w."
        )
    return power


def _on_battery(found: Outage, cyc: Cycle, energy: FloatArray, power: FloatArray) -> Outage:
    """Add how long the energy (J) lasts a pump that cycles so."""
    run, rest, pattern = (np.asarray(x) for x in (cyc.si.run, cyc.si.rest, cyc.pattern))
    # the battery gives only while the pump runs: always where it falls behind, never where idle
    with np.errstate(invalid="ignore"):
        share = np.where(np.isinf(run), 1.0, run / (run + rest))
    mean = power * np.where(pattern == "idle", 0.0, share)
    with np.errstate(divide="ignore", invalid="ignore"):
        unknown = np.isnan(mean + energy)
        lasts = np.where(mean > 0, energy / mean, np.where(unknown, np.nan, np.inf))
    # the first that holds is said: the pit's own trouble before the battery's
    status = np.select(
        [
            np.asarray(found.status) != "ok",
            np.isnan(energy),
            np.asarray(cyc.status) == "no_flow",
            np.isnan(lasts) | (pattern == "unknown"),
            np.isin(pattern, ["falls_behind", "never_delivers"]),
        ],
        [found.status, "bad_input", "no_flow", "unknown", "falls_behind"],
        np.asarray(cyc.status),
    )
    return replace(found, _battery=lasts, _power=mean, _status=status)
