"""One vocabulary of states: a drooping curve, one without a shutoff point, one that ends early."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import hypothesis.strategies as st
import numpy as np
import pytest
from hypothesis import given

import drainpump as dp
from drainpump import plots, states
from drainpump.units import from_si

DROOPS = dp.PumpCurve(name="droops", flow_gpm=[0, 10, 20, 30], head_ft=[24, 27, 27, 10])
#: no point at no flow, and the same pump with one
LATE = dp.PumpCurve(name="late", flow_gpm=[10, 30, 50], head_ft=[19, 12.8, 0])
LATE_FROM_REST = dp.PumpCurve(
    name="late", flow_gpm=[10, 30, 50], head_ft=[19, 12.8, 0], shutoff_ft=20
)
EARLY = dp.PumpCurve(name="early", flow_gpm=[0, 10, 20], head_ft=[20, 19.2, 16.8])
WEAK = dp.PumpCurve(name="weak", flow_gpm=[0, 20], head_ft=[5, 0])
PIT = dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=13)
SURE = dp.Doubt(lift_ft=0)
METER = dp.field.meter_test(flow_gpm=18, sigma_gpm=1)
ADVICE = dp.Limits(without=["velocity_min"])


def line(lift_ft: float, length_ft: float = 50, **more: Any) -> dp.DischargeLine:
    return dp.straight_line(pipe=dp.pvc("2"), length_ft=length_ft, lift_ft=lift_ft, **more)


#: one pump and the lift of one line for each status
LIFTS = {
    "ok": (DROOPS, 20.0),
    "no_flow": (WEAK, 8.0),
    "beyond_curve": (EARLY, 6.0),
    "below_curve": (LATE, 22.0),
    "multiple": (DROOPS, 24.5),
}
SITES = {name: (pump, line(lift)) for name, (pump, lift) in LIFTS.items()}
EVERY = pytest.mark.parametrize("status", SITES)
BOUNDS = pytest.mark.parametrize("status", ["beyond_curve", "below_curve", "multiple"])


def gpm(si: Any) -> float:
    return float(from_si(si, "gpm"))


# -- the table


def test_what_is_counted_on_and_reckoned_with() -> None:
    """Each row of the table, in the solver's own answer."""
    table = {name: dp.operating_point(*site) for name, site in SITES.items()}
    assert {name: op.status for name, op in table.items()} == {name: name for name in SITES}
    greatest = max(x.flow_gpm for x in table["multiple"].crossings)
    known = table["ok"].flow_gpm
    assert {n: gpm(op._counted) for n, op in table.items()} == pytest.approx(
        {"ok": known, "no_flow": 0, "beyond_curve": 20, "below_curve": 0, "multiple": 0}
    )
    assert {n: gpm(op._reckoned) for n, op in table.items()} == pytest.approx(
        {"ok": known, "no_flow": 0, "beyond_curve": 20, "below_curve": 10, "multiple": greatest}
    )
    bad = dp.operating_point(EARLY, line(np.nan))
    assert bad.status == "bad_input"
    assert np.isnan([bad._counted, bad._reckoned]).all()


@given(lift=st.floats(-2, 30), head=st.floats(0.5, 1.2))
def test_counted_on_never_passes_what_is_reckoned_with(lift: float, head: float) -> None:
    """Nor does either leave the known flow; a bank of one answers as its pump does."""
    for pump in (DROOPS, LATE, EARLY):
        worn = pump.worn(head=head) if head <= 1 else pump
        op = dp.operating_point(worn, line(lift))
        assert 0 <= op._counted <= op._reckoned <= worn.flow_gpm[-1] * 6.31e-5
        if op.ok:
            assert op._counted == op._reckoned == op._flow
        elif op.status == "multiple":
            assert gpm(op._reckoned) >= max(x.flow_gpm for x in op.crossings) * (1 - 1e-12)


