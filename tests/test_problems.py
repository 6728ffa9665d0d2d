"""What a program reads: all that is wrong at once, and every warning each time."""

from __future__ import annotations

import json
import pickle
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import Any

import hypothesis.strategies as st
import pytest
from hypothesis import given, settings

import drainpump as dp
from drainpump.doors import _asked
from tests.heard import quietly
from tests.problems import PUMP_A, r1_line, r1_pit


def problems(call: Callable[[], Any]) -> list[tuple[Any, ...]]:
    """What a refusal gives a program; its words hold it all."""
    with pytest.raises(dp.InputError) as err:
        call()
    assert all(len(tuple(p)) == 5 for p in err.value.problems)
    again = pickle.loads(pickle.dumps(err.value))
    assert (str(again), again.problems) == (str(err.value), err.value.problems)
    return [tuple(problem) for problem in err.value.problems]


def paths(call: Callable[[], Any]) -> list[str]:
    return [path for path, *_ in problems(call)]


def test_a_part_tells_all_its_faults_at_once() -> None:
    with pytest.raises(dp.InputError) as err:
        dp.Pit(diameter_in=-3, depth_in=9999, off_in=6, on_in="high")  # type: ignore[arg-type]
    assert str(err.value) == (
        "3 problems:\n"
        "  diameter_in=-3: must be more than 0 in and at most 787.4 in; give the pit's inside "
        "diameter.\n"
        "  depth_in=9999: must be more than 0 in and at most 1969 in; give the pit's depth, floor "
        "to rim.\n"
        "  on_in='high': must be a number or an array of numbers; give the height of the water."
    )
    assert [(p.path, p.code, p.value) for p in err.value.problems] == [
        ("diameter_in", "value", -3), ("depth_in", "value", 9999), ("on_in", "value", "high"),
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("call", "wanted"),
    [
        (lambda: dp.Pit(diameter_in=-3), ["diameter_in", "depth"]),
        (lambda: dp.Run(pipe=dp.pvc("2"), k=-1), ["length", "k"]),
        (lambda: dp.pvc("2", schedule="thick", roughness_ft=-1), ["schedule", "roughness_ft"]),
        (lambda: dp.PumpCurve.from_box("b", flow_max_gpm=-1, head_max_ft=-3),
         ["flow_max_gpm", "head_max_ft"]),
        (lambda: dp.straight_line(pipe=dp.pvc("2"), length_ft=-1, lift_ft="x", k=-1),
         ["length_ft", "lift_ft", "k"]),
        (lambda: dp.PumpCurve(name=5, flow_gpm=[0, 9], head_ft=[9, 5], price=-5, on_in=-1),
         ["name", "price", "on_in"]),
        (lambda: r1_pit().replace(depth_in=-1, on_in=-2), ["depth_in", "on_in"]),
        (lambda: dp.Run(pipe=3, length_ft=-1, k=-1), ["length_ft", "k", "pipe"]),  # type: ignore
        (lambda: dp.Hydrograph(flow_gpm=[1, 2], time_min=[3, 1]), ["time_min[1]"]),
        (lambda: dp.Pit(diameter_in=dp.Pit, depth_in=-1), ["diameter_in", "depth_in"]),  # type: ignore
        (lambda: dp.inflow.Collector(bore_in=-4, slope=-1, n=0, clear_share=2),
         ["bore_in", "slope", "n", "clear_share"]),
        (lambda: dp.Costs(pipe_per_ft=-1, energy_per_kwh=-3, years=-1),
         ["pipe_per_ft", "energy_per_kwh", "years"]),
        # what comes of the first problem alone is none of its own
        (lambda: dp.PumpCurve(name="A", flow_gpm=[0, -1], head_ft=[9, 5]), ["flow_gpm[1]"]),
        (lambda: dp.DischargeLine(runs=5, outlet=6), ["runs"]),
        (lambda: dp.DischargeLine.from_dict({
            "runs": [{"pipe": {"pvc": "2"}, "length_ft": -3}, {"pipe": {"bore_in": -1},
                     "length_ft": 3}], "outlet": {"kind": "free", "lid_ft": -1}}),
         ["runs[0].length_ft", "runs[1].pipe.bore_in", "outlet.lid_ft"]),
    ],
)  # fmt: skip
def test_faults_are_told_by_their_place(call: Callable[[], Any], wanted: list[str]) -> None:
    assert paths(call) == wanted


