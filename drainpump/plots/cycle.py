"""The level in the pit against time: fill, pump down, and again."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from drainpump import units as u
from drainpump.cycling.switching import Cycle
from drainpump.cycling.switching import cycle as cycling
from drainpump.errors import InputError
from drainpump.inflow.storm import Hydrograph
from drainpump.parts.scalars import whole
from drainpump.plots.end_labels import label_ends
from drainpump.plots.frame import (
    axis_label,
    grid_behind,
    head_line,
    new_axes,
    other_units,
    pick,
    style,
)
from drainpump.plots.labels import Label
from drainpump.routing.route import route

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from drainpump.parts.line.line import DischargeLine
    from drainpump.parts.pit import Pit
    from drainpump.parts.pump.bank import Pump

__all__ = ["cycle"]

#: moments at which the level is drawn; switches of the pump are drawn where they fall
_MOMENTS = 1500


def cycle(
    pump: Pump,
    line: DischargeLine,
    pit: Pit,
    ax: Axes | None = None,
    *,
    inflow_gpm: Any = None,
    inflow_lps: Any = None,
    cycles: int = 3,
    units: str = "us",
) -> Axes:
    """Draw the level in the pit over a few cycles at a steady inflow, from the off level.

    Parameters
    ----------
    pump, line, pit
        One of each, of scalars.
    ax : matplotlib Axes, optional
        Where to draw; fresh axes by default.
    inflow_gpm, inflow_lps : float
        Water coming in, >= 0. Exactly one.
    cycles : int, default 3
        How many cycles to show, >= 1.
    units : {"us", "metric"}, default "us"
        Unit system of the level; the far axis shows the other.

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
    inflow = u.take("inflow", guard="inflow", gpm=inflow_gpm, lps=inflow_lps).si
    whole("cycles", cycles, "give 3")
    known = cycling(pump, line, pit, inflow_lps=inflow * 1e3)
    if np.ndim(known.starts_per_h):
        raise InputError("cycle: the inputs hold arrays or lists; a plot shows one case.")
    name = pick("level", "in", units)
    unit = name[6:]
    minutes, level, running = _trace(pump, line, pit, known, cycles)
    ax = new_axes(ax, size=(8.0, 4.4))
    levels = u.from_si(level, unit)
    look = style(0)
    ax.plot(minutes, levels, color=look.color, lw=1.8, gid="level")
    ax.fill_between(minutes, 0, levels, where=running, facecolor="#c9d6e6", hatch="////",
                    edgecolor="#7a8fa8", lw=0.0, gid="pump runs")  # fmt: skip
    labels = _floats(ax, pit, unit)
    top = max(float(np.max(levels)), *(x.y for x in labels))
    ax.set_ylim(0, 1.12 * top)
    ax.set_xlim(0, minutes[-1])
    ax.set_xlabel(axis_label("time_min"))
    ax.set_ylabel(axis_label(name, "level above the floor"))
    other_units(ax, "y", name, "level above the floor")
    head_line(ax, f"{_title(pump, known, units)}{'; hatched: pump runs' if running.any() else ''}")
    grid_behind(ax)
    label_ends(ax, [x._replace(x=minutes[-1]) for x in labels])
    return ax


def _trace(
    pump: Pump, line: DischargeLine, pit: Pit, known: Cycle, cycles: int
) -> tuple[Any, Any, Any]:
    """Minutes, level above the floor (m) and whether the pump runs."""
    period = known.run_s + known.rest_s
    inflow = float(known._inflow)
    if not np.isfinite(period):
        # it never stops or never starts: long enough to fill the pit many times over
        period = 4 * float(known._working) / inflow if inflow > 0 else 600.0
    span = cycles * float(period)
    steady = Hydrograph(flow_lps=[inflow * 1e3] * 2, time_min=[0, span / 60])
    case = route(pump, line, pit, steady, until_min=span / 60)
    frame = case.to_frame("metric", step_s=span / _MOMENTS)
    level = u.to_si(frame["level_mm"].to_numpy(), "mm")
    running = frame["pump_flow_lps"].to_numpy() > 0
    return frame["time_min"].to_numpy(), level, running


def _floats(ax: Axes, pit: Pit, unit: str) -> list[Label]:
    """Draw the pit's levels across; return their labels."""
    marks = (
        ("rim", pit._depth, "solid"),
        ("inlet", pit._inlet, (0, (8, 2, 2, 2))),
        ("alarm", pit._alarm, (0, (4, 1, 1, 1, 1, 1))),
        ("on", pit._on, (0, (6, 2))),
        ("off", pit._off, (0, (2, 1.5))),
    )
    labels = []
    for word, measure, dash in marks:
        if measure is not None:
            y = float(u.from_si(measure.si, unit))
            ax.axhline(y, color="0.35", lw=1.0, linestyle=dash, gid=f"mark {word}")
            labels.append(Label(0.0, y, f"{word} {u.text(measure.si, unit)}", "0.2"))
    return labels


def _title(pump: Pump, known: Cycle, units: str) -> str:
    flow = "gpm" if units == "us" else "lps"
    said = f"{pump.name}, {u.text(known._inflow, flow)} comes in: "
    patterns = {
        "idle": "nothing comes in, the pump rests",
        "runs_on": "the pump never stops",
        "falls_behind": "more comes in than the pump takes",
        "restarts_at_once": "what runs back starts it again at once",
        "unknown": "the pump's flow is not known",
    }
    if str(known.pattern) != "cycles":
        return said + patterns[str(known.pattern)]
    return (
        f"{said}runs {u.number(known.run_s)} s, rests {u.number(known.rest_s)} s, "
        f"{u.number(known.starts_per_h)} starts an hour"
    )
