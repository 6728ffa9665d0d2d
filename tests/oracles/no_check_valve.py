"""A pit and a line without a check valve, marched through time in small steps.

When the pump stops, what stands in the rising line is back in the pit at once. When it starts,
the front rises through the empty line, and at each moment the pump faces just the lift and the
losses of what is full; the outlet (or the crest) counts once water is there. The flow is read
from a table over front and level, each entry found by bisection.

Where a line's end is drowned it stays full, and the tail water runs back through it by gravity
as long as it stands above the pit's level.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy.integrate import trapezoid
from scipy.optimize import brentq

from tests.oracles.hydraulics import Line, Pump, falling_root

FRONTS, LEVELS = 121, 5


@dataclass(frozen=True)
class Hole:
    """The pit: a prism from the off level up; `deep` to the rim, where it ponds without end."""

    area: float
    travel: float
    deep: float

    @property
    def working(self) -> float:
        return self.area * self.travel


@dataclass(frozen=True)
class Cycles:
    """What it settles to: the last cycle, whether the first one delivered, how many it took."""

    run: float
    rest: float
    delivered: float
    came_in: float
    first_delivers: bool
    number: int

    @property
    def starts_per_h(self) -> float:
        return 3600 / (self.run + self.rest)

    @property
    def net(self) -> float:
        return self.delivered / (self.run + self.rest)


def riser(line: Line) -> Line:
    """What fills and runs back: up to the first high point, or all."""
    crests = line.crests()
    return replace(line, legs=line.legs[: crests[0] + 1]) if crests else line


def riser_volume(line: Line) -> float:
    return sum(leg.volume for leg in riser(line).legs)


def _asked(line: Line, filled: Any, q: Any) -> Any:
    """Head with so much of the riser full, no outlet yet; K is spread along each leg."""
    head: Any = 0.0 * q
    for leg in riser(line).legs:
        part = np.clip(filled / leg.volume, 0.0, 1.0)
        head = head + part * (leg.rise + leg.loss(q, line.law, line.nu))
        filled = filled - leg.volume
    return head


def _flow(made: Pump, asked: Any, level: Any) -> Any:
    """Flow at an array of levels; past the last point the last point, none below shutoff."""
    none = np.zeros_like(level)

    def spare(q: Any) -> Any:
        return made.head(q) + level - asked(q)

    return np.where(spare(none) <= 0, 0.0, falling_root(spare, none, none + made.last))


class Filling:
    """The pump's flow by front and level."""

    def __init__(self, made: Pump, line: Line, hole: Hole) -> None:
        self.top = hole.deep
        self.volume = riser_volume(line)
        self.levels = np.linspace(0.0, hole.deep, LEVELS)
        front = np.linspace(0.0, self.volume, FRONTS)[:, None]
        level = np.broadcast_to(self.levels, (FRONTS, LEVELS))
        # plain lists: quicker to read one by one
        self.table = _flow(made, lambda q: _asked(line, front, q), level).tolist()
        self.full = _flow(made, line.head, self.levels).tolist()

    def flow(self, front: float, level: float) -> float:
        y = min(max(level / self.top, 0.0), 1.0) * (LEVELS - 1)
        j = min(int(y), LEVELS - 2)
        if front >= self.volume:
            return self.full[j] + (y - j) * (self.full[j + 1] - self.full[j])
        x = front / self.volume * (FRONTS - 1)
        i = min(int(x), FRONTS - 2)
        s, t = x - i, y - j
        a, b = self.table[i], self.table[i + 1]
        return (1 - s) * ((1 - t) * a[j] + t * a[j + 1]) + s * ((1 - t) * b[j] + t * b[j + 1])


def one_run(
    fill: Filling, hole: Hole, inflow: float, stored: float, step: float, first_only: bool = False
) -> tuple[float, float, float]:
    """March from a start with an empty line to the stop: seconds, front, water delivered."""
    time = front = out = 0.0
    limit = 4 * 3600.0
    while time < limit:
        first = fill.flow(front, min(stored / hole.area, hole.deep))
        half_front = front + first * step / 2
        half_stored = stored + (inflow - first) * step / 2
        q = fill.flow(half_front, min(half_stored / hole.area, hole.deep))
        change = (inflow - q) * step
        part = 1.0
        if stored + change <= 0 and change < 0:
            part = stored / -change
        stored += change * part
        moved = q * step * part
        over = max(front + moved - fill.volume, 0.0)
        front, out, time = front + moved - over, out + over, time + step * part
        if part < 1 or stored <= 0 or (first_only and out > 0):
            return time, front, out
    return float("inf"), front, out


def settle(made: Pump, line: Line, hole: Hole, inflow: float, step: float = 0.05) -> Cycles:
    """Cycle from the on level with an empty line until each cycle is like the last."""
    fill = Filling(made, line, hole)
    stored, number, first = hole.working, 0, None
    while True:
        number += 1
        run, front, out = one_run(fill, hole, inflow, stored, step)
        if first is None:
            first = out > 0
        # what stands in the line is back; the pit then rises to the on level
        after = front
        rest = max(hole.working - after, 0.0) / inflow if inflow > 0 else float("inf")
        start = max(hole.working, after)
        if after < hole.working and inflow <= 0:
            return Cycles(run, float("inf"), out, 0.0, first, number)
        if not np.isfinite(run) or abs(start - stored) < 1e-9 * hole.working or number > 3000:
            return Cycles(run, rest, out, inflow * (run + rest), first, number)
        stored = start


def least_inflow(made: Pump, line: Line, hole: Hole) -> float:
    """Inflow at which the first cycle just reaches the end without the pit running out before.

    The front slows as it rises, so the pit may run lowest long before the line is full.
    """
    fill = Filling(made, line, hole)

    def runs_out(inflow: float) -> bool:
        return one_run(fill, hole, inflow, hole.working, 0.05, first_only=True)[2] <= 0

    if not runs_out(0.0):
        return 0.0
    low, high = 0.0, made.last
    for _ in range(22):
        middle = (low + high) / 2
        low, high = (middle, high) if runs_out(middle) else (low, middle)
    return (low + high) / 2


def back_flow(line: Line, level: float, entry_k: float = 0.0) -> float:
    """Tail water that runs back through a full line into the pit, its velocity head lost there."""
    drop = line.lift + line.tail - level

    def spare(q: float) -> float:
        lost = sum(leg.loss(q, line.law, line.nu) for leg in line.legs)
        end = line.legs[0].velocity_head(q) + entry_k * line.legs[-1].velocity_head(q)
        return float(drop - lost - end)

    return float(brentq(spare, 0.0, 1.0, xtol=1e-12)) if drop > 0 else 0.0


def with_tail_water(made: Pump, line: Line, hole: Hole, inflow: float, points: int = 401) -> Cycles:
    """A drowned line, always full: times to fill and to empty the pit, by its level."""
    levels = np.linspace(0.0, hole.travel, points)
    back = np.array([back_flow(line, level) for level in levels])
    pumped = _flow(made, line.head, levels)
    volume = hole.area * levels
    rest = float(trapezoid(1 / (inflow + back), volume))
    run = float(trapezoid(1 / (pumped - inflow), volume))
    out = float(trapezoid(pumped / (pumped - inflow), volume))
    returned = float(trapezoid(back / (inflow + back), volume))
    return Cycles(run, rest, out - returned, inflow * (run + rest), True, 1)
