"""The pictures of a report: the duty with its need, and the sketch."""

from __future__ import annotations

from drainpump import units as u
from drainpump.choose.candidate import Candidate
from drainpump.paper.blocks import Figure
from drainpump.paper.outcome import Outcome
from drainpump.paper.words import two
from drainpump.plots.duty import duty
from drainpump.plots.sketch import sketch
from drainpump.plots.still import png

__all__ = ["duty_picture", "sketch_picture"]

_SIZE = (5.2, 5.0)


def duty_picture(outcome: Outcome, first: Candidate, units: u.System) -> Figure:
    """Head against flow of the choice, with the need marked."""
    asked = outcome.job.si.need
    need = None if asked is None else float(u.from_si(asked, "lps"))
    pit, pump, line = first.pit, first.pump, first.line
    alt = (
        f"Head against flow: {pump.name} on {line.name}, "
        f"{two(first.si.flow, 'gpm', units)} where the curves cross"
        + ("" if asked is None else f", {two(asked, 'gpm', units)} needed")
    )
    return Figure(
        "duty.png",
        lambda: png(lambda ax: duty(pump, line, pit, ax, units=units, need_lps=need), _SIZE),
        alt,
    )


def sketch_picture(outcome: Outcome, first: Candidate, units: u.System) -> Figure:
    """The job from the side."""
    pit, pump, line = first.pit, first.pump, first.line
    alt = (
        f"Sketch from the side: pit, floats, {line.name} with a lift of "
        f"{two(line.si.lift, 'ft', units)}, outlet"
    )
    return Figure(
        "sketch.png", lambda: png(lambda ax: sketch(pump, line, pit, ax, units=units), _SIZE), alt
    )
