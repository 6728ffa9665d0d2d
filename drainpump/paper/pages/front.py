"""Page one: what to install, what it does, why this one, and two pictures."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from drainpump import units as u
from drainpump.choose.candidate import Candidate
from drainpump.limits.costs import Costs
from drainpump.paper.blocks import Block, Bullets, Columns, Heading, NewPage, Paragraph, Table
from drainpump.paper.outcome import Outcome
from drainpump.paper.pages.pictures import duty_picture, sketch_picture
from drainpump.paper.words import (
    between,
    capital,
    clock,
    digits,
    list_of,
    named_fitting,
    one,
    rounded,
    two,
)
from drainpump.parts.line.hand_off import GravityHandOff
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.line.outlet import PopUpOutlet, SubmergedOutlet

__all__ = ["cases", "dry_up_to", "front", "install", "what_it_does", "why_this"]


def front(outcome: Outcome, title: str, units: u.System) -> list[Block]:
    """Lay out page one."""
    first, served = outcome.first, outcome.selection.best is not None
    head = "Install this" if served else "Nothing on the list serves: the nearest is"
    return [
        Heading(title, 1),
        *([Paragraph(shortened(outcome.job.story))] if outcome.job.story else []),
        Columns([
            [Heading(head), Table(("what", "which"), list(install(outcome, units)))],
            [Heading("What it does"), Bullets(list(what_it_does(outcome, units)))],
        ]),
        Heading("Why this one" if served else "What it lacks"),
        Bullets(list(why_this(outcome, units))),
        Columns([
            [duty_picture(outcome, first, units)], [sketch_picture(outcome, first, units)],
        ]),
        NewPage(),
    ]  # fmt: skip


def shortened(story: str, most: int = 420) -> str:
    """A story of a few lines; the whole of it stands among the inputs."""
    line = " ".join(story.split())
    return line if len(line) <= most else line[: line.rfind(" ", 0, most)] + " ..."


def install(outcome: Outcome, units: u.System) -> Iterator[tuple[str, str]]:
    """What is put in the ground, row by row."""
    first, job = outcome.first, outcome.job
    pump = first.pump.name
    price = getattr(first.pump, "price", None)
    if price is not None and isinstance(job.costs, Costs):
        pump += f", {digits(price)} {job.costs.currency}".rstrip()
    yield "Pump", pump + (" (invented curve)" if first.pump.invented else "")
    yield "Pipe", pipes_in_words(first.line, units)
    yield "Fittings", fittings_in_words(first.line)
    yield "Outlet", outlet_in_words(first.line, units)
    if first.pit is not None:
        pit = first.pit.si
        across = (
            f"{two(pit.diameter, 'in', units)} across"
            if pit.diameter is not None
            else f"{two(pit.side_length, 'in', units)} by {two(pit.side_width, 'in', units)}"
        )
        yield "Pit", f"{across}, {two(pit.depth, 'in', units)} deep"
        levels = {"on": pit.on, "off": pit.off}
        whose = {name: f" ({who})" for name, who in first.pit.whose.items()}
        floats = [f"{x} at {two(si, 'in', units)}{whose.get(x, '')}" for x, si in levels.items()]
        if pit.alarm is not None:
            floats.append(f"alarm at {two(pit.alarm, 'in', units)}")
        yield "Floats", f"{list_of(floats)} above the floor"


def pipes_in_words(line: DischargeLine, units: u.System) -> str:
    """The line's pipes in order, runs of one pipe together."""
    said: dict[str, float] = {}
    for run in line.runs:
        said[run.pipe.name] = said.get(run.pipe.name, 0.0) + float(run.si.length)
    parts = [f"{name}, {two(length, 'ft', units)}" for name, length in said.items()]
    return f"{'; then '.join(parts)}; lift {two(line.si.lift, 'ft', units)}"


def fittings_in_words(line: DischargeLine) -> str:
    """The fittings of a line, counted."""
    counts: dict[str, float] = {}
    for run in line.runs:
        for loss in run.losses:
            name = named_fitting(loss.name)
            counts[name] = counts.get(name, 0.0) + float(loss.count)
    said = [f"{digits(count)} × {name}" for name, count in counts.items()] or ["none told"]
    return list_of(said)


