"""Pumps, lines and levels as flat arrays: what the solver works on."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, TypeAlias

import numpy as np
import numpy.typing as npt

from drainpump.errors import InputError, wrong
from drainpump.parts.line import profile
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.line.run import Run
from drainpump.parts.pump.bank import Pump, PumpBank
from drainpump.parts.pump.curve import PumpCurve
from drainpump.physics.system import LineArrays, beside
from drainpump.results import one_shape
from drainpump.solve.banks import FlatParallel
from drainpump.solve.flat_curve import FlatCurve, FlatPump, FlatSeries
from drainpump.units import FloatArray
from drainpump.work_budget import spend

#: which of the flat elements
Where: TypeAlias = slice | npt.NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class Grid:
    """What was asked: pumps, lines, levels; flat SI arrays and the answer's shape."""

    pumps: tuple[Pump, ...]
    lines: tuple[DischargeLine, ...]  # as given; none where arrays were
    count: int  # of lines
    listed: tuple[bool, bool]  # whether pumps and lines came as lists
    inner: tuple[int, ...]  # shape of the quantities
    line: LineArrays  # run fields (R, N), N = lines × inner
    level: FloatArray  # (N,)
    runs: tuple[int, ...]  # of each line
    by_level: bool = False  # whether the last inner axis is one of levels
    risers: tuple[LineArrays, ...] = ()  # in place of a bank's own
    where: Where | None = None  # which of the elements the flat arrays hold, if not all

    @property
    def shape(self) -> tuple[int, ...]:
        """Shape of the answer: a list adds an axis, a single object none."""
        lead = [n for n, on in zip((len(self.pumps), self.count), self.listed, strict=True) if on]
        if self.where is not None:
            return (*lead[: self.listed[0]], *self.level.shape)
        return (*lead, *self.inner)

    def axes(self) -> list[tuple[str, list[str]]]:
        """Names along the axes that lists added, for the results' frames."""
        lines = [x.name for x in self.lines] or [str(i + 1) for i in range(self.count)]
        named = [("pump", [p.name for p in self.pumps]), ("line", lines)]
        return [n for n, on in zip(named, self.listed, strict=True) if on]

    def part(self, pumps: slice, lines: slice) -> Grid:
        """Some of the pumps on some of the lines."""
        size = self.level.size // self.count
        some = slice(lines.start * size, lines.stop * size)
        return replace(
            self,
            pumps=self.pumps[pumps],
            lines=self.lines[lines],
            count=lines.stop - lines.start,
            line=self.line.take(some),
            level=self.level[some],
        )

    def at_levels(self, levels: FloatArray) -> Grid:
        """The same grid with an axis of levels (m above off) behind the inner axes.

        ``levels`` has shape (*inner or fewer, n); the answer's shape gains the n. Of some
        elements alone they have (N or 1, n), and the answer N n.
        """
        count = levels.shape[-1]
        spend("levels", pumps=len(self.pumps), elements=self.level.size, levels=count)
        line = self.line.map(lambda _, a: np.repeat(a, count, axis=-1))
        if self.where is not None:
            level = np.broadcast_to(levels, (self.level.size, count)).reshape(-1)
            return replace(self, line=line, level=level, where=np.repeat(self.numbers, count))
        flat = np.broadcast_to(levels, (*self.inner, count)).reshape(-1)
        return replace(
            self,
            inner=(*self.inner, count),
            line=line,
            level=np.tile(flat, self.count),
            by_level=True,
        )

    def some(self, where: Where, runs: int | None = None) -> Grid:
        """The elements alone that a slice or an index of the flat ones names.

        ``runs`` drops what pads the lines beyond so many.
        """
        line = self.line.take(where).of_runs(runs)
        risers = tuple(riser.take(where) for riser in self.risers)
        return replace(self, line=line, level=self.level[where], risers=risers, where=where)

    def spread(self, quantity: Any) -> Any:
        """A quantity of the inner shape or less, flat over the N elements."""
        if not np.ndim(quantity):
            return np.broadcast_to(quantity, self.level.shape)
        # levels are the last inner axis, on which no part depends
        behind = quantity[..., None] if self.by_level else quantity
        own = np.broadcast_to(behind, self.inner).reshape(-1)
        if self.where is None:
            return np.tile(own, self.count)
        return own[self.where if self.count == 1 else self.numbers % own.size]

    @cached_property
    def numbers(self) -> npt.NDArray[np.intp]:
        """Which of all elements the flat arrays hold."""
        where = slice(0, self.level.size) if self.where is None else self.where
        return np.arange(where.start, where.stop) if isinstance(where, slice) else where

    @cached_property
    def flats(self) -> list[FlatPump]:
        """The pumps and banks as the solver takes them."""
        return [self.flat(pump) for pump in self.pumps]

    def flat(self, pump: Pump) -> FlatPump:
        """A pump or bank as the solver takes it, over the N elements."""
        if isinstance(pump, PumpCurve):
            si = pump.si
            return FlatCurve(
                si.curve, *map(self.spread, (si.head_factor, si.flow_factor, si.number))
            )
        members: Any = [self.flat(member) for member in pump.pumps]
        if len(members) == 1 and pump.risers[0] is None:
            return members[0]  # type: ignore[no-any-return]
        if pump.in_series:
            return FlatSeries.of(members)
        return FlatParallel.of(members, self.risers or tuple(map(self.riser, pump.risers)))

    def riser(self, run: Run | None) -> LineArrays:
        """A pump's own way to the junction, with the water, law and siphon of the shared line.

        A pump without a riser stands at the junction: a riser of no length.
        """
        none = self.line.no_pipe()
        if run is None:
            return none
        own = {name: self.spread(a)[None] for name, a in run.si.columns.items()}
        return none.map(own.get)

    @property
    def returning(self) -> FloatArray:
        """Water (m³) that runs back to the pit from each line when the pump stops, (N,)."""
        return np.where(self.line.holds, 0.0, profile.returning(self.line))

    def starts(self, pump: Pump) -> FloatArray:
        """Height (m) at which the line begins for a pump: a bank's risers come before it."""
        rise = pump.si.rise if isinstance(pump, PumpBank) else np.zeros(())
        return np.asarray(self.spread(rise))


