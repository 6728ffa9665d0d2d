"""What a plant with a fault gives: its flow at any size, the size behind a flow, how likely.

Its size is the root (scipy) at which the altered pump makes what the altered line asks at the
measured flow; its likelihood is the mean over all its usual sizes, whatever the root.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from scipy.optimize import brentq, elementwise
from scipy.special import log_ndtr, logsumexp

from drainpump.field.faults import Fault, Plant
from drainpump.parts.pump.curve import PumpCurve
from drainpump.physics import system
from drainpump.solve.operating_point import solve_arrays
from drainpump.states import OK
from drainpump.units import FloatArray

#: normal deviates at which a fault's spread is solved
_COARSE = np.linspace(-8.0, 8.0, 97)


@dataclass(frozen=True, eq=False)
class Outcome:
    """What a plant altered by a fault shows: flows (m³/s) and heads (m)."""

    outlet: FloatArray
    pit: FloatArray
    head: FloatArray
    shutoff: FloatArray
    code: Any  # of the operating point


def outcome(plant: Plant, fault: Fault, size: FloatArray) -> Outcome:
    """Recompute the plant with a fault of some size, by the plain solver."""
    pump, line, leak = fault.alter(plant, size)
    shape = np.shape(size)
    if not np.any(leak):
        op = solve_arrays(pump, line)
        if not np.all(op.ok):
            # a pump that was seen to run: what is reckoned with, and the head with it
            op = op.at_flow(op.si.reckoned)
        found = (op.si.flow, op.si.head, op.si.shutoff)
        flow, head, shutoff = (np.broadcast_to(x, shape) for x in found)
        return Outcome(flow, flow, head, shutoff, op.si.code)
    # a leak: what the pump gives up at each head never reaches the line
    flows = beside_leak(pump, line, leak)
    line_head = system.head(flows, line.aligned(np.ndim(flows)))
    made = np.full(shape, float(solve_arrays(pump, line).si.shutoff))
    return Outcome(flows, flows + leak, line_head, made, np.full(shape, OK, dtype=np.int8))


def beside_leak(pump: PumpCurve, line: system.LineArrays, leak: FloatArray) -> FloatArray:
    """Flow at the outlet with a steady leak at the pump; 0 where the leak takes it all."""
    lost = np.ravel(leak)
    plain = line.aligned(1)
    first, last = (float(pump.si.flow[i] * pump.si.flow_factor) for i in (0, -1))

    def gap(flow: FloatArray, gone: FloatArray) -> FloatArray:
        # before its first point the pump makes no less head, unless it droops
        made = pump.si.head_at(np.maximum(flow + gone, first))
        return np.asarray(made - system.head(flow, plain))

    # a hair inside the curve's last point, past which rounding would fall off it
    most = np.maximum(last * (1 - 1e-12) - lost, 0.0)
    none = (most <= 0) | ~(gap(np.zeros_like(lost), lost) > 0)
    flow = np.where(none, 0.0, most)
    inside = np.flatnonzero(~none & (gap(most, lost) < 0))
    if inside.size:
        ends = (np.zeros(inside.size), most[inside])
        flow[inside] = elementwise.find_root(gap, ends, args=(lost[inside],)).x
    return flow.reshape(np.shape(leak))


def size_needed(plant: Plant, fault: Fault) -> float:
    """Size (SI) at which this fault alone gives the measured flow; NaN where none does."""

    @cache  # the ends are asked for twice
    def gap(size: float) -> float:
        pump, line, leak = fault.alter(plant, np.asarray(size))
        made = float(pump.si.head_at(np.asarray(plant.flow + float(leak))))
        # NaN: the altered pump has run out before the measured flow
        asked = plant.asked if line is plant.arrays else system.head(np.asarray(plant.flow), line)
        return (0.0 if np.isnan(made) else made) - float(asked)

    low, high = fault.ends(plant)
    first, last = gap(low), gap(high)
    if not np.isfinite(first + last) or first * last > 0:
        return np.nan
    return float(brentq(gap, low, high, xtol=1e-10, rtol=1e-10))


def outcomes(plant: Plant, fault: Fault, size: float) -> tuple[Outcome, FloatArray]:
    """What a plant with a fault of one size shows, and its flows over the usual sizes."""
    usual = fault.spread(plant, _COARSE)
    shown = outcome(plant, fault, np.append(size, usual))
    return Outcome(*(np.asarray(part)[0] for part in vars(shown).values())), shown.outlet[1:]


def likelihood(plant: Plant, flow: FloatArray, sigma: float) -> float:
    """Log of the chance density of the measured flow, given those over a fault's usual sizes.

    The mean, over the spread of sizes, of the normal density about the recomputed flow
    (times sigma √2π). The flow between the solved sizes is taken as linear.
    """
    low, high = _COARSE[:-1], _COARSE[1:]
    slope = np.diff(flow) / (high - low) / sigma
    off = (flow[:-1] - plant.flow) / sigma - slope * low
    # over a stretch (off + slope z)² + z² is a parabola, and its integral a normal distribution's
    sharp = np.hypot(1.0, slope)
    ends = sharp * (np.array([low, high]) + off * slope / sharp**2)
    # mirrored to the left of the middle, where the difference of two tails keeps its digits
    less, more = log_ndtr(np.where(ends[0] > 0, -ends[::-1], ends))
    with np.errstate(divide="ignore"):
        share = more + np.log1p(-np.exp(less - more))
    return float(logsumexp(share - 0.5 * (off / sharp) ** 2 - np.log(sharp)))
