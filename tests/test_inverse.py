"""The question turned round: run, lift, pipe, floats, pit and duty for a wish."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import drainpump as dp
from tests.r1 import LINE, LINES, A, B, line

PIT = dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=13)


# -- the longest run


@pytest.mark.parametrize(
    ("bore_in", "longest_ft", "tolerance"),
    # 30 gpm with pump A, by independent solvers; the tolerance is half of the last digit
    [(1.360, 13.0, 0.05), (1.590, 67.8, 0.05), (2.047, 326, 0.5)],
)
def test_reference_longest_run(bore_in: float, longest_ft: float, tolerance: float) -> None:
    found = dp.size.max_length(A, line(bore_in), need_gpm=30)
    assert found.length_ft == pytest.approx(longest_ft, abs=tolerance)
    assert found.length_m == pytest.approx(found.length_ft * 0.3048)
    assert found.status == "ok"


# the longest run may be shorter than the rise: no line to build, but the equation's answer
@pytest.mark.filterwarnings("ignore:.*is shorter than the rise")
@given(need=st.floats(15, 48), bore=st.floats(1.2, 2.1))
@settings(max_examples=25, deadline=None)
def test_the_longest_run_gives_just_the_need(need: float, bore: float) -> None:
    found = dp.size.max_length(A, line(bore), need_gpm=need)
    if found.status == "ok":
        there = dp.operating_point(A, line(bore, length_ft=found.length_ft), level_above_off_ft=0)
        assert there.flow_gpm == pytest.approx(need, rel=1e-9)
    else:
        assert found.status == "none_serves"
        assert dp.operating_point(A, line(bore, length_ft=0)).flow_gpm < need


def test_lists_and_arrays_of_needs_shape_as_ever() -> None:
    found = dp.size.max_length([A, B], LINES[:3], need_gpm=[20, 30])
    assert found.length_ft.shape == found.status.shape == (2, 3, 2)
    for p, pump in enumerate((A, B)):
        for k, one in enumerate(LINES[:3]):
            alone = dp.size.max_length(pump, one, need_gpm=30)
            assert found.length_ft[p, k, 1] == pytest.approx(alone.length_ft, rel=1e-9)
    assert list(found.to_frame().columns) == [
        "pump", "line", "axis_2", "need_gpm", "length_ft", "status",
    ]  # fmt: skip
    assert dp.size.max_length(A, line(1.59, k=[0, 6.3]), need_gpm=30).length_ft.shape == (2,)


def test_only_the_named_run_is_stretched() -> None:
    riser = dp.Run(pipe=dp.Pipe(bore_in=1.59), length_ft=10, rise_ft=6, k=3)
    buried = dp.Run(pipe=dp.Pipe(bore_in=2.047), length_ft=140, k=3.3)
    two = dp.DischargeLine(runs=[riser, buried])
    for run, fixed in ((1, buried), (2, riser)):
        found = dp.size.max_length(A, two, need_gpm=30, run=run)
        new = dp.Run(
            pipe=two.runs[run - 1].pipe, length_ft=found.length_ft,
            rise_ft=two.runs[run - 1].rise_ft, k=two.runs[run - 1].k,
        )  # fmt: skip
        runs = [new, fixed] if run == 1 else [fixed, new]
        op = dp.operating_point(A, dp.DischargeLine(runs=runs))
        assert op.flow_gpm == pytest.approx(30, rel=1e-9)


def test_what_the_curve_does_not_tell_is_no_number() -> None:
    cut = dp.PumpCurve(name="cut", flow_gpm=[10, 20, 30], head_ft=[19.2, 16.8, 12.8])
    found = dp.size.max_length(cut, LINE, need_gpm=[5, 25, 30.5, np.nan])
    assert found.status.tolist() == ["below_curve", "ok", "beyond_curve", "bad_input"]
    assert np.isnan(found.length_ft).tolist() == [True, False, True, True]
    with pytest.raises(dp.StatusError) as err:
        found.require()
    assert str(err.value) == (
        "MaxLength at index (0,): below_curve; the need is before the curve's first point; give "
        "shutoff_ft"
    )


def test_a_pump_that_cannot_start_does_not_serve() -> None:
    """The curve rises over 14 ft of lift, but cannot start the line from 13 ft of shutoff."""
    droops = dp.PumpCurve(name="droops", flow_gpm=[0, 20, 40], head_ft=[13, 17, 2])
    assert dp.size.max_length(droops, line(2.047, lift_ft=14), need_gpm=10).status == "none_serves"
    lift = dp.size.max_lift(droops, line(2.047, length_ft=10), need_gpm=10)
    # the lid of 0.25 ft is part of what stands against the start
    assert lift.lift_ft == pytest.approx(12.75, abs=1e-6)


def test_a_bank_reaches_further_than_its_pump() -> None:
    wide = line(2.047)
    alone = dp.size.max_length(A, wide, need_gpm=30).length_ft
    bank = dp.parallel([A, A])
    found = dp.size.max_length(bank, wide, need_gpm=30)
    assert found.length_ft > alone
    there = dp.operating_point(bank, line(2.047, length_ft=found.length_ft))
    assert there.flow_gpm == pytest.approx(30, rel=1e-8)


# -- the greatest lift


def test_greatest_lift_is_the_head_left_over() -> None:
    """At 25.68 gpm all but the lift is known, so the lift is the pump's head less the losses."""
    for need in (10, 25.0, 35):
        asked = LINE.head(flow_gpm=need)
        left = A.head(flow_gpm=need).head_ft - (asked.head_ft - asked.static_ft)
        found = dp.size.max_lift(A, LINE, need_gpm=need)
        if left < 0:
            assert found.status == "none_serves"
            assert np.isnan(found.lift_ft)
        else:
            assert found.lift_ft == pytest.approx(left, rel=1e-9)


