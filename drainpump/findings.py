"""A thing found: its number, its limit, what to think of it, its words and its mend."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, fields, replace
from typing import Any, Literal, Self, TypeAlias

from drainpump import units as u
from drainpump.results import Frame, check_units, frame_of, html_lines, plain

Verdict: TypeAlias = Literal["fine", "look", "not_known"]


@dataclass(frozen=True, kw_only=True)
class Finding:
    """One thing found, be it why a candidate is rejected, a warning, or a rough check.

    Attributes
    ----------
    code : str
        What it is about, such as ``flow_short`` or ``water_hammer``.
    where : str
        The part it is about; "" where that is plain.
    value, limit : float
        The number found and what it should keep to, in ``unit``; NaN where there is none.
    unit : str
        Unit suffix of both numbers, "" for a bare ratio.
    verdict : {"fine", "look", "not_known"}
        Kept; not kept; or not to be decided. What is not known is not taken for kept.
    text, mend : str
        The same in words, in both unit systems, and what would help.
    source : str
        Where the limit or the method comes from.

    Examples
    --------
    >>> import drainpump as dp
    >>> print(dp.Finding(code="flow_short", value=20, limit=35, unit="gpm",
    ...                  text="flow 20 gpm, 35 gpm needed", mend="take a wider pipe"))
    flow 20 gpm, 35 gpm needed; take a wider pipe
    """

    code: str
    where: str = ""
    value: float = float("nan")
    limit: float = float("nan")
    unit: str = ""
    verdict: Verdict = "look"
    text: str
    mend: str = ""
    source: str = ""

    def in_units(self, units: u.System) -> Self:
        """Return it with its numbers in "us" or "metric"; what both share stays."""
        if not self.unit or u.UNITS[self.unit].system in (check_units(units), "both"):
            return self
        twin = u.UNITS[self.unit].twin
        value, limit = (
            float(u.from_si(u.to_si(x, self.unit), twin)) for x in (self.value, self.limit)
        )
        return replace(self, value=value, limit=limit, unit=twin)

    def to_dict(self) -> dict[str, Any]:
        """Return plain Python values; NaN becomes None."""
        return {field.name: plain(getattr(self, field.name)) for field in fields(self)}

    def __str__(self) -> str:
        return f"{self.text}; {self.mend}" if self.mend else self.text

    def __repr__(self) -> str:
        where = f"{self.where}, " if self.where else ""
        return f"Finding({self.code}, {where}{self.verdict}: {self})"

    def _repr_html_(self) -> str:
        return html_lines(f"{self.where or self.code}: {self} ({self.verdict})")


def found(value: Any, limit: Any, unit: str, **said: Any) -> Finding:
    """Tell two numbers in SI in ``unit``; the rest is the record's own."""
    if unit:
        value, limit = (float(u.from_si(x, unit)) for x in (value, limit))
    return Finding(value=value, limit=limit, unit=unit, **said)


def at_most(value: float, limit: float) -> Verdict:
    """Judge a number that must not pass its limit; without one of the two nothing is known.

    >>> at_most(3.0, 5.0), at_most(6.0, 5.0), at_most(3.0, float("nan"))
    ('fine', 'look', 'not_known')
    """
    if value <= limit:
        return "fine"
    return "look" if value > limit else "not_known"


def findings_table(findings: Iterable[Finding], units: u.System = "us") -> Frame:
    """Return one row per finding; value and limit are in the row's own unit."""
    names = [field.name for field in fields(Finding)]
    rows = [vars(finding.in_units(check_units(units))) for finding in findings]
    return frame_of(rows, columns=names)
