"""All cases of a yard walked: many at a time, or each alone where there are few."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from drainpump.routing.cases import Cases, Index
from drainpump.routing.events import COUNTED, March
from drainpump.routing.flow_tables import Sites
from drainpump.routing.many_storms import FEW, ManyMarch
from drainpump.routing.time_cuts import Pieces
from drainpump.routing.yard import Yard
from drainpump.units import FloatArray

__all__ = ["Cut", "Walked", "walk"]

#: storms by the number of each inner element's, and what cuts their time for a pit
Cut = tuple[Index, Callable[[Index, FloatArray], Pieces]]

#: cases walked at a time, so that what they need stays in the processor's cache
_CHUNK = 1 << 12
#: cases solved at a time
_SOLVED = 1 << 15


@dataclass(frozen=True, eq=False)
class Walked:
    """What was counted for one storm, (pumps, lines, M); NaN where the flow is not known."""

    counted: dict[str, FloatArray]  # by the names of a `Tally`; and "volume", "came", "rim"
    status: Any


def walk(yard: Yard, storms: Sequence[Cut], seen: Callable[[int], None]) -> list[Walked]:
    """Walk every storm through every case of a yard; ``seen`` hears how many are done."""
    shape = yard.size
    names = (*COUNTED, "volume", "came", "rim")
    counted = {name: np.full((len(storms), *shape), np.nan) for name in names}
    status = np.empty(shape, dtype="U16")
    small = int(np.prod(shape)) <= _SOLVED
    whole = (slice(None), slice(None), yard.sites)
    for p, k, sites in [whole] if small else yard.blocks(_SOLVED // shape[2]):
        status[p, k] = sites.status.reshape(status[p, k].shape)
        part = {name: array[:, p, k] for name, array in counted.items()}
        part["rim"][:] = np.where(sites.known, sites.rim, np.nan)
        known = sites.known & ~np.isnan(yard.start)
        # those of one storm and pit stand side by side, as they share its pieces of time
        place = np.nonzero(
            np.broadcast_to(known, (len(storms), *known.shape)).transpose(0, 3, 1, 2)
        )
        for begin in range(0, place[0].size, _CHUNK):
            s, m, p_, k_ = (x[begin : begin + _CHUNK] for x in place)
            found = _chunk(sites, storms, s, (p_, k_, m), yard.start[m])
            for name, values in found.items():
                part[name][s, p_, k_, m] = values
            seen(s.size)
        seen(len(storms) * int((~known).sum()))
    return [Walked({n: a[i] for n, a in counted.items()}, status) for i in range(len(storms))]


def _chunk(
    sites: Sites, storms: Sequence[Cut], s: Index, place: tuple[Index, ...], start: FloatArray
) -> dict[str, FloatArray]:
    """What is counted in some cases."""
    pieces, storm = _cut(storms, s, place[2], sites.working)
    if s.size < FEW:
        found = {name: np.full(s.size, np.nan) for name in (*COUNTED, "volume")}
        left = np.arange(s.size)
    else:
        many = ManyMarch(Cases(sites, *place), pieces, storm, start)
        left, found = many.run(), many.counted
    listed: dict[int, Any] = {}
    for i in left.tolist():
        row = int(storm[i])
        if row not in listed:
            listed[row] = pieces.one(row), int(pieces.over[row] - pieces.first[row])
        march = March(sites.site(*(int(x[i]) for x in place)), float(start[i]))
        tally = march.run(*listed[row])
        for name in COUNTED:
            found[name][i] = vars(tally)[name]
        found["volume"][i] = march.volume
    return found | {"came": pieces.came[storm]}


def _cut(storms: Sequence[Cut], s: Index, m: Index, working: FloatArray) -> tuple[Pieces, Index]:
    """Time cut for each storm and working volume, and which of these cuts each case has."""
    parts, storm, count = [], np.empty(s.size, dtype=np.intp), 0
    for number in np.unique(s):
        which, cut = storms[number]
        of = np.flatnonzero(s == number)
        keys = np.stack([which[m[of]].astype(np.float64), working[m[of]]])
        each, row = np.unique(keys, axis=1, return_inverse=True)
        parts.append(cut(each[0].astype(np.intp), each[1]))
        storm[of], count = count + row.ravel(), count + each.shape[1]
    return Pieces.joined(parts), storm