def test_a_high_point_is_raised_with_the_line() -> None:
    up = dp.Run(pipe=dp.Pipe(bore_in=2.047), length_ft=20, rise_ft=8)
    down = dp.Run(pipe=dp.Pipe(bore_in=2.047), length_ft=80, rise_ft=-3)
    over = dp.DischargeLine(runs=[up, down])
    found = dp.size.max_lift(A, over, need_gpm=20)
    rise = 8 + found.lift_ft - over.lift_ft
    higher = dp.Run(pipe=dp.Pipe(bore_in=2.047), length_ft=20, rise_ft=rise)
    op = dp.operating_point(A, dp.DischargeLine(runs=[higher, down]))
    assert op.flow_gpm == pytest.approx(20, rel=1e-9)


# -- the smallest pipe


def test_smallest_of_the_reference_bores() -> None:
    pipes = [dp.Pipe(bore_in=x, roughness_ft=5e-6) for x in (3.042, 1.360, 2.047, 1.590)]
    found = dp.size.smallest_pipe([A, B], LINE, pipes, need_gpm=[25, 30, 49, 60])
    # flows A 19.63 25.68 34.06 39.93, B 29.01 37.59 49.10 56.91 gpm, three solvers agreeing
    expected = [[1.590, 2.047, np.nan, np.nan], [1.360, 1.590, 2.047, np.nan]]
    np.testing.assert_allclose(found.bore_in, expected)
    assert found.status[0].tolist() == ["ok", "ok", "none_serves", "none_serves"]
    assert found.flow_gpm[0, 1] == pytest.approx(34.06, abs=0.01)
    assert found.velocity_fps[0, 1] == pytest.approx(
        dp.operating_point(A, LINES[2]).velocity_fps, rel=1e-9
    )
    assert found.name[0, 3] == ""


def test_standard_sizes_with_fittings_read_at_each_size() -> None:
    given_line = dp.straight_line(
        pipe=dp.pvc("1-1/4"), length_ft=150, lift_ft=6, fittings={"elbow_90": 5}, k=1
    )
    found = dp.size.smallest_pipe(A, given_line, need_gpm=30)
    assert found.name == dp.pvc("2").name
    typed = dp.straight_line(
        pipe=dp.pvc("2"), length_ft=150, lift_ft=6, fittings={"elbow_90": 5}, k=1
    )
    assert found.flow_gpm == pytest.approx(dp.operating_point(A, typed).flow_gpm, rel=1e-12)
    assert [p.nominal for p in found.pipes][:3] == ["1", "1-1/4", "1-1/2"]


