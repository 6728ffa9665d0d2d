"""The least that surely serves: the rule by a plain script, with nothing but operating points."""

from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.stats import norm, qmc

import drainpump as dp
from drainpump.paper.demo import market_garden

CURVES = Path(__file__).parents[1] / "curves_demo"
NEED, STARTS = 35.0, 60.0


@pytest.fixture(scope="module")
def site() -> tuple[list[Any], list[dp.DischargeLine], dp.Pit]:
    job = market_garden()
    assert job.pit is not None
    return dp.read_curves(CURVES), list(job.lines), job.pit


def drawn_flows(pump: Any, line: dp.DischargeLine, samples: int) -> list[float]:
    """Flows of pump and line with the usual doubt laid on them, draw by draw."""
    points = qmc.Sobol(8, rng=0).random_base2(int(math.log2(samples)))
    flows = []
    for x in points:
        length, lift, _, friction, k, head, flow, _ = np.clip(norm.ppf(x), -4, 4)
        bore = 1 + 0.0063 * (2 * x[2] - 1)
        runs = []
        for run in line.runs:
            local = sum(float(loss.k_each) * float(loss.count) for loss in run.losses)
            pipe = dp.Pipe(bore_in=run.pipe.bore_in * bore, roughness_ft=run.pipe.roughness_ft)
            # what the pipe loses goes by its length, so the doubt of friction is length too
            longer = run.length_ft * (1 + 0.05 * length) * (1 + 0.05 * friction)
            runs.append(dp.Run(pipe=pipe, length_ft=longer, k=local * math.exp(0.25 * k)))
        rises = [run.rise_ft for run in line.runs]
        runs[-1] = runs[-1].replace(rise_ft=sum(rises) + 0.5 * lift)
        # the exit's K = 1 is in the same doubt as the fittings'
        runs[-1] = runs[-1].replace(k=runs[-1].given["k"] + math.exp(0.25 * k) - 1)
        where = dp.DischargeLine(runs=runs, water_f=line.water_f)
        a, b = 1 + 0.04 * head, 1 + 0.05 * flow
        one = dp.PumpCurve(flow_gpm=pump.flow_gpm * b, head_ft=pump.head_ft * a)
        flows.append(dp.operating_point(one, where).flow_gpm)
    return flows


def test_the_rule_by_a_plain_script(site: Any) -> None:
    """Half of it by operating points alone: nominal figures, groups and order."""
    pumps, lines, pit = site
    sel = dp.select(pumps, lines, pit=pit, need_gpm=NEED,
                    limits=dp.Limits(starts_max_per_h=STARTS, run_min_s=20))  # fmt: skip
    served = []
    for i, pump in enumerate(pumps):
        for k, line in enumerate(lines):
            op = dp.operating_point(pump, line)
            sure = dp.band(pump, line, dp.Doubt.usual(), 512, 0)
            turn = dp.cycle(pump, line, pit, inflow_gpm=0)
            share = op.flow_gpm / pump.best_flow_gpm
            if (
                op.status == "ok"
                and sure.probability(need_gpm=NEED) >= 0.9
                and op.velocity_slowest_fps >= 2
                and op.velocity_fastest_fps <= 8
                and 0.5 <= share <= 1.3
                and turn.worst_starts_per_h <= STARTS
                and turn.run_s >= 20
            ):
                served.append((op.flow_gpm * op.head_ft, share, i, k))
    served.sort()
    order: list[tuple[str, str]] = []
    while served:
        alike = [x for x in served if x[0] <= 1.05 * served[0][0]]
        alike.sort(key=lambda x: (max(0.7 - x[1], x[1] - 1.2, 0), abs(x[1] - 1), x[2], x[3]))
        order += [(pumps[i].name, lines[k].name) for _, _, i, k in alike]
        served = [x for x in served if x not in alike]
    assert [(c.pump.name, c.line.name) for c in sel.accepted] == order
    assert len(order) > 5


