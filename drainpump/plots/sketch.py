"""The job from the side, as a crew draws it: pit and floats, riser, run, outlet, dimensions."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from drainpump import units as u
from drainpump.errors import InputError
from drainpump.parts.line import profile as shape
from drainpump.parts.line.hand_off import GravityHandOff
from drainpump.parts.line.outlet import SubmergedOutlet
from drainpump.plots.frame import Frame, Label, Style, frame_on, said, spelled
from drainpump.plots.labels import label_points
from drainpump.solve.one_case import one_case
from drainpump.units import System

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from drainpump.parts.line.line import DischargeLine
    from drainpump.parts.pit import Pit
    from drainpump.parts.pump.bank import Pump

__all__ = ["sketch"]

_PIPE, _WATER, _GROUND = Style("0.15"), "#88aacc", "#7a5f00"
#: share of the picture's width that the pit takes, whatever it measures
_PIT = 0.2


def sketch(
    pump: Pump,
    line: DischargeLine,
    pit: Pit | None = None,
    ax: Axes | None = None,
    *,
    units: System = "us",
) -> Axes:
    """Draw the job from pit to outlet, with its levels and dimensions.

    Heights are to scale, and so is the way along the line; the pit is drawn wider than it is.

    Parameters
    ----------
    pump : PumpCurve or bank
    line : DischargeLine
    pit : Pit, optional
        All scalar: one case.
    ax, units
        As of every picture, see `drainpump.plots`; dimensions are said in both systems.

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
    if pit is not None and pit.shape:
        raise InputError("sketch: the pit holds arrays; a plot shows one case, give scalars.")
    frame = frame_on(ax, units, size=(7.5, 3.4), grid="both")
    frame.ax.grid(False)
    frame.ax.set_axis_off()
    distance, z = (np.asarray(x, dtype=float) for x in shape.points(line.si.arrays))
    way = max(float(distance[-1]), 0.1)
    half = 0.5 * _PIT * way
    frame.curve(distance, z, _PIPE, lw=3.0, solid_capstyle="round")
    labels = _way(line, distance, z, units)
    low, high = float(min(z.min(), 0.0)), float(max(z.max(), 0.0))
    if pit is not None:
        rim = float(pit.si.depth - pit.si.off)
        low, high = -float(pit.si.off), max(high, rim)
        labels += _pit(frame, pit, half, units)
    end, right = _end(frame, line, way, float(z[-1]))
    labels.append(end)
    tall = max(high - low, 0.1)
    lift = float(z[-1])
    beside = np.full(2, 1.13 * way)
    frame.curve(beside, np.array([0.0, lift]), Style("0.45"), lw=0.8, marker="_", ms=9)
    labels.append(Label(1.13 * way, 0.5 * lift, f"lift {_both(lift, 'ft', units)}", "0.25"))
    frame.curve(np.array([-half, 1.16 * way]), np.zeros(2), Style("0.6", (0, (1, 2))), lw=0.8)
    frame.limits(x=(-3.2 * half, right + 0.24 * way), y=(low - 0.14 * tall, high + 0.34 * tall))
    label_points(frame, [x for x in labels if x.text])
    return frame.done()


def _both(si: float, unit: str, units: System) -> str:
    """A dimension in the wanted system, the other in brackets."""
    unit = spelled(unit, units)
    return f"{said(si, unit)} ({said(si, u.UNITS[unit].twin)})"


def _way(line: DischargeLine, distance: Any, z: Any, units: System) -> list[Label]:
    """Names of the runs at their middles, and of the points between them."""
    labels = []
    for i, run in enumerate(line.runs):
        x, y = 0.5 * (distance[i] + distance[i + 1]), 0.5 * (z[i] + z[i + 1])
        name = run.name or ("riser" if abs(z[i + 1] - z[i]) > 0.7 * run.si.length else "run")
        words = f"{name}: {run.pipe.name}, {_both(float(run.si.length), 'ft', units)}"
        labels.append(Label(x, y, words))
    kinds = shape.kinds(z)
    for i in range(1, len(z) - 1):
        if kinds[i] in ("high point", "low point"):
            labels.append(
                Label(distance[i], z[i], f"{kinds[i]}, {_both(float(z[i]), 'ft', units)}", "0.25")
            )
    return labels


def _pit(frame: Frame, pit: Pit, half: float, units: System) -> list[Label]:
    """Draw the pit with its water and floats, and name its levels."""
    off = float(pit.si.off)
    floor, rim = -off, float(pit.si.depth) - off
    sides = np.array([-half, -half, half, half])
    frame.area(np.array([-half, half]), floor, 0.0, facecolor=_WATER, alpha=0.6)
    on = float(pit.si.on) - off
    frame.area(np.array([-half, half]), 0.0, on, facecolor=_WATER, alpha=0.25)
    frame.curve(sides, np.array([rim, floor, floor, rim]), Style("0.35"), lw=1.8)
    for side in (-1, 1):
        ground = np.array([side * half, side * 2.6 * half])
        frame.curve(ground, np.full(2, rim), Style(_GROUND), lw=1.4)
    labels = [Label(-1.8 * half, rim, f"rim {_both(rim - floor, 'in', units)}", _GROUND)]
    levels = [("alarm", pit.si.alarm), ("on", pit.si.on), ("off", pit.si.off)]
    for name, level in levels:
        if level is not None:
            at = float(level) - off
            look = Style("#aa3344" if name == "alarm" else "#004488", (0, (4, 2)))
            frame.curve(np.array([-half, half]), np.full(2, at), look, lw=1.0)
            words = f"{name} {_both(float(level), 'in', units)}"
            labels.append(Label(half, at, words, look.color))
    return labels


def _end(frame: Frame, line: DischargeLine, way: float, z: float) -> tuple[Label, float]:
    """Draw what follows the outlet; return its name and how far the picture goes."""
    outlet, right = line.outlet, 1.2 * way
    words = "outlet"
    if isinstance(outlet, GravityHandOff):
        fall = float(outlet.si.slope) * 0.12 * way
        after = np.array([way, 1.1 * way])
        frame.curve(after, np.array([z, z - fall]), Style("0.45"), lw=5.0)
        words = "air break, then by gravity"
    elif isinstance(outlet, SubmergedOutlet):
        tail = z + float(outlet.si.depth)
        frame.area(np.array([way, 1.1 * way]), z, tail, facecolor=_WATER, alpha=0.5)
        words = "outlet under water"
    else:
        frame.mark(way, z, ms=5)
    return Label(way, z, words), right
