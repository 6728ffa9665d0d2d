"""The pump curve: what it takes, what it refuses, and what it answers between its points."""

from __future__ import annotations

import pickle

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drainpump.errors import InputError, StatusError, UnitError, UnusualValueWarning
from drainpump.parts.pump.curve import PumpCurve

FLOW, HEAD = [0, 10, 20, 30, 40, 50], [20, 19.2, 16.8, 12.8, 7.2, 0]


def pump(**more):
    return PumpCurve(**({"name": "A", "flow_gpm": FLOW, "head_ft": HEAD} | more))


@st.composite
def curves(draw, falling=False):
    count = draw(st.integers(2, 8))
    step = st.floats(0.5, 20, allow_nan=False)
    flow = np.cumsum([draw(st.floats(0, 5)), *(draw(step) for _ in range(count - 1))])
    head = np.array([draw(st.floats(0.5, 90)) for _ in range(count)])
    if falling:
        head = np.sort(head)[::-1]
    return flow, head


@pytest.mark.parametrize(
    ("given", "says"),
    [
        (
            {"flow_gpm": [0, 20, 20], "head_ft": [9, 8, 7]},
            "flow_gpm[2]=20: must be more than the flow before it (20); give each flow once, in "
            "rising order.",
        ),
        (
            {"flow_gpm": [0, 30, 20, 40], "head_ft": [9, 8, 7, 6]},
            "flow_gpm[2]=20: must be more than the flow before it (30); give each flow once, in "
            "rising order.",
        ),
        (
            {"flow_gpm": [10], "head_ft": [9]},
            "flow_gpm=[10.0]: a curve must have at least two points; give more points, or the "
            "shutoff head beside the one.",
        ),
        (
            {"flow_gpm": [], "head_ft": []},
            "flow_gpm=[]: a curve must have at least two points; give more points, or the "
            "shutoff head beside the one.",
        ),
        (
            {"flow_gpm": [0, 10], "head_ft": [9, float("nan")]},
            "head_ft[1]=nan: must be a finite number; give a head for each point, or leave the "
            "point out.",
        ),
        (
            {"flow_gpm": [0, float("inf")], "head_ft": [9, 8]},
            "flow_gpm[1]=inf: must be from 0 gpm to 158503 gpm; give the flow.",
        ),
        (
            {"head_ft": [9, -1, 8, 7, 6, 5]},
            "head_ft[1]=-1: must be from 0 ft to 3281 ft; give the head in height of water.",
        ),
        (
            {"head_ft": [9, 8]},
            "head_ft=[9.0, 8.0]: must have as many numbers as flow_gpm, 6, not 2; give one head "
            "for each flow.",
        ),
        (
            {"head_ft": 9},
            "head_ft=9: must be a list of numbers; give a list of heads, one for each point.",
        ),
        (
            {"head_ft": [0] * 6},
            "head_ft=[0.0, 0.0, 0.0, 0.0, 0.0, 0.0]: must be more than 0 at some flow; give the "
            "head the pump makes at each flow.",
        ),
        (
            {"power_w": [300, 0, 1, 1, 1, 1]},
            "power_w[1]=0: must be more than 0; give the electrical power taken.",
        ),
        (
            {"power_w": [300]},
            "power_w=[300.0]: must have as many numbers as flow_gpm, 6, not 1; give one power "
            "for each flow.",
        ),
        (
            {"shutoff_ft": 21},
            "shutoff_ft=21: must be left out, for flow_gpm[0] is 0 already; keep one of the two.",
        ),
        (
            {"shutoff_ft": [21, 22]},
            "shutoff_ft=[21.0, 22.0]: must be one number; give one.",
        ),
        ({"price": -1}, "price=-1: must be finite and 0 or more; give 0 or more, or leave it out."),
        ({"name": " "}, "name=' ': must be a printable name; say what the pump is called."),
        (
            {"voltage_v": 0},
            "voltage_v=0: must be finite and more than 0 V; give a positive number.",
        ),
        (
            {"on_in": 5, "off_mm": 250},
            "off level 250 mm (9.84 in) and on 5 in (127 mm): off must be below on; the "
            "built-in float's levels are crossed, swap them.",
        ),
        ({"note": 3}, "note=3: must be text; write the note in quotes."),
    ],
)
def test_refused(given, says):
    with pytest.raises(InputError) as err:
        pump(**given)
    assert str(err.value) == says


