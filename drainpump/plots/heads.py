"""Head against flow: what the pictures of pumps and lines draw alike."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from drainpump import units as u
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.pump.curve import PumpCurve
from drainpump.plots.frame import Frame, Label, Style, frame_on
from drainpump.plots.page import Axes, Line2D
from drainpump.solve.operating_point import OperatingPoint
from drainpump.units import FloatArray

_POINTS = 201


class Curve(NamedTuple):
    """Flow (m³/s) against head (m)."""

    flow: FloatArray
    head: FloatArray

    def label(self, at: int, text: str, color: str = "black") -> Label:
        """Name the curve at one of its points."""
        return Label(self.flow[at], self.head[at], text, color)


def made(pump: PumpCurve) -> Curve:
    """Head a pump makes, over all its data."""
    flow = np.linspace(pump.si.flow[0], pump.si.flow[-1], _POINTS) * pump.si.flow_factor
    return Curve(flow, pump.si.head_at(flow))


def asked(line: DischargeLine, most: float) -> Curve:
    """Head a line asks up to a flow."""
    flow = np.linspace(0.0, most, _POINTS)
    return Curve(flow, np.asarray(line.head(flow_lps=flow * 1e3).si.head))


def last_inside(head: FloatArray, top: float) -> int:
    """Return the last point of a curve that stands in a frame of this height, with its label."""
    inside = np.flatnonzero(head <= 0.96 * top)
    return int(inside[-1]) if inside.size else 0


def heads(
    ax: Axes | None, units: u.System, twin: bool, size: tuple[float, float] = (7.5, 5.0)
) -> Frame:
    """Return the frame of head against flow."""
    return frame_on(ax, units, twin=twin, x="flow_gpm", y="head_ft", size=size)


def draw_pump(frame: Frame, curve: Curve, look: Style, lw: float = 1.8) -> Line2D:
    """Draw a pump's curve to its last point, where a bar marks the end of its data."""
    line = frame.curve(*curve, look, lw)
    frame.curve(curve.flow[-1:], curve.head[-1:], Style(look.color, "none"), marker="|", ms=11,
                mew=2, clip_on=False, in_layout=False)  # fmt: skip
    return line


def draw_points(frame: Frame, op: OperatingPoint) -> list[tuple[float, float]]:
    """Mark the operating points; return flow and head of each."""
    ok = np.asarray(op.ok)
    flow, head = np.asarray(op.si.flow)[ok], np.asarray(op.si.head)[ok]
    if flow.size:
        frame.mark(flow, head)
    return list(zip(flow, head, strict=True))


def span(frame: Frame, most: float, top: float) -> None:
    """Set what the axes span: from no flow, and from no head or the least drawn."""
    least: Any = u.to_si(frame.ax.dataLim.y0, frame.y.unit or "")
    frame.limits(x=(0.0, most), y=(min(0.0, float(least)), top))
