"""What every result and every message has in common."""

from __future__ import annotations

import json
import pickle
from dataclasses import FrozenInstanceError

import numpy as np
import pandas as pd
import pytest

import drainpump as dp
from drainpump import errors, foreign
from drainpump.results import one_shape
from tests.problems import PUMP_A, PUMP_B, r1_line, r1_pit

LINES = [r1_line(1.590, name="narrow"), r1_line(2.047, name="wide")]


def test_require_hands_the_result_back_where_all_is_well():
    op = dp.operating_point(PUMP_A, LINES)
    assert op.require() is op
    assert op.ok.tolist() == [True, True]


def test_require_names_the_first_that_failed_with_reason_and_mend():
    weak = dp.PumpCurve(name="weak", flow_gpm=[0, 20], head_ft=[5, 0])
    op = dp.operating_point([PUMP_A, weak], LINES)
    with pytest.raises(dp.StatusError) as err:
        op.require()
    assert str(err.value) == (
        "OperatingPoint at index (1, 0): no_flow; choose a pump with more shutoff head, or lower "
        "the line's high point (the line asks 6.25 ft (1.91 m) before any flow, the pump makes "
        "5 ft (1.52 m))"
    )


def test_require_of_a_scalar_needs_no_index():
    short = dp.PumpCurve(flow_gpm=[0, 20], head_ft=[20, 16])
    with pytest.raises(dp.StatusError) as err:
        dp.operating_point(short, LINES[0]).require()
    assert str(err.value) == (
        "OperatingPoint: beyond_curve; the flow is at least the curve's last point, which is used; "
        "get points further out"
    )
    with pytest.raises(dp.StatusError) as err:
        LINES[0].head(flow_gpm=np.nan).require()
    assert str(err.value) == "LineHead: bad_input"


def test_a_scalar_is_a_float_and_its_status_a_str():
    op = dp.operating_point(PUMP_A, LINES[0])
    assert type(op.flow_gpm) is float
    assert type(op.status) is str
    assert op.status == "ok"
    assert op.ok is True
    assert dp.operating_point(PUMP_A, LINES).status.dtype.kind == "U"


def test_a_result_is_frozen_and_compares_by_identity():
    op = dp.operating_point(PUMP_A, LINES[0])
    with pytest.raises(FrozenInstanceError):
        op._flow = 3
    with pytest.raises(AttributeError) as err:
        op.flow_gpm = 3
    assert str(err.value) in (
        "cannot assign to field 'flow_gpm'",
        "flow_gpm is read-only; build a new OperatingPoint instead.",
    )
    assert op != dp.operating_point(PUMP_A, LINES[0])


@pytest.mark.parametrize("units", ["us", "metric"])
def test_frames_have_the_attributes_as_columns_in_one_system(units):
    op = dp.operating_point([PUMP_A, PUMP_B], LINES, level_above_off_ft=[0, 0.5, 1])
    frame = op.to_frame(units)
    assert len(frame) == 12
    flow = {"us": "flow_gpm", "metric": "flow_lps"}[units]
    other = {"us": "flow_lps", "metric": "flow_gpm"}[units]
    assert list(frame.columns[:4]) == ["pump", "line", "axis_2", flow]
    assert other not in frame
    assert frame["status"].tolist() == ["ok"] * 12
    np.testing.assert_array_equal(frame[flow], getattr(op, flow).ravel())
    one = frame[(frame["pump"] == "B") & (frame["line"] == "wide")]
    np.testing.assert_array_equal(one[flow], getattr(op, flow)[1, 1])
    for column in frame.columns[3:-1]:
        assert np.shape(getattr(op, column)) == op._flow.shape


def test_a_scalar_frame_is_one_row_without_axes():
    frame = dp.operating_point(PUMP_A, LINES[0]).to_frame()
    assert frame.shape[0] == 1
    assert frame.columns[0] == "flow_gpm"


