"""Page two: take-off, levels to set, acceptance, what to measure, cautions, sources."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from drainpump import units as u
from drainpump.paper.assumptions import assumptions
from drainpump.paper.blocks import Block, Bullets, Checklist, Columns, Heading, Paragraph, Table
from drainpump.paper.cautions import FIRST, OPEN_ITEMS, cautions_of
from drainpump.paper.outcome import Outcome
from drainpump.paper.words import between, clock, money, sentence, span, turned, two

__all__ = ["accepted_in_words", "levels", "measure_next", "second"]

#: what is measured first at most, and warnings shown at most; the rest stands in the appendix
_MOST = 4
_SOURCES = (
    "Friction: Darcy-Weisbach with Colebrook-White, or Hazen-Williams (textbook).",
    "Fittings: Crane Technical Paper 410 and the tables named beside each figure.",
    "Pump tolerance: ISO 9906 / HI 14.6 (second-hand).",
    "Velocity: NJAC 7:14A-23.10, Ten States. Gravity pipe: Manning (Chow 1959).",
    "Pit and starts: UFC 3-240-04A, NEMA MG 10 (second-hand).",
)
#: what is taken for granted, as one says it on site
_GRANTED = {
    "friction": "friction by {}",
    "water temperature": "water of {}",
    "siphon credited": "no help from a siphon",
    "line holds its water": "a check valve that holds the line full",
}


def second(outcome: Outcome, units: u.System) -> list[Block]:
    """Lay out page two."""
    counted = outcome.take_off
    left: list[Block] = []
    if rows := list(levels(outcome, units)):
        left += [Heading("Levels to set"), Table(("level", "above the floor"), rows)]
    left += [Heading("Acceptance"), Paragraph(accepted_in_words(outcome, units))]
    right: list[Block] = [Heading("Measure before buying")]
    right += [Bullets(list(measure_next(outcome, units)))]
    checks = [sentence(f"{x.where}: {x}", units) for x in outcome.checks if x.verdict == "look"]
    if checks:
        right += [Heading("Look at"), Bullets(checks[:_MOST])]
    price = f"price, {counted.currency or 'your currency'}"
    blocks: list[Block] = [
        Heading("Take-off"),
        Table(("what", "size", "how many", price, "note"), list(_items(outcome, units))),
        Paragraph(f"{_total(outcome)}Not counted: {'; '.join(counted.not_counted)}."),
        Columns([left, right]),
        Heading("Assumed, because the job does not say"),
        Paragraph(_assumed(outcome, units)),
    ]
    if outcome.warnings:
        said = list(dict.fromkeys(turned(w.text, units) for w in outcome.warnings))
        more = [f"and {len(said) - _MOST} more, in the appendix"] if len(said) > _MOST else []
        blocks += [Heading("Values to look at again"), Bullets([*said[:_MOST], *more])]
    blocks += [
        Heading("Cautions"),
        Paragraph(FIRST),
        Bullets([turned(said, units) for said in cautions_of(outcome)]),
        Columns([
            [Heading("Still to be confirmed"), Checklist(OPEN_ITEMS)],
            [Heading("Sources"), Bullets(_SOURCES)],
        ]),
    ]  # fmt: skip
    return blocks


def _items(outcome: Outcome, units: u.System) -> Iterator[tuple[str, ...]]:
    for item in outcome.take_off.items:
        many = "" if np.isnan(item.pieces) else u.number(item.pieces)
        if not many:
            measures = ((item.length, "ft"), (item.volume, "ft3"))
            many = ", ".join(two(x, unit, units) for x, unit in measures if not np.isnan(x))
        price = "" if np.isnan(item.price) else u.carried(item.price)
        yield item.what, turned(item.size, units), many, price, turned(item.note, units)


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
    slow = "more" if np.isinf(found.si.slow) else clock(float(found.si.slow))
    times = clock(float(found.si.time))
    if found.si.fast != found.si.slow:
        times += f", {clock(float(found.si.fast))} to {slow}"
    if found.si.start is None:
        what = f"A bucket of {two(found.si.volume, 'gal', units)} at the outlet fills in {times}"
    else:
        what = f"Inflow stopped, {span(found.si.start, found.si.end, 'in', units)}: {times}"
    low = "; else look for a float that stops early, a half-shut or leaking check valve, air in the"
    return f"{what}{low} pump, a kinked or smaller pipe, more lift than told, another pump."


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


def _assumed(outcome: Outcome, units: u.System) -> str:
    """The assumptions that were left to the library, in one paragraph."""
    rows = [a for a in assumptions(outcome.job) if a.defaulted]
    said = [_GRANTED[a.name].format(a.value) for a in rows if a.name in _GRANTED]
    said = list(dict.fromkeys(turned(x, units) for x in said))
    if any(a.name.startswith("limit ") for a in rows):
        said.append("limits that are not set are the library's own, listed in the appendix")
    if any(a.name.startswith("doubt") for a in rows):
        said.append("the usual doubt of lengths, lift, bore, fittings and the pump's curve")
    return sentence("; ".join(said)) if said else "Nothing: all of it was given."
