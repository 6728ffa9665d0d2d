"""Banks of pumps: parallel with risers, series, shares, lead and lag."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

import drainpump as dp
from drainpump.solve.members import points_along
from tests.problems import DROOPING, PUMP_A, PUMP_B, WATER_F, r1_line, r1_pit

RISER = dp.Run(pipe=dp.Pipe(bore_in=1.590, roughness_ft=5e-6), length_ft=0, k=2.5)


def shared(bore_in: Any = 2.047, **changes: Any) -> dp.DischargeLine:
    """150 ft, K 5 with the exit's 1.0, lift 6 ft, a lid of 0.25 ft."""
    given: dict[str, Any] = {"lift_ft": 6, "k": 4.0, "outlet": dp.FreeOutlet(lid_ft=0.25)}
    pipe = dp.Pipe(bore_in=bore_in, roughness_ft=5e-6)
    return dp.straight_line(pipe=pipe, length_ft=150, water_f=WATER_F, **given | changes)


@pytest.mark.parametrize(
    ("bore_in", "both", "alone"),
    [(1.590, 31.65, 25.63), (2.047, 49.79, 33.11), (3.042, 70.58, 37.90)],
)
def test_two_alike_on_risers(bore_in: float, both: float, alone: float) -> None:
    # two independent solvers; half a unit of their last digit
    two = dp.operating_point(dp.parallel([PUMP_A, PUMP_A], RISER), shared(bore_in))
    one = dp.operating_point(dp.parallel([PUMP_A], RISER), shared(bore_in))
    assert (two.flow_gpm, one.flow_gpm) == pytest.approx((both, alone), abs=0.006)
    assert two.share_gpm == pytest.approx([both / 2, both / 2], abs=0.006)


def test_weaker_pump_is_shut_out_and_flagged() -> None:
    op = dp.operating_point(dp.parallel([PUMP_A, PUMP_B], RISER), shared(1.590))
    assert (op.status, op.share_status.tolist(), op.shut_out) == ("ok", ["no_flow", "ok"], True)
    assert op.share_gpm == pytest.approx([0.0, 37.5], abs=0.05)
    wide = dp.operating_point(dp.parallel([PUMP_A, PUMP_B], RISER), shared(2.047))
    assert wide.share_gpm == pytest.approx([16.3, 43.3], abs=0.05)
    assert (wide.share_status.tolist(), wide.shut_out) == (["ok", "ok"], False)


def _pumps_at(pump: dp.PumpCurve, head_ft: float) -> float:
    """Flow of a pump against its riser and a head at the junction, by another solver."""

    def gap(q: float) -> float:
        riser = dp.DischargeLine(runs=[RISER], water_f=WATER_F).head(flow_gpm=q)
        return float(pump.head(flow_gpm=q).head_ft - riser.fittings_ft - head_ft)

    return 0.0 if gap(0.0) <= 0 else float(brentq(gap, 0.0, pump.flow_gpm[-1], xtol=1e-12))


def test_shares_close_every_balance_by_another_solver() -> None:
    line = shared(2.047)

    def gap(head_ft: float) -> float:
        total = _pumps_at(PUMP_A, head_ft) + _pumps_at(PUMP_B, head_ft)
        return float(line.head(flow_gpm=total).head_ft - head_ft)

    head = brentq(gap, 6.5, 30.0, xtol=1e-12)
    op = dp.operating_point(dp.parallel([PUMP_A, PUMP_B], RISER), line)
    want = [_pumps_at(PUMP_A, head), _pumps_at(PUMP_B, head)]
    np.testing.assert_allclose(op.share_gpm, want, rtol=1e-8)
    assert op.head_ft == pytest.approx(head, rel=1e-9)


