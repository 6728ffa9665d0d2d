"""A grid of pumps and lines solved in chunks of elements, whatever its size."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from drainpump.parts.pump.bank import Pump
from drainpump.parts.pump.curve import PumpCurve
from drainpump.parts.pump.head_curve import end_to_end
from drainpump.physics.system import SystemCurve
from drainpump.solve.crossing import Crossing, Side, cross
from drainpump.solve.grid import Grid
from drainpump.units import FloatArray

__all__ = ["Solved", "solve_grid"]

#: elements solved at a time, so that memory stays bounded whatever the grid
_CHUNK = 1 << 16
#: pumps times lines up to which pumps are solved in one go
_TOGETHER = 1 << 12


class Solved(NamedTuple):
    """Flows, codes and flows to be reckoned with, (pumps, N), and every other crossing."""

    flow: FloatArray
    code: npt.NDArray[np.int8]
    reckoned: FloatArray
    several: list[tuple[tuple[int, ...], float]]  # index in the answer, one of its crossings


def solve_grid(grid: Grid) -> Solved:
    """Solve pump by pump or, where lines are few, several falling curves at a time."""
    size = grid.level.size
    flow, reckoned = (np.empty((len(grid.pumps), size)) for _ in range(2))
    code = np.empty(flow.shape, dtype=np.int8)
    several: list[tuple[tuple[int, ...], float]] = []
    full = (len(grid.pumps), grid.count, *grid.inner)
    for start in range(0, size, _CHUNK):
        part = slice(start, start + _CHUNK)
        arrays = grid.line if size <= _CHUNK else grid.line.take(part)
        line, level = arrays.curve, grid.level[part]
        for some in _batches(grid.pumps, level.size):
            if len(some) > 1:
                found = _together(grid, some, part, line, level)
            else:
                found = grid.flat(grid.pumps[some[0]], part).cross(line, level)
            rows, shape = (some, (len(some), -1)) if len(some) > 1 else (some[0], (-1,))
            flow[rows, part] = found.flow.reshape(shape)
            code[rows, part] = found.code.reshape(shape)
            reckoned[rows, part] = found.reckoned.reshape(shape)
            for element, roots in found.several.items():
                index = np.unravel_index(some[0] * size + start + element, full)
                where = tuple(
                    int(i) for axis, i in enumerate(index) if axis > 1 or grid.listed[axis]
                )
                several += [(where, float(r)) for r in roots]
    return Solved(flow, code, reckoned, several)


def _falls(pump: Pump) -> bool:
    return isinstance(pump, PumpCurve) and pump.si.curve.falls


def _batches(pumps: Sequence[Pump], size: int) -> list[list[int]]:
    """Numbers of the pumps that are solved in one go: plain falling curves, so many as fit."""
    many = max(1, _TOGETHER // max(1, size))
    plain = [_falls(p) for p in pumps]
    falling = [i for i, is_plain in enumerate(plain) if is_plain]
    alone = [[i] for i, is_plain in enumerate(plain) if not is_plain]
    return [falling[k : k + many] for k in range(0, len(falling), many)] + alone


def _together(
    grid: Grid, some: list[int], part: slice, line: SystemCurve, level: FloatArray
) -> Crossing:
    """Cross several falling pumps with the same lines, (pumps × lines)."""
    pumps = [grid.pumps[i].si for i in some]
    every = np.tile(np.arange(level.size), len(pumps))
    head_factor, flow_factor, number = (
        np.concatenate([grid.spread(f)[part] for f in each])
        for each in zip(*((p.head_factor, p.flow_factor, p.number) for p in pumps), strict=True)
    )
    # each pump's curves stand behind those of the pumps before it
    before = np.cumsum([0, *(p.curve.begin.size for p in pumps[:-1])])
    number = number + np.repeat(before, level.size)
    side = Side(line.take(every), level[every], head_factor, flow_factor, number)
    return cross(end_to_end([p.curve for p in pumps]), side)
