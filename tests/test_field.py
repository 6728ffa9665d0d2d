"""Field tests: the flow, its error, and what is refused."""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import drainpump as dp
from tests.problems import PUMP_A, r1_line

PIT = dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=13)
GALLON_IN3 = 231


def test_drawdown_without_inflow() -> None:
    test = dp.field.drawdown_test(PIT, from_in=13, to_in=6, run_s=14.0)
    assert test.flow_gpm == pytest.approx(33.05, abs=0.005)
    # by hand: levels 0.25·√2/7, interval 0.5/14, diameter 2·0.25/18
    by_hand = np.sqrt((0.25 * np.sqrt(2) / 7) ** 2 + (0.5 / 14) ** 2 + (2 * 0.25 / 18) ** 2)
    assert test.sigma_gpm / test.flow_gpm == pytest.approx(by_hand, rel=1e-12)
    assert test.sigma_gpm / test.flow_gpm == pytest.approx(0.068, abs=0.0005)
    assert sum(test.shares.values()) == pytest.approx(1)
    assert max(test.shares, key=test.shares.__getitem__) == "levels"


def test_drawdown_allows_for_inflow() -> None:
    test = dp.field.drawdown_test(PIT, from_in=13, to_in=6, run_s=21.0, inflow_gpm=11)
    assert test.flow_gpm == pytest.approx(33.0, abs=0.05)
    assert test.inflow_gpm == 11


def test_the_sigma_is_that_of_readings_drawn_at_random() -> None:
    # linear propagation against 40,000 draws; their sampling error is about 0.4 %
    rng = np.random.default_rng(1)
    n = 40_000
    area = np.pi / 4 * (18 + 0.25 * rng.standard_normal(n)) ** 2
    drop = 7 + 0.25 * (rng.standard_normal(n) - rng.standard_normal(n))
    run = 21 + 0.5 * rng.standard_normal(n)
    flow = area * drop / GALLON_IN3 / run * 60 + 11 + 1.1 * rng.standard_normal(n)
    test = dp.field.drawdown_test(PIT, from_in=13, to_in=6, run_s=21, inflow_gpm=11)
    assert test.sigma_gpm == pytest.approx(flow.std(), rel=0.015)


def test_drawdown_allows_for_body_and_what_ran_back() -> None:
    bulky = dp.Pit(
        diameter_in=18, depth_in=30, off_in=6, on_in=13, body_volume_gal=2, body_height_in=10
    )
    plain = dp.field.drawdown_test(PIT, from_in=13, to_in=6, run_s=14)
    test = dp.field.drawdown_test(bulky, from_in=13, to_in=6, run_s=14)
    # the body stands in 4 of the 7 in, with 0.2 gal an inch
    assert test.flow_gpm == pytest.approx(plain.flow_gpm - 0.8 / 14 * 60, rel=1e-12)
    back = dp.field.drawdown_test(PIT, from_in=13, to_in=6, run_s=14, returned_gal=1.4)
    assert back.flow_gpm == pytest.approx(plain.flow_gpm + 6.0, rel=1e-12)


def test_a_rectangular_pit_has_two_sides_in_doubt() -> None:
    pit = dp.Pit(length_in=20, width_in=10, depth_in=30, off_in=6, on_in=13)
    exact = {"level_error_in": 0, "interval_error_s": 0}
    test = dp.field.drawdown_test(
        pit, from_in=13, to_in=6, run_s=14, diameter_error_in=0.3, **exact
    )
    share = np.hypot(0.3 / 20, 0.3 / 10)
    assert test.sigma_gpm / test.flow_gpm == pytest.approx(share, rel=1e-12)


def test_cycle_log_without_a_meter() -> None:
    log = dp.field.cycle_log(working_volume_gal=7.7, rest_s=46.2, run_s=19.17)
    assert log.inflow_gpm == pytest.approx(10.0, abs=0.05)
    assert log.flow_gpm == pytest.approx(34.1, abs=0.05)


def test_cycle_log_finds_the_engine_s_flow_again() -> None:
    cyc = dp.cycle(flow_gpm=34.1, pit=PIT, inflow_gpm=10)
    log = dp.field.cycle_log(PIT, rest_s=cyc.rest_s, run_s=cyc.run_s)
    assert (log.flow_gpm, log.inflow_gpm) == pytest.approx((34.1, 10), rel=1e-9)
    assert log.level_above_off_ft == pytest.approx(3.5 / 12)


