"""What is asked of a choice, what becomes of pumps on lines held against it, and their order."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Literal, NamedTuple, TypeAlias

import numpy as np

from drainpump import units as u
from drainpump.choose.storms import Storms, Suffered
from drainpump.doubt.band import band
from drainpump.doubt.doubt import Doubt
from drainpump.errors import InputError
from drainpump.limits.costs import CostGrid, Costs, cost_grid, energy
from drainpump.limits.limit_tests import Judged, Rule, Sure, best_shares, judge, velocities
from drainpump.limits.limits import Limits
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.pit import Pit
from drainpump.parts.pump.bank import Pump
from drainpump.solve.operating_point import operating_point
from drainpump.units import FloatArray

#: what a candidate says of storms, each the worst of all: by their names in a routing
_WORST = {
    "peak_depth": "peak_depth", "peak_pond": "peak_pond", "ponded": "ponded",
    "overflow": "overflow", "starts": "starts", "longest": "longest", "joules": "energy",
}  # fmt: skip


@dataclass(frozen=True, eq=False)
class Tried:
    """Pumps on lines over one pit, judged: with what they cost and what storms do to them."""

    asked: Question
    judged: Judged
    pit: Pit | None
    prices: CostGrid | None
    suffered: Suffered | None
    number: int  # the pit's place among those given, from 1

    @cached_property
    def columns(self) -> dict[str, Any]:
        """The numbers of the candidates (P, L) in SI; None where one was not asked."""
        op, still, sure = self.judged.op, self.judged.still, self.judged.sure
        slowest, fastest = velocities(op)
        needed = sure is not None and self.asked.need is not None
        found = {
            "flow": op.si.counted,
            "low": None if sure is None else sure.band.si.flow[0],
            "high": None if sure is None else sure.band.si.flow[-1],
            "head": op.si.head,
            "slowest": slowest,
            "fastest": fastest,
            "worst_rate": None if still is None else still.si.worst_rate,
            "shortest_run": None if still is None else still.si.run,
            "probability": sure.probability if sure is not None and needed else None,
            "cost": None if self.prices is None else self.prices.total,
            "energy": energy(op),
            # what is put into the water, over its weight: the measure of too much pump
            "power": op.si.reckoned * op.at_flow(op.si.reckoned).si.head,
        }
        suffered, storms = self.suffered, self.asked.storms
        if suffered is None or storms is None or self.pit is None:
            return found | dict.fromkeys([*_WORST, "to_overflow"])
        alike = np.full(op.si.code.shape, storms.to_overflow(self.pit))
        worst = {name: suffered.worst(of) for name, of in _WORST.items()}
        return found | worst | {"to_overflow": alike}


@dataclass(frozen=True, eq=False)
class Question:
    """What every candidate of a choice is held against, so that a change can be too."""

    need: u.Measure | None
    limits: Limits
    doubt: Doubt | None
    certainty: float
    samples: int
    seed: int
    costs: Costs | None = None
    storms: Storms | None = None

    @property
    def flow(self) -> FloatArray:
        """The flow needed (m³/s); none where the limits say what must be."""
        return np.zeros(()) if self.need is None else self.need.si

    @property
    def units(self) -> u.System:
        """The unit system in which the need was typed, or the limit that stands for it."""
        metric = "pond_depth_max_mm" in self.limits.given
        if self.need is not None:
            metric = u.UNITS[self.need.unit].system == "metric"
        return "metric" if metric else "us"

    def said(self, si: Any, unit: str) -> str:
        """A quantity in words, first in the units that were typed."""
        return u.both(si, unit if self.units == "us" else u.UNITS[unit].twin)

    def tried(
        self,
        pumps: Sequence[Pump],
        lines: Sequence[DischargeLine],
        pit: Pit | None,
        number: int = 1,
    ) -> Tried:
        """Hold every pump on every line against it."""
        sure = suffered = prices = None
        more: list[Rule] = []
        if self.doubt is not None:
            spread = band(pumps, lines, self.doubt, self.samples, self.seed)
            sure = Sure(spread, self.flow, self.certainty)
        if self.costs is not None:
            prices = cost_grid(operating_point(pumps, lines), self.costs, pit)
            more += _budget(prices, self.limits)
        if self.storms is not None and pit is not None:
            suffered = self.storms.suffered(pumps, lines, pit)
            more += self.storms.rules(suffered)
        judged = judge(pumps, lines, pit, self.flow, self.limits, sure, more)
        return Tried(self, judged, pit, prices, suffered, number)

    def serves(self, pump: Pump, line: DischargeLine, pit: Pit | None) -> bool:
        """Whether one pump on one line is accepted."""
        return not bool(self.tried([pump], [line], pit).judged.rejected[0, 0])


def _budget(prices: CostGrid, limits: Limits) -> list[Rule]:
    if not limits.applies("cost_max"):
        return []
    most = np.asarray(limits.si.cost_max)
    unknown = np.isnan(prices.total)
    over = (prices.total > most) | unknown
    return [Rule("cost_high", over, prices.total, most, open=unknown)]


class Objective(NamedTuple):
    """One way to rank: in words, the number that is wanted small, what must be given for it."""

    words: str
    column: str
    needs: str = ""


RankedBy: TypeAlias = Literal["least", "flow", "cost", "starts", "energy"]
OBJECTIVES: dict[RankedBy, Objective] = {
    "least": Objective("the least that surely serves", "power"),
    "flow": Objective("most flow at the pump-off level", "flow"),
    "cost": Objective("least cost over the years", "cost", "costs"),
    "starts": Objective("fewest starts an hour in the worst case", "worst_rate", "pit"),
    "energy": Objective("least energy for the water moved", "energy"),
}


def refuse_unknown(objective: RankedBy, pumps: Sequence[Pump], costs: Costs | None) -> None:
    """Refuse to rank by a price or a power that a pump does not tell."""
    if objective == "cost" and costs is not None:
        word, silent = "price", [p for p in pumps if np.isnan(costs.of_pump(p))]
    elif objective == "energy":
        word = "power"
        silent = [p for p in pumps if any(curve.si.power is None for curve in p.si.curves)]
    else:
        return
    if silent:
        names, mend = (
            ", ".join(repr(p.name) for p in silent),
            {"price": "price=", "power": "power_w="},
        )
        raise InputError(f"objective={objective!r}: no {word} for pump {names}; give {mend[word]}.")


def in_words(objective: RankedBy, limits: Limits, by_cost: bool) -> str:
    """How a ranking goes, in words."""
    words = OBJECTIVES[objective].words
    if objective != "least":
        return f"{words}, then in the order given"
    what = "cost over the years" if by_cost else "power put into the water, flow × head"
    low, high = map(u.number, limits.best_flow_preferred)
    return (
        f"{words}: least {what}; among all within {u.number(limits.alike_pct)} % of the least the "
        f"nearest to {low} to {high} of its best-efficiency flow, then to that flow itself, then "
        "in the order given"
    )


def priced(tried: Sequence[Tried]) -> bool:
    """Whether all that are accepted are priced, so that the least is the least cost."""
    return all(
        c.prices is not None and not np.isnan(c.prices.total[~c.judged.rejected]).any()
        for c in tried
    )


def ranked(objective: RankedBy, tried: Sequence[Tried]) -> list[tuple[int, int, int]]:
    """Every (pit, pump, line): the accepted, best first, then the rejected, nearest miss first."""
    column, sign = OBJECTIVES[objective].column, -1.0 if objective == "flow" else 1.0
    alike = 0.0
    if objective == "least" and priced(tried):
        column = "cost"
        # what all pay alike, such as a trench or an electrician, makes none of them dearer
        alike = min(float(c.prices.others.min()) for c in tried if c.prices is not None)

    def flat(of: Callable[[Tried], Any]) -> Any:
        return np.concatenate([np.ravel(of(c)) for c in tried])

    rejected = flat(lambda c: c.judged.rejected)
    score = np.nan_to_num(flat(lambda c: sign * (c.columns[column] - alike)), nan=np.inf)
    order = np.lexsort((np.where(rejected, flat(lambda c: c.judged.missed), score), rejected))
    if objective == "least":
        serve = order[: int((~rejected).sum())]
        low, high = tried[0].judged.limits.best_flow_preferred
        ends = [best_shares(c.judged.op) for c in tried]
        # of a bank the pump that runs worst; one that does not tell comes last among its like
        outside = [np.maximum(np.maximum(low - a, b - high), 0.0) for a, b in ends]
        away = [np.maximum(np.abs(a - 1), np.abs(b - 1)) for a, b in ends]
        keys = [
            np.nan_to_num(np.concatenate([x.ravel() for x in key]), nan=np.inf)[serve]
            for key in (outside, away)
        ]
        wide = 1 + tried[0].judged.limits.si.alike_pct / 100
        order[: serve.size] = serve[_alike(score[serve], wide, [serve, *reversed(keys)])]
    places = [(j, *at) for j, c in enumerate(tried) for at in np.ndindex(c.judged.rejected.shape)]
    return [places[i] for i in order]


def _alike(score: FloatArray, wide: float, keys: list[Any]) -> list[int]:
    """Order of rising scores: those alike to the least by the keys, the last first, and so on."""
    order: list[int] = []
    while len(order) < len(score):
        first = len(order)
        alike = np.flatnonzero(score <= score[first] * wide)
        alike = alike[alike >= first]
        order += [int(i) for i in alike[np.lexsort([key[alike] for key in keys])]]
    return order
