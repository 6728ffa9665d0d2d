"""Operating points: 200 pumps against 5,000 lines in one call, beside a loop of pairs.

Its rivals are what one would write by hand with care: scipy's ``brentq`` per pair on the
same PCHIP curve and the same friction law, in plain Python arithmetic, the curves laid out
beforehand and read by bisection; a short Newton in numpy, a pump at a time over all
lines, to the same 1e-9 m; and Newton as a scalar loop by numba, where that is installed. The
loop is timed on a sample of the pairs, and the answers are compared.

Why no more than that ahead of the short Newton: a point of ours takes eight evaluations of the
law (both ends, which tell the status; three halvings of the knots; three Newton steps, the last
of which shows that it settled), the short Newton's five or six, and neither spends its time in
the law. By the profile of the Hazen-Williams grid: the law itself a seventh, the line's head
besides it a sixth, halving the knots a fifth, gathering cubics and lines an eighth, scipy's
Newton with its masks a sixth, laying out and the answer's own memory the rest; all of them passes
over arrays that numpy makes one at a time. A compiled loop keeps a point in registers.
"""

from __future__ import annotations

import math
import time
from bisect import bisect_right

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

import drainpump as dp
from tests.bench.compiled import compiled, inputs
from tests.bench.compiled import pairs as pairs_by_newton
from tests.bench.timing import best, say

GPM = 231 * 0.0254**3 / 60
PUMPS, LINES, SAMPLE = 200, 5000, 400


def pumps(count: int = PUMPS) -> list[dp.PumpCurve]:
    """Return invented pumps of nine points each."""
    rng = np.random.default_rng(1)
    made = []
    for i in range(count):
        last, top = rng.uniform(40, 90), rng.uniform(18, 50)
        q = np.linspace(0, last, 9)
        made.append(
            dp.PumpCurve(name=f"P{i}", flow_gpm=q, head_ft=top * (1 - 0.98 * (q / last) ** 2))
        )
    return made


def line(friction: str) -> dp.DischargeLine:
    """Return one line whose length and lift are arrays."""
    rng = np.random.default_rng(2)
    return dp.straight_line(
        pipe=dp.Pipe(bore_in=2.047),
        length_ft=rng.uniform(20, 400, LINES),
        lift_ft=rng.uniform(2, 12, LINES),
        k=6.3,
        friction=friction,
    )


def darcy(v: float, d: float, rough: float, nu: float) -> float:
    """Head lost per metre, scalar: laminar, bridge, Colebrook by fixed-point steps."""
    re = v * d / nu
    if re == 0:
        return 0.0

    def colebrook(r: float) -> float:
        x = 7.0
        for _ in range(12):
            x = -2 * math.log10(rough / (3.7 * d) + 2.51 * x / r)
        return 1 / (x * x)

    if re >= 4000:
        f = colebrook(re)
    elif re <= 2000:
        f = 64 / re
    else:
        f = 0.032 + (re - 2000) / 2000 * (colebrook(4000.0) - 0.032)
    return f * v * v / (2 * 9.80665 * d)


def hazen(v: float, d: float, c: float) -> float:
    """Head lost per metre, scalar, from V = 1.318 C R^0.63 S^0.54."""
    k = 1.318 * 0.3048**0.37
    return float((v / (k * c * (d / 4) ** 0.63)) ** (1 / 0.54))


def loop(
    made: list[dp.PumpCurve], one: dp.DischargeLine, pairs: list[tuple[int, int]]
) -> tuple[np.ndarray, float]:
    """Solve the sampled pairs one by one with brentq; the flows, and the time (s) of each."""
    curves = {
        p: (
            made[p].si.flow.tolist(),
            PchipInterpolator(made[p].si.flow, made[p].si.head).c.T.tolist(),
        )
        for p, _ in pairs
    }
    a = one.si.arrays
    d, rough, nu = float(a.diameter[0, 0]), float(a.roughness[0, 0]), float(a.viscosity)
    area = math.pi * d * d / 4
    lengths, ends = a.length[0], a.end[0]
    by_darcy = one.friction == "darcy"
    start, found = time.process_time(), []
    for p, k in pairs:
        (knots, cubics), length, end = curves[p], float(lengths[k]), float(ends[k])

        def gap(q: float, knots=knots, cubics=cubics, length=length, end=end) -> float:  # type: ignore[no-untyped-def]
            v = q / area
            slope = darcy(v, d, rough, nu) if by_darcy else hazen(v, d, 150.0)
            i = min(bisect_right(knots, q), len(cubics)) - 1
            a, b, c, e = cubics[i]
            t = q - knots[i]
            return float(
                ((a * t + b) * t + c) * t + e - end - slope * length - 7.3 * v * v / 19.6133
            )

        found.append(brentq(gap, 0.0, knots[-1], xtol=1e-15, rtol=1e-14))
    return np.array(found), (time.process_time() - start) / len(pairs)


