"""A storm through a pit in small steps, in gpm, gal, in and min; nothing of the library's routing.

Water is counted from the off level: ``dV/dt = inflow - pumped - spilled``. Each step is a
midpoint step that ends early where a float is reached, so that what comes in, goes out and
stays balances by construction; what is left to chance is only the step, and it is small.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

import drainpump as dp
from tests.problems import FOOT, GPM, asked_m

LPS_PER_GPM = GPM * 1000
#: level above the off level, in, to flow, gpm
Flow = Callable[[float], float]


def flow_by_level(
    pump: dp.PumpCurve, line: dp.DischargeLine, rim_in: float, alike: int = 1
) -> Flow:
    """Flow of so many like pumps side by side, straight between 33 levels up to the rim.

    Past its last point a pump gives what it gives there; where it cannot lift, nothing.
    """
    last, first = float(pump.flow_lps[-1]), float(pump.flow_lps[0])
    made = PchipInterpolator(pump.flow_lps, pump.head_m)

    def spare(each: float, level_m: float) -> float:
        return float(made(each)) - asked_m(line, alike * each, level_m)

    def crossing(level_m: float) -> float:
        if spare(last, level_m) >= 0:
            return last
        if spare(first, level_m) <= 0:
            return 0.0
        return float(brentq(spare, first, last, args=(level_m,), xtol=1e-8))

    levels = np.linspace(0, rim_in, 33)
    flows = [alike * crossing(x / 12 * FOOT) / LPS_PER_GPM for x in levels]
    step = levels[1]

    def at(level: float) -> float:
        i = min(max(int(level / step), 0), 31)
        share = min(max(level / step - i, 0.0), 1.0)
        return flows[i] + share * (flows[i + 1] - flows[i])

    return at


@dataclass(frozen=True)
class Ground:
    """What stands above the rim: gal by in, from an area or a table; unknown without either."""

    area_ft2: float | None = None
    depth_in: Sequence[float] = ()
    volume_gal: Sequence[float] = ()

    def depth(self, ponded: float) -> float:
        """Depth; past a table's end at least its last, on unknown ground NaN."""
        if self.area_ft2 is not None:
            return ponded * 231 / (self.area_ft2 * 144)
        if not len(self.depth_in):
            return np.nan if ponded > 0 else 0.0
        return float(np.interp(ponded, [0, *self.volume_gal], [0, *self.depth_in]))

    def volume(self, depth: float) -> float:
        """Water at a depth."""
        if self.area_ft2 is not None:
            return depth * self.area_ft2 * 144 / 231
        return float(np.interp(depth, [0, *self.depth_in], [0, *self.volume_gal]))


@dataclass(frozen=True)
class Site:
    """A round pit with its floats and its pumps, levels in inches above the floor."""

    diameter: float
    off: float
    on: float
    rim: float
    lead: Flow
    both: Flow | None = None
    lag_on: float | None = None
    ground: Ground = field(default_factory=Ground)
    spill: float | None = None
    battery: Flow | None = None
    soaks: float = 0.0

    def volume(self, level: float) -> float:
        """Water above the off level when it stands that high."""
        inside = np.pi / 4 * self.diameter**2 / 231 * (min(level, self.rim) - self.off)
        return float(inside + (self.ground.volume(level - self.rim) if level > self.rim else 0))

    def level(self, volume: float) -> float:
        """Height of the water above the floor."""
        room = self.volume(self.rim)
        if volume > room:
            return self.rim + self.ground.depth(volume - room)
        return float(self.off + volume / (np.pi / 4 * self.diameter**2 / 231))


@dataclass
class Storm:
    """What came of it."""

    starts: int = 0
    lag_starts: int = 0
    inflow: float = 0.0
    pumped: float = 0.0
    lifted: float = 0.0
    spilled: float = 0.0
    stored: float = 0.0
    peak_pond: float = 0.0
    peak_level: float = np.nan
    highest: float = -np.inf
    worst: float = 0.0
    ponded: float = 0.0
    running: float = 0.0
    end: float = 0.0
    still_ponded: bool = False


@dataclass
class _Now:
    """Where the simulation stands."""

    time: float
    volume: float
    up: dict[str, bool] = field(default_factory=lambda: {"lead": False, "lag": False})
    ran: dict[str, bool] = field(default_factory=lambda: {"lead": False, "lag": False})


