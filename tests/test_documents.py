"""Documents of the first version read to the same results; what is written is what was typed."""

from __future__ import annotations

import copy
import json
import pickle
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import drainpump as dp
from drainpump.errors import wrong
from drainpump.paper.document.part_shapes import shape_of
from drainpump.paper.report import input_hash
from drainpump.parts.line.outlet import Outlet
from tests.problems import PUMP_A

DOCUMENTS = Path(__file__).with_name("documents")
FITTINGS = {"elbow_90": 2, "check_valve_swing": 1, "union": dp.Fitting(1, k=0.1)}
PIT = dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=13)
PLATE = dp.PumpCurve(
    name="P", flow_gpm=[0, 50], head_ft=[20, 0], voltage_v=115, current_a=4, invented=True
)


def line(**more: Any) -> dp.DischargeLine:
    return dp.straight_line(
        pipe=dp.pvc("1-1/2"), length_ft=150, lift_ft=6, fittings=FITTINGS, **more
    )


# -- the first version


def test_a_job_of_the_first_version_reads_to_the_same_results() -> None:
    job = dp.read_job(DOCUMENTS / "job_version_1.json")
    typed = json.loads((DOCUMENTS / "job_version_1.json").read_text("utf-8"))
    assert job.to_dict() == typed | {"schema_version": 2, "defaults_of": 1}
    pumps = {p.name: p for p in dp.read_curves("curves_demo")}
    # as the library that wrote it answered
    for pump, i, flow in (
        ("Three-Quarter-A", 2, 64.97065387880967),
        ("One-A", 1, 64.13664416298153),
        ("Half-B", 2, 49.67333360527374),
    ):
        op = dp.operating_point(pumps[pump], job.lines[i])
        assert op.flow_gpm == pytest.approx(flow, rel=1e-12)
    # it did not say where a curve comes from
    read = [{k: v for k, v in p.to_dict().items() if k != "origin"} for p in pumps.values()]
    assert input_hash(typed | {"pumps": read}) == (
        "639150cc6ecba8b7c06db6a0c201301f82f3576ed3151b583d1f000c83f91edb"
    )


def pair(c: Any) -> list[str]:
    return [c.pump.name, c.line.name]


#: as the first release answered, to the last digit
FIRST = json.loads((DOCUMENTS / "jobs_version_1.json").read_text("utf-8"))


@pytest.mark.parametrize("stored", FIRST, ids=[one["why"] for one in FIRST])
def test_jobs_of_the_first_version_are_answered_as_then(stored: dict[str, Any]) -> None:
    job = dp.Job.from_dict(stored["document"])
    outcome, then = job.run(), stored["results"]
    chosen = outcome.selection
    assert (chosen.best and pair(chosen.best)) == then["best"]
    assert [pair(c) for c in chosen.accepted] == then["accepted"]
    assert chosen.certainty == then["certainty"]
    rows = {tuple(pair(c)): c for c in chosen.candidates}
    for was in then["candidates"]:
        now = rows[was["pump"], was["line"]]
        assert now.status == was["status"]
        assert sorted(x.code for x in now.reasons) == was["codes"]
        assert sorted(x.code for x in now.warnings) == was["warned"]
        for name in ("flow_gpm", "head_ft", "probability", "cost", "worst_starts_per_h"):
            told = None if was[name] is None else pytest.approx(was[name], rel=1e-9)
            assert getattr(now, name) == told, name
    for name, value in (then["cycle"] or {}).items():
        assert getattr(outcome.cycling, name) == pytest.approx(value, rel=1e-9)
    if then["band_gpm"] is not None:
        assert outcome.band is not None
        assert dict(outcome.band.flow_gpm) == pytest.approx(then["band_gpm"], rel=1e-9)
    assert [row["input"] for row in outcome.swings] == then["swings"]
    # and again after a round trip, as a document of this version
    again = dp.Job.from_json(job.to_json())
    assert again == job
    assert again.to_dict() == stored["document"] | {"schema_version": 2, "defaults_of": 1}