def newton(made: list[dp.PumpCurve], one: dp.DischargeLine) -> np.ndarray:
    """Solve all pairs, a pump at a time, by Newton's method on the Hazen-Williams law."""
    a = one.si.arrays
    d = float(a.diameter[0, 0])
    area, length, end = math.pi * d * d / 4, a.length[0], a.end[0]
    k = 1 / (1.318 * 0.3048**0.37 * 150.0 * (d / 4) ** 0.63 * area)
    minor = 7.3 / (19.6133 * area * area)
    found = []
    for pump in made:
        knots, cubics = pump.si.flow, PchipInterpolator(pump.si.flow, pump.si.head).c
        q = np.full(length.size, 0.5 * knots[-1])
        for _ in range(30):
            i = np.minimum(np.searchsorted(knots, q, side="right"), knots.size - 1) - 1
            c3, c2, c1, c0 = cubics[:, i]
            t = q - knots[i]
            slope = length * (k * q) ** (1 / 0.54)
            gap = ((c3 * t + c2) * t + c1) * t + c0 - end - slope - minor * q * q
            if np.abs(gap).max() < 1e-9:
                break
            rate = (3 * c3 * t + 2 * c2) * t + c1 - slope / (0.54 * q) - 2 * minor * q
            q = np.clip(q - gap / rate, 1e-9, knots[-1])
        found.append(q)
    return np.array(found)


def main() -> None:
    """Print time per point beside the loop, and how far the answers differ."""
    made = pumps()
    rng = np.random.default_rng(3)
    pairs = list(zip(rng.integers(0, PUMPS, SAMPLE), rng.integers(0, LINES, SAMPLE), strict=True))
    for friction, bar in (("hazen_williams", "54 times"), ("darcy", "74 times")):
        one = line(friction)
        took, op = best(lambda one=one: dp.operating_point(made, one))
        flows = op._flow
        ok = [(int(p), int(k)) for p, k in pairs if op._code[p, k] == 0]
        by_hand, each = loop(made, one, ok)
        per_point = took / flows.size
        off = np.max(np.abs(by_hand - np.array([flows[p, k] for p, k in ok])) / GPM)
        rival = compiled(pairs_by_newton)
        if rival is not None:
            given, room = inputs(made, one), np.empty((PUMPS, LINES))
            rival(*given, room)  # compiles it
            by_rival, _ = best(lambda rival=rival, given=given, room=room: rival(*given, room))
            inside = op.ok & (room < np.array([[p.si.flow[-1]] for p in made]))
            apart = np.max(np.abs(room - flows)[inside]) / GPM
            say(f"a scalar Newton by numba, {friction}", f"{by_rival / flows.size * 1e6:.2f} us "
                "a point", f"greatest difference {apart:.1e} gpm")  # fmt: skip
        say(
            f"{PUMPS} x {LINES} {friction}: {per_point * 1e6:.2f} us a point, loop "
            f"{each * 1e6:.0f} us",
            f"{each / per_point:.0f} times",
            f"was {bar}; wanted 0.25 and 0.40 us; greatest difference {off:.1e} gpm",
        )
    many = line("hazen_williams")
    short, flows = best(lambda: newton(made, many))
    ours = dp.operating_point(made, many)
    both = ours.ok & (flows < np.array([[p.si.flow[-1]] for p in made]))
    off = np.max(np.abs(flows - ours.si.flow)[both]) / GPM
    say("a short Newton in numpy, hazen_williams", f"{short / flows.size * 1e6:.2f} us a point",
        f"greatest difference {off:.1e} gpm")  # fmt: skip
    for friction in ("hazen_williams", "darcy"):
        one = dp.straight_line(
            pipe=dp.Pipe(bore_in=2.047), length_ft=150, lift_ft=6, k=6.3, friction=friction
        )
        took, _ = best(
            lambda one=one: [dp.operating_point(made[0], one).flow_gpm for _ in range(10)], 100
        )
        say(
            f"one pump on one line, {friction}",
            f"{took * 1e5:.0f} us a call",
            "wanted below 300 us",
        )
