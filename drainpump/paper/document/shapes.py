"""Shapes of a JSON document: one description that both the reader and the schema follow.

A shape checks what came in and answers a clean copy, or refuses it with its place in the
document; the same shape writes its JSON Schema (draft 2020-12). Values are only looked at,
never evaluated, and nothing goes deeper than the shape itself does.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol
from unicodedata import category

from drainpump.errors import Fault, InputError, UnitError, closed, joined, step
from drainpump.foreign import nearest
from drainpump.paper.document.json_text import kind_of

__all__ = [
    "ANYTHING",
    "Flag",
    "Key",
    "Listed",
    "Named",
    "Number",
    "Object",
    "OneOf",
    "Shape",
    "Text",
    "Whole",
]


class Shape(Protocol):
    """What may stand at a place in the document."""

    def check(self, value: Any, path: str) -> Any:
        """Return a clean copy of ``value``, or refuse it naming ``path``."""

    def schema(self) -> dict[str, Any]:
        """Return the JSON Schema of this place."""


def _refuse(path: str, value: Any, allowed: str) -> InputError:
    """Refuse a value; what is short is echoed, the rest only named by its kind."""
    fault = Fault(path, "value", value, f"must be {allowed}", "")
    if isinstance(value, str | int | float) and not isinstance(value, bool):
        if isinstance(value, int) and abs(value) >= 10**30:
            return InputError(
                f"{path}: must be {allowed}; it is a whole number beyond all use.", fault=fault
            )
        said = repr(value)
        said = said if len(said) <= 60 else said[:57] + "..."
        return InputError(f"{path}={said}: must be {allowed}.", fault=fault)
    return InputError(f"{path}: must be {allowed}; it is {kind_of(value)}.", fault=fault)


def at(path: str, key: str) -> str:
    """Return the path of a member."""
    return joined(path, step(key))


class _Anything:
    """A place that whoever reads it checks by itself."""

    def check(self, value: Any, path: str) -> Any:
        return value

    def schema(self) -> dict[str, Any]:
        return {}


ANYTHING: Shape = _Anything()


@dataclass(frozen=True)
class Number:
    """A finite number; its bounds are those of the part it goes to."""

    def check(self, value: Any, path: str) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise _refuse(path, value, "a number")
        try:
            finite = math.isfinite(value)
        except OverflowError:
            finite = False
        if not finite:
            raise _refuse(path, value, "a finite number")
        return value

    def schema(self) -> dict[str, Any]:
        return {"type": "number"}


@dataclass(frozen=True)
class Whole:
    """A whole number within bounds."""

    low: int
    high: int

    def check(self, value: Any, path: str) -> int:
        if isinstance(value, bool) or not isinstance(value, int):
            raise _refuse(path, value, "a whole number")
        if not self.low <= value <= self.high:
            one = self.low == self.high
            raise _refuse(path, value, f"{self.low}" if one else f"from {self.low} to {self.high}")
        return value

    def schema(self) -> dict[str, Any]:
        return {"type": "integer", "minimum": self.low, "maximum": self.high}


@dataclass(frozen=True)
class Flag:
    """True or false."""

    def check(self, value: Any, path: str) -> bool:
        if not isinstance(value, bool):
            raise _refuse(path, value, "true or false")
        return value

    def schema(self) -> dict[str, Any]:
        return {"type": "boolean"}


@dataclass(frozen=True)
class Text:
    """Text of bounded length, or one of a few words."""

    most: int = 200
    choices: tuple[str, ...] = ()

    def check(self, value: Any, path: str) -> str:
        if not isinstance(value, str):
            raise _refuse(path, value, "text")
        if self.choices and value not in self.choices:
            raise _refuse(path, value, "one of " + ", ".join(map(repr, self.choices)))
        if len(value) > self.most:
            raise InputError(
                f"{path}: {len(value)} characters: must be at most {self.most}; shorten it."
            )
        # what a terminal obeys, and halves of a character
        if any(category(c) in ("Cc", "Cs") and c not in "\n\t" for c in value):
            raise InputError(f"{path}: holds characters that cannot be printed; take them out.")
        return value

    def schema(self) -> dict[str, Any]:
        if self.choices:
            return {"enum": list(self.choices)}
        return {"type": "string", "maxLength": self.most}


@dataclass(frozen=True)
class Either:
    """The first shape for a value of its type, else the second."""

    types: tuple[type, ...]
    first: Shape
    second: Shape

    def check(self, value: Any, path: str) -> Any:
        own = isinstance(value, self.types) and not isinstance(value, bool)
        return (self.first if own else self.second).check(value, path)

    def schema(self) -> dict[str, Any]:
        return {"anyOf": [self.first.schema(), self.second.schema()]}


@dataclass(frozen=True)
class Listed:
    """A list of one shape."""

    of: Shape
    least: int
    most: int

    def check(self, value: Any, path: str) -> list[Any]:
        if isinstance(value, str | bytes) or not isinstance(value, Sequence):
            raise _refuse(path, value, "a list")
        if not self.least <= len(value) <= self.most:
            raise InputError(
                f"{path}: {len(value)} items: must be from {self.least} to {self.most}."
            )
        return [self.of.check(item, f"{path}[{i}]") for i, item in enumerate(value)]

    def schema(self) -> dict[str, Any]:
        return {
            "type": "array",
            "items": self.of.schema(),
            "minItems": self.least,
            "maxItems": self.most,
        }


@dataclass(frozen=True)
class Named:
    """An object whose keys are names of the user's or of a table."""

    of: Shape
    most: int

    def check(self, value: Any, path: str) -> dict[str, Any]:
        _members(value, path)
        if len(value) > self.most:
            raise InputError(f"{path}: {len(value)} names: must be at most {self.most}.")
        name = Text()
        return {name.check(k, path): self.of.check(v, at(path, str(k))) for k, v in value.items()}

    def schema(self) -> dict[str, Any]:
        return {
            "type": "object",
            "additionalProperties": self.of.schema(),
            "maxProperties": self.most,
        }


