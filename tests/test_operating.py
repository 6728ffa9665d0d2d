"""The operating point: the reference problem, the statuses, shapes, and properties."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, example, given, settings
from hypothesis import strategies as st

import drainpump as dp
from drainpump.parts.line.outlet import Outlet
from drainpump.solve import chunks as solving
from tests.problems import (
    BORES_IN,
    DROOPING,
    FITTINGS,
    FLOWS_GPM,
    FOOT,
    GPM,
    PUMP_A,
    PUMP_B,
    WATER_F,
    asked_m,
    made_m,
    parabola,
    r1_line,
)

#: curves that rise to their last point are solved like any other
pytestmark = pytest.mark.filterwarnings("ignore:head rises:drainpump.UnusualValueWarning")

STATUSES = {"ok", "no_flow", "beyond_curve", "below_curve", "multiple", "bad_input"}
LPS = GPM * 1000


def straight(length_ft: float, lift_ft: float, bore_in: float = 2.047, **more: object):
    pipe = dp.Pipe(bore_in=bore_in)
    return dp.straight_line(pipe=pipe, length_ft=length_ft, lift_ft=lift_ft, **more)


# -- the reference problem


def test_the_eight_flows_of_the_reference_problem():
    op = dp.operating_point([PUMP_A, PUMP_B], [r1_line(bore) for bore in BORES_IN])
    assert op.status.tolist() == [["ok"] * 4] * 2
    np.testing.assert_allclose(op.flow_gpm, list(FLOWS_GPM.values()), rtol=0, atol=0.02)


def test_the_same_eight_flows_from_one_line_of_four_bores():
    op = dp.operating_point([PUMP_A, PUMP_B], r1_line(np.array(BORES_IN)))
    np.testing.assert_allclose(op.flow_gpm, list(FLOWS_GPM.values()), rtol=0, atol=0.02)


def test_the_parts_of_the_head_of_the_reference_problem():
    op = dp.operating_point(PUMP_A, r1_line(1.590))
    parts = [op.static_ft, op.pipe_ft, op.fittings_ft, op.outlet_ft]
    assert parts == pytest.approx([6.00, 6.52, 1.69, 0.52], abs=0.005)
    assert op.head_ft == pytest.approx(14.72, abs=0.005)
    assert op.head_ft == pytest.approx(sum(parts), abs=0.001)
    assert op.head_ft == pytest.approx(PUMP_A.head(flow_gpm=op.flow_gpm).head_ft, abs=1e-9)
    lid = 0.25
    assert op.outlet_ft - lid == pytest.approx(0.27, abs=0.005)


def test_the_parts_sum_for_all_eight():
    op = dp.operating_point([PUMP_A, PUMP_B], [r1_line(bore) for bore in BORES_IN])
    for unit in ("ft", "m"):
        parts = (getattr(op, f"{p}_{unit}") for p in ("static", "pipe", "fittings", "outlet"))
        np.testing.assert_allclose(sum(parts), getattr(op, f"head_{unit}"), rtol=0, atol=0.001)


def test_hazen_williams_on_the_reference_problem():
    lines = [r1_line(bore, friction="hazen_williams") for bore in (1.590, 2.047)]
    op = dp.operating_point(PUMP_A, lines)
    np.testing.assert_allclose(op.flow_gpm, [25.96, 34.24], rtol=0, atol=0.02)


@pytest.mark.parametrize(("bore_in", "length_ft"), [(1.360, 13.0), (1.590, 67.8), (2.047, 326)])
def test_the_longest_run_that_still_gives_30_gpm(bore_in, length_ft):
    op = dp.operating_point(PUMP_A, r1_line(bore_in, length_ft=length_ft))
    assert op.flow_gpm == pytest.approx(30, rel=0.005)


class NoExit(Outlet):
    """An outlet that takes nothing, to see what the exit alone takes."""

    @property
    def exit_k(self) -> float:
        return 0.0


def test_taking_the_losses_in_one_at_a_time():
    elbows = {"elbow_90": FITTINGS["elbow_90"]}
    valve = elbows | {"check_valve_swing": FITTINGS["check_valve_swing"]}
    lines = [
        r1_line(length_ft=0, fittings={}, outlet=NoExit()),
        r1_line(fittings={}, outlet=NoExit()),
        r1_line(fittings=elbows, outlet=NoExit()),
        r1_line(fittings=valve, outlet=NoExit()),
        r1_line(outlet=dp.FreeOutlet()),
        r1_line(),
    ]
    flow = dp.operating_point(PUMP_A, lines).flow_gpm
    stated = [41.83, 28.14, 26.86, 26.28, 25.93, 25.68]
    np.testing.assert_allclose(flow, stated, rtol=0, atol=0.01)
    assert PUMP_A.run_out_gpm == 50
    # reading the pump's table at the lift alone
    assert flow[0] / flow[-1] == pytest.approx(1.63, abs=0.005)


def test_common_practice_45_to_50_gpm_through_150_ft_of_one_and_a_half_inch():
    """Common practice, no source: 60 to 80 gpm at low heads become 45 to 50 on such a line.

    The saying holds for a strong pump on a short lift and misses by nearly half for a weak
    one. Heads are stated to 0.1 ft and flows to 0.1 gpm for water of 59.31 °F.
    """
    line = straight(150, 3, 1.590, water_f=WATER_F)
    assert line.head(flow_gpm=[45, 50]).head_ft == pytest.approx([21.6, 25.5], abs=0.05)
    pumps = [
        parabola("40 by 80", 40, 80),
        parabola("35 by 80", 35, 80),
        parabola("20 by 50", 20, 50),
    ]
    op = dp.operating_point(pumps, line)
    np.testing.assert_allclose(op.flow_gpm, [49.2, 46.9, 30.8], rtol=0, atol=0.06)
    assert dp.operating_point(pumps[2], r1_line()).flow_gpm == pytest.approx(25.7, abs=0.05)


# -- statuses, each with its flow


def test_ok_says_the_flow_and_that_both_bounds_are_it():
    op = dp.operating_point(PUMP_A, r1_line())
    assert op.status == "ok"
    assert op.flow_at_least_gpm == op.flow_at_most_gpm == op.flow_gpm
    assert op.range_share == pytest.approx(op.flow_gpm / 50)
    assert op.crossings == ()
    assert op.zero_flow_head_ft == pytest.approx(6.25)
    assert op.shutoff_ft == pytest.approx(20)


def test_no_flow_is_zero_with_both_numbers():
    op = dp.operating_point(PUMP_A, r1_line(lift_ft=21))
    assert (op.status, op.flow_gpm, op.velocity_fps) == ("no_flow", 0, 0)
    assert op.zero_flow_head_ft == pytest.approx(21.25)
    assert op.shutoff_ft == pytest.approx(20)
    assert op.zero_flow_head_m == pytest.approx(21.25 * FOOT)
    assert op.flow_at_most_gpm == 0
    with pytest.raises(dp.StatusError) as err:
        op.require()
    assert str(err.value) == (
        "OperatingPoint: no_flow; choose a pump with more shutoff head, or lower the line's high "
        "point (the line asks 21.2 ft (6.48 m) before any flow, the pump makes 20 ft (6.1 m))"
    )


def test_the_lid_counts_at_no_flow_and_equality_is_no_flow():
    # 0.25 and 19.75 are exact in binary and in feet
    lifts = np.array([19.74, 19.75, 19.76])
    lidded = dp.operating_point(PUMP_A, r1_line(lift_ft=lifts))
    assert lidded.status.tolist() == ["ok", "no_flow", "no_flow"]
    bare = dp.operating_point(PUMP_A, r1_line(lift_ft=lifts, outlet=dp.FreeOutlet()))
    assert bare.status.tolist() == ["ok", "ok", "ok"]


def test_the_crest_counts_at_no_flow():
    up, down = (dp.Run(pipe=dp.pvc("2"), length_ft=30, rise_ft=z) for z in (20.5, -15))
    op = dp.operating_point(PUMP_A, dp.DischargeLine(runs=[up, down]))
    assert (op.status, op.flow_gpm) == ("no_flow", 0)
    assert op.zero_flow_head_ft == pytest.approx(20.5)


def test_beyond_the_curve_is_nan_with_the_last_point_as_bound():
    short = dp.PumpCurve(flow_gpm=[0, 10, 20], head_ft=[20, 19, 16])
    op = dp.operating_point(short, r1_line(2.047))
    assert op.status == "beyond_curve"
    assert op.flow_at_least_gpm == pytest.approx(20)
    for name in ("flow_gpm", "head_ft", "static_ft", "outlet_m", "velocity_fps", "range_share"):
        assert np.isnan(getattr(op, name))
    assert np.isnan(op.flow_at_most_gpm)


def test_below_the_curve_is_nan_with_the_first_point_as_bound():
    late = dp.PumpCurve(flow_gpm=[15, 30, 50], head_ft=[15, 10, 0])
    op = dp.operating_point(late, straight(150, 14.9, 1.59))
    assert op.status == "below_curve"
    assert op.flow_at_most_gpm == pytest.approx(15)
    assert np.isnan(op.flow_gpm)
    assert np.isnan(op.flow_at_least_gpm)
    assert np.isnan(op.shutoff_ft)
    with pytest.raises(dp.StatusError) as err:
        op.require()
    assert str(err.value) == (
        "OperatingPoint: below_curve; the flow is at most the curve's first point, and none is "
        "counted on; give shutoff_ft or points nearer to no flow"
    )


def test_the_ends_of_the_curve_belong_to_it():
    line = r1_line()
    head = line.head(flow_gpm=[10, 30]).head_ft
    first = dp.PumpCurve(flow_gpm=[10, 30], head_ft=[head[0], head[1] - 5])
    last = dp.PumpCurve(flow_gpm=[10, 30], head_ft=[head[0] + 5, head[1]])
    assert dp.operating_point(first, line).flow_gpm == pytest.approx(10, rel=1e-9)
    assert dp.operating_point(last, line).flow_gpm == pytest.approx(30, rel=1e-9)
    assert dp.operating_point([first, last], line).status.tolist() == ["ok", "ok"]


def test_a_drooping_curve_that_crosses_twice_lists_both():
    line = straight(30, 22)
    op = dp.operating_point(DROOPING, line)
    assert op.status == "multiple"
    assert np.isnan(op.flow_gpm)
    assert np.isnan(op.flow_at_least_gpm)
    flows = [crossing.flow_gpm for crossing in op.crossings]
    assert len(flows) == 2
    assert flows[0] < flows[1]
    assert [crossing.index for crossing in op.crossings] == [(), ()]
    for crossing in op.crossings:
        gap = made_m(DROOPING, crossing.flow_lps) - asked_m(line, crossing.flow_lps)
        assert abs(gap) < 1e-9
    assert repr(op.crossings[0]).startswith("PossibleFlow(")


def test_crossings_carry_the_index_of_their_element():
    line = straight(30, np.array([10.0, 22.0, 30.0]))
    op = dp.operating_point([PUMP_B, DROOPING], [line, straight(30, 21)])
    assert op.status.tolist()[1] == [["ok", "multiple", "no_flow"], ["multiple"] * 3]
    assert {crossing.index for crossing in op.crossings} == {
        (1, 0, 1),
        *((1, 1, i) for i in range(3)),
    }
    single = dp.operating_point(DROOPING, line)
    assert [crossing.index for crossing in single.crossings] == [(1,), (1,)]


def test_a_drooping_curve_with_one_crossing_is_ok():
    op = dp.operating_point(DROOPING, straight(30, 10))
    assert op.status == "ok"
    assert DROOPING.head(flow_gpm=op.flow_gpm).head_ft == pytest.approx(op.head_ft, abs=1e-9)


def test_a_rising_curve_with_one_crossing_is_ok():
    rising = dp.PumpCurve(flow_gpm=[0, 20, 40], head_ft=[10, 12, 14])
    op = dp.operating_point(rising, straight(400, 5, 1.59))
    assert op.status == "ok"
    assert 0 < op.flow_gpm < 40
    assert asked_m(straight(400, 5, 1.59), op.flow_lps) == pytest.approx(op.head_m, rel=1e-9)


def test_a_pump_that_cannot_start_does_not_run_on_the_rising_branch():
    # data that end before the head falls: the only crossing in them is on the rise
    rising = dp.PumpCurve(flow_gpm=[0, 10, 20], head_ft=[20, 23, 26])
    op = dp.operating_point(rising, straight(30, 21))
    assert (op.status, op.flow_gpm) == ("no_flow", 0)
    # without a point at no flow nobody knows: the crossing is shown, no flow is said
    blind = dp.PumpCurve(flow_gpm=[5, 10, 20], head_ft=[20, 23, 26])
    op = dp.operating_point(blind, straight(30, 21))
    assert op.status == "multiple"
    assert len(op.crossings) == 1
    assert np.isnan(op.flow_gpm)


def test_two_crossings_inside_one_rising_stretch_are_seen():
    # a straight rise, and a line that bends up through it twice
    rising = dp.PumpCurve(flow_gpm=[0, 40], head_ft=[10, 20])
    line = straight(160, 10.5, 1.7)
    op = dp.operating_point(rising, line)
    assert rising.head(flow_gpm=[0, 40]).head_ft[1] < line.head(flow_gpm=40).head_ft
    assert op.status == "multiple"
    assert len(op.crossings) == 2
    for crossing in op.crossings:
        gap = made_m(rising, crossing.flow_lps) - asked_m(line, crossing.flow_lps)
        assert abs(gap) < 1e-9


def test_a_flat_curve_crosses_once():
    flat = dp.PumpCurve(flow_gpm=[0, 20, 40, 60], head_ft=[15, 15, 15, 15])
    line = r1_line(2.047)
    op = dp.operating_point(flat, line)
    assert op.status == "ok"
    assert op.head_ft == pytest.approx(15, abs=1e-9)


def test_a_pump_and_a_line_that_agree_over_a_stretch_take_the_least_flow():
    dead = dp.PumpCurve(flow_gpm=[0, 20, 40], head_ft=[20, 0, 0])
    for lift in (-5.0, np.full(500, -5.0)):
        op = dp.operating_point(dead, straight(10, lift))
        assert np.all(np.asarray(op.flow_gpm) == pytest.approx(20))
        assert set(np.ravel(op.status)) == {"ok"}


def test_two_points_are_a_curve_and_one_beside_a_shutoff_too():
    two = dp.PumpCurve(flow_gpm=[0, 50], head_ft=[20, 0])
    one = dp.PumpCurve(flow_gpm=[50], head_ft=[0], shutoff_ft=20)
    a, b = dp.operating_point([two, one], r1_line()).flow_gpm
    assert a == b
    line = r1_line()
    # two facts are not a curve: the middle of the shapes it may have
    made = 20 * (1 - (a / 50) ** 1.4) * FOOT
    assert made == pytest.approx(asked_m(line, a * LPS), abs=2e-4)


@pytest.mark.parametrize("lift_ft", [24.0, 6.1 + 17.9, 0.1 * 240, 24.0 - 1e-14])
def test_a_head_at_shutoff_gives_no_flow_however_it_was_summed(lift_ft):
    pump = dp.PumpCurve(flow_gpm=[0, 10, 20, 30], head_ft=[24, 24, 20, 10])
    thirds = [dp.Run(pipe=dp.pvc("2"), length_ft=20, rise_ft=lift_ft / 3) for _ in range(3)]
    for bank in (pump, dp.parallel([pump, pump])):
        assert dp.operating_point(bank, dp.DischargeLine(runs=thirds)).status == "no_flow"


# -- high points, siphons, levels


def test_a_crest_governs_though_the_lid_stands_higher():
    """The bore widens over a small fall: more velocity head is lost at the crest than behind it."""
    up = dp.Run(pipe=dp.Pipe(bore_in=1.1), length_ft=10, rise_ft=2)
    down = dp.Run(pipe=dp.Pipe(bore_in=3), length_ft=1, rise_ft=-0.1)
    op = dp.operating_point(
        PUMP_A, dp.DischargeLine(runs=[up, down], outlet=dp.FreeOutlet(lid_ft=0.25))
    )
    alone = dp.operating_point(PUMP_A, dp.DischargeLine(runs=[up]))
    assert op.flow_gpm == pytest.approx(alone.flow_gpm, rel=1e-12)


def test_a_siphon_says_where_its_start_is_not_known():
    bare = dp.PumpCurve(flow_gpm=[20, 30, 50], head_ft=[15, 12.8, 0])
    op = dp.operating_point(bare, two_run_line(14.9, 12, siphon=True))
    assert op.status == "ok"
    assert "note: whether the siphon starts is not known: the curve has no point" in repr(op)
    assert "note" not in repr(dp.operating_point(PUMP_A, two_run_line(14.9, 12, siphon=True)))


def two_run_line(crest_ft: float, drop_ft: float, **more: object) -> dp.DischargeLine:
    runs = [
        dp.Run(pipe=dp.pvc("1-1/2"), length_ft=40, rise_ft=crest_ft),
        dp.Run(pipe=dp.pvc("1-1/2"), length_ft=60, rise_ft=-drop_ft),
    ]
    return dp.DischargeLine(runs=runs, **more)


def test_a_siphon_gives_more_once_it_runs_and_both_states_are_told():
    vented = dp.operating_point(PUMP_A, two_run_line(12, 10))
    siphon = dp.operating_point(PUMP_A, two_run_line(12, 10, siphon=True))
    assert siphon.flow_gpm > vented.flow_gpm
    assert siphon.vented_flow_gpm == pytest.approx(vented.flow_gpm, rel=1e-12)
    assert vented.vented_flow_gpm == vented.flow_gpm
    assert vented.zero_flow_head_ft == siphon.zero_flow_head_ft == pytest.approx(12)
    assert siphon.static_ft == pytest.approx(2)
    assert vented.static_ft == pytest.approx(12)
    assert vented.outlet_ft == pytest.approx(vented.velocity_fps**2 / (2 * 32.174), rel=1e-4)


def test_a_siphon_must_still_be_started_over_its_high_point():
    line = two_run_line(np.array([19.9, 20.0, 25.0]), 18, siphon=True)
    op = dp.operating_point(PUMP_A, line)
    assert op.status.tolist() == ["ok", "no_flow", "no_flow"]
    assert op.flow_gpm[1:].tolist() == [0, 0]
    assert op.zero_flow_head_ft.tolist() == pytest.approx([19.9, 20, 25])
    # nor does a drooping pump, whatever it would make at some flow
    assert dp.operating_point(DROOPING, two_run_line(22, 18, siphon=True)).status == "no_flow"
    # a risen level helps over the crest
    up = dp.operating_point(PUMP_A, line, level_above_off_ft=1)
    assert up.status.tolist() == ["ok", "ok", "no_flow"]


def test_a_siphon_beyond_the_curve_that_cannot_start_is_no_flow():
    short = dp.PumpCurve(flow_gpm=[0, 5], head_ft=[20, 19])
    assert dp.operating_point(short, two_run_line(18, 18, siphon=True)).status == "beyond_curve"
    assert dp.operating_point(short, two_run_line(21, 21, siphon=True)).status == "no_flow"


def test_a_higher_level_gives_more_flow_and_equals_less_lift():
    level = np.array([0, 0.25, 0.5, 1.0])
    op = dp.operating_point(PUMP_A, r1_line(), level_above_off_ft=level)
    assert (np.diff(op.flow_gpm) > 0).all()
    lower = dp.operating_point(PUMP_A, r1_line(lift_ft=6 - level))
    np.testing.assert_allclose(op.flow_gpm, lower.flow_gpm, rtol=1e-12)
    metric = dp.operating_point(PUMP_A, r1_line(), level_above_off_m=level * FOOT)
    np.testing.assert_allclose(op.flow_gpm, metric.flow_gpm, rtol=1e-12)


def test_levels_go_with_each_line_of_a_list():
    lines, levels = [r1_line(), r1_line(2.047), two_run_line(12, 10)], [0.0, 0.5, 1.0, 2.0]
    op = dp.operating_point([PUMP_A, DROOPING], lines, level_above_off_ft=levels)
    for x, line in enumerate(lines):
        for i, level in enumerate(levels):
            one = dp.operating_point(PUMP_A, line, level_above_off_ft=level)
            assert op.flow_gpm[0, x, i] == pytest.approx(one.flow_gpm, rel=1e-12)
            assert op.static_ft[0, x, i] == pytest.approx(one.static_ft, rel=1e-12)


def test_a_level_above_the_crest_can_help_past_no_lift():
    line = straight(20, 0.5)
    op = dp.operating_point(parabola("deep", 5, 60), line, level_above_off_ft=2)
    assert op.status == "ok"
    assert op.static_ft == pytest.approx(-1.5)
    assert op.head_ft > 0


# -- shapes


def test_a_single_adds_no_axis_and_a_list_always_does():
    line, array = r1_line(), r1_line(length_ft=[[50, 100, 150]])
    shapes = {
        (): dp.operating_point(PUMP_A, line),
        (1,): dp.operating_point([PUMP_A], line),
        (1, 1): dp.operating_point([PUMP_A], [line]),
        (2, 3): dp.operating_point([PUMP_A, PUMP_B], [line] * 3),
        (1, 3): dp.operating_point(PUMP_A, array),
        (2, 1, 3): dp.operating_point((PUMP_A, PUMP_B), array),
        (2, 2, 1, 3): dp.operating_point([PUMP_A, PUMP_B], [line, array]),
        (4, 1): dp.operating_point(PUMP_A, line, level_above_off_ft=np.zeros((4, 1))),
        (2, 4, 1, 3): dp.operating_point(
            [PUMP_A, PUMP_B], array, level_above_off_ft=np.zeros((4, 1, 1))
        ),
    }
    for shape, op in shapes.items():
        for name in ("flow_gpm", "head_m", "pipe_ft", "velocity_fps", "velocity_fastest_mps",
                     "power_w", "flow_at_least_gpm", "zero_flow_head_ft", "shutoff_m",
                     "range_share", "vented_flow_gpm", "status", "ok"):  # fmt: skip
            assert np.shape(getattr(op, name)) == shape, name


def test_a_pumps_factors_are_quantities_of_the_inner_axes():
    worn = PUMP_A.worn(head=np.array([1.0, 0.9, 0.8]))
    op = dp.operating_point([worn, PUMP_B], [r1_line(), r1_line(2.047)])
    assert op.flow_gpm.shape == (2, 2, 3)
    for i, share in enumerate((1.0, 0.9, 0.8)):
        one = dp.operating_point(PUMP_A.worn(head=share), r1_line(2.047)).flow_gpm
        assert op.flow_gpm[0, 1, i] == pytest.approx(one, rel=1e-12)
    assert op.flow_gpm[1, 1].tolist() == [op.flow_gpm[1, 1, 0]] * 3
    assert op.shutoff_ft[0, 0].tolist() == pytest.approx([20, 18, 16])


def test_unlike_lines_in_one_list_each_stay_themselves():
    pipe, wide = dp.pvc("1-1/2"), dp.pvc("2")
    lines = [
        r1_line(),
        r1_line(friction="hazen_williams"),
        two_run_line(12, 10),
        two_run_line(12, 10, siphon=True),
        dp.DischargeLine(
            runs=[
                dp.Run(pipe=pipe, length_ft=10, rise_ft=8),
                dp.Run(pipe=wide, length_ft=60, rise_ft=-3, k=2),
                dp.Run(pipe=pipe, length_ft=30, rise_ft=4, equivalent_length_ft=6),
            ],
            outlet=dp.FreeOutlet(lid_ft=0.4),
            friction="hazen_williams",
            water_f=45,
        ),
    ]
    op = dp.operating_point([PUMP_A, PUMP_B, DROOPING], lines)
    for p, pump in enumerate((PUMP_A, PUMP_B, DROOPING)):
        for x, line in enumerate(lines):
            one = dp.operating_point(pump, line)
            assert op.status[p, x] == one.status
            for name in ("flow_gpm", "head_ft", "static_ft", "pipe_ft", "fittings_ft",
                         "outlet_ft", "velocity_fps", "velocity_slowest_fps",
                         "velocity_fastest_fps", "zero_flow_head_ft",
                         "vented_flow_gpm"):  # fmt: skip
                cell = getattr(op, name)[p, x]
                assert cell == pytest.approx(getattr(one, name), rel=1e-12), name


def test_velocities_look_at_the_last_the_widest_and_the_narrowest_run():
    line = dp.DischargeLine(
        runs=[
            dp.Run(pipe=dp.Pipe(bore_in=2.0), length_ft=10, rise_ft=6),
            dp.Run(pipe=dp.Pipe(bore_in=1.5), length_ft=10),
            dp.Run(pipe=dp.Pipe(bore_in=3.0), length_ft=10),
            dp.Run(pipe=dp.Pipe(bore_in=2.5), length_ft=10),
        ]
    )
    op = dp.operating_point(PUMP_A, line)

    def velocity(bore_in: float) -> float:
        return op.flow_gpm * GPM / (np.pi / 4 * (bore_in * 0.0254) ** 2)

    assert op.velocity_mps == pytest.approx(velocity(2.5), rel=1e-12)
    assert op.velocity_slowest_mps == pytest.approx(velocity(3.0), rel=1e-12)
    assert op.velocity_fastest_mps == pytest.approx(velocity(1.5), rel=1e-12)


def test_power_is_read_at_the_flow():
    pump = dp.PumpCurve(flow_gpm=[0, 25, 50], head_ft=[20, 15, 0], power_w=[200, 300, 350])
    op = dp.operating_point([pump, PUMP_A], r1_line())
    assert op.power_w[0] == pytest.approx(pump.head(flow_gpm=op.flow_gpm[0]).power_w)
    assert 200 < op.power_w[0] < 350
    assert np.isnan(op.power_w[1])


def test_the_answer_does_not_depend_on_how_the_work_is_cut(monkeypatch):
    # pumps of unlike curves, one with a factor for each line, and lines of unlike runs
    lines = [straight(np.linspace(30, 400, 23), np.linspace(17, 26, 23)), r1_line()]
    lines.append(two_run_line(12, 10))
    worn = PUMP_B.worn(head=np.linspace(0.6, 1, 23))
    other = dp.PumpCurve(flow_gpm=[0, 5, 10, 20, 30, 60], head_ft=[19, 20, 22, 24, 20, 2])
    pumps = [PUMP_A, DROOPING, worn, other]
    whole = dp.operating_point(pumps, lines)
    monkeypatch.setattr(solving, "_CHUNK", 5)
    cut = dp.operating_point(pumps, lines)
    assert cut.status.tolist() == whole.status.tolist()
    np.testing.assert_allclose(cut.flow_gpm, whole.flow_gpm, rtol=1e-12)
    alone = [dp.operating_point(pump, lines) for pump in pumps]
    assert whole.status.tolist() == [op.status.tolist() for op in alone]
    np.testing.assert_allclose(whole.flow_gpm, [op.flow_gpm for op in alone], rtol=1e-12)
    crossings = [sorted((c.index, c.flow_gpm) for c in op.crossings) for op in (cut, whole)]
    assert [index for index, _ in crossings[0]] == [index for index, _ in crossings[1]]
    assert [q for _, q in crossings[0]] == pytest.approx([q for _, q in crossings[1]], rel=1e-12)
    assert len(crossings[0]) > 4


def test_a_million_points_in_one_call():
    rng = np.random.default_rng(1)
    pumps = [parabola(str(i), rng.uniform(15, 50), rng.uniform(30, 90), 9) for i in range(200)]
    line = straight(np.linspace(20, 400, 5000), np.linspace(2, 16, 5000), k=6.3)
    op = dp.operating_point(pumps, line)
    assert op.flow_gpm.shape == (200, 5000)
    assert set(np.unique(op.status)) <= {"ok", "no_flow"}
    for p, x in ((0, 0), (57, 1234), (199, 4999)):
        one = straight(line.length_ft[x], line.lift_ft[x], k=6.3)
        assert op.flow_gpm[p, x] == pytest.approx(
            dp.operating_point(pumps[p], one).flow_gpm, rel=1e-12
        )


# -- what is refused


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (
            lambda: dp.operating_point("A", r1_line()),
            "pump='A': must be a PumpCurve; make one with PumpCurve(...), or read a file of "
            "curves with read_curves(...).",
        ),
        (
            lambda: dp.operating_point([PUMP_A, 3], r1_line()),
            "pump[1]=3: must be a PumpCurve; make one with PumpCurve(...).",
        ),
        (
            lambda: dp.operating_point(PUMP_A, [None]),
            "line[0]=None: must be a DischargeLine; make one with DischargeLine(...).",
        ),
        (
            lambda: dp.operating_point(r1_line(), PUMP_A),
            "pump: is a DischargeLine, must be a PumpCurve; pump and line have changed places, "
            "the pump comes first.",
        ),
        (
            lambda: dp.operating_point([], r1_line()),
            "pump=[]: must hold at least one PumpCurve; the list is empty.",
        ),
        (
            lambda: dp.operating_point(PUMP_A, r1_line(), level_above_off_ft=-1),
            "level_above_off_ft=-1: must be from 0 ft to 328.1 ft; give the height of the water.",
        ),
        (
            lambda: dp.operating_point(
                PUMP_A, r1_line(), level_above_off_ft=1, level_above_off_m=1
            ),
            "level_above_off_ft=1 and level_above_off_m=1: more than one unit given; give exactly "
            "one of level_above_off_ft, level_above_off_m.",
        ),
    ],
)  # fmt: skip
def test_what_is_refused(call, said):
    with pytest.raises(dp.InputError) as err:
        call()
    assert str(err.value) == said


def test_arrays_that_do_not_fit_each_other_are_refused():
    with pytest.raises(dp.InputError) as err:
        dp.operating_point(PUMP_A, r1_line(length_ft=[10, 20]), level_above_off_ft=[0, 0, 0])
    assert str(err.value) == (
        "operating_point: arrays of shapes (3,), (), (), (2,) do not broadcast; give arrays of one "
        "shape, or scalars."
    )


# -- properties


def laid(bore: float, length: float, steep: float, k: float, roughness: float) -> tuple:
    """A run that rises or falls by 12 ft at most, and by no more than its length if it has one."""
    return bore, length, steep * min(length or 12.0, 12.0), k, roughness


run_specs = st.builds(
    laid,
    st.floats(0.6, 6.0),  # bore, in
    st.one_of(st.just(0.0), st.floats(1, 900)),  # length, ft
    st.floats(-1, 1),  # rise, as a share of what it may be
    st.floats(0, 12),  # k
    st.sampled_from([0.0, 5e-6, 5e-4]),  # roughness, ft
)
line_specs = st.fixed_dictionaries(
    {
        "runs": st.lists(run_specs, min_size=1, max_size=3),
        "lid_ft": st.floats(0, 2),
        "friction": st.sampled_from(["darcy", "hazen_williams"]),
        "siphon": st.booleans(),
        "water_f": st.floats(33, 90),
    }
)


def build(spec: dict, **change: object) -> dp.DischargeLine:
    spec = spec | change
    runs = [
        dp.Run(pipe=dp.Pipe(bore_in=b, roughness_ft=e), length_ft=x, rise_ft=z, k=k)
        for b, x, z, k, e in spec["runs"]
    ]
    rest = {key: spec[key] for key in ("friction", "siphon", "water_f")}
    return dp.DischargeLine(runs=runs, outlet=dp.FreeOutlet(lid_ft=spec["lid_ft"]), **rest)


@st.composite
def pumps(draw: st.DrawFn, shapes: tuple[str, ...] = ("falls", "flat", "droops", "any")):
    count = draw(st.integers(3, 8))
    steps = draw(st.lists(st.floats(1, 30), min_size=count, max_size=count))
    flow = np.cumsum(steps) - (steps[0] if draw(st.booleans()) else 0)
    top = draw(st.floats(2, 60))
    shape = draw(st.sampled_from(shapes))
    thousandths = st.lists(st.integers(0, 1000), min_size=count, max_size=count)
    head = top / 1000 * np.array(sorted(draw(thousandths), reverse=True))
    if shape == "flat":
        head = np.full(count, top)
    elif shape == "droops":
        head[0] = 0.6 * head[1] if count > 2 else head[0]
    elif shape == "any":
        head = draw(st.permutations(head.tolist()))
    assume(np.max(head) > 0)
    return dp.PumpCurve(flow_gpm=flow, head_ft=head)


def gap(pump: dp.PumpCurve, line: dp.DischargeLine, flow_lps: float, level_m: float) -> float:
    return made_m(pump, flow_lps) - asked_m(line, flow_lps, level_m)


def start_m(line: dp.DischargeLine, level_m: float) -> float:
    """Head before any flow, over every high point, worked out from the line's own words."""
    ends = np.cumsum([run.rise_m for run in line.runs])
    ends[-1] += line.outlet.lid_m
    return float(max(0.0, ends.max()) - level_m)


