"""Numbers and things in the words of a page: three digits that matter, both unit systems."""

from __future__ import annotations

import re
from typing import Any

import numpy as np

from drainpump import units as u

__all__ = [
    "between",
    "capital",
    "clock",
    "digits",
    "list_of",
    "named_fitting",
    "one",
    "rounded",
    "span",
    "two",
]

#: what one asks for at the counter, where it is not the fitting's key with spaces
_FITTINGS = {
    "elbow_90": "90° elbow",
    "elbow_90_long": "90° long-sweep elbow",
    "elbow_45": "45° elbow",
    "tee_run": "tee",
    "tee_branch": "tee",
    "wye_run": "wye",
    "wye_branch": "wye",
    "check_valve_swing": "check valve, swing",
    "check_valve_ball": "check valve, ball",
    "check_valve_lift": "check valve, lift",
    "foot_valve_hinged": "foot valve, hinged",
    "foot_valve_poppet": "foot valve, poppet",
}


def digits(value: Any) -> str:
    """Print a number to three significant digits, without a tail of zeros.

    >>> digits(25.678), digits(1943.0), digits(2.0)
    ('25.7', '1940', '2')
    """
    return u.number(float(f"{float(value):.3g}"))


def _in(unit: str, units: u.System) -> str:
    """A unit, or its twin where that is the one of the wanted system."""
    return unit if u.UNITS[unit].system in ("both", units) else u.UNITS[unit].twin


def one(si: Any, unit: str) -> str:
    """Say a quantity (SI) in one unit.

    >>> one(0.0025, "gpm")
    '39.6 gpm'
    """
    label = u.UNITS[unit].label
    return f"{digits(u.from_si(si, unit))}{'' if label.startswith('/') else ' '}{label}"


def two(si: Any, unit: str, units: u.System = "us") -> str:
    """Say a quantity (SI) in the wanted system, the other in brackets.

    >>> two(0.0025, "gpm"), two(0.0025, "gpm", "metric")
    ('39.6 gpm (2.5 L/s)', '2.5 L/s (39.6 gpm)')
    """
    unit = _in(unit, units)
    twin = u.UNITS[unit].twin
    return one(si, unit) if twin == unit else f"{one(si, unit)} ({one(si, twin)})"


def span(low: Any, high: Any, unit: str, units: u.System = "us") -> str:
    """Say a range (SI), the other system in brackets.

    >>> span(0.0023, 0.0027, "gpm")
    '36.5 to 42.8 gpm (2.3 to 2.7 L/s)'
    """
    unit = _in(unit, units)
    twin = u.UNITS[unit].twin
    said = f"{digits(u.from_si(low, unit))} to {one(high, unit)}"
    return said if twin == unit else f"{said} ({digits(u.from_si(low, twin))} to {one(high, twin)})"


def between(low: Any, high: Any, unit: str, units: u.System = "us") -> str:
    """Say where a quantity (SI) probably lies.

    >>> between(0.0023, 0.0027, "gpm")
    'between 36.5 and 42.8 gpm (2.3 and 2.7 L/s)'
    """
    return f"between {span(low, high, unit, units)}".replace(" to ", " and ")


def rounded(said: str) -> str:
    """Round the decimals of a text to three significant digits.

    >>> rounded("1.75 ft/s (0.5334 m/s), 1943 gal, ASTM D1785")
    '1.75 ft/s (0.533 m/s), 1943 gal, ASTM D1785'
    """
    return re.sub(r"\d+\.\d+", lambda found: digits(found.group()), said)


def capital(said: str) -> str:
    """Begin a sentence with a capital.

    >>> capital("no need.")
    'No need.'
    """
    return said[:1].upper() + said[1:]


def clock(seconds: float) -> str:
    """Say a time as one reads it off a watch.

    >>> clock(33.4), clock(125), clock(4000), clock(float("inf"))
    ('33 s', '2.1 min', '67 min', 'without end')
    """
    if not np.isfinite(seconds):
        return "not known" if np.isnan(seconds) else "without end"
    if seconds < 90:
        return f"{seconds:.0f} s" if seconds >= 10 else f"{seconds:.1f} s"
    if seconds < 2 * 3600:
        return f"{seconds / 60:.0f} min" if seconds >= 600 else f"{seconds / 60:.1f} min"
    hours = seconds / 3600
    return f"{hours:.0f} h" if hours >= 10 else f"{hours:.1f} h"


def named_fitting(key: str) -> str:
    """Say a fitting as one asks for it.

    >>> named_fitting("elbow_90"), named_fitting("gate_valve")
    ('90° elbow', 'gate valve')
    """
    return _FITTINGS.get(key, key.replace("_", " "))


def list_of(items: list[str]) -> str:
    """Join words as one says them.

    >>> list_of(["a"]), list_of(["a", "b", "c"])
    ('a', 'a, b and c')
    """
    return " and ".join(filter(None, [", ".join(items[:-1]), items[-1]])) if items else ""
