"""What each pump of a bank does at the bank's operating point."""

from __future__ import annotations

from typing import Any

import numpy as np

from drainpump.parts.line.line import DischargeLine
from drainpump.parts.pump import curve_points as points
from drainpump.parts.pump.bank import Pump, PumpBank
from drainpump.physics.system import SystemCurve
from drainpump.solve.banks import FlatCurve, FlatParallel, FlatSeries, Share
from drainpump.solve.grid import Grid, make_grid
from drainpump.states import BELOW, BEYOND
from drainpump.units import FloatArray

__all__ = ["divide", "padded", "range_share", "sampled", "watts"]

_ALL = slice(None)


def divide(grid: Grid, flow: FloatArray) -> tuple[Share, ...]:
    """Divide the flow of each pump or bank among its pumps, (pumps of the bank, N) each."""
    line = SystemCurve(grid.line)
    flows = flow.reshape(len(grid.pumps), -1)
    return tuple(
        grid.flat(pump, _ALL).shares(line, grid.level, q)
        for pump, q in zip(grid.pumps, flows, strict=True)
    )


def padded(grid: Grid, arrays: list[Any], fill: Any) -> Any:
    """Stack (pumps of the bank, N) arrays on one axis behind the answer's own."""
    most = max(len(a) for a in arrays)
    rows = [
        np.concatenate([a, np.full((most - len(a), *a.shape[1:]), fill, a.dtype)]) for a in arrays
    ]
    return np.stack(rows).swapaxes(1, 2).reshape(*grid.shape, most)


def range_share(grid: Grid, shares: tuple[Share, ...]) -> FloatArray:
    """Largest share of its last point's flow at which a pump runs, in the answer's shape."""
    rows = [
        grid.flat(pump, _ALL).range_share(share)
        for pump, share in zip(grid.pumps, shares, strict=True)
    ]
    return np.reshape(rows, grid.shape)


def watts(grid: Grid, shares: tuple[Share, ...]) -> FloatArray:
    """Electrical power of each pump or bank, in the answer's shape; NaN where not known."""
    wide = (len(grid.lines), *grid.inner)
    rows = []
    for pump, share in zip(grid.pumps, shares, strict=True):
        each = pump.pumps if isinstance(pump, PumpBank) else (pump,)
        flows = (q.reshape(wide) for q in share.flow)
        rows.append(np.sum([_watts(one, q) for one, q in zip(each, flows, strict=True)], axis=0))
    return np.reshape(rows, grid.shape)


def _watts(pump: Pump, flow: FloatArray) -> FloatArray:
    if isinstance(pump, PumpBank):
        return np.asarray(np.sum([_watts(one, flow) for one in pump.pumps], axis=0))
    power = pump._power_at(flow)
    return np.full(flow.shape, np.nan) if power is None else power


def sampled(pump: Pump, line: DischargeLine, count: int = 201) -> tuple[FloatArray, FloatArray]:
    """Flow (m³/s) and head (m) of a pump or bank over all its data, to be drawn.

    The head is that at the start of ``line``, counted from the pump-off level; in a bank
    it is what is left behind the risers, and the curve ends where nothing is left, or the
    first pump's data end.
    """
    flat = make_grid(pump, line, np.zeros(())).flat(pump, _ALL)
    if isinstance(flat, FlatCurve):
        flat = FlatSeries((flat,))
    if isinstance(flat, FlatSeries):
        curve, _ = flat._groups[0]
        flow = np.linspace(curve.flow[0], curve.flow[-1], count)
        return flow, points.at(flow, curve.flow, curve.cubic)
    assert isinstance(flat, FlatParallel)
    top = float(flat.top().max())
    head = np.linspace(top, 0.0, 4 * count)
    many = flat.take(np.zeros(head.size, dtype=np.intp))
    each, code = many._flows(head, np.zeros(head.size))
    inside = ~np.isin(code, (BEYOND, BELOW)).any(axis=0)
    flow, head = each.sum(axis=0)[inside], head[inside]
    rise = float(np.ravel(pump._rise)[0]) if isinstance(pump, PumpBank) else 0.0
    even = np.linspace(flow[0], flow[-1], count)
    return even, np.interp(even, flow, head) + rise
