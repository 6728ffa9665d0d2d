"""The rough side checks, worked out again by hand."""

from __future__ import annotations

import numpy as np
import pytest

import drainpump as dp
from drainpump.physics import surge, water
from drainpump.physics.constants import GRAVITY
from tests.problems import DROOPING, PUMP_A, r1_line

PSI = 4.4482216152605 / 0.0254**2
WEIGHT_PSI_FT = float(water.density((60 - 32) / 1.8)) * GRAVITY * 0.3048 / PSI  # psi per foot


def buried() -> dp.DischargeLine:
    """A riser, a fall in sewer pipe, a fall in pressure pipe."""
    return dp.DischargeLine(
        runs=[
            dp.Run(pipe=dp.pvc("1-1/2"), length_ft=10, rise_ft=8),
            dp.Run(pipe=dp.pvc(4, "SDR 35"), length_ft=100, rise_ft=-1),
            dp.Run(pipe=dp.pvc(2), length_ft=30, rise_ft=-1),
        ]
    )


def test_water_hammer_is_joukowsky_over_the_standing_water() -> None:
    line = dp.straight_line(pipe=dp.pvc(2), length_ft=150, lift_ft=6, k=6.3)
    checks = dp.side_checks(PUMP_A, line)
    (hammer,) = checks.of("water_hammer")
    bore, wall = dp.pvc(2).bore_in, 0.154
    density = float(water.density((60 - 32) / 1.8))
    speed = np.sqrt(2.19e9 / density / (1 + 2.19e9 / 2.758e9 * bore / wall))
    velocity = checks.operating.velocity_fps * 0.3048
    want = density * speed * velocity / PSI + 6 * WEIGHT_PSI_FT
    assert hammer.value == pytest.approx(want, rel=1e-9)
    assert hammer.limit == pytest.approx(277.4, abs=0.05)
    assert hammer.verdict == "fine"
    assert "upper bound" in hammer.text


def test_pressure_class_against_shutoff_head() -> None:
    line = dp.straight_line(pipe=dp.pvc(2), length_ft=150, lift_ft=6)
    (rated,) = dp.side_checks(PUMP_A, line).of("pressure_class")
    assert rated.value == pytest.approx(20 * WEIGHT_PSI_FT, rel=1e-9)
    assert rated.verdict == "fine"
    (low,) = dp.side_checks(PUMP_A, line, pressure_class_psi=5).of("pressure_class")
    assert (low.verdict, low.limit) == ("look", pytest.approx(5.0))


def test_pressure_class_of_a_drooping_curve_is_at_its_peak() -> None:
    line = dp.straight_line(pipe=dp.pvc(2), length_ft=150, lift_ft=6)
    (rated,) = dp.side_checks(DROOPING, line).of("pressure_class")
    assert rated.value == pytest.approx(max(DROOPING.head_ft) * WEIGHT_PSI_FT, rel=1e-9)
    assert "at the curve's highest head" in rated.text
    bare = dp.PumpCurve(flow_gpm=[10, 30, 50], head_ft=[19, 12.8, 0])
    (unknown,) = dp.side_checks(bare, line).of("pressure_class")
    assert (unknown.verdict, np.isnan(unknown.value)) == ("not_known", True)


def test_sewer_pipe_is_no_pressure_pipe() -> None:
    checks = dp.side_checks(PUMP_A, buried())
    riser, sewer, last = checks.of("pressure_class")
    assert (riser.verdict, sewer.verdict, last.verdict) == ("fine", "look", "fine")
    assert sewer.text == (
        "5.63 psi (38.8 kPa) at shutoff head; SDR 35 is not pressure pipe and has no class"
    )
    assert np.isnan(sewer.limit)


def test_standing_pressure_of_each_run() -> None:
    pipe = dp.Pipe(bore_in=2)
    runs = [
        dp.Run(pipe=pipe, length_ft=10, rise_ft=-3),
        dp.Run(pipe=pipe, length_ft=50, rise_ft=9),
        dp.Run(pipe=pipe, length_ft=50, rise_ft=-2),
    ]
    first, second, third = dp.side_checks(PUMP_A, dp.DischargeLine(runs=runs)).of(
        "standing_pressure"
    )
    # water up to 6 ft over a lowest point of -3 ft; behind the crest it runs off
    assert first.value == pytest.approx(9 * WEIGHT_PSI_FT, rel=1e-9)
    assert second.value == pytest.approx(9 * WEIGHT_PSI_FT, rel=1e-9)
    assert third.value == 0.0
    assert {c.verdict for c in (first, second, third)} == {"not_known"}


