"""Pumps, lines and one pit of a call, checked and ready for any storm."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from drainpump import units as u
from drainpump.errors import InputError
from drainpump.parts.pit import Pit
from drainpump.results import one_shape
from drainpump.routing.asked import Asked
from drainpump.routing.flow_tables import Stations, lags_of, prepare, top_of
from drainpump.solve.grid import Grid, make_grid
from drainpump.units import FloatArray


def _one_float(pit: Pit, pump: Any) -> Pit:
    """The pit with its open floats at the pump's own; of several pumps where they agree."""
    each = [pit.floats_of(p) for p in (pump if isinstance(pump, list | tuple) else [pump])]
    if any(one != each[0] for one in each):
        raise InputError(
            "pit: its floats are open, and the pumps' own are not alike; route them one by one, or "
            "give the pit on and off levels."
        )
    return each[0]


@dataclass(frozen=True, eq=False)
class Yard:
    """Pumps, lines and one pit with all but the storm."""

    pit: Pit
    grid: Grid
    asked: Asked
    start: FloatArray  # (M,) m³ above the off level, M the inner elements

    @classmethod
    def make(cls, pump: Any, line: Any, pit: Pit, asked: Asked, storms: FloatArray) -> Yard:
        """Check the levels against the pit; ``storms`` is of the storms' shape."""
        if pit.open:
            pit = _one_float(pit, pump)
        given = [x for x in (asked.overflow, asked.start, asked.battery) if x is not None]
        shape = one_shape(
            "route", np.zeros(pit.shape), *given, asked.soaks_back, storms, asked.pond.si.area
        )
        first = pit.si.off if asked.start is None else asked.start
        _check_levels(pit, asked, first)
        grid = make_grid(pump, line, np.zeros(shape))
        volume = np.broadcast_to(pit.si.volume_between(pit.si.off, first), grid.inner)
        return cls(pit, grid, asked, volume.reshape(-1))

    @property
    def size(self) -> tuple[int, int, int]:
        """How many pumps, lines and inner elements."""
        return len(self.grid.pumps), self.grid.count, self.start.size

    @cached_property
    def stations(self) -> Stations:
        """All of them solved at once."""
        return self._prepared(self.grid)

    def _prepared(self, grid: Grid) -> Stations:
        # the levels of every bank's lag float, so that all parts have the same
        lags = lags_of(self.grid.pumps, self.pit, self.asked)
        return prepare(grid, self.pit, self.asked, lags)

    def blocks(self, many: int) -> Iterator[tuple[slice, slice, Stations]]:
        """Solve at least so many pumps times lines at a time."""
        if many >= self.size[0] * self.size[1]:
            yield slice(None), slice(None), self.stations
            return
        pumps, lines, _ = self.size
        wide = min(max(many, 1), lines)
        high = min(max(many // wide, 1), pumps)
        for p in range(0, pumps, high):
            for k in range(0, lines, wide):
                some = slice(p, min(p + high, pumps)), slice(k, min(k + wide, lines))
                yield *some, self._prepared(self.grid.part(*some))


def _check_levels(pit: Pit, asked: Asked, start: FloatArray) -> None:
    """Refuse an overflow that no float lies below, and a start above it or the rim."""
    if asked.overflow is not None and np.any(asked.overflow <= pit.si.on):
        raise InputError(
            f"overflow level {u.both(asked.overflow, 'in')}: must lie above the pit's on level "
            f"{u.both(pit.si.on, 'in')}; the pump would never start."
        )
    top = top_of(pit, asked)
    if np.any(start > top):
        raise InputError(
            f"start level {u.both(start, 'in')}: must be at most {u.both(top, 'in')}, the pit's "
            "rim or its overflow level."
        )
