"""The system curve: the head a discharge line asks of its pump at a given flow.

Plain arrays in SI, no site objects. A line is R runs in order from the pump; every
array has the runs on axis 0 and whatever axes the inputs had behind it.

At flow Q the hydraulic grade the pump must reach at each run's end j is

    h_j(Q) = z_j + sum over runs 1..j of (S_i (L_i + Le_i) + K_i V_i² / 2g)

and the last end adds the outlet's loss. Air enters at a vented high point, so the
line asks for the largest of 0 and all h_j, a high point's with the velocity head V_j² / 2g
that is lost where the water leaves the full pipe; a siphoning line asks for the last alone.
The energy equation is that of any fluid-mechanics text, e.g. Munson, Young & Okiishi,
*Fundamentals of Fluid Mechanics*, ch. 8; that a drop past a vented high point is not
credited is common practice, no source.
"""

from __future__ import annotations

import math
from copy import copy
from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from drainpump.physics import laws
from drainpump.physics.constants import GRAVITY
from drainpump.units import FloatArray

#: fields that have the runs on axis 0
RUN_FIELDS = ("diameter", "length", "fitting_length", "roughness", "hazen_c", "k", "end")
#: what a run that is not there has none of
_OF_LENGTH = ("length", "fitting_length", "k")
#: what the end of a line charges
_OF_OUTLET = ("exit_k", "lid", "orifice", "tail")
#: height (m) below which two elevations are one: rises summed in feet differ by rounding
_LEVEL = 1e-9
#: up to so many elements flat arrays are kept with those they were made of
_SMALL = 16


@dataclass(frozen=True, eq=False)
class LineArrays:
    """A discharge line as numbers (SI); R runs on axis 0 of the first group.

    This is what the solver works on. A line hands its own (``line.si.arrays``); one that is
    longer, narrower or higher than it was typed is these arrays changed, and never a part.
    ``darcy``, ``siphon`` and ``holds`` are boolean arrays, so that lists of unlike lines stack.
    """

    diameter: FloatArray  # (R, ...) m, true bore
    length: FloatArray  # (R, ...) m
    fitting_length: FloatArray  # (R, ...) m, equivalent length of fittings
    roughness: FloatArray  # (R, ...) m
    hazen_c: FloatArray  # (R, ...)
    k: FloatArray  # (R, ...) sum of loss coefficients on the run's own velocity head
    end: FloatArray  # (R, ...) m, elevation of the run's end above the pump-off level
    exit_k: FloatArray  # (...) on the last run's velocity head
    high_point_k: FloatArray  # (...) on that of a run which ends at a high point
    lid: FloatArray  # (...) m, least head that holds the outlet open
    orifice: (
        FloatArray  # (...) s²/m⁵, outlet loss per flow squared; the larger of it and lid counts
    )
    tail: FloatArray  # (...) m, water standing above the outlet's end
    viscosity: FloatArray  # (...) m²/s
    darcy: npt.NDArray[np.bool_]  # (...) Darcy-Weisbach where True, else Hazen-Williams
    siphon: npt.NDArray[np.bool_]  # (...)
    holds: npt.NDArray[np.bool_]  # (...) a check valve holds the water when the pump stops

    @cached_property
    def shape(self) -> tuple[int, ...]:
        """Shape behind the runs' axis that all fields broadcast to."""
        shapes = (np.shape(v)[1:] if n in RUN_FIELDS else np.shape(v) for n, v in self._items())
        return np.broadcast_shapes(*shapes)

    @cached_property
    def exits(self) -> FloatArray:
        """Coefficient of the velocity head lost where water leaves a full pipe, (R, ...)."""
        exits = np.where(high_points(self.end), self.high_point_k, 0.0) + 0.0 * self.exit_k
        exits[-1] = self.exit_k
        return exits

    @property
    def area(self) -> FloatArray:
        """Bore area of each run (R, ...), m²."""
        return 0.25 * np.pi * self.diameter**2

    @cached_property
    def curve(self) -> SystemCurve:
        """These lines compiled for a solver; only where the arrays are flat."""
        return SystemCurve(self)

    def map(self, change: Any) -> LineArrays:
        """Return a copy with ``change(name, array)`` applied to every field."""
        return replace(self, **{name: change(name, value) for name, value in self._items()})

    def take(self, index: Any) -> LineArrays:
        """Return the lines that a numpy index names on the last axis."""
        return self.map(lambda _, a: a[..., index])

    def of_runs(self, runs: int | None) -> LineArrays:
        """Return the first runs alone."""
        return self.map(lambda name, a: a[:runs] if name in RUN_FIELDS else a)

    def aligned(self, ndim: int) -> LineArrays:
        """Return a copy whose run fields have ``ndim`` axes behind the runs' axis.

        New axes go between the runs and the rest, so that a flow of ``ndim`` axes
        broadcasts with the trailing axes and never with the runs.
        """

        def change(name: str, value: Any) -> Any:
            if name not in RUN_FIELDS:
                return value
            runs, *rest = np.shape(value)
            return np.reshape(value, (runs, *[1] * (ndim - len(rest)), *rest))

        return self.map(change)

    def flat(self, inner: tuple[int, ...], runs: int) -> LineArrays:
        """Return the lines over the axes ``inner`` laid flat, padded to so many runs.

        A run that pads has no length, at the last one's end: it asks nothing.
        """
        # a slider asks the same small line again and again
        kept = self._flats if math.prod(inner) <= _SMALL else {}
        if (inner, runs) not in kept:
            wide = self.aligned(len(inner))
            kept[inner, runs] = wide.map(lambda name, a: _spread(name, a, inner, runs))
        return kept[inner, runs]

    @cached_property
    def _flats(self) -> dict[tuple[tuple[int, ...], int], LineArrays]:
        return {}

    def without(self, *names: str) -> LineArrays:
        """Return a copy that has none of the named fields."""
        return self.map(lambda name, a: np.zeros_like(a) if name in names else a)

    def open_ended(self) -> LineArrays:
        """Return a copy whose outlet asks nothing: the water runs on."""
        return self.without(*_OF_OUTLET)

    def no_pipe(self) -> LineArrays:
        """Return one run of no length in the first run's bore, with this line's water and law."""
        return self.of_runs(1).open_ended().without(*_OF_LENGTH, "end")

    def _items(self) -> list[tuple[str, Any]]:
        return [(f.name, getattr(self, f.name)) for f in fields(self)]


