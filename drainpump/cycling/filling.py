"""Filling an empty line, quasi-steadily: the pump faces only what is already full.

With F the water in the line, the flow Q(F, z) is the crossing of the pump with the lift,
the friction and the losses of the filled part, the pit standing z above its off level.
It is worked out once on a table of F and z; then dt/dF = 1 / Q is marched along F, while
the pit gains the inflow and loses what the line takes. This is the one model of a line
without a check valve, which every room that asks for starts or flows goes by.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from drainpump import states
from drainpump.cycling import tail_water
from drainpump.parts.line import profile
from drainpump.parts.pit import Pit
from drainpump.physics.system import LineArrays
from drainpump.solve.grid import Grid
from drainpump.solve.operating_point import OperatingPoint, solve
from drainpump.units import FloatArray

#: nodes along the filling besides the runs' ends, and along the level
_NODES, _LEVELS = 40, 7


def stays_full(grid: Grid) -> npt.NDArray[np.bool_]:
    """Where a check valve holds a line's water or tail water stands in it, (lines × inner,)."""
    return np.asarray(grid.line.holds | tail_water.comes_back(grid.line))


def returned(grid: Grid) -> FloatArray:
    """Water (m³) that runs back from each line at a stop, (lines × inner,)."""
    return np.where(stays_full(grid), 0.0, grid.returning)


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

        Start and inflow are (E, k). ``dips_full`` says that the dips still hold their water
        from an earlier cycle.
        """
        line = np.zeros(np.broadcast_shapes(start.shape, inflow.shape))
        time, pit, down = line, start + line, np.zeros(line.shape, dtype=bool)
        for after, then, left in self._walk(pit, inflow, dips_full):
            # the step in which the pit comes down to the off level, by straight lines within it
            dry = left < 0
            part = np.where(dry, pit / np.where(dry, pit - left, 1.0), 1.0)
            went = (line + part * (after[:, None] - line), time + part * (then - time))
            line, time = (np.where(down, a, b) for a, b in zip((line, time), went, strict=True))
            pit = np.where(down | dry, 0.0, left)
            down = down | dry
        return March(line, time, pit, ~down & np.isfinite(time))

    def lowest(self, start: FloatArray, inflow: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Least water above off on the way, below 0 where it was not enough, and time to fill.

        The front slows as it rises, so the pit may run lowest long before the line is full.
        """
        least, time = start, np.zeros_like(start)
        for _, time, pit in self._walk(start, inflow, False):  # noqa: B007  the last time counts
            least = np.minimum(least, pit)
        return least, time

    def _walk(
        self, start: FloatArray, inflow: FloatArray, dips_full: bool
    ) -> Iterator[tuple[FloatArray, FloatArray, FloatArray]]:
        """Yield water in the line (E,), time and water in the pit (E, k) from node to node."""
        takes = np.diff(self.back if dips_full else self.filled, axis=-1)
        time, pit = np.zeros_like(start), start
        for i in range(takes.shape[-1]):
            water = takes[:, i][:, None]
            one = water / self._at(i, level_of(self, pit))
            ahead = pit + inflow * one - water
            # Heun's step: the mean of the rates at both ends
            two = water / self._at(i + 1, level_of(self, ahead))
            step = np.where(water > 0, 0.5 * (one + two), 0.0)
            time = time + step
            pit = np.where(np.isinf(step), -np.inf, pit + inflow * step - water)
            yield self.filled[:, i + 1], time, pit

    def _at(self, node: int, level: FloatArray) -> FloatArray:
        """Flow at a node, straight between the table's levels."""
        place = np.minimum(np.maximum(level / self.top[:, None], 0.0), 1.0) * (_LEVELS - 1)
        low = np.fmin(place, _LEVELS - 2).astype(np.intp)  # NaN shows in what is made of it
        table, row = self.flow[:, node], np.arange(len(low))[:, None]
        a, b = table[row, low], table[row, low + 1]
        flow = a + (place - low) * (b - a)
        # a stalled pump takes for ever; a flow of nothing would only warn
        return np.where(flow > 0, flow, np.where(np.isnan(flow), np.nan, 1e-300))


def level_of(fill: Filling, water: FloatArray) -> FloatArray:
    """Level (m above off) at which the pit holds ``water`` (E, k), m³ above off."""
    area, bend = fill.area[:, None], fill.bend[:, None]
    net = area - fill.body_area[:, None]
    under = bend * net
    return np.where(water <= under, water / net, bend + (water - under) / area)


class PartFull(NamedTuple):
    """Pumps on lines filled as far as each node, at each level."""

    filled: FloatArray  # (n, N) m³, N lines × inner
    back: FloatArray  # (n, N)
    levels: FloatArray  # (*inner, m) m above off
    op: OperatingPoint  # of shape (..., *inner, n m)

    def table(self, values: Any) -> Any:
        """Values of the operating points as (E, n, m)."""
        return values.reshape(-1, len(self.filled), self.levels.shape[-1])


def part_full(grid: Grid, pit: Pit) -> PartFull:
    """Solve every pump and line of ``grid`` over filling and level."""
    line = grid.line
    share = profile.filling(line)
    all_of = np.broadcast_to(line.area * line.length * share, line.end.shape)
    kept = np.broadcast_to(line.area * line.length * profile.held(line), line.end.shape)
    runs_back = all_of - np.minimum(kept, all_of)
    # what never runs empty never fills
    volumes = np.where(stays_full(grid), 0.0, all_of)
    runs_back = np.minimum(runs_back, volumes)
    ends = np.cumsum(volumes, axis=0)
    even = ends[-1] * np.linspace(0.0, 1.0, _NODES).reshape(-1, 1)
    nodes = np.sort(np.concatenate([even, ends[:-1]]), axis=0)  # (n, N)
    full = _full_shares(nodes, volumes, ends)  # (R, n, N)
    back = (full * runs_back[:, None]).sum(axis=0)
    height = np.broadcast_to(pit.si.depth - pit.si.off, grid.inner)
    levels = height[..., None] * np.linspace(0.0, 1.0, _LEVELS)
    spread = grid.at_levels(np.tile(levels, len(nodes)))  # (*inner, n m)
    op = solve(replace(spread, line=_part_full(line, spread.line, full, share)))
    return PartFull(nodes, back, levels, op)


def make_filling(grid: Grid, pit: Pit) -> Filling:
    """The table of every pump and line of ``grid``, with the flow to be reckoned with."""
    made, count = part_full(grid, pit), len(grid.pumps)
    code = made.op.si.code
    unsure = made.table(np.where(states.may_be_less(code), code, states.OK))
    body_top = np.clip(pit.si.body_top - pit.si.off, 0.0, None)

    def each(quantity: FloatArray) -> FloatArray:
        return np.tile(grid.spread(np.asarray(quantity)), count)

    return Filling(
        np.tile(made.filled.T, (count, 1)),
        np.tile(made.back.T, (count, 1)),
        made.table(made.op.si.reckoned),
        each(pit.si.depth - pit.si.off),
        each(pit.si.area),
        each(pit.si.body_area),
        each(body_top),
        states.first_failed(unsure.reshape(len(unsure), int(np.prod(unsure.shape[1:])))),
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
    return replace(
        wide.open_ended().without("high_point_k", "siphon"),
        length=wide.length * run,
        fitting_length=wide.fitting_length * behind(full),
        k=wide.k * behind(full),
        end=np.cumsum(behind(climbs * rise[:, None]), axis=0),
    )
