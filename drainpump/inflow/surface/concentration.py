"""Time of concentration: how long water from the far end takes to arrive."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal, TypeAlias

import numpy as np

from drainpump import units as u
from drainpump.errors import InputError, wrong
from drainpump.parts.scalars import factor
from drainpump.physics import runoff
from drainpump.results import Result, one_shape
from drainpump.units import FloatArray, View

__all__ = ["Concentration", "time_of_concentration"]


@dataclass(frozen=True, eq=False, repr=False)
class Concentration(Result):
    """How long water takes along one way; ways one behind another add.

    Attributes
    ----------
    tc_min : float or ndarray
        Time of concentration.
    formula : str
        The formula used, its constant and its source.
    """

    _tc: FloatArray
    formula: str

    tc_min = View("_tc")

    @property
    def _status(self) -> Any:
        return np.where(np.isnan(self._tc), "bad_input", "ok")


@dataclass(frozen=True)
class _Method:
    work: Callable[..., FloatArray]
    needs: tuple[str, ...]
    formula: str


Method: TypeAlias = Literal["sheet", "shallow", "nrcs_lag", "kinematic", "kirpich", "faa"]

_METHODS: dict[Method, _Method] = {
    "sheet": _Method(
        runoff.sheet,
        ("length", "n", "rain", "slope"),
        "T(h) = 0.007 (n L)^0.8 / (P2^0.5 s^0.4), at most 300 ft; TR-55, 2nd ed., 1986",
    ),
    "shallow": _Method(
        runoff.shallow,
        ("length", "slope", "paved"),
        "V = 16.1345 s^0.5 ft/s, paved 20.3282 s^0.5; TR-55, 2nd ed., 1986, app. F",
    ),
    "nrcs_lag": _Method(
        runoff.nrcs_lag,
        ("length", "curve_number", "slope"),
        "Tc = lag / 0.6, lag(h) = l^0.8 (S + 1)^0.7 / (1900 Y^0.5); NRCS NEH 630 ch. 15, 2010",
    ),
    "kinematic": _Method(
        runoff.kinematic,
        ("length", "n", "intensity", "slope"),
        "t(min) = 6.9 / i^0.4 (n L / S^0.5)^0.6, mm/h and m; FHWA HDS-2, 2nd ed., 2002, ch. 2",
    ),
    "kirpich": _Method(
        runoff.kirpich,
        ("length", "slope"),
        "t(min) = 0.0078 L^0.77 S^-0.385, ft (other print 0.007: NRCS NEH 630 ch. 15)",
    ),
    "faa": _Method(
        runoff.faa,
        ("length", "runoff", "slope"),
        "t(min) = 1.8 (1.1 - C) L^0.5 / S^(1/3), ft and percent; FAA AC 150/5320-5, second-hand",
    ),
}


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
        Rate of rain (``kinematic``), > 0.
    runoff : float or array_like
        Runoff coefficient (``faa``), 0 to 1.
    curve_number : float or array_like
        Curve number (``nrcs_lag``), 0 < CN <= 100.
    paved : bool or array_like
        Whether the way is paved (``shallow``).

    Returns
    -------
    Concentration

    Raises
    ------
    UnitError, InputError
        A method unknown, an input it needs missing, or one it does not use given.

    Examples
    --------
    >>> import drainpump as dp
    >>> dp.inflow.time_of_concentration("kirpich", length_ft=1000, slope=0.01).tc_min.__round__(2)
    9.38
    """
    if method not in _METHODS:
        raise wrong("method", method, f"must be one of {', '.join(_METHODS)}", "pick one")
    chosen = _METHODS[method]
    rain = u.maybe("rain", guard="rain", **u.inches(rain_in, rain_mm))
    rate = u.maybe(
        "intensity", guard="rain_rate", in_per_h=intensity_in_per_h, mm_per_h=intensity_mm_per_h
    )
    given: dict[str, Any] = {
        "length": u.take("length", guard="length", ft=length_ft, m=length_m).si,
        "slope": factor("slope", slope, 1.0, "give fall over length, 0.01 for 1 %"),
        "n": None if n is None else _roughness(n),
        "rain": None if rain is None else rain.si,
        "intensity": None if rate is None else rate.si,
        "runoff": _plain("runoff", runoff, 1.0, "give the share of the rain that runs off"),
        "curve_number": _plain("curve_number", curve_number, 100.0, "usually 40 to 98"),
        "paved": None if paved is None else np.asarray(paved, dtype=bool),
    }
    for name, value in given.items():
        if (value is None) == (name in chosen.needs):
            how = "is needed" if value is None else "is not used"
            raise InputError(f"{name}: {how} by {method!r}; it takes {', '.join(chosen.needs)}.")
    args = [given[name] for name in chosen.needs]
    one_shape("time_of_concentration", *args)
    with np.errstate(divide="ignore"):
        return Concentration(chosen.work(*args), chosen.formula)


def _roughness(n: Any) -> FloatArray:
    value = runoff.sheet_n(n) if isinstance(n, str) else n
    return factor("n", value, 2.0, "give Manning's n of sheet flow, 0.15 for short grass")


def _plain(name: str, value: Any, high: float, mend: str) -> FloatArray | None:
    return None if value is None else factor(name, value, high, mend)
