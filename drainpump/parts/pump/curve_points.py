"""A pump's points: what makes them a curve, what is worth noting, and the line through them."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np

from drainpump import units as u
from drainpump.errors import wrong
from drainpump.foreign import FOREIGN, READ, convert, stem_of
from drainpump.parts.scalars import fact
from drainpump.units import FloatArray, Measure

#: flows that differ by less, as a share of the last, are one to a curve
_ALIKE = 1e-12


class PointProblem(NamedTuple):
    """One thing wrong in a list of points; without a place it concerns the whole list."""

    quantity: str  # "flow", "head" or "power"
    where: int | None  # index of the point
    allowed: str
    mend: str


def point_problems(
    flow: FloatArray,
    head: FloatArray,
    power: FloatArray | None = None,
    *,
    shutoff: float | None = None,
    before: str = "the flow before it",
) -> list[PointProblem]:
    """Say all that keeps 1-D points of one length, in any unit, from being a pump curve.

    A shutoff head counts as one more point; ``before`` is what messages call the flow
    that a flow must exceed.
    """
    found = []
    given = {"flow": flow, "head": head} | ({} if power is None else {"power": power})
    for quantity, values in given.items():
        mend = f"give a {quantity} for each point, or leave the point out"
        found += [
            PointProblem(quantity, int(i), "must be a finite number", mend)
            for i in np.flatnonzero(~np.isfinite(values))
        ]
    if power is not None:
        found += [
            PointProblem("power", int(i), "must be more than 0", "give the electrical power taken")
            for i in np.flatnonzero(power <= 0)
        ]
    found += _order_problems(flow, before)
    if flow.size + (shutoff is not None) < 2:
        mend = "give more points, or the shutoff head beside the one"
        found.append(PointProblem("flow", None, "a curve must have at least two points", mend))
    elif not np.isnan(head).any() and not (head > 0).any() and not shutoff:
        mend = "give the head the pump makes at each flow"
        found.append(PointProblem("head", None, "must be more than 0 at some flow", mend))
    return found


def _order_problems(flow: FloatArray, before: str) -> list[PointProblem]:
    """Name each flow that does not exceed the finite one before it."""
    found, last = [], -np.inf
    for i, q in enumerate(flow):
        if q <= last:
            allowed = f"must be more than {before} ({float(last):.10g})"
            mend = "give each flow once, in rising order"
            found.append(PointProblem("flow", i, allowed, mend))
        if not np.isnan(q):
            last = q
    return found


@lru_cache(1024)
def _spelled(name: str, keys: tuple[str, ...]) -> dict[str, str]:
    """The keywords of a quantity by unit, those in printed units too."""
    return {key.removeprefix(f"{name}_"): key for key in keys if stem_of(key) == name}


def taken(name: str, guard: str, keywords: Mapping[str, Any]) -> Measure:
    """Take a quantity as printed: in a unit of ours, or in one that is turned into it."""
    given = {unit: keywords[key] for unit, key in _spelled(name, tuple(keywords)).items()}
    units = [unit for unit, value in given.items() if value is not None]
    if len(units) == 1:
        (unit,) = units
        if f"{name}_{unit}" in READ:
            numbers = u.plain(f"{name}_{unit}", given[unit], mend=u.GUARDS[guard].mend)
            foreign = FOREIGN[unit]
            u.refuse(f"{name}_{unit}", numbers, numbers * foreign.factor, foreign, u.GUARDS[guard])
            ours, numbers = convert(f"{name}_{unit}", numbers)
            # a unit that was turned is no slip of the pen
            with u.place(f"{name}_{unit} turned into {ours}", guess=False):
                return u.measure(ours, u.out(numbers), foreign.twin, guard)
    ours_only = {unit: v for unit, v in given.items() if f"{name}_{unit}" not in READ}
    return u.take(name, guard=guard, **ours_only | {unit: given[unit] for unit in units})


def read(said: u.Typed) -> tuple[Measure, Measure, FloatArray | None]:
    """Take a curve's points from its keywords, (K,), that of a given shutoff head included.

    Flow, head, and the power in W, NaN at the point that a shutoff head added.
    """
    flow, head = (taken(name, name, said.given) for name in ("flow", "head"))
    flow, head, power = rising(flow, head, said.maybe("power"))
    shutoff = fact("shutoff", "head", **said["shutoff"])
    check(flow, head, power, shutoff)
    watts = None if power is None else power.si
    if shutoff is not None:
        flow, head = _in_front(flow, 0.0), _in_front(head, shutoff.get(head.unit))
        watts = None if watts is None else u.frozen(np.concatenate([[np.nan], watts]))
    doubt_rise(head)
    return flow, head, watts


def _in_front(measure: Measure, number: u.Value) -> Measure:
    """Put one more number, in the measure's own unit, before the others."""
    typed = np.concatenate([[number], measure.typed])
    return Measure(u.frozen(u.to_si(typed, measure.unit)), measure.unit, typed)


