"""One pump list, line list, pit and storm array of a call: made ready and walked.

Inside, time counts from the storm's first point; its own clock is put on at the edge.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from drainpump import units as u
from drainpump.errors import DrainpumpWarning, InputError, warn
from drainpump.inflow.storm import Hydrograph
from drainpump.parts.pit import Pit
from drainpump.results import one_shape
from drainpump.routing.events import March, Tally
from drainpump.routing.flow_tables import Setting, Sites, prepare
from drainpump.routing.site import Site
from drainpump.routing.time_cuts import Pieces, Power, Windows, cut_inflow
from drainpump.units import FloatArray
from drainpump.work_budget import spend

__all__ = ["TALLIES", "Asked", "OneStorm", "RoutingWarning"]

#: what a storm answers, by the names a result gives them
TALLIES = (
    "starts", "lag_starts", "peak_level", "peak_pond", "peak_depth", "ponded", "peak_at",
    "longest", "running", "inflow", "pumped", "lifted", "overflow", "overflowing", "stored",
    "energy", "ended",
)  # fmt: skip
#: those that the walk itself counts, under its own names
_WALKED = {
    name: {"ended": "end"}.get(name, name)
    for name in ("starts", "lag_starts", "ponded", "peak_at", "longest", "running", "pumped",
                 "overflow", "overflowing", "energy", "ended")
}  # fmt: skip
#: water (as a share of what the pit holds) that is no pond but a rounding of the rim's volume
_DRY = 1e-12
#: a time (s) in which no water moves that one could see
_BEHIND = 1e-8


class RoutingWarning(DrainpumpWarning):
    """Something asked of a routing that no storm in it can answer."""


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
class OneStorm:
    """Everything of one pit and storm, made ready; ``answer`` walks it."""

    pit: Pit
    inflow: Hydrograph
    asked: Asked
    sites: Sites
    start: FloatArray  # m³ above the off level, inner

    @classmethod
    def make(cls, pump: Any, line: Any, pit: Pit, inflow: Hydrograph, asked: Asked) -> OneStorm:
        """Check the levels against the pit and solve the pump's flow over them."""
        if pit.open:
            pit = _one_float(pit, pump)
        asked = asked.from_begin(inflow)
        given = [x for x in (asked.overflow, asked.start, asked.battery) if x is not None]
        storms = inflow.si.flow[..., 0]
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
        sites = prepare(pump, line, setting, shape)
        volume = np.broadcast_to(pit.si.volume_between(pit.si.off, first), sites.grid.inner)
        return cls(pit, inflow, asked, sites, volume)

    @property
    def begin(self) -> float:
        """The storm's first point by its own clock, s."""
        return float(self.inflow.si.time[0])

    @property
    def _power(self) -> Power:
        asked = self.asked
        return Power(
            asked.outages, asked.fails, asked.battery is not None, asked.battery_pump is not None
        )

    def _pieces(self, which: Any, working: Any, samples: FloatArray | None = None) -> Pieces:
        """Time cut for the storms of these numbers (K,), in pits of these working volumes."""
        time = self.inflow.si.time - self.begin
        flow = self.inflow.si.flow.reshape(-1, time.size)[which]
        return cut_inflow(time, flow, working, self._power, self.asked.until, samples)

    def _elements(self) -> Any:
        """Yield for each element its place, its site, its storm's number and its start."""
        inner = self.sites.grid.inner
        count = int(np.prod(inner))
        storms = self.inflow.si.flow.shape[:-1]
        which = np.broadcast_to(np.arange(int(np.prod(storms))).reshape(storms), inner).reshape(-1)
        start = self.start.reshape(-1)
        for i, site in enumerate(self.sites.sites):
            m = i % count
            yield i, site, int(which[m]), float(start[m])

    def answer(self) -> dict[str, Any]:
        """Walk every element and return its tallies, shaped as the grid."""
        count = len(self.sites.sites)
        tallies: list[Tally | None] = [None] * count
        stored, came = np.full(count, np.nan), np.full(count, np.nan)
        ponded = np.zeros(count, dtype=bool)
        ready: dict[tuple[int, float], Any] = {}
        walked, fallen = 0.0, self.inflow.si.volume.reshape(-1)
        for i, site, which, start in self._elements():
            if site is None or np.isnan(start):
                continue
            key = which, site.working
            # a start takes a working volume away
            walked += self.inflow.si.time.size + fallen[which] / site.working
            spend("route", starts_and_steps=walked, points_each=10)
            if key not in ready:
                cut = self._pieces(np.array([which]), np.array([site.working]))
                ready[key] = cut.one(0), int(cut.over[0]), float(cut.came[0])
            pieces, over, came[i] = ready[key]
            march = March(site, start)
            tallies[i] = march.run(pieces, over)
            stored[i] = march.volume - start
            ponded[i] = march.volume > site.rim * (1 + _DRY)
        return self._shape(tallies, stored, came, ponded)

    def _shape(
        self, tallies: list[Tally | None], stored: FloatArray, came: FloatArray, ponded: Any
    ) -> dict[str, Any]:
        grid, pond = self.sites.grid, self.asked.pond
        wide = (len(grid.pumps), grid.count, *grid.inner)

        def of(name: str) -> FloatArray:
            values = [np.nan if t is None else getattr(t, name) for t in tallies]
            return np.asarray(values, dtype=np.float64).reshape(wide)

        rim = _each(self.sites.sites, lambda site: site.rim).reshape(wide)
        level, over, depth = self._stands(of("peak"), rim)
        answer: dict[str, Any] = {name: of(own) for name, own in _WALKED.items()}
        self._see_outages(answer["ended"])
        for name in ("peak_at", "ended"):
            answer[name] = answer[name] + self.begin
        answer |= {
            "peak_pond": over,
            "peak_depth": depth,
            "peak_level": level,
            "stored": stored.reshape(wide),
            "inflow": came.reshape(wide),
            "lifted": answer["pumped"] / (1.0 - self.asked.soaks_back),
        }
        for name in ("starts", "lag_starts"):
            if not np.isnan(answer[name]).any():
                answer[name] = answer[name].astype(np.int64)
        found = np.broadcast_to(self.sites.status, wide)
        failed = np.array([t is None for t in tallies]).reshape(wide)
        later = np.select(
            [failed, ponded.reshape(wide), pond.si.is_past(over)],
            ["bad_input", "still_ponded", "beyond_pond"],
            "ok",
        )
        answer["status"] = np.where(found == "ok", later, found)
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
        _, site, which, start = next(iter(self._elements()))
        if site is None:
            raise InputError("to_frame: the pump's flow is not known; see .require().")
        storm = np.array([which]), np.array([site.working])
        cut = self._pieces(*storm)
        whole = March(site, start).run(cut.one(0), int(cut.over[0]))
        # a line's water is back in the pit at once when the pump stops: look just behind that
        highest = min(whole.peak_at + _BEHIND, whole.end)
        spend("to_frame", rows=whole.end / step, points_each=10)
        samples = np.append(np.arange(0.0, whole.end, step), [highest, whole.end])
        fine = self._pieces(*storm, samples)
        seen = np.isin(fine.end, [*samples, cut.end[cut.over[0] - 1]])
        march = March(site, start)
        march.run(fine.one(0), int(fine.over[0]), seen.tolist())
        names = ("time", "volume", "inflow", "pump_flow", "starts", "pumped", "overflow", "floats")
        rows = dict(zip(names, np.array(march.sampled).T, strict=True))
        # the row at the highest shows what the walk saw there, however soon it is gone again
        top = int(np.argmin(np.abs(rows["time"] - highest)))
        rows["volume"][top] = max(rows["volume"][top], whole.peak)
        stands = self._stands(rows["volume"], np.asarray(site.rim))
        rows |= {k: np.ravel(v) for k, v in zip(("level", "pond", "pond_depth"), stands,
                                                strict=True)}  # fmt: skip
        rows["time"] = rows["time"] + self.begin
        rows["starts"] = rows["starts"].astype(np.intp)
        return rows


def _each(sites: list[Site | None], what: Any) -> FloatArray:
    return np.array([np.nan if site is None else what(site) for site in sites])


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