@settings(max_examples=20, deadline=None)
@given(st.floats(1.2, 4.0), st.floats(0.0, 15.0), st.floats(0.5, 1.2))
def test_another_pump_never_lowers_the_total(bore: float, lift: float, worn: float) -> None:
    line = shared(bore, lift_ft=lift)
    third = PUMP_A.worn(head=min(worn, 1.0))
    one = dp.operating_point(dp.parallel([PUMP_A], RISER), line)
    two = dp.operating_point(dp.parallel([PUMP_A, PUMP_B], RISER), line)
    three = dp.operating_point(dp.parallel([PUMP_A, PUMP_B, third], RISER), line)
    flows = [float(op._reckoned) for op in (one, two, three)]
    assert flows[0] <= flows[1] * (1 + 1e-9) <= flows[2] * (1 + 2e-9)


def test_bank_of_one_is_the_pump() -> None:
    line = shared([1.2, 2.047, 6.0])
    for pump in (PUMP_A, DROOPING):
        plain = dp.operating_point(pump, line)
        for bank in (dp.parallel([pump]), dp.series([pump])):
            op = dp.operating_point(bank, line)
            np.testing.assert_array_equal(op.flow_gpm, plain.flow_gpm)
            np.testing.assert_array_equal(op.status, plain.status)
    # and on its riser, the pump with the riser in the line
    riser = dp.Run(pipe=RISER.pipe, length_ft=8, rise_ft=4, k=2.5)
    rest = dp.Run(pipe=dp.Pipe(bore_in=2.047), length_ft=150, rise_ft=2, k=4)
    whole = dp.DischargeLine(runs=[riser, rest], water_f=WATER_F)
    op = dp.operating_point(
        dp.parallel([PUMP_A], [riser]), dp.DischargeLine(runs=[rest], water_f=WATER_F)
    )
    want = dp.operating_point(PUMP_A, whole)
    assert op.flow_gpm == pytest.approx(want.flow_gpm, rel=1e-10)
    assert op.static_ft == pytest.approx(6.0)


def test_series_adds_heads_exactly() -> None:
    line = shared(1.590, lift_ft=25)
    twice = dp.PumpCurve(name="2A", flow_gpm=PUMP_A.flow_gpm, head_ft=2 * PUMP_A.head_ft)
    op = dp.operating_point(dp.series([PUMP_A, PUMP_A]), line)
    assert op.flow_gpm == pytest.approx(dp.operating_point(twice, line).flow_gpm, rel=1e-12)
    assert op.share_gpm.tolist() == [op.flow_gpm, op.flow_gpm]
    mixed = dp.operating_point(dp.series([PUMP_A, PUMP_B]), line)
    heads = [p.head(flow_gpm=mixed.flow_gpm).head_ft for p in (PUMP_A, PUMP_B)]
    assert mixed.head_ft == pytest.approx(sum(heads), rel=1e-10)


def test_factors_may_be_arrays_in_both_kinds_of_bank() -> None:
    worn = PUMP_A.worn(head=[1.0, 0.9, 0.8], flow=[1.0, 0.95, 0.9])
    line = shared(1.590)
    third = PUMP_A.at_speed(0.95)
    for bank in (dp.parallel([worn, third], RISER), dp.series([worn, third])):
        op = dp.operating_point(bank, line)
        assert op.flow_gpm.shape == (3,)
        assert op.share_gpm.shape == (3, 2)
        assert op.ok.all()
        for i, (h, f) in enumerate([(1.0, 1.0), (0.9, 0.95), (0.8, 0.9)]):
            pumps = [PUMP_A.worn(head=h, flow=f), third]
            alone = dp.series(pumps) if bank.in_series else dp.parallel(pumps, RISER)
            want = dp.operating_point(alone, line).flow_gpm
            assert op.flow_gpm[i] == pytest.approx(want, rel=1e-9)


