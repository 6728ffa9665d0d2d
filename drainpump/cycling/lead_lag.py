"""Lead and lag floats: the lead pump alone first, all together once the water is higher."""

from __future__ import annotations

import copy
from typing import Any

import numpy as np
from scipy.optimize import elementwise

from drainpump import units as u
from drainpump.errors import InputError
from drainpump.parts.pit import Pit
from drainpump.parts.pump.bank import PumpBank
from drainpump.units import FloatArray, Measure

__all__ = ["between", "lag_times", "lag_worst", "with_lag"]


def with_lag(pit: Pit, bank: PumpBank) -> tuple[Pit, Pit]:
    """The pit from its off level up to the lag's float, and from its on level up to there.

    Raises
    ------
    InputError
        The lag's float is not above the on level, or it is above the rim.
    """
    lag = bank._lag_on
    assert lag is not None
    if np.any(lag.si <= pit._on.si) or np.any(lag.si > pit._depth.si):
        raise InputError(
            f"lag_on_{lag.unit}={lag.typed!r}: must be above the pit's on level {pit._on} and not "
            f"above its rim {pit._depth}; move the lag float."
        )
    return between(pit, pit._off, lag), between(pit, pit._on, lag)


def between(pit: Pit, low: Measure, high: Measure) -> Pit:
    """The same pit with other floats."""
    twin = copy.copy(pit)
    vars(twin).update(_off=low, _on=high)
    return twin


def lag_times(
    q: FloatArray, lead: FloatArray, rise: FloatArray, together: FloatArray, fall: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Time the lead is alone from its float to the lag's, and time all take to the off level.

    ``lead`` and ``together`` are flows (..., n) at the levels of each stretch from the
    bottom up, ``rise`` and ``fall`` the water between them (..., n - 1). Infinite where
    the water stands still before it gets there.
    """
    alone = _crossing(q[..., None] - lead, rise)
    return alone, _crossing(together - q[..., None], fall)


def _crossing(net: FloatArray, volumes: FloatArray) -> FloatArray:
    with np.errstate(divide="ignore", invalid="ignore"):
        growth = np.diff(net) / net[..., :-1]
        mean = np.where(growth == 0, 1.0, np.log1p(growth) / growth)
        total = (volumes / net[..., :-1] * mean).sum(axis=-1)
    stuck = (net <= 0).any(axis=-1)
    return np.where(np.isnan(net).any(axis=-1), np.nan, np.where(stuck, np.inf, total))


def lag_worst(
    empty: FloatArray, lead: FloatArray, rise: FloatArray, together: FloatArray, fall: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Most cycles per second with the lag helping, and the inflow that brings them.

    The cycle empty/q + rise/(q - Q_lead) + fall/(Q_all - q) is convex in q: its shortest
    lies where the derivative is zero, between the lead's flow and all the pumps' at off.
    """
    low, high = lead.max(axis=-1), together.min(axis=-1)
    shape = low.shape
    rate, worst = np.zeros(low.size), np.full(low.size, np.nan)
    can = np.flatnonzero((high > low * (1 + 1e-9)).ravel())
    if can.size:
        v = np.broadcast_to(empty, shape).ravel()
        flat = [a.reshape(low.size, -1) for a in (lead, rise, together, fall)]
        a, b = low.ravel(), high.ravel()

        def slope(share: FloatArray, i: Any) -> FloatArray:
            q = a[i] + share * (b[i] - a[i])
            up, down = q[..., None] - flat[0][i], flat[2][i] - q[..., None]
            return np.asarray(
                -v[i] / q**2
                - (flat[1][i] / (up[..., :-1] * up[..., 1:])).sum(axis=-1)
                + (flat[3][i] / (down[..., :-1] * down[..., 1:])).sum(axis=-1)
            )

        ends = (np.full(can.size, 1e-9), np.full(can.size, 1 - 1e-9))
        found = elementwise.find_root(slope, ends, args=(can,))
        q = a[can] + found.x * (b[can] - a[can])
        times = lag_times(q, *(f[can] for f in flat))
        worst[can], rate[can] = q, 1.0 / (v[can] / q + times[0] + times[1])
    return u.frozen(rate.reshape(shape)), u.frozen(worst.reshape(shape))
