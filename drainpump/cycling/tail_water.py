"""What an outlet under water lets run back through a line that nothing holds.

The line stays full, and as long as the tail water stands above the pit's level it flows
back by gravity: at flow Q

    surface - level = losses of the line + V² / 2g,

V being the velocity at the pump's end, whose head is lost in the pit; the stopped pump adds
nothing, the hard side. A vented high point lets air in, so that behind it no more comes than
the losses from the outlet up to there allow, and none where it stands above the tail water.
The energy equation is that of any fluid-mechanics text; what is left out is our judgement.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
from scipy.optimize import elementwise

from drainpump.physics import system
from drainpump.physics.constants import GRAVITY
from drainpump.physics.system import LineArrays
from drainpump.solve.grid import Grid
from drainpump.units import FloatArray


def comes_back(line: LineArrays) -> npt.NDArray[np.bool_]:
    """Where tail water stands above the off level, and nothing holds it or is higher."""
    drop = _drop(line, np.zeros_like(line.tail))
    return np.asarray(~line.holds & (line.tail > 0) & (drop > 0))


def flow_back(grid: Grid, levels: FloatArray) -> FloatArray:
    """Flow (m³/s, 0 or more) that comes back at levels above off, (lines, *inner, n)."""
    shape = (grid.count, *grid.inner, levels.shape[-1])
    if not comes_back(grid.line).any():
        return np.zeros(shape)
    wide = grid.at_levels(levels)
    line, level = wide.line, wide.level
    drop, back = _drop(line, level), np.zeros_like(level)
    can = np.flatnonzero(~line.holds & (line.tail > 0) & (drop > 0))
    if can.size:
        # all of the fall to the pit as velocity head bounds the flow; what is left over at a
        # high point is less, but does not: behind it there may be hardly a loss
        fall = line.end[-1] + line.tail - level
        most = line.area[0] * np.sqrt(2 * GRAVITY * np.maximum(fall, 0.0))

        def spare(q: FloatArray, i: Any) -> FloatArray:
            return _left(q, line.take(i), level[i])

        ends = np.zeros(can.size), np.broadcast_to(most, level.shape)[can]
        back[can] = elementwise.find_root(spare, ends, args=(can,)).x
    return back.reshape(shape)


def _drop(line: LineArrays, level: FloatArray) -> FloatArray:
    """From the tail water down to the pit, or to the highest point on the way (m)."""
    return _left(np.zeros_like(level), line, level)


def _left(flow: FloatArray, line: LineArrays, level: FloatArray) -> FloatArray:
    """Head left over at the point that lets least through (m)."""
    lost = system.losses(flow, line)
    # from the outlet back to the start, and to each run's end but the last
    back = lost[-1] - np.concatenate([np.zeros_like(lost[:1]), lost[:-1]])
    start = level + (flow / line.area[0]) ** 2 / (2 * GRAVITY)
    ends = np.broadcast_to(line.end, lost.shape)
    # air comes in at a high point alone: the rest of a line stays full, though it be sucked at
    vented = system.high_points(ends)[:-1] & ~line.siphon
    needed = back + np.concatenate([start[None], np.where(vented, ends[:-1], -np.inf)])
    return np.asarray(ends[-1] + line.tail - needed.max(axis=0))
