"""Lines that drain back, priming, and the weep hole."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import solve_ivp
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

import drainpump as dp
from drainpump.physics import water
from drainpump.physics.constants import GRAVITY
from tests.problems import PUMP_A, PUMP_B, r1_line, r1_pit, slope_of


def open_line(**changes: Any) -> dp.DischargeLine:
    """The reference line in 2.047 in without a check valve, its losses in one K."""
    return r1_line(2.047, fittings={}, k=6.3, check_valve=False, **changes)


def test_reference_line_below_its_threshold() -> None:
    back = dp.drain_back(PUMP_A, open_line(), r1_pit(), inflow_gpm=5)
    # two independent solvers; half a unit of their last digit
    assert back.returned_gal == pytest.approx(25.64, abs=0.006)
    assert back.line_volume_gal == pytest.approx(25.64, abs=0.006)
    assert back.working_volume_gal == pytest.approx(7.71, abs=0.006)
    assert back.threshold_inflow_gpm == pytest.approx(29.1, abs=0.06)
    assert back.threshold_full_line_gpm == pytest.approx(23.8, abs=0.06)
    assert back.priming_s == pytest.approx(37, abs=0.5)
    assert not back.delivers
    assert back.reaches_outlet
    assert back.cycles_to_outlet > 3
    assert 85 <= back.starts_per_h <= 125
    # once settled, just at the lower of the two figures
    assert back.settled_starts_per_h == pytest.approx(85, abs=0.5)
    assert back.message == (
        "endless short cycling: what runs back fills the pit to the on level at each stop, and "
        "the pump restarts at once"
    )
    assert not back.overflows


def test_delivers_in_the_first_cycle_from_the_threshold_on() -> None:
    edge = dp.drain_back(PUMP_A, open_line(), r1_pit(), inflow_gpm=0).threshold_inflow_gpm
    back = dp.drain_back(PUMP_A, open_line(), r1_pit(), inflow_gpm=[edge - 0.05, edge + 0.05])
    assert back.delivers.tolist() == [False, True]
    assert back.cycles_to_outlet.tolist() == [2.0, 1.0]


def _filling_flow(filled: float, level_ft: float) -> float:
    """Flow (gpm) with a share of the reference line full, by another solver; no outlet yet."""
    pipe = open_line().runs[0].pipe
    viscosity = float(water.kinematic_viscosity((59.31 - 32) / 1.8))
    made = PchipInterpolator(PUMP_A.flow_lps / 1000, PUMP_A.head_m)

    def gap(q: float) -> float:
        v = q / (np.pi / 4 * (pipe.bore_mm / 1000) ** 2)
        lost = slope_of(pipe, "darcy", v, viscosity) * 150 * 0.3048 + 6.3 * v**2 / (2 * GRAVITY)
        return float(made(q) - max(filled * (6 * 0.3048 + lost), 0) + level_ft * 0.3048)

    last = 50 * 231 * 0.0254**3 / 60
    q = last if gap(last) >= 0 else brentq(gap, 0, last)
    return q / (231 * 0.0254**3 / 60)


def test_threshold_by_another_solver() -> None:
    volume, area = 150 * 12 * np.pi / 4 * 2.047**2 / 231, np.pi / 4 * 18**2 / 231
    start = 7 * area

    def left(inflow: float) -> float:
        def rate(v: float, t: Any) -> list[float]:
            level = max((start - v + inflow * t[0] / 60) / area / 12, 0.0)
            return [60 / _filling_flow(v / volume, level)]

        time = solve_ivp(rate, (0, volume), [0.0], rtol=1e-6, max_step=volume / 8).y[0, -1]
        return float(start + inflow * time / 60 - volume)

    back = dp.drain_back(PUMP_A, open_line(), r1_pit(), inflow_gpm=0)
    assert _filling_flow(1.0, 0.0) == pytest.approx(34.6, abs=0.06)
    # the table of 40 fillings and 7 levels is good to a few in ten thousand
    assert back.threshold_inflow_gpm == pytest.approx(brentq(left, 25, 35, xtol=1e-3), rel=1e-3)


def test_small_pit_spills_before_it_holds_a_line() -> None:
    small = r1_pit(depth_in=22)
    back = dp.drain_back(PUMP_A, open_line(), small, inflow_gpm=[2, 5, 20])
    assert back.overflows.tolist() == [True, True, True]
    assert back.reaches_outlet.tolist() == [False, False, True]
    assert back.pattern.tolist() == ["never_delivers", "never_delivers", "short_cycling"]
    assert back.net_gal[:2].tolist() == [0.0, 0.0]
    assert np.isinf(back.first_water_s[:2]).all()


@settings(max_examples=15, deadline=None)
@given(st.floats(1, 33), st.floats(40, 300), st.floats(0, 12), st.floats(1.4, 3))
def test_water_is_conserved(inflow: float, length: float, lift: float, bore: float) -> None:
    line = dp.straight_line(
        pipe=dp.Pipe(bore_in=bore), length_ft=length, lift_ft=lift, k=4, check_valve=False
    )
    pit = dp.Pit(diameter_in=36, depth_in=60, off_in=6, on_in=13)
    back = dp.drain_back(PUMP_A, line, pit, inflow_gpm=inflow)
    if back.pattern in ("cycles", "short_cycling") and not back.overflows:
        # what leaves by the outlet in an hour is what came
        assert back.net_gal * back.settled_starts_per_h / 60 == pytest.approx(inflow, rel=1e-9)
    assert back.delivers == (inflow >= back.threshold_inflow_gpm) or inflow == pytest.approx(
        back.threshold_inflow_gpm, rel=1e-3
    )


def test_more_inflow_never_takes_more_cycles_to_reach_the_outlet() -> None:
    # the time may rise within one number of cycles: each then runs longer
    back = dp.drain_back(PUMP_A, open_line(), r1_pit(), inflow_gpm=np.linspace(1, 33, 40))
    assert (np.diff(back.cycles_to_outlet) <= 0).all()
    assert back.first_water_s[-1] < back.first_water_s[0] / 20


def test_check_valve_holds() -> None:
    line = r1_line(2.047)
    back = dp.drain_back(PUMP_A, line, r1_pit(), inflow_gpm=10)
    cyc = dp.cycle(PUMP_A, line, r1_pit(), inflow_gpm=10)
    assert (back.returned_gal, back.threshold_inflow_gpm, back.delivers) == (0.0, 0.0, True)
    assert back.pattern == "holds"
    assert back.starts_per_h == pytest.approx(cyc.starts_per_h, rel=1e-4)
    assert back.net_gal == pytest.approx(10 / 60 * (cyc.run_s + cyc.rest_s), rel=1e-4)


def test_short_line_rests_between_runs() -> None:
    line = dp.straight_line(
        pipe=dp.Pipe(bore_in=1.59), length_ft=20, lift_ft=8, k=3, check_valve=False
    )
    back = dp.drain_back(PUMP_A, line, r1_pit(), inflow_gpm=5)
    assert back.returned_gal < back.working_volume_gal
    assert (back.pattern, back.delivers, back.threshold_inflow_gpm) == ("cycles", True, 0.0)


def test_pump_that_cannot_fill_the_line_stalls() -> None:
    line = open_line(lift_ft=25)
    back = dp.drain_back(PUMP_A, line, r1_pit(), inflow_gpm=5)
    assert (back.status, back.pattern, back.starts_per_h) == ("no_flow", "stalls", 0.0)
    assert np.isinf(back.priming_s)
    assert not back.delivers


def test_a_trickle_reaches_the_outlet_too_after_thousands_of_cycles() -> None:
    # water is conserved: a tenth of the inflow needs ten times the cycles
    back = dp.drain_back(PUMP_A, open_line(), r1_pit(), inflow_gpm=[0.2, 0.01, 0.001])
    assert back.reaches_outlet.all()
    assert not back.overflows.any()
    each = back.cycles_to_outlet * back.inflow_gpm
    np.testing.assert_allclose(each, each[0], rtol=0.02)
    assert set(back.pattern) == {"short_cycling"}


def test_where_the_pump_stalls_no_cycle_ever_reaches_the_outlet() -> None:
    line = open_line(lift_ft=[6, float("nan"), 25])
    back = dp.drain_back([PUMP_A, PUMP_B], [line, line], r1_pit(), inflow_gpm=[5, 5, 0])
    assert back.status[0, 0].tolist() == ["ok", "bad_input", "no_flow"]
    stuck = dp.drain_back(PUMP_A, open_line(lift_ft=25), r1_pit(), inflow_gpm=5)
    assert (stuck.pattern, stuck.delivers, stuck.reaches_outlet) == ("stalls", False, False)
    assert stuck.cycles_to_outlet == stuck.first_water_s == float("inf")
    assert stuck.overflows


def test_patterns_at_the_ends_and_a_nan_in_its_cell() -> None:
    flows = np.array([0.0, 34.3, 45.0, np.nan, 10.0])
    back = dp.drain_back([PUMP_A, PUMP_B], [open_line()], r1_pit(), inflow_gpm=flows)
    assert back.pattern[0, 0].tolist() == [
        "idle", "runs_on", "falls_behind", "unknown", "short_cycling",
    ]  # fmt: skip
    alone = dp.drain_back(PUMP_B, open_line(), r1_pit(), inflow_gpm=10)
    assert back.starts_per_h[1, 0, 4] == pytest.approx(alone.starts_per_h, rel=1e-12)
    assert np.isnan(back.starts_per_h[0, 0, 3])


def test_dip_keeps_its_water_after_the_first_cycle() -> None:
    pipe = dp.Pipe(bore_in=1.59)
    runs = [
        dp.Run(pipe=pipe, length_ft=10, rise_ft=8),
        dp.Run(pipe=pipe, length_ft=40, rise_ft=-3),
        dp.Run(pipe=pipe, length_ft=20, rise_ft=2),
    ]
    line = dp.DischargeLine(runs=runs, check_valve=False)
    back = dp.drain_back(PUMP_A, line, r1_pit(), inflow_gpm=5)
    gallons = np.pi / 4 * 1.59**2 * 12 / 231  # per foot
    # the riser runs back; the dip fills up to 7 ft, two thirds of the run down
    assert back.returned_gal == pytest.approx(10 * gallons)
    assert back.line_volume_gal == pytest.approx((10 + 40 * 2 / 3 + 20) * gallons)
    assert back.reaches_outlet


def test_weep_hole_takes_what_an_orifice_takes() -> None:
    line = r1_line(2.047)
    loss = dp.weep_loss(PUMP_A, line, hole_in=[0.125, 0.1875, 0.25])
    head = line.head(flow_gpm=loss.flow_gpm).head_m
    area = np.pi / 4 * (np.array([0.125, 0.1875, 0.25]) * 0.0254) ** 2
    orifice = 0.6 * area * np.sqrt(2 * GRAVITY * head) / (231 * 0.0254**3 / 60)
    np.testing.assert_allclose(loss.weep_gpm, orifice, rtol=1e-9)
    made = PUMP_A.head(flow_gpm=loss.flow_gpm + loss.weep_gpm).head_m
    np.testing.assert_allclose(made, head, rtol=1e-8)
    assert (np.diff(loss.flow_gpm) < 0).all()
    assert loss.without_gpm == pytest.approx(34.06, abs=0.01)


def test_weep_hole_that_takes_all_leaves_no_flow() -> None:
    loss = dp.weep_loss(PUMP_A, r1_line(2.047), hole_in=[0.1875, float("nan"), 3])
    assert loss.status.tolist() == ["ok", "bad_input", "all_lost"]
    assert loss.flow_gpm[2] == 0
    assert np.isnan(loss.flow_gpm).tolist() == [False, True, False]
    assert np.isnan(loss.weep_gpm).tolist() == [False, True, True]


def test_refusals() -> None:
    with pytest.raises(dp.InputError) as err:
        dp.drain_back(PUMP_A, open_line(), None, inflow_gpm=5)  # type: ignore[arg-type]
    assert str(err.value) == "pit=None: must be a Pit; make one with Pit(...)."
    with pytest.raises(dp.InputError) as err:
        dp.weep_loss(PUMP_A, open_line(), hole_in=0)
    assert str(err.value) == (
        "hole_in=0: must be more than 0 in and at most 39.37 in; give the hole's diameter."
    )
    with pytest.raises(dp.InputError) as err:
        dp.high_point(PUMP_A, open_line(), 18)  # type: ignore[arg-type]
    assert str(err.value) == "pit=18: must be a Pit; make one with Pit(...)."


def test_weep_of_a_worn_pump_is_that_of_its_worn_curve() -> None:
    worn = PUMP_A.worn(head=0.8, flow=0.9)
    data = dp.PumpCurve(name="w", flow_gpm=0.9 * PUMP_A.flow_gpm, head_ft=0.8 * PUMP_A.head_ft)
    got, want = (
        dp.weep_loss(p, r1_line(2.047), hole_in=[0.1, 0.2, 3], discharge_coefficient=0.7)
        for p in (worn, data)
    )
    assert got.status.tolist() == want.status.tolist() == ["ok", "ok", "all_lost"]
    np.testing.assert_allclose(got.flow_gpm, want.flow_gpm, rtol=1e-9)
    np.testing.assert_allclose(got.weep_gpm, want.weep_gpm, rtol=1e-9)
    short = dp.PumpCurve(name="s", flow_gpm=[0, 20], head_ft=[20, 17])
    past = dp.weep_loss(short, r1_line(2.047), hole_in=[0.1, 0.2])
    assert past.status.tolist() == ["beyond_curve", "beyond_curve"]
    assert np.isnan(past.flow_gpm).all()
