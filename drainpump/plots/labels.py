"""Labels that cover neither each other nor the curves: near points, or as numbers with a key."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from drainpump.plots.frame import label_size, settle, wrapped
from drainpump.plots.label_column import in_column

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes

__all__ = ["MANY", "Label", "key_column", "label_points", "number_curves"]

#: above this many curves they carry numbers, and their names go into a key
MANY = 6
#: a point of a curve is looked at every so many dots
_GRAIN = 4.0
#: points that a number keeps from other numbers and marks; half of them from the frame
_CLEAR = 14.0
#: how much a label dislikes a covered point of a curve, against being one place further out
_INK = 6.0


class Label(NamedTuple):
    """A text to stand near a point, in data coordinates."""

    x: float
    y: float
    text: str
    color: str = "black"


def label_points(
    ax: Axes,
    labels: Sequence[Label],
    *,
    markers: Sequence[tuple[float, float]] = (),
    size: float = 8.5,
) -> None:
    """Write each label near its point, within the axes and clear of the other labels.

    Places are tried outwards from the point, those that cover no curve first; a label
    that had to move away gets a thin leader. ``markers`` are points (data coordinates)
    that no label may cover.
    """
    settle(ax)
    dot = ax.figure.dpi / 72
    size = label_size(ax, size)
    frame = ax.get_window_extent().extents
    marks = np.reshape(ax.transData.transform(markers) if len(markers) else [], (-1, 2))
    taken = [np.concatenate([m - 4, m + 4]) for m in marks]
    taken += [_text_box(t) for t in ax.texts]
    legend = ax.get_legend()
    if legend is not None:
        taken.append(np.array(legend.get_window_extent().extents))
    ink = np.concatenate([np.zeros((0, 2)), *(_ink(line) for line in ax.lines)])
    step = size * 1.45 * dot
    for label in labels:
        note: Any = ax.annotate(
            wrapped(label.text),
            (label.x, label.y),
            xytext=(0, 0),
            textcoords="offset points",
            fontsize=size,
            color=label.color,
            va="center",
            arrowprops={"arrowstyle": "-", "lw": 0.5, "color": label.color, "shrinkB": 2},
            bbox={"boxstyle": "square,pad=0.1", "fc": "white", "ec": "none", "alpha": 0.75},
            zorder=6,
            parse_math=False,
        )
        note.set_in_layout(False)
        box = _text_box(note)
        point = ax.transData.transform((label.x, label.y))
        boxes = _places(point, box[2:] - box[:2], step, frame)
        best = boxes[np.argmin(_cost(boxes, np.reshape(taken, (-1, 4)), ink, frame))]
        middle = (best[1] + best[3]) / 2
        note.set_position(((best[0] + 1.5 - point[0]) / dot, (middle - point[1]) / dot))
        others = marks[np.hypot(*(marks - point).T) > 2]
        near = _gaps(best, np.vstack([point, others]))
        # beside its own point, and no other nearer, it needs no leader
        note.arrow_patch.set_visible(bool(near[0] > 0.8 * step or near[0] > near.min()))
        taken.append(best)


def number_curves(
    ax: Axes,
    curves: Sequence[Any],
    labels: Sequence[Label],
    *,
    markers: Sequence[tuple[float, float]] = (),
    size: float = 8.5,
) -> None:
    """Write a number on each curve where it stands clearest, and a key of the labels' texts.

    The key is a column at the right, for which the axes are widened; the limits have to
    be set before.
    """
    key_column(ax, labels, size=size)
    ink = [_ink(line) for line in ax.lines]
    room = _CLEAR * ax.figure.dpi / 72
    frame = ax.get_window_extent().padded(-room / 2).extents
    kept = list(ax.transData.transform(markers)) if len(markers) else []
    for i, (curve, label) in enumerate(zip(curves, labels, strict=True), 1):
        own = _ink(curve)
        own = own[((own > frame[:2]) & (own < frame[2:])).all(axis=1)]
        if not len(own):
            continue
        others = [p for p, line in zip(ink, ax.lines, strict=True) if line is not curve and len(p)]
        clear = np.minimum(_distance(own, others), 2 * room)
        # close to another number it could not be read, whatever else
        at = own[np.argmax(np.where(_distance(own, kept) < room, clear - 1e6, clear))]
        kept.append(at)
        x, y = ax.transData.inverted().transform(at)
        ax.text(
            x, y, str(i), color=label.color, fontsize=size, ha="center", va="center", zorder=6,
            bbox={"boxstyle": "square,pad=0.1", "fc": "white", "ec": "none"}, gid="number",
        ).set_in_layout(False)  # fmt: skip


def key_column(ax: Axes, labels: Sequence[Label], *, size: float = 8.5) -> None:
    """Write the labels' texts, numbered from 1, in a column at the right."""
    notes = [
        ax.text(
            1, 1, wrapped(f"{i}  {label.text}"), transform=ax.transAxes, fontsize=size,
            color=label.color, va="center", parse_math=False, gid="key",
            bbox={"boxstyle": "square,pad=0.1", "fc": "white", "ec": "none"},
        )
        for i, label in enumerate(labels, 1)
    ]  # fmt: skip
    in_column(ax, notes, [1.0 - 1e-3 * i for i in range(len(notes))], gap=6)