def outlet_in_words(line: DischargeLine, units: u.System) -> str:
    """How the line ends."""
    outlet = line.outlet
    if isinstance(outlet, GravityHandOff):
        return (
            f"air break into a {one(outlet.si.bore, 'in')} gravity pipe that carries "
            f"{two(outlet.si.capacity, 'gpm', units)}"
        )
    if isinstance(outlet, PopUpOutlet):
        return f"pop-up emitter, {two(outlet.si.body, 'in', units)} across"
    if isinstance(outlet, SubmergedOutlet):
        return f"open end, {two(outlet.si.depth, 'ft', units)} under water"
    return "open end above the water it runs to"


def cases(probability: float) -> str:
    """Say a probability as cases.

    >>> cases(0.973), cases(1.0), cases(0.0004)
    ('97 cases in 100', 'practically all cases', 'hardly any case')
    """
    if probability > 0.995:
        return "practically all cases"
    return "hardly any case" if probability < 0.005 else f"{100 * probability:.0f} cases in 100"


def what_it_does(outcome: Outcome, units: u.System) -> Iterator[str]:
    """Flow, storms, starts and what happens without power."""
    first = outcome.first
    flow = f"Moves {two(first.si.flow, 'gpm', units)}"
    if first.status == "beyond_curve":
        flow = f"Moves at least {two(first.si.flow, 'gpm', units)}, the end of the pump's data"
    if outcome.band is not None:
        low, _, high = outcome.band.si.flow
        flow += f", probably {between(low, high, 'gpm', units)}"
    yield flow + "."
    if outcome.job.si.need is not None:
        need = f"{two(outcome.job.si.need, 'gpm', units)} needed"
        if first.probability is not None:
            need += f": carried in {cases(first.probability)}"
        yield need + "."
    storm = dry_up_to(outcome)
    if storm:
        yield storm
    turning = outcome.cycling
    if turning is not None:
        inflow = two(turning.si.inflow, "gpm", units)
        if bool(turning.keeps_up) and np.isfinite(turning.si.run) and np.isfinite(turning.si.rest):
            yield (
                f"At {inflow} of inflow it runs {clock(float(turning.si.run))} and rests "
                f"{clock(float(turning.si.rest))}: {digits(turning.starts_per_h)} starts an hour."
            )
        elif turning.keeps_up:
            yield f"It keeps up with {inflow} of inflow."
        else:
            yield f"It does not keep up with the inflow of {inflow}."
    if first.worst_starts_per_h is not None:
        yield f"At worst {digits(first.worst_starts_per_h)} starts an hour."
    out = outcome.outage
    if out is not None:
        minutes = clock(float(out.si.minutes))
        yield (
            f"Without power the pit holds for {minutes} at {two(out.si.inflow, 'gpm', units)} of "
            "inflow, from the on level to the rim."
        )
        if out.si.battery is not None:
            yield f"A battery carries the pump for {clock(float(out.si.battery))}."


def dry_up_to(outcome: Outcome) -> str:
    """How rare a storm it keeps, in words; "" without storms."""
    return "" if outcome.dry is None else rounded(capital(f"{outcome.dry.text}."))


def why_this(outcome: Outcome, units: u.System) -> Iterator[str]:
    """Gravity first, then the rule, what comes next, and the weakest link."""
    chosen = outcome.selection
    if outcome.gravity is not None:
        yield rounded(capital(f"{outcome.gravity}."))
    for link in outcome.links:
        if link.verdict == "look":
            yield rounded(capital(f"{link}."))
    if chosen.best is None:
        lacks = [*(r.text for r in outcome.first.reasons), outcome.first.change]
        yield rounded(capital(f"{'; '.join(filter(None, lacks))}."))
        return
    count = len(chosen.candidates)
    yield (
        f"Of {count} pairs of pump and line {len(chosen.accepted)} keep every limit; this one "
        f"comes first by {chosen.rule}."
    )
    for warning in chosen.best.warnings:
        yield rounded(capital(f"{warning}."))
    if len(chosen.accepted) > 1:
        yield f"Next: {against(chosen.accepted[1], chosen.best, units)}."
    if chosen.rejected:
        near = chosen.rejected[0]
        reasons = "; ".join(r.text for r in near.reasons)
        yield rounded(f"Not {near.pump.name} on {near.line.name}: {reasons}.")


def against(other: Candidate, best: Candidate, units: u.System) -> str:
    """What the next one would do."""
    said = f"{other.pump.name} on {other.line.name}, {two(other.si.flow, 'gpm', units)}"
    if other.cost is not None and best.cost is not None and np.isfinite(other.cost - best.cost):
        more = other.cost - best.cost
        said += f", {digits(abs(more))} {'dearer' if more > 0 else 'cheaper'} over the years"
    return said
