"""One storm through one pit, from event to event: floats, rim, overflow, power.

The inflow is constant over each piece of time, so the stored water's way is known in
closed form and every event (a float, the rim, the overflow level, an empty battery) is met
exactly, whatever the pieces. Equal cycles that follow one another under one inflow are
taken many at a time and counted exactly. What is pumped is what came in less what was
stored and run over, stretch by stretch.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import inf
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from scipy.optimize import brentq

from drainpump.routing.drawdown import Drive, Way, Ways
from drainpump.units import FloatArray

__all__ = ["BATTERY", "LEAD_FAILED", "MAINS", "NO_POWER", "March", "Pieces", "Site", "Tally"]

#: what drives the pumps during a piece of time
MAINS, LEAD_FAILED, BATTERY, NO_POWER = range(4)


class Pieces(NamedTuple):
    """Time cut where inflow or power changes; the last may have no end."""

    end: list[float]  # s
    inflow: list[int]  # number of the inflow
    supply: list[int]


@dataclass(frozen=True, eq=False)
class Site:
    """One pit with its pumps, in volumes of stored water above the off level (m³)."""

    drives: list[list[Drive | None]]  # by supply, then by how many floats are up
    floats: list[int]  # nodes at which the floats go up, lead first
    top: int  # node of the rim, or of the overflow level below it
    overflow: float  # infinite without an overflow level
    rim: float
    returning: float  # runs back from the line at each stop
    battery: float  # J

    @property
    def working(self) -> float:
        """Water between the off level and the lead pump's float, m³."""
        drive = self.drives[MAINS][1]
        assert drive is not None
        return drive.nodes[self.floats[0]]


@dataclass(eq=False, slots=True)
class Tally:
    """What is counted on the way (SI)."""

    starts: int = 0
    lag_starts: int = 0
    pumped: float = 0.0
    overflow: float = 0.0
    energy: float = 0.0
    ponded: float = 0.0
    overflowing: float = 0.0
    running: float = 0.0
    longest: float = 0.0
    peak: float = -inf
    peak_at: float = 0.0
    end: float = 0.0


