"""What a choice may be ranked by: in words, what it has to be given, and its score."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, Literal, NamedTuple, TypeAlias

import numpy as np

from drainpump.choose.question import Tried
from drainpump.errors import InputError
from drainpump.limits.costs import Costs
from drainpump.limits.limit_tests import best_shares
from drainpump.limits.limits import Limits
from drainpump.parts.pump.bank import Pump
from drainpump.units import FloatArray, number


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
    low, high = map(number, limits.best_flow_preferred)
    return (
        f"{words}: least {what}; among all within {number(limits.alike_pct)} % of the least the "
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
