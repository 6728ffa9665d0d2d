"""The one frame of all pictures: axes with units on both sides, styles that read in grey, words.

The only room that imports matplotlib for drawing is this folder, and it does so when a
picture is asked for. Nothing here touches matplotlib's global settings.
"""

from __future__ import annotations

from textwrap import fill
from typing import Any, NamedTuple
from weakref import WeakSet

import numpy as np

from drainpump import units as u
from drainpump.errors import DrainpumpWarning, InputError, warn, wrong
from drainpump.parts.scalars import yes_or_no
from drainpump.plots.page import PAPER, Axes, Line2D, fresh_axes, letters, scripts, suit, tint
from drainpump.results import check_units

#: where an Axes keeps the frame that was put on it
_KEPT = "_drainpump_frame"
#: width and height of axes (points) that a picture needs, its letters being of 10 points
_LEAST = (110.0, 75.0)


class PictureWarning(DrainpumpWarning):
    """A picture whose words cannot all be read at its size."""


class Style(NamedTuple):
    """Colour and dash of one line; neighbours differ in both lightness and dash."""

    color: str
    dash: Any = "solid"


#: colours safe for the colour-blind, dark and light in turn, each with its own dash
STYLES: tuple[Style, ...] = (
    Style("#004488"),
    Style("#aa3344", (0, (6, 2))),
    Style("#4d4d4d", (0, (2, 1.5))),
    Style("#7a5f00", (0, (8, 2, 2, 2))),
    Style("#117733", (0, (4, 1, 1, 1, 1, 1))),
    Style("#882255", (0, (1, 1))),
    Style("#33668f", (0, (10, 2))),
    Style("#000000", (0, (5, 1, 1, 1))),
)


