"""Pumps, line and pit made ready for a storm: flow and power over the stored volume.

Every case of a call is solved at once, set of pumps by set of pumps: all of a bank, its lead
alone, the others when the lead has failed, and what runs on the battery. A `Site` is then
cut out of these arrays for each case, in plain numbers.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

import numpy as np

from drainpump import states
from drainpump import units as u
from drainpump.cycling import tail_water
from drainpump.cycling.filling import part_full, returned, stays_full
from drainpump.errors import InputError
from drainpump.parts.pit import Pit
from drainpump.parts.pump.bank import PumpBank, parallel
from drainpump.routing.drawdown import Drive
from drainpump.routing.priming import Priming
from drainpump.routing.site import BATTERY, LEAD_FAILED, MAINS, Site, Stage
from drainpump.solve.grid import Grid, make_grid
from drainpump.solve.operating_point import OperatingPoint, solve
from drainpump.units import FloatArray

__all__ = ["Setting", "Sites", "prepare"]

#: levels at which the flow is worked out, as shares of the drawdown (closer together near
#: the off level, where the pump is weakest) and of the height from pump-on level to the rim
_BELOW = np.linspace(0.0, 1.0, 17) ** 2
_ABOVE = np.linspace(0.0, 1.0, 9)[1:]


@dataclass(frozen=True, eq=False)
class Setting:
    """What the pit stands in (SI), arrays that broadcast."""

    pit: Pit
    overflow_level: FloatArray | None  # m above the pit's floor
    overflow_pond: FloatArray  # m³ that pond before it spills
    soaks_back: FloatArray
    lead_fails: bool
    battery: FloatArray | None  # J
    battery_pump: Any


@dataclass(frozen=True, eq=False)
class Sites:
    """One site for each element, (pumps, lines, *inner) in order."""

    grid: Grid
    sites: list[Site | None]  # None where the flow is not known
    status: Any  # (pumps, lines, *inner)


@dataclass(frozen=True, eq=False)
class _PumpSet:
    """What the pumps that run together give, (pumps, lines, M, n), M the inner elements."""

    flow: FloatArray  # as counted on, never falling with the level
    power: FloatArray
    code: Any  # (pumps, lines, *inner)
    filling: _Fillings | None  # where a line drains back


class _Fillings(NamedTuple):
    """The same while the line fills, by water in the line (f) and in the pit (g)."""

    line: FloatArray  # (lines, M, f) m³ that would run back
    pit: FloatArray  # (M, g) m³ stored above off
    flow: FloatArray  # (pumps, lines, M, f, g)
    power: FloatArray

    def priming(self, p: int, k: int, m: int) -> Priming:
        """That of pump p on line k in the m-th of the inner elements."""
        tables = (self.flow[p, k, m].tolist(), self.power[p, k, m].tolist())
        return Priming(self.line[k, m].tolist(), self.pit[m].tolist(), *tables)


def prepare(pump: Any, line: Any, setting: Setting, shape: tuple[int, ...]) -> Sites:
    """Solve the pump flow over the level for every pump, line and pit at once."""
    grid = make_grid(pump, line, np.zeros(shape))
    inner, pit = grid.inner, setting.pit
    off, on = (np.broadcast_to(level, inner) for level in (pit.si.off, pit.si.on))
    top = np.broadcast_to(pit.si.depth, inner)
    if setting.overflow_level is not None:
        top = np.minimum(top, setting.overflow_level)
    lags = [_lag(p, on, top) for p in grid.pumps]
    levels = _levels(pit, off, on, top, lags)
    volumes = pit.si.volume_between(off, off + np.moveaxis(levels, -1, 0))
    sets = _pump_sets(grid, setting, levels, any(lag is not None for lag in lags))
    cut = _Cut(grid, setting, np.moveaxis(volumes, 0, -1), sets, lags, *_runs_back(grid, levels))
    sites = [cut.site(*at) for at in np.ndindex(len(grid.pumps), grid.count, _size(inner))]
    code = states.first_failed(np.stack([s.code for s in sets if s is not None], axis=-1))
    return Sites(grid, sites, states.NAMES[code])


def _size(inner: tuple[int, ...]) -> int:
    return int(np.prod(inner))


def _runs_back(grid: Grid, levels: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Water that runs back at each stop (lines, M), and tail water's flow (lines, M, n)."""
    size = _size(grid.inner)
    tail = tail_water.flow_back(grid, levels).reshape(grid.count, size, -1)
    return returned(grid).reshape(-1, size), tail