def test_tail_water_stands_in_the_line_and_adds_to_the_hammer() -> None:
    runs = [
        dp.Run(pipe=dp.pvc("2"), length_ft=10, rise_ft=-3),
        dp.Run(pipe=dp.pvc("2"), length_ft=50, rise_ft=5),
    ]
    bare, drowned = (
        dp.side_checks(PUMP_A, dp.DischargeLine(runs=runs, outlet=outlet))
        for outlet in (dp.FreeOutlet(), dp.SubmergedOutlet(depth_ft=4))
    )
    # an outlet below the pit: its own run stands under the water as well
    deep = dp.straight_line(
        pipe=dp.pvc("2"), length_ft=100, lift_ft=-2, outlet=dp.SubmergedOutlet(depth_ft=5)
    )
    (one,) = dp.side_checks(PUMP_A, deep).of("standing_pressure")
    assert one.value == pytest.approx(5 * WEIGHT_PSI_FT, rel=1e-9)
    # up to the outlet at 2 ft, or to the water's surface at 6 ft, over a lowest point of -3 ft
    for checks, head in ((bare, 5), (drowned, 9)):
        for one in checks.of("standing_pressure"):
            assert one.value == pytest.approx(head * WEIGHT_PSI_FT, rel=1e-9)
    speeds = [c.operating.velocity_fps for c in (bare, drowned)]
    # Joukowsky: the wave's own part goes with the velocity
    waves = [
        c.of("water_hammer")[0].value - head * WEIGHT_PSI_FT
        for c, head in ((bare, 5), (drowned, 9))
    ]
    assert waves[1] / waves[0] == pytest.approx(speeds[1] / speeds[0], rel=1e-9)


def test_scour_by_ground_and_by_outlet() -> None:
    line = r1_line(1.590)
    (scour,) = dp.side_checks(PUMP_A, line, ground="fine sand").of("scour")
    assert scour.value == pytest.approx(dp.operating_point(PUMP_A, line).velocity_fps)
    assert (scour.limit, scour.verdict) == (pytest.approx(1.5), "look")
    (stones,) = dp.side_checks(PUMP_A, line, ground="cobbles").of("scour")
    assert stones.verdict == "fine"
    lid = dp.PopUpOutlet(opening_head_ft=0.2, gap_in=0.5, body_in=4)
    checks = dp.side_checks(PUMP_A, r1_line(1.590, outlet=lid))
    (curtain,) = checks.of("scour")
    area_in2 = np.pi * 4 * 0.5
    assert curtain.value == pytest.approx(checks.operating.flow_gpm * 231 / 60 / area_in2 / 12)
    with pytest.raises(dp.InputError) as err:
        dp.side_checks(PUMP_A, line, ground="sandy")
    assert str(err.value) == "ground='sandy': not in the table; did you mean 'sandy loam'?"


def test_hand_off_that_runs_full() -> None:
    line = r1_line(1.590, outlet=dp.GravityHandOff(bore_in=2, slope=0.005, n=0.012))
    (pipe,) = dp.side_checks(PUMP_A, line).of("gravity_pipe")
    assert (pipe.verdict, pipe.unit) == ("look", "gpm")
    assert pipe.limit == pytest.approx(line.outlet.capacity_gpm)


def test_short_steep_line_may_slam() -> None:
    steep = dp.straight_line(pipe=dp.pvc("1-1/2"), length_ft=10, lift_ft=9)
    (slam,) = dp.side_checks(PUMP_A, steep).of("valve_slam")
    op = dp.operating_point(PUMP_A, steep)
    # V L / (g H) at the outlet's 9 ft, a little less for the friction
    least = op.velocity_fps * 10 / (GRAVITY / 0.3048 * op.head_ft)
    assert least < slam.value < op.velocity_fps * 10 / (GRAVITY / 0.3048 * 9)
    assert slam.verdict == "look"
    (long,) = dp.side_checks(PUMP_A, r1_line()).of("valve_slam")
    assert long.verdict == "fine"


def test_frame_in_both_systems_and_the_caution() -> None:
    checks = dp.side_checks(PUMP_A, buried())
    us, metric = checks.to_frame("us"), checks.to_frame("metric")
    assert set(us["unit"]) == {"psi", "s", "fps"}
    assert set(metric["unit"]) == {"kpa", "s", "mps"}
    assert us["source"].str.len().min() > 10
    assert "rough" in repr(checks)
    assert checks.caution in repr(checks)
    assert {c.code for c in checks.to_look_at} == {"pressure_class", "scour", "valve_slam"}


def test_arrays_are_refused() -> None:
    line = dp.straight_line(pipe=dp.pvc(2), length_ft=[100, 150], lift_ft=6)
    with pytest.raises(dp.InputError) as err:
        dp.side_checks(PUMP_A, line)
    assert str(err.value) == (
        "side_checks: pump or line holds arrays or lists; give one case: one pump, such as "
        "pumps[0], and one line of scalars."
    )


def test_wave_travels_there_and_back() -> None:
    assert float(surge.return_time(100.0, 400.0)) == 0.5
