"""Field tests: what a bucket, a ruler and a stopwatch say, with their error.

Each test answers a flow and its one-sigma, from reading errors that are independent of
each other and small:

    sigma_Q² = sum over readings x of (dQ/dx · sigma_x)².
"""

from __future__ import annotations

from typing import Any

import numpy as np

from drainpump import units as u
from drainpump.errors import InputError, UnitError
from drainpump.field.reading import (
    FieldTest,
    make_test,
    more_than_0,
    read_error,
    read_level,
    read_time,
)
from drainpump.parts.pit import Pit
from drainpump.parts.scalars import check_kind
from drainpump.results import one_shape
from drainpump.units import FloatArray, Measure

# One-sigma reading errors where none are given: our own judgement of a ruler in moving
# water, a stopwatch worked by eye and a mark on a bucket (common practice, no source).
_LEVEL, _DIAMETER = ("in", 0.25), ("in", 0.25)
_INTERVAL = ("s", 0.5)
_BUCKET = ("gal", 0.1)
#: share of a stated inflow, and of a working volume that no pit stands behind
_INFLOW_SHARE = 0.10
_VOLUME_SHARE = 0.05


def drawdown_test(
    pit: Pit,
    *,
    from_in: u.Quantity | None = None,
    from_mm: u.Quantity | None = None,
    to_in: u.Quantity | None = None,
    to_mm: u.Quantity | None = None,
    run_s: u.Quantity | None = None,
    inflow_gpm: u.Quantity | None = None,
    inflow_lps: u.Quantity | None = None,
    returned_gal: u.Quantity | None = None,
    returned_l: u.Quantity | None = None,
    level_error_in: u.Quantity | None = None,
    level_error_mm: u.Quantity | None = None,
    diameter_error_in: u.Quantity | None = None,
    diameter_error_mm: u.Quantity | None = None,
    interval_error_s: u.Quantity | None = None,
    inflow_error_gpm: u.Quantity | None = None,
    inflow_error_lps: u.Quantity | None = None,
) -> FieldTest:
    """Return the pump's flow from the fall of the pit between two readings.

    Parameters
    ----------
    pit : Pit
        Its plan area, less the pump body where it stands in the water.
    from_in, from_mm, to_in, to_mm : float or array_like
        Level above the floor at the start and the end, 0 <= level <= depth.
    run_s : float or array_like
        Time between the readings with the pump running, > 0.
    inflow_gpm, inflow_lps : float or array_like, default 0
        Water that came in meanwhile: from the rise with the pump off.
    returned_gal, returned_l : float or array_like, default 0
        Water that ran back from the line before the second reading, where the pump was
        stopped first and no check valve holds the line.
    level_error_in, level_error_mm : float, default 0.25 in
        One-sigma of each of the two levels, >= 0.
    diameter_error_in, diameter_error_mm : float, default 0.25 in
        One-sigma of the pit's diameter, or of each side.
    interval_error_s : float, default 0.5
        One-sigma of the time.
    inflow_error_gpm, inflow_error_lps : float, default 10 % of the inflow
        One-sigma of the inflow. All defaults: common practice, no source.

    Returns
    -------
    FieldTest
        Flow out of the pit: what a leak back into the pit returns is not seen, and what
        leaks out of it on the way is counted.

    Raises
    ------
    UnitError, InputError
        Units or values that cannot be, a level above the rim, a pump that moved nothing.

    Notes
    -----
    ``Q = (V(from) - V(to) + returned) / run + inflow``.

    References
    ----------
    Pump-down time over a known volume, inflow added: US EPA, *Design Manual: Onsite
    Wastewater Treatment and Disposal Systems*, EPA 625/1-80-012 (1980) (from memory).

    Examples
    --------
    >>> import drainpump as dp
    >>> pit = dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=13)
    >>> test = dp.field.drawdown_test(pit, from_in=13, to_in=6, run_s=14)
    >>> round(test.flow_gpm, 2), round(100 * test.sigma_gpm / test.flow_gpm, 1)
    (33.05, 6.8)
    """
    check_kind("pit", pit, Pit)
    said = u.Typed(locals())
    start, end, run = said.take("from", "level"), said.take("to", "level"), read_time(said, "run")
    inflow = said.take("inflow", default=("gpm", 0.0))
    back = said.take("returned", "volume", default=("gal", 0.0))
    level_error = read_error(said, "level_error", _LEVEL)
    width_error = read_error(said, "diameter_error", _DIAMETER)
    late = read_error(said, "interval_error", _INTERVAL)
    given = said.maybe("inflow_error", "not_negative")
    one_shape("drawdown_test", start.si, end.si, run, inflow.si, back.si, np.zeros(pit.shape))
    _inside(pit, {"from": start, "to": end})
    lost = pit.si.volume_between(end.si, start.si) + back.si
    flow = lost / run + inflow.si
    _moved("drawdown_test", flow, start, end, run)
    wide = (pit.si.wet_area(start.si) ** 2 + pit.si.wet_area(end.si) ** 2) * level_error**2
    parts = {
        "levels": wide / run**2,
        "interval": (lost / run**2 * late) ** 2,
        "diameter": (_area_error(pit, width_error) * (start.si - end.si) / run) ** 2,
        "inflow": np.asarray(_INFLOW_SHARE * inflow.si if given is None else given.si) ** 2,
    }
    level = 0.5 * (start.si + end.si) - pit.si.off
    return make_test("drawdown", "pit", flow, level, parts, inflow=inflow.si)


