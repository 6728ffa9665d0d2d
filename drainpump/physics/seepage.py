"""Water from the ground: steady flow to parallel drains and to a trench. SI.

The conductivity of a soil class spans powers of ten, so everything here is known to an
order of magnitude at best; a measured rise in the pit is the better source.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from drainpump.physics.tables import read_table, row_of
from drainpump.units import FloatArray

#: factor below and above a class average: together two powers of ten, the span that
#: published averages are said to have
BAND = 10.0


class Soil(NamedTuple):
    """Hydraulic conductivity of a soil (m/s): class average and band."""

    low: float
    typical: float
    high: float
    source: str


def soils() -> list[str]:
    """Names that `soil` knows."""
    return [row["soil"] for row in read_table("soils.csv")]


def soil(name: str) -> Soil:
    """Hydraulic conductivity of a soil class as a band: the average, a tenth and ten times.

    Raises
    ------
    InputError
        Unknown soil; the nearest are named.

    Examples
    --------
    >>> band = soil("loam")
    >>> [f"{k * 3.6e5:.2f} cm/h" for k in band[:3]]
    ['0.05 cm/h', '0.50 cm/h', '5.00 cm/h']
    """
    row = row_of("soils.csv", "soil", name, "soil: soils")
    k = float(row["conductivity_cm_per_h"]) / 3.6e5
    return Soil(k / BAND, k, k * BAND, f"{row['source']}; {row['certainty']}")


def hooghoudt(
    below: npt.ArrayLike,
    above: npt.ArrayLike,
    depth: npt.ArrayLike,
    height: npt.ArrayLike,
    spacing: npt.ArrayLike,
) -> FloatArray:
    """Steady recharge (m/s) that parallel drains carry off.

    ``q = (8 K_b d H + 4 K_a H²) / L²``, with the conductivities below and above the drains,
    the (equivalent) depth d of the barrier below them, the height H of the water table
    midway above them and their spacing L. With d the true depth it is the ellipse formula
    ``4K(b² - a²)/L²``.

    References
    ----------
    S. B. Hooghoudt, 1940; as in FAO Irrigation and Drainage Paper 38 (from memory).
    """
    kb, ka, d, h, spaced = (
        np.asarray(x, dtype=np.float64) for x in (below, above, depth, height, spacing)
    )
    return np.asarray((8 * kb * d * h + 4 * ka * h**2) / spaced**2)


def equivalent_depth(
    depth: npt.ArrayLike, spacing: npt.ArrayLike, radius: npt.ArrayLike, *, method: str = "series"
) -> FloatArray:
    """Depth (m) that stands for a deeper barrier, for flow crowds towards a round drain.

    Parameters
    ----------
    depth : array_like, m, >= 0
        True depth of the barrier below the drains.
    spacing, radius : array_like, m, > 0
    method : {"series", "moody"}
        Van der Molen and Wesseling's exact series, or Moody's fit; they agree to 3 %.

    Notes
    -----
    Series: ``d = (π L/8) / [ln(L/(π r)) + F(x)]``, ``x = 2π D/L``, F the sum over odd n of
    ``4 e^(-2nx) / [n (1 - e^(-2nx))]``, or ``π²/(4x) + ln(x/2π)`` below 0.5. Never more
    than the true depth.

    References
    ----------
    W. H. van der Molen and J. Wesseling, *Agricultural Water Management* 19, 1991
    (second-hand). W. T. Moody, *J. Irrigation and Drainage Division ASCE* 92, 1966
    (second-hand).
    """
    d, spaced, r = (np.asarray(x, dtype=np.float64) for x in (depth, spacing, radius))
    ratio = d / spaced
    eight = 8 / np.pi
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        if method == "moody":
            near = d / (1 + ratio * (eight * np.log(d / r) - 3.4))
            found = np.where(ratio <= 0.3, near, spaced / (eight * (np.log(spaced / r) - 1.15)))
        else:
            x = 2 * np.pi * ratio
            small = np.pi**2 / (4 * x) + np.log(x / (2 * np.pi))
            odd = np.arange(1, 40, 2).reshape(-1, *[1] * x.ndim)
            large = (4 * np.exp(-2 * odd * x) / (odd * -np.expm1(-2 * odd * x))).sum(axis=0)
            spread = np.log(spaced / (np.pi * r)) + np.where(x < 0.5, small, large)
            found = np.pi * spaced / 8 / spread
    # near the drain itself the formulas run out: there the flow is not crowded
    return np.asarray(np.where(d <= r, d, np.minimum(np.where(found > 0, found, d), d)))


def trench(
    conductivity: npt.ArrayLike, table: npt.ArrayLike, water: npt.ArrayLike, reach: npt.ArrayLike
) -> FloatArray:
    """Flow (m²/s per length, one side) to a trench that reaches the barrier.

    ``q = K (H² - h²) / (2 L)``: heights of the undisturbed table and of the trench's water
    above the barrier, and the distance L at which the table is undisturbed.

    References
    ----------
    Dupuit's assumption; as for line slots in TM 5-818-5, *Dewatering and Groundwater
    Control*, fig. 4-1 (form second-hand).
    """
    k, high, low, far = (
        np.asarray(x, dtype=np.float64) for x in (conductivity, table, water, reach)
    )
    return np.asarray(k * (high**2 - low**2) / (2 * far))
