"""Choices, side checks, profiles and rules of thumb by hand figures and textbook formulas."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

import drainpump as dp
from tests.oracles import hydraulics as hyd
from tests.oracles.hydraulics import FOOT, GALLON, GPM, NU_60F, Line
from tests.problems import DROOPING
from tests.twins import CASES, any_line, any_pump, differ, gap, leg, line_of, pump_of

A = hyd.parabola(20, 50)
LIB_A = pump_of(A, name="A", price=300)
NO_SHUTOFF = dp.PumpCurve(flow_gpm=[10, 30, 50], head_ft=[19, 12.8, 0])
PSI_PER_FOOT = hyd.RHO_60F * hyd.G * FOOT / 6894.757


def check_of(pump: Any, line: dp.DischargeLine, code: str) -> Any:
    return next(c for c in dp.side_checks(pump, line).checks if c.code == code)


# --- valve slam: a rigid column, slowed by the head the line asks ---


def test_slam_of_a_vented_line_is_of_its_riser() -> None:
    pipe = dp.pvc("1-1/2")
    line = dp.DischargeLine(
        runs=[
            dp.Run(pipe=pipe, length_ft=18, rise_ft=14),
            dp.Run(pipe=pipe, length_ft=300, rise_ft=-13.5),
        ]
    )
    twin = Line((leg(1.590, 18, 14), leg(1.590, 300, -13.5)), nu=NU_60F)
    want = hyd.slowing(twin, hyd.operating_flow(A, twin))
    # friction helps: without it, 18 ft · V / (g · 14 ft) would be 0.166 s
    assert 0.10 <= want <= 0.16
    slam = check_of(LIB_A, line, "valve_slam")
    assert (slam.verdict, slam.value) == ("look", pytest.approx(want, rel=1e-3))


def test_slam_of_a_drowned_outlet_is_of_the_whole_line() -> None:
    """An outlet 2 ft below the off level, its water 3 ft above it: 100 ft come back over 3 ft."""
    under = dp.straight_line(
        pipe=dp.pvc("2"), length_ft=100, lift_ft=-2, outlet=dp.SubmergedOutlet(depth_ft=5)
    )
    open_end = dp.straight_line(pipe=dp.pvc("2"), length_ft=100, lift_ft=3)
    drowned, free = (check_of(LIB_A, line, "valve_slam") for line in (under, open_end))
    assert (drowned.verdict, drowned.value) == ("fine", pytest.approx(free.value, rel=1e-9))


def test_slam_lies_between_its_bounds() -> None:
    """50 ft of 1.36 in and 100 ft of 3.042 in up 6 ft: with all the friction, and with none."""
    line = Line((leg(1.36, 50, 6), leg(3.042, 100, 0)))
    op = dp.operating_point(LIB_A, line_of(line))
    # V = 0.4085 gpm / d² (ft/s, in)
    feet = 0.4085 * op.flow_gpm * (50 / 1.36**2 + 100 / 3.042**2)
    slam = check_of(LIB_A, line_of(line), "valve_slam")
    assert feet / (32.174 * op.head_ft) < slam.value < feet / (32.174 * 6)
    # friction that goes by the square of the flow has a closed form; here it goes by less
    x = np.sqrt((op.head_ft - 6) / 6)
    assert slam.value == pytest.approx(feet / (32.174 * 6) * np.arctan(x) / x, rel=0.03)


def test_random_slams() -> None:
    def compare(rng: np.random.Generator) -> str | None:
        line = any_line(rng, legs=int(rng.integers(1, 4)), falls=bool(rng.random() < 0.4))
        made = any_pump(rng)
        q = hyd.operating_flow(made, line)
        if isinstance(q, str) or (len(line.crests()) == 0 and min(x.rise for x in line.legs) < 0):
            return None  # a dip holds its water: another matter
        ends = np.cumsum([x.rise for x in line.legs])
        if len(line.crests()) and ends.max() > ends[line.crests()[0]] + 1e-9:
            return None  # what climbs above the first crest runs back over it as well
        want = hyd.slowing(line, q)
        slam = check_of(pump_of(made), line_of(line), "valve_slam")
        if (slam.verdict == "fine") != (want >= 1.0) and abs(want - 1) > 0.01:
            return f"library {slam.value:.3g} s {slam.verdict}, oracle {want:.3g} s"
        return gap("s", slam.value, want, 1e-3)

    assert differ(CASES, compare) == ""


def test_slam_is_never_fine_where_the_flow_is_not_known() -> None:
    short = dp.PumpCurve(flow_gpm=[0, 20], head_ft=[20, 18])
    line = dp.straight_line(pipe=dp.pvc("3"), length_ft=100, lift_ft=2)
    assert dp.operating_point(short, line).status == "beyond_curve"
    slam = check_of(short, line, "valve_slam")
    assert slam.verdict in ("look", "not_known")
    # at least the last point's velocity, 20 gpm in 3.042 in
    want = hyd.slowing(Line((leg(3.042, 100, 2),), nu=NU_60F), 20 * hyd.GPM)
    assert slam.value == pytest.approx(want, rel=1e-3)


# --- tail water, pressure class ---


@pytest.mark.parametrize("code", ["standing_pressure", "water_hammer", "valve_slam"])
@pytest.mark.parametrize(("lift_ft", "depth_ft"), [(6, 2), (3, 5), (0.5, 8)])
def test_tail_water_counts_like_lift(code: str, lift_ft: float, depth_ft: float) -> None:
    """An end under water asks and bears what an end in the open at the water's surface does."""
    pipe = dp.pvc("2")
    drowned = dp.straight_line(
        pipe=pipe, length_ft=100, lift_ft=lift_ft, outlet=dp.SubmergedOutlet(depth_ft=depth_ft)
    )
    in_the_open = dp.straight_line(pipe=pipe, length_ft=100, lift_ft=lift_ft + depth_ft)
    found, want = (check_of(LIB_A, x, code).value for x in (drowned, in_the_open))
    assert found == pytest.approx(want, rel=1e-6)


