"""The two pages: every figure is the library's, nothing is said in codes, they print on two."""

from __future__ import annotations

import re
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

import drainpump as dp
from drainpump import units as u
from drainpump.paper.acceptance import acceptance
from drainpump.paper.brief import brief
from drainpump.paper.cautions import cautions_of, in_short
from drainpump.paper.commissioning import years_ahead
from drainpump.paper.demo import market_garden
from drainpump.paper.pages.second import sources
from drainpump.paper.words import between, two
from tests.notebook import ROOT
from tests.problems import garden_by_need
from tests.test_job import changed

BROWSER = next(filter(None, map(shutil.which, ("chromium", "chromium-browser"))), None)
n = r"([\d.]+)"


def garden() -> dp.Job:
    return market_garden().with_pumps(dp.read_curves(str(ROOT / "curves_demo")))


def by_need() -> dp.Job:
    return garden_by_need().with_pumps(dp.read_curves(str(ROOT / "curves_demo")))


@pytest.fixture(scope="module")
def outcome() -> dp.Outcome:
    return by_need().run()


@pytest.fixture(scope="module")
def page(outcome: dp.Outcome) -> str:
    return " ".join(dp.report(outcome).to_text().split())


def shown(text: str, pattern: str) -> tuple[float, ...]:
    found = re.search(pattern, text)
    assert found, pattern
    return tuple(map(float, found.groups()))


def three(*values: Any) -> tuple[float, ...]:
    return tuple(float(u.number(v)) for v in values)


def test_every_figure_of_what_it_does_is_the_librarys(outcome: dp.Outcome, page: str) -> None:
    first, job = outcome.first, outcome.job
    op = dp.operating_point(first.pump, first.line)
    spread = dp.band(first.pump, first.line, dp.Doubt.usual(), job.samples, job.seed)
    assert shown(page, rf"Moves {n} gpm \({n} L/s\)") == three(op.flow_gpm, op.flow_lps)
    assert shown(page, rf"probably between {n} and {n} gpm") == three(
        spread.flow_gpm["p10"], spread.flow_gpm["p90"]
    )
    assert shown(page, rf"{n} gpm \({n} L/s\) needed") == three(job.need_gpm, job.need_lps)
    turning = outcome.cycling
    assert turning is not None
    again = dp.cycle(first.pump, first.line, first.pit, inflow_gpm=turning.inflow_gpm)
    assert shown(page, rf": {n} starts an hour") == three(again.starts_per_h)
    assert shown(page, rf"At most {n} starts an hour") == three(again.worst_starts_per_h)


def test_levels_take_off_and_acceptance_are_the_librarys(outcome: dp.Outcome, page: str) -> None:
    first = outcome.first
    assert first.pit is not None
    for level in ("off", "on", "alarm"):
        inch, mm = getattr(first.pit, f"{level}_in"), getattr(first.pit, f"{level}_mm")
        assert shown(page, rf"\b{level} {n} in \({n} mm\)") == three(inch, mm)
    still = dp.cycle(first.pump, first.line, first.pit, inflow_gpm=0)
    assert outcome.acceptance is not None
    assert outcome.acceptance.time_s == pytest.approx(first.shortest_run_s)
    drained = still.working_volume_gal / first.shortest_run_s * 60
    assert first.flow_gpm < drained < 1.1 * first.flow_gpm
    assert shown(page, rf"Inflow stopped, [^:]*: {n} s") == (round(first.shortest_run_s),)
    frame = dp.report(outcome).take_off
    assert frame.equals(outcome.take_off.to_frame())
    pipe = frame[frame["kind"] == "pipe"].iloc[0]
    assert shown(page, rf"{n} +{n} +of 20 ft") == (pipe["pieces"], pipe["price"])


