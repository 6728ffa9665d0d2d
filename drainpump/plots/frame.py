"""What every plot shares: axes, units on both sides, styles that read in grey, words.

The only rooms that import matplotlib are in this folder, and they do it when a plot is
asked for. Nothing here touches matplotlib's global settings.
"""

from __future__ import annotations

import re
from textwrap import fill
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from drainpump import units as u
from drainpump.errors import wrong
from drainpump.results import check_units

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.axes import Axes

__all__ = [
    "STYLES",
    "Style",
    "axis_label",
    "fit_ticks",
    "flow_said",
    "grid_behind",
    "head_line",
    "key_below",
    "label_size",
    "letters",
    "new_axes",
    "other_units",
    "pick",
    "points",
    "settle",
    "style",
    "wrapped",
]


#: smallest letters (points) that names along an axis are written in before they are turned
_LEAST = 7.5
#: points of width below which axes get smaller labels
_WIDE = 330.0


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
        if not hasattr(ax, "set_ylim"):
            raise wrong(
                "ax", ax, "must be matplotlib's Axes", "other inputs go before it or by name"
            )
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


def wrapped(text: str, width: int = 34) -> str:
    """Break long lines, never between a number and its unit; breaks in the text stay.

    >>> wrapped("first pump: 26.9 gpm", 18)
    'first pump:\\n26.9 gpm'
    """
    kept = (re.sub(r"(?<=\d) (?=[^\d\s])", "\xa0", line) for line in text.split("\n"))
    return "\n".join(fill(x, width, break_on_hyphens=False).replace("\xa0", " ") for x in kept)


def settle(ax: Axes) -> None:
    """Lay out the figure, so that its texts can be measured; whatever it is drawn to."""
    figure: Any = ax.figure.canvas.figure
    figure.draw_without_rendering()


def points(ax: Axes) -> tuple[float, float]:
    """Return width and height of the axes in points."""
    box = ax.get_window_extent()
    return box.width / ax.figure.dpi * 72, box.height / ax.figure.dpi * 72


def label_size(ax: Axes, size: float = 8.5) -> float:
    """Return the size of labels, smaller in narrow axes."""
    return size * min(max(points(ax)[0] / _WIDE, 0.75), 1.0)


def letters(ax: Axes, size: float) -> int:
    """Return how many letters of a size (points) the width of the axes holds."""
    return max(int(points(ax)[0] / (0.52 * size)), 20)


def fit_ticks(ax: Axes, upright: Sequence[str], slanted: Sequence[str]) -> None:
    """Name the places 0, 1, 2 ... of the x axis, turned and small where they stand close.

    The x limits have to be set before.
    """
    left, right = ax.get_xlim()
    room = points(ax)[0] / (right - left)
    wide = 0.55 * max(len(line) for text in upright for line in text.split("\n"))
    tall = 1.25 * max(text.count("\n") + 1 for text in slanted)
    upright_size, turned_size = min(9.0, (room - 4) / wide), min(9.0, room / tall)
    turn = upright_size < _LEAST
    steep = turned_size * 1.5 < _LEAST
    ax.set_xticks(
        range(len(upright)), slanted if turn else upright, parse_math=False,
        fontsize=max(turned_size if turn else upright_size, 5.0),
        rotation=(90 if steep else 40) if turn else 0,
        rotation_mode="anchor" if turn else "default",
        ha="right" if turn else "center", va=("center" if steep else "top") if turn else "top",
    )  # fmt: skip


def key_below(ax: Axes, rows: int) -> None:
    """Write the legend into room of its own under the rows 0, 1, 2 ... of a chart."""
    handles, labels = ax.get_legend_handles_labels()
    wide, high = points(ax)
    abreast = sum(0.5 * 8.5 * len(x) + 45 for x in labels) < wide
    share = min((13.0 * (1 if abreast else len(labels)) + 14) / high, 0.5)
    ax.set_ylim(-0.55 + (rows + 0.1) / (1 - share), -0.55)
    ax.legend(handles, labels, fontsize=8.5, loc="lower center", framealpha=0.9,
              ncols=len(labels) if abreast else 1)  # fmt: skip


def head_line(ax: Axes, words: str, *, size: float = 9.5) -> None:
    """Write a title at the left, in as many lines as the width of the axes asks."""
    ax.set_title(wrapped(words, letters(ax, size)), fontsize=size, loc="left", parse_math=False)


#: what is said of a flow by its status
_FLOWS = {
    "ok": "{}",
    "no_flow": "no flow",
    "beyond_curve": "at least {}",
    "below_curve": "at most {}",
}


def flow_said(flow: Any, status: Any, unit: str) -> str:
    """Say a flow (m³/s), or the bound of it, by its status.

    >>> flow_said(0.001, "beyond_curve", "lps"), flow_said(0.0, "no_flow", "lps")
    ('at least 1 L/s', 'no flow')
    """
    return _FLOWS.get(str(status), "flow not known").format(u.text(flow, unit))