def _spread(name: str, array: Any, inner: tuple[int, ...], runs: int) -> FloatArray:
    lead = np.shape(array)[:1] if name in RUN_FIELDS else ()
    wide = np.broadcast_to(array, (*lead, *inner)).reshape(*lead, -1)
    if not lead or lead[0] == runs:
        return wide
    tail = np.zeros_like(wide[-1:]) if name in _OF_LENGTH else wide[-1:]
    return np.concatenate([wide, np.repeat(tail, runs - lead[0], axis=0)])


def beside(lines: list[LineArrays]) -> LineArrays:
    """Join flat lines of equally many runs on their last axis."""
    if len(lines) == 1:
        return lines[0]
    return lines[0].map(lambda name, _: np.concatenate([getattr(x, name) for x in lines], axis=-1))


class HeadParts(NamedTuple):
    """What the head at the governing point is made of; the four parts sum to it."""

    static: FloatArray
    pipe: FloatArray
    fittings: FloatArray
    outlet: FloatArray
    point: npt.NDArray[np.intp]  # 0 the start, j the end of run j

    @property
    def total(self) -> FloatArray:
        return self.static + self.pipe + self.fittings + self.outlet


def head(flow: FloatArray, line: LineArrays) -> FloatArray:
    """Return the head (m) the line asks at ``flow`` (m³/s, 0 or more)."""
    return head_parts(flow, line).total