def test_the_next_one_is_told_by_what_it_differs(outcome: dp.Outcome, page: str) -> None:
    best, other = outcome.selection.accepted[:2]
    assert f"Next: {other.pump.name} on {other.line.name}: " in page
    more = other.flow_gpm * other.head_ft / (best.flow_gpm * best.head_ft) - 1
    word = "more" if more > 0 else "less"
    assert shown(page, rf"{n} % {word} power, {n} times") == (
        round(100 * abs(more)), *three(other.flow_gpm / other.pump.best_flow_gpm),
    )  # fmt: skip
    op = dp.operating_point(best.pump, best.line)
    assert shown(
        page, rf"Head {n} ft \({n} m\): lift {n} ft, pipe {n} ft, fittings {n} ft, outlet {n} ft"
    ) == three(op.head_ft, op.head_m, op.static_ft, op.pipe_ft, op.fittings_ft, op.outlet_ft)
    assert shown(page, rf"nearest its best-efficiency flow, at {n} times it") == three(
        best.flow_gpm / best.pump.best_flow_gpm
    )


#: figures of the cautions and of sources, and names that hold figures
CONSTANTS = re.compile(
    r"Paper 410|9906|14\.6|23\.10|7:14A|3-240-04A|MG 10|Chow 1959|16 AWG|5 % of the voltage"
    r"|90° |45° |[\d/-]+ in(?: Sch \d+ PVC| line| to )|in 100\b"
)


def numbers(value: Any) -> Iterator[float]:
    """Every number in an answer, its lists and its dicts."""
    if isinstance(value, dict):
        for item in value.values():
            yield from numbers(item)
    elif isinstance(value, list | tuple):
        for item in value:
            yield from numbers(item)
    elif isinstance(value, int | float) and not isinstance(value, bool):
        yield abs(float(value))
    elif isinstance(value, str):
        yield from (float(x) for x in re.findall(r"\d+(?:\.\d+)?", value))


def views(thing: Any) -> dict[str, Any]:
    return {} if thing is None else {v.name: v.__get__(thing) for v in u.views(type(thing))}


def answered(outcome: dp.Outcome, found: dp.Report) -> set[str]:
    """Every figure that the library answers, as it is printed: in every unit it has."""
    first = outcome.first
    parts = [first.pit, first.line.outlet, outcome.outage, outcome.acceptance, outcome.cycling]
    known = list(numbers([found.to_dict(), outcome.take_off.to_dict(), *map(views, parts)]))
    known += [first.line.lift_ft, first.line.lift_m, first.line.length_ft, first.line.length_m]
    known += numbers(views(dp.operating_point(first.pump, first.line)))
    known += [abs(c.cost - first.cost) for c in outcome.selection.accepted if c.cost and first.cost]
    known += [x for c in outcome.selection.candidates for x in numbers(views(c))]
    known += numbers([[str(x) for x in (*outcome.checks, *outcome.links, outcome.gravity)]])
    if outcome.routing is not None:
        known += [x for v in views(outcome.routing).values() for x in numbers(list(v))]
    # seconds as minutes and hours, shares as percent, counts
    known += [x / 60 for x in known] + [100 * x for x in known if x <= 1]
    known += [len(outcome.selection.accepted), len(outcome.selection.candidates)]
    return {s for x in known for s in (u.number(x), f"{x:.0f}", f"{x:.1f}", u.carried(x))}


@pytest.mark.parametrize("units", ["us", "metric"])
def test_the_page_read_back_holds_no_figure_but_the_librarys(
    outcome: dp.Outcome, units: Any
) -> None:
    found = dp.report(outcome)
    text = " ".join(found.to_text(units).split())
    known = answered(outcome, found)
    strange = [x for x in re.findall(r"\d+(?:\.\d+)?", CONSTANTS.sub("", text)) if x not in known]
    assert strange == []


def test_the_pages_hold_no_codes_paths_or_percentiles(outcome: dp.Outcome) -> None:
    for units in ("us", "metric"):
        text = dp.report(outcome).to_text(units)
        assert not re.findall(r"\$|\bP[159]0\b|[a-z]+_[a-z]+|\{|\}|probability", text)
        assert len(text.splitlines()) < 190