def test_banks_stand_in_lists_with_pumps() -> None:
    bank = dp.parallel([PUMP_A, PUMP_B], RISER)
    lines = [shared(1.590), shared([2.047, 3.042])]
    op = dp.operating_point([PUMP_A, bank, dp.series([PUMP_A, PUMP_A, PUMP_A])], lines)
    assert op.flow_gpm.shape == (3, 2, 2)
    assert op.share_gpm.shape == (3, 2, 2, 3)
    assert np.isnan(op.share_gpm[0, ..., 1:]).all()
    assert (op.share_status[0, ..., 1:] == "").all()
    one = dp.operating_point(bank, shared(3.042))
    assert op.flow_gpm[1, 1, 1] == pytest.approx(one.flow_gpm, rel=1e-12)
    assert op.to_frame()["pump"].unique().tolist() == ["A", "A + B", "3 × A in series"]
    np.testing.assert_allclose(np.nansum(op.share_gpm[1], axis=-1), op.flow_gpm[1], rtol=1e-12)


def test_statuses_of_a_bank() -> None:
    bank = dp.parallel([PUMP_A, PUMP_A])
    none = dp.operating_point(bank, shared(lift_ft=20))
    assert (none.status, none.flow_gpm, none.shutoff_ft) == ("no_flow", 0.0, pytest.approx(20))
    with pytest.raises(dp.StatusError) as err:
        none.require()
    assert str(err.value) == (
        "OperatingPoint: no_flow; choose a pump with more shutoff head, or lower the line's "
        "high point (the line asks 20.2 ft (6.17 m) before any flow, the pump makes 20 ft "
        "(6.1 m))"
    )
    short = dp.PumpCurve(name="short", flow_gpm=[0, 20], head_ft=[20, 15])
    far = dp.operating_point(dp.parallel([short, short]), shared(6.0))
    assert (far.status, far.flow_at_least_gpm) == ("beyond_curve", pytest.approx(40))
    assert np.isnan(far.flow_gpm)
    late = dp.PumpCurve(name="late", flow_gpm=[20, 40], head_ft=[15, 8])
    near = dp.operating_point(dp.parallel([late, late]), shared(1.2))
    assert (near.status, near.flow_at_most_gpm) == ("below_curve", pytest.approx(40))
    # one past its last point and one before its first: only the bound from below stands
    ends = dp.parallel([dp.PumpCurve(name="few", flow_gpm=[0, 5], head_ft=[60, 50]), late])
    both = dp.operating_point(ends, shared(1.590, lift_ft=14.9))
    assert (both.status, both.flow_at_least_gpm) == ("beyond_curve", pytest.approx(5))
    bad = dp.operating_point(bank, shared([2.0, np.nan]))
    assert bad.status.tolist() == ["ok", "bad_input"]


def test_pump_that_droops_beside_another_is_named() -> None:
    # the junction stands between its shutoff head and its highest: it may run or not
    line = dp.straight_line(pipe=dp.Pipe(bore_in=3.042), length_ft=22, lift_ft=22, check_valve=True)
    op = dp.operating_point(dp.parallel([DROOPING, PUMP_B]), line)
    assert op.status == "multiple"
    assert np.isnan(op.flow_gpm)


def test_power_is_that_of_all_the_pumps() -> None:
    p = dp.PumpCurve(flow_gpm=[0, 30, 50], head_ft=[20, 12.8, 0], power_w=[200, 300, 350])
    line = shared(2.047)
    op = dp.operating_point(dp.parallel([p, p]), line)
    one = p.head(flow_gpm=op.share_gpm[0]).power_w
    assert op.power_w == pytest.approx(2 * one, rel=1e-9)
    row = dp.operating_point(dp.series([p, p]), line)
    assert row.power_w == pytest.approx(2 * p.head(flow_gpm=row.flow_gpm).power_w, rel=1e-9)


def test_changed_speed_and_wear_change_every_pump() -> None:
    bank = dp.parallel([PUMP_A, PUMP_B], RISER)
    slower = dp.parallel([PUMP_A.at_speed(0.9), PUMP_B.at_speed(0.9)], RISER)
    line = shared()
    assert dp.operating_point(bank.at_speed(0.9), line).flow_gpm == pytest.approx(
        dp.operating_point(slower, line).flow_gpm, rel=1e-12
    )
    tired = dp.parallel([PUMP_A.worn(head=0.9), PUMP_B.worn(head=0.9)], RISER)
    assert dp.operating_point(bank.worn(head=0.9), line).flow_gpm == pytest.approx(
        dp.operating_point(tired, line).flow_gpm, rel=1e-12
    )


