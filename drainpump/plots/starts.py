"""Against the inflow: how often the pump starts, and how long the pit holds without power."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from drainpump import units as u
from drainpump.cycling.outage import overflows
from drainpump.cycling.switching import cycles_of
from drainpump.errors import InputError
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.pit import Pit
from drainpump.parts.pond import PondStorage, take_pond
from drainpump.parts.pump.bank import Pump
from drainpump.parts.scalars import check_kind, fact, one_measure
from drainpump.plots.frame import Label, frame_on, grid_behind, refuse_arrays
from drainpump.plots.labels import label_points, name_curves
from drainpump.plots.page import Axes

_POINTS = 241


def starts(
    pump: Pump | Sequence[Pump],
    line: DischargeLine,
    pit: Pit,
    ax: Axes | None = None,
    *,
    starts_max_per_h: float | None = None,
    units: u.System = "us",
    twin: bool = True,
) -> Axes:
    """Draw the starts per hour against the inflow.

    Parameters
    ----------
    pump : PumpCurve or bank, or sequence of them
    line : DischargeLine
    pit : Pit
    starts_max_per_h : float, optional
        The user's limit, drawn across.
    ax, units, twin
        As of every picture, see `drainpump.plots`.

    Returns
    -------
    matplotlib Axes

    Raises
    ------
    InputError
        Inputs that hold arrays, or no pump that moves water: a plot shows one case each.

    Examples
    --------
    >>> import drainpump as dp
    >>> pump = dp.PumpCurve(name="A", flow_gpm=[0, 30, 50], head_ft=[20, 12.8, 0])
    >>> line = dp.straight_line(pipe=dp.pvc("2"), length_ft=150, lift_ft=6)
    >>> pit = dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=13)
    >>> ax = dp.plots.starts(pump, line, pit, starts_max_per_h=20)
    >>> ax.get_xlabel(), ax.get_ylabel()
    ('Inflow (gpm)', 'Starts (/h)')
    """
    check_kind("line", line, DischargeLine)
    check_kind("pit", pit, Pit)
    pumps = list(pump) if isinstance(pump, Sequence) else [pump]
    ends = np.asarray(cycles_of(pumps, [line], pit, np.zeros(())).si.at_on)
    refuse_arrays("starts", ends.ndim > 2)
    if not np.any(ends > 0):
        raise InputError("starts: no pump moves water through this line; see operating_point.")
    most = fact("starts_max", "rate", per_h=starts_max_per_h)
    limit = None if most is None else float(most.si)
    moving = [i for i in range(len(pumps)) if ends[i, 0] > 0]
    inflows = [np.linspace(0.0, ends[i, 0], _POINTS) for i in moving]
    found = [
        cycles_of(pumps[i], line, pit, inflow) for i, inflow in zip(moving, inflows, strict=True)
    ]
    frame = frame_on(ax, units, twin=twin, x="inflow_gpm", y="starts_per_h")
    looks = frame.styles(len(pumps))
    curves, names = [], []
    for i, inflow, cyc in zip(moving, inflows, found, strict=True):
        curves.append(frame.curve(inflow, cyc.si.rate, looks[i]))
        worst = float(cyc.si.worst_inflow[0]), float(cyc.si.worst_rate[0])
        frame.mark(*worst, ms=6, mew=1.0, zorder=2)
        words = f"{pumps[i].name}: {frame.y.said(worst[1])} at {frame.x.said(worst[0])}"
        names.append(Label(*worst, words, looks[i].color))
    across = []
    if limit is not None:
        frame.across(limit, color="0.3", ls=(0, (1, 1)), lw=1.4)
        across = [Label(0.0, limit, f"limit {frame.y.said(limit)}", "0.3")]
    top = max(label.y for label in names + across)
    frame.limits(x=(0.0, 1.05 * float(np.nanmax(ends))), y=(0.0, 1.15 * top))
    name_curves(frame, curves, names, before=across)
    return frame.done()


def outage(
    pit: Pit,
    ax: Axes | None = None,
    *,
    inflow_most_gpm: u.Quantity | None = None,
    inflow_most_lps: u.Quantity | None = None,
    overflow_in: u.Quantity | None = None,
    overflow_mm: u.Quantity | None = None,
    pond_area_ft2: u.Quantity | None = None,
    pond_area_m2: u.Quantity | None = None,
    pond_storage: PondStorage | None = None,
    units: u.System = "us",
    twin: bool = True,
) -> Axes:
    """Draw the minutes to overflow against the inflow, the power having failed.

    Parameters
    ----------
    pit : Pit
    inflow_most_gpm, inflow_most_lps : float
        Where the axis of inflow ends, > 0. Exactly one.
    overflow_in, overflow_mm, pond_area_ft2, pond_area_m2, pond_storage : optional
        As in `drainpump.outage`.
    ax, units, twin
        As of every picture, see `drainpump.plots`.

    Returns
    -------
    matplotlib Axes
        Two lines: the power fails with the water at the pump-on level, and at the off
        level. Minutes are on a logarithmic axis.

    Examples
    --------
    >>> import drainpump as dp
    >>> pit = dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=16)
    >>> ax = dp.plots.outage(pit, inflow_most_gpm=40)
    >>> ax.get_ylabel()
    'Time to overflow (min)'
    """
    from matplotlib.ticker import LogLocator, NullFormatter

    check_kind("pit", pit, Pit)
    refuse_arrays("outage", pit.shape)
    ends = u.take("inflow_most", guard="inflow", gpm=inflow_most_gpm, lps=inflow_most_lps)
    most = one_measure("inflow_most", ends, above_zero=True).si
    inflow = np.geomspace(most / 50, most, _POINTS)
    overflow = u.maybe("overflow", guard="level", **u.inches(overflow_in, overflow_mm))
    top = pit.si.depth if overflow is None else overflow.si
    pond = take_pond(pond_area_ft2, pond_area_m2, pond_storage)
    got = [overflows(pit, inflow, level, top, pond) for level in (pit.si.on, pit.si.off)]
    frame = frame_on(ax, units, twin=twin, x="inflow_gpm", y="time_to_overflow_min")
    labels = []
    for word, result, look in zip(("on", "off"), got, frame.styles(2), strict=True):
        time = result.si.minutes
        frame.curve(inflow, time, look)
        words = f"power fails at the {word} level"
        labels.append(Label(inflow[120], time[120], words, look.color))
    frame.limits(x=(0.0, float(most)))
    ax = frame.ax
    ax.set_yscale("log")
    ax.yaxis.set_major_locator(LogLocator(subs=(1, 2, 5)))
    ax.yaxis.set_major_formatter(lambda v, _: f"{v:g}")
    ax.yaxis.set_minor_formatter(NullFormatter())
    grid_behind(ax, which="both")
    label_points(frame, labels)
    return frame.done()
