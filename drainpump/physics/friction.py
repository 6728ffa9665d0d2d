"""Head lost to friction along a straight pipe that runs full, per unit of its length.

Two laws: Darcy-Weisbach with the Colebrook-White factor, and Hazen-Williams. All SI; every
function broadcasts as numpy does; a NaN stays in its cell and nothing warns. Velocities,
roughnesses and viscosities are 0 or more and bores more than 0: the parts check that, the
kernels do not.
"""

from __future__ import annotations

from typing import Any, Final, NamedTuple, Protocol

import numpy as np
import numpy.typing as npt

from drainpump.physics.constants import GRAVITY
from drainpump.units import FloatArray

__all__ = [
    "HAZEN_WILLIAMS_SI",
    "HAZEN_WILLIAMS_US",
    "LAMINAR_REYNOLDS",
    "TURBULENT_REYNOLDS",
    "DarcyWeisbach",
    "EitherLaw",
    "HazenWilliams",
    "Law",
    "darcy_slope",
    "darcy_slope_with_derivative",
    "darcy_weisbach",
    "friction_factor",
    "hazen_williams",
    "hazen_williams_slope",
    "hazen_williams_slope_with_derivative",
    "reynolds",
]

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
#: Colebrook's equation in the form that is solved: p = _ROUGH (e/D) Re, exp(q) = _SMOOTH Re
_ROUGH, _SMOOTH = _LN10 / (2.0 * 2.51 * 3.7), _LN10 / (2.0 * 2.51)


def reynolds(
    velocity: npt.ArrayLike, diameter: npt.ArrayLike, viscosity: npt.ArrayLike
) -> FloatArray:
    """Reynolds number ``V D / nu``.

    Parameters
    ----------
    velocity : array_like, m/s, velocity >= 0
        Mean velocity.
    diameter : array_like, m, diameter > 0
        True bore.
    viscosity : array_like, m²/s, viscosity > 0
        Kinematic viscosity.

    Returns
    -------
    ndarray or float64
        In the shape the inputs broadcast to.

    Examples
    --------
    >>> print(f"{reynolds(1.5, 0.04, 1e-6):.0f}")
    60000
    """
    v, bore, nu = _floats(velocity, diameter, viscosity)
    with np.errstate(all="ignore"):
        return v * (bore / nu)


def friction_factor(reynolds: npt.ArrayLike, relative_roughness: npt.ArrayLike) -> FloatArray:
    """Darcy's friction factor, from laminar to fully rough flow.

    Parameters
    ----------
    reynolds : array_like, reynolds >= 0
        Reynolds number.
    relative_roughness : array_like, 0 <= relative_roughness <= 0.05
        Height of the wall's roughness over the bore. Up to 0.05 is the range of Moody's chart;
        the equation is solved as exactly up to 0.5.

    Returns
    -------
    ndarray or float64
        In the shape the inputs broadcast to; infinite at ``reynolds = 0``, where the head
        lost is nevertheless 0 (see `darcy_slope`).

    Notes
    -----
    Laminar, Re <= 2000: ``f = 64/Re``. Turbulent, Re >= 4000, Colebrook and White [1]_ as
    charted by Moody [2]_: ``1/sqrt(f) = -2 log10(e/(3.7 D) + 2.51/(Re sqrt(f)))``, solved to
    machine precision. Between them no law holds. The bridge is our own choice: f linear in Re
    from one law's end to the other's start, so that head loss is continuous and always rises
    with flow.

    References
    ----------
    .. [1] C. F. Colebrook, "Turbulent flow in pipes, with particular reference to the
       transition region between the smooth and rough pipe laws", J. Inst. Civil Engineers 11,
       1939, p. 133-156.
    .. [2] L. F. Moody, "Friction factors for pipe flow", Trans. ASME 66, 1944, p. 671-684.

    Examples
    --------
    >>> print(f"{friction_factor(400_000, 0.004):.6f}")
    0.028698
    """
    re, relative = _floats(reynolds, relative_roughness)
    with np.errstate(all="ignore"):
        return _factor_reynolds(re, relative * _ROUGH)[0] / re


