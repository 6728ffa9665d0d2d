"""Water between 0 and 40 °C at atmospheric pressure: density, viscosity, vapour pressure.

Every function takes degrees Celsius (scalar or array of any shape), answers in SI with the
same shape, and answers NaN outside 0 to 40 °C, where its formula is not valid: the parts
refuse such a temperature by name before it gets here. A NaN stays in its cell.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from drainpump.physics.constants import ZERO_CELSIUS
from drainpump.units import FloatArray

# 32 °F and 104 °F, once converted, may lie a rounding error outside the range.
_LOW, _HIGH, _SLACK = 0.0, 40.0, 1e-9

# IAPWS SR6-08(2011): pairs (coefficient in µPa·s, exponent of T/300 K).
_VISCOSITY: Final = ((280.68, -1.9), (511.45, -7.7), (61.131, -19.6), (0.45903, -40.0))

# Wagner and Pruss 1993: critical point, then pairs (coefficient, exponent of 1 - T/Tc).
_CRITICAL_KELVIN, _CRITICAL_PASCAL = 647.096, 22.064e6
_SATURATION: Final = (
    (-7.85951783, 1.0),
    (1.84408259, 1.5),
    (-11.7866497, 3.0),
    (22.6807411, 3.5),
    (-15.9618719, 4.0),
    (1.80122502, 7.5),
)


def density(celsius: npt.ArrayLike) -> FloatArray:
    """Density of air-free water at one atmosphere.

    Parameters
    ----------
    celsius : array_like, °C, 0 <= celsius <= 40
        Water temperature.

    Returns
    -------
    ndarray or float64, kg/m³
        Same shape as ``celsius``; NaN outside the range.

    Notes
    -----
    ``rho = a5 (1 - (t + a1)² (t + a2) / (a3 (t + a4)))`` [1]_. Largest deviation from the
    IAPWS-95 formulation over 0 to 40 °C: 1.2e-6 relative.

    References
    ----------
    .. [1] M. Tanaka, G. Girard, R. Davis, A. Peuto, N. Bignell, "Recommended table for the
       density of water between 0 °C and 40 °C", Metrologia 38, 2001, p. 301-309.

    Examples
    --------
    >>> print(f"{density(20.0):.3f}")
    998.207
    """
    t = _in_range(celsius)
    part: FloatArray = (t - 3.983035) ** 2 * (t + 301.797) / (522528.9 * (t + 69.34881))
    return 999.974950 * (1.0 - part)


def dynamic_viscosity(celsius: npt.ArrayLike) -> FloatArray:
    """Dynamic viscosity of water at 0.1 MPa.

    Parameters
    ----------
    celsius : array_like, °C, 0 <= celsius <= 40
        Water temperature.

    Returns
    -------
    ndarray or float64, Pa·s
        Same shape as ``celsius``; NaN outside the range.

    Notes
    -----
    ``mu = 1e-6 sum(a_i (T/300)^b_i)``, T in K [1]_. Largest deviation from the IAPWS 2008
    formulation over 0 to 40 °C: 3.1e-5 relative.

    References
    ----------
    .. [1] IAPWS SR6-08(2011), "Revised Supplementary Release on Properties of Liquid Water
       at 0.1 MPa", 2011, eq. 7 and table 6.

    Examples
    --------
    >>> print(f"{dynamic_viscosity(20.0):.4e}")
    1.0016e-03
    """
    ratio = (_in_range(celsius) + ZERO_CELSIUS) / 300.0
    return 1e-6 * _power_sum(ratio, _VISCOSITY)


def kinematic_viscosity(celsius: npt.ArrayLike) -> FloatArray:
    """Kinematic viscosity of water at atmospheric pressure, `dynamic_viscosity` / `density`.

    Parameters
    ----------
    celsius : array_like, °C, 0 <= celsius <= 40
        Water temperature.

    Returns
    -------
    ndarray or float64, m²/s
        Same shape as ``celsius``; NaN outside the range.

    Notes
    -----
    Largest deviation from the IAPWS formulations over 0 to 40 °C: 3.0e-5 relative.

    Examples
    --------
    >>> print(f"{kinematic_viscosity(20.0):.4e}")
    1.0034e-06
    """
    return dynamic_viscosity(celsius) / density(celsius)


def vapour_pressure(celsius: npt.ArrayLike) -> FloatArray:
    """Absolute vapour pressure of water on the saturation line.

    Parameters
    ----------
    celsius : array_like, °C, 0 <= celsius <= 40
        Water temperature.

    Returns
    -------
    ndarray or float64, Pa
        Same shape as ``celsius``; NaN outside the range.

    Notes
    -----
    ``ln(p/pc) = (Tc/T) sum(a_i (1 - T/Tc)^b_i)`` [1]_. Largest deviation from the IAPWS-95
    formulation over 0.01 to 40 °C: 7.2e-5 relative; from 0 to 0.01 °C, the triple point, the
    line is carried on.

    References
    ----------
    .. [1] W. Wagner, A. Pruss, "International Equations for the Saturation Properties of
       Ordinary Water Substance", J. Phys. Chem. Ref. Data 22, 1993, p. 783-787, eq. 1.

    Examples
    --------
    >>> print(f"{vapour_pressure(20.0):.1f}")
    2339.2
    """
    kelvin = _in_range(celsius) + ZERO_CELSIUS
    tau = 1.0 - kelvin / _CRITICAL_KELVIN
    exponent = _CRITICAL_KELVIN / kelvin * _power_sum(tau, _SATURATION)
    return _CRITICAL_PASCAL * np.exp(exponent)


def _in_range(celsius: npt.ArrayLike) -> FloatArray:
    """Return the temperature as float64, NaN where the formulas are not valid."""
    t = np.asarray(celsius, dtype=np.float64)
    with np.errstate(invalid="ignore"):
        valid = (t >= _LOW - _SLACK) & (t <= _HIGH + _SLACK)
    return np.where(valid, t, np.nan)


def _power_sum(x: FloatArray, terms: tuple[tuple[float, float], ...]) -> FloatArray:
    total = np.zeros_like(x)
    for coefficient, exponent in terms:
        total = total + coefficient * x**exponent
    return total
