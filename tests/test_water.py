"""Water properties against the IAPWS formulations, and how the kernels treat arrays."""

from __future__ import annotations

import iapws
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drainpump.physics import water

KERNELS = [
    water.density,
    water.dynamic_viscosity,
    water.kinematic_viscosity,
    water.vapour_pressure,
]


@pytest.fixture(scope="module")
def celsius() -> np.ndarray:
    # from just above the triple point, where the oracle begins
    return np.linspace(0.02, 39.99, 21)


@pytest.fixture(scope="module")
def liquid(celsius: np.ndarray) -> list[iapws.IAPWS95]:
    return [iapws.IAPWS95(T=t + 273.15, P=0.101325) for t in celsius]


# The tolerances are the largest deviations the docstrings state.
@pytest.mark.parametrize(
    ("kernel", "name", "stated"),
    [
        (water.density, "rho", 1.2e-6),
        (water.dynamic_viscosity, "mu", 3.1e-5),
        (water.kinematic_viscosity, "nu", 3.0e-5),
    ],
)
def test_liquid_matches_iapws(kernel, name, stated, celsius, liquid):
    expected = [getattr(state, name) for state in liquid]
    np.testing.assert_allclose(kernel(celsius), expected, rtol=stated)


def test_vapour_pressure_matches_iapws(celsius):
    expected = [iapws.IAPWS95(T=t + 273.15, x=0).P * 1e6 for t in celsius]
    np.testing.assert_allclose(water.vapour_pressure(celsius), expected, rtol=7.2e-5)


def test_water_at_59_31_f_has_the_viscosity_of_the_worked_problem():
    nu_ft2_per_s = water.kinematic_viscosity((59.31 - 32) / 1.8) / 0.3048**2
    assert nu_ft2_per_s == pytest.approx(1.22e-5, rel=5e-5)


def test_water_is_densest_near_4_degrees():
    t = np.linspace(0.0, 40.0, 4001)
    assert t[np.argmax(water.density(t))] == pytest.approx(3.98, abs=0.02)


@given(st.floats(0.0, 39.9))
@settings(max_examples=50)
def test_warmer_water_is_thinner_and_evaporates_more(t):
    assert water.kinematic_viscosity(t + 0.1) < water.kinematic_viscosity(t)
    assert water.vapour_pressure(t + 0.1) > water.vapour_pressure(t)


@pytest.mark.parametrize("kernel", KERNELS)
def test_outside_the_range_is_nan(kernel):
    answers = kernel(np.array([-5.0, -0.001, 0.0, 20.0, 40.0, 40.001, 90.0, np.inf, np.nan]))
    expected = [True, True, False, False, False, True, True, True, True]
    assert np.isnan(answers).tolist() == expected


@pytest.mark.parametrize("kernel", KERNELS)
def test_a_rounding_error_at_the_ends_is_inside(kernel):
    assert np.isfinite(kernel([-1e-14, 40.0 + 1e-14])).all()


@pytest.mark.parametrize("kernel", KERNELS)
def test_an_array_equals_its_scalars(kernel):
    t = np.linspace(0.0, 40.0, 24).reshape(2, 3, 4)
    grid = kernel(t)
    assert grid.shape == t.shape
    assert grid.dtype == np.float64
    np.testing.assert_allclose(grid.ravel(), [kernel(x) for x in t.ravel()], rtol=1e-14)


@pytest.mark.parametrize("kernel", KERNELS)
@pytest.mark.parametrize("scalar", [20, 20.0, np.float64(20.0), np.array(20.0)])
def test_a_scalar_gives_a_float64_without_shape(kernel, scalar):
    answer = kernel(scalar)
    assert np.shape(answer) == ()
    assert np.asarray(answer).dtype == np.float64
