"""Pipe sizes compared: the flow each pump gives on the one line, laid in size after size."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np

from drainpump import states
from drainpump import units as u
from drainpump.errors import wrong
from drainpump.limits.limits import Limits
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.line.pipe import Pipe, pvc
from drainpump.parts.pump.bank import Pump
from drainpump.parts.scalars import check_kind, check_kinds
from drainpump.plots.frame import Frame, Label, Style, frame_on, refuse_arrays, said
from drainpump.plots.margins import label_ends
from drainpump.plots.page import Axes, letters
from drainpump.solve.changed_line import in_pipes
from drainpump.solve.operating_point import operating_point

_USUAL = ("1-1/4", "1-1/2", "2", "2-1/2", "3")
#: pumps up to which the velocities are written beside the marks
_FEW = 2
#: and the room (points) each size must have for that
_ROOM = 45.0
#: arrows up and down for a flow known by its bound
_ARROWS = ((states.BEYOND, 10), (states.BELOW, 11))


def pipe_sizes(
    pump: Pump | Sequence[Pump],
    line: DischargeLine,
    ax: Axes | None = None,
    *,
    sizes: Sequence[str | float | Pipe] = _USUAL,
    schedule: str | int = "40",
    limits: Limits | None = None,
    units: u.System = "us",
    twin: bool = True,
) -> Axes:
    """Draw the flow against the size of the pipe, with marks open where a limit breaks.

    Parameters
    ----------
    pump : pump or sequence of pumps
    line : DischargeLine
        Of scalars; all its runs are laid in the size.
    sizes : sequence of str, float or Pipe
        Nominal sizes of PVC, or pipes of one's own.
    schedule : str or int, default "40"
        Of the nominal sizes.
    limits : Limits, optional
        Velocity limits; 2 to 8 ft/s by default.
    ax, units, twin
        As of every picture, see `drainpump.plots`.

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
    check_kind("line", line, DischargeLine)
    pumps = list(pump) if isinstance(pump, Sequence) else [pump]
    pipes = _pipes(sizes, schedule)
    check_kinds({"limits": Limits}, locals())
    lines = [in_pipes(line, [pipe] * len(line.runs)) for pipe in pipes]
    op = operating_point(pumps, lines)
    refuse_arrays("pipe_sizes", op.si.grid.inner)
    kept = Limits() if limits is None else limits
    code = op.si.code
    # of several flows none is drawn
    flow = np.where(code == states.MULTIPLE, np.nan, op.si.reckoned)
    speed = flow / op.si.grid.line.area[0]
    speeds = _speed_limits(kept)
    broken = np.zeros(speed.shape, dtype=bool)
    for _, breaks, limit in speeds:
        broken |= breaks(speed, limit)
    frame = frame_on(ax, units, twin=twin, y="flow_gpm", size=(8.0, 5.0))
    last, top = len(pipes) - 1, float(np.nanmax(flow, initial=0.0))
    frame.limits(x=(-0.35, last + 0.25), y=(0.0, 1.15 * top or 1e-4))
    looks = frame.styles(len(pumps))
    for i, look in enumerate(looks):
        _one(frame, flow[i], broken[i], code[i], look)
    bore, velocity = u.spelled("in", units), u.spelled("fps", units)
    frame.title("; ".join(_key(speeds, code, flow, units)), size=9)
    frame.ax.set_xlabel(f"Pipe, true bore ({bore})")
    ticks = [_tick(pipe, bore) for pipe in pipes]
    ends = zip(pumps, flow[:, -1], looks, strict=True)
    labels = [Label(last, float(np.nan_to_num(q)), p.name, look.color) for p, q, look in ends]
    label_ends(frame, labels, (ticks, [tick.replace("\n", ", ") for tick in ticks]))
    apart = frame.points()[0] / np.ptp(frame.ax.get_xlim())
    for i in range(len(pumps) if len(pumps) <= _FEW and apart > _ROOM else 0):
        _speeds(frame, flow[i], speed[i], velocity)
    return frame.done()


def _pipes(sizes: Any, schedule: str | int) -> list[Pipe]:
    several = isinstance(sizes, Sequence) and not isinstance(sizes, str)
    pipes = [
        x if isinstance(x, Pipe) else pvc(x, schedule) for x in (sizes if several else [sizes])
    ]
    if not pipes:
        raise wrong("sizes", sizes, "must hold at least one size", "give ['1-1/2', '2']")
    return pipes


def _key(speeds: Sequence[Any], code: Any, flow: Any, units: u.System) -> Iterator[str]:
    """What open marks, arrows and gaps mean, each where there is one."""
    if speeds:
        limits = " or ".join(f"{word} {said(limit, 'fps', units)}" for word, _, limit in speeds)
        yield f"open mark: velocity {limits}"
    for bound, _ in _ARROWS:
        if (code == bound).any():
            yield f"arrow: {states.STATES[bound].bound} that, beyond the curve"
    if np.isnan(flow).any():
        yield "gap: flow not known"


def _one(frame: Frame, flow: Any, broken: Any, code: Any, look: Style) -> None:
    """Draw one pump over the sizes: filled marks within the limits, open ones outside."""
    x = np.arange(flow.size)
    frame.curve(x, flow, look, lw=1.6)
    for where, face in ((~broken, look.color), (broken, "white")):
        frame.mark(x[where], flow[where], ms=6, mec=look.color, mfc=face, zorder=2)
    for bound, caret in _ARROWS:
        there = code == bound
        if there.any():
            frame.curve(x[there], flow[there], Style(look.color, "none"), marker=caret, ms=10)


def _speed_limits(limits: Limits) -> list[tuple[str, Any, Any]]:
    """Velocity limits in force: the word of what breaks one, its test, and the limit (m/s)."""
    every = (
        ("velocity_min", "below", np.less, limits.si.velocity_min),
        ("velocity_max", "above", np.greater, limits.si.velocity_max),
    )
    return [(word, test, limit) for name, word, test, limit in every if limits.applies(name)]


def _speeds(frame: Frame, flow: Any, speed: Any, unit: str) -> None:
    """Write the velocity under each mark."""
    for x, (y, v) in enumerate(zip(flow, speed, strict=True)):
        if not np.isnan(y):
            words = f"{float(u.from_si(v, unit)):.1f} {u.UNITS[unit].label}"
            frame.ax.annotate(words, (x, frame.y.shown(y)), xytext=(0, -12), ha="center", va="top",
                              textcoords="offset points", fontsize=letters(8.0))  # fmt: skip


def _tick(pipe: Pipe, unit: str) -> str:
    bore = u.number(float(u.from_si(pipe.si.bore, unit)))
    if pipe.nominal is None:
        return bore
    called = pipe.nominal if pipe.nominal.endswith("mm") else f"{pipe.nominal} in"
    return f"{called}\n{bore}"
