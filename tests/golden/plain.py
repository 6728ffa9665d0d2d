"""Answers as plain nested values: made, kept in a file, and compared."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from drainpump.results import Result

__all__ = ["FILE", "differences", "kept", "plain", "write"]

FILE = Path(__file__).with_name("frames.json")
#: relative and absolute: what two orders of the same sums may differ by
TOLERANCE = 1e-12
#: a number that a text gives to its last digit
_IN_FULL = re.compile(r"-?\d+\.\d{9,}(?:e[-+]?\d+)?")
#: any other number in a text: they had four digits in the frames, and have three
_SHORT = re.compile(r"\d+(?:\.\d+)?")
_ROUNDED = 5.5e-3
#: longest list that is kept whole; of a longer one evenly spaced items
_LONGEST = 40
#: what should be nothing, and is rounding: kept as whether it is nothing
_NOTHING = ("balance_error",)
_ENDLESS = {math.inf: "inf", -math.inf: "-inf"}


#: attributes that came later than the frames
_LATER = ("given", "si", "branches", "return_year", "curve_number")


def plain(thing: Any) -> Any:
    """Return anything as dicts, lists, numbers, strings, bools and None."""
    if thing is None or isinstance(thing, str | bool | int):
        return thing
    if isinstance(thing, float):
        return "NaN" if math.isnan(thing) else _ENDLESS.get(thing, float(thing))
    if isinstance(thing, np.generic | np.ndarray):
        return plain(thing.tolist())
    if isinstance(thing, pd.DataFrame):
        return plain(thing.to_dict("list"))
    if isinstance(thing, Mapping):
        return {str(key): _item(str(key), value) for key, value in thing.items()}
    if isinstance(thing, list | tuple):
        return [plain(value) for value in _thin(thing)]
    return _public(thing)


def _thin(values: Any) -> Any:
    if len(values) <= _LONGEST:
        return values
    return [values[round(i)] for i in np.linspace(0, len(values) - 1, _LONGEST)]


def _item(name: str, value: Any) -> Any:
    if name.startswith(_NOTHING):
        return bool(np.all(np.abs(np.nan_to_num(np.asarray(value, float))) < 1e-6))
    return plain(value)


def _public(thing: Any) -> Any:
    """What an object shows: its dict, its other public attributes, and how it prints."""
    # a part's dict came later than the frames, but for a curve's and a job's
    own = hasattr(thing, "given") and type(thing).__name__ not in ("PumpCurve", "Job")
    shown = dict(thing.to_dict()) if hasattr(thing, "to_dict") and not own else {}
    # what has no end is null in a dict, and compared as the attribute that it is
    for name in shown.pop("endless", ()):
        value = np.asarray(getattr(thing, name), dtype=object)
        shown[name] = np.where(value != value, None, value)
    # what a part remembers, and what a result was warned of, came later than the frames
    later = (*_LATER, "warnings") if isinstance(thing, Result) else _LATER
    for name in dir(thing):
        if not name.startswith("_") and name not in shown and name not in later:
            try:
                value = getattr(thing, name)
            except ValueError as refused:
                value = str(refused)
            if not callable(value):
                shown[name] = _inside(value)
    if type(thing).__repr__ is not object.__repr__:  # which says but an address
        shown["repr"] = _said(thing)
    return plain(shown)


def _inside(value: Any) -> Any:
    """What stands inside an object: objects of its own only as they print."""
    if isinstance(value, Mapping):
        return {key: _inside(v) for key, v in value.items()}
    if isinstance(value, list | tuple):
        return [_inside(v) for v in _thin(value)]
    known = str | bool | int | float | np.generic | np.ndarray | pd.DataFrame
    return value if value is None or isinstance(value, known) else _said(value)


def _said(thing: Any) -> str:
    """How a thing prints: a part's repr is the code that builds it."""
    return str(thing) if hasattr(thing, "given") else repr(thing)


def write(frames: Mapping[str, Any]) -> None:
    """Write the frames, one case a line, floats so that nothing is lost."""
    lines = (
        f"{json.dumps(name)}: {json.dumps(frame, ensure_ascii=False, allow_nan=False)}"
        for name, frame in frames.items()
    )
    FILE.write_text("{\n" + ",\n".join(lines) + "\n}\n", encoding="utf-8")


def kept() -> dict[str, Any]:
    """Read the frames."""
    found: dict[str, Any] = json.loads(FILE.read_text(encoding="utf-8"))
    return found


def differences(was: Any, now: Any, path: str) -> Iterator[tuple[str, str]]:
    """Yield where two plain values differ, as (path, what differs)."""
    if isinstance(was, dict) and isinstance(now, dict):
        for key in {**was, **now}:
            if key not in now or key not in was:
                yield f"{path}/{key}", "is gone" if key not in now else "is new"
        for key in was:
            if key in now:
                yield from differences(was[key], now[key], f"{path}/{key}")
    elif isinstance(was, list) and isinstance(now, list):
        if len(was) != len(now):
            yield path, f"had {len(was)} items, has {len(now)}"
        for i, (a, b) in enumerate(zip(was, now, strict=False)):
            yield from differences(a, b, f"{path}/{i}")
    elif _number(was) and _number(now):
        if not math.isclose(was, now, rel_tol=TOLERANCE, abs_tol=TOLERANCE):
            yield path, f"was {was!r}, is {now!r}, {abs(now - was):.3g} off"
    elif type(was) is not type(now) or (was != now and not _alike(was, now)):
        yield path, _unlike(was, now)


def _number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _alike(was: Any, now: Any) -> bool:
    """True of texts that differ but in the last digits of numbers printed in full."""
    if not isinstance(was, str):
        return False
    # a balance's error is pure rounding
    was, now = (re.sub(r"balance_error: .*", "", text) for text in (was, now))
    for pattern, apart in ((_IN_FULL, TOLERANCE), (_SHORT, _ROUNDED)):
        numbers, others = ([float(x) for x in pattern.findall(text)] for text in (was, now))
        if len(numbers) != len(others):
            return False
        pairs = zip(numbers, others, strict=True)
        if not all(math.isclose(a, b, rel_tol=apart) for a, b in pairs):
            return False
        was, now = (pattern.sub("#", text) for text in (was, now))
    return bool(was == now)


def _unlike(was: Any, now: Any) -> str:
    """Two values side by side; of long texts the first lines that differ."""
    if isinstance(was, str) and isinstance(now, str):
        old, new = was.splitlines(), now.splitlines()
        for i, (a, b) in enumerate(zip(old, new, strict=False)):
            if a != b:
                return f"line {i + 1} was {a!r}, is {b!r}"
        return f"had {len(old)} lines, has {len(new)}"
    return f"was {was!r:.200}, is {now!r:.200}"
