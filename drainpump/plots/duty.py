"""Head against flow: what the pumps make, what the lines ask, and where they agree."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np

from drainpump import states
from drainpump.field.reading import FieldTest, check_tests
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.pit import Pit
from drainpump.parts.pump.bank import Pump
from drainpump.parts.scalars import check_kinds, fact
from drainpump.plots.frame import Frame, Label, Style, refuse_arrays
from drainpump.plots.heads import Curve, asked, draw_points, draw_pump, heads, last_inside, span
from drainpump.plots.labels import MANY, name_curves
from drainpump.plots.page import Axes
from drainpump.solve.members import points_along
from drainpump.solve.operating_point import OperatingPoint, operating_point
from drainpump.units import System

#: above this many operating points their flows are not written beside them
_POINTS = 8
_LINE_SHADES = ("0.25", "0.5", "0.1", "0.6")
#: the point of a pump curve that its name stands at: a quarter along, where curves stand apart
_NAME = 50


class _Duty(NamedTuple):
    """What is drawn, in SI."""

    pumps: list[Any]
    lines: list[DischargeLine]
    made: list[Curve]
    asked: list[Curve]
    op: OperatingPoint
    most: float
    top: float
    #: from the on level down to the off level; None without a pit
    drop: float | None


def duty(
    pump: Pump | Sequence[Pump],
    line: DischargeLine | Sequence[DischargeLine],
    pit: Pit | None = None,
    ax: Axes | None = None,
    *,
    units: System = "us",
    need_gpm: float | None = None,
    need_lps: float | None = None,
    tests: FieldTest | Sequence[FieldTest] = (),
    twin: bool = True,
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
    ax, units, twin
        As of every picture, see `drainpump.plots`.
    need_gpm, need_lps : float, optional
        Flow needed, marked by an upright line.
    tests : FieldTest or sequence of FieldTest, optional
        Measured points with one sigma: a flow stands on the first line, at the level it was
        read at; a gauge at its own head.

    Returns
    -------
    matplotlib Axes

    Raises
    ------
    UnitError, InputError
        Both units of the need; a line, pit or pump that holds arrays: a plot shows one case
        each.

    Examples
    --------
    >>> import drainpump as dp
    >>> pump = dp.PumpCurve(name="A", flow_gpm=[0, 30, 50], head_ft=[20, 12.8, 0])
    >>> line = dp.straight_line(pipe=dp.pvc("1-1/2"), length_ft=150, lift_ft=6)
    >>> ax = dp.plots.duty(pump, line)
    >>> ax.get_xlabel(), ax.get_ylabel()
    ('Flow (gpm)', 'Head (ft)')
    """
    need = fact("need", "flow", gpm=need_gpm, lps=need_lps)
    check_kinds({"pit": Pit}, locals())
    found = _computed(
        list(pump) if isinstance(pump, Sequence) else [pump],
        list(line) if isinstance(line, Sequence) else [line],
        pit,
    )
    frame = heads(ax, units, twin)
    looks = frame.styles(len(found.pumps))
    curves = [draw_pump(frame, *one) for one in zip(found.made, looks, strict=True)]
    lines = _draw_lines(frame, found)
    points = draw_points(frame, found.op)
    most = found.most
    if need is not None:
        # whatever the pumps give, the need stands within the axes
        most = max(most, 1.08 * float(need.si))
        frame.need(float(need.si))
    span(frame, most, found.top)
    beside = len(curves) <= MANY and len(points) <= _POINTS
    names = _names(frame, found, [look.color for look in looks], beside)
    # a flow must stand at its point; names have more places to go
    flows = [Label(*at, frame.x.said(at[0])) for at in points] if beside else []
    flows += _measured(frame, found.lines[0], tests)
    if need is not None:
        at = float(need.si)
        flows.append(Label(at, 0.04 * found.top, f"{frame.x.said(at)} needed"))
    name_curves(frame, curves, names, before=flows, after=lines)
    return frame.done()


def _computed(pumps: list[Any], lines: list[DischargeLine], pit: Pit | None) -> _Duty:
    op = operating_point(pumps, lines)
    refuse_arrays("duty", np.ndim(op.flow_gpm) > 2 or (pit is not None and pit.shape))
    # a bank's risers carry the first line's water
    made = [Curve(*points_along(p, lines[0])) for p in pumps]
    most = 1.08 * max(float(curve.flow[-1]) for curve in made)
    top = 1.12 * max(float(np.max(curve.head)) for curve in made)
    lines_drawn = [asked(x, most) for x in lines]
    # a line that no pump reaches is kept in sight
    top = max([top, *(1.2 * float(x.head[0]) for x in lines_drawn)])
    drop = None if pit is None else float(pit.si.on - pit.si.off)
    return _Duty(pumps, lines, made, lines_drawn, op, most, top, drop)


def _draw_lines(frame: Frame, found: _Duty) -> list[Label]:
    """Draw the system curves and their bands from off to on level; return their names."""
    labels = []
    for i, (line, curve) in enumerate(zip(found.lines, found.asked, strict=True)):
        shade = _LINE_SHADES[i % len(_LINE_SHADES)]
        frame.curve(*curve, Style(shade), lw=2.2)
        name = line.name
        if found.drop is not None:
            frame.area(curve.flow, curve.head - found.drop, curve.head, facecolor=shade, alpha=0.25,
                       edgecolor=shade, hatch="////", lw=0.4)  # fmt: skip
            name += "" if i else "\n(band: off to on level)"
        if (found.op.si.code[:, i] == states.NO_FLOW).all():
            name += ": no pump reaches it"
        labels.append(curve.label(last_inside(curve.head, found.top), name, shade))
    return labels


def _measured(frame: Frame, line: DischargeLine, tests: Any) -> list[Label]:
    """Mark what was measured; return the names of the marks."""
    labels = []
    for test in check_tests(tests) if tests != () else []:
        flow, sigma = float(test.si.flow), float(test.si.sigma)
        stands = line.head(flow_lps=flow * 1e3).si.head - test.si.level
        head = float(stands if test.si.head is None else test.si.head)
        ends = np.array([flow - sigma, flow + sigma])
        frame.curve(ends, np.full(2, head), Style("black"), lw=1.4, marker="|", ms=7, zorder=5)
        frame.mark(flow, head, marker="D", ms=5, zorder=6)
        labels.append(Label(flow, head, f"{test.kind}: {frame.x.said(flow)}"))
    return labels


def _names(frame: Frame, found: _Duty, colors: list[str], beside: bool) -> list[Label]:
    """Name the pumps; one whose flow is not written at a point says it with its name."""
    words = [p.name for p in found.pumps]
    if len(found.lines) == 1:
        flows = found.op.si.reckoned[:, 0], states.NAMES[found.op.si.code[:, 0]]
        for i, (flow, status) in enumerate(zip(*flows, strict=True)):
            if not (beside and status == "ok"):
                words[i] += f": {states.said(frame.x.said(flow), status)}"
    every = zip(found.made, words, colors, strict=True)
    return [curve.label(_NAME, *named) for curve, *named in every]