def test_units_are_required_once():
    with pytest.raises(UnitError) as err:
        PumpCurve(head_ft=[1, 0])
    assert str(err.value) == "flow: no value given; give exactly one of flow_gpm, flow_lps."
    with pytest.raises(UnitError) as err:
        pump(shutoff_ft=20, shutoff_m=6)
    assert str(err.value) == (
        "shutoff_ft=20 and shutoff_m=6: more than one unit given; give exactly one of "
        "shutoff_ft, shutoff_m."
    )
    with pytest.raises(TypeError) as misspelt:
        PumpCurve(flow=[0, 1], head_ft=[1, 0])
    assert str(misspelt.value) == (
        "PumpCurve() got an unexpected keyword argument 'flow'; has no unit; give 'flow_gpm', "
        "'flow_lps', 'flow_gph', 'flow_lpm' or 'flow_m3ph'"
    )


def test_frozen():
    with pytest.raises(AttributeError):
        pump().name = "B"
    with pytest.raises(AttributeError):
        pump().flow_gpm = [1, 2]
    with pytest.raises(ValueError, match="read-only"):
        pump().flow_gpm[0] = 3
    mine = np.array(FLOW, dtype=float)
    kept = pump(flow_gpm=mine)
    mine[0] = 5
    assert kept.flow_gpm[0] == 0


def test_answers_in_both_units_and_as_typed():
    a = pump()
    assert a.flow_gpm.tolist() == FLOW
    assert a.head_ft.tolist() == HEAD
    np.testing.assert_allclose(a.head_m, np.array(HEAD) * 0.3048, rtol=1e-15)
    np.testing.assert_allclose(a.flow_lps, np.array(FLOW) * 0.0630901964, rtol=1e-12)
    assert (a.shutoff_ft, a.run_out_gpm) == (20, 50)
    b = PumpCurve(flow_lps=a.flow_lps, head_m=a.head_m)
    flow = np.linspace(0, 50, 23)
    np.testing.assert_allclose(
        b.head(flow_gpm=flow).head_ft, a.head(flow_gpm=flow).head_ft, atol=1e-12
    )


def test_shutoff_adds_the_point_of_no_flow():
    a = PumpCurve(flow_gpm=[10, 20], head_ft=[19, 15], shutoff_m=6.096, power_w=[300, 400])
    assert a.flow_gpm.tolist() == [0, 10, 20]
    np.testing.assert_allclose(a.head_ft, [20, 19, 15], rtol=1e-15)
    np.testing.assert_array_equal(a.power_w, [np.nan, 300, 400])
    assert np.isnan(a.head(flow_gpm=5).power_w)
    assert a.head(flow_gpm=5).ok
    one = PumpCurve(flow_gpm=[50], head_ft=[0], shutoff_ft=20)
    assert one.head(flow_gpm=25).head_ft == pytest.approx(20 * (1 - 0.5**1.4), abs=1e-4)
    assert PumpCurve(flow_gpm=[10, 20], head_ft=[19, 15]).shutoff_ft is None


def test_rising_is_accepted_and_noted():
    droop = PumpCurve(flow_gpm=[10, 30], head_ft=[20, 5], shutoff_ft=18)
    assert (droop.droops, droop.rises) == (True, True)
    assert droop.notes == (
        "The curve droops: its head rises from 18 ft (5.49 m) at 0 gpm (0 L/s) to 20 ft "
        "(6.1 m) at 10 gpm (0.631 L/s); one head may then have two flows.",
    )
    bump = PumpCurve(flow_gpm=[5, 10, 20, 30], head_ft=[20, 10, 12, 3])
    assert (bump.droops, bump.rises) == (False, True)
    assert bump.notes == (
        "The head rises again, from 10 ft (3.05 m) at 10 gpm (0.631 L/s) to 12 ft (3.66 m) "
        "at 20 gpm (1.26 L/s).",
        "No point at zero flow: the shutoff head is not known, and nothing is said below 5 gpm "
        "(0.315 L/s).",
    )
    assert (pump().droops, pump().rises, pump().notes) == (False, False, ())


def test_never_beyond_its_points():
    a = PumpCurve(flow_gpm=[10, 30], head_ft=[20, 5])
    found = a.head(flow_gpm=[9, 10, 30, 31, np.nan])
    assert found.status.tolist() == ["below_curve", "ok", "ok", "beyond_curve", "bad_input"]
    np.testing.assert_allclose(found.head_ft, [np.nan, 20, 5, np.nan, np.nan], rtol=1e-12)
    assert found.power_w is None
    with pytest.raises(StatusError) as err:
        found.require()
    assert str(err.value) == (
        "CurveHead at index (0,): below_curve; the flow lies below the first point; give "
        "points, or the shutoff head"
    )


