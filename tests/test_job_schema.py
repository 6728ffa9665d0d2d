"""The schemas of job and answer: all that reader and library hold, told as a form needs it."""

from __future__ import annotations

import copy
import functools
import json
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest

import drainpump as dp
from drainpump.paper.demo import market_garden
from tests.json_schema import problems, valid
from tests.test_documents import FIRST
from tests.test_job import WHOLE, objects, places, refusal, without

SCHEMA = dp.Job.schema()
ANSWER = dp.Outcome.schema()
POINTS = {"flow_gpm": [0, 20, 40, 50], "head_ft": [24, 20, 9, 1], "invented": True}
#: what the whole document of the job's own tests does not hold
WIDE: dict[str, Any] = {
    "schema_version": 2,
    "name": "every kind",
    "pumps": [
        {"parallel": [{"name": "A", **POINTS}, {"name": "B", **POINTS}], "lag_on_in": 18,
         "risers": {"pipe": {"pvc": "1-1/2"}, "length_ft": 3, "k": 1}, "name": "two"},
        {"parallel": [{"series": [{"name": "S", **POINTS}, {"name": "S", **POINTS}]},
                      {"name": "T", **POINTS}], "risers": [None, None], "name": "odd ones"},
        {"from_box": "box", "flow_max_gph": 3300, "head_max_ft": 24, "price": 80},
        {"name": "with power", **POINTS, "power_w": [300, 350, 400, 410], "note": "from a leaflet"},
    ],
    "lines": [{"runs": [{"pipe": {"pvc": "2"}, "length_ft": 100, "rise_ft": 6}]}],
    "pit": [{"diameter_in": 18, "depth_in": 30, "off_in": 6, "on_in": 16},
            {"length_mm": 600, "width_mm": 500, "depth_mm": 900, "off_mm": 150, "on_mm": 400}],
    "water": {
        "rain": {"duration_min": [5, 15, 60], "return_year": [2, 10, 25],
                 "intensity_in_per_h": [[4, 2.5, 1.2], [6, 4, 2], [7, 4.8, 2.5]]},
        "catchments": [{"area_ft2": 900, "runoff": 0.9, "tc_min": 5}],
        "collectors": [{"bore_in": 4, "slope": 0.01, "n": 0.012, "grate_diameter_in": 12,
                        "seepage_gpm": 1, "catchments": [{"area_ft2": 300, "runoff": 0.9,
                                                          "tc_min": 5}],
                        "pond_storage": {"kind": "bowl", "area_ft2": 100, "depth_in": 6}}],
    },
    "return_year": [2, 5, 10],
    "annual_maxima": True,
    "pond_storage": {"depth_in": [1, 3, 9], "volume_gal": [60, 300, 2000]},
    "limits": {"pond_depth_max_in": 4, "pond_max_min": 90, "dry_up_to_year": 5,
               "without": ["velocity_min", "best_flow", "range_share_max"]},
    "backup": {"outage_min": 30, "battery_wh": 500, "power_w": 350,
               "battery_pump": {"name": "P", **POINTS, "power_w": [300, 350, 400, 410]}},
    "ground": "fine sand",
    "samples": 32,
}  # fmt: skip


def wide(**changes: Any) -> dict[str, Any]:
    return copy.deepcopy(WIDE) | changes


SURVEY = {"kind": "survey", "x_ft": [0, 20, 20, 0, 10], "y_ft": [0, 0, 20, 20, 10],
          "z_ft": [100, 100, 100, 100, 99.5]}  # fmt: skip
STORM = {"depth_in": [0.1, 0.5, 0.2], "block_min": 5}
FORMULA = {"a_in_per_h": 60, "b_min": 10, "n": 0.8}
DOCUMENTS = {
    "whole": WHOLE,
    "wide": WIDE,
    "garden": market_garden().to_dict(),
    "one pit": wide(pit=WIDE["pit"][0], floats="find", pumps=WIDE["pumps"][2:]),
    "survey": wide(pond_storage=SURVEY),
    "one storm": wide(water=WIDE["water"] | {"rain": STORM}, return_year=[2],
                      limits={"pond_max_min": 90}),
    "a formula": wide(water=WIDE["water"] | {"rain": FORMULA}, need_gpm=20, limits={}),
    "an area": {k: v for k, v in wide(pond_area_m2=40).items() if k != "pond_storage"},
    **{one["why"]: dp.Job.from_dict(one["document"]).to_dict() for one in FIRST},
}  # fmt: skip


