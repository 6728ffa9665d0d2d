"""Every result shows itself well: as a few lines in a console, as a table in a notebook."""

from __future__ import annotations

import doctest
import importlib
import inspect
import pkgutil
import re
from collections.abc import Callable, Mapping
from functools import cache
from html.parser import HTMLParser
from typing import Any

import numpy as np
import pytest

import drainpump as dp
from drainpump import units as u
from drainpump.results import Result, html_lines, html_table, short
from tests.examples import run
from tests.problems import DROOPING, PUMP_A, PUMP_B, r1_line, r1_pit
from tests.public import public

#: characters that a page may have for one result, and a console
PAGE, CONSOLE = 60_000, 4000


def classes() -> dict[str, type]:
    """Public classes that answer: all results, and all that turn into a frame or a page."""
    found: dict[str, type] = {}
    for module in pkgutil.walk_packages(dp.__path__, "drainpump."):
        if not module.name.endswith("__main__"):
            importlib.import_module(module.name)

    def below(cls: type) -> None:
        for kind in cls.__subclasses__():
            if not kind.__name__.startswith("_"):
                found[kind.__name__] = kind
            below(kind)

    below(Result)
    for name, item in public():
        if inspect.isclass(item) and hasattr(item, "_repr_html_"):
            found[name] = item
    return found


CLASSES = classes()
#: what is part of a result and shows itself beside it
PARTS_OF_RESULTS = ("Candidate", "Finding", "Fix", "NextTest")


def harvest() -> dict[str, list[Any]]:
    """Run the examples of the docstrings and keep what they make, by class."""
    found: dict[str, list[Any]] = {}

    def keep(item: Any) -> None:
        unfinished = not getattr(item, "tests", True)  # on its way to a diagnosis
        if type(item).__name__ in CLASSES and not inspect.isclass(item) and not unfinished:
            found.setdefault(type(item).__name__, []).append(item)

    as_before = Result.__post_init__

    def noted(self: Result) -> None:
        as_before(self)
        keep(self)

    with pytest.MonkeyPatch.context() as patch:
        # results of which an example shows but one number are kept too
        patch.setattr(Result, "__post_init__", noted)
        _run_examples(keep)
    return found


def _run_examples(keep: Callable[[Any], None]) -> None:
    for module in pkgutil.walk_packages(dp.__path__, "drainpump."):
        if module.name.endswith("__main__") or ".plots" in module.name:
            continue
        for test in doctest.DocTestFinder().find(importlib.import_module(module.name)):
            space = dict(test.globs)
            for item in [*run(test.examples, space), *space.values()]:
                keep(item)


def made_here() -> list[Any]:
    """What the examples do not happen to make."""
    line, pit = r1_line(), r1_pit()
    lines = [line, r1_line(3.042)]
    chosen = dp.select([PUMP_A, PUMP_B], lines, need_gpm=30)
    checks = dp.side_checks(PUMP_A, line)
    why = dp.explain(PUMP_A, line)
    found = dp.field.diagnose(PUMP_A, line, measured_gpm=18, sigma_gpm=1)
    return [
        *chosen.candidates,
        *(r for c in chosen.candidates for r in c.reasons),
        *checks.checks,
        checks,
        *why.fixes,
        why,
        found,
        found.next_test,
        dp.Job(pumps=[PUMP_A, PUMP_B], lines=lines, need_gpm=30).run(),
        PUMP_A.head(flow_gpm=[10, 60]),
        dp.cycle([PUMP_A, PUMP_B], lines, pit, inflow_gpm=[5, 10]),
        dp.teach.rules_of_thumb(PUMP_A, line),
        dp.teach.rules_of_thumb(PUMP_A, line)[0],
        dp.PopUpOutlet(opening_head_ft=0.25, gap_in=0.125, body_in=4).gap_loss(flow_gpm=25),
        dp.GravityHandOff(bore_in=4, slope=0.01, n=0.012).carries(flow_gpm=[40, 100]),
    ]


@cache
def made() -> dict[str, list[Any]]:
    """All that is shown, by class."""
    by_name = harvest()
    for item in made_here():
        by_name.setdefault(type(item).__name__, []).append(item)
    return by_name


class Page(HTMLParser):
    """Reads a page, checks that its tags nest, keeps its cells and heads."""

    VOID = ("br", "hr", "img", "meta", "col", "link")

    def __init__(self, text: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: set[str] = set()
        self.heads: list[str] = []
        self.said: list[str] = []
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: Any) -> None:
        self.tags.add(tag)
        if tag not in self.VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if data.strip():
            self.said.append(data)
            if self.open and self.open[-1] == "th":
                self.heads.append(data.strip())


@pytest.mark.parametrize("name", sorted({*CLASSES, *PARTS_OF_RESULTS}))
def test_every_result_shows_itself(name: str) -> None:
    assert made().get(name), f"no example makes a {name}"
    for item in made()[name][:4]:
        page = item._repr_html_()
        # pictures within stand in the page as text
        assert len(re.sub(r'src="data:image/[^"]*"', "", page)) < PAGE
        assert len(page) < 5 * PAGE
        assert Page(page).tags & {"table", "p", "dl", "ul"}
        assert 0 < len(repr(item)) < CONSOLE


RESULTS = sorted(name for name, kind in CLASSES.items() if issubclass(kind, Result))


