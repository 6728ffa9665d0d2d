"""Cost against flow: which candidates no other beats in both."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from drainpump import units as u
from drainpump.errors import InputError
from drainpump.plots.axes import (
    Label,
    axis_label,
    grid_behind,
    label_points,
    new_axes,
    other_units,
    pick,
    style,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes

    from drainpump.advice.candidate import Candidate
    from drainpump.advice.select import Selection

__all__ = ["pareto"]


def pareto(selection: Selection, ax: Axes | None = None, *, units: str = "us") -> Axes:
    """Draw every priced candidate's cost against its flow, and the front none beats.

    Parameters
    ----------
    selection : Selection
        Made with ``costs``.
    ax : matplotlib Axes, optional
        Where to draw; fresh axes by default.
    units : {"us", "metric"}, default "us"
        Unit system of the near flow axis; the far one shows the other.

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
        if c.cost is not None and np.isfinite([c.cost, c._flow]).all()
    ]
    if not shown:
        raise InputError("pareto: no candidate has both a price and a flow; give the pumps prices.")
    name = pick("flow", "gpm", units)
    unit = name[5:]
    ax = new_axes(ax)

    def spots(some: Sequence[Candidate]) -> list[tuple[float, float]]:
        return [(float(u.from_si(c._flow, unit)), float(c.cost or 0.0)) for c in some]

    for word, face in (("accepted", "black"), ("rejected", "white")):
        some = spots([c for c in shown if c.accepted == (word == "accepted")])
        ax.plot(
            [x for x, _ in some], [y for _, y in some], "o", ms=6, mec="black", mfc=face,
            gid=word, label=word,
        )  # fmt: skip
    ax.plot(
        [x for x, _ in spots(front)], [y for _, y in spots(front)], color=style(0).color, lw=1.6,
        gid="front", label="no other is both cheaper and stronger", zorder=1,
    )  # fmt: skip
    need = float(u.from_si(selection._need, unit))
    ax.axvline(need, color="0.4", ls="--", lw=1, gid="need", label="needed")
    currency = selection.costs.currency if selection.costs is not None else ""
    ax.set_xlabel(axis_label(name))
    ax.set_ylabel(f"Cost over the years ({currency or 'your currency'})")
    most = np.max([*spots(shown), (need, 0.0)], axis=0)
    ax.set_xlim(0, 1.08 * most[0])
    ax.set_ylim(0, 1.1 * most[1] or 1.0)
    other_units(ax, "x", name)
    grid_behind(ax)
    ax.legend(loc="lower right", fontsize=8.5, framealpha=0.9)
    words = [f"{c.pump.name}, {c.line.name}" for c in front]
    labels = [Label(*spot, text) for spot, text in zip(spots(front), words, strict=True)]
    label_points(ax, labels, markers=spots(shown))
    return ax
