"""Head of a line, operating point, pumps side by side and one behind the other, weep hole.

Textbook physics, one case at a time: Darcy-Weisbach with Colebrook-White (64/Re below 2000,
Colebrook from 4000, f linear in Re between) and Hazen-Williams, V = 1.318 C R^0.63 S^0.54.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from scipy.integrate import solve_ivp
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

FOOT = 0.3048
INCH = 0.0254
GPM = 231 * INCH**3 / 60
GALLON = 231 * INCH**3
G = 9.80665
#: water at 59.31 °F: 1.22e-5 ft²/s
NU = 1.22e-5 * FOOT**2
#: water at 60 °F, by the IAPWS industrial formulation of 1997 (computed with `iapws`): m²/s, kg/m³
NU_60F = 1.122139e-6
RHO_60F = 999.0156
NO_FLOW, BEYOND = "no_flow", "beyond_curve"


def colebrook(reynolds: Any, roughness: Any) -> Any:
    """Darcy's factor; the turbulent one by repeated substitution, which gains a digit a round."""

    def turbulent(re: Any) -> Any:
        x = np.full(np.shape(re), 8.0)
        for _ in range(18):
            x = -2 * np.log10(roughness / 3.7 + 2.51 * x / re)
        return x**-2.0

    re = np.maximum(reynolds, 1e-9)
    bridge = 0.032 + (turbulent(4000.0) - 0.032) * (re - 2000) / 2000
    return np.select([re <= 2000, re < 4000], [64 / re, bridge], turbulent(np.maximum(re, 4000)))


@dataclass(frozen=True)
class Leg:
    """A run of pipe."""

    bore: float
    length: float
    rise: float
    k: float = 0.0
    roughness: float = 5e-6 * FOOT
    c: float = 150.0

    @property
    def area(self) -> float:
        return np.pi / 4 * self.bore**2

    @property
    def volume(self) -> float:
        return self.area * self.length

    def velocity_head(self, q: Any) -> Any:
        return (q / self.area) ** 2 / (2 * G)

    def loss(self, q: Any, law: str, nu: float) -> Any:
        """Friction and local losses at a flow."""
        v = q / self.area
        if law == "hazen_williams":
            fps, radius = v / FOOT, self.bore / 4 / FOOT
            slope = (fps / (1.318 * self.c * radius**0.63)) ** (1 / 0.54)
        else:
            factor = colebrook(v * self.bore / nu, self.roughness / self.bore)
            slope = factor * v**2 / (2 * G * self.bore)
        return slope * self.length + self.k * self.velocity_head(q)


@dataclass(frozen=True)
class Line:
    """Legs in order from the pump-off level; `tail` is the depth of water over the end."""

    legs: tuple[Leg, ...]
    lid: float = 0.0
    tail: float = 0.0
    siphon: bool = False
    law: str = "darcy"
    nu: float = NU

    @property
    def lift(self) -> float:
        return sum(leg.rise for leg in self.legs)

    def crests(self) -> list[int]:
        """Legs that end at a high point: the line rose before, level or not, and falls behind."""
        rises = [leg.rise for leg in self.legs]
        found = []
        for i in range(len(rises) - 1):
            before = [r for r in rises[: i + 1] if r != 0]
            behind = [r for r in rises[i + 1 :] if r != 0]
            falls_next = rises[i + 1] < 0 and bool(behind)
            if falls_next and (not before or before[-1] > 0):
                found.append(i)
        return found

    def points(self, q: Any) -> list[Any]:
        """Head the pump must make to bring the water past the start and each leg's end."""
        height: Any = 0.0
        found: list[Any] = [height + 0 * q]
        crests = self.crests()
        for i, leg in enumerate(self.legs):
            height = height + leg.rise + leg.loss(q, self.law, self.nu)
            found.append(height + leg.velocity_head(q) if i in crests else height)
        found[-1] = found[-1] + self.legs[-1].velocity_head(q) + self.lid + self.tail
        return found

    def head(self, q: Any) -> Any:
        """What the line asks above the pump-off level."""
        points = self.points(q)
        return points[-1] if self.siphon else np.max(np.array(points), axis=0)

    def start_head(self) -> float:
        """What must be made before any flow: a siphon too has to start over its crest."""
        return float(max(np.max(self.points(0.0)), 0.0))

    def raised(self, by: float) -> Line:
        """The whole line higher, as if its first leg rose by more."""
        return replace(
            self, legs=(replace(self.legs[0], rise=self.legs[0].rise + by), *self.legs[1:])
        )


