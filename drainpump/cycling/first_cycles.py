"""From the first start on an empty line until the outlet sees water.

Where the first cycle does not reach the outlet, all that the pump lifted comes back and the
inflow besides, so each cycle begins with more water in the pit and pushes further, until the
outlet sees water or the pit is full to its rim and no cycle gets further than the last.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.optimize import elementwise

from drainpump.cycling.settled import Draining
from drainpump.units import FloatArray

#: steps followed until the outlet sees water, and the share of the line's volume by which
#: one of them may push on: a step is a cycle, or many alike where the inflow is small
_STEPS, _PUSH = 500, 0.005
_HOUR = 3600.0


def threshold(draining: Draining, priming: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Inflow with which the first cycle just reaches the outlet, and the same by the full line.

    ``priming`` is the time to fill, infinite where the pump stalls before. The least water on
    the way rises with the inflow, so there is one root.
    """
    volume, flow = draining.fill.filled[:, -1], draining.flow[:, 0]
    with np.errstate(divide="ignore", invalid="ignore"):
        full_line = np.maximum(flow * (1 - draining.working / volume), 0.0)
    found = np.where(draining.working >= volume, 0.0, np.inf)
    can = np.flatnonzero((draining.working < volume) & np.isfinite(priming))
    if can.size:

        def least(q: FloatArray, i: Any) -> FloatArray:
            # finished elements are dropped, so the number of each travels with it
            water, _ = draining.fill.take(i).lowest(draining.working[i][:, None], q[:, None])
            return water[:, 0]

        most = draining.fill.flow[can].max(axis=(1, 2))
        found[can] = elementwise.find_root(least, (np.zeros(can.size), most), args=(can,)).x
    return found, np.where(np.isinf(found), np.inf, full_line)


@dataclass(eq=False)
class FirstCycles:
    """What happens before the cycles repeat themselves, (E,)."""

    start: FloatArray  # m³ in the pit above off at the next start
    cycles: FloatArray  # number of the cycle that first reaches the outlet
    waited: FloatArray  # s until it does
    count: FloatArray  # cycles so far
    starts: FloatArray  # in the first hour before it settles
    until: FloatArray  # s when it settles
    overflows: Any


def until_outlet(draining: Draining, inflow: FloatArray, can: Any) -> FirstCycles:
    """Follow cycle after cycle until the outlet sees water or no cycle gets further.

    Elements that ``can`` not move any water, or whose inflow is none, are left as they are.
    """
    never, none = np.full(inflow.shape, np.inf), np.zeros(inflow.shape)
    early = FirstCycles(
        draining.working.copy(), never, never.copy(), none, none.copy(), none.copy(),
        none.astype(np.bool_),
    )  # fmt: skip
    left = np.flatnonzero(can & (inflow > 0) & np.isfinite(draining.fill.flow[:, 0, 0]))
    for number in range(1, _STEPS + 1):
        if not left.size:
            break
        left = _one_step(draining, inflow, early, left, number)
    return early


def _one_step(
    draining: Draining, inflow: FloatArray, early: FirstCycles, left: Any, number: int
) -> Any:
    """One cycle of the elements still on their way, or many alike; return those that go on."""
    fill, q, start = draining.fill.take(left), inflow[left], early.start[left]
    march = fill.march(start[:, None], q[:, None], dips_full=number > 1)
    filled, time, reached = march.filled[:, 0], march.time[:, 0], march.reached[:, 0]
    done, on = left[reached], ~reached
    early.cycles[done] = early.count[done] + 1
    early.waited[done] = early.until[done] + time[reached]
    back = np.array([np.interp(*row) for row in zip(filled, fill.filled, fill.back, strict=True)])
    early.overflows[left] |= on & (back > draining.room[left])
    kept = np.minimum(back, draining.room[left])
    rest = np.maximum(draining.working[left] - kept, 0.0) / q
    after = np.maximum(kept, draining.working[left])
    # full to the rim and no further than before: it will never get there
    stuck = (after <= start * (1 + 1e-12)) & (number > 2) & (rest == 0)
    # a small inflow pushes on so little that many cycles are as good as one
    gain = np.maximum(after - start, 1e-300)
    many = np.maximum(np.floor(_PUSH * fill.filled[:, -1] / gain), 1.0)
    many = np.where(on & (number > 2) & (rest == 0) & ~stuck, many, 1.0)
    one = time + rest
    with np.errstate(divide="ignore"):
        fit = np.ceil((_HOUR - early.until[left]) / one)
    early.starts[left] += np.where(on, np.clip(fit, 0.0, many), 0.0)
    early.start[left] = np.minimum(start + many * (after - start), draining.room[left])
    early.until[left] += np.where(on, many * one, 0.0)
    early.count[left] += many
    return left[on & ~stuck & np.isfinite(time)]
