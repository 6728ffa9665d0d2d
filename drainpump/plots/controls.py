"""A picture with sliders below it: what a live figure is made of."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, NamedTuple

from drainpump.plots.frame import Frame, frame_on
from drainpump.units import System

#: heights of the figure, in shares: a slider's row, and what stands between rows and picture
_ROW, _WORDS = 0.035, 0.17
#: backends that draw, but cannot be moved
_STILL = ("agg", "cairo", "pdf", "pgf", "ps", "svg", "template", "inline")


class Control(NamedTuple):
    """One slider, in the numbers it shows; with ``words`` it picks one of them by its place."""

    name: str
    label: str
    low: float
    high: float
    value: float
    step: float | None = None
    words: tuple[str, ...] = ()

    def said(self, value: float) -> str:
        """What stands beside the slider."""
        return self.words[round(value)] if self.words else f"{value:.3g}"


class Panel:
    """The figure's frame, its sliders by name, the words below, and whether it can be moved.

    What moves is drawn over a kept picture of the rest, where the canvas can keep one.
    """

    def __init__(self, frame: Frame, sliders: dict[str, Any], words: Any, moves: bool) -> None:
        self.frame, self.sliders, self.words, self.moves = frame, sliders, words, moves
        self._moving: list[Any] = [words, *(slider.ax for slider in sliders.values())]
        self._kept: Any = None

    def follow(self, artists: Sequence[Any]) -> None:
        """Draw these, the words and the sliders apart from the rest, from now on."""
        canvas: Any = self.frame.ax.figure.canvas
        if not canvas.supports_blit:
            return
        self._moving = [*artists, *self._moving]
        for artist in self._moving:
            artist.set_animated(True)
        canvas.mpl_connect("draw_event", self._drawn)

    def draw(self) -> None:
        """Draw what moves; the rest as well, when idle, where it has not been drawn yet."""
        canvas: Any = self.frame.ax.figure.canvas
        if self._kept is None:
            canvas.draw_idle()
            return
        canvas.restore_region(self._kept)
        self._paint()
        canvas.blit(self.frame.ax.figure.bbox)

    def _drawn(self, event: Any) -> None:
        figure: Any = self.frame.ax.figure
        if not figure.canvas.is_saving():
            self._kept = figure.canvas.copy_from_bbox(figure.bbox)
            self._paint()
            return
        # a file is no ground to keep; axes write what moves in them, a figure leaves it to us
        for artist in self._moving:
            if artist.axes in (None, artist):
                artist.draw(event.renderer)

    def _paint(self) -> None:
        figure: Any = self.frame.ax.figure
        for artist in self._moving:
            figure.draw_artist(artist)


def panel(
    controls: Sequence[Control], units: System, x: str, y: str, moved: Callable[[], None]
) -> Panel:
    """Return a fresh figure: axes of ``y`` against ``x``, words, and a slider a control.

    ``moved`` is called after each move of a slider, its words being set.
    """
    import matplotlib as mpl
    import matplotlib.pyplot as plt
    from matplotlib.widgets import Slider

    figure = plt.figure(figsize=(8.0, 7.5))
    rows = 0.02 + _ROW * len(controls)
    frame = frame_on(
        figure.add_axes((0.09, rows + _WORDS, 0.82, 0.90 - rows - _WORDS)), units, x=x, y=y
    )
    words = figure.text(0.09, rows + 0.015, "", fontsize=10, va="bottom", parse_math=False)
    sliders = {}
    for i, one in enumerate(controls):
        at = figure.add_axes((0.28, rows - _ROW * (i + 1), 0.5, 0.7 * _ROW))
        sliders[one.name] = slider = Slider(
            at, one.label, one.low, one.high, valinit=one.value, valstep=one.step
        )
        # the figure is drawn once a move, by who listens
        slider.drawon = False
        slider.valtext.set_text(one.said(one.value))

        def answer(value: float, one: Control = one, slider: Any = slider) -> None:
            slider.valtext.set_text(one.said(value))
            moved()

        slider.on_changed(answer)
    moves = not mpl.get_backend().lower().endswith(_STILL)
    return Panel(frame, sliders, words, moves)
