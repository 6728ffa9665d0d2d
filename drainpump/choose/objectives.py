"""What a choice may be ranked by: in words, what it has to be given, and its score."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, Literal, NamedTuple, TypeAlias

import numpy as np

from drainpump.choose.question import Tried
from drainpump.errors import InputError
from drainpump.limits.costs import CostGrid, energy
from drainpump.limits.limit_tests import Judged, best_shares
from drainpump.limits.limits import Limits
from drainpump.parts.pump.bank import Pump, PumpBank
from drainpump.solve.operating_point import OperatingPoint
from drainpump.units import FloatArray, number


class Objective(NamedTuple):
    """One way to rank: in words, what the choice wants small, the input it cannot do without."""

    words: str
    score: Callable[[Judged, CostGrid | None], FloatArray]
    needs: str = ""


def power(op: OperatingPoint) -> FloatArray:
    """Power put into the water over its weight (m⁴/s): flow × head, the measure of too much pump.

    Of a flow known by its bound it is the bound's.
    """
    known = op.at_flow(op.si.reckoned)
    return np.asarray(op.si.reckoned * known.si.head)


def _least(judged: Judged, costs: CostGrid | None) -> FloatArray:
    """Cost over the years; where some are not priced `ranked` takes the power instead."""
    assert costs is not None
    return costs.total


def _flow(judged: Judged, _: CostGrid | None) -> FloatArray:
    return np.asarray(-judged.op.si.counted)


def _cost(judged: Judged, costs: CostGrid | None) -> FloatArray:
    assert costs is not None
    pumps = judged.op.si.grid.pumps
    missing = [p for p, price in zip(pumps, costs.pump[:, 0], strict=True) if np.isnan(price)]
    _refuse(missing, "objective='cost': no price", "price=")
    return costs.total


def _starts(judged: Judged, _: CostGrid | None) -> FloatArray:
    assert judged.still is not None
    return np.asarray(judged.still.si.worst_rate)


def _energy(judged: Judged, _: CostGrid | None) -> FloatArray:
    def silent(pump: Pump) -> bool:
        curves = pump.si.curves if isinstance(pump, PumpBank) else (pump,)
        return any(curve.si.power is None for curve in curves)

    missing = [p for p in judged.op.si.grid.pumps if silent(p)]
    _refuse(missing, "objective='energy': no power", "power_w=")
    return energy(judged.op)


def _refuse(missing: list[Pump], what: str, mend: str) -> None:
    if missing:
        names = ", ".join(repr(p.name) for p in missing)
        raise InputError(f"{what} for pump {names}; give {mend}.")


RankedBy: TypeAlias = Literal["least", "flow", "cost", "starts", "energy"]
OBJECTIVES: dict[RankedBy, Objective] = {
    "least": Objective("the least that surely serves", _least),
    "flow": Objective("most flow at the pump-off level", _flow),
    "cost": Objective("least cost over the years", _cost, "costs"),
    "starts": Objective("fewest starts an hour in the worst case", _starts, "pit"),
    "energy": Objective("least energy for the water moved", _energy),
}


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
    by_cost = priced(tried)
    # what all pay alike, such as a trench or an electrician, makes none of them dearer
    alike = min((float(c.prices.others.min()) for c in tried if c.prices is not None), default=0.0)

    def flat(of: Callable[[Tried], Any]) -> Any:
        return np.concatenate([np.ravel(of(c)) for c in tried])

    def scored(c: Tried) -> FloatArray:
        if objective == "least":
            if c.prices is None or not by_cost:
                return power(c.judged.op)
            return np.asarray(c.prices.total - alike)
        return OBJECTIVES[objective].score(c.judged, c.prices)

    rejected = flat(lambda c: c.judged.rejected)
    score = np.nan_to_num(flat(scored), nan=np.inf)
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
