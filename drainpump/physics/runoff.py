"""Surface runoff: rational method, curve number, time of concentration. SI throughout.

Formulas that come with their own units (feet, minutes, inches) are turned once, here,
with the exact factors; which published constant is used is stated where sources differ.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from drainpump.errors import InputError
from drainpump.foreign import nearest
from drainpump.physics.tables import read_table, row_of
from drainpump.units import FloatArray

_FOOT, _INCH = 0.3048, 0.0254
#: Kirpich's constant with feet and minutes: 0.0078 in most print, 0.007 in NRCS, National
#: Engineering Handbook part 630 ch. 15 (2010), eq. 15A-1
KIRPICH = 0.0078


class Coefficient(NamedTuple):
    """Range of a surface's runoff coefficient, and where it comes from."""

    low: float
    high: float
    source: str


def surfaces() -> list[str]:
    """Names that `coefficient` knows."""
    return [row["surface"] for row in read_table("runoff.csv")]


def coefficient(surface: str) -> Coefficient:
    """Range of the runoff coefficient of a surface.

    Raises
    ------
    InputError
        Unknown surface; the nearest are named.

    Examples
    --------
    >>> coefficient("roof")[:2]
    (0.75, 0.95)
    """
    first = str(surface).strip().lower().rstrip("s")
    alike = [name for name in surfaces() if first and name.startswith(first)]
    row = row_of("runoff.csv", "surface", surface, "runoff: surfaces", alike)
    source = f"{row['source']}; {row['certainty']}"
    return Coefficient(float(row["low"]), float(row["high"]), source)


def rational(runoff: npt.ArrayLike, intensity: npt.ArrayLike, area: npt.ArrayLike) -> FloatArray:
    """Peak flow Q = C i A (m³/s), from a coefficient, a rate of rain (m/s) and an area (m²).

    In feet, seconds, inches per hour and acres the factor is 43560/(12 × 3600) = 1.00833.

    References
    ----------
    FHWA, *Highway Hydrology*, HDS-2, 2nd ed., 2002, ch. 5.
    """
    return np.asarray(
        np.asarray(runoff, dtype=np.float64) * np.asarray(intensity) * np.asarray(area)
    )


def frequency_factor(return_years: float) -> float:
    """Factor on the runoff coefficient for rarer storms; the product is at most 1.

    1.0 to 10 years, 1.1 at 25, 1.2 at 50, 1.25 at 100; between them the next higher.

    References
    ----------
    NRCS training module 206D, *Engineering Hydrology*, rational method.

    Examples
    --------
    >>> frequency_factor(10), frequency_factor(25), frequency_factor(100)
    (1.0, 1.1, 1.25)
    """
    for years, factor in ((10, 1.0), (25, 1.1), (50, 1.2), (100, 1.25)):
        if return_years <= years:
            return factor
    raise InputError(
        f"return_years={return_years!r}: must be at most 100; the published factors end there."
    )


def curve_number(cover: str) -> tuple[float, str]:
    """Curve number of a cover on a soil, such as ``"lawn good, soil C"``, and its source.

    Raises
    ------
    InputError
        Unknown cover or soil group; the nearest are named.

    Examples
    --------
    >>> curve_number("lawn good, soil C")[0]
    74.0
    """
    kind, _, soil = str(cover).strip().lower().partition(", soil ")
    rows = {row["cover"]: row for row in read_table("curve_numbers.csv")}
    known = [*rows]
    if kind not in rows:
        # "lawn" means one of the lawns
        alike = [name for name in known if name.startswith(kind.split(" ")[0])] if kind else []
        hint = f"did you mean {', '.join(map(repr, alike))}?" if alike else nearest(kind, known)
        hint += "" if hint.endswith("?") else "."
        raise InputError(
            f"curve_number={cover!r}: not in the table of covers; {hint} Write it with its soil "
            "group: 'lawn good, soil C'."
        )
    if soil.upper() not in ("A", "B", "C", "D"):
        raise InputError(
            f"curve_number={cover!r}: must name the hydrologic soil group, A to D; write "
            f"{kind + ', soil C'!r} (A drains well, D hardly)."
        )
    source = "USDA SCS, TR-55, 2nd ed., 1986, Table 2-2 (from memory)"
    return float(rows[kind][soil.upper()]), source


def retention(curve_number: npt.ArrayLike) -> FloatArray:
    """Potential retention S (m) of a curve number: 1000/CN - 10, in inches."""
    return np.asarray((1000.0 / np.asarray(curve_number, dtype=np.float64) - 10.0) * _INCH)