@pytest.mark.parametrize("priced", [False, True])
def test_the_garden_takes_the_half_horse_pump_on_two_inches(site: Any, priced: bool) -> None:
    pumps, lines, pit = site
    prices = {"1-1/2": 1.6, "2": 2.2, "3": 4.1}
    costs = dp.Costs(pipe_per_ft=prices) if priced else None
    best = dp.select(pumps, lines, pit=pit, need_gpm=NEED, costs=costs).best
    assert best is not None
    assert (best.pump.name, best.line.name) == ("Half-A", "2 in line")
    assert best.flow_low_gpm == pytest.approx(37.4, abs=0.05)
    assert best.flow_gpm / best.pump.best_flow_gpm == pytest.approx(1.10, abs=0.005)
    assert best.flow_low_gpm < best.flow_gpm < best.flow_high_gpm
    assert best.probability == 1
    assert best.warnings == ()


@pytest.mark.parametrize(("name", "at"), [("Three-Quarter-A", 0), ("Third-B", 2), ("Half-A", 1)])
def test_the_doubt_by_a_plain_script(site: Any, name: str, at: int) -> None:
    """Probability and band of a candidate from draws laid on keywords by hand."""
    pumps, lines, _ = site
    (pump,) = [p for p in pumps if p.name == name]
    (c,) = dp.select(pump, lines[at], need_gpm=NEED, samples=64).candidates
    flows = drawn_flows(pump, lines[at], 64)
    assert c.probability == np.mean(np.array(flows) >= NEED)
    found = np.quantile(flows, [0.1, 0.9], method="inverted_cdf")
    assert [c.flow_low_gpm, c.flow_high_gpm] == pytest.approx(found, rel=1e-4)


def test_nothing_doubted_says_so(site: Any) -> None:
    pumps, lines, _ = site
    sel = dp.select(pumps, lines, need_gpm=NEED, doubt=None)
    assert sel.sure == "nothing is doubted: each flow is taken as it stands"
    assert sel.best is not None
    assert (sel.best.probability, sel.best.flow_low_gpm) == (None, None)
    # what just carries it by its plain figure serves then
    assert any(c.pump.name == "Three-Quarter-B" and c.line is lines[0] for c in sel.accepted)


def test_starts_have_to_keep_their_limit_as_surely(site: Any) -> None:
    pumps, lines, pit = site
    (half,) = [p for p in pumps if p.name == "Half-A"]
    worst = dp.cycle(half, lines[1], pit, inflow_gpm=0).worst_starts_per_h
    for most, codes in ((worst * 1.2, []), (worst * 1.01, ["starts_uncertain"]),
                        (worst * 0.9, ["starts_high"])):  # fmt: skip
        limits = dp.Limits(starts_max_per_h=most)
        (c,) = dp.select(half, lines[1], pit=pit, need_gpm=NEED, limits=limits).candidates
        assert [r.code for r in c.reasons] == codes


def test_a_gravity_pipe_that_carries_less_rejects(site: Any) -> None:
    pumps, lines, _ = site
    (half,) = [p for p in pumps if p.name == "Half-A"]
    narrow = lines[1].replace(outlet=dp.GravityHandOff(bore_in=3, slope=0.005, n=0.012))
    (c,) = dp.select(half, narrow, need_gpm=NEED).candidates
    assert [r.code for r in c.reasons] == ["hand_off_short"]
    assert c.reasons[0].text == (
        "gives 39.7 gpm (2.5 L/s), the gravity pipe it hands over to carries 30.4 gpm "
        "(1.92 L/s) just full"
    )
    assert narrow.outlet.carries(flow_gpm=c.flow_gpm).status == "full"


def test_much_more_than_is_needed_is_said(site: Any) -> None:
    pumps, lines, _ = site
    found = dp.select(pumps, lines, need_gpm=NEED).candidates
    for c in found:
        ample = [w for w in c.warnings if w.code == "flow_ample"]
        assert bool(ample) == (c.flow_gpm > 1.5 * NEED)


def test_the_nearest_miss_comes_first(site: Any) -> None:
    pumps, lines, _ = site
    sel = dp.select(pumps, lines, need_gpm=NEED)
    short = [c for c in sel.rejected if [r.code for r in c.reasons] in (["flow_short"],
             ["flow_uncertain"])]  # fmt: skip
    assert len(short) > 8
    lows = [c.flow_low_gpm for c in short]
    assert lows == sorted(lows, reverse=True)
    assert [c.rank for c in sel.candidates] == list(range(1, 37))
