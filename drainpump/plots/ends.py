"""Labels in a column at the right, one to each line's or segment's end, none on another."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from drainpump.plots.axes import Label

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["label_ends"]


def label_ends(ax: Axes, labels: Sequence[Label], *, size: float = 8.5) -> None:
    """Write labels in a column right of their points, spread so that none covers another.

    The axes are widened to hold the column; a thin leader goes from each point to its
    text. The y limits have to be set before.
    """
    if not labels:
        return
    figure = ax.figure
    figure.canvas.draw()
    renderer = figure.canvas.get_renderer()  # type: ignore[attr-defined]
    frame = ax.get_window_extent(renderer)
    notes: list[Any] = [
        ax.annotate(
            label.text, (label.x, label.y), xytext=(1.0, 0.5), textcoords="axes fraction",
            fontsize=size, color=label.color, va="center", ha="right",
            arrowprops={"arrowstyle": "-", "lw": 0.5, "color": label.color, "shrinkB": 2,
                        "relpos": (0.0, 0.5)},
            bbox={"boxstyle": "square,pad=0.1", "fc": "white", "ec": "none"}, zorder=6,
        )
        for label in labels
    ]  # fmt: skip
    from matplotlib.text import Text

    boxes = [Text.get_window_extent(note, renderer) for note in notes]
    wide = (max(b.width for b in boxes) + 8) / frame.width
    gap = 24 / frame.width  # room for the leaders
    left, right = ax.get_xlim()
    ax.set_xlim(left, left + (right - left) / max(1 - wide - gap, 0.3))
    want = [(ax.transData.transform((0, x.y))[1] - frame.y0) / frame.height for x in labels]
    high = [(b.height + 3) / frame.height for b in boxes]
    for note, y in zip(notes, _spread(want, high), strict=True):
        note.set_ha("left")
        note.set_position((1.0 - wide, y))


def _spread(want: Sequence[float], high: Sequence[float]) -> list[float]:
    """Centres near those wanted, each apart by its height, all within 0 to 1."""
    order = np.argsort(want, kind="stable")
    placed = np.zeros(len(want))
    top = 0.0
    for i in order:
        placed[i] = max(want[i], top + high[i] / 2)
        top = placed[i] + high[i] / 2
    bottom = 1.0
    for i in order[::-1]:
        placed[i] = min(placed[i], bottom - high[i] / 2)
        bottom = placed[i] - high[i] / 2
    return [float(y) for y in placed]
