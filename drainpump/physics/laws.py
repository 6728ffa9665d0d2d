"""The two friction laws for given pipes, what does not depend on the flow worked out once.

Darcy-Weisbach with the Colebrook-White factor, and Hazen-Williams; `drainpump.physics.friction`
says their equations and sources. A solver asks the same pipes many times over. Divisions by a
NaN or by 0 are the caller's to silence.
"""

from __future__ import annotations

from typing import Any, Final, NamedTuple, Protocol

import numpy as np
import numpy.typing as npt

from drainpump.physics.constants import GRAVITY
from drainpump.units import FloatArray

#: Laminar flow up to here, Colebrook's law from `TURBULENT_REYNOLDS`: Hydraulic Institute,
#: "Engineering Data Library", fluid flow, general.
LAMINAR_REYNOLDS: Final = 2000.0
TURBULENT_REYNOLDS: Final = 4000.0

#: Constant of V = k C R^0.63 S^0.54 with V in ft/s and R in ft (A. Hazen, G. S. Williams,
#: "Hydraulic Tables", 1905), and the same constant for m/s and m. Printed head-loss forms
#: round it: 10.44 to 10.5 for gpm and inches, where 10.456 is exact.
HAZEN_WILLIAMS_US: Final = 1.318
HAZEN_WILLIAMS_SI: Final = HAZEN_WILLIAMS_US * 0.3048**0.37

_RADIUS_POWER, _SLOPE_POWER = 0.63, 0.54
_LAMINAR_FACTOR = 64.0 / LAMINAR_REYNOLDS
_LN10 = float(np.log(10.0))
#: Colebrook's equation in the form that is solved: p = ROUGH (e/D) Re, exp(q) = _SMOOTH Re
ROUGH, _SMOOTH = _LN10 / (2.0 * 2.51 * 3.7), _LN10 / (2.0 * 2.51)


class Law(Protocol):
    """A friction law of given pipes."""

    def slope(self, velocity: FloatArray) -> FloatArray:
        """Head lost per unit length (m/m) at a velocity (m/s)."""

    def slope_with_derivative(self, velocity: FloatArray) -> tuple[FloatArray, FloatArray]:
        """The same and its derivative by velocity (s/m)."""

    def along(self, length: FloatArray, area: FloatArray) -> Law:
        """The same for whole pipes: head lost (m) at a flow (m³/s), and its derivative."""

    def at(self, key: Any) -> Law:
        """The law of the pipes that a numpy index names."""


class DarcyWeisbach(NamedTuple):
    """Darcy-Weisbach's law of given pipes, made by `darcy_weisbach`."""

    per_velocity: FloatArray  # Reynolds number of a velocity of 1, s/m
    rough: FloatArray  # ROUGH times the relative roughness
    unit: FloatArray  # nu / (2 g D²): times f·Re and the velocity it is the slope, s/m

    def slope(self, velocity: FloatArray) -> FloatArray:
        f_re, _ = factor_reynolds(velocity * self.per_velocity, self.rough)
        return f_re * (velocity * self.unit)

    def slope_with_derivative(self, velocity: FloatArray) -> tuple[FloatArray, FloatArray]:
        # with y = ln(10) / (2 sqrt(f)) Colebrook's equation reads y = q - ln(p + y), p and exp(q)
        # proportional to Re; differentiated implicitly: dS/dV = (2 S / V) w / (1 + w), w = p + y
        re = velocity * self.per_velocity
        f_re, growth = factor_reynolds(re, self.rough, growth=True)
        return f_re * (velocity * self.unit), growth * self.unit

    def along(self, length: FloatArray, area: FloatArray) -> DarcyWeisbach:
        return DarcyWeisbach(self.per_velocity / area, self.rough, self.unit * length / area)

    def at(self, key: Any) -> DarcyWeisbach:
        return DarcyWeisbach(*(a[key] for a in self))


class HazenWilliams(NamedTuple):
    """Hazen-Williams' law of given pipes, made by `hazen_williams`."""

    steepest: FloatArray  # velocity of a slope of 1, m/s

    def slope(self, velocity: FloatArray) -> FloatArray:
        share = velocity / self.steepest
        return share ** (1.0 / _SLOPE_POWER - 1.0) * share

    def slope_with_derivative(self, velocity: FloatArray) -> tuple[FloatArray, FloatArray]:
        share = velocity / self.steepest
        # one power serves both: S = share^(1/0.54), dS/dV = S / (0.54 V)
        rest = share ** (1.0 / _SLOPE_POWER - 1.0)
        return rest * share, rest / (_SLOPE_POWER * self.steepest)

    def along(self, length: FloatArray, area: FloatArray) -> HazenWilliams:
        return HazenWilliams(self.steepest * area / length**_SLOPE_POWER)

    def at(self, key: Any) -> HazenWilliams:
        return HazenWilliams(self.steepest[key])


