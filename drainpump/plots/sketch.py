"""The job from the side, as a crew draws it: pit and floats, riser, run, outlet, dimensions."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from drainpump import units as u
from drainpump.parts.line import profile as shape
from drainpump.parts.line.hand_off import GravityHandOff
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.line.outlet import SubmergedOutlet
from drainpump.parts.line.pipe import pipe_in_words
from drainpump.parts.pit import Pit
from drainpump.parts.pump.bank import Pump
from drainpump.parts.scalars import check_kinds
from drainpump.plots.frame import Frame, Label, Style, frame_on, refuse_arrays, said
from drainpump.plots.labels import label_points
from drainpump.plots.looks import LEVELS, heights
from drainpump.plots.margins import label_left
from drainpump.plots.page import Axes
from drainpump.solve.one_case import one_case
from drainpump.units import System

#: says a length in the wanted unit
Say = Callable[[Any, str], str]


_PIPE, _WATER = Style("0.15"), "#88aacc"
#: share of the picture's width that the pit takes, whatever it measures
_PIT = 0.2


def sketch(
    pump: Pump,
    line: DischargeLine,
    pit: Pit | None = None,
    ax: Axes | None = None,
    *,
    units: System = "us",
    twin: bool = True,
) -> Axes:
    """Draw the job from pit to outlet, with its levels and dimensions.

    Heights are to scale, and so is the way along the line; the pit is drawn wider than it is.

    Parameters
    ----------
    pump : PumpCurve or bank
    line : DischargeLine
    pit : Pit, optional
        All scalar: one case.
    ax, units, twin
        As of every picture, see `drainpump.plots`; dimensions are said in both systems, or,
        with ``twin=False``, in one.

    Returns
    -------
    matplotlib Axes

    Raises
    ------
    InputError
        An input holds arrays.

    Examples
    --------
    >>> import drainpump as dp
    >>> pump = dp.PumpCurve(name="A", flow_gpm=[0, 30, 50], head_ft=[20, 12.8, 0])
    >>> line = dp.straight_line(pipe=dp.pvc("2"), length_ft=150, lift_ft=6)
    >>> pit = dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=13)
    >>> ax = dp.plots.sketch(pump, line, pit)
    >>> any("lift" in text.get_text() for text in ax.texts)
    True
    """
    one_case("sketch", pump, line)
    check_kinds({"pit": Pit}, locals())
    refuse_arrays("sketch", pit is not None and pit.shape)

    def say(si: Any, unit: str) -> str:
        unit = u.spelled(unit, units)
        other = f" ({said(si, u.UNITS[unit].twin)})" if twin else ""
        return f"{said(si, unit)}{other}"

    frame = frame_on(ax, units, twin=twin, size=(7.5, 3.4))
    frame.ax.grid(False)
    frame.ax.set_axis_off()
    distance, z = (np.asarray(x, dtype=float) for x in shape.points(line.si.arrays))
    way = max(float(distance[-1]), 0.1)
    half, lift = 0.5 * _PIT * way, float(z[-1])
    frame.curve(distance, z, _PIPE, lw=3.0, solid_capstyle="round")
    labels, levels = _way(line, distance, z, say), []
    low, high = float(min(z.min(), 0.0)), float(max(z.max(), 0.0))
    if pit is not None:
        low, high = -float(pit.si.off), max(high, float(pit.si.depth - pit.si.off))
        levels = _pit(frame, pump, pit, half, say)
    labels.append(_end(frame, line, way, lift))
    tall, beside = max(high - low, 0.1), 1.13 * way
    frame.curve([beside, beside], [0.0, lift], Style("0.45"), lw=0.8, marker="_", ms=9)
    labels.append(Label(beside, 0.5 * lift, f"lift {say(lift, 'ft')}", "0.25"))
    frame.curve([-half, 1.16 * way], [0.0, 0.0], Style("0.6", (0, (1, 2))), lw=0.8)
    frame.limits(x=(-1.5 * half, 1.44 * way), y=(low - 0.14 * tall, high + 0.34 * tall))
    label_left(frame, levels, -1.3 * half)
    label_points(frame, labels)
    return frame.done()


def _way(line: DischargeLine, distance: Any, z: Any, say: Say) -> list[Label]:
    """Names of the runs at their middles, and of the points between them."""
    labels = []
    for i, run in enumerate(line.runs):
        x, y = 0.5 * (distance[i] + distance[i + 1]), 0.5 * (z[i] + z[i + 1])
        name = run.name or ("riser" if abs(z[i + 1] - z[i]) > 0.7 * run.si.length else "run")
        labels.append(
            Label(x, y, f"{name}: {pipe_in_words(run.pipe, say)}, {say(run.si.length, 'ft')}")
        )
    between = list(zip(distance, z, shape.kinds(z), strict=True))[1:-1]
    turns = [one for one in between if one[2] in ("high point", "low point")]
    return labels + [Label(x, y, f"{kind}, {say(y, 'ft')}", "0.25") for x, y, kind in turns]


def _pit(frame: Frame, pump: Pump, pit: Pit, half: float, say: Say) -> list[Label]:
    """Draw the pit with its water and floats; return the names of its levels."""
    off = float(pit.si.off)
    floor, rim, on = -off, float(pit.si.depth) - off, float(pit.si.on) - off
    frame.area([-half, half], floor, 0.0, facecolor=_WATER, alpha=0.6)
    frame.area([-half, half], 0.0, on, facecolor=_WATER, alpha=0.25)
    frame.curve([-half, -half, half, half], [rim, floor, floor, rim], Style("0.35"), lw=1.8)
    ground = Style(LEVELS["rim"].color)
    for side in (-1, 1):
        frame.curve([side * half, side * 2.2 * half], [rim, rim], ground, lw=1.4)
    labels = []
    for name, height in heights(pit, pump).items():
        at, look = height - off, LEVELS[name]
        if name != "rim":
            frame.curve([-half, half], [at, at], look, lw=1.0)
        labels.append(Label(-half, at, f"{name} {say(height, 'in')}", look.color))
    return labels


def _end(frame: Frame, line: DischargeLine, way: float, z: float) -> Label:
    """Draw what follows the outlet; return its name."""
    outlet, after = line.outlet, [way, 1.1 * way]
    words = "outlet"
    if isinstance(outlet, GravityHandOff):
        fall = float(outlet.si.slope) * 0.12 * way
        frame.curve(after, [z, z - fall], Style("0.45"), lw=5.0)
        words = "air break, then by gravity"
    elif isinstance(outlet, SubmergedOutlet):
        frame.area(after, z, z + float(outlet.si.depth), facecolor=_WATER, alpha=0.5)
        words = "outlet under water"
    else:
        frame.mark(way, z, ms=5)
    return Label(way, z, words)
