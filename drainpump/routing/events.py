"""One storm through one pit, from event to event: floats, rim, overflow, power.

The inflow is constant over each piece of time, so the stored water's way is known in
closed form and every event (a float, the rim, the overflow level, an empty battery) is met
exactly, whatever the pieces. Equal cycles that follow one another under one inflow are
taken many at a time and counted exactly. What is pumped is what came in less what was
stored and run over, stretch by stretch.

Without a check valve the state has a second number, the water that stands in the line. All
of it is back in the pit at once when the pump stops; while the line fills again the pump's
flow hangs on how full it is, and the way is taken in the short steps of a `Priming`.
"""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from math import inf
from typing import NamedTuple

from drainpump.routing.asked import BATTERY, NO_POWER
from drainpump.routing.drawdown import Drive, Priming, Stage, Station

#: water (as a share of what line or pit holds) that is no more than rounding
FULL = 1e-12
#: a time (s) in which nothing happens
INSTANT = 1e-9


@dataclass(eq=False)
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
    ended: float = 0.0


#: the names of all that is counted
COUNTED = tuple(f.name for f in fields(Tally))
#: what adds up alike in cycles that are alike
ADDED = ("starts", "lag_starts", "overflow", "energy", "ponded", "overflowing", "running")


class _Stop(NamedTuple):
    """What a stop left behind, to be held against the next one."""

    volume: float
    time: float
    added: list[float]


