"""The page a picture stands on: its figure, its letters, and the paper its colours have to suit.

Pictures are drawn for white paper and letters of 10 points. What the page has instead
(slides, a dark ground, names in another script) is met here, and nowhere else.
"""

from __future__ import annotations

import io
import os
from collections.abc import Callable
from colorsys import hls_to_rgb, rgb_to_hls
from functools import lru_cache
from typing import IO, TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.axes import Axes as Axes
    from matplotlib.lines import Line2D as Line2D
else:  # for type checkers alone: matplotlib is imported when a picture is drawn
    Axes = Line2D = Any


#: the ground that texts over curves are written on; it becomes that of the axes
PAPER = {"boxstyle": "square,pad=0.1", "fc": "white", "ec": "none"}
#: backends that write files and show nothing
_FILES = {"agg", "cairo", "pdf", "pgf", "ps", "svg", "template"}
#: how an artist's colours are read and set, each by its name
_COLORS = ("color", "facecolor", "edgecolor", "markerfacecolor", "markeredgecolor")
#: size (points) the pictures' letters are written for, matplotlib's own
_LETTERS = 10.0
#: dots an inch of a picture written as a file
_DPI = 160
#: how much ink is in the grid's lines
_FAINT = 0.1


def fresh_axes(size: tuple[float, float]) -> Axes:
    """Return axes in a figure of their own for a picture, its size that of 10-point letters.

    A window or a notebook shows and closes its figures. Where nothing can be shown pyplot
    keeps the last one alone, as its current figure, so that pictures do not pile up.
    """
    import matplotlib as mpl
    import matplotlib.pyplot as plt
    from matplotlib.backends.backend_agg import FigureCanvasAgg

    name = "drainpump" if mpl.get_backend().lower() in _FILES else None
    if name is not None and plt.fignum_exists(name):
        last = plt.figure(name)
        plt.close(last)
        # who holds it may still draw it
        FigureCanvasAgg(last)
    return plt.figure(name, figsize=size, layout="constrained").subplots()


def letters(size: float = 8.5) -> float:
    """Size of letters (points) on this page, from that on a page of 10-point letters."""
    import matplotlib as mpl

    return size * float(mpl.rcParams["font.size"]) / _LETTERS


def scripts(words: str) -> list[str] | None:
    """Fonts for the words: the page's, and where it lacks a character any that has it."""
    import matplotlib as mpl

    lacking = frozenset(c for c in words if not c.isspace()) - _held(_page_font())
    return [*mpl.rcParams["font.family"], *_others(lacking)] if lacking else None


def _page_font() -> str:
    from matplotlib.font_manager import FontProperties, findfont

    return str(findfont(FontProperties()))


@lru_cache(maxsize=32)
def _held(path: str) -> frozenset[str]:
    """Characters that a font file holds."""
    from matplotlib.font_manager import get_font

    return frozenset(map(chr, get_font(path).get_charmap()))


@lru_cache(maxsize=256)
def _others(lacking: frozenset[str]) -> tuple[str, ...]:
    """Names of fonts that between them hold the characters, as far as any does."""
    from matplotlib.font_manager import fontManager

    names: list[str] = []
    for font in fontManager.ttflist:
        # the last resort draws boxes for everything
        if lacking and not font.name.startswith("Last Resort") and lacking & _held(font.fname):
            names.append(font.name)
            lacking = lacking - _held(font.fname)
    return tuple(names)


def _dark(ax: Axes) -> bool:
    from matplotlib.colors import to_rgb

    return sum(to_rgb(ax.get_facecolor())) < 1.5


def tint(ax: Axes) -> Any:
    """Colour of a faint grid: the paper with a little ink."""
    from matplotlib.colors import to_rgb

    ink = float(_dark(ax))
    return [(1 - _FAINT) * x + _FAINT * ink for x in to_rgb(ax.get_facecolor())]


def suit(ax: Axes, artists: Any) -> None:
    """Give what was drawn for white paper the colours that stand on the axes' own."""
    import matplotlib as mpl
    from matplotlib.text import Text

    dark = _dark(ax)
    for artist in artists:
        texts = isinstance(artist, Text)
        if dark and texts and getattr(artist, "arrow_patch", None) is not None:
            _turn(artist.arrow_patch)
        # letters in the page's own colour suit it already
        if dark and not (texts and artist.get_color() == mpl.rcParams["text.color"]):
            _turn(artist)
        if texts and artist.get_bbox_patch() is not None:
            artist.get_bbox_patch().set_facecolor(ax.get_facecolor())


def _turn(artist: Any) -> None:
    """Turn light and dark of an artist about, each hue kept."""
    from matplotlib.colors import to_rgba_array

    old = {
        name: getattr(artist, f"get_{name}")()
        for name in _COLORS
        if hasattr(artist, f"get_{name}") and hasattr(artist, f"set_{name}")
    }
    for name, color in old.items():
        rows = []
        for *rgb, alpha in to_rgba_array(color):
            hue, light, full = rgb_to_hls(*rgb)
            rows.append((*hls_to_rgb(hue, 1 - light, full), alpha))
        getattr(artist, f"set_{name}")(rows if len(rows) != 1 else rows[0])


def save(
    draw: Callable[[Any], Any],
    size: tuple[float, float],
    to: str | os.PathLike[str] | IO[bytes],
    **how: Any,
) -> None:
    """Draw on axes of a figure of their own, and write it.

    Parameters
    ----------
    draw : callable
        Takes the Axes to draw on.
    size : (float, float)
        Width and height, in.
    to : path or file
        In the form that its ending says.
    **how
        As of matplotlib's ``savefig``.
    """
    from matplotlib.figure import Figure

    figure = Figure(figsize=size, layout="constrained")
    draw(figure.subplots())
    figure.savefig(to, dpi=_DPI, **how)


def png(draw: Callable[[Any], Any], size: tuple[float, float]) -> bytes:
    """Return the picture that `save` would write as the bytes of a PNG."""
    data = io.BytesIO()
    # no version within, so that equal pictures are equal bytes
    save(draw, size, data, format="png", metadata={"Software": None})
    return data.getvalue()