def test_lead_alone_while_it_keeps_up_and_the_lag_after() -> None:
    bank = dp.parallel([PUMP_A, PUMP_A], RISER, lag_on_in=18)
    line, pit = shared(), r1_pit()
    cyc = dp.cycle(bank, line, pit, inflow_gpm=[10, 34.2, 40, 60])
    lead = dp.cycle(bank.lead, line, pit, inflow_gpm=[10, 34.2, 40, 60])
    assert cyc.pattern.tolist() == ["cycles", "runs_on", "lag_helps", "falls_behind"]
    assert cyc.run_s[0] == lead.run_s[0]
    assert lead.pattern[2] == "falls_behind"
    assert (cyc.lag_starts_per_h > 0).tolist() == [False, False, True, False]
    # water is conserved: all that came in a cycle was pumped, the lead at some 34 gpm and
    # both at some 50; a plain mean of the flows at both ends is good to half a percent
    both = dp.operating_point(
        dp.parallel([PUMP_A, PUMP_A], RISER), line, level_above_off_ft=[0, 1]
    ).flow_gpm.mean()
    alone = dp.operating_point(bank.lead, line, level_above_off_ft=[7 / 12, 1]).flow_gpm.mean()
    gallons = np.pi / 4 * 18**2 / 231  # per inch
    rise, fall = gallons * 5 / (40 - alone) * 60, gallons * 12 / (both - 40) * 60
    assert cyc.run_s[2] == pytest.approx(rise + fall, rel=0.005)
    assert cyc.keeps_up.tolist() == [True, True, True, False]


def test_lag_in_a_list_and_worst_of_both_ranges() -> None:
    bank = dp.parallel([PUMP_A, PUMP_A], RISER, lag_on_in=13.5)
    line, pit = shared(), r1_pit()
    each = dp.cycle([bank, PUMP_A], line, pit, inflow_gpm=[10, 40])
    alone = dp.cycle(bank, line, pit, inflow_gpm=[10, 40])
    assert each.starts_per_h.shape == (2, 2)
    np.testing.assert_array_equal(each.starts_per_h[0], alone.starts_per_h)
    q = np.linspace(34.5, 49.5, 300)
    many = dp.cycle(bank, line, pit, inflow_gpm=q).starts_per_h
    assert alone.worst_starts_per_h[0] >= many.max() * (1 - 1e-9)


