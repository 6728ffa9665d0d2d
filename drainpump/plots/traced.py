"""A curve read off a picture, drawn over it: to be looked at."""

from __future__ import annotations

import os

from drainpump.errors import wrong
from drainpump.foreign import READ
from drainpump.parts.pump.curve import PumpCurve
from drainpump.parts.pump.picture import Known, axis, load
from drainpump.plots.frame import axes_or_fresh
from drainpump.plots.page import Axes
from drainpump.units import UNITS, frozen


def traced(
    path: str | os.PathLike[str],
    pump: PumpCurve,
    *,
    flow_gpm: Known | None = None,
    flow_lps: Known | None = None,
    flow_gph: Known | None = None,
    flow_lpm: Known | None = None,
    flow_m3ph: Known | None = None,
    head_ft: Known | None = None,
    head_m: Known | None = None,
    head_psi: Known | None = None,
    head_kpa: Known | None = None,
    ax: Axes | None = None,
) -> Axes:
    """Draw the points of a curve over the picture that it was read off.

    Parameters
    ----------
    path : str or path-like
        The picture, as for `read_curve_picture`.
    pump : PumpCurve
        What was read.
    flow_gpm, flow_lps, flow_gph, flow_lpm, flow_m3ph : sequence of (px, value)
        Known points of the flow axis, as for `read_curve_picture`.
    head_ft, head_m, head_psi, head_kpa : sequence of (px, value)
        The same of the head axis.
    ax : matplotlib Axes, optional
        To draw on; fresh ones by default.

    Returns
    -------
    matplotlib Axes
        In pixels of the picture.

    Examples
    --------
    >>> import drainpump as dp
    >>> dp.plots.traced("none.png", dp.PumpCurve(flow_gpm=[0, 9, 20], head_ft=[9, 8, 0]),
    ...     flow_gpm=((50, 0), (450, 60)), head_ft=((350, 0), (50, 30)))
    Traceback (most recent call last):
    ...
    drainpump.errors.InputError: none.png: cannot be opened; check the path and who may read it.
    """
    if not isinstance(pump, PumpCurve) or pump.si.many:
        raise wrong("pump", pump, "must be one PumpCurve", "give what read_curve_picture gave")
    flow = axis("flow", gpm=flow_gpm, lps=flow_lps, gph=flow_gph, lpm=flow_lpm, m3ph=flow_m3ph)
    head = axis("head", ft=head_ft, m=head_m, psi=head_psi, kpa=head_kpa)
    picture = load(path)
    ax = axes_or_fresh(ax, (6.4, 4.8))
    ax.imshow(frozen(picture), interpolation="nearest")
    x, y = (
        side.pixels(si / _factor(side.column))
        for side, si in (
            (flow, pump.si.flow * pump.si.flow_factor),
            (head, pump.si.head * pump.si.head_factor),
        )
    )
    ax.plot(x, y, color="magenta", marker="+", lw=1.0, ms=7.0, alpha=0.8)
    ax.set_xlabel("Pixels from the left")
    ax.set_ylabel("Pixels from the top")
    ax.set_title(f"{pump.name}: what was read", fontsize=9)
    return ax


def _factor(column: str) -> float:
    unit = READ.get(column) or UNITS[column.rsplit("_", 1)[1]]
    return unit.factor
