"""A job in and out of JSON: exact both ways, one shape for reader and schema, calm refusals."""

from __future__ import annotations

import copy
import inspect
import json
from collections.abc import Callable, Iterator
from importlib.resources import files
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import drainpump as dp
from drainpump.paper.demo import market_garden
from drainpump.paper.document import part_shapes as shapes
from drainpump.paper.document.backup import Backup
from drainpump.paper.document.schemas import schemas
from drainpump.paper.document.shapes import Object
from drainpump.paper.job import JOB
from drainpump.parts.pond import BowlPond, SurveyedPond
from tests.fuzz import examples
from tests.json_schema import problems

#: each kind of part at least once, both unit systems, numbers that do not survive a conversion
WHOLE: dict[str, Any] = {
    "schema_version": 2,
    "name": "school yard",
    "story": "An invented school yard.",
    "pumps": [
        {"name": "A", "flow_gpm": [0, 15, 30, 50], "head_ft": [20, 18.2, 12.8, 0], "price": 90,
         "power_w": [300, 340, 380, 400], "invented": True, "note": "made up"},
        {"name": "B", "flow_lps": [1.1, 2.3], "head_m": [7.1, 0.3], "shutoff_m": 8.1,
         "outlet_mm": 40, "solids_in": 0.5, "voltage_v": 230, "current_a": 2.5, "on_mm": 300,
         "off_in": 4, "best_flow_lps": 1.7},
    ],
    "lines": [
        {
            "name": "two pipes",
            "runs": [
                {"name": "riser", "pipe": {"pvc": 1.5, "schedule": 80, "bore": "minimum_wall"},
                 "length_ft": 7, "rise_m": 1.9, "fittings": {
                     "elbow_90": 2,
                     "check_valve_swing": {"count": 1, "k": 2.1, "name": "flap"},
                     "union": {"count": 1, "equivalent_length_m": 0.3}}},
                {"pipe": {"pvc_metric": 63, "sdr": 21, "roughness_m": 1e-5}, "length_m": 33.3,
                 "k": 0.3, "equivalent_length_ft": 1.5},
                {"pipe": {"bore_mm": 51.7, "hazen_williams_c": 140, "nominal": "2", "name": "old"},
                 "length_ft": 10, "rise_ft": -0.1},
            ],
            "outlet": {"kind": "pop_up", "opening_head_ft": 0.1, "gap_in": 1.3, "body_mm": 101.6,
                       "discharge_coefficient": 0.61},
            "friction": "hazen_williams", "water_c": 11, "siphon": True, "check_valve": True,
        },
        {"runs": [{"pipe": {"pvc": "2"}, "length_ft": 100}], "outlet": {"kind": "free",
         "lid_m": 0.07}},
        {"runs": [{"pipe": {"pvc": "2"}, "length_ft": 100}], "outlet": {"kind": "submerged",
         "depth_ft": 0.3}},
        {"runs": [{"pipe": {"pvc": "2"}, "length_ft": 100}], "outlet": {"kind": "gravity",
         "bore_in": 4, "slope": 0.01, "n": 0.012}, "check_valve": False},
    ],
    "pit": {"length_in": 24, "width_mm": 500, "depth_in": 36, "off_in": 6, "on_mm": 320,
            "alarm_in": 20, "inlet_in": 22, "body_volume_l": 7.7, "body_height_in": 14},
    "need_gpm": 20,
    "inflow_lps": 0.4,
    "limits": {"velocity_min_mps": 0.5, "starts_max_per_h": 60, "run_min_s": 5,
               "soft": ["velocity_min", "best_flow"], "without": ["outlet_size"]},
    "doubt": {"length_pct": 5, "lift_m": 0.2, "k_log": 0.25, "grade": "up to 10 kW"},
    "costs": {"pipe_per_m": 4.1, "fitting_each": {"elbow_90": 1.5, "check_valve_swing": 20,
              "union": 2}, "energy_per_kwh": 0.3, "water_per_year_l": 1e6, "years": 12,
              "currency": "crowns"},
    "water": {
        "steady_lps": 0.1,
        "rain": {"duration_min": [5, 15, 60], "depth_in": [[0.4, 0.8, 1.4], [0.6, 1.2, 2.2]],
                 "return_year": [2, 10]},
        "catchments": [{"name": "yard", "area_ft2": 400, "runoff": 0.9, "tc_min": 5}],
        "collectors": [{"name": "drain", "bore_mm": 100, "slope": 0.01, "n": 0.012,
                        "catchments": [{"area_m2": 20, "curve_number": 98, "tc_min": 5}]}],
    },
    "laying": {"stock_m": 6, "trench_depth_in": 24, "trench_width_in": 12},
    "certainty": 0.7,
    "objective": "flow",
    "samples": 16,
    "seed": 3,
}  # fmt: skip


