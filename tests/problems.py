"""The reference problem of our own (invented), and what several test modules share.

Pump A makes 20·(1-(Q/50)²) ft and pump B 35·(1-(Q/65)²) ft, Q in gpm. The line lifts 6 ft
through 150 ft of pipe with five elbows of K 0.8, a check valve of 2.0, adapters of 0.3 and
a lid that takes 0.25 ft. Three independent solvers gave the flows.
"""

from __future__ import annotations

from typing import Any

import fluids
import numpy as np
from scipy.interpolate import PchipInterpolator

import drainpump as dp
from drainpump.paper.demo import market_garden
from drainpump.physics import friction, water
from drainpump.physics.constants import GRAVITY

GPM = 231 * 0.0254**3 / 60
FOOT = 0.3048

#: temperature at which the kinematic viscosity is 1.22e-5 ft²/s
WATER_F = 59.31
BORES_IN = (1.360, 1.590, 2.047, 3.042)
FLOWS_GPM = {"A": (19.63, 25.68, 34.06, 39.93), "B": (29.01, 37.59, 49.10, 56.91)}
FITTINGS = {
    "elbow_90": dp.Fitting(count=5, k=0.8),
    "check_valve_swing": dp.Fitting(count=1, k=2.0),
    "adapter": dp.Fitting(count=1, k=0.3),
}


def parabola(name: str, shutoff_ft: float, run_out_gpm: float, points: int = 200) -> dp.PumpCurve:
    """An invented pump whose head falls as a parabola."""
    q = np.linspace(0, run_out_gpm, points)
    head = shutoff_ft * (1 - (q / run_out_gpm) ** 2)
    return dp.PumpCurve(name=name, flow_gpm=q, head_ft=head, invented=True)


PUMP_A = parabola("A", 20, 50)
PUMP_B = parabola("B", 35, 65)
#: rises from 20 ft to 24 ft at 20 gpm before it falls
DROOPING = dp.PumpCurve(
    name="drooping", flow_gpm=[0, 10, 20, 30, 40], head_ft=[20, 23, 24, 20, 5], invented=True
)


def r1_line(bore_in: Any = 1.590, **changes: Any) -> dp.DischargeLine:
    """The line of the reference problem, with changes by keyword."""
    given: dict[str, Any] = {
        "pipe": dp.Pipe(bore_in=bore_in, roughness_ft=5e-6),
        "fittings": FITTINGS,
        "outlet": dp.FreeOutlet(lid_ft=0.25),
        "water_f": WATER_F,
    }
    if not {"length_ft", "length_m"} & set(changes):
        given["length_ft"] = 150
    if not {"lift_ft", "lift_m"} & set(changes):
        given["lift_ft"] = 6
    return dp.straight_line(**given | changes)


def r1_pit(**changes: Any) -> dp.Pit:
    """The pit of the reference problem, with changes by keyword."""
    given = {"diameter_in": 18, "depth_in": 30, "off_in": 6, "on_in": 13}
    return dp.Pit(**given | changes)


def garden_by_need(need_gpm: float = 35) -> dp.Job:
    """The invented market garden without its water: a flow is needed, not a dry low spot."""
    limits = dp.Limits(starts_max_per_h=60, run_min_s=20)
    return market_garden().replace(
        need_gpm=need_gpm, water=None, pond_area_ft2=None, backup=None, limits=limits
    )


def slope_of(pipe: dp.Pipe, law: str, velocity: float, viscosity: float) -> float:
    """Head lost per length, worked out afresh: one scalar at a time, the factor by `fluids`."""
    bore, roughness = pipe.bore_mm / 1000, pipe.roughness_m
    if law == "hazen_williams":
        return float(
            (velocity / (1.318 * FOOT**0.37 * pipe.hazen_williams_c * (bore / 4) ** 0.63))
            ** (1 / 0.54)
        )
    reynolds = velocity * bore / viscosity
    if reynolds == 0:
        return 0.0
    if reynolds <= 2000:
        factor = 64 / reynolds
    elif reynolds >= 4000:
        # plain floats: the oracle catches their overflow, and numpy's would warn
        factor = fluids.friction.Colebrook(float(reynolds), float(roughness / bore))
    else:  # the bridge is the library's own choice
        factor = float(friction.friction_factor(reynolds, roughness / bore))
    return float(factor * velocity**2 / (2 * GRAVITY * bore))


def asked_m(line: dp.DischargeLine, flow_lps: float, level_m: float = 0.0) -> float:
    """Head that a line of scalars asks, walked along run by run from what it shows."""
    flow = flow_lps / 1000
    viscosity = float(water.kinematic_viscosity(line.water_c))
    height = lost = velocity = 0.0
    grades, rising = [0.0], True
    for run in line.runs:
        if rising and run.rise_m < -1e-9:  # water leaves the full pipe where the fall begins
            grades[-1] += velocity**2 / (2 * GRAVITY)
        rising = run.rise_m > 1e-9 if abs(run.rise_m) > 1e-9 else rising
        velocity = flow / (np.pi / 4 * (run.pipe.bore_mm / 1000) ** 2)
        length = run.length_m + run.equivalent_length_m
        lost += slope_of(run.pipe, line.friction, velocity, viscosity) * length
        lost += run.k_total * velocity**2 / (2 * GRAVITY)
        height += run.rise_m
        grades.append(height + lost)
    grades[-1] += velocity**2 / (2 * GRAVITY) + line.outlet.lid_m
    return float((grades[-1] if line.siphon else max(grades)) - level_m)


def made_m(pump: dp.PumpCurve, flow_lps: float) -> float:
    """Head that a pump makes, by scipy's own interpolant through its points."""
    return float(PchipInterpolator(pump.flow_lps, pump.head_m)(flow_lps))
