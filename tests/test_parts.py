"""Parts remember: copies with a change, plain values, equality, and a repr that builds again."""

from __future__ import annotations

import copy
import json
import pickle
import warnings
from typing import Any

import numpy as np
import pytest

import drainpump as dp
from drainpump.parts.pump.bank import pump_from_dict

RUN = dp.Run(pipe=dp.pvc("1-1/2"), length_ft=150, rise_ft=6, fittings={"elbow_90": 5})
OWN = dp.Run(
    pipe=dp.Pipe(bore_mm=40, roughness_ft=5e-6),
    length_m=9,
    fittings={"elbow_90": dp.Fitting(2, k=0.9), "gate_valve": 1},
    equivalent_length_ft=3,
)
CURVE = dp.PumpCurve(name="A", flow_gpm=[10, 30, 50], head_ft=[19, 13, 1], shutoff_ft=20)
PIT = dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=13)
RAIN = dp.inflow.Hyetograph(depth_in=[0.1, 0.4, 0.2], block_min=10)

PARTS: list[Any] = [
    dp.pvc("1-1/2"),
    dp.pvc(2, "80", bore="minimum_wall", hazen_williams_c=140),
    dp.pvc_metric(63, 21),
    dp.Pipe(bore_in=1.59),
    dp.Fitting(2, k=0.9),
    RUN,
    OWN,
    dp.FreeOutlet(lid_ft=0.25),
    dp.SubmergedOutlet(depth_m=0.5),
    dp.PopUpOutlet(opening_head_ft=0.25, gap_in=0.125, body_in=4),
    dp.GravityHandOff(bore_in=4, slope=0.01, n=0.012),
    dp.DischargeLine(runs=[RUN, OWN], outlet=dp.FreeOutlet(lid_ft=0.2), water_c=10, siphon=True),
    dp.straight_line(pipe=dp.pvc("2"), length_ft=200, lift_ft=8, k=6.0),
    CURVE,
    CURVE.worn(head=0.9),
    CURVE.at_speed(0.8),
    dp.parallel([CURVE, CURVE], RUN, lag_on_in=20),
    dp.series([CURVE, CURVE], name="two"),
    dp.parallel([dp.series([CURVE, CURVE]), CURVE], [None, None]),
    PIT,
    dp.PondStorage(depth_in=[2, 4], volume_gal=[300, 900]),
    dp.inflow.Catchment(area_ft2=400, runoff="roof", tc_min=5),
    dp.inflow.Trench(length_ft=60, width_ft=1, depth_ft=2, voids=0.4),
    dp.inflow.RainTable(duration_min=[5, 10], depth_in=[0.6, 0.9], return_year=10),
    dp.inflow.RainFit(a_in_per_h=56.6, b_min=8.6, n=0.823),
    RAIN,
    dp.Hydrograph(flow_gpm=[0, 40, 10], time_min=[0, 5, 10], rain=RAIN),
    dp.Hydrograph(flow_gpm=[30, 10], block_min=5).plus(flow_gpm=2),
    dp.Limits(velocity_max_fps=6, soft=["best_flow"]),
    dp.Costs(pipe_per_ft={"2": 2.2}, energy_per_kwh=0.2, currency="crowns"),
    dp.Doubt(lift_ft=0.75, length_pct=5, grade="up to 10 kW"),
    dp.Job(pumps=[CURVE], lines=[dp.DischargeLine(runs=[RUN])], need_gpm=20, pit=PIT, name="J"),
]
NAMES = [f"{i} {type(part).__name__}" for i, part in enumerate(PARTS)]
every = pytest.mark.parametrize("part", PARTS, ids=NAMES)


def read(part: Any, given: dict[str, Any]) -> Any:
    """Read plain values back as the kind of part they were written from."""
    return pump_from_dict(given) if isinstance(part, dp.PumpBank) else type(part).from_dict(given)


