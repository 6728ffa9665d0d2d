"""Taking what is one: a name, a fact of a pump, or a factor on its curve."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, TypeVar

import numpy as np

from drainpump import units as u
from drainpump.errors import InputError, wrong
from drainpump.units import FloatArray, Measure

Kind = TypeVar("Kind")

#: a doubt of so few percent, above 0, was perhaps meant as a share of 1
_SMALL_PCT = 0.2


def one_number(
    label: str, typed: Any, si: Any, mend: str = "give one", *, above_zero: bool = False
) -> float:
    """Refuse what is not one number, and where asked a 0; return it."""
    if np.ndim(si) or np.isnan(si) or (above_zero and si <= 0):
        typed = typed.tolist() if isinstance(typed, np.ndarray) else typed
        allowed = "must be one number above 0" if above_zero else "must be one number"
        raise wrong(label, typed, allowed, mend)
    return float(si)


def one_measure(name: str, measure: Measure, mend: str = "give one", **how: bool) -> Measure:
    """Refuse a measure that is not one number; ``how`` as to `one_number`."""
    one_number(f"{name}_{measure.unit}", measure.typed, measure.si, mend, **how)
    return measure


def fact(name: str, guard: str, mend: str = "give one", **given: Any) -> Measure | None:
    """Take an optional single number."""
    measure = u.maybe(name, guard=guard, **given)
    return measure if measure is None else one_measure(name, measure, mend)


def one_plain(
    name: str, value: Any, mend: str, *, high: float = np.inf, above_zero: bool = False
) -> float:
    """Take a single number without unit, from 0, or above it, to ``high``."""
    number = u.plain(name, value, low=0.0, high=high, mend=mend)
    return one_number(name, value, number, mend, above_zero=above_zero)


def one_sigma(name: str, value: Any, high: float = 20.0) -> FloatArray:
    """Take one number from 0 to ``high``; warn where a share was perhaps typed for percent."""
    sigma = one_plain(name, value, "give one sigma of the input's doubt", high=high)
    # 0.05 for 5 % is the slip that would pass unseen, and promise too much
    if name.endswith("_pct") and 0 < sigma <= _SMALL_PCT:
        u.unusual(
            f"{name}={sigma:g} is {sigma:g} %, a share would be {100 * sigma:g} %; give 5 for 5 %.",
            name,
        )
    return np.asarray(sigma)


def plain_fact(name: str, value: Any) -> FloatArray | None:
    """Take an optional single number without unit, >= 0."""
    mend = "give 0 or more, or leave it out"
    return None if value is None else np.asarray(one_plain(name, value, mend))


def check_kind(name: str, value: object, kind: type, make: str = "") -> None:
    """Refuse what is no part or result of one kind, which is made by ``make``, or by its name."""
    if not isinstance(value, kind):
        mend = f"make one with {make or f'{kind.__name__}(...)'}"
        raise wrong(name, value, f"must be a {kind.__name__}", mend)


def check_kinds(kinds: Mapping[str, type], given: Mapping[str, Any]) -> None:
    """Refuse of a call's keywords a part that is no part of its kind; None is left out."""
    for name, kind in kinds.items():
        if given[name] is not None:
            check_kind(name, given[name], kind)


def one_or_more(name: str, given: Any, kind: type[Kind]) -> tuple[Kind, ...]:
    """Take one part of a kind, or a list of them."""
    many = tuple(given) if isinstance(given, Sequence) else (given,)
    for i, one in enumerate(many):
        check_kind(f"{name}[{i}]", one, kind)
    return many


def known(name: str, measure: Measure, mend: str = "leave it out") -> FloatArray:
    """Refuse a measure that is NaN anywhere; return it in SI."""
    if np.isnan(measure.si).any():
        typed = measure.typed.tolist() if isinstance(measure.typed, np.ndarray) else measure.typed
        raise wrong(f"{name}_{measure.unit}", typed, "must be known", mend)
    return measure.si


def yes_or_no(name: str, value: object, mend: str = "state which it is") -> bool:
    """Take True or False, and nothing that merely counts as one."""
    if not isinstance(value, bool | np.bool_):
        raise wrong(name, value, "must be True or False", mend)
    return bool(value)


def whole(name: str, value: Any, mend: str, *, low: int = 1, high: int | None = None) -> int:
    """Take a whole number from ``low`` to ``high``."""
    kind = isinstance(value, int | np.integer) and not isinstance(value, bool)
    if not kind or value < low or (high is not None and value > high):
        span = f"{low} or more" if high is None else f"{low} to {high}"
        raise wrong(name, value, f"must be a whole number, {span}", mend)
    return int(value)


def factor(name: str, value: Any, high: float, mend: str) -> FloatArray:
    """Take a factor above 0 and at most ``high``; NaN stays in its cell."""
    number = u.plain(name, value, mend=mend)
    with np.errstate(invalid="ignore"):
        bad = (number <= 0) | (number > high)
    if bad.any():
        where, value = u.first(number, bad)
        raise wrong(f"{name}{where}", value, f"must be more than 0 and at most {high:g}", mend)
    return number


def one_factor(name: str, value: Any, high: float, mend: str) -> float:
    """Take a single factor above 0 and at most ``high``."""
    return one_number(name, value, factor(name, value, high, mend), mend)


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
    yes_or_no("invented", invented, "say whether it is made up")
