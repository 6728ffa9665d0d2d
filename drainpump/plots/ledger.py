"""The head ledger: what the head at the operating point is spent on."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from drainpump import states
from drainpump import units as u
from drainpump.plots.causes import cause_of
from drainpump.plots.column import label_ends
from drainpump.plots.frame import Frame, Label, frame_on, said, wrapped
from drainpump.plots.page import Axes
from drainpump.plots.waterfall import called, same_causes
from drainpump.units import System
from drainpump.why.explanation import Explanation

#: bars up to which the parts' heads are written into them
_FEW = 4


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
