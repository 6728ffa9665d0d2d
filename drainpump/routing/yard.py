"""Pumps, lines and one pit of a call, checked and ready for any storm."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import numpy as np

from drainpump import units as u
from drainpump.errors import InputError
from drainpump.inflow.storm import Hydrograph
from drainpump.parts.pit import Pit
from drainpump.results import one_shape
from drainpump.routing.flow_tables import Setting, Stations, lags_of, prepare
from drainpump.routing.time_cuts import Windows
from drainpump.solve.grid import Grid, make_grid
from drainpump.units import FloatArray


@dataclass(frozen=True, eq=False)
class Asked:
    """What is asked of a routing besides pumps, lines, pits and storms (SI, the storm's clock)."""

    pond: Any
    overflow: FloatArray | None = None
    start: FloatArray | None = None
    soaks_back: FloatArray = field(default_factory=lambda: np.zeros(()))
    outages: Windows = ()
    fails: float | None = None
    battery: FloatArray | None = None
    battery_pump: Any = None
    until: float | None = None

    def from_begin(self, inflow: Hydrograph) -> Asked:
        """The same with all times counted from the storm's first point, checked."""
        begin, until = float(inflow.si.time[0]), self.until
        if until is not None and not begin < until < np.inf:
            raise InputError(
                f"until_min={until / 60:g}: must be after the inflow's first point at "
                f"{u.text(begin, 'min')}; all minutes are those of the hydrograph."
            )
        return replace(
            self,
            outages=tuple((a - begin, b - begin) for a, b in self.outages),
            fails=None if self.fails is None else self.fails - begin,
            until=None if until is None else until - begin,
        )


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
    setting: Setting
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
        setting = Setting(
            pit,
            asked.overflow,
            _overflow_pond(pit, asked.pond, asked.overflow),
            asked.soaks_back,
            asked.fails is not None,
            asked.battery,
            asked.battery_pump,
        )
        first = pit.si.off if asked.start is None else asked.start
        _check_start(pit, first, asked.overflow)
        grid = make_grid(pump, line, np.zeros(shape))
        volume = np.broadcast_to(pit.si.volume_between(pit.si.off, first), grid.inner)
        return cls(pit, grid, setting, volume.reshape(-1))

    @property
    def size(self) -> tuple[int, int, int]:
        """How many pumps, lines and inner elements."""
        return len(self.grid.pumps), self.grid.count, self.start.size

    @cached_property
    def stations(self) -> Stations:
        """All of them solved at once."""
        return prepare(self.grid, self.setting, lags_of(self.grid.pumps, self.setting))

    def blocks(self, many: int) -> Iterator[tuple[slice, slice, Stations]]:
        """Solve at least so many pumps times lines at a time."""
        if many >= self.size[0] * self.size[1]:
            yield slice(None), slice(None), self.stations
            return
        lags = lags_of(self.grid.pumps, self.setting)
        pumps, lines, _ = self.size
        wide = min(max(many, 1), lines)
        high = min(max(many // wide, 1), pumps)
        for p in range(0, pumps, high):
            for k in range(0, lines, wide):
                some = slice(p, min(p + high, pumps)), slice(k, min(k + wide, lines))
                yield *some, prepare(self.grid.part(*some), self.setting, lags)


def _overflow_pond(pit: Pit, pond: Any, overflow: FloatArray | None) -> FloatArray:
    """Water that ponds before the overflow level is reached (m³); checks the level."""
    if overflow is None:
        return np.zeros(())
    low = overflow <= pit.si.on
    if np.any(low):
        raise InputError(
            f"overflow level {u.both(overflow, 'in')}: must lie above the pit's on level "
            f"{u.both(pit.si.on, 'in')}; the pump would never start."
        )
    return np.asarray(pond.si.room_to(overflow, pit.si.depth))


def _check_start(pit: Pit, start: FloatArray, overflow: FloatArray | None) -> None:
    top = pit.si.depth if overflow is None else np.minimum(pit.si.depth, overflow)
    if np.any(start > top):
        raise InputError(
            f"start level {u.both(start, 'in')}: must be at most {u.both(top, 'in')}, the pit's "
            "rim or its overflow level."
        )