def flows(job: dp.Job) -> list[float]:
    job = job.replace(water=None)  # a storm changes none of them
    return [c.flow_gpm for c in job.run().selection.candidates]


def without(*path: Any) -> dict[str, Any]:
    document = copy.deepcopy(WHOLE)
    place: Any = document
    for step in path[:-1]:
        place = place[step]
    del place[path[-1]]
    return document


def changed(*path_and_value: Any) -> dict[str, Any]:
    *path, last, value = path_and_value
    document = copy.deepcopy(WHOLE)
    place: Any = document
    for step in path:
        place = place[step]
    place[last] = value
    return document


def test_round_trip_is_exact_numbers_and_units_as_typed() -> None:
    job = dp.Job.from_dict(WHOLE)
    assert job.to_dict() == WHOLE
    again = dp.Job.from_json(job.to_json())
    # text tells 150 from 150.0, which == does not
    assert json.dumps(again.to_dict()) == json.dumps(WHOLE)
    assert flows(again) == flows(job)


def test_a_job_of_parts_is_the_job_of_its_document() -> None:
    read = dp.Job.from_dict(WHOLE)
    built = dp.Job(
        pumps=read.pumps, lines=read.lines, pit=read.pit, need_gpm=20, inflow_lps=0.4,
        limits=read.limits, doubt=read.doubt, costs=read.costs, water=read.water,
        laying=read.laying, certainty=0.7, samples=16, seed=3,
        objective="flow",
    )  # fmt: skip
    again = dp.Job.from_json(built.to_json())
    assert again.to_dict() == built.to_dict()
    assert flows(again) == flows(read)
    assert built.to_dict()["lines"][0]["runs"][0]["pipe"] == {
        "pvc": 1.5, "schedule": 80, "bore": "minimum_wall",
    }  # fmt: skip


def test_what_is_given_out_is_a_copy() -> None:
    job = dp.Job.from_dict(WHOLE)
    job.to_dict()["lines"].clear()
    assert job.to_dict() == WHOLE


def test_other_pumps_take_the_place_of_the_jobs_own() -> None:
    job = dp.Job.from_dict(WHOLE)
    one = job.with_pumps([job.pumps[1]])
    assert [p["name"] for p in one.to_dict()["pumps"]] == ["B"]
    assert len(job.pumps) == 2


def test_curves_are_looked_for_beside_the_job(tmp_path: Path) -> None:
    (tmp_path / "c.csv").write_text("pump,flow_gpm,head_ft\nC,0,20\nC,40,2\n", encoding="utf-8")
    path = tmp_path / "job.json"
    path.write_text(json.dumps(changed("pumps", [{"curves": "c.csv"}])), encoding="utf-8")
    job = dp.read_job(path, curves_from=tmp_path)
    assert [p.name for p in job.pumps] == ["C"]
    assert job.to_dict()["pumps"] == [{"curves": "c.csv"}]


def test_the_demo_site_is_a_job_without_pumps() -> None:
    job = market_garden()
    with pytest.raises(dp.InputError) as err:
        job.run()
    assert str(err.value) == "$.pumps: none; give curves, or the path of their files."


# one shape for the reader and the schema


def test_the_shipped_schemas_are_the_readers() -> None:
    for name, schema in schemas().items():
        shipped = files("drainpump.paper") / "data" / name
        assert json.loads(shipped.read_text(encoding="utf-8")) == schema
    assert dp.Job.schema() == schemas()["job.schema.json"]


def objects(schema: Any) -> Iterator[dict[str, Any]]:
    if isinstance(schema, dict):
        if "properties" in schema:
            yield schema
        for item in schema.values():
            yield from objects(item)
    elif isinstance(schema, list):
        for item in schema:
            yield from objects(item)


