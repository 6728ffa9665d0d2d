"""What a pipe of a given capacity lets through of a piecewise linear inflow, cut exactly.

Between two points the inflow is a straight line, so what waits is a parabola: it begins to
wait where the line crosses the capacity, is full or empty at a root, and nothing is averaged.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.integrate import trapezoid


@dataclass(frozen=True)
class HeldBack:
    """What gets through: flow straight between the times (a time given twice is a jump)."""

    time: np.ndarray
    flow: np.ndarray
    waiting: np.ndarray
    lost: float

    @property
    def volume(self) -> float:
        """All that gets through."""
        return float(trapezoid(self.flow, self.time))

    def until(self, time: Any) -> np.ndarray:
        """What has got through by some times."""
        return np.array([volume_until(self.time, self.flow, t) for t in np.ravel(time)])


def volume_until(time: Any, flow: Any, end: float) -> float:
    """Volume of a piecewise linear flow up to a time; the later value holds at a jump."""
    time, flow = np.asarray(time, float), np.asarray(flow, float)
    total = 0.0
    for a, b, p, q in zip(time[:-1], time[1:], flow[:-1], flow[1:], strict=True):
        if a < end and b > a:
            stop = min(b, end)
            last = p + (q - p) * (stop - a) / (b - a)
            total += (stop - a) * (p + last) / 2
    return total


def _first_root(a: float, b: float, c: float, end: float) -> float:
    """First root of a t² + b t + c in (0, end], or the end."""
    roots = np.roots([a, b, c]) if a else np.array([-c / b]) if b else np.array([])
    real = [float(r.real) for r in roots if abs(r.imag) < 1e-12 and 1e-10 < r.real < end]
    return min(real, default=end)


def held_back(time: Any, flow: Any, capacity: float, room: float = np.inf) -> HeldBack:
    """Follow what waits from kink to kink; what finds no room is lost."""
    times, flows = np.asarray(time, float), np.asarray(flow, float)
    times, flows = np.append(times, [times[-1], np.inf]), np.append(flows, [0, 0])
    rows: list[tuple[float, float, float]] = []
    waits, lost = 0.0, 0.0
    for i in range(times.size - 1):
        begin, end, rate = times[i], times[i + 1], flows[i]
        if end <= begin:
            continue
        slope = 0.0 if np.isinf(end) else (flows[i + 1] - rate) / (end - begin)
        while begin < end - 1e-12 and not (np.isinf(end) and waits <= 0):
            over, left = rate - capacity, end - begin
            crossing = _first_root(0.0, slope, over, left)
            rising = over > 1e-12 or (abs(over) <= 1e-12 and slope > 0)
            full = rising and waits >= room
            if waits <= 0 and not rising:
                span, kind = crossing, "through"
            elif full:
                span, kind = crossing, "full"
            else:
                span, kind = _first_root(slope / 2, over, waits, left), "waits"
                if np.isfinite(room):
                    span = min(span, _first_root(slope / 2, over, waits - room, left))
            last = rate + slope * span
            rows.append((begin, rate if kind == "through" else capacity, waits))
            gain = (over + last - capacity) / 2 * span
            if kind == "full":
                lost += gain
            elif kind == "waits":
                waits = waits + gain
                waits = 0.0 if abs(waits) < 1e-9 else room if abs(waits - room) < 1e-9 else waits
            begin, rate = begin + span, last
            rows.append((begin, rate if kind == "through" else capacity, waits))
    out = np.array(rows)
    return HeldBack(out[:, 0], out[:, 1], out[:, 2], lost)
