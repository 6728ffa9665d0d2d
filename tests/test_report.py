"""The report: one content in three forms, all that was typed escaped, hashes that hold."""

from __future__ import annotations

import copy
import html
import html.parser
import json
import re
import subprocess
import sys
import warnings
from typing import Any

import pytest

import drainpump as dp
from drainpump.data_files import every_table
from drainpump.paper.assumptions import assumptions
from drainpump.paper.blocks import Bullets, Paragraph, Table, to_html, to_markdown
from drainpump.paper.brief import brief
from drainpump.paper.report import data_version
from drainpump.paper.words import TEXTS
from tests.notebook import ROOT
from tests.problems import PUMP_A, r1_line, r1_pit
from tests.test_job import WHOLE, changed, without

ATTACK = '<script>alert("1")</script> | a *b* _c_ [d](http://e.f) `g` &amp; $h$\n# i'


#: the same without its storms, where they are nothing to the point: they are most of the work
DRY = without("water")


@pytest.fixture(scope="module")
def outcome() -> dp.Outcome:
    return dp.Job.from_dict(WHOLE).run()


@pytest.fixture(scope="module")
def full(outcome: dp.Outcome) -> dp.Report:
    return dp.report(outcome)


def test_dict_is_json_and_holds_every_part(full: dp.Report) -> None:
    found = json.loads(json.dumps(full.to_dict(), allow_nan=False))
    assert found == full.to_dict()
    assert set(found) == {
        "title", "story", "library_version", "schema_version", "data_version", "input_hash",
        "inputs", "assumptions", "results", "rejections", "cautions", "warnings", "open_items",
    }  # fmt: skip
    assert found["inputs"] == WHOLE  # as typed; the pumps were given by their points


def test_results_are_those_of_select_and_band(full: dp.Report, outcome: dp.Outcome) -> None:
    found = full.to_dict()["results"]
    assert len(found["candidates"]) == 8
    for row, c in zip(found["candidates"], outcome.selection.candidates, strict=True):
        assert (row["pump"], row["line"], row["accepted"]) == (c.pump.name, c.line.name, c.accepted)
        assert row["flow_gpm"] == c.flow_gpm
        assert row["probability"] == c.probability
        one = dp.band(c.pump, c.line, outcome.job.doubt, 16, 3)
        assert row["flow_band_gpm"] == pytest.approx(dict(one.flow_gpm), rel=1e-9)
    assert outcome.band is not None
    assert found["band"]["flow_lps"] == dict(outcome.band.flow_lps)
    assert outcome.cycling is not None
    assert found["cycle"]["run_s"] == outcome.cycling.run_s


def test_each_rejection_has_its_code_number_and_limit(full: dp.Report, outcome: dp.Outcome) -> None:
    found = full.to_dict()["rejections"]
    rejected = outcome.selection.rejected
    assert found
    assert [(r["pump"], r["line"]) for r in found] == [(c.pump.name, c.line.name) for c in rejected]
    for row, c in zip(found, rejected, strict=True):
        assert [(x["code"], x["limit"], x["unit"]) for x in row["reasons"]] == [
            (r.code, r.limit, r.unit) for r in c.reasons
        ]


def assumed(document: Any) -> dict[str, tuple[str, bool]]:
    rows = assumptions(dp.Job.from_dict(document))
    assert all(row.source for row in rows)
    return {row.name: (row.value, row.defaulted) for row in rows}