#: what each object of a document is built with, and keywords that come another way
MADE_BY = {
    "pump": (dp.PumpCurve, {}),
    "pump by two figures": (dp.PumpCurve.from_box, {"from_box": "name"}),
    "pvc pipe": (dp.pvc, {"pvc": "nominal"}),
    "metric pvc pipe": (dp.pvc_metric, {"pvc_metric": "od_mm"}),
    "pipe of one's own": (dp.Pipe, {}),
    "fitting": (dp.Fitting, {}),
    "run": (dp.Run, {}),
    "free outlet": (dp.FreeOutlet, {}),
    "submerged outlet": (dp.SubmergedOutlet, {}),
    "pop_up outlet": (dp.PopUpOutlet, {}),
    "gravity outlet": (dp.GravityHandOff, {}),
    "line": (dp.DischargeLine, {}),
    "pit": (dp.Pit, {}),
    "limits": (dp.Limits, {}),
    "doubt": (dp.Doubt, {}),
    "costs": (dp.Costs, {}),
    "water": (dp.inflow.Water, {}),
    "rain table": (dp.inflow.RainTable, {}),
    "catchment": (dp.inflow.Catchment, {}),
    "collector": (dp.inflow.Collector, {}),
    "pond storage": (dp.PondStorage, {}),
    "surveyed pond": (SurveyedPond, {}),
    "pond like a bowl": (BowlPond, {}),
    "rain formula": (dp.inflow.RainFit, {}),
    "one storm": (dp.inflow.Hyetograph, {}),
    "pumps side by side": (dp.parallel, {"parallel": "pumps"}),
    "pumps one behind the other": (dp.series, {"series": "pumps"}),
    "backup": (Backup, {}),
    "laying": (dp.Laying, {}),
    "drainpump job": (dp.Job, {}),
}


def test_schema_and_parts_hold_the_same_keys() -> None:
    found = {s["title"]: set(s["properties"]) for s in objects(dp.Job.schema())}
    assert found.pop("curves") == {"curves"}
    assert set(found) == set(MADE_BY)
    for title, keys in found.items():
        make, spelled = MADE_BY[title]
        names = {spelled.get(name, name) for name in keys - {"kind", "schema_version"}}
        assert names == set(inspect.signature(make).parameters), title


def test_schema_and_reader_ask_for_the_same_keys() -> None:
    """Each key the schema requires is missed by the reader, at every object of the document."""
    for path, shape in (
        ((), JOB),
        (("pumps", 0), shapes.PUMP.variants[-1][1]),
        (("lines", 0), shapes.LINE),
        (("lines", 0, "runs", 0), shapes.RUN),
        (("lines", 0, "runs", 1, "pipe"), dict(shapes.PIPE.variants)["pvc_metric"]),
        (("lines", 3, "outlet"), dict(shapes.OUTLET.variants)["gravity"]),
        (("pit",), shapes.PIT),
        (("costs",), shapes.COSTS),
    ):
        schema = shape.whole_schema({})
        either = [[x["required"][0] for x in rule["oneOf"]] for rule in schema.get("allOf", ())
                  if all("required" in x for x in rule["oneOf"])]  # fmt: skip
        asked = [[name] for name in schema.get("required", ())] + either
        place: Any = WHOLE
        for step in path:
            place = place[step]
        for names in asked:
            if names in (["kind"], ["pvc_metric"]):
                continue  # tells which object it is
            (name,) = set(names) & set(place)
            with pytest.raises(dp.InputError) as err:
                dp.Job.from_dict(without(*path, name))
            assert "lacks" in str(err.value)
            assert " or ".join(names) in str(err.value)


def test_the_whole_document_uses_every_object_of_the_shape() -> None:
    """So that the tests above do walk all of it."""

    def used(value: Any) -> Iterator[frozenset[str]]:
        if isinstance(value, dict):
            yield frozenset(value)
        for item in value.values() if isinstance(value, dict) else value:
            if isinstance(item, dict | list):
                yield from used(item)

    seen = list(used(WHOLE))
    for shape in (shapes.FITTING, shapes.RUN, shapes.LINE, shapes.PIT, shapes.DOUBT, shapes.COSTS):
        assert isinstance(shape, Object)
        assert any(keys <= set(shape.spellings()) for keys in seen), shape.title


