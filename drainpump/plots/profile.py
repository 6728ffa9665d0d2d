"""The line from the side: the pipe, the hydraulic grade line, and where the air stands."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from drainpump import units as u
from drainpump.errors import InputError
from drainpump.parts.line import profile as shape
from drainpump.parts.pump.bank import PumpBank
from drainpump.physics import system
from drainpump.physics.constants import GRAVITY
from drainpump.plots.frame import (
    axis_label,
    grid_behind,
    new_axes,
    other_units,
    pick,
)
from drainpump.plots.labels import Label, label_points
from drainpump.solve.high_point import high_point
from drainpump.solve.operating_point import operating_point

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from drainpump.parts.line.line import DischargeLine
    from drainpump.parts.pump.bank import Pump
    from drainpump.units import FloatArray

__all__ = ["profile"]

#: points a run is drawn with
_STEPS = 24


def profile(line: DischargeLine, pump: Pump, ax: Axes | None = None, *, units: str = "us") -> Axes:
    """Draw the pipe's elevation and the hydraulic grade line at the operating point.

    Parameters
    ----------
    line : DischargeLine
        Drawn as it runs: vented at its high points, or siphoning.
    pump : PumpCurve or bank
        Both scalar: a plot shows one case.
    ax : matplotlib Axes, optional
        Where to draw; fresh axes by default.
    units : {"us", "metric"}, default "us"
        Unit system of the near axes; the far axes show the other.

    Returns
    -------
    matplotlib Axes

    Raises
    ------
    InputError
        The line or the pump holds arrays, or they have no operating point.

    Notes
    -----
    The grade line is the height to which water would stand in a tube on the pipe: the
    head at the pump less the losses and the velocity head. Past a vented high point that
    governs, the water runs down part full and its surface is the pipe itself. Where the
    grade line passes under the pipe, the pressure is below that of the air. K of a run is
    spread along it.

    Examples
    --------
    >>> import drainpump as dp
    >>> pump = dp.PumpCurve(name="A", flow_gpm=[0, 30, 50], head_ft=[20, 12.8, 0])
    >>> line = dp.straight_line(pipe=dp.Pipe(bore_in=2.047), length_ft=150, lift_ft=6)
    >>> ax = dp.plots.profile(line, pump)
    >>> ax.get_xlabel(), ax.get_ylabel()
    ('Distance (ft)', 'Elevation above the pump-off level (ft)')
    """
    op = operating_point(pump, line)
    if np.ndim(op._flow):
        raise InputError("profile: the inputs hold arrays; a plot shows one case, give scalars.")
    op.require()
    x_name, y_name = pick("distance", "ft", units), pick("elevation", "ft", units)
    x_unit, y_unit = x_name.split("_")[-1], y_name.split("_")[-1]
    ax = new_axes(ax)
    flow = float(op._flow)
    start = float(np.ravel(pump._rise)[0]) if isinstance(pump, PumpBank) else 0.0
    distance, pipe, grade = _lines(line, flow, start)
    x = u.from_si(distance, x_unit)
    ax.plot(x, u.from_si(pipe, y_unit), color="0.15", lw=3.2, solid_capstyle="round", gid="pipe")
    ax.plot(x, u.from_si(grade, y_unit), color="#004488", lw=1.8, ls=(0, (6, 2)), gid="grade line")
    low = grade < pipe - 1e-9
    if low.any():
        ax.fill_between(
            x, u.from_si(grade, y_unit), u.from_si(pipe, y_unit), where=low, facecolor="#aa3344",
            alpha=0.25, hatch="....", edgecolor="#aa3344", lw=0.0, gid="below the air's pressure",
        )  # fmt: skip
    ax.axhline(0.0, color="0.5", lw=1.0, ls=(0, (1, 2)), gid="pump-off level")
    labels = _labels(line, pump, flow, (distance, pipe, grade), (x_unit, y_unit))
    ax.set_xlabel(axis_label(x_name))
    ax.set_ylabel(axis_label(y_name, "elevation above the pump-off level"))
    span = float(np.ptp([*pipe, *grade, 0.0]))
    floor = min(float(np.min(pipe)), float(np.min(grade)), 0.0)
    ax.set_xlim(0, float(x[-1]) * 1.02 or 1.0)
    ax.set_ylim(u.from_si(floor - 0.12 * span, y_unit), u.from_si(floor + 1.25 * span, y_unit))
    other_units(ax, "x", x_name)
    other_units(ax, "y", y_name, "elevation")
    grid_behind(ax)
    label_points(ax, labels)
    return ax


def _lines(line: DischargeLine, flow: float, start: float) -> tuple[FloatArray, ...]:
    """Distance, pipe and grade line (m) along the runs, `_STEPS` points to a run."""
    arrays, q = line._arrays, np.asarray(flow)
    distance, z = shape.points(arrays)
    lost = np.concatenate([[0.0], system.losses(q, arrays)])
    share = np.linspace(0.0, 1.0, _STEPS)

    def along(ends: FloatArray) -> FloatArray:
        return np.concatenate([a + share * (b - a) for a, b in pairwise(ends)])

    pipe = along(z)
    # what each run's end asks, and the outlet; the highest still to come rules each run
    alone = arrays.map(lambda name, a: np.asarray(True) if name == "siphon" else a)
    asks = z[1:] + lost[1:]
    asks[-1] = system.head(q, alone)
    rules = np.full(asks.shape, asks[-1])
    if not line.siphon:
        rules = np.maximum.accumulate(asks[::-1])[::-1]
    fast = np.repeat(flow / arrays.area, _STEPS) ** 2 / (2 * GRAVITY)
    grade = np.repeat(rules, _STEPS) - along(lost) - fast
    if not line.siphon:
        # where air is let in the pipe runs part full, and the water's surface is in it
        grade = np.maximum(grade, pipe)
    return along(distance), pipe + start, grade + start


def _labels(
    line: DischargeLine, pump: Pump, flow: float, drawn: tuple[FloatArray, ...], shown: Any
) -> list[Label]:
    distance, pipe, grade = drawn
    x_unit, y_unit = shown

    def at(i: int, y: FloatArray, text: str, color: str = "black") -> Label:
        return Label(u.from_si(distance[i], x_unit), u.from_si(y[i], y_unit), text, color)

    # far along, where the grade line stands apart from the pipe there
    far = int(0.75 * len(pipe))
    said = u.text(flow, "gpm" if x_unit == "ft" else "lps")
    apart = abs(grade[far] - pipe[far]) > 0.04 * np.ptp([*pipe, *grade])
    labels = [
        at(far if apart else 0, grade, f"hydraulic grade line at {said}", "#004488"),
    ]
    kinds = shape.kinds(shape.points(line._arrays)[1])
    water = shape.dips(line._arrays)
    for run in range(1, len(line.runs)):
        last = run * _STEPS - 1
        if kinds[run] == "high point":
            labels.append(at(last, pipe, "high point" + _crest(line, pump, run, y_unit)))
        elif kinds[run] == "low point" and water[run - 1 : run + 1].sum() > 1e-9:
            volume = u.text(water[run - 1 : run + 1].sum(), "gal" if x_unit == "ft" else "l")
            labels.append(at(last, pipe, f"dip holds {volume}"))
    labels.append(at(len(pipe) - 1, pipe, "outlet"))
    labels.append(at(len(pipe) // 2, np.zeros_like(pipe), "pump-off level", "0.35"))
    gap = pipe - grade
    if gap.max() > 1e-9:
        deep = int(np.argmax(gap))
        labels.append(at(deep, 0.5 * (pipe + grade), "pressure below the air's", "#882255"))
    return labels


def _crest(line: DischargeLine, pump: Pump, run: int, unit: str) -> str:
    """Pressure head at the crest of a siphoning line, in words."""
    if not line.siphon:
        return ", vented"
    point = high_point(pump, line)
    if point.crest_run != run:
        return ""
    return f", {u.text(point._crest, unit)} of pressure head"