@pytest.mark.parametrize("name", DOCUMENTS)
def test_what_the_reader_takes_keeps_to_the_schema_and_comes_back(name: str) -> None:
    document = DOCUMENTS[name]
    assert list(problems(document, SCHEMA)) == []
    job = dp.Job.from_dict(document)
    assert json.dumps(job.to_dict()) == json.dumps(document)
    assert dp.Job.from_json(job.to_json()) == job


# -- what comes of it


@functools.cache
def ran(name: str) -> dp.Outcome:
    return dp.Job.from_dict(DOCUMENTS[name]).run()


@pytest.mark.parametrize("name", ["whole", "wide", "one pit", "one storm", "a formula"])
def test_answers_keep_to_their_schema(name: str) -> None:
    outcome = ran(name)
    found = outcome.to_dict()
    assert list(problems(json.loads(json.dumps(found, allow_nan=False)), ANSWER)) == []
    assert [row["pump"] for row in found["candidates"]] == [
        c.pump.name for c in outcome.selection.candidates
    ]


@pytest.mark.filterwarnings("ignore::drainpump.DrainpumpWarning")
@pytest.mark.parametrize("name", ["wide", "garden", "one storm", "a formula"])
def test_any_one_key_left_out_is_read_or_refused_and_the_schema_agrees(name: str) -> None:
    refused = 0
    for path in [p for p in places(DOCUMENTS[name]) if isinstance(p[-1], str)]:
        document = place = copy.deepcopy(DOCUMENTS[name])
        for step in path[:-1]:
            place = place[step]
        del place[path[-1]]
        if refusal(dp.Job.from_dict, document) is None:
            assert valid(document, SCHEMA), path
        else:
            refused += 1
    assert refused > 10


def test_answers_of_hopeless_and_of_bare_jobs_keep_to_their_schema() -> None:
    bare = {k: WHOLE[k] for k in ("schema_version", "pumps", "lines", "need_gpm")}
    dry = without("water")
    silent = dry | {"pit": without("pit", "alarm_in")["pit"]}
    for document in (dry | {"need_gpm": 500}, bare | {"doubt": {}}, silent):
        outcome = dp.Job.from_dict(document).run()
        assert list(problems(outcome.to_dict(), ANSWER)) == []


@pytest.fixture
def outcome() -> dp.Outcome:
    return ran("wide")


def test_a_job_is_done_from_rain_to_what_happens_without_power(outcome: dp.Outcome) -> None:
    job, first = outcome.job, outcome.first
    ground = {"pond_storage": job.pond_storage}
    storms = job.water.storms(return_year=[2, 5, 10])
    chosen = dp.select(
        job.pumps, job.lines, pit=list(job.pits), storms=storms, limits=job.limits, samples=32,
        annual_maxima=True, **ground,
    )  # fmt: skip
    assert chosen.best is not None
    assert (first.pump.name, first.number) == (chosen.best.pump.name, chosen.best.number)
    assert outcome.dry is not None
    assert outcome.dry.year == chosen.best.dry_up_to_year
    assert outcome.dry.yearly_probability == pytest.approx(1 / outcome.dry.year)
    routed = dp.route(first.pump, first.line, first.pit, storms, **ground)
    rows = outcome.to_dict()["storms"]
    assert [row["return_year"] for row in rows] == [2, 5, 10]
    assert [row["pond_min"] for row in rows] == routed.pond_min.tolist()
    assert [row["peak_gpm"] for row in rows] == storms.peak_gpm.tolist()
    # the rarest storm asked is the five-year one, its power out from the peak on
    flow = storms.flow_gpm[1]
    start = float(storms.time_min[flow.argmax()])
    dark = dp.route(
        first.pump, first.line, first.pit, dp.Hydrograph(flow_gpm=flow, time_min=storms.time_min),
        outages=[(start, start + 30)], battery_wh=500, battery_pump=job.backup.battery_pump,
        **ground,
    )  # fmt: skip
    assert outcome.dark is not None
    assert outcome.dark.peak_pond_gal == pytest.approx(dark.peak_pond_gal, rel=1e-9)
    assert outcome.outage is None  # no steady inflow was told
    assert outcome.gravity is not None