def flat(outcome: dp.Outcome, units: Any = "us") -> str:
    return " ".join(dp.report(outcome).to_text(units).split())


def test_the_sources_are_those_of_what_was_used(outcome: dp.Outcome) -> None:
    site = garden().replace(samples=16)
    assert site.water is not None
    rain = site.water.rain
    bare = site.replace(water=site.water.replace(rain=rain.replace(note="")))
    for job, there, not_there in (
        (site, ("Colebrook-White", "Rain: invented, of no place.", "Manning"), "Hazen-Williams"),
        (bare, ("Rain: its source is not told.",), "of no place"),
        (by_need().replace(lines=[x.replace(friction="hazen_williams") for x in site.lines]),
         ("Friction: Hazen-Williams (textbook).",), "Colebrook"),
        (by_need().replace(doubt=dp.Doubt()), ("ASTM D1785",), "14.6"),
        (by_need().replace(limits=dp.Limits(velocity_max_fps=7)), ("NJAC",), "Ten States"),
    ):  # fmt: skip
        _, _, told = flat(job.run()).partition("Sources")
        assert all(x in told for x in there), (told, there)
        assert not_there not in told


def test_the_storm_asked_stands_on_the_page_and_one_without_its_rarity_is_told() -> None:
    job = garden().replace(samples=16)
    text = dp.report(job).to_markdown()
    assert "[Over time: the 10-year storm's inflow, what Half-A pumps" in text
    burst = dp.inflow.Hyetograph(depth_in=[0.1, 0.5, 0.7, 0.1], block_min=5)
    one = job.replace(water=job.water.replace(rain=burst), limits=dp.Limits(pond_depth_max_in=12))
    outcome = one.run()
    assert outcome.routing is not None
    deep, long = float(outcome.routing.peak_pond_in), float(outcome.routing.pond_min)
    assert shown(flat(outcome), rf"In the storm given water stands {n} in") == three(deep)
    assert shown(flat(outcome), rf"In the storm given .*? above the rim for {n} min") == (
        round(long) if long >= 10 else round(long, 1),
    )  # fmt: skip


def test_of_several_pits_each_choice_says_its_own() -> None:
    job = by_need().replace(samples=16)
    assert job.pit is not None
    both = job.replace(pit=[job.pit, job.pit.replace(diameter_in=30)]).run()
    first, other = both.selection.accepted[:2]
    text = flat(both)
    assert f"Pit pit {first.number}: " in text
    assert f"Next: {other.pump.name} on {other.line.name} in pit {other.number}: " in text
    assert "choices of pump, line and pit keep every limit" in text
    assert " 0 % " not in text
    assert "rank pump line pit flow" in " ".join(dp.report(both).to_text(appendix=True).split())


def test_where_one_alone_keeps_every_limit_it_is_not_said_to_be_picked_from_several() -> None:
    box = dp.PumpCurve.from_box("box", flow_max_gpm=55, head_max_ft=24, invented=True)
    weak = dp.PumpCurve(name="weak", flow_gpm=[0, 9], head_ft=[9, 0], invented=True)
    alike = dp.PumpCurve.from_box("like", flow_max_gpm=55, head_max_ft=24, invented=True)
    line = dp.straight_line(pipe=dp.pvc("1-1/2"), length_ft=150, lift_ft=6)
    for pumps, said in (
        ([box], "It keeps every limit; no other pump and line were given to choose from."),
        ([box, weak], "Of 2 pairs of pump and line it alone keeps every limit."),
        ([box, alike], "2 of 2 pairs of pump and line keep every limit; of these it takes the "
         "least power (flow × head) within 5 %."),
    ):  # fmt: skip
        chosen = dp.Job(pumps=pumps, lines=[line], need_gpm=20, samples=64).run()
        assert said in flat(chosen)


def test_the_alarm_of_the_demo_sounds_before_water_backs_up_into_its_inlet() -> None:
    pit = garden().pit
    assert isinstance(pit, dp.Pit)
    assert pit.on_in < pit.alarm_in < pit.inlet_in