@every
def test_plain_values_go_through_json_and_build_the_same(part: Any) -> None:
    text = json.dumps(part.to_dict(), allow_nan=False)
    again = read(part, json.loads(text))
    assert again == part
    assert hash(again) == hash(part)
    assert again.to_dict() == part.to_dict()
    if not (isinstance(part, dp.PumpCurve) and "factor" in str(part)):  # its points by now
        assert str(again) == str(part)


@every
def test_a_copy_a_pickle_and_a_replacement_by_nothing_are_equal(part: Any) -> None:
    for same in (copy.copy(part), copy.deepcopy(part), pickle.loads(pickle.dumps(part))):
        assert same == part
        assert hash(same) == hash(part)
    assert part.replace() == part
    assert part.__replace__() == part


@every
def test_its_repr_builds_it_again(part: Any) -> None:
    rooms = {n: getattr(dp.inflow, n) for n in ("Catchment", "Trench", "RainTable", "RainFit",
                                                "Hyetograph")}  # fmt: skip
    names = {n: getattr(dp, n) for n in dp.__all__} | rooms
    assert eval(repr(part), names) == part


def test_unlike_parts_differ() -> None:
    for i, part in enumerate(PARTS):
        for other in PARTS[i + 1 :]:
            assert part != other
    assert dp.FreeOutlet() != 3


def test_equality_is_by_value_as_typed() -> None:
    assert dp.pvc("2") != dp.pvc("2", hazen_williams_c=140)
    assert dp.Pit(diameter_in=18.0, depth_in=np.int64(30), off_in=6, on_in=13) == PIT
    line = dp.DischargeLine(runs=[RUN])
    assert line == dp.DischargeLine(runs=RUN, check_valve=True)  # a stated default is no change
    arrays = dp.Pit(diameter_in=[18, 20], depth_in=30, off_in=6, on_in=13)
    assert arrays == dp.Pit(diameter_in=np.array([18.0, 20.0]), depth_in=30, off_in=6, on_in=13)


def test_a_change_replaces_the_quantity_whichever_spelling() -> None:
    assert PIT.replace(on_mm=400) == dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_mm=400)
    assert RUN.replace(length_m=20).length_m == 20
    assert RUN.replace(name=None, fittings=None).k_total == 0


def test_a_line_of_one_run_takes_what_its_run_takes() -> None:
    line = dp.straight_line(pipe=dp.pvc("2"), length_ft=200, lift_ft=8, k=6.0)
    other = line.replace(length_m=30, lift_m=2, pipe=dp.pvc("3"), friction="hazen_williams", k=2)
    assert (other.length_m, other.lift_m, other.friction) == (30, 2, "hazen_williams")
    assert other.runs[0].pipe == dp.pvc("3")
    assert other.name == "3 in Sch 40 PVC, 30 m"
    two = dp.DischargeLine(runs=[RUN, OWN])
    with pytest.raises(dp.InputError) as err:
        two.replace(length_ft=80)
    assert str(err.value) == (
        "length_ft: belongs to a run, and the line has 2; give runs=[...], each made with "
        "run.replace(...)."
    )


def test_a_standard_pipe_with_a_bore_of_its_own_is_no_standard_pipe() -> None:
    own = dp.pvc("2", roughness_ft=1e-5).replace(bore_in=2.1)
    assert (own.bore_in, own.nominal, own.roughness_ft, own.size) == (2.1, "2", 1e-5, None)
    assert dp.pvc("2").replace(schedule="80") == dp.pvc("2", "80")


def test_what_was_typed_cannot_be_changed_behind_its_back() -> None:
    flow = np.array([0.0, 30.0, 50.0])
    heads = [20.0, 13.0, 1.0]
    curve = dp.PumpCurve(flow_gpm=flow, head_ft=heads)
    flow[0], heads[0] = 5.0, 99.0
    assert curve.to_dict()["flow_gpm"] == [0.0, 30.0, 50.0]
    assert curve.to_dict()["head_ft"] == [20.0, 13.0, 1.0]
    with pytest.raises(AttributeError) as err:
        PIT.shape = (3,)
    assert "shape" in str(err.value)


