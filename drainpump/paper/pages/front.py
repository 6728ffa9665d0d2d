"""Page one: what to install, what it does, why this one, and two pictures."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from drainpump import units as u
from drainpump.choose.candidate import Candidate
from drainpump.choose.selection import Selection
from drainpump.limits.costs import Costs
from drainpump.paper.blocks import Block, Bullets, Columns, Heading, NewPage, Paragraph, Table
from drainpump.paper.outcome import Outcome
from drainpump.paper.pages.pictures import duty_picture, sketch_picture, storm_picture
from drainpump.paper.take_off import pit_in_words
from drainpump.paper.words import (
    TEXTS,
    between,
    clock,
    list_of,
    money,
    named_fitting,
    one,
    sentence,
    span,
    turned,
    two,
)
from drainpump.parts.line.hand_off import GravityHandOff
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.line.outlet import PopUpOutlet, SubmergedOutlet
from drainpump.parts.line.pipe import pipe_in_words
from drainpump.parts.pump.bank import PumpBank
from drainpump.parts.pump.curve import PumpCurve
from drainpump.routing.route import Routing
from drainpump.solve.operating_point import operating_point

#: the finding that no pump is needed, which is said before all else
_BY_ITSELF = "gravity_serves"
#: limits on what stands at the low spot, and how each is said
_PONDS = {"pond_depth_max": " deep", "pond_max": " long"}


def front(outcome: Outcome, title: str, units: u.System) -> list[Block]:
    """Lay out page one."""
    first, served = outcome.first, outcome.selection.best is not None
    head = "Install this" if served else "Nothing on the list serves: the nearest is"
    return [
        Heading(title, 1),
        *([Paragraph(shortened(outcome.job.story))] if outcome.job.story else []),
        *([Paragraph(said)] if (said := without_pump(outcome, units)) else []),
        Columns([
            [Heading(head), Table(("part", "what"), list(install(outcome, units)))],
            [Heading("What it does"),
             Bullets([*what_it_does(outcome, units), *head_in_parts(first, units)])],
        ]),
        Heading("Why this one, and not the next" if served else "What it lacks"),
        Bullets(list(why_this(outcome, units))),
        Columns([
            [duty_picture(outcome, first, units)], [sketch_picture(outcome, first, units)],
        ]),
        *storm_picture(outcome, units),
        NewPage(),
    ]  # fmt: skip


def without_pump(outcome: Outcome, units: u.System) -> str:
    """Say before all else that gravity will do; "" where it will not."""
    found = outcome.gravity
    return sentence(found, units) if found is not None and found.code == _BY_ITSELF else ""


def shortened(story: str, most: int = 700) -> str:
    """A story of a few lines; the whole of it stands among the inputs."""
    line = " ".join(story.split())
    return line if len(line) <= most else line[: line.rfind(" ", 0, most)] + " ..."


def install(outcome: Outcome, units: u.System) -> Iterator[tuple[str, str]]:
    """What is put in the ground, row by row."""
    first, job = outcome.first, outcome.job
    pump = first.pump.name
    price = getattr(first.pump, "price", None)
    if price is not None and isinstance(job.costs, Costs):
        pump += f", {money(price, job.costs.currency)}"
    yield "Pump", pump + (" (invented curve)" if first.pump.invented else "")
    if supply := list(dict.fromkeys(filter(None, map(_supply, first.pump.si.curves)))):
        yield "Supply", "; ".join(supply)
    yield "Pipe", pipes_in_words(first.line, units)
    yield "Fittings", fittings_in_words(first.line)
    yield "Outlet", outlet_in_words(first.line, units)
    if first.pit is not None:
        which = f"pit {first.number}: " if _many_pits(outcome.selection) else ""
        yield "Pit", which + pit_in_words(first.pit, units)
        pit, own = first.pit.si, first.pit.floats_said(first.pump).removeprefix("floats: ")
        floats = f"on at {two(pit.on, 'in', units)}, off at {two(pit.off, 'in', units)}"
        alarm = "" if pit.alarm is None else f"; alarm at {two(pit.alarm, 'in', units)}"
        yield "Floats", f"above the floor: {turned(own, units) or floats}{alarm}"


def pipes_in_words(line: DischargeLine, units: u.System) -> str:
    """The line's pipes in order, runs of one pipe together."""
    said: dict[str, float] = {}
    for run in line.runs:
        name = pipe_in_words(run.pipe, lambda x, unit: two(x, unit, units))
        said[name] = said.get(name, 0.0) + float(run.si.length)
    parts = [f"{name}, {two(length, 'ft', units)}" for name, length in said.items()]
    return f"{'; then '.join(parts)}; lift {two(line.si.lift, 'ft', units)}"