def bucket_test(
    *,
    volume_gal: u.Quantity | None = None,
    volume_l: u.Quantity | None = None,
    fill_s: u.Quantity | None = None,
    level_above_off_ft: u.Quantity | None = None,
    level_above_off_m: u.Quantity | None = None,
    volume_error_gal: u.Quantity | None = None,
    volume_error_l: u.Quantity | None = None,
    interval_error_s: u.Quantity | None = None,
) -> FieldTest:
    """Return the flow at the outlet from the time a bucket takes to fill.

    Parameters
    ----------
    volume_gal, volume_l : float or array_like
        Volume caught, > 0. Exactly one.
    fill_s : float or array_like
        Time to fill it, > 0.
    level_above_off_ft, level_above_off_m : float or array_like, default 0
        Mean water level in the pit meanwhile, above its off level.
    volume_error_gal, volume_error_l : float, default 0.1 gal
        One-sigma of the volume.
    interval_error_s : float, default 0.5
        One-sigma of the time. Both defaults: common practice, no source.

    Returns
    -------
    FieldTest

    Raises
    ------
    UnitError, InputError
        Bad units or values.

    Notes
    -----
    ``Q = V / t``. Repeats share the bucket: its own error does not average out.

    Examples
    --------
    >>> import drainpump as dp
    >>> test = dp.field.bucket_test(volume_gal=5, fill_s=16.7)
    >>> round(test.flow_gpm, 1), round(test.sigma_gpm, 2)
    (18.0, 0.65)
    """
    said = u.Typed(locals())
    volume = more_than_0("volume", said.take("volume"))
    fill, level = read_time(said, "fill"), read_level(said)
    spilt = read_error(said, "volume_error", _BUCKET)
    late = read_error(said, "interval_error", _INTERVAL)
    one_shape("bucket_test", volume, fill, level)
    flow = volume / fill
    parts = {"volume": (spilt / fill) ** 2, "interval": (flow / fill * late) ** 2}
    return make_test("bucket", "outlet", flow, level, parts)