def _lag(pump: Any, on: FloatArray, top: FloatArray) -> FloatArray | None:
    """Level at which a bank's other pumps start (m above the floor), checked."""
    level = pump.si.lag_on if isinstance(pump, PumpBank) else None
    if level is not None and (np.any(level <= on) or np.any(level > top)):
        raise InputError(
            f"lag_on level {u.both(level, 'in')}: must lie above the pit's on level "
            "and below its rim and its overflow level; move the lag pump's float."
        )
    return level


def _levels(
    pit: Pit, off: FloatArray, on: FloatArray, top: FloatArray, lags: Sequence[FloatArray | None]
) -> FloatArray:
    """Levels above off (*inner, n), rising, every float and bend among them."""
    shares = _BELOW.reshape(-1, *[1] * off.ndim), _ABOVE.reshape(-1, *[1] * off.ndim)
    rows = [(on - off) * shares[0], (on - off) + (top - on) * shares[1]]
    rows += [np.clip(pit.si.body_top - off, 0.0, top - off)[None]]
    rows += [np.broadcast_to(lag - off, off.shape)[None] for lag in lags if lag is not None]
    stacked = np.concatenate([np.broadcast_to(r, (r.shape[0], *off.shape)) for r in rows])
    return np.moveaxis(np.sort(stacked, axis=0), 0, -1)


def _pump_sets(
    grid: Grid, setting: Setting, levels: FloatArray, lagging: bool
) -> list[_PumpSet | None]:
    """By supply and stage: all pumps, the lead, the others, those on the battery.

    A set that never runs alone is the first one, solved once.
    """
    pit = setting.pit
    both = _solved(grid.pumps, grid, levels, pit)
    lead = _solved([_lead(p) for p in grid.pumps], grid, levels, pit) if lagging else both
    rest = [_others(p) for p in grid.pumps]
    others: _PumpSet | None = both
    if setting.lead_fails:
        some = [p if r is None else r for p, r in zip(grid.pumps, rest, strict=True)]
        others = _solved(some, grid, levels, pit)
    own, carried = setting.battery_pump, both
    if own is not None:
        carried = _solved([own] * len(grid.pumps), grid, levels, pit)
    return [both, lead, others, carried]


def _lead(pump: Any) -> Any:
    """The pump that starts first: all of a bank without a lag float."""
    return pump.lead if isinstance(pump, PumpBank) and pump.si.lag_on is not None else pump


def _others(pump: Any) -> PumpBank | None:
    """A parallel bank without its lead pump."""
    if isinstance(pump, PumpBank) and not pump.in_series and len(pump.pumps) > 1:
        return parallel(pump.pumps[1:], pump.risers[1:])
    return None


def _solved(pumps: Any, grid: Grid, levels: FloatArray, pit: Pit) -> _PumpSet:
    own = replace(grid, pumps=tuple(pumps), listed=(True, True))
    op = solve(own.at_levels(levels))
    flow = np.maximum.accumulate(op.si.counted, axis=-1)
    wide = (len(own.pumps), own.count, _size(grid.inner), levels.shape[-1])
    filling = None if stays_full(own).all() else _fillings(own, pit)
    power = _power(op, flow)
    code = states.first_failed(op.si.code)
    return _PumpSet(flow.reshape(wide), power.reshape(wide), code, filling)


def _power(op: OperatingPoint, flow: FloatArray) -> FloatArray:
    """Power at what is counted on: past the curve's end at least what the pump takes there."""
    return np.where(flow > 0, op.at_flow(op.si.counted).si.power, 0.0)


def _fillings(grid: Grid, pit: Pit) -> _Fillings:
    made = part_full(grid, pit)
    lines, size, deep = grid.count, _size(grid.inner), made.levels.shape[-1]
    wide = (len(grid.pumps), lines, size, -1, deep)
    off = np.broadcast_to(pit.si.off, grid.inner)
    stored = pit.si.volume_between(off, off + np.moveaxis(made.levels, -1, 0))
    flow = made.op.si.counted
    return _Fillings(
        made.back.T.reshape(lines, size, -1),
        np.moveaxis(stored, 0, -1).reshape(size, deep),
        flow.reshape(wide),
        _power(made.op, flow).reshape(wide),
    )