def darcy_slope(
    velocity: npt.ArrayLike,
    diameter: npt.ArrayLike,
    roughness: npt.ArrayLike,
    viscosity: npt.ArrayLike,
) -> FloatArray:
    """Head lost per unit length by Darcy-Weisbach, ``f V² / (2 g D)``.

    Parameters
    ----------
    velocity : array_like, m/s, velocity >= 0
        Mean velocity.
    diameter : array_like, m, diameter > 0
        True bore.
    roughness : array_like, m, roughness >= 0
        Height of the wall's roughness.
    viscosity : array_like, m²/s, viscosity > 0
        Kinematic viscosity.

    Returns
    -------
    ndarray or float64, m/m
        In the shape the inputs broadcast to; exactly 0 at ``velocity = 0``.

    Notes
    -----
    Computed as ``(f Re) nu V / (2 g D²)``: f Re is 64 in laminar flow, so that a standing
    column needs no case of its own. `friction_factor` says how f is found.

    Examples
    --------
    >>> print(f"{darcy_slope(2.1187, 0.5, 0.046e-3, 1.023e-6) * 100:.3f}")
    0.608
    """
    with np.errstate(all="ignore"):
        return darcy_weisbach(diameter, roughness, viscosity).slope(*_floats(velocity))


def darcy_slope_with_derivative(
    velocity: npt.ArrayLike,
    diameter: npt.ArrayLike,
    roughness: npt.ArrayLike,
    viscosity: npt.ArrayLike,
) -> tuple[FloatArray, FloatArray]:
    """`darcy_slope` and its derivative by velocity, for the price of one.

    Parameters
    ----------
    velocity, diameter, roughness, viscosity : array_like
        As for `darcy_slope`.

    Returns
    -------
    slope : ndarray or float64, m/m
    derivative : ndarray or float64, s/m
        Both in the shape the inputs broadcast to. At Re = 2000 and 4000, where the slope has
        a kink, the derivative is that of the lower and of the higher side.

    Notes
    -----
    Analytic. With ``y = ln(10) / (2 sqrt(f))`` Colebrook's equation reads ``y = q - ln(p + y)``,
    p and exp(q) proportional to Re; differentiated implicitly it gives
    ``d slope/dV = (2 slope/V) w/(1 + w)``, ``w = p + y``.

    Examples
    --------
    >>> slope, derivative = darcy_slope_with_derivative(1.5, 0.04, 1.5e-6, 1.1e-6)
    >>> print(f"{slope:.5f} {derivative:.5f}")
    0.05918 0.07039
    """
    with np.errstate(all="ignore"):
        law = darcy_weisbach(diameter, roughness, viscosity)
        return law.slope_with_derivative(*_floats(velocity))


def hazen_williams_slope(
    velocity: npt.ArrayLike, diameter: npt.ArrayLike, c: npt.ArrayLike
) -> FloatArray:
    """Head lost per unit length by Hazen-Williams.

    Parameters
    ----------
    velocity : array_like, m/s, velocity >= 0
        Mean velocity.
    diameter : array_like, m, diameter > 0
        True bore.
    c : array_like, c > 0
        Hazen-Williams C, 150 for new PVC.

    Returns
    -------
    ndarray or float64, m/m
        In the shape the inputs broadcast to; exactly 0 at ``velocity = 0``.

    Notes
    -----
    ``V = k C R^0.63 S^0.54`` [1]_ solved for S, with R = D/4 and k = 1.318 in feet and seconds
    (`HAZEN_WILLIAMS_US`), 0.8492 in metres (`HAZEN_WILLIAMS_SI`). For water at ordinary
    temperature only: it knows no viscosity.

    References
    ----------
    .. [1] A. Hazen, G. S. Williams, "Hydraulic Tables", 1905, introduction.

    Examples
    --------
    >>> print(f"{hazen_williams_slope(1.5, 0.04, 150):.5f}")
    0.05769
    """
    return hazen_williams_slope_with_derivative(velocity, diameter, c)[0]


