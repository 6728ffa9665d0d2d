"""Every candidate of a choice, ranked: the best, the rejected, and what none beats."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from drainpump import units as u
from drainpump.choose.candidate import Candidate
from drainpump.choose.question import Question, RankedBy
from drainpump.choose.ranked_table import needs_table, ranked_table
from drainpump.cycling.switching import Cycle
from drainpump.doubt.band import Band
from drainpump.errors import InputError, wrong
from drainpump.limits.costs import Costs
from drainpump.limits.limits import Limits
from drainpump.parts.pit import Pit
from drainpump.results import check_units, html_table, plain
from drainpump.solve.operating_point import OperatingPoint
from drainpump.units import View

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True, eq=False)
class Selection(u.Measured):
    """Every candidate, ranked.

    Attributes
    ----------
    candidates : tuple of Candidate
        Accepted ones first, best first; then the rejected, nearest miss first.
    need_gpm, need_lps : float
        The flow asked for, judged at the pump-off level; None where limits stand for it.
    objective, rule : str
        How the ranking goes: by name, and in words.
    operating : OperatingPoint
    cycling : Cycle or None
        With no inflow, where a pit was given.
    band : Band or None
        Percentiles of every pair, where a doubt was given.
    pit : Pit, tuple of Pit or None
        As it was given.
    floats : {"given", "find"}
        As it was given.
    """

    candidates: tuple[Candidate, ...]
    objective: RankedBy
    rule: str
    operating: OperatingPoint
    cycling: Cycle | None
    band: Band | None
    pit: Pit | tuple[Pit, ...] | None
    floats: Literal["given", "find"]
    _asked: Question
    _again: Callable[[Question], Selection]

    need_gpm, need_lps = View("_need", maybe=True), View("_need", maybe=True)

    @property
    def _need(self) -> u.Measure | None:
        return self._asked.need

    @property
    def limits(self) -> Limits:
        """What was applied."""
        return self._asked.limits

    @property
    def costs(self) -> Costs | None:
        """The prices, where some were given."""
        return self._asked.costs

    @property
    def certainty(self) -> float | None:
        """Probability of carrying the need that was asked; None without a doubt."""
        return None if self._asked.doubt is None else self._asked.certainty

    def for_needs(
        self, *, need_gpm: u.Quantity | None = None, need_lps: u.Quantity | None = None
    ) -> Needs:
        """Choose again for other needs, all else as it was: "what would 60 cost?".

        Parameters
        ----------
        need_gpm, need_lps : float or array_like
            Flows needed at the pump-off level, >= 0. Exactly one.

        Returns
        -------
        Needs
            One selection a need; print it.

        Examples
        --------
        >>> import drainpump as dp
        >>> pump = dp.PumpCurve(name="A", flow_gpm=[0, 30, 50], head_ft=[20, 12.8, 0])
        >>> lines = [dp.straight_line(pipe=dp.pvc(s), length_ft=150, lift_ft=6, name=s)
        ...          for s in ("1-1/2", "2")]
        >>> costs = dp.Costs(pipe_per_ft={"1-1/2": 1.6, "2": 2.2}, pump_each=200)
        >>> sel = dp.select(pump, lines, need_gpm=20, costs=costs)
        >>> [(one.best.line.name, one.best.cost) for one in sel.for_needs(need_gpm=[20, 30])]
        [('1-1/2', 440.0), ('2', 530.0)]
        """
        needs = u.take("need", guard="flow", gpm=need_gpm, lps=need_lps)
        both = zip(np.ravel(needs.si), np.ravel(needs.typed), strict=True)
        many = [u.Measure(u.frozen(si), needs.unit, float(typed)) for si, typed in both]
        for need in many:
            check_one_need(need)
        return Needs(tuple(self._again(replace(self._asked, need=need)) for need in many))

    @property
    def accepted(self) -> tuple[Candidate, ...]:
        """Candidates that keep every hard limit, best first."""
        return tuple(c for c in self.candidates if c.accepted)

    @property
    def rejected(self) -> tuple[Candidate, ...]:
        """Candidates that break a limit, each with its ``reasons``."""
        return tuple(c for c in self.candidates if not c.accepted)

    @property
    def best(self) -> Candidate | None:
        """The first accepted candidate, or None where nothing serves."""
        return self.accepted[0] if self.accepted else None

    @property
    def pareto(self) -> tuple[Candidate, ...]:
        """Accepted candidates that no other beats in both cost and flow, cheapest first.

        Raises
        ------
        InputError
            No costs were given to the selection.
        """
        if self.costs is None:
            raise InputError("pareto: no costs given; give costs=Costs(...) to select.")
        return _front(self.accepted, lambda c: c._flow)

    @property
    def dry_pareto(self) -> tuple[Candidate, ...]:
        """Candidates that no other beats in both cost and dry years, cheapest first.

        Those count that keep every limit but those on pond and overflow, which tell the dry
        years: from one to the next stands what each further dry year costs.

        Raises
        ------
        InputError
            No costs, or no storms with their return periods, were given to the selection.
        """
        if self.costs is None or all(c.dry_status == "" for c in self.candidates):
            raise InputError(
                "dry_pareto: give costs=Costs(...) and storms with their return_year to select."
            )
        dry = [c for c in self.candidates if c.wet_alone and c.dry_status != "below"]
        return _front(dry, lambda c: float(c.si.dry_up_to))

    def to_frame(self, units: u.System = "us") -> pd.DataFrame:
        """Return one row per candidate, best first, columns in one unit system.

        ``print(frame.to_string())`` shows all columns; a bare ``print`` cuts a wide frame.
        """
        import pandas as pd

        rows = [_row(c, check_units(units)) for c in self.candidates]
        return pd.DataFrame(rows).dropna(axis="columns", how="all")

    def to_dict(self) -> dict[str, Any]:
        """Return plain values, one mapping a candidate, best first; both spellings of each."""
        rows = [
            _row(c, "us") | _row(c, "metric") | {"reasons": [r.to_dict() for r in c.reasons]}
            for c in self.candidates
        ]
        return dict(
            plain({v.name: v.__get__(self) for v in u.views(Selection)} | {"candidates": rows})
        )

    def __repr__(self) -> str:
        best = f"best: {self.best!r}"
        if self.best is None:
            best = f"nothing serves; nearest: {self.candidates[0]!r}"
        return (
            f"Selection for {self.wanted}: {len(self.accepted)} of "
            f"{len(self.candidates)} accepted; {best}"
        )

    @property
    def _storm_period(self) -> Any:
        """How rare each of the storms is (s); None without them, or where it is not known."""
        return None if self._asked.storms is None else self._asked.storms.period

    @property
    def wanted(self) -> str:
        """What must be carried, in words."""
        if self._need is None:
            return "limits on pond and overflow"
        return u.both(self._need.si, self._need.unit)

    @property
    def units(self) -> u.System:
        """The unit system in which the need was typed, or the limit that stands for it."""
        return self._asked.units

    @property
    def sure(self) -> str:
        """How sure the need has to be carried, in words."""
        if self.band is None or self.certainty is None:
            return "nothing is doubted: each flow is taken as it stands"
        if self._need is None:
            return f"limits hold by the plain figures; what is doubted: {self.band.doubt}"
        return f"carried with probability {u.number(self.certainty)} at least, by {self.band.doubt}"

    def __str__(self) -> str:
        notes = (self.best or self.candidates[0]).notes
        return "\n".join(
            [
                repr(self),
                self.sure,
                f"ranked: {self.rule}",
                ranked_table(self.candidates, self.units),
                *([] if self.best is None or not self.best.dry else [f"best: {self.best.dry}"]),
                *(f"note: {note}" for note in notes),
            ]
        )

    def _repr_html_(self) -> str:
        return html_table(self.to_frame(), rows=40)


@dataclass(frozen=True, eq=False)
class Needs:
    """The same choice for several needs, side by side.

    Attributes
    ----------
    selections : tuple of Selection
        One a need, in the order asked; the object itself runs over them.
    """

    selections: tuple[Selection, ...]

    def __iter__(self) -> Iterator[Selection]:
        return iter(self.selections)

    def __len__(self) -> int:
        return len(self.selections)

    def __getitem__(self, which: int) -> Selection:
        return self.selections[which]

    def to_frame(self, units: u.System = "us") -> pd.DataFrame:
        """Return one row per need: its best candidate, or its nearest miss where none serves."""
        import pandas as pd

        unit = "gpm" if check_units(units) == "us" else "lps"
        rows = [
            {f"need_{unit}": float(u.from_si(sel.si.need, unit))} | _row(sel.candidates[0], units)
            for sel in self
        ]
        return pd.DataFrame(rows).dropna(axis="columns", how="all")

    def __str__(self) -> str:
        rows = [(sel.si.need, sel.candidates[0]) for sel in self]
        return needs_table(rows, self.selections[0].units)

    __repr__ = __str__

    def _repr_html_(self) -> str:
        return html_table(self.to_frame(self.selections[0].units))


def check_one_need(need: u.Measure) -> None:
    """Refuse a need that is no number, or several."""
    name = f"need_{need.unit}"
    if need.si.ndim:
        mend = f"give one, and ask of the answer: select(...).for_needs({name}=[...])"
        raise wrong(name, need.typed, "must be one flow", mend)
    if np.isnan(need.si):
        raise wrong(name, need.typed, "must be a number", "give the flow needed")


def _front(some: Sequence[Candidate], gain: Callable[[Candidate], float]) -> tuple[Candidate, ...]:
    """Those that no other beats in both cost and what is gained, cheapest first."""
    front: list[Candidate] = []
    priced = [c for c in some if c.cost is not None and not np.isnan(c.cost)]
    for c in sorted(priced, key=lambda c: (c.cost, -gain(c))):
        if not front or gain(c) > gain(front[-1]):
            front.append(c)
    return tuple(front)


def _row(c: Candidate, units: u.System) -> dict[str, Any]:
    return {
        "rank": c.rank,
        "pump": c.pump.name,
        "line": c.line.name,
        "accepted": c.accepted,
        **{v.name: v.__get__(c) for v in u.views(Candidate, units)},
        "probability": c.probability,
        "cost": c.cost,
        "status": c.status,
        "codes": ", ".join(r.code for r in c.reasons),
        "reasons": "; ".join(map(str, c.reasons)),
        "warnings": "; ".join(map(str, c.warnings)),
        "change": c.change,
        "notes": "; ".join(c.notes),
    }
