"""Time of concentration: how long water from the far end takes to arrive."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from inspect import signature
from typing import Any, ClassVar, Literal, TypeAlias

import numpy as np
from scipy.optimize import elementwise

from drainpump import units as u
from drainpump.errors import InputError, UnitError, UnusualValueWarning, warn, wrong
from drainpump.foreign import is_among
from drainpump.inflow.rain.table import RainFit, RainTable
from drainpump.parts.scalars import factor, one_measure
from drainpump.physics import runoff
from drainpump.physics.tables import row_of
from drainpump.results import Result, one_shape
from drainpump.units import FloatArray, View

#: longest sheet flow, ft: NRCS NEH 630 ch. 15, 2010 (TR-55 of 1986 allowed 300)
_SHEET, _EVER_SHEET = 100.0, 300.0
_FOOT = u.UNITS["ft"].factor
#: shortest duration (s) at which a formula of rain is asked
_SHORTEST = 1.0


class Concentration(Result):
    """How long water takes along one way; ways one behind another add.

    Attributes
    ----------
    tc_min : float or ndarray
        Time of concentration.
    formula : str
        The formula used, its constant and its source.
    status : str or ndarray of str
        ``ok``, ``bad_input``, ``too_long`` (for sheet flow), ``below_table`` or
        ``beyond_table``: shorter or longer than the rain's durations.
    """

    _mends: ClassVar[dict[str, str]] = {
        "too_long": "sheet flow soon gathers; give the rest of the way as 'shallow', or raise "
        "sheet_max_ft",
        "below_table": "shorter than the rain's shortest duration; take that as the least",
        "beyond_table": "longer than the rain's longest duration; give a table that goes further",
    }

    _tc: FloatArray
    formula: str
    _status: Any

    tc_min = View("_tc")


Method: TypeAlias = Literal["sheet", "shallow", "nrcs_lag", "kinematic", "kirpich", "faa"]
_WORK: tuple[Callable[..., FloatArray], ...] = (
    runoff.sheet, runoff.shallow, runoff.nrcs_lag, runoff.kinematic, runoff.kirpich, runoff.faa,
)  # fmt: skip
_METHODS = {work.__name__: work for work in _WORK}


def _needs(work: Callable[..., FloatArray]) -> tuple[str, ...]:
    """What a formula asks for: its function's own arguments, but for those with a default."""
    asked = signature(work).parameters.values()
    return tuple(a.name for a in asked if a.default is a.empty)


def time_of_concentration(
    method: Method,
    *,
    length_ft: u.Quantity | None = None,
    length_m: u.Quantity | None = None,
    slope: Any,
    n: Any = None,
    rain_in: u.Quantity | None = None,
    rain_mm: u.Quantity | None = None,
    intensity_in_per_h: u.Quantity | None = None,
    intensity_mm_per_h: u.Quantity | None = None,
    runoff: Any = None,
    curve_number: Any = None,
    paved: Any = None,
    table: RainTable | RainFit | None = None,
    sheet_max_ft: u.Quantity | None = None,
    sheet_max_m: u.Quantity | None = None,
) -> Concentration:
    """Return the time of concentration by a published formula.

    Parameters
    ----------
    method : {"sheet", "shallow", "nrcs_lag", "kinematic", "kirpich", "faa"}
        Which formula; the answer names its constant and source. They differ by a factor
        of two on one yard: take the one whose setting is nearest.
    length_ft, length_m : float or array_like
        Length of the way, > 0. Exactly one.
    slope : float or array_like
        Fall over length, 0 < slope <= 1: 0.01 for 1 %.
    n : float, array_like or str
        Manning's n of sheet flow (``sheet``, ``kinematic``), > 0, or a surface of the
        sourced table (``"short grass"``).
    rain_in, rain_mm : float or array_like
        2-year 24-hour rain (``sheet``), > 0.
    intensity_in_per_h, intensity_mm_per_h : float or array_like
        Rate of rain (``kinematic``), > 0; or the table it comes from.
    runoff : float or array_like
        Runoff coefficient (``faa``), 0 to 1.
    curve_number : float or array_like
        Curve number (``nrcs_lag``), 0 < CN <= 100.
    paved : bool or array_like
        Whether the way is paved (``shallow``).
    table : RainTable or RainFit, optional
        In place of the intensity (``kinematic``): that of the very duration sought is
        taken. Return periods are the answer's leading axis.
    sheet_max_ft, sheet_max_m : float, default 100 ft
        Longest way that counts as sheet flow (``sheet``), > 0. The default is that of NRCS
        NEH 630 ch. 15, 2010; TR-55 of 1986 allowed 300 ft.

    Returns
    -------
    Concentration

    Raises
    ------
    UnitError, InputError
        A method unknown, an input it needs missing, or one it does not use given.

    Warns
    -----
    UnusualValueWarning
        Sheet flow, by either formula, over more than 300 ft.

    Examples
    --------
    >>> import drainpump as dp
    >>> dp.inflow.time_of_concentration("kirpich", length_ft=1000, slope=0.01).tc_min.__round__(2)
    9.38
    >>> rain = dp.inflow.RainFit(a_in_per_h=56.6, b_min=8.6, n=0.823)
    >>> way = dp.inflow.time_of_concentration(
    ...     "kinematic", length_ft=80, slope=0.02, n="short grass", table=rain)
    >>> round(way.tc_min, 2), round(rain.at(duration_min=way.tc_min).intensity_in_per_h, 2)
    (6.48, 6.07)
    """
    if not is_among(method, _METHODS):
        raise wrong("method", method, f"must be one of {', '.join(_METHODS)}", "pick one")
    work, said = _METHODS[method], u.Typed(locals())
    fallen, rate = said.maybe("rain"), said.maybe("intensity", "rain_rate")
    given: dict[str, Any] = {
        "length": said.take("length").si,
        "slope": factor("slope", slope, 1.0, "give fall over length, 0.01 for 1 %"),
        "n": None if n is None else _roughness(n),
        "rain": None if fallen is None else fallen.si,
        "intensity": None if rate is None else rate.si,
        "runoff": _plain("runoff", runoff, 1.0, "give the share of the rain that runs off"),
        "curve_number": _plain("curve_number", curve_number, 100.0, "usually 40 to 98"),
        "paved": None if paved is None else np.asarray(paved, dtype=bool),
    }
    most = said.maybe("sheet_max", "length")
    needs, formula = _needs(work), row_of("concentration.csv", "method", method, "")["formula"]
    _check_inputs(method, needs, given, most, table)
    if table is not None:
        given["intensity"] = np.ones(())
    args = [given[name] for name in needs]
    one_shape("time_of_concentration", *args)
    if method in ("sheet", "kinematic") and np.any(given["length"] > _EVER_SHEET * _FOOT):
        warn(
            f"length: sheet flow over {u.both(np.max(given['length']), 'ft')}; it gathers within "
            "300 ft at most (TR-55), take the rest as 'shallow'.",
            UnusualValueWarning,
        )
    if table is not None:
        return _by_own_rain(table, np.broadcast_arrays(*args), formula)
    with np.errstate(divide="ignore"):
        tc = work(*args)
    status = np.where(np.isnan(tc), "bad_input", "ok")
    if method == "sheet":
        limit = _SHEET * _FOOT if most is None else one_measure("sheet_max", most).si
        long = np.broadcast_to(given["length"] > limit * (1 + 1e-9), tc.shape)
        tc, status = np.where(long, np.nan, tc), np.where(long, "too_long", status)
    return Concentration(tc, formula, status)


