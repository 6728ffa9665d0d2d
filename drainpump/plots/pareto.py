"""Cost against flow: which candidates no other beats in both."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from drainpump import units as u
from drainpump.errors import InputError
from drainpump.plots.frame import (
    axis_label,
    grid_behind,
    label_size,
    new_axes,
    other_units,
    pick,
    style,
)
from drainpump.plots.labels import MANY, Label, key_column, label_points

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes

    from drainpump.choose.candidate import Candidate
    from drainpump.choose.select import Selection

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
    need = float(u.from_si(selection._need.si, unit))
    ax.axvline(need, color="0.4", ls="--", lw=1, gid="need",
               label=f"{u.text(selection._need.si, unit)} needed")  # fmt: skip
    currency = selection.costs.currency if selection.costs is not None else ""
    ax.set_xlabel(axis_label(name))
    ax.set_ylabel(f"Cost over the years ({currency or 'your currency'})", parse_math=False)
    x, y = np.array([*spots(shown), (need, np.nan)]).T
    ax.set_xlim(0, 1.08 * np.max(x))
    # the costs fill the upper part, the key stands below them
    low, high = float(np.nanmin(y)), float(np.nanmax(y))
    spread = max(high - low, 0.1 * high) or 1.0
    ax.set_ylim(max(low - 0.9 * spread, min(low, 0.0)), high + 0.3 * spread)
    other_units(ax, "x", name)
    grid_behind(ax)
    ax.legend(loc="lower left", fontsize=label_size(ax), framealpha=0.9)
    words = [f"{c.pump.name}, {c.line.name}" for c in front]
    labels = [Label(*spot, text) for spot, text in zip(spots(front), words, strict=True)]
    if len(front) > MANY:
        key_column(ax, labels)
        labels = [x._replace(text=str(i)) for i, x in enumerate(labels, 1)]
    label_points(ax, labels, markers=spots(shown))
    return ax