SOUND: dict[str, tuple[Callable[..., Any], dict[str, Any]]] = {
    "pit": (dp.Pit, {"diameter_in": 18, "depth_in": 30, "off_in": 6, "on_in": 13, "alarm_in": 20,
                     "inlet_in": 22, "body_volume_gal": 1, "body_height_in": 9, "price": 3}),
    "run": (dp.Run, {"pipe": dp.pvc("2"), "length_ft": 9, "rise_ft": 3, "k": 2,
                     "equivalent_length_ft": 1}),
    "pump": (dp.PumpCurve, {"name": "A", "flow_gpm": [0, 20, 40], "head_ft": [20, 15, 3],
                            "price": 9, "outlet_in": 2, "best_flow_gpm": 20, "on_in": 9,
                            "off_in": 5, "voltage_v": 115}),
    "fitting": (dp.Fitting, {"count": 2, "k": 1.5}),
    "outlet": (dp.PopUpOutlet, {"opening_head_ft": 0.2, "gap_in": 1, "body_in": 4}),
    "doubt": (dp.Doubt, {"length_pct": 2, "lift_ft": 0.5, "k_log": 0.2, "head_pct": 3}),
    "collector": (dp.inflow.Collector, {"bore_in": 4, "slope": 0.01, "n": 0.011,
                                        "grate_length_in": 12, "grate_width_in": 12,
                                        "clear_share": 0.5, "seepage_gpm": 1}),
    "rain": (dp.inflow.RainTable, {"duration_min": [5, 60], "intensity_in_per_h": [6, 2]}),
    "costs": (dp.Costs, {"pipe_per_ft": 3, "fitting_each": 4, "pump_each": 5}),
}  # fmt: skip


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(sorted(SOUND)), st.data())
def test_no_sound_keyword_is_blamed_for_anothers_fault(part: str, data: st.DataObject) -> None:
    make, sound = SOUND[part]
    quietly(lambda: make(**sound))
    wrong = data.draw(st.lists(st.sampled_from(sorted(sound)), min_size=1, unique=True))
    value = st.sampled_from([-1e9, "text", None.__class__, [[1], [2, 3]], float("inf"), True])
    bad = {name: data.draw(value) for name in wrong}
    try:
        quietly(lambda: make(**sound | bad))
    except dp.InputError as error:
        named = {p.path.split("[")[0].split(".")[0] for p in error.problems}
        assert named <= {*wrong, "", *(name.rpartition("_")[0] for name in wrong)}


def test_a_document_tells_what_is_wrong_in_all_its_parts() -> None:
    job = dp.Job(pumps=[PUMP_A], lines=[r1_line()], pit=r1_pit(), need_gpm=9).to_dict()
    job["pumps"][0]["price"] = -5
    job["lines"][0]["runs"][0]["length_ft"] = -3
    job["pit"]["depth_in"] = -3
    parts = ["pumps[0].price", "lines[0].runs[0].length_ft", "pit.depth_in"]
    assert paths(lambda: dp.Job.from_dict(job)) == [f"$.{part}" for part in parts]
    made = dp.field.as_built_record(
        PUMP_A, r1_line(), name="yard", built_on="2026-04-30", need_gpm=9, samples=64
    )
    record = json.loads(made.to_json())
    record["pump"]["price"] = -5
    record["line"]["runs"][0]["length_ft"] = -3
    record["built_on"] = "2026-02-30"
    assert paths(lambda: dp.field.Record.from_json(json.dumps(record))) == [
        "record.pump.price", "record.line.runs[0].length_ft", "record.built_on",
    ]  # fmt: skip


