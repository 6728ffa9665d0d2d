"""Filling an empty line, quasi-steadily: the pump faces only what is already full.

With F the water in the line, the flow Q(F, z) is the crossing of the pump with the lift,
the friction and the losses of the filled part, the pit standing z above its off level.
It is worked out once on a table of F and z; then dt/dF = 1 / Q is marched along F, while
the pit gains the inflow and loses what the line takes.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from drainpump import states
from drainpump.parts.line import profile
from drainpump.parts.pit import Pit
from drainpump.physics.system import LineArrays
from drainpump.solve.grid import Grid
from drainpump.solve.operating_point import solve
from drainpump.units import FloatArray

__all__ = ["Filling", "March", "level_of", "make_filling"]

#: nodes along the filling besides the runs' ends, and along the level
_NODES, _LEVELS = 40, 7


class March(NamedTuple):
    """How far a filling came (arrays of one shape)."""

    filled: FloatArray  # m³ in the line when the pit reached its off level, or all
    time: FloatArray  # s
    pit: FloatArray  # m³ above the off level
    reached: npt.NDArray[np.bool_]  # whether the outlet saw water


@dataclass(frozen=True, eq=False)
class Filling:
    """The table of flows, one row for each element of the answer, (E, nodes, levels)."""

    filled: FloatArray  # (E, n) m³ in the line at the nodes, from 0 to all that must fill
    back: FloatArray  # (E, n) of that, what runs back when the pump stops
    flow: FloatArray  # (E, n, m) m³/s
    top: FloatArray  # (E,) m, level of the last column
    area: FloatArray  # (E,) m² of the pit
    body_area: FloatArray  # (E,)
    bend: FloatArray  # (E,) m, top of the pump body above the off level
    #: (E,) status of the first flow that may be less. One past the curve's points is usual
    #: while little is full, and the last point fills the line the slower: no reason to doubt
    code: npt.NDArray[np.int8]

    def take(self, index: npt.NDArray[np.intp]) -> Filling:
        """The elements named by ``index``."""
        return Filling(*(getattr(self, name)[index] for name in self.__dataclass_fields__))

    def march(self, start: FloatArray, inflow: FloatArray, *, dips_full: bool) -> March:
        """Fill from ``start`` (m³ in the pit above off) until all is full or the pit is down.

        ``dips_full`` says that the dips still hold their water from an earlier cycle.
        """
        march = self._steps(start, inflow, dips_full)
        down = march.pit < 0
        count = march.pit.shape[-1] - 1
        # the step in which the pit comes down to the off level, by straight lines within it
        first = np.where(down.any(axis=-1), np.maximum(np.argmax(down, axis=-1), 1), count)[:, None]
        a, b = (
            [np.take_along_axis(x, i, axis=-1)[:, 0] for x in (self.filled, *march)]
            for i in (first - 1, first)
        )
        part = np.where(b[2] < 0, a[2] / np.where(b[2] < 0, a[2] - b[2], 1.0), 1.0)
        filled, time, pit = (x + part * (y - x) for x, y in zip(a, b, strict=True))
        return March(filled, time, np.maximum(pit, 0.0), ~down.any(axis=-1) & np.isfinite(time))

    def left(self, start: FloatArray, inflow: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Water above off (below 0 where it was not enough) and time when all is full."""
        steps = self._steps(start, inflow, False)
        return steps.pit[:, -1], steps.time[:, -1]

    def _steps(self, start: FloatArray, inflow: FloatArray, dips_full: bool) -> _Steps:
        takes = np.diff(self.back if dips_full else self.filled, axis=-1)
        time, pit = [np.zeros_like(start)], [start]
        for i in range(takes.shape[-1]):
            pump = takes[:, i]
            one = pump / self._at(i, level_of(self, pit[-1]))
            ahead = pit[-1] + inflow * one - pump
            # Heun's step: the mean of the rates at both ends
            two = pump / self._at(i + 1, level_of(self, ahead))
            step = np.where(pump > 0, 0.5 * (one + two), 0.0)
            time.append(time[-1] + step)
            pit.append(np.where(np.isinf(step), -np.inf, pit[-1] + inflow * step - pump))
        return _Steps(np.stack(time, axis=-1), np.stack(pit, axis=-1))

    def _at(self, node: int, level: FloatArray) -> FloatArray:
        """Flow at a node, straight between the table's levels."""
        place = np.clip(level / self.top, 0.0, 1.0) * (_LEVELS - 1)
        low = np.minimum(np.nan_to_num(place), _LEVELS - 2).astype(np.intp)[:, None]
        a, b = (np.take_along_axis(self.flow[:, node], low + k, axis=-1)[:, 0] for k in (0, 1))
        flow = a + (place - low[:, 0]) * (b - a)
        # a stalled pump takes for ever; a flow of nothing would only warn
        return np.where(flow > 0, flow, np.where(np.isnan(flow), np.nan, 1e-300))


