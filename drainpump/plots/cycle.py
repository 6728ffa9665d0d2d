"""The level in the pit against time: fill, pump down, and again."""

from __future__ import annotations

from typing import Any

import numpy as np

from drainpump import states
from drainpump import units as u
from drainpump.cycling.switching import PATTERNS, Cycle, cycles_of
from drainpump.inflow.storm import Hydrograph
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.pit import Pit
from drainpump.parts.pump.bank import Pump
from drainpump.parts.scalars import check_kind, whole
from drainpump.plots.frame import frame_on, refuse_arrays, said
from drainpump.plots.looks import draw_levels, heights
from drainpump.plots.margins import label_ends
from drainpump.plots.page import Axes
from drainpump.routing.route import routed

#: moments at which the level is drawn; switches of the pump are drawn where they fall
_MOMENTS = 1500


def cycle(
    pump: Pump,
    line: DischargeLine,
    pit: Pit,
    ax: Axes | None = None,
    *,
    inflow_gpm: u.Quantity | None = None,
    inflow_lps: u.Quantity | None = None,
    cycles: int = 3,
    units: u.System = "us",
    twin: bool = True,
) -> Axes:
    """Draw the level in the pit over a few cycles at a steady inflow, from the off level.

    Parameters
    ----------
    pump, line, pit
        One of each, of scalars.
    inflow_gpm, inflow_lps : float
        Water coming in, >= 0. Exactly one.
    cycles : int, default 3
        How many cycles to show, >= 1.
    ax, units, twin
        As of every picture, see `drainpump.plots`.

    Returns
    -------
    matplotlib Axes

    Raises
    ------
    UnitError, InputError
        Bad units or values; arrays or lists.

    Examples
    --------
    >>> import drainpump as dp
    >>> pump = dp.PumpCurve(name="A", flow_gpm=[0, 30, 50], head_ft=[20, 12.8, 0])
    >>> line = dp.straight_line(pipe=dp.pvc("2"), length_ft=150, lift_ft=6, k=6.3)
    >>> pit = dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=13)
    >>> ax = dp.plots.cycle(pump, line, pit, inflow_gpm=10)
    >>> ax.get_xlabel(), ax.get_ylabel()
    ('Time (min)', 'Level above the floor (in)')
    """
    check_kind("pit", pit, Pit)
    inflow = u.take("inflow", guard="inflow", gpm=inflow_gpm, lps=inflow_lps).si
    whole("cycles", cycles, "give 3")
    known = cycles_of(pump, line, pit, inflow)
    refuse_arrays("cycle", np.ndim(known.starts_per_h))
    time, level, running = _trace(pump, line, pit, known, cycles)
    frame = frame_on(
        ax, units, twin=twin, x="time_min", y="level_above_the_floor_in", size=(8.0, 4.4)
    )
    (look,) = frame.styles(1)
    frame.curve(time, level, look)
    frame.area(time, 0.0, level, where=running, facecolor="#c9d6e6",
               hatch="////", edgecolor="#7a8fa8", lw=0.0)  # fmt: skip
    end = float(time[-1])
    labels = draw_levels(frame, heights(pit, pump), end)
    top = max(float(np.max(level)), *(label.y for label in labels))
    frame.limits(x=(0.0, end), y=(0.0, 1.12 * top))
    hatched = "; hatched: pump runs" if running.any() else ""
    frame.title(f"{_title(pump, known, units)}{hatched}")
    label_ends(frame, labels)
    return frame.done()


def _trace(pump: Pump, line: DischargeLine, pit: Pit, known: Cycle, cycles: int) -> tuple[Any, ...]:
    """Time, level and whether a pump runs, a steady inflow routed over so many cycles."""
    inflow = float(known.si.inflow)
    rate = float(known.si.rate)
    if str(known.pattern) == "lag_helps" and known.si.lag_rate is not None:
        # the lead runs all the time; the lag pumps make the cycle
        rate = float(known.si.lag_rate)
    if rate > 0:
        span = cycles / rate
    else:
        # it never stops or never starts: long enough to fill the pit many times over
        span = cycles * (4 * float(known.si.working) / inflow if inflow > 0 else 600.0)
    steady = Hydrograph(flow_lps=[inflow * 1e3] * 2, time_min=[0, span / 60])
    rows = routed(pump, line, pit, steady, until=span).si.one.trace(span / _MOMENTS)
    # a full pit stands at its rim: how deep it ponds nobody asked
    level = np.where(np.isnan(rows["level"]), pit.si.depth, rows["level"])
    return rows["time"], level, rows["pump_flow"] > 0


def _title(pump: Pump, known: Cycle, units: u.System) -> str:
    """Say what comes in and what the pump does then."""
    flow = said(known.si.inflow, "gpm", units)
    pattern = str(known.pattern)
    if pattern in PATTERNS:
        does = f"; {PATTERNS[pattern]}"
        if pattern == "lag_helps":
            does += f", {u.number(np.asarray(known.lag_starts_per_h))} starts an hour"
    else:
        run, rest, starts = map(u.number, (known.run_s, known.rest_s, known.starts_per_h))
        does = f": runs {run} s, rests {rest} s, {starts} starts an hour"
    if (bound := states.bound(known.status)) in ("at least", "at most"):
        # the times rest on the end of the curve
        does += f"; the pump gives {bound} {said(known.si.at_on, 'gpm', units)}"
    return f"{pump.name}, {flow} comes in{does}"