def simulate(
    site: Site,
    time: Any,
    flow: Any,
    *,
    start: float | None = None,
    outages: Sequence[tuple[float, float]] = (),
    lead_fails: float = np.inf,
    until: float | None = None,
    step: float = 0.05,
) -> Storm:
    """Step the storm through; all times are those of the hydrograph."""
    times, flows = np.asarray(time, float), np.asarray(flow, float)
    far = until if until is not None else times[-1] + 1e5
    times, flows = np.append(times, [times[-1], far]), np.append(flows, [0, 0])
    now = _Now(float(times[0]), site.volume(site.off if start is None else start))
    got, begun = Storm(worst=now.time, highest=now.volume), now.volume
    _floats(site, now)
    edges = sorted({e for e in (*np.ravel(list(outages)), lead_fails) if np.isfinite(e)})
    for i in range(times.size - 1):
        if times[i + 1] <= times[i]:
            continue
        slope = (flows[i + 1] - flows[i]) / (times[i + 1] - times[i])
        for stop in [*(e for e in edges if times[i] < e < times[i + 1]), float(times[i + 1])]:
            stop = min(stop, far)
            while now.time < stop - 1e-12:
                out = any(a <= now.time + 1e-12 < b for a, b in outages)
                on = _running(now, not out or site.battery is not None, lead_fails, got)
                over = until is None and i == times.size - 2 and not any(on.values())
                waits = any(now.up.values()) and lead_fails == np.inf
                if over and not (waits and any(e > now.time for e in edges)):
                    stop = far = now.time
                    break
                rate, since = flows[i] + slope * (now.time - times[i]), now.time
                pump = site.both if on["lead"] and on["lag"] else site.lead
                pump = site.battery if out and site.battery is not None else pump
                _step(site, now, got, pump if any(on.values()) else None, rate, slope, stop, step)
                got.running += (now.time - since) if any(on.values()) else 0.0
    got.end = now.time
    got.peak_pond = max(got.highest - site.volume(site.rim), 0.0)
    got.peak_level = site.level(got.highest)
    got.stored = now.volume - begun
    got.still_ponded = now.volume > site.volume(site.rim) + 1e-6
    return got


def _floats(site: Site, now: _Now) -> None:
    """Each float keeps its state between its two levels; all drop at the off level."""
    if now.volume <= 1e-9:
        now.up.update(lead=False, lag=False)
    if now.volume >= site.volume(site.on) - 1e-9:
        now.up["lead"] = True
    if site.lag_on is not None and now.volume >= site.volume(site.lag_on) - 1e-9:
        now.up["lag"] = True


def _running(now: _Now, power: bool, lead_fails: float, got: Storm) -> dict[str, bool]:
    """Which pumps run; one that did not run before is counted as a start."""
    on = {
        "lead": now.up["lead"] and power and now.time + 1e-12 < lead_fails,
        "lag": now.up["lag"] and power,
    }
    # one pump of a bank takes over from a dead one without a start of the set
    got.starts += any(on.values()) and not any(now.ran.values())
    got.lag_starts += on["lag"] and not now.ran["lag"]
    now.ran = on
    return on


def _step(
    site: Site, now: _Now, got: Storm, pump: Flow | None, rate: float, slope: float,
    stop: float, step: float,
) -> None:  # fmt: skip
    """One midpoint step, cut where the water comes to a float or to the rim."""
    rim = site.volume(site.rim)
    inch = np.pi / 4 * site.diameter**2 / 231
    brim = np.inf if site.spill is None else site.volume(site.spill)

    def out(volume: float) -> float:
        return pump(min(volume, rim) / inch) if pump is not None else 0.0

    def after(h: float) -> tuple[float, float, float]:
        middle = now.volume + h / 2 * (rate + slope * h / 4 - (1 - site.soaks) * out(now.volume))
        middle = min(middle, brim)
        came, lifted = rate * h + slope * h * h / 2, out(middle) * h
        return now.volume + came - (1 - site.soaks) * lifted, came, lifted

    marks = [rim, 0.0] if any(now.up.values()) else [rim]
    marks += [] if now.up["lead"] else [site.volume(site.on)]
    marks += [brim] if brim < np.inf else []
    marks += [site.volume(site.lag_on)] if site.lag_on is not None and not now.up["lag"] else []
    # above the rim, or at rest, nothing depends on the level: the step may be long
    steady = pump is None or now.volume > rim + 1e-9
    h = min(stop - now.time, 1.0 if steady else step)
    turns = ((1 - site.soaks) * out(now.volume) - rate) / slope if slope else 0.0
    h = min(h, turns) if steady and turns > 1e-9 else h
    for mark in marks:
        gap = now.volume - mark
        if abs(gap) > 1e-9 and gap * (after(h)[0] - mark) < 0:
            h = float(brentq(lambda x, m=mark: after(x)[0] - m, 0, h, xtol=1e-13))
    volume, came, lifted = after(h)
    for mark in marks:
        volume = mark if abs(volume - mark) < 1e-9 else volume
    if volume > brim:
        got.spilled += volume - brim
        volume = brim
    middle = (now.volume + volume) / 2
    got.ponded += h if middle > rim + 1e-9 else 0.0
    got.inflow += came
    got.lifted += lifted
    got.pumped += (1 - site.soaks) * lifted
    now.time, now.volume = now.time + h, volume
    if volume > got.highest + 1e-9:
        got.highest, got.worst = volume, now.time
    _floats(site, now)
