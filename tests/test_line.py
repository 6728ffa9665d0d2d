"""Runs, outlets and the discharge line: the head at a flow, in its parts."""

from __future__ import annotations

import copy
import pickle
import re
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import drainpump as dp
from drainpump.physics.constants import GRAVITY
from tests.problems import FOOT, GPM, asked_m, r1_line, slope_of

PIPE = dp.Pipe(bore_in=1.59)
WIDE = dp.Pipe(bore_in=3.0)


def velocity_head_ft(flow_gpm: float, bore_in: float) -> float:
    velocity = flow_gpm * GPM / (np.pi / 4 * (bore_in * 0.0254) ** 2)
    return float(velocity**2 / (2 * GRAVITY) / FOOT)


def run(rise_ft: float, length_ft: float = 40.0, **more: object) -> dp.Run:
    return dp.Run(pipe=PIPE, length_ft=length_ft, rise_ft=rise_ft, **more)


# -- the parts of the head


def test_the_parts_of_the_reference_problem_and_their_sum():
    head = r1_line(1.590).head(flow_gpm=25.6846)
    parts = [head.static_ft, head.pipe_ft, head.fittings_ft, head.outlet_ft]
    assert parts == pytest.approx([6.00, 6.52, 1.69, 0.52], abs=0.005)
    assert head.head_ft == pytest.approx(14.72, abs=0.005)
    assert head.head_ft == pytest.approx(sum(parts), abs=1e-12)
    assert head.velocity_fps == pytest.approx(4.15, abs=0.005)
    assert head.governing_run == 1
    lid = 0.25
    assert head.outlet_ft - lid == pytest.approx(velocity_head_ft(25.6846, 1.59), rel=1e-12)
    assert head.fittings_ft == pytest.approx(6.3 * velocity_head_ft(25.6846, 1.59), rel=1e-12)


def test_at_no_flow_only_lift_and_lid_are_asked():
    head = r1_line().head(flow_gpm=0)
    assert (head.static_ft, head.pipe_ft, head.fittings_ft) == (6, 0, 0)
    assert head.outlet_ft == pytest.approx(0.25)
    assert head.head_ft == pytest.approx(6.25)


def test_each_loss_counts_on_its_own_runs_bore_and_the_exit_on_the_last():
    line = dp.DischargeLine(
        runs=[
            dp.Run(pipe=PIPE, length_ft=0, rise_ft=4, k=2.0),
            dp.Run(pipe=WIDE, length_ft=0, rise_ft=1, k=3.0),
        ]
    )
    head = line.head(flow_gpm=40)
    narrow, wide = velocity_head_ft(40, 1.59), velocity_head_ft(40, 3.0)
    assert head.fittings_ft == pytest.approx(2 * narrow + 3 * wide, rel=1e-12)
    assert head.outlet_ft == pytest.approx(wide, rel=1e-12)
    assert head.pipe_ft == 0
    assert head.static_ft == pytest.approx(5)
    assert head.velocity_fps**2 / (2 * GRAVITY / FOOT) == pytest.approx(wide, rel=1e-12)


def test_the_exit_is_never_among_the_fittings():
    assert run(6, k=1.5, fittings={"elbow_90": dp.Fitting(2, k=0.8)}).k_total == pytest.approx(3.1)
    assert dp.straight_line(pipe=PIPE, length_ft=9, lift_ft=0).runs[0].k_total == 0
    with pytest.raises(dp.InputError) as err:
        run(6, fittings={"exit": 1})
    assert str(err.value) == (
        "fittings: fitting='exit': is not a fitting: the outlet alone charges the exit's K = 1; "
        "leave it out."
    )


