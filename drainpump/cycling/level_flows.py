"""The pump's flow at the levels of the pit, as counted on and as reckoned with.

Between neighbouring levels a flow is taken as linear in the stored volume V, for which the
time to go from one volume to another,

    integral of dV / n(V),

n being the net flow that moves the water, is exact however near n comes to nothing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
from scipy.optimize import elementwise

from drainpump import states
from drainpump.parts.pit import Pit
from drainpump.solve.grid import Grid
from drainpump.solve.operating_point import solve
from drainpump.units import FloatArray

#: levels at which the pump-down is cut, as shares of the drawdown: closer together towards
#: the off level, where the flow is least and an inflow near to it holds the pump up longest
_SHARES = np.linspace(0.0, 1.0, 33) ** 2
#: the same of the height from the on level to the rim
_ABOVE = np.linspace(0.0, 1.0, 9)[1:]


@dataclass(frozen=True, eq=False)
class Nodes:
    """Levels above off (..., n), rising from 0, and the water between them (..., n - 1)."""

    levels: FloatArray
    volumes: FloatArray

    def at(self, inner: tuple[int, ...], numbers: Any) -> Nodes:
        """Those of the numbered ones of flat elements, (N, n)."""
        if self.levels.ndim == 1:
            return self
        rows = (np.broadcast_to(a, (*inner, a.shape[-1])) for a in (self.levels, self.volumes))
        return Nodes(*(a.reshape(-1, a.shape[-1])[numbers % math.prod(inner)] for a in rows))


def levels_of(pit: Pit, shape: tuple[int, ...]) -> Nodes:
    """Cut the drawdown at `_SHARES` and at the top of the pump body."""
    return levels_between(pit, pit.si.off, pit.si.on, shape)


def levels_between(pit: Pit, low: FloatArray, high: FloatArray, shape: tuple[int, ...]) -> Nodes:
    """The same between two levels of the pit (m above its floor), counted from the lower."""
    low, high = (np.broadcast_to(level, shape) for level in (low, high))
    return _nodes(pit, low, high - low, (high - low) * _stacked(_SHARES, shape))


def levels_to_rim(pit: Pit, shape: tuple[int, ...]) -> Nodes:
    """The same, and on from the on level to the rim."""
    off, on, rim = (np.broadcast_to(z, shape) for z in (pit.si.off, pit.si.on, pit.si.depth))
    cuts = (on - off) * _stacked(_SHARES, shape), (on - off) + (rim - on) * _stacked(_ABOVE, shape)
    return _nodes(pit, off, rim - off, np.concatenate(cuts))


def _stacked(shares: FloatArray, shape: tuple[int, ...]) -> FloatArray:
    # levels on axis 0, so that the pit's own arrays broadcast behind them
    return shares.reshape(-1, *[1] * len(shape))


def _nodes(pit: Pit, off: FloatArray, top: FloatArray, cuts: FloatArray) -> Nodes:
    bend = np.broadcast_to(np.clip(pit.si.body_top - off, 0.0, top), off.shape)
    z = np.sort(np.concatenate([cuts, bend[None]]), axis=0)
    volumes = pit.si.volume_between(off + z[:-1], off + z[1:])
    return Nodes(np.moveaxis(z, 0, -1), np.moveaxis(volumes, 0, -1))


class Flows(NamedTuple):
    """Pump flow at each level and its status code, (..., n), from off to on."""

    reckoned: FloatArray  # what times and starts are worked out of
    counted: FloatArray  # what the pit can rely on
    code: Any

    def behind(self, lead: int, axes: int) -> Flows:
        """The same with so many axes of one behind the leading ones, to broadcast with others."""
        shape = np.shape(self.code)
        wide = (*shape[:lead], *[1] * axes, *shape[lead:])
        return Flows(*(a.reshape(wide) for a in self))

    @property
    def status(self) -> Any:
        """The first from off upwards that is not ok."""
        return states.NAMES[states.first_failed(self.code)]

    @property
    def more(self) -> Any:
        return states.may_be_more(self.code).any(axis=-1)

    @property
    def less(self) -> Any:
        return states.may_be_less(self.code).any(axis=-1)

    def in_doubt(self, inflow: FloatArray) -> Any:
        """Where an inflow lies between what is counted on and what is reckoned with."""
        q = inflow[..., None]
        return ((q >= self.counted) & (q < self.reckoned)).any(axis=-1) & (inflow > 0)


def flows_at(grid: Grid, nodes: Nodes) -> Flows:
    """Solve a grid at every level."""
    op = solve(grid.at_levels(nodes.levels))
    shape = (*grid.shape, nodes.levels.shape[-1])
    return Flows(*(a.reshape(shape) for a in (op.si.reckoned, op.si.counted, op.si.code)))


def time_through(net: FloatArray, volumes: FloatArray) -> FloatArray:
    """Time to move ``volumes`` (..., n - 1) at net flows (..., n); infinite where it stands still.

    Zero or less anywhere on the way is never got past.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        low, growth = net[..., :-1], np.diff(net) / net[..., :-1]
        # the integral of a linear flow; its limit where the flow stays as it is
        mean = np.where(growth == 0, 1.0, np.log1p(growth) / growth)
        total = (volumes / low * mean).sum(axis=-1)
    stuck = (net <= 0).any(axis=-1)
    unknown = np.isnan(net).any(axis=-1) | np.isnan(volumes).any(axis=-1)
    return np.where(unknown, np.nan, np.where(stuck, np.inf, total))


