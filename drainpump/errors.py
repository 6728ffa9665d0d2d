"""The words of failure: every error and warning the library raises.

A message always reads in one order: the name and the value received, what is
allowed, and the mend.
"""

from __future__ import annotations

import json
import sys
import warnings
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from typing import Any, ClassVar, NamedTuple, TypeVar

Kept = TypeVar("Kept")


#: problems that are told at once
MOST_PROBLEMS = 50
#: characters of a value that a message shows
_SHOWN = 500


class DrainpumpError(Exception):
    """Base of every error this library raises on purpose."""


class Problem(NamedTuple):
    """One thing wrong in what was handed over, for a program to read."""

    path: str  # the keyword, or its place in a document; "" where it speaks of none
    code: str  # "unit" where a quantity has none or two of its units, else "value"
    value: Any  # as it was received, where one value is wrong; else None
    allowed: str  # what must be, in words
    mend: str  # what to do, in words; "" where the words say it already

    def at(self, place: str) -> Problem:
        """The same in a document."""
        return self._replace(path=joined(place, self.path) if self.path else place)

    def spelled(self, keyword: str, key: str) -> Problem:
        """The same by another key; by none it speaks of none."""
        return self._replace(path=key and key + self.path.removeprefix(keyword))


class InputError(DrainpumpError, ValueError):
    """A value that cannot be used: impossible, malformed or contradictory.

    Attributes
    ----------
    name : str
        The keyword it speaks of, or its place in a document, which its text then begins
        with; "" where it speaks of none.
    problems : tuple of Problem
        All that is wrong, for a program: each with path, code, value, allowed, mend. Of
        files each bad place, as `FileProblem`, which has these and row and column besides.
    """

    #: what a program reads in ``code``
    code: ClassVar[str] = "value"
    problems: tuple[Any, ...]

    def __init__(
        self, said: str = "", *, name: str = "", problem: Problem | None = None,
        all_of: Sequence[InputError] = (),
    ) -> None:  # fmt: skip
        super().__init__(said)
        self.name = name
        #: the refusals that this one is made of, where it is of several
        self.all_of = tuple(all_of)
        own = problem or Problem(name, self.code, None, said, "")
        self.problems = tuple(p for one in all_of for p in one.problems) or (own,)

    @staticmethod
    def together(found: Iterable[InputError]) -> InputError:
        """Return several refusals as one; of a single one itself."""
        each = [one for error in found for one in (error.all_of or (error,))]
        if len(each) == 1:
            return each[0]
        kind = UnitError if all(isinstance(one, UnitError) for one in each) else InputError
        said = "\n  ".join([f"{len(each)} problems:", *(str(one) for one in each)])
        return kind(said, all_of=each)

    def at(self, place: str) -> InputError:
        """Return the same refusal with its place in a document in front."""
        if self.all_of:
            return InputError.together(one.at(place) for one in self.all_of)
        said = joined(place, str(self)) if self.name else f"{place}: {self}"
        return self._said_as(said, place, [p.at(place) for p in self.problems])

    def spelled(self, keys: Mapping[str, str]) -> InputError:
        """Return the same refusal with another key for its keyword; one of none speaks of none."""
        if self.all_of:
            return InputError.together(one.spelled(keys) for one in self.all_of)
        keyword = self.name.split("[")[0]
        key = keys.get(keyword, "")
        said = (key + str(self).removeprefix(keyword)) if key else str(self)
        return self._said_as(said, key, [p.spelled(keyword, key) for p in self.problems])

    def _said_as(self, said: str, name: str, problems: list[Any]) -> InputError:
        # a unit error is one in a document, too
        kind = UnitError if isinstance(self, UnitError) else InputError
        same = kind(said, name=name)
        same.problems = tuple(problems)
        return same


class UnitError(InputError):
    """A quantity given in no unit, or in both of its units."""

    code = "unit"


class StatusError(DrainpumpError):
    """Raised by ``.require()`` when an element of a result is not ``ok``."""


@dataclass(frozen=True)
class FileProblem:
    """One thing wrong in a file: where it stands, what it is, what is allowed."""

    file: str
    row: int | None
    column: str | None
    value: str | None
    allowed: str
    code: ClassVar[str] = "file"
    mend: ClassVar[str] = ""  # the words of what is allowed hold it

    @property
    def path(self) -> str:
        """Its place: file, row and column."""
        row = "" if self.row is None else f", row {self.row}"
        return self.file + row + ("" if self.column is None else f", column {self.column!r}")

    def at(self, place: str) -> Problem:
        """The same of a file that a document names there."""
        return Problem(place, self.code, self.value, f"{self.path}: {self.allowed}", self.mend)

    def spelled(self, keyword: str, key: str) -> FileProblem:
        """The same: a file speaks of no keyword."""
        return self

    def __iter__(self) -> Iterator[Any]:
        yield from (self.path, self.code, self.value, self.allowed, self.mend)

    def __str__(self) -> str:
        received = "" if self.value is None else f" {self.value!r}:"
        return f"{self.path}:{received} {self.allowed}"


