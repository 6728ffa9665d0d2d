"""What a grate in a sag takes in: a weir while shallow, an orifice when deep. SI."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from drainpump.physics.constants import GRAVITY
from drainpump.units import FloatArray

__all__ = ["ORIFICE", "WEIR", "sag_grate"]

#: weir coefficient, m^0.5/s: 3.0 in ft and cfs (1.66 in print for SI)
WEIR = 3.0 * 0.3048**0.5
ORIFICE = 0.67


def sag_grate(depth: npt.ArrayLike, perimeter: npt.ArrayLike, area: npt.ArrayLike) -> FloatArray:
    """Flow (m³/s) into a grate under water ``depth`` (m) deep at its edge.

    ``perimeter`` (m) is the edge that water crosses, without sides against a kerb; ``area``
    (m²) the open area. Both as they are left by leaves and grit.

    Notes
    -----
    The less of ``C_w P d^1.5`` and ``0.67 A (2 g d)^0.5``.

    References
    ----------
    FHWA, *Urban Drainage Design Manual*, HEC-22, grate inlets in sag locations (as given in a
    state highway manual, ch. 10).

    Examples
    --------
    >>> foot, gpm = 0.3048, 15850.323
    >>> print(f"{sag_grate(2 / 12 * foot, 4 * foot, 0.5 * foot**2) * gpm:.0f} gpm")
    366 gpm
    """
    d = np.maximum(np.asarray(depth, dtype=np.float64), 0.0)
    weir = WEIR * np.asarray(perimeter) * d**1.5
    orifice = ORIFICE * np.asarray(area) * np.sqrt(2 * GRAVITY * d)
    return np.asarray(np.minimum(weir, orifice))
