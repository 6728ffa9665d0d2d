"""Pumps, line and pit made ready for a storm: flow and power over the stored volume."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from drainpump import states
from drainpump import units as u
from drainpump.errors import InputError
from drainpump.parts.pit import Pit
from drainpump.parts.pump.bank import PumpBank, parallel
from drainpump.routing.drawdown import Drive
from drainpump.routing.events import BATTERY, LEAD_FAILED, MAINS, Site
from drainpump.solve.grid import Grid, make_grid
from drainpump.solve.operating_point import solve
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

    @property
    def shape(self) -> tuple[int, ...]:
        """Shape of everything together."""
        own = [self.overflow_pond, self.soaks_back]
        own += [a for a in (self.overflow_level, self.battery) if a is not None]
        return np.broadcast_shapes(self.pit.shape, *(np.shape(a) for a in own))


@dataclass(frozen=True, eq=False)
class Sites:
    """One site for each element, (pumps, lines, *inner) in order."""

    grid: Grid
    sites: list[Site | None]  # None where the flow is not known
    status: Any  # (pumps, lines, *inner)
    top: FloatArray  # m above the off level, inner


def prepare(pump: Any, line: Any, setting: Setting, shape: tuple[int, ...]) -> Sites:
    """Solve the pump flow over the level for every pump, line and pit at once."""
    grid = make_grid(pump, line, np.zeros(shape))
    inner, pit = grid.inner, setting.pit
    off, on = (np.broadcast_to(m.si, inner) for m in (pit._off, pit._on))
    top = np.broadcast_to(pit._depth.si, inner)
    if setting.overflow_level is not None:
        top = np.minimum(top, setting.overflow_level)
    lags = [_lag(p, on, top) for p in grid.pumps]
    levels = _levels(pit, off, on, top, lags)
    volumes = np.moveaxis(pit._volume_between(off, off + np.moveaxis(levels, -1, 0)), 0, -1)
    lines = grid.lines
    every = [_flows(list(grid.pumps), lines, levels)]
    lead = [_lead(p) for p in grid.pumps]
    lagging = any(lag is not None for lag in lags)
    every.append(_flows(lead, lines, levels) if lagging else every[0])
    rest = [_others(p) for p in grid.pumps]
    some = [p if r is None else r for p, r in zip(grid.pumps, rest, strict=True)]
    every.append(_flows(some, lines, levels) if setting.lead_fails else every[0])
    own = setting.battery_pump
    every.append(every[0] if own is None else _flows([own] * len(grid.pumps), lines, levels))
    build = _Builder(grid, setting, volumes, every, lags, rest)
    count = int(np.prod(inner))
    sites = [
        build.site(p, k, m)
        for p in range(len(grid.pumps))
        for k in range(len(lines))
        for m in range(count)
    ]
    code = states.first_failed(np.stack([code for _, _, code in every], axis=-1))
    return Sites(grid, sites, states.NAMES[code], top - off)


def _lag(pump: Any, on: FloatArray, top: FloatArray) -> FloatArray | None:
    """Level at which a bank's other pumps start (m above the floor), checked."""
    if not isinstance(pump, PumpBank) or pump._lag_on is None:
        return None
    level = pump._lag_on.si
    if np.any(level <= on) or np.any(level > top):
        raise InputError(
            f"lag_on level {pump._lag_on}: must lie above the pit's on level and below its rim and "
            "its overflow level; move the lag pump's float."
        )
    return level


def _lead(pump: Any) -> Any:
    """The pump that starts first: all of a bank without a lag float."""
    return pump.lead if isinstance(pump, PumpBank) and pump._lag_on is not None else pump


def _others(pump: Any) -> PumpBank | None:
    """A parallel bank without its lead pump."""
    if isinstance(pump, PumpBank) and not pump.in_series and len(pump.pumps) > 1:
        return parallel(pump.pumps[1:], pump.risers[1:])
    return None


def _levels(
    pit: Pit, off: FloatArray, on: FloatArray, top: FloatArray, lags: Sequence[FloatArray | None]
) -> FloatArray:
    """Levels above off (*inner, n), rising, every float and bend among them."""
    shares = _BELOW.reshape(-1, *[1] * off.ndim), _ABOVE.reshape(-1, *[1] * off.ndim)
    rows = [(on - off) * shares[0], (on - off) + (top - on) * shares[1]]
    rows += [np.clip(pit._body_top - off, 0.0, top - off)[None]]
    rows += [np.broadcast_to(lag - off, off.shape)[None] for lag in lags if lag is not None]
    stacked = np.concatenate([np.broadcast_to(r, (r.shape[0], *off.shape)) for r in rows])
    return np.moveaxis(np.sort(stacked, axis=0), 0, -1)


