"""The rarest storm that a site keeps, by plain routing of storms between those of a table."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

import numpy as np

import drainpump as dp
from tests.problems import PUMP_B

TABLE = dp.inflow.RainTable(
    duration_min=[5, 15, 60, 120],
    depth_in=[[0.35, 0.7, 1.2, 1.5], [0.45, 0.9, 1.6, 2.0], [0.5, 1.05, 1.9, 2.4],
              [0.6, 1.2, 2.3, 2.9], [0.7, 1.4, 2.7, 3.3], [0.8, 1.6, 3.1, 3.8]],
    return_year=[2, 5, 10, 25, 50, 100],
)  # fmt: skip
PIT = dp.Pit(diameter_in=24, depth_in=42, off_in=8, on_in=20)
LENGTH_FT, LIFT_FT, K = 200.0, 7.0, 3.0


class Drawn(NamedTuple):
    """What one draw makes of pump B, a 2 in line and the water: factors, and a lift in ft."""

    length: float
    lift_ft: float
    bore: float
    friction: float
    k: float
    head: float
    flow: float
    storm: float
    steady: float


def water(area_ft2: float, years: Any = None) -> dp.Hydrograph:
    """Storms of a yard: those of the table, or of the return periods asked for."""
    yard = dp.inflow.Catchment(area_ft2=area_ft2, runoff=0.6, tc_min=10)
    whole = dp.inflow.Water(steady_gpm=3, rain=TABLE, catchments=[yard])
    return whole.storms() if years is None else whole.storms(return_year=years)


def ladder(steps: int) -> np.ndarray:
    """Return periods from 2 to 100 years, evenly apart in ln N."""
    return np.clip(np.exp(np.linspace(np.log(2), np.log(100), steps)), 2, 100)


def kept(found: dp.Routing) -> Any:
    """Whether no more than an inch ponds, for no more than 45 minutes."""
    dry = (found.peak_pond_in <= 1) & (found.pond_min <= 45)
    return dry & (np.asarray(found.status) != "still_ponded")


def first_failed(pump: Any, line: dp.DischargeLine, storms: dp.Hydrograph) -> int:
    """The first of storms ever rarer in which the limits fail, or their number."""
    low, high = 0, len(storms.flow_gpm)
    while low < high:
        middle = (low + high) // 2
        one = dp.Hydrograph(flow_gpm=storms.flow_gpm[middle], time_min=storms.time_min)
        fine = bool(kept(dp.route(pump, line, PIT, one, pond_area_ft2=800)))
        low, high = (middle + 1, high) if fine else (low, middle)
    return low


def kept_years(draws: Iterator[Drawn], area_ft2: float, steps: int) -> list[float]:
    """The rarest storm of a ladder kept in each draw, at the table's ends there."""
    years = ladder(steps)
    storms = water(area_ft2, years)
    base = storms.flow_gpm.min(axis=-1, keepdims=True)
    pipe, found = dp.pvc("2"), []
    for d in draws:
        bore = dp.Pipe(bore_in=pipe.bore_in * d.bore, roughness_ft=5e-6)
        line = dp.straight_line(
            pipe=bore, length_ft=LENGTH_FT * d.length * d.friction, lift_ft=LIFT_FT + d.lift_ft,
            k=(K + 1) * d.k - 1,  # the exit's K = 1 among them
        )  # fmt: skip
        pump = dp.PumpCurve(flow_gpm=PUMP_B.flow_gpm * d.flow, head_ft=PUMP_B.head_ft * d.head)
        inflow = dp.Hydrograph(
            flow_gpm=base * d.steady + (storms.flow_gpm - base) * d.storm, time_min=storms.time_min
        )
        found.append(years[min(first_failed(pump, line, inflow), steps - 1)])
    return found


def at_random(count: int, seed: int) -> Iterator[Drawn]:
    """Draws of the usual doubt, each on its own: figures typed anew, no sequence of the library."""
    rng = np.random.default_rng(seed)
    for _ in range(count):
        z = np.clip(rng.normal(size=9), -4, 4)
        yield Drawn(
            1 + 0.05 * z[0], 0.5 * z[1], 1 + 0.0063 * rng.uniform(-1, 1), 1 + 0.05 * z[2],
            np.exp(0.25 * z[3]), 1 + 0.04 * z[4], 1 + 0.05 * z[5],
            (1 + 0.2 * z[6]) * (1 + 0.2 * z[7]), np.exp(0.7 * z[8]),
        )  # fmt: skip
