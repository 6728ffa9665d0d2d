"""The as-built record: what is written, read years later, and shown on the sheet."""

from __future__ import annotations

import html.parser
import json
from typing import Any

import numpy as np
import pytest

import drainpump as dp
from tests.problems import PUMP_A, r1_line

PIT = dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=13)
NASTY = 'garden <script>alert("|")</script> `x`'


def record(line: dp.DischargeLine | None = None, **changes: Any) -> dp.field.Record:
    given = {"name": NASTY, "built_on": "2026-04-30", "need_gpm": 20} | changes
    made = dp.field.as_built_record(PUMP_A, r1_line() if line is None else line, **given)
    made = made.with_test(
        dp.field.bucket_test(volume_gal=5, fill_s=16.7), on="2031-05-02", note="grey | water <b>"
    )
    made = made.with_test(
        dp.field.drawdown_test(PIT, from_in=13, to_in=6, run_s=19), on="2031-05-02"
    )
    gauge = dp.field.gauge_test(PUMP_A, pressure_psi=5, gauge_above_water_ft=2)
    return made.with_test(gauge, on="2031-05-03")


def test_read_back_it_recomputes_the_same_numbers() -> None:
    first = record()
    again = dp.field.Record.from_json(first.to_json())
    now = again.recompute()
    for p in ("p10", "p50", "p90"):
        assert again.predicted_gpm[p] == pytest.approx(first.predicted_gpm[p], rel=1e-12)
        assert now.flow_gpm[p] == pytest.approx(first.predicted_gpm[p], rel=1e-9)
    op = dp.operating_point(again.pump, again.line)
    assert op.flow_gpm == pytest.approx(25.68, abs=0.01)
    for a, b in zip(first.tests, again.tests, strict=True):
        assert (a.on, a.note, a.test.kind, a.test.place) == (
            b.on,
            b.note,
            b.test.kind,
            b.test.place,
        )
        assert b.test.flow_gpm == pytest.approx(a.test.flow_gpm, rel=1e-12)
        assert b.test.sigma_gpm == pytest.approx(a.test.sigma_gpm, rel=1e-12)
        assert b.test.shares == pytest.approx(a.test.shares)
    assert again.need_gpm == pytest.approx(20)
    assert again.open_items == first.open_items


LINES = {
    "two runs": dp.DischargeLine(
        runs=[
            dp.Run(pipe=dp.pvc("1-1/2"), length_ft=10, rise_ft=6, fittings={"elbow_90": 2}),
            dp.Run(pipe=dp.pvc("2"), length_m=40, rise_m=-0.5, equivalent_length_ft=12),
        ],
        siphon=True,
        check_valve=False,
        water_c=12,
    ),
    "hazen": r1_line(friction="hazen_williams"),
    "pop up": r1_line(outlet=dp.PopUpOutlet(opening_head_ft=0.25, gap_mm=6, body_in=4)),
    "submerged": r1_line(outlet=dp.SubmergedOutlet(depth_ft=1)),
    "gravity": r1_line(outlet=dp.GravityHandOff(bore_in=4, slope=0.01, n=0.012)),
}


@pytest.mark.parametrize("case", LINES)
def test_every_line_comes_back_with_its_flow(case: str) -> None:
    line = LINES[case]
    again = dp.field.Record.from_json(record(line).to_json())
    before, after = (dp.operating_point(PUMP_A, x).flow_gpm for x in (line, again.line))
    assert after == pytest.approx(before, rel=1e-12)
    assert (again.line.siphon, again.line.check_valve) == (line.siphon, line.check_valve)


def test_a_doubt_by_grade_comes_back() -> None:
    doubt = dp.Doubt(grade="up to 10 kW", lift_m=0.2, k_log=0.3)
    first = record(doubt=doubt)
    again = dp.field.Record.from_json(first.to_json())
    assert again.doubt == doubt
    assert again.doubt.grade is not None


def test_a_changed_prediction_shows() -> None:
    plain = json.loads(record().to_json())
    plain["prediction"]["p50_lps"] *= 1.05
    frame = dp.field.Record.from_json(json.dumps(plain)).compare().set_index("point")
    assert frame.loc["p50", "change_pct"] == pytest.approx(-100 / 21, rel=1e-9)
    assert frame.loc["p10", "change_pct"] == pytest.approx(0, abs=1e-9)


def test_verdicts_are_those_of_the_tests() -> None:
    made = record()
    frame = made.verdicts()
    found = dp.field.verdict(PUMP_A, r1_line(), made.tests[1].test, dp.Doubt.usual())
    assert frame.loc[1, "inside"] == pytest.approx(found.inside)
    assert frame.loc[1, "low_gpm"] == pytest.approx(found.low_gpm)
    assert np.isnan(frame.loc[2, "inside"])
    assert frame["on"].tolist() == ["2031-05-02", "2031-05-02", "2031-05-03"]


