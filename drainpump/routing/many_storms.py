"""Many cases walked at once, each from its own event to its own next event.

The walk of `events.March` on arrays: in each round every case goes on to what it meets
first, a float, the rim, the overflow level, the off level, a node of a line that fills, or
the end of its piece of time; a way that most have ended goes on in the next round. Cases
that are over are taken out. The answers are those of the lone walk but for rounding. What
is rare goes alone: pumps on a battery, and tail water that comes back.
"""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import numpy as np

from drainpump.routing.asked import NO_POWER
from drainpump.routing.cases import Cases, Index, Mask
from drainpump.routing.events import ADDED, COUNTED, FULL, INSTANT
from drainpump.routing.time_cuts import Pieces
from drainpump.units import FloatArray

#: cases below which a round costs more than to walk each of them alone
FEW = 80
#: one of so many cases may be over before they are taken out
_KEPT = 16


class _State(SimpleNamespace):
    """How the cases stand: an array each, by the names of a `March` and of its `Tally`.

    Besides: ``over`` where the walk is; ``till`` when the piece of time ends; ``mark`` at what
    volume the next float goes up; volumes ``working`` at the lead's float, ``full`` at the top
    node, ``rim``, ``brim`` at the overflow level; ``since`` when the run began; ``step`` drive,
    inflow, node, flow and watts of a step of filling; ``stopped`` piece, volume, time and what
    adds up at the last stop.
    """

    def take(self, index: Index) -> _State:
        """Those cases alone."""
        return _State(**{name: array[..., index] for name, array in vars(self).items()})


