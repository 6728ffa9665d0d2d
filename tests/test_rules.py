"""Rules of thumb beside the truth, on the invented reference problem."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import drainpump as dp
from tests.oracles import hydraulics as hyd
from tests.oracles.hydraulics import FOOT, GPM, NU_60F, Line
from tests.problems import PUMP_A, PUMP_B, r1_line
from tests.twins import leg

LINE = r1_line(name="R1")
OF_A, OF_B = dp.teach.rules_of_thumb(PUMP_A, LINE), dp.teach.rules_of_thumb(PUMP_B, LINE)
LIFT = "read the pump's table at the lift"
TEN = "ten feet of run as one foot of head"
ELBOW = "eight feet of pipe an elbow"
NOMINAL = "the nominal size for the true bore"
TWO = "two pumps, twice the flow"


def test_lift_alone() -> None:
    # by hand: 50 sqrt(1 - 6/20) and 65 sqrt(1 - 6/35) gpm, the lid left out
    assert OF_A[LIFT].guess_gpm == pytest.approx(41.8, abs=0.05)
    assert OF_B[LIFT].guess_gpm == pytest.approx(59.2, abs=0.05)
    assert OF_A[LIFT].truth_gpm == pytest.approx(25.68, abs=0.005)
    assert OF_A[LIFT].error == pytest.approx(0.63, abs=0.005)


def test_ten_to_one() -> None:
    # 6 + 150/10 = 21 ft: above A's shutoff of 20 ft; by hand 65 sqrt(1 - 21/35) gpm for B
    assert OF_A[TEN].guess_gpm == 0.0
    assert OF_B[TEN].guess_gpm == pytest.approx(41.1, abs=0.05)
    assert OF_A[TEN].error == -1.0


def test_eight_feet_of_pipe_an_elbow() -> None:
    twin = Line((leg(1.590, 150, 6, 4.0),), nu=NU_60F)
    line = dp.straight_line(
        pipe=dp.Pipe(bore_in=1.590, roughness_ft=5e-6),
        length_ft=150,
        lift_ft=6,
        fittings={"elbow_90": dp.Fitting(count=5, k=0.8)},
    )
    rule = dp.teach.rules_of_thumb(PUMP_A, line)[ELBOW]
    q = hyd.operating_flow(hyd.parabola(20, 50), twin)
    bare = replace(twin.legs[0], k=0.0, length=FOOT)
    worth = 4.0 * bare.velocity_head(q) / bare.loss(q, "darcy", NU_60F)
    assert rule.truth_ft == pytest.approx(worth, rel=2e-3)
    assert rule.guess_ft == pytest.approx(40.0, abs=1e-9)
    assert rule.guess_gpm is None
    assert rule.holds.startswith("where an elbow is worth 8 ft of its pipe; here it is 4.9")


def test_elbows_of_two_bores_and_of_an_equivalent_length() -> None:
    """What each elbow is worth counts in its own pipe; a printed length counts as it stands."""
    wide, narrow = (
        dp.Run(
            pipe=dp.pvc(size), length_ft=50, rise_ft=3, fittings={"elbow_90": dp.Fitting(2, k=0.8)}
        )
        for size in ("2", "1-1/4")
    )
    printed = dp.Run(
        pipe=dp.pvc("2"),
        length_ft=10,
        fittings={"elbow_45": dp.Fitting(1, equivalent_length_ft=7)},
    )
    rule = dp.teach.rules_of_thumb(PUMP_A, dp.DischargeLine(runs=[wide, narrow, printed]))[ELBOW]
    flow = dp.operating_point(PUMP_A, dp.DischargeLine(runs=[wide, narrow, printed])).flow_gpm
    worth = 7.0
    for bore in (2.047, 1.360):
        one = leg(bore, 1, 0, 1.6)
        bare = replace(one, k=0.0)
        worth += 1.6 * one.velocity_head(flow * GPM) / bare.loss(flow * GPM, "darcy", NU_60F)
    assert rule.guess_ft == pytest.approx(40.0)
    assert rule.truth_ft == pytest.approx(worth, rel=5e-3)


def test_twice_the_horsepower_is_not_guessed() -> None:
    assert not any("horsepower" in rule.name for rule in OF_A)


def test_nominal_for_true_bore() -> None:
    # 1.590 in is called 1-1/2 in
    guess = dp.operating_point(PUMP_A, r1_line(1.5)).flow_gpm
    assert OF_A[NOMINAL].guess_gpm == pytest.approx(guess, rel=1e-9)
    metric = dp.straight_line(pipe=dp.pvc_metric(63, 21), length_m=45, lift_m=2)
    outside = dp.straight_line(pipe=dp.Pipe(bore_mm=63, roughness_ft=5e-6), length_m=45, lift_m=2)
    rule = dp.teach.rules_of_thumb(PUMP_A, metric)[NOMINAL]
    assert rule.guess_gpm == pytest.approx(dp.operating_point(PUMP_A, outside).flow_gpm, rel=1e-9)


def test_two_pumps() -> None:
    both = dp.operating_point(dp.parallel([PUMP_A, PUMP_A]), LINE).flow_gpm
    assert OF_A[TWO].truth_gpm == pytest.approx(both, rel=1e-9)
    assert OF_A[TWO].guess_gpm == pytest.approx(2 * 25.68, abs=0.02)


def test_each_rule_holds_in_its_case() -> None:
    # next to no line: the table read at the lift, and two pumps, are right
    short = dp.straight_line(pipe=dp.pvc("4"), length_ft=6, lift_ft=6)
    rules = dp.teach.rules_of_thumb(PUMP_A, short)
    assert abs(rules[LIFT].error) < 0.01
    assert abs(rules[TWO].error) < 0.02
    # at the one flow at which all losses total 10 ft in 100 ft, ten to one is right
    for k in (0, 6.3):
        some = dp.straight_line(pipe=dp.Pipe(bore_in=1.59), length_ft=150, lift_ft=6, k=k)
        flows = np.linspace(20, 60, 4001)
        at = flows[np.argmin(abs(some.head(flow_gpm=flows).head_ft - 21))]
        pump = dp.PumpCurve(name="C", flow_gpm=[0, at, 1.5 * at], head_ft=[30, 21, 5])
        rule = dp.teach.rules_of_thumb(pump, some)[TEN]
        assert abs(rule.error) < 1e-3
        assert rule.holds.startswith(
            "where all losses together, not the pipe's alone, total a tenth of the run; "
            "here they total 10"
        )


def test_frame_says_units_and_sources() -> None:
    frame = OF_A.to_frame()
    assert list(frame) == [
        "rule", "guess_gpm", "truth_gpm", "guess_ft", "truth_ft", "error", "bound", "holds",
        "source",
    ]  # fmt: skip
    assert frame["rule"].tolist() == [LIFT, TEN, ELBOW, NOMINAL, TWO]
    assert set(frame["source"]) == {"common practice, no source"}
    metric = OF_A.to_frame("metric")
    assert metric["guess_lps"][0] == pytest.approx(frame["guess_gpm"][0] * 0.0630901964)
    assert metric["truth_m"][2] == pytest.approx(frame["truth_ft"][2] * 0.3048)


def test_rules_read_as_text_and_as_a_sequence() -> None:
    assert len(OF_A) == 5
    assert [r.name for r in OF_A] == OF_A.to_frame()["rule"].tolist()
    assert OF_A[0] is OF_A[LIFT]
    assert OF_A[LIFT].text() == (
        "read the pump's table at the lift: 41.8 gpm, in truth 25.7 gpm, +63%; holds where the "
        "line is so short and wide that it takes next to nothing"
    )
    assert str(OF_A).startswith("Rules of thumb (common practice, no source) beside the truth:")
    with pytest.raises(dp.InputError) as err:
        OF_A["guess"]
    assert str(err.value) == (
        f"rule='guess': must be one of {', '.join(repr(r.name) for r in OF_A)}; pick one of them."
    )


def test_a_line_without_elbows_has_no_rule_for_them() -> None:
    plain = dp.straight_line(pipe=dp.pvc("2"), length_ft=100, lift_ft=6)
    assert ELBOW not in {r.name for r in dp.teach.rules_of_thumb(PUMP_A, plain)}


def test_a_guess_past_the_data_is_a_bound() -> None:
    short = dp.PumpCurve(name="short", flow_gpm=[0, 20, 30], head_ft=[25, 20, 12])
    rule = dp.teach.rules_of_thumb(short, LINE)[LIFT]
    assert (rule.bound, rule.guess_gpm) == ("at least", pytest.approx(30.0))
    assert "30 gpm (at least)" in rule.text()


def test_a_pump_that_cannot_reach_has_no_error_to_tell() -> None:
    weak = dp.PumpCurve(name="weak", flow_gpm=[0, 10, 20], head_ft=[5, 4, 2])
    rules = dp.teach.rules_of_thumb(weak, LINE)
    assert np.isnan(rules[LIFT].error)
    assert ELBOW not in {rule.name for rule in rules}


def test_arrays_are_refused() -> None:
    with pytest.raises(dp.InputError) as err:
        dp.teach.rules_of_thumb(PUMP_A, r1_line(length_ft=[100, 150]))
    assert str(err.value) == (
        "rules_of_thumb: pump or line holds arrays or lists; give one case: one pump, such as "
        "pumps[0], and one line of scalars."
    )
