"""Lead and lag floats: the lead pump alone first, all together once the water is higher."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, NamedTuple

import numpy as np
from scipy.optimize import elementwise

from drainpump import units as u
from drainpump.cycling.level_flows import (
    Flows,
    flows_at,
    levels_between,
    time_through,
    time_within,
)
from drainpump.cycling.settled import make_draining
from drainpump.errors import InputError
from drainpump.parts.pit import Pit
from drainpump.parts.pump.bank import PumpBank
from drainpump.solve.grid import Grid, make_grid
from drainpump.units import FloatArray


class Helped(NamedTuple):
    """A bank whose lead falls behind: arrays of the answer's shape."""

    grid: Grid
    both: Flows  # of all pumps, from off to the lag's float
    run: FloatArray  # s, the lead alone up to the lag's float, then all down to off
    most: FloatArray  # cycles per second in the worst case
    at: FloatArray  # and its inflow


class _Stretch(NamedTuple):
    """A part of the way: flows (..., n) at its levels, the water between them (..., n - 1)."""

    flow: FloatArray
    volume: FloatArray


def helped(
    bank: PumpBank, line: Any, pit: Pit, shape: tuple[int, ...], q: FloatArray, empty: FloatArray
) -> Helped:
    """How all pumps of a bank cycle with an inflow that its lead cannot hold.

    ``shape`` is that of the quantities; inflow ``q`` and the water ``empty`` that comes in
    while none runs have the answer's shape.

    Raises
    ------
    InputError
        The lag's float is not above the on level, or it is above the rim.
    """
    off, on, lag = pit.si.off, pit.si.on, _lag_level(bank, pit)
    down, up = levels_between(pit, off, lag, shape), levels_between(pit, on, lag, shape)
    up = replace(up, levels=up.levels + np.broadcast_to(on - off, shape)[..., None])
    grid, lead = (make_grid(pumps, line, np.zeros(shape)) for pumps in (bank, bank.lead))
    both = flows_at(grid, down)
    alone = _stretch(flows_at(lead, up).reckoned, up.volumes)
    together = _stretch(both.reckoned, down.volumes)
    rises = time_through(q[..., None] - alone.flow, alone.volume)
    holds = grid.line.holds.reshape(lead.shape)
    if not holds.all():
        rises = np.where(holds, rises, _refilled(lead, pit, lag, q))
    falls = time_through(together.flow - q[..., None], together.volume)
    return Helped(grid, both, rises + falls, *_worst(empty, alone, together))


def _lag_level(bank: PumpBank, pit: Pit) -> FloatArray:
    lag: FloatArray = bank.si.lag_on
    if np.any(lag <= pit.si.on) or np.any(lag > pit.si.depth):
        given = bank.given
        name = next(k for k in ("lag_on_in", "lag_on_mm") if given.get(k) is not None)
        on, rim = (u.both(level, "in") for level in (pit.si.on, pit.si.depth))
        raise InputError(
            f"{name}={given[name]!r}: must be above the pit's on level {on} and not above its rim "
            f"{rim}; move the lag float."
        )
    return lag


def _stretch(flow: FloatArray, volumes: FloatArray) -> _Stretch:
    return _Stretch(flow, np.broadcast_to(volumes, (*flow.shape[:-1], volumes.shape[-1])))


def _refilled(lead: Grid, pit: Pit, lag: FloatArray, q: FloatArray) -> FloatArray:
    """Time of the lead alone where it fills its line first, then rises to the lag's float."""
    draining = make_draining(lead, pit)
    inflow = np.broadcast_to(q, lead.shape).reshape(-1, 1)
    found = draining.at(inflow)
    top = lead.spread(pit.si.volume_between(pit.si.off, lag))[:, None]
    rise = time_within(draining.stored, -draining.flow, -inflow, (found.left, top))
    return np.asarray((found.filling + rise).reshape(lead.shape))


def _worst(empty: FloatArray, alone: _Stretch, together: _Stretch) -> tuple[FloatArray, FloatArray]:
    """Most cycles per second with the lag helping, and the inflow that brings them.

    The cycle empty/q + rise/(q - Q_lead) + fall/(Q_all - q) is convex in q: its shortest
    lies where the derivative is zero, between the lead's flow and all the pumps' at off. A
    line that drains back is taken as full for it: filling is a small part of so long a run.
    """
    low, high = alone.flow.max(axis=-1), together.flow.min(axis=-1)
    shape = low.shape
    rate, worst = np.zeros(low.size), np.full(low.size, np.nan)
    can = np.flatnonzero((high > low * (1 + 1e-9)).ravel())
    if can.size:
        a, b = low.ravel(), high.ravel()
        v = np.broadcast_to(empty, shape).ravel()
        (one, rise), (all_, fall) = (
            (s.flow.reshape(low.size, -1), s.volume.reshape(low.size, -1))
            for s in (alone, together)
        )

        def slope(share: FloatArray, i: Any) -> FloatArray:
            q = a[i] + share * (b[i] - a[i])
            up, down = q[..., None] - one[i], all_[i] - q[..., None]
            return np.asarray(
                -v[i] / q**2
                - (rise[i] / (up[..., :-1] * up[..., 1:])).sum(axis=-1)
                + (fall[i] / (down[..., :-1] * down[..., 1:])).sum(axis=-1)
            )

        ends = (np.full(can.size, 1e-9), np.full(can.size, 1 - 1e-9))
        found = elementwise.find_root(slope, ends, args=(can,))
        q = a[can] + found.x * (b[can] - a[can])
        up_s = time_through(q[:, None] - one[can], rise[can])
        down_s = time_through(all_[can] - q[:, None], fall[can])
        worst[can], rate[can] = q, 1.0 / (v[can] / q + up_s + down_s)
    return rate.reshape(shape), worst.reshape(shape)
