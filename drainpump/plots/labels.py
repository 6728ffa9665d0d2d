"""Labels that cover neither each other nor the curves: near points, or as numbers with a key."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from drainpump.plots.frame import Frame, Label, extent, leader, wrapped
from drainpump.plots.margins import key_column
from drainpump.plots.page import PAPER, letters

#: above this many curves they carry numbers, and their names go into a key
MANY = 6
#: points of width below which axes get smaller labels
_WIDE = 330.0
#: a point of a curve is looked at every so many dots
_GRAIN = 4.0
#: points that a number keeps from other numbers and marks; half of them from the frame
_CLEAR = 14.0
#: how much a label dislikes a covered point of a curve, and a leader across another's mark or
#: leader, against being one place further out
_INK, _CROSSED = 6.0, 100.0


def label_points(frame: Frame, labels: Sequence[Label]) -> None:
    """Write each label near its point, within the axes and clear of the other labels.

    Places are tried outwards from the point, those that cover no curve first; a label
    that had to move away gets a thin leader, which crosses no other mark or leader where it
    can be helped. No label covers a mark.
    """
    ax = frame.ax
    frame.settle()
    dot = ax.figure.dpi / 72
    # smaller in narrow axes
    size = letters() * min(max(frame.points()[0] / _WIDE, 0.75), 1.0)
    inside = ax.get_window_extent().extents
    marks = np.concatenate([np.zeros((0, 2)), *(_ink(mark) for mark in frame.marks)])
    taken = [np.concatenate([m - 4, m + 4]) for m in marks]
    taken += [_text_box(t) for t in ax.texts]
    legend = ax.get_legend()
    if legend is not None:
        taken.append(np.array(legend.get_window_extent().extents))
    ink = np.concatenate([np.zeros((0, 2)), *(_ink(line) for line in ax.lines)])
    step, led = size * 1.45 * dot, np.zeros((0, 2))
    for label in labels:
        at = float(frame.x.shown(label.x)), float(frame.y.shown(label.y))
        note = frame.write(
            wrapped(label.text), at, xytext=(0, 0), textcoords="offset points", fontsize=size,
            color=label.color, bbox=PAPER | {"alpha": 0.75}, **leader(label.color),
        )  # fmt: skip
        note.set_in_layout(False)
        box = _text_box(note)
        point = ax.transData.transform(at)
        boxes = _places(point, box[2:] - box[:2], step, inside)
        others = marks[np.hypot(*(marks - point).T) > 2]
        cost = _cost(boxes, np.reshape(taken, (-1, 4)), ink, inside)
        cost += _CROSSED * _near_leaders(point, boxes, np.concatenate([others, led]), 5 * dot)
        best = boxes[np.argmin(cost)]
        middle = (best[1] + best[3]) / 2
        note.set_position(((best[0] + 1.5 - point[0]) / dot, (middle - point[1]) / dot))
        near = _gaps(best, np.vstack([point, others]))
        # beside its own point, and no other nearer, it needs no leader
        far = bool(near[0] > 0.8 * step or near[0] > near.min())
        note.arrow_patch.set_visible(far)
        taken.append(best)
        if far:
            led = np.concatenate([led, np.linspace(point, (best[:2] + best[2:]) / 2, 40)])


def name_curves(
    frame: Frame,
    curves: Sequence[Any],
    names: Sequence[Label],
    *,
    before: Sequence[Label] = (),
    after: Sequence[Label] = (),
) -> None:
    """Write each curve's name at its place, or, where they are many, a number and a key.

    ``before`` and ``after`` are other labels; the first written have the most room. The
    limits have to be set before: a key is a column at the right, for which the axes are
    widened.
    """
    if len(curves) > MANY:
        first = len(frame.key) + 1
        key_column(frame, names)
        for i, (curve, name) in enumerate(zip(curves, names, strict=True), first):
            note = frame.write(str(i), (0, 0), color=name.color, ha="center", annotation_clip=False)
            note.set_in_layout(False)
            frame.numbers.append((curve, note))
        _place_numbers(frame)
        names = ()
    label_points(frame, [*before, *names, *after])


def _place_numbers(frame: Frame) -> None:
    """Move the number of each curve to where the curve stands clearest.

    All of them: what an earlier picture numbered stands elsewhere in a wider span.
    """
    from scipy.spatial import KDTree

    ax = frame.ax
    lines = list(ax.lines)
    inks = [_ink(line) for line in lines]
    room = _CLEAR * ax.figure.dpi / 72
    inside = ax.get_window_extent().padded(-room / 2).extents
    kept = [dots for mark in frame.marks for dots in _ink(mark)]
    whose = np.repeat(np.arange(len(lines)), [len(ink) for ink in inks])
    # one tree for all: of a dot's neighbours so many at most are of its own curve
    tree, most = KDTree(np.concatenate(inks)), int(8 * room / _GRAIN) + 8
    for curve, note in frame.numbers:
        number = lines.index(curve)
        own = inks[number]
        own = own[((own > inside[:2]) & (own < inside[2:])).all(axis=1)]
        note.set_visible(bool(len(own)))
        if not len(own):
            continue
        far, near = tree.query(own, k=most, distance_upper_bound=2 * room)
        other = np.append(whose, number)[near] != number
        clear = np.where(other, np.minimum(far, 2 * room), 2 * room).min(axis=1)
        # close to another number it could not be read, whatever else
        apart = np.linalg.norm(own[:, None] - np.reshape(kept, (-1, 2)), axis=-1)
        close = apart.min(axis=1, initial=np.inf) < room
        at = own[np.argmax(np.where(close, clear - 1e6, clear))]
        kept.append(at)
        note.set_position(ax.transData.inverted().transform(at))


def _ink(line: Any) -> Any:
    """Dots of the display that a drawn line goes through, one every `_GRAIN` or its marks."""
    dots = line.get_transform().transform(line.get_xydata())
    dots = dots[np.isfinite(dots).all(axis=1)]
    if len(dots) < 2 or line.get_linestyle() == "None":
        return dots
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(dots, axis=0).T))])
    at = np.linspace(0, along[-1], min(int(along[-1] / _GRAIN) + 2, 4000))
    return np.column_stack([np.interp(at, along, dots[:, k]) for k in (0, 1)])


def _gaps(box: Any, dots: Any) -> Any:
    """Distance of each dot to a box, 0 within it."""
    return np.hypot(*np.maximum(np.maximum(box[:2] - dots, dots - box[2:]), 0.0).T)


def _places(point: Any, size: Any, step: float, inside: Any) -> Any:
    """Boxes (n, 4) to try, nearest first, pushed sideways into the frame."""
    tries = [(x, y) for y in (0.5, -0.5) for x in (0.6, -0.6)]
    for ring in range(1, 18):
        for dx in (0.6, -0.6, 3.0, -3.0):
            tries += [(dx, 0.8 * ring), (dx, -0.8 * ring)]
    offset = np.array(tries) * step
    x = point[0] + np.where(offset[:, 0] > 0, offset[:, 0], offset[:, 0] - size[0])
    x = np.maximum(np.minimum(x, inside[2] - 1 - size[0]), inside[0] + 1)
    y = point[1] + offset[:, 1] - size[1] / 2
    return np.column_stack([x, y, x + size[0], y + size[1]])


def _cost(boxes: Any, taken: Any, ink: Any, inside: Any) -> Any:
    """What speaks against each box: out of the frame, on a text or mark, on curves, far."""
    out = (boxes[:, 1] < inside[1] + 1) | (boxes[:, 3] > inside[3] - 1) | (boxes[:, 2] > inside[2])
    b, t = boxes[:, None], taken[None]
    clash = (b[..., :2] < t[..., 2:]).all(-1) & (t[..., :2] < b[..., 2:]).all(-1)
    covered = ((ink >= b[..., :2]) & (ink <= b[..., 2:])).all(-1).sum(-1)
    return 1e6 * (out + clash.sum(-1)) + _INK * covered + np.arange(len(boxes))


def _near_leaders(point: Any, boxes: Any, dots: Any, room: float) -> Any:
    """Whether the leader from a point to each box (n, 4) comes within ``room`` of a dot."""
    way = (boxes[:, :2] + boxes[:, 2:]) / 2 - point
    off = (dots - point)[np.hypot(*(dots - point).T) > room]
    along = np.clip(off @ way.T / (way**2).sum(-1), 0.0, 1.0)  # (dots, n)
    return (np.hypot(*np.moveaxis(off[:, None] - along[..., None] * way, -1, 0)) < room).any(0)


def _text_box(note: Any) -> Any:
    """Extent (x0, y0, x1, y1) of a text with a little air."""
    return extent(note).padded(1.5).extents
