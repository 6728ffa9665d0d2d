"""An explanation drawn: the flow that each cause takes, and the head."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from textwrap import fill
from typing import Any

import numpy as np

from drainpump import states
from drainpump import units as u
from drainpump.errors import wrong
from drainpump.parts.scalars import yes_or_no
from drainpump.plots.frame import Frame, Label, frame_on, said, wrapped
from drainpump.plots.looks import CAUSES, cause_of, dress
from drainpump.plots.margins import label_ends
from drainpump.plots.page import Axes, letters
from drainpump.units import System
from drainpump.why.explanation import Explanation

#: words under the picture, by whether the causes are taken in one after another
_DIVISIONS = (
    "Losses whatever the order (Shapley), as in the text",
    "Losses taken in one after another, from left to right",
)


#: bars up to which the parts' heads are written into them
_FEW = 4


def waterfall(
    explained: Explanation | Sequence[Explanation],
    ax: Axes | None = None,
    *,
    in_turn: bool = False,
    units: u.System = "us",
    twin: bool = True,
) -> Axes:
    """Draw what each cause takes of a pump's flow: bars for one pump, lines for several.

    Parameters
    ----------
    explained : Explanation or sequence of Explanation
        From ``drainpump.explain``; several must have the same causes.
    in_turn : bool, default False
        By default each cause takes its loss whatever the order (Shapley's division), as in
        the explanation's text. True: the causes are taken in one after another, and what
        is left after each is a flow the pump would give.
    ax, units, twin
        As of every picture, see `drainpump.plots`.

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
    yes_or_no("in_turn", in_turn)
    names = many[0].names
    flows = np.array([e.si.flows for e in many])  # (pumps, causes + 1)
    if not in_turn:
        lost = np.cumsum([e.si.losses for e in many], axis=1)
        flows[:, 1:-1] = flows[:, :1] - lost[:, :-1]
    size = max(7.5, 1.1 * (len(names) + 2)), 5.0
    frame = frame_on(ax, units, twin=twin, y="flow_gpm", size=size, grid="y")
    frame.limits(y=(0.0, 1.14 * float(flows.max()) or 1e-4))
    frame.ax.set_xlabel(_DIVISIONS[in_turn])
    ticks = ["pump alone", *names]
    labels: list[Label] = []
    if len(many) == 1:
        ticks.append("what is left")
        _bars(frame, flows[0], many[0].si.status, names, in_turn)
        frame.title(f"{many[0].pump.name} on {many[0].line.name}", size=10)
    else:
        frame.limits(x=(-0.3, len(names) + 0.1))
        labels = _lines(frame, many, flows)
    label_ends(frame, labels, ([fill(x, 12, break_long_words=False) for x in ticks], ticks))
    return frame.done((200.0, 110.0))


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


def _bars(frame: Frame, flows: Any, status: Any, names: Sequence[str], in_turn: bool) -> None:
    ax, flow = frame.ax, frame.y.shown(flows)
    drop = flow[:-1] - flow[1:]
    last = len(flow)
    ax.bar([0, last], [flow[0], flow[-1]], 0.62, **CAUSES["pump"].bar)
    dress(ax.bar(range(1, last), drop, 0.62, bottom=flow[1:]), names)
    for i, level in enumerate(flow):
        ax.plot([i + 0.31, i + 0.69], [level, level], color="0.4", lw=0.8)
    words = [_bounded(x, s) for x, s in zip(flow, status, strict=True)]
    # in turn a loss rests on the flows beside it; whatever the order, on all of them
    beside = pairwise(status) if in_turn else [status[[0, -1]]] * len(drop)
    losses = [_lost(lost, ends) for lost, ends in zip(drop, beside, strict=True)]
    # letters as wide as the bars let the longest be
    longest = max(map(len, [*words, *losses]))
    size = min(letters(), frame.points()[0] / (last + 1) / max(0.55 * longest, 3.6))
    room = 0.012 * ax.get_ylim()[1]
    for i, end in ((0, 0), (last, -1)):
        ax.text(i, flow[end] + room, words[end], ha="center", va="bottom",
                fontsize=1.06 * size, fontweight="bold")  # fmt: skip
    for i, (above, below, lost) in enumerate(zip(flow[:-1], flow[1:], losses, strict=True), 1):
        ax.text(i, max(above, below) + room, lost, ha="center", va="bottom", fontsize=size)
        if in_turn:
            low = min(above, below) - room
            ax.text(i, low, words[i], ha="center", va="top", fontsize=size)


def _lost(value: float, ends: Any) -> str:
    """Say a loss between two flows: of a bound it is at least that, between two not known."""
    bounds = [states.bound(s) for s in ends]
    if all(bounds) or "not known" in bounds:
        return "?"
    return f"{'−' if value >= 0 else '+'}{' ≥ ' if any(bounds) else ''}{u.number(abs(value))}"


def _lines(frame: Frame, many: list[Explanation], flows: Any) -> list[Label]:
    labels = []
    unit = u.UNITS[frame.y.unit or ""].label
    for e, flow, look in zip(many, flows, frame.styles(len(many)), strict=True):
        frame.curve(np.arange(flow.size), flow, look, lw=1.6, marker="o", ms=3.5)
        last = e.si.status[-1]
        left = f"{_bounded(frame.y.shown(flow[-1]), last)} {unit}"
        words = f"{called(e, many)}: {'no flow' if last == 'no_flow' else left}"
        labels.append(Label(flow.size - 1, flow[-1], words, look.color))
    return labels


def _bounded(value: float, status: Any) -> str:
    """Say a flow; where the pump's data end before it, that it is at least or at most that."""
    sign = {"at least": "≥ ", "at most": "≤ ", "not known": "? "}.get(states.bound(status), "")
    return sign + u.number(value)


def ledger(
    explained: Explanation | Sequence[Explanation],
    ax: Axes | None = None,
    *,
    units: System = "us",
    twin: bool = True,
) -> Axes:
    """Draw the head at the operating point as a stack of its causes, one bar a pump.

    Parameters
    ----------
    explained : Explanation or sequence of Explanation
        From ``drainpump.explain``; several must have the same causes.
    ax, units, twin
        As of every picture, see `drainpump.plots`.

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
    >>> ax = dp.plots.ledger(dp.explain(pump, line))
    >>> ax.get_ylabel()
    'Head (ft)'
    """
    many = same_causes("ledger", explained)
    heads = np.array([e.si.heads for e in many])  # (pumps, causes)
    # what helps (a line that falls) goes below the axis, the rest stands on it
    tops = np.cumsum(np.maximum(heads, 0.0), axis=1)
    feet = np.where(heads >= 0, tops - np.maximum(heads, 0.0), 0.0)
    top = float(tops[:, -1].max()) or 1.0
    size = max(6.5, 4.0 + 0.6 * len(many)), 5.2
    frame = frame_on(ax, units, twin=twin, y="head_ft", size=size, grid="y")
    frame.limits(x=(-0.6, len(many) - 0.4), y=(min(0.0, 1.1 * float(heads.min())), 1.1 * top))
    labels = []
    for i, cause in enumerate(many[0].names):
        frame.ax.bar(
            range(len(many)), frame.y.shown(heads[:, i]), 0.62, bottom=frame.y.shown(feet[:, i]),
            **cause_of(cause).bar,
        )  # fmt: skip
        middle = float(feet[-1, i] + heads[-1, i] / 2)
        words = f"{cause} {frame.y.said(heads[-1, i])}" if len(many) == 1 else cause
        labels.append(Label(len(many) - 1 + 0.31, middle, words))
        if 1 < len(many) <= _FEW:
            _write(frame, heads[:, i], feet[:, i], top)
    ticks = [
        (called(e, many), states.said(said(e.si.flow, "gpm", units), e.operating.status))
        for e in many
    ]
    upright = [f"{wrapped(name, 15)}\n{q}" for name, q in ticks]
    label_ends(frame, labels, (upright, [wrapped(f"{name}, {q}", 28) for name, q in ticks]))
    return frame.done()


def _write(frame: Frame, heads: np.ndarray, feet: np.ndarray, top: float) -> None:
    """Write a part's head into its segments where they are tall enough."""
    for x, (head, foot) in enumerate(zip(heads, feet, strict=True)):
        if head > 0.06 * top:
            at = x, float(frame.y.shown(foot + head / 2))
            frame.write(u.number(frame.y.shown(head)), at, ha="center")