def test_the_sheet_says_band_measured_verdict_and_open_items() -> None:
    sheet = record(open_items=["permit"]).to_markdown()
    first = record().verdicts().iloc[0]
    assert f"| {first['low_gpm']:.3g} to {first['high_gpm']:.3g} | 100% | 0% | 0% |" in sheet
    assert "| 2031-05-02 | bucket | 18 ± 0.65 |" in sheet
    assert "- [ ] permit" in sheet
    assert "licensed electrician" in sheet
    assert "L/s" in record().to_markdown("metric")


class Tags(html.parser.HTMLParser):
    """Collects the tags of a page, and what stays open."""

    def __init__(self) -> None:
        super().__init__()
        self.seen: set[str] = set()
        self.open: list[str] = []

    def handle_starttag(self, tag: str, attrs: Any) -> None:
        self.seen.add(tag)
        self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag


def test_no_text_of_the_user_becomes_a_tag() -> None:
    made = record(r1_line(name="<i>line</i>"), open_items=["<img src=x>"])
    page = Tags()
    page.feed(made.to_html())
    assert page.open == []
    assert page.seen <= {"h1", "h2", "table", "tr", "th", "td", "ul", "li"}
    sheet = made.to_markdown()
    assert "<" not in sheet
    # a cell's own bar is escaped, so that every row of a table has as many cells
    rows = [x.replace("\\|", "") for x in sheet.splitlines() if x.startswith("| 2031")]
    assert {x.count("|") for x in rows} == {9}


def broken(path: list[Any], value: Any) -> str:
    plain = json.loads(record().to_json())
    place = plain
    for key in path[:-1]:
        place = place[key]
    place[path[-1]] = value
    return json.dumps(plain)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            broken(["record_version"], 3),
            "record.record_version=3: must be 1 or 2; read it with the version of the library that "
            "wrote it.",
        ),
        (
            broken(["lines"], 6),
            "record.lines: unknown key; did you mean 'line'?",
        ),
        (
            broken(["line", "runs", 0, "lenght_ft"], 6),
            "record.line.runs[0].lenght_ft: unknown key; did you mean 'length_ft'?",
        ),
        (
            broken(["line", "runs", 0, "length_ft"], -6),
            "record.line.runs[0].length_ft=-6: must be from 0 ft to 328084 ft; give the length "
            "measured along the pipe.",
        ),
        (
            broken(["line", "outlet", "kind"], "fre"),
            "record.line.outlet.kind='fre': must be one of 'free', 'submerged', 'pop_up', "
            "'gravity'.",
        ),
        (
            broken(["tests", 0, "on"], "May"),
            "record.tests[0].on='May': must be a day as YYYY-MM-DD; such as 2026-04-30.",
        ),
        (
            broken(["tests", 0, "test", "flow_lps"], "18"),
            "record.tests[0].test.flow_lps='18': must be a number or an array of numbers; give the "
            "flow.",
        ),
        (
            "{",
            "record: is no JSON (Expecting property name enclosed in double quotes: line 1 column "
            "2 (char 1)); give the text of to_json().",
        ),
        (
            json.dumps({"record_version": 1, "name": "x"}),
            "record: lacks built_on, doubt, drainpump_version, job, line, need_lps, open_items, "
            "prediction, pump, tests; give the whole record.",
        ),
    ],
)
def test_what_does_not_fit_is_refused_with_its_path(text: str, message: str) -> None:
    with pytest.raises(dp.InputError) as err:
        dp.field.Record.from_json(text)
    assert str(err.value) == message


@pytest.mark.parametrize(
    ("text", "message"),
    [
        (
            "[" * 10_000,
            "record: nested deeper than 40 levels at character 40; a record needs fewer than ten.",
        ),
        ('{"name": 1, "name": 2}', "record.name: stands there twice; keep one of them."),
        (broken(["name"], 3), "record.name=3: must be text."),
        (broken(["line", "runs"], 3), "record.line.runs=3: must be a list."),
        (
            broken(["line", "runs", 0, "length_ft"], [1]),
            "record.line.runs[0].length_ft: must be a number; it is a list.",
        ),
        (
            broken(["line", "outlet", "lid_ft"], float("nan")),
            "record.line.outlet.lid_ft=nan: must be a finite number.",
        ),
        (
            broken(["prediction", "samples"], 0),
            "record.prediction.samples=0: must be from 1 to 65536.",
        ),
        (broken(["tests", 0], {}), "record.tests[0]: lacks note, on, test; give it."),
        (broken(["need_lps"], "x"), "record.need_lps='x': must be a number."),
        (
            broken(["pump", "head_ft", 0], -1),
            "record.pump.head_ft[0]=-1: must be from 0 ft to 3281 ft; give the head in height of "
            "water.",
        ),
    ],
)
def test_rubbish_is_refused_calmly(text: str, message: str) -> None:
    with pytest.raises(dp.InputError) as err:
        dp.field.Record.from_json(text)
    assert str(err.value) == message


