"""Pipe sizes compared: the flow each pump gives on the one line, laid in size after size."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from drainpump import units as u
from drainpump.errors import InputError, wrong
from drainpump.limits.limits import Limits
from drainpump.parts.line.pipe import Pipe, pvc
from drainpump.plots.end_labels import label_ends
from drainpump.plots.frame import (
    axis_label,
    grid_behind,
    head_line,
    new_axes,
    other_units,
    pick,
    points,
    style,
)
from drainpump.plots.labels import Label
from drainpump.solve.operating_point import operating_point
from drainpump.states import BELOW, BEYOND
from drainpump.why.fixes import in_pipe

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from drainpump.parts.line.line import DischargeLine
    from drainpump.parts.pump.bank import Pump

__all__ = ["pipe_sizes"]

_USUAL = ("1-1/4", "1-1/2", "2", "2-1/2", "3")
#: pumps up to which the velocities are written beside the marks
_FEW = 2
#: and the room (points) each size must have for that
_ROOM = 45.0


def pipe_sizes(
    pump: Pump | Sequence[Pump],
    line: DischargeLine,
    ax: Axes | None = None,
    *,
    sizes: Sequence[str | float | Pipe] = _USUAL,
    schedule: str | int = "40",
    limits: Limits | None = None,
    units: str = "us",
) -> Axes:
    """Draw the flow against the size of the pipe, with marks open where a limit breaks.

    Parameters
    ----------
    pump : pump or sequence of pumps
    line : DischargeLine
        Of scalars; all its runs are laid in the size.
    ax : matplotlib Axes, optional
        Where to draw; fresh axes by default.
    sizes : sequence of str, float or Pipe
        Nominal sizes of PVC, or pipes of one's own.
    schedule : str or int, default "40"
        Of the nominal sizes.
    limits : Limits, optional
        Velocity limits; 2 to 8 ft/s by default.
    units : {"us", "metric"}, default "us"
        Unit system of the near axis; the far axis shows the other.

    Returns
    -------
    matplotlib Axes

    Raises
    ------
    InputError
        Arrays, or no size given.

    Examples
    --------
    >>> import drainpump as dp
    >>> pump = dp.PumpCurve(name="A", flow_gpm=[0, 30, 50], head_ft=[20, 12.8, 0])
    >>> line = dp.straight_line(pipe=dp.pvc("1-1/2"), length_ft=150, lift_ft=6)
    >>> ax = dp.plots.pipe_sizes(pump, line, sizes=["1-1/2", "2"])
    >>> ax.get_ylabel()
    'Flow (gpm)'
    """
    pumps = list(pump) if isinstance(pump, Sequence) else [pump]
    pipes = [x if isinstance(x, Pipe) else pvc(x, schedule) for x in sizes]
    if not pipes:
        raise wrong("sizes", list(sizes), "must hold at least one size", "give ['1-1/2', '2']")
    lines = [in_pipe(line, pipe) for pipe in pipes]
    op = operating_point(pumps, lines)
    if op._grid.inner:
        raise InputError("pipe_sizes: the inputs hold arrays; a plot shows one case, give scalars.")
    kept = Limits() if limits is None else limits
    flow, speed = op._bounded, op._bounded / op._grid.line.area[0]
    broken = _outside(speed, kept)
    name = pick("flow", "gpm", units)
    velocity_unit = "fps" if units == "us" else "mps"
    ax = new_axes(ax, size=(8.0, 5.0))
    y = np.asarray(u.from_si(flow, name[5:]))
    ax.set_xlim(-0.35, len(pipes) - 0.75)
    ax.set_ylim(0, 1.15 * float(np.nanmax(y)) or 1.0)
    labels, said = [], set()
    for i, one in enumerate(pumps):
        look = style(i)
        x = np.arange(len(pipes))
        ax.plot(x, y[i], color=look.color, linestyle=look.dash, lw=1.6, gid=f"flow {one.name}")
        for open_mark, where in ((False, ~broken[i]), (True, broken[i])):
            ax.plot(x[where], y[i][where], "o", ms=6, mew=1.6, mec=look.color, linestyle="none",
                    mfc="white" if open_mark else look.color,
                    gid=f"{'outside' if open_mark else 'within'} {one.name}")  # fmt: skip
        for word, status, caret in (("at least", BEYOND, 10), ("at most", BELOW, 11)):
            bound = op._code[i] == status
            if bound.any():
                said.add(f"arrow: {word} that, beyond the curve")
                ax.plot(x[bound], y[i][bound], marker=caret, ms=10, color=look.color,
                        linestyle="none", gid=f"{word} {one.name}")  # fmt: skip
        if not np.isnan(y[i][-1]):
            labels.append(Label(len(pipes) - 1, float(y[i][-1]), one.name, look.color))
    _dress(ax, name, "; ".join(filter(None, [_said(kept, velocity_unit), *sorted(said)])))
    ticks = [_tick(pipe, "in" if units == "us" else "mm") for pipe in pipes]
    label_ends(ax, labels, ticks=(ticks, [tick.replace("\n", ", ") for tick in ticks]))
    apart = points(ax)[0] / np.ptp(ax.get_xlim())
    for i in range(len(pumps) if len(pumps) <= _FEW and apart > _ROOM else 0):
        _speeds(ax, y[i], speed[i], velocity_unit)
    return ax


def _outside(speed: Any, limits: Limits) -> Any:
    outside = np.zeros(np.shape(speed), dtype=bool)
    if limits.applies("velocity_min"):
        outside |= speed < limits._velocity_min.si
    if limits.applies("velocity_max"):
        outside |= speed > limits._velocity_max.si
    return outside


def _said(limits: Limits, unit: str) -> str:
    parts = [
        f"{word} {u.text(getattr(limits, f'_{name}').si, unit)}"
        for word, name in (("below", "velocity_min"), ("above", "velocity_max"))
        if limits.applies(name)
    ]
    return f"open mark: velocity {' or '.join(parts)}" if parts else ""


def _speeds(ax: Axes, flow: Any, speed: Any, unit: str) -> None:
    """Write the velocity under each mark."""
    for x, (y, v) in enumerate(zip(flow, speed, strict=True)):
        if not np.isnan(y):
            said = f"{float(u.from_si(v, unit)):.1f} {u.UNITS[unit].label}"
            ax.annotate(said, (x, y), xytext=(0, -12), textcoords="offset points", ha="center",
                        va="top", fontsize=8, gid="velocity")  # fmt: skip


def _dress(ax: Axes, name: str, key: str) -> None:
    unit = "in" if name.endswith("gpm") else "mm"
    ax.set_xlabel(f"Pipe, true bore ({unit})")
    ax.set_ylabel(axis_label(name))
    other_units(ax, "y", name)
    grid_behind(ax)
    head_line(ax, key, size=9)


def _tick(pipe: Pipe, unit: str) -> str:
    bore = u.number(float(u.from_si(pipe._bore.si, unit)))
    if pipe.nominal is None:
        return bore
    called = pipe.nominal if pipe.nominal.endswith("mm") else f"{pipe.nominal} in"
    return f"{called}\n{bore}"
