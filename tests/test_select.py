"""The choice: the worked grid, every code, objectives, certainty, changes, costs."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import drainpump as dp
from tests.problems import BORES_IN, PUMP_A, PUMP_B, r1_line

LINES = [r1_line(bore) for bore in BORES_IN]
A, B = PUMP_A, PUMP_B


def pit() -> dp.Pit:
    return dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=13)


WIDE = dp.Limits(without=["velocity_min", "velocity_max", "range_share_max"])
#: the greatest flow, nothing doubted: what a single solver tells
FLOW: dict[str, Any] = {"doubt": None, "objective": "flow"}


def codes(selection: dp.Selection) -> dict[tuple[str, float], tuple[str, ...]]:
    """Codes of every candidate, by pump and bore."""
    bore = {id(x): b for x, b in zip(LINES, BORES_IN, strict=True)}
    return {
        (c.pump.name, bore[id(c.line)]): tuple(r.code for r in c.reasons)
        for c in selection.candidates
    }


def test_the_worked_grid() -> None:
    limits = dp.Limits(velocity_min_fps=2, velocity_max_fps=6, without=["range_share_max"])
    sel = dp.select([A, B], LINES, need_gpm=30, limits=limits, **FLOW)
    assert codes(sel) == {
        ("A", 1.36): ("flow_short",),
        ("A", 1.59): ("flow_short",),
        ("A", 2.047): (),
        ("A", 3.042): ("velocity_low",),
        ("B", 1.36): ("flow_short", "velocity_high"),
        ("B", 1.59): ("velocity_high",),
        ("B", 2.047): (),
        ("B", 3.042): (),
    }
    numbers = sorted(
        (c.pump.name, r.code, round(r.value, 1), round(r.limit, 6), r.unit)
        for c in sel.rejected
        for r in c.reasons
    )
    assert numbers == [
        ("A", "flow_short", 19.6, 30, "gpm"),
        ("A", "flow_short", 25.7, 30, "gpm"),
        ("A", "velocity_low", 1.8, 2, "fps"),
        ("B", "flow_short", 29.0, 30, "gpm"),
        ("B", "velocity_high", 6.1, 6, "fps"),
        ("B", "velocity_high", 6.4, 6, "fps"),
    ]
    assert sel.best is not None
    assert sel.best.flow_gpm == pytest.approx(56.91, abs=0.02)
    assert [c.rank for c in sel.candidates] == list(range(1, 9))


def test_smallest_change_names_what_would_admit_it() -> None:
    sel = dp.select([A, B], LINES, need_gpm=30, limits=dp.Limits(velocity_max_fps=6))
    short = next(c for c in sel.rejected if c.pump.name == "A" and c.line is LINES[1])
    assert short.change == (
        "4.32 gpm (0.272 L/s) short; admitted by 2 in Sch 40 PVC: 34.1 gpm (2.15 L/s); the "
        "same pump on 2.047 in bore, 150 ft gives 34.1 gpm (2.15 L/s)"
    )
    only = dp.select([A, B], LINES[:2], need_gpm=30, limits=dp.Limits(), doubt=None)
    weak = next(c for c in only.rejected if c.pump.name == "A" and c.line is LINES[1])
    assert weak.change.endswith("B on the same line gives 37.6 gpm (2.37 L/s)")
    none = dp.select(A, LINES[:1], need_gpm=60)
    assert none.best is None
    assert none.rejected[0].change.endswith("short; no change that was tried admits it")
    assert repr(none).endswith(f"0 of 1 accepted; nothing serves; nearest: {none.candidates[0]!r}")


def test_smallest_change_is_the_next_pipe_though_the_risers_are_alike() -> None:
    def line(size: str) -> dp.DischargeLine:
        riser = dp.Run(pipe=dp.pvc("1-1/2" if size == "1-1/2" else "2"), length_ft=6, rise_ft=6)
        buried = dp.Run(pipe=dp.pvc(size), length_ft=150)
        return dp.DischargeLine(runs=[riser, buried], name=size)

    sel = dp.select(A, [line(s) for s in ("3", "1-1/2", "2")], need_gpm=32, limits=WIDE)
    (c,) = sel.rejected
    assert "the same pump on 2 gives" in c.change


def test_statuses_reject_with_both_numbers() -> None:
    high = dp.straight_line(pipe=dp.pvc("2"), length_ft=50, lift_ft=25)
    cut = dp.PumpCurve(name="cut", flow_gpm=[30, 50], head_ft=[8, 2])
    droop = dp.PumpCurve(name="droop", flow_gpm=[0, 10, 20, 30], head_ft=[24, 27, 27, 10])
    sel = dp.select([A, cut, droop], high, need_gpm=5, limits=WIDE)
    by_name = {c.pump.name: c for c in sel.rejected}
    (no_flow,) = by_name["A"].reasons
    assert (no_flow.code, no_flow.unit) == ("no_flow", "ft")
    assert (no_flow.value, no_flow.limit) == pytest.approx((25, 20))
    assert str(no_flow) == (
        "the line asks 25 ft (7.62 m) before any flow, the pump makes 20 ft (6.1 m) at most"
    )
    assert [r.code for r in by_name["cut"].reasons] == ["below_curve"]
    assert [r.code for r in by_name["droop"].reasons] == ["multiple"]


def test_a_bound_is_used_and_said() -> None:
    easy = dp.straight_line(pipe=dp.pvc("3"), length_ft=5, lift_ft=0)
    ends = dp.PumpCurve(name="ends", flow_gpm=[0, 20, 40], head_ft=[30, 26, 18])
    (c,) = dp.select(ends, easy, need_gpm=35, limits=WIDE, **FLOW).candidates
    assert (c.accepted, c.status) == (True, "beyond_curve")
    assert c.flow_gpm == pytest.approx(40)
    assert c.notes == (
        "flow is at least 40 gpm (2.52 L/s), the end of the pump's data; that bound is used",
    )


def test_a_file_in_place_of_pumps_is_to_be_read_first() -> None:
    with pytest.raises(dp.InputError) as err:
        dp.select("mine.csv", LINES, need_gpm=20)  # type: ignore[arg-type]
    assert str(err.value) == "pumps='mine.csv': must be pumps; read a file with read_curves(...)."


def test_pit_limits() -> None:
    limits = dp.Limits(starts_max_per_h=60, run_min_s=15)
    sel = dp.select([A], LINES[2:3], pit=pit(), need_gpm=30, limits=limits)
    (c,) = sel.candidates
    assert [r.code for r in c.reasons] == ["starts_high", "run_short"]
    assert c.reasons[0].value == pytest.approx(67.0, rel=0.005)
    with pytest.raises(dp.InputError) as err:
        dp.select([A], LINES, need_gpm=30, limits=limits)
    assert str(err.value) == "limits on starts or runs: no pit given; give pit=Pit(...)."
    with pytest.raises(dp.InputError) as err:
        dp.select([A], LINES, need_gpm=30, objective="starts")
    assert str(err.value) == "objective='starts': no pit given; give pit=Pit(...)."


def test_many_starts_are_noted_where_no_limit_judges_them() -> None:
    (c,) = dp.select([A], LINES[2:3], pit=pit(), need_gpm=30).candidates
    assert c.accepted
    assert c.notes == (
        "starts 67/h in the worst case, more than the 20/h commonly quoted as the most (from "
        "memory; no published limit found for such small motors); no limit is set, give "
        "starts_max_per_h in the limits",
    )
    wide = dp.Pit(diameter_in=36, depth_in=48, off_in=6, on_in=40)
    for limits, where in (
        (dp.Limits(starts_max_per_h=80), pit()),
        (dp.Limits(without=["starts_max"]), pit()),
        (None, wide),
        (None, None),
    ):
        (c,) = dp.select([A], LINES[2:3], pit=where, need_gpm=30, limits=limits).candidates
        assert c.notes == ()


def test_print_shows_every_candidate() -> None:
    sel = dp.select([A, B], LINES[:1], pit=pit(), need_gpm=25, limits=WIDE)
    first, sure, rule, *table, note = str(sel).splitlines()
    assert first == repr(sel)
    assert sure == (
        "carried with probability 0.9 at least, by Doubt(length 5 %, lift 0.5 ft (0.152 m), bore "
        "±0.63 %, friction 5 %, ln K 0.25, head 4 %, flow 5 %, rain 20 %, runoff 20 %, ln seepage "
        "0.7)"
    )
    assert rule == f"ranked: {sel.rule}"
    assert [row.split()[:2] for row in table] == [["#", "pump"], ["1", "B"], ["2", "A"]]
    assert note == "note: " + sel.best.notes[0]  # type: ignore[union-attr]


def test_facts_of_the_pump_warn_or_reject() -> None:
    fit = dp.PumpCurve(
        name="fit", flow_gpm=[0, 30, 50], head_ft=[20, 12.8, 0], solids_in=0.5, voltage_v=115,
        best_flow_gpm=20, outlet_in=2,
    )  # fmt: skip
    bare = dp.PumpCurve(name="bare", flow_gpm=[0, 30, 50], head_ft=[20, 12.8, 0])
    limits = dp.Limits(solids_min_in=0.75, voltage_v=230)
    sel = dp.select([fit, bare], LINES[1], need_gpm=20, limits=limits)
    by_name = {c.pump.name: c for c in sel.candidates}
    assert [r.code for r in by_name["fit"].reasons] == ["solids_small", "voltage_other"]
    assert [r.code for r in by_name["fit"].warnings] == [
        "best_flow_not_preferred", "pipe_below_outlet",
    ]  # fmt: skip
    # what is not known is not accepted, unless it is to warn
    assert [(r.code, r.verdict) for r in by_name["bare"].reasons] == [
        ("solids_unknown", "not_known"), ("voltage_unknown", "not_known"),
    ]  # fmt: skip
    soft = limits.replace(soft=["solids_min", "voltage"])
    (bare,) = dp.select(bare, LINES[1], need_gpm=20, limits=soft).candidates
    assert (bare.accepted, len(bare.warnings)) == (True, 2)
    assert by_name["fit"].warnings[0].text == (
        "flow at 1.26 of the best-efficiency flow, 0.7 to 1.2 preferred"
    )
    assert by_name["fit"].warnings[0].value == pytest.approx(by_name["fit"].flow_gpm / 20)
    hard = dp.select(fit, LINES[1], need_gpm=20, limits=dp.Limits(soft=[]))
    assert [r.code for r in hard.rejected[0].reasons] == ["pipe_below_outlet"]
    # what is only preferred never rejects
    assert [r.code for r in hard.rejected[0].warnings] == ["best_flow_not_preferred"]
    assert dp.select(fit, LINES[1], need_gpm=20).best is not None


PRICED = [
    dp.PumpCurve(
        name="cheap", flow_gpm=[0, 30, 50], head_ft=[20, 13, 1], price=150,
        power_w=[300, 350, 380],
    ),
    dp.PumpCurve(
        name="dear", flow_gpm=[0, 40, 65], head_ft=[35, 22, 2], price=400,
        power_w=[700, 800, 850],
    ),
]  # fmt: skip
COSTS = dp.Costs(
    pipe_per_ft=2.0, fitting_each=3.0, energy_per_kwh=0.25, water_per_year_gal=300_000, years=10
)


def test_objectives_rank_as_they_say() -> None:
    def ranked(objective: str) -> list[dp.Candidate]:
        sel = dp.select(PRICED, LINES, pit=pit(), need_gpm=20, limits=WIDE, objective=objective,
                        costs=COSTS)  # fmt: skip
        return list(sel.accepted)

    for objective, key in (
        ("flow", lambda c: -c.flow_gpm),
        ("cost", lambda c: c.cost),
        ("starts", lambda c: c.worst_starts_per_h),
        ("energy", lambda c: c.energy_wh),
    ):
        found = [key(c) for c in ranked(objective)]
        assert (np.diff(found) >= 0).all(), objective
        assert len(found) > 2


def test_cost_by_hand() -> None:
    sel = dp.select(PRICED[0], LINES[2], need_gpm=20, limits=WIDE, objective="cost", costs=COSTS)
    (c,) = sel.candidates
    watts = PRICED[0].head(flow_gpm=c.flow_gpm).power_w
    hours = 300_000 / c.flow_gpm / 60
    energy = watts / 1000 * hours * 0.25 * 10
    # 150 ft of pipe at 2, seven pieces (5 elbows, valve, adapter) at 3, the pump at 150
    assert c.cost == pytest.approx(300 + 21 + 150 + energy)
    assert c.energy_wh == pytest.approx(watts / (c.flow_lps * 3.6), rel=1e-9)
    share = energy / c.cost
    assert c.notes == (f"energy matters: {100 * share:.0f} % of the cost over the years",)


def test_missing_price_or_power_is_refused_by_name() -> None:
    with pytest.raises(dp.InputError) as err:
        dp.select([A, PRICED[0]], LINES, need_gpm=20, objective="cost", costs=COSTS)
    assert str(err.value) == "objective='cost': no price for pump 'A'; give price=."
    with pytest.raises(dp.InputError) as err:
        dp.select([A], LINES, need_gpm=20, objective="energy")
    assert str(err.value) == "objective='energy': no power for pump 'A'; give power_w=."
    with pytest.raises(dp.InputError) as err:
        dp.select([A], LINES, need_gpm=20, objective="cost")
    assert str(err.value) == "objective='cost': no costs given; give costs=Costs(...)."
    with pytest.raises(dp.InputError) as err:
        dp.select([A], LINES, need_gpm=20, objective="beauty")
    assert str(err.value) == (
        "objective='beauty': must be one of ('least', 'flow', 'cost', 'starts', 'energy'); pick "
        "one."
    )
    lines = dp.straight_line(pipe=dp.pvc("2"), length_ft=100, lift_ft=5)
    with pytest.raises(dp.InputError) as err:
        dp.select(PRICED, lines, need_gpm=20, costs=dp.Costs(pipe_per_ft={"3": 4}))
    assert str(err.value) == (
        "pipe_per_ft: no price for pipe '2 in Sch 40 PVC' (nominal '2'); known: '3'. Add its price."
    )


def test_pareto_front_is_beaten_by_none() -> None:
    sel = dp.select(PRICED, LINES, need_gpm=20, limits=WIDE, costs=COSTS)
    front = sel.pareto
    assert front
    for c in front:
        assert not any(
            x is not c and x.cost <= c.cost and x.flow_gpm >= c.flow_gpm for x in sel.accepted
        )
    for c in sel.accepted:
        if c not in front:
            assert any(x.cost <= c.cost and x.flow_gpm >= c.flow_gpm for x in front)
    ax = dp.plots.pareto(sel)
    accepted, _, joined, _ = ax.lines
    np.testing.assert_allclose(joined.get_ydata(), [c.cost for c in front])
    np.testing.assert_allclose(joined.get_xdata(), [c.flow_gpm for c in front])
    assert len(accepted.get_xdata()) == len(sel.accepted)
    with pytest.raises(dp.InputError):
        _ = dp.select(PRICED, LINES, need_gpm=20).pareto


DOUBT = dp.Doubt(head_pct=5, flow_pct=5, lift_ft=0.75, length_pct=5, friction_pct=5, k_log=0.25)


def test_doubt_asks_for_certainty() -> None:
    sel = dp.select([A], LINES[1], need_gpm=24, limits=WIDE, doubt=DOUBT, certainty=0.95)
    (c,) = sel.rejected
    assert [r.code for r in c.reasons] == ["flow_uncertain"]
    assert c.reasons[0].value == c.probability
    assert 0.8 < c.probability < 0.95
    assert dp.select([A], LINES[1], need_gpm=24, limits=WIDE, doubt=DOUBT, certainty=0.8).best
    assert sel.band is not None


@settings(max_examples=15, deadline=None)
@given(
    need=st.floats(15, 45),
    low=st.floats(0, 1),
    high=st.floats(0, 1),
)
def test_more_certainty_never_accepts_more(need: float, low: float, high: float) -> None:
    low, high = sorted((low, high))
    sets = []
    for certainty in (low, high):
        sel = dp.select([A, B], LINES, need_gpm=need, limits=WIDE, doubt=DOUBT,
                        certainty=certainty, samples=128)  # fmt: skip
        sets.append({(c.pump.name, c.line.name) for c in sel.accepted})
    assert sets[1] <= sets[0]


@settings(max_examples=20, deadline=None)
@given(
    need=st.floats(5, 45),
    low=st.floats(0.5, 3),
    span=st.floats(0.5, 6),
    starts=st.floats(20, 120),
)
def test_what_is_accepted_keeps_every_limit_by_hand(
    need: float, low: float, span: float, starts: float
) -> None:
    limits = dp.Limits(
        velocity_min_fps=low, velocity_max_fps=low + span, starts_max_per_h=starts,
        range_share_max=0.8,
    )  # fmt: skip
    sel = dp.select([A, B], LINES, pit=pit(), need_gpm=need, limits=limits, doubt=None)
    for c in sel.candidates:
        op = dp.operating_point(c.pump, c.line)
        worst = dp.cycle(c.pump, c.line, pit(), inflow_gpm=1).worst_starts_per_h
        kept = (
            op.flow_gpm >= need
            and low <= op.velocity_slowest_fps
            and op.velocity_fastest_fps <= low + span
            and worst <= starts
            and op.range_share <= 0.8
        )
        assert c.accepted == kept


def test_arrays_and_wrong_limits_are_refused() -> None:
    many = dp.straight_line(pipe=dp.pvc("2"), length_ft=[50, 100], lift_ft=5)
    with pytest.raises(dp.InputError) as err:
        dp.select([A], many, need_gpm=20)
    assert str(err.value) == (
        "select: an input holds an array; a choice is made for one site, give scalars "
        "and put variants in the lists of pumps and lines."
    )
    with pytest.raises(dp.InputError) as err:
        dp.Limits(without=["velocity"])
    assert str(err.value) == (
        "without='velocity': must name a limit; did you mean 'velocity_min' or 'velocity_max'?"
    )
    with pytest.raises(dp.InputError) as err:
        dp.Limits(velocity_min_fps=9)
    assert str(err.value) == (
        "velocity_min 9 ft/s (2.74 m/s) and velocity_max 8.0 ft/s (2.44 m/s): the least must "
        "not be above the greatest; swap them."
    )


def test_every_limit_says_its_source() -> None:
    limits = dp.Limits(starts_max_per_h=20, run_min_s=10, solids_min_in=0.5, voltage_v=115,
                       range_share_max=0.9)  # fmt: skip
    assert set(limits.sources) == {
        "velocity_min", "velocity_max", "starts_max", "run_min", "range_share_max", "best_flow",
        "best_flow_preferred", "need_max_share", "solids_min", "voltage", "hand_off",
        "outlet_size",
    }  # fmt: skip
    assert all(limits.sources.values())
    assert set(dp.Limits().sources) == {
        "velocity_min", "velocity_max", "range_share_max", "best_flow", "best_flow_preferred",
        "need_max_share", "hand_off", "outlet_size",
    }  # fmt: skip


def test_frame_in_both_units() -> None:
    sel = dp.select([A, B], LINES, need_gpm=30)
    us, metric = sel.to_frame("us"), sel.to_frame("metric")
    assert len(us) == len(metric) == 8
    np.testing.assert_allclose(us["flow_gpm"] * 0.0630901964, metric["flow_lps"])
    assert "velocity_fastest_mps" in metric.columns
    assert "velocity_fastest_fps" not in metric.columns


def test_a_need_that_is_no_number_is_refused_by_its_name() -> None:
    pump = dp.PumpCurve(name="A", flow_gpm=[0, 30, 50], head_ft=[20, 12.8, 0])
    line = dp.straight_line(pipe=dp.pvc("1-1/2"), length_ft=150, lift_ft=6)
    with pytest.raises(dp.InputError) as err:
        dp.select([pump], [line], need_lps=float("nan"))
    assert str(err.value) == "need_lps=nan: must be a number; give the flow needed."


def test_other_needs_of_the_same_choice() -> None:
    costs = dp.Costs(pipe_per_ft=2, pump_each={"A": 200, "B": 300})
    asked: dict[str, Any] = {"pit": pit(), "limits": WIDE, "costs": costs}
    needs = dp.select([A, B], LINES, need_gpm=20, **asked).for_needs(need_gpm=[20, 45, 70])
    assert len(needs) == 3
    for sel, need in zip(needs, (20, 45, 70), strict=True):
        one = dp.select([A, B], LINES, need_gpm=need, **asked)
        assert sel.need_gpm == need
        assert str(sel) == str(one)
    frame = needs.to_frame()
    assert frame["need_gpm"].tolist() == pytest.approx([20, 45, 70])
    assert frame["accepted"].tolist() == [True, True, False]
    assert needs[1].best is not None
    assert frame["cost"].tolist()[1] == needs[1].best.cost
    head, first, second, third = str(needs).splitlines()
    assert head.split("  ")[0] == "need, gpm"
    assert " +100  accepted" in second
    assert "+" not in first
    assert "nothing serves; nearest: " in third
    with pytest.raises(dp.InputError) as err:
        dp.select(A, LINES, need_gpm=[20, 45])
    assert str(err.value) == (
        "need_gpm=array([20., 45.]): must be one flow; give one, and ask of the answer: "
        "select(...).for_needs(need_gpm=[...])."
    )


def test_what_is_tried_need_not_have_a_price() -> None:
    # only the sizes on the list have a price, and another pipe is found all the same
    line = dp.straight_line(pipe=dp.pvc("1-1/2"), length_ft=150, lift_ft=6, k=6.3)
    sized = {"pipe_per_ft": {"1-1/2": 1.6}, "pump_each": 200}
    (c,) = dp.select(A, line, need_gpm=28, costs=dp.Costs(**sized)).rejected
    assert "admitted by 2 in Sch 40 PVC" in c.change
    # but within a budget what has no price is none
    limits = dp.Limits(cost_max=1000)
    (c,) = dp.select(A, line, need_gpm=28, costs=dp.Costs(**sized), limits=limits).rejected
    assert "PVC" not in c.change