def test_an_equivalent_length_is_friction_counted_under_fittings():
    plain = dp.straight_line(pipe=PIPE, length_ft=100, lift_ft=0).head(flow_gpm=30)
    extra = dp.straight_line(pipe=PIPE, length_ft=100, lift_ft=0, equivalent_length_ft=25).head(
        flow_gpm=30
    )
    each = dp.straight_line(
        pipe=PIPE,
        length_ft=100,
        lift_ft=0,
        fittings={"strainer": dp.Fitting(5, equivalent_length_ft=5)},
    ).head(flow_gpm=30)
    assert extra.pipe_ft == plain.pipe_ft
    assert extra.fittings_ft == pytest.approx(plain.pipe_ft / 4, rel=1e-12)
    assert each.fittings_ft == pytest.approx(extra.fittings_ft, rel=1e-12)


def test_named_fittings_take_k_from_the_table_at_the_nominal_size():
    pipe = dp.pvc("1-1/2")
    known = dp.Run(pipe=pipe, length_ft=9, fittings={"elbow_90": 5, "check_valve_swing": 1})
    assert known.k_total == pytest.approx(5 * 0.60 + 2.00, abs=1e-9)
    assert [loss.name for loss in known.losses] == ["elbow_90", "check_valve_swing"]
    assert all(loss.source for loss in known.losses)


def test_hazen_williams_knows_no_viscosity_and_darcy_does():
    def pipe_ft(**more: object) -> float:
        line = dp.straight_line(pipe=PIPE, length_ft=150, lift_ft=0, **more)
        return line.head(flow_gpm=30).pipe_ft

    assert pipe_ft(friction="hazen_williams", water_f=40) == pipe_ft(
        friction="hazen_williams", water_f=80
    )
    assert pipe_ft(water_f=40) > 1.1 * pipe_ft(water_f=80)


@given(
    st.sampled_from([0.0, 0.01, 1.0, 2.0, 10.0, 37.5, 90.0]),
    st.sampled_from(["darcy", "hazen_williams"]),
    st.booleans(),
    st.lists(
        st.tuples(st.floats(0.6, 6), st.floats(0, 300), st.floats(-1, 1), st.floats(0, 10)),
        min_size=1,
        max_size=4,
    ),
    st.floats(0, 2),
    st.floats(0, 4),
)
@settings(max_examples=60, deadline=None)
def test_the_head_equals_a_walk_along_the_runs(flow, law, siphon, runs, lid, level):
    line = dp.DischargeLine(
        runs=[
            # no pipe is shorter than it rises
            dp.Run(pipe=dp.Pipe(bore_in=b), length_ft=x, rise_ft=steep * min(x, 15.0), k=k)
            for b, x, steep, k in runs
        ],
        outlet=dp.FreeOutlet(lid_ft=lid),
        friction=law,
        siphon=siphon,
    )
    head = line.head(flow_gpm=flow, level_above_off_ft=level)
    expected = asked_m(line, flow * GPM * 1000, level * FOOT)
    assert head.head_m == pytest.approx(expected, rel=1e-11, abs=1e-11)
    parts = head.static_m + head.pipe_m + head.fittings_m + head.outlet_m
    assert head.head_m == pytest.approx(parts, abs=1e-12)


def test_one_run_equals_the_same_pipe_cut_in_three():
    whole = dp.DischargeLine(runs=[run(6, 150, k=6.3)])
    cut = dp.DischargeLine(runs=[run(2, 50, k=2.1)] * 3)
    flow = np.linspace(0, 60, 7)
    np.testing.assert_allclose(cut.head(flow_gpm=flow).head_ft, whole.head(flow_gpm=flow).head_ft)


# -- the water level


def test_a_higher_water_level_lowers_the_static_part_alone():
    line = r1_line()
    off, up = (line.head(flow_gpm=20, level_above_off_ft=z) for z in (0, 1.5))
    assert off.static_ft - up.static_ft == pytest.approx(1.5)
    assert off.head_ft - up.head_ft == pytest.approx(1.5)
    assert (up.pipe_ft, up.fittings_ft, up.outlet_ft) == (
        off.pipe_ft,
        off.fittings_ft,
        off.outlet_ft,
    )


