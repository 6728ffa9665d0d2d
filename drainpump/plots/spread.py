"""The doubt of the answer drawn: bands and points, and which input moves the flow most."""

from __future__ import annotations

from typing import Any

import numpy as np

from drainpump import states
from drainpump import units as u
from drainpump.doubt.band import Band, percentiles
from drainpump.doubt.band import band as find_band
from drainpump.doubt.doubt import Doubt, Samples, middle, sample
from drainpump.doubt.sensitivity import points_at, sensitivity
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.pump.bank import Pump
from drainpump.parts.pump.curve import PumpCurve
from drainpump.parts.scalars import check_kind, fact
from drainpump.physics import system
from drainpump.plots.frame import Frame, Label, Style, frame_on, refuse_arrays
from drainpump.plots.heads import Curve, heads, last_inside, span
from drainpump.plots.labels import label_points
from drainpump.plots.looks import dress
from drainpump.plots.margins import key_below
from drainpump.plots.page import Axes, letters
from drainpump.solve.grid import make_grid
from drainpump.solve.operating_point import OperatingPoint, solve_arrays

_GREY = "0.3"
#: sampled operating points that are shown
_DOTS = 256


def band(
    pump: PumpCurve,
    line: DischargeLine,
    doubt: Doubt,
    samples: int = 1024,
    seed: int = 0,
    ax: Axes | None = None,
    *,
    need_gpm: u.Quantity | None = None,
    need_lps: u.Quantity | None = None,
    units: u.System = "us",
    twin: bool = True,
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
    need_gpm, need_lps : float, optional
        Flow needed, > 0: a line there, with the share of the samples that carry it.
    ax, units, twin
        As of every picture, see `drainpump.plots`.

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
    median between; the pump's ends where a tenth of the sampled curves have ended. Dots
    are the first 256 sampled operating points.

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
    refuse_arrays("band", found.si.grid.shape)
    check_kind("pump", pump, PumpCurve)
    need = fact("need", "flow", gpm=need_gpm, lps=need_lps)
    sampled = sample(doubt, samples, seed)
    curves, lines = sampled.pump(pump), sampled.line(line.si.arrays)
    top = 1.2 * float(np.max(pump.si.head) * pump.si.head_factor)
    last = percentiles(curves.si.flow_factor)[0] * pump.si.flow[-1]
    flow = np.linspace(pump.si.flow[0], last, 121)
    made = Curve(flow, percentiles(curves.si.head_at(flow[:, None]), known=True))
    flow = np.linspace(0, 1.08 * float(pump.si.flow[-1] * pump.si.flow_factor), 121)
    every = np.broadcast_to(flow[:, None], (flow.size, samples))
    asked = Curve(flow, percentiles(system.head(every, lines.aligned(2))))
    frame = heads(ax, units, twin)
    (look,) = frame.styles(1)
    points_sampled = solve_arrays(curves, lines)
    labels = [
        _centre(frame, found, points_sampled),
        # a quarter along, where the curves stand apart
        _curve(frame, made, Style(look.color), 0.3).label(30, pump.name, look.color),
        _curve(frame, asked, Style(_GREY), 0.25, "////").label(
            last_inside(asked.head[1], top), line.name, _GREY
        ),
    ]
    _spread(frame, found, points_sampled)
    if need is not None:
        share = found.probability(need_lps=need.si * 1000)
        words = f"{frame.need(need.si).get_label()}:\ncarried in {share:.0%}"
        labels.append(Label(float(need.si), 0.1 * top, words))
    span(frame, float(flow[-1]), top)
    frame.title("bands and bar: P10 to P90; dots: samples of the operating point", size=9)
    label_points(frame, labels)
    return frame.done()


def _curve(frame: Frame, band: Curve, look: Style, alpha: float, hatch: str | None = None) -> Curve:
    """Draw one band with its median; return the median."""
    low, middle, high = band.head
    frame.area(band.flow, low, high, facecolor=look.color, alpha=alpha, edgecolor=look.color,
               hatch=hatch, lw=0.4)  # fmt: skip
    frame.curve(band.flow, middle, look)
    return Curve(band.flow, middle)


def _centre(frame: Frame, found: Band, op: OperatingPoint) -> Label:
    """Say the flow and its band; each is one of the samples, and may be a bound as that is."""
    flows, status = op.si.reckoned, np.asarray(op.status)
    low, middle, high = (
        states.said(frame.x.said(x), status[np.argmin(np.abs(flows - x))]) for x in found.si.flow
    )
    return Label(found.si.flow[1], found.si.head[1], f"{middle}\n(P10 {low}, P90 {high})")


def _spread(frame: Frame, found: Band, op: OperatingPoint) -> None:
    """Dots of the first samples, and a bar from P10 to P90 at the median head."""
    flow, head = op.si.flow[:_DOTS], op.si.head[:_DOTS]
    frame.curve(flow, head, Style("0.55", "none"), marker=".", ms=2.5, zorder=3)
    level = found.si.head[1]
    bar = frame.curve(found.si.flow[[0, 2]], np.full(2, level), Style("black"), lw=2, marker="|",
                      ms=10, mew=2, zorder=5)  # fmt: skip
    # no label may cover it
    frame.marks.append(bar)
    frame.mark(found.si.flow[1], level, zorder=6)


def swings(
    pump: Pump,
    line: DischargeLine,
    doubt: Doubt,
    samples: int = 1024,
    seed: int = 0,
    ax: Axes | None = None,
    *,
    need_gpm: u.Quantity | None = None,
    need_lps: u.Quantity | None = None,
    units: u.System = "us",
    twin: bool = True,
) -> Axes:
    """Draw the swing of the flow over each input's doubt, one sigma to either side.

    Parameters
    ----------
    pump, line, doubt, samples, seed
        As in ``drainpump.sensitivity``.
    need_gpm, need_lps : float, optional
        Flow needed, > 0: a line there. A bar that crosses it may change the choice.
    ax, units, twin
        As of every picture, see `drainpump.plots`.

    Returns
    -------
    matplotlib Axes

    Raises
    ------
    UnitError, InputError
        As ``drainpump.sensitivity``.

    Examples
    --------
    >>> import drainpump as dp
    >>> pump = dp.PumpCurve(name="A", flow_gpm=[0, 15, 30, 50], head_ft=[20, 18.2, 12.8, 0])
    >>> line = dp.straight_line(pipe=dp.pvc("1-1/2"), length_ft=150, lift_ft=6)
    >>> ax = dp.plots.swings(pump, line, dp.Doubt(lift_ft=0.75, length_pct=5))
    >>> [t.get_text() for t in ax.get_yticklabels()]
    ['lift', 'length']
    """
    from matplotlib.patches import Patch

    table = sensitivity(pump, line, doubt, samples, seed, units=units)
    grid = make_grid(pump, line, np.zeros(()))
    centre = float(points_at(grid, Samples(**middle(doubt, (1,)))).si.counted[0])
    need = fact("need", "flow", gpm=need_gpm, lps=need_lps)
    frame = frame_on(
        ax, units, twin=twin, x="flow_gpm", size=(7.5, letters(1.8 + 0.45 * len(table))), grid="x"
    )
    ax, unit = frame.ax, frame.x.unit
    rows, start = np.arange(len(table)), frame.x.shown(centre)
    ends = table[[f"flow_at_minus_{unit}", f"flow_at_plus_{unit}"]].to_numpy()
    key: list[Any] = []
    for reach, hatch, word in zip(ends.T, ("////", None), ("low", "high"), strict=True):
        dress(ax.barh(rows, reach - start, 0.6, left=start), table.input, hatch=hatch)
        key.append(Patch(facecolor="0.75", edgecolor="black", hatch=hatch,
                         label=f"input one sigma {word}"))  # fmt: skip
    for row, share in enumerate(table.variance_share):
        beside = {"xytext": (5, 0), "textcoords": "offset points"}
        frame.write(f"{share:.0%}", (float(ends[row].max()), row), **beside)
    frame.upright(centre, color="black", lw=1.0)
    if need is not None:
        key.append(frame.need(need.si))
    ax.margins(x=0.14)
    ax.set_yticks(rows, table.input)
    frame.title("beside each bar: its share of the variance", size=9)
    return key_below(frame, len(table), key)
