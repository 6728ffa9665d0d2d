"""Families of curves: one thing changed step by step, all else as it is."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from drainpump import units as u
from drainpump.errors import InputError, UnitError, wrong
from drainpump.parts.line.line import DischargeLine
from drainpump.physics import system
from drainpump.plots.frame import (
    axis_label,
    grid_behind,
    new_axes,
    other_units,
    pick,
    style,
)
from drainpump.plots.labels import MANY, Label, label_points, number_curves
from drainpump.solve.operating_point import operating_point
from drainpump.units import FloatArray, Measure

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from drainpump.parts.pump.bank import Pump
    from drainpump.parts.pump.curve import PumpCurve

__all__ = ["pump_family", "system_family"]

_POINTS = 201
#: the point of a pump curve that its label stands at
_LEFT = 20


def system_family(
    line: DischargeLine,
    ax: Axes | None = None,
    *,
    length_ft: Any = None,
    length_m: Any = None,
    bore_in: Any = None,
    bore_mm: Any = None,
    lift_ft: Any = None,
    lift_m: Any = None,
    hazen_williams_c: Any = None,
    pump: PumpCurve | None = None,
    flow_max_gpm: Any = None,
    flow_max_lps: Any = None,
    units: str = "us",
) -> Axes:
    """Draw the head a line asks against flow, with one of its quantities varied.

    Parameters
    ----------
    line : DischargeLine
        Of scalars.
    ax : matplotlib Axes, optional
        Where to draw; fresh axes by default.
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
    units : {"us", "metric"}, default "us"
        Unit system of the near axes; the far axes show the other.

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
        "C": _c(hazen_williams_c),
    }
    given = {name: m for name, m in varied.items() if m is not None}
    if len(given) != 1:
        raise UnitError(
            "system_family: vary one quantity at a time; give one of length, bore, lift and "
            "hazen_williams_c."
        )
    _scalars("system_family", line)
    ((what, values),) = given.items()
    family = line._with(_varied(line, what, np.atleast_1d(_si(values))))
    most = _most(flow_max_gpm, flow_max_lps, pump)
    flow_name, head_name = pick("flow", "gpm", units), pick("head", "ft", units)
    shown = flow_name[5:], head_name[5:]
    ax = new_axes(ax, size=(8.0, 5.0))
    # lines of several lifts stand apart at the left, where a label clears the curve as far
    # as its text reaches; all others at the right
    at = (8, 28) if what == "lift" else (-1, -1)
    labels, top = _system_curves(ax, family, _called(what, values), most, shown, at)
    few = len(labels) <= MANY
    named: list[Label] = []
    if pump is not None:
        named, top = _with_pump(ax, pump, family, shown)
    # room at the right for the labels of curves that end there
    _finish(ax, flow_name, head_name, (1.2 if few else 1.04) * most, top)
    _label(ax, [_inside(x, ax) for x in labels], "line ", named)
    return ax