@given(pumps(), line_specs, st.sampled_from([0.0, 0.5, 2.0]))
@settings(max_examples=250, deadline=None)
def test_every_status_is_what_it_says(pump, spec, level_ft):
    line, level = build(spec), level_ft * FOOT
    op = dp.operating_point(pump, line, level_above_off_ft=level_ft)
    first, last = pump.flow_lps[0], pump.flow_lps[-1]
    assert op.status in STATUSES - {"bad_input"}
    if op.status == "ok":
        # within 1e-9 m of head, by a walk along the line and scipy's own interpolant
        assert abs(gap(pump, line, op.flow_lps, level)) < 1e-9
        assert first * (1 - 1e-12) <= op.flow_lps <= last * (1 + 1e-12)
        assert op.head_m == pytest.approx(asked_m(line, op.flow_lps, level), abs=1e-9)
    elif op.status == "no_flow":
        assert op.flow_gpm == 0
        assert first == 0
        assert start_m(line, level) >= pump.shutoff_m - 1e-9
        assert op.zero_flow_head_m == pytest.approx(start_m(line, level), abs=1e-9)
    elif op.status == "beyond_curve":
        assert np.isnan(op.flow_gpm)
        assert gap(pump, line, last, level) > -1e-9
        assert op.flow_at_least_lps == pytest.approx(last, rel=1e-12)
    elif op.status == "below_curve":
        assert np.isnan(op.flow_gpm)
        assert first > 0
        assert gap(pump, line, first, level) < 1e-9
        assert op.flow_at_most_lps == pytest.approx(first, rel=1e-12)
    else:
        assert np.isnan(op.flow_gpm)
        assert pump.rises
        assert op.crossings
        for crossing in op.crossings:
            assert abs(gap(pump, line, crossing.flow_lps, level)) < 1e-9
    if op.status != "multiple":
        assert op.crossings == ()