class FileError(InputError):
    """Files that cannot be read, with every problem found and not only the first.

    Attributes
    ----------
    problems : tuple of FileProblem
        Each bad place: file, row (counted as a spreadsheet shows it, header
        being row 1), column, value and what is allowed there.
    """

    _holds = "the file"

    def __init__(self, problems: list[FileProblem] | tuple[FileProblem, ...]) -> None:
        count = len(problems)
        head = f"{count} problem{'s' if count != 1 else ''} in {self._holds}:"
        super().__init__("\n".join([head, *(f"  {p}" for p in problems)]))
        self.problems = tuple(problems)

    def __reduce__(self) -> tuple[type[FileError], tuple[tuple[FileProblem, ...]]]:
        return type(self), (self.problems,)


class CatalogError(FileError):
    """Pump files that cannot be read."""

    _holds = "the pump data"


class Problems:
    """Refusals kept until all is looked at: ``with problems: ...`` for each, then `end`.

    >>> problems = Problems()
    >>> for k in (-1, 2, -3):
    ...     with problems:
    ...         if k < 0:
    ...             raise wrong("k", k, "must be 0 or more")
    >>> problems.end()
    Traceback (most recent call last):
    ...
    drainpump.errors.InputError: 2 problems:
      k=-1: must be 0 or more.
      k=-3: must be 0 or more.
    """

    def __init__(self) -> None:
        self.found: list[InputError] = []

    def __enter__(self) -> None:
        pass

    def __exit__(self, kind: object, error: BaseException | None, trace: object) -> bool:
        if not isinstance(error, InputError):
            return False
        self.found.append(error)
        if sum(len(one.problems) for one in self.found) >= MOST_PROBLEMS:
            self.end()  # nobody reads on, and a stranger's document may hold any number
        return True

    def end(self) -> None:
        """Raise what was refused, all at once; nothing where nothing was."""
        if self.found:
            raise InputError.together(self.found) from None


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
    name : str
        The keyword it speaks of; "" where it speaks of none, or of several.
    """

    path: str
    text: str
    kind: str
    name: str = ""

    def __str__(self) -> str:
        return f"{self.path}: {self.text}" if self.path else self.text


#: where in a document things are being read, and who keeps the warnings
_PATH: ContextVar[str] = ContextVar("_PATH", default="")
_EAR: ContextVar[list[Heard] | None] = ContextVar("_EAR", default=None)
_SILENT: ContextVar[bool] = ContextVar("_SILENT", default=False)


@contextmanager
def within(variable: ContextVar[Kept], value: Kept) -> Iterator[None]:
    """Give a context variable a value within, and the one before behind it."""
    token = variable.set(value)
    try:
        yield
    finally:
        variable.reset(token)


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
    outer = _EAR.get()
    try:
        with within(_EAR, heard):
            yield heard
    finally:
        if outer is not None:
            outer += heard


def silent() -> AbstractContextManager[None]:
    """Say nothing within: what is tried there was looked at before."""
    return within(_SILENT, True)


def warn(said: str, kind: type[DrainpumpWarning], name: str = "") -> None:
    """Warn at the user's own line, each time, and tell whoever keeps the warnings."""
    if _SILENT.get():
        return
    if (ear := _EAR.get()) is not None:
        ear.append(Heard(_PATH.get(), said, kind.__name__, name))
    frame = sys._getframe(1)
    while frame.f_back is not None and frame.f_globals.get("__name__", "").startswith("drainpump"):
        frame = frame.f_back
    # without a register of what was said before, so that it is said again of the next value
    module, file = frame.f_globals.get("__name__", ""), frame.f_code.co_filename
    warnings.warn_explicit(said, kind, file, frame.f_lineno, module)


def wrong(name: str, value: object, allowed: str, mend: str = "") -> InputError:
    """Build the library's usual error: ``name=value: must be ...; mend.``

    >>> print(wrong("length_ft", -3, "must be 0 or more", "give the length along the pipe"))
    length_ft=-3: must be 0 or more; give the length along the pipe.
    """
    tail = f"; {mend}" if mend else ""
    problem = Problem(name, InputError.code, value, allowed, mend)
    shown = repr(value)
    shown = shown if len(shown) <= _SHOWN else shown[: _SHOWN - 3] + "..."
    return InputError(closed(f"{name}={shown}: {allowed}{tail}"), name=name, problem=problem)


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
    try:
        with within(_PATH, joined(_PATH.get(), place) if _PATH.get() else place):
            yield
    except InputError as error:
        raise error.at(place) from None


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
    if isinstance(key, str) and len(key) <= 60 and key.isascii() and key.isidentifier():
        return key
    short = key if isinstance(key, int) or len(key) <= 60 else key[:57] + "..."
    return f"[{json.dumps(short)}]"


def joined(place: str, step: str) -> str:
    """Go one step further into a document.

    >>> joined("$.runs", "[2]"), joined("$.runs[2]", "length_ft")
    ('$.runs[2]', '$.runs[2].length_ft')
    """
    return f"{place}{step}" if step.startswith("[") else f"{place}.{step}"