@pytest.mark.parametrize("units", ["US", "si", None, 3])
def test_units_of_a_frame_are_one_of_two(units):
    with pytest.raises(dp.InputError) as err:
        dp.operating_point(PUMP_A, LINES[0]).to_frame(units)
    assert str(err.value) == f"units={units!r}: must be 'us' or 'metric'; pick one of the two."


def test_a_dict_is_plain_and_can_be_written_as_json():
    short = dp.PumpCurve(flow_gpm=[0, 20], head_ft=[20, 16])
    for result in (
        dp.operating_point([PUMP_A, short], LINES),
        dp.operating_point(PUMP_A, LINES[0]),
        dp.cycle(PUMP_A, LINES, r1_pit(), inflow_gpm=[0, 10]),
        LINES[0].head(flow_gpm=[1, np.nan]),
    ):
        answer = result.to_dict()
        text = json.loads(json.dumps(answer))
        assert set(text) == set(answer)
        assert "status" in text
    beyond = dp.operating_point(short, LINES[0]).to_dict()
    assert beyond["flow_gpm"] is None
    assert beyond["flow_at_least_gpm"] == pytest.approx(20)
    assert beyond["flow_at_least_lps"] == pytest.approx(20 * 0.0630901964)


def test_the_same_figures_in_frame_dict_and_attribute():
    op = dp.operating_point([PUMP_A, PUMP_B], LINES)
    frame, answer = op.to_frame("metric"), op.to_dict()
    assert (
        frame["head_m"].tolist()
        == np.ravel(answer["head_m"]).tolist()
        == op.head_m.ravel().tolist()
    )


def test_repr_and_notebook_html():
    op = dp.operating_point(PUMP_A, LINES[0])
    assert repr(op).splitlines()[:3] == [
        "OperatingPoint (ok)",
        "  flow: 25.7 gpm (1.62 L/s)",
        "  head: 14.7 ft (4.49 m)",
    ]
    assert "<th style='text-align:left'>flow</th><td>25.7 gpm (1.62 L/s)</td>" in op._repr_html_()
    many = dp.operating_point([PUMP_A, PUMP_B], LINES)
    assert repr(many).splitlines()[0] == "OperatingPoint (shape (2, 2): 4 ok)"
    assert "<td>narrow</td>" in many._repr_html_()


def said(result):
    """What a result says of itself, first line apart, by name."""
    first, *rows = repr(result).splitlines()
    return {"": first} | dict(row.strip().split(": ", 1) for row in rows)


def test_a_result_of_one_element_shows_plain_numbers():
    one, alone = dp.operating_point([PUMP_A], [LINES[0]]), dp.operating_point(PUMP_A, LINES[0])
    assert repr(one).splitlines()[0] == "OperatingPoint (shape (1, 1): 1 ok)"
    assert repr(one).splitlines()[1:] == repr(alone).splitlines()[1:]
    turning = dp.cycle([PUMP_A], LINES[0], r1_pit(), inflow_gpm=10)
    assert (said(turning)["keeps_up"], said(turning)["pattern"]) == ("True", "cycles")


def test_a_result_that_is_not_ok_says_why_as_require_does():
    short = dp.PumpCurve(flow_gpm=[0, 20], head_ft=[20, 16])
    assert repr(dp.operating_point(short, LINES[0])).splitlines()[:3] == [
        "OperatingPoint (beyond_curve)",
        "  why: the flow is at least the curve's last point, which is used; get points further out",
        "  flow_at_least: 20 gpm (1.26 L/s)",
    ]
    weak = dp.PumpCurve(name="weak", flow_gpm=[0, 20], head_ft=[5, 0])
    assert repr(dp.operating_point([PUMP_A, weak], LINES)).splitlines()[:2] == [
        "OperatingPoint (shape (2, 2): 2 no_flow, 2 ok)",
        "  why at index (1, 0): no_flow; choose a pump with more shutoff head, or lower the line's "
        "high point (the line asks 6.25 ft (1.91 m) before any flow, the pump makes 5 ft "
        "(1.52 m))",
    ]
    assert "why" not in said(LINES[0].head(flow_gpm=np.nan))  # nothing more to say
    high = dp.size.max_lift(PUMP_A, LINES[0], need_gpm=49)
    assert repr(high).splitlines()[:2] == [
        "MaxLift (none_serves)",
        "  why: not even at 0 does the pump give the need; see duty_to_buy for another",
    ]
    assert "<td>not even at 0 does the pump give the need; see duty_to_buy for another</td>" in (
        high._repr_html_()
    )


