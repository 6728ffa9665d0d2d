"""Acceptance grades of pump tests: how far a delivered pump may be from its curve.

The table is ``physics/data/acceptance_grades.csv``, each row with its source and whether
it was seen second-hand or written from memory.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from drainpump.errors import wrong
from drainpump.foreign import is_among, nearest
from drainpump.physics.tables import read_rows

#: sigmas in the half-width of a tolerance: it is taken to hold 95 % of pumps. Our own
#: choice, no source; a grade says what may be refused, not how pumps scatter
_SIGMAS = 2.0


@dataclass(frozen=True)
class Grade:
    """Tolerance of one acceptance grade, in percent of the curve.

    Attributes
    ----------
    name : str
    flow_low_pct, flow_high_pct, head_low_pct, head_high_pct : float
        Least and greatest deviation that passes.
    source, certainty : str
        Where the figures come from, and how they were had.
    """

    name: str
    flow_low_pct: float
    flow_high_pct: float
    head_low_pct: float
    head_high_pct: float
    source: str
    certainty: str

    @property
    def flow_pct(self) -> float:
        """One-sigma of the flow: half the tolerance's half-width."""
        return (self.flow_high_pct - self.flow_low_pct) / 2 / _SIGMAS

    @property
    def head_pct(self) -> float:
        """One-sigma of the head: half the tolerance's half-width."""
        return (self.head_high_pct - self.head_low_pct) / 2 / _SIGMAS

    @property
    def flow_middle_pct(self) -> float:
        """Middle of the flow's tolerance: above 0 for a one-sided grade."""
        return (self.flow_high_pct + self.flow_low_pct) / 2

    @property
    def head_middle_pct(self) -> float:
        """Middle of the head's tolerance: above 0 for a one-sided grade."""
        return (self.head_high_pct + self.head_low_pct) / 2

    def __str__(self) -> str:
        return f"grade {self.name!r}, {self.source} ({self.certainty})"


@cache
def _grades() -> dict[str, Grade]:
    return {row.name: row for row in read_rows(Grade, "acceptance_grades.csv", key="grade")}


def grade_names() -> list[str]:
    """Return the names of the acceptance grades.

    >>> grade_names()[:3]
    ['up to 10 kW', '1B', '1E']
    """
    return list(_grades())


def grade(name: str) -> Grade:
    """Return an acceptance grade by name.

    >>> grade("2B").flow_high_pct, grade("2B").flow_pct
    (8.0, 4.0)
    """
    if not is_among(name, _grades()):
        known = nearest(name, grade_names()).removesuffix("?")
        raise wrong("grade", name, "must be an acceptance grade", known)
    return _grades()[name]
