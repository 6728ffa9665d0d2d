"""Pumps, line and pit made ready for a storm: flow and power over the stored volume.

All cases are solved at once, set of pumps by set of pumps: all of a bank, its lead alone, the
others when the lead has failed, and what runs on the battery. Many cases are walked on these
arrays; for a lone one a `Station` is cut out of them, in plain numbers.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from drainpump import states
from drainpump import units as u
from drainpump.cycling import tail_water
from drainpump.cycling.filling import part_full, returned, stays_full
from drainpump.errors import InputError
from drainpump.parts.pit import Pit
from drainpump.parts.pump.bank import PumpBank, parallel
from drainpump.routing.drawdown import Drive
from drainpump.routing.priming import Priming
from drainpump.routing.station import BATTERY, LEAD_FAILED, MAINS, Stage, Station
from drainpump.solve.grid import Grid
from drainpump.solve.operating_point import solve
from drainpump.units import FloatArray

Index = npt.NDArray[np.intp]

#: levels at which the flow is worked out, as shares of the drawdown (closer together near
#: the off level, where the pump is weakest) and of the height from pump-on level to the rim
_BELOW = np.linspace(0.0, 1.0, 17) ** 2
_ABOVE = np.linspace(0.0, 1.0, 9)[1:]
#: cases times levels solved in one go
_TOGETHER = 1 << 19


@dataclass(frozen=True, eq=False)
class Setting:
    """What the pit stands in (SI), arrays that broadcast."""

    pit: Pit
    overflow_level: FloatArray | None  # m above the pit's floor
    overflow_pond: FloatArray  # m³ that pond before it overflows
    soaks_back: FloatArray
    lead_fails: bool
    battery: FloatArray | None  # J
    battery_pump: Any


@dataclass(frozen=True, eq=False)
class PumpSet:
    """What the pumps that run together give, (pumps, lines, M, n), M the inner elements."""

    flow: FloatArray  # as counted on, never falling with the level
    power: FloatArray
    code: Any  # (pumps, lines, *inner)
    filling: Fillings | None  # where a line drains back


class Fillings(NamedTuple):
    """The same while the line fills, by water in the line (f) and in the pit (g)."""

    line: FloatArray  # (lines, M, f) m³ that would run back
    pit: FloatArray  # (M, g) m³ stored above off
    flow: FloatArray  # (pumps, lines, M, f, g)
    power: FloatArray

    def priming(self, p: int, k: int, m: int) -> Priming:
        """That of pump p on line k in the m-th of the inner elements."""
        tables = (self.flow[p, k, m].tolist(), self.power[p, k, m].tolist())
        return Priming(self.line[k, m].tolist(), self.pit[m].tolist(), *tables)


@dataclass(frozen=True, eq=False)
class Stations:
    """Every pit with the pumps that may run in it, (pumps, lines, M), M the inner elements.

    Volumes are of stored water above the off level. A row of nodes that has fewer than
    others, because levels fall together, ends with its top repeated.
    """

    grid: Grid
    status: Any  # (pumps, lines, *inner)
    known: npt.NDArray[np.bool_]  # whether the flow is
    volume: FloatArray  # (M, N)
    top: Index  # (M,) the top node, at the rim or at the overflow level below it
    sets: list[PumpSet]
    stages: Index  # (pumps, lines, M, 4, 3) set that runs, by supply and floats up; or `rest`
    floats: Index  # (pumps, M, 3) nodes at which the floats go up, the top where there is none
    count: Index  # (pumps,) of floats
    overflow: FloatArray  # (M,) m³, infinite without an overflow level
    rim: FloatArray  # (M,) m³
    returning: FloatArray  # (lines, M) m³ that run back at each stop
    tail: FloatArray  # (lines, M, N) m³/s of tail water that run back while no pump runs
    battery: FloatArray  # (M,) J
    kept: FloatArray  # (M,) share of the discharge that does not soak back

    @property
    def rest(self) -> int:
        """Number that stands in ``stages`` where no pump runs."""
        return len(self.sets)

    @property
    def working(self) -> FloatArray:
        """Water between the off level and the lead pump's float (M,), m³."""
        return np.take_along_axis(self.volume, self.floats[0, :, :1], axis=-1)[:, 0]

    def station(self, p: int, k: int, m: int) -> Station:
        """That of pump p, line k and the m-th of the inner elements, in plain numbers."""
        part = slice(self.top[m] + 1)
        volume, tail = self.volume[m, part], self.tail[k, m, part]
        fills = self.returning[k, m] > 0

        def stage(found: PumpSet) -> Stage:
            priming = found.filling.priming(p, k, m) if fills and found.filling else None
            flow, power = found.flow[p, k, m, part], found.power[p, k, m, part]
            return Stage(Drive(volume, self.kept[m] * flow, power), priming)

        made = [*map(stage, self.sets), None]
        return Station(
            stages=[[made[s] for s in row] for row in self.stages[p, k, m].tolist()],
            floats=self.floats[p, m, : self.count[p]].tolist(),
            overflow=float(self.overflow[m]),
            rim=float(self.rim[m]),
            returning=float(self.returning[k, m]),
            tail=Drive(volume, -tail, np.zeros_like(tail)) if tail.any() else None,
            battery=float(self.battery[m]),
            kept=float(self.kept[m]),
        )