class ManyMarch:
    """The walk of n cases; ``counted`` holds what was counted, by the names of a `Tally`."""

    def __init__(self, cases: Cases, pieces: Pieces, storm: Index, start: FloatArray) -> None:
        self.cases, self.pieces = cases, pieces
        self._last, self._behind = pieces.first[storm + 1], pieces.over[storm]
        size, first = storm.size, pieces.first[storm]
        self.s: Any = _State(
            case=np.arange(size),
            piece=first,
            till=pieces.end[first],
            q=pieces.inflow[first],
            supply=pieces.supply[first],
            volume=start,
            up=np.zeros(size, dtype=np.intp),
            mark=cases.marks[::3],
            working=cases.marks[::3],
            full=cases.full,
            rim=cases.rim,
            brim=cases.overflow,
            step=np.full((5, size), np.nan),
            stopped=np.full((3 + len(ADDED), size), np.nan),
            **{name: np.zeros(size) for name in ("time", "since", "line", *COUNTED)},
            **{name: np.zeros(size, dtype=bool) for name in ("over", "runs", "lag_runs")},
        ).take(np.arange(size))
        self.s.peak[:] = start
        self.counted = {name: np.full(size, np.nan) for name in (*COUNTED, "volume")}
        self._loose = bool((cases.returning > 0).any())
        self._changes = bool(pieces.supply.any())  # none but the mains otherwise

    def run(self) -> Index:
        """Walk the cases; return the numbers of a few that are sooner walked alone."""
        many = few = 0
        with np.errstate(all="ignore"):
            # what goes on for much longer than most is not waited for
            while self.s.case.size and few <= many:
                many, few = (many, few + 1) if self.s.case.size < FEW else (many + 1, few)
                self._round()
        left: Index = self.s.case[~self.s.over]
        return left

    def _round(self) -> None:
        """Take every case on to its next event."""
        self._next_pieces()
        s, cases = self.s, self.cases
        drive = self._drives()
        if self._loose and (s.volume >= s.mark).any():
            drive = self._drives()  # what ran back lifts the next float
        whole = s.till - s.time
        at = s.case * cases.drives + drive
        net, watts = s.q - cases.most[at], cases.last_watts[at]
        under = (s.volume < s.full) | ((s.volume == s.full) & (net < 0))
        below = under & s.runs
        left, floor, fills = whole, s.full, np.zeros(0, dtype=np.intp)
        if self._loose:
            fills = np.flatnonzero(s.runs & (s.line < cases.returning[s.case]))
            below[fills] = False
            left, floor = left.copy(), floor.copy()
            lasts = self._fill(fills, drive, (net, watts, floor))
            left[fills] = np.minimum(left[fills], lasts)
        came, span, after, energy = self._steady(net, floor, watts, left)
        stops = self._below(np.flatnonzero(below), drive, left, (span, after, energy))
        waits = np.isinf(span)
        span[waits], after[waits], energy[waits] = 0.0, s.volume[waits], 0.0
        self._pass(came, span, after, energy)
        s.time = np.where(span == whole, s.till, s.time + span)
        self._see()
        if fills.size:
            some = ~waits[fills]
            stops = np.append(stops, self._filled(fills[some], span, lasts[some]))
        self._stop(stops)
        self._finish(np.append(np.flatnonzero(waits), stops[np.isinf(s.till[stops])]))
        if np.count_nonzero(s.over) * _KEPT >= s.over.size:
            self.s = s.take(np.flatnonzero(~s.over))

    def _next_pieces(self) -> None:
        """Go on to the next piece of time where one has ended."""
        s, pieces = self.s, self.pieces
        ended = np.flatnonzero(s.time >= s.till)
        piece, case = s.piece[ended] + 1, s.case[ended]
        behind = (piece >= self._behind[case]) & (s.up[ended] == 0)
        over: Mask = behind | (piece >= self._last[case])
        self._finish(ended[over])
        ended, piece = ended[~over], piece[~over]
        s.piece[ended], s.till[ended] = piece, pieces.end[piece]
        s.q[ended] = pieces.inflow[piece]
        if self._changes:
            s.supply[ended] = pieces.supply[piece]

    def _drives(self) -> Index:
        """Lift the floats and switch over to the pumps that now run."""
        s, cases = self.s, self.cases
        while (hit := np.flatnonzero(s.volume >= s.mark)).size:
            s.up[hit] += 1
            s.mark[hit] = cases.marks[s.case[hit] * 3 + s.up[hit]]
        drive: Index = cases.stage[s.case * 12 + s.supply * 3 + s.up]
        self._switch(drive < cases.rest)
        return drive

    # -- one stretch each: to the next event, or to the end of the piece

    def _steady(
        self, net: FloatArray, floor: FloatArray, watts: FloatArray, left: FloatArray
    ) -> tuple[FloatArray, ...]:
        """Rise, or fall to a floor, at a steady rate: inflow kept, span, volume after, energy."""
        s, rises = self.s, net > 0
        above = np.where(s.volume < s.rim, np.minimum(s.mark, np.minimum(s.rim, s.brim)), s.brim)
        goal = np.where(rises, above, floor)
        over = np.flatnonzero(rises & (s.volume >= s.brim))
        to_goal = np.where(net == 0, np.inf, (goal - s.volume) / net)
        to_goal[over] = np.inf
        there = (to_goal <= left) & (to_goal < np.inf)
        span = np.minimum(to_goal, left)
        after, came = np.where(there, goal, s.volume + net * span), s.q
        if over.size:
            came = came.copy()
            came[over] -= net[over]
            after[over] = s.volume[over]
            some = over[span[over] < np.inf]
            s.overflow[some] += net[some] * span[some]
            s.overflowing[some] += span[some]
        return came, span, after, watts * span

    def _below(
        self, some: Index, drive: Index, left: FloatArray, ways: tuple[FloatArray, ...]
    ) -> Index:
        """Move below the rim by the level; return those that come to the off level."""
        if not some.size:
            return some
        s = self.s
        each: tuple[Any, ...] = (s.case, drive, s.up, s.q, s.volume, left)
        *found, off = self.cases.ways(*(x[some] for x in each))
        for array, value in zip(ways, found, strict=True):
            array[some] = value
        return some[off]

    def _fill(self, fills: Index, drive: Index, given: tuple[FloatArray, ...]) -> FloatArray:
        """Steps of lines that fill: how long each lasts, and its rates put in their places."""
        s, (net, watts, floor) = self.s, given
        of, q, line = drive[fills], s.q[fills], s.line[fills]
        old = s.step[:, fills]
        # a step goes on through cuts at which nothing changes, so that looking moves nothing
        new = ~((old[0] == of) & (old[1] == q) & (line < old[2]))
        at = fills[new]
        step = self.cases.step(s.case[at], of[new], q[new], line[new], s.volume[at])
        s.step[:, at] = of[new], q[new], *step
        node, flow, power = s.step[2:, fills]
        net[fills], watts[fills] = q - flow, power
        floor[fills] = np.where(s.volume[fills] > s.rim[fills], s.rim[fills], 0.0)
        return np.where(flow > 0, (node - line) / flow, np.inf)

    def _filled(self, fills: Index, span: FloatArray, lasts: FloatArray) -> Index:
        """What went into the lines; return those whose pits are empty."""
        s, (node, flow) = self.s, self.s.step[2:4, fills]
        line = s.line[fills] + flow * span[fills]
        # nodes may lie closer together than the clock can tell
        there = (lasts < INSTANT) | (line > node - FULL * self.cases.returning[s.case[fills]])
        s.line[fills] = np.where(there, node, line)
        empty: Index = fills[(s.volume[fills] <= 0) & (s.q[fills] < flow)]
        return empty

    # -- what every stretch and every switch adds up

    def _pass(
        self, came: FloatArray, span: FloatArray, after: FloatArray, energy: FloatArray
    ) -> None:
        s = self.s
        s.running += span * s.runs
        s.energy += energy
        s.pumped += np.where(s.runs, came * span - (after - s.volume), 0.0)
        s.ponded += span * (np.maximum(s.volume, after) > s.rim)
        s.volume = after

    def _see(self) -> None:
        s = self.s
        high = np.flatnonzero(s.volume > s.peak + FULL * s.rim)
        s.peak[high], s.peak_at[high] = s.volume[high], s.time[high]

    def _switch(self, runs: Mask) -> None:
        """Count starts and stops where the pumps change over."""
        s = self.s
        lag = runs & (s.up > 1)
        s.lag_starts += lag & ~s.lag_runs
        s.lag_runs = lag
        begins = np.flatnonzero(runs & ~s.runs)
        s.starts[begins] += 1
        s.since[begins], s.runs[begins] = s.time[begins], True
        self._off(np.flatnonzero(s.runs & ~runs))

    def _off(self, some: Index) -> None:
        """Pumps stop; what stood in the line is back in the pit, and was not pumped after all."""
        s = self.s
        s.longest[some] = np.maximum(s.longest[some], (s.time - s.since)[some])
        s.runs[some] = s.lag_runs[some] = False
        if self._loose and some.size:
            s.volume[some] += s.line[some]
            s.pumped[some] -= s.line[some]
            s.line[some], s.step[:, some] = 0.0, np.nan
            s.overflow[some] += np.maximum(s.volume[some] - s.brim[some], 0.0)
            s.volume[some] = np.minimum(s.volume[some], s.brim[some])
            self._see()

    def _stop(self, some: Index) -> None:
        """Stop at the off level."""
        s = self.s
        s.up[some], s.mark[some] = 0, s.working[some]
        self._off(some)
        left = s.till[some] - s.time[some]
        again: Mask = (s.q[some] * left >= self.cases.three[s.case[some]]) & (left < np.inf)
        self._repeat(some[again])

    def _finish(self, some: Index) -> None:
        """Keep what was counted of those that are over."""
        s = self.s
        some = some[~s.over[some]]
        if not some.size:
            return
        run = np.where(s.runs, s.time - s.since, 0.0)[some]
        s.longest[some], s.ended[some] = np.maximum(s.longest[some], run), s.time[some]
        for name, kept in self.counted.items():
            kept[s.case[some]] = vars(s)[name][some]
        s.over[some], s.runs[some], s.up[some] = True, False, 0
        s.q[some], s.supply[some], s.till[some], s.mark[some] = 0.0, NO_POWER, np.inf, np.inf

    # -- cycles that are alike

    def _repeat(self, some: Index) -> None:
        """Skip as many cycles as surely fit, where the last one ended as it began."""
        if not some.size:
            return
        s = self.s
        added, last = np.array([vars(s)[name][some] for name in ADDED]), s.stopped[:, some]
        s.stopped[:, some] = s.piece[some], s.volume[some], s.time[some], *added
        span = s.time[some] - last[2]
        count = np.trunc((s.till - s.time)[some] / span) - 1
        alike = (last[:2] == s.stopped[:2, some]).all(axis=0)
        fit = alike & (span > 0) & (count >= 1)
        some, count, span = some[fit], count[fit], span[fit]
        more = count * (added - last[3:])[:, fit]
        for name, plus in zip(ADDED, more, strict=True):
            vars(s)[name][some] += plus
        # nothing is stored meanwhile: all that came in was pumped or ran over
        s.pumped[some] += s.q[some] * count * span - more[ADDED.index("overflow")]
        s.time[some] += count * span
        s.stopped[:, some] = np.nan