def hazen_williams_slope_with_derivative(
    velocity: npt.ArrayLike, diameter: npt.ArrayLike, c: npt.ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """`hazen_williams_slope` and its derivative by velocity, for the price of one.

    Parameters
    ----------
    velocity, diameter, c : array_like
        As for `hazen_williams_slope`.

    Returns
    -------
    slope : ndarray or float64, m/m
    derivative : ndarray or float64, s/m
        Both in the shape the inputs broadcast to; both 0 at ``velocity = 0``.

    Examples
    --------
    >>> slope, derivative = hazen_williams_slope_with_derivative(1.5, 0.04, 150)
    >>> print(f"{slope:.5f} {derivative:.5f}")
    0.05769 0.07122
    """
    with np.errstate(all="ignore"):
        return hazen_williams(diameter, c).slope_with_derivative(*_floats(velocity))


class Law(Protocol):
    """A friction law of given pipes; what does not depend on the flow is worked out.

    A solver asks the same pipes many times over. Divisions by a NaN or by 0 are the caller's
    to silence.
    """

    def slope(self, velocity: FloatArray) -> FloatArray:
        """Head lost per unit length (m/m) at a velocity (m/s)."""

    def slope_with_derivative(self, velocity: FloatArray) -> tuple[FloatArray, FloatArray]:
        """The same and its derivative by velocity (s/m)."""

    def at(self, key: Any) -> Law:
        """The law of the pipes that a numpy index names."""


class DarcyWeisbach(NamedTuple):
    """Darcy-Weisbach's law of given pipes, made by `darcy_weisbach`."""

    per_velocity: FloatArray  # Reynolds number of a velocity of 1, s/m
    rough: FloatArray  # _ROUGH times the relative roughness
    unit: FloatArray  # nu / (2 g D²): times f·Re and the velocity it is the slope, s/m

    def slope(self, velocity: FloatArray) -> FloatArray:
        f_re, _ = _factor_reynolds(velocity * self.per_velocity, self.rough)
        return f_re * (velocity * self.unit)

    def slope_with_derivative(self, velocity: FloatArray) -> tuple[FloatArray, FloatArray]:
        re = velocity * self.per_velocity
        f_re, growth = _factor_reynolds(re, self.rough, growth=True)
        return f_re * (velocity * self.unit), growth * self.unit

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

    def at(self, key: Any) -> EitherLaw:
        return EitherLaw(self.is_darcy[key], self.darcy.at(key), self.hazen.at(key))


def darcy_weisbach(
    diameter: npt.ArrayLike, roughness: npt.ArrayLike, viscosity: npt.ArrayLike
) -> DarcyWeisbach:
    """Work out `DarcyWeisbach` for pipes of these bores and walls (m) and this water (m²/s)."""
    bore, wall, nu = _floats(diameter, roughness, viscosity)
    return DarcyWeisbach(bore / nu, wall / bore * _ROUGH, nu / (2.0 * GRAVITY * bore * bore))


def hazen_williams(diameter: npt.ArrayLike, c: npt.ArrayLike) -> HazenWilliams:
    """Work out `HazenWilliams` for pipes of these bores (m) and C."""
    bore, smoothness = _floats(diameter, c)
    return HazenWilliams(HAZEN_WILLIAMS_SI * smoothness * (bore / 4.0) ** _RADIUS_POWER)


def _floats(*inputs: npt.ArrayLike) -> tuple[FloatArray, ...]:
    return tuple(np.asarray(x, dtype=np.float64) for x in inputs)


def _factor_reynolds(
    re: FloatArray, rough: FloatArray, *, growth: bool = False
) -> tuple[FloatArray, FloatArray]:
    """Return f·Re and, if asked for, ``d(f Re²)/dRe``, its growth (else f·Re again).

    ``rough`` is _ROUGH times the relative roughness.

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
