"""The head ledger: what the head at the operating point is spent on."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from drainpump import units as u
from drainpump.plots.end_labels import label_ends
from drainpump.plots.frame import (
    axis_label,
    flow_said,
    grid_behind,
    new_axes,
    other_units,
    pick,
    wrapped,
)
from drainpump.plots.labels import Label
from drainpump.plots.waterfall import called, same_causes

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from drainpump.why.explanation import Explanation

__all__ = ["ledger"]

#: faces and hatches in turn: neighbours differ in both, in grey too
_LOOKS = (
    ("#004488", None),
    ("#c9d6e6", "////"),
    ("#7a8fa8", None),
    ("white", "...."),
    ("#aa3344", None),
    ("#eed4d8", "\\\\\\\\"),
    ("#4d4d4d", None),
    ("#e8e2c8", "xxxx"),
)
#: bars up to which the parts' heads are written into them
_FEW = 4


def ledger(
    explained: Explanation | Sequence[Explanation],
    ax: Axes | None = None,
    *,
    units: str = "us",
) -> Axes:
    """Draw the head at the operating point as a stack of its causes, one bar a pump.

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
    >>> ax = dp.plots.ledger(dp.explain(pump, line))
    >>> ax.get_ylabel()
    'Head (ft)'
    """
    many = same_causes("ledger", explained)
    head_name, flow_unit = pick("head", "ft", units), pick("flow", "gpm", units)[5:]
    unit = head_name[5:]
    heads = np.array([u.from_si(e._heads, unit) for e in many])  # (pumps, causes)
    # what helps (a line that falls) goes below the axis, the rest stands on it
    tops = np.cumsum(np.maximum(heads, 0.0), axis=1)
    feet = np.where(heads >= 0, tops - np.maximum(heads, 0.0), 0.0)
    ax = new_axes(ax, size=(max(6.5, 4.0 + 0.6 * len(many)), 5.2))
    top = float(tops[:, -1].max()) or 1.0
    ax.set_ylim(min(0.0, 1.1 * float(heads.min())), 1.1 * top)
    ax.set_xlim(-0.6, len(many) - 0.4)
    labels = []
    for i, cause in enumerate(many[0].names):
        face, hatch = _LOOKS[i % len(_LOOKS)]
        ax.bar(range(len(many)), heads[:, i], 0.62, bottom=feet[:, i], facecolor=face, hatch=hatch,
               edgecolor="black", lw=0.8, gid=f"cause {cause}")  # fmt: skip
        middle = float(feet[-1, i] + heads[-1, i] / 2)
        said = f"{cause} {u.number(float(f'{heads[-1, i]:.3g}'))} {u.UNITS[unit].label}"
        labels.append(Label(len(many) - 1 + 0.31, middle, said if len(many) == 1 else cause))
        if 1 < len(many) <= _FEW:
            _write(ax, heads[:, i], feet[:, i], top)
    ax.set_ylabel(axis_label(head_name))
    other_units(ax, "y", head_name)
    grid_behind(ax, "y")
    flows = [flow_said(_rounded(e._flow, flow_unit), e.operating.status, flow_unit) for e in many]
    ticks = [(called(e, many), q) for e, q in zip(many, flows, strict=True)]
    upright = [f"{wrapped(name, 15)}\n{q}" for name, q in ticks]
    label_ends(ax, labels, ticks=(upright, [wrapped(f"{name}, {q}", 28) for name, q in ticks]))
    return ax


def _rounded(flow: np.ndarray, unit: str) -> np.ndarray:
    """A flow to three digits of the unit it is said in."""
    return np.asarray(u.to_si(float(f"{u.from_si(flow, unit):.3g}"), unit))


def _write(ax: Axes, heads: np.ndarray, feet: np.ndarray, top: float) -> None:
    """Write a part's head into its segments where they are tall enough."""
    for x, (head, foot) in enumerate(zip(heads, feet, strict=True)):
        if head > 0.06 * top:
            ax.text(x, foot + head / 2, f"{head:.1f}", ha="center", va="center", fontsize=8.5,
                    bbox={"boxstyle": "square,pad=0.15", "fc": "white", "ec": "none"})  # fmt: skip
