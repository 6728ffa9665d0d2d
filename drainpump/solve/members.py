"""What each pump of a bank does at the bank's operating point."""

from __future__ import annotations

from typing import Any

import numpy as np

from drainpump.parts.line.line import DischargeLine
from drainpump.parts.pump.bank import Pump, PumpBank
from drainpump.solve.banks import FlatParallel
from drainpump.solve.flat_curve import FlatCurve, Share
from drainpump.solve.grid import Grid, make_grid
from drainpump.states import BELOW, BEYOND
from drainpump.units import FloatArray


def divide(grid: Grid, flow: FloatArray) -> tuple[Share, ...]:
    """Divide the flow of each pump or bank among its pumps, (pumps of the bank, N) each."""
    flows = flow.reshape(len(grid.pumps), -1)
    return tuple(
        flat.shares(grid.line.curve, grid.level, q)
        for flat, q in zip(grid.flats, flows, strict=True)
    )


def padded(grid: Grid, arrays: list[Any], fill: Any) -> Any:
    """Stack (pumps of the bank, N) arrays on one axis behind the answer's own."""
    most = max(len(a) for a in arrays)
    rows = [
        np.concatenate([a, np.full((most - len(a), *a.shape[1:]), fill, a.dtype)]) for a in arrays
    ]
    return np.stack(rows).swapaxes(1, 2).reshape(*grid.shape, most)


def range_share(grid: Grid, shares: tuple[Share, ...]) -> list[FloatArray]:
    """Largest share of its last point's flow at which a pump runs, (pumps, N)."""
    return [flat.range_share(share) for flat, share in zip(grid.flats, shares, strict=True)]


def watts(grid: Grid, shares: tuple[Share, ...]) -> list[FloatArray]:
    """Electrical power of each pump or bank, (pumps, N); NaN where not known."""
    return [_watts(grid, p, share.flow) for p, share in zip(grid.pumps, shares, strict=True)]


def _watts(grid: Grid, pump: Pump, flows: FloatArray) -> FloatArray:
    """Power of a pump, or of a bank whose pumps each have a row of ``flows``."""
    if isinstance(pump, PumpBank):
        rows = zip(pump.pumps, flows, strict=True)
        # a bank within the bank is in series: each of its pumps carries the whole
        each = [_watts(grid, one, np.broadcast_to(q, (_members(one), q.size))) for one, q in rows]
        return np.asarray(np.sum(each, axis=0))
    if pump.si.power_curve is None:
        return np.full(flows.shape[1:], np.nan)
    power = pump.si.power_curve.read(flows[0] / grid.spread(pump.si.flow_factor))
    return np.asarray(grid.spread(pump.si.power_factor) * power)


def _members(pump: Pump) -> int:
    return len(pump.pumps) if isinstance(pump, PumpBank) else 1


def points_along(
    pump: Pump, line: DischargeLine, count: int = 201
) -> tuple[FloatArray, FloatArray]:
    """Flow (m³/s) and head (m) of a pump or bank over all its data, to be drawn.

    The head is that at the start of ``line``, counted from the pump-off level; in a bank
    it is what is left behind the risers, and the curve ends where nothing is left, or the
    first pump's data end.
    """
    grid = make_grid(pump, line, np.zeros(()))
    flat = grid.flat(pump)
    if isinstance(flat, FlatCurve):
        curve = flat.curve.one(int(flat.number[0]))
        flow = np.linspace(curve.flow[0], curve.flow[-1], count)
        return flat.flow_factor[0] * flow, flat.head_factor[0] * curve.read(flow)
    assert isinstance(flat, FlatParallel)
    head = np.linspace(float(flat.top().max()), 0.0, 4 * count)
    many = flat.take(np.zeros(head.size, dtype=np.intp))
    each, code, _ = many.flows(head, np.zeros(head.size))
    inside = ~np.isin(code, (BEYOND, BELOW)).any(axis=0)
    flow, head = each.sum(axis=0)[inside], head[inside]
    even = np.linspace(flow[0], flow[-1], count)
    return even, np.interp(even, flow, head) + float(grid.starts(pump)[0])
