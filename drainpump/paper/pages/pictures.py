"""The pictures of a report: the duty with its need, and the sketch."""

from __future__ import annotations

from drainpump import units as u
from drainpump.choose.candidate import Candidate
from drainpump.paper.blocks import Figure
from drainpump.paper.outcome import Outcome
from drainpump.paper.words import two
from drainpump.plots.duty import duty
from drainpump.plots.page import png
from drainpump.plots.sketch import sketch

__all__ = ["duty_picture", "sketch_picture"]

_SIZE = (5.2, 5.0)


def duty_picture(outcome: Outcome, first: Candidate, units: u.System) -> Figure:
    """Head against flow of the choice, with the need marked."""
    pump, line, need = first.pump, first.line, outcome.selection.si.need
    asked = None if need is None else float(u.from_si(need, "lps"))
    said = "" if need is None else f", {two(need, 'gpm', units)} needed"
    alt = (
        f"Head against flow: {pump.name} on {line.name}, "
        f"{two(first.si.flow, 'gpm', units)} where the curves cross{said}"
    )
    return Figure(
        "duty.png",
        lambda: png(lambda ax: duty(pump, line, first.pit, ax, units=units, need_lps=asked), _SIZE),
        alt,
    )


def sketch_picture(outcome: Outcome, first: Candidate, units: u.System) -> Figure:
    """The job from the side."""
    pit, pump, line = first.pit, first.pump, first.line
    alt = (
        f"Sketch from the side: {'pit, floats, ' if pit is not None else ''}{line.name} with a "
        f"lift of {two(line.si.lift, 'ft', units)}, outlet"
    )
    return Figure(
        "sketch.png", lambda: png(lambda ax: sketch(pump, line, pit, ax, units=units), _SIZE), alt
    )
