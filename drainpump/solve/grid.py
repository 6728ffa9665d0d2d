"""Pumps, lines and levels as flat arrays: what the solver works on."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import numpy as np

from drainpump.errors import InputError, wrong
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.pump.bank import Pump, PumpBank
from drainpump.parts.pump.curve import PumpCurve
from drainpump.physics import system
from drainpump.results import one_shape
from drainpump.solve.banks import FlatCurve, FlatParallel, FlatPump, FlatSeries
from drainpump.solve.crossing import Curve
from drainpump.units import FloatArray

__all__ = ["Grid", "curve_of", "listed", "make_grid"]


@dataclass(frozen=True, eq=False)
class Grid:
    """What was asked: pumps, lines, levels; flat SI arrays and the answer's shape."""

    pumps: tuple[Pump, ...]
    lines: tuple[DischargeLine, ...]
    listed: tuple[bool, bool]  # whether pumps and lines came as lists
    inner: tuple[int, ...]  # shape of the quantities
    line: system.LineArrays  # run fields (R, N), N = lines × inner
    level: FloatArray  # (N,)
    by_level: bool = False  # whether the last inner axis is one of levels

    @property
    def shape(self) -> tuple[int, ...]:
        """Shape of the answer: a list adds an axis, a single object none."""
        lead = [
            n for n, on in zip((len(self.pumps), len(self.lines)), self.listed, strict=True) if on
        ]
        return (*lead, *self.inner)

    def axes(self) -> list[tuple[str, list[str]]]:
        """Names along the axes that lists added, for the results' frames."""
        named = [("pump", [p.name for p in self.pumps]), ("line", [x.name for x in self.lines])]
        return [n for n, on in zip(named, self.listed, strict=True) if on]

    def at_levels(self, levels: FloatArray) -> Grid:
        """The same grid with an axis of levels (m above off) behind the inner axes.

        ``levels`` has shape (*inner or fewer, n); the answer's shape gains the n.
        """
        count = levels.shape[-1]
        line = self.line.map(lambda _, a: np.repeat(a, count, axis=-1))
        flat = np.broadcast_to(levels, (*self.inner, count)).reshape(-1)
        return replace(
            self,
            inner=(*self.inner, count),
            line=line,
            level=np.tile(flat, len(self.lines)),
            by_level=True,
        )

    def factors(self, pump: PumpCurve) -> tuple[FloatArray, FloatArray]:
        """The pump's head and flow factors, flat over the N elements."""
        return self.spread(pump._head_factor), self.spread(pump._flow_factor)

    def spread(self, quantity: FloatArray) -> FloatArray:
        """A quantity of the inner shape or less, flat over the N elements."""
        behind = quantity[..., None] if self.by_level and quantity.ndim else quantity
        return np.broadcast_to(behind, (len(self.lines), *self.inner)).ravel()

    def flat(self, pump: Pump, part: slice) -> FlatPump:
        """A pump or bank as the solver takes it, over the elements of ``part``."""
        if isinstance(pump, PumpCurve):
            head_factor, flow_factor = (f[part] for f in self.factors(pump))
            return FlatCurve(curve_of(pump), head_factor, flow_factor)
        members = tuple(self.flat(member, part) for member in pump.pumps)
        if len(members) == 1 and pump.risers[0] is None:
            return members[0]
        if pump.in_series:
            return FlatSeries(members)  # type: ignore[arg-type]  # its members are curves
        return FlatParallel(members, self.risers(pump, part))

    def risers(self, bank: PumpBank, part: slice) -> tuple[system.LineArrays, ...]:
        """Each pump's own way to the junction, over the elements of ``part``."""
        # levels are the last inner axis, on which no pipe depends
        inner, count = self.inner, 1
        if self.by_level:
            inner, count = self.inner[:-1], self.inner[-1]
        by_line = [bank._riser_lines(line) for line in self.lines]
        return tuple(
            _stack(tuple(lines), inner).map(
                lambda _, a, n=count: np.repeat(a, n, axis=-1)[..., part]
            )
            for lines in zip(*by_line, strict=True)
        )


