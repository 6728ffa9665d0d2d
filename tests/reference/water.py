"""Water properties: the IAPWS formulations and the Hydraulic Institute's tables."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from drainpump.physics import water
from drainpump.physics.constants import GRAVITY
from tests.reference.check import Check

_FOOT = 0.3048
_LB_FT3 = 0.45359237 / _FOOT**3
_PSI = 4.4482216152605 / 0.0254**2

_IAPWS = "IAPWS R6-95(2018), R12-08 and their saturation line at 0.101325 MPa, by iapws 1.5.5"
_HI = "Hydraulic Institute, Engineering Data Library, properties of water"

# °C: density kg/m³, dynamic viscosity Pa·s, kinematic viscosity m²/s, vapour pressure kPa
_BY_CELSIUS = {
    0.02: (999.844, 1.7905e-3, 1.7908e-6, 0.6121),
    4.0: (999.975, 1.5673e-3, 1.5673e-6, 0.8135),
    5.0: (999.967, 1.5182e-3, 1.5182e-6, 0.8726),
    10.0: (999.702, 1.3059e-3, 1.3063e-6, 1.2282),
    15.0: (999.103, 1.1376e-3, 1.1386e-6, 1.7058),
    20.0: (998.207, 1.0016e-3, 1.0034e-6, 2.3393),
    25.0: (997.048, 8.9002e-4, 8.9266e-7, 3.1699),
    30.0: (995.649, 7.9722e-4, 8.0071e-7, 4.2470),
    40.0: (992.216, 6.5273e-4, 6.5785e-7, 7.3849),
}

# °F: kinematic viscosity ft²/s, by the IAPWS formulations
_BY_FAHRENHEIT = {40: 1.6632e-5, 50: 1.4061e-5, 60: 1.2079e-5, 70: 1.0515e-5, 100: 7.3810e-6}

# °F: density lb/ft³, vapour pressure psi
_HYDRAULIC_INSTITUTE = {
    40: (62.42, 0.1217),
    50: (62.38, 0.1781),
    60: (62.34, 0.2563),
    70: (62.27, 0.3631),
    80: (62.19, 0.5069),
    100: (62.00, 0.9492),
}


def _of(kernel: Callable[[float], np.ndarray], celsius: float, unit: float) -> Callable[[], float]:
    return lambda: float(kernel(celsius)) / unit


def _celsius(fahrenheit: float) -> float:
    return (fahrenheit - 32.0) / 1.8


def _iapws(celsius: float) -> list[Check]:
    rho, mu, nu, p = _BY_CELSIUS[celsius]
    at = f"at {celsius:g} °C"
    rounded = "half a unit of the last printed digit, and 7e-5 between the two formulas"
    return [
        Check(
            f"density of water {at}",
            _of(water.density, celsius, 1.0),
            rho,
            _IAPWS,
            "kg/m³",
            abs=0.002,
            why="half a unit of the last printed digit, and 1.2e-6 between the two formulas",
        ),
        Check(
            f"dynamic viscosity of water {at}",
            _of(water.dynamic_viscosity, celsius, 1.0),
            mu,
            _IAPWS,
            "Pa·s",
            rel=1e-4,
            why=rounded,
        ),
        Check(
            f"kinematic viscosity of water {at}",
            _of(water.kinematic_viscosity, celsius, 1.0),
            nu,
            _IAPWS,
            "m²/s",
            rel=1e-4,
            why=rounded,
        ),
        Check(
            f"vapour pressure of water {at}",
            _of(water.vapour_pressure, celsius, 1e3),
            p,
            _IAPWS,
            "kPa",
            rel=1.5e-4,
            why=rounded,
        ),
    ]


def _fahrenheit(fahrenheit: float) -> Check:
    return Check(
        f"kinematic viscosity of water at {fahrenheit} °F",
        _of(water.kinematic_viscosity, _celsius(fahrenheit), _FOOT**2),
        _BY_FAHRENHEIT[fahrenheit],
        _IAPWS,
        "ft²/s",
        rel=1e-4,
        why="half a unit of the fifth printed digit, and 3e-5 between the two formulas",
    )


def _institute(fahrenheit: float) -> list[Check]:
    rho, p = _HYDRAULIC_INSTITUTE[fahrenheit]
    return [
        Check(
            f"density of water at {fahrenheit} °F, Hydraulic Institute",
            _of(water.density, _celsius(fahrenheit), _LB_FT3),
            rho,
            _HI,
            "lb/ft³",
            rel=6e-4,
            why="the table rests on rounded specific gravities, 0.03 to 0.05 % below IAPWS",
        ),
        Check(
            f"vapour pressure of water at {fahrenheit} °F, Hydraulic Institute",
            _of(water.vapour_pressure, _celsius(fahrenheit), _PSI),
            p,
            _HI,
            "psi",
            rel=1.5e-3,
            why="an older steam table: up to 0.14 % below IAPWS at 100 °F",
        ),
    ]


CHECKS: list[Check] = [
    *(check for celsius in _BY_CELSIUS for check in _iapws(celsius)),
    *(_fahrenheit(fahrenheit) for fahrenheit in _BY_FAHRENHEIT),
    *(check for fahrenheit in _HYDRAULIC_INSTITUTE for check in _institute(fahrenheit)),
    Check(
        "standard gravity",
        lambda: GRAVITY / _FOOT,
        32.1740,
        "Hydraulic Institute, Engineering Data Library, fluid flow",
        "ft/s²",
        abs=6e-5,
        why="half a unit of the last printed digit",
    ),
]