# -- high points


def test_a_vented_high_point_governs_and_the_drop_past_it_is_not_credited():
    up, down = run(10, 40, k=1.0), run(-8, 60)
    crest = dp.DischargeLine(runs=[up]).head(flow_gpm=20)
    head = dp.DischargeLine(runs=[up, down], outlet=dp.FreeOutlet(lid_ft=0.5)).head(flow_gpm=20)
    assert head.governing_run == 1
    assert head.static_ft == pytest.approx(10)
    assert head.pipe_ft == pytest.approx(crest.pipe_ft)
    assert head.fittings_ft == pytest.approx(velocity_head_ft(20, 1.59))
    # the velocity head is lost there as it would be at an open end, and the lid is none of it
    assert head.outlet_ft == pytest.approx(velocity_head_ft(20, 1.59))
    assert head.head_ft == pytest.approx(crest.head_ft)


def test_past_some_flow_the_outlet_governs_again():
    line = dp.DischargeLine(runs=[run(10, 20), run(-3, 400)])
    flow = np.array([5.0, 60.0])
    head = line.head(flow_gpm=flow)
    assert head.governing_run.tolist() == [1, 2]
    assert head.static_ft.tolist() == pytest.approx([10, 7])
    assert head.outlet_ft == pytest.approx([velocity_head_ft(q, 1.59) for q in flow])


def test_the_head_at_the_governing_point_is_never_less_than_at_any_other():
    line = dp.DischargeLine(runs=[run(5), run(-4), run(6), run(-9), run(1)])
    head = line.head(flow_gpm=np.linspace(0, 40, 9))
    for count in range(1, 5):
        upto = dp.DischargeLine(runs=line.runs[:count]).head(flow_gpm=np.linspace(0, 40, 9))
        assert (head.head_ft >= upto.head_ft - upto.outlet_ft - 1e-9).all()


def test_a_siphon_credits_the_drop_and_asks_at_the_outlet_alone():
    runs = [run(10, 40), run(-8, 60)]
    head = dp.DischargeLine(runs=runs, siphon=True).head(flow_gpm=20)
    whole = dp.straight_line(pipe=PIPE, length_ft=100, lift_ft=2).head(flow_gpm=20)
    assert head.governing_run == 2
    for part in ("static_ft", "pipe_ft", "fittings_ft", "outlet_ft"):
        assert getattr(head, part) == pytest.approx(getattr(whole, part), rel=1e-12)


def test_a_line_that_only_falls_asks_nothing_at_its_start():
    head = dp.DischargeLine(runs=[run(-6, 8)]).head(flow_gpm=[0, 10])
    assert head.head_ft.tolist() == [0, 0]
    assert head.governing_run.tolist() == [0, 0]
    siphon = dp.DischargeLine(runs=[run(-6, 8)], siphon=True).head(flow_gpm=0)
    assert siphon.head_ft == pytest.approx(-6)


# -- the water that runs back


@pytest.mark.parametrize(
    ("rises", "feet"),
    [
        ([6], 40),
        ([6, 0], 80),  # a level run at the top counts whole, the careful side
        ([6, -2], 40),
        ([6, -2, 1], 40),  # never climbs above the first high point
        ([6, -2, 4], 40 + 20),  # the upper half of the last run
        ([-3], 0),
        ([-3, 6], 20),
        ([0, 6], 80),
    ],
)
def test_what_runs_back_is_what_stands_above_all_before_it(rises, feet):
    line = dp.DischargeLine(runs=[run(z) for z in rises], check_valve=False)
    area = np.pi / 4 * (1.59 * 0.0254) ** 2
    assert line._returning_volume == pytest.approx(feet * FOOT * area, rel=1e-12)
    assert line.volume_l == pytest.approx(len(rises) * 40 * FOOT * area * 1000, rel=1e-12)


# -- arrays


