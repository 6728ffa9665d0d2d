"""Stations of many cases as flat arrays, and how stored water moves in all of them at once."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from drainpump.routing.flow_tables import Fillings, Stations
from drainpump.units import FloatArray

Index = npt.NDArray[np.intp]
Mask = npt.NDArray[np.bool_]

#: cells that a round goes on through at most
_AHEAD = np.arange(8)[:, None]


class Ways(NamedTuple):
    """How far stored water came; see `drawdown.Way`."""

    span: FloatArray
    after: FloatArray
    energy: FloatArray
    off: Mask  # whether the off level was reached


class Cases:
    """The stations of n cases; a drive is a set of pumps, or ``rest``: none."""

    def __init__(self, stations: Stations, p: Index, k: Index, m: Index) -> None:
        self.rest = stations.rest
        self.drives, self.nodes = stations.rest + 1, stations.volume.shape[1]
        self.stage = stations.stages[p, k, m].ravel()  # (n 4 3)
        volume = stations.volume[m]
        self.top, self.full, self.volume = stations.top[m], volume[:, -1], volume.ravel()  # (n N)
        self.rim, self.overflow = stations.rim[m], stations.overflow[m]
        goals = stations.floats[p, m]
        # of a pump without a lag float the second stands nowhere
        none = np.arange(3) >= stations.count[p][:, None]
        at = np.where(none, np.inf, np.take_along_axis(volume, goals, axis=-1))
        self.goals, self.marks = goals.ravel(), at.ravel()  # (n 3) nodes, m³
        kept, still = stations.kept[m][:, None], np.zeros_like(volume)
        flow = np.stack([*(kept * s.flow[p, k, m] for s in stations.sets), still], axis=1)
        power = np.stack([*(s.power[p, k, m] for s in stations.sets), still], axis=1)
        width = np.diff(volume)[:, None]
        some = width > 0
        slope = np.where(some, np.diff(flow) / np.where(some, width, 1.0), 0.0)
        self.most, self.last_watts = flow[..., -1].ravel(), power[..., -1].ravel()  # (n D)
        self.flow = flow.ravel()  # (n D N)
        self.slope = np.append(slope, slope[..., :1], axis=-1).ravel()  # of the cell above a node
        self.watts = np.append(0.5 * (power[..., 1:] + power[..., :-1]), power[..., :1], -1).ravel()
        self.returning = stations.returning[k, m]
        # what three cycles bring at least: each fills up to the float from what ran back
        self.three = 3 * np.maximum(self.marks[::3] - self.returning, 0.0)
        self._place = p, k, m
        self._fills = [s.filling for s in stations.sets]

    def ways(
        self, case: Index, drive: Index, up: Index, q: FloatArray, volume: FloatArray,
        left: FloatArray,
    ) -> Ways:  # fmt: skip
        """Move below the rim by the level, a few cells, as `drawdown.Drive.way` does all.

        Ends at the next float or the off level, with the time left, or a few nodes on: what is
        then left of the way is for the next round.
        """
        here, base = case * self.nodes, (case * self.drives + drive) * self.nodes
        cell, net = self._cell(here, base, case, q, volume)
        rises = net >= 0
        goal = np.where(rises, self.goals[case * 3 + up], 0)
        cell -= ~rises & (volume == self.volume[here + cell]) & (cell > 0)
        side, ahead = rises.astype(np.intp), np.where(rises, 1, -1)
        cells = cell + ahead * _AHEAD
        nodes = np.clip(cells + side, 0, self.top[case])
        net = np.concatenate([net[None], q - self.flow[base + nodes]])
        stands = np.concatenate([volume[None], self.volume[here + nodes]])
        x = np.diff(net, axis=0) / net[:-1]
        span = np.diff(stands, axis=0) / net[:-1] * np.where(x == 0, 1.0, np.log1p(x) / x)
        # a cell in which the net flow dies out or turns is never crossed; and without an end
        # nobody waits for a pump that stalls on the way down
        stalls = np.isinf(left) & (self.flow[base] <= q)
        span[~(net[:-1] * net[1:] > 0) | stalls] = np.inf
        watts = self.watts[base + np.clip(cells, 0, self.nodes - 1)]
        gone, energy = np.cumsum(span, axis=0), np.cumsum(span * watts, axis=0)
        to_goal = np.abs(goal - cell - side) + 1
        crossed = (gone <= left) & (gone < np.inf) & (to_goal > _AHEAD)
        count = np.count_nonzero(crossed, axis=0)
        # what is left of the last cell, in which the time ends
        at = np.arange(case.size)
        gone, energy = (np.where(count, x[count - 1, at], 0.0) for x in (gone, energy))
        stop = (count == to_goal) | (count == len(_AHEAD))
        rest = np.where(stop, 0.0, left - gone)
        power = watts[np.minimum(count, len(_AHEAD) - 1), at]
        last = np.clip(cell + ahead * count, 0, self.top[case] - 1)
        x = self.slope[base + last] * rest
        after = stands[count, at] + net[count, at] * rest * np.where(x == 0, 1.0, -np.expm1(-x) / x)
        after = np.clip(after, self.volume[here + last], self.volume[here + last + 1])
        after = np.where(stop, stands[count, at], after)
        return Ways(gone + rest, after, energy + power * rest, ~rises & (count == to_goal))

    def _cell(
        self, here: Index, base: Index, case: Index, q: FloatArray, volume: FloatArray
    ) -> tuple[Index, FloatArray]:
        """Cell of each volume, and the net flow there."""
        rows = self.volume.reshape(-1, self.nodes)[case]
        cell = np.count_nonzero(rows <= volume[:, None], axis=-1) - 1
        cell = np.clip(cell, 0, self.top[case] - 1)
        low, high = self.volume[here + cell], self.volume[here + cell + 1]
        below = volume - low <= high - volume
        # measured from the nearer end, so that the net flow at a node is the node's own
        net = q - self.flow[base + cell + ~below]
        return cell, net - self.slope[base + cell] * (volume - np.where(below, low, high))

    def step(
        self, case: Index, drive: Index, q: FloatArray, line: FloatArray, volume: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        """A filling line's next node, mean flow and power on the way, as `priming.Priming.step`."""
        node, flow, watts = np.empty((3, case.size))
        p, k, m = (x[case] for x in self._place)
        for s, fills in enumerate(self._fills):
            of = np.flatnonzero(drive == s)
            if fills is not None and of.size:
                at = p[of], k[of], m[of]
                node[of], flow[of], watts[of] = _step(fills, at, q[of], line[of], volume[of])
        return node, flow, watts