def pump_family(
    pump: PumpCurve,
    ax: Axes | None = None,
    *,
    ratio: Any = None,
    head: Any = None,
    line: DischargeLine | None = None,
    units: str = "us",
) -> Axes:
    """Draw one pump at several speeds, or worn to several shares of its head.

    Parameters
    ----------
    pump : PumpCurve
    ax : matplotlib Axes, optional
        Where to draw; fresh axes by default.
    ratio : array_like, optional
        New speed over old, see `PumpCurve.at_speed`. Either this or ``head``.
    head : array_like, optional
        Share of the head that is left to a worn pump, see `PumpCurve.worn`.
    line : DischargeLine, optional
        Its system curve, and where each pump runs on it.
    units : {"us", "metric"}, default "us"
        Unit system of the near axes; the far axes show the other.

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
    if line is not None:
        _scalars("pump_family", line)
    word, shares = ("speed", ratio) if head is None else ("head left", head)
    steps = [float(x) for x in np.atleast_1d(shares)]
    pumps = [pump.at_speed(r) if head is None else pump.worn(head=r) for r in steps]
    flow_name, head_name = pick("flow", "gpm", units), pick("head", "ft", units)
    shown = flow_name[5:], head_name[5:]
    ax = new_axes(ax, size=(8.0, 5.0))
    labels = []
    for i, (one, share) in enumerate(zip(pumps, steps, strict=True)):
        q = np.linspace(one._flow[0], one._flow[-1], _POINTS) * one._flow_factor
        said = f"{word} {100 * share:g} %"
        x, y = _curve(ax, q, one._head_at(q), i, f"pump {said}", shown)
        ax.plot(x[-1:], y[-1:], marker="|", ms=11, mew=2, color=style(i).color,
                linestyle="none", clip_on=False, gid=f"end of data {said}")  # fmt: skip
        # towards the last point curves of one family lie closest: labels go to the left
        labels.append(Label(float(x[_LEFT]), float(y[_LEFT]), said, style(i).color))
    most = max(float(p._flow[-1] * p._flow_factor) for p in pumps)
    top = 1.06 * max(float(p._head.max() * p._head_factor) for p in pumps)
    named = []
    if line is not None:
        named = _one_line(ax, line, pumps, 1.04 * most, top, shown)
    _finish(ax, flow_name, head_name, 1.04 * most, top)
    _label(ax, labels, "pump ", named)
    return ax


def _label(ax: Axes, labels: list[Label], kind: str, named: list[Label]) -> None:
    """Name the curves of the family, by numbers where they are many, and what crosses it."""
    if len(labels) > MANY:
        curves = [x for x in ax.lines if str(x.get_gid()).startswith(kind)][: len(labels)]
        number_curves(ax, curves, labels, markers=_marks(ax))
        labels = []
    label_points(ax, labels + named, markers=_marks(ax))


def _marks(ax: Axes) -> list[tuple[float, float]]:
    """Operating points drawn, which no label may cover."""
    drawn = (x for x in ax.lines if x.get_gid() == "operating points")
    pairs = (zip(np.ravel(x.get_xdata()), np.ravel(x.get_ydata()), strict=True) for x in drawn)
    return [(float(x), float(y)) for pair in pairs for x, y in pair]


def _scalars(where: str, line: Any) -> None:
    if not isinstance(line, DischargeLine):
        raise wrong("line", line, "must be one DischargeLine", "make one with straight_line(...)")
    if line._arrays.shape:
        raise InputError(f"{where}: the line holds arrays; give one line, scalars only.")


def _c(value: Any) -> FloatArray | None:
    if value is None:
        return None
    return u.plain(
        "hazen_williams_c", value, low=10.0, high=200.0, mend="150 is new PVC, 130 a usual value"
    )


def _si(values: Measure | FloatArray) -> FloatArray:
    return values.si if isinstance(values, Measure) else values


def _called(what: str, values: Measure | FloatArray) -> list[str]:
    """Say each value of the varied quantity as it was typed."""
    if not isinstance(values, Measure):
        return [f"{what} {x:g}" for x in np.atleast_1d(values)]
    label = u.UNITS[values.unit].label
    return [f"{what} {x:g} {label}" for x in np.atleast_1d(values.typed)]


def _varied(line: DischargeLine, what: str, values: FloatArray) -> system.LineArrays:
    """The line's arrays with an axis of the varied quantity behind the runs."""
    plain = line._arrays.aligned(1)
    every = np.zeros((len(line.runs), 1))
    changed: dict[str, Any] = {"diameter": every + values}
    if what == "length":
        whole = float(line._length)
        share = plain.length / whole if whole > 0 else every + 1 / len(line.runs)
        changed = {"length": share * values}
    elif what == "lift":
        changed = {"end": plain.end + (values - float(line._lift))}
    elif what == "C":
        changed = {"hazen_c": every + values, "darcy": np.asarray(False)}
    return plain.map(changed.get)


def _most(gpm: Any, lps: Any, pump: PumpCurve | None) -> float:
    default = 60.0 if pump is None else pump.run_out_gpm
    most = u.take("flow_max", guard="flow", default=("gpm", default), gpm=gpm, lps=lps)
    return float(most.si)


def _curve(
    ax: Axes, q: FloatArray, head: FloatArray, i: int, gid: str, shown: tuple[str, str]
) -> tuple[Any, Any]:
    """Draw one curve in the i-th style; return it in the units shown."""
    x, y = u.from_si(q, shown[0]), u.from_si(head, shown[1])
    ax.plot(x, y, color=style(i).color, linestyle=style(i).dash, lw=1.8, gid=gid)
    return x, y