def test_assumptions_tell_what_was_left_to_its_default() -> None:
    bare = changed("lines", [{"runs": [{"pipe": {"pvc": "2"}, "length_ft": 100}]}])
    del bare["limits"], bare["doubt"], bare["certainty"]
    found = assumed(bare)
    assert found["friction"] == ("Darcy-Weisbach, factor by Colebrook-White", True)
    assert found["water temperature"] == ("60.0 °F (15.6 °C)", True)
    assert found["line holds its water"] == ("yes", True)
    assert found["limit velocity max"][1]
    assert found["doubt of lift"] == ("0.5 ft (0.152 m), one sigma", True)
    assert found["certainty wished"] == ("0.9", True)
    none = assumed({**bare, "doubt": {}})
    assert none["doubt"] == ("none: each result is one number, without a band", False)
    line = {**bare["lines"][0], "friction": "darcy", "water_f": 60, "check_valve": True}
    told = assumed({**bare, "lines": [line], "limits": {"velocity_max_fps": 8}})
    for name in ("friction", "water temperature", "line holds its water", "limit velocity max"):
        assert not told[name][1], name
    assert told["limit velocity min"][1]


RAIN = {"duration_min": [5, 60], "return_year": [2, 10], "depth_in": [[0.4, 1.4], [0.6, 2.2]]}


def test_where_the_rain_comes_from_and_what_runs_off_is_printed() -> None:
    catchments = [
        {"name": "shed", "area_ft2": 600, "runoff": "roof", "tc_min": 5},
        {"name": "lawn", "area_ft2": 900, "curve_number": 74, "tc_min": 10},
    ]
    said = {}
    for note in ("", "invented atlas, volume 1"):
        water = {"catchments": catchments, "rain": RAIN | {"note": note}}
        job = dp.Job.from_dict(changed("water", water) | {"pond_area_ft2": 500})
        for row in assumptions(job):
            said[note, row.name] = row.value, row.source
    depths = "depth by duration and return period"
    assert said["", "rain"] == (depths, "given in the job; its source is not told")
    known = (depths, "given in the job; invented atlas, volume 1")
    assert said["invented atlas, volume 1", "rain"] == known
    assert said["", "runoff of lawn"] == ("curve number 74.0", "given in the job")
    value, source = said["", "runoff of shed"]
    assert value == "runoff 0.85"
    assert source.startswith("given in the job; ")


@pytest.mark.parametrize("rise", [-1, 9])
def test_that_gravity_will_do_is_said_before_all_else(rise: float) -> None:
    document = changed("lines", [{"runs": [{"pipe": {"pvc": "2"}, "length_ft": 100,
                                            "rise_ft": rise}]}])  # fmt: skip
    outcome = dp.Job.from_dict(document).run()
    where = [
        dp.report(outcome).to_text().find(text) for text in ("carries it by gravity", "Pump  ")
    ]
    assert (0 < where[0] < where[1]) == (rise < 0)
    assert ("First  " in brief(outcome, "a job")) == (rise < 0)


GRANTED = "none among the fittings, so its loss is not counted"
VALVE = {"check_valve_swing": 1}


@pytest.mark.parametrize(
    ("line", "fittings", "source"),
    [
        ({}, {}, f"a check valve is taken for granted; {GRANTED}"),
        ({"check_valve": True}, {}, f"given in the job; {GRANTED}"),
        ({"check_valve": False}, {}, "given in the job; it drains back at each stop"),
        ({}, VALVE, "a check valve is among the fittings"),
        ({"check_valve": True}, VALVE, "given in the job; a check valve is among the fittings"),
    ],
)
def test_what_nobody_stated_is_not_called_stated(line: Any, fittings: Any, source: str) -> None:
    runs = [{"pipe": {"pvc": "2"}, "length_ft": 100, "fittings": fittings}]
    job = dp.Job.from_dict(changed("lines", [{"runs": runs, **line}]))
    said = [row.source for row in assumptions(job) if row.name == "line holds its water"]
    assert said == [source]


def test_a_pump_that_falls_behind_says_so_beside_the_choice() -> None:
    text = dp.report(dp.Job.from_dict(DRY | {"inflow_lps": 6})).to_text(appendix=True)
    flat = " ".join(text.split())
    assert "It does not keep up with the inflow of 95.1 gpm (6 L/s)." in flat
    rows = {row.split("  ")[0]: row.split("  ")[-1].strip() for row in text.splitlines() if row}
    assert (rows["keeps up"], rows["run"], rows["rest"]) == ("no", "never stops", "0 s")
    still = dp.report(dp.Job.from_dict(DRY | {"inflow_lps": 0})).to_text(appendix=True)
    assert "does not keep up" not in still
    assert re.search("^rest +never starts$", still, re.MULTILINE)


