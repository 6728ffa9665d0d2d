"""The pump's flow at the levels between the floats, as counted on and as reckoned with."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from drainpump import states
from drainpump.parts.pit import Pit
from drainpump.solve.grid import Grid
from drainpump.solve.operating_point import solve
from drainpump.units import FloatArray

__all__ = ["Flows", "Nodes", "flows_at", "levels_of"]

#: levels at which the pump-down is cut, as shares of the drawdown: closer together towards
#: the off level, where the flow is least and an inflow near to it holds the pump up longest
_SHARES = np.linspace(0.0, 1.0, 33) ** 2


@dataclass(frozen=True, eq=False)
class Nodes:
    """Levels above off (..., n), from off to on, and the water between them (..., n - 1)."""

    levels: FloatArray
    volumes: FloatArray


def levels_of(pit: Pit, shape: tuple[int, ...]) -> Nodes:
    """Cut the drawdown at `_SHARES` and at the top of the pump body."""
    off, on = (np.broadcast_to(m.si, shape) for m in (pit._off, pit._on))
    drawdown = on - off
    # levels on axis 0, so that the pit's own arrays broadcast behind them
    cuts = drawdown * _SHARES.reshape(-1, *[1] * len(shape))
    bend = np.broadcast_to(np.clip(pit._body_top - off, 0.0, drawdown), shape)
    z = np.sort(np.concatenate([cuts, bend[None]]), axis=0)
    volumes = pit._volume_between(off + z[:-1], off + z[1:])
    return Nodes(np.moveaxis(z, 0, -1), np.moveaxis(volumes, 0, -1))


class Flows(NamedTuple):
    """Pump flow at each level and its status code, (..., n), from off to on."""

    reckoned: FloatArray  # what times and starts are worked out of
    counted: FloatArray  # what the pit can rely on
    code: Any

    @property
    def status(self) -> Any:
        """The first from off upwards that is not ok."""
        return states.NAMES[states.first_failed(self.code)]

    @property
    def more(self) -> Any:
        return states.may_be_more(self.code).any(axis=-1)

    @property
    def less(self) -> Any:
        return states.may_be_less(self.code).any(axis=-1)

    def in_doubt(self, inflow: FloatArray) -> Any:
        """Where an inflow lies between what is counted on and what is reckoned with."""
        q = inflow[..., None]
        return ((q >= self.counted) & (q < self.reckoned)).any(axis=-1) & (inflow > 0)


def flows_at(grid: Grid, nodes: Nodes) -> Flows:
    op = solve(grid.at_levels(nodes.levels))
    shape = (*grid.shape, nodes.levels.shape[-1])
    return Flows(*(a.reshape(shape) for a in (op.si.reckoned, op.si.counted, op.si.code)))
