"""Friction kernels: laws, oracles, slopes of slopes, and how they treat arrays."""

from __future__ import annotations

from decimal import Decimal, localcontext
from typing import Any

import fluids
import numpy as np
import pytest
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st

from drainpump.physics import friction, laws
from drainpump.physics.constants import GRAVITY

NU = 1.1e-6
few = settings(max_examples=60)
log_reynolds = st.floats(0.0, 8.0)
roughness_ratio = st.one_of(st.just(0.0), st.floats(1e-8, 0.05))


def spread(count: int, low: float, high: float) -> tuple[np.ndarray, np.ndarray]:
    """Reynolds numbers spread evenly by their logarithm, with roughnesses of every size."""
    rng = np.random.default_rng(7)
    re = 10 ** rng.uniform(np.log10(low), np.log10(high), count)
    rough = np.where(rng.random(count) < 0.1, 0.0, 10 ** rng.uniform(-7, np.log10(0.05), count))
    return re, rough


def test_reynolds():
    assert friction.reynolds(2.0, 0.05, 1e-6) == pytest.approx(1e5, rel=1e-15)


def test_laminar_factor_is_64_over_reynolds():
    re = np.array([1e-3, 1.0, 64.0, 1999.9, 2000.0])
    np.testing.assert_allclose(friction.friction_factor(re, 0.01), 64 / re, rtol=1e-15)


def test_turbulent_factor_matches_fluids():
    re, rough = spread(500, 4000, 1e8)
    re[:2], rough[:2] = (4000, 1e8), (0.0, 0.05)
    pairs = zip(re.tolist(), rough.tolist(), strict=True)
    oracle = [fluids.friction.Colebrook(*pair) for pair in pairs]
    # the oracle itself is good to some 2e-14
    np.testing.assert_allclose(friction.friction_factor(re, rough), oracle, rtol=1e-12)


@pytest.mark.parametrize("limit", [0.05, 0.5])
def test_colebrook_is_solved_to_machine_precision(limit):
    re, rough = spread(60, 4000, 1e8)
    rough *= limit / 0.05
    for r, e, f in zip(re, rough, friction.friction_factor(re, rough), strict=True):
        with localcontext() as context:
            context.prec = 30
            a, b = Decimal(e) / Decimal("3.7"), Decimal("2.51") / Decimal(r)
            x = 1 / Decimal(f).sqrt()
            # each round shrinks the error at least fivefold
            for _ in range(40):
                x = -2 * (a + b * x).log10()
            assert abs(Decimal(f) * x * x - 1) < Decimal("4e-15")


@pytest.mark.parametrize("edge", [2000.0, 4000.0])
@pytest.mark.parametrize("rough", [0.0, 1e-4, 0.05])
def test_factor_is_continuous_at_both_ends_of_the_bridge(edge, rough):
    sides = friction.friction_factor(edge * np.array([1 - 1e-12, 1.0, 1 + 1e-12]), rough)
    np.testing.assert_allclose(sides, sides[1], rtol=1e-11)


def test_bridge_is_linear_in_reynolds():
    low, middle, high = friction.friction_factor([2000.0, 3000.0, 4000.0], 0.01)
    assert low == pytest.approx(0.032, rel=1e-15)
    assert middle == pytest.approx((low + high) / 2, rel=1e-14)


@given(log_reynolds, st.floats(1e-6, 1.0), roughness_ratio)
@few
def test_more_flow_always_loses_more_head(log_re, step, rough):
    re = 10.0 ** np.array([log_re, log_re + step])
    before, after = friction.friction_factor(re, rough) * re**2
    assert after > before


@given(st.sampled_from([1999.0, 2000.0, 2001.0, 3999.0, 4000.0, 4001.0]), roughness_ratio)
@few
def test_more_flow_loses_more_head_across_the_bridge(start, rough):
    re = np.linspace(start - 5.0, start + 5.0, 201)
    assert (np.diff(friction.friction_factor(re, rough) * re**2) > 0).all()


