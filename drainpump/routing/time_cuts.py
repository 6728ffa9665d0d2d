"""Time cut into pieces over which the inflow is constant and the power does not change."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from drainpump.errors import wrong
from drainpump.routing.events import Pieces
from drainpump.routing.site import BATTERY, LEAD_FAILED, MAINS, NO_POWER
from drainpump.units import FloatArray

__all__ = ["Power", "Steps", "Windows", "cut_inflow", "cut_time", "windows"]

Windows = tuple[tuple[float, float], ...]

#: water (as a share of the working volume) by which a step of inflow may stray from a slope
_STRAY = 5e-4


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
class Power:
    """What drives the pumps over time (s from the storm's beginning)."""

    outages: Windows
    fails: float | None  # when the lead pump fails
    battery: bool
    own_pump: bool  # the battery has a pump of its own

    def at(self, times: FloatArray) -> npt.NDArray[np.intp]:
        """What drives the pumps at each time."""
        supply = np.full(times.shape, MAINS)
        failed = np.zeros(times.shape, dtype=bool) if self.fails is None else times >= self.fails
        supply[failed] = LEAD_FAILED
        out = np.zeros(times.shape, dtype=bool)
        for start, end in self.outages:
            out |= (times >= start) & (times < end)
        supply[out] = NO_POWER
        # a dead lead pump runs on no battery either
        supply[out & self.battery & (self.own_pump | ~failed)] = BATTERY
        return supply

    @property
    def changes(self) -> list[float]:
        """When it may change."""
        return [*np.ravel(self.outages).tolist(), *([] if self.fails is None else [self.fails])]


class Steps(NamedTuple):
    """Inflow in steps: their ends (s), the rates that occur, and each step's rate."""

    edges: FloatArray
    rates: FloatArray
    number: npt.NDArray[np.intp]

    def came_in(self, until: float | None) -> float:
        """Water (m³) that came in altogether, or until then."""
        edges = self.edges if until is None else np.minimum(self.edges, until)
        return float(self.rates[self.number] @ np.diff(edges))


def cut_inflow(time: FloatArray, flow: FloatArray, working: float) -> Steps:
    """Cut a storm's inflow into steps, its first rate being none.

    A sloping stretch is cut so finely that at no moment a step has brought more than a
    small share of the working volume more or less than the slope itself; at the ends of
    the steps it has brought exactly the same.
    """
    span = np.diff(time)
    some = span > 0
    low, rise, span = flow[:-1][some], np.diff(flow)[some], span[some]
    begin = time[:-1][some]
    # between the slope and its mean stands at most a triangle of half the rise by half the span
    stray = np.abs(rise) * span / 8
    count = np.ceil(np.sqrt(stray / (_STRAY * working))).astype(np.intp)
    count = np.where(stray <= 1e-9 * working, 1, np.maximum(count, 1))
    first = np.repeat(np.cumsum(count) - count, count)
    i = np.arange(first.size) - first
    share = 1.0 / np.repeat(count, count)
    rate = np.repeat(low, count) + np.repeat(rise, count) * (i + 0.5) * share
    edges = np.repeat(begin, count) + np.repeat(span, count) * i * share
    rates, number = np.unique(np.append(0.0, rate), return_inverse=True)
    return Steps(np.append(edges, time[-1]), rates, number.ravel()[1:])


def cut_time(
    steps: Steps, power: Power, until: float | None, samples: FloatArray | None = None
) -> tuple[Pieces, npt.NDArray[np.bool_] | None]:
    """Cut time where the inflow's step, the power or a sample asks for it.

    Without an end a last piece has none: the walk ends with the run that it finds.
    """
    edges = steps.edges
    last = edges[-1] if until is None else until
    cuts = [edges, power.changes, [last], [] if samples is None else samples]
    ends = np.unique(np.concatenate([np.asarray(c, dtype=np.float64) for c in cuts]))
    ends = ends[(ends > 0) & (np.isfinite(ends))]
    if until is not None:
        ends = ends[ends <= until]
    begin = np.append(0.0, ends)[:-1]
    if until is None:
        ends, begin = np.append(ends, np.inf), np.append(begin, ends[-1])
    step = np.searchsorted(edges, begin, side="right") - 1
    k = np.where(begin < edges[-1], steps.number[np.minimum(step, steps.number.size - 1)], 0)
    supply = power.at(begin)
    # the inflow's end stays a cut though nothing changes there: up to it all time counts
    keep = np.append((k[1:] != k[:-1]) | (supply[1:] != supply[:-1]), True) | (ends == last)
    wanted = None
    if samples is not None:
        # what happens in a stretch is the same wherever it is cut
        sampled = np.isin(ends, samples) | (ends == last)
        keep |= sampled
        wanted = sampled[keep]
    over = int((ends[keep] <= last).sum())
    return Pieces(ends[keep].tolist(), k[keep].tolist(), supply[keep].tolist(), over), wanted
