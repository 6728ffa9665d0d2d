"""Which pump on which line: every candidate judged, every rejection with its number."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from os import PathLike
from typing import TYPE_CHECKING, Any

import numpy as np

from drainpump import units as u
from drainpump.choose.candidate import Candidate
from drainpump.choose.ranked_table import ranked_table
from drainpump.choose.smallest_change import smallest_change
from drainpump.cycling.switching import Cycle
from drainpump.doubt.band import Band, band
from drainpump.errors import InputError, wrong
from drainpump.limits.costs import CostGrid, Costs, cost_grid
from drainpump.limits.judged import Judged, at_rest
from drainpump.limits.limit_tests import Sure, rules, velocities
from drainpump.limits.limits import Limits
from drainpump.parts.pit import Pit
from drainpump.parts.scalars import one_plain
from drainpump.results import check_units, html_table
from drainpump.solve.operating_point import OperatingPoint, operating_point
from drainpump.units import FloatArray, View

if TYPE_CHECKING:
    import pandas as pd

    from drainpump.doubt.doubt import Doubt
    from drainpump.parts.line.line import DischargeLine
    from drainpump.parts.pump.bank import Pump

__all__ = ["Candidate", "Selection", "select"]

_AT_LEAST = "flow is at least {}, the end of the pump's data; that bound is used"

#: how candidates are ranked, by the objective's name
OBJECTIVES = {
    "flow": "most flow at the pump-off level",
    "cost": "least cost over the years",
    "starts": "fewest starts an hour in the worst case",
    "energy": "least energy for the water moved",
}


@dataclass(frozen=True, eq=False)
class Selection:
    """Every candidate, ranked.

    Attributes
    ----------
    candidates : tuple of Candidate
        Accepted ones first, best first; then the rejected, by the same rule.
    need_gpm, need_lps : float
        The flow asked for, judged at the pump-off level.
    limits : Limits
        What was applied.
    objective, rule : str
        How the ranking goes: by name, and in words.
    certainty : float or None
        Probability of carrying the need that was asked; None without a doubt.
    operating : OperatingPoint
    cycling : Cycle or None
        With no inflow, where a pit was given.
    band : Band or None
        Percentiles of every pair, where a doubt was given.
    costs : Costs or None
    """

    candidates: tuple[Candidate, ...]
    limits: Limits
    objective: str
    certainty: float | None
    _need: u.Measure
    operating: OperatingPoint = field(repr=False)
    cycling: Cycle | None = field(repr=False)
    band: Band | None = field(repr=False)
    costs: Costs | None = field(repr=False)

    need_gpm, need_lps = View("_need"), View("_need")

    @property
    def rule(self) -> str:
        """How the ranking goes, in words."""
        return OBJECTIVES[self.objective] + ", then in the order given"

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
        front: list[Candidate] = []
        priced = [c for c in self.accepted if c.cost is not None and not np.isnan(c.cost)]
        for c in sorted(priced, key=lambda c: (c.cost, -c._flow)):
            if not front or c._flow > front[-1]._flow:
                front.append(c)
        return tuple(front)

    def to_frame(self, units: str = "us") -> pd.DataFrame:
        """Return one row per candidate, best first, columns in one unit system.

        ``print(frame.to_string())`` shows all columns; a bare ``print`` cuts a wide frame.
        """
        import pandas as pd

        check_units(units)
        rows = []
        for c in self.candidates:
            row: dict[str, Any] = {
                "rank": c.rank,
                "pump": c.pump.name,
                "line": c.line.name,
                "accepted": c.accepted,
            }
            row |= {v.name: v.__get__(c) for v in u.views(Candidate, units)}
            row |= {
                "probability": c.probability,
                "cost": c.cost,
                "status": c.status,
                "codes": ", ".join(r.code for r in c.reasons),
                "reasons": "; ".join(r.text for r in c.reasons),
                "warnings": "; ".join(r.text for r in c.warnings),
                "change": c.change,
                "notes": "; ".join(c.notes),
            }
            rows.append(row)
        return pd.DataFrame(rows).dropna(axis="columns", how="all")

    def __repr__(self) -> str:
        best = "nothing serves" if self.best is None else repr(self.best)
        return (
            f"Selection for {u.both(self._need.si, self._need.unit)}: {len(self.accepted)} of "
            f"{len(self.candidates)} accepted; best: {best}"
        )

    def __str__(self) -> str:
        notes = () if self.best is None else self.best.notes
        return "\n".join(
            [repr(self), ranked_table(self.candidates), *(f"note: {note}" for note in notes)]
        )

    def _repr_html_(self) -> str:
        return html_table(self.to_frame(), rows=40)


def select(
    pumps: Pump | Sequence[Pump],
    lines: DischargeLine | Sequence[DischargeLine],
    *,
    pit: Pit | None = None,
    need_gpm: Any = None,
    need_lps: Any = None,
    limits: Limits | None = None,
    doubt: Doubt | None = None,
    certainty: float = 0.8,
    objective: str = "flow",
    costs: Costs | None = None,
    samples: int = 512,
    seed: int = 0,
) -> Selection:
    """Judge every pump on every line against a needed flow and the limits.

    Parameters
    ----------
    pumps, lines : PumpCurve and DischargeLine, or sequences of them
        All pairs are tried. Their quantities are scalars here.
    pit : Pit, optional
        Needed for limits on starts and runs, and for the objective "starts". Without a
        limit on starts, many of them are noted.
    need_gpm, need_lps : float
        Flow needed at the pump-off level, the hardest, >= 0. Exactly one.
    limits : Limits, optional
        Defaults to ``Limits()``: 2 to 8 ft/s, and warnings.
    doubt : Doubt, optional
        With it the need must be carried with the wished ``certainty``, over ``samples``
        draws from ``seed``, the same for every candidate.
    certainty : float, default 0.8
        0 <= certainty <= 1; common practice, no source.
    objective : {"flow", "cost", "starts", "energy"}
        Most flow; least cost, which needs ``costs`` and a price for every pump; fewest
        starts in the worst case; least energy for the water moved, by the curve's power.
    costs : Costs, optional
        Prices; without them no cost is said.
    samples, seed : int
        Of the draws.

    Returns
    -------
    Selection
        Accepted candidates ranked by the objective, then in the order given.

    Raises
    ------
    UnitError, InputError
        Bad units or values; a limit on starts or runs without a pit; a missing price or
        power where the objective needs it, by name.

    Examples
    --------
    >>> import drainpump as dp
    >>> pump = dp.PumpCurve(name="A", flow_gpm=[0, 30, 50], head_ft=[20, 12.8, 0])
    >>> lines = [dp.straight_line(pipe=dp.pvc(s), length_ft=150, lift_ft=6) for s in ("1-1/2", "2")]
    >>> sel = dp.select([pump], lines, need_gpm=30)
    >>> sel.best.line.name, [r.code for r in sel.rejected[0].reasons]
    ('2 in Sch 40 PVC, 150 ft', ['flow_short'])
    """
    if isinstance(pumps, str | PathLike):
        raise wrong("pumps", str(pumps), "must be pumps", "read a file with read_curves(...)")
    asked = u.take("need", guard="flow", gpm=need_gpm, lps=need_lps)
    need = asked.si
    limits = Limits() if limits is None else limits
    wish = one_plain("certainty", certainty, "give a probability", high=1.0)
    _check(limits, pit, asked, objective, costs)
    many_pumps = list(pumps) if isinstance(pumps, Sequence) else [pumps]
    many_lines = list(lines) if isinstance(lines, Sequence) else [lines]
    op = operating_point(many_pumps, many_lines)
    if op._grid.inner or need.ndim or (pit is not None and pit.shape):
        raise InputError(
            "select: an input holds an array; a choice is made for one site, give scalars "
            "and put variants in the lists of pumps and lines."
        )
    still = at_rest(many_pumps, many_lines, pit)
    spread = None if doubt is None else band(many_pumps, many_lines, doubt, samples, seed)
    sure = None
    if spread is not None:
        sure = Sure(np.asarray(spread.probability(need_lps=float(need) * 1e3)), wish)
    priced = None if costs is None else cost_grid(op, costs)
    found = _Judged(op, still, rules(op, still, need, limits, sure), limits, sure, priced)
    candidates = tuple(found.candidates(found.order(objective)))
    return Selection(
        tuple(smallest_change(candidates)), limits, objective,
        None if sure is None else wish, asked, op, still, spread, costs,
    )  # fmt: skip


def _check(
    limits: Any, pit: Pit | None, need: u.Measure, objective: str, costs: Costs | None
) -> None:
    if not isinstance(limits, Limits):
        raise wrong("limits", limits, "must be Limits", "make them with Limits(...)")
    for name, part, kind in (("pit", pit, Pit), ("costs", costs, Costs)):
        if part is not None and not isinstance(part, kind):
            raise wrong(
                name, part, f"must be {kind.__name__}", f"make it with {kind.__name__}(...)"
            )
    if objective not in OBJECTIVES:
        raise wrong("objective", objective, f"must be one of {tuple(OBJECTIVES)}", "pick one")
    if np.isnan(need.si).any():
        raise wrong(f"need_{need.unit}", need.typed, "must be a number", "give the flow needed")
    if pit is None and limits._needs_pit:
        raise InputError("limits on starts or runs: no pit given; give pit=Pit(...).")
    if pit is None and objective == "starts":
        raise InputError("objective='starts': no pit given; give pit=Pit(...).")
    if objective == "cost" and costs is None:
        raise InputError("objective='cost': no costs given; give costs=Costs(...).")


@dataclass(frozen=True, eq=False)
class _Judged(Judged):
    """The whole grid (P, L), judged; hands out candidates in an order."""

    sure: Sure | None
    costs: CostGrid | None

    def order(self, objective: str) -> Any:
        """Flat indices: accepted first, best first; a stable sort keeps the order given."""
        rejected = np.any([r.fails for r in self.rules if self.hard(r)], axis=0)
        score = self.score(objective)
        worst = np.nan_to_num(score, nan=np.inf)
        return np.lexsort((worst.ravel(), rejected.ravel()))

    def score(self, objective: str) -> FloatArray:
        """What the objective wants small; a missing figure is refused by the pump's name."""
        if objective == "flow":
            return -self.op._bounded
        if objective == "starts":
            assert self.still is not None
            return self.still._worst_rate
        pumps = self.op._grid.pumps
        if objective == "cost":
            assert self.costs is not None
            missing = [p.name for p, c in zip(pumps, self.costs.pump[:, 0], strict=True) if c != c]
            if missing:
                raise InputError(
                    f"objective='cost': no price for pump {', '.join(map(repr, missing))}; "
                    "give price=."
                )
            return self.costs.total
        missing = [
            p.name
            for p in pumps
            if any(getattr(c, "_power", None) is None for c in getattr(p, "_curves", (p,)))
        ]
        if missing:
            raise InputError(
                f"objective='energy': no power for pump {', '.join(map(repr, missing))}; "
                "give power_w=."
            )
        return self.energy()

    def energy(self) -> FloatArray:
        """Energy for each cubic metre moved (J), NaN where the power is not known."""
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.where(self.op._bounded > 0, self.op._power / self.op._bounded, np.nan)

    def candidates(self, order: Any) -> Iterator[Candidate]:
        """Turn the grids into candidates, in the order of their ranks."""
        op, still, sure, costs = self.op, self.still, self.sure, self.costs
        slowest, fastest = velocities(op)
        status, flow, head = np.asarray(op.status), op._bounded, op._head
        energy, total = self.energy(), None if costs is None else costs.total
        for rank, flat in enumerate(order, 1):
            at = tuple(int(i) for i in np.unravel_index(flat, flow.shape))
            pump, line = op._grid.pumps[at[0]], op._grid.lines[at[1]]
            notes = pump.notes
            if status[at] == "beyond_curve":
                notes = (_AT_LEAST.format(u.both(flow[at], "gpm")), *notes)
            if costs is not None and costs.note(at):
                notes = (*notes, costs.note(at))
            worst = None if still is None else float(still._worst_rate[at])
            if worst is not None and (often := self.limits._unjudged_starts(worst)):
                notes = (*notes, often)
            yield Candidate(
                pump=pump,
                line=line,
                rank=rank,
                status=str(status[at]),
                reasons=self.findings(at, hard=True),
                warnings=self.findings(at, hard=False),
                notes=notes,
                _flow=float(flow[at]),
                _head=float(head[at]),
                _slowest=float(slowest[at]),
                _fastest=float(fastest[at]),
                _worst_rate=worst,
                _shortest_run=None if still is None else float(still._run[at]),
                probability=None if sure is None else float(sure.probability[at]),
                cost=None if total is None else float(total[at]),
                _energy=float(energy[at]),
            )
