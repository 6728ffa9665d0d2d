"""Pumps, line and pit made ready for a storm: flow and power over the stored volume.

All cases are solved at once, set of pumps by set of pumps: all of a bank, its lead alone, the
others when the lead has failed, and what runs on the battery. Many cases are walked on these
arrays; for a lone one a `Station` is cut out of them, in plain numbers.
"""

from __future__ import annotations

import operator
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
from drainpump.routing.asked import BATTERY, LEAD_FAILED, MAINS, Asked
from drainpump.routing.drawdown import Drive, Priming, Stage, Station
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


def prepare(grid: Grid, pit: Pit, asked: Asked, lags: Sequence[FloatArray]) -> Stations:
    """Solve the pump flow over the level for every pump, line and pit at once.

    ``lags`` are the levels of the lag floats of all pumps of the call, as of `lags_of`.
    """
    inner = grid.inner
    off, on = (np.broadcast_to(level, inner) for level in (pit.si.off, pit.si.on))
    levels = _levels(pit, off, on, top_of(pit, asked), lags)
    volume = pit.si.volume_between(off, off + np.moveaxis(levels, -1, 0))
    volume = np.moveaxis(volume, 0, -1).reshape(_size(inner), levels.shape[-1])
    stands = ~np.isnan(volume).any(axis=-1)
    # levels that fall together would make cells of no width
    keep = np.append(np.full((len(volume), 1), True), np.diff(volume) > 1e-12 * volume[:, -1:], 1)
    top = keep.sum(axis=-1) - 1
    pick = np.argsort(~keep, axis=-1, kind="stable")
    pick = np.take_along_axis(pick, np.minimum(np.arange(keep.shape[1]), top[:, None]), axis=-1)
    volume = np.take_along_axis(volume, pick, axis=-1)
    sets, stages = _pump_sets(grid, pit, asked, levels, pick)
    battery = _flat(np.zeros(()) if asked.battery is None else asked.battery, inner)
    kept = 1.0 - _flat(asked.soaks_back, inner)
    known = (stages[..., MAINS, 1:] < len(sets)).all(axis=-1)
    known &= stands & ~np.isnan(kept + battery)
    _check_power(sets, stages, np.where(known, battery, 0.0))
    tail = tail_water.flow_back(grid, levels).reshape(grid.count, *pick.shape)
    code = states.first_failed(np.stack([s.code for s in sets], axis=-1))
    return Stations(
        status=states.NAMES[code],
        known=known,
        volume=volume,
        top=top,
        sets=sets,
        stages=stages,
        floats=_floats(grid, pit, volume, top),
        count=np.array([1 if _lag(p) is None else 2 for p in grid.pumps]),
        **_rim(pit, asked, volume, inner),
        returning=_returning(grid, sets[0]),
        tail=np.take_along_axis(tail, pick[None], axis=-1),
        battery=battery,
        kept=kept,
    )


def _size(inner: tuple[int, ...]) -> int:
    return int(np.prod(inner))


def _flat(quantity: FloatArray, inner: tuple[int, ...]) -> FloatArray:
    return np.broadcast_to(quantity, inner).reshape(-1)


def top_of(pit: Pit, asked: Asked) -> FloatArray:
    """Level of the rim, or of the overflow below it."""
    return np.asarray(
        np.minimum(pit.si.depth, np.inf if asked.overflow is None else asked.overflow)
    )


def lags_of(pumps: Sequence[Any], pit: Pit, asked: Asked) -> list[FloatArray]:
    """Levels at which banks' other pumps start (m above the floor), checked."""
    found = [level for pump in pumps if (level := _lag(pump)) is not None]
    for level in found:
        if np.any(level <= pit.si.on) or np.any(level > top_of(pit, asked)):
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


def _pump_sets(
    grid: Grid, pit: Pit, asked: Asked, levels: FloatArray, pick: Index
) -> tuple[list[PumpSet], Index]:
    """Solve the sets of pumps that run together, all of them first; and which of the sets runs.

    The latter by supply and by how many floats are up, (pumps, lines, M, 4, 3).
    """
    runs = [_runs(pump, asked) for pump in grid.pumps]
    made, number = [grid.pumps], np.full((len(runs), 1, 1, 4, 3), -1)
    for supply, up in np.ndindex(4, 3):
        each = [row[supply][up] for row in runs]
        known = [pump is not None for pump in each]
        # a pump that does not run then is solved as it is, and not asked
        some = tuple(b if a is None else a for a, b in zip(each, grid.pumps, strict=True))
        if not any(known):
            continue
        found = [i for i, other in enumerate(made) if all(map(operator.is_, some, other))]
        number[known, ..., supply, up] = found[0] if found else len(made)
        made += [] if found else [some]
    number[number < 0] = len(made)
    sets = [_solved(pumps, grid, levels, pit, pick) for pumps in made]
    stages = np.broadcast_to(number, (*sets[0].flow.shape[:3], 4, 3)).copy()
    for i, one in enumerate(sets):
        # a set whose flow is not known does not run
        lost = np.asarray(np.isnan(one.flow).any(axis=-1))[..., None, None]
        stages[(stages == i) & lost] = len(sets)
    return sets, stages


def _runs(pump: Any, asked: Asked) -> list[list[Any]]:
    """What runs, by supply and by how many floats are up; None where nothing does."""
    lag = _lag(pump) is not None
    lead = pump.lead if lag else pump
    others = None if asked.fails is None else _others(pump)
    own = asked.battery_pump
    rows: list[list[Any]] = [[None] * 3] * 4
    rows[MAINS] = [None, lead, pump]
    rows[LEAD_FAILED] = [None, None if lag else others, others]
    rows[BATTERY] = rows[MAINS] if own is None else [None, own, own]
    return rows


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


def _floats(grid: Grid, pit: Pit, volume: FloatArray, top: Index) -> Index:
    """Nodes of the floats, which stand among the levels, (pumps, M, 3)."""
    si = pit.si

    def node(level: FloatArray) -> Index:
        there = _flat(si.volume_between(si.off, level), grid.inner)
        return np.asarray(np.abs(volume - there[:, None]).argmin(axis=-1))

    on = node(si.on)
    lags = [top if (lag := _lag(p)) is None else node(lag) for p in grid.pumps]
    return np.array([np.stack([on, lag, top], axis=-1) for lag in lags])


def _rim(
    pit: Pit, asked: Asked, volume: FloatArray, inner: tuple[int, ...]
) -> dict[str, FloatArray]:
    """Stored water at the rim and at the overflow level; infinite where there is none."""
    si, level, top = pit.si, asked.overflow, volume[:, -1]
    rim, overflow = _flat(si.volume_between(si.off, si.depth), inner), np.full(len(top), np.inf)
    if level is not None:
        above = _flat(level, inner) > _flat(si.depth, inner)
        overflow = np.where(above, rim + _flat(asked.pond.si.room_to(level, si.depth), inner), top)
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