def _supply(curve: PumpCurve) -> str:
    """What a pump asks of the circuit, and its own note."""
    facts = (("voltage", "v"), ("current", "a"))
    said = [one(x, unit) for name, unit in facts if (x := getattr(curve.si, name)) is not None]
    return ", ".join([*said, *filter(None, [curve.note])])


def fittings_in_words(line: DischargeLine) -> str:
    """The fittings of a line, counted run by run."""
    runs = [
        list_of([f"{u.number(loss.count)} × {named_fitting(loss.name)}" for loss in run.losses])
        for run in line.runs
    ]
    told = [
        said if len(line.runs) == 1 else f"{run.name or f'run {i}'}: {said}"
        for i, (run, said) in enumerate(zip(line.runs, runs, strict=True), 1)
        if said
    ]
    return "; ".join(told) or "none told"


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


def times(probability: float) -> str:
    """Say a probability as so many times in 100.

    >>> times(0.973), times(1.0), times(0.0004)
    ('97 times in 100', 'practically always', 'hardly ever')
    """
    if probability > 0.995:
        return "practically always"
    return "hardly ever" if probability < 0.005 else f"{100 * probability:.0f} times in 100"


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
    wanted = outcome.selection.si.need
    if wanted is not None:
        need = f"{two(wanted, 'gpm', units)} needed"
        if first.probability is not None:
            need += f": carried {times(first.probability)}"
        yield need + "."
    if storm := dry_up_to(outcome, units):
        yield storm
    elif outcome.routing is not None:
        yield f"In the storm given {_stands(outcome.routing, units)}."
    turning = outcome.cycling
    if turning is not None:
        inflow = two(turning.si.inflow, "gpm", units)
        if bool(turning.keeps_up) and np.isfinite(turning.si.run) and np.isfinite(turning.si.rest):
            yield (
                f"At {inflow} of inflow it runs {clock(float(turning.si.run))} and rests "
                f"{clock(float(turning.si.rest))}: {u.number(turning.starts_per_h)} starts an hour."
            )
        elif turning.keeps_up:
            yield f"It keeps up with {inflow} of inflow."
        else:
            yield f"It does not keep up with the inflow of {inflow}."
    if first.worst_starts_per_h is not None:
        yield f"At most {u.number(first.worst_starts_per_h)} starts an hour, whatever flows in."
    out = outcome.outage
    if out is not None:
        minutes = clock(float(out.si.minutes))
        yield (
            f"Without power the pit holds for {minutes} at {two(out.si.inflow, 'gpm', units)} of "
            "inflow, from the on level to the rim."
        )
        if out.si.battery is not None:
            yield f"A battery carries the pump for {clock(float(out.si.battery))}."
    if outcome.dark is not None and outcome.job.backup is not None:
        lost = clock(float(outcome.job.backup.si.outage))
        one_storm = outcome.storms is not None and outcome.storms.return_year is None
        which = "the storm" if one_storm else "the rarest storm asked"
        stands = _stands(outcome.dark, units)
        yield f"With the power out for {lost} from the peak of {which} {stands}."


def _stands(routed: Routing, units: u.System) -> str:
    """What one storm leaves at the low spot."""
    deep, long = (float(np.max(x)) for x in (routed.si.peak_depth, routed.si.ponded))
    if not long > 0:
        return "no water stands above the rim"
    return f"water stands {two(deep, 'in', units)} deep above the rim for {clock(long)}"


def head_in_parts(first: Candidate, units: u.System) -> Iterator[str]:
    """What eats the head, and how fast the water runs."""
    parts = operating_point(first.pump, first.line).si
    if np.isfinite(parts.head):
        asked = {
            "lift": parts.static, "pipe": parts.pipe, "fittings": parts.fittings,
            "outlet": parts.outlet,
        }  # fmt: skip
        eaten = ", ".join(f"{name} {one(x, 'ft', units)}" for name, x in asked.items())
        fast = span(first.si.slowest, first.si.fastest, "fps", units)
        yield f"Head {two(parts.head, 'ft', units)}: {eaten}; {fast} in the pipe."


