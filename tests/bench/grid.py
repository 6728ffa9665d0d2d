"""Operating points: 200 pumps against 5,000 lines in one call, beside a loop of pairs.

The loop is what one would write by hand: scipy's ``brentq`` per pair on the same PCHIP
curve and the same friction law, in plain Python arithmetic. It is timed on a sample of
the pairs, and the answers are compared.
"""

from __future__ import annotations

import math
import time

import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

import drainpump as dp
from tests.bench.timing import best, say

GPM = 231 * 0.0254**3 / 60
PUMPS, LINES, SAMPLE = 200, 5000, 400


def pumps() -> list[dp.PumpCurve]:
    """Return invented pumps of nine points each."""
    rng = np.random.default_rng(1)
    made = []
    for i in range(PUMPS):
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
) -> np.ndarray:
    """Solve the sampled pairs one by one with brentq."""
    a = one.si.arrays
    d, rough, nu = float(a.diameter[0, 0]), float(a.roughness[0, 0]), float(a.viscosity)
    area = math.pi * d * d / 4
    lengths, ends = a.length[0], a.end[0]
    curves = {p: PchipInterpolator(made[p]._flow, made[p]._head) for p, _ in pairs}
    found = []
    for p, k in pairs:
        curve, length, end = curves[p], float(lengths[k]), float(ends[k])

        def gap(q: float, curve=curve, length=length, end=end) -> float:  # type: ignore[no-untyped-def]
            v = q / area
            slope = darcy(v, d, rough, nu) if one.friction == "darcy" else hazen(v, d, 150.0)
            return float(curve(q)) - (end + slope * length + 7.3 * v * v / 19.6133)

        found.append(brentq(gap, 0.0, made[p]._flow[-1], xtol=1e-15, rtol=1e-14))
    return np.array(found)


def main() -> None:
    """Print time per point beside the loop, and how far the answers differ."""
    made = pumps()
    rng = np.random.default_rng(3)
    pairs = list(zip(rng.integers(0, PUMPS, SAMPLE), rng.integers(0, LINES, SAMPLE), strict=True))
    for friction, bar in (("hazen_williams", "150 times"), ("darcy", "60 times")):
        one = line(friction)
        took, op = best(lambda one=one: dp.operating_point(made, one))
        flows = op._flow
        ok = [(int(p), int(k)) for p, k in pairs if op._code[p, k] == 0]
        start = time.perf_counter()
        by_hand = loop(made, one, ok)
        each = (time.perf_counter() - start) / len(ok)
        per_point = took / flows.size
        off = np.max(np.abs(by_hand - np.array([flows[p, k] for p, k in ok])) / GPM)
        say(
            f"{PUMPS} x {LINES} {friction}: {per_point * 1e6:.2f} us a point, loop "
            f"{each * 1e6:.0f} us",
            f"{each / per_point:.0f} times",
            f"wanted {bar}; greatest difference {off:.1e} gpm",
        )
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
