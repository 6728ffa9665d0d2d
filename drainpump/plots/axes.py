"""What every plot shares: axes, units on both sides, styles that read in grey, labels.

The only rooms that import matplotlib are in this folder, and they do it when a plot is
asked for. Nothing here touches matplotlib's global settings.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from drainpump import units as u
from drainpump.results import check_units

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes

__all__ = [
    "STYLES",
    "Label",
    "Style",
    "axis_label",
    "grid_behind",
    "label_points",
    "new_axes",
    "other_units",
    "pick",
    "style",
]


class Style(NamedTuple):
    """Colour and dash of one line; neighbours differ in both lightness and dash."""

    color: str
    dash: Any


#: colours safe for the colour-blind, dark and light in turn, each with its own dash
STYLES: tuple[Style, ...] = tuple(
    Style(c, d)
    for c, d in (
        ("#004488", "solid"),
        ("#aa3344", (0, (6, 2))),
        ("#4d4d4d", (0, (2, 1.5))),
        ("#7a5f00", (0, (8, 2, 2, 2))),
        ("#117733", (0, (4, 1, 1, 1, 1, 1))),
        ("#882255", (0, (1, 1))),
        ("#33668f", (0, (10, 2))),
        ("#000000", (0, (5, 1, 1, 1))),
    )
)


def style(i: int) -> Style:
    """Return the style of the ``i``-th line; colour and dash fall out of step past the eighth."""
    n = len(STYLES)
    return Style(STYLES[i % n].color, STYLES[(i + i // n) % n].dash)


def new_axes(ax: Axes | None, *, size: tuple[float, float] = (7.5, 5.0)) -> Axes:
    """Return ``ax``, or fresh axes in a figure of their own."""
    if ax is not None:
        return ax
    import matplotlib.pyplot as plt

    return plt.subplots(figsize=size, layout="constrained")[1]


def axis_label(attribute: str, words: str | None = None) -> str:
    """Return the label of an axis from the attribute it shows.

    >>> axis_label("flow_gpm"), axis_label("starts_per_h"), axis_label("head_m", "total head")
    ('Flow (gpm)', 'Starts (/h)', 'Total head (m)')
    """
    unit = u.suffix_of(attribute)
    stem = words or (attribute if unit is None else attribute[: -len(unit) - 1]).replace("_", " ")
    stem = stem[:1].upper() + stem[1:]
    return stem if unit is None else f"{stem} ({u.UNITS[unit].label})"


def pick(stem: str, unit: str, units: str) -> str:
    """Return the attribute's name in the wanted system, e.g. ``flow_lps`` for "metric"."""
    wanted = u.UNITS[unit]
    if wanted.system not in ("both", check_units(units)):
        unit = wanted.twin
    return f"{stem}_{unit}"


def other_units(ax: Axes, axis: str, attribute: str, words: str | None = None) -> None:
    """Add a second scale in the twin unit: on top for "x", on the right for "y"."""
    unit = u.suffix_of(attribute)
    assert unit is not None
    twin = u.UNITS[unit].twin
    if twin == unit:
        return
    a, b = u.UNITS[unit], u.UNITS[twin]
    ratio, shift = a.factor / b.factor, (a.offset - b.offset) / b.factor

    def there(x: Any) -> Any:
        return np.asarray(x) * ratio + shift

    def back(x: Any) -> Any:
        return (np.asarray(x) - shift) / ratio

    label = axis_label(f"{attribute[: -len(unit) - 1]}_{twin}", words)
    if axis == "x":
        ax.secondary_xaxis("top", functions=(there, back)).set_xlabel(label)
    else:
        ax.secondary_yaxis("right", functions=(there, back)).set_ylabel(label)


def grid_behind(ax: Axes, axis: Any = "both", *, which: Any = "major") -> None:
    """Draw the family's faint grid behind everything."""
    ax.grid(True, which=which, axis=axis, color="0.9", lw=0.6)
    ax.set_axisbelow(True)


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
    """Write each label near its point so that none overlaps another or leaves the axes.

    Places are tried outwards from the point; a label that had to move gets a thin leader.
    ``markers`` are points (data coordinates) that no label may cover.
    """
    figure = ax.figure
    figure.canvas.draw()
    renderer = figure.canvas.get_renderer()  # type: ignore[attr-defined]
    frame = ax.get_window_extent(renderer)
    from matplotlib.transforms import Bbox

    taken: list[Any] = [
        Bbox.from_bounds(x - 4, y - 4, 8, 8) for x, y in map(ax.transData.transform, markers)
    ]
    step = size * 1.45
    tries = [(0.6 * step, 0.5 * step)]
    for ring in range(1, 14):
        for dx in (0.6 * step, -0.6 * step, 3 * step, -3 * step):
            tries += [(dx, ring * step), (dx, -ring * step)]
    for label in labels:
        note: Any = ax.annotate(
            label.text,
            (label.x, label.y),
            xytext=tries[0],
            textcoords="offset points",
            fontsize=size,
            color=label.color,
            va="center",
            arrowprops={"arrowstyle": "-", "lw": 0.5, "color": label.color, "shrinkB": 2},
            bbox={"boxstyle": "square,pad=0.1", "fc": "white", "ec": "none", "alpha": 0.75},
            zorder=6,
        )
        for dx, dy in tries:
            note.set_ha("left" if dx > 0 else "right")
            note.set_position((dx, dy))
            box = _text_box(note, renderer)
            inside = (
                box.x0 >= frame.x0 + 1
                and box.x1 <= frame.x1 - 1
                and box.y0 >= frame.y0 + 1
                and box.y1 <= frame.y1 - 1
            )
            if inside and not any(box.overlaps(other) for other in taken):
                break
        taken.append(box)


def _text_box(note: Any, renderer: Any) -> Any:
    """Extent of an annotation's text alone, without its leader."""
    from matplotlib.text import Text

    note.update_positions(renderer)
    return Text.get_window_extent(note, renderer).padded(1.5)