@pytest.mark.parametrize("pumps", [1, 2])
def test_the_power_that_is_told_of_a_battery_pump_is_taken_throughout(pumps: int) -> None:
    box = {"from_box": "box", "flow_max_gph": 3300, "head_max_ft": 24}
    runs = box if pumps == 1 else {"parallel": [box, box], "name": "two"}
    given = {"outage_min": 30, "battery_wh": 500, "power_w": 350, "battery_pump": runs}
    outcome = dp.Job.from_dict(wide(backup=given, inflow_gpm=8, pit=WIDE["pit"][0])).run()
    assert outcome.outage is not None
    assert outcome.dark is not None
    # what runs takes its power, share by share of the time it runs at 8 gpm
    flow = dp.operating_point(outcome.job.backup.battery_pump, outcome.first.line).flow_gpm
    assert outcome.outage.battery_power_w == pytest.approx(350 * 8 / flow, rel=0.15)
    bare = {k: v for k, v in given.items() if k != "power_w"}
    with pytest.raises(dp.InputError) as err:
        dp.Job.from_dict(wide(backup=bare, inflow_gpm=8, pit=WIDE["pit"][0])).run()
    assert str(err.value) == (
        "$.backup: power_w: not given, and the pump's curve has no power there; give power_w."
    )


def test_notes_and_prices_stand_in_the_row_of_their_candidate(outcome: dp.Outcome) -> None:
    rows = {row["pump"]: row for row in outcome.to_dict()["candidates"] if row["pit"] == 1}
    assert rows["box"]["price"] == 80
    assert "from a leaflet" in rows["with power"]["notes"]
    assert any("two figures" in note for note in rows["box"]["notes"])
    pumps = [p for p in dp.read_curves("curves_demo") if p.name == "One-B"]
    garden = market_garden().with_pumps(pumps)
    (row, *_) = garden.replace(samples=8, doubt=dp.Doubt()).run().to_dict()["candidates"]
    assert (row["pump"], row["price"], row["notes"][0]) == ("One-B", 480, "needs a 230 V circuit")


def test_warnings_of_a_run_say_what_they_are_about() -> None:
    rain = {"duration_min": [5, 10, 60], "return_year": [2, 10],
            "depth_in": [[0.3, 0.7, 1.0], [0.6, 0.9, 1.8]]}  # fmt: skip
    quick = [{"area_ft2": 900, "runoff": 0.9, "tc_min": 3}]
    water = {"rain": rain, "catchments": quick}
    document = wide(water=water, return_year=[2, 10])
    for _ in range(2):  # each time, whatever Python's filters think of it
        with pytest.warns(dp.DrainpumpWarning):
            heard = dp.Job.from_dict(document).run().warnings
        assert {w.path for w in heard} == {"$.water.rain", "$.water"}


# -- what a form needs


def test_every_key_has_a_title_and_a_description_a_quantity_its_unit() -> None:
    for schema in (SCHEMA, ANSWER):
        for thing in objects(schema):
            for name, said in thing["properties"].items():
                assert said["title"]
                unit = name.rsplit("_", 1)[-1] in ("ft", "m", "in", "mm", "gpm", "lps", "gal", "l")
                assert ("unit" in said) >= unit, name
    bare = [
        (thing["title"], name)
        for thing in (*objects(SCHEMA), *objects(ANSWER))
        for name, said in thing["properties"].items()
        if "description" not in said
    ]
    assert bare == []


def leaves(value: Any, schema: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, Any]]:
    """Every number of a document with the schema of its place."""
    if "$ref" in schema:
        schema = SCHEMA["$defs"][schema["$ref"].removeprefix("#/$defs/")] | {
            k: v for k, v in schema.items() if k != "$ref"
        }
    for way in schema.get("oneOf", ()):
        told = {"properties", "$ref", "type"} & set(way)
        if told and valid(value, way, SCHEMA):
            yield from leaves(value, way, path)
    if isinstance(value, dict):
        for name, item in value.items():
            place = schema.get("properties", {}).get(name, schema.get("additionalProperties"))
            if isinstance(place, dict):
                yield from leaves(item, place, (*path, name))
    elif isinstance(value, list):
        for i, item in enumerate(value):
            yield from leaves(item, schema.get("items", {}), (*path, i))
    elif isinstance(value, int | float) and not isinstance(value, bool):
        yield path, schema


def put(document: Any, path: tuple[Any, ...], value: Any) -> Any:
    document = place = copy.deepcopy(document)
    for step in path[:-1]:
        place = place[step]
    place[path[-1]] = value
    return document