def test_print_shows_the_whole_report(full: dp.Report) -> None:
    assert str(full) == full.to_text()
    assert len(repr(full)) < 200


@pytest.mark.parametrize(
    "given", [{}, {"objective": "starts"}, {"limits": dp.Limits(run_min_s=1)}, {"floats": "find"}]
)
def test_a_selection_is_reported_with_the_pit_it_was_made_with(given: Any) -> None:
    pit = r1_pit()
    chosen = dp.select([PUMP_A], [r1_line()], need_gpm=20, pit=pit, **given)
    assert (chosen.pit, chosen.floats) == (pit, given.get("floats", "given"))
    alone, beside = dp.report(chosen), dp.report(chosen, pit=pit)
    assert alone.to_dict() == beside.to_dict()
    assert "starts an hour" in alone.to_text()
    wider = dp.Pit(diameter_in=30, depth_in=40, off_in=6, on_in=13)
    assert dp.report(chosen, pit=wider).to_dict() != alone.to_dict()
    several = dp.select([PUMP_A], [r1_line()], need_gpm=20, pit=[pit, wider])
    assert several.pit == (pit, wider)
    assert dp.report(several).to_dict()["inputs"]["pit"] == [pit.to_dict(), wider.to_dict()]
    assert dp.select([PUMP_A], [r1_line()], need_gpm=20).pit is None


def test_hash_knows_every_value_and_no_spelling() -> None:
    def of(document: dict[str, Any]) -> str:
        return dp.report(dp.Job.from_dict(document)).input_hash

    plain = of(DRY)
    turned = dict(reversed(list(copy.deepcopy(DRY).items())))
    assert of(turned) == plain
    assert of(DRY | {"need_gpm": 20.0}) == plain
    for other in (
        DRY | {"need_gpm": 20.000000001},
        DRY | {"seed": 4},
        DRY | {"pumps": changed("pumps", 0, "note", "made up.")["pumps"]},
        DRY | {"lines": changed("lines", 0, "runs", 0, "length_ft", 7.5)["lines"]},
    ):
        assert of(other) != plain


def test_hash_and_numbers_do_not_depend_on_the_process() -> None:
    code = (
        "import drainpump as dp; from tests.test_report import DRY; "
        "r = dp.report(dp.Job.from_dict(DRY)); print(r.input_hash, r.data_version)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, cwd=ROOT, check=True
    )
    here = dp.report(dp.Job.from_dict(DRY))
    assert done.stdout.split() == [here.input_hash, here.data_version]
    assert re.fullmatch("[0-9a-f]{64}", here.input_hash)
    assert re.fullmatch("[0-9a-f]{16}", here.data_version)


def test_the_data_version_knows_the_tables_of_every_room(monkeypatch: pytest.MonkeyPatch) -> None:
    names = [path.name for path in every_table()]
    assert names == sorted({path.name for path in (ROOT / "drainpump").rglob("*.csv")})
    assert {"units.csv", "guards.csv", "limits.csv", "f_t.csv"} < set(names)
    whole = data_version()
    for name in ("units.csv", "f_t.csv"):
        kept = [path for path in every_table() if path.name != name]
        monkeypatch.setattr("drainpump.paper.report.every_table", lambda kept=kept: kept)
        assert data_version.__wrapped__() != whole