class EitherLaw(NamedTuple):
    """Darcy-Weisbach's law for some pipes and Hazen-Williams' for the others."""

    is_darcy: npt.NDArray[np.bool_]
    darcy: DarcyWeisbach
    hazen: HazenWilliams

    def slope(self, velocity: FloatArray) -> FloatArray:
        return np.where(self.is_darcy, self.darcy.slope(velocity), self.hazen.slope(velocity))

    def slope_with_derivative(self, velocity: FloatArray) -> tuple[FloatArray, FloatArray]:
        both = zip(
            self.darcy.slope_with_derivative(velocity),
            self.hazen.slope_with_derivative(velocity),
            strict=True,
        )
        slope, derivative = (np.where(self.is_darcy, *each) for each in both)
        return slope, derivative

    def along(self, length: FloatArray, area: FloatArray) -> EitherLaw:
        laws = (law.along(length, area) for law in (self.darcy, self.hazen))
        return EitherLaw(self.is_darcy, *laws)  # type: ignore[arg-type]

    def at(self, key: Any) -> EitherLaw:
        return EitherLaw(self.is_darcy[key], self.darcy.at(key), self.hazen.at(key))


def darcy_weisbach(
    diameter: npt.ArrayLike, roughness: npt.ArrayLike, viscosity: npt.ArrayLike
) -> DarcyWeisbach:
    """Work out `DarcyWeisbach` for pipes of these bores and walls (m) and this water (m²/s)."""
    bore, wall, nu = floats(diameter, roughness, viscosity)
    return DarcyWeisbach(bore / nu, wall / bore * ROUGH, nu / (2.0 * GRAVITY * bore * bore))


def hazen_williams(diameter: npt.ArrayLike, c: npt.ArrayLike) -> HazenWilliams:
    """Work out `HazenWilliams` for pipes of these bores (m) and C."""
    bore, smoothness = floats(diameter, c)
    return HazenWilliams(HAZEN_WILLIAMS_SI * smoothness * (bore / 4.0) ** _RADIUS_POWER)


def floats(*inputs: npt.ArrayLike) -> tuple[FloatArray, ...]:
    """Read each input as an array of floats."""
    return tuple(np.asarray(x, dtype=np.float64) for x in inputs)


def factor_reynolds(
    re: FloatArray, rough: FloatArray, *, growth: bool = False
) -> tuple[FloatArray, FloatArray]:
    """Return f·Re and, if asked for, ``d(f Re²)/dRe``, its growth (else f·Re again).

    ``rough`` is ROUGH times the relative roughness.

    f·Re is finite at rest, where f is not. Below 4000 Colebrook's law is evaluated at 4000,
    which is what the bridge leans on.
    """
    y, w = _colebrook(np.maximum(re, TURBULENT_REYNOLDS), rough)
    factor = (0.5 * _LN10 / y) ** 2
    f_re = factor * re
    rate = 2.0 * f_re * w / (1.0 + w) if growth else f_re
    below = re < TURBULENT_REYNOLDS
    if not below.any():
        return f_re, rate
    # The bridge climbs from 64/2000 to Colebrook's value at 4000. Held at 2000 for slower
    # flow it gives f Re = 64, the laminar law, and a NaN of either input still shows.
    held = np.maximum(re, LAMINAR_REYNOLDS)
    climb = (factor - _LAMINAR_FACTOR) / (TURBULENT_REYNOLDS - LAMINAR_REYNOLDS)
    bridge = (_LAMINAR_FACTOR + climb * (held - LAMINAR_REYNOLDS)) * held
    f_re = np.where(below, bridge, f_re)
    if not growth:
        return f_re, f_re
    slower = np.where(re <= LAMINAR_REYNOLDS, bridge, 2.0 * bridge + climb * held * held)
    return f_re, np.where(below, slower, rate)


def _colebrook(re: FloatArray, rough: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Solve Colebrook's equation as ``y = q - ln(p + y)``; return y and p + y.

    Two quartic steps from a fixed start reach machine precision for Re >= 4000 (D. Clamond,
    "Efficient resolution of the Colebrook equation", Ind. Eng. Chem. Res. 48, 2009,
    p. 3665-3671). The same count everywhere keeps a grid equal to a loop of scalars.
    """
    p = rough * re
    q = np.log(re * _SMOOTH)
    y = q - 0.2
    for _ in range(2):
        w = p + y
        more = 1.0 + w
        error = (np.log(w) + y - q) / more
        y = y - (more + 0.5 * error) * error * w / (more + error * (1.0 + error / 3.0))
    return y, p + y