def test_a_pump_with_no_sure_flow_has_no_pipe() -> None:
    late = dp.PumpCurve(name="late", flow_gpm=[45, 50], head_ft=[3.8, 0])
    assert dp.size.smallest_pipe(late, LINE, need_gpm=10).status == "none_serves"
    assert dp.size.smallest_pipe(A, LINE, need_gpm=np.nan).status == "bad_input"


# -- floats and pit


@given(starts=st.floats(15, 300))
@settings(max_examples=20, deadline=None)
def test_float_travel_gives_just_the_wished_starts(starts: float) -> None:
    found = dp.size.float_travel(A, LINES[2], PIT, starts_max_per_h=starts)
    if found.status == "none_serves":
        assert np.isnan(found.travel_in)
        assert found.worst_starts_per_h > starts
        return
    pit = dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=found.on_in)
    cyc = dp.cycle(A, LINES[2], pit, inflow_gpm=5)
    assert cyc.worst_starts_per_h == pytest.approx(starts, rel=1e-8)
    assert found.working_volume_gal == pytest.approx(cyc.working_volume_gal, rel=1e-8)


def test_constant_flow_follows_the_published_rule() -> None:
    """V = Qp t / 4: MIL-HDBK-1005/9A eq. 2."""
    found = dp.size.float_travel(flow_gpm=34.1, pit=PIT, starts_max_per_h=[30, 60])
    rule = 34.1 * 60 / (4 * np.array([30, 60]))
    np.testing.assert_allclose(found.working_volume_gal, rule, rtol=1e-9)
    size = dp.size.pit_size(flow_gpm=34.1, travel_in=8, starts_max_per_h=[30, 60])
    np.testing.assert_allclose(size.working_volume_gal, rule, rtol=1e-9)
    np.testing.assert_allclose(size.area_ft2 * 8 / 12 * 1728 / 231, rule, rtol=1e-9)


def test_the_on_float_stays_below_inlet_and_alarm() -> None:
    for extra, top in (({}, 30), ({"alarm_in": 24}, 24), ({"alarm_in": 24, "inlet_in": 20}, 20)):
        pit = dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=13, **extra)
        least = dp.cycle(
            A, LINES[2], dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=top), inflow_gpm=0
        ).worst_starts_per_h
        asked = [least * 1.001, least * 0.999]
        found = dp.size.float_travel(A, LINES[2], pit, starts_max_per_h=asked)
        assert found.status.tolist() == ["ok", "none_serves"]
        assert found.worst_starts_per_h[1] == pytest.approx(least, rel=1e-9)


def test_a_wish_that_none_serves_is_told_the_best_there_is() -> None:
    found = dp.size.float_travel(flow_gpm=34.1, pit=PIT, starts_max_per_h=10)
    # 24 in of travel in a pit of 18 in hold 26.44 gal: 15 · 34.1 / 26.44 starts an hour
    said = (
        "none_serves; even with the on float at 30 in (762 mm), as high as it may go, it starts "
        "19.3/h in the worst case, more than 10/h; widen the pit, or take a smaller pump"
    )
    with pytest.raises(dp.StatusError) as err:
        found.require()
    assert str(err.value) == f"FloatTravel: {said}"
    assert repr(found).splitlines()[1] == "  why: " + said.removeprefix("none_serves; ")
    wide = dp.size.pit_size(flow_gpm=100, travel_in=1, starts_max_per_h=[1, 0.01])
    with pytest.raises(dp.StatusError) as err:
        wide.require()
    assert str(err.value) == (
        "PitSize at index (1,): none_serves; even in a pit 787 in (20000 mm) across it starts "
        "0.712/h in the worst case, more than 0.01/h; set the floats further apart, or take a "
        "smaller pump"
    )


@pytest.mark.parametrize("check_valve", [True, False])
def test_pit_size_gives_just_the_wished_starts(check_valve: bool) -> None:
    bare = line(2.047, check_valve=check_valve)
    found = dp.size.pit_size([A, B], [bare], travel_in=8, starts_max_per_h=20)
    assert found.diameter_in.shape == (2, 1)
    for i, pump in enumerate((A, B)):
        pit = dp.Pit(diameter_in=found.diameter_in[i, 0], depth_in=30, off_in=6, on_in=14)
        worst = dp.cycle(pump, bare, pit, inflow_gpm=0).worst_starts_per_h
        # how a line fills is tabled up to the rim, and this pit's stands elsewhere
        assert worst == pytest.approx(20, rel=1e-8 if check_valve else 1e-5)


