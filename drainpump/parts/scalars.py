"""Taking what is one: a name, a fact of a pump, or a factor on its curve."""

from __future__ import annotations

from typing import Any

import numpy as np

from drainpump import units as u
from drainpump.errors import InputError, wrong
from drainpump.units import FloatArray, Measure

__all__ = ["check_float", "check_name", "check_words", "fact", "factor", "plain_fact"]


def fact(name: str, guard: str, **given: Any) -> Measure | None:
    """Take an optional single finite number."""
    one = u.maybe(name, guard=guard, **given)
    if one is not None and (one.si.ndim or np.isnan(one.si)):
        raise wrong(f"{name}_{one.unit}", one.typed, "must be one finite number", "give one")
    return one


def plain_fact(name: str, value: Any) -> FloatArray | None:
    """Take an optional single number without unit, >= 0."""
    if value is None:
        return None
    number = u.plain(name, value, low=0.0, mend="give 0 or more, or leave it out")
    if number.ndim or np.isnan(number):
        raise wrong(name, value, "must be one finite number", "give one")
    return number


def factor(name: str, value: Any, high: float, mend: str) -> FloatArray:
    """Take a factor above 0 and at most ``high``; NaN stays in its cell."""
    number = u.plain(name, value, mend=mend)
    with np.errstate(invalid="ignore"):
        bad = (number <= 0) | (number > high)
    if bad.any():
        index = [int(i) for i in np.argwhere(bad)[0]]
        where = str(index) if index else ""
        value = float(number[tuple(index)])
        raise wrong(f"{name}{where}", value, f"must be more than 0 and at most {high:g}", mend)
    return number


def check_float(off: Measure | None, on: Measure | None) -> None:
    """Refuse a built-in float whose levels are crossed."""
    if off is not None and on is not None and off.si >= on.si:
        raise InputError(
            f"off level {off} and on {on}: off must be below on; the built-in float's levels are "
            "crossed, swap them."
        )


def check_name(name: object) -> None:
    """Refuse a name that is no text, or that a terminal would obey and not show."""
    mend = "leave it out, or say what to call it"
    if name is not None and not isinstance(name, str):
        raise wrong("name", name, "must be text", mend)
    if name and not name.isprintable():
        raise wrong("name", name, "must be a printable name", mend)


def check_words(name: object, note: object, invented: object) -> None:
    """Refuse a name that cannot be printed, a note that is no text, a vague "invented"."""
    if not isinstance(name, str) or not name.strip() or not name.isprintable():
        raise wrong("name", name, "must be a printable name", "say what the pump is called")
    if not isinstance(note, str):
        raise wrong("note", note, "must be text", "write the note in quotes")
    if not isinstance(invented, bool):
        raise wrong("invented", invented, "must be True or False", "say whether it is made up")