def _flows(pumps: Any, lines: Any, levels: FloatArray) -> tuple[FloatArray, FloatArray, Any]:
    """Flow counted on and power at each level (pumps, lines, *inner, n), and each one's code."""
    grid = make_grid(list(pumps), list(lines), np.zeros(levels.shape[:-1]))
    op = solve(grid.at_levels(levels))
    flow = np.maximum.accumulate(op.si.counted, axis=-1)
    code = states.first_failed(op.si.code)
    return flow, np.where(flow > 0, np.asarray(op._power), 0.0), code


@dataclass(frozen=True, eq=False)
class _Builder:
    """Cuts one site out of the arrays of all."""

    grid: Grid
    setting: Setting
    volumes: FloatArray
    flows: list[tuple[FloatArray, FloatArray, Any]]  # all pumps, lead, others, on battery
    lags: list[FloatArray | None]
    rest: list[PumpBank | None]

    def _one(self, array: FloatArray, m: int) -> float:
        return float(np.broadcast_to(array, self.grid.inner).reshape(-1)[m])

    def site(self, p: int, k: int, m: int) -> Site | None:
        """The site of pump p, line k and the m-th of the inner elements."""
        volume = self.volumes.reshape(-1, self.volumes.shape[-1])[m]
        charge = np.zeros(()) if self.setting.battery is None else self.setting.battery
        known = volume.sum() + self._one(self.setting.soaks_back, m) + self._one(charge, m)
        if np.isnan(known):
            return None
        keep = np.append(True, np.diff(volume) > 1e-12 * volume[-1])
        volume = volume[keep]
        share = 1.0 - self._one(self.setting.soaks_back, m)

        def drive(which: int) -> Drive | None:
            flow, power, _ = self.flows[which]
            q, w = (a[p, k].reshape(-1, a.shape[-1])[m][keep] for a in (flow, power))
            return None if np.isnan(q).any() else Drive(volume, share * q, w)

        both, lead = drive(0), drive(1)
        if both is None or lead is None:
            return None
        lag = self.lags[p]
        stages: list[Drive | None] = [None, both] if lag is None else [None, lead, both]
        others = drive(2) if self.rest[p] is not None else None
        drives: list[list[Drive | None]] = [[]] * 3
        drives[MAINS] = stages
        drives[LEAD_FAILED] = [None, others] if lag is None else [None, None, others]
        own = self.setting.battery_pump is not None
        on_battery = drive(3) if own else None
        drives[BATTERY] = [None, *[on_battery] * (len(stages) - 1)] if own else stages
        return self._finish(p, k, m, volume, drives)

    def _finish(
        self, p: int, k: int, m: int, volume: FloatArray, drives: list[list[Drive | None]]
    ) -> Site:
        pit, setting, lag = self.setting.pit, self.setting, self.lags[p]

        def node(level: FloatArray) -> int:
            return int(
                np.argmin(np.abs(volume - self._one(pit._volume_between(pit._off.si, level), m)))
            )

        rim = self._one(pit._volume_between(pit._off.si, pit._depth.si), m)
        overflow = np.inf
        if setting.overflow_level is not None:
            level = self._one(setting.overflow_level, m)
            above = level > self._one(pit._depth.si, m)
            overflow = rim + self._one(setting.overflow_pond, m) if above else float(volume[-1])
        if overflow >= rim:
            # the top node is the rim: one number for both
            overflow, rim = overflow - rim + float(volume[-1]), float(volume[-1])
        back = float(self.grid.returning.reshape(len(self.grid.lines), -1)[k, m])
        floats = [node(pit._on.si)] + ([] if lag is None else [node(lag)])
        charge = 0.0 if setting.battery is None else self._one(setting.battery, m)
        _known_power(drives[BATTERY], charge)
        return Site(drives, floats, volume.size - 1, overflow, rim, back, charge)


def _known_power(drives: list[Drive | None], charge: float) -> None:
    if charge > 0 and any(d is not None and np.isnan(d.power).any() for d in drives):
        raise InputError(
            f"battery_wh={u.number(charge / 3600)}: the pump's power is not known over its flows; "
            "give power_w with the curve's points."
        )
