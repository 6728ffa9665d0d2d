"""Texts beside and under a chart: a column at the right, names along the axis, a key below."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from drainpump.plots.frame import Frame, Label, extent, leader, wrapped
from drainpump.plots.page import Axes, letters, scripts

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
    notes, want = _led(frame, labels, 0.0)
    _in_column(frame, notes, want, gap=24)
    if ticks is not None:
        _fit_ticks(frame, *ticks)
        # turned names may have taken height from the axes
        frame.settle()
        _stack(ax, notes, want)


def label_left(frame: Frame, labels: Sequence[Label], x: float) -> None:
    """Write labels in a column that ends left of ``x`` (m), in the order of their points.

    The axes are widened to the left to hold it.
    """
    notes, want = _led(frame, labels, 1.0)
    if not notes:
        return
    wide = _measured(frame, notes)
    (left, right), there = frame.ax.get_xlim(), float(frame.x.shown(x))
    left = min(left, there - wide / (1 - wide) * (right - there))
    frame.ax.set_xlim(left, right)
    for note in notes:
        note.set_position(((there - left) / (right - left), 0.5))
    _stack(frame.ax, notes, want)


def _measured(frame: Frame, notes: Sequence[Any]) -> float:
    """Width of a column of texts as a share of the axes'; too large a one is written smaller."""
    for note in notes:
        note.set_in_layout(False)
    frame.settle()
    whole = frame.ax.get_window_extent()
    boxes = [extent(note) for note in notes]
    high, wide = sum(b.height + 3 for b in boxes), max(b.width for b in boxes)
    shrink = min(whole.height / high, 0.45 * whole.width / wide, 1.0)
    if shrink < 1:
        for note in notes:
            note.set_fontsize(max(shrink * note.get_fontsize(), _SMALLEST))
    return float((max(extent(note).width for note in notes) + 8) / whole.width)


def _led(frame: Frame, labels: Sequence[Label], end: float) -> tuple[list[Any], list[float]]:
    """Texts led to their points from their left or right ``end``, and the heights of these."""
    ax = frame.ax
    ends = [(float(frame.x.shown(a.x)), float(frame.y.shown(a.y))) for a in labels]
    notes: list[Any] = [
        frame.write(
            wrapped(label.text), point, xytext=(1.0, 0.5), textcoords="axes fraction", ha="right",
            color=label.color, **leader(label.color, relpos=(end, 0.5)),
        )
        for label, point in zip(labels, ends, strict=True)
    ]  # fmt: skip
    up = ax.transData + ax.transAxes.inverted()
    return notes, [float(up.transform(point)[1]) for point in ends]


def key_column(frame: Frame, labels: Sequence[Label]) -> None:
    """Write the labels' texts in a column at the right, numbered on from those there before."""
    frame.key += [
        frame.write(
            wrapped(f"{i}  {label.text}"), (1, 1), xycoords="axes fraction", color=label.color
        )
        for i, label in enumerate(labels, len(frame.key) + 1)
    ]
    _in_column(frame, frame.key, [1.0 - 1e-3 * i for i in range(len(frame.key))], gap=6)


def key_below(frame: Frame, rows: int, handles: Sequence[Any]) -> Axes:
    """Write the legend of the handles into room of its own under the rows; the picture is done."""
    wide, high = frame.points()
    abreast = sum(_legend_width(handles)) < wide
    lines = 1 if abreast else len(handles)
    share = min(letters(14.0 * lines + 16) / high, 0.7)
    frame.ax.set_ylim(-0.55 + (rows + 0.1) / (1 - share), -0.55)
    legend(frame, handles, "lower center", abreast)
    return frame.done((110.0, 14.0 * lines + 16 + 9.0 * rows))


def legend(frame: Frame, handles: Sequence[Any], at: Any, abreast: bool = False) -> None:
    """Write the legend of the handles, one below the other or abreast, no wider than the axes."""
    wide = (sum if abreast else max)(_legend_width(handles))
    size = letters() * min(frame.points()[0] / wide, 1.0)
    frame.ax.legend(handles=list(handles), fontsize=size, loc=at, framealpha=0.9,
                    ncols=len(handles) if abreast else 1).set_in_layout(False)  # fmt: skip


def _legend_width(handles: Sequence[Any]) -> list[float]:
    """Width of each row of a legend, in points."""
    return [0.52 * letters() * len(str(x.get_label())) + 48 for x in handles]


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

    The axes are widened to hold it, ``gap`` dots left of it.
    """
    if not notes:
        return
    share, ax = _measured(frame, notes), frame.ax
    left, right = ax.get_xlim()
    wide = ax.get_window_extent().width
    ax.set_xlim(left, left + (right - left) / max(1 - share - gap / wide, 0.25))
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