def test_repr_says_both_units_and_echoes():
    a = pump(price=120, best_flow_gpm=30, outlet_in=1.5, invented=True)
    assert str(a) == (
        "PumpCurve('A': 6 points, flow 0 to 50 gpm (0 to 3.15 L/s), head 20 to 0 ft "
        "(6.1 to 0 m), best flow 30 gpm (1.89 L/s), outlet 1.5 in (38.1 mm), price 120, "
        "invented)"
    )
    assert str(pump().at_speed(0.9).worn(flow=[0.9, 0.8])) == (
        "PumpCurve('A': 6 points, flow 0 to 40.5 gpm, shape (2, 6) (0 to 2.56 L/s, shape (2, 6)), "
        "head 16.2 to 0 ft (4.94 to 0 m), head factor 0.81, flow factor 0.72 to 0.81, shape (2,))"
    )


def test_html_escapes_what_was_typed():
    shown = pump(name="<b>A", note="<script>")._repr_html_()
    assert "<b>" not in shown
    assert "<script>" not in shown
    assert "&lt;b&gt;A" in shown
    assert "<td>19.2</td>" in shown


def test_frame_and_dict():
    a = pump(power_w=[1, 2, 3, 4, 5, 6])
    frame = a.to_frame("us")
    assert frame.columns.tolist() == ["pump", "point", "flow_gpm", "head_ft", "power_w"]
    assert frame["head_ft"].tolist() == HEAD
    two = a.worn(head=[0.5, 1]).to_frame("metric")
    assert two.columns.tolist() == ["pump", "axis_0", "point", "flow_lps", "head_m", "power_w"]
    assert len(two) == 12
    with pytest.raises(InputError) as err:
        a.worn(head=[0.5, 1]).to_dict()
    assert str(err.value) == (
        "pump 'A': a curve with arrays of factors is many curves; describe the one it came "
        "from, before at_speed or worn."
    )


def test_dict_builds_the_same_curve():
    a = PumpCurve(
        name="B",
        flow_lps=[1, 2],
        head_ft=[9, 8],
        shutoff_m=3,
        power_w=[200, 300],
        price=99.5,
        outlet_mm=50,
        solids_in=0.5,
        voltage_v=230,
        current_a=3,
        on_in=12,
        off_mm=100,
        best_flow_gpm=20,
        invented=True,
        note="one, two",
    )
    b = PumpCurve(**a.to_dict())
    assert a.to_dict() == b.to_dict()
    assert repr(a) == repr(b)
    assert repr(pickle.loads(pickle.dumps(a))) == repr(a)
    scaled = a.at_speed(0.9)
    again = PumpCurve(**scaled.to_dict())
    np.testing.assert_allclose(again.head_ft, scaled.head_ft, rtol=1e-14)
    np.testing.assert_allclose(again.head(flow_lps=1).head_m, scaled.head(flow_lps=1).head_m)
    assert again.best_flow_gpm == pytest.approx(18)


def test_speed_and_wear():
    a = pump(power_w=[300, 320, 340, 360, 380, 400], best_flow_gpm=30)
    slow = a.at_speed(0.8)
    at = slow.head(flow_gpm=24)
    assert at.head_ft == pytest.approx(12.8 * 0.64, rel=1e-12)
    assert at.power_w == pytest.approx(360 * 0.512, rel=1e-12)
    assert slow.best_flow_gpm == pytest.approx(24)
    worn = a.worn(head=0.9, flow=0.5).head(flow_gpm=15)
    assert worn.head_ft == pytest.approx(0.9 * 12.8, rel=1e-12)
    assert worn.power_w == pytest.approx(360, rel=1e-12)
    # the curve's own last point stays on it, whatever the rounding
    for ratio in np.linspace(0.5, 1.2, 71):
        scaled = a.at_speed(ratio)
        assert scaled.head(flow_gpm=scaled.run_out_gpm).status == "ok"


def test_array_factors_broadcast_and_keep_nan_in_its_cell():
    many = pump().at_speed(np.array([[0.9], [1.0]])).worn(head=[0.8, 1.0, np.nan])
    found = many.head(flow_gpm=20)
    assert found.head_ft.shape == (2, 3)
    assert found.status[:, :2].tolist() == [["ok", "ok"]] * 2
    assert found.status[:, 2].tolist() == ["bad_input"] * 2
    assert found.head_ft[1, 1] == pytest.approx(16.8)
    assert many.shutoff_ft.shape == (2, 3)
    assert many.head_ft.shape == (2, 3, 6)
    assert many.flow_gpm.shape == (2, 1, 6)