def prepare(grid: Grid, setting: Setting, lags: Sequence[FloatArray]) -> Stations:
    """Solve the pump flow over the level for every pump, line and pit at once.

    ``lags`` are the levels of the lag floats of all pumps of the call, as of `lags_of`.
    """
    inner, pit = grid.inner, setting.pit
    off, on = (np.broadcast_to(level, inner) for level in (pit.si.off, pit.si.on))
    levels = _levels(pit, off, on, _top(setting), lags)
    volume = pit.si.volume_between(off, off + np.moveaxis(levels, -1, 0))
    volume = np.moveaxis(volume, 0, -1).reshape(_size(inner), levels.shape[-1])
    stands = ~np.isnan(volume).any(axis=-1)
    # levels that fall together would make cells of no width
    keep = np.append(np.full((len(volume), 1), True), np.diff(volume) > 1e-12 * volume[:, -1:], 1)
    top = keep.sum(axis=-1) - 1
    pick = np.argsort(~keep, axis=-1, kind="stable")
    pick = np.take_along_axis(pick, np.minimum(np.arange(keep.shape[1]), top[:, None]), axis=-1)
    volume = np.take_along_axis(volume, pick, axis=-1)
    sets, which = _pump_sets(grid, setting, levels, pick)
    stages = _stages(grid, sets, which)
    battery = _flat(np.zeros(()) if setting.battery is None else setting.battery, inner)
    kept = 1.0 - _flat(setting.soaks_back, inner)
    known = (stages[..., MAINS, 1:] < len(sets)).all(axis=-1)
    known &= stands & ~np.isnan(kept + battery)
    _check_power(sets, stages, np.where(known, battery, 0.0))
    tail = tail_water.flow_back(grid, levels).reshape(grid.count, *pick.shape)
    code = states.first_failed(np.stack([s.code for s in sets], axis=-1))
    return Stations(
        grid=grid,
        status=states.NAMES[code],
        known=known,
        volume=volume,
        top=top,
        sets=sets,
        stages=stages,
        floats=_floats(grid, setting, volume, top),
        count=np.array([1 if _lag(p) is None else 2 for p in grid.pumps]),
        **_rim(setting, volume, inner),
        returning=_returning(grid, sets[0]),
        tail=np.take_along_axis(tail, pick[None], axis=-1),
        battery=battery,
        kept=kept,
    )


def _size(inner: tuple[int, ...]) -> int:
    return int(np.prod(inner))


def _flat(quantity: FloatArray, inner: tuple[int, ...]) -> FloatArray:
    return np.broadcast_to(quantity, inner).reshape(-1)


def _top(setting: Setting) -> FloatArray:
    """Level of the rim, or of the overflow below it."""
    rim, overflow = setting.pit.si.depth, setting.overflow_level
    return np.asarray(rim if overflow is None else np.minimum(rim, overflow))


