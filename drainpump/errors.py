"""The words of failure: every error and warning the library raises.

A message always reads in one order: the name and the value received, what is
allowed, and the mend.
"""

from __future__ import annotations

import json
import sys
import warnings
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from typing import Any, NamedTuple

__all__ = [
    "CatalogError",
    "DrainpumpError",
    "DrainpumpWarning",
    "Fault",
    "FileError",
    "Heard",
    "InputError",
    "Problem",
    "StatusError",
    "UnitError",
    "UnusualValueWarning",
    "closed",
    "inside",
    "joined",
    "listening",
    "spelled",
    "step",
    "warn",
    "wrong",
]


class DrainpumpError(Exception):
    """Base of every error this library raises on purpose."""


class Fault(NamedTuple):
    """One thing wrong in what was handed over, for a program to read."""

    path: str  # the keyword, or its place in a document; "" where it speaks of none
    code: str  # "unit" where a quantity has none or two of its units, else "value"
    value: Any  # as it was received, where one value is wrong; else None
    allowed: str  # what must be, in words
    mend: str  # what to do, in words; "" where the words say it already


class InputError(DrainpumpError, ValueError):
    """A value that cannot be used: impossible, malformed or contradictory.

    Attributes
    ----------
    name : str
        The keyword it speaks of, or its place in a document, which its text then begins
        with; "" where it speaks of none.
    problems : tuple of Fault
        The same for a program: path, code, value, allowed, mend. Of files and pump data
        each bad place, as `Problem`.
    """

    #: what a program reads in ``code``
    _code = "value"
    problems: tuple[Any, ...]

    def __init__(self, said: str = "", *, name: str = "", fault: Fault | None = None) -> None:
        super().__init__(said)
        self.name = name
        fault = fault or Fault(name, self._code, None, said, "")
        self.problems = (fault,)

    def at(self, place: str) -> InputError:
        """Return the same refusal with its place in a document in front."""
        said = joined(place, str(self)) if self.name else f"{place}: {self}"
        return self._said_as(said, place, joined(place, self._path) if self._path else place)

    def spelled(self, keys: Mapping[str, str]) -> InputError:
        """Return the same refusal with another key for its keyword; one of none speaks of none."""
        keyword = self.name.split("[")[0]
        key = keys.get(keyword, "")
        said = (key + str(self).removeprefix(keyword)) if key else str(self)
        return self._said_as(said, key, (key + self._path.removeprefix(keyword)) if key else "")

    @property
    def _path(self) -> str:
        return self.problems[0].path if isinstance(self.problems[0], Fault) else ""

    def _said_as(self, said: str, name: str, path: str) -> InputError:
        # a unit error is one in a document, too
        kind = UnitError if isinstance(self, UnitError) else InputError
        same = self.problems[0] if isinstance(self.problems[0], Fault) else None
        fault = same or Fault("", kind._code, None, said, "")
        return kind(said, name=name, fault=fault._replace(path=path))


class UnitError(InputError):
    """A quantity given in no unit, or in both of its units."""

    _code = "unit"


class StatusError(DrainpumpError):
    """Raised by ``.require()`` when an element of a result is not ``ok``."""


@dataclass(frozen=True)
class Problem:
    """One thing wrong in a file: where it stands, what it is, what is allowed."""

    file: str
    row: int | None
    column: str | None
    value: str | None
    allowed: str

    def __str__(self) -> str:
        place = self.file
        if self.row is not None:
            place += f", row {self.row}"
        if self.column is not None:
            place += f", column {self.column!r}"
        received = "" if self.value is None else f" {self.value!r}:"
        return f"{place}:{received} {self.allowed}"


class FileError(InputError):
    """Files that cannot be read, with every problem found and not only the first.

    Attributes
    ----------
    problems : tuple of Problem
        Each bad place: file, row (counted as a spreadsheet shows it, header
        being row 1), column, value and what is allowed there.
    """

    _holds = "the file"

    def __init__(self, problems: list[Problem] | tuple[Problem, ...]) -> None:
        count = len(problems)
        head = f"{count} problem{'s' if count != 1 else ''} in {self._holds}:"
        super().__init__("\n".join([head, *(f"  {p}" for p in problems)]))
        self.problems = tuple(problems)

    def __reduce__(self) -> tuple[type[FileError], tuple[tuple[Problem, ...]]]:
        return type(self), (self.problems,)


class CatalogError(FileError):
    """Pump files that cannot be read."""

    _holds = "the pump data"


class DrainpumpWarning(UserWarning):
    """Base of every warning this library gives."""