def test_a_file_gives_a_program_the_same_five(tmp_path: Path) -> None:
    file = tmp_path / "c.csv"
    file.write_text("pump,flow_gpm,head_ft\nA,0,x\nA,y,3\n", encoding="utf-8")
    number = "must be a number such as 12.5; write decimals with a point and no unit"
    assert problems(lambda: dp.read_curves(file)) == [
        ("c.csv, row 2, column 'head_ft'", "file", "x", number, ""),
        ("c.csv, row 3, column 'flow_gpm'", "file", "y", number, ""),
    ]
    document = dp.Job(pumps=[PUMP_A], lines=[r1_line()], need_gpm=9).to_dict()
    document["pumps"] = [{"curves": "c.csv"}]
    found = problems(lambda: dp.Job.from_dict(document, curves_from=tmp_path))
    place = "$.pumps[0].curves"
    assert [(path, value) for path, _, value, *_ in found] == [(place, "x"), (place, "y")]
    assert found[0][3] == f"c.csv, row 2, column 'head_ft': {number}"


def test_every_warning_is_said_each_time_and_kept_on_the_result() -> None:
    with warnings.catch_warnings(record=True) as seen:
        warnings.simplefilter("default")  # Python's own: once a place
        for level in (300, 300, 301):
            op = dp.operating_point(PUMP_A, r1_line(), level_above_off_ft=level)
    assert [str(w.message)[:23] for w in seen] == [
        f"level_above_off_ft={n} " for n in (300, 300, 301)
    ]
    assert seen[0].filename == __file__
    (heard,) = op.warnings
    assert (heard.name, heard.kind) == ("level_above_off_ft", "UnusualValueWarning")
    assert dp.operating_point(PUMP_A, r1_line()).warnings == ()


def test_a_public_function_names_the_nearest_keyword() -> None:
    for call, message in (
        (lambda: dp.band(PUMP_A, r1_line(), dp.Doubt(), sampels=9),
         "band() got an unexpected keyword argument 'sampels'; did you mean 'samples'?"),
        (lambda: dp.field.bucket_test(volume_gal=5, fil_s=9),
         "bucket_test() got an unexpected keyword argument 'fil_s'; did you mean 'fill_s'?"),
        (lambda: dp.plots.duty(PUMP_A, r1_line(), unit="us"),
         "duty() got an unexpected keyword argument 'unit'; did you mean 'units'?"),
        (lambda: dp.PumpCurve.from_box("b", flow_gpm=9, head_max_ft=9),
         "from_box() got an unexpected keyword argument 'flow_gpm'; did you mean 'flow_max_gpm'?"),
        (lambda: dp.Doubt.usual(lift_in=3),
         "Doubt.usual() got an unexpected keyword argument 'lift_in'; known: none"),
    ):  # fmt: skip
        with pytest.raises(TypeError) as err:
            call()
        assert str(err.value) == message


def test_a_public_function_goes_to_a_worker_process() -> None:
    assert pickle.loads(pickle.dumps(dp.operating_point)) is dp.operating_point
    assert pickle.loads(pickle.dumps(dp.field.bucket_test)) is dp.field.bucket_test


def test_too_little_memory_is_said_in_words() -> None:
    def greedy() -> None:
        raise MemoryError("Unable to allocate 4 GiB")

    with pytest.raises(dp.InputError) as err:
        _asked(greedy, "drainpump", "greedy")()
    assert str(err.value) == (
        "greedy: not enough memory; ask for less at once (Unable to allocate 4 GiB)."
    )


def test_a_document_of_nothing_but_faults_is_refused_in_a_few_words() -> None:
    good = dp.Job(pumps=[PUMP_A], lines=[r1_line()], need_gpm=9).to_dict()
    for bad in (
        {"pumps": [{f"nam{i}": 3 for i in range(40)}] * 2000},
        {f"k{i}": 1 for i in range(20_000)},
        {"x" * 1_000_000: 1},
    ):
        with pytest.raises(dp.InputError) as err:
            dp.Job.from_dict(good | bad)
        # it stops at fifty, and tells those of one place to the end
        assert len(err.value.problems) < 100
        assert len(str(err.value)) < 40_000


def test_a_class_typed_for_a_number_is_refused_in_words() -> None:
    with pytest.raises(dp.InputError) as err:
        dp.Doubt(k_log=dp.Pit, lift_ft=-1)  # type: ignore[arg-type]
    assert [p.path for p in err.value.problems] == ["lift_ft", "k_log"]
