"""The single causes that may stand behind a measured flow, and how common each is.

A cause of one size turns pump and line into altered ones for the same solver. Its size is
the root (scipy) at which the altered pump makes what the altered line asks at the measured
flow; its plausibility weighs how common such sizes are.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy.optimize import brentq, elementwise
from scipy.special import logsumexp, ndtr, ndtri

from drainpump import units as u
from drainpump.errors import InputError, closed
from drainpump.foreign import nearest
from drainpump.parts.line.line import DischargeLine
from drainpump.parts.line.outlet import PopUpOutlet
from drainpump.parts.pump.curve import PumpCurve
from drainpump.parts.scalars import factor, one_measure
from drainpump.physics import system
from drainpump.solve.changed_line import with_deposit, with_extra_k, with_gap, with_lift
from drainpump.solve.operating_point import at_flow, solve_arrays
from drainpump.units import FloatArray, Measure, View

__all__ = [
    "CAUSES",
    "Cause",
    "Priors",
    "Site",
    "beside_leak",
    "likelihood",
    "outcome",
    "size_needed",
]

#: what each cause is called
CAUSES = (
    "head factor",
    "deposit",
    "extra K",
    "lid gap",
    "extra lift",
    "leak at the pump",
)

#: discharge coefficient of a lid's gap where the outlet states none: that of a sharp-edged
#: opening, Munson, Young & Okiishi, Fundamentals of Fluid Mechanics, ch. 3 (from memory)
_GAP_COEFFICIENT = 0.6
#: normal deviates over which a cause's spread is taken, sizes solved over them, and points
#: of the sum
_WIDE, _SOLVED, _FINE = 8.0, 97, 40001


class Priors:
    """How large each cause usually is, and how common: from memory, no survey was found.

    Parameters
    ----------
    head_loss : float, default 0.15
        Scale of the share of head a pump has lost, > 0: its one-sigma.
    deposit_in, deposit_mm : float, default 0.03 in
        Scale of the thickness of a deposit, > 0.
    extra_k : float, default 20
        Scale of an obstruction's K, > 0: a valve part shut, a check valve that sticks, debris.
    gap_in, gap_mm : float, default 0.25 in
        Median gap of a lid, > 0; half and twice as much are one sigma away.
    lift_ft, lift_m : float, default 1 ft
        Scale of an error of lift, either way, > 0.
    leak_gpm, leak_lps : float, default 5 gpm
        Scale of a leak, > 0.
    weights : mapping of str to float, optional
        How common a cause is against the others, by its name; 1 for each not named.

    Raises
    ------
    UnitError, InputError
        Both units, a scale that is not one number above 0, an unknown cause.

    Examples
    --------
    >>> import drainpump as dp
    >>> dp.field.Priors(lift_ft=0.2, weights={"extra K": 3}).weight("extra K")
    3.0
    """

    deposit_in, deposit_mm = View("_deposit"), View("_deposit")
    gap_in, gap_mm = View("_gap"), View("_gap")
    lift_ft, lift_m = View("_lift"), View("_lift")
    leak_gpm, leak_lps = View("_leak"), View("_leak")

    def __init__(
        self,
        *,
        head_loss: float = 0.15,
        deposit_in: float | None = None,
        deposit_mm: float | None = None,
        extra_k: float = 20.0,
        gap_in: float | None = None,
        gap_mm: float | None = None,
        lift_ft: float | None = None,
        lift_m: float | None = None,
        leak_gpm: float | None = None,
        leak_lps: float | None = None,
        weights: Mapping[str, float] | None = None,
    ) -> None:
        mend = "give the scale of its usual size"
        self.head_loss = float(factor("head_loss", head_loss, 1.0, mend))
        self.extra_k = float(factor("extra_k", extra_k, 1e6, mend))
        inch = {"in": deposit_in, "mm": deposit_mm}
        self._deposit = _scale("deposit", ("in", 0.03), **inch)
        self._gap = _scale("gap", ("in", 0.25), **u.inches(gap_in, gap_mm))
        self._lift = _scale("lift", ("ft", 1.0), ft=lift_ft, m=lift_m)
        self._leak = _scale("leak", ("gpm", 5.0), gpm=leak_gpm, lps=leak_lps)
        self.weights = dict(weights or {})
        for cause, weight in self.weights.items():
            if cause not in CAUSES:
                mend = nearest(cause, [*CAUSES])
                raise InputError(closed(f"weights: unknown cause {cause!r}; {mend}"))
            u.plain(f"weights[{cause!r}]", weight, low=0.0, mend="give 0 or more")

    def weight(self, cause: str) -> float:
        """How common a cause is against the others."""
        return float(self.weights.get(cause, 1.0))


def _scale(name: str, default: tuple[str, float], **given: Any) -> Measure:
    return one_measure(name, u.take(name, guard="positive", default=default, **given))


@dataclass(frozen=True, eq=False)
class Site:
    """Pump, line and the measured flow (m³/s), with what the causes need to know."""

    pump: PumpCurve
    line: DischargeLine
    flow: float
    expected: float
    priors: Priors

    @property
    def arrays(self) -> system.LineArrays:
        """The line as the solver takes it."""
        return self.line.si.arrays  # type: ignore[no-any-return]

    @property
    def body(self) -> tuple[float, float]:
        """Diameter (m) of the ring under a lid and its discharge coefficient."""
        outlet = self.line.outlet
        if isinstance(outlet, PopUpOutlet):
            return float(outlet._body.si), float(outlet._coefficient)
        return float(self.arrays.diameter[-1]), _GAP_COEFFICIENT


@dataclass(frozen=True, eq=False)
class Cause:
    """One cause: its size in SI, how it alters the site, and the spread of its sizes."""

    name: str
    units: tuple[str, str]  # of the size, US and metric; "" for a plain number
    nothing: float  # size at which nothing is wrong
    #: pump, line and water lost on the way (m³/s) at sizes of any shape
    alter: Callable[[Site, FloatArray], tuple[PumpCurve, system.LineArrays, FloatArray]]
    #: sizes between which the root is looked for
    ends: Callable[[Site], tuple[float, float]]
    #: size at a normal deviate
    spread: Callable[[Site, FloatArray], FloatArray]
    says: str


@dataclass(frozen=True, eq=False)
class Outcome:
    """What a site altered by a cause shows: flows (m³/s) and heads (m)."""

    outlet: FloatArray
    pit: FloatArray
    head: FloatArray
    shutoff: FloatArray
    code: Any  # of the operating point


def outcome(site: Site, cause: Cause, size: FloatArray) -> Outcome:
    """Recompute the site with a cause of some size, by the plain solver."""
    pump, line, leak = cause.alter(site, size)
    if not np.any(leak):
        op = solve_arrays(pump, line)
        # a pump that was seen to run: what is reckoned with, and the head with it
        op = at_flow(op, op.si.reckoned)
        found = (op.si.flow, op.si.head, op.si.shutoff)
        flow, head, shutoff = (np.broadcast_to(x, np.shape(size)) for x in found)
        return Outcome(flow, flow, head, shutoff, op.si.code)
    # a leak: what the pump gives up at each head never reaches the line
    flows = beside_leak(pump, line, leak)
    line_head = system.head(flows, line.aligned(np.ndim(flows)))
    made = np.full(np.shape(size), float(solve_arrays(pump, line).si.shutoff))
    return Outcome(flows, flows + leak, line_head, made, np.zeros(np.shape(size), dtype=np.int8))


def beside_leak(pump: PumpCurve, line: system.LineArrays, leak: FloatArray) -> FloatArray:
    """Flow at the outlet with a steady leak at the pump; 0 where the leak takes it all."""
    lost = np.ravel(leak)
    plain = line.aligned(1)

    first = float(pump.si.flow[0] * pump.si.flow_factor)

    def gap(flow: FloatArray, gone: FloatArray) -> FloatArray:
        # before its first point the pump makes no less head, unless it droops
        made = pump.si.head_at(np.maximum(flow + gone, first))
        return np.asarray(made - system.head(flow, plain))

    # a hair inside the curve's last point, past which rounding would fall off it
    most = np.maximum(float(pump.si.flow[-1] * pump.si.flow_factor) * (1 - 1e-12) - lost, 0.0)
    none = (most <= 0) | ~(gap(np.zeros_like(lost), lost) > 0)
    flow = np.where(none, 0.0, most)
    inside = np.flatnonzero(~none & (gap(most, lost) < 0))
    if inside.size:
        ends = (np.zeros(inside.size), most[inside])
        flow[inside] = elementwise.find_root(gap, ends, args=(lost[inside],)).x
    return flow.reshape(np.shape(leak))


def size_needed(site: Site, cause: Cause) -> float:
    """Size (SI) at which this cause alone gives the measured flow; NaN where none does."""

    def gap(size: float) -> float:
        pump, line, leak = cause.alter(site, np.asarray(size))
        made = float(pump.si.head_at(np.asarray(site.flow + float(leak))))
        return made - float(system.head(np.asarray(site.flow), line))

    low, high = cause.ends(site)
    first, last = gap(low), gap(high)
    if not np.isfinite(first + last) or first * last > 0:
        return np.nan
    return float(brentq(gap, low, high, xtol=1e-10, rtol=1e-10))


def likelihood(site: Site, cause: Cause, size: float, sigma: float) -> float:
    """Log of the chance density of the measured flow under a cause's usual sizes.

    The mean, over the spread of sizes, of the normal density about the recomputed flow
    (times sigma √2π). The flow between the solved sizes is taken as linear. Minus infinity
    where no usual size lies on the side that is needed.
    """
    coarse = np.linspace(-_WIDE, _WIDE, _SOLVED)
    low, high = cause.ends(site)
    usual = cause.spread(site, coarse)
    if not usual.min() <= size <= usual.max():
        return -np.inf
    flow = outcome(site, cause, np.clip(usual, low, high)).outlet
    fine = np.linspace(-_WIDE, _WIDE, _FINE)
    off = (site.flow - np.interp(fine, coarse, flow)) / sigma
    step = fine[1] - fine[0]
    return float(logsumexp(-0.5 * (off**2 + fine**2)) + np.log(step / np.sqrt(2 * np.pi)))


def _half(z: FloatArray) -> FloatArray:
    """Half-normal deviates in the order of the normal ones."""
    return np.asarray(-ndtri(0.5 * ndtr(-z)))


def _plain(site: Site, size: FloatArray) -> FloatArray:
    return np.zeros(np.shape(size))


def _thickest(site: Site) -> float:
    """Deposit at which the wall is as rough as the friction formula allows: D/22."""
    return float(site.arrays.diameter.min() / 22)


def _leak_ends(site: Site) -> tuple[float, float]:
    last = float(site.pump.si.flow[-1] * site.pump.si.flow_factor)
    return 0.0, max(last - site.flow, 0.0)


#: the causes, in the order of `CAUSES`
TABLE: tuple[Cause, ...] = (
    Cause(
        "head factor",
        ("", ""),
        1.0,
        lambda s, x: (s.pump.si.scaled(x), s.arrays, _plain(s, x)),
        lambda s: (0.02, 1.5),
        lambda s, z: 1.0 - s.priors.head_loss * _half(z),
        "pump worn, clogged or slow: its head at each flow times this; a leak back into the "
        "pit reads the same by bucket and drawdown",
    ),
    Cause(
        "deposit",
        ("in", "mm"),
        0.0,
        lambda s, x: (s.pump, with_deposit(s.arrays, x), _plain(s, x)),
        lambda s: (0.0, _thickest(s)),
        lambda s, z: float(s.priors._deposit.si) * _half(z),
        "deposit this thick all round every bore, as rough as it is thick",
    ),
    Cause(
        "extra K",
        ("", ""),
        0.0,
        lambda s, x: (s.pump, with_extra_k(s.arrays, x), _plain(s, x)),
        lambda s: (-float(s.arrays.k[0]), 1e6),
        lambda s, z: s.priors.extra_k * _half(z),
        "valve part shut, check valve that sticks, debris: this further K on the first run",
    ),
    Cause(
        "lid gap",
        ("in", "mm"),
        1e3,
        lambda s, x: (s.pump, with_gap(s.arrays, x, *s.body), _plain(s, x)),
        lambda s: (1e-6, 1.0),
        lambda s, z: float(s.priors._gap.si) * 2.0**z,
        "lid that opens no further than this over the ring it covers",
    ),
    Cause(
        "extra lift",
        ("ft", "m"),
        0.0,
        lambda s, x: (s.pump, with_lift(s.arrays, x), _plain(s, x)),
        lambda s: (-100.0, 100.0),
        lambda s, z: float(s.priors._lift.si) * z,
        "line this much higher above the water than stated",
    ),
    Cause(
        "leak at the pump",
        ("gpm", "lps"),
        0.0,
        lambda s, x: (s.pump, s.arrays, np.asarray(x, dtype=np.float64)),
        _leak_ends,
        lambda s, z: float(s.priors._leak.si) * _half(z),
        "leak at the pump, out of the pit: the pit loses the outlet's flow and this besides",
    ),
)