def make_grid(pump: Any, line: Any, level: FloatArray) -> Grid:
    """Gather pumps, lines and levels (m above off) into flat arrays.

    Lines are parts or, where one is changed in a way that nobody typed, plain arrays.
    """
    pumps, many_pumps = listed("pump", pump, PumpCurve, PumpBank)
    lines, many_lines = listed("line", line, DischargeLine, LineArrays)
    arrays = [x if isinstance(x, LineArrays) else x.si.arrays for x in lines]
    parts = tuple(x for x in lines if isinstance(x, DischargeLine))
    banks = [p for p in pumps if isinstance(p, PumpBank)]
    curves = [c for p in pumps for c in p.si.curves]
    own = [f for c in curves for f in (c.si.head_factor, c.si.flow_factor)]
    own += [c.si.number for c in curves if c.si.number.ndim]
    own += [a for b in banks for run in b.risers if run for a in run.si.columns.values()]
    inner = one_shape("operating_point", level, *own, *(np.zeros(x.shape) for x in arrays))
    # unlike lines stack: the shorter ones are padded
    runs = tuple(len(x.end) for x in arrays)
    elements, longest = math.prod(inner), max(runs)
    spend("operating_point", pumps=len(pumps), lines=len(lines), elements=elements, runs=longest)
    flat = beside([x.flat(inner, longest) for x in arrays])
    levels = np.broadcast_to(level, inner).reshape(-1)
    if len(lines) > 1:
        levels = np.tile(levels, len(lines))
    return Grid(pumps, parts, len(lines), (many_pumps, many_lines), inner, flat, levels, runs)


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
            mend = f"make one with {kind.__name__}(...)"
            if kind is PumpCurve and isinstance(item, str):
                mend += ", or read a file of curves with read_curves(...)"
            raise wrong(where, item, f"must be a {kind.__name__}", mend)
    if not items:
        raise wrong(name, [], f"must hold at least one {kind.__name__}", "the list is empty")
    return items, many
