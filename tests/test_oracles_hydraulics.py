"""Lines, banks, weep holes and inverse questions beside solvers written apart.

Random cases: `DRAINPUMP_ORACLES=2000 pytest tests/test_oracles_hydraulics.py` runs more of them.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import drainpump as dp
from tests.heard import quietly
from tests.oracles import hydraulics as hyd
from tests.oracles.hydraulics import FOOT, GPM, INCH, NU_60F, Line
from tests.problems import BORES_IN, DROOPING, FLOWS_GPM
from tests.twins import (
    CASES,
    any_line,
    any_pump,
    bank_of,
    differ,
    gap,
    leg,
    line_of,
    pump_of,
    run_of,
)

A, B = hyd.parabola(20, 50, 200), hyd.parabola(35, 65, 200)
LIB_A = pump_of(A)
NO_SHUTOFF = dp.PumpCurve(flow_gpm=[10, 30, 50], head_ft=[19, 12.8, 0])
#: psi for a foot of water at 60 °F
PSI_PER_FOOT = hyd.RHO_60F * hyd.G * FOOT / 6894.757


def hump(bore_in: float, **more: object) -> Line:
    """12 ft up over 30 ft, then down to an outlet at 4 ft after 150 ft."""
    return Line((leg(bore_in, 30, 12, 3.9), leg(bore_in, 120, -8, 2.4)), **more)


# --- the solvers themselves, by figures known before ---


@pytest.mark.parametrize(("made", "name"), [(A, "A"), (B, "B")])
def test_solver_has_the_reference_problems_flows(made: hyd.Pump, name: str) -> None:
    for bore, want in zip(BORES_IN, FLOWS_GPM[name], strict=True):
        line = Line((leg(bore, 150, 6, 6.3),), lid=0.25 * FOOT)
        assert hyd.operating_flow(made, line) / GPM == pytest.approx(want, abs=0.006)


def test_solver_has_hazen_williams_and_the_longest_runs() -> None:
    for bore, flow, length in ((1.590, 25.96, 67.8), (2.047, 34.24, 326)):
        line = Line((leg(bore, 150, 6, 6.3),), lid=0.25 * FOOT)
        by_c = replace(line, law="hazen_williams")
        assert hyd.operating_flow(A, by_c) / GPM == pytest.approx(flow, abs=0.006)
        assert hyd.longest(A, line, 30 * GPM) / FOOT == pytest.approx(length, abs=0.5)


def test_solver_of_banks_by_its_own_sum() -> None:
    """Two alike with no risers are one of twice the flow; heads in a row are one of the sum."""
    line = Line((leg(2.047, 150, 6, 6.3),))
    double = hyd.Pump(2 * A.flow, A.lifts)
    total, shares = hyd.side_by_side([A, A], [None, None], line)
    assert total == pytest.approx(hyd.operating_flow(double, line), rel=1e-9)
    assert shares == pytest.approx([total / 2] * 2, rel=1e-6)
    twice = hyd.Pump(A.flow, 2 * A.lifts)
    assert hyd.in_series([A, A], line) == pytest.approx(hyd.operating_flow(twice, line), rel=1e-9)


# --- the velocity head at a vented crest ---

HUMPS = ((1.590, 25.86, 27.82), (2.047, 29.33, 36.82))


@pytest.mark.parametrize(("bore", "vented", "siphon"), HUMPS)
def test_hump_vented_and_siphoning(bore: float, vented: float, siphon: float) -> None:
    line = hump(bore)
    assert hyd.operating_flow(A, line) / GPM == pytest.approx(vented, abs=0.006)
    assert hyd.operating_flow(A, replace(line, siphon=True)) / GPM == pytest.approx(
        siphon, abs=0.006
    )
    both = dp.high_point(LIB_A, line_of(line))
    assert both.vented_flow_gpm == pytest.approx(vented, abs=0.006)
    assert both.siphon_flow_gpm == pytest.approx(siphon, abs=0.006)
    for siphoning, want in ((False, vented), (True, siphon)):
        op = dp.operating_point(LIB_A, line_of(replace(line, siphon=siphoning)))
        assert op.flow_gpm == pytest.approx(want, abs=0.006)
        assert op.vented_flow_gpm == pytest.approx(vented, abs=0.006)


def test_velocity_head_of_the_crest_stands_in_outlet() -> None:
    line = hump(1.590)
    op = dp.operating_point(LIB_A, line_of(line))
    want = line.legs[0].velocity_head(op.flow_gpm * GPM) / FOOT
    assert want == pytest.approx(0.27, abs=0.005)
    assert op.outlet_ft == pytest.approx(want, rel=1e-6)
    # the lid stands at the last end and presses on nothing here
    lidded = dp.operating_point(LIB_A, line_of(replace(line, lid=0.25 * FOOT)))
    assert lidded.outlet_ft == pytest.approx(want, rel=1e-6)
    parts = op.static_ft + op.pipe_ft + op.fittings_ft + op.outlet_ft
    assert parts == pytest.approx(op.head_ft, rel=1e-9)


def test_open_end_at_the_crest_gives_no_less_than_with_a_leg_behind() -> None:
    def compare(rng: np.random.Generator) -> str | None:
        riser = any_line(rng, falls=False)
        riser = replace(riser, lid=0.0)
        leg_behind = leg(rng.uniform(1, 3), rng.uniform(5, 100), -rng.uniform(0.1, 5))
        made = pump_of(any_pump(rng))
        with_leg = line_of(replace(riser, legs=(*riser.legs, leg_behind)))
        alone, behind = (dp.operating_point(made, x) for x in (line_of(riser), with_leg))
        if alone.ok and behind.ok and behind.flow_gpm > alone.flow_gpm * (1 + 1e-9):
            return f"open {alone.flow_gpm:.4f}, with a leg behind {behind.flow_gpm:.4f} gpm"
        return None

    assert differ(CASES, compare) == ""


@pytest.mark.parametrize("bore", [1.590, 2.047])
def test_drawn_grade_line_never_rises(bore: float) -> None:
    """Of one bore all along the grade line runs a velocity head under the energy line."""
    ax = dp.plots.profile(line_of(hump(bore)), LIB_A)
    drawn = [np.asarray(x.get_ydata(), float) for x in ax.lines if len(x.get_ydata()) > 10]
    grade = [y for y in drawn if y[0] > 10]
    assert grade
    for y in grade:
        assert np.diff(y).max() <= 1e-9


def test_random_lines() -> None:
    def compare(rng: np.random.Generator) -> str | None:
        line = replace(any_line(rng), siphon=bool(rng.random() < 0.3))
        made = any_pump(rng)
        want = hyd.operating_flow(made, line)
        op = dp.operating_point(pump_of(made), line_of(line))
        if isinstance(want, str):
            return None if op.status == want else f"library {op.status}, oracle {want}"
        if op.status != "ok":
            return f"library {op.status}, oracle {want / GPM:.4f} gpm"
        crest = f" crests {line.crests()} siphon {line.siphon}"
        return (found := gap("gpm", op.flow_gpm, want / GPM, 2e-5)) and found + crest

    assert differ(2 * CASES, compare) == ""


# --- inverse questions, and banks with risers ---


def test_duty_of_a_siphon_starts_over_its_crest() -> None:
    line = line_of(Line((leg(2.047, 30, 18, 3.9), leg(2.047, 120, -14, 2.4)), siphon=True))
    assert dp.size.duty_to_buy(line, need_gpm=20).zero_flow_head_ft == pytest.approx(18.0)


def test_greatest_lift_of_a_siphon_keeps_its_crest_below_shutoff() -> None:
    """Crest 12 ft, outlet 4: at 20 ft of shutoff the line may rise by 8 ft at the most."""
    line = hump(2.047, siphon=True)
    want = hyd.greatest_lift(A, line, 20 * GPM) / FOOT
    assert want == pytest.approx(12.0)
    found = dp.size.max_lift(LIB_A, line_of(line), need_gpm=20)
    assert found.lift_ft == pytest.approx(want, rel=1e-3)


def test_greatest_lift_of_a_bank_counts_from_the_off_level() -> None:
    line, riser = Line((leg(2.047, 100, 2),)), leg(2.047, 10, 6, 2)
    want = hyd.greatest_lift_of([A, A], [riser, riser], line, 30 * GPM) / FOOT
    found = dp.size.max_lift(bank_of([A, A], [riser, riser]), line_of(line), need_gpm=30)
    assert found.lift_ft == pytest.approx(want, rel=1e-4)


def test_random_inverse_questions() -> None:
    def compare(rng: np.random.Generator) -> str | None:
        line = any_line(rng)
        made, need = any_pump(rng), rng.uniform(4, 25) * GPM
        asked, lib = line_of(line), pump_of(made)
        head = line.head(need)
        duty = dp.size.duty_to_buy(asked, need_gpm=need / GPM)
        found = gap("duty ft", duty.head_ft, head / FOOT, 2e-5)
        found = found or gap("start ft", duty.zero_flow_head_ft, line.start_head() / FOOT, 1e-9)
        lift = hyd.greatest_lift(made, line, need) / FOOT
        if lift > 0 and need < made.last:
            top = dp.size.max_lift(lib, asked, need_gpm=need / GPM)
            # below its own lift 0 the library asks nothing
            if np.isfinite(top.lift_ft):
                found = found or gap("lift ft", top.lift_ft, lift, 1e-3)
        if len(line.legs) == 1 and need < made.last:
            far = hyd.longest(made, line, need) / FOOT
            if line.legs[0].rise / FOOT < far < 50_000:
                reach = dp.size.max_length(lib, asked, need_gpm=need / GPM)
                found = found or gap("length ft", reach.length_ft, far, 1e-3)
        return found

    assert differ(CASES, compare) == ""


def test_explanation_of_a_bank_starts_without_its_risers() -> None:
    riser, line = leg(2.047, 10, 6, 8), Line((leg(2.047, 100, 2),))
    why = dp.explain(bank_of([A, A], [riser, riser]), line_of(line))
    # two pumps side by side in the open
    assert why.free_flow_gpm == pytest.approx(100, rel=1e-3)
    assert why.shares["lost_gpm"].sum() == pytest.approx(100 - why.flow_gpm, rel=1e-3)
    # with the lift of both taken in, 8 ft, and nothing else
    lifted = hyd.operating_flow(hyd.Pump(2 * A.flow, A.lifts), Line((leg(20, 0.01, 8),)))
    steps = why.steps.set_index("cause")["flow_gpm"]
    assert steps["lift"] == pytest.approx(lifted / GPM, rel=1e-3)
    heads = why.ledger["head_ft"].sum()
    q = why.flow_gpm * GPM
    want = line.head(q) + riser.rise + riser.loss(q / 2, "darcy", hyd.NU)
    assert heads == pytest.approx(want / FOOT, rel=1e-4)


def test_cost_of_a_bank_has_its_risers_pipe() -> None:
    riser = dp.Run(pipe=dp.pvc("2"), length_ft=10, rise_ft=6, k=2)
    priced = dp.PumpCurve(flow_gpm=A.flow / GPM, head_ft=A.lifts / FOOT, price=100)
    line = dp.straight_line(pipe=dp.pvc("2"), length_ft=100, lift_ft=2)
    found = dp.select(
        [dp.parallel([priced, priced], riser)], [line], need_gpm=20, objective="cost",
        costs=dp.Costs(pipe_per_ft=2.0), doubt=None,
    )  # fmt: skip
    assert found.candidates[0].cost == pytest.approx(2 * 100 + 2 * (100 + 2 * 10))


def test_side_checks_of_a_bank_look_at_its_risers() -> None:
    riser = run_of(leg(1.36, 10, 6, 2), name="riser")
    checks = dp.side_checks(
        dp.parallel([LIB_A, LIB_A], riser), line_of(Line((leg(3.042, 100, 2),))), wall_in=0.15
    )
    frame = checks.to_frame()
    of_riser = frame[frame["where"].str.contains("riser")]
    assert {"water_hammer", "pressure_class"} <= set(of_riser["code"])
    # the riser is the narrowest: its velocity makes the largest hammer
    hammer = frame[frame["code"] == "water_hammer"].set_index("where")["value"]
    assert "riser" in str(hammer.idxmax())


def test_standing_pressure_of_a_bank_counts_its_rising_risers() -> None:
    """The valves hold 6 ft of riser and 2 ft of line over the pumps."""
    riser = dp.Run(pipe=dp.pvc("2"), length_ft=10, rise_ft=6, name="riser")
    line = dp.straight_line(pipe=dp.pvc("2"), length_ft=100, lift_ft=2)
    frame = dp.side_checks(dp.parallel([LIB_A, LIB_A], riser), line).to_frame()
    standing = frame[frame["code"] == "standing_pressure"]["value"]
    assert standing.max() == pytest.approx(8 * PSI_PER_FOOT, rel=2e-3)


# --- the weep hole ---


def test_weep_hole_of_a_curve_without_shutoff() -> None:
    line = dp.straight_line(pipe=dp.Pipe(bore_in=2.047), length_ft=150, lift_ft=6)
    made = hyd.pump([10, 30, 50], [19, 12.8, 0])
    out, lost = hyd.weep(made, Line((leg(2.047, 150, 6),), nu=NU_60F), 0.1875 * INCH)
    assert out / GPM == pytest.approx(35.15, abs=0.006)
    assert lost / GPM == pytest.approx(1.28, abs=0.006)
    found = dp.weep_loss(NO_SHUTOFF, line, hole_in=0.1875)
    assert (found.status, found.flow_gpm, found.weep_gpm) == (
        "ok",
        pytest.approx(35.15, abs=0.006),
        pytest.approx(1.28, abs=0.006),
    )


@pytest.mark.parametrize("made", [A, hyd.pump([10, 30, 50], [19, 12.8, 0])])
@pytest.mark.parametrize("hole_in", [0.1, 0.5, 1.0, 2.0, 4.0, [4.0, 0.1], [0.1, 2.0]])
def test_weep_status_is_whole_and_no_nan_beside_ok(made: hyd.Pump, hole_in: object) -> None:
    line = dp.straight_line(pipe=dp.Pipe(bore_in=2.047), length_ft=150, lift_ft=6)
    # a hole wider than the pipe is doubted
    found = quietly(lambda: dp.weep_loss(pump_of(made), line, hole_in=hole_in))
    known = {"ok", "all_lost", "no_flow", "beyond_curve", "below_curve"}
    assert set(np.ravel(found.status)) <= known
    sound = np.isfinite(found.flow_gpm) & np.isfinite(found.weep_gpm)
    assert not np.any((np.asarray(found.status) == "ok") & ~sound)
    # where none leaves by the outlet the hole takes some, and how much is not worked out
    assert np.isnan(np.ravel(found.weep_gpm)[np.ravel(found.flow_gpm) == 0]).all()


def test_random_weep_holes() -> None:
    def compare(rng: np.random.Generator) -> str | None:
        line, made, hole = any_line(rng), any_pump(rng), rng.uniform(0.05, 0.4) * INCH
        if isinstance(hyd.operating_flow(made, line), str):
            return None
        want = hyd.weep(made, line, hole)
        found = dp.weep_loss(pump_of(made), line_of(line), hole_in=hole / INCH)
        if isinstance(want, str):
            return None if found.status == want else f"library {found.status}, oracle {want}"
        out = gap("out gpm", found.flow_gpm, want[0] / GPM, 1e-4)
        return out or gap("weep gpm", found.weep_gpm, want[1] / GPM, 1e-4)

    assert differ(CASES, compare) == ""


# --- pumps side by side, level stretches ---


def test_level_stretch_is_shared() -> None:
    q, head = [0, 10, 20, 30, 40], [20, 20, 17, 12, 5]
    line = dp.straight_line(pipe=dp.pvc("1"), length_ft=60, lift_ft=16)
    one = dp.PumpCurve(flow_gpm=q, head_ft=head)
    alone = dp.operating_point(one, line)
    assert alone.flow_gpm == pytest.approx(9.81, abs=0.006)
    made, twin = hyd.pump(q, head), Line((leg(1.029, 60, 16),), nu=NU_60F)
    assert hyd.operating_flow(made, twin) / GPM == pytest.approx(9.81, abs=0.006)
    total, _ = hyd.side_by_side([made, made], [None, None], twin)
    assert total / GPM == pytest.approx(9.81, abs=0.006)
    both = dp.operating_point(dp.parallel([one, one]), line)
    assert (both.status, both.flow_gpm) == ("ok", pytest.approx(9.81, abs=0.006))
    assert both.share_gpm == pytest.approx([9.81 / 2] * 2, abs=0.006)


def test_random_banks_side_by_side() -> None:
    def compare(rng: np.random.Generator) -> str | None:
        count = int(rng.integers(2, 4))
        pumps = [any_pump(rng, level=bool(rng.random() < 0.5)) for _ in range(count)]
        rise = rng.uniform(0, 4)
        behind = rng.random() < 0.5
        risers = [
            leg(rng.uniform(1.0, 2.5), rise + rng.uniform(0, 8), rise, rng.uniform(0, 4))
            if behind else None
            for _ in pumps
        ]  # fmt: skip
        line = any_line(rng)
        want = hyd.side_by_side(pumps, risers, line)
        op = dp.operating_point(bank_of(pumps, risers), line_of(line))
        if isinstance(want, str):
            return None if op.status == want else f"library {op.status}, oracle {want}"
        if op.status != "ok":
            return f"library {op.status}, oracle {want[0] / GPM:.4f} gpm"
        found = gap("total gpm", op.flow_gpm, want[0] / GPM, 5e-5)
        # how pumps on a level stretch split is theirs, but they sum up
        return found or gap("shares", np.nansum(op.share_gpm), want[0] / GPM, 5e-5)

    assert differ(CASES // 3, compare) == ""


def test_random_banks_in_series() -> None:
    def compare(rng: np.random.Generator) -> str | None:
        pumps, line = [any_pump(rng) for _ in range(2)], any_line(rng)
        want = hyd.in_series(pumps, line)
        op = dp.operating_point(dp.series([pump_of(p) for p in pumps]), line_of(line))
        if isinstance(want, str):
            return None if op.status == want else f"library {op.status}, oracle {want}"
        return gap("gpm", op.flow_gpm, want / GPM, 2e-5)

    assert differ(CASES, compare) == ""


@pytest.mark.parametrize("lift_ft", [5, 15, 19.9, 20.0, 21, 22.5, 23.9, 25])
def test_drooping_pump_behind_a_riser_of_no_length_has_one_status(lift_ft: float) -> None:
    line = dp.straight_line(pipe=dp.pvc("2"), length_ft=100, lift_ft=lift_ft)
    riser = dp.Run(pipe=dp.pvc("2"), length_ft=0)
    alone = dp.operating_point(DROOPING, line)
    for bank in (dp.parallel([DROOPING]), dp.parallel([DROOPING], riser)):
        op = dp.operating_point(bank, line)
        assert op.status == alone.status
        assert op.flow_gpm == pytest.approx(alone.flow_gpm, rel=1e-6, nan_ok=True)