def style(i: int) -> Style:
    """Return the style of the ``i``-th line; colour and dash fall out of step past the eighth."""
    n = len(STYLES)
    return Style(STYLES[i % n].color, STYLES[(i + i // n) % n].dash)


def refuse_arrays(where: str, held: Any) -> None:
    """Refuse inputs where they hold arrays or lists: a picture shows one case."""
    if held:
        raise InputError(
            f"{where}: the inputs hold arrays or lists; a plot shows one case, give scalars."
        )


def said(si: Any, unit: str, units: u.System | None = None) -> str:
    """Say one quantity to three digits, in the unit or its twin in the wanted system.

    >>> said(0.001623, "gpm", "metric")
    '1.62 L/s'
    """
    return u.text(si, unit if units is None else u.spelled(unit, check_units(units)))


class Label(NamedTuple):
    """A text to stand near a point, in SI as its frame takes it."""

    x: float
    y: float
    text: str
    color: str = "black"


class Scale(NamedTuple):
    """What an axis shows, and the unit it is read in: None for a plain number."""

    stem: str
    unit: str | None

    @property
    def label(self) -> str:
        """Words of the axis, the unit last."""
        words = (self.stem[:1].upper() + self.stem[1:]).replace("_", " ")
        return words if self.unit is None else f"{words} ({u.UNITS[self.unit].label})"

    @property
    def twin(self) -> Scale:
        """The same quantity in the other system."""
        return self if self.unit is None else Scale(self.stem, u.UNITS[self.unit].twin)

    def shown(self, si: Any) -> Any:
        """Numbers of the axis from SI."""
        return si if self.unit is None else u.from_si(si, self.unit)

    def said(self, si: Any) -> str:
        """One quantity in words."""
        return said(si, self.unit or "")


def scale(attribute: str, units: u.System) -> Scale:
    """Return the scale of an attribute in the wanted system: data and label from one name.

    >>> scale("flow_gpm", "metric").label, scale("starts_per_h", "us").label
    ('Flow (L/s)', 'Starts (/h)')
    """
    unit = u.suffix_of(attribute)
    if unit is None:
        check_units(units)
        return Scale(attribute, None)
    return Scale(attribute[: -len(unit) - 1], u.spelled(unit, check_units(units)))


class Frame:
    """Axes, what they show, and handles to what was drawn on them; it takes SI throughout.

    ``marks`` are what no label may cover, ``key`` the texts of a key at the right, and
    ``numbers`` the curves it names, each with its number.
    """

    def __init__(self, ax: Axes, x: Scale, y: Scale, twin: bool = True) -> None:
        self.ax, self.x, self.y = ax, x, y
        #: what its owner drew, and what already suits the page
        self._suited = WeakSet(ax.findobj())
        self.marks: list[Line2D] = []
        self.key: list[Any] = []
        self.numbers: list[tuple[Line2D, Any]] = []
        self._styled = 0
        self._spans: dict[str, tuple[float, float]] = {}
        if x.stem:
            ax.set_xlabel(x.label)
        if y.stem:
            ax.set_ylabel(y.label)
        far = ((ax.secondary_xaxis, "top", x), (ax.secondary_yaxis, "right", y))
        self.far = [_far(*one) for one in far if twin and one[2].twin != one[2]]

    @property
    def cleared(self) -> bool:
        """Whether the axes were emptied by their owner since."""
        return any(axis not in self.ax.child_axes for axis in self.far)

    def styles(self, count: int) -> list[Style]:
        """Return the styles of so many more curves, going on from those drawn before."""
        first, self._styled = self._styled, self._styled + count
        return [style(i) for i in range(first, self._styled)]

    def curve(self, x: Any, y: Any, look: Style, lw: float = 1.8, **more: Any) -> Line2D:
        """Draw a curve."""
        x, y = self.x.shown(x), self.y.shown(y)
        (line,) = self.ax.plot(x, y, color=look.color, ls=look.dash, lw=lw, **more)
        return line

    def mark(self, x: Any, y: Any, **more: Any) -> Line2D:
        """Draw hollow marks, which no label may cover, and keep them."""
        given: dict[str, Any] = {
            "marker": "o",
            "ls": "none",
            "ms": 7,
            "mfc": "white",
            "mec": "black",
            "mew": 1.6,
            "zorder": 5,
        }
        x, y = np.atleast_1d(self.x.shown(x)), np.atleast_1d(self.y.shown(y))
        (line,) = self.ax.plot(x, y, **given | more)
        self.marks.append(line)
        return line

    def area(self, x: Any, low: Any, high: Any, **look: Any) -> Any:
        """Fill between two curves."""
        low, high = self.y.shown(low), self.y.shown(high)
        return self.ax.fill_between(self.x.shown(x), low, high, **look)

    def across(self, y: Any, **look: Any) -> Line2D:
        """Draw a line at one height, right across."""
        return self.ax.axhline(float(self.y.shown(y)), **look)

    def upright(self, x: Any, **look: Any) -> Line2D:
        """Draw a line at one place, right up."""
        return self.ax.axvline(float(self.x.shown(x)), **look)

    def write(self, words: str, at: tuple[float, float], **more: Any) -> Any:
        """Write words at a point of what the axes show; with ``arrowprops``, led to it."""
        look: dict[str, Any] = {
            "fontsize": letters(), "va": "center", "parse_math": False, "bbox": PAPER, "zorder": 6,
            "fontfamily": scripts(words),
        }  # fmt: skip
        return self.ax.annotate(words, at, **look | more)

    def need(self, flow: Any) -> Line2D:
        """Draw the flow needed, named for a key."""
        look: dict[str, Any] = {"color": "black", "lw": 1.2, "ls": (0, (1, 1.5))}
        return self.upright(flow, **look, label=f"{self.x.said(flow)} needed")

    def limits(
        self, *, x: tuple[float, float] | None = None, y: tuple[float, float] | None = None
    ) -> None:
        """Set what the axes span, no less than an earlier picture on them asked for."""
        for axis, one, span in (("x", self.x, x), ("y", self.y, y)):
            if span is None:
                continue
            old = self._spans.get(axis, span)
            span = self._spans[axis] = min(span[0], old[0]), max(span[1], old[1])
            self.ax.set(**{f"{axis}lim": [one.shown(end) for end in span]})

    def settle(self) -> None:
        """Lay out the figure, so that its texts can be measured; whatever it is drawn to."""
        figure: Any = self.ax.figure.canvas.figure
        if (engine := figure.get_layout_engine()) is not None:
            engine.execute(figure)

    def points(self) -> tuple[float, float]:
        """Width and height of the axes in points."""
        box = self.ax.get_window_extent()
        return box.width / self.ax.figure.dpi * 72, box.height / self.ax.figure.dpi * 72

    def fitted(self, words: str, size: float, side: int = 0) -> str:
        """Break words of a size (points) into the lines that the axes' width (0) or height asks."""
        return wrapped(words, max(int(self.points()[side] / (0.52 * size)), 20))

    def title(self, words: str, size: float = 9.5) -> None:
        """Write a title at the left."""
        self.settle()
        words = self.fitted(words, letters(size))
        self.ax.set_title(words, fontsize=letters(size), loc="left", parse_math=False,
                          fontfamily=scripts(words))  # fmt: skip

    def done(self, least: tuple[float, float] = _LEAST) -> Axes:
        """Suit what was drawn to the page; warn where it has not the ``least`` room (points)."""
        ax, legend = self.ax, self.ax.get_legend()
        drawn: list[Any] = [*ax.lines, *ax.patches, *ax.collections, *ax.texts]
        drawn += [] if legend is None else legend.legend_handles
        suit(ax, [x for x in drawn if x not in self._suited])
        self._suited.update(drawn)
        for axis, side in (
            (x, i) for a in (ax, *self.far) for i, x in enumerate((a.xaxis, a.yaxis))
        ):
            words = axis.label.get_text()
            axis.set_label_text(self.fitted(words, letters(), side), parse_math=False)
        self.settle()
        room, least = self.points(), (letters(least[0]), letters(least[1]))
        if room[0] < least[0] or room[1] < least[1]:
            has, needs = (f"{u.number(w)} by {u.number(h)} points" for w, h in (room, least))
            warn(
                f"picture: its axes have {has}, and its words need {needs} to be read; give a "
                "larger figure, or twin=False.",
                PictureWarning,
            )
        return ax


def frame_on(
    ax: Axes | None,
    units: u.System,
    *,
    x: str = "",
    y: str = "",
    size: tuple[float, float] = (7.5, 5.0),
    grid: Any = "both",
    twin: bool = True,
) -> Frame:
    """Return the frame of ``ax``, or of fresh axes in a figure of their own.

    ``x`` and ``y`` are names of what is shown, the unit last; "" for an axis of plain
    places. A picture drawn on the axes of another joins its frame: its curves go on in
    their styles and numbers, the axes span both, and the far scales stand once.
    """
    across, up = scale(x, units), scale(y, units)
    yes_or_no("twin", twin)
    ax = axes_or_fresh(ax, size)
    kept = vars(ax).get(_KEPT)
    if kept is None or kept.cleared:
        kept = vars(ax)[_KEPT] = Frame(ax, across, up, twin)
        grid_behind(ax, grid)
    elif (kept.x, kept.y) != (across, up):
        # numbers of one unit on the scale of another would be read wrong
        raise wrong(
            "ax", ax, f"must show {up.label} against {across.label or 'places'}",
            f"it shows {kept.y.label} against {kept.x.label or 'places'}; give fresh axes",
        )  # fmt: skip
    return kept


def axes_or_fresh(ax: Axes | None, size: tuple[float, float]) -> Axes:
    """Return the axes given, or fresh ones in a figure of their own."""
    if ax is not None and not hasattr(ax, "set_ylim"):
        raise wrong("ax", ax, "must be matplotlib's Axes", "other inputs go before it or by name")
    return fresh_axes(size) if ax is None else ax


def _far(add: Any, side: str, near: Scale) -> Any:
    """Add a second scale in the twin unit."""
    ratio = near.twin.shown(1.0) / near.shown(1.0)
    there, back = (lambda x: np.asarray(x) * ratio), (lambda x: np.asarray(x) / ratio)
    axis = add(side, functions=(there, back))
    axis.set(**{"xlabel" if side == "top" else "ylabel": near.twin.label})
    return axis


def grid_behind(ax: Axes, axis: Any = "both", *, which: Any = "major") -> None:
    """Draw the family's faint grid behind everything."""
    ax.grid(True, which=which, axis=axis, color=tint(ax), lw=0.6)
    ax.set_axisbelow(True)


def wrapped(text: str, width: int = 34) -> str:
    """Break long lines, never between a number and its unit; breaks in the text stay.

    >>> wrapped("first pump: 26.9 gpm", 18)
    'first pump:\\n26.9 gpm'
    """
    kept = (u.together(line) for line in text.split("\n"))
    return "\n".join(fill(x, width, break_on_hyphens=False).replace("\xa0", " ") for x in kept)


def leader(color: str, **more: Any) -> dict[str, Any]:
    """Return keywords of the thin line that leads from a text to its point."""
    return {"arrowprops": {"arrowstyle": "-", "lw": 0.5, "color": color, "shrinkB": 2, **more}}


def extent(text: Any) -> Any:
    """Return the box of a text on the display, without the leader of an annotation."""
    from matplotlib.text import Text

    return Text.get_window_extent(text)
