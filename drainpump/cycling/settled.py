"""The cycle of a line that nothing holds, once each cycle is like the last.

After a delivering run the line's water R is back in the pit at once. The pump starts at the
on level, or at once where R fills the pit so far; it fills the line (see `filling`), then
draws the pit down through the full line. Tail water that comes back keeps the line full and
fills the pit besides the inflow q, by B(V):

    rest = integral from R to the on level of dV / (q + B(V)),
    run  = filling + integral from what is left in the pit down to off of dV / (Q(V) - q).

Elements are flat, (E,); what is asked at k inflows each is (E, k).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from drainpump.cycling import tail_water
from drainpump.cycling.filling import Filling, make_filling, returned
from drainpump.cycling.level_flows import at_volume, flows_at, levels_to_rim, time_within
from drainpump.parts.pit import Pit
from drainpump.solve.grid import Grid
from drainpump.units import FloatArray

#: rounds in which the inflow that switches most is closed in on, inflows looked at in each
_ROUNDS, _LOOKS = 7, 9


class Settled(NamedTuple):
    """One cycle, (E, k), times in s."""

    run: FloatArray
    rest: FloatArray
    filling: FloatArray  # of the run, until the line is full
    left: FloatArray  # m³ in the pit above off when it is
    reached: Any  # whether the outlet sees water

    @property
    def rate(self) -> FloatArray:
        """Starts per second; none where it never stops or never starts."""
        with np.errstate(divide="ignore"):
            return np.asarray(1.0 / (self.run + self.rest))


@dataclass(frozen=True, eq=False)
class Draining:
    """Pumps, lines and the pit, flat: pumps × lines × inner."""

    fill: Filling
    stored: FloatArray  # (E, n) m³ above off at the levels up to the rim
    flow: FloatArray  # (E, n) m³/s of the full line, to be reckoned with
    tail: FloatArray  # (E, n) m³/s of tail water that comes back while no pump runs
    code: Any  # (E, n)
    working: FloatArray
    returned: FloatArray

    @property
    def room(self) -> FloatArray:
        """Water from the off level to the rim, m³."""
        return self.stored[:, -1]

    def full_flow(self, water: FloatArray) -> FloatArray:
        """Flow of the full line with ``water`` (E, k) above off."""
        return at_volume(self.stored, self.flow, water)

    def at(self, inflow: FloatArray) -> Settled:
        """The settled cycle at inflows (E, k)."""
        working, room = self.working[:, None], self.room[:, None]
        # what has no room in the pit is lost over the rim
        back = np.minimum(self.returned[:, None], room)
        start = np.minimum(np.maximum(working, back), room) + 0.0 * inflow
        march = self.fill.march(start, inflow, dips_full=True)
        off = np.zeros_like(start)
        down = time_within(self.stored, self.flow, inflow, (off, march.pit))
        # where the outlet sees no water, what the pump lifts only comes back
        run = np.where(march.reached, march.time + down, march.time)
        rest = np.zeros_like(start)
        rests = np.flatnonzero((back < working).any(axis=1))
        if rests.size:
            ends = np.minimum(back, working)[rests] + off[rests], working[rests] + off[rests]
            rest[rests] = time_within(self.stored[rests], self.tail[rests], -inflow[rests], ends)
        # a pump that never stops rests for no time
        rest = np.where(np.isinf(run) & (inflow > 0), 0.0, rest)
        return Settled(run, rest, march.time, march.pit, march.reached)

    def worst(self) -> tuple[FloatArray, FloatArray]:
        """Most starts per second over all inflows above none, and the inflow, (E,).

        The inflow is 0 where starts go on rising down to no inflow at all: the line, once
        full, then gives back what starts the pump again.
        """
        least = self.flow.min(axis=-1)
        can = np.flatnonzero(least > 0)
        rate, worst = np.zeros(least.shape), np.zeros(least.shape)
        some, most = self.take(can), least[can][:, None]
        low, high = np.zeros((can.size, 1)), np.full((can.size, 1), 1 - 1e-9)
        steps = np.linspace(0.0, 1.0, _LOOKS)
        for _ in range(_ROUNDS if can.size else 0):
            # closer together towards no inflow, where the rest grows without end
            root = low + (high - low) * steps
            found = np.nan_to_num(some.at(root**2 * most).rate)
            best = np.argmax(found, axis=-1)[:, None]
            rate[can] = np.take_along_axis(found, best, axis=-1)[:, 0]
            at = np.take_along_axis(root, best, axis=-1)[:, 0] ** 2
            worst[can] = at * most[:, 0]
            low, high = (
                np.take_along_axis(root, np.clip(best + d, 0, _LOOKS - 1), axis=-1) for d in (-1, 1)
            )
        unknown = np.isnan(least + self.working)
        return np.where(unknown, np.nan, rate), np.where(unknown, np.nan, worst)

    def take(self, index: Any) -> Draining:
        """The elements named by ``index``."""
        fill, *rest = (getattr(self, name) for name in self.__dataclass_fields__)
        return Draining(fill.take(index), *(a[index] for a in rest))


def make_draining(grid: Grid, pit: Pit) -> Draining:
    """Solve every pump and line of a grid over the levels and the filling."""
    count = len(grid.pumps)
    nodes = levels_to_rim(pit, grid.inner)
    flows = flows_at(grid, nodes)
    wide = nodes.levels.shape[-1]
    volumes = np.broadcast_to(nodes.volumes, (*grid.inner, wide - 1))
    stored = np.concatenate([np.zeros((*grid.inner, 1)), np.cumsum(volumes, axis=-1)], axis=-1)
    elements = (count, grid.count, *grid.inner, wide)
    tail = tail_water.flow_back(grid, nodes.levels)

    def flat(values: Any) -> Any:
        return np.broadcast_to(values, elements).reshape(-1, wide)

    return Draining(
        make_filling(grid, pit),
        flat(stored),
        flows.reckoned.reshape(-1, wide),
        flat(tail),
        flows.code.reshape(-1, wide),
        np.tile(grid.spread(pit.si.working_volume), count),
        np.tile(returned(grid), count),
    )
