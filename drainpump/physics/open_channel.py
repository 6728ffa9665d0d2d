"""Gravity flow: in a round pipe by Manning's equation, full and part full; into a grate.

All SI; every argument is a scalar or an array, and they broadcast. Slope is a ratio
(0.01 for 1 %). With Manning's n and the hydraulic radius R,

    Q = A R^(2/3) S^(1/2) / n.

A round pipe carries a little more just below full than full, at most 1.076 times at
0.938 of the depth (V. T. Chow, *Open-Channel Hydraulics*, 1959, fig. 6-5, from memory).
That peak cannot be relied on, so the capacity is the full-bore flow.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from scipy.optimize import elementwise

from drainpump.physics.constants import GRAVITY
from drainpump.physics.tables import read_table, row_of
from drainpump.units import FloatArray

#: weir coefficient, m^0.5/s: 3.0 in ft and cfs (1.66 in print for SI)
_WEIR = 3.0 * 0.3048**0.5
_ORIFICE = 0.67
#: below this share of the full flow depth and share agree with zero to rounding
_DRY = 1e-12


def full_flow(bore: npt.ArrayLike, slope: npt.ArrayLike, n: npt.ArrayLike) -> FloatArray:
    """Flow of a round pipe just full, under no pressure.

    Parameters
    ----------
    bore : array_like, m, > 0
        Inside diameter.
    slope : array_like, >= 0
        Fall over length.
    n : array_like, > 0
        Manning's n, s/m^(1/3).

    Returns
    -------
    ndarray, m³/s
        The broadcast shape.

    Notes
    -----
    ``Q = (π D²/4) (D/4)^(2/3) S^(1/2) / n``.

    References
    ----------
    V. T. Chow, *Open-Channel Hydraulics*, 1959, eq. 5-6.

    Examples
    --------
    >>> print(f"{full_flow(0.1016, 0.01, 0.012) * 15850.323:.1f} gpm")
    92.5 gpm
    """
    d, s, rough = (np.asarray(a, dtype=np.float64) for a in (bore, slope, n))
    return np.asarray(0.25 * np.pi * d**2 * (0.25 * d) ** (2 / 3) * np.sqrt(s) / rough)


def full_share(ratio: npt.ArrayLike) -> FloatArray:
    """Flow at a depth, as a share of the full flow.

    Parameters
    ----------
    ratio : array_like, 0 <= ratio <= 1
        Depth over bore; NaN outside.

    Returns
    -------
    ndarray
        Q / Q_full, up to 1.076 near 0.938.

    Notes
    -----
    With the wetted angle θ = 2 arccos(1 - 2y/D): A ~ θ - sin θ and P ~ θ, so
    ``Q/Q_full = (θ - sin θ)^(5/3) / (2π θ^(2/3))``.

    Examples
    --------
    >>> print(full_share([0.5, 1.0]).round(6))
    [0.5 1. ]
    """
    y = np.asarray(ratio, dtype=np.float64)
    with np.errstate(invalid="ignore"):
        angle = 2 * np.arccos(1 - 2 * np.where((y >= 0) & (y <= 1), y, np.nan))
    return _of_full(angle)


def depth_ratio(
    flow: npt.ArrayLike, bore: npt.ArrayLike, slope: npt.ArrayLike, n: npt.ArrayLike
) -> FloatArray:
    """Depth of uniform flow over bore; 1 where the flow is above the full flow.

    Parameters
    ----------
    flow : array_like, m³/s, >= 0
    bore, slope, n
        As `full_flow`.

    Returns
    -------
    ndarray
        Depth over bore: at most 0.82 below the full flow, then 1 (the pipe runs full).

    Examples
    --------
    >>> print(f"{depth_ratio(0.5 * full_flow(0.1, 0.01, 0.01), 0.1, 0.01, 0.01):.4f}")
    0.5000
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        part = np.asarray(flow, dtype=np.float64) / full_flow(bore, slope, n)
    # no slope and no flow: an empty pipe
    part = np.where(np.asarray(flow) == 0, 0.0, part)
    ratio = np.where(np.isnan(part), np.nan, np.where(part > 1, 1.0, 0.0))
    with np.errstate(invalid="ignore"):
        inside = (part > _DRY) & (part <= 1)
    if inside.any():
        wanted = np.atleast_1d(part[inside])

        def gap(angle: FloatArray, share: FloatArray) -> FloatArray:
            return _of_full(angle) - share

        # the share rises all the way to an angle of 5.27 (0.938 of the depth)
        ends = np.full(wanted.size, 1e-4), np.full(wanted.size, 5.2)
        found = elementwise.find_root(gap, ends, args=(wanted,))
        ratio[inside] = 0.5 * (1 - np.cos(0.5 * found.x))
    return np.asarray(ratio)


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
    weir = _WEIR * np.asarray(perimeter) * d**1.5
    orifice = _ORIFICE * np.asarray(area) * np.sqrt(2 * GRAVITY * d)
    return np.asarray(np.minimum(weir, orifice))


def materials() -> list[str]:
    """Names that `manning_n` knows."""
    return [row["material"] for row in read_table("manning_n.csv")]


def manning_n(material: str) -> tuple[float, float, str]:
    """Lowest and highest Manning's n of a pipe material, and where they come from.

    Raises
    ------
    InputError
        Unknown material; the nearest are named.

    Examples
    --------
    >>> manning_n("pvc smooth")[:2]
    (0.009, 0.011)
    """
    row = row_of("manning_n.csv", "material", material, "material: Manning's n")
    return float(row["n_low"]), float(row["n_high"]), f"{row['source']}; {row['certainty']}"


def _of_full(angle: FloatArray) -> FloatArray:
    with np.errstate(divide="ignore", invalid="ignore"):
        share = (angle - np.sin(angle)) ** (5 / 3) / (2 * np.pi * angle ** (2 / 3))
    return np.asarray(np.where(angle == 0, 0.0, share))