def test_what_the_first_version_took_for_granted_is_not_called_given() -> None:
    job = dp.Job.from_dict(FIRST[0]["document"])
    for one in (job, dp.Job.from_json(job.to_json())):
        found = assumed(one)
        assert found["doubt"] == (True, "the first version of the document doubted nothing")
        assert found["limit best flow"][0]
        assert "given in the job" not in [source for _, source in found.values()]
    typed = dp.Job.from_dict(FIRST[6]["document"])
    assert not assumed(typed)["limit range share max"][0]


def test_a_record_of_the_first_version_reads_to_the_same_results() -> None:
    text = (DOCUMENTS / "record_version_1.json").read_text("utf-8")
    record = dp.field.Record.from_json(text)
    assert record.compare()["change_pct"].abs().max() < 1e-9
    assert record.line.head(flow_gpm=30).head_ft == pytest.approx(9.086732412673127, rel=1e-12)
    found = record.verdicts()
    assert found["flow_gpm"].tolist()[:2] == pytest.approx([17.96407185628743, 24.351100951270173])
    assert found["low_gpm"][0] == pytest.approx(record.predicted_gpm["p10"], rel=1e-9)
    assert record.tests[1].test.shares["levels"] == pytest.approx(0.6353493324062706)
    assert record.pit is None
    again, first = json.loads(record.to_json()), json.loads(text)
    # the shares of a test's variance are shared out anew, to the last digit
    assert len(again.pop("tests")) == len(first.pop("tests"))
    assert again == first | {"record_version": 2}


# -- what is written


def test_a_record_keeps_what_was_built() -> None:
    made = dp.field.as_built_record(
        PLATE, line(), name="yard", built_on="2026-04-30", samples=8, pit=PIT, cover_in=18,
        plate=dp.field.Plate(model="P 50", serial="17", voltage_v=115, current_a=4),
    )  # fmt: skip
    made = made.with_float_check(
        dp.field.FloatCheck(on="2026-04-30", start_in=13.5, stop_mm=150, alarm_sounded=True)
    )
    made = made.with_test(dp.field.bucket_test(volume_gal=5, fill_s=16.7), on="2031-05-02")
    again = dp.field.Record.from_json(made.to_json())
    assert (again.pump, again.line, again.pit) == (PLATE, line(), PIT)
    assert (again.plate, again.cover_mm) == (made.plate, pytest.approx(457.2))
    assert again.float_checks == made.float_checks
    assert again.line.runs[0].has_check_valve
    assert again.pump.current_a == 4
    assert again.tests[0].test.flow_gpm == pytest.approx(made.tests[0].test.flow_gpm, rel=1e-12)
    assert again.to_json() == made.to_json()
    assert str(PIT) in again.to_markdown()


def test_a_record_that_could_not_be_read_is_not_written() -> None:
    class OwnOutlet(Outlet):
        """An outlet of the user's, which no document knows."""

    made = dp.field.as_built_record(
        PUMP_A, line(outlet=OwnOutlet()), name="yard", built_on="2026-04-30", samples=8
    )
    with pytest.raises(dp.InputError) as err:
        made.to_json()
    assert str(err.value) == (
        "record.line.outlet: lacks kind; give one of free, submerged, pop_up, gravity."
    )


def test_a_job_is_a_part() -> None:
    job = dp.Job(pumps=[PLATE], lines=[line()], need_gpm=20, pit=PIT, seed=1)
    assert list(job.given) == ["pumps", "lines", "need_gpm", "pit", "seed"]
    assert dp.Job.from_json(job.to_json()) == job == copy.copy(job)
    assert job.replace(need_lps=1.5).to_dict().keys() == {
        "schema_version", "pumps", "lines", "need_lps", "pit", "seed",
    }  # fmt: skip
    assert job.replace(need_gpm=21) != job
    assert job.replace(seed=0) == dp.Job(pumps=[PLATE], lines=[line()], need_gpm=20.0, pit=PIT)
    assert str(job) == ("Job(1 pumps × 1 lines; 20 gpm (1.26 L/s) needed, by least; pit; doubt)")