@dataclass(frozen=True, eq=False)
class _Cut:
    """Cuts one site out of the arrays of all."""

    grid: Grid
    setting: Setting
    volumes: FloatArray  # (*inner, n)
    sets: list[_PumpSet | None]  # all pumps, lead, others, on battery
    lags: list[FloatArray | None]
    returning: FloatArray  # (lines, M)
    tail: FloatArray  # (lines, M, n)

    def _one(self, array: FloatArray, m: int) -> float:
        return float(np.broadcast_to(array, self.grid.inner).reshape(-1)[m])

    def site(self, p: int, k: int, m: int) -> Site | None:
        """The site of pump p, line k and the m-th of the inner elements."""
        setting = self.setting
        volume = self.volumes.reshape(-1, self.volumes.shape[-1])[m]
        charge = 0.0 if setting.battery is None else self._one(setting.battery, m)
        kept = 1.0 - self._one(setting.soaks_back, m)
        if np.isnan(volume.sum() + kept + charge):
            return None
        # levels that fall together would make cells of no width
        keep = np.append(True, np.diff(volume) > 1e-12 * volume[-1])
        volume = volume[keep]

        def stage(which: int) -> Stage | None:
            found = self.sets[which]
            assert found is not None
            flow, power = found.flow[p, k, m][keep], found.power[p, k, m][keep]
            if np.isnan(flow).any():
                return None
            fills = found.filling if self.returning[k, m] > 0 else None
            priming = None if fills is None else fills.priming(p, k, m)
            return Stage(Drive(volume, kept * flow, power), priming)

        stages = self._stages(p, stage)
        lead = stages[MAINS][1]
        if lead is None or stages[MAINS][-1] is None:
            return None
        rim, overflow = self._rim(volume, m)
        _known_power(stages[BATTERY], charge)
        came = self.tail[k, m][keep]
        return Site(
            stages=stages,
            floats=self._floats(volume, p, m),
            overflow=overflow,
            rim=rim,
            # the filling's own end, so that a line that is filled is full
            returning=0.0 if lead.priming is None else lead.priming.line[-1],
            tail=Drive(volume, -came, np.zeros_like(came)) if came.any() else None,
            battery=charge,
            kept=kept,
        )

    def _stages(self, p: int, stage: Any) -> list[list[Stage | None]]:
        """The stages of pump p by supply, then by how many floats are up."""
        lag, both = self.lags[p], stage(0)
        mains = [None, both] if lag is None else [None, stage(1), both]
        others = stage(2) if _others(self.grid.pumps[p]) is not None else None
        failed = [None, others] if lag is None else [None, None, others]
        battery = mains
        if self.setting.battery_pump is not None:
            battery = [None, *[stage(3)] * (len(mains) - 1)]
        stages: list[list[Stage | None]] = [[]] * 3
        stages[MAINS], stages[LEAD_FAILED], stages[BATTERY] = mains, failed, battery
        return stages

    def _floats(self, volume: FloatArray, p: int, m: int) -> list[int]:
        """Nodes of the floats, which stand among the levels."""
        si, lag = self.setting.pit.si, self.lags[p]

        def node(level: FloatArray) -> int:
            return int(np.argmin(np.abs(volume - self._one(si.volume_between(si.off, level), m))))

        return [node(si.on)] + ([] if lag is None else [node(lag)])

    def _rim(self, volume: FloatArray, m: int) -> tuple[float, float]:
        """Stored water at the rim and at the overflow level; infinite where there is none."""
        si, level = self.setting.pit.si, self.setting.overflow_level
        rim, overflow = self._one(si.volume_between(si.off, si.depth), m), np.inf
        if level is not None:
            above = self._one(level, m) > self._one(si.depth, m)
            overflow = (
                rim + self._one(self.setting.overflow_pond, m) if above else float(volume[-1])
            )
        if overflow < rim:
            return rim, overflow
        # the top node is the rim: one number for both
        return float(volume[-1]), overflow - rim + float(volume[-1])


def _known_power(stages: list[Stage | None], charge: float) -> None:
    if charge > 0 and any(s is not None and np.isnan(s.drive.power).any() for s in stages):
        raise InputError(
            f"battery_wh={u.number(charge / 3600)}: the pump's power is not known over its flows; "
            "give power_w with the curve's points."
        )