def cycle_log(
    pit: Pit | None = None,
    *,
    working_volume_gal: u.Quantity | None = None,
    working_volume_l: u.Quantity | None = None,
    rest_s: u.Quantity | None = None,
    run_s: u.Quantity | None = None,
    returned_gal: u.Quantity | None = None,
    returned_l: u.Quantity | None = None,
    volume_error_gal: u.Quantity | None = None,
    volume_error_l: u.Quantity | None = None,
    interval_error_s: u.Quantity | None = None,
) -> FieldTest:
    """Return inflow and pump flow from the times the pump rests and runs, without a meter.

    Parameters
    ----------
    pit : Pit, optional
        Its working volume; or give that volume itself.
    working_volume_gal, working_volume_l : float or array_like
        Water between the pump-on and the pump-off level, > 0.
    rest_s, run_s : float or array_like
        Time off and time on in a cycle, > 0; for a long log their means.
    returned_gal, returned_l : float or array_like, default 0
        Water that runs back from the line at each stop, less than the working volume.
    volume_error_gal, volume_error_l : float, default 5 % of the volume
        One-sigma of the working volume; with a pit, from 0.25 in on each float level and
        on the diameter.
    interval_error_s : float, default 0.5
        One-sigma of each time. All defaults: common practice, no source.

    Returns
    -------
    FieldTest
        ``inflow_gpm`` is what came in, ``flow_gpm`` what the pump moved while it ran.

    Raises
    ------
    UnitError, InputError
        Bad units or values.

    Notes
    -----
    ``q = (V - returned) / rest`` and ``Q = V / run + q``: the inflow is taken to hold
    through the cycle.

    Examples
    --------
    >>> import drainpump as dp
    >>> log = dp.field.cycle_log(working_volume_gal=7.7, rest_s=46.2, run_s=19.17)
    >>> round(log.inflow_gpm, 1), round(log.flow_gpm, 1)
    (10.0, 34.1)
    """
    said = u.Typed(locals())
    volume, spread, level = _working(pit, said.maybe("working_volume", "volume"))
    own = said.maybe("volume_error", "not_negative")
    spread = spread if own is None else own.si
    rest, run = read_time(said, "rest"), read_time(said, "run")
    back = said.take("returned", "volume", default=("gal", 0.0))
    late = read_error(said, "interval_error", _INTERVAL)
    one_shape("cycle_log", volume, rest, run, back.si)
    if np.any(back.si >= volume):
        raise InputError(
            f"returned {back}: must be less than the working volume "
            f"({u.both(volume, back.unit)}); the pump would start again at once."
        )
    inflow = (volume - back.si) / rest
    flow = volume / run + inflow
    parts = {
        "volume": ((1 / run + 1 / rest) * spread) ** 2,
        "run": (volume / run**2 * late) ** 2,
        "rest": (inflow / rest * late) ** 2,
    }
    return make_test("cycle log", "pit", flow, level, parts, inflow=inflow)


def _inside(pit: Pit, levels: dict[str, Measure]) -> None:
    for name, level in levels.items():
        if np.any(level.si > pit.si.depth * (1 + 1e-9)):
            rim = u.both(pit.si.depth, level.unit)
            raise InputError(
                f"{name} level {level}: must not be above the pit's rim ({rim}); measure the level "
                "from the floor."
            )


def _moved(where: str, flow: FloatArray, start: Measure, end: Measure, run: FloatArray) -> None:
    if np.any(flow <= 0):
        raise InputError(
            f"{where}: from {start} to {end} in {u.text(run, 's')} and the inflow given make a "
            "pump flow of 0 or less; check which level came first, and the inflow."
        )


def _area_error(pit: Pit, width_error: FloatArray) -> FloatArray:
    """One-sigma of the plan area from that of the diameter, or of each side."""
    if pit.si.diameter is not None:
        return np.asarray(0.5 * np.pi * pit.si.diameter * width_error)
    return np.asarray(np.hypot(pit.si.side_length, pit.si.side_width) * width_error)


def _working(pit: Pit | None, given: Measure | None) -> tuple[FloatArray, Any, Any]:
    """Working volume, its one-sigma and the mean level above off."""
    if (pit is None) == (given is None):
        raise UnitError("cycle_log: give a pit, or its working_volume_gal (or _l), and not both.")
    if given is not None:
        volume = more_than_0("working_volume", given)
        return volume, _VOLUME_SHARE * volume, np.zeros(())
    check_kind("pit", pit, Pit)
    assert pit is not None
    level, width = (u.to_si(size, unit) for unit, size in (_LEVEL, _DIAMETER))
    wide = np.hypot(pit.si.wet_area(pit.si.on), pit.si.wet_area(pit.si.off)) * level
    half = 0.5 * (pit.si.on - pit.si.off)
    spread = np.hypot(wide, _area_error(pit, width) * 2 * half)
    return pit.si.working_volume, spread, half