def test_a_pump_that_never_starts_has_no_float_travel() -> None:
    found = dp.size.float_travel(A, line(1.59, lift_ft=25), PIT, starts_max_per_h=20)
    assert found.status == "no_flow"
    assert np.isnan(found.travel_in)
    assert np.isnan(found.worst_starts_per_h)


# -- the duty to buy


def test_the_duty_is_what_the_line_asks() -> None:
    found = dp.size.duty_to_buy(LINES, need_gpm=[30, 60])
    assert found.head_ft.shape == (4, 2)
    for k, one in enumerate(LINES):
        assert found.head_ft[k, 0] == pytest.approx(one.head(flow_gpm=30).head_ft)
    # lift and lid stand against the start
    np.testing.assert_allclose(found.zero_flow_head_ft, 6.25)
    one = dp.size.duty_to_buy(LINE, need_gpm=37.59)
    assert one.head_ft == pytest.approx(B.head(flow_gpm=37.59).head_ft, abs=0.01)
    assert dp.size.duty_to_buy(LINE, need_gpm=np.nan).status == "bad_input"


# -- what is refused


@pytest.mark.parametrize(
    ("ask", "message"),
    [
        (
            lambda: dp.size.max_length(A, LINE, need_gpm=0),
            "need_gpm=0: must be more than 0; give the flow to be carried.",
        ),
        (
            lambda: dp.size.max_lift(A, LINE),
            "need: no value given; give exactly one of need_gpm, need_lps.",
        ),
        (
            lambda: dp.size.max_length(A, LINE, need_gpm=5, run=2),
            "run=2: must be a whole number, 1 to 1; count the runs from the pump.",
        ),
        (
            lambda: dp.size.max_length(
                A, dp.DischargeLine(runs=[LINE.runs[0], LINE.runs[0]]), need_gpm=5
            ),
            "run: none given, but a line has 2; say which run is stretched, 1 for the first.",
        ),
        (
            lambda: dp.size.smallest_pipe(A, LINE, [], need_gpm=5),
            "pipes=[]: must hold at least one Pipe; the list is empty.",
        ),
        (
            lambda: dp.size.smallest_pipe(A, LINE, ["2"], need_gpm=5),  # type: ignore[list-item]
            "pipes[0]='2': must be a Pipe; make one with Pipe(...).",
        ),
        (
            lambda: dp.size.float_travel(A, LINE, PIT, starts_max_per_h=0),
            "starts_max_per_h=0: must be more than 0; a pump that never starts keeps no pit dry.",
        ),
        (
            lambda: dp.size.float_travel(A, pit=PIT, starts_max_per_h=5),
            "float_travel: give a pump with a line, or a constant flow (flow_gpm or flow_lps) "
            "without them.",
        ),
        (
            lambda: dp.size.float_travel(A, line(2, k=[1, 2]), PIT, starts_max_per_h=5),
            "float_travel: an input holds an array; give scalars, and variants in the lists of "
            "pumps and lines.",
        ),
        (
            lambda: dp.size.pit_size(A, LINE, travel_in=0, starts_max_per_h=5),
            "travel_in=0: must be one number above 0; give off level to on level.",
        ),
        (
            lambda: dp.size.pit_size(flow_gpm=0, travel_in=7, starts_max_per_h=5),
            "flow_gpm=0: must be one number above 0; give the flow.",
        ),
        (
            lambda: dp.size.float_travel(
                dp.parallel([A, A], lag_on_in=20), LINE, PIT, starts_max_per_h=5
            ),
            "float_travel: a bank's lag float would have to move with the others; give its lead "
            "pump, which starts most.",
        ),
    ],
)
def test_bad_questions_are_refused(ask: object, message: str) -> None:
    with pytest.raises(dp.InputError) as err:
        ask()  # type: ignore[operator]
    assert str(err.value) == message


