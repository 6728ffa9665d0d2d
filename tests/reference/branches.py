"""Published values of what brings water to the pit: grates, gravity pipes, storms of a day."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

import drainpump as dp
from drainpump.physics import rain, runoff
from tests.reference.check import Check

_INCH = 0.0254
_HEC22 = "FHWA, Urban Drainage Design Manual, HEC-22, grates in sag; computed by hand from it"
_MANNING = "Manning's equation, pipe full; n of PVC from FHWA HDS-5, Table 4; computed by hand"
_NRCS = "USDA NRCS, 24-h rainfall distributions, second-hand (two transcriptions agree)"
_TR55 = "USDA SCS, Urban Hydrology for Small Watersheds, TR-55, 2nd ed., 1986"


def _grate(side: float, clear: float, depth: float) -> float:
    basin = dp.inflow.Collector(
        bore_in=12, slope=0.5, n=0.01, grate_length_in=side, grate_width_in=side,
        grate_open_share=0.5, clear_share=clear,
    )  # fmt: skip
    return float(basin.capacity_gpm(depth_in=depth))


def _full(bore: float, slope: float, n: float) -> float:
    return float(dp.inflow.Collector(bore_in=bore, slope=slope, n=n).capacity_gpm())


def _by_gravity(n: float) -> float:
    check = dp.inflow.gravity_check(fall_ft=3, length_ft=235, need_gpm=35, n=n)
    return float(check.capacity_gpm[(check.bore_in.round(6) == 4) & (check.wall == "smooth")][0])


def _greatest(kind: str) -> Callable[[], float]:
    hours = np.linspace(0.0, 86400.0, 241)
    return lambda: float(np.diff(rain.nrcs_share(kind, hours)).max())


def _roof() -> float:
    roof = dp.inflow.Catchment(area_ft2=2000, runoff=0.95, tc_min=6)
    return float(
        dp.inflow.runoff_hydrograph(roof, dp.inflow.nrcs_storm("III", depth_in=5)).peak_gpm
    )


def _runs_off(curve_number: float) -> Callable[[], float]:
    return lambda: float(runoff.curve_number_depth(6.0 * _INCH, curve_number)) / _INCH


CHECKS: list[Check] = [
    *(
        Check(f"{side} x {side} in grate, half open, {share:g} clear, {depth} in of water",
              lambda side=side, share=share, depth=depth: _grate(side, share, depth), flow, _HEC22,
              unit="gpm", rel=0.005, why="printed to three digits")
        for side, share, depth, flow in ((12, 1, 2, 366), (12, 0.5, 2, 183), (6, 1, 1, 64.8),
                                         (6, 0.5, 1, 32.4))
    ),
    *(
        Check(f"Manning, {bore} in at 1 %, n {n}", lambda bore=bore, n=n: _full(bore, 0.01, n),
              flow, _MANNING, unit="gpm", rel=0.005, why="printed to the gallon")
        for bore, row in ((4, (123, 111, 101)), (6, (364, 327, 298)), (8, (783, 705, 641)))
        for n, flow in zip((0.009, 0.010, 0.011), row, strict=True)
    ),
    *(
        Check(f"4 in by gravity, 3 ft in 235 ft, n {n}", lambda n=n: _by_gravity(n), flow,
              _MANNING, unit="gpm", rel=0.002, why="printed to three or four digits")
        for n, flow in ((0.012, 104.6), (0.011, 114))
    ),
    Check("4 in at 0.2 %, n 0.012", lambda: _full(4, 0.002, 0.012), 41.4, _MANNING, unit="gpm",
          rel=0.002, why="printed to three digits"),
    *(
        Check(f"NRCS type {kind}, greatest share of 6 min", _greatest(kind), share, _NRCS,
              abs=6e-5, why="half a unit of the last digit")
        for kind, share in (("III", 0.0840), ("II", 0.1371), ("I", 0.0754))
    ),
    Check("roof of 2000 ft2 under 5 in of type III", _roof, 82.9, f"{_NRCS}; rational by hand",
          unit="gpm", rel=0.001, why="printed to three digits"),
    *(
        Check(f"curve number {number}, rain 6 in", _runs_off(number), depth, _TR55, unit="in",
              abs=0.006, why="printed to 0.01 in")
        for number, depth in ((70, 2.81), (75, 3.28), (77, 3.48))
    ),
]  # fmt: skip