def test_a_job_of_files_holds_their_path_until_its_pumps_change(tmp_path: Path) -> None:
    (tmp_path / "c.csv").write_text("pump,flow_gpm,head_ft\nC,0,20\nC,40,2\n", encoding="utf-8")
    plain = dp.Job(lines=[line()], need_gpm=20).to_dict() | {"pumps": [{"curves": "c.csv"}]}
    job = dp.Job.from_dict(plain, curves_from=tmp_path)
    assert job.replace(need_gpm=21).to_dict() == plain | {"need_gpm": 21}
    assert pickle.loads(pickle.dumps(job)) == job
    (tmp_path / "c.csv").write_text("pump,flow_gpm,head_ft\nC,0,20\nC,40,3\n", encoding="utf-8")
    assert dp.Job.from_dict(plain, curves_from=tmp_path) != job
    assert job.with_pumps(job.pumps).to_dict()["pumps"] == [job.pumps[0].to_dict()]


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"lines": [line(water_f=[50, 60])]},
         "$.lines[0].water_f: must be a number; it is a list."),
        ({"lines": [line().replace(length_ft=np.nan)]},
         "$.lines[0].runs[0].length_ft: must be a number; it is null."),
        ({"lines": [line(), 3]},
         "lines=3: must hold DischargeLine; make one with DischargeLine(...)."),
        ({"pumps": [line()]},
         f"pumps={line()!r}: must hold PumpCurve or banks; make one with PumpCurve(...)."),
    ],
)  # fmt: skip
def test_a_job_describes_one_case(change: dict[str, Any], message: str) -> None:
    with pytest.raises(dp.InputError) as err:
        dp.Job(**{"pumps": [PLATE], "lines": [line()], "need_gpm": 20} | change)
    assert str(err.value) == message


# -- given and assumed


def assumed(job: dp.Job) -> dict[str, tuple[bool, str]]:
    rows = dp.report(job).to_dict()["assumptions"]
    return {row["name"]: (row["defaulted"], row["source"]) for row in rows}


def test_a_default_is_never_called_given_nor_what_was_typed_assumed() -> None:
    common = {"pumps": [PLATE], "need_gpm": 20}
    bare = dp.Job(lines=[line()], limits=dp.Limits(), doubt=dp.Doubt(length_pct=5), **common)
    full = dp.Job(
        lines=[line(water_f=60, friction="darcy", siphon=False, check_valve=True)],
        limits=dp.Limits(velocity_max_fps=8), doubt=dp.Doubt(length_pct=5), certainty=0.8, **common,
    )  # fmt: skip
    names = ("friction", "water temperature", "siphon credited", "line holds its water",
             "limit velocity max", "certainty wished")  # fmt: skip
    for job in (bare, dp.Job.from_json(bare.to_json()), bare.replace(need_gpm=21)):
        found = assumed(job)
        assert all(found[name][0] for name in names)
        assert "given in the job" not in [found[name][1] for name in names]
    for job in (full, dp.Job.from_json(full.to_json())):
        found = assumed(job)
        assert not any(found[name][0] for name in names)
        assert found["water temperature"][1] == (
            "given in the job; 60 °F: common practice, no source"
        )
    # of fittings only those with a loss of one's own are no default
    pipe = line().runs[0].pipe.name
    assert [found[f"{name} in {pipe}"][0] for name in FITTINGS] == [True, True, False]


def test_what_is_given_of_the_site_is_told_with_its_unit() -> None:
    job = dp.Job(
        lines=[line()], pumps=[PLATE], need_gpm=20, limits=dp.Limits(),
        laying=dp.Laying(waste_pct=15, stock_m=3),
    )  # fmt: skip
    told = {row["name"]: row["value"] for row in dp.report(job).to_dict()["assumptions"]}
    assert told["pipe cut off or broken"] == "15 %"
    assert told["length in which pipe is sold"] == "3 m (9.84 ft)"


# -- shapes and errors


def test_a_shape_asks_where_a_signature_does_not_tell() -> None:
    def build(*, pit: dp.Pit) -> None: ...

    build.__annotations__["pit"] = dp.Pit
    with pytest.raises(TypeError, match=r"^pit: .* needs a shape of its own$"):
        shape_of("site", build)


def test_a_refusal_keeps_its_keyword_through_a_pickle() -> None:
    error = pickle.loads(pickle.dumps(wrong("k", -1, "must be 0 or more").at("runs[0]")))
    assert (str(error), error.name) == ("runs[0].k=-1: must be 0 or more.", "runs[0]")
