"""Water from the ground: formulas, the soil's band, and what the pit itself tells."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import drainpump as dp
from drainpump.errors import InputError, UnitError
from drainpump.physics import seepage as physics

_PIPE = {"length_ft": 60, "height_ft": 1, "barrier_ft": 4, "spacing_ft": 30, "bore_in": 6}


@pytest.mark.parametrize(
    ("depth", "spacing", "radius", "moody", "series"),
    [(5, 50, 0.1, 3.019, 2.933), (3, 30, 0.1, 1.966, 1.905), (10, 30, 0.1, 2.587, 2.550),
     (1, 10, 0.05, 0.703, 0.680)],
)  # fmt: skip
def test_two_published_equivalent_depths_agree_to_three_percent(
    depth: float, spacing: float, radius: float, moody: float, series: float
) -> None:
    # worked by hand from the two published formulas
    assert float(physics.equivalent_depth(depth, spacing, radius, method="moody")) == (
        pytest.approx(moody, abs=6e-4)
    )
    assert float(physics.equivalent_depth(depth, spacing, radius)) == pytest.approx(
        series, abs=6e-4
    )


def test_soil_is_a_band_a_hundred_wide() -> None:
    drain = dp.inflow.seepage(soil="sandy loam", **_PIPE)
    assert drain.flow_high_gpm == pytest.approx(100 * drain.flow_low_gpm)
    assert drain.flow_gpm == pytest.approx(10 * drain.flow_low_gpm)
    known = dp.inflow.seepage(conductivity_mm_per_h=16.0, **_PIPE)
    assert known.flow_gpm == pytest.approx(drain.flow_gpm)
    assert known.flow_low_gpm == known.flow_high_gpm == known.flow_gpm


def test_trench_is_dupuits_formula_on_each_side() -> None:
    one, two = (
        dp.inflow.seepage(
            drain="trench", conductivity_mm_per_h=36, length_m=10, height_m=1, barrier_m=0.5,
                   reach_m=8, sides=n)
        for n in (1, 2)
    )  # fmt: skip
    assert one.flow_lps == pytest.approx(1e3 * 1e-5 * (1.5**2 - 0.5**2) / 16 * 10)
    assert two.flow_lps == pytest.approx(2 * one.flow_lps)


def test_refusals() -> None:
    with pytest.raises(InputError) as err:
        dp.inflow.seepage(soil="lome", **_PIPE)
    assert str(err.value) == "soil='lome': not in the table of soils; did you mean 'loam'?"
    with pytest.raises(UnitError) as unit:
        dp.inflow.seepage(**_PIPE)
    assert str(unit.value) == (
        "soil and conductivity: give exactly one of soil, conductivity_in_per_h, "
        "conductivity_mm_per_h."
    )
    with pytest.raises(InputError) as err:
        dp.inflow.seepage(drain="trench", soil="loam", **_PIPE)
    assert str(err.value) == "spacing: is not used for drain='trench'; it takes reach."
    with pytest.raises(InputError) as err:
        dp.inflow.seepage(soil="loam", **(_PIPE | {"bore_in": None}))
    assert str(err.value) == "bore: is needed for drain='pipe'; it takes spacing and bore."


def test_on_and_off_times_give_inflow_and_pump_flow() -> None:
    pit = dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=13)
    cyc = dp.cycle(flow_gpm=34.1, pit=pit, inflow_gpm=10)
    seen = dp.field.inflow_from_cycles(
        working_volume_gal=pit.working_volume_gal, rest_s=cyc.rest_s, run_s=cyc.run_s
    )
    assert (seen.inflow_gpm, seen.flow_gpm) == pytest.approx((10, 34.1))
    assert dp.field.inflow_from_cycles(working_volume_gal=8, rest_s=60).flow_gpm is None


def test_rise_above_the_rim_is_refused() -> None:
    pit = dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=13)
    with pytest.raises(InputError) as err:
        dp.field.inflow_from_rise(pit, rise_in_per_min=1, level_in=31)
    assert str(err.value) == (
        "level 31 in (787 mm): must not be above the pit's rim (30 in (762 mm)); measure the "
        "level from the floor."
    )


def test_rise_counts_the_pump_body_only_beside_it() -> None:
    pit = dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=16, body_volume_gal=2,
                 body_height_in=10)  # fmt: skip
    beside, above = dp.field.inflow_from_rise(pit, rise_in_per_min=2, level_in=[8, 12]).inflow_gpm
    whole = 2 * np.pi / 4 * 18**2 / 231
    assert above == pytest.approx(whole)
    assert beside == pytest.approx(whole - 2 * 2 / 10)
    mean = dp.field.inflow_from_rise(pit, rise_in_per_min=2).inflow_gpm
    assert mean == pytest.approx(0.2 * pit.working_volume_gal)


@settings(max_examples=40, deadline=None)
@given(st.floats(0.0, 20.0), st.floats(3.0, 60.0), st.floats(0.03, 0.3))
def test_equivalent_depth_is_never_more_than_the_true_one(
    depth: float, spacing: float, radius: float
) -> None:
    for method in ("series", "moody"):
        found = float(physics.equivalent_depth(depth, spacing, radius, method=method))
        assert 0 <= found <= depth


@pytest.mark.parametrize("x", [0.05, 0.2, 0.49, 0.5, 0.51, 1.0, 3.0])
def test_equivalent_depth_is_the_series_summed_to_its_end(x: float) -> None:
    # van der Molen and Wesseling, Agricultural Water Management 19, 1991 (second-hand):
    # F = Σ 4 e^(−2nx) / [n (1 − e^(−2nx))] over odd n, x = 2π D/L; here without a short cut
    spacing, radius = 20.0, 0.05
    depth = x * spacing / (2 * np.pi)
    n = np.arange(1, 2001, 2)
    series = np.sum(4 / (n * np.expm1(np.minimum(2 * n * x, 600))))
    want = np.pi * spacing / 8 / (np.log(spacing / (np.pi * radius)) + series)
    # the closed form below 0.5 leaves out terms of e^(−π²/x), 3e-9 at most
    assert float(physics.equivalent_depth(depth, spacing, radius)) == pytest.approx(want, rel=1e-6)


def test_equivalent_depth_of_a_column_is_one_by_one() -> None:
    depth = np.array([[0.5, 2.0, 9.0], [0.03, 1.0, np.nan]])
    grid = physics.equivalent_depth(depth, 20.0, 0.05)
    alone = [[float(physics.equivalent_depth(d, 20.0, 0.05)) for d in row] for row in depth]
    np.testing.assert_allclose(grid, alone, rtol=1e-14)