@pytest.mark.parametrize(
    ("build", "message"),
    [
        (lambda: dp.parallel([]), "parallel: no pumps; give a list of one PumpCurve or more."),
        (
            lambda: dp.parallel([PUMP_A, PUMP_A], [RISER]),
            "risers: 1 for 2 pumps; give one Run a pump, None where a pump has no riser of its "
            "own.",
        ),
        (
            lambda: dp.parallel(
                [PUMP_A, PUMP_A], [RISER, dp.Run(pipe=RISER.pipe, length_ft=2, rise_ft=2)]
            ),
            "risers[1]: rises 2 ft (0.61 m), the first 0 ft (0 m); all meet at the start of "
            "the shared line, give them one rise.",
        ),
        (
            lambda: dp.parallel([PUMP_A, PUMP_A], 3),  # type: ignore[arg-type]
            "risers=3: must be a Run or a list of them; make one with Run(...).",
        ),
        (
            lambda: dp.parallel(PUMP_A, PUMP_B),  # type: ignore[arg-type]
            "parallel: 'B' stands where the risers do; give the pumps as a list: parallel([a, b]).",
        ),
        (
            lambda: dp.parallel([PUMP_A, PUMP_A], lag_on_in=float("nan")),
            "lag_on_in=nan: must be one number, with a pump besides the lead; leave it out where "
            "all pumps start together.",
        ),
        (
            lambda: dp.series([dp.parallel([PUMP_A, PUMP_A])]),
            "series: pumps[0] is a parallel bank, whose head at a flow is not one curve's; put "
            "series banks in parallel instead.",
        ),
        (
            lambda: dp.parallel([dp.parallel([PUMP_A, PUMP_A])]),
            "parallel: pumps[0] is a parallel bank itself; give all its pumps to one call.",
        ),
        (
            lambda: dp.series(
                [PUMP_A, dp.PumpCurve(name="far", flow_gpm=[60, 70], head_ft=[9, 8])]
            ),
            "series: one curve begins at 60 gpm (3.79 L/s), another ends at 50 gpm "
            "(3.15 L/s); the pumps have no flow in common, choose others.",
        ),
        (
            lambda: dp.parallel([PUMP_A], lag_on_in=18),
            "lag_on_in=18: must be one number, with a pump besides the lead; leave it out where "
            "all pumps start together.",
        ),
        (
            lambda: dp.cycle(
                dp.parallel([PUMP_A, PUMP_A], lag_on_in=12), r1_line(), r1_pit(), inflow_gpm=10
            ),
            "lag_on_in=12: must be above the pit's on level 13 in (330 mm) and not above its "
            "rim 30 in (762 mm); move the lag float.",
        ),
    ],
)
def test_refusals(build: Any, message: str) -> None:
    with pytest.raises(dp.InputError) as err:
        build()
    assert str(err.value) == message


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ((["a"],), "pumps[0]='a': must be a PumpCurve or a bank; make one with PumpCurve(...)."),
        (((),), "parallel: no pumps; give a list of one PumpCurve or more."),
        (
            ([PUMP_A, PUMP_A], [None]),
            "risers: 1 for 2 pumps; give one Run a pump, None where a pump has no riser of its "
            "own.",
        ),
        (
            ([PUMP_A], None, "no"),
            "in_series='no': must be True or False; say how the pumps stand.",
        ),
        (
            ([PUMP_A], RISER, True),
            "risers: pumps in series have none; put the pipe into the line.",
        ),
        (([PUMP_A], None, False, 5), "name=5: must be text; leave it out, or say what to call it."),
        (
            ([PUMP_A, PUMP_B], None, False, None, 20),
            "lag_on=20: must be a Measure; make one with parallel(..., lag_on_in=...).",
        ),
    ],
)
def test_a_bank_made_directly_is_checked_alike(given: Any, message: str) -> None:
    with pytest.raises(dp.InputError) as err:
        dp.PumpBank(*given)
    assert str(err.value) == message


def test_bank_says_what_it_is() -> None:
    bank = dp.parallel([PUMP_A, PUMP_B], [RISER, None], lag_on_in=18)
    first, *rest = str(bank).splitlines()
    assert first == "PumpBank('A + B', parallel, lag on at 18 in (457 mm))"
    assert rest[1].strip().startswith("riser: Run(")
    assert bank.invented
    assert bank.price is None
    assert dp.parallel([PUMP_A]).lead is PUMP_A


def test_plot_of_a_bank_goes_through_its_operating_point() -> None:
    line = shared(2.047)
    for bank in (dp.parallel([PUMP_A, PUMP_B], RISER), dp.series([PUMP_A, PUMP_A])):
        lifted = line if not bank.in_series else shared(2.047, lift_ft=20)
        ax = dp.plots.duty([bank, PUMP_A], lifted)
        curve = ax.lines[0]
        op = dp.operating_point(bank, lifted)
        there = np.interp(op.flow_gpm, curve.get_xdata(), curve.get_ydata())
        # straight between some 200 points
        assert there == pytest.approx(op.head_ft, abs=0.01)


def test_selection_takes_banks_as_pumps() -> None:
    bank = dp.parallel([PUMP_A, PUMP_A], RISER)
    sel = dp.select([PUMP_A, bank], [shared(2.047)], need_gpm=45, pit=r1_pit())
    assert sel.best is not None
    assert sel.best.pump is bank