class Tags(html.parser.HTMLParser):
    """The tags of a page and its text; every tag that opens must close in order."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: set[str] = set()
        self.open: list[str] = []
        self.text = ""
        self.feed(page)
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: Any) -> None:
        self.tags.add(tag)
        if tag not in ("meta", "img"):
            self.open.append(tag)
        assert not {name for name, _ in attrs} & {"href", "onload"}
        assert all(str(x).startswith("data:image/png;base64,") for n, x in attrs if n == "src")

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text += data


@pytest.fixture(scope="module")
def attacked() -> dp.Report:
    document = changed("story", ATTACK)
    document["name"] = ATTACK
    document["pumps"][0]["note"] = ATTACK
    # what stands in tables has one line
    for thing in (document["lines"][0], document["lines"][0]["runs"][0], document["pumps"][0]):
        thing["name"] = ATTACK.replace("\n", " ")
    document["costs"]["currency"] = ATTACK
    return dp.report(dp.Job.from_dict(document))


def test_html_is_whole_and_holds_no_tag_of_the_users(attacked: dp.Report) -> None:
    page = Tags(attacked.to_html(appendix=True))
    assert page.tags == {
        "html", "head", "meta", "title", "style", "body", "h1", "h2", "p", "ul", "li", "table",
        "tr", "th", "td", "div", "img",
    }  # fmt: skip
    # shown as it was typed
    assert page.text.count('<script>alert("1")</script> | a *b*') > 5
    assert Tags(attacked._repr_html_()).tags < page.tags | {"div"}
    assert attacked.to_html().startswith("<!DOCTYPE html>")


def test_markdown_holds_no_markup_of_the_users(attacked: dp.Report) -> None:
    text = attacked.to_markdown(appendix=True)
    assert "<" not in text
    # the library's own pictures
    assert re.findall(r"\]\((.*\.png)\)$", text, re.MULTILINE) == [
        "duty.png", "sketch.png", "storm.png",
    ]  # fmt: skip
    text = re.sub(r"^!\[(.*)\]\(.*\)$", r"\1", text, flags=re.MULTILINE).replace("- [ ] ", "")
    assert not re.search(r"(?<!\\)[*_\[\]`$~]", text)
    assert "http://" not in text
    # one title, and tables of one width each
    titles = [line for line in text.splitlines() if line.startswith("# ")]
    assert titles == [text.splitlines()[0], "# Appendix"]
    for table in re.findall(r"(?:^\|.*\n)+", text, re.MULTILINE):
        assert len({len(re.findall(r"(?<!\\)\|", row)) for row in table.splitlines()}) == 1


@pytest.mark.parametrize(
    ("typed", "written"),
    [
        ("- a", "\\- a"),
        ("1. a", "1\\. a"),
        ("12) a", "12\\) a"),
        ("= a", "\\= a"),
        ("# a", "\\# a"),
        ("1.5 ft", "1\\.5 ft"),
        ("> a", "&gt; a"),
        ("a\n\n- b", "a - b"),
        ("www.a.b c@d.e", "www&#46;a.b c&#64;d.e"),
        ("a \\| b", "a \\\\\\| b"),
    ],
)
def test_markdown_shows_each_text_as_typed(typed: str, written: str) -> None:
    assert to_markdown([Paragraph(typed)]) == written + "\n"


def test_blocks() -> None:
    blocks = [Bullets(["a", "b"]), Table(("x", "y"), [("1", "2|3")])]
    assert to_markdown(blocks) == "- a\n- b\n\n| x | y |\n| --- | --- |\n| 1 | 2\\|3 |\n"
    assert to_html(blocks, whole=False) == (
        "<div>\n<ul><li>a</li><li>b</li></ul>\n<table>\n<tr><th>x</th><th>y</th></tr>\n"
        "<tr><td>1</td><td>2|3</td></tr>\n</table>\n</div>"
    )


def test_cautions_and_open_items_stand_in_every_form(full: dp.Report) -> None:
    for form in (full.to_markdown(), full.to_html()):
        for words in ("licensed electrician", "right to discharge", "invented", "setback"):
            assert words in form


def test_a_job_that_nothing_serves_is_reported() -> None:
    found = dp.report(dp.Job.from_dict(DRY | {"need_gpm": 500}))
    assert found.to_dict()["results"]["chosen"] is None
    assert "## Nothing on the list serves: the nearest is" in found.to_markdown()
    assert repr(found) == (f"Report('school yard': nothing serves; inputs {found.input_hash[:12]})")


def test_a_selection_is_reported_as_its_job(full: dp.Report, outcome: dp.Outcome) -> None:
    chosen = outcome.selection
    found = dp.report(chosen, pit=outcome.job.pit, inflow_lps=0.4, name="yard").to_dict()["results"]
    want = full.to_dict()["results"]
    for row, other in zip(found["candidates"], want["candidates"], strict=True):
        assert row["flow_gpm"] == pytest.approx(other["flow_gpm"], rel=1e-9)
        assert row["probability"] == other["probability"]
    assert found["cycle"]["run_s"] == pytest.approx(want["cycle"]["run_s"], rel=1e-9)


def test_what_cannot_be_reported_is_refused() -> None:
    job = dp.Job.from_dict(WHOLE)
    with pytest.raises(dp.InputError) as err:
        dp.report(job, name="yard")
    assert str(err.value) == ("name='yard': goes only beside a selection; write it into the job.")
    with pytest.raises(dp.InputError) as err:
        dp.report(7)  # type: ignore[arg-type]
    assert str(err.value) == ("subject=7: must be a Job, its Outcome or a Selection; make a Job.")


def test_a_bank_is_reported_as_any_pump() -> None:
    job = dp.Job.from_dict(WHOLE)
    bank = dp.parallel([job.pumps[0], job.pumps[0]])
    found = dp.report(dp.select(bank, job.lines[1:], need_gpm=20))
    assert found.to_dict()["inputs"]["pumps"] == [bank.to_dict()]


def test_a_need_is_said_as_it_was_typed() -> None:
    pump = dp.PumpCurve(name="A", flow_gpm=[0, 30, 50], head_ft=[20, 12.8, 0], invented=True)
    line = dp.straight_line(pipe=dp.pvc("2"), length_ft=150, lift_ft=6, name="line")
    for need, said in (
        ({"need_gpm": 20}, "Needed: 20 gpm (1.26 L/s) at"),
        ({"need_lps": 1.5}, "Needed: 1.5 L/s (23.8 gpm) at"),
    ):
        chosen = dp.select([pump], [line], **need)
        found = dp.report(chosen)
        assert said in found.to_text(appendix=True).replace("\n", " ")
        assert found.to_dict()["inputs"][next(iter(need))] == need[next(iter(need))]
        assert getattr(chosen, next(iter(need))) == need[next(iter(need))]


def test_warnings_are_kept_with_their_place_and_shown_every_time() -> None:
    document = DRY | {"lines": changed("lines", 0, "runs", 1, "length_m", 33300)["lines"]}
    for _ in range(2):
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            outcome = dp.Job.from_dict(document).run()
        heard = [w for w in outcome.warnings if "33300" in w.text or "3.33" in w.text]
        assert heard
        assert heard[0].path == "$.lines[0].runs[1]"
        assert heard[0].text in repr(outcome)
        flat = " ".join(dp.report(outcome).to_text(appendix=True).split())
        assert flat.count(heard[0].text[1:]) == 2
    # a copy of the job speaks of them, too
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        job = dp.Job.from_dict(document)
        assert job.with_pumps(job.pumps[:1]).run().warnings[0] == job.warnings[0]


def test_each_caution_stands_once_and_the_jobs_own_stand_first(full: dp.Report) -> None:
    found = full.to_dict()["cautions"]
    assert len(found) == len(set(found))
    assert found[-len(TEXTS["cautions"]) :] == TEXTS["cautions"]
    assert any("runs over the pit's rim" in said for said in found[: -len(TEXTS["cautions"])])
    text = full.to_text()
    assert text.count("Electricity near water kills") == 1


def test_what_a_candidate_needs_stands_in_its_row(full: dp.Report) -> None:
    row = full.to_dict()["results"]["candidates"][0]
    for note in (*row["warnings"], *row["notes"]):
        assert note in " ".join(html.unescape(full.to_html(appendix=True)).split())