def test_speed_out_of_the_usual_warns_and_impossible_is_refused():
    with pytest.warns(UnusualValueWarning) as got:
        pump().at_speed([0.9, 1.5])
    assert str(got[0].message) == (
        "ratio=1.5: outside 0.5 to 1.2 the affinity laws are rough; is it new speed over old?"
    )
    for call, says in [
        (
            lambda: pump().at_speed([0.9, 0]),
            "ratio[1]=0.0: must be more than 0 and at most 3; give new speed over old, such "
            "as 0.9.",
        ),
        (
            lambda: pump().worn(head=1.6),
            "head=1.6: must be more than 0 and at most 1.5; give the share that is left, such "
            "as 0.9.",
        ),
    ]:
        with pytest.raises(InputError) as err:
            call()
        assert str(err.value) == says


@pytest.mark.filterwarnings("ignore:head rises:drainpump.UnusualValueWarning")
@given(curves())
@settings(max_examples=40, deadline=None)
def test_passes_through_its_points(points):
    flow, head = points
    a = PumpCurve(flow_gpm=flow, head_ft=head)
    np.testing.assert_allclose(a.head(flow_gpm=flow).head_ft, head, rtol=1e-9, atol=1e-9)


@pytest.mark.filterwarnings("ignore:head rises:drainpump.UnusualValueWarning")
@given(curves())
@settings(max_examples=40, deadline=None)
def test_between_two_points_stays_between_their_heads(points):
    flow, head = points
    a = PumpCurve(flow_gpm=flow, head_ft=head)
    for i in range(len(flow) - 1):
        found = a.head(flow_gpm=np.linspace(flow[i], flow[i + 1], 17)).head_ft
        steps = np.diff(found) * np.sign(head[i + 1] - head[i])
        assert (steps >= -1e-9).all()


@given(curves(falling=True), st.floats(0.5, 1.2), st.floats(0, 1))
@settings(max_examples=40, deadline=None)
def test_affinity_moves_every_point_not_only_the_knots(points, ratio, share):
    flow, head = points
    a = PumpCurve(flow_gpm=flow, head_ft=head)
    q = flow[0] + share * (flow[-1] - flow[0])
    here = a.head(flow_gpm=q).head_ft
    there = a.at_speed(ratio).head(flow_gpm=q * ratio).head_ft
    assert there == pytest.approx(here * ratio**2, rel=1e-9, abs=1e-9)


def test_notes_say_what_a_reader_should_know():
    droops = PumpCurve(name="D", flow_gpm=[0, 10, 20, 30], head_ft=[20, 22, 15, 0])
    assert droops.notes == (
        "The curve droops: its head rises from 20 ft (6.1 m) at 0 gpm (0 L/s) to 22 ft "
        "(6.71 m) at 10 gpm (0.631 L/s); one head may then have two flows.",
    )
    waves = PumpCurve(name="W", flow_gpm=[5, 10, 20, 30], head_ft=[20, 12, 15, 0])
    assert waves.notes == (
        "The head rises again, from 12 ft (3.66 m) at 10 gpm (0.631 L/s) to 15 ft (4.57 m) at "
        "20 gpm (1.26 L/s).",
        "No point at zero flow: the shutoff head is not known, and nothing is said below 5 gpm "
        "(0.315 L/s).",
    )
    assert PumpCurve(name="F", flow_gpm=[0, 10], head_ft=[20, 20]).notes == ()


@pytest.mark.parametrize(
    ("curve", "message"),
    [
        (
            {"flow_gpm": [0, np.nan, 20], "head_ft": [20, 10, 0]},
            "flow_gpm[1]=nan: must be a finite number; give a flow for each point, or leave the "
            "point out.",
        ),
        (
            {"flow_gpm": [0, 10, 20], "head_ft": [20, 10, np.nan]},
            "head_ft[2]=nan: must be a finite number; give a head for each point, or leave the "
            "point out.",
        ),
        (
            {"flow_gpm": [0, 10, 20], "head_ft": [20, 10, 0], "power_w": [100, np.nan, 120]},
            "power_w[1]=nan: must be a finite number; give a power for each point, or leave the "
            "point out.",
        ),
        (
            {"flow_gpm": [0, 10, 20], "head_ft": [20, 10, 0], "power_w": [100, 110, 0]},
            "power_w[2]=0: must be more than 0; give the electrical power taken.",
        ),
    ],
)
def test_points_that_make_no_curve_are_named_by_their_place(curve, message):
    with pytest.raises(InputError) as err:
        PumpCurve(name="P", **curve)
    assert str(err.value) == message