@given(pumps(), line_specs)
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.filter_too_much])
def test_one_ok_means_one_crossing_that_falls(pump, spec):
    """Looked for afresh on a fine grid: an ``ok`` has one change of sign, from above to below."""
    line = build(spec)
    op = dp.operating_point(pump, line)
    assume(op.status == "ok")
    flow = np.linspace(pump.flow_lps[0], pump.flow_lps[-1], 30)
    gaps = np.array([gap(pump, line, q, 0.0) for q in flow])
    clear = np.abs(gaps) > 1e-6
    signs = np.sign(gaps[clear])
    assert (signs[1:] <= signs[:-1]).all()
    assert (signs[flow[clear] < op.flow_lps] > 0).all()


@given(
    st.lists(pumps(), min_size=1, max_size=3),
    line_specs,
    st.lists(st.one_of(st.just(0.0), st.floats(12, 900)), min_size=1, max_size=4),
    st.lists(st.floats(-12, 12), min_size=1, max_size=3),
)
@settings(max_examples=60, deadline=None)
def test_a_grid_is_a_loop_of_scalars(many, spec, lengths, rises):
    bore, _, _, k, e = spec["runs"][0]
    cells = np.meshgrid(lengths, rises)
    grid = dp.operating_point(many, build(spec | {"runs": [(bore, *cells, k, e)]}))
    again = dp.operating_point(many, build(spec | {"runs": [(bore, *cells, k, e)]}))
    assert grid.flow_gpm.tobytes() == again.flow_gpm.tobytes()
    assert grid.status.tolist() == again.status.tolist()
    for p, i, j in np.ndindex(*grid.flow_gpm.shape):
        cell = (bore, float(cells[0][i, j]), float(cells[1][i, j]), k, e)
        one = dp.operating_point(many[p], build(spec | {"runs": [cell]}))
        assert grid.status[p, i, j] == one.status
        # 1e-12 of the flow, or of the curve's range for a flow close to none
        floor = 1e-12 * many[p].run_out_gpm
        np.testing.assert_allclose(grid.flow_gpm[p, i, j], one.flow_gpm, rtol=1e-12, atol=floor)


