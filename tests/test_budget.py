"""Work beyond the budget is refused before it begins; what is within it needs little memory."""

from __future__ import annotations

import time
import tracemalloc
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import drainpump as dp
from tests import refused
from tests.problems import PUMP_A, r1_line, r1_pit

MEND = "ask for less at once, or allow more with drainpump.budget(points=...)."
LINE = r1_line()
LONG = LINE.replace(runs=[dp.Run(pipe=dp.pvc("2"), length_ft=1)] * 100)
STORM = dp.Hydrograph(flow_gpm=[0, 40, 0], time_min=[0, 60, 120])
OPEN = dp.straight_line(pipe=dp.pvc("2"), length_ft=9, lift_ft=6, check_valve=False)
BUCKET = dp.field.bucket_test(volume_gal=5, fill_s=12)
NARROW = r1_pit(on_in=6 + 1e-9)


def traced(call: Callable[[], Any]) -> tuple[Any, float]:
    """The answer of a call and the most memory (MB) it held."""
    tracemalloc.start()
    try:
        return call(), tracemalloc.get_traced_memory()[1] / 1e6
    finally:
        tracemalloc.stop()


REFUSED: refused.Rows = {
    "solve": [
        (lambda: dp.operating_point(PUMP_A, LONG, level_above_off_ft=np.zeros(600_000)),
         "operating_point: 600000 elements × 100 runs are 60000000 points of work: must be at "
         f"most 50000000; {MEND}"),
        (lambda: dp.band(PUMP_A, LONG, dp.Doubt.usual(), samples=1 << 20),
         "band: 100 runs × 1048576 samples are 104857600 points of work: must be at most 50000000; "
         f"{MEND}"),
        (lambda: dp.select([PUMP_A] * 100, [LONG], need_gpm=9, samples=65_536),
         "select: 100 pumps × 100 runs × 65536 samples are 655360000 points of work: must be at "
         f"most 50000000; {MEND}"),
        (lambda: dp.cycle(PUMP_A, r1_line(lift_ft=np.full(2_000_000, 6.0)), r1_pit(), inflow_gpm=9),
         "levels: 2000000 elements × 34 levels are 68000000 points of work: must be at "
         f"most 50000000; {MEND}"),
    ],
    "pairs": [
        (lambda: dp.band(PUMP_A, LONG, dp.Doubt.usual(), samples=65_536, pit=r1_pit()),
         "band: 100 runs × 65536 samples × 20 points each are 131072000 points of work: must be at "
         f"most 50000000; {MEND}"),
        (lambda: dp.explain(PUMP_A, LINE.replace(runs=LONG.runs * 10)),
         "explain: 1000 runs × 1000 changes × 100 points each are 100000000 points of work: must "
         f"be at most 50000000; {MEND}"),
        (lambda: dp.drain_back(PUMP_A, OPEN, r1_pit(),
                               inflow_gpm=np.full(1_000_000, 3.0)),
         "drain_back: 1000000 elements × 100 points each are 100000000 points of work: must be at "
         f"most 50000000; {MEND}"),
    ],
    "field": [
        (lambda: dp.field.calibrate(PUMP_A, LINE, [BUCKET] * 8000),
         "calibrate: 8000 tests × 8000 points each are 64000000 points of work: must be at most "
         f"50000000; {MEND}"),
        (lambda: dp.field.learn(PUMP_A, [BUCKET] * 20_000, LINE),
         "learn: 20000 tests × 4096 samples are 81920000 points of work: must be at most 50000000; "
         f"{MEND}"),
        (lambda: dp.field.match_curves([PUMP_A], flow_gpm=np.full(100_000, 20), head_ft=15,
                                       sigma_gpm=1, sigma_ft=1),
         "match_curves: 100000 readings × 1000 points each are 100000000 points of work: must be "
         f"at most 50000000; {MEND}"),
    ],
    "storms": [
        (lambda: dp.route(PUMP_A, LINE, NARROW, STORM),
         "route: 2178653009107 starts and steps × 10 points each are 21786530091071 points of "
         f"work: must be at most 50000000; {MEND}"),
        (lambda: dp.route(PUMP_A, LINE, r1_pit(), STORM).to_frame(step_s=1e-6),
         "to_frame: 7200000000 rows × 10 points each are 72000000000 points of work: must be at "
         f"most 50000000; {MEND}"),
        (lambda: dp.inflow.nrcs_storm("II", depth_in=4, block_min=1e-6),
         "nrcs_storm: 1440000000 blocks are 1440000000 points of work: must be at most 50000000; "
         f"{MEND}"),
        (lambda: dp.inflow.RainTable(duration_min=[5, 60], depth_in=[0.4, 1.5]).nested_storm(
            block_min=1e-7),
         "nested_storm: 600000000 blocks × 20 points each are 12000000000 points of work: must be "
         f"at most 50000000; {MEND}"),
        (lambda: dp.select([PUMP_A] * 400, [LINE] * 300, need_gpm=9, pit=r1_pit(),
                           storms=STORM, doubt=None),
         "select: 400 pumps × 300 lines × 500 points each are 60000000 points of work: must be at "
         f"most 50000000; {MEND}"),
    ],
    "class": [
        (lambda: dp.teach.class_set(8, pupils=30_000),
         "class_set: 30000 pupils × 2000 points each are 60000000 points of work: must be at "
         f"most 50000000; {MEND}"),
    ],
    "itself": [
        (lambda: dp.budget(points="much").__enter__(),
         "points='much': must be a number above 0; say how much a call may do."),
        (lambda: dp.budget(points=0).__enter__(),
         "points=0: must be a number above 0; say how much a call may do."),
    ],
}  # fmt: skip