def test_cycle_log_allows_for_what_runs_back() -> None:
    log = dp.field.cycle_log(working_volume_gal=7.7, rest_s=40, run_s=20, returned_gal=1.7)
    assert log.inflow_gpm == pytest.approx(9.0)
    assert log.flow_gpm == pytest.approx(7.7 * 3 + 9)


def test_bucket() -> None:
    test = dp.field.bucket_test(volume_gal=5, fill_s=15)
    assert test.flow_gpm == pytest.approx(20)
    assert test.sigma_gpm == pytest.approx(20 * np.hypot(0.1 / 5, 0.5 / 15))
    assert test.place == "outlet"


def test_gauge_reads_the_operating_point_back() -> None:
    op = dp.operating_point(PUMP_A, r1_line())
    still = op.head_ft - op.velocity_fps**2 / 2 / 32.174 - 2
    # 62.37 lb/ft³ at 59.31 °F
    pressure = still * 62.37 / 144
    test = dp.field.gauge_test(
        PUMP_A, pressure_psi=pressure, gauge_above_water_ft=2, bore_in=1.59, water_f=59.31
    )
    assert test.head_ft == pytest.approx(14.72, abs=0.01)
    assert test.flow_gpm == pytest.approx(25.68, abs=0.03)
    assert test.head_sigma_ft == pytest.approx(np.hypot(0.3 * 144 / 62.37, 0.5 / 12), rel=1e-3)


def test_gauge_sigma_follows_the_slope_of_the_curve() -> None:
    def at(psi: float) -> dp.field.FieldTest:
        return dp.field.gauge_test(
            PUMP_A, pressure_psi=psi, gauge_above_water_ft=2, bore_in=1.59, height_error_in=0,
            pressure_error_psi=0.02,
        )  # fmt: skip

    moved = (at(5.48).flow_gpm - at(5.52).flow_gpm) / 2
    assert at(5.5).sigma_gpm == pytest.approx(moved, rel=1e-3)


def test_gauge_with_the_valve_shut_reads_the_shutoff_head() -> None:
    test = dp.field.gauge_test(
        PUMP_A, pressure_psi=7.8, gauge_above_water_ft=2, bore_in=1.59, valve_shut=True
    )
    assert test.kind == "gauge, valve shut"
    assert (test.flow_gpm, test.sigma_gpm) == (0, 0)
    assert test.head_ft == pytest.approx(2 + 7.8 * 144 / 62.37, rel=1e-3)


def test_gauge_above_the_curve_by_its_error_keeps_its_head() -> None:
    test = dp.field.gauge_test(PUMP_A, pressure_psi=7.9, gauge_above_water_ft=2)
    assert test.status == "off_curve"
    assert np.isnan(test.flow_gpm)
    assert test.head_ft > 20


@given(st.floats(7, 30), st.floats(0, 6.5), st.floats(5, 500), st.floats(0, 60), st.floats(0.01, 1))
@settings(max_examples=60, deadline=None)
def test_both_spellings_agree(
    start: float, end: float, run: float, inflow: float, error: float
) -> None:
    us = dp.field.drawdown_test(
        PIT, from_in=start, to_in=end, run_s=run, inflow_gpm=inflow, level_error_in=error
    )
    metric = dp.field.drawdown_test(
        PIT, from_mm=25.4 * start, to_mm=25.4 * end, run_s=run,
        inflow_lps=inflow * 0.0630901964, level_error_mm=25.4 * error,
    )  # fmt: skip
    assert metric.flow_lps == pytest.approx(us.flow_lps, rel=1e-9)
    assert metric.sigma_gpm == pytest.approx(us.sigma_gpm, rel=1e-9)


def test_a_grid_is_a_loop_of_scalars_and_a_nan_stays_in_its_cell() -> None:
    runs, starts = np.array([14.0, np.nan, 21.0]), np.array([[13.0], [12.0]])
    test = dp.field.drawdown_test(PIT, from_in=starts, to_in=6, run_s=runs)
    assert test.flow_gpm.shape == test.sigma_gpm.shape == (2, 3)
    for i, j in np.ndindex(2, 3):
        if j == 1:
            assert test.status[i, j] == "bad_input"
            continue
        one = dp.field.drawdown_test(PIT, from_in=starts[i, 0], to_in=6, run_s=runs[j])
        assert test.flow_gpm[i, j] == pytest.approx(one.flow_gpm)
        assert test.sigma_gpm[i, j] == pytest.approx(one.sigma_gpm)
    assert (test.to_frame("metric").columns == [
        "axis_0", "axis_1", "flow_lps", "sigma_lps", "inflow_lps", "level_above_off_m", "status",
    ]).all()  # fmt: skip


