"""The pictures of a report: the duty with its need, and the sketch."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from drainpump import units as u
from drainpump.choose.candidate import Candidate
from drainpump.paper.blocks import Figure
from drainpump.paper.outcome import Outcome, low_spot, storm_asked
from drainpump.paper.words import two
from drainpump.plots.duty import duty
from drainpump.plots.page import png
from drainpump.plots.sketch import sketch
from drainpump.plots.storm import storm
from drainpump.routing.route import route

#: width and height, in: of two side by side, and of one across the page
_SIZE, _WIDE = (5.2, 4.0), (10.6, 4.3)


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


def storm_picture(outcome: Outcome, units: u.System) -> Iterator[Figure]:
    """What the rarest storm asked does to the pit; none without storms."""
    first, job, storms = outcome.first, outcome.job, outcome.storms
    if outcome.routing is None or storms is None or first.pit is None:
        return
    asked, pit = storm_asked(job, storms), first.pit
    rare = "" if asked.return_year is None else f"the {u.number(asked.return_year)}-year "
    alt = f"Over time: {rare}storm's inflow, what {first.pump.name} pumps, and the water's level"

    def draw(ax: Any) -> None:
        storm(route(first.pump, first.line, pit, asked, **low_spot(job)), ax, units=units)

    yield Figure("storm.png", lambda: png(draw, _WIDE), alt)