# refusals

RUN1 = ("lines", 0, "runs", 1)


@pytest.mark.parametrize(
    ("document", "message"),
    [
        ([], "$: must be an object; it is a list."),
        (changed("schema_version", 3), "$.schema_version=3: must be 2."),
        (changed("schema_version", True),
         "$.schema_version: must be a whole number; it is true or false."),
        (changed("limit", {}), "$.limit: unknown key; did you mean 'limits'?"),
        (changed("lines", 0, "runs", 0, "lift_ft", 6),
         "$.lines[0].runs[0].lift_ft: unknown key; here it is 'rise_ft'."),
        (changed("pumps", 0, {"name": "box", "flow_max_lpm": 180, "head_max_m": 9}),
         "$.pumps[0].name: unknown key; here it is 'from_box'."),
        (changed("pumps", 0, {"flow_max_lpm": 180, "head_max_m": 9}),
         "$.pumps[0]: lacks from_box; give it."),
        (changed("water", "rain", {"return_year": [2, 5], "depth_mm": [[9], [12]]}),
         "$.water.rain: lacks duration_min; give it."),
        (changed(*RUN1, "a b", 1), '$.lines[0].runs[1]["a b"]: unknown key; known: name, pipe, '
         "length_ft, length_m, rise_ft, rise_m, fittings, k, equivalent_length_ft, "
         "equivalent_length_m."),
        (changed(*RUN1, "length", 3),
         "$.lines[0].runs[1].length: has no unit; give length_ft or length_m."),
        (without(*RUN1, "length_m"),
         "$.lines[0].runs[1]: lacks length; give exactly one of length_ft or length_m."),
        (changed(*RUN1, "length_ft", 3),
         "$.lines[0].runs[1]: holds length_ft and length_m; give exactly one of them."),
        (changed(*RUN1, "length_m", -3), "$.lines[0].runs[1].length_m=-3: must be from 0 m to "
         "100000 m; give the length measured along the pipe."),
        (changed(*RUN1, "length_m", "3"), "$.lines[0].runs[1].length_m='3': must be a number."),
        (changed(*RUN1, "length_m", None),
         "$.lines[0].runs[1].length_m: must be a number; it is null."),
        (changed(*RUN1, "length_m", float("nan")),
         "$.lines[0].runs[1].length_m=nan: must be a finite number."),
        (changed(*RUN1, "k", 10**400),
         "$.lines[0].runs[1].k: must be a finite number; it is a whole number beyond all use."),
        (changed("lines", 0, "runs", 0, "pipe", "pvc", "9"), "$.lines[0].runs[0].pipe.pvc='9': "
         "Sch 80 pipe comes in 1, 1-1/4, 1-1/2, 2, 2-1/2, 3, 4, 5, 6; pick one of them, or give "
         "the true bore with Pipe(bore_in=...)."),
        (changed("lines", 0, "outlet", "kind", "open"), "$.lines[0].outlet.kind='open': must be "
         "one of 'free', 'submerged', 'pop_up', 'gravity'."),
        (changed("lines", 0, "check_valve", 1),
         "$.lines[0].check_valve=1: must be true or false."),
        (changed("lines", []), "$.lines: 0 items: must be from 1 to 200."),
        (changed("certainty", 1.5),
         "$.certainty=1.5: must be from 0 to 1; give a probability."),
        (changed("pumps", 0, "head_ft", [1]), "$.pumps[0].head_ft=[1.0]: must have "
         "as many numbers as flow_gpm, 4, not 1; give one head for each flow."),
        (changed("name", "\ud800"),
         "$.name: holds characters that cannot be printed; take them out."),
        (changed("name", "x" * 201), "$.name: 201 characters: must be at most 200; shorten it."),
        ({**WHOLE, "samples": 65_536, "pumps": WHOLE["pumps"][:1] * 200}, "$: job: 200 pumps × "
         "4 lines × 65536 samples are 52428800 points of work: must be at most 50000000; ask for "
         "less at once, or allow more with drainpump.budget(points=...)."),
    ],
)  # fmt: skip
def test_refusals_name_the_place(document: Any, message: str) -> None:
    with pytest.raises(dp.InputError) as err:
        dp.Job.from_dict(document)
    assert str(err.value) == message


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "$: no JSON at line 1, column 1: Expecting value; mend it there."),
        ('{"a": 1, "a": 2}', "$.a: stands there twice; keep one of them."),
        ("[" * 10_000, "$: nested deeper than 40 levels at character 40; a job needs fewer than "
         "ten."),
        ('{"story": ' * 10_000, "$: nested deeper than 40 levels at character 400; a job needs "
         "fewer than ten."),
        ("1" * 5000, "$: holds a number of thousands of digits; give shorter ones."),
        (b"\xff", "$: no UTF-8 text at byte 0; save the file as UTF-8."),
        (" " * 10_000_001, "$: 10000001 long: must be at most 10000000 bytes; give the curves as "
         "CSV."),
        (7, "$: must be JSON text; it is a number."),
    ],
)  # fmt: skip
def test_text_that_is_no_job_is_refused(text: Any, message: str) -> None:
    with pytest.raises(dp.InputError) as err:
        dp.Job.from_json(text)
    assert str(err.value) == message