@pytest.mark.parametrize("units", ["us", "metric"])
def test_the_screenful_holds_every_caution_as_a_whole_sentence(units: Any) -> None:
    for job in (
        garden(),
        by_need().replace(need_gpm=500),
        by_need().replace(pit=None, inflow_gpm=None, limits=None),
    ):
        outcome = job.replace(samples=16).run()
        said = brief(outcome, "title", units)
        assert len(said.splitlines()) <= 29
        _, _, told = " ".join(said.split()).partition(" Cautions ")
        for caution in cautions_of(outcome):
            assert f"{in_short(caution)} " in f"{told} "
            assert caution.startswith(in_short(caution).removesuffix("."))


def test_a_name_with_a_full_stop_cuts_no_caution_short() -> None:
    pump = dp.PumpCurve(
        name="Pump No. 5", flow_gpm=[0, 40, 80], head_ft=[30, 22, 5], voltage_v=120, current_a=6
    )
    job = by_need().replace(pumps=[pump], samples=16)
    said = " ".join(brief(job.run(), "title").split())
    assert " Run Pump No. 5 on no long thin cord. Electricity " in said


def test_a_source_names_its_run_as_the_checks_do() -> None:
    drain = dp.straight_line(pipe=dp.pvc("2", "DWV"), length_ft=150, lift_ft=6)
    outcome = by_need().replace(lines=[drain], samples=16).run()
    of_runs = [x for x in outcome.checks if x.verdict == "look" and x.where.startswith("run ")]
    assert of_runs
    told = list(sources(outcome))
    for check in of_runs:
        assert any(line.startswith(f"R{check.where[1:]}: ") for line in told)


def test_no_worry_is_told_from_a_time_without_end() -> None:
    flow = 1e-3
    for need in (None, 0.8 * flow):
        said = " ".join(years_ahead(acceptance(flow, None, None, (0.0, flow)), flow, need, "us"))
        assert "without end" not in said
        assert ("Worry from " in said) is (need is not None)


def test_metric_pages_say_metric_first(outcome: dp.Outcome) -> None:
    text = " ".join(dp.report(outcome).to_text("metric").split())
    flow = outcome.first.si.flow
    assert f"Moves {two(flow, 'gpm', 'metric')}, probably " in text
    assert outcome.band is not None
    assert between(outcome.band.si.flow[0], outcome.band.si.flow[2], "gpm", "metric") in text
    labels = {system: [x.label for x in u.UNITS.values() if x.system == system and x.label]
              for system in ("us", "metric")}  # fmt: skip
    us, metric = ("|".join(map(re.escape, sorted(labels[x], key=len)[::-1])) for x in labels)
    assert not re.findall(rf"[\d.]+ (?:{us}) \([\d.]+ (?:{metric})\)", text)


def test_it_is_saved_in_three_forms(outcome: dp.Outcome, tmp_path: Path) -> None:
    found = dp.report(outcome)
    for ending in ("html", "md", "txt"):
        found.save(tmp_path / f"page.{ending}")
    assert (tmp_path / "page.html").read_text("utf-8").count("data:image/png;base64,") == 2
    assert "<script" not in (tmp_path / "page.html").read_text("utf-8")
    for name in re.findall(r"\]\((\w+\.png)\)", (tmp_path / "page.md").read_text("utf-8")):
        assert (tmp_path / name).read_bytes().startswith(b"\x89PNG")
    with pytest.raises(dp.InputError) as err:
        found.save("page.doc")
    assert str(err.value) == "path='page.doc': must end in .html, .md, .txt; name the form."