@given(st.floats(0.01, 6.0), st.floats(0.01, 0.3), st.floats(0.0, 5e-4))
@few
def test_a_rougher_or_narrower_pipe_never_loses_less(v, bore, wall):
    base = friction.darcy_slope(v, bore, wall, NU)
    # up to rounding: in laminar flow roughness changes nothing
    assert friction.darcy_slope(v, bore, wall + 1e-4, NU) >= base * (1 - 1e-14)
    # narrower at the same flow, not at the same velocity
    assert friction.darcy_slope(v / 0.81, bore * 0.9, wall, NU) > base


def darcy_pair(v: Any, bore: Any, wall: Any, nu: Any) -> tuple[np.ndarray, np.ndarray]:
    with np.errstate(all="ignore"):
        return laws.darcy_weisbach(bore, wall, nu).slope_with_derivative(*laws.floats(v))


def hazen_pair(v: Any, bore: Any, c: Any) -> tuple[np.ndarray, np.ndarray]:
    with np.errstate(all="ignore"):
        return laws.hazen_williams(bore, c).slope_with_derivative(*laws.floats(v))


def test_darcy_slope_is_the_textbook_form():
    v, bore, wall = np.array([0.02, 0.08, 0.5, 3.0]), 0.04, 1.5e-6
    f = friction.friction_factor(v * bore / NU, wall / bore)
    expected = f * v**2 / (2 * GRAVITY * bore)
    np.testing.assert_allclose(friction.darcy_slope(v, bore, wall, NU), expected, rtol=1e-14)


def test_standing_water_loses_nothing():
    slope, derivative = darcy_pair(0.0, 0.04, 1.5e-6, NU)
    assert slope == 0.0
    # laminar: slope = 32 nu V / (g D²)
    assert derivative == pytest.approx(32 * NU / (GRAVITY * 0.04**2), rel=1e-14)
    assert friction.darcy_slope([0.0, 1.0], 0.04, 0.0, NU)[0] == 0.0
    assert hazen_pair(0.0, 0.04, 150) == (0.0, 0.0)


def test_factor_at_rest_is_infinite():
    assert friction.friction_factor(0.0, 0.0) == np.inf


@given(st.floats(1.0, 8.0), roughness_ratio)
@example(np.log10(2500.0), 0.0)
@example(np.log10(3800.0), 0.05)
@few
def test_darcy_derivative_matches_central_difference(log_re, rough):
    bore, re = 0.05, 10.0**log_re
    # not at a kink, where the derivative is one-sided
    assume(min(abs(re / 2000 - 1), abs(re / 4000 - 1)) > 1e-3)
    v = re * NU / bore
    step = v * 1e-5
    ends = friction.darcy_slope([v - step, v + step], bore, rough * bore, NU)
    numeric = (ends[1] - ends[0]) / (2 * step)
    _, analytic = darcy_pair(v, bore, rough * bore, NU)
    # 1e-15 of rounding over a step of 1e-5
    assert analytic == pytest.approx(numeric, rel=2e-9)


@pytest.mark.parametrize("v", [0.001, 0.06, 0.1, 0.5, 5.0])
def test_the_pair_holds_the_single_answer(v):
    darcy = (v, 0.05, 1.5e-6, NU)
    pair = darcy_pair(*darcy)
    assert pair[0] == friction.darcy_slope(*darcy)
    hazen = (v, 0.05, 140.0)
    pair = hazen_pair(*hazen)
    assert pair[0] == friction.hazen_williams_slope(*hazen)


@given(st.floats(0.01, 6.0), st.floats(0.01, 0.3), st.floats(60.0, 160.0))
@few
def test_hazen_williams_gives_the_velocity_back(v, bore, c):
    slope, derivative = hazen_pair(v, bore, c)
    bore_ft, v_fps = bore / 0.3048, v / 0.3048
    again = laws.HAZEN_WILLIAMS_US * c * (bore_ft / 4) ** 0.63 * slope**0.54
    assert again == pytest.approx(v_fps, rel=1e-13)
    assert derivative == pytest.approx(slope / (0.54 * v), rel=1e-13)


