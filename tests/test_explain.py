"""Why so little water: steps, shares, ledger and fixes on the invented reference problem."""

from __future__ import annotations

import json
import math
from dataclasses import FrozenInstanceError
from itertools import permutations
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import drainpump as dp
from drainpump.why import losses as causes
from tests.problems import FITTINGS, WATER_F, parabola

A, B = parabola("A", 20, 50), parabola("B", 35, 65)


def r1(bore_in: float = 1.590, **changed: object) -> dp.DischargeLine:
    """The reference line, with what is changed."""
    given: dict[str, object] = {
        "pipe": dp.Pipe(bore_in=bore_in, roughness_ft=5e-6),
        "length_ft": 150,
        "lift_ft": 6,
        "fittings": FITTINGS,
        "outlet": dp.FreeOutlet(lid_ft=0.25),
        "water_f": WATER_F,
        "name": "R1",
    }
    return dp.straight_line(**{**given, **changed})  # type: ignore[arg-type]


LINE = r1()
WHY = dp.explain(A, LINE, pumps=[A, B])


def test_steps_of_the_reference_problem() -> None:
    # three independent solvers, taking the losses in one at a time; printed to 0.1 gpm
    steps = WHY.steps
    assert list(steps) == ["cause", "flow_gpm", "flow_lps"]
    assert steps["cause"].tolist() == [
        "pump alone", "lift", "pipe", "elbows", "check valve", "adapters and exit", "lid",
    ]  # fmt: skip
    expected = [50.0, 41.8, 28.1, 26.9, 26.3, 25.9, 25.7]
    np.testing.assert_allclose(steps["flow_gpm"], expected, atol=0.05)
    np.testing.assert_allclose(steps["flow_lps"], steps["flow_gpm"] * 231 * 0.0254**3 / 60 * 1e3)
    assert WHY.order == "lift, pipe, elbows, other fittings, valves, adapters and exit, lid"


def test_the_waterfall_ends_at_the_operating_flow() -> None:
    assert WHY.steps["flow_gpm"].iloc[-1] == dp.operating_point(A, LINE).flow_gpm


def test_pipe_is_the_first_cause() -> None:
    assert WHY.cause == "pipe"
    drops = -np.diff(WHY.steps["flow_gpm"])
    assert WHY.names[int(np.argmax(drops))] == "pipe"


def test_shares_sum_to_the_whole_loss() -> None:
    shares = WHY.shares
    assert shares["lost_gpm"].sum() == pytest.approx(WHY.lost_gpm, abs=1e-9)
    assert shares["lost_lps"].sum() == pytest.approx(WHY.lost_lps, abs=1e-9)
    assert shares["share"].sum() == pytest.approx(1.0, abs=1e-12)
    assert WHY.division.startswith("Shapley")


def test_shares_are_the_mean_over_all_orders() -> None:
    # the definition itself, by a walk through each of the 720 orders
    parts = causes.loss_causes(A, LINE)
    flows, _ = causes.by_subset(A, LINE, parts)
    n = len(parts)
    lost = np.zeros(n)
    for order in permutations(range(n)):
        mask = 0
        for i in order:
            lost[i] += flows[mask] - flows[mask | 1 << i]
            mask |= 1 << i
    np.testing.assert_allclose(causes.shapley(flows), lost / math.factorial(n), rtol=1e-12)


@settings(max_examples=40, deadline=None)
@given(st.integers(1, 5), st.integers(0, 2**32 - 1))
def test_shapley_adds_up_for_any_value(n: int, seed: int) -> None:
    value = np.random.default_rng(seed).normal(size=1 << n)
    shares = causes.shapley(value)
    assert shares.shape == (n,)
    assert shares.sum() == pytest.approx(value[0] - value[-1], abs=1e-9)


def test_shapley_gives_nothing_to_a_cause_that_never_counts() -> None:
    value = np.array([5.0, 5.0, 2.0, 2.0])  # the first bit changes nothing
    np.testing.assert_allclose(causes.shapley(value), [0.0, 3.0])