def _distance(points: Any, others: Sequence[Any]) -> Any:
    """Distance of each point to the nearest of the others, inf where there are none."""
    if not others:
        return np.full(len(points), np.inf)
    from scipy.spatial import KDTree

    return KDTree(np.concatenate([np.reshape(x, (-1, 2)) for x in others])).query(points)[0]


def _ink(line: Any) -> Any:
    """Dots of the display that a drawn line goes through, one every `_GRAIN` or its marks."""
    dots = line.get_transform().transform(line.get_xydata())
    dots = dots[np.isfinite(dots).all(axis=1)]
    if len(dots) < 2 or line.get_linestyle() == "None":
        return dots
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(dots, axis=0).T))])
    at = np.linspace(0, along[-1], min(int(along[-1] / _GRAIN) + 2, 4000))
    return np.column_stack([np.interp(at, along, dots[:, k]) for k in (0, 1)])


def _gaps(box: Any, points: Any) -> Any:
    """Distance of each point to a box, 0 within it."""
    return np.hypot(*np.maximum(np.maximum(box[:2] - points, points - box[2:]), 0.0).T)


def _places(point: Any, size: Any, step: float, frame: Any) -> Any:
    """Boxes (n, 4) to try, nearest first, pushed sideways into the frame."""
    tries = [(x, y) for y in (0.5, -0.5) for x in (0.6, -0.6)]
    for ring in range(1, 18):
        for dx in (0.6, -0.6, 3.0, -3.0):
            tries += [(dx, 0.8 * ring), (dx, -0.8 * ring)]
    offset = np.array(tries) * step
    x = point[0] + np.where(offset[:, 0] > 0, offset[:, 0], offset[:, 0] - size[0])
    x = np.maximum(np.minimum(x, frame[2] - 1 - size[0]), frame[0] + 1)
    y = point[1] + offset[:, 1] - size[1] / 2
    return np.column_stack([x, y, x + size[0], y + size[1]])


def _cost(boxes: Any, taken: Any, ink: Any, frame: Any) -> Any:
    """What speaks against each box: out of the frame, on a text or mark, on curves, far."""
    out = (boxes[:, 1] < frame[1] + 1) | (boxes[:, 3] > frame[3] - 1) | (boxes[:, 2] > frame[2])
    b, t = boxes[:, None], taken[None]
    clash = (b[..., :2] < t[..., 2:]).all(-1) & (t[..., :2] < b[..., 2:]).all(-1)
    covered = ((ink >= b[..., :2]) & (ink <= b[..., 2:])).all(-1).sum(-1)
    return 1e6 * (out + clash.sum(-1)) + _INK * covered + np.arange(len(boxes))


def _text_box(note: Any) -> Any:
    """Extent (x0, y0, x1, y1) of an annotation's text alone, without its leader."""
    from matplotlib.text import Text

    return Text.get_window_extent(note).padded(1.5).extents
