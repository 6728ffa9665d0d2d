"""One storm, or storms side by side, in one yard: what is asked, told and shown of it.

Inside, time counts from the storm's first point; its own clock is put on at the edge.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from drainpump.errors import DrainpumpWarning, InputError, warn
from drainpump.inflow.storm import Hydrograph
from drainpump.parts.pit import Pit
from drainpump.routing.asked import Asked
from drainpump.routing.events import COUNTED, March
from drainpump.routing.time_cuts import Pieces, cut_inflow
from drainpump.routing.yard import Yard
from drainpump.units import FloatArray
from drainpump.work_budget import spend

#: water (as a share of what the pit holds) that is no pond but a rounding of the rim's volume
_DRY = 1e-12
#: of the water that came: below it a sum is nothing but its rounding
_ROUNDING = 1e-12
#: a time (s) in which no water moves that one could see
_BEHIND = 1e-8


class RoutingWarning(DrainpumpWarning):
    """Something asked of a routing that no storm in it can answer."""


@dataclass(frozen=True, eq=False)
class OneStorm:
    """A storm, or storms side by side, in one pit."""

    yard: Yard
    inflow: Hydrograph
    asked: Asked

    @property
    def pit(self) -> Pit:
        """The pit with the floats in force."""
        return self.yard.pit

    @property
    def begin(self) -> float:
        """The storm's first point by its own clock, s."""
        return float(self.inflow.si.time[0])

    @property
    def count(self) -> int:
        """How many points its hydrograph has."""
        return int(self.inflow.si.time.size)

    @cached_property
    def which(self) -> Any:
        """Number of the storm of each inner element (M,)."""
        storms = self.inflow.si.flow.shape[:-1]
        number = np.arange(int(np.prod(storms))).reshape(storms)
        return np.broadcast_to(number, self.yard.grid.inner).reshape(-1)

    @cached_property
    def water(self) -> FloatArray:
        """What comes in of each (M,), m³."""
        return np.asarray(self.inflow.si.volume.reshape(-1)[self.which])

    def pieces(self, which: Any, working: Any, samples: FloatArray | None = None) -> Pieces:
        """Time cut for the storms of these numbers (K,), in pits of these working volumes."""
        time = self.inflow.si.time - self.begin
        flow = self.inflow.si.flow.reshape(-1, time.size)[which]
        return cut_inflow(time, flow, working, self.asked, samples)

    def answer(self, found: dict[str, Any]) -> dict[str, Any]:
        """What a result tells of what was counted, shaped as the grid."""
        grid, pond = self.yard.grid, self.asked.pond
        wide = (len(grid.pumps), grid.count, *grid.inner)
        of = {name: array.reshape(wide) for name, array in found.items()}
        start = np.broadcast_to(self.yard.start.reshape(grid.inner), wide)
        level, over, depth = self._stands(of["peak"], of["rim"])
        answer: dict[str, Any] = {name: of[name] for name in (*COUNTED, "inflow")}
        pumped = answer["pumped"]
        # what sums that cancel leave behind is no water
        answer["pumped"] = np.where(np.abs(pumped) <= _ROUNDING * answer["inflow"], 0.0, pumped)
        self._see_outages(answer["ended"])
        for name in ("peak_at", "ended"):
            answer[name] = answer[name] + self.begin
        answer |= {
            "peak_pond": over,
            "peak_depth": depth,
            "peak_level": level,
            "stored": of["volume"] - start,
            "lifted": answer["pumped"] / (1.0 - self.asked.soaks_back),
        }
        for name in ("starts", "lag_starts"):
            if not np.isnan(answer[name]).any():
                answer[name] = answer[name].astype(np.int64)
        later = np.select(
            [np.isnan(of["ended"]), of["volume"] > of["rim"] * (1 + _DRY), pond.si.is_past(over)],
            ["bad_input", "still_ponded", "beyond_pond"],
            "ok",
        )
        answer["status"] = np.where(of["status"] == "ok", later, of["status"])
        return {name: np.broadcast_to(a, wide).reshape(grid.shape) for name, a in answer.items()}

    def _see_outages(self, ended: FloatArray) -> None:
        """Say of a window without power that no storm meets it."""
        end = float(np.nanmax(ended, initial=0.0))
        for window in self.asked.outages:
            if window[1] <= 0 or window[0] >= end:
                a, b, first, last = (f"{(t + self.begin) / 60:g}" for t in (*window, 0.0, end))
                warn(
                    f"outages: ({a}, {b}) lies outside the routing, which goes from {first} to "
                    f"{last} min; all minutes are those of the hydrograph.",
                    RoutingWarning,
                )

    def _stands(self, volume: FloatArray, rim: FloatArray) -> tuple[FloatArray, ...]:
        """Level above the pit's floor (m), water above the rim (m³) and its depth (m).

        The one place where stored water becomes a level: what a result says and what its
        trace shows are one number.
        """
        over = np.maximum(volume - rim, 0.0)
        over = np.where(over <= _DRY * np.abs(rim), 0.0, over)
        # on dry ground the depth is known whatever the pond's size
        depth = np.where(over > 0, self.asked.pond.si.depth_at(over), over)
        pit = self.pit.si
        water = np.minimum(volume, rim) + pit.volume_between(np.zeros(()), pit.off)
        beside = pit.area - pit.body_area
        low = water / beside
        level = np.where(
            low <= pit.body_top, low, pit.body_top + (water - beside * pit.body_top) / pit.area
        )
        return np.minimum(level, pit.depth) + depth, over, depth

    def trace(self, step: float) -> dict[str, FloatArray]:
        """The first element over time (SI), every ``step`` seconds, at its highest and at the end.

        Time is that of the storm's own clock.
        """
        stations, start = self.yard.stations, float(self.yard.start[0])
        if not stations.known[0, 0, 0]:
            raise InputError("to_frame: the pump's flow is not known; see .require().")
        station, storm = stations.station(0, 0, 0), (self.which[:1], stations.working[:1])
        cut = self.pieces(*storm)
        whole = March(station, start).run(cut.one(0), int(cut.over[0]))
        # a line's water is back in the pit at once when the pump stops: look just behind that
        highest = min(whole.peak_at + _BEHIND, whole.ended)
        spend("to_frame", rows=whole.ended / step, points_each=10)
        samples = np.append(np.arange(0.0, whole.ended, step), [highest, whole.ended])
        fine = self.pieces(*storm, samples)
        seen = np.isin(fine.end, [*samples, cut.end[cut.over[0] - 1]])
        march = March(station, start)
        march.run(fine.one(0), int(fine.over[0]), seen.tolist())
        names = ("time", "volume", "inflow", "pump_flow", "starts", "pumped", "overflow", "floats")
        rows = dict(zip(names, np.array(march.sampled).T, strict=True))
        # the row at the highest shows what the walk saw there, however soon it is gone again
        top = int(np.argmin(np.abs(rows["time"] - highest)))
        rows["volume"][top] = max(rows["volume"][top], whole.peak)
        stands = self._stands(rows["volume"], np.asarray(station.rim))
        rows |= {k: np.ravel(v) for k, v in zip(("level", "pond", "pond_depth"), stands,
                                                strict=True)}  # fmt: skip
        rows["time"] = rows["time"] + self.begin
        rows["starts"] = rows["starts"].astype(np.intp)
        return rows


def storms_in(
    pump: Any, line: Any, pit: Pit, storms: Sequence[Hydrograph], asked: Asked
) -> list[OneStorm]:
    """The storms in one pit; those of like shape share all that does not hang on them."""
    yards: dict[tuple[int, ...], Yard] = {}
    found = []
    for storm in storms:
        own, flow = asked.from_begin(storm), storm.si.flow[..., 0]
        if flow.shape not in yards:
            yards[flow.shape] = Yard.make(pump, line, pit, own, flow)
        found.append(OneStorm(yards[flow.shape], storm, own))
    return found
