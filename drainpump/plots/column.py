"""Texts beside and under a chart: a column at the right, names along the axis, a key below."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from drainpump.plots.frame import extent, wrapped
from drainpump.plots.page import PAPER, letters, scripts

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes

    from drainpump.plots.frame import Frame, Label

__all__ = ["key_below", "key_column", "label_ends"]

#: no text is written smaller than this, in points
_SMALLEST = 5.0
#: smallest letters (points) that names along an axis are written in before they are turned
_LEAST = 7.5
#: room above and below the column, as a share of the axes' height
_EDGE = 0.01


def label_ends(
    frame: Frame, labels: Sequence[Label], ticks: tuple[Sequence[str], Sequence[str]] | None = None
) -> None:
    """Write labels in a column right of their points, spread so that none covers another.

    The axes are widened to hold the column; a thin leader goes from each point to its
    text. The limits have to be set before. ``ticks`` are names of the places 0, 1, 2 ...
    along the x axis, upright and slanted: what room they have is known when the column
    stands.
    """
    ax = frame.ax
    ends = [(float(frame.x.shown(a.x)), float(frame.y.shown(a.y))) for a in labels]
    notes: list[Any] = [
        ax.annotate(
            wrapped(label.text), end, xytext=(1.0, 0.5), textcoords="axes fraction",
            fontsize=letters(), color=label.color, va="center", ha="right", parse_math=False,
            fontfamily=scripts(label.text),
            arrowprops={"arrowstyle": "-", "lw": 0.5, "color": label.color, "shrinkB": 2,
                        "relpos": (0.0, 0.5)},
            bbox=PAPER, zorder=6,
        )
        for label, end in zip(labels, ends, strict=True)
    ]  # fmt: skip
    up = ax.transData + ax.transAxes.inverted()
    want = [float(up.transform(end)[1]) for end in ends]
    _in_column(frame, notes, want, gap=24)
    if ticks is not None:
        _fit_ticks(frame, *ticks)
        # turned names may have taken height from the axes
        frame.settle()
        _stack(ax, notes, want)


def key_column(frame: Frame, labels: Sequence[Label]) -> None:
    """Write the labels' texts in a column at the right, numbered on from those there before."""
    frame.key += [
        frame.ax.text(
            1, 1, wrapped(f"{i}  {label.text}"), transform=frame.ax.transAxes, fontsize=letters(),
            color=label.color, va="center", parse_math=False, bbox=PAPER,
            fontfamily=scripts(label.text),
        )
        for i, label in enumerate(labels, len(frame.key) + 1)
    ]  # fmt: skip
    _in_column(frame, frame.key, [1.0 - 1e-3 * i for i in range(len(frame.key))], gap=6)


def key_below(frame: Frame, rows: int, handles: Sequence[Any]) -> None:
    """Write the legend of the handles into room of its own under the rows 0, 1, 2 ..."""
    labels = [str(x.get_label()) for x in handles]
    ax, (wide, high) = frame.ax, frame.points()
    long = [0.5 * letters() * len(x) + 45 for x in labels]
    abreast = sum(long) < wide
    share = min((letters(13.0) * (1 if abreast else len(labels)) + 14) / high, 0.5)
    ax.set_ylim(-0.55 + (rows + 0.1) / (1 - share), -0.55)
    size = letters() * min(wide / max(long), 1.0)
    ax.legend(handles=list(handles), fontsize=size, loc="lower center", framealpha=0.9,
              ncols=len(labels) if abreast else 1)  # fmt: skip


def _fit_ticks(frame: Frame, upright: Sequence[str], slanted: Sequence[str]) -> None:
    """Name the places 0, 1, 2 ... of the x axis, turned and small where they stand close."""
    left, right = frame.ax.get_xlim()
    room = frame.points()[0] / (right - left)
    wide = 0.55 * max(len(line) for text in upright for line in text.split("\n"))
    tall = 1.25 * max(text.count("\n") + 1 for text in slanted)
    most, least = letters(9.0), letters(_LEAST)
    upright_size, turned_size = min(most, (room - 4) / wide), min(most, room / tall)
    turn = upright_size < least
    steep = turned_size * 1.5 < least
    frame.ax.set_xticks(
        range(len(upright)), slanted if turn else upright, parse_math=False,
        fontsize=max(turned_size if turn else upright_size, _SMALLEST),
        fontfamily=scripts("".join(upright)), rotation=(90 if steep else 40) if turn else 0,
        rotation_mode="anchor" if turn else "default",
        ha="right" if turn else "center", va=("center" if steep else "top") if turn else "top",
    )  # fmt: skip


def _in_column(frame: Frame, notes: Sequence[Any], want: Sequence[float], *, gap: float) -> None:
    """Move the notes into a column, each near its wanted height (a share of the axes').

    The axes are widened to hold it, ``gap`` dots left of it; too long a column is written
    smaller.
    """
    if not notes:
        return
    for note in notes:
        note.set_in_layout(False)
    frame.settle()
    ax, whole = frame.ax, frame.ax.get_window_extent()
    boxes = [extent(note) for note in notes]
    high, wide = sum(b.height + 3 for b in boxes), max(b.width for b in boxes)
    shrink = min(whole.height / high, 0.45 * whole.width / wide, 1.0)
    if shrink < 1:
        for note in notes:
            note.set_fontsize(max(shrink * note.get_fontsize(), _SMALLEST))
        boxes = [extent(note) for note in notes]
    share = (max(b.width for b in boxes) + 8) / whole.width
    left, right = ax.get_xlim()
    ax.set_xlim(left, left + (right - left) / max(1 - share - gap / whole.width, 0.25))
    for note in notes:
        note.set_ha("left")
        note.set_position((1.0 - share, 0.5))
    _stack(ax, notes, want)


def _stack(ax: Axes, notes: Sequence[Any], want: Sequence[float]) -> None:
    """Move the notes of a column up or down, each near its wanted height."""
    whole = ax.get_window_extent().height
    heights = [(extent(note).height + 3) / whole for note in notes]
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