def test_standing_pressure_under_tail_water() -> None:
    """Outlet 2 ft under the off level and 5 ft under water."""
    line = dp.straight_line(
        pipe=dp.pvc("2"), length_ft=100, lift_ft=-2, outlet=dp.SubmergedOutlet(depth_ft=5)
    )
    found = check_of(LIB_A, line, "standing_pressure").value
    assert found == pytest.approx(5 * PSI_PER_FOOT, rel=2e-3)


def test_pressure_class_is_judged_at_the_curves_peak() -> None:
    line = dp.straight_line(pipe=dp.pvc("2"), length_ft=100, lift_ft=6)
    found = check_of(DROOPING, line, "pressure_class").value
    assert found == pytest.approx(24 * PSI_PER_FOOT, rel=2e-3)


def test_cost_with_energy_of_a_pump_past_its_curve_is_at_its_bound() -> None:
    sel = dp.select([SHORT, LIB_A], [LINE], need_gpm=15, objective="cost", costs=COSTS, doubt=None)
    cost = {c.pump.name: c.cost for c in sel.candidates}
    line = Line((leg(2.047, 100, 2),), nu=NU_60F)
    at_point = line.head(hyd.operating_flow(A, line)) / FOOT
    assert cost["A"] == pytest.approx(300 + 200 + energy_cost(at_point), rel=1e-3)
    # at its last point it makes 18 ft, whatever of it the line takes
    assert cost["short"] == pytest.approx(100 + 200 + energy_cost(18), rel=1e-3)


def test_certainty_without_a_doubt_is_refused_or_met() -> None:
    refused, sel = "", None
    try:
        sel = dp.select([LIB_A], [LINE], need_gpm=42, certainty=0.99, doubt=None)
    except dp.InputError as err:
        refused = str(err)
    met = sel is not None and all(c.probability is not None for c in sel.candidates)
    assert met or "certainty" in refused


@pytest.mark.parametrize(("times", "accepted"), [(1.001, False), (1.5, True)])
def test_limit_on_starts_is_judged_with_the_certainty(times: float, accepted: bool) -> None:
    """Worst starts are Q/(4V): by a tenth of a per cent inside is a coin's throw."""
    pit = dp.Pit(diameter_in=18, depth_in=40, off_in=6, on_in=13)
    nominal = dp.cycle(LIB_A, LINE, pit, inflow_gpm=1).worst_starts_per_h
    sel = dp.select(
        [LIB_A], [LINE], pit=pit, need_gpm=20, objective="cost", costs=dp.Costs(pipe_per_ft=1.0),
        limits=dp.Limits(starts_max_per_h=times * nominal, without=["range_share_max"]),
        doubt=dp.Doubt(head_pct=4, flow_pct=5), certainty=0.9,
    )  # fmt: skip
    assert [c.accepted for c in sel.candidates] == [accepted]
    if not accepted:
        assert "starts_max" in {r.code for r in sel.candidates[0].reasons} or any(
            "starts" in r.code for r in sel.candidates[0].reasons
        )


# --- profile, priming, shutoff ---


@pytest.mark.parametrize(
    ("rises", "high", "low"),
    [
        ([5, 0, 5], set(), set()),
        ([-5, 0, -5], set(), set()),
        ([5, 3, -1], {2}, set()),
        ([5, -2, 3, -1], {1, 3}, {2}),
        ([5, 0, -5], {1, 2}, set()),
        ([-3, 0, 5], set(), {1, 2}),
        ([5, 0, 5, -2, 0, -1, 3], {3}, {6}),
    ],
)
def test_high_and_low_points_by_name(rises: list[float], high: set[int], low: set[int]) -> None:
    """A level run between two rises, or two falls, is neither; a level crest is, at either end."""
    runs = [dp.Run(pipe=dp.pvc("2"), length_ft=30, rise_ft=r) for r in rises]
    said = dp.DischargeLine(runs=runs).profile()["point"].tolist()
    for name, where in (("high point", high), ("low point", low)):
        found = {i for i, word in enumerate(said) if word == name}
        assert found <= where
        assert bool(found) == bool(where)


