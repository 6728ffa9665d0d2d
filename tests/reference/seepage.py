"""Published values of drainage from the ground and of water rising in a pit."""

from __future__ import annotations

import warnings

import drainpump as dp
from drainpump.errors import UnusualValueWarning
from drainpump.physics import seepage
from tests.reference.check import Check

_PUNMIA = "Punmia, Pande & Lal, Irrigation and Water Power Engineering, Example"
_RISE = "wastewater operators' mathematics lesson 33, pump-down examples"
_DAY = 86400.0


def _spacing() -> float:
    """Spacing (m) at which drains carry off 8 mm a day; impervious layer 8.2 m below them."""
    one = float(seepage.hooghoudt(1e-4, 1e-4, 8.2, 0.3, 1.0))
    return float((one / (0.008 / _DAY)) ** 0.5)


def _conductivity() -> float:
    """Conductivity (1e-6 m/s) at which drains 30 m apart give 4e-6 m3/s for each metre."""
    one = float(seepage.hooghoudt(1.0, 1.0, 8.0, 0.3, 30.0)) * 30.0
    return 4e-6 / one * 1e6


def _rainfall() -> float:
    """Annual rain (cm) of which drains 50 m apart carry off 1 % in a day."""
    return float(seepage.hooghoudt(1e-5, 1e-5, 10.0, 0.3, 50.0)) * _DAY / 0.01 * 100


def _rise(inches_a_minute: float, **size: float) -> float:
    with warnings.catch_warnings():
        # a tank of that size is far from a yard's pit, so it warns
        warnings.simplefilter("ignore", UnusualValueWarning)
        pit = dp.Pit(depth_in=120, off_in=6, on_in=60, **size)
        return float(dp.field.inflow_from_rise(pit, rise_in_per_min=inches_a_minute).inflow_gpm)


CHECKS: list[Check] = [
    Check("spacing of drains that carry off 0.8 cm a day", _spacing, 147, f"{_PUNMIA} 16.5",
          unit="m", abs=0.5, why="printed to the metre"),
    Check("conductivity from the flow of drains 30 m apart", _conductivity, 6.13,
          f"{_PUNMIA} 16.6", unit="1e-6 m/s", abs=0.01, why="printed to three digits"),
    Check("annual rain drained by drains 50 m apart", _rainfall, 84, f"{_PUNMIA} 16.7", unit="cm",
          abs=0.5, why="printed to the centimetre"),
    Check("one inch in an 18-in pit", lambda: _rise(1, diameter_in=18), 1.0,
          "University of Illinois Extension, sizing up a sump pump", unit="gal", rel=0.11,
          why="printed as about 1; the circle gives 1.10"),
    Check("one inch in a 24-in pit", lambda: _rise(1, diameter_in=24), 2.0,
          "University of Illinois Extension, sizing up a sump pump", unit="gal", rel=0.03,
          why="printed as about 2; the circle gives 1.96"),
    Check("6 in in 2 min in a 10-ft tank", lambda: _rise(3, diameter_in=120), 146.8, _RISE,
          unit="gpm", rel=0.001, why="worked with 3.14 and 7.48"),
    Check("3 in in 20 min in a 20-ft tank", lambda: _rise(0.15, diameter_in=240), 29.36, _RISE,
          unit="gpm", rel=0.0015, why="worked with 3.14 and 7.48, the feet rounded"),
    Check("3 ft in 30 min in a tank 15 by 12 ft",
          lambda: _rise(1.2, length_in=180, width_in=144), 134.64, _RISE, unit="gpm", rel=0.0005,
          why="worked with 7.48"),
]  # fmt: skip
