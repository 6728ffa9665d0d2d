"""A live figure: sliders move the line and the pump, and the operating point follows."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from drainpump import states
from drainpump import units as u
from drainpump.errors import wrong
from drainpump.parts.line.fitting import Fitting
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.line.pipe import Pipe, pvc
from drainpump.parts.pit import Pit
from drainpump.parts.scalars import check_kind, fact
from drainpump.plots.controls import Control, panel
from drainpump.plots.frame import said, style, wrapped
from drainpump.plots.heads import Curve, asked, draw_pump
from drainpump.results import check_units
from drainpump.solve.members import points_along
from drainpump.solve.one_case import one_case
from drainpump.solve.operating_point import OperatingPoint, operating_point
from drainpump.why.losses import by_subset, least_of, loss_causes, shapley

if TYPE_CHECKING:
    from drainpump.parts.pump.bank import Pump


_SIZES = ("1", "1-1/4", "1-1/2", "2", "2-1/2", "3", "4")
_STILL = "This backend shows a still picture; the sliders move in a window."
#: how far the sliders go at least
_LIFT = {"us": ("ft", 25.0), "metric": ("m", 8.0)}
_LENGTH = {"us": ("ft", 400.0), "metric": ("m", 120.0)}
_ELBOWS, _WEAR, _ELBOW = 12, 50, "elbow_90"


class Live:
    """A figure that follows its sliders; keep it as long as the figure is to live.

    Parameters
    ----------
    pump, line, pit, units
        As of `live`, which is how it is made.

    Attributes
    ----------
    ax : matplotlib Axes
    sliders : dict of str to matplotlib Slider
        ``lift``, ``length``, ``pipe`` (a place in `pipes`), ``elbows``, ``wear`` (percent of
        head) and ``need``, in the figure's units; ``sliders["lift"].set_val(9)`` moves one.
    pipes : tuple of Pipe
    line, operating : DischargeLine, OperatingPoint
        What the sliders stand at.
    sentence : str
        What is said below the picture.

    Examples
    --------
    >>> import drainpump as dp
    >>> pump = dp.PumpCurve(name="A", flow_gpm=[0, 15, 30, 50], head_ft=[20, 18.2, 12.8, 0])
    >>> line = dp.straight_line(pipe=dp.pvc("1-1/2"), length_ft=150, lift_ft=6)
    >>> shown = dp.teach.live(pump, line)
    >>> sorted(shown.sliders)
    ['elbows', 'length', 'lift', 'need', 'pipe', 'wear']
    """

    line: DischargeLine
    operating: OperatingPoint
    sentence: str

    def __init__(self, pump: Pump, line: DischargeLine, pit: Pit | None, units: u.System) -> None:
        self._pump, self._given, self._units = pump, line, units
        self._drop = None if pit is None else float(pit.si.on - pit.si.off)
        run = line.runs[0]
        others = [p for p in map(pvc, _SIZES) if abs(p.si.bore - run.pipe.si.bore) > 1e-4]
        self.pipes: tuple[Pipe, ...] = tuple(
            sorted([run.pipe, *others], key=lambda p: float(p.si.bore))
        )
        flow, head = points_along(pump, line)
        self._most, self._top = 1.08 * float(flow[-1]), 1.12 * float(np.max(head))
        self._panel = made = panel(
            self._controls(), units, "flow_gpm", "head_ft", moved=self._moved
        )
        made.frame.limits(x=(0.0, self._most), y=(0.0, self._top))
        draw_pump(made.frame, Curve(flow, head), style(0), lw=1.0)
        self._draw()
        self._moved()

    @property
    def ax(self) -> Any:
        """The picture's axes."""
        return self._panel.frame.ax

    @property
    def sliders(self) -> dict[str, Any]:
        """The sliders by name."""
        return self._panel.sliders

    def _controls(self) -> list[Control]:
        run, flow = self._given.runs[0], "gpm" if self._units == "us" else "lps"

        def measure(name: str, si: Any, reach: tuple[str, float]) -> Control:
            unit, most = reach
            at = float(u.from_si(si, unit))
            label = f"{name} ({u.UNITS[unit].label})"
            # from 0, or from as far below as the line goes
            return Control(name, label, min(0.0, 2 * at), max(most, 2 * at), at)

        most = float(u.from_si(self._most, flow))
        elbows = _elbows(run.fittings)
        return [
            measure("lift", self._given.si.lift, _LIFT[self._units]),
            measure("length", run.si.length, _LENGTH[self._units]),
            Control("pipe", "pipe", 0, len(self.pipes) - 1, self.pipes.index(run.pipe), 1,
                    tuple(p.name for p in self.pipes)),
            Control("elbows", "elbows", 0, max(_ELBOWS, 2 * elbows), elbows, 1),
            Control("wear", "head lost to wear (%)", 0, _WEAR, 0, 1),
            Control("need", f"need ({u.UNITS[flow].label})", 0, most, 0),
        ]  # fmt: skip

    def _draw(self) -> None:
        """Draw what moves, at no place yet."""
        frame, none = self._panel.frame, np.zeros(2)
        self._made = frame.curve(none, none, style(0), lw=2.2)
        self._asked = frame.curve(none, none, style(1), lw=2.2)
        self._at_on = frame.curve(none, none, style(1), lw=0.8)
        self._need = frame.need(0.0)
        self._point = frame.mark(0.0, 0.0)
        moving = (self._need, self._at_on, self._asked, self._made, self._point)
        self._panel.follow(moving)

    def _moved(self) -> None:
        """Solve where the sliders stand, and move the curves, the point and the words."""
        at = {name: float(slider.val) for name, slider in self.sliders.items()}
        self.line, pump = self._line_at(at), self._pump.worn(head=1 - at["wear"] / 100)
        self.operating = op = operating_point(pump, self.line)
        frame, curve = self._panel.frame, asked(self.line, self._most)
        for drawn, (flow, head) in (
            (self._made, points_along(pump, self.line)),
            (self._asked, curve),
        ):
            drawn.set_data(frame.x.shown(flow), frame.y.shown(head))
        if self._drop is not None:
            self._at_on.set_data(frame.x.shown(curve.flow), frame.y.shown(curve.head - self._drop))
        self._need.set_xdata([at["need"], at["need"]])
        self._point.set_data([frame.x.shown(op.si.flow)], [frame.y.shown(op.si.head)])
        need = u.to_si(at["need"], frame.x.unit or "")
        self.sentence = self._say(pump, float(need))
        words = self.sentence if self._panel.moves else f"{self.sentence}\n{_STILL}"
        self._panel.words.set_text(wrapped(words, 88))
        self._panel.draw()

    def _line_at(self, at: dict[str, float]) -> DischargeLine:
        unit, fittings = _LIFT[self._units][0], dict(self._given.runs[0].fittings)
        own = fittings.get(_ELBOW)
        fittings[_ELBOW] = (
            own.variant(count=at["elbows"]) if isinstance(own, Fitting) else at["elbows"]
        )
        moved: DischargeLine = self._given.variant(
            pipe=self.pipes[round(at["pipe"])],
            fittings=fittings,
            **{f"lift_{unit}": at["lift"], f"length_{unit}": at["length"]},
        )
        return moved

    def _say(self, pump: Pump, need: float) -> str:
        """Flow, need and first cause in one sentence."""
        op = self.operating
        flow = states.said(said(op.si.reckoned, "gpm", self._units), op.status)
        causes = loss_causes(pump, self.line)
        left, status = by_subset(pump, self.line, causes)
        taken, least = shapley(left), least_of(status[[0, -1]])
        first = int(np.argmax(taken))
        words = f"{self._pump.name}: {flow}"
        if need > 0:
            verdict = "short of" if float(op.si.counted) < need else "enough for"
            words += f", {verdict} the {said(need, 'gpm', self._units)} needed"
        if taken[first] > 0:
            words += (
                f"; the first cause is the {causes[first].name}, with {least}"
                f"{said(taken[first], 'gpm', self._units)} of the {least}"
                f"{said(left[0] - left[-1], 'gpm', self._units)} lost"
            )
        return f"{words}."


