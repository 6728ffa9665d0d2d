"""Against the inflow: how often the pump starts, and how long the pit holds without power."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from drainpump import units as u
from drainpump.cycling.outage import outage as _outage
from drainpump.cycling.switching import cycle
from drainpump.errors import InputError
from drainpump.parts.pit import Pit
from drainpump.plots.frame import (
    axis_label,
    grid_behind,
    new_axes,
    other_units,
    pick,
    style,
)
from drainpump.plots.labels import Label, label_points, number_curves

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from drainpump.parts.line.line import DischargeLine
    from drainpump.parts.pond import PondStorage
    from drainpump.parts.pump.bank import Pump

__all__ = ["outage", "starts"]

_POINTS = 241
#: pumps up to which each curve is labelled at its worst inflow
_FEW = 4


def starts(
    pump: Pump | Sequence[Pump],
    line: DischargeLine,
    pit: Pit,
    ax: Axes | None = None,
    *,
    starts_max_per_h: float | None = None,
    units: str = "us",
) -> Axes:
    """Draw the starts per hour against the inflow.

    Parameters
    ----------
    pump : PumpCurve or bank, or sequence of them
    line : DischargeLine
    pit : Pit
    ax : matplotlib Axes, optional
        Where to draw; fresh axes by default.
    starts_max_per_h : float, optional
        The user's limit, drawn across.
    units : {"us", "metric"}, default "us"
        Unit system of the near axis of inflow; the far axis shows the other.

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
    pumps = list(pump) if isinstance(pump, Sequence) else [pump]
    ends = np.asarray(cycle(pumps, [line], pit, inflow_lps=0.0)._at_on)
    if ends.ndim > 2:
        raise InputError("starts: the inputs hold arrays; a plot shows one case, give scalars.")
    if not np.any(ends > 0):
        raise InputError("starts: no pump moves water through this line; see operating_point.")
    ax = new_axes(ax)
    name = pick("inflow", "gpm", units)
    unit = name[7:]
    labels: list[Label] = []
    across: list[Label] = []
    curves: list[Any] = []
    worsts: list[tuple[float, float]] = []
    most = float(np.nanmax(ends))
    for i, one in enumerate(pumps):
        if not ends[i, 0] > 0:
            continue
        inflow = np.linspace(0.0, ends[i, 0], _POINTS)
        cyc = cycle(one, line, pit, inflow_lps=inflow * 1e3)
        look = style(i)
        curves += ax.plot(
            u.from_si(inflow, unit), cyc.starts_per_h, color=look.color, linestyle=look.dash,
            lw=1.8, gid=f"starts {one.name}",
        )  # fmt: skip
        worst = float(u.from_si(cyc._worst_inflow[0], unit)), float(cyc.worst_starts_per_h[0])
        ax.plot(*([w] for w in worst), "o", ms=6, mfc="white", mec="black", gid=f"worst {one.name}")
        worsts.append(worst)
        said = f"{one.name}: {u.number(worst[1])} /h at {u.text(cyc._worst_inflow[0], unit)}"
        labels.append(Label(*worst, said, look.color))
    if starts_max_per_h is not None:
        limit = float(u.take("starts_max", guard="rate", per_h=starts_max_per_h).get("per_h"))
        ax.axhline(limit, color="0.3", linestyle=(0, (1, 1)), lw=1.4, gid="limit")
        across = [Label(0.0, limit, f"limit {u.number(limit)} /h", "0.3")]
    ax.set_xlim(0, float(u.from_si(1.05 * most, unit)))
    ax.set_ylim(0, 1.15 * max(label.y for label in labels + across))
    ax.set_xlabel(axis_label(name))
    ax.set_ylabel(axis_label("starts_per_h"))
    other_units(ax, "x", name)
    grid_behind(ax)
    if len(labels) > _FEW:
        number_curves(ax, curves, labels, markers=worsts)
        labels = []
    label_points(ax, across + labels, markers=worsts)
    return ax


def outage(
    pit: Pit,
    ax: Axes | None = None,
    *,
    inflow_most_gpm: Any = None,
    inflow_most_lps: Any = None,
    overflow_in: Any = None,
    overflow_mm: Any = None,
    pond_area_ft2: Any = None,
    pond_area_m2: Any = None,
    pond_storage: PondStorage | None = None,
    units: str = "us",
) -> Axes:
    """Draw the minutes to overflow against the inflow, the power having failed.

    Parameters
    ----------
    pit : Pit
    ax : matplotlib Axes, optional
        Where to draw; fresh axes by default.
    inflow_most_gpm, inflow_most_lps : float
        Where the axis of inflow ends, > 0. Exactly one.
    overflow_in, overflow_mm, pond_area_ft2, pond_area_m2, pond_storage : optional
        As in `drainpump.outage`.
    units : {"us", "metric"}, default "us"
        Unit system of the near axis of inflow; the far axis shows the other.

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

    if pit.shape:
        raise InputError("outage: the pit holds arrays; a plot shows one case, give scalars.")
    most = u.take("inflow_most", guard="inflow", gpm=inflow_most_gpm, lps=inflow_most_lps).si
    ax = new_axes(ax)
    name = pick("inflow", "gpm", units)
    unit = name[7:]
    inflow = np.geomspace(most / 50, most, _POINTS)
    labels = []
    for i, (float_, level) in enumerate((("on", pit._on), ("off", pit._off))):
        words = f"power fails at the {float_} level"
        got = _outage(
            pit, inflow_lps=inflow * 1e3, level_mm=float(level.si) * 1e3, overflow_in=overflow_in,
            overflow_mm=overflow_mm, pond_area_ft2=pond_area_ft2, pond_area_m2=pond_area_m2,
            pond_storage=pond_storage,
        )  # fmt: skip
        look = style(i)
        x = u.from_si(inflow, unit)
        ax.plot(x, got.overflow_min, color=look.color, linestyle=look.dash, lw=1.8, gid=words)
        labels.append(Label(float(x[120]), float(got.overflow_min[120]), words, look.color))
    ax.set_yscale("log")
    ax.set_xlim(0, float(u.from_si(most, unit)))
    ax.set_xlabel(axis_label(name))
    ax.set_ylabel(axis_label("overflow_min", "time to overflow"))
    other_units(ax, "x", name)
    ax.yaxis.set_major_locator(LogLocator(subs=(1, 2, 5)))
    ax.yaxis.set_major_formatter(lambda v, _: f"{v:g}")
    ax.yaxis.set_minor_formatter(NullFormatter())
    grid_behind(ax, which="both")
    label_points(ax, labels)
    return ax