def test_the_two_laws_differ_by_less_than_a_tenth_in_small_plastic_pipe():
    # 1-1/4 to 4 in schedule 40 at 15 to 150 gpm, water at 60 °F, C 150, wall from smooth to
    # 0.0021 mm: a fact of the two laws, not an error of either. Darcy is the higher in narrow,
    # slow pipe.
    bore = np.array([1.380, 1.610, 1.610, 2.067, 2.067, 2.067, 3.068, 3.068, 4.026, 4.026]) * 0.0254
    gpm = np.array([15, 20, 30, 20, 40, 60, 60, 100, 100, 150])
    v = gpm * 231 * 0.0254**3 / 60 / (np.pi / 4 * bore**2)
    wall = np.array([[0.0], [1.5e-6], [2.1e-6]])
    darcy = friction.darcy_slope(v, bore, wall, 1.2079e-5 * 0.3048**2)
    percent = 100 * (darcy / friction.hazen_williams_slope(v, bore, 150) - 1)
    assert percent.min() == pytest.approx(-0.45, abs=0.01)
    assert percent.max() == pytest.approx(9.08, abs=0.01)


def darcy_derivative(*arguments: object) -> np.ndarray:
    return darcy_pair(*arguments)[1]


def hazen_derivative(*arguments: object) -> np.ndarray:
    return hazen_pair(*arguments)[1]


CALLS = [
    (friction.reynolds, (1.0, 0.04, NU)),
    (friction.friction_factor, (5e4, 1e-4)),
    (friction.darcy_slope, (1.0, 0.04, 1.5e-6, NU)),
    (darcy_derivative, (1.0, 0.04, 1.5e-6, NU)),
    (friction.hazen_williams_slope, (1.0, 0.04, 150.0)),
    (hazen_derivative, (1.0, 0.04, 150.0)),
]
kernels = pytest.mark.parametrize(("kernel", "arguments"), CALLS)


@kernels
def test_a_nan_stays_in_its_cell(kernel, arguments):
    # speeds across laminar flow, the bridge and turbulent flow
    first = arguments[0] * np.array([0.01, 0.07, 1.0, 2.0])
    clean = kernel(first, *arguments[1:])
    assert np.isfinite(clean).all()
    for position in range(len(arguments)):
        columns = [first, *(np.full(4, x) for x in arguments[1:])]
        columns[position] = columns[position].copy()
        columns[position][2] = np.nan
        answer = kernel(*columns)
        assert np.isnan(answer[2])
        np.testing.assert_allclose(np.delete(answer, 2), np.delete(clean, 2), rtol=1e-14)


@pytest.mark.parametrize("v", [0.0, 0.01, 0.07, 1.0])
@pytest.mark.parametrize("kernel", [friction.darcy_slope, darcy_derivative])
def test_a_nan_roughness_shows_in_every_regime(kernel, v):
    assert np.isnan(kernel(v, 0.04, np.nan, NU))


@kernels
def test_a_scalar_gives_a_float64_without_shape(kernel, arguments):
    for scale in (1.0, 1e-3):
        answer = kernel(np.array(arguments[0] * scale), *arguments[1:])
        assert np.shape(answer) == ()
        assert np.asarray(answer).dtype == np.float64


@kernels
def test_shapes_broadcast_and_a_grid_equals_its_scalars(kernel, arguments):
    rng = np.random.default_rng(3)
    shapes = [(3, 1, 4), (2, 1), (4,), ()]
    columns = [
        x * 10 ** rng.uniform(-1.5, 0.5, shape) for x, shape in zip(arguments, shapes, strict=False)
    ]
    grid = kernel(*columns)
    assert grid.shape == (3, 2, 4)
    even = [np.ravel(c) for c in np.broadcast_arrays(*columns)]
    loop = [kernel(*row) for row in zip(*even, strict=True)]
    np.testing.assert_allclose(grid.ravel(), loop, rtol=1e-13)
    assert (kernel(*columns) == grid).all()


def test_integers_are_numbers():
    assert friction.reynolds(2, 1, 1) == 2.0
    assert friction.hazen_williams_slope(1, 1, 100) > 0
