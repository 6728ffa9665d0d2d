"""All cases of a yard walked: many at a time, or each alone where there are few."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from drainpump.routing.asked import BATTERY
from drainpump.routing.cases import Cases, Index
from drainpump.routing.events import COUNTED, March
from drainpump.routing.flow_tables import Stations
from drainpump.routing.many_storms import FEW, ManyMarch
from drainpump.routing.one_storm import OneStorm
from drainpump.routing.time_cuts import Pieces
from drainpump.routing.yard import Yard
from drainpump.units import FloatArray
from drainpump.work_budget import spend

#: cases walked at a time, so that what they need stays in the processor's cache
_CHUNK = 1 << 12
#: points of their storms at most, where no two have the same
_POINTS = 1 << 19
#: cases solved at a time
_SOLVED = 1 << 15


def walk(
    yard: Yard, storms: Sequence[OneStorm], seen: Callable[[int], None]
) -> list[dict[str, Any]]:
    """Walk every storm through every case of a yard; ``seen`` hears how many are done.

    What was counted, by the names of a `Tally`, and volume, inflow and rim, (pumps, lines, M);
    NaN where the flow is not known, as the status says.
    """
    shape, work = yard.size, 0.0
    names = (*COUNTED, "volume", "inflow", "rim")
    counted = {name: np.full((len(storms), *shape), np.nan) for name in names}
    status = np.empty(shape, dtype="U16")
    for p, k, stations in yard.blocks(_SOLVED // max(shape[2], 1)):
        status[p, k] = stations.status.reshape(status[p, k].shape)
        part = {name: array[:, p, k] for name, array in counted.items()}
        part["rim"][:] = np.where(stations.known, stations.rim, np.nan)
        known = stations.known & ~np.isnan(yard.start)
        work += _work(storms, stations.working, known.sum(axis=(0, 1)))
        spend("route", starts_and_steps=work, points_each=10 if known.size < FEW else 1)
        # those of one storm and pit stand side by side, as they share its pieces of time
        wide = np.broadcast_to(known, (len(storms), *known.shape))
        place = np.nonzero(wide.transpose(0, 3, 1, 2))
        beside = known.shape[0] * known.shape[1]
        size = min(_CHUNK, beside * max(1, _POINTS // max(storm.count for storm in storms)))
        for begin in range(0, place[0].size, size):
            s, m, p_, k_ = (x[begin : begin + size] for x in place)
            found = _chunk(stations, storms, s, (p_, k_, m), yard.start[m])
            for name, values in found.items():
                part[name][s, p_, k_, m] = values
            seen(s.size)
        seen(len(storms) * int((~known).sum()))
    return [{n: a[i] for n, a in counted.items()} | {"status": status} for i in range(len(storms))]


def _work(storms: Sequence[OneStorm], working: FloatArray, cases: Index) -> float:
    """Starts and steps of all: a start takes a working volume away."""
    some = cases > 0
    each = sum(storm.count + storm.water[some] / working[some] for storm in storms)
    return float(np.sum(each * cases[some]))


def _chunk(
    stations: Stations,
    storms: Sequence[OneStorm],
    s: Index,
    place: tuple[Index, ...],
    start: FloatArray,
) -> dict[str, FloatArray]:
    """What is counted in some cases."""
    pieces, storm = _cut(storms, s, place[2], stations.working)
    found = {name: np.full(s.size, np.nan) for name in (*COUNTED, "volume")}
    left = np.arange(s.size)
    # many at once are those that the mains drive, with no tail water that comes back
    rare = stations.tail[place[1:]].any(axis=-1) | (pieces.supply == BATTERY).any()
    some = np.flatnonzero(~rare)
    if some.size >= FEW:
        cases = Cases(stations, *(x[some] for x in place))
        many = ManyMarch(cases, pieces, storm[some], start[some])
        left = np.append(np.flatnonzero(rare), some[many.run()])
        for name, values in many.counted.items():
            found[name][some] = values
    listed: dict[int, Any] = {}
    for i in left.tolist():
        row = int(storm[i])
        if row not in listed:
            listed[row] = pieces.one(row), int(pieces.over[row] - pieces.first[row])
        march = March(stations.station(*(int(x[i]) for x in place)), float(start[i]))
        tally = march.run(*listed[row])
        for name in COUNTED:
            found[name][i] = vars(tally)[name]
        found["volume"][i] = march.volume
    return found | {"inflow": pieces.came[storm]}


def _cut(
    storms: Sequence[OneStorm], s: Index, m: Index, working: FloatArray
) -> tuple[Pieces, Index]:
    """Time cut for each storm and working volume, and which of these cuts each case has."""
    parts, storm, count = [], np.empty(s.size, dtype=np.intp), 0
    for number in np.unique(s):
        one, of = storms[number], np.flatnonzero(s == number)
        keys = np.stack([one.which[m[of]].astype(np.float64), working[m[of]]])
        each, row = np.unique(keys, axis=1, return_inverse=True)
        parts.append(one.pieces(each[0].astype(np.intp), each[1]))
        storm[of], count = count + row.ravel(), count + each.shape[1]
    return Pieces.joined(parts), storm