def test_a_cycle_says_plainly_that_it_falls_behind():
    pit = r1_pit()
    behind = said(dp.cycle(PUMP_A, LINES[0], pit, inflow_gpm=70))
    assert behind[""] == (
        "Cycle (ok; it falls behind: the inflow is more than the pump takes away)"
    )
    assert (behind["run"], behind["rest"]) == ("never stops", "0 s")
    idle = said(dp.cycle(PUMP_A, LINES[0], pit, inflow_gpm=0))
    assert (idle[""], idle["rest"]) == ("Cycle (ok; no inflow)", "never starts")
    on = said(dp.cycle(PUMP_A, LINES[0], pit, inflow_gpm=25.8))
    assert on[""] == "Cycle (ok; it runs on: the inflow holds the pit above the off level)"
    assert said(dp.cycle(PUMP_A, LINES[0], pit, inflow_gpm=10))[""] == "Cycle (ok)"
    many = said(dp.cycle(PUMP_A, LINES[0], pit, inflow_gpm=[0, 10, 70]))
    assert many[""] == "Cycle (shape (3,): 3 ok)"
    assert many["run"].endswith(" s, shape (3,), 1 of them never stops")
    assert many["rest"].endswith(" s, shape (3,), 1 of them never starts")


def test_a_line_that_drains_back_says_what_goes_on():
    drains = r1_line(2.047, fittings={}, check_valve=False)
    back = said(dp.drain_back(PUMP_A, drains, r1_pit(), inflow_gpm=5))
    assert back[""] == (
        "DrainBack (ok; endless short cycling: what runs back fills the pit to the on level at "
        "each stop, and the pump restarts at once)"
    )
    tall = r1_line(2.047, fittings={}, lift_ft=25, check_valve=False)
    stuck = said(dp.drain_back(PUMP_A, tall, r1_pit(), inflow_gpm=5))
    assert stuck[""] == "DrainBack (no_flow; the pump cannot fill the line to its high point)"
    assert stuck["cycles_to_outlet"] == stuck["first_water"] == stuck["priming"] == "never"
    assert stuck["threshold_inflow"] == "no inflow does"


def test_a_cycle_says_that_a_check_valve_is_taken_for_granted():
    pit, bare = r1_pit(), r1_line(fittings={"elbow_90": 5})
    note = "a check valve is taken for granted; none among the fittings, so its loss is not counted"
    assert said(dp.cycle(PUMP_A, bare, pit, inflow_gpm=5))["note"] == note
    both = dp.cycle(PUMP_A, [bare, r1_line()], pit, inflow_gpm=5)
    assert said(both)["note"] == f"on 1 of 2 lines {note}"
    drains = r1_line(fittings={}, check_valve=False)
    constant = dp.cycle(flow_gpm=20, pit=pit, inflow_gpm=5)
    # a valve in the riser holds what stands behind it
    riser = dp.Run(pipe=dp.pvc("1-1/2"), length_ft=3, fittings={"check_valve_swing": 1})
    bank = dp.cycle(dp.parallel([PUMP_A, PUMP_A], riser), bare, pit, inflow_gpm=5)
    for held in (
        dp.cycle(PUMP_A, r1_line(), pit, inflow_gpm=5),
        dp.cycle(PUMP_A, drains, pit, inflow_gpm=5),
        constant,
        bank,
    ):
        assert "note" not in said(held)


def test_html_escapes_what_the_user_named():
    line = r1_line(name="<b>bold</b>")
    assert "<b>" not in dp.operating_point([PUMP_A], [line])._repr_html_()