def test_ledger_is_the_head_at_the_operating_point() -> None:
    # head 14.72 = lift 6.00 + pipe 6.52 + fittings 1.69 + exit 0.27 + lid 0.25 ft
    ledger = WHY.ledger.set_index("cause")["head_ft"]
    op = dp.operating_point(A, LINE)
    assert ledger.sum() == pytest.approx(op.head_ft, rel=1e-12)
    assert ledger["lift"] == pytest.approx(6.0, abs=1e-12)
    assert ledger["pipe"] == pytest.approx(6.52, abs=0.005)
    assert ledger["elbows"] == pytest.approx(1.07, abs=0.005)
    assert ledger["lid"] == pytest.approx(0.25, abs=1e-12)
    fittings = ledger[["elbows", "check valve", "adapters and exit"]].sum()
    assert fittings == pytest.approx(1.69 + 0.27, abs=0.01)


def test_fixes_with_gains_and_what_they_break() -> None:
    by_name = {f.name: f for f in WHY.fixes}
    two = by_name["2 in Sch 40 PVC (bore 2.05 in)"]
    three = by_name["3 in Sch 40 PVC (bore 3.04 in), three sizes up"]
    other = by_name["another pump, B"]
    assert two.gain_gpm == pytest.approx(8.4, abs=0.05)
    assert three.gain_gpm == pytest.approx(14.2, abs=0.05)
    assert other.gain_gpm == pytest.approx(11.9, abs=0.05)
    assert two.breaks == ()
    assert three.velocity_slowest_fps == pytest.approx(1.8, abs=0.05)
    (slow,) = three.breaks
    assert (slow.code, slow.verdict, slow.limit, slow.unit) == ("velocity_low", "look", 2, "fps")
    assert str(slow) == (
        "velocity 1.76 ft/s (0.537 m/s) in the widest run, at least 2 ft/s (0.61 m/s) wanted"
    )
    assert WHY.fix is two
    assert (two.sensible, three.sensible, other.sensible) == (True, False, False)
    assert WHY.fixes[-1] is other  # apart, behind the changes to the line
    assert {f.kind for f in WHY.fixes} == {"pipe", "length", "elbows", "lid", "pump"}


def test_each_fix_is_what_the_engine_says_of_its_line() -> None:
    for fix in WHY.fixes:
        op = dp.operating_point(fix.pump, fix.line)
        assert fix.flow_gpm == pytest.approx(op.flow_gpm, rel=1e-9)
        assert fix.gain_gpm == pytest.approx(op.flow_gpm - WHY.flow_gpm, abs=1e-9)
    shorter = next(f for f in WHY.fixes if f.kind == "length")
    assert shorter.line.length_ft == pytest.approx(135.0)
    assert shorter.line.lift_ft == pytest.approx(6.0)


def test_larger_sizes_say_how_many_they_are_above() -> None:
    assert [f.name for f in WHY.fixes if f.kind == "pipe"] == [
        "3 in Sch 40 PVC (bore 3.04 in), three sizes up",
        "2-1/2 in Sch 40 PVC (bore 2.44 in), two sizes up",
        "2 in Sch 40 PVC (bore 2.05 in)",
    ]


def test_no_way_is_made_shorter_than_it_rises() -> None:
    (shorter,) = (f for f in dp.explain(A, r1(length_ft=6.2)).fixes if f.kind == "length")
    assert (shorter.name, shorter.line.length_ft) == ("a way 3% shorter", pytest.approx(6.0))
    assert {"length"}.isdisjoint(f.kind for f in dp.explain(A, r1(length_ft=6)).fixes)


def test_a_fix_may_break_what_the_line_breaks_already_but_no_more() -> None:
    slow = dp.DischargeLine(
        runs=[
            dp.Run(pipe=dp.pvc("1-1/4"), length_ft=8, rise_ft=6, name="riser"),
            dp.Run(pipe=dp.pvc("3"), length_ft=250, fittings={"elbow_90": 3}, name="buried run"),
        ]
    )
    why = dp.explain(A, slow)
    assert dp.operating_point(A, slow).velocity_slowest_fps < 2
    assert why.fix is not None
    assert why.fix.name == "2 in Sch 40 PVC (bore 2.05 in) in riser"
    assert [r.code for r in why.fix.breaks] == ["velocity_low"]
    # a wider buried run would be slower still
    wider = [f for f in why.fixes if "buried run" in f.name]
    assert wider
    assert not any(f.sensible for f in wider)


