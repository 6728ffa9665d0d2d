"""What a choice may be ranked by: in words, what it has to be given, and its score."""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal, NamedTuple, TypeAlias

import numpy as np

from drainpump.errors import InputError
from drainpump.limits.costs import CostGrid
from drainpump.limits.judged import Judged
from drainpump.parts.pump.bank import Pump, PumpBank
from drainpump.solve.operating_point import OperatingPoint
from drainpump.units import FloatArray

__all__ = ["OBJECTIVES", "Objective", "RankedBy", "energy", "ranked"]


class Objective(NamedTuple):
    """One way to rank: in words, what the choice wants small, the input it cannot do without."""

    words: str
    score: Callable[[Judged, CostGrid | None], FloatArray]
    needs: str = ""


def energy(op: OperatingPoint) -> FloatArray:
    """Energy for each cubic metre moved (J), NaN where the power is not known."""
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(op.si.reckoned > 0, op.si.power / op.si.reckoned, np.nan)


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


RankedBy: TypeAlias = Literal["flow", "cost", "starts", "energy"]
OBJECTIVES: dict[RankedBy, Objective] = {
    "flow": Objective("most flow at the pump-off level", _flow),
    "cost": Objective("least cost over the years", _cost, "costs"),
    "starts": Objective("fewest starts an hour in the worst case", _starts, "pit"),
    "energy": Objective("least energy for the water moved", _energy),
}


def ranked(objective: RankedBy, judged: Judged, costs: CostGrid | None) -> list[tuple[int, int]]:
    """Every pair (pump, line): accepted first, best first; then in the order given."""
    score = np.nan_to_num(OBJECTIVES[objective].score(judged, costs), nan=np.inf)
    order = np.lexsort((score.ravel(), judged.rejected.ravel()))
    return [(int(p), int(k)) for p, k in zip(*np.unravel_index(order, score.shape), strict=True)]
