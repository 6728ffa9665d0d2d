"""Which doubt moves the flow most: one bar an input, the largest swing on top."""

from __future__ import annotations

from typing import Any

import numpy as np

from drainpump import units as u
from drainpump.doubt.doubt import Doubt, Samples, middle
from drainpump.doubt.sensitivity import points_at, sensitivity
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.pump.bank import Pump
from drainpump.plots.causes import dress
from drainpump.plots.column import key_below
from drainpump.plots.frame import frame_on
from drainpump.plots.page import Axes, letters
from drainpump.solve.grid import make_grid


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
    need = u.maybe("need", guard="flow", gpm=need_gpm, lps=need_lps)
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