@pytest.mark.parametrize("kind", [dp.series, dp.parallel])
def test_a_bank_of_drooping_pumps_hands_its_greatest_crossing_out(kind: Any) -> None:
    op = dp.operating_point(kind([DROOPS, EARLY]), [line(x) for x in (6, 18, 24.5, 41, 43)])
    assert np.isfinite(op._reckoned).all()
    assert (op._counted <= op._reckoned).all()
    several = np.asarray(op.status) == "multiple"
    assert (op._counted[several] == 0).all()
    for crossing in op.crossings:
        assert gpm(op._reckoned[crossing.index]) >= crossing.flow_gpm * (1 - 1e-12)


def test_a_flow_that_may_run_past_the_curve_too_is_reckoned_with_at_its_last_point() -> None:
    """Heads that fall, rise and end above the line: two crossings and perhaps a third flow."""
    wavy = dp.PumpCurve(flow_gpm=[0, 10, 20, 30], head_ft=[20, 8, 8, 18])
    op = dp.operating_point(wavy, line(10))
    assert op.status == "multiple"
    assert gpm(op._reckoned) == pytest.approx(30)


def test_limits_on_a_bound() -> None:
    """A number at least 5 is surely over 4; whether it is over 6 is not known."""
    cases = {(5, 4): (True, False), (5, 6): (False, True)}
    for (value, limit), found in cases.items():
        assert tuple(map(bool, states.over(value, limit, True, False))) == found
        assert tuple(map(bool, states.under(-value, -limit, False, True))) == found
    assert [bool(x) for x in states.over(np.nan, 4, False, False)] == [False, True]
    assert [bool(x) for x in states.under(5, 4, True, True)] == [False, True]
    assert [bool(x) for x in states.over(5, 4, False, False)] == [True, False]


# -- one answer to one question


@EVERY
def test_without_doubt_all_count_on_the_same_flow(status: str) -> None:
    pump, where = SITES[status]
    counted = gpm(dp.operating_point(pump, where)._counted)
    spread = dp.band(pump, where, SURE, 16)
    judged = dp.field.verdict(pump, where, METER, SURE, 16)
    ahead = dp.field.outlook(pump, where, horizon_year=10, wear_per_year=0.01, samples=4)
    assert set(spread.flow_gpm.values()) == {spread.flow_gpm["p50"]}
    values = [spread.flow_gpm["p50"], judged.low_gpm, judged.middle_gpm, judged.high_gpm]
    values += [ahead.p10_gpm[0], ahead.p50_gpm[0], ahead.p90_gpm[0]]
    assert values == pytest.approx([counted] * len(values), rel=1e-12)
    assert [spread.status, judged.status, ahead.status[0]] == [status] * 3
    assert spread.probability(need_gpm=1) == float(counted >= 1)


def test_a_pump_that_droops_is_no_pump_for_ever() -> None:
    ahead = dp.field.outlook(DROOPS, line(23), horizon_year=40, wear_per_year=0.02, need_gpm=20)
    assert 1 < ahead.falls_below_year["p50"] < 4
    assert ahead.p50_gpm[-1] == 0
    assert {"ok", "multiple", "no_flow"} == set(ahead.status.tolist())
    assert not np.isnan(ahead.p50_gpm).any()


def test_a_pump_without_its_shutoff_point_wears_out_as_the_same_pump_with_it() -> None:
    """A flow known only as less than 10 gpm was taken for 10 gpm after 40 years."""
    asked = {"horizon_year": 40, "wear_per_year": 0.1, "need_gpm": 8}
    late, known = (dp.field.outlook(pump, line(6, 150), **asked) for pump in (LATE, LATE_FROM_REST))
    assert known.falls_below_year["p50"] == pytest.approx(10.6, abs=0.05)
    assert late.falls_below_year["p50"] == pytest.approx(10.6, abs=0.4)
    assert late.falls_below_year["p50"] <= known.falls_below_year["p50"]
    assert (late.p50_gpm[-1], known.p50_gpm[-1]) == (0, 0)
    assert (late.probability <= known.probability).all()
    assert late.status[-1] == "below_curve"