@pytest.mark.parametrize("name", ["whole", "wide", "one storm", "a formula"])
def test_a_bound_of_the_schema_is_one_of_the_reader(name: str) -> None:
    """Just outside a bound a number is refused, there and nowhere else."""
    document, seen = DOCUMENTS[name], 0
    # the last two are the wide one but for what is their own
    twice = () if name in ("whole", "wide") else {path for path, _ in leaves(WIDE, SCHEMA)}
    for path, schema in leaves(document, SCHEMA):
        if path in twice:
            continue
        if path == ("schema_version",):
            continue  # the reader takes the version before, too
        outside = [schema["exclusiveMinimum"]] if "exclusiveMinimum" in schema else []
        if "minimum" in schema:
            outside.append(schema["minimum"] - (1 if schema["type"] == "integer" else 1e-6))
        if "maximum" in schema:
            outside.append(schema["maximum"] + (1 if schema["type"] == "integer" else 1e-6))
        for value in outside:
            seen += 1
            broken = put(document, path, value)
            assert not valid(broken, SCHEMA)
            with pytest.raises(dp.InputError) as err:
                dp.Job.from_dict(broken)
            assert str(path[-1] if isinstance(path[-1], str) else path[-2]).split("_")[0] in str(
                err.value
            ), path
    assert seen > (3 if twice else 20)


def test_the_schema_tells_defaults_choices_and_alternatives() -> None:
    part = SCHEMA["$defs"]
    assert part["line"]["properties"]["water_f"]["default"] == 60
    assert part["line"]["properties"]["water_c"]["default"] == pytest.approx(15.5556)
    assert part["laying"]["properties"]["stock_m"]["default"] == 6.096
    assert part["line"]["properties"]["friction"]["enum"] == ["darcy", "hazen_williams"]
    assert SCHEMA["properties"]["certainty"] == {
        "title": "certainty", "default": 0.9, "type": "number", "minimum": 0, "maximum": 1,
        "description": "Probability with which the need must be carried, 0 <= certainty <= 1.",
    }  # fmt: skip
    assert len(SCHEMA["properties"]["pumps"]["items"]["oneOf"]) == 5
    assert part["costs"]["properties"]["pipe_per_ft"]["unit"] == "per ft"
    pit = {"diameter_in": 18, "depth_in": 30}
    for given, kept in (
        (pit, True),
        ({"depth_in": 30}, False),
        (pit | {"width_in": 3}, True),
        ({"length_in": 20, "depth_in": 30}, False),
        (pit | {"length_in": 20, "width_mm": 500}, False),
        (pit | {"diameter_mm": 500}, False),
    ):
        assert valid(given, part["pit"], SCHEMA) is kept, given


def test_defaults_of_the_schema_are_the_librarys() -> None:
    """A default written out changes nothing of what a job comes to."""
    plain = {k: WHOLE[k] for k in ("schema_version", "pumps", "lines", "pit", "need_gpm")}
    plain["lines"] = [{"runs": [{"pipe": {"pvc": "2"}, "length_ft": 100}]}]
    full = copy.deepcopy(plain)
    full |= {k: v["default"] for k, v in SCHEMA["properties"].items() if "default" in v}
    line = SCHEMA["$defs"]["line"]["properties"]
    full["lines"][0] |= {
        k: v["default"] for k, v in line.items() if "default" in v and k != "water_c"
    }
    limits = SCHEMA["$defs"]["limits"]["properties"]
    full["limits"] = {
        k: v["default"] for k, v in limits.items()
        if "default" in v and not k.endswith("_mps") and k != "range_share_max"
    }  # fmt: skip
    a, b = (dp.Job.from_dict(x).run().selection for x in (plain, full))
    assert len(full["limits"]) > 5
    assert [c.flow_gpm for c in a.candidates] == [c.flow_gpm for c in b.candidates]
    for one, other in zip(a.candidates, b.candidates, strict=True):
        assert [r.code for r in one.reasons] == [r.code for r in other.reasons]
        assert one.probability == other.probability


def test_numbers_of_an_answer_are_plain(outcome: dp.Outcome) -> None:
    def walk(value: Any) -> Iterator[Any]:
        if isinstance(value, dict | list):
            for item in value.values() if isinstance(value, dict) else value:
                yield from walk(item)
        else:
            yield value

    kinds = {type(x) for x in walk(outcome.to_dict())}
    assert kinds <= {int, float, str, bool, type(None)}
    assert not any(isinstance(x, float) and not np.isfinite(x) for x in walk(outcome.to_dict()))
