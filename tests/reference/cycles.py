"""Pit and cycle: the textbook formula's own figures, and volumes by depth."""

from __future__ import annotations

import warnings
from collections.abc import Callable

import drainpump as dp
from tests.reference.check import Check

_NAVY = "MIL-HDBK-1005/9A, equation 1, computed for V = 150 gal and D = 100 gpm"
_NAVY_LEAST = "MIL-HDBK-1005/9A, equation 2; UFC 3-240-04A: V = t q / 4"
_EXTENSION = "University of Illinois Extension, sizing up a sump pump"
_OPERATORS = "wastewater operators' arithmetic course, pump rate by drawdown (no. 33)"
_PLUMBING = (
    "UFC 3-420-01 (2004), amendment to IPC 712.3.2: storage between switches, gallons, about "
    "twice the pump's gpm"
)


def _pit(volume_gal: float) -> dp.Pit:
    """A square pit of 48 in whose floats hold just this volume."""
    drawdown = volume_gal * 231 / 48**2
    return dp.Pit(length_in=48, width_in=48, depth_in=60, off_in=10, on_in=10 + drawdown)


def _minutes(inflow_gpm: float) -> Callable[[], float]:
    def ours() -> float:
        turning = dp.cycle(flow_gpm=100, pit=_pit(150), inflow_gpm=inflow_gpm)
        return float(turning.run_s + turning.rest_s) / 60

    return ours


def _shortest_minutes() -> float:
    return 60 / float(dp.cycle(flow_gpm=100, pit=_pit(150), inflow_gpm=0).worst_starts_per_h)


def _gallons_per_inch(diameter_in: float) -> Callable[[], float]:
    def ours() -> float:
        pit = dp.Pit(diameter_in=diameter_in, depth_in=30, off_in=6, on_in=7)
        return float(pit.working_volume_gal)

    return ours


def _rise() -> float:
    """Inflow (gpm) that fills so much of a 20-ft tank in 20 min."""
    with warnings.catch_warnings():
        # a tank of a treatment plant
        warnings.simplefilter("ignore", dp.UnusualValueWarning)
        tank = dp.Pit(diameter_in=240, depth_in=120, off_in=12, on_in=15)
        rest = dp.cycle(flow_gpm=500, pit=tank, inflow_gpm=100).rest_s
    return float(rest) / 60 * 100 / 20


_EXACT = "exact arithmetic, printed to 0.01"

CHECKS: list[Check] = [
    *(
        Check(f"cycle at an inflow of {inflow} gpm", _minutes(inflow), minutes, _NAVY, "min",
              abs=0.0051, why=_EXACT)
        for inflow, minutes in {10: 16.67, 25: 8.0, 40: 6.25, 50: 6.0, 60: 6.25, 75: 8.0,
                                90: 16.67}.items()
    ),
    Check("shortest cycle, 4 V / D", _shortest_minutes, 6.0, _NAVY_LEAST, "min", rel=1e-6,
          why="a closed form"),
    Check(
        "inflow of the shortest cycle, D / 2",
        lambda: float(dp.cycle(flow_gpm=100, pit=_pit(150), inflow_gpm=0).worst_inflow_gpm),
        50,
        _NAVY_LEAST,
        "gpm",
        rel=1e-6,
        why="a closed form",
    ),
    Check("water in an inch of an 18-in pit", _gallons_per_inch(18), 1.10, _EXTENSION, "gal",
          abs=0.005, why="half a unit of the last digit; printed as about 1"),
    Check("water in an inch of a 24-in pit", _gallons_per_inch(24), 1.96, _EXTENSION, "gal",
          abs=0.005, why="half a unit of the last digit; printed as about 2"),
    Check("20-ft tank risen 3 in in 20 min", _rise, 29.36, _OPERATORS, "gpm", rel=1e-3,
          why="the source takes 7.48 gal/ft³ and 3.14: 0.06 % apart together"),
    Check(
        "pump-down of twice the pump's gpm without inflow",
        lambda: float(dp.cycle(flow_gpm=40, pit=_pit(80), inflow_gpm=0).run_s) / 60,
        2.0,
        _PLUMBING,
        "min",
        rel=1e-9,
        why="a closed form",
    ),
]  # fmt: skip