def test_a_verdict_on_a_drooping_curve_says_what_it_rests_on() -> None:
    found = dp.field.verdict(DROOPS, line(23), METER, dp.Doubt(head_pct=5))
    assert found.status == "multiple"
    assert found.low_gpm == 0
    assert found.below + found.inside + found.above == pytest.approx(1)


def test_a_diagnosis_on_a_drooping_curve_weighs_every_fault() -> None:
    found = dp.field.diagnose(DROOPS, line(23), measured_gpm=18, sigma_gpm=1)
    assert found.plausibility.sum() + found.chance + found.unexplained == pytest.approx(1)
    by_fault = dict(zip(found.faults, found.status.tolist(), strict=True))
    assert by_fault["head factor"] == "multiple"
    assert by_fault["leak at the pump"] == "ok"
    known = np.isfinite(found.sizes)
    assert found.flow_gpm[known] == pytest.approx(18, rel=1e-6)


def test_a_leak_is_found_on_a_curve_that_starts_late() -> None:
    found = dp.field.diagnose(LATE, line(6, 150), measured_gpm=30, sigma_gpm=1)
    same = dp.field.diagnose(LATE_FROM_REST, line(6, 150), measured_gpm=30, sigma_gpm=1)
    assert found.plausibility == pytest.approx(same.plausibility, abs=0.02)


def test_a_calibration_on_a_drooping_curve_says_what_it_rests_on() -> None:
    found = dp.field.calibrate(DROOPS, line(23), METER, fit="head_factor")
    assert found.status == "multiple"
    again = dp.operating_point(found.pump, line(23))
    assert max(x.flow_gpm for x in again.crossings) == pytest.approx(18, rel=1e-4)
    assert found.says.endswith(f"(one sigma); {states.MENDS['multiple']}.")


def test_a_gauge_with_the_valve_shut_needs_a_point_at_no_flow() -> None:
    def gauge(pump: dp.PumpCurve) -> dp.field.FieldTest:
        return dp.field.gauge_test(pump, pressure_psi=7, gauge_above_water_ft=1, valve_shut=True)

    with pytest.raises(dp.InputError) as err:
        dp.field.calibrate(LATE, line(6), gauge(LATE), fit="head_factor")
    assert str(err.value) == (
        "tests[0]: a gauge with the valve shut reads the shutoff head, and 'late' has no point at "
        "no flow; give the pump shutoff_ft."
    )
    # with the valve shut nothing rests on the flow, which this line does not tell
    found = dp.field.calibrate(EARLY, line(6), gauge(EARLY), fit="head_factor")
    assert found.status == "ok"
    assert found.values["head_factor"] == pytest.approx(17.15 / 20, abs=0.01)


# -- need, keeping up and ponding: what is counted on


@EVERY
def test_keeping_up_and_ponding_rest_on_what_is_counted_on(status: str) -> None:
    pump, where = SITES[status]
    on = dp.operating_point(pump, where, level_above_off_ft=7 / 12)
    turning = dp.cycle(pump, where, PIT, inflow_gpm=5)
    assert turning.keeps_up == bool(gpm(on._counted) > 5)
    storm = dp.Hydrograph(flow_gpm=[5], block_min=60)
    routed = dp.route(pump, where, PIT, storm)
    assert routed.status == turning.status == status
    carried = status in ("ok", "beyond_curve")
    assert (routed.peak_pond_gal == 0) == (carried or status == "multiple")
    if not carried and status != "multiple":
        assert routed.pumped_gal == pytest.approx(0, abs=1e-9)
    assert np.isfinite([turning.worst_starts_per_h, routed.stored_gal]).all()


def test_at_most_ten_gpm_does_not_keep_up_with_eight() -> None:
    turning = dp.cycle(LATE, line(22), PIT, inflow_gpm=[0, 8, 12])
    assert turning.keeps_up.tolist() == [False, False, False]
    # 12 gpm are more than it can be, 8 may be; no inflow is none whatever it gives
    assert turning.pattern.tolist() == ["idle", "unknown", "falls_behind"]
    assert turning.flow_at_on_gpm == pytest.approx([10, 10, 10])
    room = dp.outage(PIT, inflow_gpm=8, battery_wh=500, pump=LATE, line=line(22), power_w=300)
    assert room.status == "unknown"