@pytest.mark.parametrize("name", RESULTS)
def test_tables_have_units_in_their_heads(name: str) -> None:
    for item in made()[name][:3]:
        page = Page(item._repr_html_())
        if np.ndim(item.status):
            # a frame, whose columns are named as the attributes are, unit last
            columns = [str(c) for c in item.to_frame("us")]
            assert columns == [head for head in page.heads if head in columns]
            assert any(u.suffix_of(c) for c in columns)
            continue
        for view in u.views(CLASSES[name], "us"):
            value = view.__get__(item)
            if view.unit is None or value is None or isinstance(value, Mapping):
                continue
            if not np.isnan(np.asarray(value, dtype=float)).all():
                label = u.UNITS[view.unit].label
                assert any(label in text for text in page.said), view.name


def test_names_are_escaped_everywhere() -> None:
    pump = dp.PumpCurve(name="<b>&A", flow_gpm=[0, 20, 40, 50], head_ft=[20, 16.8, 7.2, 0])
    line, pit = r1_line(name="<i>line"), r1_pit()
    shown = [
        pump,
        dp.operating_point([pump], [line]),
        dp.cycle([pump], [line], pit, inflow_gpm=5),
        dp.select([pump], [line], need_gpm=20),
        dp.select([pump], [line], need_gpm=20).candidates[0],
        dp.explain(pump, line, pumps=[pump, PUMP_B]),
        *dp.explain(
            pump, line, pumps=[dp.PumpCurve(name="<u>", flow_gpm=[0, 9], head_ft=[9, 0])]
        ).fixes,
        dp.teach.rules_of_thumb(pump, line),
    ]
    for item in shown:
        page = Page(item._repr_html_())
        assert not page.tags & {"b", "i", "u"}, type(item).__name__


def test_sentences_are_not_cut_short() -> None:
    chosen = dp.select([PUMP_A, PUMP_B], [r1_line(), r1_line(3.042)], need_gpm=45)
    said = " ".join(Page(chosen._repr_html_()).said)
    for candidate in chosen.rejected:
        for reason in candidate.reasons:
            assert reason.text in said
    why = dp.explain(PUMP_A, r1_line())
    said = " ".join(Page(why._repr_html_()).said)
    for fix in why.fixes:
        assert all(text in said for text in (fix.name, fix.asks, *map(str, fix.breaks)))


def test_showing_changes_no_setting_of_pandas() -> None:
    import pandas as pd

    before = pd.get_option("display.max_colwidth")
    html_table(pd.DataFrame({"a": ["x" * 200]}))
    assert pd.get_option("display.max_colwidth") == before


def test_a_large_grid_stays_short() -> None:
    line = r1_line(length_ft=np.linspace(20, 300, 4000))
    op = dp.operating_point([PUMP_A, PUMP_B], line)
    cyc = dp.cycle([PUMP_A, PUMP_B], line, r1_pit(), inflow_gpm=10)
    for item in (op, cyc, line.head(flow_gpm=20)):
        assert len(item._repr_html_()) < PAGE
        assert len(repr(item)) < CONSOLE
    assert "  pattern: 8000 cycles" in repr(cyc).splitlines()


@pytest.mark.filterwarnings("ignore:.* no whole number of pieces")
def test_parts_with_arrays_stay_short() -> None:
    a = np.linspace(0.5, 1.0, 5000)
    parts = [
        dp.Fitting(count=a, k=a),
        dp.Pipe(bore_in=1 + a, hazen_williams_c=100 + a),
        dp.Run(pipe=dp.pvc("2"), length_ft=a, k=a, fittings={"elbow_90": 10 * a}),
        r1_line(length_ft=100 * a, k=a),
        dp.PopUpOutlet(opening_head_ft=a, gap_in=a, body_in=4, discharge_coefficient=a),
        dp.GravityHandOff(bore_in=4, slope=a / 100, n=a / 100),
        dp.inflow.Catchment(area_ft2=1000 * a, runoff=a, tc_min=5),
        r1_pit(off_in=6 * a),
        PUMP_A.worn(head=a),
    ]
    for part in parts:
        assert len(repr(part)) < 1000, type(part).__name__
    assert str(parts[0]) == (
        "Fitting(0.5 to 1, shape (5000,) pieces, K 0.5 to 1, shape (5000,) each)"
    )


def test_a_curve_of_many_points_shows_its_ends() -> None:
    many = dp.PumpCurve(flow_gpm=np.linspace(0, 50, 300), head_ft=np.linspace(20, 0, 300))
    page = Page(many._repr_html_())
    assert len(page.said) < 150
    assert "..." in page.said
    few = Page(PUMP_B.worn(head=0.9)._repr_html_())
    assert {"flow_gpm", "flow_lps", "head_ft", "head_m"} <= set(few.heads)


def test_possible_flows_of_a_drooping_curve() -> None:
    high = dp.straight_line(pipe=dp.pvc("4"), length_ft=25, lift_ft=22)
    op = dp.operating_point(DROOPING, high)
    assert op.crossings
    for flow in op.crossings:
        assert Page(flow._repr_html_()).tags == {"p"}


@pytest.mark.parametrize(
    ("values", "said"),
    [
        (0.6, "0.6"),
        ([1.0, 2.0], "[1.0, 2.0]"),
        (np.arange(20.0), "0 to 19, shape (20,)"),
        (np.full(9, np.nan), "no values, shape (9,)"),
        (np.arange(9) > 3, "4 False, 5 True"),
        (np.array(["ok"] * 8 + ["no_flow"]), "1 no_flow, 8 ok"),
    ],
)
def test_short(values: Any, said: str) -> None:
    assert short(values) == said


def test_html_lines() -> None:
    assert html_lines("a < b") == "<p>a &lt; b</p>"
    assert html_lines("T\n  flow: 3 & 4") == (
        "<table><caption>T</caption><tr><th style='text-align:left'>flow</th><td>3 &amp; 4</td>"
        "</tr></table>"
    )