@dataclass(frozen=True)
class Pump:
    """Points of a curve, joined by scipy's own PCHIP."""

    flow: Any
    lifts: Any
    curve: Any = field(init=False, repr=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "curve", PchipInterpolator(self.flow, self.lifts))

    @property
    def last(self) -> float:
        return float(self.flow[-1])

    def head(self, q: Any) -> Any:
        return self.curve(np.clip(q, self.flow[0], self.last))


def pump(flow_gpm: Any, head_ft: Any) -> Pump:
    return Pump(np.asarray(flow_gpm, float) * GPM, np.asarray(head_ft, float) * FOOT)


def parabola(shutoff_ft: float, run_out_gpm: float, points: int = 51) -> Pump:
    q = np.linspace(0, run_out_gpm, points)
    return pump(q, shutoff_ft * (1 - (q / run_out_gpm) ** 2))


def operating_flow(made: Pump, line: Line, level: float = 0.0) -> float | str:
    """Flow of a pump whose head never rises with flow, or why there is none."""

    def spare(q: float) -> float:
        return float(made.head(q) - line.head(q) + level)

    if float(made.head(0.0)) + level <= line.start_head():
        return NO_FLOW
    if spare(made.last) > 0:
        return BEYOND
    return float(brentq(spare, 0.0, made.last, xtol=1e-14, rtol=1e-13))


def falling_root(excess: Any, low: Any, high: Any) -> Any:
    """Where falling functions, jumps allowed, change sign: bisection over arrays."""
    for _ in range(45):
        middle = (low + high) / 2
        more = excess(middle) > 0
        low, high = np.where(more, middle, low), np.where(more, high, middle)
    return (low + high) / 2


def share(made: Pump, riser: Leg | None, junction: Any, line: Line) -> Any:
    """The most that one pump brings against heads at the junction, behind its riser."""

    def spare(q: Any) -> Any:
        lost = riser.rise + riser.loss(q, line.law, line.nu) if riser else 0.0
        return made.head(q) - lost - junction

    none = np.zeros_like(junction)
    inside = falling_root(spare, none, none + made.last)
    return np.where(spare(none) < 0, 0.0, np.where(spare(none + made.last) > 0, made.last, inside))


def side_by_side(
    pumps: Sequence[Pump], risers: Sequence[Leg | None], line: Line
) -> tuple[float, list[float]] | str:
    """Total flow and what each brings at the junction's head; a level stretch shares alike.

    The line's flow at a junction head rises with it and the pumps' falls, with jumps where a
    curve is level: narrowing on the head finds the one place where they meet.
    """
    most = sum(p.last for p in pumps)
    rise = risers[0].rise if risers[0] else 0.0
    start = max(line.start_head(), -rise)

    def brought(junction: Any) -> list[Any]:
        return [share(p, r, junction, line) for p, r in zip(pumps, risers, strict=True)]

    def carried(junction: Any) -> Any:
        none = np.zeros_like(junction)
        return falling_root(lambda q: junction - line.head(q), none, none + 2 * most)

    if sum(brought(np.array(start))) <= 0:
        return NO_FLOW
    low, high = start, max(float(np.max(p.lifts)) for p in pumps) - rise + 1.0
    for _ in range(5):
        heads = np.linspace(low, high, 257)
        last = int(np.flatnonzero(sum(brought(heads)) - carried(heads) > 0)[-1])
        low, high = heads[last], heads[last + 1]
    total = float(carried(np.array(low)))
    above = [float(q) for q in brought(np.array(low + 1e-9))]
    below = [float(q) for q in brought(np.array(low - 1e-9))]
    if any(q >= p.last * (1 - 1e-7) for q, p in zip(below, pumps, strict=True)):
        return BEYOND
    room = sum(below) - sum(above)
    part = (total - sum(above)) / room
    return total, [a + part * (b - a) for a, b in zip(above, below, strict=True)]