def every_place(plain: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """The path of every value in a document."""
    members = plain.items() if isinstance(plain, dict) else ()
    members = enumerate(plain) if isinstance(plain, list) else members
    return [path, *(p for k, v in members for p in every_place(v, (*path, k)))]


def test_any_one_value_changed_ends_in_a_record_or_a_refusal() -> None:
    small = dp.field.as_built_record(PUMP_A, r1_line(), name="x", built_on="2026-04-30", samples=8,
                                     plate=dp.field.Plate(voltage_v=115), cover_in=18)  # fmt: skip
    small = small.with_test(dp.field.bucket_test(volume_gal=5, fill_s=16.7), on="2031-05-02")
    check = dp.field.FloatCheck(on="2031-05-02", start_in=13, alarm_sounded=True)
    small = small.with_float_check(check)
    plain = json.loads(small.to_json())
    # of the pump's 200 points a few stand for all
    places = [p for p in every_place(plain)[1:] if p[0] != "pump" or p[-1] in (0, 1, "head_ft")]
    for path in places:
        for value in (None, True, -1, "x", [], {}, [1], {"a": 1}, float("nan")):
            changed = json.loads(json.dumps(plain))
            place = changed
            for key in path[:-1]:
                place = place[key]
            place[path[-1]] = value
            try:
                again = dp.field.Record.from_json(json.dumps(changed))
                assert again.to_markdown()
                assert again.to_html()
            except dp.InputError as error:
                said = [problem.path for problem in error.problems]
                assert all(one.startswith("record") for one in said), (path, value, said)


def test_the_sheet_says_what_to_expect_in_year_five() -> None:
    made = dp.field.as_built_record(
        PUMP_A, r1_line(), name="yard", built_on="2026-04-30", need_gpm=22, pit=PIT, cover_in=18,
        plate=dp.field.Plate(model="P 50", voltage_v=115, note="made in spring"),
    ).with_float_check(
        dp.field.FloatCheck(on="2026-04-30", start_in=13, stop_in=6, alarm_sounded=False,
                            note="hung once")
    )  # fmt: skip
    sheet = " ".join(made.to_markdown().replace("\\", "").split())
    still = dp.cycle(PUMP_A, r1_line(), PIT, inflow_gpm=0).run_s
    flow = dp.operating_point(PUMP_A, r1_line()).flow_gpm
    fast, slow = (still * flow / made.predicted_gpm[p] for p in ("p90", "p10"))
    assert (
        f"inflow stopped, 13 to 6 in (330 to 152 mm): {still:.0f} s, {fast:.0f} to {slow:.0f} s "
        "eight times in ten"
    ) in sheet
    # the need is lost before the watch is a seventh slower than the slowest expected
    assert still * flow / 22 < 1.15 * slow
    assert f"Worry from {still * flow / 22:.0f} s on: it no longer carries the need." in sheet
    assert "plate: model P 50, 115 V, made in spring" in sheet
    assert "cover over the pipe 18 in (457 mm), at least" in sheet
    assert "2026-04-30: started at 13 in (330 mm), stopped at 6 in (152 mm), alarm did" in sheet
    bare = record(need_gpm=None).to_markdown("metric")
    assert "a bucket of 18.9 L (5 gal) at the outlet fills in" in bare
    assert "much slower than as new" in bare
    assert "not tested yet" in bare


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: dp.field.FloatCheck(on="2026-04-30"),
         "FloatCheck: nothing seen; give a level, or alarm_sounded."),
        (lambda: dp.field.FloatCheck(on="May", alarm_sounded=True),
         "on='May': must be a day as YYYY-MM-DD; such as 2026-04-30."),
        (lambda: dp.field.FloatCheck(on="2026-04-30", alarm_sounded=1),
         "alarm_sounded=1: must be True or False; or leave it out."),
        (lambda: dp.field.Plate(model=3), "model=3: must be text; write it in quotes."),
        (lambda: dp.field.Record.from_json(broken(["cover_in"], -1)),
         "record.cover_in=-1: must be from 0 in to 3937 in; give the height of the water."),
        (lambda: dp.field.Record.from_json(broken(["float_checks"], [{"on": "x", "stop_in": 3}])),
         "record.float_checks[0].on='x': must be a day as YYYY-MM-DD; such as 2026-04-30."),
    ],
)  # fmt: skip
def test_what_was_not_read_on_site_is_refused(make: Any, message: str) -> None:
    with pytest.raises(dp.InputError) as err:
        make()
    assert str(err.value) == message


def test_a_job_rides_along_word_for_word() -> None:
    job = {"schema": 1, "lines": ["as planned"]}
    assert dp.field.Record.from_json(record(job=job).to_json()).job == job
