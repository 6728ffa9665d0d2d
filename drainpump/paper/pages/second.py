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
from drainpump.paper.words import capital, clock, digits, rounded, span, two

__all__ = ["accepted_in_words", "levels", "measure_next", "second"]

#: what is measured first at most, and warnings shown at most; the rest stands in the appendix
_MOST = 4
_SOURCES = (
    "Friction: Darcy-Weisbach with Colebrook-White, or Hazen-Williams (textbook).",
    "Fittings: Crane Technical Paper 410 and the tables named beside each figure.",
    "Pump tolerance: ISO 9906 / HI 14.6 (second-hand). Velocity: NJAC 7:14A-23.10, Ten States.",
    "Gravity pipe: Manning (Chow 1959). Pit and starts: UFC 3-240-04A, NEMA MG 10 (second-hand).",
)


def second(outcome: Outcome, units: u.System) -> list[Block]:
    """Lay out page two."""
    counted = outcome.take_off
    left: list[Block] = []
    if outcome.first.pit is not None:
        left += [Heading("Levels to set"), Table(("level", "above the floor"),
                                                 list(levels(outcome, units)))]  # fmt: skip
    left += [Heading("Acceptance"), Paragraph(accepted_in_words(outcome, units))]
    right: list[Block] = [Heading("Measure before buying")]
    right += [Bullets(list(measure_next(outcome, units)))]
    checks = [f"{x.where}: {x}" for x in outcome.checks if x.verdict == "look"]
    if checks:
        right += [Heading("Look at"), Bullets([rounded(f"{said}.") for said in checks[:_MOST]])]
    blocks: list[Block] = [
        Heading("Take-off"),
        Table(("what", "size", "how many", "price", "note"), list(_items(outcome, units))),
        Paragraph(f"{_total(outcome)}Not counted: {'; '.join(counted.not_counted)}."),
        Columns([left, right]),
    ]
    blocks += [Heading("Assumed, because the job does not say"), Paragraph(_assumed(outcome))]
    if outcome.warnings:
        said = list(dict.fromkeys(rounded(w.text) for w in outcome.warnings))
        more = [f"and {len(said) - _MOST} more, in the appendix"] if len(said) > _MOST else []
        blocks += [Heading("Values to look at again"), Bullets([*said[:_MOST], *more])]
    blocks += [
        Heading("Cautions"),
        Paragraph(FIRST),
        Bullets(cautions_of(outcome)),
        Columns([
            [Heading("Still to be confirmed"), Checklist(OPEN_ITEMS)],
            [Heading("Sources"), Paragraph(" ".join(_SOURCES))],
        ]),
    ]  # fmt: skip
    return blocks


def _items(outcome: Outcome, units: u.System) -> Iterator[tuple[str, ...]]:
    for item in outcome.take_off.items:
        many = "" if np.isnan(item.pieces) else digits(item.pieces)
        if not np.isnan(item.length):
            many = f"{many} ({two(item.length, 'ft', units)})" if many else two(
                item.length, "ft", units)  # fmt: skip
        note = item.note
        if not np.isnan(item.volume):
            note = f"{two(item.volume, 'ft3', units)} out; {note}"
        yield item.what, item.size, many, "" if np.isnan(item.price) else digits(item.price), note


def _total(outcome: Outcome) -> str:
    price = outcome.take_off.price
    if np.isnan(price):
        return ""
    return f"Together {digits(price)} {outcome.take_off.currency}".rstrip() + " where priced. "


def levels(outcome: Outcome, units: u.System) -> Iterator[tuple[str, str]]:
    """The levels to set, from the rim down."""
    assert outcome.first.pit is not None
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
    times = f"{clock(float(found.si.time))}, {clock(float(found.si.fast))} to {slow}"
    if found.si.fast == found.si.slow:
        times = clock(float(found.si.time))
    if found.si.start is None:
        what = f"A bucket of {two(found.si.volume, 'gal', units)} at the outlet fills in {times}"
    else:
        what = f"Inflow stopped, {span(found.si.start, found.si.end, 'in', units)}: {times}"
    low = "; else look for a float that stops early, a half-shut or leaking check valve, air in the"
    return f"{what}{low} pump, a kinked or smaller pipe, more lift than told, another pump."


def measure_next(outcome: Outcome, units: u.System) -> Iterator[str]:
    """What moves the flow most, and how one measures it."""
    del units  # both stand in the row's text
    for row in outcome.swings[:_MOST]:
        yield rounded(f"{capital(str(row['text']))}; {row['measure']}.")
    if not outcome.swings:
        yield "Nothing is doubted in this job: measure lift and length all the same."


def _assumed(outcome: Outcome) -> str:
    """The assumptions that were left to the library, in one paragraph."""
    kept = ("friction", "water temperature", "siphon credited", "line holds its water")
    rows = [a for a in assumptions(outcome.job) if a.defaulted]
    said = [f"{a.name} {a.value}" for a in rows if a.name in kept]
    said = list(dict.fromkeys(said))
    if any(a.name.startswith("limit ") for a in rows):
        said.append("limits that are not set are the library's own, listed in the appendix")
    doubts = [a for a in rows if a.name.startswith("doubt")]
    if doubts:
        said.append("the usual doubt of lengths, lift, bore, fittings and the pump's curve")
    return f"{capital('; '.join(said))}." if said else "Nothing: all of it was given."
