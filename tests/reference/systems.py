"""Pump against system: published worked examples, start to finish.

The pumps are those of the examples, by their points or their printed formula; between
points the examples draw by hand or fit, so the crossing moves by 0.5 to 2 % with the way
of interpolation, and the tolerances are set by that and not by the print.
"""

from __future__ import annotations

import warnings
from collections.abc import Callable
from functools import cache
from typing import Any

import numpy as np
from scipy.optimize import brentq

import drainpump as dp
from drainpump.physics import water
from drainpump.physics.constants import GRAVITY
from tests.reference.check import Check

_FOOT = 0.3048
_GPM = 231 * 0.0254**3 / 60

_HI = "Hydraulic Institute, Engineering Data Library, system curves, and pump with system"
_COULSON = "Coulson & Richardson, Chemical Engineering vol. 1, example 8.8, p. 370"
_BRASCH = "Brasch & Whyman, Problems in Fluid Flow, example 6.3, p. 120"
_ABULENCIA = (
    "Abulencia & Theodore, Fluid Flow for the Practicing Chemical Engineer, ex. 17.6, p. 214"
)
_POTTER = "Potter, Wiggert et al., Mechanics of Fluids, example 8.3 (pump formula from memory)"
_MUNSON = (
    "Munson, Young & Okiishi, Fundamentals of Fluid Mechanics, example 12.4 (answer from memory)"
)
_SUBRAMANYA = "K. Subramanya, Fluid Mechanics and Hydraulic Machines, example 11.31"
_WORKSHEET = (
    "Minnesota Pollution Control Agency and University of Minnesota, Pump Selection Design "
    "Worksheet, a completed public copy"
)


def _quietly(make: Callable[[], Any]) -> Any:
    """Waterworks and process plant are no yard drains: what is unusual there is not wrong."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", dp.UnusualValueWarning)
        return make()


def _square(lift_m: float, coefficient: float) -> dp.DischargeLine:
    """A system of lift + coefficient · Q² (SI), its exit included in the coefficient."""
    bore_mm = 300.0
    area = np.pi / 4 * (bore_mm / 1000) ** 2
    k = coefficient * 2 * GRAVITY * area**2 - 1
    return dp.straight_line(pipe=dp.Pipe(bore_mm=bore_mm), length_m=0, lift_m=lift_m, k=k)


def _formula(
    head: Callable[[Any], Any], last: float, flow_unit: str, head_unit: str
) -> dp.PumpCurve:
    """A pump by its printed formula, at 200 points."""
    q = np.linspace(0, last, 200)
    return dp.PumpCurve(**{f"flow_{flow_unit}": q, f"head_{head_unit}": head(q)})


def _institute(lift_ft: float) -> dp.OperatingPoint:
    """4-in line of 1255 ft, f = 0.02; two elbows 0.31, check valve 2.0, gate 0.17, exit 1."""
    pipe = dp.Pipe(bore_in=4.026)
    friction = 0.02 * 1255 / (4.026 / 12)
    run = dp.Run(
        pipe=pipe,
        length_ft=0,
        rise_ft=lift_ft,
        k=friction,
        fittings={
            "elbow_90": dp.Fitting(2, k=0.31),
            "check_valve_swing": dp.Fitting(k=2.0),
            "gate_valve": dp.Fitting(k=0.17),
        },
    )
    pump = dp.PumpCurve(flow_gpm=[0, 150, 200, 300], head_ft=[380, 330.5, 296, 200])
    return dp.operating_point(pump, dp.DischargeLine(runs=[run]))


def _coulson() -> dp.OperatingPoint:
    pump = dp.PumpCurve(flow_lps=[2.8, 3.9, 5.0, 5.6, 5.9], head_m=[23.2, 21.3, 18.9, 15.2, 11.0])
    return dp.operating_point(pump, _square(10, 2.205e5))


def _brasch() -> dp.OperatingPoint:
    """Smooth pipe of 114 mm and 60 m; the pump by Euler's head times a hydraulic efficiency."""
    q = np.linspace(0, 0.05, 6)
    efficiency = np.array([65.4, 71.0, 71.9, 67.7, 57.5, 39.2]) / 100
    turn, outer, width, angle = 1750 / 60 * 2 * np.pi, 0.096, 0.0125, 0.611
    ideal = turn**2 * outer**2 / GRAVITY - turn * q / (2 * np.pi * GRAVITY * width * np.tan(angle))
    pump = dp.PumpCurve(flow_lps=q * 1000, head_m=efficiency * ideal)
    celsius = brentq(lambda t: float(water.kinematic_viscosity(t)) - 1.109e-3 / 999, 5, 30)
    line = dp.straight_line(
        pipe=dp.Pipe(bore_mm=114, roughness_m=0), length_m=60, lift_m=8.75, water_c=celsius
    )
    return dp.operating_point(pump, line)


def _abulencia() -> dp.OperatingPoint:
    pump = _formula(lambda q: 42 - 0.0047 * q**2, 60, "gpm", "ft")
    return dp.operating_point(pump, _square(12 * _FOOT, 0.0198 * _FOOT / _GPM**2))


def _potter() -> dp.OperatingPoint:
    pump = _formula(lambda q: 22.9 + 10.7 * q / 1000 - 111 * (q / 1000) ** 2, 400, "lps", "m")
    return dp.operating_point(pump, _square(15, 85))


def _munson() -> dp.OperatingPoint:
    """6-in line of 200 ft, f = 0.02; entrance 0.5, bends 1.5, exit 1."""
    pump = dp.PumpCurve(
        flow_gpm=[0, 400, 800, 1400, 1800, 2200, 2300], head_ft=[88, 86, 81, 70, 60, 46, 40]
    )
    line = dp.straight_line(
        pipe=dp.Pipe(bore_in=6), length_ft=0, lift_ft=10, k=0.02 * 200 / 0.5 + 0.5 + 1.5
    )
    return dp.operating_point(pump, line)


