"""How a pump curve shows itself: at given flows, as a frame, a dict, a line, a table."""

from __future__ import annotations

import html
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, ClassVar

import numpy as np

from drainpump import units as u
from drainpump.errors import InputError
from drainpump.parts.pump import curve_points as points
from drainpump.results import Result
from drainpump.units import FloatArray, Measure, View

if TYPE_CHECKING:
    import pandas as pd

    from drainpump.parts.pump.curve import PumpCurve

__all__ = ["CurveHead", "as_dict", "frame", "line", "table"]

#: points shown at either end of a table too long to read
_ENDS = 10


@dataclass(frozen=True, eq=False, repr=False)
class CurveHead(Result):
    """What a pump makes at given flows, from `PumpCurve.head`.

    Attributes
    ----------
    flow_gpm, flow_lps : float or ndarray
        The flow asked.
    head_ft, head_m : float or ndarray
        Head of the pump there; NaN outside its points.
    power_w : float or ndarray or None
        Electrical power there; NaN where not known, None without any power points.
    status : str or ndarray of str
        ``"ok"``, ``"below_curve"``, ``"beyond_curve"`` or ``"bad_input"``.
    """

    flow_gpm, flow_lps = View("_flow"), View("_flow")
    head_ft, head_m = View("_head"), View("_head")
    power_w = View("_power")

    _mends: ClassVar[dict[str, str]] = {
        "below_curve": "the flow lies below the first point; give points, or the shutoff head",
        "beyond_curve": "the flow lies beyond the last point; a curve is never extrapolated",
        "bad_input": "a NaN came in",
    }

    _flow: Measure | FloatArray
    _head: Measure | FloatArray
    _power: FloatArray | None
    _status: Any


def _at_points(pump: PumpCurve) -> CurveHead:
    return CurveHead(pump._flow_points, pump._head_points, pump._power_points, "ok")


def frame(pump: PumpCurve, units: str) -> pd.DataFrame:
    """Tabulate the points, one row each; array factors have their axes in front."""
    table = _at_points(pump).to_frame(units).drop(columns="status")
    last = [name for name in table.columns if str(name).startswith("axis_")][-1]
    table = table.rename(columns={last: "point"})
    table.insert(0, "pump", pump.name)
    return table


def as_dict(pump: PumpCurve) -> dict[str, Any]:
    """Say the curve as the keywords that build it, in the units they were typed in."""
    if pump._head_factor.ndim or pump._flow_factor.ndim or pump._power_factor.ndim:
        raise InputError(
            f"pump {pump.name!r}: a curve with arrays of factors is many curves; "
            "describe the one it came from, before at_speed or worn."
        )
    first = 0 if pump._shutoff_given is None else 1
    flow, head = f"flow_{pump._flow_given.unit}", f"head_{pump._head_given.unit}"
    answer: dict[str, Any] = {"name": pump.name}
    answer |= {key: getattr(pump, key)[first:].tolist() for key in (flow, head)}
    if pump._power is not None:
        answer["power_w"] = pump.power_w[first:].tolist()
    if pump._shutoff_given is not None:
        key = f"shutoff_{pump._shutoff_given.unit}"
        answer[key] = getattr(pump, key)
    if pump._price is not None:
        answer["price"] = pump.price
    facts = {f"{stem}_{fact.unit}": fact.typed for stem, fact in pump._facts().items()}
    if pump._best_given is not None and pump._flow_factor != 1:
        # the one fact a factor moves
        key = f"best_flow_{pump._best_given.unit}"
        facts[key] = getattr(pump, key)
    answer |= facts
    if pump.invented:
        answer["invented"] = True
    if pump.note:
        answer["note"] = pump.note
    return answer


def line(pump: PumpCurve) -> str:
    """Say the curve in one line, both units, as typed where nothing scaled it."""
    parts = [
        f"{pump._flow.size} points",
        f"flow {points.span(pump._flow_points, pump._flow_given.unit)}",
        f"head {points.span(pump._head_points, pump._head_given.unit)}",
    ]
    for stem, fact in pump._facts().items():
        now = pump._best_flow if stem == "best_flow" else fact
        said = str(now) if isinstance(now, Measure) else u.both(np.asarray(now), fact.unit)
        parts.append(f"{stem.replace('_', ' ')} {said}")
    if pump._price is not None:
        parts.append(f"price {pump.price:.10g}")
    for label, factor in (("head", pump._head_factor), ("flow", pump._flow_factor)):
        if factor.ndim:
            low, high = (u.number(float(x)) for x in (np.nanmin(factor), np.nanmax(factor)))
            parts.append(f"{label} factor {low} to {high}, shape {factor.shape}")
        elif factor != 1:
            parts.append(f"{label} factor {u.number(float(factor))}")
    if pump.droops:
        parts.append("droops")
    if pump.invented:
        parts.append("invented")
    return f"PumpCurve({pump.name!r}: {', '.join(parts)})"


def table(pump: PumpCurve) -> str:
    """Show the points in both units as HTML, with the line above and the notes below."""
    known = _at_points(pump)
    columns = {v.name: v.__get__(known) for v in u.views(CurveHead)}
    columns = {name: np.asarray(x) for name, x in columns.items() if x is not None}
    shape = np.broadcast_shapes(*(x.shape for x in columns.values()))
    cells = [np.broadcast_to(x, shape).ravel() for x in columns.values()]
    head = "".join(f"<th>{name}</th>" for name in columns)
    points = list(zip(*cells, strict=True))
    rows = [
        "<tr>" + "".join(f"<td>{u.number(float(x))}</td>" for x in row) + "</tr>" for row in points
    ]
    if len(rows) > 2 * _ENDS:
        left_out = f"<tr><td colspan='{len(cells)}'>{len(rows) - 2 * _ENDS} more</td></tr>"
        rows = [*rows[:_ENDS], left_out, *rows[-_ENDS:]]
    said = "".join(f"<p>{html.escape(text)}</p>" for text in (*pump.notes, pump.note) if text)
    caption = html.escape(line(pump))
    return f"<table><caption>{caption}</caption><tr>{head}</tr>{''.join(rows)}</table>{said}"