def make_grid(pump: Any, line: Any, level: FloatArray) -> Grid:
    """Gather pumps, lines and levels (m above off) into flat arrays."""
    pumps, many_pumps = listed("pump", pump, PumpCurve, PumpBank)
    lines, many_lines = listed("line", line, DischargeLine)
    curves = [c for p in pumps for c in (p._curves if isinstance(p, PumpBank) else (p,))]
    factors = [f for c in curves for f in (c._head_factor, c._flow_factor)]
    own = [x for p in pumps if isinstance(p, PumpBank) for x in p._riser_lines(lines[0])]
    pipes = [np.zeros(x._arrays.shape) for x in (*lines, *own)]
    inner = one_shape("operating_point", level, *factors, *pipes)
    flat = _stack(lines, inner)
    levels = np.tile(np.broadcast_to(level, inner).ravel(), len(lines))
    return Grid(pumps, lines, (many_pumps, many_lines), inner, flat, levels)


def listed(name: str, given: Any, kind: type, *also: type) -> tuple[tuple[Any, ...], bool]:
    """Return one thing or a sequence of them as a tuple, all of a kind, and whether it was many."""
    many = isinstance(given, Sequence) and not isinstance(given, str)
    items = tuple(given) if many else (given,)
    for i, item in enumerate(items):
        if not isinstance(item, (kind, *also)):
            where = f"{name}[{i}]" if many else name
            swapped = isinstance(item, PumpCurve | PumpBank | DischargeLine)
            if name in ("pump", "line") and swapped:
                raise InputError(
                    f"{where}: is a {type(item).__name__}, must be a {kind.__name__}; pump and "
                    "line have changed places, the pump comes first."
                )
            raise wrong(where, item, f"must be a {kind.__name__}", _mend(item, kind))
    if not items:
        raise wrong(name, [], f"must hold at least one {kind.__name__}", "the list is empty")
    return items, many


def _mend(item: Any, kind: type) -> str:
    make = f"make one with {kind.__name__}(...)"
    if kind is PumpCurve and isinstance(item, str):
        return f"{make}, or read a file of curves with read_curves(...)"
    return make


def _stack(lines: tuple[DischargeLine, ...], inner: tuple[int, ...]) -> system.LineArrays:
    """Stack unlike lines: shorter ones are padded with runs of no length at their end."""
    runs = max(len(line.runs) for line in lines)
    flat: list[system.LineArrays]
    if math.prod(inner) <= _SMALL:  # a slider asks the same small line again and again
        flat = [
            line.worked_out(("flat", inner, runs), partial(_flat, line, inner, runs))
            for line in lines
        ]
    else:
        flat = [_flat(line, inner, runs) for line in lines]
    if len(flat) == 1:
        return flat[0]
    return flat[0].map(lambda name, _: np.concatenate([getattr(f, name) for f in flat], axis=-1))


def _flat(line: DischargeLine, inner: tuple[int, ...], runs: int) -> system.LineArrays:
    """One line's arrays, flat over the inner axes and padded to so many runs."""

    def spread(name: str, array: Any) -> FloatArray:
        lead = np.shape(array)[:1] if name in system.RUN_FIELDS else ()
        wide = np.broadcast_to(array, (*lead, *inner)).reshape(*lead, -1)
        if not lead or lead[0] == runs:
            return wide
        blank = name in ("length", "fitting_length", "k")
        tail = np.zeros_like(wide[-1:]) if blank else wide[-1:]
        return np.concatenate([wide, np.repeat(tail, runs - lead[0], axis=0)])

    return line._arrays.aligned(len(inner)).map(spread)


#: up to so many elements a line's flat arrays are kept with it
_SMALL = 16


def curve_of(pump: PumpCurve) -> Curve:
    """A pump's own points as the solver takes them."""
    made: Curve = pump.worked_out(Curve, lambda: Curve(pump._flow, pump._head, pump._pchip))
    return made