def _step(
    fills: Fillings, at: tuple[Index, ...], q: FloatArray, line: FloatArray, volume: FloatArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Heun's step: the mean of the times that the flows at both ends would take."""
    lines, pits = fills.line[at[1:]], fills.pit[at[2]]
    ahead = np.minimum((lines <= line[:, None]).sum(axis=-1), lines.shape[-1] - 1)
    node = np.take_along_axis(lines, ahead[:, None], axis=-1)[:, 0]

    def flow_at(line: FloatArray, volume: FloatArray) -> tuple[FloatArray, FloatArray]:
        (i, s), (j, t) = _place(lines, line), _place(pits, volume)

        def between(table: FloatArray) -> FloatArray:
            def along(i: Index) -> FloatArray:
                a, b = table[(*at, i, j)], table[(*at, i, j + 1)]
                return np.asarray(a + t * (b - a))

            return along(i) + s * (along(i + 1) - along(i))

        return between(fills.flow), between(fills.power)

    one, watts = flow_at(line, volume)
    water = node - line
    two, more = flow_at(node, volume + q * water / one - water)
    moves = (one > 0) & (two > 0)
    flow = np.where(moves, 2.0 / (1.0 / one + 1.0 / two), 0.0)
    return node, flow, np.where(moves, 0.5 * (watts + more), watts)


def _place(nodes: FloatArray, value: FloatArray) -> tuple[Index, FloatArray]:
    """Cell of a value and its share of the way through it, held at both ends."""
    i = np.clip((nodes <= value[:, None]).sum(axis=-1) - 1, 0, nodes.shape[-1] - 2)
    low, high = (np.take_along_axis(nodes, (i + n)[:, None], axis=-1)[:, 0] for n in (0, 1))
    share = np.where(high > low, (value - low) / np.where(high > low, high - low, 1.0), 1.0)
    return i, np.clip(share, 0.0, 1.0)