def test_a_misspelt_keyword_names_the_nearest() -> None:
    with pytest.raises(TypeError) as err:
        dp.Pit(diamter_in=18, depth_in=30, off_in=6, on_in=13)  # type: ignore[call-arg]
    assert str(err.value) == (
        "Pit() got an unexpected keyword argument 'diamter_in'; did you mean 'diameter_in'?"
    )


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (lambda: dp.Pit(18, 30, 6, 13), "Pit(): 4 0 diameter_in"),
        (lambda: dp.pvc("2", "40", 2), "pvc(): 3 2 bore"),
        (lambda: dp.straight_line(dp.pvc("2"), 150, 6), "straight_line(): 3 0 pipe"),
        (lambda: dp.PumpCurve.from_box("b", 3300, 24), "from_box(): 3 1 flow_max_gpm"),
    ],
)
def test_a_value_without_the_name_it_needs_is_told_how_to_get_it(call: Any, said: str) -> None:
    what, given, bare, first = said.split()
    with pytest.raises(TypeError) as caught:
        call()
    assert str(caught.value) == (
        f"{what} too many positional arguments, {given} where {bare} may stand without a name; "
        f"write the others with theirs, as in {first}=..."
    )


def test_a_change_warns_of_what_it_changes_and_of_nothing_else() -> None:
    with pytest.warns(dp.UnusualValueWarning, match="^length_ft=4000 "):
        line = dp.straight_line(pipe=dp.pvc("2"), length_ft=4000, lift_ft=8)
    with warnings.catch_warnings(record=True) as said:
        warnings.simplefilter("always")
        line.replace(k=2.0)
        line.variant(length_ft=5000)
    assert said == []
    with warnings.catch_warnings(record=True) as said:
        warnings.simplefilter("always")
        line.replace(lift_ft=70)
        line.replace(length_ft=5)
    assert [str(w.message) for w in said] == [
        "lift_ft=70 is 21.3 m, unusually large for yard drainage; is it right?",
        "length_ft=5 is shorter than the rise, lift_ft=8; give the length measured along the pipe.",
    ]


def test_plain_values_that_are_no_part_are_refused() -> None:
    with pytest.raises(dp.InputError) as err:
        dp.Pit.from_dict([1])  # type: ignore[arg-type]
    assert str(err.value) == "Pit=[1]: must be a mapping; give what to_dict() gave."
    with pytest.raises(dp.InputError) as err:
        dp.DischargeLine.from_dict({"runs": [RUN.to_dict()], "outlet": {"kind": "gate"}})
    assert str(err.value) == (
        "outlet.kind='gate': must be one of ('free', 'submerged', 'pop_up', 'gravity'); pick one."
    )


def test_a_refusal_says_its_place_in_the_plain_values() -> None:
    plain = OWN.to_dict()
    plain["fittings"]["elbow_90"]["k"] = -1
    for given, said in (
        ({"runs": [RUN.to_dict(), plain]}, "runs[1].fittings.elbow_90.k=-1: must be finite and "),
        ({"runs": [RUN.to_dict() | {"pipe": {"pvc": "9"}}]}, "runs[0].pipe.pvc='9': Sch 40 pipe "),
        ({"runs": [RUN.to_dict() | {"fittings": {"elbo": 1}}]}, "runs[0].fittings: fitting='elbo'"),
    ):
        with pytest.raises(dp.InputError) as err:
            dp.DischargeLine.from_dict(given)
        assert str(err.value).startswith(said)


def test_a_part_keeps_what_was_typed_and_in_that_order() -> None:
    assert list(dp.pvc("2", roughness_m=1e-5, bore="average").given) == [
        "nominal", "roughness_m", "bore",
    ]  # fmt: skip
    line = dp.straight_line(lift_ft=6, pipe=dp.pvc("2"), length_ft=150, siphon=False)
    assert list(line.given) == ["runs", "siphon"]
    assert list(line.runs[0].given) == ["pipe", "length_ft", "rise_ft"]
    assert dp.pvc("2").to_dict() == {"pvc": "2"}
