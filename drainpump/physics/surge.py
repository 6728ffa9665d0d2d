"""Water hammer and pressure class, rough: what a sudden stop may do to a plastic pipe.

All SI; scalars or arrays, which broadcast.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from drainpump.physics.constants import GRAVITY
from drainpump.units import FloatArray

#: bulk modulus of water near 20 °C, Pa: Wylie & Streeter, *Fluid Transients in Systems*,
#: 1993 (from memory)
BULK_MODULUS: Final = 2.19e9
#: modulus of elasticity of PVC in a short load, Pa (400 000 psi): ASTM D1784 cell class
#: 12454 (from memory)
PVC_MODULUS: Final = 2.758e9
#: long-term design stress of PVC 1120 in water at 73 °F, Pa (2000 psi): ASTM D1785 and
#: D2241 (from memory); warm water takes it down
DESIGN_STRESS: Final = 1.378951e7


def wave_speed(
    bore: npt.ArrayLike,
    wall: npt.ArrayLike,
    density: npt.ArrayLike = 999.0,
    modulus: npt.ArrayLike = PVC_MODULUS,
) -> FloatArray:
    """Speed of a pressure wave in a full pipe.

    Parameters
    ----------
    bore, wall : array_like, m, > 0
        Inside diameter and wall thickness.
    density : array_like, kg/m³
        Of the water.
    modulus : array_like, Pa
        Modulus of elasticity of the wall.

    Returns
    -------
    ndarray, m/s

    Notes
    -----
    ``a = sqrt(K/rho) / sqrt(1 + (K/E)(D/e))``, the thin wall free to stretch. Gas in the
    water slows it much further.

    References
    ----------
    E. B. Wylie, V. L. Streeter, *Fluid Transients in Systems*, 1993, ch. 1 (from memory).

    Examples
    --------
    >>> print(f"{wave_speed(0.052, 0.00416):.0f} m/s")
    448 m/s
    """
    d, e, rho, young = (np.asarray(x, dtype=np.float64) for x in (bore, wall, density, modulus))
    return np.asarray(np.sqrt(BULK_MODULUS / rho / (1 + BULK_MODULUS / young * d / e)))


def joukowsky_head(speed: npt.ArrayLike, change: npt.ArrayLike) -> FloatArray:
    """Head that a sudden change of velocity adds, m: the upper bound of water hammer.

    Notes
    -----
    ``dH = a dV / g``.

    References
    ----------
    N. Joukowsky, "Über den hydraulischen Stoss in Wasserleitungsröhren", Mémoires de
    l'Académie Impériale des Sciences de St.-Pétersbourg, 1898.

    Examples
    --------
    >>> print(round(float(joukowsky_head(450.0, 1.0)), 1))
    45.9
    """
    a, v = np.asarray(speed, dtype=np.float64), np.asarray(change, dtype=np.float64)
    return np.asarray(a * v / GRAVITY)


def return_time(length: npt.ArrayLike, speed: npt.ArrayLike) -> FloatArray:
    """Time 2L/a (s) a wave takes out and back; a stop quicker than this is sudden."""
    return np.asarray(2 * np.asarray(length, dtype=np.float64) / np.asarray(speed))


def pressure_rating(
    outside: npt.ArrayLike, wall: npt.ArrayLike, stress: npt.ArrayLike = DESIGN_STRESS
) -> FloatArray:
    """Pressure (Pa) a plastic pipe holds for good at 73 °F.

    Parameters
    ----------
    outside, wall : array_like, m, > 0
        Outside diameter and least wall.
    stress : array_like, Pa
        Long-term design stress.

    Notes
    -----
    ``P = 2 S t / (OD - t)``, the formula of the pipe standards.

    References
    ----------
    ASTM D1785 and D2241, pressure ratings of PVC pipe (from memory).

    Examples
    --------
    >>> print(f"{pressure_rating(2.375, 0.154) / 6894.757:.0f} psi")
    277 psi
    """
    od, t, s = (np.asarray(x, dtype=np.float64) for x in (outside, wall, stress))
    return np.asarray(2 * s * t / (od - t))
