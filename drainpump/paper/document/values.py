"""Shapes of plain values in a JSON document: what the reader takes, and what the schema says.

A shape checks what came in and answers a clean copy, or refuses it with its place in the
document; the same shape writes its JSON Schema (draft 2020-12). Values are only looked at,
never evaluated, and nothing goes deeper than the shape itself does.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Protocol, TypeAlias
from unicodedata import category

from drainpump.errors import InputError, Problem, Problems, joined, step
from drainpump.paper.document.json_text import kind_of, refusal

#: objects of a schema by their title, to which places point
Definitions: TypeAlias = dict[str, Any]


class Shape(Protocol):
    """What may stand at a place in the document."""

    def check(self, value: Any, path: str) -> Any:
        """Return a clean copy of ``value``, or refuse it naming ``path``."""

    def schema(self, named: Definitions) -> dict[str, Any]:
        """Return the JSON Schema of this place; objects go to ``named``, by their title."""


def _refuse(path: str, value: Any, allowed: str) -> InputError:
    """Refuse a value; what is short is echoed, the rest only named by its kind."""
    problem = Problem(path, "value", value, f"must be {allowed}", "")
    if isinstance(value, str | int | float) and not isinstance(value, bool):
        if isinstance(value, int) and abs(value) >= 10**30:
            return InputError(
                f"{path}: must be {allowed}; it is a whole number beyond all use.", problem=problem
            )
        said = repr(value)
        said = said if len(said) <= 60 else said[:57] + "..."
        return InputError(f"{path}={said}: must be {allowed}.", problem=problem)
    return InputError(f"{path}: must be {allowed}; it is {kind_of(value)}.", problem=problem)


def at(path: str, key: str) -> str:
    """Return the path of a member."""
    return joined(path, step(key))


class _Anything:
    """A place that whoever reads it checks by itself."""

    def check(self, value: Any, path: str) -> Any:
        return value

    def schema(self, named: Definitions) -> dict[str, Any]:
        return {}


class _Null:
    """Nothing, where that is one of the choices."""

    def check(self, value: Any, path: str) -> None:
        if value is not None:
            raise _refuse(path, value, "null")

    def schema(self, named: Definitions) -> dict[str, Any]:
        return {"type": "null"}


ANYTHING: Shape = _Anything()
NULL: Shape = _Null()


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

    def schema(self, named: Definitions) -> dict[str, Any]:
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

    def schema(self, named: Definitions) -> dict[str, Any]:
        return {"type": "integer", "minimum": self.low, "maximum": self.high}


@dataclass(frozen=True)
class Flag:
    """True or false."""

    def check(self, value: Any, path: str) -> bool:
        if not isinstance(value, bool):
            raise _refuse(path, value, "true or false")
        return value

    def schema(self, named: Definitions) -> dict[str, Any]:
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
            said = f"{len(value)} characters: must be at most {self.most}; shorten it"
            raise refusal(path, said)
        # what a terminal obeys, and halves of a character
        if any(category(c) in ("Cc", "Cs") and c not in "\n\t" for c in value):
            raise refusal(path, "holds characters that cannot be printed; take them out")
        return value

    def schema(self, named: Definitions) -> dict[str, Any]:
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

    def schema(self, named: Definitions) -> dict[str, Any]:
        return {"oneOf": [self.first.schema(named), self.second.schema(named)]}


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
            said = f"{len(value)} items: must be from {self.least} to {self.most}"
            raise refusal(path, said)
        found, problems = [], Problems()
        for i, item in enumerate(value):
            with problems:
                found.append(self.of.check(item, f"{path}[{i}]"))
        problems.end()
        return found

    def schema(self, named: Definitions) -> dict[str, Any]:
        return {
            "type": "array",
            "items": self.of.schema(named),
            "minItems": self.least,
            "maxItems": self.most,
        }


@dataclass(frozen=True)
class Named:
    """An object whose keys are names of the user's or of a table."""

    of: Shape
    most: int

    def check(self, value: Any, path: str) -> dict[str, Any]:
        members(value, path)
        if len(value) > self.most:
            raise refusal(path, f"{len(value)} names: must be at most {self.most}")
        found, problems = {}, Problems()
        for name, item in value.items():
            with problems:
                found[Text().check(name, path)] = self.of.check(item, at(path, str(name)))
        problems.end()
        return found

    def schema(self, named: Definitions) -> dict[str, Any]:
        return {
            "type": "object",
            "additionalProperties": self.of.schema(named),
            "maxProperties": self.most,
        }


def members(value: Any, path: str) -> None:
    """Refuse what is no object with keys of text, each once."""
    if not isinstance(value, Mapping):
        raise _refuse(path, value, "an object")
    twice = getattr(value, "twice", None)
    if twice is not None:
        raise refusal(at(path, twice), "stands there twice; keep one of them")
    for key in value:
        if not isinstance(key, str):
            raise refusal(path, f"holds a key that is {kind_of(key)}; keys are text")