def at_volume(stored: FloatArray, flow: FloatArray, volume: FloatArray) -> FloatArray:
    """Flow (E, m) at volumes (E, m), straight between the nodes (E, n), held at both ends."""
    place = (stored[:, None, :] <= volume[..., None]).sum(axis=-1) - 1
    low = np.clip(place, 0, stored.shape[-1] - 2)
    v, w, a, b = (np.take_along_axis(x, low + k, axis=-1) for x in (stored, flow) for k in (0, 1))
    # levels that fall together make a cell of no width
    with np.errstate(divide="ignore", invalid="ignore"):
        share = np.where(w > v, (volume - v) / (w - v), 0.0)
    return np.asarray(a + np.clip(share, 0.0, 1.0) * (b - a))


def time_within(
    stored: FloatArray, flow: FloatArray, inflow: FloatArray, ends: tuple[FloatArray, FloatArray]
) -> FloatArray:
    """Time (E, m) to go between two volumes (E, m) at the net flow ``flow - inflow``.

    ``stored`` and ``flow`` are (E, n); an inflow below 0 adds to the flow.
    """
    low, high = (end[..., None] for end in ends)
    nodes = stored[:, None, :]
    within = np.clip(nodes, low, high)
    at_low, at_high = (at_volume(stored, flow, end)[..., None] for end in ends)
    net = np.where(nodes < low, at_low, np.where(nodes > high, at_high, flow[:, None, :]))
    return time_through(net - inflow[..., None], np.diff(within, axis=-1))


def worst_inflow(fill: FloatArray, flows: FloatArray, volumes: FloatArray) -> FloatArray:
    """Inflow that makes the cycle shortest: where -fill/q² + integral of dV/(Q-q)² is zero.

    Both terms are convex, so the root is the one minimum.
    """
    least = flows.min(axis=-1)
    can = np.flatnonzero((least > 0).ravel() & (fill > 0).ravel())
    worst = np.where(np.isnan(least + fill), np.nan, 0.0).ravel()
    if can.size:
        v, f, w = (
            fill.ravel()[can],
            flows.reshape(-1, flows.shape[-1])[can],
            volumes.reshape(-1, volumes.shape[-1])[can],
        )

        def rate(share: FloatArray, i: Any) -> FloatArray:
            q = share * least.ravel()[can[i]]
            net = f[i] - q[..., None]
            return np.asarray(-v[i] / q**2 + (w[i] / (net[..., :-1] * net[..., 1:])).sum(axis=-1))

        ends = (np.full(can.size, 1e-6), np.full(can.size, 1 - 1e-12))
        found = elementwise.find_root(rate, ends, args=(np.arange(can.size),))
        worst[can] = found.x * least.ravel()[can]
    return worst.reshape(fill.shape)