def test_limits_choose_the_fix() -> None:
    why = dp.explain(A, LINE, limits=dp.Limits(velocity_min_fps=3.5))
    assert why.fix is not None
    assert why.fix.kind == "length"


def test_text_in_both_systems() -> None:
    us, metric = WHY.text(), WHY.text("metric")
    assert str(WHY) == us
    assert repr(WHY) == (
        "Explanation(A on R1: 25.7 gpm (1.62 L/s) of 50 gpm (3.15 L/s); first cause pipe; best "
        "single step 2 in Sch 40 PVC (bore 2.05 in): 34.1 gpm (+8.38 gpm))"
    )
    assert us.splitlines()[0] == (
        "A moves 25.7 gpm through R1; with no line at all it would move 50 gpm."
    )
    assert us.splitlines()[1] == (
        "The first cause is the pipe. Of the 24.3 gpm lost, whatever the order (Shapley): pipe "
        "12.6 gpm, lift 6.66 gpm, elbows 2.58 gpm, check valve 1.32 gpm, adapters and exit "
        "0.862 gpm, lid 0.278 gpm."
    )
    assert us.splitlines()[3] == (
        "Best single step: 2 in Sch 40 PVC (bore 2.05 in): 34.1 gpm (+8.38 gpm). It asks for "
        "the pipe to be laid anew."
    )
    assert metric.splitlines()[0] == (
        "A moves 1.62 L/s through R1; with no line at all it would move 3.15 L/s."
    )


def test_band_is_said_where_a_doubt_is_given() -> None:
    why = dp.explain(A, LINE, doubt=dp.Doubt(lift_ft=0.5))
    assert why.band is not None
    low, high = why.band.flow_gpm["p10"], why.band.flow_gpm["p90"]
    assert why.text().splitlines()[1] == (
        f"Eight times in ten it is {low:.3g} gpm to {high:.3g} gpm."
    )


def test_bad_units_are_refused() -> None:
    with pytest.raises(dp.InputError) as err:
        WHY.text("imperial")
    assert str(err.value) == "units='imperial': must be 'us' or 'metric'; pick one of the two."


def test_order_does_not_depend_on_how_fittings_were_typed() -> None:
    turned = r1(fittings=dict(reversed(FITTINGS.items())))
    assert dp.explain(A, turned).names == WHY.names


def test_a_small_further_k_goes_with_the_exit_and_a_large_one_stands_alone() -> None:
    small = {k: v for k, v in FITTINGS.items() if k != "adapter"}
    assert dp.explain(A, r1(fittings=small, k=0.3)).names == WHY.names
    alone = dp.explain(A, r1(fittings={}, k=6.3))
    assert alone.names == ("lift", "pipe", "further K", "exit", "lid")
    assert alone.flow_gpm == pytest.approx(WHY.flow_gpm, rel=1e-9)


def test_kinds_of_fittings_keep_their_names() -> None:
    fittings = {
        "gate_valve": 1,
        "elbow_45": 2,
        "elbow_90": 1,
        "tee_run": 1,
        "filter": dp.Fitting(count=1, k=4, name="leaf basket"),
    }
    why = dp.explain(A, r1(fittings=fittings, outlet=None))
    assert why.names == ("lift", "pipe", "elbows", "tees", "leaf basket", "gate valve", "exit")


def test_more_kinds_than_can_be_told_apart_are_gathered() -> None:
    fittings = {f"thing {i}": dp.Fitting(count=1, k=0.1 * (i + 1)) for i in range(15)}
    why = dp.explain(A, r1(fittings=fittings))
    assert len(why.names) == causes.MOST
    assert why.names[-3] == "other fittings"
    assert why.shares["lost_gpm"].sum() == pytest.approx(why.lost_gpm, abs=1e-9)
    assert why.ledger["head_ft"].sum() == pytest.approx(why.operating.head_ft, rel=1e-12)