@dataclass(frozen=True)
class Key:
    """A member of an object: a quantity is spelled with exactly one of its ``units``."""

    stem: str
    shape: Shape
    units: tuple[str, ...] = ()
    required: bool = False

    @property
    def spellings(self) -> tuple[str, ...]:
        """The keys it may stand under."""
        return tuple(f"{self.stem}_{unit}" for unit in self.units) or (self.stem,)


@dataclass(frozen=True)
class Object:
    """An object of known keys."""

    title: str
    keys: tuple[Key, ...]
    #: what a quantity may be called by mistake, and its stem here
    mistaken: tuple[tuple[str, str], ...] = ()
    #: the mend where all that is missing is named at once, and not one after the other
    whole: str = ""

    def spellings(self) -> dict[str, Key]:
        """Every key that may stand here."""
        return {name: key for key in self.keys for name in key.spellings}

    def check(self, value: Any, path: str) -> dict[str, Any]:
        _members(value, path)
        known = self.spellings()
        for name in value:
            if name not in known:
                raise self._unknown(name, path)
        lacks = sorted(k.stem for k in self.keys if k.required and not {*k.spellings} & {*value})
        if lacks and self.whole:
            raise InputError(f"{path}: lacks {', '.join(lacks)}; {self.whole}.")
        for key in self.keys:
            given = [name for name in key.spellings if name in value]
            if len(given) > 1:
                both = " and ".join(given)
                raise UnitError(f"{path}: holds {both}; give exactly one of them.")
            if key.stem in lacks:
                raise _missing(key, path)
        return {name: known[name].shape.check(item, at(path, name)) for name, item in value.items()}

    def _unknown(self, name: Any, path: str) -> InputError:
        for key in self.keys:
            if key.units and name == key.stem:
                spell = " or ".join(key.spellings)
                return UnitError(f"{at(path, key.stem)}: has no unit; give {spell}.")
        word = str(name)
        for mistaken, stem in self.mistaken:
            ours = word.replace(mistaken, stem, 1)
            if word.startswith(mistaken) and ours in self.spellings():
                return InputError(f"{at(path, word)}: unknown key; here it is {ours!r}.")
        mend = nearest(word[:60], list(self.spellings()))
        return InputError(closed(f"{at(path, word)}: unknown key; {mend}"))

    def schema(self) -> dict[str, Any]:
        found: dict[str, Any] = {
            "title": self.title,
            "type": "object",
            "additionalProperties": False,
            "properties": {name: key.shape.schema() for name, key in self.spellings().items()},
        }
        found["required"] = [k.stem for k in self.keys if k.required and not k.units]
        found["allOf"] = [
            {"oneOf": [{"required": [name]} for name in key.spellings]}
            if key.required
            else {"not": {"required": list(key.spellings)}}
            for key in self.keys
            if len(key.spellings) > 1
        ]
        return {name: part for name, part in found.items() if part != []}


def _missing(key: Key, path: str) -> InputError:
    spell = " or ".join(key.spellings)
    if key.units:
        return UnitError(f"{path}: lacks {key.stem}; give exactly one of {spell}.")
    shape, only = key.shape, "it"
    if isinstance(shape, Whole) and shape.low == shape.high:
        only = str(shape.low)
    return InputError(f"{path}: lacks {spell}; give {only}.")


def _members(value: Any, path: str) -> None:
    if not isinstance(value, Mapping):
        raise _refuse(path, value, "an object")
    twice = getattr(value, "twice", None)
    if twice is not None:
        raise InputError(f"{at(path, twice)}: stands there twice; keep one of them.")
    for key in value:
        if not isinstance(key, str):
            raise InputError(f"{path}: holds a key that is {kind_of(key)}; keys are text.")


@dataclass(frozen=True)
class OneOf:
    """One of several objects, told apart by a key of its own or by the value of ``kind``."""

    variants: tuple[tuple[str, Object], ...]
    kind: str = ""

    def check(self, value: Any, path: str) -> dict[str, Any]:
        _members(value, path)
        marks = [mark for mark, _ in self.variants]
        if self.kind:
            if self.kind not in value:
                raise InputError(f"{path}: lacks {self.kind}; give one of {', '.join(marks)}.")
            mark = Text(choices=tuple(marks)).check(value[self.kind], at(path, self.kind))
            return dict(self.variants)[mark].check(value, path)
        for mark, shape in self.variants:
            if mark in value:
                return shape.check(value, path)
        # the last one is taken by what it holds
        return self.variants[-1][1].check(value, path)

    def schema(self) -> dict[str, Any]:
        return {"oneOf": [shape.schema() for _, shape in self.variants]}
