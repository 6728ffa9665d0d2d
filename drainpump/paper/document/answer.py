"""What a job's outcome tells a program: plain values, and the shape they keep to."""

from __future__ import annotations

import inspect
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields
from types import NoneType
from typing import Any

import numpy as np

from drainpump import units as u
from drainpump.choose.candidate import Candidate
from drainpump.choose.selection import Selection
from drainpump.cycling.outage import Outage
from drainpump.cycling.switching import Cycle
from drainpump.doubt.band import Band
from drainpump.errors import Heard
from drainpump.findings import Finding
from drainpump.inflow.storm import Hydrograph
from drainpump.paper.acceptance import Acceptance
from drainpump.paper.document.shapes import Key, Object
from drainpump.paper.document.values import (
    NULL,
    Either,
    Flag,
    Listed,
    Named,
    Number,
    Shape,
    Text,
    Whole,
)
from drainpump.paper.take_off import Item, TakeOff
from drainpump.routing.route import Routing

ANSWER_VERSION = 2

_LONG = Text(most=100_000)
_MOST = 1_000_000
_MAYBE = Either((NoneType,), NULL, Number())
_WORDS = Listed(_LONG, 0, _MOST)
#: what a view answers, by its kind
_KINDS: dict[Any, Shape] = {
    float: _MAYBE, bool: Flag(), str: _LONG, dict: Either((NoneType,), NULL, Named(_MAYBE, 3)),
}  # fmt: skip


@dataclass(frozen=True)
class DryUpTo:
    """How rare a storm is kept.

    Attributes
    ----------
    year : float
        Return period up to which the limits on pond and overflow hold; without such limits,
        up to which no water stands above the rim.
    low_year, high_year : float or None
        P10 and P90 of it; None without a doubt.
    status : str
        ``ok``, or ``below`` or ``beyond`` where the table of storms ends before.
    yearly_probability : float
        Of a storm in any year in which they fail; more than that ``below``, less ``beyond``.
    text : str
        The same in words.
    """

    year: float
    low_year: float | None
    high_year: float | None
    status: str
    yearly_probability: float
    text: str


def _or_null(shape: Shape) -> Shape:
    return Either((NoneType,), NULL, shape)


def _object(title: str, *of: Any, **members: Any) -> Object:
    """An object of members, each with the unit of its name; all are there but ``decides``.

    ``of`` are documented: what the first says counts.
    """
    keys = (
        Key(name, shape, required=name != "decides", unit=u.suffix_of(name))
        for name, shape in members.items()
    )
    doc = "\n\n".join(inspect.getdoc(one) or "" for one in of)
    return Object(title, tuple(keys), doc=doc, section="Attributes")


def _result(title: str, cls: type, before: Mapping[str, Shape], *of: Any, **after: Shape) -> Object:
    """The shape of what `told` says of a result or a record; ``of`` document the rest."""
    own = {view.name: _KINDS[view.kind] for view in u.views(cls)}
    return _object(title, *of, cls, **before, **own, **after)


def told(result: Any) -> dict[str, Any] | None:
    """All that a result of one case answers, in both units; what has none is None."""
    if result is None:
        return None
    found = {view.name: view.__get__(result) for view in u.views(type(result))}
    if hasattr(result, "status"):
        found["status"] = str(result.status)
    if isinstance(result, Band):
        found |= {"samples": result.samples, "seed": result.seed, "doubt": str(result.doubt)}
    return found


def pair(c: Candidate) -> dict[str, Any]:
    """Which pump stands where.

    Attributes
    ----------
    pump, line : str
        By name.
    pit : int or None
        Its place among the pits given, from 1.
    """
    return {
        "pump": c.pump.name, "line": c.line.name, "pit": None if c.pit is None else c.number,
    }  # fmt: skip


def candidate_rows(chosen: Selection) -> Iterator[dict[str, Any]]:
    """One row a candidate: what it does, what it breaks, what to know of it.

    Attributes
    ----------
    pump, line : str
        By name.
    accepted : bool
        Whether it keeps every hard limit.
    price : float or None
        Of the pump alone.
    dry_status : str
        ok, below, beyond, or nothing without storms.
    yearly_probability : float or None
        Of a storm in any year in which the limits fail.
    codes : list of str
        The limits it breaks.
    flow_band : mapping or None
        P10, P50 and P90 of the flow.
    """
    for c in chosen.candidates:
        yield {
            "rank": c.rank, **pair(c), "accepted": c.accepted, "price": c.pump.price,
            **(told(c) or {}), "probability": c.probability, "cost": c.cost,
            "dry_status": c.dry_status, "yearly_probability": c.yearly_probability,
            "codes": [r.code for r in c.reasons], "warnings": [r.text for r in c.warnings],
            # what the pump's maker or the user notes of it, then ours
            "notes": list(dict.fromkeys([*(p.note for p in c.pump.si.curves if p.note), *c.notes])),
            **_spread(c, chosen),
        }  # fmt: skip


def _spread(c: Candidate, chosen: Selection) -> dict[str, Any]:
    names = ("flow_band_gpm", "flow_band_lps")
    if chosen.band is None:
        return dict.fromkeys(names)
    grid = chosen.operating.si.grid
    p = next(i for i, x in enumerate(grid.pumps) if x is c.pump)
    k = next(i for i, x in enumerate(grid.lines) if x is c.line)
    of = (chosen.band.flow_gpm, chosen.band.flow_lps)
    return {
        name: {key: value[p, k] for key, value in spread.items()}
        for name, spread in zip(names, of, strict=True)
    }