def rising(
    flow: Measure, head: Measure, power: Measure | None
) -> tuple[Measure, Measure, Measure | None]:
    """Turn points round that were given from the last flow to the first, as some tables print."""
    turn = flow.si.ndim == 1 and flow.si.size > 1 and bool((np.diff(flow.si) < 0).all())
    if not turn:
        return flow, head, power

    def turned(m: Measure) -> Measure:
        if m.si.ndim == 0:
            return m
        return Measure(u.frozen(m.si[::-1]), m.unit, np.asarray(m.typed)[::-1])

    return turned(flow), turned(head), None if power is None else turned(power)


def check(flow: Measure, head: Measure, power: Measure | None, shutoff: Measure | None) -> None:
    """Refuse points that are no curve, naming the first problem."""
    given = {"flow": flow, "head": head} | ({} if power is None else {"power": power})
    labels = {quantity: f"{quantity}_{measure.unit}" for quantity, measure in given.items()}
    count = flow.si.size
    for quantity, measure in given.items():
        if measure.si.ndim != 1:
            mend = f"give a list of {quantity}s, one for each point"
            raise wrong(labels[quantity], measure.typed, "must be a list of numbers", mend)
        if measure.si.size != count:
            allowed = (
                f"must have as many numbers as {labels['flow']}, {count}, not {measure.si.size}"
            )
            shown = measure.typed.tolist()
            raise wrong(labels[quantity], shown, allowed, f"give one {quantity} for each flow")
    watts = None if power is None else power.typed
    closed = None if shutoff is None else float(shutoff.si)
    for problem in point_problems(flow.typed, head.typed, watts, shutoff=closed):
        typed = given[problem.quantity].typed
        label, value = labels[problem.quantity], typed.tolist()
        if problem.where is not None:
            label, value = f"{label}[{problem.where}]", value[problem.where]
            value = int(value) if value.is_integer() else value
        raise wrong(label, value, problem.allowed, problem.mend)
    if not (np.diff(flow.si) > _ALIKE * flow.si[-1]).all():
        mend = "leave out the points that are one flow, or give their flows in the right unit"
        allowed = f"must differ by more than {_ALIKE:g} of the last"
        raise wrong(labels["flow"], flow.typed.tolist(), allowed, mend)
    if shutoff is not None and flow.si[0] == 0:
        allowed = f"must be left out, for {labels['flow']}[0] is 0 already"
        raise wrong(f"shutoff_{shutoff.unit}", shutoff.typed, allowed, "keep one of the two")


def doubt_rise(head: Measure) -> None:
    """Warn where the head is highest at the last point, as no pump's is."""
    if head.si[-1] > head.si[:-1].max():
        first, last = (f"{x:.10g}" for x in head.typed[[0, -1]])
        u.unusual(
            f"head rises from {first} to {last} {u.UNITS[head.unit].label} over the whole curve; "
            "are flow and head swapped, or the rows in the wrong column?"
        )


def by(measure: Measure, factor: float) -> Measure:
    """A row of numbers by a factor, typed numbers and all."""
    typed = np.asarray(measure.typed, dtype=np.float64) * factor
    return Measure(u.frozen(measure.si * factor), measure.unit, typed)


def times(factor: FloatArray, measure: Measure, pick: Any = ...) -> Measure | FloatArray:
    """Return ``measure[pick]`` by each factor, the factor's axes in front.

    Where the factor is plain 1 the number stays as typed.
    """
    si = measure.si[pick]
    if factor.ndim == 0 and factor == 1:
        typed = measure.typed if measure.si.ndim == 0 else measure.typed[pick]
        return Measure(si, measure.unit, typed)
    return np.asarray(np.multiply.outer(factor, si))


def span(points: Measure | FloatArray, unit: str) -> str:
    """Print the first and last of a row of numbers in both units, as typed where typed.

    >>> span(Measure(np.array([0.0, 30.5]), "m", np.array([0.0, 30.5])), "m")
    '0 to 30.5 m (0 to 100 ft)'
    """
    twin = u.UNITS[unit].twin
    si = points.si if isinstance(points, Measure) else points
    if si.ndim > 1:
        return u.both(si, unit)
    here, there = (
        [u.number(x) for x in np.asarray(u.from_si(si[[0, -1]], each))] for each in (unit, twin)
    )
    if isinstance(points, Measure):
        here = [f"{x:.10g}" for x in points.typed[[0, -1]]]
    label, other = u.UNITS[unit].label, u.UNITS[twin].label
    return f"{here[0]} to {here[1]} {label} ({there[0]} to {there[1]} {other})"


def notes(flow: Measure, head: Measure) -> tuple[str, ...]:
    """Say in plain sentences what a reader of the curve should know."""
    said = []
    steps = np.diff(head.si)
    peak = int(np.argmax(head.si))

    def point(i: int) -> str:
        return f"{u.both(head.si[i], head.unit)} at {u.both(flow.si[i], flow.unit)}"

    if peak > 0:
        said.append(
            f"The curve droops: its head rises from {point(0)} to {point(peak)}; "
            "one head may then have two flows."
        )
    for i in np.flatnonzero(steps > 0):
        if i >= peak:
            said.append(f"The head rises again, from {point(int(i))} to {point(int(i) + 1)}.")
    if flow.si[0] > 0:
        said.append(
            "No point at zero flow: the shutoff head is not known, and nothing is said below "
            f"{u.both(flow.si[0], flow.unit)}."
        )
    return tuple(said)
