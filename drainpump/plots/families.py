"""Families of curves: one thing changed step by step, all else as it is."""

from __future__ import annotations

from typing import Any

import numpy as np

from drainpump import units as u
from drainpump.errors import InputError, UnitError, wrong
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.pump.curve import PumpCurve
from drainpump.parts.scalars import check_kind, one_measure
from drainpump.physics import system
from drainpump.plots.frame import Label, Style, refuse_arrays
from drainpump.plots.heads import (
    Curve,
    asked,
    draw_points,
    draw_pump,
    heads,
    last_inside,
    made,
    span,
)
from drainpump.plots.labels import MANY, name_curves
from drainpump.plots.page import Axes
from drainpump.solve.operating_point import operating_point, solve_arrays
from drainpump.units import FloatArray, Measure

_SIZE = (8.0, 5.0)


def system_family(
    line: DischargeLine,
    ax: Axes | None = None,
    *,
    length_ft: u.Quantity | None = None,
    length_m: u.Quantity | None = None,
    bore_in: u.Quantity | None = None,
    bore_mm: u.Quantity | None = None,
    lift_ft: u.Quantity | None = None,
    lift_m: u.Quantity | None = None,
    hazen_williams_c: u.Quantity | None = None,
    pump: PumpCurve | None = None,
    flow_max_gpm: u.Quantity | None = None,
    flow_max_lps: u.Quantity | None = None,
    units: u.System = "us",
    twin: bool = True,
) -> Axes:
    """Draw the head a line asks against flow, with one of its quantities varied.

    Parameters
    ----------
    line : DischargeLine
        Of scalars.
    length_ft, length_m : array_like, optional
        Whole lengths, >= 0; runs keep their shares of it.
    bore_in, bore_mm : array_like, optional
        Bores of all runs, > 0; each K stays as it is.
    lift_ft, lift_m : array_like, optional
        Lifts; all points of the line rise with it.
    hazen_williams_c : array_like, optional
        C of all runs, 10 to 200; the line then goes by Hazen-Williams.
    pump : PumpCurve, optional
        Its curve, and where it runs on each line.
    flow_max_gpm, flow_max_lps : float, optional
        Greatest flow drawn; by default the pump's last point, or 60 gpm.
    ax, units, twin
        As of every picture, see `drainpump.plots`.

    Returns
    -------
    matplotlib Axes

    Raises
    ------
    UnitError
        None or more than one quantity varied, or both units of one.
    InputError
        The line holds arrays, or an impossible value.

    Examples
    --------
    >>> import drainpump as dp
    >>> line = dp.straight_line(pipe=dp.pvc("1-1/2"), length_ft=150, lift_ft=6)
    >>> ax = dp.plots.system_family(line, length_ft=[50, 150, 300])
    >>> [t.get_text() for t in ax.texts]
    ['length 50 ft', 'length 150 ft', 'length 300 ft']
    """
    varied = {
        "length": u.maybe("length", guard="length", ft=length_ft, m=length_m),
        "bore": u.maybe("bore", guard="bore", **{"in": bore_in, "mm": bore_mm}),
        "lift": u.maybe("lift", guard="lift", ft=lift_ft, m=lift_m),
        "C": _constants(hazen_williams_c),
    }
    given = {name: m for name, m in varied.items() if m is not None}
    if len(given) != 1:
        raise UnitError(
            "system_family: vary one quantity at a time; give one of length, bore, lift and "
            "hazen_williams_c."
        )
    _scalars("system_family", line)
    ((what, values),) = given.items()
    family = _varied(line, what, np.atleast_1d(values.si))
    unit = values.unit
    label = f" {u.UNITS[unit].label}" if unit else ""
    steps = _steps(f"{what}_{unit}" if unit else what, values.typed)
    names = [f"{what} {x:g}{label}" for x in steps]
    usual = "gpm", 60.0 if pump is None else float(pump.run_out_gpm)
    last = u.take("flow_max", guard="flow", default=usual, gpm=flow_max_gpm, lps=flow_max_lps)
    most = float(one_measure("flow_max", last, above_zero=True).si)
    flow = np.linspace(0.0, most, 201)
    curves = [Curve(flow, head) for head in system.head(flow[:, None], family.aligned(2)).T]
    crossed = None if pump is None else made(pump)
    # without a pump the middle curve sets the height: the steepest would flatten the rest
    top = (
        1.25 * float(np.median([curve.head[-1] for curve in curves]))
        if crossed is None
        else 1.15 * float(crossed.head.max())
    )
    frame = heads(ax, units, twin, _SIZE)
    looks = frame.styles(len(curves))
    drawn = [frame.curve(*one, look) for one, look in zip(curves, looks, strict=True)]
    after = []
    if pump is not None and crossed is not None:
        draw_pump(frame, crossed, Style("black"), lw=2.4)
        draw_points(frame, solve_arrays(pump, family))
        after = [crossed.label(12, pump.name)]
    # room at the right for the names of curves that end there
    span(frame, (1.2 if len(curves) <= MANY else 1.04) * most, top)
    every = zip(curves, names, looks, strict=True)
    labels = [_named(curve, top, name, look, what) for curve, name, look in every]
    name_curves(frame, drawn, labels, after=after)
    return frame.done()


