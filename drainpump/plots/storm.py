"""A storm over time: rain, what comes and what is pumped, and how high the water stands."""

from __future__ import annotations

from typing import Any

import numpy as np

from drainpump.errors import wrong
from drainpump.plots.frame import (
    Frame,
    Label,
    Scale,
    Style,
    axes_or_fresh,
    frame_on,
    refuse_arrays,
    said,
    scale,
    style,
)
from drainpump.plots.labels import label_points
from drainpump.plots.looks import draw_levels, heights
from drainpump.plots.margins import legend
from drainpump.plots.page import PAPER, Axes, letters
from drainpump.routing.route import Routing
from drainpump.units import System

#: moments the storm is drawn at
_MOMENTS = 3000
#: minutes above which the time axis counts hours
_LONG = 600.0


def storm(
    result: Routing, ax: Axes | None = None, *, units: System = "us", twin: bool = True
) -> Axes:
    """Draw a routed storm: rain, inflow and pump flow, and the water's level, over one time.

    Parameters
    ----------
    result : Routing
        From `route`, a single case.
    ax : matplotlib Axes, optional
        Whose room is divided: it shows the flows, the rain hangs above it and the level
        stands below. Fresh axes by default.
    ax, units, twin
        As of every picture, see `drainpump.plots`.

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
    refuse_arrays("storm", np.ndim(result.starts))
    routed = result.si.one
    begin, end = routed.begin, float(result.si.ended)
    clock = scale("time_h" if (end - begin) / 60 > _LONG else "time_min", units)
    rows = routed.trace((end - begin) / _MOMENTS)
    time = clock.shown(rows["time"])
    rain = routed.inflow.rain
    if rain is not None and rain.si.depth.ndim > 1:
        # of several storms' rain, not this one's
        rain = None
    ax, above, below = _panels(ax, 0.1 if rain is None else 0.45)
    ax.set_xlim(clock.shown(begin), clock.shown(end))
    below.set_xlabel(clock.label)
    level = frame_on(below, units, twin=twin, y="water_level_in")
    labels = _levels(level, routed, rows, time)
    flows = frame_on(ax, units, twin=twin, y="flow_gpm")
    key = _flows(flows, rows, time)
    _rain(above, rain, clock, units, twin)
    for panel in (below, ax):
        spans = [
            panel.axvspan(
                clock.shown(begin + start), clock.shown(min(begin + stop, end)),
                facecolor="0.85", hatch="xx", edgecolor="0.7", lw=0, zorder=0, label="power out",
            )
            for start, stop in routed.asked.outages
        ]  # fmt: skip
    legend(flows, [*key, *spans[:1]], "upper right", abreast=True)
    below.text(
        0.01, 0.97, level.fitted(_said(result, units), letters()), transform=below.transAxes,
        va="top", fontsize=letters(), bbox=PAPER | {"alpha": 0.75}, in_layout=False,
    )  # fmt: skip
    label_points(level, labels)
    level.done((0.0, 0.0))
    return flows.done((200.0, 90.0))


def _panels(ax: Axes | None, rain: float) -> tuple[Axes, Axes, Axes]:
    """Divide the room of one Axes: flows in it, rain above, level below, time shared."""
    ax = axes_or_fresh(ax, (7.5, 8.0))
    figure, share = ax.figure, {"height_ratios": (rain, 1.0, 1.0), "hspace": 0.08}
    if (place := ax.get_subplotspec()) is not None:
        rows: Any = place.subgridspec(3, 1, **share)
    else:
        (left, bottom), (right, top) = ax.get_position().get_points()
        rows = figure.add_gridspec(3, 1, left=left, bottom=bottom, right=right, top=top, **share)
    ax.set_subplotspec(rows[1])
    above, below = (figure.add_subplot(rows[i], sharex=ax) for i in (0, 2))
    for panel in (ax, above):
        panel.tick_params(labelbottom=False)
    return ax, above, below


def _flows(frame: Frame, rows: dict[str, Any], time: Any) -> list[Any]:
    """Draw what comes and what is pumped; return what the key explains."""
    came, pumped = rows["inflow"], rows["pump_flow"]
    # a pump that switches often would be a smudge as a dashed line: it is an area
    color = style(1).color
    line = frame.curve(time, came, style(0), zorder=3, label="inflow")
    frame.curve(time, pumped, Style(color), lw=0.7, zorder=2)
    area = frame.area(time, 0.0, pumped, facecolor="#e3bcc1", edgecolor=color, hatch="////",
                      lw=0.0, zorder=1, label="pump")  # fmt: skip
    key = [line, area]
    if (lag := rows["floats"] > 1).any():
        key.append(frame.area(time, 0.0, pumped, where=lag, facecolor="#b3606e", edgecolor="black",
                              hatch="xx", lw=0.0, zorder=1, label="lag pumps too"))  # fmt: skip
        area.set_label("lead pump")
    # room above the curves for their key
    frame.limits(y=(0.0, 1.25 * max(float(np.max(came)), float(np.max(pumped))) or 1e-4))
    return key


def _rain(above: Axes, rain: Any, clock: Scale, units: System, twin: bool) -> None:
    """Hang the rain from the top, the way it is drawn in hydrology."""
    if rain is None:
        above.text(
            0.5, 0.5, "inflow given without its rain", transform=above.transAxes, ha="center",
            va="center", fontsize=letters(), in_layout=False,
        )  # fmt: skip
        above.set_yticks([])
        return
    frame = frame_on(above, units, twin=twin, y="rain_in_per_h")
    # a record is mostly dry: neighbours alike are one block
    intensity, edges = rain.si.intensity, rain.si.edges
    begins = np.append(True, np.diff(intensity) != 0)
    intensity, edges = intensity[begins], edges[np.append(begins, True)]
    above.stairs(
        frame.y.shown(intensity), clock.shown(edges), fill=True, facecolor="0.6", edgecolor="0.2"
    )
    above.set_ylim(0, None)
    above.invert_yaxis()
    frame.done((0.0, 0.0))


def _levels(frame: Frame, routed: Any, rows: dict[str, Any], time: Any) -> list[Label]:
    """Draw the water's level and those of pit and floats; return the names of these."""
    pit, pond, over = routed.pit.si, routed.asked.pond.si, rows["pond"]
    # on ground of unknown size only the rim is known
    stage = np.where(np.isnan(rows["level"]), pit.depth, rows["level"])
    frame.curve(time, stage, Style("0.1"), lw=1.2, gid="level")
    dots: dict[str, Any] = {"facecolor": "0.75", "hatch": "....", "edgecolor": "0.4", "lw": 0}
    frame.area(time, pit.depth, stage, where=over > 0, **dots)
    there = heights(routed.pit, routed.yard.grid.pumps[0], routed.asked.overflow)
    labels = draw_levels(frame, there, 0.9 * frame.ax.get_xlim()[1])
    # room for what is said above the curve
    top = 1.25 * max(float(np.max(stage)), *(label.y for label in labels))
    frame.limits(y=(0.0, top))
    # past the pond's table nobody knows how deep it is: open at the top
    if (past := pond.is_past(over)).any():
        frame.area(time, stage, top, where=past, **dots | {"facecolor": "none"})
    return labels


def _said(result: Routing, units: System) -> str:
    """Say what is asked first."""
    ponds = "no ponding"
    found = result.si
    if found.peak_pond > 0:
        pond, long = said(found.peak_pond, "gal", units), said(found.ponded, "min", units)
        ponds = f"ponds (dotted) up to {pond}, {long} long"
        if found.one.asked.pond.si.is_past(found.peak_pond):
            ponds += f", at least {said(found.peak_depth, 'in', units)} deep (its table ends there)"
    starts = f"{int(result.starts)} start{'' if result.starts == 1 else 's'}"
    return f"{ponds}; {starts}; longest run {said(found.longest, 'min', units)}"