@refused.each(REFUSED)
def test_too_much_is_refused_before_it_is_begun(call: Callable[[], Any], message: str) -> None:
    begin = time.process_time()
    refused.check(call, message)
    assert time.process_time() - begin < 5


def test_the_refusal_is_told_to_a_program() -> None:
    with pytest.raises(dp.InputError) as err, dp.budget(points=100):
        dp.band(PUMP_A, LINE, dp.Doubt.usual(), samples=256)
    (problem,) = err.value.problems
    assert (problem.code, problem.value, problem.allowed) == ("budget", 256, "must be at most 100")


def test_a_budget_holds_where_it_is_said_and_nowhere_else() -> None:
    def solved() -> bool:
        return bool(dp.operating_point(PUMP_A, LINE, level_above_off_ft=np.zeros(9)).ok.all())

    with dp.budget(points=8):
        with pytest.raises(dp.InputError, match="9 elements are 9 points of work"):
            solved()
        with dp.budget(points=float("inf")):
            assert solved()
        with ThreadPoolExecutor(1) as other:
            assert other.submit(solved).result()
    assert solved()


@pytest.mark.parametrize("pit", [None, r1_pit()])
def test_many_draws_of_a_line_of_many_runs_are_drawn_in_turn(pit: dp.Pit | None) -> None:
    line = LINE.replace(runs=LONG.runs[:20])
    samples = 2048 if pit else 32_768
    few = dp.band(PUMP_A, line, dp.Doubt.usual(), 4096)
    found, held = traced(lambda: dp.band(PUMP_A, line, dp.Doubt.usual(), samples, pit=pit))
    assert held < 120  # MB; all at once 600
    assert found.flow_gpm["p50"] == pytest.approx(few.flow_gpm["p50"], rel=2e-3)


def test_thousands_of_unknown_facts_are_told_in_a_moment(tmp_path: Path) -> None:
    rows = [f"Pump number {i},0,20\nPump number {i},40,2\n" for i in range(1500)]
    (tmp_path / "a.csv").write_text("pump,flow_gpm,head_ft\n" + "".join(rows), encoding="utf-8")
    facts = [f"Pomp numbar {i}x,5\n" for i in range(1500)]
    (tmp_path / "b.csv").write_text("pump,price\n" + "".join(facts), encoding="utf-8")
    begin = time.process_time()
    with pytest.raises(dp.CatalogError) as err:
        dp.read_curves(tmp_path)
    assert time.process_time() - begin < 4
    first, *_, last = err.value.problems
    assert first.allowed.startswith("no curve has this name; did you mean 'Pump number 0'")
    assert last.allowed == "and 500 problems more; mend these first"