@pytest.mark.parametrize("siphon", [False, True])
def test_ledger_over_a_high_point(siphon: bool) -> None:
    pipe = dp.pvc("1-1/2")
    runs = [
        dp.Run(pipe=pipe, length_ft=40, rise_ft=9, fittings={"elbow_90": 2}),
        dp.Run(pipe=dp.pvc("2"), length_ft=30, rise_ft=-8, fittings={"elbow_45": 1}),
    ]
    line = dp.DischargeLine(runs=runs, siphon=siphon, outlet=dp.SubmergedOutlet(depth_ft=0.5))
    why = dp.explain(A, line)
    assert why.ledger["head_ft"].sum() == pytest.approx(why.operating.head_ft, rel=1e-10)
    lift = why.ledger.set_index("cause")["head_ft"]["lift"]
    assert lift == pytest.approx(1.5 if siphon else 9.0)
    assert why.shares["lost_gpm"].sum() == pytest.approx(why.lost_gpm, abs=1e-9)


def test_larger_pipe_keeps_the_schedule_and_the_bore_convention() -> None:
    line = dp.straight_line(
        pipe=dp.pvc("1-1/2", "80", bore="minimum_wall"), length_ft=150, lift_ft=6
    )
    pipe = dp.explain(A, line).fix.line.runs[0].pipe  # type: ignore[union-attr]
    assert pipe.name == "2 in Sch 80 PVC"
    assert pipe.bore_in == dp.pvc("2", "80", bore="minimum_wall").bore_in
    metric = dp.straight_line(pipe=dp.pvc_metric(50, 21), length_m=45, lift_m=2)
    pipe = dp.explain(A, metric).fix.line.runs[0].pipe  # type: ignore[union-attr]
    assert pipe.name == "63 mm SDR 21 PVC-U"


def test_a_pump_that_cannot_reach() -> None:
    weak = dp.PumpCurve(name="weak", flow_gpm=[0, 10, 20], head_ft=[5, 4, 2])
    why = dp.explain(weak, LINE, pumps=[B])
    assert (why.flow_gpm, why.fix, why.cause) == (0.0, None, "lift")
    said = why.text().splitlines()
    assert said[0] == (
        "weak moves 0 gpm through R1; with no line at all it would move at least 20 gpm."
    )
    assert said[1] == (
        "The line asks 6.25 ft before any water flows and the pump makes 5 ft at most: it needs "
        "more shutoff head or less lift."
    )
    assert said[3] == "No single change to the line is worth having and keeps the limits."
    assert said[5] == "  - another pump, B: 37.6 gpm (+37.6 gpm)"
    assert why.shares["lost_gpm"].sum() == pytest.approx(20.0, abs=1e-9)


def test_a_pump_past_the_end_of_its_data() -> None:
    short = dp.PumpCurve(name="short", flow_gpm=[5, 10, 20], head_ft=[25, 24, 12])
    why = dp.explain(short, LINE)
    assert (why.flow_gpm, why.lost_gpm) == (20.0, 0.0)
    assert why.to_dict()["shares"][0]["share"] is None  # of nothing lost there is no share
    assert why.text().splitlines()[:2] == [
        "short moves at least 20 gpm through R1; with no line at all it would move at least "
        "20 gpm.",
        "Even on this line the pump runs past the end of its data, so nothing can be said of "
        "losses; get points further out.",
    ]


def test_a_bank_of_pumps_is_explained_too() -> None:
    bank = dp.parallel([A, A])
    why = dp.explain(bank, LINE)
    assert why.flow_gpm == dp.operating_point(bank, LINE).flow_gpm
    assert why.steps["flow_gpm"].iloc[0] == pytest.approx(100.0)


def test_several_crossings_are_explained_by_the_greatest_and_said() -> None:
    droop = dp.PumpCurve(name="droop", flow_gpm=[0, 15, 30, 40], head_ft=[10, 14, 8, 0])
    high = dp.straight_line(pipe=dp.pvc("3"), length_ft=20, lift_ft=11)
    why = dp.explain(droop, high)
    crossings = dp.operating_point(droop, high).crossings
    assert why.operating.status == "multiple"
    assert why.flow_gpm == max(x.flow_gpm for x in crossings)
    assert why.shares["lost_gpm"].sum() == pytest.approx(why.lost_gpm)
    first, second, *_ = why.text().splitlines()
    assert first.startswith(f"droop moves perhaps {why.flow_gpm:.3g} gpm through ")
    assert second == (
        "That is not known: the drooping curve crosses the line more than once, and no flow is "
        "counted on; choose another pump."
    )
    with pytest.raises(dp.StatusError):
        dp.explain(droop, high.replace(lift_ft=float("nan")))