def test_only_what_was_typed_is_warned_of() -> None:
    with pytest.warns(dp.UnusualValueWarning, match="^length_ft=4000 is 1220 m"):
        far = dp.straight_line(pipe=dp.pvc("2"), length_ft=4000, lift_ft=6)
    # any further warning is an error
    dp.size.smallest_pipe(A, far, need_gpm=20)
    dp.size.duty_to_buy(far, need_gpm=20)
    dp.explain(A, far)
    pit = dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=13)
    dp.size.float_travel(A, far, pit, starts_max_per_h=60)
    dp.select(A, far, need_gpm=20, pit=pit, doubt=dp.Doubt.usual(), samples=8)
    dp.size.max_lift(A, far, need_gpm=20)
    dp.size.pit_size(A, far, starts_max_per_h=60, travel_in=6)
    dp.route(A, far, pit, dp.Hydrograph(time_min=[0, 9, 20], flow_gpm=[0, 9, 0]))
    dp.drain_back(A, far, pit, inflow_gpm=2)
    dp.high_point(A, far, pit)
    dp.side_checks(A, far)
    dp.sensitivity(A, far, dp.Doubt.usual(), samples=8)
    dp.field.diagnose(A, far, measured_gpm=3, sigma_gpm=1)
    dp.field.outlook(A, far, horizon_year=2, deposit_in_per_year=0.01, samples=8)
    dp.field.as_built_record(A, far, name="yard", built_on="2031-04-30", samples=8)


def test_a_pipe_in_which_the_flow_is_not_known_does_not_serve() -> None:
    # a drooping curve may cross more than once; that is no bad input
    droop = dp.PumpCurve(name="droop", flow_gpm=[0, 10, 20, 30], head_ft=[24, 27, 27, 10])
    short = dp.straight_line(pipe=dp.pvc("2"), length_ft=30, lift_ft=24.5)
    pipes = [dp.Pipe(bore_in=3), dp.Pipe(bore_in=4)]
    states = {dp.operating_point(droop, short.replace(pipe=p)).status for p in pipes}
    found = dp.size.smallest_pipe(droop, short, pipes, need_gpm=5)
    assert (states, found.status, found.name) == ({"multiple"}, "none_serves", "")


@pytest.mark.filterwarnings("ignore:.* unusually large", "ignore:.* is shorter than")
@pytest.mark.parametrize("siphon", [False, True])
def test_the_longest_run_gives_just_what_is_needed(siphon: bool) -> None:
    """At the length found, in a line solved anew, the flow is the need."""
    rng = np.random.default_rng(3)
    solved = 0
    for _ in range(40):
        flow = np.append(0.0, np.sort(rng.uniform(5, 60, 4)))
        pump = dp.PumpCurve(flow_gpm=flow, head_ft=np.sort(rng.uniform(0, 30, 5))[::-1])
        pipes = [dp.Pipe(bore_in=bore) for bore in rng.choice([1.36, 1.59, 2.047], 3)]
        runs = [
            dp.Run(pipe=p, length_ft=30, rise_ft=rng.uniform(-3, 6), k=rng.uniform(0, 8))
            for p in pipes
        ]
        line = dp.DischargeLine(runs=runs, siphon=siphon, outlet=dp.FreeOutlet(lid_ft=0.3))
        found = dp.size.max_length([pump], line, need_gpm=10, run=2)
        if found.status.item() != "ok" or found.length_ft.item() < 9:
            continue
        runs[1] = runs[1].replace(length_ft=found.length_ft.item())
        again = dp.operating_point(pump, line.replace(runs=runs))
        assert again.flow_gpm == pytest.approx(10, rel=1e-9)
        solved += 1
    assert solved > 10


@pytest.mark.parametrize("starts", [3.0, [2.0, 12.0, 1e-4]])
def test_a_pit_of_the_size_found_starts_just_so_often(starts: Any) -> None:
    lines = LINES[:2]
    found = dp.size.pit_size([A, B], lines, travel_in=10, starts_max_per_h=starts)
    assert found.diameter_in.shape == (2, 2, *np.shape(starts))
    wish = np.broadcast_to(starts, found.diameter_in.shape)
    for at in np.argwhere(found.status == "ok"):
        at = tuple(at)
        pit = dp.Pit(diameter_in=found.diameter_in[at], depth_in=30, off_in=6, on_in=16)
        pair = (A, B)[at[0]], lines[at[1]]
        cycles = dp.cycle(*pair, pit, inflow_gpm=5)
        assert cycles.worst_starts_per_h == pytest.approx(wish[at], rel=1e-9)
        assert found.worst_starts_per_h[at] == pytest.approx(wish[at], rel=1e-9)
    assert (found.status[wish < 1e-3] == "none_serves").all()