def known(op: dp.OperatingPoint) -> float:
    """The flow, or the bound where only that is known."""
    if op.status == "below_curve":
        return op.flow_at_most_lps
    return op.flow_at_least_lps


@given(
    pumps(shapes=("falls", "flat")),
    line_specs,
    st.integers(0, 2),
    st.sampled_from(["longer", "narrower", "higher", "rougher", "more fittings", "heavier lid"]),
    st.floats(1.0, 2.0),
)
@settings(max_examples=150, deadline=None)
@example(  # the bridge between laminar and turbulent flow
    parabola("small", 3, 6, 5),
    {
        "runs": [(2.0, 500.0, 1.0, 0.0, 5e-6)],
        "lid_ft": 0.0,
        "friction": "darcy",
        "siphon": False,
        "water_f": 60.0,
    },
    0,
    "narrower",
    1.1,
)
def test_a_harder_line_never_gives_more(pump, spec, which, change, factor):
    which %= len(spec["runs"])
    bore, length, rise, k, e = spec["runs"][which]
    higher = rise + factor - 1
    harder = {
        "longer": (bore, length * factor, rise, k, e),
        # not past the narrowest pipe of the yard
        "narrower": (max(bore / factor, 0.5), length, rise, k, e),
        # a run straight up grows with its rise
        "higher": (bore, max(length, higher) if length else 0.0, higher, k, e),
        "rougher": (bore, length, rise, k, e * factor + 1e-6),
        "more fittings": (bore, length, rise, k * factor + 0.1, e),
        "heavier lid": (bore, length, rise, k, e),
    }[change]
    runs = list(spec["runs"])
    runs[which] = harder
    lid = spec["lid_ft"] + (0.1 if change == "heavier lid" else 0.0)
    before = dp.operating_point(pump, build(spec))
    after = dp.operating_point(pump, build(spec | {"runs": runs, "lid_ft": lid}))
    assert known(after) <= known(before) * (1 + 1e-9) + 1e-9