def jobs() -> list[dp.Job]:
    """The demo, and five other jobs."""
    site = garden()
    open_line = dp.straight_line(
        pipe=dp.pvc("2"), length_ft=235, lift_ft=9.5, check_valve=False, name="open line",
        fittings={"elbow_90": 3, "elbow_45": 4},
    )  # fmt: skip
    return [
        site,
        site.replace(need_gpm=500),
        by_need().replace(pit=None, inflow_gpm=None, limits=None),
        by_need().replace(lines=[open_line], limits=None, pumps=site.pumps[1:3]),
        by_need().replace(
            pumps=[dp.parallel([pump, pump]) for pump in site.pumps[:3]],
            costs=dp.Costs(pipe_per_ft=3, currency="crowns"),
        ),
        dp.Job.from_dict(changed("inflow_lps", 6)),
    ]


def browse(page: Path, *how: str) -> str:
    done = subprocess.run(
        [str(BROWSER), "--headless", "--no-sandbox", "--disable-gpu", *how, page.as_uri()],
        check=True, capture_output=True, text=True, timeout=120,
    )  # fmt: skip
    return done.stdout


#: what a page asks of itself: which texts stand over the page's edge or on another text
MEASURE = """<script>
const boxes = [];
const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
while (walk.nextNode()) {
  if (!walk.currentNode.data.trim()) continue;
  const range = document.createRange();
  range.selectNodeContents(walk.currentNode);
  for (const r of range.getClientRects())
    boxes.push([r.left, r.right, r.top + 3, r.bottom - 3, walk.currentNode.data]);
}
for (const image of document.images) {
  const r = image.getBoundingClientRect();
  boxes.push([r.left, r.right, r.top, r.bottom, image.alt]);
}
const wide = document.documentElement.clientWidth;
const bad = boxes.filter(b => b[0] < 0 || b[1] > wide + 1).map(b => 'cut: ' + b[4]);
boxes.forEach((a, i) => boxes.slice(i + 1).forEach(b => {
  if (a[0] < b[1] - 1 && b[0] < a[1] - 1 && a[2] < b[3] && b[2] < a[3])
    bad.push('over: ' + a[4] + ' / ' + b[4]);
}));
document.title = 'found ' + bad.length + ' of ' + boxes.length + ' ' + bad.slice(0, 3).join('; ');
</script>"""


@pytest.mark.skipif(BROWSER is None, reason="no headless browser on this machine")
@pytest.mark.parametrize("size", ["letter", "A4"])
def test_it_prints_on_two_pages(tmp_path: Path, size: str) -> None:
    # A4 is the taller: there the longest of them will do
    for i, job in enumerate(jobs() if size == "letter" else jobs()[4:5]):
        page, pdf = tmp_path / f"{i}.html", tmp_path / f"{i}.pdf"
        text = dp.report(job).to_html().replace("size: auto", f"size: {size}")
        page.write_text(text, encoding="utf-8")
        browse(page, "--no-pdf-header-footer", f"--print-to-pdf={pdf}")
        assert len(re.findall(rb"/Type\s*/Page\b", pdf.read_bytes())) == 2, job.name


@pytest.mark.skipif(BROWSER is None, reason="no headless browser on this machine")
@pytest.mark.parametrize("wide", [360, 800])
def test_no_text_is_cut_or_overlaps_on_a_narrow_screen(
    tmp_path: Path, outcome: dp.Outcome, wide: int
) -> None:
    # in a frame of its own, for a window has a least width
    inner, outer = tmp_path / "page.html", tmp_path / "frame.html"
    text = dp.report(outcome).to_html().replace("</body>", MEASURE + "</body>")
    inner.write_text(text, encoding="utf-8")
    outer.write_text(
        f'<iframe src="page.html" style="width:{wide}px;height:3000px;border:0"></iframe>'
        "<script>onload = () => { document.title = frames[0].document.title }</script>",
        encoding="utf-8",
    )
    shown = browse(outer, "--allow-file-access-from-files", "--dump-dom")
    found = re.search("<title>found (\\d+) of (\\d+)(.*)</title>", shown)
    assert found, shown[:300]
    assert int(found[2]) > 100
    assert (int(found[1]), found[3].strip()) == (0, "")