def test_arrays_are_refused() -> None:
    with pytest.raises(dp.InputError) as err:
        dp.explain(A, r1(length_ft=[100, 150]))
    assert str(err.value) == (
        "explain: pump or line holds arrays or lists; give one case: one pump, such as pumps[0], "
        "and one line of scalars."
    )


def test_it_is_frozen_and_turns_into_plain_values() -> None:
    with pytest.raises(FrozenInstanceError):
        WHY.pump = B  # type: ignore[misc]
    known = json.loads(json.dumps(WHY.to_dict()))
    assert known["fix"] == "2 in Sch 40 PVC (bore 2.05 in)"
    assert known["steps"][0] == {
        "cause": "pump alone",
        "flow_gpm": 50.0,
        "flow_lps": A.flow_lps[-1],
    }
    assert set(known) >= {"shares", "ledger", "fixes", "cause", "order", "division"}


@settings(max_examples=30, deadline=None)
@given(
    bore=st.sampled_from([1.36, 1.59, 2.047, 3.042]),
    length=st.floats(0, 400),
    lift=st.floats(-3, 15),
    k=st.floats(0, 20),
    lid=st.floats(0, 1),
)
def test_all_adds_up_on_any_line(
    bore: float, length: float, lift: float, k: float, lid: float
) -> None:
    # no pipe is shorter than it rises
    lift = float(np.clip(lift, -length, length))
    line = r1(bore, length_ft=length, lift_ft=lift, k=k, outlet=dp.FreeOutlet(lid_ft=lid))
    why = dp.explain(B, line)
    op = dp.operating_point(B, line)
    assert why.shares["lost_gpm"].sum() == pytest.approx(why.lost_gpm, abs=1e-9)
    if op.ok:
        assert why.ledger["head_ft"].sum() == pytest.approx(op.head_ft, rel=1e-9, abs=1e-9)
    steps = why.steps["flow_gpm"].to_numpy()
    assert (np.diff(steps[1:]) <= 1e-6).all()  # past the lift, which may help, all take


def test_other_pumps_that_are_none_are_refused() -> None:
    pump = dp.PumpCurve(name="A", flow_gpm=[0, 30, 50], head_ft=[20, 12.8, 0])
    line = dp.straight_line(pipe=dp.pvc("1-1/2"), length_ft=150, lift_ft=6)
    for pumps, said in (
        ([pump, 3], "pumps[1]=3: must be a PumpCurve; make one with PumpCurve(...)."),
        (
            "x.csv",
            "pumps='x.csv': must be a PumpCurve; make one with PumpCurve(...), or read a file of "
            "curves with read_curves(...).",
        ),
    ):
        with pytest.raises(dp.InputError) as err:
            dp.explain(pump, line, pumps=pumps)  # type: ignore[arg-type]
        assert str(err.value) == said


# -- which fix a practitioner would take

PLAIN = {"elbow_90": 5, "check_valve_swing": 1}


def laid(size: str = "1-1/2", length: float = 150, lift: float = 6, **given: Any) -> Any:
    return dp.straight_line(
        pipe=dp.pvc(size), length_ft=length, lift_ft=lift, **({"fittings": PLAIN} | given)
    )


def risen(riser: str, buried: str, length: float) -> Any:
    return dp.DischargeLine(
        runs=[
            dp.Run(pipe=dp.pvc(riser), length_ft=8, rise_ft=6, name="riser",
                   fittings={"check_valve_swing": 1}),
            dp.Run(pipe=dp.pvc(buried), length_ft=length, name="buried run",
                   fittings={"elbow_90": 3}),
        ]
    )  # fmt: skip


PRICES = dp.Costs(
    pipe_per_ft={"1-1/4": 1.3, "1-1/2": 1.6, "2": 2.2, "2-1/2": 3.5, "3": 4.1}, digging_per_ft=6
)


