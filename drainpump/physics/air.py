"""Air in a line: the speed that carries it down a falling run, the pressure at a high point.

All SI; scalars or arrays, which broadcast. The clearing formulas were found in pipes of
some inches and more; in small pipes surface tension helps the air to stay, so they are
rough here. They are given from memory.
"""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from drainpump.errors import wrong
from drainpump.foreign import is_among
from drainpump.physics import water
from drainpump.physics.constants import GRAVITY, STANDARD_ATMOSPHERE
from drainpump.physics.tables import read_table
from drainpump.units import FloatArray

#: what each formula is, by its name
CLEARING: Final = {row["formula"]: row["source"] for row in read_table("air_clearing.csv")}

#: gauge head (m) below which a siphon's high point is not to be relied on: dissolved air comes
#: out well before the vapour pressure. Common practice, no source; -23 ft.
HIGH_POINT_LIMIT: Final = -7.0


def clearing_velocity(
    bore: npt.ArrayLike, sine: npt.ArrayLike, formula: str = "wisner"
) -> FloatArray:
    """Mean velocity that carries trapped air down a falling pipe.

    Parameters
    ----------
    bore : array_like, m, > 0
        Inside diameter.
    sine : array_like, 0 < sine <= 1
        Fall over length along the pipe.
    formula : {"wisner", "escarameia", "kalinske_bliss"}
        ``CLEARING`` says what each is. The first bounds the measured values and is the
        careful one on gentle slopes.

    Returns
    -------
    ndarray, m/s

    Raises
    ------
    InputError
        Unknown formula.

    Notes
    -----
    With the slope angle θ, over ``sqrt(g D)``:
    Wisner et al. ``0.25 sqrt(sin θ) + 0.825``; Escarameia ``0.56 sqrt(sin θ) + 0.61``;
    Kalinske and Bliss, from ``Q² = 0.707 tan θ g D⁵``, ``(4/π) sqrt(0.707 tan θ)``.

    Examples
    --------
    >>> print(clearing_velocity(0.052, 0.1).round(2))
    0.65
    """
    if not is_among(formula, CLEARING):
        raise wrong("formula", formula, f"must be one of {tuple(CLEARING)}", "pick one of them")
    d, s = np.asarray(bore, dtype=np.float64), np.asarray(sine, dtype=np.float64)
    scale = np.sqrt(GRAVITY * d)
    if formula == "wisner":
        return np.asarray(scale * (0.25 * np.sqrt(s) + 0.825))
    if formula == "escarameia":
        return np.asarray(scale * (0.56 * np.sqrt(s) + 0.61))
    with np.errstate(divide="ignore"):
        tangent = s / np.sqrt(1 - s**2)
    return np.asarray(scale * (4 / np.pi) * np.sqrt(0.707 * tangent))


def vapour_limit(celsius: npt.ArrayLike) -> FloatArray:
    """Gauge head (m, negative) at which water boils, under a standard atmosphere.

    Notes
    -----
    ``(p_v - p_atm) / (rho g)``. The atmosphere is that of sea level: take 1.2 m off its
    10.3 m for each 1000 m of height (from memory).

    Examples
    --------
    >>> print(vapour_limit(20.0).round(2))
    -10.11
    """
    weight = water.density(celsius) * GRAVITY
    return np.asarray((water.vapour_pressure(celsius) - STANDARD_ATMOSPHERE) / weight)