def _elbows(fittings: Any) -> float:
    """How many elbows are given, as a count or as a `Fitting`."""
    own = fittings.get(_ELBOW, 0)
    return float(own.si.count if isinstance(own, Fitting) else own)


def live(
    pump: Pump,
    line: DischargeLine,
    pit: Pit | None = None,
    *,
    need_gpm: float | None = None,
    need_lps: float | None = None,
    units: u.System = "us",
) -> Live:
    """Draw pump and line with sliders for lift, length, pipe, elbows, wear and need.

    Parameters
    ----------
    pump : PumpCurve or PumpBank
    line : DischargeLine
        One of each, of scalars; the line of one run.
    pit : Pit, optional
        With a pit the thin curve is the line at the pump-on level.
    need_gpm, need_lps : float, optional
        Where the need's slider begins, at most one; default none.
    units : {"us", "metric"}, default "us"

    Returns
    -------
    Live
        Keep it: the sliders live as long as it does. In a window, or in a notebook with an
        interactive backend, they move the picture; elsewhere it is a still picture, and
        says so.

    Raises
    ------
    InputError
        Arrays, or a line of several runs.

    Examples
    --------
    >>> import drainpump as dp
    >>> pump = dp.PumpCurve(name="A", flow_gpm=[0, 15, 30, 50], head_ft=[20, 18.2, 12.8, 0])
    >>> line = dp.straight_line(pipe=dp.pvc("1-1/2"), length_ft=150, lift_ft=6)
    >>> shown = dp.teach.live(pump, line, need_gpm=30)
    >>> print(shown.sentence.split(";")[0])
    A: 27.8 gpm, short of the 30 gpm needed
    >>> shown.sliders["length"].set_val(75)
    >>> print(shown.sentence.split(";")[0])
    A: 32.8 gpm, enough for the 30 gpm needed
    """
    one_case("live", pump, line)
    if pit is not None:
        check_kind("pit", pit, Pit)
        pit = pit.floats_of(pump)
        if pit.shape:
            raise wrong("pit", pit, "must hold one number of each", "show one pit")
    if len(line.runs) != 1:
        raise wrong("line", line, "must be of one run", "give dp.straight_line(...)")
    need = fact("need", "flow", gpm=need_gpm, lps=need_lps)
    shown = Live(pump, line, pit, check_units(units))
    if need is not None:
        shown.sliders["need"].set_val(float(u.from_si(need.si, "gpm" if units == "us" else "lps")))
    return shown
