"""The answer in a screenful: what to install, why, how sure, what to measure, cautions."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator

from drainpump import units as u
from drainpump.paper.cautions import FIRST, cautions_of
from drainpump.paper.outcome import Outcome
from drainpump.paper.pages.front import install, what_it_does, why_this, without_pump
from drainpump.paper.pages.second import measure_next

__all__ = ["brief"]

_WIDE, _INDENT = 100, 11
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
    lines = [title, "=" * len(title)]
    for label, said in _parts(outcome, units):
        lines += textwrap.wrap(
            said, _WIDE, initial_indent=f"{label:<{_INDENT}}",
            subsequent_indent=" " * _INDENT, break_on_hyphens=False,
        )  # fmt: skip
    if len(lines) > _LINES:
        lines = [*lines[: _LINES - 1], f"{'':<{_INDENT}}... more with --full"]
    return "\n".join(lines)


def _parts(outcome: Outcome, units: u.System) -> Iterator[tuple[str, str]]:
    served = outcome.selection.best is not None
    rows = dict(install(outcome, units))
    if first := without_pump(outcome, units):
        yield "First", first
    yield "Install" if served else "Nearest", f"{rows['Pump']}, on {rows['Pipe']}."
    if "Pit" in rows:
        yield "Pit", f"{rows['Pit']}; floats {rows['Floats']}."
    if not served:
        yield "Nothing", f"on the list serves. {' '.join(why_this(outcome, units))}"
    yield "It does", " ".join(what_it_does(outcome, units))
    if served:
        yield "Why", " ".join(why_this(outcome, units))
    yield "Measure", next(measure_next(outcome, units))
    for heard in outcome.warnings[:2]:
        yield "Look at", heard.text
    heads = (re.split(r"[:.](?: |$)", text)[0] for text in cautions_of(outcome))
    yield "Cautions", f"{FIRST} {'. '.join(heads)}."
