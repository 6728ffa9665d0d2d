"""Units that are typed though no name here carries them: what they are, and the mend.

A hint must never make anyone put the name of one unit over the numbers of another:
where the unit differs, it says the conversion.

Their factors stand in ``data/foreign_units.csv``.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from difflib import get_close_matches

from drainpump.units import UNITS, FloatArray, Unit, suffix_of, units_in

#: foreign units by suffix; the twin is the unit of ours that each is turned into
FOREIGN = units_in("foreign_units.csv")
#: other spellings, without "per" and signs: "m³/h", "m3_per_h" and "(m3/h)" are all m3h
_SPELLED = {
    "lmin": "lpm", "lh": "lph", "m3h": "m3ph", "m3hr": "m3ph", "cmh": "m3ph", "galh": "gph",
    "galhr": "gph", "ft3min": "cfm", "ft3s": "cfs", "ls": "lps", "lsec": "lps", "galmin": "gpm",
    "usgpm": "gpm", "feet": "ft", "foot": "ft", "meter": "m", "meters": "m", "metre": "m",
    "metres": "m", "inch": "in", "inches": "in", "watt": "w", "watts": "w",
}  # fmt: skip
#: words before or behind a gallon that make it the imperial one
_IMPERIAL = ("imp", "imp.", "imperial", "uk")
#: units that measure the same, for a name that has no spelling in the twin
_FLOWS = ("gpm", "lps")
_GROUPS = (_FLOWS, ("ft", "m", "in", "mm"), ("gal", "l"), ("w",))

#: quantities of a pump in a foreign unit, as printed on its box or curve: they are turned
#: into ours on reading, from a file or a keyword
READ: dict[str, Unit] = {
    f"{name}_{unit}": FOREIGN[unit]
    for names, units in ((("flow", "flow_max"), "lpm m3ph gph"), (("head", "head_max"), "kpa psi"))
    for name in names
    for unit in units.split()
}


def unit_of(column: str) -> Unit | None:
    """Return the unit a column's name ends in, a foreign one where the column is read in it."""
    return READ.get(column) or UNITS.get(suffix_of(column) or "")


def convert(column: str, numbers: FloatArray) -> tuple[str, FloatArray]:
    """Return a column in a unit of ours: its name and numbers, untouched where they are ours.

    >>> import numpy as np
    >>> convert("flow_lpm", np.array([57.0]))
    ('flow_lps', array([0.95]))
    """
    if (unit := READ.get(column)) is None:
        return column, numbers
    stem = column.removesuffix(unit.suffix)
    return stem + unit.twin, numbers * (unit.factor / UNITS[unit.twin].factor)


def stem_of(name: str) -> str:
    """Return a pump's quantity without its unit, be it one of ours or a printed one.

    >>> stem_of("flow_max_gph"), stem_of("head_ft"), stem_of("note")
    ('flow_max', 'head', 'note')
    """
    unit = unit_of(name)
    return name if unit is None else name.removesuffix(f"_{unit.suffix}")


def check_keywords(what: str, given: Iterable[str], known: list[str]) -> None:
    """Refuse a keyword that is not known, naming what lies nearest.

    >>> check_keywords("pvc", ["nominel"], ["nominal", "schedule"])
    Traceback (most recent call last):
    ...
    TypeError: pvc() got an unexpected keyword argument 'nominel'; did you mean 'nominal'?
    """
    for name in given:
        if name not in known:
            said = f"{what}() got an unexpected keyword argument {name!r}"
            raise TypeError(f"{said}; {nearest(name, known)}")


def is_among(word: object, known: Iterable[str]) -> bool:
    """Whether it is one of the known words; what is no text is none."""
    return isinstance(word, str) and word in known


def nearest(word: object, known: list[str]) -> str:
    """Say which known names lie nearest to ``word``, or list them all.

    A name in another unit is never offered as a spelling: the conversion is said.

    >>> nearest("elbow90", ["elbow_90", "elbow_45", "gate_valve"])
    "did you mean 'elbow_90' or 'elbow_45'?"
    >>> nearest("zzz", ["a", "b"])
    'known: a, b'
    >>> nearest("flow_lpm", ["flow_gpm", "flow_lps"])
    "L/min: divide by 60 and call it 'flow_lps'"
    """
    bare = [name for name in known if unit_of(name) is None]
    slip = get_close_matches(str(word), bare, n=1, cutoff=0.9)
    if not slip and (mend := hint(str(word), known)) is not None:
        return mend
    close = get_close_matches(str(word), same_unit(str(word), known), n=3, cutoff=0.6)
    if close:
        return "did you mean " + " or ".join(repr(c) for c in close) + "?"
    return f"known: {', '.join(known) or 'none'}"