@pytest.mark.parametrize(
    ("pump", "line", "given", "fix"),
    [
        (A, laid(), {}, "2 in Sch 40 PVC (bore 2.05 in)"),
        # nobody digs up 300 ft for a sixth more bore
        (A, laid("1-1/4", 300), {}, "2 in Sch 40 PVC (bore 2.05 in), two sizes up"),
        (A, risen("1-1/4", "3", 250), {}, "2 in Sch 40 PVC (bore 2.05 in) in riser"),
        # a wider riser would take the pump near the end of its curve
        (B, risen("1-1/4", "3", 250), {}, "1-1/2 in Sch 40 PVC (bore 1.59 in) in riser"),
        (B, risen("2", "1-1/4", 200), {}, "2 in Sch 40 PVC (bore 2.05 in) in buried run"),
        (A, laid(fittings=PLAIN | {"gate_valve": dp.Fitting(k=25)}), {},
         "the gate valve wide open, or a ball valve"),
        (A, laid(fittings=PLAIN | {"globe_valve": 1}), {},
         "a ball valve in place of the globe valve"),
        (A, laid("2", fittings={"check_valve_lift": 1}), {},
         "a swing check valve in place of the lift check valve"),
        (A, laid(outlet=dp.FreeOutlet(lid_ft=2)), {}, "an open end without a lid"),
        # a light lid keeps animals out, and costs next to nothing
        (A, laid(outlet=dp.FreeOutlet(lid_ft=0.1)), {}, "2 in Sch 40 PVC (bore 2.05 in)"),
        (A, laid("2", outlet=dp.PopUpOutlet(opening_head_ft=0.25, gap_in=0.1, body_in=4)), {},
         "an open end without a lid"),
        # a straighter way before a wider one with as many bends
        (A, laid("2", 40, fittings={"elbow_90": 14}), {}, "7 elbows in place of 14"),
        # nothing there is worth having
        (A, laid("3", 30), {}, None),
        (A, laid("3", 50, 15), {}, None),
        (A, laid("3", 200, 10), {}, None),
        (B, laid("1-1/4", 40), {}, "2 in Sch 40 PVC (bore 2.05 in), two sizes up"),
        # a shorter way would do, but is laid anew as well and gains a twelfth of this
        (A, laid(), {"need_gpm": 26.5}, "2 in Sch 40 PVC (bore 2.05 in)"),
        (A, laid(), {"need_gpm": 33}, "2 in Sch 40 PVC (bore 2.05 in)"),
        (A, laid(fittings=PLAIN | {"globe_valve": 1}), {"need_gpm": 34},
         "a ball valve in place of the globe valve, and 2 in Sch 40 PVC (bore 2.05 in)"),
        # the riser alone is not enough, and a wider run behind it would race in it
        (B, risen("1-1/4", "1-1/2", 250), {"need_gpm": 40, "costs": PRICES},
         "1-1/2 in Sch 40 PVC (bore 1.59 in) and 2 in Sch 40 PVC (bore 2.05 in)"),
        (B, risen("1-1/4", "1-1/2", 250), {"need_gpm": 32.9, "costs": PRICES},
         "1-1/2 in Sch 40 PVC (bore 1.59 in) in riser"),
    ],
)  # fmt: skip
def test_the_best_fix_is_what_a_practitioner_would_take(
    pump: Any, line: Any, given: dict[str, Any], fix: str | None
) -> None:
    why = dp.explain(pump, line, **given)
    assert (None if why.fix is None else why.fix.name) == fix
    if why.fix is None:
        return
    assert why.fix.gain_gpm > 0.02 * why.flow_gpm
    if "need_gpm" in given:
        assert why.fix.serves == (why.fix.flow_gpm >= given["need_gpm"]) is True


def test_a_fix_is_priced_by_what_is_bought_and_dug() -> None:
    line = risen("1-1/4", "1-1/2", 250)
    fixes = {f.name: f for f in dp.explain(B, line, costs=PRICES).fixes}
    riser = fixes["1-1/2 in Sch 40 PVC (bore 1.59 in) in riser"]
    # 8 ft of pipe and trench; its fittings go on
    assert riser.price == pytest.approx(8 * (1.6 + 6))
    assert fixes["a way 10% shorter"].price is not None


def test_a_candidate_explains_itself_by_its_own_choice() -> None:
    limits = dp.Limits(without=["range_share_max"])
    (c,) = dp.select(A, laid(), need_gpm=33, limits=limits, costs=PRICES).candidates
    why = c.explain()
    asked = dp.explain(A, laid(), need_gpm=33, limits=limits, costs=PRICES,
                       doubt=dp.Doubt.usual())  # fmt: skip
    assert why.text() == asked.text()
    assert why.fix is not None
    assert why.fix.serves
