"""A storm over time: rain, what comes and what is pumped, and how high the water stands."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from drainpump import units as u
from drainpump.errors import InputError, wrong
from drainpump.plots.frame import (
    axis_label,
    grid_behind,
    letters,
    other_units,
    pick,
    style,
    wrapped,
)
from drainpump.plots.labels import Label, label_points
from drainpump.results import check_units
from drainpump.routing.route import Routing

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["storm"]

#: moments the storm is drawn at
_MOMENTS = 3000
#: minutes above which the time axis counts hours
_LONG = 600.0


def storm(result: Routing, ax: Axes | None = None, *, units: str = "us") -> Axes:
    """Draw a routed storm: rain, inflow and pump flow, and the water's level, over one time.

    Parameters
    ----------
    result : Routing
        From `route`, a single case.
    ax : matplotlib Axes, optional
        Whose room is divided: it shows the flows, the rain hangs above it and the level
        stands below. Fresh axes by default.
    units : {"us", "metric"}, default "us"
        Unit system of the near axes; the far axes show the other.

    Returns
    -------
    matplotlib Axes
        The one of the flows; those of rain and level follow it in its figure.

    Raises
    ------
    InputError
        A result of several cases: a plot shows one.

    Examples
    --------
    >>> import drainpump as dp
    >>> pump = dp.PumpCurve(name="A", flow_gpm=[0, 30, 50], head_ft=[20, 12.8, 0])
    >>> line = dp.straight_line(pipe=dp.Pipe(bore_in=2.047), length_ft=150, lift_ft=6, k=6)
    >>> pit = dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=16)
    >>> burst = dp.Hydrograph(flow_gpm=[10, 90, 30, 5, 0], block_min=10)
    >>> ax = dp.plots.storm(dp.route(pump, line, pit, burst, pond_area_ft2=400))
    >>> ax.get_ylabel()
    'Flow (gpm)'
    """
    if not isinstance(result, Routing):
        raise wrong("result", result, "must be a Routing", "route a storm with route(...)")
    if np.ndim(result._starts):
        raise InputError(
            f"storm: the result holds shape {np.shape(result._starts)}; a plot shows one case, "
            "route one."
        )
    check_units(units)
    case = result._cases[0][0]
    end = float(result._ended)
    rows = case.trace(end / _MOMENTS)
    long = end / 60 > _LONG
    clock = "time_h" if long else "time_min"
    time = u.from_si(rows["time"], clock[5:])
    ax, above, below = _panels(ax)
    ax.set_xlim(0, u.from_si(end, clock[5:]))
    _stage(below, case, rows, time, pick("level", "in", units))
    below.set_xlabel(axis_label(clock))
    _flows(ax, rows, time, pick("flow", "gpm", units))
    _rain(above, case, clock, pick("rain", "in_per_h", units))
    for panel in (ax, below):
        for start, stop in case.outages:
            panel.axvspan(
                *(u.from_si(t, clock[5:]) for t in (start, min(stop, end))), facecolor="0.85",
                hatch="xx", edgecolor="0.7", lw=0, zorder=0, gid="outage",
                label="power out" if start == case.outages[0][0] else None,
            )  # fmt: skip
    ax.legend(loc="upper right", fontsize=8.5, ncols=3, framealpha=0.9)
    _said(below, result, time, rows)
    return ax


def _panels(ax: Axes | None) -> tuple[Axes, Axes, Axes]:
    """Divide the room of one Axes: flows in it, rain above, level below, time shared."""
    import matplotlib.pyplot as plt
    from mpl_toolkits.axes_grid1 import make_axes_locatable  # type: ignore[import-untyped]

    if ax is None:
        # panels divided from one Axes are placed by hand, not by a layout engine
        ax = plt.figure(figsize=(7.5, 8.0)).add_axes((0.11, 0.07, 0.78, 0.9))
    divider = make_axes_locatable(ax)
    above = divider.append_axes("top", size="45%", pad=0.12, sharex=ax)
    below = divider.append_axes("bottom", size="100%", pad=0.12, sharex=ax)
    for panel in (ax, above):
        panel.tick_params(labelbottom=False)
    return ax, above, below


def _flows(ax: Axes, rows: dict[str, Any], time: Any, attribute: str) -> None:
    unit = attribute[5:]
    came, pumped = (u.from_si(rows[name], unit) for name in ("inflow", "pump_flow"))
    # a pump that switches often would be a smudge as a dashed line: it is an area
    color = style(1).color
    ax.plot(time, came, color=style(0).color, lw=1.8, label="inflow", gid="inflow", zorder=3)
    ax.plot(time, pumped, color=color, lw=0.7, gid="pump", zorder=2)
    ax.fill_between(time, 0, pumped, facecolor="#e3bcc1", edgecolor=color, hatch="////", lw=0.0,
                    label="pump", gid="pump area", zorder=1)  # fmt: skip
    # room above the curves for their key
    ax.set_ylim(0, 1.25 * max(float(np.max(came)), float(np.max(pumped))) or 1.0)
    ax.set_ylabel(axis_label(attribute))
    other_units(ax, "y", attribute)
    _grid(ax)


def _rain(above: Axes, case: Any, clock: str, attribute: str) -> None:
    """Hang the rain from the top, the way it is drawn in hydrology."""
    rain = case.inflow.rain
    if rain is None or rain._depth.si.ndim > 1:
        above.text(
            0.5, 0.5, "inflow given without its rain", transform=above.transAxes, ha="center",
            va="center", fontsize=8.5, color="0.3",
        )  # fmt: skip
        above.set_yticks([])
        return
    unit = attribute[5:]
    edges = u.from_si(rain._edges - case.inflow._time[0], clock[5:])
    above.stairs(
        u.from_si(rain._intensity, unit), edges, fill=True, facecolor="0.6", edgecolor="0.2",
        gid="rain",
    )  # fmt: skip
    above.set_ylim(0, None)
    above.invert_yaxis()
    above.set_ylabel(axis_label(attribute))
    other_units(above, "y", attribute)
    _grid(above)


def _stage(below: Axes, case: Any, rows: dict[str, Any], time: Any, attribute: str) -> None:
    unit, pit = attribute[6:], case.pit
    stage = u.from_si(rows["level"] + np.nan_to_num(rows["pond_depth"]), unit)
    below.plot(time, stage, color="0.1", lw=1.2, gid="level")
    rim = u.from_si(pit._depth.si, unit)
    below.fill_between(
        time, rim, stage, where=rows["pond"] > 0, facecolor="0.75", hatch="....", edgecolor="0.4",
        lw=0, gid="ponding",
    )  # fmt: skip
    lines = {"off": pit._off.si, "on": pit._on.si, "rim": pit._depth.si, "spills": case.spill}
    labels = []
    for i, (words, level) in enumerate((w, x) for w, x in lines.items() if x is not None):
        y = float(u.from_si(level, unit))
        look = style(i)
        below.axhline(y, color=look.color, linestyle=look.dash, lw=1.0, gid=words)
        labels.append(Label(below.get_xlim()[1] * 0.9, y, words, look.color))
    highest = max(float(np.max(stage)), *(x.y for x in labels))
    # room for what is said above the curve
    below.set_ylim(0, 1.25 * highest)
    below.set_ylabel(axis_label(attribute, "water level"))
    other_units(below, "y", attribute, "water level")
    _grid(below)
    label_points(below, labels)


def _said(below: Axes, result: Routing, time: Any, rows: dict[str, Any]) -> None:
    """Say in the panel of the level what is asked first."""
    us = below.get_ylabel().endswith("(in)")
    pond = u.text(result._peak_pond, "gal" if us else "l")
    starts = f"{int(result._starts)} start{'' if result._starts == 1 else 's'}"
    ponds = f"ponds (dotted) up to {pond}, {u.text(result._ponded, 'min')} long"
    if not result._peak_pond > 0:
        ponds = "no ponding"
    words = f"{ponds}; {starts}; longest run {u.text(result._longest, 'min')}"
    below.text(
        0.01, 0.97, wrapped(words, letters(below, 8.5)),
        transform=below.transAxes, va="top", fontsize=8.5, gid="said",
        bbox={"boxstyle": "square,pad=0.1", "fc": "white", "ec": "none", "alpha": 0.75},
    )  # fmt: skip


def _grid(ax: Axes) -> None:
    grid_behind(ax)