def hint(word: str, known: Sequence[str]) -> str | None:
    """Say how a quantity's unknown name becomes one of the known; None where it is no quantity.

    >>> hint("flow_m3/h", ["flow_gpm", "flow_lps"])
    "m³/h: divide by 3.6 and call it 'flow_lps'"
    >>> hint("length", ["length_ft", "length_m"])
    "has no unit; give 'length_ft' or 'length_m'"
    """
    homes: dict[str, dict[str, str]] = {}
    for name in known:
        if (own := unit_of(name)) is not None:
            homes.setdefault(name[: -len(own.suffix) - 1], {})[own.suffix] = name
    parts = _parts(word, known)
    stem, unit = _split(parts)
    if unit is not None:
        said = _turned(unit, word, _home(stem, unit, homes))
        if said or stem not in homes:
            return said
    return _no_unit(parts, homes)


def same_unit(word: str, known: Sequence[str]) -> list[str]:
    """Leave out the known names that carry another unit than ``word`` does.

    >>> same_unit("lenght_ft", ["name", "length_ft", "length_m"])
    ['name', 'length_ft']
    """
    if (unit := _split(_parts(word, known))[1]) is None:
        return list(known)
    return [name for name in known if (own := unit_of(name)) is None or own.suffix == unit.suffix]


def _parts(word: str, known: Sequence[str]) -> list[str]:
    text = word[:100].lower().replace("³", "3").strip("()[]_ ")
    for name in known:
        stem = name[: -len(own.suffix) - 1] if (own := unit_of(name)) else ""
        tail = text.removeprefix(stem).lstrip("-._ ([") if stem else ""
        # a unit close behind; one letter may be anything: flows are not a flow in seconds
        if tail != text and len(tail) > 1 and _named([tail]):
            return [stem, tail]
    return re.split(r"[\s_(\[-]+", text)


def _named(parts: list[str]) -> Unit | None:
    """Return the unit that parts of a name spell together."""
    own = [part for part in parts if part not in _IMPERIAL]
    tail = re.sub("per|[^a-z0-9]", "", "".join(own))
    tail = _SPELLED.get(tail, tail)
    if len(own) < len(parts):
        tail = "i" + tail
    return FOREIGN.get(tail) or UNITS.get(tail)


def _split(parts: list[str]) -> tuple[str, Unit | None]:
    """Part a name into what it says and its unit, the longest there is."""
    for i in range(len(parts)):
        if (unit := _named(parts[i:])) is not None:
            return "_".join(parts[:i]), unit
    return "_".join(parts), None


def _home(stem: str, unit: Unit, homes: dict[str, dict[str, str]]) -> dict[str, str]:
    """Return the known names of a quantity by unit; "GPM" and "Q (gpm)" are told by the unit."""
    if close := get_close_matches(stem, homes, n=1, cutoff=0.75):
        return homes[close[0]]
    if not (stem == "" or (len(stem) == 1 and stem.isalpha()) or unit.twin in _FLOWS):
        return {}
    fit = [home for home in homes.values() if _way(unit, home)]
    return fit[0] if len(fit) == 1 else {}


def _way(unit: Unit, home: dict[str, str]) -> str | None:
    """Pick the unit among a quantity's own that a number is turned into most simply."""
    group = next((g for g in _GROUPS if unit.twin in g), ())
    near = sorted(group, key=lambda other: UNITS[other].system != unit.system)
    return next((x for x in (unit.suffix, unit.twin, *near) if x in home), None)


def _turned(unit: Unit, word: str, home: dict[str, str]) -> str | None:
    """Say how numbers in a unit come under the name of a quantity."""
    way = _way(unit, home)
    if way is None or unit.offset != UNITS.get(way, unit).offset:
        return None
    name = home[way]
    ratio = unit.factor / (READ.get(name) or UNITS[way]).factor
    if way == unit.suffix:
        # a slip before the unit is a matter of spelling
        return None if word.endswith(f"_{way}") else f"{unit.label}: call it {name!r}"
    do = f"multiply by {ratio:.6g}" if ratio > 1 else f"divide by {1 / ratio:.6g}"
    return f"{unit.label}: {do} and call it {name!r}"


def _no_unit(parts: list[str], homes: dict[str, dict[str, str]]) -> str | None:
    """Say the names of a quantity that was given in no unit, or in none that is read."""
    for i in range(len(parts), 0, -1):
        stem = "_".join(parts[:i])
        if i < len(parts):
            # a slip in the name must not hide that the unit is another
            stem = next(iter(get_close_matches(stem, homes, n=1, cutoff=0.75)), stem)
        if names := list(homes.get(stem, {}).values()):
            *rest, last = map(repr, names)
            spell = f"{', '.join(rest)} or {last}" if rest else last
            if i == len(parts):
                return f"has no unit; give {spell}" if rest else None
            tail = "_".join(parts[i:])
            return f"unit {tail!r} is not read; turn the numbers into those of {spell}"
    return None