@dataclass(eq=False)
class March:
    """The walk itself; ``run`` does it, ``sampled`` holds what was asked for on the way."""

    site: Site
    rates: FloatArray  # (K,) m³/s
    volume: float
    tally: Tally = field(default_factory=Tally)
    time: float = 0.0
    up: int = 0  # floats up
    run_start: float | None = None
    lag_runs: bool = False
    sampled: list[tuple[float, ...]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._ways: dict[int, Ways] = {}
        self._floats = [self.site.drives[MAINS][1].nodes[i] for i in self.site.floats]  # type: ignore[union-attr]
        self._charge = self.site.battery
        self._q = self.rates.tolist()
        self._see()

    def run(self, pieces: Pieces, sample: npt.NDArray[np.bool_] | None = None) -> Tally:
        """Walk all pieces; note the state at the end of those marked in ``sample``."""
        if sample is not None:
            self._note(pieces.inflow[0], pieces.supply[0])
        for i, (end, k, supply) in enumerate(zip(*pieces, strict=True)):
            if self.up or not self._fill(end, self._q[k]):
                self._piece(end, k, supply)
            if end < inf:
                self.time = end
            if sample is not None and sample[i]:
                self._note(k, supply)
        self._switch(None, keep=True)
        self.tally.end = self.time
        return self.tally

    def _fill(self, end: float, q: float) -> bool:
        """Fill to the piece's end, the pump at rest, where no float is reached by then."""
        after = self.volume + q * (end - self.time)
        if self.run_start is not None or end == inf or after >= self._floats[0]:
            return False
        self.volume = after
        if after > self.tally.peak:
            self.tally.peak, self.tally.peak_at = after, end
        return True

    def _drive(self, supply: int) -> Drive | None:
        if self.up == 0 or supply == NO_POWER or (supply == BATTERY and self._charge <= 0):
            return None
        return self.site.drives[supply][self.up]

    def _way(self, drive: Drive, k: int) -> Way:
        ways = self._ways.get(id(drive))
        if ways is None:
            ways = self._ways[id(drive)] = Ways(drive, self.rates)
        return ways[k]

    def _piece(self, end: float, k: int, supply: int) -> None:
        """Go from event to event until the piece ends, or nothing happens any more."""
        q = self._q[k]
        while self.time < end:
            while self.up < len(self._floats) and self.volume >= self._floats[self.up]:
                self.up += 1
            drive = self._drive(supply)
            self._switch(drive)
            left = end - self.time
            if drive is None:
                if self._cycles(q, k, supply, left):
                    continue
                going = self._steady(q, q, 0.0, 0.0, left)
            else:
                top, net = drive.nodes[-1], q - drive.most
                if self.volume > top or (self.volume == top and net >= 0):
                    going = self._steady(q, net, top, drive.watts[-1], left, supply)
                else:
                    going = self._pump(q, self._way(drive, k), left, supply)
            if not going:
                return

    # -- one stretch each: to the next event, or to the end of the piece

    def _steady(
        self, q: float, net: float, floor: float, watts: float, left: float, supply: int = NO_POWER
    ) -> bool:
        """Rise or fall at a steady rate: no pump runs, or the water stands above the rim."""
        volume, goal = self.volume, inf
        if net > 0:
            if volume >= self.site.overflow:
                return self._overflow(q, net, watts, left, supply)
            goals = [self.site.overflow, self.site.rim, *self._floats[self.up : self.up + 1]]
            goal = min(g for g in goals if g > volume)
        elif net < 0:
            goal = floor
        span = (goal - volume) / net if goal < inf else inf
        there = span <= left
        span = min(span, left)
        if supply == BATTERY and watts * span > self._charge:
            span, there = self._charge / watts, False
        if span == inf:
            return False
        self._pass(q, span, goal if there else volume + net * span, watts * span, supply)
        return True

    def _overflow(self, q: float, net: float, watts: float, left: float, supply: int) -> bool:
        """Stand at the overflow level: what the pump does not take runs over."""
        if supply == BATTERY and watts * left > self._charge:
            left = self._charge / watts
        if left == inf:
            return False
        self.tally.overflow += net * left
        self.tally.overflowing += left
        self._pass(q - net, left, self.volume, watts * left, supply)
        return True

    def _pump(self, q: float, way: Way, left: float, supply: int) -> bool:
        """Move below the rim while a pump runs."""
        site, volume = self.site, self.volume
        if way.net_at(volume) < 0:
            goal = 0
        elif self.up < len(site.floats):
            goal = min(site.floats[self.up], site.top)
        else:
            goal = site.top
        span, energy = way.reach(volume, goal)
        there = span <= left and span < inf
        if there:
            after = way.drive.nodes[goal]
        elif left == inf:
            return False
        else:
            span = left
            after, energy = way.advance(volume, span)
        if supply == BATTERY and energy > self._charge:
            span = float(brentq(lambda t: way.advance(volume, t)[1] - self._charge, 0.0, span))
            after, there, energy = way.advance(volume, span)[0], False, self._charge
        self._pass(q, span, after, energy, supply)
        if there and goal == 0:
            self.up = 0
            self._switch(None)
            # with no more inflow a line that drains back may start the pump for ever
            return left < inf
        return True

    def _cycles(self, q: float, k: int, supply: int, left: float) -> bool:
        """From just after a stop, take as many whole equal cycles as surely fit."""
        start = self.site.returning
        if self.up or self.volume != start or q <= 0 or supply not in (MAINS, LEAD_FAILED):
            return False
        lead = self.site.drives[supply][1]
        # three cycles bring at least three times the water between stop and start
        if lead is None or q * left < 3 * (self._floats[0] - start):
            return False
        way = self._way(lead, k)
        rest = (self._floats[0] - start) / q
        run, energy = way.reach(self._floats[0], 0)
        if rest <= 0 or run == inf:
            return False
        count = int(left / (rest + run)) - 1
        if count < 2:
            return False
        span = count * (rest + run)
        # as one stretch: what came in was pumped, less nothing stored
        tally = self.tally
        tally.starts += count
        tally.longest = max(tally.longest, run)
        tally.running += count * run
        tally.energy += count * energy
        tally.pumped += q * span
        if self._floats[0] > tally.peak:
            tally.peak, tally.peak_at = self._floats[0], self.time + rest
        self.time += span
        return True

    # -- what every stretch and every switch adds up

    def _pass(self, q: float, span: float, after: float, energy: float, supply: int) -> None:
        """Let a stretch of time go by and add it up."""
        tally = self.tally
        if self.run_start is not None:
            tally.pumped += q * span - (after - self.volume)
            tally.running += span
            tally.energy += energy
            if supply == BATTERY:
                self._charge = max(self._charge - energy, 0.0)
                if self._charge <= 1e-12 * self.site.battery:
                    self._charge = 0.0
        if max(self.volume, after) > self.site.rim:
            tally.ponded += span
        self.time += span
        self.volume = after
        self._see()

    def _see(self) -> None:
        if self.volume > self.tally.peak:
            self.tally.peak, self.tally.peak_at = self.volume, self.time

    def _switch(self, drive: Drive | None, *, keep: bool = False) -> None:
        """Count a start or a stop where the pumps change over."""
        tally = self.tally
        lag = drive is not None and self.up > 1
        if lag and not self.lag_runs:
            tally.lag_starts += 1
        self.lag_runs = lag
        if drive is not None and self.run_start is None:
            tally.starts += 1
            self.run_start = self.time
        elif drive is None and self.run_start is not None:
            tally.longest = max(tally.longest, self.time - self.run_start)
            if not keep:
                # what stood in the line runs back, and is not pumped after all
                self.volume += self.site.returning
                tally.pumped -= self.site.returning
                self.run_start = None
                if self.volume > self.site.overflow:
                    tally.overflow += self.volume - self.site.overflow
                    self.volume = self.site.overflow
                self._see()

    def _note(self, k: int, supply: int) -> None:
        """Keep the state as it is now."""
        drive = self._drive(supply)
        flow = 0.0
        if drive is not None and self.run_start is not None:
            way = self._way(drive, k)
            flow = self._q[k] - way.net_at(min(self.volume, drive.nodes[self.site.top]))
        tally = self.tally
        self.sampled.append(
            (self.time, self.volume, self._q[k], flow, tally.starts, tally.pumped, tally.overflow)
        )