@pytest.mark.parametrize("lag_in", [13.2, 14, 20])
def test_the_worst_inflow_of_lead_and_lag_is_the_worst_of_a_fine_scan(lag_in: float) -> None:
    bank = dp.parallel([PUMP_A, PUMP_A], RISER, lag_on_in=lag_in)
    scan = np.linspace(1, 49.7, 3000)
    cyc = dp.cycle(bank, shared(), r1_pit(), inflow_gpm=scan)
    own = np.where(cyc.lag_starts_per_h > 0, cyc.lag_starts_per_h, cyc.starts_per_h)
    # a scan of 0.016 gpm a step misses the top by less than 1e-6 of it
    assert cyc.worst_starts_per_h[0] == pytest.approx(own.max(), rel=1e-6)
    assert cyc.worst_starts_per_h[0] >= own.max() * (1 - 1e-12)
    assert cyc.worst_inflow_gpm[0] == pytest.approx(scan[own.argmax()], abs=0.02)


def test_series_with_a_drooping_pump_adds_heads_too() -> None:
    op = dp.operating_point(dp.series([DROOPING, PUMP_A]), shared(1.590, lift_ft=25))
    heads = [p.head(flow_gpm=op.flow_gpm).head_ft for p in (DROOPING, PUMP_A)]
    assert op.head_ft == pytest.approx(sum(heads), rel=1e-10)


@pytest.mark.parametrize("build", [dp.series, lambda pumps: dp.parallel(pumps, RISER)])
def test_a_scaled_bank_is_a_bank_of_scaled_pumps(build: Any) -> None:
    pumps = [PUMP_A, PUMP_B]
    want = build([p.worn(head=0.8, flow=0.9) for p in pumps])
    for got in (build(pumps)._scaled(0.8, 0.9), build(pumps).worn(head=0.8, flow=0.9)):
        op = dp.operating_point(got, shared())
        assert op.flow_gpm == pytest.approx(dp.operating_point(want, shared()).flow_gpm, rel=1e-12)


@pytest.mark.parametrize("bad", [{"head": float("nan")}, {"flow": float("nan")}])
def test_a_series_of_an_unknown_pump_is_unknown(bad: dict[str, float]) -> None:
    op = dp.operating_point(dp.series([PUMP_A.worn(**bad), PUMP_A]), shared())
    assert (op.status, np.isnan(op.flow_gpm)) == ("bad_input", True)


def test_a_curve_to_draw_is_the_bank_at_each_flow() -> None:
    line = shared(2.047)
    flow, head = points_along(PUMP_A, line, 11)
    assert (flow.size, flow[0]) == (11, 0.0)
    assert flow[-1] == pytest.approx(PUMP_A.flow_lps[-1] / 1e3)
    np.testing.assert_allclose(head, PUMP_A.head(flow_lps=1e3 * flow).head_m, atol=1e-12)
    flow, head = points_along(dp.series([PUMP_A, PUMP_B]), line, 11)
    heads = [p.head(flow_lps=1e3 * flow).head_m for p in (PUMP_A, PUMP_B)]
    np.testing.assert_allclose(head, np.sum(heads, axis=0), atol=1e-12)
    # side by side: at each head, what both give behind their risers
    flow, head = points_along(dp.parallel([PUMP_A, PUMP_A], RISER), line, 41)
    assert flow.size == head.size == 41
    speed = 0.5 * flow / (np.pi / 4 * (1.590 * 0.0254) ** 2)
    alone = PUMP_A.head(flow_lps=0.5e3 * flow).head_m - 2.5 * speed**2 / (2 * 9.80665)
    # straight between heads 0.037 m apart, which at the flat top spans several flows
    np.testing.assert_allclose(head[:3], alone[:3], atol=0.01)
    np.testing.assert_allclose(head[3:], alone[3:], atol=2e-3)