@BOUNDS
def test_drain_back_delivers_what_is_counted_on(status: str) -> None:
    pump, lift = LIFTS[status]
    found = dp.drain_back(pump, line(lift, check_valve=False), PIT, inflow_gpm=5)
    sure = status == "beyond_curve"
    assert found.status == status
    assert (found.delivers, found.reaches_outlet, found.overflows) == (sure, sure, not sure)
    assert np.isfinite(found.cycles_to_outlet) == sure
    assert (found.net_gal > 0) == sure
    assert found.settled_starts_per_h > 0


@EVERY
def test_the_smallest_pipe_carries_what_is_counted_on(status: str) -> None:
    pump, where = SITES[status]
    found = dp.size.smallest_pipe(pump, where, [dp.pvc("2")], need_gpm=8)
    carried = status in ("ok", "beyond_curve")
    assert found.status == (status if carried else "none_serves")
    assert (found.flow_gpm >= 8) == carried


@EVERY
def test_the_longest_run_and_the_highest_lift_are_counted_on(status: str) -> None:
    """Just there the need is still carried, and no number stands where none is."""
    pump, where = SITES[status]
    far = dp.size.max_length(pump, where, need_gpm=8)
    high = dp.size.max_lift(pump, where, need_gpm=8)
    assert np.isnan(far.length_ft) == (far.status != "ok")
    assert np.isnan(high.lift_ft) == (high.status != "ok")
    carried = status in ("ok", "beyond_curve")
    # the need is less than the first point of the one that starts late
    short = "below_curve" if status == "below_curve" else "none_serves"
    assert far.status == ("ok" if carried else short)
    if high.ok:
        there = dp.operating_point(pump, line(high.lift_ft * (1 - 1e-9)))
        assert gpm(there._counted) >= 8 * (1 - 1e-6)


@EVERY
def test_sensitivity_says_what_it_rests_on(status: str) -> None:
    pump, where = SITES[status]
    with pytest.warns(dp.UnusualValueWarning, match="a share would be 1 %"):
        hardly = dp.Doubt(length_pct=0.01)
    frame = dp.sensitivity(pump, where, hardly, 64, need_gpm=8)
    assert set(frame.status) == {status}  # of two figures the shape is a row of its own
    assert not frame.isna().any(axis=None)


# -- velocity, starts and hand-off: what is reckoned with


@EVERY
def test_starts_rest_on_what_is_reckoned_with(status: str) -> None:
    pump, where = SITES[status]
    turning = dp.cycle(pump, where, PIT, inflow_gpm=0)
    spread = dp.band(pump, where, SURE, 16, pit=PIT)
    assert spread.worst_starts_per_h is not None
    assert spread.worst_starts_per_h["p50"] == pytest.approx(turning.worst_starts_per_h)
    assert spread.velocity_fps["p50"] == pytest.approx(
        float(from_si(dp.operating_point(pump, where)._reckoned / where._arrays.area[-1], "fps"))
    )
    wanted = dp.size.float_travel(pump, where, PIT, starts_max_per_h=40)
    assert wanted.status == status
    assert np.isnan(wanted.travel_in) == (status == "no_flow")


def _codes(found: Any) -> dict[str, str]:
    return {r.code: r.verdict for r in found.reasons}