class UnusualValueWarning(DrainpumpWarning):
    """A value that is possible but far from any yard drain: perhaps the wrong unit."""


@dataclass(frozen=True)
class Heard:
    """A warning that was heard, with the place in the document that it is about.

    Attributes
    ----------
    path : str
        Such as ``$.lines[0].runs[1]``; "" where it is about no place.
    text, kind : str
        What was said, and the warning's class by name.
    """

    path: str
    text: str
    kind: str

    def __str__(self) -> str:
        return f"{self.path}: {self.text}" if self.path else self.text


#: where in a document things are being read, and who keeps the warnings
_PATH: ContextVar[str] = ContextVar("_PATH", default="")
_EAR: ContextVar[list[Heard] | None] = ContextVar("_EAR", default=None)


@contextmanager
def listening() -> Iterator[list[Heard]]:
    """Keep each warning given within, whether or not Python's filters show it again.

    >>> with listening() as heard, inside("$"), warnings.catch_warnings():
    ...     warnings.simplefilter("ignore")
    ...     warn("odd.", DrainpumpWarning)
    >>> print(*heard)
    $: odd.
    """
    heard: list[Heard] = []
    token = _EAR.set(heard)
    try:
        yield heard
    finally:
        _EAR.reset(token)


def warn(said: str, kind: type[DrainpumpWarning]) -> None:
    """Warn at the user's own line, and tell whoever keeps the warnings."""
    ear = _EAR.get()
    if ear is not None:
        ear.append(Heard(_PATH.get(), said, kind.__name__))
    warnings.warn(said, kind, stacklevel=_outside())


def _outside() -> int:
    """Stack level of the first frame outside this package, so a warning names the user's line."""
    level, frame = 2, sys._getframe(2)
    while frame.f_back is not None and frame.f_globals.get("__name__", "").startswith("drainpump"):
        level, frame = level + 1, frame.f_back
    return level


def wrong(name: str, value: object, allowed: str, mend: str = "") -> InputError:
    """Build the library's usual error: ``name=value: must be ...; mend.``

    >>> print(wrong("length_ft", -3, "must be 0 or more", "give the length along the pipe"))
    length_ft=-3: must be 0 or more; give the length along the pipe.
    """
    tail = f"; {mend}" if mend else ""
    fault = Fault(name, InputError._code, value, allowed, mend)
    return InputError(closed(f"{name}={value!r}: {allowed}{tail}"), name=name, fault=fault)


def closed(said: str) -> str:
    """End a sentence, unless it asks.

    >>> closed("did you mean 'elbow_90'?"), closed("give 0 or more")
    ("did you mean 'elbow_90'?", 'give 0 or more.')
    """
    return said if said.endswith("?") else f"{said}."


@contextmanager
def inside(place: str) -> Iterator[None]:
    """Put a place in a document in front of what is refused within.

    >>> with inside("$"), inside("runs"), inside(step(1)):
    ...     raise wrong("k", -3, "must be 0 or more")
    Traceback (most recent call last):
    ...
    drainpump.errors.InputError: $.runs[1].k=-3: must be 0 or more.
    """
    token = _PATH.set(joined(_PATH.get(), place) if _PATH.get() else place)
    try:
        yield
    except InputError as error:
        raise error.at(place) from None
    finally:
        _PATH.reset(token)


@contextmanager
def spelled(keys: Mapping[str, str]) -> Iterator[None]:
    """Speak of what is refused within by these keys, each for its keyword.

    >>> with spelled({"nominal": "od_mm"}):
    ...     raise wrong("nominal", 61, "is no size")
    Traceback (most recent call last):
    ...
    drainpump.errors.InputError: od_mm=61: is no size.
    """
    try:
        yield
    except InputError as error:
        raise error.spelled(keys) from None


def step(key: str | int) -> str:
    """Spell one step into a document; a key that is no plain word is quoted and cut short.

    >>> step("length_ft"), step(2), step("a b")
    ('length_ft', '[2]', '["a b"]')
    """
    if isinstance(key, str) and key.isascii() and key.isidentifier():
        return key
    short = key if isinstance(key, int) or len(key) <= 60 else key[:57] + "..."
    return f"[{json.dumps(short)}]"


def joined(place: str, step: str) -> str:
    """Go one step further into a document.

    >>> joined("$.runs", "[2]"), joined("$.runs[2]", "length_ft")
    ('$.runs[2]', '$.runs[2].length_ft')
    """
    return f"{place}{step}" if step.startswith("[") else f"{place}.{step}"