def storm_rows(storms: Hydrograph | None, routed: Routing | None) -> Iterator[dict[str, Any]]:
    """One row a storm: how rare it is, and what it does to the pit.

    Attributes
    ----------
    return_year : float or None
        How rare it is.
    peak : float
        Its greatest inflow.
    """
    if storms is None or routed is None:
        return
    views = {view.name: np.atleast_1d(view.__get__(routed)) for view in u.views(Routing)}
    views["status"] = np.atleast_1d(routed.status)
    views |= {name: np.atleast_1d(getattr(storms, name)) for name in ("peak_gpm", "peak_lps")}
    years = storms.return_year
    for i in range(views["status"].size):
        year = None if years is None else np.atleast_1d(years)[i]
        yield {"return_year": year} | {name: row[i] for name, row in views.items()}


def swing_rows(swings: tuple[dict[str, Any], ...]) -> list[dict[str, Any]]:
    """How far the doubt of one input moves the flow.

    Attributes
    ----------
    input, text, measure : str
        What is doubted, how much it moves, and how one measures it.
    status : str
        ok where every flow behind it is.
    decides : bool
        Whether the need lies within the swing.
    variance_share : float
        Of the flow's variance over all samples.
    swing, moved : float
        Flow from one sigma below to one above, and by the step that the text names.
    flow_at_minus, flow_at_plus : float
        Flow at one sigma below and above.
    """
    return list(swings)


def rejection_row(c: Candidate, *, solved: bool) -> dict[str, Any]:
    """Why a candidate is rejected.

    Attributes
    ----------
    pump, line : str
        By name.
    reasons : list
        Each limit that is not kept.
    change : str
        The smallest change that would admit it; with storms only of the one that is reported.
    """
    return {
        "pump": c.pump.name, "line": c.line.name, "reasons": [r.to_dict() for r in c.reasons],
        "change": c.change if solved else "",
    }  # fmt: skip


_STATUS: dict[str, Any] = {"status": _LONG}
_FIELDS: dict[str, Any] = {
    field.name: _MAYBE if field.type == "float" else _LONG for field in fields(Finding)
}
_FINDING = _object("finding", Finding, **_FIELDS)
_PIT = _or_null(Whole(1, _MOST))
_PAIR = _object("pump and line", pair, pump=_LONG, line=_LONG, pit=_PIT)
_CANDIDATE = _result(
    "candidate", Candidate, {"rank": Whole(1, _MOST), **_PAIR.shapes, "accepted": Flag(),
                             "price": _MAYBE}, candidate_rows,
    **_STATUS, probability=_MAYBE, cost=_MAYBE, dry_status=_LONG, yearly_probability=_MAYBE,
    codes=_WORDS, warnings=_WORDS, notes=_WORDS, flow_band_gpm=_KINDS[dict],
    flow_band_lps=_KINDS[dict],
)  # fmt: skip
_MOVES: dict[str, Any] = {
    f"{name}_{unit}": _MAYBE
    for unit in ("gpm", "lps")
    for name in ("swing", "flow_at_minus", "flow_at_plus", "moved")
}
_SWING = _object(
    "what to measure", swing_rows, input=_LONG, text=_LONG, measure=_LONG, status=_LONG,
    decides=Flag(), variance_share=_MAYBE, **_MOVES,
)  # fmt: skip
_ITEM = _object(
    "item", Item, kind=_LONG, what=_LONG, size=_LONG, note=_LONG, pieces=_MAYBE, length_ft=_MAYBE,
    length_m=_MAYBE, volume_ft3=_MAYBE, volume_m3=_MAYBE, price=_MAYBE,
)  # fmt: skip
_STORM = _result(
    "storm", Routing, {"return_year": _MAYBE, "peak_gpm": _MAYBE, "peak_lps": _MAYBE},
    storm_rows, **_STATUS,
)  # fmt: skip
_REJECTION = _object(
    "rejection", rejection_row, pump=_LONG, line=_LONG, change=_LONG,
    reasons=Listed(_FINDING, 1, _MOST),
)  # fmt: skip
#: what `Outcome.to_dict` answers
ANSWER = _object(
    "drainpump answer",
    answer_version=Whole(ANSWER_VERSION, ANSWER_VERSION), name=_LONG, needed=_LONG,
    need_gpm=_MAYBE, need_lps=_MAYBE, ranked_by=_LONG, certainty=_MAYBE, currency=_LONG,
    chosen=_or_null(_PAIR), reported=_PAIR, gravity=_or_null(_FINDING),
    links=Listed(_FINDING, 0, _MOST), storms=Listed(_STORM, 0, _MOST),
    dry=_or_null(_object("dry up to", DryUpTo, year=Number(), low_year=_MAYBE, high_year=_MAYBE,
                         status=_LONG, yearly_probability=Number(), text=_LONG)),
    candidates=Listed(_CANDIDATE, 1, _MOST), rejections=Listed(_REJECTION, 0, _MOST),
    cycle=_or_null(_result("cycle", Cycle, {}, **_STATUS)),
    band=_or_null(_result("band", Band, {}, **_STATUS,
                          samples=Whole(1, _MOST), seed=Whole(0, 2**32 - 1), doubt=_LONG)),
    outage=_or_null(_result("outage", Outage, {}, **_STATUS)),
    dark=_or_null(_result("storm without power", Routing, {}, **_STATUS)),
    checks=Listed(_FINDING, 0, _MOST),
    take_off=_object("take-off", TakeOff, items=Listed(_ITEM, 0, _MOST), price=_MAYBE,
                     currency=_LONG, not_counted=_WORDS),
    acceptance=_or_null(_result("acceptance", Acceptance, {})),
    measure_next=Listed(_SWING, 0, _MOST),
    warnings=Listed(_object("warning", Heard, path=_LONG, text=_LONG, kind=_LONG), 0, _MOST),
)  # fmt: skip