def test_what_a_bound_cannot_decide_is_not_known_and_not_accepted() -> None:
    pump, where = SITES["beyond_curve"]
    limits = dp.Limits(starts_max_per_h=200, run_min_s=5)
    (found,) = dp.select([pump], [where], need_gpm=8, pit=PIT, limits=limits).candidates
    assert not found.accepted
    codes = _codes(found)
    # past the last point is past any share of it
    assert codes.pop("range_share_high") == "look"
    assert codes == dict.fromkeys(
        ["velocity_low", "velocity_high", "starts_high", "run_short"], "not_known"
    )
    said = {r.code: r.text for r in found.reasons}
    assert said["velocity_high"] == (
        "velocity at least 1.95 ft/s (0.594 m/s) in the narrowest run, at most 8 ft/s (2.44 m/s) "
        "wanted"
    )
    assert said["run_short"] == "shortest run at most 23.1 s, at least 5 s wanted"
    # at least that much is too much
    tight = dp.Limits(velocity_max_fps=1.9, velocity_min_fps=1.9, starts_max_per_h=20, run_min_s=60)
    (found,) = dp.select([pump], [where], need_gpm=8, pit=PIT, limits=tight).candidates
    assert _codes(found) == dict.fromkeys(
        ["velocity_high", "range_share_high", "starts_high", "run_short"], "look"
    )
    # without a largest velocity nothing stands against it
    free = dp.Limits(without=["velocity_max", "velocity_min", "range_share_max"])
    (found,) = dp.select([pump], [where], need_gpm=8, limits=free).candidates
    assert (found.accepted, found.status, found.flow_gpm) == (True, "beyond_curve", 20)
    assert found.notes[0].startswith("flow is at least 20 gpm")


def test_a_need_past_the_curve_is_not_known_to_be_carried() -> None:
    pump, where = SITES["beyond_curve"]
    (found,) = dp.select([pump], [where], need_gpm=25, limits=ADVICE).candidates
    assert _codes(found)["flow_short"] == "not_known"
    assert found.reasons[0].text == "flow at least 20 gpm (1.26 L/s), 25 gpm (1.58 L/s) needed"


def test_what_is_before_the_curve_is_judged_by_its_first_point() -> None:
    pump, where = SITES["below_curve"]
    limits = dp.Limits(velocity_min_fps=0.5, velocity_max_fps=2, starts_max_per_h=5, run_min_s=5)
    (found,) = dp.select([pump], [where], need_gpm=5, pit=PIT, limits=limits).candidates
    assert _codes(found) == {
        "below_curve": "look", "velocity_low": "not_known", "starts_high": "not_known",
    }  # fmt: skip
    assert found.flow_gpm == 0
    assert found.velocity_fastest_fps == pytest.approx(0.975, abs=0.001)


def test_best_flow_and_share_of_the_curve_are_bounds_too() -> None:
    pump = dp.PumpCurve(
        name="early", flow_gpm=[0, 10, 20], head_ft=[20, 19.2, 16.8], best_flow_gpm=18
    )
    limits = dp.Limits(range_share_max=1, without=["velocity_max", "velocity_min"])
    (found,) = dp.select([pump], [line(6)], need_gpm=8, limits=limits).candidates
    assert _codes(found) == {"range_share_high": "not_known", "best_flow_off": "not_known"}


@EVERY
def test_a_choice_counts_on_the_flow(status: str) -> None:
    pump, where = SITES[status]
    chosen = dp.select([pump], [where], need_gpm=8, doubt=SURE, limits=ADVICE, samples=16)
    (found,) = chosen.candidates
    assert found.flow_gpm == pytest.approx(gpm(chosen.operating._counted[0, 0]))
    assert found.probability == float(found.flow_gpm >= 8)
    assert found.accepted == (status == "ok")


@BOUNDS
def test_side_checks_of_a_bound_do_not_decide(status: str) -> None:
    pump, lift = LIFTS[status]
    wide = dp.GravityHandOff(bore_in=4, slope=0.01, n=0.012)
    (hand_off,) = dp.side_checks(pump, line(lift, outlet=wide)).of("gravity_pipe")
    assert hand_off.verdict == ("fine" if status == "below_curve" else "not_known")
    narrow = dp.GravityHandOff(bore_in=1, slope=0.001, n=0.012)
    (small,) = dp.side_checks(pump, line(lift, outlet=narrow)).of("gravity_pipe")
    assert small.verdict == ("look" if status == "beyond_curve" else "not_known")