def curve_number_depth(rain: npt.ArrayLike, curve_number: npt.ArrayLike) -> FloatArray:
    """Depth that runs off (m) of a storm's rain (m) by its curve number, 0 < CN <= 100.

    ``(P - 0.2 S)² / (P + 0.8 S)``, nothing below 0.2 S.

    References
    ----------
    USDA SCS, *Urban Hydrology for Small Watersheds*, TR-55, 2nd ed., 1986, ch. 2.

    Examples
    --------
    >>> print(f"{curve_number_depth(8 * 0.0254, 80) / 0.0254:.3f} in")
    5.625 in
    """
    p, s = np.asarray(rain, dtype=np.float64), retention(curve_number)
    with np.errstate(divide="ignore", invalid="ignore"):
        depth = np.maximum(p - 0.2 * s, 0.0) ** 2 / (p + 0.8 * s)
    return np.asarray(np.where(p > 0, depth, 0.0 * p))


# -- time of concentration, s; lengths m, slopes as ratios


def sheet(
    length: npt.ArrayLike, n: npt.ArrayLike, rain: npt.ArrayLike, slope: npt.ArrayLike
) -> FloatArray:
    """Sheet flow of at most 300 ft: T(h) = 0.007 (n L)^0.8 / (P^0.5 s^0.4), ft and in.

    ``rain`` is the 2-year 24-hour depth, m.

    References
    ----------
    USDA SCS, *Urban Hydrology for Small Watersheds*, TR-55, 2nd ed., 1986, eq. 3-3.
    """
    feet, inches = np.asarray(length) / _FOOT, np.asarray(rain) / _INCH
    hours = 0.007 * (np.asarray(n) * feet) ** 0.8 / (inches**0.5 * np.asarray(slope) ** 0.4)
    return np.asarray(3600.0 * hours)


def shallow(length: npt.ArrayLike, slope: npt.ArrayLike, paved: npt.ArrayLike) -> FloatArray:
    """Shallow concentrated flow at 16.1345 s^0.5 ft/s, 20.3282 s^0.5 on pavement.

    References
    ----------
    USDA SCS, *Urban Hydrology for Small Watersheds*, TR-55, 2nd ed., 1986, appendix F.
    """
    speed = np.where(paved, 20.3282, 16.1345) * np.sqrt(slope) * _FOOT
    return np.asarray(np.asarray(length) / speed)


def nrcs_lag(
    length: npt.ArrayLike, curve_number: npt.ArrayLike, slope: npt.ArrayLike
) -> FloatArray:
    """NRCS lag: Tc = L/0.6, L(h) = l^0.8 (S + 1)^0.7 / (1900 Y^0.5), ft, in and percent.

    References
    ----------
    NRCS, *National Engineering Handbook*, part 630 ch. 15, 2010, eq. 15-4.
    """
    feet, kept = np.asarray(length) / _FOOT, retention(curve_number) / _INCH
    hours = feet**0.8 * (kept + 1) ** 0.7 / (1900 * np.sqrt(100 * np.asarray(slope)))
    return np.asarray(3600.0 * hours / 0.6)


def kinematic(
    length: npt.ArrayLike, n: npt.ArrayLike, intensity: npt.ArrayLike, slope: npt.ArrayLike
) -> FloatArray:
    """Kinematic wave over a plane: t(min) = 6.9 / i^0.4 (n L / S^0.5)^0.6, mm/h and m.

    References
    ----------
    FHWA, *Highway Hydrology*, HDS-2, 2nd ed., 2002, ch. 2 (6.9 in SI, 0.93 in ft and in/h).
    """
    rate = np.asarray(intensity) * 3.6e6
    minutes = 6.9 / rate**0.4 * (np.asarray(n) * np.asarray(length) / np.sqrt(slope)) ** 0.6
    return np.asarray(60.0 * minutes)


def kirpich(length: npt.ArrayLike, slope: npt.ArrayLike, constant: float = KIRPICH) -> FloatArray:
    """Kirpich: t(min) = constant × L^0.77 S^-0.385, ft. The constant is 0.0078 or 0.007.

    Examples
    --------
    >>> [round(float(kirpich(304.8, 0.01, c)) / 60, 2) for c in (0.007, 0.0078)]
    [8.42, 9.38]
    """
    feet = np.asarray(length) / _FOOT
    return np.asarray(60.0 * constant * feet**0.77 * np.asarray(slope, dtype=float) ** -0.385)


def faa(length: npt.ArrayLike, runoff: npt.ArrayLike, slope: npt.ArrayLike) -> FloatArray:
    """FAA: t(min) = 1.8 (1.1 - C) L^0.5 / S^(1/3), ft and percent.

    References
    ----------
    FAA Advisory Circular 150/5320-5 (form seen second-hand).
    """
    feet, percent = np.asarray(length) / _FOOT, 100 * np.asarray(slope)
    return np.asarray(60.0 * 1.8 * (1.1 - np.asarray(runoff)) * np.sqrt(feet) / np.cbrt(percent))


def sheet_n(surface: str) -> float:
    """Manning's n of sheet flow on a surface.

    >>> sheet_n("short grass")
    0.15
    """
    return float(row_of("sheet_flow_n.csv", "surface", surface, "n: sheet flow")["n"])