def test_flow_and_line_broadcast_as_numpy_does():
    line = dp.straight_line(pipe=PIPE, length_ft=[50, 100, 150, 200], lift_ft=6)
    flow = np.array([[10.0], [20.0], [30.0]])
    head = line.head(flow_gpm=flow)
    assert head.head_ft.shape == head.governing_run.shape == (3, 4)
    for i, j in np.ndindex(3, 4):
        one = dp.straight_line(pipe=PIPE, length_ft=50.0 * (j + 1), lift_ft=6)
        assert head.head_ft[i, j] == pytest.approx(one.head(flow_gpm=flow[i, 0]).head_ft, rel=1e-13)


def test_arrays_of_several_shapes_in_one_line():
    line = dp.DischargeLine(
        runs=[
            dp.Run(pipe=PIPE, length_ft=np.array([[30.0], [60.0]]), rise_ft=5),
            dp.Run(pipe=dp.Pipe(bore_in=[1.6, 2.0, 3.0]), length_ft=40, k=[1.0, 2.0, 3.0]),
        ],
        outlet=dp.FreeOutlet(lid_ft=[0.1, 0.2, 0.3]),
        water_f=[[50.0], [70.0]],
    )
    head = line.head(flow_gpm=25, level_above_off_ft=[[[0.0]], [[1.0]]])
    assert head.head_ft.shape == (2, 2, 3)
    for i, j, k in np.ndindex(2, 2, 3):
        one = dp.DischargeLine(
            runs=[
                dp.Run(pipe=PIPE, length_ft=(30, 60)[j], rise_ft=5),
                dp.Run(pipe=dp.Pipe(bore_in=(1.6, 2.0, 3.0)[k]), length_ft=40, k=k + 1),
            ],
            outlet=dp.FreeOutlet(lid_ft=(0.1, 0.2, 0.3)[k]),
            water_f=(50, 70)[j],
        )
        expected = one.head(flow_gpm=25, level_above_off_ft=i).head_ft
        assert head.head_ft[i, j, k] == pytest.approx(expected, rel=1e-13)


@pytest.mark.parametrize(
    ("quantity", "value"),
    [
        ("length_ft", [150, np.nan, 150]),
        ("lift_ft", [6, np.nan, 6]),
        ("k", [1, np.nan, 1]),
        ("equivalent_length_ft", [1, np.nan, 1]),
        ("water_f", [60, np.nan, 60]),
    ],
)
def test_a_nan_stays_in_its_cell(quantity, value):
    given = {"pipe": PIPE, "length_ft": 150, "lift_ft": 6} | {quantity: value}
    head = dp.straight_line(**given).head(flow_gpm=20)
    assert head.status.tolist() == ["ok", "bad_input", "ok"]
    assert np.isnan(head.head_ft).tolist() == [False, True, False]


def test_a_nan_in_bore_lid_level_or_flow_stays_in_its_cell():
    values = np.array([1.0, np.nan, 1.0])
    heads = [
        dp.straight_line(pipe=dp.Pipe(bore_in=values), length_ft=9, lift_ft=1).head(flow_gpm=9),
        r1_line(outlet=dp.FreeOutlet(lid_ft=values)).head(flow_gpm=9),
        r1_line().head(flow_gpm=9, level_above_off_ft=values),
        r1_line().head(flow_gpm=values),
        dp.DischargeLine(runs=[run(values), run(3)]).head(flow_gpm=9),
        dp.DischargeLine(runs=[run(values), run(3)], siphon=True).head(flow_gpm=9),
        dp.DischargeLine(runs=[run(6), run(-values)]).head(flow_gpm=9),
    ]
    for head in heads:
        assert head.status.tolist() == ["ok", "bad_input", "ok"]
        assert np.isnan(head.head_ft).tolist() == [False, True, False]