def test_an_unknown_error_is_bad_input() -> None:
    test = dp.field.drawdown_test(PIT, from_in=13, to_in=6, run_s=14, level_error_in=np.nan)
    assert test.status == "bad_input"
    gauge = dp.field.gauge_test(
        PUMP_A, pressure_psi=6, gauge_above_water_ft=2, pressure_error_psi=np.nan
    )
    assert gauge.status == "bad_input"


BAD = {
    "rising level": (
        lambda: dp.field.drawdown_test(PIT, from_in=6, to_in=13, run_s=14),
        "drawdown_test: from 6 in (152 mm) to 13 in (330 mm) in 14 s and the inflow given make "
        "a pump flow of 0 or less; check which level came first, and the inflow.",
    ),
    "above the rim": (
        lambda: dp.field.drawdown_test(PIT, from_in=31, to_in=6, run_s=14),
        "from level 31 in (787 mm): must not be above the pit's rim (30 in (762 mm)); measure "
        "the level from the floor.",
    ),
    "no time": (
        lambda: dp.field.drawdown_test(PIT, from_in=13, to_in=6, run_s=0),
        "run_s=0: must be more than 0; read it again.",
    ),
    "no level": (
        lambda: dp.field.drawdown_test(PIT, from_in=13, run_s=14),
        "to: no value given; give exactly one of to_in, to_mm.",
    ),
    "no pit": (
        lambda: dp.field.drawdown_test(18, from_in=13, to_in=6, run_s=14),  # type: ignore[arg-type]
        "pit=18: must be a Pit; make one with Pit(...).",
    ),
    "negative error": (
        lambda: dp.field.drawdown_test(PIT, from_in=13, to_in=6, run_s=14, level_error_in=-1),
        "level_error_in=-1: must be finite and 0 in or more; give 0 or more.",
    ),
    "empty bucket": (
        lambda: dp.field.bucket_test(volume_gal=0, fill_s=10),
        "volume_gal=0: must be more than 0; read it again.",
    ),
    "pit and volume": (
        lambda: dp.field.cycle_log(PIT, working_volume_gal=7.7, rest_s=40, run_s=20),
        "cycle_log: give a pit, or its working_volume_gal (or _l), and not both.",
    ),
    "all runs back": (
        lambda: dp.field.cycle_log(working_volume_gal=7.7, rest_s=40, run_s=20, returned_gal=8),
        "returned 8 gal (30.3 L): must be less than the working volume (7.7 gal (29.1 L)); the "
        "pump would start again at once.",
    ),
    "gauge without head": (
        lambda: dp.field.gauge_test(PUMP_A, pressure_psi=0.1, gauge_above_water_ft=-2),
        "pressure 0.1 psi (0.689 kPa): the pump would make no head at all; check the gauge's "
        "height, which is positive above the water.",
    ),
}


@pytest.mark.parametrize("case", BAD)
def test_the_impossible_is_refused(case: str) -> None:
    make, message = BAD[case]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", dp.UnusualValueWarning)
        with pytest.raises(dp.InputError) as err:
            make()
    assert str(err.value) == message


def test_a_gauge_far_above_the_curve_is_refused() -> None:
    with pytest.raises(dp.InputError) as err:
        dp.field.gauge_test(PUMP_A, pressure_psi=12, gauge_above_water_ft=2)
    assert str(err.value) == (
        "pressure 12 psi (82.7 kPa): stands for 29.7 ft (9.05 m), above the 20 ft (6.1 m) "
        "that 'A' makes at most; check the gauge, its height and the curve."
    )


def test_water_may_rise_while_the_pump_runs_behind() -> None:
    test = dp.field.drawdown_test(PIT, from_in=6, to_in=13, run_s=60, inflow_gpm=40)
    assert test.flow_gpm == pytest.approx(40 - 7.711, abs=0.001)


