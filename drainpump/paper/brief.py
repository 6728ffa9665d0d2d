"""The answer in a screenful: what to install, why, how sure, what to measure, cautions."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from drainpump import units as u
from drainpump.paper.blocks import folded
from drainpump.paper.cautions import cautions_of, in_short
from drainpump.paper.outcome import Outcome
from drainpump.paper.pages.front import install, what_it_does, why_this, without_pump
from drainpump.paper.pages.second import measure_next
from drainpump.paper.words import TEXTS

_WIDE, _INDENT = 100, 11
#: how many sentences of a part are told in any case, the first to be cut short first
_SPARED = {"Why": 3, "Nothing": 2, "It does": 1}
#: lines of the whole, at most, the picture's name left out
_LINES = 29


def brief(outcome: Outcome, title: str, units: u.System = "us") -> str:
    """Say an outcome in at most thirty lines.

    Parameters
    ----------
    outcome : Outcome
    title : str
    units : {"us", "metric"}, default "us"
        Which system is said first.

    Returns
    -------
    str
    """
    parts = [(label, list(said)) for label, said in _parts(outcome, units)]
    while len(found := [title, "=" * len(title), *_laid(parts)]) > _LINES:
        # what the pages tell in full gives way, never a caution
        told = dict(parts)
        long = [told[label] for label, few in _SPARED.items() if len(told.get(label, ())) > few]
        if not long:
            break
        long[0].pop()
    return "\n".join(found)


def _laid(parts: Iterable[tuple[str, list[str]]]) -> Iterator[str]:
    for label, said in parts:
        yield from folded(" ".join(said), _WIDE, f"{label:<{_INDENT}}", " " * _INDENT)


def _parts(outcome: Outcome, units: u.System) -> Iterator[tuple[str, Iterable[str]]]:
    served = outcome.selection.best is not None
    rows = dict(install(outcome, units))
    if first := without_pump(outcome, units):
        yield "First", [first]
    yield "Install" if served else "Nearest", [f"{rows['Pump']}, on {rows['Pipe']}."]
    if "Pit" in rows:
        yield "Pit", [f"{rows['Pit']}; floats {rows['Floats']}."]
    if not served:
        yield "Nothing", ["on the list serves.", *why_this(outcome, units)]
    yield "It does", what_it_does(outcome, units)
    if served:
        yield "Why", why_this(outcome, units)
    yield "Measure", [next(measure_next(outcome, units))]
    for heard in outcome.warnings[:2]:
        yield "Look at", [heard.text]
    yield "Cautions", [TEXTS["first"], *map(in_short, cautions_of(outcome))]