def _system_curves(
    ax: Axes,
    family: DischargeLine,
    names: Sequence[str],
    most: float,
    shown: tuple[str, str],
    at: tuple[int, int],
) -> tuple[list[Label], float]:
    q = np.linspace(0, most, _POINTS)
    heads = system.head(np.repeat(q[:, None], len(names), axis=1), family._arrays.aligned(2))
    labels = []
    for i, (name, head) in enumerate(zip(names, heads.T, strict=True)):
        x, y = _curve(ax, q, head, i, f"line {name}", shown)
        labels.append(Label(float(x[at[0]]), float(y[at[1]]), name, style(i).color))
    # without a pump the middle curve sets the height: the steepest would flatten the rest
    return labels, 1.25 * float(np.median(heads[-1]))


def _inside(label: Label, ax: Axes) -> Label:
    """Move a label whose curve leaves the frame to where it leaves it."""
    top = ax.get_ylim()[1]
    if label.y <= top:
        return label
    (line,) = (x for x in ax.lines if x.get_gid() == f"line {label.text}")
    x, y = np.asarray(line.get_xdata()), np.asarray(line.get_ydata())
    at = int(np.argmax(y > 0.95 * top))
    return label._replace(x=float(x[at]), y=float(y[at]))


def _with_pump(
    ax: Axes, pump: PumpCurve, family: DischargeLine, shown: tuple[str, str]
) -> tuple[list[Label], float]:
    """Draw the pump and its operating points; return its label and the height that shows them."""
    q = np.linspace(pump._flow[0], pump._flow[-1], _POINTS) * pump._flow_factor
    x, y = u.from_si(q, shown[0]), u.from_si(pump._head_at(q), shown[1])
    ax.plot(x, y, color="black", lw=2.4, gid=f"pump {pump.name}")
    _points(ax, pump, family, shown)
    name = Label(float(x[12]), float(y[12]), pump.name)
    return [name], 1.15 * float(pump._head.max() * pump._head_factor)


def _points(
    ax: Axes, pump: Pump | Sequence[Pump], line: DischargeLine, shown: tuple[str, str]
) -> None:
    op = operating_point(pump, line)
    good = np.ravel(op.ok)
    flow, head = np.ravel(op._flow)[good], np.ravel(op._head)[good]
    ax.plot(
        u.from_si(flow, shown[0]), u.from_si(head, shown[1]), "o", ms=7, mfc="white", mec="black",
        mew=1.6, zorder=5, gid="operating points",
    )  # fmt: skip


def _one_line(
    ax: Axes,
    line: DischargeLine,
    pumps: Sequence[Pump],
    most: float,
    top: float,
    shown: tuple[str, str],
) -> list[Label]:
    """Draw the line and where each pump runs on it; return its label."""
    q = np.linspace(0, most, _POINTS)
    head = np.asarray(line.head(flow_lps=q * 1e3)._head)
    ax.plot(u.from_si(q, shown[0]), u.from_si(head, shown[1]), color="0.35", lw=2.4,
            gid=f"line {line.name}")  # fmt: skip
    _points(ax, list(pumps), line, shown)
    at = int(np.flatnonzero(head <= max(0.95 * top, head[0]))[-1])
    x, y = u.from_si(q[at], shown[0]), u.from_si(head[at], shown[1])
    return [Label(float(x), float(y), line.name, "0.35")]


def _finish(ax: Axes, flow_name: str, head_name: str, most: float, top: float) -> None:
    drawn = (np.asarray(x.get_ydata()) for x in ax.lines)
    low = min(0.0, *(float(np.nanmin(y)) for y in drawn if y.size))
    ax.set_xlim(0, u.from_si(most, flow_name[5:]))
    ax.set_ylim(low, u.from_si(top, head_name[5:]))
    ax.set_xlabel(axis_label(flow_name))
    ax.set_ylabel(axis_label(head_name))
    other_units(ax, "x", flow_name)
    other_units(ax, "y", head_name)
    grid_behind(ax)
