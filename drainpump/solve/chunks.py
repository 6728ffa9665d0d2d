"""A grid of pumps and lines solved in chunks of elements, whatever its size."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from drainpump.parts.pump.bank import Pump
from drainpump.parts.pump.curve import PumpCurve
from drainpump.physics.system import SystemCurve
from drainpump.solve.crossing import Side, cross, end_to_end
from drainpump.solve.grid import Grid, curve_of
from drainpump.units import FloatArray

__all__ = ["Solved", "solve_grid"]

#: elements solved at a time, so that memory stays bounded whatever the grid
_CHUNK = 1 << 16
#: pumps times lines up to which pumps are solved in one go
_TOGETHER = 1 << 12


class Solved(NamedTuple):
    """Flows and codes, (pumps, N), and what goes beside them."""

    flow: FloatArray
    code: npt.NDArray[np.int8]
    several: list[tuple[tuple[int, ...], float]]  # index in the answer, one of its crossings
    #: flow to be reckoned with, (N,), of each pump that is no single falling curve
    reckoned: list[FloatArray | None]


def solve_grid(grid: Grid) -> Solved:
    """Solve pump by pump or, where lines are few, several falling curves at a time."""
    size, inner = grid.level.size, grid.inner
    flow = np.empty((len(grid.pumps), size))
    code = np.empty(flow.shape, dtype=np.int8)
    several: list[tuple[tuple[int, ...], float]] = []
    reckoned = [None if _falls(p) else np.empty(size) for p in grid.pumps]
    full = (len(grid.pumps), len(grid.lines), *inner)
    for start in range(0, size, _CHUNK):
        part = slice(start, start + _CHUNK)
        whole = size <= _CHUNK
        arrays = grid.line if whole else grid.line.map(lambda _, a, part=part: a[..., part])
        line, level = arrays.curve, grid.level[part]
        for some in _batches(grid.pumps, level.size):
            if len(some) > 1:
                flow[some, part], code[some, part] = _together(grid, some, part, line, level)
                continue
            p = some[0]
            flat, held = grid.flat(grid.pumps[p], part), reckoned[p]
            found = flat.cross(line, level)
            flow[p, part], code[p, part] = found.flow, found.code
            if held is not None:
                held[part] = flat.reckoned(found)
            for element, roots in found.several.items():
                index = np.unravel_index(p * size + start + element, full)
                kept = tuple(
                    int(i) for axis, i in enumerate(index) if axis > 1 or grid.listed[axis]
                )
                several += [(kept, float(r)) for r in roots]
    return Solved(flow, code, several, reckoned)


def _falls(pump: Pump) -> bool:
    """True of one curve that falls all the way: its ends tell what is to be reckoned with."""
    return isinstance(pump, PumpCurve) and curve_of(pump).falls


def _batches(pumps: Sequence[Pump], size: int) -> list[list[int]]:
    """Numbers of the pumps that are solved in one go: plain falling curves, so many as fit."""
    many = max(1, _TOGETHER // max(1, size))
    plain = [_falls(p) for p in pumps]
    falling = [i for i, is_plain in enumerate(plain) if is_plain]
    alone = [[i] for i, is_plain in enumerate(plain) if not is_plain]
    return [falling[k : k + many] for k in range(0, len(falling), many)] + alone


def _together(
    grid: Grid, some: list[int], part: slice, line: SystemCurve, level: FloatArray
) -> tuple[FloatArray, npt.NDArray[np.int8]]:
    """Flow and code of several falling pumps against the same lines, (pumps, lines)."""
    pumps = [pump for i in some if isinstance(pump := grid.pumps[i], PumpCurve)]
    every, number = np.tile(np.arange(level.size), len(pumps)), np.arange(len(pumps))
    factors = zip(*(grid.factors(pump) for pump in pumps), strict=True)
    head_factor, flow_factor = (np.concatenate([f[part] for f in each]) for each in factors)
    number = np.repeat(number, level.size)
    side = Side(line.take(every), level[every], head_factor, flow_factor, number)
    found = cross(end_to_end([curve_of(pump) for pump in pumps]), side)
    shape = (len(pumps), level.size)
    return found.flow.reshape(shape), found.code.reshape(shape)
