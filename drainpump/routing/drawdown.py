"""How stored water moves while a pump runs: closed forms between nodes of volume.

Between two nodes of stored volume S the pump's flow is taken as linear in S, so with an
inflow q the net flow n = q - Q(S) obeys dn/dt = -b n, b = dQ/dS, and everything about the
way from one volume to another is an exponential or a logarithm:

    S(t) = S + n t (1 - e^(-bt)) / (bt),    t = (d / n) ln(1 + x) / x,  x = -b d / n.

Nothing is stepped through: times between nodes are summed up once for every inflow that
occurs, and an event is found in that table. Flow rises with the level, so an inflow has
at most one volume of rest, which is approached and never passed.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from functools import cached_property
from math import expm1, inf, log1p

import numpy as np

from drainpump.units import FloatArray

__all__ = ["Drive", "Way", "Ways"]


@dataclass(frozen=True, eq=False)
class Drive:
    """What pumps run, as flow and power over the nodes of stored volume (SI)."""

    volume: FloatArray  # (N,) m³ above the off level, rising from 0
    flow: FloatArray  # (N,) m³/s, never falling
    power: FloatArray  # (N,) W, NaN where not known

    @cached_property
    def slope(self) -> list[float]:
        """Change of flow with volume in each cell, 1/s."""
        return (np.diff(self.flow) / np.diff(self.volume)).tolist()  # type: ignore[no-any-return]

    @cached_property
    def nodes(self) -> list[float]:
        """The volumes as plain numbers."""
        return self.volume.tolist()  # type: ignore[no-any-return]

    @cached_property
    def most(self) -> float:
        """Flow at the top node, m³/s."""
        return float(self.flow[-1])

    @cached_property
    def watts(self) -> list[float]:
        """Mean power in each cell, and at the top node."""
        inside = 0.5 * (self.power[1:] + self.power[:-1])
        return [*inside.tolist(), float(self.power[-1])]


class Ways:
    """The ways of stored water under one drive, for each of K inflows."""

    def __init__(self, drive: Drive, inflow: FloatArray) -> None:
        self.drive = drive
        net = inflow[:, None] - drive.flow
        low, high = net[:, :-1], net[:, 1:]
        with np.errstate(divide="ignore", invalid="ignore"):
            growth = (high - low) / low
            mean = np.where(growth == 0, 1.0, np.log1p(growth) / growth)
            time = np.abs(np.diff(drive.volume) / low * mean)
        # a cell in which the net flow changes sign or dies out is never crossed
        time[(low > 0) != (high > 0)] = 0.0
        time[(low == 0) | (high == 0)] = 0.0
        self._table = np.zeros((inflow.size, 3, drive.volume.size))
        self._table[:, 0] = net
        np.cumsum(time, axis=1, out=self._table[:, 1, 1:])
        np.cumsum(time * np.array(drive.watts[:-1]), axis=1, out=self._table[:, 2, 1:])
        self._rising = ((net > 0).sum(axis=1) - 1).tolist()
        self._falling = (net >= 0).sum(axis=1).tolist()
        self._made: dict[int, Way] = {}

    def __getitem__(self, k: int) -> Way:
        way = self._made.get(k)
        if way is None:
            net, time, energy = self._table[k].tolist()
            way = Way(self.drive, net, time, energy, self._rising[k], self._falling[k])
            self._made[k] = way
        return way


@dataclass(frozen=True, eq=False, slots=True)
class Way:
    """The way of stored water under one drive and one inflow.

    ``time`` and ``energy`` are summed over the cells from node 0; nodes up to ``rising``
    have net inflow, nodes from ``falling`` on net outflow.
    """

    drive: Drive
    net: list[float]
    time: list[float]
    energy: list[float]
    rising: int
    falling: int

    def _cell(self, volume: float) -> tuple[int, float, float]:
        """Cell of a volume, its slope, and the net flow there."""
        nodes = self.drive.nodes
        c = min(max(bisect_right(nodes, volume) - 1, 0), len(nodes) - 2)
        b = self.drive.slope[c]
        # measured from the nearer end, so that the net flow at a node is the node's own
        if volume - nodes[c] <= nodes[c + 1] - volume:
            return c, b, self.net[c] - b * (volume - nodes[c])
        return c, b, self.net[c + 1] + b * (nodes[c + 1] - volume)

    def net_at(self, volume: float) -> float:
        """Inflow less pump flow at a volume, m³/s."""
        return self._cell(volume)[2]

    def reach(self, volume: float, node: int) -> tuple[float, float]:
        """Time (s) and energy (J) from a volume to a node; infinite where it is not reached."""
        nodes, watts = self.drive.nodes, self.drive.watts
        c, b, net = self._cell(volume)
        if nodes[node] > volume:
            if node > self.rising or net <= 0:
                return inf, inf
            first = _glide_time(nodes[c + 1] - volume, net, b)
            return (
                first + self.time[node] - self.time[c + 1],
                first * watts[c] + self.energy[node] - self.energy[c + 1],
            )
        if node < self.falling or net >= 0:
            return inf, inf
        first = _glide_time(nodes[c] - volume, net, b)
        return (
            first + self.time[c] - self.time[node],
            first * watts[c] + self.energy[c] - self.energy[node],
        )

    def advance(self, volume: float, span: float) -> tuple[float, float]:
        """Volume after a time (s) and the energy (J) used, no event lying between."""
        nodes, time, watts = self.drive.nodes, self.time, self.drive.watts
        c, b, net = self._cell(volume)
        if net > 0 and c < self.rising:
            first = _glide_time(nodes[c + 1] - volume, net, b)
            if span > first:
                at = time[c + 1] + (span - first)
                i = bisect_right(time, at, c + 1, min(self.rising + 1, len(nodes) - 1)) - 1
                left = at - time[i]
                there = nodes[i] + _glide(self.net[i], self.drive.slope[i], left)
                used = first * watts[c] + self.energy[i] - self.energy[c + 1] + left * watts[i]
                return min(there, nodes[i + 1]), used
        elif net < 0 and c >= self.falling:
            first = _glide_time(nodes[c] - volume, net, b)
            if span > first:
                at = time[c] - (span - first)
                i = min(bisect_left(time, at, self.falling, c + 1), c)
                left = time[i] - at
                below = max(i - 1, 0)
                there = nodes[i] + _glide(self.net[i], self.drive.slope[below], left)
                used = first * watts[c] + self.energy[c] - self.energy[i] + left * watts[below]
                return max(there, nodes[below]), used
        return volume + _glide(net, b, span), span * watts[c]


def _glide_time(distance: float, net: float, slope: float) -> float:
    """Time to go a distance within a cell, the net flow at the start being ``net``."""
    if distance == 0:
        return 0.0
    x = -slope * distance / net
    if x <= -1:
        return inf
    return distance / net * (log1p(x) / x if x else 1.0)


def _glide(net: float, slope: float, span: float) -> float:
    """Distance gone in a time within a cell."""
    x = slope * span
    return net * span * (-expm1(-x) / x if x else 1.0)
