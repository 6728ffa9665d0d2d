"""The doubt of the answer on the head-against-flow plot."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from drainpump import units as u
from drainpump.doubt.band import Band
from drainpump.doubt.band import band as find_band
from drainpump.doubt.doubt import Doubt, draw
from drainpump.errors import InputError
from drainpump.parts.pump.curve import PumpCurve
from drainpump.physics import system
from drainpump.plots.frame import (
    axis_label,
    grid_behind,
    head_line,
    new_axes,
    other_units,
    pick,
    style,
)
from drainpump.plots.labels import Label, label_points
from drainpump.solve.operating_point import OperatingPoint, operating_point

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from drainpump.parts.line.line import DischargeLine
    from drainpump.units import FloatArray

__all__ = ["band"]

_SHARES = (0.1, 0.5, 0.9)
_GREY = "0.3"
#: drawn operating points that are shown
_DOTS = 256


def band(
    pump: PumpCurve,
    line: DischargeLine,
    doubt: Doubt,
    samples: int = 1024,
    seed: int = 0,
    ax: Axes | None = None,
    *,
    need_gpm: Any = None,
    need_lps: Any = None,
    units: str = "us",
) -> Axes:
    """Draw pump and system curve with their bands, and how the operating point spreads.

    Parameters
    ----------
    pump, line : PumpCurve and DischargeLine
        One of each, their quantities scalars.
    doubt : Doubt
        One-sigma values of the inputs.
    samples, seed : int
        As in ``drainpump.band``.
    ax : matplotlib Axes, optional
        Where to draw; fresh axes by default.
    need_gpm, need_lps : float, optional
        Flow needed, > 0: a line there, with the share of the draws that carry it.
    units : {"us", "metric"}, default "us"
        Unit system of the near axes; the far axes show the other.

    Returns
    -------
    matplotlib Axes

    Raises
    ------
    InputError
        Lists, banks or arrays: a plot shows one case.

    Notes
    -----
    Bands run from the 10th to the 90th percentile of the head at each flow, with the
    median between; the pump's ends where a tenth of the drawn curves have ended. Dots
    are the first 256 drawn operating points.

    Examples
    --------
    >>> import drainpump as dp
    >>> pump = dp.PumpCurve(name="A", flow_gpm=[0, 15, 30, 50], head_ft=[20, 18.2, 12.8, 0])
    >>> line = dp.straight_line(pipe=dp.pvc("1-1/2"), length_ft=150, lift_ft=6)
    >>> ax = dp.plots.band(pump, line, dp.Doubt(lift_ft=0.75, head_pct=4))
    >>> ax.get_xlabel()
    'Flow (gpm)'
    """
    found = find_band(pump, line, doubt, samples, seed)
    if found._grid.shape or not isinstance(pump, PumpCurve):
        raise InputError("band: a plot shows one pump on one line; give single ones, in scalars.")
    flow_name, head_name = pick("flow", "gpm", units), pick("head", "ft", units)
    shown = flow_name[5:], head_name[5:]
    need = u.maybe("need", guard="flow", gpm=need_gpm, lps=need_lps)
    draws = draw(doubt, samples, seed)
    drawn = draws.pump(pump)
    last = np.quantile(drawn._flow_factor, 0.1) * pump._flow[-1]  # type: ignore[union-attr]
    top = 1.2 * float(np.max(pump._head) * pump._head_factor)
    q = np.linspace(pump._flow[0], last, 121)
    made = _percentiles(drawn._head_at(q[:, None]))  # type: ignore[union-attr]
    ax = new_axes(ax)
    labels = [_curve(ax, f"pump {pump.name}", q, made, shown, style(0).color, 0.3)]
    q = np.linspace(0, 1.08 * float(pump._flow[-1] * pump._flow_factor), 121)
    arrays = draws.line(line)._arrays.aligned(2)
    asked = _percentiles(system.head(np.broadcast_to(q[:, None], (q.size, samples)), arrays))
    labels.append(_line(ax, line.name, q, asked, shown, top))
    _spread(ax, found, operating_point(drawn, draws.line(line)), shown)
    said = [u.text(x, shown[0]) for x in found._flow]
    x, y = u.from_si(found._flow[1], shown[0]), u.from_si(found._head[1], shown[1])
    labels.insert(0, Label(x, y, f"{said[1]}\n(P10 {said[0]}, P90 {said[2]})"))
    if need is not None:
        share = found.probability(need_lps=need.si * 1000)
        wanted = u.from_si(need.si, shown[0])
        ax.axvline(wanted, color="black", lw=1.0, linestyle=(0, (1, 2)), gid="need")
        words = f"{u.text(need.si, shown[0])} needed:\ncarried in {share:.0%}"
        labels.append(Label(wanted, u.from_si(0.1 * top, shown[1]), words))
    ax.set_xlim(0, u.from_si(q[-1], shown[0]))
    ax.set_ylim(min(0.0, float(u.from_si(asked.min(), shown[1]))), u.from_si(top, shown[1]))
    ax.set_xlabel(axis_label(flow_name))
    ax.set_ylabel(axis_label(head_name))
    other_units(ax, "x", flow_name)
    other_units(ax, "y", head_name)
    grid_behind(ax)
    head_line(ax, "bands and bar: P10 to P90; dots: draws of the operating point", size=9)
    # no label may cover the bar from P10 to P90
    low, high = (float(u.from_si(found._flow[i], shown[0])) for i in (0, 2))
    bar = [(float(q), y) for q in np.linspace(low, high, 9)]
    label_points(ax, labels, markers=bar)
    return ax


def _percentiles(heads: FloatArray) -> FloatArray:
    """P10, P50 and P90 over the draws that reach each flow, (3, flows)."""
    return np.asarray(np.nanquantile(heads, _SHARES, axis=-1))


def _curve(
    ax: Axes, gid: str, q: FloatArray, heads: FloatArray, shown: tuple[str, str], color: str,
    alpha: float, hatch: str | None = None,
) -> Label:  # fmt: skip
    """Draw one band with its median; the label stands a third of the way along."""
    flow = u.from_si(q, shown[0])
    low, middle, high = (u.from_si(h, shown[1]) for h in heads)
    ax.fill_between(
        flow, low, high, facecolor=color, alpha=alpha, edgecolor=color, hatch=hatch, lw=0.4,
        gid=f"band {gid}",
    )  # fmt: skip
    ax.plot(flow, middle, color=color, lw=1.8, gid=f"median {gid}")
    return Label(flow[30], middle[30], gid.split(" ", 1)[1], color)


def _line(
    ax: Axes, name: str, q: FloatArray, heads: FloatArray, shown: tuple[str, str], top: float
) -> Label:
    label = _curve(ax, f"line {name}", q, heads, shown, _GREY, 0.25, "////")
    inside = np.flatnonzero(heads[1] <= 0.9 * top)
    at = inside[-1] if inside.size else 0
    x, y = u.from_si(q[at], shown[0]), u.from_si(heads[1, at], shown[1])
    return label._replace(x=x, y=y)


def _spread(ax: Axes, found: Band, op: OperatingPoint, shown: tuple[str, str]) -> None:
    """Dots of the first draws, and a bar from P10 to P90 at the median head."""
    flow, head = (u.from_si(x[:_DOTS], s) for x, s in zip((op._flow, op._head), shown, strict=True))
    ax.plot(flow, head, ".", ms=2.5, color="0.55", linestyle="none", zorder=3, gid="draws")
    spread, level = u.from_si(found._flow, shown[0]), u.from_si(found._head[1], shown[1])
    ax.plot(
        spread[[0, 2]], [level, level], "|-", color="black", lw=2, ms=10, mew=2, zorder=5,
        gid="spread",
    )  # fmt: skip
    ax.plot(
        spread[1:2], [level], "o", ms=7, mfc="white", mec="black", mew=1.6, zorder=6, gid="median"
    )
