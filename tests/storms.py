"""The invented yard of the storm tests: its rain, its catchments, its pump, line and pit."""

from __future__ import annotations

from typing import Any

import numpy as np

import drainpump as dp

#: intensities (in/h) at 5, 10, 15, 30 and 60 min, as depths
MINUTES = np.array([5.0, 10.0, 15.0, 30.0, 60.0])
RAIN = dp.inflow.RainTable(duration_min=MINUTES, intensity_in_per_h=[7.2, 5.6, 4.7, 3.4, 2.2])
BLOCKS = [0.0742, 0.0847, 0.1003, 0.1729, 0.2417, 0.6, 0.3333, 0.1947, 0.1574, 0.0917, 0.0790,
          0.0701]  # fmt: skip

CATCHMENTS = [
    dp.inflow.Catchment(area_ft2=1200, runoff=0.95, tc_min=5, name="roof"),
    dp.inflow.Catchment(area_ft2=400, runoff=0.90, tc_min=5, name="yard"),
    dp.inflow.Catchment(area_ft2=4000, runoff=0.35, tc_min=10, name="lawn"),
]

_Q = np.linspace(0, 50, 200)
A = dp.PumpCurve(name="A", flow_gpm=_Q, head_ft=20 * (1 - (_Q / 50) ** 2))
POWERED = dp.PumpCurve(
    name="P", flow_gpm=[0, 20, 40, 50], head_ft=[20, 16.8, 7.2, 0], power_w=[250, 300, 340, 350]
)
LINE = dp.straight_line(
    pipe=dp.Pipe(bore_in=2.047, roughness_ft=5e-6),
    length_ft=150,
    lift_ft=6,
    k=6.3,
    outlet=dp.FreeOutlet(lid_ft=0.25),
    water_f=59.31,
)


def pit(on_in: Any = 16, **more: Any) -> dp.Pit:
    """The 18-inch pit, 30 inches deep."""
    return dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=on_in, **more)


def storm() -> dp.inflow.Hyetograph:
    """The nested hour."""
    return RAIN.nested_storm(block_min=5, peak_block=6)


def inflow() -> dp.Hydrograph:
    """What the hour brings."""
    return dp.inflow.runoff_hydrograph(CATCHMENTS, storm())