def lags_of(pumps: Sequence[Any], setting: Setting) -> list[FloatArray]:
    """Levels at which banks' other pumps start (m above the floor), checked."""
    top, on = _top(setting), setting.pit.si.on
    found = [level for pump in pumps if (level := _lag(pump)) is not None]
    for level in found:
        if np.any(level <= on) or np.any(level > top):
            raise InputError(
                f"lag_on level {u.both(level, 'in')}: must lie above the pit's on level "
                "and below its rim and its overflow level; move the lag pump's float."
            )
    return found


def _lag(pump: Any) -> FloatArray | None:
    return pump.si.lag_on if isinstance(pump, PumpBank) else None


def _levels(
    pit: Pit, off: FloatArray, on: FloatArray, top: FloatArray, lags: Sequence[FloatArray]
) -> FloatArray:
    """Levels above off (*inner, n), rising, every float and bend among them."""
    shares = _BELOW.reshape(-1, *[1] * off.ndim), _ABOVE.reshape(-1, *[1] * off.ndim)
    rows = [(on - off) * shares[0], (on - off) + (top - on) * shares[1]]
    rows += [np.clip(pit.si.body_top - off, 0.0, top - off)[None]]
    rows += [np.broadcast_to(lag - off, off.shape)[None] for lag in lags]
    stacked = np.concatenate([np.broadcast_to(r, (r.shape[0], *off.shape)) for r in rows])
    return np.moveaxis(np.sort(stacked, axis=0), 0, -1)


class _Which(NamedTuple):
    """Numbers of the sets: the lead of a bank, the others without it, those on the battery."""

    lead: int
    others: int
    carried: int | None  # None: the same pumps


def _pump_sets(
    grid: Grid, setting: Setting, levels: FloatArray, pick: Index
) -> tuple[list[PumpSet], _Which]:
    """Solve the sets of pumps that run together: all of them first, then what differs."""
    lead = others = 0
    carried = None
    made = [grid.pumps]
    if any(_lag(p) is not None for p in grid.pumps):
        lead = len(made)
        made.append(tuple(_lead(p) for p in grid.pumps))
    if setting.lead_fails:
        others = len(made)
        made.append(tuple(_others(p) or p for p in grid.pumps))
    if setting.battery_pump is not None:
        carried = len(made)
        made.append((setting.battery_pump,) * len(grid.pumps))
    sets = [_solved(pumps, grid, levels, setting.pit, pick) for pumps in made]
    return sets, _Which(lead, others, carried)


def _lead(pump: Any) -> Any:
    """The pump that starts first: all of a bank without a lag float."""
    return pump if _lag(pump) is None else pump.lead


def _others(pump: Any) -> PumpBank | None:
    """A parallel bank without its lead pump."""
    if isinstance(pump, PumpBank) and not pump.in_series and len(pump.pumps) > 1:
        return parallel(pump.pumps[1:], pump.risers[1:])
    return None