@dataclass(eq=False)
class March:
    """The walk itself; ``run`` does it, ``sampled`` holds what was asked for on the way."""

    station: Station
    volume: float
    tally: Tally = field(default_factory=Tally)
    time: float = 0.0
    up: int = 0  # floats up
    line: float = 0.0  # m³ in a line that has no check valve
    run_start: float | None = None
    lag_runs: bool = False
    sampled: list[tuple[float, ...]] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._floats = [self.station.nodes[i] for i in self.station.floats]
        self._charge = self.station.battery
        self._step: tuple[Priming, float, float, float, float] | None = None
        self._stopped: _Stop | None = None
        self._end = 0.0  # of the piece
        # what three cycles bring at least: each fills up to the float from what ran back
        each = max(self.station.working - self.station.returning, 0.0)
        self._three = 3 * each if self.station.tail is None else 0.0
        self._see()

    def run(
        self, pieces: list[tuple[float, float, int]], over: int, sample: list[bool] | None = None
    ) -> Tally:
        """Walk pieces of (end, inflow, supply); from ``over`` on the walk ends with the last run.

        Notes the state at the end of those marked in ``sample``.
        """
        if sample is not None:
            self._note(*pieces[0][1:])
        for i, (end, q, supply) in enumerate(pieces):
            if i >= over and not self.up:
                break
            if self.up or not self._fill(end, q):
                self._stopped = None
                self._piece(end, q, supply)
            if end < inf:
                self.time = end
            if sample is not None and sample[i]:
                self._note(q, supply)
        self._switch(None, keep=True)
        if sample is not None and self.volume != self.sampled[-1][1]:
            # the pump stopped at the very end, and what stood in its line came back
            self._note(q, supply)
        self.tally.ended = self.time
        return self.tally

    def _fill(self, end: float, q: float) -> bool:
        """Fill to the piece's end, the pump at rest, where no float is reached by then."""
        after = self.volume + q * (end - self.time)
        if self.run_start is not None or end == inf or after >= self._floats[0]:
            return False
        if self.station.tail is not None:
            return False
        self.volume = after
        self.time = end
        self._see()
        return True

    def _stage(self, supply: int) -> Stage | None:
        if self.up == 0 or supply == NO_POWER or (supply == BATTERY and self._charge <= 0):
            return None
        return self.station.stages[supply][self.up]

    def _piece(self, end: float, q: float, supply: int) -> None:
        """Go from event to event until the piece ends, or nothing happens any more."""
        self._end = end
        while self.time < end:
            while self.up < len(self._floats) and self.volume >= self._floats[self.up]:
                self.up += 1
            stage = self._stage(supply)
            self._switch(stage)
            if self.up < len(self._floats) and self.volume >= self._floats[self.up]:
                continue  # what ran back lifts the next float
            left = end - self.time
            if stage is None:
                going = self._rest(q, left)
            elif self.line < self.station.returning and stage.priming is not None:
                going = self._prime(q, stage.priming, left, supply)
            else:
                going = self._run(q, stage.drive, left, supply)
            if not going:
                return

    # -- one stretch each: to the next event, or to the end of the piece

    def _rest(self, q: float, left: float) -> bool:
        """No pump runs: the pit fills, by the tail water too where nothing holds it."""
        tail = self.station.tail
        if tail is None:
            return self._steady(q, q, 0.0, 0.0, left)
        # tail water alone would start the pump for ever: no end to wait for
        return left < inf and self._run(q, tail, left, NO_POWER)

    def _run(self, q: float, drive: Drive, left: float, supply: int) -> bool:
        """A drive on the full line: by the level below the rim, at a steady rate above it."""
        top, net = drive.nodes[-1], q - drive.flows[-1]
        if self.volume > top or (self.volume == top and net >= 0):
            return self._steady(q, net, top, drive.watts[-1], left, supply)
        return self._pump(q, drive, left, supply)

    def _steady(
        self, q: float, net: float, floor: float, watts: float, left: float, supply: int = NO_POWER
    ) -> bool:
        """Rise, or fall to a floor, at a steady rate."""
        volume, goal = self.volume, inf
        if net > 0:
            if volume >= self.station.overflow:
                return self._overflow(q, net, watts, left, supply)
            goals = [self.station.overflow, self.station.rim, *self._floats[self.up : self.up + 1]]
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

    def _prime(self, q: float, priming: Priming, left: float, supply: int) -> bool:
        """Fill the line as far as its next node, the pit giving what it takes."""
        since = self.time
        if self._step is None or self._step[:2] != (priming, q) or self.line >= self._step[2]:
            # a step goes on through cuts at which nothing changes, so that looking moves nothing
            self._step = (priming, q, *priming.step(self.line, self.volume, q))
        node, flow, watts = self._step[2:]
        lasts = (node - self.line) / flow if flow > 0 else inf
        floor = self.station.rim if self.volume > self.station.rim else 0.0
        if not self._steady(q, q - flow, floor, watts, min(left, lasts), supply):
            return False
        self.line += flow * (self.time - since)
        # nodes may lie closer together than the clock can tell
        if lasts < INSTANT or self.line > node - FULL * self.station.returning:
            self.line = node
        if self.volume <= 0.0 and q < flow:
            return self._stop(q, left, supply)
        return True

    def _pump(self, q: float, drive: Drive, left: float, supply: int) -> bool:
        """Move below the rim by the level."""
        floats, goal = self.station.floats, 0
        if drive.net_at(q, self.volume) >= 0:
            goal = len(drive.nodes) - 1
            if self.up < len(floats):
                goal = min(floats[self.up], goal)
        charge = self._charge if supply == BATTERY else inf
        span, after, energy, there = drive.way(q, self.volume, goal, left, charge)
        if span == inf:
            return False
        self._pass(q, span, after, energy, supply)
        return self._stop(q, left, supply) if there and goal == 0 else True

    # -- cycles that are alike

    def _stop(self, q: float, left: float, supply: int) -> bool:
        """Stop at the off level; False where nothing more is to come."""
        self.up = 0
        self._switch(None)
        if left == inf:
            # with no more inflow a line that drains back may start the pump for ever
            return False
        if supply != BATTERY and q * (self._end - self.time) >= self._three:
            self._repeat(q)
        return True

    def _repeat(self, q: float) -> None:
        """Skip as many cycles as surely fit, where the last one ended as it began."""
        added = [getattr(self.tally, name) for name in ADDED]
        last = self._stopped
        self._stopped = _Stop(self.volume, self.time, added)
        if last is None or last.volume != self.volume:
            return
        span = self.time - last.time
        count = int((self._end - self.time) / span) - 1 if span > 0 else 0
        if count < 1:
            return
        more = [count * (now - before) for now, before in zip(added, last.added, strict=True)]
        for name, before, plus in zip(ADDED, added, more, strict=True):
            setattr(self.tally, name, before + plus)
        # nothing is stored meanwhile: all that came in was pumped or ran over
        self.tally.pumped += q * count * span - more[ADDED.index("overflow")]
        self.time += count * span
        self._stopped = None

    # -- what every stretch and every switch adds up

    def _pass(self, q: float, span: float, after: float, energy: float, supply: int) -> None:
        """Let a stretch of time go by and add it up."""
        tally = self.tally
        runs = self.run_start is not None
        if runs:
            tally.running += span
            tally.energy += energy
            if supply == BATTERY:
                self._charge = max(self._charge - energy, 0.0)
                if self._charge <= 1e-12 * self.station.battery:
                    self._charge = 0.0
        if runs or self.station.tail is not None:
            # tail water that comes back counts as pumped the less
            tally.pumped += q * span - (after - self.volume)
        if max(self.volume, after) > self.station.rim:
            tally.ponded += span
        self.time += span
        self.volume = after
        self._see()

    def _see(self) -> None:
        if self.volume > self.tally.peak + FULL * self.station.rim:
            self.tally.peak, self.tally.peak_at = self.volume, self.time

    def _switch(self, stage: Stage | None, *, keep: bool = False) -> None:
        """Count a start or a stop where the pumps change over."""
        tally = self.tally
        lag = stage is not None and self.up > 1
        if lag and not self.lag_runs:
            tally.lag_starts += 1
        self.lag_runs = lag
        if stage is not None and self.run_start is None:
            tally.starts += 1
            self.run_start = self.time
        elif stage is None and self.run_start is not None:
            tally.longest = max(tally.longest, self.time - self.run_start)
            if not keep:
                self.run_start = None
                self._run_back()

    def _run_back(self) -> None:
        """What stood in the line is back in the pit, and was not pumped after all."""
        self.volume += self.line
        self.tally.pumped -= self.line
        self.line, self._step = 0.0, None
        if self.volume > self.station.overflow:
            self.tally.overflow += self.volume - self.station.overflow
            self.volume = self.station.overflow
        self._see()

    def _note(self, q: float, supply: int) -> None:
        """Keep the state as it is now."""
        stage, station, tally = self._stage(supply), self.station, self.tally
        flow = 0.0
        if stage is not None and self.run_start is not None:
            below = min(self.volume, station.nodes[-1])
            flow = (q - stage.drive.net_at(q, below)) / station.kept
            if self.line < station.returning and stage.priming is not None:
                flow = stage.priming.at(self.line, below)[0]
        told = tally.starts, tally.pumped, tally.overflow, self.up
        self.sampled.append((self.time, self.volume, q, flow, *told))
