"""Head lost to friction along a straight pipe that runs full, per unit of its length.

Two laws: Darcy-Weisbach with the Colebrook-White factor, and Hazen-Williams. All SI; every
function broadcasts as numpy does; a NaN stays in its cell and nothing warns. Velocities,
roughnesses and viscosities are 0 or more and bores more than 0: the parts check that, the
kernels do not.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from drainpump.physics import laws
from drainpump.units import FloatArray


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
    v, bore, nu = laws.floats(velocity, diameter, viscosity)
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
    re, relative = laws.floats(reynolds, relative_roughness)
    with np.errstate(all="ignore"):
        return laws.factor_reynolds(re, relative * laws.ROUGH)[0] / re


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
    column needs no branch of its own. `friction_factor` says how f is found.

    Examples
    --------
    >>> print(f"{darcy_slope(2.1187, 0.5, 0.046e-3, 1.023e-6) * 100:.3f}")
    0.608
    """
    with np.errstate(all="ignore"):
        return laws.darcy_weisbach(diameter, roughness, viscosity).slope(*laws.floats(velocity))


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
    (`laws.HAZEN_WILLIAMS_US`), 0.8492 in metres (`laws.HAZEN_WILLIAMS_SI`). For water at ordinary
    temperature only: it knows no viscosity.

    References
    ----------
    .. [1] A. Hazen, G. S. Williams, "Hydraulic Tables", 1905, introduction.

    Examples
    --------
    >>> print(f"{hazen_williams_slope(1.5, 0.04, 150):.5f}")
    0.05769
    """
    with np.errstate(all="ignore"):
        return laws.hazen_williams(diameter, c).slope(*laws.floats(velocity))
