"""One pump list, line list, pit and storm array: cut into pieces of time and walked."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from drainpump import units as u
from drainpump.errors import InputError, wrong
from drainpump.inflow.storm import Hydrograph
from drainpump.parts.pit import Pit
from drainpump.results import one_shape
from drainpump.routing.events import BATTERY, LEAD_FAILED, MAINS, NO_POWER, March, Pieces, Tally
from drainpump.routing.flow_tables import Setting, Sites, prepare
from drainpump.units import FloatArray

__all__ = ["TALLIES", "Case", "windows"]

#: what a case answers, by the names a result gives them
TALLIES = (
    "starts", "lag_starts", "peak_level", "peak_pond", "peak_depth", "ponded", "peak_at",
    "longest", "running", "inflow", "pumped", "lifted", "overflow", "overflowing", "stored",
    "energy", "ended",
)  # fmt: skip

#: water (as a share of the working volume) by which a step of inflow may stray from a slope
_STRAY = 5e-4


def windows(outages: Any) -> tuple[tuple[float, float], ...]:
    """Check windows of (start_min, end_min) and return them in s, sorted."""
    try:
        table = np.asarray(list(outages), dtype=np.float64).reshape(-1, 2)
    except (TypeError, ValueError):
        raise wrong(
            "outages", outages, "must be pairs of (start, end)", "e.g. [(30, 90)]"
        ) from None
    for i, (start, end) in enumerate(table):
        if not 0 <= start < end:
            raise wrong(
                f"outages[{i}]",
                (float(start), float(end)),
                "must begin at 0 min or later and end after it begins",
                "give (start, end) in minutes",
            )
    return tuple((float(a) * 60, float(b) * 60) for a, b in sorted(table.tolist()))


class _Steps(NamedTuple):
    """Inflow in steps: their ends (s), the rates that occur, and each step's rate."""

    edges: FloatArray
    rates: FloatArray
    number: npt.NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class Case:
    """Everything of one call, made ready; ``answer`` walks it."""

    pit: Pit
    inflow: Hydrograph
    pond: Any
    overflow: FloatArray | None
    sites: Sites
    start: FloatArray  # m³ above the off level, inner
    soaks_back: FloatArray
    outages: tuple[tuple[float, float], ...]
    fails: float | None
    until: float | None
    carried: tuple[bool, bool]  # a battery there is, and it has its own pump

    @classmethod
    def make(
        cls,
        pump: Any,
        line: Any,
        pit: Pit,
        inflow: Hydrograph,
        *,
        pond: Any,
        overflow: FloatArray | None,
        start: FloatArray | None,
        soaks_back: FloatArray,
        outages: tuple[tuple[float, float], ...],
        fails: float | None,
        battery: FloatArray | None,
        battery_pump: Any,
        until: float | None,
    ) -> Case:
        """Check the levels against the pit and solve the pump's flow over them."""
        given = [x for x in (overflow, start, battery) if x is not None]
        storms, size = inflow._flow.si[..., 0], getattr(pond, "_area", np.zeros(()))
        shape = one_shape("route", np.zeros(pit.shape), *given, soaks_back, storms, size)
        overflow_pond = _overflow_pond(pit, pond, overflow)
        setting = Setting(
            pit, overflow, overflow_pond, soaks_back, fails is not None, battery, battery_pump
        )
        first = pit._off.si if start is None else start
        _check_start(pit, first, overflow)
        sites = prepare(pump, line, setting, shape)
        volume = np.broadcast_to(pit._volume_between(pit._off.si, first), sites.grid.inner)
        carried = battery is not None, battery_pump is not None
        return cls(
            pit, inflow, pond, overflow, sites, volume, soaks_back, outages, fails, until, carried
        )

    # -- time

    def _supply(self, times: FloatArray) -> npt.NDArray[np.intp]:
        """What drives the pumps at each time."""
        supply = np.full(times.shape, MAINS)
        failed = np.zeros(times.shape, dtype=bool) if self.fails is None else times >= self.fails
        supply[failed] = LEAD_FAILED
        out = np.zeros(times.shape, dtype=bool)
        for start, end in self.outages:
            out |= (times >= start) & (times < end)
        battery, own = self.carried
        carried = out & battery & (own | ~failed)
        supply[out] = NO_POWER
        supply[carried] = BATTERY
        return supply

    def _pieces(
        self, steps: _Steps, samples: FloatArray | None = None
    ) -> tuple[Pieces, npt.NDArray[np.bool_] | None]:
        """Cut time where the inflow's step, the power or a sample asks for it."""
        edges = steps.edges
        last = edges[-1] if self.until is None else self.until
        cuts = [edges, np.ravel(self.outages), [] if self.fails is None else [self.fails], [last]]
        cuts += [[] if samples is None else samples]
        ends = np.unique(np.concatenate([np.asarray(c, dtype=np.float64) for c in cuts]))
        ends = ends[(ends > 0) & (np.isfinite(ends))]
        if self.until is not None:
            ends = ends[ends <= self.until]
        begin = np.append(0.0, ends)[:-1]
        if self.until is None:
            ends, begin = np.append(ends, np.inf), np.append(begin, ends[-1])
        step = np.searchsorted(edges, begin, side="right") - 1
        k = np.where(begin < edges[-1], steps.number[np.minimum(step, steps.number.size - 1)], 0)
        supply = self._supply(begin)
        keep = np.append((k[1:] != k[:-1]) | (supply[1:] != supply[:-1]), True)
        wanted = None
        if samples is not None:
            # what happens in a stretch is the same wherever it is cut
            sampled = np.isin(ends, samples) | (ends == last)
            keep |= sampled
            wanted = sampled[keep]
        return Pieces(ends[keep].tolist(), k[keep].tolist(), supply[keep].tolist()), wanted

    def _steps(self, which: int, working: float) -> _Steps:
        """Cut a storm's inflow into steps, its first rate being none.

        A sloping stretch is cut so finely that at no moment a step has brought more than
        a small share of the working volume more or less than the slope itself; at the
        ends of the steps it has brought exactly the same.
        """
        time = self.inflow._time - self.inflow._time[0]
        flow = self.inflow._flow.si.reshape(-1, time.size)[which]
        span = np.diff(time)
        some = span > 0
        low, rise, span = flow[:-1][some], np.diff(flow)[some], span[some]
        begin = time[:-1][some]
        stray = np.abs(rise) * span / 8
        count = np.ceil(np.sqrt(stray / (_STRAY * working))).astype(np.intp)
        count = np.where(stray <= 1e-9 * working, 1, np.maximum(count, 1))
        first = np.repeat(np.cumsum(count) - count, count)
        i = np.arange(first.size) - first
        share = 1.0 / np.repeat(count, count)
        rate = np.repeat(low, count) + np.repeat(rise, count) * (i + 0.5) * share
        edges = np.repeat(begin, count) + np.repeat(span, count) * i * share
        rates, number = np.unique(np.append(0.0, rate), return_inverse=True)
        return _Steps(np.append(edges, time[-1]), rates, number.ravel()[1:])

    # -- walking

    def _elements(self) -> Any:
        """Yield for each element its place, its site, its storm's number and its start."""
        grid = self.sites.grid
        inner = grid.inner
        count = int(np.prod(inner))
        storms = self.inflow._flow.si.shape[:-1]
        which = np.broadcast_to(np.arange(int(np.prod(storms))).reshape(storms), inner).reshape(-1)
        start = self.start.reshape(-1)
        for i, site in enumerate(self.sites.sites):
            m = i % count
            yield i, site, int(which[m]), float(start[m])

    def _came_in(self, steps: _Steps) -> float:
        edges = steps.edges if self.until is None else np.minimum(steps.edges, self.until)
        return float(steps.rates[steps.number] @ np.diff(edges))

    def answer(self) -> dict[str, Any]:
        """Walk every element and return its tallies, shaped as the grid."""
        count = len(self.sites.sites)
        tallies: list[Tally | None] = [None] * count
        stored, came = np.full(count, np.nan), np.full(count, np.nan)
        ready: dict[tuple[int, float], Any] = {}
        for i, site, which, start in self._elements():
            if site is None or np.isnan(start):
                continue
            key = which, site.working
            if key not in ready:
                steps = self._steps(*key)
                ready[key] = steps, self._pieces(steps)[0], self._came_in(steps)
            steps, pieces, came[i] = ready[key]
            march = March(site, steps.rates, start)
            tallies[i] = march.run(pieces)
            stored[i] = march.volume - start
        return self._shape(tallies, stored, came)

    def _shape(
        self, tallies: list[Tally | None], stored: FloatArray, came: FloatArray
    ) -> dict[str, Any]:
        grid = self.sites.grid
        wide = (len(grid.pumps), len(grid.lines), *grid.inner)

        def of(name: str) -> FloatArray:
            values = [np.nan if t is None else getattr(t, name) for t in tallies]
            return np.asarray(values, dtype=np.float64).reshape(wide)

        rim = self._rims().reshape(wide)
        peak = of("peak")
        over = np.maximum(peak - rim, 0.0)
        # a rounding of the rim's own volume is no pond
        over = np.where(over <= 1e-12 * np.abs(rim), 0.0, over)
        depth = np.where(over > 0, self.pond._depth_at(over), np.where(np.isnan(over), over, 0.0))
        answer: dict[str, Any] = {
            name: of({"peak_at": "peak_at", "ended": "end"}.get(name, name))
            for name in ("starts", "lag_starts", "ponded", "peak_at", "longest", "running",
                         "pumped", "overflow", "overflowing", "energy", "ended")
        }  # fmt: skip
        answer |= {
            "peak_pond": over,
            "peak_depth": depth,
            "peak_level": self._level(peak, rim) + depth,
            "stored": stored.reshape(wide),
            "inflow": came.reshape(wide),
            "lifted": answer["pumped"] / (1.0 - self.soaks_back),
            "status": self._status(tallies, wide),
        }
        for name in ("starts", "lag_starts"):
            if not np.isnan(answer[name]).any():
                answer[name] = answer[name].astype(np.int64)
        return {name: np.broadcast_to(a, wide).reshape(grid.shape) for name, a in answer.items()}

    def _rims(self) -> FloatArray:
        return np.array([np.nan if s is None else s.rim for s in self.sites.sites])

    def _status(self, tallies: list[Tally | None], wide: tuple[int, ...]) -> Any:
        status = np.broadcast_to(self.sites.status, wide)
        bad = np.array([t is None for t in tallies]).reshape(wide)
        return np.where((status == "ok") & bad, "bad_input", status)

    def _level(self, volume: FloatArray, rim: FloatArray) -> FloatArray:
        """Level above the pit's floor of a stored volume, at most the rim (m)."""
        pit = self.pit
        water = np.minimum(volume, rim) + pit._volume_between(np.zeros(()), pit._off.si)
        beside = pit._area - pit._body_area
        low = water / beside
        top = pit._body_top
        level = np.where(low <= top, low, top + (water - beside * top) / pit._area)
        return np.minimum(level, pit._depth.si)

    def trace(self, step: float) -> dict[str, FloatArray]:
        """The first element over time (SI), noted every ``step`` seconds and at the end."""
        _, site, which, start = next(iter(self._elements()))
        if site is None:
            raise InputError("to_frame: the pump's flow is not known; see .require().")
        steps = self._steps(which, site.working)
        whole = March(site, steps.rates, start).run(self._pieces(steps)[0]).end
        samples = np.append(np.arange(0.0, whole, step), whole)
        pieces, wanted = self._pieces(steps, samples)
        march = March(site, steps.rates, start)
        march.run(pieces, wanted)
        names = ("time", "volume", "inflow", "pump_flow", "starts", "pumped", "overflow")
        rows = dict(zip(names, np.array(march.sampled).T, strict=True))
        rim = np.asarray(site.rim)
        rows["pump_flow"] = rows["pump_flow"] / (1.0 - np.ravel(self.soaks_back)[0])
        rows["pond"] = np.maximum(rows["volume"] - rim, 0.0)
        depth = np.where(rows["pond"] > 0, np.ravel(self.pond._depth_at(rows["pond"])), 0.0)
        rows["pond_depth"] = depth
        rows["level"] = self._level(rows["volume"], rim)
        rows["starts"] = rows["starts"].astype(np.intp)
        return rows


