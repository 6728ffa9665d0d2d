"""Cost against flow: which candidates no other beats in both."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from drainpump.errors import InputError
from drainpump.plots.column import key_column
from drainpump.plots.frame import Label, frame_on, style
from drainpump.plots.labels import MANY, label_points
from drainpump.plots.page import letters
from drainpump.units import System

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes

    from drainpump.choose.candidate import Candidate
    from drainpump.choose.selection import Selection

__all__ = ["pareto"]


def pareto(
    selection: Selection, ax: Axes | None = None, *, units: System = "us", twin: bool = True
) -> Axes:
    """Draw every priced candidate's cost against its flow, and the front none beats.

    Parameters
    ----------
    selection : Selection
        Made with ``costs``.
    ax, units, twin
        As of every picture, see `drainpump.plots`.

    Returns
    -------
    matplotlib Axes
        Accepted candidates filled, rejected ones hollow, the front joined by a line.

    Raises
    ------
    InputError
        The selection has no costs, or no candidate with a price and a flow.

    Examples
    --------
    >>> import drainpump as dp
    >>> pump = dp.PumpCurve(name="A", flow_gpm=[0, 30, 50], head_ft=[20, 12.8, 0], price=200)
    >>> lines = [dp.straight_line(pipe=dp.pvc(s), length_ft=150, lift_ft=6) for s in ("1-1/2", "2")]
    >>> sel = dp.select(pump, lines, need_gpm=20, costs=dp.Costs(pipe_per_ft={"1-1/2": 2, "2": 3}))
    >>> dp.plots.pareto(sel).get_xlabel()
    'Flow (gpm)'
    """
    front = selection.pareto
    shown = [
        c
        for c in selection.candidates
        if c.cost is not None and np.isfinite([c.cost, c.si.flow]).all()
    ]
    if not shown:
        raise InputError("pareto: no candidate has both a price and a flow; give the pumps prices.")
    need = selection.si.need
    groups = (
        ("accepted", "black", [c for c in shown if c.accepted]),
        ("rejected", "white", [c for c in shown if not c.accepted]),
    )
    frame = frame_on(ax, units, twin=twin, x="flow_gpm")
    ax = frame.ax
    # of a word without candidates the key still says what its mark means
    key = [
        frame.mark(*_spots(some), ms=6, mew=1.0, mfc=face, label=word, zorder=2)
        for word, face, some in groups
    ]
    key.append(frame.curve(*_spots(front), style(0), lw=1.6, zorder=1,
                           label="no other is both cheaper and stronger"))  # fmt: skip
    if need is not None:
        key.append(frame.need(float(need)))
    currency = selection.costs.currency if selection.costs is not None else ""
    ax.set_ylabel(f"Cost over the years ({currency or 'your currency'})", parse_math=False)
    flow, cost = _spots(shown)
    # the costs fill the upper part, the key stands below them
    low, high = float(cost.min()), float(cost.max())
    spread = max(high - low, 0.1 * high) or 1.0
    floor = max(low - 0.9 * spread, min(low, 0.0))
    frame.limits(x=(0.0, 1.08 * max(float(flow.max()), need)), y=(floor, high + 0.3 * spread))
    ax.legend(handles=key, loc="lower left", fontsize=letters(8.0), framealpha=0.9)
    names = [f"{c.pump.name}, {c.line.name}" for c in front]
    labels = [Label(*one) for one in zip(*_spots(front), names, strict=True)]
    if len(front) > MANY:
        key_column(frame, labels)
        labels = [x._replace(text=str(i)) for i, x in enumerate(labels, 1)]
    label_points(frame, labels)
    return frame.done((200.0, 150.0))


def _spots(some: Sequence[Candidate]) -> tuple[np.ndarray, np.ndarray]:
    """Flow (m³/s) and cost of each."""
    flows = np.array([float(c.si.flow) for c in some])
    return flows, np.array([float(c.cost or 0.0) for c in some])