def head_parts(flow: FloatArray, line: LineArrays) -> HeadParts:
    """Return the parts of the head at ``flow`` at the point that governs.

    Parameters
    ----------
    flow : ndarray
        Flow, m³/s, >= 0; broadcasts with the line's trailing axes.
    line : LineArrays
        The line.

    Returns
    -------
    HeadParts
        Arrays of the broadcast shape, m.
    """
    velocity = flow / line.area
    slope = _slopes(velocity, line)
    pipe = np.cumsum(slope * line.length, axis=0)
    local = np.cumsum(slope * line.fitting_length + line.k * velocity**2 / (2 * GRAVITY), axis=0)
    outlet = line.exits * velocity**2 / (2 * GRAVITY) + np.zeros_like(pipe)
    outlet[-1] += np.maximum(line.lid, line.orifice * flow**2)
    end = line.end + outlet * 0.0
    end[-1] += line.tail
    point = _governing(end + pipe + local + outlet, line.siphon)
    static, pipe, local, outlet = (_there(point, part) for part in (end, pipe, local, outlet))
    return HeadParts(static, pipe, local, outlet, point)


def start_head(line: LineArrays) -> FloatArray:
    """The head (m) a pump must exceed at no flow: a siphon too starts over its high point."""
    vented = replace(line, siphon=np.zeros_like(line.siphon))
    return head(np.zeros(line.shape), vented)


def high_points(end: FloatArray, level_is_risen: bool = True) -> npt.NDArray[np.bool_]:
    """Return which run ends (R, ...) are high points: the line rose to them and falls next.

    Level runs are passed over: the water leaves the full pipe where the fall begins. A line
    level from its start counts as risen, unless said otherwise.
    """
    rise = np.diff(end, axis=0, prepend=0.0)
    found = np.zeros(rise.shape, dtype=np.bool_)
    risen = np.full(rise.shape[1:], level_is_risen)
    for i in range(len(rise) - 1):
        risen = (rise[i] > _LEVEL) | (risen & ~(rise[i] < -_LEVEL))
        found[i] = risen & (rise[i + 1] < -_LEVEL)
    return found


def losses(flow: FloatArray, line: LineArrays) -> FloatArray:
    """Return the loss (m) from the start to each run's end, (R, ...), without the outlet's."""
    velocity = flow / line.area
    run = _slopes(velocity, line) * (line.length + line.fitting_length)
    return np.cumsum(run + line.k * velocity**2 / (2 * GRAVITY), axis=0)


def _slopes(velocity: FloatArray, line: LineArrays) -> FloatArray:
    with np.errstate(all="ignore"):
        return _law_of(line).slope(velocity)


def _law_of(line: LineArrays) -> laws.Law:
    """The friction law of the runs, for velocities of shape (R, ...)."""
    if not line.darcy.all():
        hazen = laws.hazen_williams(line.diameter, line.hazen_c)
        if not line.darcy.any():
            return hazen
    darcy = laws.darcy_weisbach(line.diameter, line.roughness, line.viscosity)
    if line.darcy.all():
        return darcy
    return laws.EitherLaw(np.broadcast_to(line.darcy, hazen.steepest.shape), darcy, hazen)


def _governing(grade: FloatArray, siphon: npt.NDArray[np.bool_]) -> npt.NDArray[np.intp]:
    """Index of the point that asks most: 0 the start (grade 0), j the end of run j.

    NaN grades govern (argmax returns the first), so a NaN input stays NaN.
    """
    runs = grade.shape[0]
    point = np.argmax(grade, axis=0) + 1
    top = np.take_along_axis(grade, point[None] - 1, axis=0)[0]
    vented = np.where(top < 0, 0, point)
    return np.where(siphon, runs, vented)


def _there(point: npt.NDArray[np.intp], values: FloatArray) -> FloatArray:
    """Values of the runs' ends (R, ...) at the governing point, 0 at the start."""
    ends = np.take_along_axis(values, np.maximum(point - 1, 0)[None], axis=0)[0]
    return np.where(point > 0, ends, 0.0)


