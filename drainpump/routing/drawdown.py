"""How stored water moves while a pump runs: closed forms between nodes of volume.

Between two nodes of stored volume S the pump's flow is taken as linear in S, so with an
inflow q the net flow n = q - Q(S) obeys dn/dt = -b n, b = dQ/dS, and everything about the
way from one volume to another is an exponential or a logarithm:

    S(t) = S + n t (1 - e^(-bt)) / (bt),    t = (d / n) ln(1 + x) / x,  x = -b d / n.

Flow rises with the level, so an inflow has at most one volume of rest, which is approached
and never passed. A line that ran empty fills in the steps of a `Priming`.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from functools import cached_property
from math import expm1, inf, log1p
from typing import NamedTuple

import numpy as np

from drainpump.routing.asked import MAINS
from drainpump.units import FloatArray


class Way(NamedTuple):
    """How far stored water came."""

    span: float  # s; infinite where it waits for nothing
    after: float  # m³
    energy: float  # J
    there: bool  # whether the goal was reached


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
    def flows(self) -> list[float]:
        """The flows as plain numbers."""
        return self.flow.tolist()  # type: ignore[no-any-return]

    @cached_property
    def watts(self) -> list[float]:
        """Mean power in each cell, and at the top node."""
        inside = 0.5 * (self.power[1:] + self.power[:-1])
        return [*inside.tolist(), float(self.power[-1])]

    def _cell(self, inflow: float, volume: float) -> tuple[int, float]:
        """Cell of a volume, and the net flow there."""
        nodes = self.nodes
        c = min(max(bisect_right(nodes, volume) - 1, 0), len(nodes) - 2)
        low, high, b = nodes[c], nodes[c + 1], self.slope[c]
        # measured from the nearer end, so that the net flow at a node is the node's own
        if volume - low <= high - volume:
            return c, inflow - self.flows[c] - b * (volume - low)
        return c, inflow - self.flows[c + 1] + b * (high - volume)

    def net_at(self, inflow: float, volume: float) -> float:
        """Inflow less pump flow at a volume, m³/s."""
        return self._cell(inflow, volume)[1]

    def way(
        self, inflow: float, volume: float, goal: int, left: float = inf, charge: float = inf
    ) -> Way:
        """The way from a volume towards a node, cell by cell.

        It ends at the node, with the time ``left`` (s), or with the ``charge`` (J).
        """
        nodes, flows, slope, watts = self.nodes, self.flows, self.slope, self.watts
        c, net = self._cell(inflow, volume)
        up = nodes[goal] > volume
        if not up and volume == nodes[c] and c > goal:
            c -= 1
        gone = energy = 0.0
        while True:
            node = c + up
            far, b, power = inflow - flows[node], slope[c], watts[c]
            # a cell in which the net flow dies out or turns is never crossed
            crossed = net > 0 < far if up else net < 0 > far
            span = _glide_time(nodes[node] - volume, net, b) if crossed else inf
            there = span <= left - gone and span < inf
            span = min(span, left - gone)
            if power * span > charge - energy:
                span, there = (charge - energy) / power, False
            if span == inf:
                return Way(inf, volume, inf, False)
            gone, energy = gone + span, energy + power * span
            if not there:
                after = volume + _glide(net, b, span)
                return Way(gone, min(max(after, nodes[c]), nodes[c + 1]), energy, False)
            volume, net = nodes[node], far
            if node == goal:
                return Way(gone, volume, energy, True)
            c += 1 if up else -1


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


_Table = list[list[float]]


@dataclass(frozen=True, eq=False)
class Priming:
    """Flow and power of one drive while its line fills (SI), straight between the nodes."""

    line: list[float]  # m³ in the line, from 0 to all that runs back
    pit: list[float]  # m³ stored above the off level
    flow: _Table  # m³/s, (line, pit)
    power: _Table  # W

    def at(self, line: float, pit: float) -> tuple[float, float]:
        """Flow and power with so much water in the line and the pit."""
        i, s = _place(self.line, line)
        j, t = _place(self.pit, pit)

        def between(table: _Table) -> float:
            a, b = table[i], table[i + 1]
            low = a[j] + t * (a[j + 1] - a[j])
            return low + s * (b[j] + t * (b[j + 1] - b[j]) - low)

        return between(self.flow), between(self.power)

    def step(self, line: float, pit: float, inflow: float) -> tuple[float, float, float]:
        """The line's next node, and the mean flow and power on the way there.

        The mean of the times that the flows at both ends would take (Heun's step); a flow of
        nothing where the pump stalls before.
        """
        node = self.line[min(bisect_right(self.line, line), len(self.line) - 1)]
        one, watts = self.at(line, pit)
        if one <= 0:
            return node, 0.0, watts
        water = node - line
        ahead = pit + inflow * water / one - water
        two, more = self.at(node, ahead)
        if two <= 0:
            return node, 0.0, watts
        return node, 2.0 / (1.0 / one + 1.0 / two), 0.5 * (watts + more)


def _place(nodes: list[float], value: float) -> tuple[int, float]:
    """Cell of a value and its share of the way through it, held at both ends."""
    i = min(max(bisect_right(nodes, value) - 1, 0), len(nodes) - 2)
    width = nodes[i + 1] - nodes[i]
    share = (value - nodes[i]) / width if width > 0 else 1.0
    return i, min(max(share, 0.0), 1.0)


class Stage(NamedTuple):
    """The pumps that run together: on the full line, and while it fills."""

    drive: Drive
    priming: Priming | None  # None where the line stays full


@dataclass(frozen=True, eq=False)
class Station:
    """One pit with its pumps, in volumes of stored water above the off level (m³)."""

    stages: list[list[Stage | None]]  # by supply, then by how many floats are up
    floats: list[int]  # nodes at which the floats go up, lead first
    overflow: float  # infinite without an overflow level
    rim: float
    returning: float  # runs back from the line at each stop
    tail: Drive | None  # tail water that runs back while no pump runs, as a flow below 0
    battery: float  # J
    kept: float  # share of the discharge that does not soak back

    @property
    def nodes(self) -> list[float]:
        """Stored water at the levels, up to the rim or to the overflow level below it."""
        stage = self.stages[MAINS][1]
        assert stage is not None
        return stage.drive.nodes

    @property
    def working(self) -> float:
        """Water between the off level and the lead pump's float, m³."""
        return self.nodes[self.floats[0]]
