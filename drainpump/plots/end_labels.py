"""Labels in a column at the right, one to each line's or segment's end, none on another."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from drainpump.plots.frame import fit_ticks, settle, wrapped
from drainpump.plots.label_column import in_column, stack
from drainpump.plots.labels import Label

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes

__all__ = ["label_ends"]


def label_ends(
    ax: Axes,
    labels: Sequence[Label],
    *,
    size: float = 8.5,
    ticks: tuple[Sequence[str], Sequence[str]] | None = None,
) -> None:
    """Write labels in a column right of their points, spread so that none covers another.

    The axes are widened to hold the column; a thin leader goes from each point to its
    text. The y limits have to be set before. ``ticks`` are names along the x axis, upright
    and slanted, see `fit_ticks`: what room they have is known when the column stands.
    """
    if not labels:
        if ticks is not None:
            fit_ticks(ax, *ticks)
        return
    notes: list[Any] = [
        ax.annotate(
            wrapped(label.text), (label.x, label.y), xytext=(1.0, 0.5), textcoords="axes fraction",
            fontsize=size, color=label.color, va="center", ha="right", parse_math=False,
            arrowprops={"arrowstyle": "-", "lw": 0.5, "color": label.color, "shrinkB": 2,
                        "relpos": (0.0, 0.5)},
            bbox={"boxstyle": "square,pad=0.1", "fc": "white", "ec": "none"}, zorder=6,
        )
        for label in labels
    ]  # fmt: skip
    up = ax.transData + ax.transAxes.inverted()
    want = [float(up.transform((x.x, x.y))[1]) for x in labels]
    in_column(ax, notes, want, gap=24)
    if ticks is not None:
        fit_ticks(ax, *ticks)
        # turned names may have taken height from the axes
        settle(ax)
        stack(ax, notes, want)
