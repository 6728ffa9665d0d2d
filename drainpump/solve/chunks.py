"""A grid of pumps and lines solved in chunks of elements, whatever its size."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from drainpump import units as u
from drainpump.parts.pump.bank import Pump
from drainpump.parts.pump.curve import PumpCurve
from drainpump.parts.pump.head_curve import end_to_end
from drainpump.solve.crossing import Crossing, Side, cross
from drainpump.solve.grid import Grid, Where
from drainpump.units import FloatArray

__all__ = ["Solved", "solve_grid"]

#: elements solved at a time, pumps times lines: so that memory stays bounded whatever the grid,
#: and near the processor
_CHUNK = 1 << 14


class Solved(NamedTuple):
    """Flows, codes and flows to be reckoned with, (pumps, N), and every other crossing."""

    flow: FloatArray
    code: npt.NDArray[np.int8]
    reckoned: FloatArray
    several: list[tuple[tuple[int, ...], float]]  # index in the answer, one of its crossings


def solve_grid(grid: Grid) -> Solved:
    """Solve pump by pump or, where lines are few, several curves at a time."""
    size = grid.level.size
    flow, reckoned = (np.empty((len(grid.pumps), size)) for _ in range(2))
    code = np.empty(flow.shape, dtype=np.int8)
    several: list[tuple[tuple[int, ...], float]] = []
    full = (len(grid.pumps), grid.count, *grid.inner)
    for where, part in _parts(grid):
        for some in _batches(grid.pumps, part.level.size):
            pumps = [grid.pumps[i] for i in some]
            if len(some) > 1:
                found = _together(part, pumps)
            else:
                found = part.flat(pumps[0]).cross(part.line.curve, part.level)
            for row, p in enumerate(some):
                its = slice(row * part.level.size, (row + 1) * part.level.size)
                flow[p, where], code[p, where] = found.flow[its], found.code[its]
                reckoned[p, where] = found.reckoned[its]
            for element, roots in found.several.items():
                row, at = divmod(element, part.level.size)
                n = np.arange(size)[where][at]
                index = np.unravel_index(some[row] * size + n, full)
                its_own = tuple(
                    int(i) for axis, i in enumerate(index) if axis > 1 or grid.listed[axis]
                )
                several += [(its_own, float(r)) for r in roots]
    return Solved(u.frozen(flow), u.frozen(code), u.frozen(reckoned), several)


def _parts(grid: Grid) -> Iterator[tuple[Where, Grid]]:
    """Cut a grid in parts of so many elements, lines of unlike many runs apart."""
    size = grid.level.size
    alike = len(set(grid.runs)) == 1
    if grid.where is not None or (alike and size <= _CHUNK):
        yield slice(None), grid
        return
    if alike:
        for start in range(0, size, _CHUNK):
            part = slice(start, min(start + _CHUNK, size))
            yield part, grid.some(part)
        return
    runs = np.repeat(grid.runs, size // grid.count)
    for count in np.unique(runs):
        every = np.flatnonzero(runs == count)
        for start in range(0, every.size, _CHUNK):
            some = every[start : start + _CHUNK]
            yield some, grid.some(some, int(count))


def _batches(pumps: Sequence[Pump], size: int) -> Iterator[list[int]]:
    """Numbers of the pumps that are solved in one go: plain curves of a kind, as many as fit."""
    many = max(1, _CHUNK // max(1, size))
    kinds: dict[Any, list[int]] = {}
    for i, pump in enumerate(pumps):
        kind = ("curve", pump.si.curve.falls) if isinstance(pump, PumpCurve) else i
        kinds.setdefault(kind, []).append(i)
    for alike in kinds.values():
        for k in range(0, len(alike), many):
            yield alike[k : k + many]


def _together(grid: Grid, given: list[Any]) -> Crossing:
    """Cross several pumps with the same lines, (pumps × lines)."""
    pumps = [pump.si for pump in given]
    every = np.tile(np.arange(grid.level.size), len(pumps))
    head_factor, flow_factor, number = (
        np.concatenate([grid.spread(f) for f in each])
        for each in zip(*((p.head_factor, p.flow_factor, p.number) for p in pumps), strict=True)
    )
    # each pump's curves stand behind those of the pumps before it
    before = np.cumsum([0, *(p.curve.begin.size for p in pumps[:-1])])
    number = number + np.repeat(before, grid.level.size)
    side = Side(grid.line.curve.take(every), grid.level[every], head_factor, flow_factor, number)
    return cross(end_to_end([p.curve for p in pumps]), side)
