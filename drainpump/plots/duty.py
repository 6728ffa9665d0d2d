"""Head against flow: what the pumps make, what the lines ask, and where they agree."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from drainpump import units as u
from drainpump.errors import InputError
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.pit import Pit
from drainpump.plots.frame import (
    axis_label,
    flow_said,
    grid_behind,
    new_axes,
    other_units,
    pick,
    style,
)
from drainpump.plots.labels import MANY, Label, label_points, number_curves
from drainpump.solve.members import sampled
from drainpump.solve.operating_point import operating_point
from drainpump.states import NAMES

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from drainpump.parts.pump.bank import Pump

__all__ = ["duty"]

#: above this many operating points their flows are not written beside them
_POINTS = 8
_LINE_SHADES = ("0.25", "0.5", "0.1", "0.6")


def duty(
    pump: Pump | Sequence[Pump],
    line: DischargeLine | Sequence[DischargeLine],
    pit: Pit | None = None,
    ax: Axes | None = None,
    *,
    units: str = "us",
) -> Axes:
    """Draw pump curves, system curves and their operating points.

    Parameters
    ----------
    pump : PumpCurve or bank, or sequence of them
        Each drawn to its last point, where a bar marks the end of the data.
    line : DischargeLine or sequence of DischargeLine
        Each drawn as the head it asks from the pump-off level.
    pit : Pit, optional
        With a pit the system curve is the band between pump-off and pump-on level.
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
        A line, pit or pump that holds arrays: a plot shows one case each.

    Examples
    --------
    >>> import drainpump as dp
    >>> pump = dp.PumpCurve(name="A", flow_gpm=[0, 30, 50], head_ft=[20, 12.8, 0])
    >>> line = dp.straight_line(pipe=dp.pvc("1-1/2"), length_ft=150, lift_ft=6)
    >>> ax = dp.plots.duty(pump, line)
    >>> ax.get_xlabel(), ax.get_ylabel()
    ('Flow (gpm)', 'Head (ft)')
    """
    pumps = list(pump) if isinstance(pump, Sequence) else [pump]
    lines = list(line) if isinstance(line, Sequence) else [line]
    op = operating_point(pumps, lines)
    if np.ndim(op.flow_gpm) > 2 or (pit is not None and pit.shape):
        raise InputError("duty: the inputs hold arrays; a plot shows one case, give scalars.")
    flow_name, head_name = pick("flow", "gpm", units), pick("head", "ft", units)
    flow_unit, head_unit = flow_name[5:], head_name[5:]
    ax = new_axes(ax)
    # a bank's risers carry the first line's water
    curves = [sampled(p, lines[0]) for p in pumps]
    named = _draw_pumps(ax, pumps, curves, flow_unit, head_unit)
    most = max(float(q[-1]) for q, _ in curves)
    top = max(float(np.max(head)) for _, head in curves)
    labels = _draw_lines(ax, lines, pit, 1.08 * most, 1.12 * top, (flow_unit, head_unit))
    points = _draw_points(ax, op, flow_unit, head_unit)
    many = len(pumps) > MANY
    beside = not many and len(points) <= _POINTS
    if len(lines) == 1:
        # a pump whose flow is not written at a point says it with its name
        flows = zip(named, op._bounded[:, 0], op._code[:, 0], strict=True)
        named = [
            x if beside and NAMES[code] == "ok"
            else x._replace(text=f"{x.text}: {flow_said(q, NAMES[code], flow_unit)}")
            for x, q, code in flows
        ]  # fmt: skip
    low = min(0.0, *(float(np.min(x.get_ydata())) for x in ax.lines))
    ax.set_xlim(0, u.from_si(1.08 * most, flow_unit))
    ax.set_ylim(low, u.from_si(1.12 * top, head_unit))
    ax.set_xlabel(axis_label(flow_name))
    ax.set_ylabel(axis_label(head_name))
    other_units(ax, "x", flow_name)
    other_units(ax, "y", head_name)
    grid_behind(ax)
    marks = [(x.x, x.y) for x in points]
    if many:
        drawn = [x for x in ax.lines if str(x.get_gid()).startswith("pump ")]
        number_curves(ax, drawn, named, markers=marks)
    else:
        labels = (points if beside else []) + named + labels
    label_points(ax, labels, markers=marks)
    return ax


def _draw_pumps(
    ax: Axes, pumps: Sequence[Any], curves: Sequence[Any], flow_unit: str, head_unit: str
) -> list[Label]:
    labels = []
    for i, (pump, (q, made)) in enumerate(zip(pumps, curves, strict=True)):
        look = style(i)
        flow, head = u.from_si(q, flow_unit), u.from_si(made, head_unit)
        ax.plot(flow, head, color=look.color, linestyle=look.dash, lw=1.8, gid=f"pump {pump.name}")
        ax.plot(
            flow[-1:], head[-1:], marker="|", ms=11, clip_on=False, mew=2, color=look.color,
            linestyle="none", gid=f"end of data {pump.name}",
        )  # fmt: skip
        # a third of the way along, where curves stand well apart
        labels.append(Label(flow[50], head[50], pump.name, look.color))
    return labels


def _draw_lines(
    ax: Axes,
    lines: Sequence[DischargeLine],
    pit: Pit | None,
    most: float,
    top: float,
    shown: tuple[str, str],
) -> list[Label]:
    flow_unit, head_unit = shown
    q = np.linspace(0, most, 201)
    drop = 0.0 if pit is None else float(pit._on.si - pit._off.si)
    labels = []
    for i, line in enumerate(lines):
        shade = _LINE_SHADES[i % len(_LINE_SHADES)]
        asked = np.asarray(line.head(flow_lps=q * 1000)._head)
        flow, head = u.from_si(q, flow_unit), u.from_si(asked, head_unit)
        ax.plot(flow, head, color=shade, lw=2.2, gid=f"line {line.name}")
        if pit is not None:
            low = u.from_si(asked - drop, head_unit)
            ax.fill_between(
                flow, low, head, facecolor=shade, alpha=0.25, edgecolor=shade, hatch="////", lw=0.4,
                gid=f"band {line.name}",
            )  # fmt: skip
        inside = np.flatnonzero(asked <= 0.97 * top)
        at = inside[-1] if inside.size else 0
        labels.append(Label(flow[at], head[at], line.name, shade))
    if pit is not None:
        labels[0] = labels[0]._replace(text=f"{labels[0].text}\n(band: off to on level)")
    return labels


def _draw_points(ax: Axes, op: Any, flow_unit: str, head_unit: str) -> list[Label]:
    labels = []
    flows, heads = np.asarray(op._flow), np.asarray(op._head)
    for p, k in np.argwhere(np.asarray(op.ok)):
        x, y = u.from_si(flows[p, k], flow_unit), u.from_si(heads[p, k], head_unit)
        ax.plot(
            [x], [y], "o", ms=7, mfc="white", mec="black", mew=1.6, zorder=5,
            gid=f"operating point {op._grid.pumps[p].name} {op._grid.lines[k].name}",
        )  # fmt: skip
        labels.append(Label(x, y, u.text(flows[p, k], flow_unit)))
    return labels
