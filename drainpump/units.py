"""Units at the edge: one table of factors, one table of guards, SI inside.

The unit is the last word of every public name (``length_ft``, ``flow_lps``). A
quantity has two spellings, one US and one metric, and takes exactly one of them;
`take` turns it into a `Measure`, which keeps the SI value for the physics and the
number as typed for the person. `View` is the way out again: a read-only attribute
in the unit of its name.

The factors stand in ``data/units.csv``, the guards in ``data/guards.csv``.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager
from contextvars import ContextVar
from dataclasses import dataclass
from functools import lru_cache
from typing import (
    Any,
    Generic,
    Literal,
    Protocol,
    Self,
    SupportsFloat,
    TypeAlias,
    TypeVar,
    overload,
)

import numpy as np
import numpy.typing as npt

from drainpump.data_files import table
from drainpump.errors import Problem, UnitError, UnusualValueWarning, warn, within, wrong

FloatArray: TypeAlias = npt.NDArray[np.float64]
#: Which of the two spellings of a quantity is shown.
System: TypeAlias = Literal["us", "metric"]


class Arrayed(Protocol):
    """What numpy turns into an array by itself: an array, a pandas Series."""

    def __array__(self) -> npt.NDArray[Any]: ...


Number: TypeAlias = float | np.floating[Any] | np.integer[Any]
#: What a public keyword takes: a number, or numbers in any even shape.
Quantity: TypeAlias = (
    Number | Arrayed | Sequence[Number] | Sequence[Arrayed] | Sequence[Sequence[Number]]
)
#: What a public attribute answers: a float for a scalar, else a read-only array.
Value: TypeAlias = float | FloatArray
#: The same of a yes or no, and of a word.
YesNo: TypeAlias = bool | npt.NDArray[np.bool_]
Word: TypeAlias = str | npt.NDArray[np.str_]


@dataclass(frozen=True)
class Unit:
    """One unit suffix: ``si = number * factor + offset`` and how it is printed."""

    suffix: str
    twin: str
    system: str  # "us", "metric" or "both"
    factor: float
    label: str
    offset: float = 0.0


def units_in(name: str) -> dict[str, Unit]:
    """Read a table of units, by suffix."""
    found = {}
    for row in table("", name):
        number, power, times, divisor = (
            float(row[column] or 1) for column in ("number", "power", "times", "divisor")
        )
        factor = times * number**power / divisor
        offset = 0.0 - float(row["zero"] or 0) * factor
        found[row["suffix"]] = Unit(
            row["suffix"], row["twin"], row["system"], factor, row["label"], offset
        )
    return found


UNITS = units_in("units.csv")


@dataclass(frozen=True)
class Guard:
    """What a quantity may be (SI): outside ``low..high`` is refused, outside ``usual`` warned."""

    low: float
    high: float
    usual: tuple[float, float]
    mend: str
    open_low: bool = False


_INF = float("inf")

#: the two guards of each quantity
GUARDS: dict[str, Guard] = {
    row["quantity"]: Guard(
        float(row["low"]), float(row["high"]),
        (float(row["usual_low"]), float(row["usual_high"])), row["mend"], row["above"] == "yes",
    )
    for row in table("", "guards.csv")
}  # fmt: skip


def to_si(number: npt.ArrayLike, unit: str) -> FloatArray:
    """Turn a number in ``unit`` into SI (temperatures into °C)."""
    u = UNITS[unit]
    return np.asarray(number, dtype=np.float64) * u.factor + u.offset


def from_si(si: npt.ArrayLike, unit: str) -> Value:
    """Turn SI into ``unit``: a float for a scalar, a read-only array otherwise.

    >>> round(from_si(0.001, "gpm"), 4)
    15.8503
    """
    u = UNITS[unit]
    found: Value = out((np.asarray(si, dtype=np.float64) - u.offset) / u.factor)
    return found


def out(array: npt.ArrayLike) -> Any:
    """Give an array out: zero-dimensional as a Python scalar, otherwise read-only."""
    a = np.asarray(array)
    return a.item() if a.ndim == 0 else frozen(a)


def frozen(array: npt.ArrayLike) -> Any:
    """Return ``array`` read-only (an array of ours: one from the user is copied on the way in)."""
    a = np.asarray(array)
    if a.flags.writeable:
        a = a.copy() if a.base is not None else a.view()
        a.flags.writeable = False
    return a


def suffix_of(name: str) -> str | None:
    """Return the unit a public name ends in, or None.

    >>> suffix_of("starts_per_h"), suffix_of("rain_in_per_h"), suffix_of("velocity_min_fps")
    ('per_h', 'in_per_h', 'fps')
    """
    parts = name.split("_")
    for i in range(1, len(parts)):
        if (tail := "_".join(parts[i:])) in UNITS:
            return tail
    return None


def spellings(name: str, among: Iterable[str]) -> list[str]:
    """Return the names that spell the same quantity as ``name``, in whatever unit.

    >>> spellings("length_ft", ["length_m", "lift_ft", "k"])
    ['length_m']
    """
    return [other for other in among if _stem(other) == _stem(name)]


def _stem(name: str) -> tuple[str, str]:
    """A name without its unit, and what kind of unit that is: its US spelling."""
    unit = suffix_of(name)
    if unit is None:
        return name, ""
    return name.removesuffix(unit), min(unit, UNITS[unit].twin)


def number(value: SupportsFloat) -> str:
    """Print a number to three significant digits without a trailing zero tail.

    >>> number(25.678), number(1943.0), number(0.0015), number(0.0)
    ('25.7', '1940', '0.0015', '0')
    """
    return carried(float(f"{float(value):.3g}"))


def carried(value: SupportsFloat) -> str:
    """Print a number that was typed, has to be kept to or is reckoned on with.

    It has four significant digits, and all of those before the point.

    >>> carried(25.678), carried(32808.4), carried(0.0)
    ('25.68', '32808', '0')
    """
    one = float(value)
    if not np.isfinite(one):
        return str(one)
    return f"{one:.0f}" if one == 0 or abs(one) >= 1000 else f"{one:.4g}"


def spelled(unit: str, units: System) -> str:
    """Return a unit, or its twin where that is the one of the wanted system.

    >>> spelled("gpm", "metric"), spelled("lps", "metric"), spelled("min", "us")
    ('lps', 'lps', 'min')
    """
    return unit if UNITS[unit].system in ("both", units) else UNITS[unit].twin


def text(si: npt.ArrayLike, unit: str, how: Callable[[float], str] = number) -> str:
    """Print one quantity in one unit, or the span of an array.

    >>> text(0.00162, "lps")
    '1.62 L/s'
    """
    u = UNITS[unit]
    values = np.asarray(from_si(si, unit))
    gap = "" if u.label.startswith("/") else " "
    if values.ndim == 0:
        return f"{how(float(values))}{gap}{u.label}"
    if values.size == 0 or np.isnan(values).all():
        return f"no values in {u.label}, shape {values.shape}"
    low, high = how(float(np.nanmin(values))), how(float(np.nanmax(values)))
    return f"{low} to {high}{gap}{u.label}, shape {values.shape}"


def together(text: str) -> str:
    """Hold each number to the unit behind it by a space that does not break."""
    return re.sub(r"(?<=\d) (?=[^\d\s])", "\xa0", text)


def both(si: npt.ArrayLike, unit: str, how: Callable[[float], str] = number) -> str:
    """Print a quantity in ``unit`` with its twin in brackets, its numbers as ``how`` prints them.

    >>> both(0.00162, "gpm")
    '25.7 gpm (1.62 L/s)'
    """
    twin = UNITS[unit].twin
    first = text(si, unit, how)
    return first if twin == unit else f"{first} ({text(si, twin, how)})"


def apart(value: float, limit: float, unit: str) -> list[str]:
    """Print two quantities (SI) as `both` does, by as many digits as tell them apart.

    Without a unit they are ratios; what is alike to six digits is printed by three.

    >>> apart(2.4399, 2.4384, "fps"), apart(1.2004, 1.2, "")
    (['8.005 ft/s (2.44 m/s)', '8 ft/s (2.438 m/s)'], ['1.2004', '1.2'])
    """
    for digits in (*range(3, 7), 3):

        def how(x: float, digits: int = digits) -> str:
            return np.format_float_positional(float(f"{x:.{digits}g}"), trim="-")

        said = [both(x, unit, how) if unit else how(x) for x in (value, limit)]
        if len({*said}) > 1 or value == limit:
            break
    return said


@dataclass(frozen=True, eq=False)
class Measure:
    """A quantity as it came in: its SI value, and the number and unit as typed."""

    si: FloatArray
    unit: str
    typed: Any

    def get(self, unit: str) -> Value:
        """Answer in ``unit``; in the unit it was typed in, exactly the typed number."""
        if unit == self.unit:
            typed: Value = out(np.asarray(self.typed, dtype=np.float64))
            return typed
        return from_si(self.si, unit)

    def spelled(self, name: str) -> dict[str, Any]:
        """The quantity as the keyword it came in: ``{"need_gpm": 35}``."""
        return {f"{name}_{self.unit}": self.typed}

    def __str__(self) -> str:
        u = UNITS[self.unit]
        if self.si.ndim or u.twin == u.suffix:
            return both(self.si, self.unit)
        return f"{self.typed} {u.label} ({text(self.si, u.twin)})"


def take(
    name: str, *, guard: str = "", default: tuple[str, float] | None = None, **given: Any
) -> Measure:
    """Take exactly one spelling of a quantity and check it against its guard.

    Parameters
    ----------
    name : str
        The quantity's name without unit, as in the caller's keywords.
    guard : str, optional
        The row of `GUARDS` to check against; by default that of the name.
    default : (unit, number), optional
        What holds when no spelling is given; without it one is required.
    **given
        The spellings by unit suffix, ``None`` where not given.

    Raises
    ------
    UnitError
        Neither or both spellings given.
    InputError
        Not a number, infinite, or outside the guard's bounds. NaN passes: it stays
        in its cell and ends as ``bad_input``.

    Examples
    --------
    >>> print(take("length", ft=150, m=None))
    150 ft (45.7 m)
    """
    measure = maybe(name, guard=guard, **given)
    if measure is not None:
        return measure
    if default is not None:
        return Measure(frozen(to_si(default[1], default[0])), default[0], default[1])
    names = ", ".join(_joined(name, u) for u in given)
    called, allowed = typed_name(name), f"give exactly one of {names}"
    problem = Problem(called, "unit", None, allowed, "")
    raise UnitError(f"{called}: no value given; {allowed}.", name=called, problem=problem)


def maybe(name: str, *, guard: str = "", **given: Any) -> Measure | None:
    """Like `take`, but None where no spelling is given."""
    got = {unit: value for unit, value in given.items() if value is not None}
    if not got:
        return None
    if len(got) > 1:
        echo = " and ".join(f"{_joined(name, u)}={v!r}" for u, v in got.items())
        names = ", ".join(_joined(name, u) for u in given)
        problem = Problem(typed_name(name), "unit", None, f"give exactly one of {names}", "")
        raise UnitError(f"{echo}: more than one unit given; {problem.allowed}.", problem=problem)
    ((unit, value),) = got.items()
    return measure(_joined(name, unit), value, unit, typed_name(guard or name))


@lru_cache(1024)
def _by_quantity(keys: tuple[str, ...]) -> dict[str, dict[str, str]]:
    """Keywords by quantity and unit; a function's own are the same at each call."""
    found: dict[str, dict[str, str]] = {}
    for key in keys:
        if (unit := suffix_of(key)) is not None:
            found.setdefault(key.removesuffix(f"_{unit}"), {})[unit] = key
    return found


