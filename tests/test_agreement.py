"""The fast solver against scipy's bracketing one, on a million random pairs of pump and line."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator
from scipy.optimize import elementwise

import drainpump as dp
from drainpump.physics import system

PUMPS, LINES = 250, 1000


def falling(rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """A curve that falls unevenly; it may end above no head."""
    count = int(rng.integers(2, 12))
    flow = np.append(0.0, np.cumsum(rng.uniform(0.5, 12.0, count)))
    fall = np.append(0.0, np.cumsum(rng.exponential(1.0, count)))
    return flow, rng.uniform(3, 60) * (1 - rng.uniform(0.3, 1.0) * fall / fall[-1])


def flat(rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """A falling curve with one or more level stretches, or level from end to end."""
    flow, head = falling(rng)
    level = rng.random(head.size - 1) < rng.choice([0.3, 0.6, 1.0])
    fall = np.where(level, 0.0, np.diff(head))
    return flow, head[0] + np.append(0.0, np.cumsum(fall))


def drooping(rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """A curve that rises to its second or third point and then falls."""
    flow, head = falling(rng)
    peak = min(int(rng.integers(1, 3)), head.size - 2)
    head[:peak] = head[peak] * rng.uniform(0.7, 0.99, peak)
    return flow, head


def lines(rng: np.random.Generator, friction: str) -> dp.DischargeLine:
    """Lines of every length, bore and lift, some to an outlet below the water."""
    return dp.straight_line(
        pipe=dp.Pipe(bore_in=rng.uniform(1.0, 4.1, LINES)),
        length_ft=20 + 10 ** rng.uniform(0, 3, LINES),
        lift_ft=rng.uniform(-2, 18, LINES),
        k=rng.uniform(0, 12, LINES),
        friction=friction,
        outlet=dp.FreeOutlet(lid_ft=rng.choice([0.0, 0.25, 1.0], LINES)),
    )


@pytest.mark.parametrize("shape", [falling, flat, drooping])
@pytest.mark.parametrize("friction", ["darcy", "hazen_williams"])
def test_random_pairs_agree_with_a_bracketing_solver(shape, friction):
    rng = np.random.default_rng(20)
    points = [shape(rng) for _ in range(PUMPS // (1 if shape is falling else 2))]
    pumps = [dp.PumpCurve(name="P", flow_gpm=q, head_ft=h) for q, h in points]
    line = lines(rng, friction)
    op = dp.operating_point(pumps, line)
    arrays = op._grid.line
    solved = 0
    for pump, flow, status in zip(pumps, op._flow, op.status, strict=True):
        curve = PchipInterpolator(pump._flow, pump._head)

        def gap(q, i, curve=curve):
            return curve(q) - system.head(q, arrays.map(lambda _, a: a[..., i]))

        ok = np.flatnonzero(status == "ok")
        solved += ok.size
        # where the head rises at first, the operating point lies behind the highest
        top = float(pump._flow[np.argmax(pump._head)]) if shape is drooping else 0.0
        low, high = np.full(ok.size, top), np.full(ok.size, pump._flow[-1])
        ends = gap(low, ok), gap(high, ok)
        before = ends[0] < 0  # settled on the rising side; only the drooping have it
        assert shape is drooping or not before.any()
        found = elementwise.find_root(gap, (low, high), args=(ok,))
        wanted = np.where(ends[1] == 0, high, np.where(ends[0] == 0, low, found.x))[~before]
        fast, one = flow[ok][~before], ok[~before]
        # both in head: the one solver's flow asks what the other's asks, and the pump makes it
        line_i = arrays.map(lambda _, a, one=one: a[..., one])
        asked = system.head(fast, line_i)
        np.testing.assert_allclose(asked, system.head(wanted, line_i), rtol=0, atol=1e-9)
        np.testing.assert_allclose(curve(fast), asked, rtol=0, atol=1e-9)
        # and where there is no answer there is no crossing
        no_flow, beyond = (np.flatnonzero(status == s) for s in ("no_flow", "beyond_curve"))
        assert (gap(np.zeros(no_flow.size), no_flow) <= 0).all()
        assert (gap(np.full(beyond.size, pump._flow[-1]), beyond) > 0).all()
    assert solved > 0.2 * op._flow.size
