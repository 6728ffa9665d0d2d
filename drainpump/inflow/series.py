"""Values along time: what a storm's lists must be, and how they are tabulated."""

from __future__ import annotations

from typing import Any

import numpy as np

from drainpump import units as u
from drainpump.errors import InputError, UnitError
from drainpump.parts.scalars import one_number
from drainpump.results import Frame, axis_columns, frame_of
from drainpump.units import FloatArray

#: steps that differ by less than this share are one step (a clock's rounding)
_EVEN = 1e-6


def known_along_time(what: str, si: FloatArray) -> int:
    """Refuse values that are missing; return how many there are along time."""
    if si.ndim == 0 or si.shape[-1] == 0:
        raise InputError(f"{what}: must hold one value or more along time; give a list.", name=what)
    bad = np.isnan(si)
    if bad.any():
        raise InputError(
            f"{what}{u.first(si, bad)[0]}: is missing (NaN); fill the gap, or give the stretches "
            "on its two sides as storms of their own.",
            name=what,
        )
    return int(si.shape[-1])


def even_edges(count: int, block_min: Any, time_min: Any) -> FloatArray:
    """Ends of even blocks (s), from their length or from the time each begins."""
    if (block_min is None) == (time_min is None):
        raise UnitError(
            "block_min and time_min: give one of the two, the length of all blocks or the time "
            "each begins."
        )
    if time_min is None:
        return np.asarray(np.arange(count + 1) * block_length(block_min))
    start = in_order(count, time_min, strict=True)
    if count == 1:
        raise UnitError("block_min: no value given; one block alone needs its length.")
    step = np.diff(start)
    odd = np.abs(step - step[0]) > _EVEN * step[0]
    if odd.any():
        i = int(np.argmax(odd))
        raise InputError(
            f"time_min: mixed steps, {step[0] / 60:g} min and from block {i} on "
            f"{step[i] / 60:g} min; give rain in blocks of one length.",
            name="time_min",
        )
    return np.append(start, start[-1] + step[-1])


def block_length(block_min: Any) -> FloatArray:
    block: FloatArray = u.take("block", guard="positive", min=block_min).si
    one_number("block_min", block_min, block, "all blocks are alike")
    return block


def in_order(count: int, time_min: Any, *, strict: bool) -> FloatArray:
    """Times (s), one for each value, in order."""
    time: FloatArray = u.take("time", guard="any", min=time_min).si
    if time.shape != (count,):
        raise InputError(
            f"time_min: shape {time.shape} for {count} values; give one time for each value.",
            name="time_min",
        )
    known_along_time("time_min", time)
    steps = np.diff(time)
    good = steps > 0 if strict else steps >= 0
    if not good.all():
        i = int(np.argmin(good)) + 1
        raise InputError(
            f"time_min[{i}]: {time[i] / 60:g} min does not come after {time[i - 1] / 60:g} min; "
            "sort by time, each time once.",
            name=f"time_min[{i}]",
        )
    return time


def over_time(time: Any, columns: dict[str, FloatArray]) -> Frame:
    shape = next(iter(columns.values())).shape
    data = axis_columns(shape, range(len(shape) - 1))
    data["time_min"] = np.broadcast_to(time, shape).ravel()
    return frame_of(data | {name: np.ravel(a) for name, a in columns.items()})
