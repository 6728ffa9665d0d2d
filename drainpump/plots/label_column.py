"""Texts in a column at the right of the axes, none on another."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from drainpump.plots.frame import settle

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes

__all__ = ["in_column", "stack"]

#: no text is written smaller than this, in points
_SMALLEST = 5.0
#: room above and below the column, as a share of the axes' height
_EDGE = 0.01


def in_column(ax: Axes, notes: Sequence[Any], want: Sequence[float], *, gap: float) -> None:
    """Move the notes into a column, each near its wanted height (a share of the axes').

    The axes are widened to hold it, ``gap`` dots left of it; too long a column is written
    smaller. The y limits have to be set before.
    """
    from matplotlib.text import Text

    for note in notes:
        note.set_in_layout(False)
    settle(ax)
    frame = ax.get_window_extent()
    boxes = [Text.get_window_extent(note) for note in notes]
    high, wide = sum(b.height + 3 for b in boxes), max(b.width for b in boxes)
    shrink = min(frame.height / high, 0.45 * frame.width / wide, 1.0)
    if shrink < 1:
        for note in notes:
            note.set_fontsize(max(shrink * note.get_fontsize(), _SMALLEST))
        boxes = [Text.get_window_extent(note) for note in notes]
    share = (max(b.width for b in boxes) + 8) / frame.width
    left, right = ax.get_xlim()
    ax.set_xlim(left, left + (right - left) / max(1 - share - gap / frame.width, 0.25))
    for note in notes:
        note.set_ha("left")
        note.set_position((1.0 - share, 0.5))
    stack(ax, notes, want)


def stack(ax: Axes, notes: Sequence[Any], want: Sequence[float]) -> None:
    """Move the notes of a column up or down, each near its wanted height."""
    from matplotlib.text import Text

    whole = ax.get_window_extent().height
    heights = [(Text.get_window_extent(note).height + 3) / whole for note in notes]
    for note, y in zip(notes, _spread(want, heights), strict=True):
        note.set_position((note.get_position()[0], y))


def _spread(want: Sequence[float], high: Sequence[float]) -> list[float]:
    """Centres near those wanted, each apart by its height, all within the frame."""
    order = np.argsort(want, kind="stable")
    placed = np.zeros(len(want))
    top = _EDGE
    for i in order:
        placed[i] = max(want[i], top + high[i] / 2)
        top = placed[i] + high[i] / 2
    bottom = 1.0 - _EDGE
    for i in order[::-1]:
        placed[i] = min(placed[i], bottom - high[i] / 2)
        bottom = placed[i] - high[i] / 2
    return [float(y) for y in placed]
