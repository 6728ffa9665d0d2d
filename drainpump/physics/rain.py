"""Rain by duration: interpolation, fits, nested storms, the NRCS 24-hour shapes. SI.

A nested storm holds the table's depth of every duration at once: its largest block, its
two largest together and so on are the table's depths for one, two, ... blocks.
"""

from __future__ import annotations

from typing import Literal, TypeAlias, get_args

import numpy as np
import numpy.typing as npt

from drainpump.errors import InputError, wrong
from drainpump.foreign import is_among
from drainpump.physics.tables import read_table
from drainpump.units import FloatArray

#: the NRCS distributions of a day's rain that are tabulated
NrcsKind: TypeAlias = Literal["I", "IA", "II", "III"]


def interpolate(time: npt.ArrayLike, duration: FloatArray, depth: FloatArray) -> FloatArray:
    """Depth (..., K) at durations, log-log between the K known ones; NaN outside them.

    >>> print(interpolate(600.0, np.array([300.0, 1200.0]), np.array([0.01, 0.02])).round(6))
    0.014142
    """
    with np.errstate(divide="ignore"):
        x = np.log(np.asarray(time, dtype=np.float64))
    rows = [
        np.exp(np.interp(x, np.log(duration), np.log(row), left=np.nan, right=np.nan))
        for row in depth.reshape(-1, duration.size)
    ]
    found = np.reshape(rows, (*depth.shape[:-1], *x.shape))
    # a row's own duration is the row, whatever its logarithm rounds to
    for end in (0, -1):
        last = depth[..., end].reshape((*depth.shape[:-1], *(1,) * x.ndim))
        found = np.where(np.isclose(time, duration[end], rtol=1e-12), last, found)
    return np.asarray(found)


def fitted_depth(
    time: npt.ArrayLike, a: npt.ArrayLike, b: npt.ArrayLike, n: npt.ArrayLike
) -> FloatArray:
    """Depth at a duration for the rate i = a/(t + b)^n: a in m/s × min^n, b in s, t in s."""
    t = np.asarray(time, dtype=np.float64)
    return np.asarray(t * np.asarray(a) / ((t + np.asarray(b)) / 60.0) ** np.asarray(n))


def fit(duration: FloatArray, depth: FloatArray) -> tuple[float, float, float]:
    """Fit a, b, n of `fitted_depth` to a table by least squares of the rate's logarithm."""
    from scipy.optimize import least_squares

    rate = np.log(depth / duration)

    def off(x: FloatArray) -> FloatArray:
        log_a, b, n = x
        return np.asarray(log_a - n * np.log((duration + b) / 60.0) - rate)

    start = [rate[0] + 1.0, float(duration[0]), 0.8]
    low, high = [-60.0, 0.0, 0.05], [60.0, 100 * float(duration[-1]), 3.0]
    found = least_squares(off, start, bounds=(low, high), x_scale=[1.0, 600.0, 0.1],
                          xtol=1e-14, ftol=1e-14, gtol=1e-14)  # fmt: skip
    log_a, b, n = found.x
    return float(np.exp(log_a)), float(b), float(n)


def concave(depth: FloatArray) -> FloatArray:
    """Return the least depths (..., n) of 1, 2, ... blocks that are nowhere less and concave.

    Each block more adds no more than the one before it, which a nested storm needs.

    >>> concave(np.array([3.0, 4.0, 7.0])).tolist()
    [3.0, 5.0, 7.0]
    """
    steps = np.arange(depth.shape[-1] + 1, dtype=np.float64)
    found = np.empty_like(depth)
    for at in np.ndindex(depth.shape[:-1]):
        total = np.concatenate([[0.0], depth[at]])
        kept: list[int] = []
        for i in range(total.size):
            # a point under the line between its neighbours on the hull leaves it
            while len(kept) > 1 and (total[i] - total[kept[-2]]) * (kept[-1] - kept[-2]) >= (
                total[kept[-1]] - total[kept[-2]]
            ) * (i - kept[-2]):
                kept.pop()
            kept.append(i)
        found[at] = np.interp(steps, steps[kept], total[kept])[1:]
    return found


def nest(depth: FloatArray, peak: int) -> FloatArray:
    """Lay the increments of depth by duration around a peak block (counted from 1).

    ``depth`` holds the depths of 1, 2, ... blocks. The first increment goes to the peak,
    the next to its right, the next to its left, and so on; when one side is full the rest
    go to the other.

    References
    ----------
    FHWA, *Highway Hydrology*, HDS-2, 2nd ed., 2002, ch. 6 (alternating block).

    Examples
    --------
    >>> nest(np.array([34.3, 41.6, 46.5, 50.8, 53.5, 54.6]), 3).round(1).tolist()
    [2.7, 4.9, 34.3, 7.3, 4.3, 1.1]
    """
    count = depth.shape[-1]
    right, left = list(range(peak, count)), list(range(peak - 2, -1, -1))
    order = [peak - 1]
    while right or left:
        if right:
            order.append(right.pop(0))
        if left:
            order.append(left.pop(0))
    blocks = np.empty_like(depth)
    blocks[..., order] = np.diff(depth, axis=-1, prepend=0.0)
    return blocks


def nrcs_kinds() -> list[str]:
    """The NRCS distributions that are tabulated."""
    return list(get_args(NrcsKind))


def nrcs_share(kind: NrcsKind, time: npt.ArrayLike) -> FloatArray:
    """Share of a 24-hour storm's rain fallen by a time (s), linear between the ordinates.

    >>> print(nrcs_share("II", 12 * 3600.0))
    0.663
    """
    if not is_among(kind, nrcs_kinds()):
        raise wrong("kind", kind, f"must be one of {', '.join(nrcs_kinds())}", "pick the region's")
    rows = read_table("nrcs_24h.csv")
    # type IA is tabulated at fewer times
    known = [(float(row["time_h"]), float(row[kind])) for row in rows if row[kind]]
    hours, share = np.array(known).T
    t = np.asarray(time, dtype=np.float64) / 3600.0
    if np.any((t < 0) | (t > 24 + 1e-9)):
        raise InputError("time: the NRCS distributions span 0 to 24 h; give times within.")
    return np.asarray(np.interp(t, hours, share))
