"""Shapes of objects in a JSON document: one description that reader and schema follow.

A shape checks what came in and answers a clean copy, or refuses it with its place in the
document; the same shape writes its JSON Schema (draft 2020-12), in which a programmer finds
what a form needs. Nothing goes deeper than the shape itself does.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from drainpump.errors import InputError, Problems, UnitError
from drainpump.foreign import nearest
from drainpump.paper.document.json_text import refusal
from drainpump.paper.document.prose import Told, about, told_of
from drainpump.paper.document.values import Definitions, Shape, Text, Whole, at, members
from drainpump.units import UNITS

_BOUNDS = ("minimum", "exclusiveMinimum", "maximum")


def _bounded(shape: dict[str, Any], within: dict[str, Any]) -> dict[str, Any]:
    """A schema whose numbers keep to bounds, be they alone, in a list or by name."""
    if shape.get("type") in ("number", "integer"):
        return {**shape, **within}
    inner: dict[str, Any] = {
        name: _bounded(shape[name], within)
        for name in ("items", "additionalProperties")
        if isinstance(shape.get(name), dict)
    }
    if "oneOf" in shape:
        inner["oneOf"] = [_bounded(one, within) for one in shape["oneOf"]]
    return {**shape, **inner}


@dataclass(frozen=True)
class Key:
    """A member of an object: a quantity is spelled with exactly one of its ``units``."""

    stem: str
    shape: Shape
    units: tuple[str, ...] = ()
    required: bool = False
    #: what holds where it is left out, where that is a plain value
    default: Any = None
    #: of what stands under one name alone
    unit: str | None = None
    #: what it is, where no documentation of a keyword tells
    about: str = ""

    @property
    def spellings(self) -> tuple[str, ...]:
        """The keys it may stand under."""
        return tuple(f"{self.stem}_{unit}" for unit in self.units) or (self.stem,)

    def schema(self, named: Definitions, unit: str | None, told: Told) -> dict[str, Any]:
        """What a form shows of one spelling, and what it takes."""
        unit = unit or self.unit
        found: dict[str, Any] = {"title": self.stem.replace("_", " ")}
        if unit is not None:
            label = UNITS[unit].label if unit in UNITS else unit
            found["unit"] = f"per {label}" if self.stem.endswith("_per") else label
        said, shape = told.schema(unit), self.shape.schema(named)
        if self.about:
            said["description"] = self.about
        if "default" not in said and self.default not in (None, ""):
            found["default"] = self.default
        within = {k: said.pop(k) for k in _BOUNDS if k in said}
        return found | said | _bounded(shape, within)


@dataclass(frozen=True)
class Object:
    """An object of known keys."""

    title: str
    keys: tuple[Key, ...]
    #: what a quantity may be called by mistake, and its stem here
    mistaken: tuple[tuple[str, str], ...] = ()
    #: the mend where all that is missing is named at once, and not one after the other
    whole: str = ""
    #: alternatives, each of them sets of stems of which exactly one is given
    either: tuple[tuple[tuple[str, ...], ...], ...] = ()
    #: the documentation of what it is built by, and keys that stand for another keyword there
    doc: str = ""
    renamed: Mapping[str, str] = field(default_factory=dict)
    section: str = "Parameters"

    @property
    def shapes(self) -> dict[str, Shape]:
        """The shape of each key."""
        return {name: key.shape for name, key in self.spellings().items()}

    def spellings(self) -> dict[str, Key]:
        """Every key that may stand here."""
        return {name: key for key in self.keys for name in key.spellings}

    def check(self, value: Any, path: str) -> dict[str, Any]:
        members(value, path)
        known = self.spellings()
        problems = Problems()
        for name in value:
            if name not in known:
                with problems:
                    raise self._unknown(name, path)
        lacks = sorted(k.stem for k in self.keys if k.required and not {*k.spellings} & {*value})
        if lacks and self.whole:
            raise refusal(path, f"lacks {', '.join(lacks)}; {self.whole}", code="missing")
        for key in self.keys:
            given = [name for name in key.spellings if name in value]
            with problems:
                if len(given) > 1:
                    both = " and ".join(given)
                    raise refusal(path, f"holds {both}; give exactly one of them", UnitError)
                # what is missing may stand under an unknown key
                if key.stem in lacks and value.keys() <= known.keys():
                    raise _missing(key, path)
        found = {}
        for name, item in value.items():
            with problems:
                if name in known:
                    found[name] = known[name].shape.check(item, at(path, name))
        problems.end()
        return found

    def _unknown(self, name: Any, path: str) -> InputError:
        for key in self.keys:
            if key.units and name == key.stem:
                spell = " or ".join(key.spellings)
                return refusal(at(path, key.stem), f"has no unit; give {spell}", UnitError)
        word = str(name)
        for mistaken, stem in self.mistaken:
            ours = word.replace(mistaken, stem, 1)
            if word.startswith(mistaken) and ours in self.spellings():
                said = f"unknown key; here it is {ours!r}"
                return refusal(at(path, word), said, code="unknown")
        mend = nearest(word[:60], list(self.spellings()))
        return refusal(at(path, word), f"unknown key; {mend}", code="unknown")

    def schema(self, named: Definitions) -> dict[str, Any]:
        word = self.title.replace(" ", "_").replace("'", "")
        if word not in named:
            named[word] = {}  # so that what holds its like ends
            named[word] = self.whole_schema(named)
        return {"$ref": f"#/$defs/{word}"}

    def whole_schema(self, named: Definitions) -> dict[str, Any]:
        """The same in place, and not by its title."""
        told = told_of(self.doc, self.section)
        properties: dict[str, Any] = {}
        for key in self.keys:
            for name, unit in zip(key.spellings, key.units or (None,), strict=True):
                # a key that stands for a keyword is told of under that
                said = about(self.renamed.get(name, name), told)
                properties[name] = key.schema(named, unit, said)
        rules = [_one_of([[name] for name in key.spellings], key.required)
                 for key in self.keys if len(key.spellings) > 1]  # fmt: skip
        stems = {key.stem: key for key in self.keys}
        rules += [
            {"oneOf": [_all_given([stems[stem].spellings for stem in way]) for way in ways]}
            for ways in self.either
        ]
        must = [k.spellings[0] for k in self.keys if k.required and len(k.spellings) == 1]
        return {
            "title": self.title,
            **({"description": summary} if (summary := self.doc.partition("\n")[0]) else {}),
            "type": "object",
            "additionalProperties": False,
            "properties": properties,
            **({"required": must} if must else {}),
            **({"allOf": rules} if rules else {}),
        }  # fmt: skip


def _one_of(ways: Sequence[Sequence[str]], required: bool) -> dict[str, Any]:
    """Exactly one of several spellings, or none of them where none must be."""
    each = [{"required": list(way)} for way in ways]
    return {"oneOf": each if required else [*each, {"not": {"anyOf": each}}]}


def _all_given(stems: Sequence[Sequence[str]]) -> dict[str, Any]:
    """Every one of some quantities, each in whichever spelling."""
    ways = [{"anyOf": [{"required": [name]} for name in names]} for names in stems]
    return ways[0] if len(ways) == 1 else {"allOf": ways}


def _missing(key: Key, path: str) -> InputError:
    spell = " or ".join(key.spellings)
    if len(key.units) > 1:
        said = f"lacks {key.stem}; give exactly one of {spell}"
        return refusal(path, said, UnitError, code="missing")
    shape, only = key.shape, "it"
    if isinstance(shape, Whole) and shape.low == shape.high:
        only = str(shape.low)
    return refusal(path, f"lacks {spell}; give {only}", code="missing")


@dataclass(frozen=True)
class OneOf:
    """One of several objects, told apart by a key of its own or by the value of ``kind``."""

    variants: tuple[tuple[str, Object], ...]
    kind: str = ""

    def check(self, value: Any, path: str) -> dict[str, Any]:
        members(value, path)
        marks = [mark for mark, _ in self.variants]
        if self.kind:
            if self.kind not in value and "" in marks:
                return self.variants[-1][1].check(value, path)
            if self.kind not in value:
                said = f"lacks {self.kind}; give one of {', '.join(marks)}"
                raise refusal(path, said, code="missing")
            mark = Text(choices=tuple(marks)).check(value[self.kind], at(path, self.kind))
            return dict(self.variants)[mark].check(value, path)
        for mark, shape in self.variants:
            if mark in value:
                return shape.check(value, path)
        # without a mark it is the one that knows most of its keys, of several the last
        last_first = (shape for _, shape in reversed(self.variants))
        likest = max(last_first, key=lambda shape: len(shape.spellings().keys() & value.keys()))
        return likest.check(value, path)

    def schema(self, named: Definitions) -> dict[str, Any]:
        return {"oneOf": [shape.schema(named) for _, shape in self.variants]}