@pytest.mark.parametrize("lift_ft", [9, 11, 13, 15])
def test_drooping_pumps_alike_answer_as_one_does(lift_ft: float) -> None:
    droop = dp.PumpCurve(name="droop", flow_gpm=[0, 15, 30, 40], head_ft=[10, 14, 8, 0])
    line = dp.straight_line(pipe=dp.pvc("3"), length_ft=20, lift_ft=lift_ft)
    one, two = (dp.operating_point(p, line) for p in (droop, dp.parallel([droop, droop])))
    # between shutoff at 10 ft and the peak at 14 ft no pump is relied on to start
    assert one.status == two.status == {9: "ok", 15: "no_flow"}.get(lift_ft, "multiple")
    total = np.linspace(0.01, 79.9, 4000)
    spare = np.interp(total / 2, *_fine(droop)) - line.head(flow_gpm=total).head_ft
    roots = total[1:][(spare[1:] <= 0) & (spare[:-1] > 0)]
    greatest = roots[-1] if roots.size else 0.0
    assert two.si.reckoned / 0.0630901964e-3 == pytest.approx(greatest, abs=0.05)
    assert (two.si.counted > 0) == (lift_ft == 9)


@pytest.mark.parametrize("name", ["two alike", "beside a stronger"])
def test_a_drooping_pump_that_none_can_shut_out_has_one_flow(name: str) -> None:
    """The junction stands above its head at no flow only because it runs itself."""
    droop = dp.PumpCurve(
        name="droop",
        flow_gpm=[0, 4.62, 9.23, 13.85, 18.47, 23.08],
        head_ft=[14.57, 16.88, 16.86, 14.5, 9.81, 2.81],
    )
    line = dp.straight_line(pipe=dp.Pipe(bore_in=1.59), length_ft=164, lift_ft=9, k=2)
    one = dp.operating_point(droop, line)
    bank = dp.parallel([droop, droop] if name == "two alike" else [droop, PUMP_A])
    op = dp.operating_point(bank, line)
    if name == "two alike":
        assert one.status == op.status == "ok"
        assert op.share_status.tolist() == ["ok", "ok"]
        # twice the flow at each head, by a scan
        total = np.linspace(0.01, 46, 4000)
        made = PchipInterpolator(droop.flow_gpm, droop.head_ft)(total / 2)
        spare = made - line.head(flow_gpm=total).head_ft
        assert op.flow_gpm == pytest.approx(total[spare > 0].max(), abs=0.02)
        assert op.head_ft > 14.57
    else:  # the stronger holds the junction up: it may run or not
        assert op.status == "multiple"


def _fine(pump: dp.PumpCurve) -> tuple[np.ndarray, np.ndarray]:
    flow = np.linspace(0, 40, 2001)
    return flow, PchipInterpolator(pump.flow_gpm, pump.head_ft)(flow)


#: straight between its points
EVEN = dp.PumpCurve(name="even", flow_gpm=[0, 25, 50], head_ft=[26, 16, 6])


def test_a_bank_with_a_pump_before_its_first_point_is_not_counted_on() -> None:
    cut = dp.PumpCurve(name="B", flow_gpm=[15, 30, 50], head_ft=[14, 10, 0])
    line = dp.straight_line(pipe=dp.pvc("1-1/2"), length_ft=100, lift_ft=6)
    bank = dp.parallel([EVEN, cut])
    op = dp.operating_point(bank, line)
    assert (op.status, op.si.counted) == ("below_curve", 0.0)
    # its first point beside what the other gives then, and no more
    assert op.flow_at_most_gpm == pytest.approx(15 + _beside(line, 15), abs=0.05)
    (c,) = dp.select(bank, line, need_gpm=20).candidates
    assert c.reasons[0].code == "below_curve"


def _beside(line: dp.DischargeLine, other: float) -> float:
    """Flow of the even pump on a line that carries another's as well."""
    flow = np.linspace(0, 49.9, 5000)
    made = np.interp(flow, EVEN.flow_gpm, EVEN.head_ft)
    return float(flow[np.argmin(np.abs(made - line.head(flow_gpm=flow + other).head_ft))])