class SystemCurve:
    """The heads that N lines ask, ready to be asked many times over.

    The same sums as `head_parts`, with all that does not depend on the flow worked out
    once and without the parts: a solver needs only the total and its derivative.

    Parameters
    ----------
    line : LineArrays
        Flat: run fields (R, N), the others (N,).
    """

    _ARRAYS = ("siphon", "_lid", "_orifice", "_square", "_end")

    def __init__(self, line: LineArrays) -> None:
        self.siphon, self._lid, self._orifice = line.siphon, line.lid, line.orifice
        # loss per flow squared up to each run's end, and where water leaves the full pipe there
        head = 1.0 / (2 * GRAVITY * line.area**2)
        self._square = np.cumsum(line.k * head, axis=0) + line.exits * head
        self._end = line.end + np.zeros_like(self._square)
        self._end[-1] += line.tail
        self._gap = bool((line.orifice != 0).any())
        if not self._gap:
            self._end[-1] += line.lid
        with np.errstate(all="ignore"):
            law = _law_of(line).along(line.length + line.fitting_length, line.area)
        self._runs = [law.at(i) for i in range(len(self._square))]
        # what comes after only adds losses, so a run's end can govern only where the line
        # falls behind it; of siphoning lines the last alone
        falls = (np.diff(line.end, axis=0) < 0).any(axis=1) & ~line.siphon.all()
        self._peaks = {*np.flatnonzero(falls).tolist(), len(self._runs) - 1}
        self._start_governs = bool(((self._end[-1] < 0) & ~line.siphon).any())

    def head(self, flow: FloatArray) -> FloatArray:
        """Head asked at ``flow`` (N,), m³/s, 0 or more; in m."""
        with np.errstate(all="ignore"):
            return self._grades(flow, False)[0]

    def head_with_slope(self, flow: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Head (m) and its exact derivative by flow (s/m²), for Newton's method."""
        with np.errstate(all="ignore"):
            return self._grades(flow, True)

    def siphoned_head(self) -> FloatArray:
        """Head (m) that siphoning saves at no flow: what a pump needs besides to start it."""
        if not self.siphon.any():
            return np.zeros(self._end.shape[1:])
        end = self._end + 0.0
        if self._gap:
            end[-1] += self._lid
        return np.where(self.siphon, np.maximum(end.max(axis=0), 0.0) - end[-1], 0.0)

    def take(self, index: npt.NDArray[np.intp]) -> SystemCurve:
        """Return the curves of the lines named by ``index``, with repeats where it repeats."""
        some = copy(self)
        for name in self._ARRAYS:
            setattr(some, name, getattr(self, name)[..., index])
        some._runs = [law.at(index) for law in self._runs]
        return some

    def under(self, water: FloatArray) -> SystemCurve:
        """Return the same lines with so much more water (m) standing above their ends."""
        some = copy(self)
        some._end = self._end.copy()
        some._end[-1] += water
        some._start_governs = bool(((some._end[-1] < 0) & ~self.siphon).any())
        return some

    def siphoning(self) -> SystemCurve:
        """Return the same lines with every drop credited."""
        some = copy(self)
        some.siphon = np.ones_like(self.siphon)
        some._peaks, some._start_governs = {len(self._runs) - 1}, False
        return some

    def _grades(self, flow: FloatArray, with_rate: bool) -> tuple[FloatArray, FloatArray]:
        """Walk along the runs and keep the grade line's highest point, with its derivative."""
        lost: Any = 0.0
        lost_rate: Any = 0.0
        grades, rates = [], []
        for i, law in enumerate(self._runs):
            if with_rate:
                more, change = law.slope_with_derivative(flow)
                lost_rate = lost_rate + change if i else change
            else:
                more = law.slope(flow)
            lost = lost + more if i else more
            if i not in self._peaks:
                continue
            local = self._square[i] * flow
            grade = self._end[i] + lost + local * flow
            rate = lost_rate + 2.0 * local if with_rate else lost_rate
            if i == len(self._runs) - 1 and self._gap:
                grade, rate = self._with_gap(grade, rate, flow)
            grades.append(grade)
            rates.append(rate)
        if len(grades) == 1 and not self._start_governs:
            return grades[0], rates[0]
        found = np.stack(grades)
        point = _governing(found, self.siphon)
        top = _there(point, found)
        return top, _there(point, np.stack(rates)) if with_rate else top

    def _with_gap(self, grade: FloatArray, rate: Any, flow: FloatArray) -> tuple[FloatArray, Any]:
        """Add the larger of the lid and the loss at the outlet's gap."""
        through = self._orifice * flow * flow
        wide = through > self._lid
        return (
            grade + np.maximum(through, self._lid),
            rate + np.where(wide, 2.0 * self._orifice * flow, 0.0),
        )