def _solved(
    pumps: tuple[Any, ...], grid: Grid, levels: FloatArray, pit: Pit, pick: Index
) -> PumpSet:
    own = replace(grid, pumps=pumps, listed=(True, True))
    # the lines are laid out once for each level: of very many few levels at a time
    size = len(pumps) * own.level.size
    step = max(1, _TOGETHER // max(1, size))
    columns = []
    for i in range(0, levels.shape[-1], step):
        op = solve(own.at_levels(levels[..., i : i + step]))
        columns.append((op.si.counted, op.at_flow(op.si.counted).si.power, op.si.code))
    counted, power, code = (np.concatenate(c, axis=-1) for c in zip(*columns, strict=True))
    flow, wide = np.maximum.accumulate(counted, axis=-1), (len(pumps), own.count, *pick.shape)
    # past the curve's end at least what the pump takes there
    power = np.where(flow > 0, power, 0.0)
    filling = None if stays_full(own).all() else _fillings(own, pit)
    code = states.first_failed(code)

    def picked(values: FloatArray) -> FloatArray:
        return np.take_along_axis(values.reshape(wide), pick[None, None], axis=-1)

    return PumpSet(picked(flow), picked(power), code, filling)


def _fillings(grid: Grid, pit: Pit) -> Fillings:
    made = part_full(grid, pit)
    lines, size, deep = grid.count, _size(grid.inner), made.levels.shape[-1]
    wide = (len(grid.pumps), lines, size, -1, deep)
    off = np.broadcast_to(pit.si.off, grid.inner)
    stored = pit.si.volume_between(off, off + np.moveaxis(made.levels, -1, 0))
    flow = made.op.si.counted
    return Fillings(
        made.back.T.reshape(lines, size, -1),
        np.moveaxis(stored, 0, -1).reshape(size, deep),
        flow.reshape(wide),
        np.where(flow > 0, made.op.at_flow(flow).si.power, 0.0).reshape(wide),
    )


def _stages(grid: Grid, sets: list[PumpSet], which: _Which) -> Index:
    """Number of the set that runs, by supply and by how many floats are up (P, L, M, 4, 3)."""
    rest = len(sets)

    def of(pump: Any) -> list[list[int]]:
        lag = _lag(pump) is not None
        others = rest if _others(pump) is None else which.others
        rows = [[rest] * 3] * 4
        rows[MAINS] = [rest, which.lead if lag else 0, 0]
        rows[LEAD_FAILED] = [rest, rest if lag else others, others]
        rows[BATTERY] = rows[MAINS] if which.carried is None else [rest, *[which.carried] * 2]
        return rows

    stages = np.array([of(p) for p in grid.pumps])[:, None, None]
    stages = np.broadcast_to(stages, (*sets[0].flow.shape[:3], 4, 3)).copy()
    for i, found in enumerate(sets):
        # a set whose flow is not known does not run
        lost = np.asarray(np.isnan(found.flow).any(axis=-1))[..., None, None]
        stages[(stages == i) & lost] = rest
    return stages


def _floats(grid: Grid, setting: Setting, volume: FloatArray, top: Index) -> Index:
    """Nodes of the floats, which stand among the levels, (pumps, M, 3)."""
    si = setting.pit.si

    def node(level: FloatArray) -> Index:
        there = _flat(si.volume_between(si.off, level), grid.inner)
        return np.asarray(np.abs(volume - there[:, None]).argmin(axis=-1))

    on = node(si.on)
    lags = [top if (lag := _lag(p)) is None else node(lag) for p in grid.pumps]
    return np.array([np.stack([on, lag, top], axis=-1) for lag in lags])


def _rim(setting: Setting, volume: FloatArray, inner: tuple[int, ...]) -> dict[str, FloatArray]:
    """Stored water at the rim and at the overflow level; infinite where there is none."""
    si, level, top = setting.pit.si, setting.overflow_level, volume[:, -1]
    rim, overflow = _flat(si.volume_between(si.off, si.depth), inner), np.full(len(top), np.inf)
    if level is not None:
        above = _flat(level, inner) > _flat(si.depth, inner)
        overflow = np.where(above, rim + _flat(setting.overflow_pond, inner), top)
    low = overflow < rim
    # the top node is the rim: one number for both
    return {
        "rim": np.where(low, rim, top),
        "overflow": np.where(low, overflow, overflow - rim + top),
    }


def _returning(grid: Grid, pumps: PumpSet) -> FloatArray:
    """Water that runs back at each stop (lines, M), m³."""
    if pumps.filling is None:
        return np.zeros((grid.count, _size(grid.inner)))
    back = returned(grid).reshape(grid.count, -1)
    # the filling's own end, so that a line that is filled is full
    return np.where(back > 0, pumps.filling.line[..., -1], 0.0)


def _check_power(sets: list[PumpSet], stages: Index, charge: FloatArray) -> None:
    """Refuse a battery where the power of what runs on it is not known."""
    for i, found in enumerate(sets):
        runs = (stages[..., BATTERY, :] == i).any(axis=-1) & (charge > 0)
        if np.any(lost := runs & np.isnan(found.power).any(axis=-1)):
            some = np.broadcast_to(charge, lost.shape)[lost][0]
            raise InputError(
                f"battery_wh={u.carried(some / 3600)}: the pump's power is not known over its "
                "flows; give power_w with the curve's points."
            )
