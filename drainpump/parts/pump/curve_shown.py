"""How a pump curve shows itself: at given flows, as a frame, as a table."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar

import numpy as np

from drainpump import units as u
from drainpump.results import Frame, Result, check_units, frame_of, html_notes, html_table
from drainpump.units import FloatArray, Measure, View

#: where a curve may come from, and how that is said
ORIGINS = {
    "points": "points typed",
    "table": "a table",
    "picture": "a picture",
    "box": "two figures on a box",
    "learned": "readings on site",
}

#: points shown at either end of a table too long to read
_ENDS = 10


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
    power_w = View("_power", maybe=True)

    _mends: ClassVar[dict[str, str]] = {
        "below_curve": "the flow lies below the first point; give points, or the shutoff head",
        "beyond_curve": "the flow lies beyond the last point; a curve is never extrapolated",
        "bad_input": "a NaN came in",
    }

    _flow: Measure | FloatArray
    _head: Measure | FloatArray
    _power: FloatArray | None
    _status: Any


def facts(now: Mapping[str, Any], typed: Mapping[str, Measure | None]) -> list[str]:
    """Say the facts that are known, in the units they were typed in."""
    said = []
    for word, known in typed.items():
        if known is not None:
            value = now[word]
            text = str(value) if isinstance(value, Measure) else u.both(value, known.unit)
            said.append(f"{word} {text}")
    return said


def factors(**by: FloatArray) -> list[str]:
    """Say the factors that are not 1."""
    said = []
    for label, factor in by.items():
        if factor.ndim:
            low, high = (u.number(float(x)) for x in (np.nanmin(factor), np.nanmax(factor)))
            said.append(f"{label} factor {low} to {high}, shape {factor.shape}")
        elif factor != 1:
            said.append(f"{label} factor {u.number(float(factor))}")
    return said


def frame(name: str, known: CurveHead, units: u.System) -> Frame:
    """Tabulate a curve's points, one row each; array factors have their axes in front."""
    table = known.to_frame(check_units(units)).drop(columns="status")
    last = [name for name in table.columns if str(name).startswith("axis_")][-1]
    table = table.rename(columns={last: "point"})
    table.insert(0, "pump", name)
    return table


def table(known: CurveHead, caption: str, notes: tuple[str, ...]) -> str:
    """Show the points in both units as HTML, with a line above and notes below."""
    columns = {v.name: v.__get__(known) for v in u.views(CurveHead)}
    cells = [np.asarray(x) for x in columns.values() if x is not None]
    cells = [x.ravel() for x in np.broadcast_arrays(*cells)]
    names = [name for name, x in columns.items() if x is not None]
    points = frame_of(dict(zip(names, cells, strict=True)))
    return html_notes([caption]) + html_table(points, 2 * _ENDS) + html_notes(filter(None, notes))