def test_arrays_without_elements_have_results_without_elements():
    op = dp.operating_point([PUMP_A, PUMP_B], r1_line(length_ft=np.empty(0)))
    assert op.flow_gpm.shape == op.head_ft.shape == op.status.shape == (2, 0)
    assert op.require() is op
    assert len(op.to_frame()) == 0
    assert repr(op).startswith("OperatingPoint (shape (2, 0): )")
    turning = dp.cycle(PUMP_A, LINES[0], r1_pit(), inflow_gpm=np.empty(0))
    assert turning.worst_starts_per_h.shape == (0,)


def test_shapes_that_do_not_fit_are_named():
    with pytest.raises(dp.InputError) as err:
        one_shape("thing", np.zeros(2), np.zeros(3), np.zeros(()))
    assert str(err.value) == (
        "thing: arrays of shapes (2,), (3,), () do not broadcast; give arrays of one shape, or "
        "scalars."
    )


def test_results_pickle():
    op = dp.operating_point([PUMP_A], LINES)
    twin = pickle.loads(pickle.dumps(op))
    pd.testing.assert_frame_equal(twin.to_frame(), op.to_frame())
    band = dp.band([PUMP_A], LINES, dp.Doubt(lift_ft=0.5), samples=16)
    # before and after what is worked out when first asked for
    for _ in range(2):
        twin = pickle.loads(pickle.dumps(band))
        pd.testing.assert_frame_equal(twin.to_frame(), band.to_frame())


# -- the words of failure


def test_the_classes_of_failure():
    assert issubclass(dp.UnitError, dp.InputError)
    assert issubclass(dp.InputError, ValueError)
    assert issubclass(dp.CatalogError, dp.InputError)
    assert issubclass(dp.StatusError, dp.DrainpumpError)
    assert not issubclass(dp.StatusError, ValueError)
    assert issubclass(dp.UnusualValueWarning, dp.DrainpumpWarning)
    assert issubclass(dp.PitWarning, dp.DrainpumpWarning)
    assert issubclass(dp.DrainpumpWarning, UserWarning)


def test_problems_of_files_are_listed_and_survive_pickling():
    problems = [
        errors.FileProblem("a.csv", 3, "head_ft", "x", "must be a number"),
        errors.FileProblem("b.csv", None, None, None, "the file is empty"),
    ]
    error = pickle.loads(pickle.dumps(dp.CatalogError(problems)))
    assert str(error) == (
        "2 problems in the pump data:\n"
        "  a.csv, row 3, column 'head_ft': 'x': must be a number\n"
        "  b.csv: the file is empty"
    )
    assert error.problems == tuple(problems)
    assert str(dp.CatalogError(problems[1:])) == (
        "1 problem in the pump data:\n  b.csv: the file is empty"
    )


def test_near_names():
    known = ["elbow_90", "elbow_45", "gate_valve"]
    assert foreign.nearest("elbow_9", known) == "did you mean 'elbow_90' or 'elbow_45'?"
    assert foreign.nearest(7, known) == "known: elbow_90, elbow_45, gate_valve"


def test_what_is_shown_of_many_elements_is_what_their_frame_holds(monkeypatch):
    siphon = r1_line(siphon=True, length_ft=np.linspace(20, 300, 7))
    worn = PUMP_B.worn(head=np.linspace(0.7, 1, 7))
    bank = dp.parallel([PUMP_A, PUMP_B])
    many = dp.operating_point([PUMP_A, worn, bank], [*LINES, siphon])
    whole = many.to_frame("metric")
    ends = [*range(5), *range(len(whole) - 4, len(whole))]
    pd.testing.assert_frame_equal(
        many._frame("metric", 9), whole.iloc[ends].reset_index(drop=True), rtol=1e-12
    )
    monkeypatch.setattr("drainpump.results._SPANNED", 20)
    title, _, *rows = repr(many).splitlines()
    assert title == "OperatingPoint (shape (3, 3, 7): 63 ok)"
    assert [row.split()[0] for row in (rows[0], rows[-1])] == ["A", "A"]