def greatest_lift_of(
    pumps: Sequence[Pump], risers: Sequence[Leg | None], line: Line, need: float
) -> float:
    """Height of the end above the off level, risers counted, at which a bank carries the need."""

    def spare(junction: Any) -> Any:
        brought = [share(p, r, junction, line) for p, r in zip(pumps, risers, strict=True)]
        return sum(brought) - need

    junction = float(falling_root(spare, np.array(-100.0), np.array(1000.0)))
    return (risers[0].rise if risers[0] else 0.0) + line.lift + junction - float(line.head(need))


def in_series(pumps: Sequence[Pump], line: Line) -> float | str:
    """One behind the other: heads add at one flow."""
    flows = np.unique(np.concatenate([p.flow for p in pumps]))
    last = min(p.last for p in pumps)

    class Both(Pump):
        def head(self, q: Any) -> Any:
            return sum(p.head(q) for p in pumps)

    flows = flows[flows <= last]
    return operating_flow(Both(flows, sum(p.head(flows) for p in pumps)), line)


def weep(
    made: Pump, line: Line, hole: float, coefficient: float = 0.6
) -> tuple[float, float] | str:
    """Flow by the outlet and by the hole: the pump gives both at the one head."""
    area = np.pi / 4 * hole**2

    def through(q: float) -> float:
        return float(coefficient * area * np.sqrt(2 * G * max(line.head(q), 0.0)))

    def spare(q: float) -> float:
        return float(made.curve(q + through(q)) - line.head(q))

    # the pump's own flow may not pass its last point
    if made.last <= through(0.0):
        return "all_lost"
    most = brentq(lambda q: q + through(q) - made.last, 0.0, made.last)
    if spare(0.0) <= 0:
        return "all_lost"
    if spare(most) > 0:
        return BEYOND
    q = float(brentq(spare, 0.0, most, xtol=1e-15))
    return q, through(q)


def greatest_lift(made: Pump, line: Line, need: float) -> float:
    """How high the whole line may be raised; a siphon must besides start over its crest."""
    outlet = float(made.head(need) - line.head(need))
    if line.siphon:
        outlet = min(outlet, float(made.head(0.0)) - line.start_head())
    return line.lift + outlet


def longest(made: Pump, line: Line, need: float) -> float:
    """Length of a line's one run at which the need is just carried."""
    leg = line.legs[0]

    def spare(length: float) -> float:
        return float(
            made.head(need) - replace(line, legs=(replace(leg, length=length),)).head(need)
        )

    return float(brentq(spare, 0.0, 1e6, xtol=1e-9)) if spare(0.0) > 0 else float("nan")


def slowing(line: Line, q: float) -> float:
    """Seconds in which what runs back comes to rest: rigid column, Σ(L/A) dQ/dt = -g H(Q).

    Of a vented line that is what stands before its first high point, of others all of it; H is
    the head the line asks. Step by step in time (Dormand and Prince), to where the flow is 0.
    """
    crests = [] if line.siphon else line.crests()
    back = line.legs[: crests[0] + 1] if crests else line.legs
    inertia = sum(leg.length / leg.area for leg in back) / G

    def stopped(_: float, left: Any) -> float:
        return float(left[0])

    stopped.terminal = True  # type: ignore[attr-defined]
    longest = 2 * inertia * q / line.head(0.0)
    found = solve_ivp(
        lambda _, left: [-float(line.head(max(left[0], 0.0) * q)) / (inertia * q)],
        (0.0, longest), [1.0], events=stopped, rtol=1e-6, atol=1e-9,
    )  # fmt: skip
    return float(found.t_events[0][0])
