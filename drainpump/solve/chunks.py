"""A grid of pumps and lines solved in chunks of elements, whatever its size."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from drainpump import units as u
from drainpump.results import html_lines
from drainpump.solve.banks import FlatParallel
from drainpump.solve.crossing import Crossing
from drainpump.solve.flat_curve import FlatCurve, FlatPump
from drainpump.solve.grid import Grid, Where
from drainpump.units import FloatArray, View

#: elements solved at a time, pumps times lines: so that memory stays bounded whatever the grid,
#: and near the processor
_CHUNK = 1 << 14


@dataclass(frozen=True, eq=False)
class PossibleFlow:
    """One of several crossings of a drooping curve.

    Attributes
    ----------
    index : tuple of int
        The element of the result it belongs to; empty for a scalar.
    flow_gpm, flow_lps : float
        Flow at the crossing.
    """

    index: tuple[int, ...]
    _flow: float
    flow_gpm, flow_lps = View("_flow"), View("_flow")

    def __repr__(self) -> str:
        return f"PossibleFlow({u.both(self._flow, 'gpm')})"

    def _repr_html_(self) -> str:
        return html_lines(repr(self))


class Solved(NamedTuple):
    """Flows, codes and flows to be reckoned with, (pumps, N), and every other crossing."""

    flow: FloatArray
    code: npt.NDArray[np.int8]
    reckoned: FloatArray
    several: list[PossibleFlow]


def solve_grid(grid: Grid) -> Solved:
    """Solve pump by pump or, where lines are few, several curves at a time."""
    size = grid.level.size
    flow, reckoned = (np.empty((len(grid.pumps), size)) for _ in range(2))
    code = np.empty(flow.shape, dtype=np.int8)
    several: list[PossibleFlow] = []
    some_alone = grid.where is not None
    full = (len(grid.pumps), *((1, size) if some_alone else (grid.count, *grid.inner)))
    for where, part in _parts(grid):
        for some in _batches(part.flats, part.level.size):
            found = _crossed(part, [part.flats[p] for p in some])
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
                several += [PossibleFlow(its_own, float(r)) for r in roots]
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


def _batches(pumps: Sequence[FlatPump], size: int) -> Iterator[list[int]]:
    """Numbers of the pumps that are solved in one go: those of a kind, as many as fit."""
    many = max(1, _CHUNK // max(1, size))
    kinds: dict[tuple[int, bool], list[int]] = {}
    for i, pump in enumerate(pumps):
        count = pump.count if isinstance(pump, FlatParallel) else 0
        kinds.setdefault((count, pump.falls), []).append(i)
    for alike in kinds.values():
        for k in range(0, len(alike), many):
            yield alike[k : k + many]


def _crossed(grid: Grid, pumps: Any) -> Crossing:
    """Cross pumps of a kind with the same lines, (pumps × lines)."""
    line, level = grid.line.curve, grid.level
    if len(pumps) == 1:
        return pumps[0].cross(line, level)  # type: ignore[no-any-return]
    every = np.tile(np.arange(level.size), len(pumps))
    laid = FlatParallel if isinstance(pumps[0], FlatParallel) else FlatCurve
    return laid.beside(pumps).cross(line.take(every), level[every])