def test_arrays_that_do_not_fit_are_refused_when_the_line_is_built():
    with pytest.raises(dp.InputError) as err:
        dp.straight_line(pipe=PIPE, length_ft=[10, 20], lift_ft=[1, 2, 3])
    said = r"^{}: arrays of shapes .*{}.* do not broadcast; give arrays of one shape, or scalars\.$"
    assert re.match(said.format("line", r"\(2,\), .*\(3,\)"), str(err.value))
    with pytest.raises(dp.InputError, match=said.format("line", r"\(2,\), .*\(3,\)")):
        r1_line(length_ft=[10, 20], outlet=dp.FreeOutlet(lid_ft=[0, 0, 0]))
    with pytest.raises(dp.InputError, match=said.format("head", r"\(3,\), .*\(2,\)")):
        r1_line(length_ft=[10, 20]).head(flow_gpm=[1, 2, 3])


def test_both_spellings_give_the_same_line():
    us = dp.straight_line(
        pipe=dp.Pipe(bore_in=2, roughness_ft=1e-5),
        length_ft=100,
        lift_ft=10,
        equivalent_length_ft=5,
        outlet=dp.FreeOutlet(lid_ft=0.5),
        water_f=68,
    )
    metric = dp.straight_line(
        pipe=dp.Pipe(bore_mm=50.8, roughness_m=3.048e-6),
        length_m=30.48,
        lift_m=3.048,
        equivalent_length_m=1.524,
        outlet=dp.FreeOutlet(lid_m=0.1524),
        water_c=20,
    )
    a = us.head(flow_gpm=40, level_above_off_ft=1)
    b = metric.head(flow_lps=40 * GPM * 1000, level_above_off_m=0.3048)
    for name in ("head_ft", "static_m", "pipe_ft", "fittings_m", "outlet_ft", "velocity_mps"):
        assert getattr(a, name) == pytest.approx(getattr(b, name), rel=1e-12)


# -- what is refused


def test_a_check_valve_contradicts_a_line_that_holds_nothing():
    said = (
        "check_valve=False: the fittings contain a check valve; "
        "remove it from the fittings, or say check_valve=True."
    )
    for name, item in (
        ("check_valve_swing", 1),
        ("check_valve_swing", dp.Fitting(k=2.0)),
        ("check_valve", dp.Fitting(k=2.0)),
        ("foot_valve_hinged", dp.Fitting(k=2.0)),
        ("check_valve_swing", dp.Fitting([0, 1], k=2.0)),
    ):
        with pytest.raises(dp.InputError) as err:
            dp.DischargeLine(runs=[run(6), run(1, fittings={name: item})], check_valve=False)
        assert str(err.value) == said
    none = dp.DischargeLine(runs=[run(6, fittings={"check_valve_swing": 0})], check_valve=False)
    assert none.check_valve is False


def test_the_check_valve_is_stated_and_echoed_never_inferred():
    assert r1_line().check_valve is True
    assert dp.DischargeLine(runs=[run(6)]).check_valve is True
    assert str(r1_line()).endswith("vented at high points; check valve holds the line")
    drains = dp.DischargeLine(runs=[run(6)], check_valve=False)
    assert "no check valve, drains back" in str(drains)
    # stating it changes no loss
    assert (
        drains.head(flow_gpm=20).head_ft
        == dp.DischargeLine(runs=[run(6)]).head(flow_gpm=20).head_ft
    )


