"""The words of failure: every error and warning the library raises.

A message always reads in one order: the name and the value received, what is
allowed, and the mend.
"""

from __future__ import annotations

from dataclasses import dataclass

__all__ = [
    "CatalogError",
    "DrainpumpError",
    "DrainpumpWarning",
    "InputError",
    "Problem",
    "StatusError",
    "UnitError",
    "UnusualValueWarning",
    "closed",
    "wrong",
]


class DrainpumpError(Exception):
    """Base of every error this library raises on purpose."""


class InputError(DrainpumpError, ValueError):
    """A value that cannot be used: impossible, malformed or contradictory."""


class UnitError(InputError):
    """A quantity given in no unit, or in both of its units."""


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


class CatalogError(InputError):
    """Files that cannot be read, with every problem found and not only the first.

    Attributes
    ----------
    problems : tuple of Problem
        Each bad place: file, row (counted as a spreadsheet shows it, header
        being row 1), column, value and what is allowed there.
    """

    def __init__(self, problems: list[Problem] | tuple[Problem, ...]) -> None:
        self.problems = tuple(problems)
        count = len(self.problems)
        head = f"{count} problem{'s' if count != 1 else ''} in the pump data:"
        super().__init__("\n".join([head, *(f"  {p}" for p in self.problems)]))

    def __reduce__(self) -> tuple[type[CatalogError], tuple[tuple[Problem, ...]]]:
        return type(self), (self.problems,)


class DrainpumpWarning(UserWarning):
    """Base of every warning this library gives."""


class UnusualValueWarning(DrainpumpWarning):
    """A value that is possible but far from any yard drain: perhaps the wrong unit."""


def wrong(name: str, value: object, allowed: str, mend: str = "") -> InputError:
    """Build the library's usual error: ``name=value: must be ...; mend.``

    >>> print(wrong("length_ft", -3, "must be 0 or more", "give the length along the pipe"))
    length_ft=-3: must be 0 or more; give the length along the pipe.
    """
    tail = f"; {mend}" if mend else ""
    return InputError(closed(f"{name}={value!r}: {allowed}{tail}"))


def closed(said: str) -> str:
    """End a sentence, unless it asks.

    >>> closed("did you mean 'elbow_90'?"), closed("give 0 or more")
    ("did you mean 'elbow_90'?", 'give 0 or more.')
    """
    return said if said.endswith("?") else f"{said}."
