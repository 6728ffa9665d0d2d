"""What is asked of a routing, and what then drives the pumps over time."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import numpy.typing as npt

from drainpump import units as u
from drainpump.errors import InputError, wrong
from drainpump.inflow.storm import Hydrograph
from drainpump.units import FloatArray

#: what drives the pumps during a piece of time
MAINS, LEAD_FAILED, BATTERY, NO_POWER = range(4)

Windows = tuple[tuple[float, float], ...]


def windows(outages: Any) -> Windows:
    """Check windows of (start_min, end_min) and return them in s, sorted."""
    try:
        table = np.asarray(list(outages), dtype=np.float64).reshape(-1, 2)
    except (TypeError, ValueError):
        raise wrong(
            "outages", outages, "must be pairs of (start, end)", "e.g. [(30, 90)]"
        ) from None
    for i, (start, end) in enumerate(table):
        if not start < end:
            raise wrong(
                f"outages[{i}]",
                (float(start), float(end)),
                "must end after it begins",
                "give (start, end) in minutes, by the clock of the inflow",
            )
    return tuple((float(a) * 60, float(b) * 60) for a, b in sorted(table.tolist()))


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

    def supply_at(self, times: FloatArray) -> npt.NDArray[np.intp]:
        """What drives the pumps at each time."""
        supply = np.full(times.shape, MAINS)
        failed = np.zeros(times.shape, dtype=bool) if self.fails is None else times >= self.fails
        supply[failed] = LEAD_FAILED
        out = np.zeros(times.shape, dtype=bool)
        for start, end in self.outages:
            out |= (times >= start) & (times < end)
        supply[out] = NO_POWER
        if self.battery is not None:
            # a dead lead pump runs on no battery either
            supply[out & ~(failed & (self.battery_pump is None))] = BATTERY
        return supply

    @property
    def changes(self) -> list[float]:
        """When that may change."""
        return [*np.ravel(self.outages).tolist(), *([] if self.fails is None else [self.fails])]