def test_an_unknown_fitting_comes_with_the_nearest_names():
    with pytest.raises(dp.InputError) as err:
        run(6, fittings={"elbow90": 2})
    assert str(err.value) == (
        "fittings: fitting='elbow90': is not in the table of fittings; did you mean 'elbow_90' or "
        "'elbow_90_long' or 'elbow_45'; or give your own Fitting(k=...)."
    )


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (
            lambda: dp.DischargeLine(runs=[]),
            "runs=[]: must be one Run or more; make them with Run(...).",
        ),
        (
            lambda: dp.DischargeLine(runs=["1-1/2"]),
            "runs=['1-1/2']: must be one Run or more; make them with Run(...).",
        ),
        (
            lambda: dp.DischargeLine(runs=3),
            "runs=3: must be one Run or more; make them with Run(...).",
        ),
        (
            lambda: r1_line(friction="manning"),
            "friction='manning': must be one of ('darcy', 'hazen_williams'); pick one of the two.",
        ),
        (
            lambda: r1_line(siphon="no"),
            "siphon='no': must be True or False; state which it is.",
        ),
        (
            lambda: r1_line(check_valve=1),
            "check_valve=1: must be True or False; state which it is.",
        ),
        (
            lambda: r1_line(outlet="free"),
            "outlet='free': must be an outlet; make one with FreeOutlet(...), PopUpOutlet(...), "
            "SubmergedOutlet(...) or GravityHandOff(...).",
        ),
        (
            lambda: r1_line(name=3),
            "name=3: must be text; leave it out, or say what to call it.",
        ),
        (
            lambda: dp.Run(pipe="1-1/2", length_ft=9),
            "pipe='1-1/2': must be a Pipe; make one with pvc(...) or Pipe(bore_in=...).",
        ),
        (
            lambda: run(6, fittings=["elbow_90"]),
            "fittings=['elbow_90']: must map names to numbers of pieces; give {'elbow_90': 5}.",
        ),
        (
            lambda: run(6, fittings={"elbow_90": -1}),
            "count=-1: must be finite and 0 or more; give the number of pieces.",
        ),
        (
            lambda: run(6, k=-0.1),
            "k=-0.1: must be from 0 to 1000000; give the sum of loss coefficients.",
        ),
        (
            lambda: run(6, k=True),
            "k=True: must be a number or an array of numbers; give the sum of loss coefficients.",
        ),
        (
            lambda: dp.FreeOutlet(lid_ft=-1),
            "lid_ft=-1: must be from 0 ft to 328.1 ft; give the head that holds the outlet's lid "
            "open.",
        ),
        (
            lambda: dp.Fitting(1, k=0.5, equivalent_length_ft=3),
            "k=0.5: must not stand beside an equivalent length; a fitting's loss is one or the "
            "other; drop one of them.",
        ),
    ],
)  # fmt: skip
def test_what_is_refused(call, said):
    with pytest.raises(dp.InputError) as err:
        call()
    assert str(err.value) == said


def test_a_flow_below_zero_is_refused():
    with pytest.raises(dp.InputError) as err:
        r1_line().head(flow_gpm=-1)
    assert str(err.value) == "flow_gpm=-1: must be from 0 gpm to 158503 gpm; give the flow."


# -- a line stays as it was built


def test_nothing_of_a_line_can_be_changed_behind_its_back():
    line = r1_line()
    before = line.head(flow_gpm=20).head_ft
    for part, name, value in (
        (line, "friction", "hazen_williams"),
        (line, "siphon", True),
        (line, "runs", ()),
        (line, "_water", None),
        (line.runs[0], "pipe", WIDE),
        (line.runs[0], "_length", None),
        (line.outlet, "_lid", None),
    ):
        with pytest.raises(AttributeError) as err:
            setattr(part, name, value)
        assert str(err.value) == f"{name} is read-only; build a new {type(part).__name__} instead."
    with pytest.raises(AttributeError):
        del line.runs
    line.runs[0].fittings["elbow_90"] = 50
    assert line.head(flow_gpm=20).head_ft == before
    assert line.runs[0].fittings["elbow_90"] != 50


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"fittings": {"elbow_90": 5}}, "so its loss is not counted"),
        ({"fittings": {"check_valve_swing": 0}}, "so its loss is not counted"),
        (
            {"fittings": {}, "k": 6.3},
            "so its loss counts only if a K or length of your own holds it",
        ),
        (
            {"fittings": {"elbow_90": 5}, "equivalent_length_ft": 20},
            "so its loss counts only if a K or length of your own holds it",
        ),
        (
            {"fittings": {"flap": dp.Fitting(k=2)}},
            "so its loss counts only if a K or length of your own holds it",
        ),
    ],
    ids=["elbows", "none of them", "k", "length", "own fitting"],
)
def test_a_check_valve_taken_for_granted_is_said_so(changes, said):
    assert str(r1_line(**changes)).splitlines()[-1] == (
        "  lift 6 ft (1.83 m); friction darcy; water 59.31 °F (15.2 °C); vented at high points; "
        f"a check valve is taken for granted; none among the fittings, {said}"
    )