class _Steps(NamedTuple):
    time: FloatArray  # (E, n)
    pit: FloatArray  # (E, n)


def level_of(fill: Filling, water: FloatArray) -> FloatArray:
    """Level (m above off) at which the pit holds ``water`` (m³ above off)."""
    net = fill.area - fill.body_area
    under = fill.bend * net
    return np.where(water <= under, water / net, fill.bend + (water - under) / fill.area)


def make_filling(grid: Grid, pit: Pit) -> Filling:
    """Work out the flows of every pump and line of ``grid`` over filling and level."""
    inner = grid.inner
    line = grid.line
    share = profile.filling(line)
    volumes = np.broadcast_to(line.area * line.length * share, line.end.shape)
    kept = np.broadcast_to(line.area * line.length * profile.held(line), line.end.shape)
    ends = np.cumsum(volumes, axis=0)
    even = ends[-1] * np.linspace(0.0, 1.0, _NODES).reshape(-1, 1)
    nodes = np.sort(np.concatenate([even, ends[:-1]]), axis=0)  # (n, N)
    full = _full_shares(nodes, volumes, ends)  # (R, n, N)
    back = (full * (volumes - np.minimum(kept, volumes))[:, None]).sum(axis=0)
    off, top = (np.broadcast_to(m.si, inner) for m in (pit._off, pit._depth))
    rows = np.linspace(0.0, 1.0, _LEVELS)
    levels = np.tile((top - off)[..., None] * rows, len(nodes))  # (*inner, n m)
    spread = grid.at_levels(levels)
    op = solve(replace(spread, line=_part_full(line, spread.line, full, share)))
    flow = op.si.reckoned.reshape(-1, len(nodes), _LEVELS)
    unsure = np.where(states.may_be_less(op.si.code), op.si.code, states.OK)
    count = len(grid.pumps)

    def each(quantity: FloatArray) -> FloatArray:
        return np.tile(grid.spread(np.asarray(quantity)), count)

    return Filling(
        np.tile(nodes.T, (count, 1)),
        np.tile(back.T, (count, 1)),
        flow,
        each(pit._depth.si - pit._off.si),
        each(pit._area),
        each(pit._body_area),
        each(np.clip(pit._body_top - pit._off.si, 0.0, None)),
        states.first_failed(unsure.reshape(len(flow), -1)),
    )


def _full_shares(nodes: FloatArray, volumes: FloatArray, ends: FloatArray) -> FloatArray:
    """Share of each run's filling that is done at each node, (R, n, N)."""
    before = (ends - volumes)[:, None]
    with np.errstate(divide="ignore", invalid="ignore"):
        share = (nodes - before) / volumes[:, None]
    # a run that holds no water is there as soon as the water stands before it
    empty = np.broadcast_to((volumes == 0)[:, None], share.shape)
    return np.clip(np.where(empty, np.where(nodes >= before, 1.0, 0.0), share), 0.0, 1.0)


def _part_full(
    line: LineArrays, wide: LineArrays, full: FloatArray, share: FloatArray
) -> LineArrays:
    """The lines as far as they are full: no outlet yet, and no siphon."""
    rise = np.diff(line.end, axis=0, prepend=0.0)
    # what falls past a high point counts from its foot, once water stands there
    climbs = np.where(rise[:, None] >= 0, full, np.where(full > 0, 1.0, 0.0))

    def behind(values: FloatArray) -> FloatArray:
        # (R, n, N) to (R, N n m), the order of the wide grid
        moved = np.swapaxes(values, 1, 2)
        return np.repeat(moved, _LEVELS, axis=-1).reshape(len(values), -1)

    run = behind(full * np.broadcast_to(share, rise.shape)[:, None])
    zero = np.zeros_like(wide.lid)
    return replace(
        wide,
        length=wide.length * run,
        fitting_length=wide.fitting_length * behind(full),
        k=wide.k * behind(full),
        end=np.cumsum(behind(climbs * rise[:, None]), axis=0),
        exit_k=zero,
        lid=zero,
        orifice=zero,
        tail=zero,
        siphon=np.zeros_like(wide.siphon),
    )