@given(line_specs, st.floats(5, 60), st.floats(10, 90))
@settings(max_examples=50, deadline=None)
def test_both_spellings_agree(spec, shutoff, run_out):
    q = np.linspace(0, run_out, 9)
    h = shutoff * (1 - (q / run_out) ** 2)
    us = dp.operating_point(dp.PumpCurve(flow_gpm=q, head_ft=h), build(spec))
    runs = [
        dp.Run(
            pipe=dp.Pipe(bore_mm=b * 25.4, roughness_m=e * FOOT),
            length_m=x * FOOT,
            rise_m=z * FOOT,
            k=k,
        )
        for b, x, z, k, e in spec["runs"]
    ]
    line = dp.DischargeLine(
        runs=runs,
        outlet=dp.FreeOutlet(lid_m=spec["lid_ft"] * FOOT),
        friction=spec["friction"],
        siphon=spec["siphon"],
        water_c=(spec["water_f"] - 32) / 1.8,
    )
    metric = dp.operating_point(dp.PumpCurve(flow_lps=q * LPS, head_m=h * FOOT), line)
    # at the very edge of two statuses a rounding may fall on either side
    assume(us.status == metric.status or abs(us.zero_flow_head_ft - shutoff) > 1e-9)
    assert us.status == metric.status
    scale = run_out * LPS
    assert us.flow_lps == pytest.approx(metric.flow_lps, rel=1e-10, abs=1e-10 * scale, nan_ok=True)
    assert us.flow_gpm * LPS == pytest.approx(us.flow_lps, rel=1e-12, nan_ok=True)
    assert us.head_ft * FOOT == pytest.approx(us.head_m, rel=1e-12, abs=1e-12, nan_ok=True)


