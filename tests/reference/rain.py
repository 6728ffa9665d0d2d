"""Published values of rain, runoff and time of concentration."""

from __future__ import annotations

import warnings
from collections.abc import Callable

import numpy as np

import drainpump as dp
from drainpump.errors import UnusualValueWarning
from drainpump.physics import rain, runoff
from tests.reference.check import Check

_FOOT, _INCH = 0.3048, 0.0254
_ACRE, _CFS = 43560 * _FOOT**2, _FOOT**3
_RATE = _INCH / 3600

_HDS2 = "FHWA, Highway Hydrology, HDS-2, 2nd ed., 2002"
_TR55 = "USDA SCS, Urban Hydrology for Small Watersheds, TR-55, 2nd ed., 1986"
_NEH10 = "NRCS, National Engineering Handbook part 630 ch. 10, 2004"
_NEH15 = "NRCS, National Engineering Handbook part 630 ch. 15, 2010"
_TTU = "Texas Tech University CE 3354, rational-method pipe design, first pipe"
_NRCS = "NRCS training module 206D, rational method"
_BEDIENT = "Bedient, Huber & Vieux, Hydrology and Floodplain Analysis, 5th ed., Example 6-6"


def _cfs(parts: list[tuple[float, float]], rate: float, factor: float = 1.0) -> float:
    """Peak flow (cfs) of parts (C, acres) under a rate (in/h)."""
    whole = sum(c * a for c, a in parts) * _ACRE
    return float(runoff.rational(factor, rate * _RATE, whole)) / _CFS


def _small(c: float, rate: float) -> float:
    return _cfs([(c, 27.0)], rate)


def _fit(minutes: float) -> float:
    table = dp.inflow.RainFit(a_in_per_h=56.6, b_min=8.6, n=0.823)
    return float(table.at(duration_min=minutes).intensity_in_per_h)


def _curve_number(p: float, cn: float) -> Callable[[], float]:
    return lambda: float(runoff.curve_number_depth(p * _INCH, cn)) / _INCH


def _nested(i: int) -> Callable[[], float]:
    rates = np.array([34.3, 20.8, 15.5, 12.7, 10.7, 9.1])
    with_hours = dp.inflow.RainTable(duration_min=60 * np.arange(1, 7), intensity_mm_per_h=rates)
    return lambda: float(with_hours.nested_storm(block_min=60, peak_block=3).depth_mm[i])


def _roof(rate: float, area: float) -> float:
    surface = dp.inflow.Catchment(area_ft2=area, runoff=1.0, tc_min=5)
    storm = dp.inflow.Hyetograph(depth_in=[rate / 12] * 3, block_min=5)
    return float(dp.inflow.runoff_hydrograph(surface, storm).peak_gpm)


def _bedient(rate: float) -> float:
    """Time of concentration (min): the rain's excess C i over 1000 ft at 1 %, n 0.013."""
    excess = 0.95 * rate * _RATE
    return float(runoff.kinematic(1000 * _FOOT, 0.013, excess, 0.01)) / 60


def _distribution(kind: str, hour: float) -> Callable[[], float]:
    return lambda: float(rain.nrcs_share(kind, hour * 3600))


def _tc(method: str, **given: object) -> float:
    with warnings.catch_warnings():
        # the published lag is that of a watershed, far longer than a yard
        warnings.simplefilter("ignore", UnusualValueWarning)
        return float(dp.inflow.time_of_concentration(method, **given).tc_min)  # type: ignore[arg-type]


_DAY_II = {1: 1, 2: 2.2, 3: 3.55, 4: 4.91, 6: 8.1, 8: 12.1, 10: 18.6, 11: 23.5, 12: 66, 13: 77.4,
           14: 82.1, 16: 88.1, 20: 94.8}  # fmt: skip
_TYPE_III = {1: 0.0100, 8 + 5 / 60: 0.1163, 9: 0.1458, 16 + 10 / 60: 0.8903, 17: 0.9095}
_TR55_TABLE = {
    60: (0.0, 0.06, 0.33, 0.76, 1.30, 2.60, 3.33),
    70: (0.0, 0.24, 0.71, 1.33, 2.04, 3.62, 4.46),
    80: (0.08, 0.56, 1.25, 2.04, 2.89, 4.69, 5.63),
    90: (0.32, 1.09, 1.98, 2.92, 3.88, 5.82, 6.81),
    98: (0.79, 1.77, 2.77, 3.77, 4.76, 6.76, 7.76),
}