class Typed:
    """The keywords of a call, told apart by quantity, each taken by its name alone.

    >>> def fall(*, length_ft=None, length_m=None, drop_ft=None, drop_m=None):
    ...     said = Typed(locals())
    ...     return said.take("length"), said.maybe("drop", "lift")
    >>> print(*fall(length_ft=150))
    150 ft (45.7 m) None
    """

    def __init__(self, given: Mapping[str, Any]) -> None:
        self.given = dict(given)
        self._keys = _by_quantity(tuple(given))

    def __getitem__(self, name: str) -> dict[str, Any]:
        """The spellings of a quantity by their unit, as `take` asks for them."""
        return {unit: self.given[key] for unit, key in self._keys[name].items()}

    def take(self, name: str, guard: str = "", default: tuple[str, float] | None = None) -> Measure:
        """Take one of a quantity's spellings, as `take` does."""
        return take(name, guard=guard, default=default, **self[name])

    def maybe(self, name: str, guard: str = "") -> Measure | None:
        """Take one of a quantity's spellings or none, as `maybe` does."""
        return maybe(name, guard=guard, **self[name])


def inches(us: Any, metric: Any) -> dict[str, Any]:
    """Spell a quantity in inches or millimetres for `take`: ``in`` is no keyword.

    >>> inches(6, None)
    {'in': 6, 'mm': None}
    """
    return {"in": us, "mm": metric}


