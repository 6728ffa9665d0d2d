"""Field tests against published figures: pump-down exercises, cycle times, their accuracy."""

from __future__ import annotations

import warnings
from collections.abc import Callable
from typing import Any

import drainpump as dp
from tests.reference.check import Check

_EXERCISE = "wastewater operators' arithmetic, Time for Math no. 33 (2019)"
_MIL = "MIL-HDBK-1005/9A eq. 1: t = (V/D)[1/(1 - Q/D) + 1/(Q/D)]"
_EXTENSION = "University of Illinois Extension, Sizing up a sump pump (2013)"
_EPA = (
    "US EPA, NPDES Compliance Inspection Manual, flow measurement: within 10 % (from memory); "
    "the class of a flow found from cycle times"
)


def _pit(**size: Any) -> dp.Pit:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", dp.UnusualValueWarning)
        return dp.Pit(**size)


def _drawdown(start: float, end: float, run_s: float, **size: Any) -> Callable[[], float]:
    def flow() -> float:
        pit = _pit(depth_in=100, off_in=1, on_in=99, **size)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", dp.UnusualValueWarning)
            return float(
                dp.field.drawdown_test(pit, from_in=start, to_in=end, run_s=run_s).flow_gpm
            )

    return flow


def _cycle(inflow: float, minutes: float) -> Callable[[], float]:
    """Pump flow from the cycle that the formula gives for 150 gal, 100 gpm and an inflow."""

    def flow() -> float:
        rest = 150 / inflow
        log = dp.field.cycle_log(
            working_volume_gal=150, rest_s=60 * rest, run_s=60 * (minutes - rest)
        )
        return float(log.flow_gpm)

    return flow


def _per_inch() -> float:
    pit = dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=13)
    return float(dp.field.drawdown_test(pit, from_in=13, to_in=12, run_s=60).flow_gpm)


def _two_sigma() -> float:
    pit = dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=13)
    log = dp.field.cycle_log(pit, rest_s=46.2, run_s=19.17)
    return float(200 * log.sigma_gpm / log.flow_gpm)


CHECKS: list[Check] = [
    Check(
        "drawdown test, 10 ft round, 6 in in 2 min",
        _drawdown(60, 54, 120, diameter_in=120),
        146.8,
        _EXERCISE,
        unit="gpm",
        rel=0.001,
        why="worked there with pi = 3.14 and 7.48 gal a cubic foot",
    ),
    Check(
        "drawdown test, 15 ft by 12 ft, 3 ft in 30 min",
        _drawdown(90, 54, 1800, length_in=180, width_in=144),
        134.64,
        _EXERCISE,
        unit="gpm",
        rel=0.0002,
        why="worked there with 7.48 gal a cubic foot",
    ),
    Check(
        "1 in of an 18 in pit in a minute",
        _per_inch,
        1.0,
        _EXTENSION,
        unit="gpm",
        abs=0.11,
        why="published as about 1 gal an inch; the circle gives 1.10",
    ),
    *(
        Check(
            f"pump flow back from the published cycle at {inflow} gpm of inflow",
            _cycle(inflow, minutes),
            100.0,
            f"{_MIL}, V 150 gal, D 100 gpm",
            unit="gpm",
            rel=0.002,
            why="the cycle time is rounded to 0.01 min",
        )
        for inflow, minutes in ((40, 6.25), (50, 6.00), (25, 8.00))
    ),
    Check(
        "two-sigma error of a flow from cycle times",
        _two_sigma,
        10.0,
        _EPA,
        unit="%",
        abs=3.0,
        why="a class of accuracy, not a figure for this pit; ours follows from ruler and watch",
    ),
]