CHECKS: list[Check] = [
    Check("rational method, three covers, 5.1 in/h, 25-year factor",
          lambda: _cfs([(0.40, 6), (0.15, 3), (0.90, 3)], 5.1, runoff.frequency_factor(25)),
          31.14 * 1.008, _NRCS, unit="cfs", rel=0.001,
          why="inputs published, C i A x 1.1 = 31.14 in acre-inches an hour, 1.008 cfs each"),
    Check("rational method, four covers, 5.5 in/h, 100-year factor",
          lambda: _cfs([(0.35, 1), (0.5, 10), (0.9, 2), (0.6, 5)], 5.5,
                       runoff.frequency_factor(100)),
          69.78 * 1.008, _NRCS, unit="cfs", rel=0.001, why="as the check before"),
    *(
        Check(f"rational method, 27 ac, C {c}", lambda c=c, i=i: _small(c, i), q,
              "Colorado Division of Reclamation, Mining and Safety, rational-method sheet",
              unit="cfs", rel=0.01, why="printed without the 1.008 and to 0.01 cfs")
        for c, i, q in ((0.05, 1.09, 1.47), (0.10, 1.47, 3.97), (0.20, 1.71, 9.22),
                        (0.40, 2.67, 28.87))
    ),
    Check("intensity 56.6/(17 + 8.6)^0.823", lambda: _fit(17), 3.92, _TTU, unit="in/h", abs=0.006,
          why="printed to 0.01"),
    Check("rational method, two areas at the longer time",
          lambda: _cfs([(0.65, 6.0), (0.55, 5.1)], _fit(17), 1 / 1.00833), 26.26, _TTU, unit="cfs",
          rel=0.003, why="printed with sum CA 6.7 and i 3.92, without the 1.008"),
    Check("roof of 2180 ft2 at 1 in/h", lambda: _roof(1, 2180), 23,
          "National Standard Plumbing Code 2006, Table 13.6.1, 2-in conductor", unit="gpm",
          rel=0.02, why="conductor capacity printed to the gallon"),
    Check("roof of 4182 ft2 at 6 in/h", lambda: _roof(6, 4182), 261,
          "National Standard Plumbing Code 2006, Table 13.6.1, 5-in conductor", unit="gpm",
          rel=0.002, why="printed to the gallon"),
    *(
        Check(f"nested 6-hour storm, hour {i + 1}", _nested(i), depth, f"{_HDS2}, Example 6.6",
              unit="mm", abs=0.11, why="worked with depths rounded to 0.1 mm")
        for i, depth in enumerate((2.7, 4.9, 34.3, 7.3, 4.3, 1.1))
    ),
    *(
        Check(f"NRCS type II, share fallen at {hour} h", _distribution("II", hour), share / 100,
              "Bedient, Huber & Vieux, Hydrology and Floodplain Analysis, 5th ed., Table E6-4",
              abs=0.006, why="another print of the distribution, smoothed differently")
        for hour, share in _DAY_II.items()
    ),
    *(
        Check(f"NRCS type III, share fallen at {hour:.2f} h", _distribution("III", hour), share,
              "City of Austin, Drainage Criteria Manual, Table 2-6", abs=0.006,
              why="ordinates hours apart at the ends of the day, linear between")
        for hour, share in _TYPE_III.items()
    ),
    *(
        Check(f"curve number {cn}, rain {p} in", _curve_number(p, cn), depth, f"{_TR55}, Table 2-1",
              unit="in", abs=0.011, why="printed to 0.01 in")
        for cn, row in _TR55_TABLE.items()
        for p, depth in zip((1, 2, 3, 4, 5, 7, 8), row, strict=True)
    ),
    Check("curve number 74, rain 4.3 in", _curve_number(4.3, 74), 1.82, f"{_NEH10}, Example 10-1",
          unit="in", abs=0.006, why="printed to 0.01 in"),
    Check("curve number 55, rain 4.3 in", _curve_number(4.3, 55), 0.65, f"{_NEH10}, Example 10-2",
          unit="in", abs=0.006, why="printed to 0.01 in"),
    Check("curve number 88, rain 4.3 in", _curve_number(4.3, 88), 3.01, f"{_NEH10}, Example 10-2",
          unit="in", abs=0.006, why="printed to 0.01 in"),
    Check("NRCS lag, 3865 ft, CN 63, 4.79 %",
          lambda: _tc("nrcs_lag", length_ft=3865, curve_number=63, slope=0.0479) / 60, 1.14, _NEH15,
          unit="h", abs=0.006, why="printed to 0.01 h"),
    *(
        Check(f"kinematic wave, {i} mm/h",
              lambda i=i: _tc("kinematic", length_m=50, n=0.15, slope=0.005, intensity_mm_per_h=i),
              t, f"{_HDS2}, Example 2.2", unit="min", abs=0.6, why="printed to the minute")
        for i, t in ((116, 17), (78, 20), (72, 20))
    ),
    *(
        Check(f"kinematic wave of the excess, {i} in/h", lambda i=i: _bedient(i), t, _BEDIENT,
              unit="min", rel=0.015, why="alpha printed as 11.46, and t to 0.05 min")
        for i, t in ((6.4, 8.45), (6.5, 8.40), (6.6, 8.35))
    ),
    Check("shallow concentrated flow, 1 %, unpaved",
          lambda: 1000 / (60 * _tc("shallow", length_ft=1000, slope=0.01, paved=False)), 1.6,
          f"{_TR55}, Figure 3-1", unit="ft/s", abs=0.05, why="read from a chart"),
]  # fmt: skip