def measure(label: str, value: Any, unit: str, guard: str) -> Measure:
    """Check ``value`` in ``unit`` and keep it as a `Measure`; ``label`` names it in messages."""
    rule = GUARDS[guard]
    typed = _numbers(label, value, rule.mend)
    # a number too large in SI is infinite there, and refused as such
    with np.errstate(over="ignore"):
        si = to_si(typed, unit)
    refuse(label, typed, si, UNITS[unit], rule)
    _warn(label, typed, si, unit, rule)
    return Measure(frozen(si), unit, typed if typed.ndim else value)


def plain(
    label: str, value: Any, *, low: float = -_INF, high: float = _INF, mend: str
) -> FloatArray:
    """Check a number that has no unit (a K, a C, a ratio): finite or NaN, ``low..high``."""
    typed = _numbers(label, value, mend)
    rule = Guard(low, high, (-_INF, _INF), mend)
    refuse(label, typed, typed, None, rule)
    return frozen(typed)  # type: ignore[no-any-return]


def _joined(name: str, unit: str) -> str:
    return f"{typed_name(name)}_{unit}"


def _numbers(label: str, value: Any, mend: str) -> FloatArray:
    """Return ``value`` as float64 without taking text, booleans or objects for numbers."""
    if isinstance(value, np.ma.MaskedArray) and value.dtype.kind in "iuf":
        # a masked cell is one without a number
        value = value.astype(np.float64).filled(np.nan)  # type: ignore[attr-defined]
    try:
        raw = np.asarray(value)
    except ValueError:
        raise wrong(label, value, "must be a number or an even array of numbers", mend) from None
    if raw.dtype.kind not in "iuf":
        raise wrong(label, value, "must be a number or an array of numbers", mend)
    return np.array(raw, dtype=np.float64)