def dry_up_to(outcome: Outcome, units: u.System) -> str:
    """How rare a storm it keeps, in words; "" without storms."""
    dry = outcome.dry
    if dry is None:
        return ""
    asked = outcome.job.limits_in_force.in_words()
    limits = [f"{asked[key]}{what}" for key, what in _PONDS.items() if key in asked]
    dry_means = turned(f" (water at the low spot at most {list_of(limits)})", units)
    said = {
        "ok": f"Dry up to the {_year(dry.year)}-year storm",
        "below": f"Not dry in the {_year(dry.year)}-year storm, the most frequent there is",
        "beyond": f"Dry in all storms there are, the {_year(dry.year)}-year one included",
    }[dry.status] + (dry_means if limits else "")
    if dry.status == "ok" and dry.low_year is not None and dry.high_year is not None:
        said += (
            f", probably between the {_year(dry.low_year)}- and the {_year(dry.high_year)}-year one"
        )
    bound = {"ok": "", "below": "more than ", "beyond": "less than "}[dry.status]
    chance = u.number(float(f"{100 * dry.yearly_probability:.2g}"))
    return f"{said}; more than that stands there in {bound}{chance} years of 100."


def _year(year: float) -> str:
    return u.number(float(f"{year:.2g}"))


def why_this(outcome: Outcome, units: u.System) -> Iterator[str]:
    """Why not by gravity, then the weakest link, the rule, and those that come next."""
    chosen, best = outcome.selection, outcome.selection.best
    for found in (outcome.gravity, *(x for x in outcome.links if x.verdict == "look")):
        if found is not None and found.code != _BY_ITSELF:
            yield sentence(found, units)
    if best is None:
        yield sentence(
            "; ".join(filter(None, [_lacks(outcome.first), outcome.first.change])), units
        )
        return
    priced = all(c.cost is not None and np.isfinite(c.cost) for c in chosen.accepted)
    rule = "cost" if chosen.objective == "least" and priced else chosen.objective
    first = TEXTS["chosen"][rule]
    if chosen.objective == "least":
        alike = u.number(chosen.limits.alike_pct)
        first += f" within {alike} %"
        if share := _best_share(best):
            first += ", and of those runs nearest its best-efficiency flow"
            first += f", at {u.number(share)} times it"
    what = "choices of pump, line and pit" if _many_pits(chosen) else "pairs of pump and line"
    good, given = len(chosen.accepted), len(chosen.candidates)
    if given == 1:
        yield "It keeps every limit; no other pump and line were given to choose from."
    elif good == 1:
        yield f"Of {given} {what} it alone keeps every limit."
    else:
        yield f"{good} of {given} {what} keep every limit; of these it {first}."
    for warning in best.warnings:
        yield sentence(warning, units)
    if len(chosen.accepted) > 1:
        other = chosen.accepted[1]
        differs = against(other, best, outcome.take_off.currency, units)
        yield f"Next: {_named(other, chosen)}: {differs}."
    if chosen.rejected:
        near = chosen.rejected[0]
        yield sentence(f"not {_named(near, chosen)}: {_lacks(near)}", units)


def _many_pits(chosen: Selection) -> bool:
    return len({c.number for c in chosen.candidates}) > 1


def _named(c: Candidate, chosen: Selection) -> str:
    """Which pump stands where; the pit by its place among those given, where there are some."""
    pit = f" in pit {c.number}" if _many_pits(chosen) else ""
    return f"{c.pump.name} on {c.line.name}{pit}"


def _lacks(c: Candidate) -> str:
    """The limits that a rejected one breaks."""
    return "; ".join(
        f"it carries the need {times(r.value)} only, {times(r.limit)} is asked"
        if r.code == "flow_uncertain"
        else r.text
        for r in c.reasons
    )


def _best_share(c: Candidate) -> float | None:
    """Its flow over the pump's best-efficiency flow, where that is known."""
    best = None if isinstance(c.pump, PumpBank) else c.pump.si.best_flow
    return None if best is None else float(c.si.flow / best)


def against(other: Candidate, best: Candidate, currency: str, units: u.System) -> str:
    """What the next one would do, and what speaks against it."""
    said = [two(other.si.flow, "gpm", units)]
    for theirs, ours, what in (
        (other.cost, best.cost, "over the years"), (other.pump.price, best.pump.price, "to buy"),
    ):  # fmt: skip
        if theirs is not None and ours is not None and np.isfinite(theirs - ours):
            more = float(theirs - ours)
            if more:
                word = "dearer" if more > 0 else "cheaper"
                said.append(f"{money(abs(more), currency)} {word} {what}")
            break
    power = other.si.flow * other.si.head / (best.si.flow * best.si.head) - 1
    if round(abs(power), 2) > 0:
        said.append(f"{abs(power):.0%} {'more' if power > 0 else 'less'} power".replace("%", " %"))
    if share := _best_share(other):
        said.append(f"{u.number(share)} times its best-efficiency flow")
    return ", ".join(said)
