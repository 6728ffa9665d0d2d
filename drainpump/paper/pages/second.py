"""Page two: take-off, levels to set, acceptance, what to measure, cautions, sources."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from drainpump import units as u
from drainpump.paper.assumptions import assumptions
from drainpump.paper.blocks import Block, Bullets, Checklist, Columns, Heading, Paragraph, Table
from drainpump.paper.cautions import cautions_of
from drainpump.paper.outcome import Outcome
from drainpump.paper.words import (
    TEXTS,
    between,
    clock,
    clock_span,
    money,
    sentence,
    span,
    turned,
    two,
)

#: what is measured first at most, and warnings shown at most; the rest stands in the appendix
_MOST = 4
#: limits whose source is told where they are the library's own
_LIMITS = {
    "velocity_min": "Velocity", "velocity_max": "Velocity", "best_flow_preferred": "Preferred flow",
}  # fmt: skip


def second(outcome: Outcome, units: u.System) -> list[Block]:
    """Lay out page two."""
    counted = outcome.take_off
    left: list[Block] = []
    if rows := list(levels(outcome, units)):
        left += [Heading("Levels to set"), Table(("level", "above the floor"), rows)]
    left += [Heading("Acceptance"), Paragraph(accepted_in_words(outcome, units))]
    left += [Heading("Still to be confirmed"), Checklist(TEXTS["open_items"])]
    right: list[Block] = [Heading("Measure before buying")]
    right += [Bullets(list(measure_next(outcome, units)))]
    checks = [sentence(f"{x.where}: {x}", units) for x in outcome.checks if x.verdict == "look"]
    if checks:
        right += [Heading("Look at"), Bullets(checks[:_MOST])]
    right += [Heading("Assumed, because the job does not say")]
    right += [Paragraph(_assumed(outcome, units))]
    blocks: list[Block] = [
        Heading("Take-off"),
        Table(("what", "size", "how many", "price", "note"), list(_items(outcome, units))),
        Paragraph(f"{_total(outcome)}Not counted: {'; '.join(counted.not_counted)}."),
        Columns([left, right]),
    ]
    if outcome.warnings:
        said = list(dict.fromkeys(turned(w.text, units) for w in outcome.warnings))
        more = [f"and {len(said) - _MOST} more, in the appendix"] if len(said) > _MOST else []
        blocks += [Heading("Values to look at again"), Bullets([*said[:_MOST], *more])]
    blocks += [
        Heading("Cautions"),
        Paragraph(TEXTS["first"]),
        Bullets([turned(said, units) for said in cautions_of(outcome)]),
        Heading("Sources"),
        Bullets(list(sources(outcome))),
    ]
    return blocks


def _items(outcome: Outcome, units: u.System) -> Iterator[tuple[str, ...]]:
    for item in outcome.take_off.items:
        many = "" if np.isnan(item.pieces) else u.number(item.pieces)
        if not many:
            measures = ((item.length, "ft"), (item.volume, "ft3"))
            many = ", ".join(two(x, unit, units) for x, unit in measures if not np.isnan(x))
        price = "" if np.isnan(item.price) else u.carried(item.price)
        yield (
            turned(item.what, units),
            turned(item.size, units),
            many,
            price,
            turned(item.note, units),
        )


def _total(outcome: Outcome) -> str:
    price = outcome.take_off.price
    if np.isnan(price):
        return ""
    return f"Together {money(price, outcome.take_off.currency)} where priced. "


def levels(outcome: Outcome, units: u.System) -> Iterator[tuple[str, str]]:
    """The levels to set, from the rim down."""
    if outcome.first.pit is None:
        return
    pit = outcome.first.pit.si
    rows: list[tuple[str, Any]] = [
        ("rim", pit.depth), ("alarm", pit.alarm), ("inlet's invert", pit.inlet), ("on", pit.on),
        ("off", pit.off),
    ]  # fmt: skip
    known = sorted(((float(level), name) for name, level in rows if level is not None))[::-1]
    for level, name in known:
        yield name, two(level, "in", units)


def accepted_in_words(outcome: Outcome, units: u.System) -> str:
    """What a watch has to show when the pump is first run."""
    found = outcome.acceptance
    if found is None:
        return "It moves no water: there is nothing to accept."
    times = clock(float(found.si.time))
    if found.si.fast != found.si.slow:
        times += f", {clock_span(float(found.si.fast), float(found.si.slow))}"
    if found.si.start is None:
        what = f"A bucket of {two(found.si.volume, 'gal', units)} at the outlet fills in {times}"
    else:
        what = f"Inflow stopped, {span(found.si.start, found.si.end, 'in', units)}: {times}"
    return f"{what}; {TEXTS['else_look']}"


def measure_next(outcome: Outcome, units: u.System) -> Iterator[str]:
    """What moves the flow most, and how one measures it."""
    for row in outcome.swings[:_MOST]:
        low, high = sorted(
            float(u.to_si(row[f"flow_at_{x}_gpm"], "gpm")) for x in ("minus", "plus")
        )
        moves = between(low, high, "gpm", units)
        yield sentence(f"{row['input']}: its doubt alone moves the flow {moves}; {row['measure']}")
    if not outcome.swings:
        yield "Nothing is doubted in this job: measure lift and length all the same."


def sources(outcome: Outcome) -> Iterator[str]:
    """Where the figures of this answer come from, each source once and in a line."""
    job, line, limits = outcome.job, outcome.first.line, outcome.job.limits_in_force
    told = [("Friction", TEXTS["friction"][line.friction])]
    sizes = [run.pipe.size for run in line.runs if run.pipe.size is not None]
    told += [("Pipe", f"{size.source} ({size.certainty})") for size in sizes]
    told += [("Fittings", x.source.partition(": ")[2]) for run in line.runs for x in run.losses]
    if job.doubt is not None:
        told.append(("Pump's tolerance", job.doubt.sources.get("grade", "")))
    typed = {} if job.limits is None else job.limits.given
    told += [
        (label, limits.sources[name])
        for name, label in _LIMITS.items()
        if limits.applies(name) and not any(key.startswith(name) for key in typed)
    ]
    if job.water is not None and job.water.rain is not None:
        told.append(("Rain", job.water.rain.note or "its source is not told"))
    told += [
        ("Gravity pipes", x.source) for x in (outcome.gravity, *outcome.links) if x is not None
    ]
    told += [(x.where, x.source) for x in outcome.checks if x.verdict == "look"]
    by_label: dict[str, list[str]] = {}
    for label, source in told:
        if source:
            by_label.setdefault(label, []).append(source.partition(";")[0])
    for label, said in by_label.items():
        yield sentence(f"{label}: {'; '.join(dict.fromkeys(said))}")


def _assumed(outcome: Outcome, units: u.System) -> str:
    """The assumptions that were left to the library, in one paragraph."""
    rows = [a for a in assumptions(outcome.job) if a.defaulted]
    said = [TEXTS["granted"][a.name].format(a.value) for a in rows if a.name in TEXTS["granted"]]
    said = list(dict.fromkeys(turned(x, units) for x in said))
    if any(a.name.startswith("limit ") for a in rows):
        said.append("limits that are not set are the library's own, listed in the appendix")
    if any(a.name.startswith("doubt") for a in rows):
        said.append("the usual doubt of lengths, lift, bore, fittings and the pump's curve")
    return sentence("; ".join(said)) if said else "Nothing: all of it was given."