def _overflow_pond(pit: Pit, pond: Any, overflow: FloatArray | None) -> FloatArray:
    """Water that ponds before the overflow level is reached (m³); checks the level."""
    if overflow is None:
        return np.zeros(())
    low = overflow <= pit._on.si
    if np.any(low):
        raise InputError(
            f"overflow level {u.both(overflow, 'in')}: must lie above the pit's on level "
            f"{u.both(pit._on.si, 'in')}; the pump would never start."
        )
    above = np.maximum(overflow - pit._depth.si, 0.0)
    volume = np.where(above > 0, pond._volume_at(above), 0.0)
    if np.any(np.isnan(volume) & ~np.isnan(overflow)):
        raise InputError(
            f"overflow level {u.both(overflow, 'in')}: lies above the rim and the pond's size "
            "there is not known; give pond_area_ft2, or a pond_storage that reaches so high."
        )
    return np.asarray(volume)


def _check_start(pit: Pit, start: FloatArray, overflow: FloatArray | None) -> None:
    top = pit._depth.si if overflow is None else np.minimum(pit._depth.si, overflow)
    if np.any(start > top):
        raise InputError(
            f"start level {u.both(start, 'in')}: must be at most {u.both(top, 'in')}, the pit's "
            "rim or its overflow level."
        )