def test_a_siphon_is_compared_by_what_is_known() -> None:
    """Beyond the curve the two states are the same only where nothing falls."""
    runs = [
        dp.Run(pipe=dp.pvc("2"), length_ft=30, rise_ft=8),
        dp.Run(pipe=dp.pvc("2"), length_ft=30, rise_ft=-6),
    ]
    assert dp.high_point(EARLY, dp.DischargeLine(runs=runs)).verdict_code == "unknown"
    assert dp.high_point(EARLY, line(6)).verdict_code == "one_state"


def test_a_weep_hole_is_worked_out_where_the_flow_is_known() -> None:
    """A curve that starts late answers as the same curve from rest, and not before its points."""
    for lift, hole in ((18, 0.05), (18, 0.1875), (6, 0.3)):
        late, known = (
            dp.weep_loss(pump, line(lift), hole_in=hole) for pump in (LATE, LATE_FROM_REST)
        )
        assert (late.status, known.status) == ("ok", "ok")
        assert late.flow_gpm == pytest.approx(known.flow_gpm, rel=0.01)
    before = dp.weep_loss(LATE, line(22), hole_in=0.1)
    assert before.status == "below_curve"
    assert np.isnan([before.flow_gpm, before.weep_gpm]).all()


# -- words and pictures


@BOUNDS
def test_why_so_little_says_the_bound(status: str) -> None:
    pump, where = SITES[status]
    word = states.bound(status)
    text = dp.explain(pump, where).text()
    assert f"moves {'perhaps' if status == 'multiple' else word} " in text
    assert (states.MENDS["multiple"] in text) == (status == "multiple")
    rules = dp.teach.rules_of_thumb(pump, where)
    assert {r.bound for r in rules if r.guess_gpm is not None} == {word}


PICTURES: dict[str, Callable[[Any, Any], Any]] = {
    "band": lambda p, x: plots.band(p, x, dp.Doubt(lift_ft=0.1), 64),
    "check_up": lambda p, x: plots.check_up(p, x, METER),
    "cycle": lambda p, x: plots.cycle(p, x, PIT, inflow_gpm=5),
    "duty": lambda p, x: plots.duty(p, x, PIT),
    "pipe_sizes": lambda p, x: plots.pipe_sizes(p, x, sizes=["1-1/2", "2"]),
    "pump_family": lambda p, x: plots.pump_family(p, head=[1, 0.95], line=x),
    "starts": lambda p, x: plots.starts(p, x, PIT),
    "storm": lambda p, x: plots.storm(
        dp.route(p, x, PIT, dp.Hydrograph(flow_gpm=[5], block_min=20))
    ),
    "swings": lambda p, x: plots.swings(p, x, dp.Doubt(lift_ft=0.1), 64),
    "system_family": lambda p, x: plots.system_family(x, lift_ft=[4, 24], pump=p),
}


@BOUNDS
@pytest.mark.parametrize("picture", PICTURES)
def test_every_picture_of_a_bound_is_drawn(picture: str, status: str) -> None:
    import matplotlib.pyplot as plt

    ax = PICTURES[picture](*SITES[status])
    ax.figure.canvas.draw()
    assert np.isfinite([*ax.get_xlim(), *ax.get_ylim()]).all()
    plt.close(ax.figure)


@BOUNDS
def test_the_duty_plot_says_the_bound(status: str) -> None:
    import matplotlib.pyplot as plt

    pump, where = SITES[status]
    ax = plots.duty(pump, where)
    flow = dp.operating_point(pump, where)._reckoned
    from drainpump import units as u

    said = states.said(u.text(flow, "gpm"), status)
    assert any(said in t.get_text() for t in ax.texts)
    plt.close(ax.figure)


@pytest.mark.parametrize("status", ["beyond_curve", "below_curve"])
def test_waterfall_and_ledger_draw_a_bound(status: str) -> None:
    import matplotlib.pyplot as plt

    why = dp.explain(*SITES[status])
    ax = plots.waterfall(why)
    sign = {"beyond_curve": "≥ ", "below_curve": "≤ "}[status]
    assert any(t.get_text().startswith(sign) for t in ax.texts)
    ticks = [t.get_text() for t in plots.ledger(why).get_xticklabels()]
    assert any(states.bound(status) in t for t in ticks)
    plt.close("all")