def refuse(label: str, typed: FloatArray, si: FloatArray, unit: Unit | None, rule: Guard) -> None:
    """Refuse numbers outside a guard's bounds, as they were typed in whatever unit."""
    with np.errstate(invalid="ignore"):
        below = si <= rule.low if rule.open_low else si < rule.low
        bad = below | (si > rule.high) | np.isinf(si)
    if not bad.any():
        return
    where, value = first(typed, bad)
    shown = int(value) if value.is_integer() else value
    raise wrong(f"{label}{where}", shown, f"must be {allowed(rule, unit)}", rule.mend)


def allowed(rule: Guard, unit: Unit | None) -> str:
    """Say what a guard allows, in the unit that a number was typed in."""

    def show(si: float) -> str:
        # bounds are printed in the unit the number was typed in
        return carried((si - unit.offset) / unit.factor) + f" {unit.label}" if unit else carried(si)

    lower = f"more than {show(rule.low)}" if rule.open_low else f"{show(rule.low)} or more"
    if rule.high == _INF:
        return "finite" if rule.low == -_INF else f"finite and {lower}"
    if rule.open_low:
        return f"{lower} and at most {show(rule.high)}"
    return f"from {show(rule.low)} to {show(rule.high)}"


def _warn(label: str, typed: FloatArray, si: FloatArray, unit: str, rule: Guard) -> None:
    low, high = rule.usual
    with np.errstate(invalid="ignore"):
        odd = (si < low) | (si > high)
    if not odd.any():
        return
    where, value = first(typed, odd)
    twin = UNITS[unit].twin
    this = float(to_si(value, unit))
    size = "large" if this > high else "small"
    reading = f"{label}{where}={carried(value)} is {text(this, twin)}"
    meant = []
    if twin != unit and low <= float(to_si(value, twin)) <= high:
        meant.append(f"{label[: -len(unit)]}{twin}={carried(value)}")
    if unit in _SLOWER and low <= this / 60 <= high:
        meant.append(f"{carried(value)} {_SLOWER[unit]}, which is {label}={carried(value / 60)}")
    if meant and _PLACE.get()[1]:
        unusual(f"{reading}; did you mean {', or '.join(meant)}?", label)
    else:
        unusual(f"{reading}, unusually {size} for yard drainage; is it right?", label)


#: flows told in what is a sixtieth of the unit here
_SLOWER = {"lps": "L/min", "gpm": "gal/h"}
#: where the numbers being read stand, and whether their unit may be another than was said
_PLACE: ContextVar[tuple[str, bool]] = ContextVar("_PLACE", default=("", True))


def place(where: str, *, guess: bool = True) -> AbstractContextManager[None]:
    """Name the file and thing that the warnings given within are about."""
    return within(_PLACE, (f"{where}: ", guess))


#: the keywords a warning may speak of; None for all: of a copy's numbers only the changed
_SPOKEN: ContextVar[frozenset[str] | None] = ContextVar("_SPOKEN", default=None)
#: what a quantity is called where the caller typed it under another name
_CALLED: ContextVar[dict[str, str]] = ContextVar("_CALLED", default={})  # noqa: B039


