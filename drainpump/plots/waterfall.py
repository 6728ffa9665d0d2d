"""The waterfall of flow: what is left of a pump's flow as each cause takes its part."""

from __future__ import annotations

from collections.abc import Sequence
from textwrap import fill
from typing import TYPE_CHECKING, Any

import numpy as np

from drainpump import units as u
from drainpump.errors import wrong
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
from drainpump.why.explanation import Explanation

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["waterfall"]


def waterfall(
    explained: Explanation | Sequence[Explanation],
    ax: Axes | None = None,
    *,
    units: str = "us",
) -> Axes:
    """Draw the flow left after each cause in turn: bars for one pump, lines for several.

    Parameters
    ----------
    explained : Explanation or sequence of Explanation
        From ``drainpump.explain``; several must have the same causes.
    ax : matplotlib Axes, optional
        Where to draw; fresh axes by default.
    units : {"us", "metric"}, default "us"
        Unit system of the near axis; the far axis shows the other.

    Returns
    -------
    matplotlib Axes

    Raises
    ------
    InputError
        None given, or their causes differ.

    Examples
    --------
    >>> import drainpump as dp
    >>> pump = dp.PumpCurve(name="A", flow_gpm=[0, 30, 50], head_ft=[20, 12.8, 0])
    >>> line = dp.straight_line(pipe=dp.pvc("1-1/2"), length_ft=150, lift_ft=6)
    >>> ax = dp.plots.waterfall(dp.explain(pump, line))
    >>> [t.get_text() for t in ax.get_xticklabels()]
    ['pump alone', 'lift', 'pipe', 'exit', 'what is left']
    """
    many = same_causes("waterfall", explained)
    name = pick("flow", "gpm", units)
    unit = name[5:]
    names = many[0].names
    ax = new_axes(ax, size=(max(7.5, 1.1 * (len(names) + 2)), 5.0))
    flows = np.array([u.from_si(e._flows, unit) for e in many])
    ax.set_ylim(0, 1.14 * float(flows.max()) or 1.0)
    if len(many) == 1:
        _bars(ax, flows[0], many[0]._status)
        ticks = ["pump alone", *names, "what is left"]
    else:
        ax.set_xlim(-0.3, len(names) + 0.1)
        ticks = ["pump alone", *names]
    ax.set_ylabel(axis_label(name))
    # their shares whatever the order, which the explanation's text gives, are other numbers
    ax.set_xlabel("Losses taken in one after another, from left to right")
    other_units(ax, "y", name)
    grid_behind(ax, "y")
    labels: list[Label] = []
    if len(many) == 1:
        head_line(ax, f"{many[0].pump.name} on {many[0].line.name}", size=10)
    else:
        labels = _lines(ax, many, flows, unit)
    label_ends(ax, labels, ticks=([fill(x, 12, break_long_words=False) for x in ticks], ticks))
    return ax


def same_causes(where: str, explained: Any) -> list[Explanation]:
    """Return the explanations as a list, all of one set of causes."""
    many = list(explained) if isinstance(explained, Sequence) else [explained]
    if not many or not all(isinstance(e, Explanation) for e in many):
        raise wrong(
            "explained", explained, "must be one Explanation or more",
            "make them with explain(pump, line)",
        )  # fmt: skip
    for i, other in enumerate(many):
        if other.names != many[0].names:
            raise wrong(
                f"explained[{i}]", other.names, f"must have the causes {many[0].names}",
                f"{where} compares pumps on lines of the same kind",
            )  # fmt: skip
    return many


def called(one: Explanation, many: Sequence[Explanation]) -> str:
    """Name an explanation among others: by its pump, its line, or both where both differ."""
    pump, line = one.pump.name, one.line.name
    if len({e.line.name for e in many}) == 1:
        return pump
    return line if len({e.pump.name for e in many}) == 1 else f"{pump}, {line}"


def _bars(ax: Axes, flow: Any, status: Any) -> None:
    look = style(0)
    drop = flow[:-1] - flow[1:]
    last = len(flow)
    ax.bar([0, last], [flow[0], flow[-1]], 0.62, facecolor=look.color, edgecolor=look.color,
           gid="flow")  # fmt: skip
    ax.bar(range(1, last), drop, 0.62, bottom=flow[1:], facecolor="white", edgecolor="#aa3344",
           hatch="////", lw=1.2, gid="lost")  # fmt: skip
    for i, level in enumerate(flow):
        ax.plot([i + 0.31, i + 0.69], [level, level], color="0.4", lw=0.8)
    room = 0.012 * ax.get_ylim()[1]
    size = min(8.5, points(ax)[0] / (last + 1) / 3.6)
    words = [_bounded(x, s, flow[0]) for x, s in zip(flow, status, strict=True)]
    for i, end in ((0, 0), (last, -1)):
        ax.text(i, flow[end] + room, words[end], ha="center", va="bottom",
                fontsize=1.06 * size, fontweight="bold", gid="flow text")  # fmt: skip
    for i, (lost, left) in enumerate(zip(drop, flow[1:], strict=True), 1):
        change = f"{'−' if lost >= 0 else '+'}{_said(abs(lost), flow[0])}"
        ax.text(i, max(left, left + lost) + room, change, ha="center", va="bottom", fontsize=size,
                color="#aa3344", gid="lost text")  # fmt: skip
        ax.text(i, min(left, left + lost) - room, words[i], ha="center", va="top", fontsize=size,
                gid="left text")  # fmt: skip


def _lines(ax: Axes, many: list[Explanation], flows: Any, unit: str) -> list[Label]:
    labels = []
    for i, (e, flow) in enumerate(zip(many, flows, strict=True)):
        look = style(i)
        ax.plot(range(flow.size), flow, color=look.color, linestyle=look.dash, lw=1.6, marker="o",
                ms=3.5, gid=f"flow {e.pump.name}")  # fmt: skip
        said = f"{_bounded(flow[-1], e._status[-1], flows.max())} {u.UNITS[unit].label}"
        words = f"{called(e, many)}: {said}"
        labels.append(Label(flow.size - 1, float(flow[-1]), words, look.color))
    return labels


def _bounded(value: float, status: Any, most: float) -> str:
    """Say a flow; where the pump's data end before it, that it is at least or at most that."""
    return {"beyond_curve": "≥ ", "below_curve": "≤ "}.get(str(status), "") + _said(value, most)


def _said(value: float, most: float) -> str:
    """Say a flow to three digits of the greatest, a small loss to two of its own."""
    digits = 1 if most >= 10 else 2
    return f"{value:.{digits}f}" if abs(value) >= 10.0 ** (1 - digits) else f"{value:.2g}"