NAN = np.array([1.0, np.nan, 1.0])


@pytest.mark.parametrize("pump", [PUMP_A, DROOPING], ids=lambda pump: pump.name)
@pytest.mark.parametrize(
    "line",
    [
        r1_line(length_ft=50 * NAN),
        r1_line(lift_ft=6 * NAN),
        r1_line(1.59 * NAN),
        r1_line(k=NAN),
        r1_line(water_f=60 * NAN),
        r1_line(outlet=dp.FreeOutlet(lid_ft=0.1 * NAN)),
        r1_line(equivalent_length_ft=NAN),
        r1_line(pipe=dp.Pipe(bore_in=1.59, roughness_ft=5e-6 * NAN)),
        r1_line(pipe=dp.Pipe(bore_in=1.59, hazen_williams_c=140 * NAN), friction="hazen_williams"),
        two_run_line(12 * NAN, 10),
        two_run_line(12, 10 * NAN),
        two_run_line(12 * NAN, 10, siphon=True),
        two_run_line(12, 10 * NAN, siphon=True),
    ],
    ids=range(13),
)
def test_a_nan_stays_in_its_cell(pump, line):
    op = dp.operating_point([pump, PUMP_B], [line, r1_line()])
    assert op.status[:, 0, 1].tolist() == ["bad_input"] * 2
    rest = np.ones(op.status.shape, dtype=bool)
    rest[:, 0, 1] = False
    assert set(op.status[rest]) <= {"ok"}
    assert (np.isnan(op.flow_gpm) == ~rest).all()
    assert (np.isnan(op.head_ft) == ~rest).all()
    with pytest.raises(dp.StatusError) as err:
        op.require()
    assert str(err.value) == (
        "OperatingPoint at index (0, 0, 1): bad_input; an input of this element is NaN"
    )


def test_a_nan_of_level_or_pump_stays_in_its_cell():
    for op in (
        dp.operating_point(PUMP_A, r1_line(), level_above_off_ft=NAN),
        dp.operating_point(PUMP_A.worn(head=0.9 * NAN), r1_line()),
        dp.operating_point(PUMP_A.worn(flow=0.9 * NAN), r1_line()),
        dp.operating_point(PUMP_A.at_speed(0.9 * NAN), r1_line()),
        dp.operating_point(DROOPING.at_speed(0.9 * NAN), r1_line()),
    ):
        assert op.status.tolist() == ["ok", "bad_input", "ok"]
        assert np.isnan(op.flow_gpm).tolist() == [False, True, False]
        assert np.isnan(op.flow_at_least_gpm).tolist() == [False, True, False]
