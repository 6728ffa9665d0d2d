"""The two pages: every figure is the library's, nothing is said in codes, they print on two."""

from __future__ import annotations

import re
import shutil
import subprocess
from pathlib import Path
from typing import Any

import pytest

import drainpump as dp
from drainpump.paper.demo import market_garden
from drainpump.paper.words import between, digits, two
from tests.notebook import ROOT
from tests.problems import garden_by_need
from tests.test_job import changed

BROWSER = next(filter(None, map(shutil.which, ("chromium", "chromium-browser"))), None)


@pytest.fixture(scope="module")
def outcome() -> dp.Outcome:
    return garden_by_need().with_pumps(dp.read_curves(str(ROOT / "curves_demo"))).run()


@pytest.fixture(scope="module")
def page(outcome: dp.Outcome) -> str:
    return " ".join(dp.report(outcome).to_text().split())


def shown(text: str, pattern: str) -> tuple[float, ...]:
    found = re.search(pattern, text)
    assert found, pattern
    return tuple(map(float, found.groups()))


def three(*values: Any) -> tuple[float, ...]:
    return tuple(float(digits(v)) for v in values)


def test_every_figure_of_what_it_does_is_the_librarys(outcome: dp.Outcome, page: str) -> None:
    first, job = outcome.first, outcome.job
    op = dp.operating_point(first.pump, first.line)
    spread = dp.band(first.pump, first.line, dp.Doubt.usual(), job.samples, job.seed)
    turning = dp.cycle(first.pump, first.line, job.pit, inflow_gpm=job.inflow_gpm)
    n = r"([\d.]+)"
    assert shown(page, rf"Moves {n} gpm \({n} L/s\)") == three(op.flow_gpm, op.flow_lps)
    assert shown(page, rf"probably between {n} and {n} gpm") == three(
        spread.flow_gpm["p10"], spread.flow_gpm["p90"]
    )
    assert shown(page, rf"{n} gpm \({n} L/s\) needed") == three(job.need_gpm, job.need_lps)
    assert shown(page, rf"it runs {n} s") == (round(turning.run_s),)
    assert shown(page, rf"rests {n} min") == (round(turning.rest_s / 60, 1),)
    assert shown(page, rf": {n} starts an hour") == three(turning.starts_per_h)
    assert shown(page, rf"At worst {n} starts") == three(turning.worst_starts_per_h)
    out = dp.outage(job.pit, inflow_gpm=job.inflow_gpm)
    assert shown(page, rf"holds for {n} min") == (round(out.overflow_min, 1),)


def test_levels_take_off_and_acceptance_are_the_librarys(outcome: dp.Outcome, page: str) -> None:
    job, first = outcome.job, outcome.first
    n = r"([\d.]+)"
    for level in ("off", "on", "alarm"):
        inch, mm = getattr(job.pit, f"{level}_in"), getattr(job.pit, f"{level}_mm")
        assert shown(page, rf"\b{level} {n} in \({n} mm\)") == three(inch, mm)
    still = dp.cycle(first.pump, first.line, job.pit, inflow_gpm=0)
    assert outcome.acceptance is not None
    assert outcome.acceptance.time_s == pytest.approx(first.shortest_run_s)
    drained = still.working_volume_gal / first.shortest_run_s * 60
    assert first.flow_gpm < drained < 1.1 * first.flow_gpm
    assert shown(page, rf"\(508 to 203 mm\): {n} s") == (round(first.shortest_run_s),)
    frame = dp.report(outcome).take_off
    assert frame.equals(outcome.take_off.to_frame())
    pipe = frame[frame["kind"] == "pipe"].iloc[0]
    assert shown(page, rf"{n} \(235 ft") == (pipe["pieces"],)


def test_the_pages_hold_no_codes_paths_or_percentiles(outcome: dp.Outcome) -> None:
    for units in ("us", "metric"):
        text = dp.report(outcome).to_text(units)
        assert not re.findall(r"\$|\bP[159]0\b|[a-z]+_[a-z]+|\{|\}", text)
        assert len(text.splitlines()) < 170


def test_metric_pages_say_metric_first(outcome: dp.Outcome) -> None:
    text = " ".join(dp.report(outcome).to_text("metric").split())
    flow = outcome.first.si.flow
    assert f"Moves {two(flow, 'gpm', 'metric')}, probably " in text
    assert between(outcome.band.si.flow[0], outcome.band.si.flow[2], "gpm", "metric") in text


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
    garden = market_garden().with_pumps(dp.read_curves(str(ROOT / "curves_demo")))
    return [
        garden,
        garden.replace(need_gpm=500),
        garden_by_need().replace(pit=None, inflow_gpm=None, limits=None, pumps=garden.pumps),
        garden.replace(lines=garden.lines[2:], costs=dp.Costs(pipe_per_ft=3, currency="crowns")),
        dp.Job.from_dict(changed("need_gpm", 20)),
        dp.Job.from_dict(changed("inflow_lps", 6)),
    ]


@pytest.mark.skipif(BROWSER is None, reason="no headless browser on this machine")
@pytest.mark.parametrize("size", ["letter", "A4"])
def test_it_prints_on_two_pages(tmp_path: Path, size: str) -> None:
    # A4 is the taller: there the longest of them will do
    for i, job in enumerate(jobs() if size == "letter" else jobs()[3:4]):
        page, pdf = tmp_path / f"{i}.html", tmp_path / f"{i}.pdf"
        text = dp.report(job).to_html().replace("size: auto", f"size: {size}")
        page.write_text(text, encoding="utf-8")
        subprocess.run(
            [str(BROWSER), "--headless", "--no-sandbox", "--disable-gpu",
             "--no-pdf-header-footer", f"--print-to-pdf={pdf}", page.as_uri()],
            check=True, capture_output=True, timeout=120,
        )  # fmt: skip
        assert len(re.findall(rb"/Type\s*/Page\b", pdf.read_bytes())) == 2, job.name