def pump_family(
    pump: PumpCurve,
    ax: Axes | None = None,
    *,
    ratio: Any = None,
    head: Any = None,
    line: DischargeLine | None = None,
    units: u.System = "us",
    twin: bool = True,
) -> Axes:
    """Draw one pump at several speeds, or worn to several shares of its head.

    Parameters
    ----------
    pump : PumpCurve
    ratio : array_like, optional
        New speed over old, see `PumpCurve.at_speed`. Either this or ``head``.
    head : array_like, optional
        Share of the head that is left to a worn pump, see `PumpCurve.worn`.
    line : DischargeLine, optional
        Its system curve, and where each pump runs on it.
    ax, units, twin
        As of every picture, see `drainpump.plots`.

    Returns
    -------
    matplotlib Axes

    Raises
    ------
    InputError
        Neither or both of ratio and head; a line that holds arrays.

    Examples
    --------
    >>> import drainpump as dp
    >>> pump = dp.PumpCurve(name="A", flow_gpm=[0, 30, 50], head_ft=[20, 12.8, 0])
    >>> ax = dp.plots.pump_family(pump, ratio=[0.8, 0.9, 1.0])
    >>> [t.get_text() for t in ax.texts]
    ['speed 80 %', 'speed 90 %', 'speed 100 %']
    """
    if (ratio is None) == (head is None):
        raise InputError("pump_family: give either ratio or head, one of the two.")
    check_kind("pump", pump, PumpCurve)
    if line is not None:
        _scalars("pump_family", line)
    word, shares = ("speed", ratio) if head is None else ("head left", head)
    steps = _steps("ratio" if head is None else "head", shares)
    pumps = [pump.at_speed(r) if head is None else pump.worn(head=r) for r in steps]
    curves = [made(one) for one in pumps]
    most = 1.04 * max(float(curve.flow[-1]) for curve in curves)
    top = 1.06 * max(float(curve.head.max()) for curve in curves)
    frame = heads(ax, units, twin, _SIZE)
    looks = frame.styles(len(curves))
    drawn = [draw_pump(frame, *one) for one in zip(curves, looks, strict=True)]
    after = []
    if line is not None:
        crossed = asked(line, most)
        frame.curve(*crossed, Style("0.35"), lw=2.4)
        draw_points(frame, operating_point(pumps, line))
        after = [crossed.label(last_inside(crossed.head, top), line.name, "0.35")]
    span(frame, most, top)
    # towards the last point curves of one family lie closest: names go to the left
    labels = [
        curve.label(20, f"{word} {100 * share:g} %", look.color)
        for curve, share, look in zip(curves, steps, looks, strict=True)
    ]
    name_curves(frame, drawn, labels, after=after)
    return frame.done()


def _steps(name: str, typed: Any) -> list[float]:
    """Refuse what is no list of known numbers: each is a curve."""
    steps = np.atleast_1d(typed)
    if steps.ndim > 1 or not steps.size or np.isnan(steps).any():
        raise wrong(name, steps.tolist(), "must be one known number a curve", "give a list of them")
    return [float(x) for x in steps]


def _scalars(where: str, line: Any) -> None:
    if not isinstance(line, DischargeLine):
        raise wrong("line", line, "must be one DischargeLine", "make one with straight_line(...)")
    refuse_arrays(where, line.si.arrays.shape)


def _constants(value: Any) -> Measure | None:
    if value is None:
        return None
    mend = "150 is new PVC, 130 a usual value"
    return Measure(u.plain("hazen_williams_c", value, low=10.0, high=200.0, mend=mend), "", value)


def _varied(line: DischargeLine, what: str, values: FloatArray) -> system.LineArrays:
    """The line's arrays with an axis of the varied quantity behind the runs."""
    plain: system.LineArrays = line.si.arrays.aligned(1)
    every = np.zeros((len(line.runs), 1))
    changed: dict[str, Any] = {"diameter": every + values}
    if what == "length":
        whole = float(line.si.length)
        share = plain.length / whole if whole > 0 else every + 1 / len(line.runs)
        changed = {"length": share * values}
    elif what == "lift":
        changed = {"end": plain.end + (values - float(line.si.lift))}
    elif what == "C":
        changed = {"hazen_c": every + values, "darcy": np.asarray(False)}
    return plain.map(changed.get)


def _named(curve: Curve, top: float, name: str, look: Style, what: str) -> Label:
    """Name a curve where it ends, or leaves the frame."""
    # lines of several lifts stand apart at the left: there a name clears its curve as far as
    # the text reaches
    x, y = (8, 28) if what == "lift" else (-1, -1)
    if curve.head[y] > top:
        x = y = int(np.argmax(curve.head > 0.95 * top))
    return Label(curve.flow[x], curve.head[y], name, look.color)
