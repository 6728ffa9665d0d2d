"""Numbers and things in the words of a page: three digits that matter, both unit systems."""

from __future__ import annotations

import re
from typing import Any

import numpy as np

from drainpump import units as u
from drainpump.data_files import texts

#: what the paper says in fixed words
TEXTS: dict[str, Any] = texts("paper", "texts.toml")

_US, _METRIC = (
    "|".join(
        sorted((re.escape(x.label) for x in u.UNITS.values() if x.system == system), key=len)[::-1]
    )
    for system in ("us", "metric")
)
_NUMBERS = r"-?[\d.]+(?: (?:to|and) -?[\d.]+)?"
#: a quantity in both systems, US first
_PAIR = re.compile(rf"({_NUMBERS} (?:{_US})) \(({_NUMBERS} (?:{_METRIC}))\)")


def one(si: Any, unit: str, units: u.System = "us") -> str:
    """Say a quantity (SI) in one system alone.

    >>> one(0.0025, "gpm"), one(0.0025, "gpm", "metric")
    ('39.6 gpm', '2.5 L/s')
    """
    return u.text(si, u.spelled(unit, units))


def two(si: Any, unit: str, units: u.System = "us") -> str:
    """Say a quantity (SI) in the wanted system, the other in brackets.

    >>> two(0.0025, "gpm"), two(0.0025, "gpm", "metric")
    ('39.6 gpm (2.5 L/s)', '2.5 L/s (39.6 gpm)')
    """
    return u.both(si, u.spelled(unit, units))


def span(low: Any, high: Any, unit: str, units: u.System = "us") -> str:
    """Say a range (SI), the other system in brackets.

    >>> span(0.0023, 0.0027, "gpm")
    '36.5 to 42.8 gpm (2.3 to 2.7 L/s)'
    """
    first = u.spelled(unit, units)
    if u.text(low, first) == u.text(high, first):
        return two(low, unit, units)
    said, twin = (
        f"{u.number(u.from_si(low, x))} to {u.text(high, x)}" for x in (first, u.UNITS[first].twin)
    )
    return said if twin == said else f"{said} ({twin})"


def between(low: Any, high: Any, unit: str, units: u.System = "us") -> str:
    """Say where a quantity (SI) probably lies.

    >>> between(0.0023, 0.0027, "gpm")
    'between 36.5 and 42.8 gpm (2.3 and 2.7 L/s)'
    """
    return f"between {span(low, high, unit, units)}".replace(" to ", " and ")


def turned(said: str, units: u.System) -> str:
    """Bring the wanted system to the front in a text that says both.

    >>> turned("1.75 ft/s (0.533 m/s), 0.1 h", "metric")
    '0.533 m/s (1.75 ft/s), 0.1 h'
    """
    return _PAIR.sub(r"\2 (\1)", said) if units == "metric" else said


def sentence(said: Any, units: u.System = "us") -> str:
    """Make a sentence of what was found, the wanted system first.

    >>> sentence("no need of 2 gpm (0.126 L/s)", "metric")
    'No need of 0.126 L/s (2 gpm).'
    """
    text = turned(str(said), units).removesuffix(".")
    return f"{text[:1].upper()}{text[1:]}."


def clock(seconds: float) -> str:
    """Say a time as one reads it off a watch.

    >>> clock(33.4), clock(125), clock(4000), clock(float("inf"))
    ('33 s', '2.1 min', '67 min', 'without end')
    """
    if not np.isfinite(seconds):
        return "not known" if np.isnan(seconds) else "without end"
    if seconds < 90:
        return f"{seconds:.1f} s" if 0 < seconds < 10 else f"{seconds:.0f} s"
    if seconds < 2 * 3600:
        return f"{seconds / 60:.0f} min" if seconds >= 600 else f"{seconds / 60:.1f} min"
    hours = seconds / 3600
    return f"{hours:.0f} h" if hours >= 10 else f"{hours:.1f} h"


def clock_span(fast: float, slow: float) -> str:
    """Say two times as one reads them off a watch.

    >>> clock_span(32.1, 35.4), clock_span(80, 95), clock_span(20, float("inf"))
    ('32 to 35 s', '80 s to 1.6 min', '20 s to more')
    """
    first, last = clock(fast), "more" if np.isinf(slow) else clock(slow)
    unit = last.rpartition(" ")[2]
    return f"{first.removesuffix(f' {unit}')} to {last}"


def named_fitting(key: str) -> str:
    """Say a fitting as one asks for it.

    >>> named_fitting("elbow_90"), named_fitting("gate_valve")
    ('90° elbow', 'gate valve')
    """
    return str(TEXTS["fittings"].get(key, key.replace("_", " ")))


def list_of(items: list[str]) -> str:
    """Join words as one says them.

    >>> list_of(["a"]), list_of(["a", "b", "c"])
    ('a', 'a, b and c')
    """
    return " and ".join(filter(None, [", ".join(items[:-1]), items[-1]])) if items else ""


def money(amount: float, currency: str) -> str:
    """Say an amount in a money that has a name, or is the user's own.

    >>> money(210, "EUR"), money(210, "")
    ('210 EUR', '210 (your currency)')
    """
    return f"{u.carried(amount)} {currency or '(your currency)'}"