def test_brackets_within_text_are_not_depth() -> None:
    story = "[" * 100 + '\\"{'
    assert dp.Job.from_json(json.dumps(changed("story", story))).story == story


def test_a_missing_unit_is_a_unit_error() -> None:
    with pytest.raises(dp.UnitError):
        dp.Job.from_dict(without("need_gpm"))


# fuzz: any change of one value, and any JSON, ends in a job or in a refusal

SCHEMA = dp.Job.schema()
values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: (
        st.lists(inner, max_size=3)
        | st.dictionaries(
            st.sampled_from(["name", "k", "length_ft", "kind", "x"]), inner, max_size=3
        )
    ),
    max_leaves=6,
)


def places(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    items = value.items() if isinstance(value, dict) else enumerate(value)
    for key, item in items:
        yield (*path, key)
        if isinstance(item, dict | list):
            yield from places(item, (*path, key))


def refusal(read: Callable[[Any], dp.Job], document: Any) -> str | None:
    """What reading the document is refused with, all of it placed; other failures get through."""
    try:
        read(document)
        return None
    except dp.InputError as refused:
        error = refused
    assert all(problem.path.startswith("$") for problem in error.problems)
    return str(error)


@pytest.mark.filterwarnings("ignore::drainpump.DrainpumpWarning")
@settings(max_examples=examples(150), deadline=None)
@given(st.sampled_from(list(places(WHOLE))), values)
def test_any_one_value_changed_is_read_or_refused(path: tuple[Any, ...], value: Any) -> None:
    document = changed(*path, value)
    said = refusal(dp.Job.from_dict, document)
    if said is None:
        assert list(problems(document, SCHEMA)) == []
        assert json.dumps(dp.Job.from_dict(document).to_dict()) == json.dumps(document)


@pytest.mark.filterwarnings("ignore::drainpump.DrainpumpWarning")
@settings(max_examples=examples(100), deadline=None)
@given(st.integers(0, 3000), st.text(max_size=3))
def test_any_cut_or_blot_in_the_text_is_read_or_refused(where: int, blot: str) -> None:
    text = json.dumps(WHOLE)
    for broken in (text[:where], text[:where] + blot + text[where + 1 :]):
        refusal(dp.Job.from_json, broken)


def test_the_one_version_is_said() -> None:
    with pytest.raises(dp.InputError) as err:
        dp.Job.from_dict({"need_gpm": 30})
    assert str(err.value) == (
        "2 problems:\n  $: lacks schema_version; give 2.\n  $: lacks lines; give it."
    )


def test_water_is_brought_to_the_pit_and_routed() -> None:
    job = dp.Job.from_dict(WHOLE)
    out = job.run()
    assert out.storms is not None
    assert out.routing is not None
    storms = job.water.storms()
    again = dp.route(out.first.pump, out.first.line, job.pit, storms)
    assert out.routing.pond_min.tolist() == again.pond_min.tolist()
    assert [x.where for x in out.links] == ["drain"]
    assert any((row["length_m"] or 0) > 0 for row in out.take_off.to_dict()["items"])
    # a job without water says nothing of storms
    assert dp.Job.from_dict(without("water")).run().storms is None