def _subramanya_kw() -> float:
    """Suction of 150 mm and 20 m, delivery of 120 mm and 300 m, f = 0.02, 15 m of lift."""
    runs = [
        dp.Run(pipe=dp.Pipe(bore_mm=bore), length_m=0, rise_m=rise, k=0.02 * length / bore * 1000)
        for bore, length, rise in ((150, 20, 5), (120, 300, 10))
    ]
    head = dp.DischargeLine(runs=runs).head(flow_lps=20).head_m
    weight = 9.79  # kN/m³, the book's
    return float(weight * 0.020 * head)


def _worksheet_friction_ft() -> float:
    """36 gpm through 95 ft of 2.0 in (the nominal bore), a quarter added for fittings, C 130."""
    line = dp.straight_line(
        pipe=dp.Pipe(bore_in=2.0, hazen_williams_c=130),
        length_ft=95,
        equivalent_length_ft=95 / 4,
        lift_ft=14,
        outlet=dp.FreeOutlet(lid_ft=5),
        friction="hazen_williams",
    )
    head = line.head(flow_gpm=36)
    return float(head.pipe_ft + head.fittings_ft)


_SOLVED: dict[str, Callable[[], dp.OperatingPoint]] = {
    "institute": lambda: _institute(265),
    "institute, higher": lambda: _institute(275),
    "coulson": _coulson,
    "brasch": _brasch,
    "abulencia": _abulencia,
    "potter": _potter,
    "munson": _munson,
}


@cache
def _solved(example: str) -> dp.OperatingPoint:
    op: dp.OperatingPoint = _quietly(_SOLVED[example])
    return op.require()  # type: ignore[no-any-return]


def _of(example: str, attribute: str, factor: float = 1.0) -> Callable[[], float]:
    return lambda: float(getattr(_solved(example), attribute)) * factor


def _pair(
    what: str,
    example: str,
    source: str,
    flow: tuple[str, float, float, float],
    head: tuple[str, float, float],
    why: str,
) -> list[Check]:
    """Flow (attribute, factor, published, share) and head (attribute, published, share)."""
    attribute, factor, published, rel = flow
    flow_unit = "gpm" if attribute.endswith("gpm") else "m³/s"
    made = [
        Check(f"{what}: flow", _of(example, attribute, factor), published, source, flow_unit,
              rel=rel, why=why)
    ]  # fmt: skip
    attribute, published, rel = head
    made.append(
        Check(f"{what}: head", _of(example, attribute), published, source,
              attribute.rsplit("_", 1)[1], rel=rel, why=why)
    )  # fmt: skip
    return made


CHECKS: list[Check] = [
    *_pair(
        "pump of four points on 1255 ft of 4 in", "institute", _HI,
        ("flow_gpm", 1.0, 200, 0.003), ("head_ft", 296, 0.003),
        "the example rounds its velocity head factor to 1.22; the crossing lies on a given point",
    ),
    *_pair(
        "the same pump lifting 10 ft more", "institute, higher", _HI,
        ("flow_gpm", 1.0, 190.6, 0.005), ("head_ft", 303.2, 0.005),
        "between two of four points: 189.9 by chords, 190.6 by the source's parabola",
    ),
    *_pair(
        "pump of five points against 10 + 2.205e5 Q²", "coulson", _COULSON,
        ("flow_lps", 1e-3, 0.0054, 0.012), ("head_m", 16.43, 0.012),
        "printed to two digits, and 0.00540 to 0.00545 by the way of interpolation",
    ),
    *_pair(
        "Euler's pump on 60 m of smooth 114 mm", "brasch", _BRASCH,
        ("flow_lps", 1e-3, 0.0336, 0.018), ("head_m", 13.10, 0.018),
        "the book takes Blasius' law for smooth pipe, at Re 340 000 some 7 % below Colebrook's; "
        "pipe friction is 30 % of the head",
    ),
    *_pair(
        "42 - 0.0047 q² against 12 + 0.0198 q²", "abulencia", _ABULENCIA,
        ("flow_gpm", 1.0, 35, 0.001), ("head_ft", 36.24, 0.001),
        "a closed form rounded to 35 gpm",
    ),
    *_pair(
        "a curve that rises first against 15 + 85 Q²", "potter", _POTTER,
        ("flow_lps", 1e-3, 0.23, 0.02), ("head_m", 19.5, 0.0026),
        "half a unit of the last printed digit",
    ),
    *_pair(
        "pump of seven points on 200 ft of 6 in", "munson", _MUNSON,
        ("flow_gpm", 1.0, 1600, 0.01), ("head_ft", 66.5, 0.02),
        "the book reads its answer off a drawing",
    ),
    Check(
        "suction and delivery of two bores: power",
        lambda: float(_quietly(_subramanya_kw)),
        4.57,
        _SUBRAMANYA,
        "kW",
        abs=0.01,
        why="printed to 0.01, of figures rounded on the way",
    ),
    Check(
        "friction of a completed pump worksheet",
        _worksheet_friction_ft,
        3.9,
        _WORKSHEET,
        "ft",
        abs=0.06,
        why="half a unit of the last digit; the sheet's constant is 0.4 % above the exact one",
    ),
    Check(
        "total head of a completed pump worksheet",
        lambda: _worksheet_friction_ft() + 14 + 5,
        22.9,
        _WORKSHEET,
        "ft",
        abs=0.06,
        why="half a unit of the last digit; the sheet leaves the velocity head out",
    ),
]  # fmt: skip