def speaking_of(names: Iterable[str]) -> AbstractContextManager[None]:
    """Warn within of these keywords alone; the others were spoken of when they were typed."""
    now = _SPOKEN.get()
    return within(_SPOKEN, frozenset(names) if now is None else now & frozenset(names))


def called(**names: str) -> AbstractContextManager[None]:
    """Speak within of a quantity by the name it was typed under: ``called(rise="lift")``."""
    return within(_CALLED, names)


def typed_name(name: str) -> str:
    """What the caller called a quantity."""
    return _CALLED.get().get(name, name)


def unusual(say: str, *about: str) -> None:
    """Warn of a value that is possible but odd, at the user's own line.

    ``about`` are the keywords it speaks of: where none of them was typed just now,
    nothing is said.
    """
    spoken = _SPOKEN.get()
    if spoken is None or spoken.intersection(about):
        warn(_PLACE.get()[0] + say, UnusualValueWarning, about[0] if len(about) == 1 else "")


def first(typed: FloatArray, mask: npt.NDArray[np.bool_]) -> tuple[str, float]:
    """Return the first marked element: its index as text ('' for a scalar) and its value."""
    if typed.ndim == 0:
        return "", typed.item()
    index = tuple(int(i) for i in np.argwhere(mask)[0])
    return "[" + ", ".join(map(str, index)) + "]", float(typed[index])


T = TypeVar("T")


class View(Generic[T]):
    """A read-only attribute that answers a private SI value in the unit of its own name.

    ``flow_gpm = View("_flow")`` reads the SI array or `Measure` kept in ``_flow``. For type
    checkers ``View("_ok", bool)`` is a yes or no, ``View("_pattern", str)`` a word, and
    ``View("_power", maybe=True)`` may be None.
    """

    @overload
    def __init__(self: View[Value], source: str) -> None: ...
    @overload
    def __init__(self: View[YesNo], source: str, kind: type[bool]) -> None: ...
    @overload
    def __init__(self: View[Word], source: str, kind: type[str]) -> None: ...
    @overload
    def __init__(self: View[Value | None], source: str, *, maybe: Literal[True]) -> None: ...
    def __init__(self, source: str, kind: type = float, *, maybe: bool = False) -> None:
        self.source, self.kind = source, kind
        self.name = ""
        self.unit: str | None = None

    def __set_name__(self, owner: type, name: str) -> None:
        self.name, self.unit = name, suffix_of(name)

    @overload
    def __get__(self, obj: None, owner: type) -> Self: ...
    @overload
    def __get__(self, obj: object, owner: type | None = None) -> T: ...
    def __get__(self, obj: object | None, owner: type | None = None) -> Any:
        if obj is None:
            return self
        value = getattr(obj, self.source)
        if value is None:
            return None
        if self.unit is None:
            return out(value)
        if isinstance(value, Measure):
            return value.get(self.unit)
        return from_si(value, self.unit)

    def __set__(self, obj: object, value: object) -> None:
        raise AttributeError(f"{self.name} is read-only; build a new {type(obj).__name__} instead.")


class SI:
    """The quantities of a part or a result in SI, by the stem of their public names.

    What one room needs of another's objects goes through here: ``pit.si.off`` is the off
    level in metres, ``op.si.flow`` the flow in cubic metres a second.
    """

    __slots__ = ("_owner",)

    def __init__(self, owner: object) -> None:
        self._owner = owner

    def __getattr__(self, name: str) -> Any:
        value = getattr(self._owner, f"_{name}")
        return value.si if isinstance(value, Measure) else value

    def typed(self, name: str) -> Any:
        """The quantity as it was typed, a `Measure`."""
        return getattr(self._owner, f"_{name}")


class Measured:
    """What holds quantities, and answers other rooms in SI."""

    @property
    def si(self) -> SI:
        """The quantities in SI, by the stem of their names: ``pit.si.off``, ``op.si.flow``."""
        return SI(self)


def views(owner: type, units: System | Literal["both"] = "both") -> Iterator[View[Any]]:
    """Yield the views of a class in order of definition; ``units`` picks one system."""
    seen: set[str] = set()
    for cls in reversed(owner.__mro__):
        for name, item in vars(cls).items():
            if isinstance(item, View) and name not in seen:
                seen.add(name)
                if (
                    units == "both"
                    or item.unit is None
                    or UNITS[item.unit].system in (units, "both")
                ):
                    yield item