@pytest.mark.parametrize(
    ("build", "said"),
    [
        (
            lambda: r1_line(length_ft=8, lift_ft=9),
            "length_ft=8 is shorter than the rise, lift_ft=9; give the length measured along the "
            "pipe.",
        ),
        (
            lambda: dp.Run(pipe=PIPE, length_ft=5, rise_ft=9),
            "length_ft=5 is shorter than the rise, rise_ft=9; give the length measured along the "
            "pipe.",
        ),
        (
            lambda: dp.Run(pipe=PIPE, length_ft=9, rise_m=-3),
            "length_ft=9 is shorter than the fall, rise_m=-3; give the length measured along the "
            "pipe.",
        ),
        (
            lambda: r1_line(length_ft=[[50], [7]], lift_ft=[6, 8.5]),
            "length_ft[1, 1]=7 is shorter than the rise, lift_ft[1, 1]=8.5; give the length "
            "measured along the pipe.",
        ),
    ],
    ids=["lift", "run", "fall", "arrays"],
)
def test_a_pipe_shorter_than_it_rises_warns(build, said):
    with pytest.warns(dp.UnusualValueWarning) as caught:
        build()
    assert [str(w.message) for w in caught] == [said]
    assert Path(caught[0].filename).parent == Path(__file__).parent


def test_a_pipe_straight_up_and_one_of_no_length_do_not_warn():
    for length, lift in ((9, 9), (0, 9), (np.nan, 9), (9, np.nan)):
        r1_line(length_ft=length, lift_ft=lift)
    dp.Run(pipe=PIPE, length_m=3.048, rise_ft=10)


def test_a_line_can_be_copied_and_pickled():
    line = r1_line()
    for twin in (copy.copy(line), copy.deepcopy(line), pickle.loads(pickle.dumps(line))):
        assert twin.head(flow_gpm=20).head_ft == line.head(flow_gpm=20).head_ft


def test_a_line_says_what_it_is():
    assert str(r1_line(1.590)).splitlines() == [
        "DischargeLine '1.59 in bore, 150 ft'",
        "  1. Run(1.59 in bore, length 150 ft (45.7 m), rise 6 ft (1.83 m), 5 × elbow_90, "
        "1 × check_valve_swing, 1 × adapter)",
        "  outlet: FreeOutlet(lid 0.25 ft (0.0762 m))",
        "  lift 6 ft (1.83 m); friction darcy; water 59.31 °F (15.2 °C); vented at high points; "
        "check valve holds the line",
    ]
    assert r1_line(name="to the ditch").name == "to the ditch"
    two = dp.DischargeLine(runs=[run(1), dp.Run(pipe=WIDE, length_ft=60)])
    assert two.name == "1.59 in bore + 3.0 in bore, 100 ft"
    assert (two.length_ft, two.lift_ft) == (pytest.approx(100), pytest.approx(1))


def test_the_slope_oracle_itself_knows_the_laminar_law():
    # Hagen-Poiseuille: S = 32 nu V / (g D²)
    slope = slope_of(PIPE, "darcy", 0.01, 1e-6)
    assert slope == pytest.approx(32e-6 * 0.01 / (GRAVITY * (1.59 * 0.0254) ** 2), rel=1e-12)