def test_priming_of_a_siphon_is_unknown_without_a_shutoff_point() -> None:
    """First point 19 ft at 10 gpm, crest at 19.5 ft: it may start or not."""
    line = line_of(Line((leg(2.047, 30, 19.5), leg(2.047, 120, -15.5)), siphon=True))
    assert dp.high_point(NO_SHUTOFF, line).verdict_code == "unknown"
    op = dp.operating_point(NO_SHUTOFF, line)
    assert op.status != "ok" or "not known" in str(op)
    (rejected,) = dp.select(NO_SHUTOFF, line, need_gpm=30).candidates
    (reason,) = rejected.reasons
    assert (reason.code, reason.verdict) == ("start_not_known", "not_known")


def test_head_at_shutoff_is_no_flow_whatever_the_rounding() -> None:
    def compare(rng: np.random.Generator) -> str | None:
        shutoff = round(float(rng.uniform(5, 40)), 1)
        parts = np.round(rng.uniform(0.1, 0.9, 2) * shutoff / 2, 2)
        rises = [float(parts[0]), float(parts[1]), shutoff - float(parts.sum())]
        if rng.random() < 0.5:
            runs = [dp.Run(pipe=dp.pvc("2"), length_ft=50, rise_ft=r) for r in rises]
        else:
            runs = [dp.Run(pipe=dp.pvc("2"), length_m=15, rise_m=r * FOOT) for r in rises]
        q = np.linspace(0, 50, 11)
        made = dp.PumpCurve(flow_gpm=q, head_ft=shutoff * (1 - (q / 50) ** 2))
        op = dp.operating_point(made, dp.DischargeLine(runs=runs))
        if (op.status, op.flow_gpm) == ("no_flow", 0.0):
            return None
        return f"shutoff {shutoff}, rises {rises}: {op.status} {op.flow_gpm}"

    assert differ(CASES, compare) == ""


# --- choice ---

LINE = dp.straight_line(pipe=dp.pvc("2"), length_ft=100, lift_ft=2)
SHORT = dp.PumpCurve(flow_gpm=[0, 20], head_ft=[20, 18], price=100, name="short")
COSTS = dp.Costs(pipe_per_ft=2.0, energy_per_kwh=0.2, water_per_year_gal=1e6, years=10)


def energy_cost(head_ft: float) -> float:
    """Ten million gallons through that head, a quarter of the power useful, 0.2 a kWh."""
    joule = 1e7 * GALLON * hyd.RHO_60F * hyd.G * head_ft * FOOT / 0.25
    return joule / 3.6e6 * 0.2


# --- rules of thumb ---

ELBOWS = dp.straight_line(
    pipe=dp.pvc("1-1/2"), length_ft=150, lift_ft=6, fittings={"elbow_90": dp.Fitting(5, k=0.8)}
)


def rule_like(*words: str, line: dp.DischargeLine = ELBOWS) -> Any:
    rules = dp.teach.rules_of_thumb(LIB_A, line).rules
    found = [r for r in rules if all(w in r.name for w in words)]
    return found[0] if found else None


def test_elbows_are_counted_as_pipe_not_as_head() -> None:
    assert rule_like("eight feet of head") is None
    rule = rule_like("eight feet of pipe", "elbow")
    assert rule is not None
    twin = Line((leg(1.590, 150, 6, 4.0),), nu=NU_60F)
    q = hyd.operating_flow(A, twin)
    one = twin.legs[0]
    per_foot = replace(one, k=0.0, length=FOOT).loss(q, "darcy", NU_60F)
    worth = 0.8 * one.velocity_head(q) / per_foot
    if rule.truth_ft is not None:  # in feet of pipe, one elbow or five
        assert any(rule.truth_ft == pytest.approx(n * worth, rel=0.02) for n in (1, 5))
    else:
        assert rule.truth_gpm == pytest.approx(q / GPM, rel=1e-3)
        guess = hyd.operating_flow(A, Line((leg(1.590, 190, 6),), nu=NU_60F))
        assert rule.guess_gpm == pytest.approx(guess / GPM, rel=1e-3)


def test_ten_feet_of_run_is_a_rule_on_all_losses() -> None:
    """100 ft up 6 ft: the guess asks 16 ft; A makes that at 50·sqrt(0.2) = 22.4 gpm."""
    line = dp.straight_line(pipe=dp.pvc("1-1/2"), length_ft=100, lift_ft=6, k=6.3)
    rule = rule_like("ten feet of run", line=line)
    assert rule.guess_gpm == pytest.approx(50 * np.sqrt(0.2), rel=1e-3)
    assert "all" in rule.holds
    assert "loss" in rule.holds


def test_twice_the_power_is_not_guessed_by_affinity() -> None:
    assert rule_like("horsepower") is None