def _check_inputs(
    method: Method, needs: tuple[str, ...], given: dict[str, Any], most: Any, table: Any
) -> None:
    """Refuse what a formula needs and does not have, or has and does not use."""
    for name, value in given.items():
        if name == "intensity" and table is not None and method == "kinematic":
            if value is not None:
                raise UnitError("intensity and table: both given; give the one or the other.")
            continue
        if (value is None) == (name in needs):
            how = "is needed" if value is None else "is not used"
            raise InputError(f"{name}: {how} by {method!r}; it takes {', '.join(needs)}.")
    if (most is not None and method != "sheet") or (table is not None and method != "kinematic"):
        name = "table" if most is None else "sheet_max"
        raise InputError(f"{name}: is not used by {method!r}; leave it out.")


def _by_own_rain(table: Any, args: Sequence[FloatArray], formula: str) -> Concentration:
    """The kinematic wave under the rain of just its own duration.

    With the intensity i(t) = D(t)/t the time sought makes t i(t)^0.4 what the plane asks,
    which rises with t as long as D does, so there is one at most.
    """
    if not isinstance(table, RainTable | RainFit):
        allowed = "must be a RainTable or a RainFit"
        raise wrong("table", table, allowed, "or give intensity_in_per_h")
    last = float(table.si.last)
    first = float(table.si.duration[0]) if isinstance(table, RainTable) else _SHORTEST
    rows = np.shape(table.si.depth_at(np.asarray(last)))
    shape = (*rows, *args[0].shape)
    length, n, _, slope = (np.broadcast_to(x, shape).ravel() for x in args)
    # return periods lead, so each has as many elements as there are ways
    row = np.arange(length.size) // max(args[0].size, 1)

    def over(time: FloatArray, i: Any) -> FloatArray:
        """How much longer ``time`` is than what its own rain gives."""
        depth = table.si.depth_at(time).reshape(-1, time.size)[row[i], np.arange(time.size)]
        return np.asarray(time - runoff.kinematic(length[i], n[i], depth / time, slope[i]))

    where = np.arange(length.size)
    known = ~np.isnan(length + n + slope)
    early, late = (over(np.full(length.size, t), where) for t in (first, last))
    status = np.where(known, np.where(early > 0, "below_table", "ok"), "bad_input")
    status = np.where(known & (late < 0), "beyond_table", status)
    tc, can = np.full(length.size, np.nan), np.flatnonzero(status == "ok")
    if can.size:
        ends = np.full(can.size, first), np.full(can.size, last)
        tc[can] = elementwise.find_root(over, ends, args=(can,)).x
    return Concentration(tc.reshape(shape), formula, status.reshape(shape))


def _roughness(n: Any) -> FloatArray:
    value = runoff.sheet_n(n) if isinstance(n, str) else n
    return factor("n", value, 2.0, "give Manning's n of sheet flow, 0.15 for short grass")


def _plain(name: str, value: Any, high: float, mend: str) -> FloatArray | None:
    return None if value is None else factor(name, value, high, mend)