def test_each_test_says_what_it_is_and_whose_error_counts() -> None:
    bucket = dp.field.bucket_test(
        volume_gal=5, fill_s=14, volume_error_gal=0.1, interval_error_s=0.3, level_above_off_ft=0.3
    )
    cycles = dp.field.cycle_log(
        working_volume_gal=8, rest_s=100, run_s=20, returned_gal=1, volume_error_gal=0.4,
        interval_error_s=0.5,
    )  # fmt: skip
    fall = dp.field.drawdown_test(
        PIT, from_in=13, to_in=7, run_s=20, inflow_gpm=2, level_error_in=0.2, interval_error_s=0.4,
        diameter_error_in=0.1, inflow_error_gpm=0.5,
    )  # fmt: skip
    meter = dp.field.meter_test(flow_gpm=22, sigma_gpm=0.5, level_above_off_m=0.1)
    gauge = dp.field.gauge_test(PUMP_A, pressure_psi=3, gauge_above_water_ft=2)
    shut = dp.field.gauge_test(PUMP_A, pressure_psi=7, gauge_above_water_ft=2, valve_shut=True)
    assert [(t.kind, t.place, list(t.shares)) for t in (bucket, cycles, fall, meter, gauge)] == [
        ("bucket", "outlet", ["volume", "interval"]),
        ("cycle log", "pit", ["volume", "run", "rest"]),
        ("drawdown", "pit", ["levels", "interval", "diameter", "inflow"]),
        ("meter", "outlet", ["meter"]),
        ("gauge", "pit", ["pressure", "height"]),
    ]
    assert (shut.kind, shut.place, shut.flow_gpm) == ("gauge, valve shut", "pit", 0.0)
    assert (bucket.level_above_off_ft, meter.level_above_off_m) == pytest.approx((0.3, 0.1))
    # mean of the two levels, above the off level of 6 in
    assert fall.level_above_off_ft == pytest.approx(4 / 12)
    assert (bucket.inflow_gpm, meter.inflow_gpm, meter.head_ft) == (None, None, None)


def test_errors_by_hand() -> None:
    # linear propagation: each reading's error times the slope of the flow on it, gpm
    bucket = dp.field.bucket_test(
        volume_gal=5, fill_s=14, volume_error_gal=0.1, interval_error_s=0.3
    )
    parts = np.array([0.1 / 14, 5 / 14**2 * 0.3]) * 60
    assert bucket.sigma_gpm == pytest.approx(np.hypot(*parts), rel=1e-12)
    assert list(bucket.shares.values()) == pytest.approx(parts**2 / np.sum(parts**2))

    log = dp.field.cycle_log(
        working_volume_gal=8, rest_s=100, run_s=20, returned_gal=1, volume_error_gal=0.4,
        interval_error_s=0.5,
    )  # fmt: skip
    # what ran back after a stop came out of the line: it fills with 7 gal, and 8 are pumped
    assert log.inflow_gpm == pytest.approx(7 / 100 * 60)
    assert log.flow_gpm == pytest.approx((8 / 20 + 7 / 100) * 60)
    parts = np.array([(1 / 20 + 1 / 100) * 0.4, 8 / 20**2 * 0.5, 7 / 100**2 * 0.5]) * 60
    assert log.sigma_gpm == pytest.approx(np.sqrt(np.sum(parts**2)), rel=1e-12)
    assert list(log.shares.values()) == pytest.approx(parts**2 / np.sum(parts**2))

    fall = dp.field.drawdown_test(
        PIT, from_in=13, to_in=7, run_s=20, inflow_gpm=2, level_error_in=0.2, interval_error_s=0.4,
        diameter_error_in=0.1, inflow_error_gpm=0.5,
    )  # fmt: skip
    area = np.pi / 4 * 18**2 / GALLON_IN3
    drained = 6 * area / 20 * 60
    assert fall.flow_gpm == pytest.approx(drained + 2, rel=1e-12)
    parts = np.array([
        np.sqrt(2) * 0.2 * area / 20 * 60, drained * 0.4 / 20, drained * 2 * 0.1 / 18, 0.5,
    ])  # fmt: skip
    assert fall.sigma_gpm == pytest.approx(np.sqrt(np.sum(parts**2)), rel=1e-12)
    assert list(fall.shares.values()) == pytest.approx(parts**2 / np.sum(parts**2))


def test_both_pit_and_litres_give_a_cycle_log() -> None:
    of_pit = dp.field.cycle_log(PIT, rest_s=50, run_s=20, volume_error_gal=0.2)
    litres = dp.field.cycle_log(
        working_volume_l=PIT.working_volume_l, rest_s=50, run_s=20, volume_error_gal=0.2
    )
    assert litres.flow_gpm == pytest.approx(of_pit.flow_gpm, rel=1e-12)
    assert litres.sigma_gpm == pytest.approx(of_pit.sigma_gpm, rel=1e-12)
