"""Cycling: run, rest and starts; the worst inflow; bodies, drain-back, patterns, statuses."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, optimize

import drainpump as dp
from tests.problems import DROOPING, GPM, PUMP_A, PUMP_B, parabola, r1_line, r1_pit


def constant(flow_gpm: object, inflow_gpm: object, pit: dp.Pit | None = None) -> dp.Cycle:
    return dp.cycle(flow_gpm=flow_gpm, pit=pit or r1_pit(), inflow_gpm=inflow_gpm)


# -- the reference problem


def test_a_constant_flow_in_the_reference_pit():
    turning = constant(34.1, 10)
    assert turning.working_volume_gal == pytest.approx(7.71, rel=0.005)
    assert turning.rest_s == pytest.approx(46.3, rel=0.005)
    assert turning.run_s == pytest.approx(19.2, rel=0.005)
    assert turning.worst_starts_per_h == pytest.approx(66.3, rel=0.005)
    assert turning.worst_inflow_gpm == pytest.approx(17.05, rel=0.005)
    assert turning.starts_per_h == pytest.approx(3600 / (turning.rest_s + turning.run_s))
    assert turning.keeps_up is True
    assert turning.pattern == "cycles"
    assert turning.status == "ok"


def test_pump_a_on_the_two_inch_line_whose_flow_changes_with_the_level():
    turning = dp.cycle(PUMP_A, r1_line(2.047), r1_pit(), inflow_gpm=10)
    assert turning.flow_at_off_gpm == pytest.approx(34.06, abs=0.02)
    assert turning.flow_at_on_gpm == pytest.approx(34.80, abs=0.02)
    assert turning.run_s == pytest.approx(18.9, rel=0.005)
    assert turning.rest_s == pytest.approx(46.3, rel=0.005)
    assert turning.worst_starts_per_h == pytest.approx(67.0, rel=0.005)
    assert turning.worst_inflow_gpm == pytest.approx(17.2, rel=0.005)


def test_the_flow_at_on_is_the_operating_point_at_that_level():
    line, pit = r1_line(), r1_pit()
    turning = dp.cycle(PUMP_A, line, pit, inflow_gpm=5)
    level = np.array([0, pit.on_in - pit.off_in]) / 12
    op = dp.operating_point(PUMP_A, line, level_above_off_ft=level)
    assert [turning.flow_at_off_gpm, turning.flow_at_on_gpm] == pytest.approx(
        op.flow_gpm.tolist(), rel=1e-12
    )


# -- closed forms of a constant flow


@given(st.floats(1, 90), st.floats(0.001, 0.999), st.floats(8, 40), st.floats(0.5, 20))
@settings(max_examples=60, deadline=None)
def test_constant_flow_has_the_closed_form(flow, share, diameter, drawdown):
    pit = r1_pit(diameter_in=diameter, on_in=6 + drawdown)
    volume, inflow = pit.working_volume_gal, share * flow
    turning = constant(flow, inflow, pit)
    assert turning.rest_s == pytest.approx(60 * volume / inflow, rel=1e-11)
    assert turning.run_s == pytest.approx(60 * volume / (flow - inflow), rel=1e-11)
    # 4 V / Q at Q / 2: MIL-HDBK-1005/9A, equations 1 and 2
    assert turning.worst_starts_per_h == pytest.approx(60 * flow / (4 * volume), rel=1e-9)
    assert turning.worst_inflow_gpm == pytest.approx(flow / 2, rel=1e-6)
    # both spellings
    metric = dp.cycle(flow_lps=flow * GPM * 1000, pit=pit, inflow_lps=inflow * GPM * 1000)
    assert metric.run_s == pytest.approx(turning.run_s, rel=1e-9)


# -- against fine numerical integration


def pump_down_s(
    pump: dp.PumpCurve, line: dp.DischargeLine, pit: dp.Pit, inflow_gpm: float
) -> float:
    """Pump-down time (s) by following the level in time, the flow solved at every step."""
    area = pit.area_m2
    body, top = 0.0, 0.0
    if pit.body_volume_l is not None:
        top = pit.body_height_mm / 1000
        body = pit.body_volume_l / 1000 / top
    off, on = pit.off_mm / 1000, pit.on_mm / 1000
    levels = on - (on - off) * np.linspace(0, 1, 4001)
    flow = dp.operating_point(pump, line, level_above_off_m=np.maximum(levels - off, 0)).flow_lps
    net = (np.asarray(flow) - inflow_gpm * GPM * 1000) / 1000
    free = area - np.where(levels < top, body, 0.0)
    # a trapezoid on a fine grid: the step at the body's top costs its share of one cell
    return float(integrate.trapezoid(free / net, -levels))


@pytest.mark.parametrize("inflow", [0.0, 10.0, 25.0])
@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"body_volume_gal": 1.5, "body_height_in": 10},
        {"body_volume_gal": 0.8, "body_height_in": 5},
        {"on_in": 28, "body_volume_gal": 2.5, "body_height_in": 9},
    ],
)
def test_pump_down_by_level_agrees_with_a_fine_integration(inflow, changes):
    line, pit = r1_line(2.047), r1_pit(**changes)
    turning = dp.cycle(PUMP_A, line, pit, inflow_gpm=inflow)
    # the library cuts the drawdown into 33 pieces, the check into 4000
    assert turning.run_s == pytest.approx(pump_down_s(PUMP_A, line, pit, inflow), rel=2e-4)


@pytest.mark.parametrize("share", [0.5, 0.99, 0.9999])
@pytest.mark.parametrize("lift", [6.0, 18.0, 19.7])
def test_an_inflow_near_the_flow_at_off_holds_the_pump_up(lift, share):
    """The flow at off is nearly met: the time grows without bound, by a logarithm."""
    line = r1_line(2.047, lift_ft=lift)
    inflow = share * dp.operating_point(PUMP_A, line).flow_gpm
    turning = dp.cycle(PUMP_A, line, r1_pit(), inflow_gpm=inflow)
    # closer and closer towards the off level, where the time is spent
    s = np.linspace(0, 1, 20001)
    flow = dp.operating_point(PUMP_A, line, level_above_off_ft=7 / 12 * s**4).flow_gpm
    minutes = integrate.trapezoid(4 * s**3 * turning.working_volume_gal / (flow - inflow), s)
    assert turning.run_s == pytest.approx(60 * minutes, rel=0.003)


def test_a_pump_body_shortens_the_cycle_by_its_share_of_the_volume():
    bare = constant(34.1, 10)
    body = constant(34.1, 10, r1_pit(body_volume_gal=1.4, body_height_in=14))
    share = body.working_volume_gal / bare.working_volume_gal
    assert share == pytest.approx((7.711 - 0.7) / 7.711, rel=1e-3)
    assert body.run_s == pytest.approx(bare.run_s * share, rel=1e-12)
    assert body.worst_starts_per_h == pytest.approx(bare.worst_starts_per_h / share, rel=1e-9)


# -- the worst inflow


@pytest.mark.parametrize(
    ("pump", "line", "pit"),
    [
        (PUMP_A, r1_line(2.047), r1_pit()),
        (PUMP_A, r1_line(2.047), r1_pit(on_in=29)),
        (PUMP_B, r1_line(), r1_pit(body_volume_gal=1.5, body_height_in=10)),
        (PUMP_A, r1_line(lift_ft=19.5), r1_pit()),
        (PUMP_A, r1_line(lift_ft=19.74), r1_pit()),
        (
            PUMP_A,
            r1_line(2.047, fittings={}, check_valve=False, length_ft=30),
            r1_pit(),
        ),
    ],
    ids=["plain", "deep", "body", "weak", "barely", "drains back"],
)
def test_the_worst_inflow_is_the_worst_of_all_inflows(pump, line, pit):
    turning = dp.cycle(pump, line, pit, inflow_gpm=0)
    every = np.linspace(0.0005, 0.9995, 2000) * turning.flow_at_off_gpm
    rates = dp.cycle(pump, line, pit, inflow_gpm=every).starts_per_h
    assert turning.worst_starts_per_h == pytest.approx(rates.max(), rel=1e-5)
    assert turning.worst_starts_per_h >= rates.max() * (1 - 1e-9)
    step = turning.flow_at_off_gpm / 2000
    assert turning.worst_inflow_gpm == pytest.approx(every[rates.argmax()], abs=1.5 * step)
    at_worst = dp.cycle(pump, line, pit, inflow_gpm=turning.worst_inflow_gpm)
    assert at_worst.starts_per_h == pytest.approx(turning.worst_starts_per_h, rel=1e-9)


def test_the_worst_case_does_not_depend_on_the_inflow_asked_about():
    turning = dp.cycle(PUMP_A, r1_line(), r1_pit(), inflow_gpm=[0, 1, 10, 25.7, 26, 40])
    assert np.ptp(turning.worst_starts_per_h) < 1e-9
    assert np.ptp(turning.worst_inflow_gpm) < 1e-9


# -- patterns


def test_the_patterns_over_rising_inflow():
    line = r1_line(2.047)  # 34.06 gpm at off, 34.80 at on
    inflow = np.array([0, 10, 34.0, 34.4, 34.7, 34.9, 60])
    turning = dp.cycle(PUMP_A, line, r1_pit(), inflow_gpm=inflow)
    assert turning.pattern.tolist() == [
        "idle",
        "cycles",
        "cycles",
        "runs_on",
        "runs_on",
        "falls_behind",
        "falls_behind",
    ]
    assert turning.keeps_up.tolist() == [True] * 5 + [False] * 2
    assert np.isinf(turning.run_s).tolist() == [False] * 3 + [True] * 4
    assert np.isfinite(turning.rest_s).tolist() == [False] + [True] * 6
    assert turning.rest_s[3:].tolist() == [0] * 4
    assert turning.starts_per_h[[0, 3, 4, 5, 6]].tolist() == [0] * 5
    assert (turning.starts_per_h[1:3] > 0).all()
    assert set(turning.status) == {"ok"}


def test_no_inflow_is_idle_and_its_run_the_shortest():
    turning = dp.cycle(PUMP_A, r1_line(), r1_pit(), inflow_gpm=[0, 1e-6, 5])
    assert turning.pattern.tolist() == ["idle", "cycles", "cycles"]
    assert turning.run_s[0] == pytest.approx(turning.run_s[1], rel=1e-6)
    assert turning.run_s[0] < turning.run_s[2]
    assert np.isinf(turning.rest_s[0])


def test_no_inflow_is_idle_even_for_a_pump_that_moves_nothing():
    turning = dp.cycle(PUMP_A, r1_line(lift_ft=30), r1_pit(), inflow_gpm=[0, 3])
    assert turning.pattern.tolist() == ["idle", "falls_behind"]
    assert turning.starts_per_h.tolist() == [0, 0]
    assert turning.worst_starts_per_h.tolist() == [0, 0]
    assert turning.keeps_up.tolist() == [False, False]
    assert turning.status.tolist() == ["no_flow", "no_flow"]
    assert np.isinf(turning.rest_s).tolist() == [True, False]


def test_a_constant_flow_equal_to_the_inflow_does_not_keep_up():
    turning = constant(20, [19.999, 20, 20.001])
    assert turning.keeps_up.tolist() == [True, False, False]
    assert turning.pattern.tolist() == ["cycles", "falls_behind", "falls_behind"]


def test_a_pump_that_reaches_the_outlet_from_on_but_not_from_off_runs_on():
    # 20 ft of shutoff; 20.2 ft asked at off and 19.6 at on
    turning = dp.cycle(PUMP_A, r1_line(2.047, lift_ft=19.95), r1_pit(), inflow_gpm=[0, 1, 30])
    assert turning.flow_at_off_gpm.tolist() == [0, 0, 0]
    assert (turning.flow_at_on_gpm > 1).all()
    assert turning.pattern.tolist() == ["idle", "runs_on", "falls_behind"]
    assert turning.status.tolist() == ["no_flow"] * 3
    assert np.isinf(turning.run_s).all()
    assert turning.starts_per_h.tolist() == [0, 0, 0]


# -- no check valve


def test_what_runs_back_shortens_the_rest_and_is_pumped_again():
    held = r1_line(2.047, fittings={}, length_ft=30)
    drains = r1_line(2.047, fittings={}, length_ft=30, check_valve=False)
    a, b = (dp.cycle(PUMP_A, line, r1_pit(), inflow_gpm=10) for line in (held, drains))
    volume_gal = np.pi / 4 * 2.047**2 * 30 * 12 / 231
    assert a.returned_gal == 0
    assert b.returned_gal == pytest.approx(volume_gal, rel=1e-12)
    assert b.rest_s == pytest.approx(60 * (b.working_volume_gal - volume_gal) / 10, rel=1e-12)
    # the pump faces less head while the line fills
    assert 0.85 * a.run_s < b.run_s < a.run_s
    assert b.starts_per_h > a.starts_per_h
    assert b.worst_starts_per_h > a.worst_starts_per_h
    # in a cycle what came in equals what was pumped less what ran back
    came_in = 10 / 60 * (b.run_s + b.rest_s)
    pumped = b.working_volume_gal + 10 / 60 * b.run_s  # out of the pit while running
    assert came_in == pytest.approx(pumped - volume_gal, rel=1e-12)


def test_a_line_that_holds_more_than_the_pit_restarts_the_pump_at_once():
    line = r1_line(2.047, fittings={}, check_valve=False)  # 25.6 gal in the line
    turning = dp.cycle(PUMP_A, line, r1_pit(), inflow_gpm=[0, 10])
    assert turning.returned_gal[0] > turning.working_volume_gal[0]
    assert turning.pattern.tolist() == ["restarts_at_once"] * 2
    assert turning.rest_s.tolist() == [0, 0]
    assert turning.starts_per_h == pytest.approx(3600 / turning.run_s)
    assert turning.worst_inflow_gpm.tolist() == [0, 0]
    # the worst is just above no inflow, where the settled cycle only fills the line
    assert turning.worst_starts_per_h[1] == pytest.approx(turning.starts_per_h[0], rel=1e-12)


# -- statuses


def test_flows_known_by_a_bound_alone_are_reckoned_with_and_said():
    short = dp.PumpCurve(flow_gpm=[0, 20], head_ft=[20, 17])
    late = dp.PumpCurve(flow_gpm=[30, 60], head_ft=[9, 0])
    turning = dp.cycle([short, late], r1_line(2.047), r1_pit(), inflow_gpm=5)
    assert turning.status.tolist() == ["beyond_curve", "below_curve"]
    assert turning.flow_at_off_gpm.tolist() == pytest.approx([20, 30])
    # at most 30 gpm may be none
    assert turning.keeps_up.tolist() == [True, False]
    assert turning.pattern.tolist() == ["cycles", "unknown"]
    same = constant([20, 30], 5)
    np.testing.assert_allclose(turning.run_s, same.run_s, rtol=1e-9)
    np.testing.assert_allclose(turning.worst_starts_per_h, same.worst_starts_per_h, rtol=1e-9)
    with pytest.raises(dp.StatusError) as err:
        turning.require()
    assert str(err.value) == (
        "Cycle at index (0,): beyond_curve; the flow is at least the curve's last point, which is "
        "used; get points further out"
    )


def test_a_bound_met_only_above_the_off_level_is_said_too():
    # known at the off level, beyond the last point before the on level
    line = r1_line(2.047)
    ends = dp.PumpCurve(flow_gpm=[0, 34.4], head_ft=[20, PUMP_A.head(flow_gpm=34.4).head_ft])
    op = dp.operating_point(ends, line, level_above_off_ft=[0, 7 / 12])
    assert op.status.tolist() == ["ok", "beyond_curve"]
    turning = dp.cycle(ends, line, r1_pit(), inflow_gpm=5)
    assert turning.status == "beyond_curve"
    assert turning.flow_at_on_gpm == pytest.approx(34.4)
    assert np.isfinite(turning.run_s)


def test_several_crossings_on_the_way_leave_it_unknown_whether_it_runs():
    line = dp.straight_line(pipe=dp.pvc("2"), length_ft=21, lift_ft=20.3)
    turning = dp.cycle(DROOPING, line, r1_pit(), inflow_gpm=5)
    assert turning.status == "multiple"
    assert turning.pattern == "unknown"
    greatest = max(x.flow_gpm for x in dp.operating_point(DROOPING, line).crossings)
    assert turning.flow_at_off_gpm == pytest.approx(greatest, rel=1e-12)
    assert turning.worst_starts_per_h > constant(greatest, 5).worst_starts_per_h


NAN = np.array([1.0, np.nan, 1.0])


@pytest.mark.parametrize(
    "call",
    [
        lambda: dp.cycle(PUMP_A, r1_line(), r1_pit(), inflow_gpm=10 * NAN),
        lambda: dp.cycle(PUMP_A, r1_line(length_ft=50 * NAN), r1_pit(), inflow_gpm=10),
        lambda: dp.cycle(PUMP_A, r1_line(), r1_pit(off_in=6 * NAN), inflow_gpm=10),
        lambda: dp.cycle(PUMP_A, r1_line(), r1_pit(on_in=13 * NAN), inflow_gpm=10),
        lambda: dp.cycle(PUMP_A, r1_line(), r1_pit(diameter_in=18 * NAN), inflow_gpm=10),
        lambda: dp.cycle(
            PUMP_A, r1_line(), r1_pit(body_volume_gal=NAN, body_height_in=9), inflow_gpm=10
        ),
        lambda: dp.cycle(PUMP_A.worn(head=0.9 * NAN), r1_line(), r1_pit(), inflow_gpm=10),
        lambda: constant(34 * NAN, 10),
        lambda: constant(34, 10 * NAN),
        lambda: constant(34, 10, r1_pit(diameter_in=18 * NAN)),
        lambda: constant(34, 10, r1_pit(on_in=13 * NAN)),
    ],
)
def test_a_nan_stays_in_its_cell(call):
    turning = call()
    assert turning.status.tolist() == ["ok", "bad_input", "ok"]
    for name in ("run_s", "starts_per_h"):
        assert np.isnan(getattr(turning, name)).tolist() == [False, True, False], name
    assert turning.pattern.tolist() == ["cycles", "unknown", "cycles"]
    with pytest.raises(dp.StatusError) as err:
        turning.require()
    assert str(err.value) == "Cycle at index (1,): bad_input; an input of this element is NaN"


# -- shapes


def test_pumps_and_lines_come_first_then_the_quantities():
    line = r1_line()
    wide = r1_line(2.047, length_ft=[50, 100, 150])
    pit = r1_pit(on_in=[[13.0], [16.0]])
    shapes = {
        (): dp.cycle(PUMP_A, line, r1_pit(), inflow_gpm=5),
        (1,): dp.cycle([PUMP_A], line, r1_pit(), inflow_gpm=5),
        (1, 1): dp.cycle([PUMP_A], [line], r1_pit(), inflow_gpm=5),
        (2, 2, 3): dp.cycle([PUMP_A, PUMP_B], [line, wide], r1_pit(), inflow_gpm=5),
        (2, 2, 2, 3): dp.cycle([PUMP_A, PUMP_B], [line, wide], pit, inflow_gpm=5),
        (4, 2, 3): dp.cycle(PUMP_A, wide, pit, inflow_gpm=np.full((4, 1, 1), 5.0)),
        (2, 1): constant(30, 5, pit),
        (2, 5): constant(30, np.full(5, 5.0), pit),
        (3, 2, 1): constant(np.full((3, 1, 1), 30.0), 5, pit),
    }
    for shape, turning in shapes.items():
        for name in ("run_s", "rest_s", "starts_per_h", "worst_starts_per_h", "worst_inflow_gpm",
                     "flow_at_on_lps", "working_volume_gal", "returned_l", "keeps_up", "pattern",
                     "status", "ok"):  # fmt: skip
            assert np.shape(getattr(turning, name)) == shape, (shape, name)


def test_a_grid_is_a_loop_of_scalars():
    pumps, lifts = [PUMP_A, PUMP_B, parabola("C", 25, 60, 7)], [4.0, 9.0]
    lines = [r1_line(lift_ft=z) for z in lifts]
    ons, inflows = [10.0, 13.0], [0.0, 8.0, 20.0]
    pit = r1_pit(on_in=np.array(ons)[:, None], body_volume_gal=1, body_height_in=11)
    grid = dp.cycle(pumps, lines, pit, inflow_gpm=inflows)
    again = dp.cycle(pumps, lines, pit, inflow_gpm=inflows)
    assert grid.run_s.tobytes() == again.run_s.tobytes()
    assert grid.worst_inflow_gpm.tobytes() == again.worst_inflow_gpm.tobytes()
    for p, x, i, j in np.ndindex(*grid.run_s.shape):
        one = dp.cycle(
            pumps[p],
            lines[x],
            r1_pit(on_in=ons[i], body_volume_gal=1, body_height_in=11),
            inflow_gpm=inflows[j],
        )
        for name in ("run_s", "rest_s", "starts_per_h", "worst_starts_per_h"):
            assert getattr(grid, name)[p, x, i, j] == pytest.approx(getattr(one, name), rel=1e-11)
        # a minimum is flat: its place is known less sharply than its value
        assert grid.worst_inflow_gpm[p, x, i, j] == pytest.approx(one.worst_inflow_gpm, rel=1e-9)
        assert grid.pattern[p, x, i, j] == one.pattern


def test_frames_name_pump_and_line():
    turning = dp.cycle([PUMP_A, PUMP_B], [r1_line(name="x")], r1_pit(), inflow_gpm=[0, 5])
    frame = turning.to_frame()
    assert frame["pump"].tolist() == ["A", "A", "B", "B"]
    assert set(frame["line"]) == {"x"}
    assert frame["pattern"].tolist() == ["idle", "cycles"] * 2
    assert "inflow_gpm" in frame
    assert "inflow_lps" in turning.to_frame("metric")


# -- what is refused


@pytest.mark.parametrize(
    ("call", "said"),
    [
        (
            lambda: dp.cycle(PUMP_A, r1_line(), None, inflow_gpm=5),
            "pit=None: must be a Pit; make one with Pit(...).",
        ),
        (
            lambda: dp.cycle(PUMP_A, r1_line(), r1_pit()),
            "inflow: no value given; give exactly one of inflow_gpm, inflow_lps.",
        ),
        (
            lambda: dp.cycle(PUMP_A, r1_line(), r1_pit(), inflow_gpm=5, flow_gpm=30),
            "cycle: give a pump with a line, or a constant flow (flow_gpm or flow_lps) without "
            "them.",
        ),
        (
            lambda: dp.cycle(PUMP_A, pit=r1_pit(), inflow_gpm=5),
            "cycle: give a pump with a line, or a constant flow (flow_gpm or flow_lps) without "
            "them.",
        ),
        (
            lambda: dp.cycle(pit=r1_pit(), inflow_gpm=5),
            "cycle: give a pump with a line, or a constant flow (flow_gpm or flow_lps) without "
            "them.",
        ),
        (
            lambda: constant(34, -1),
            "inflow_gpm=-1: must be from 0 gpm to 158503 gpm; give the water that comes in.",
        ),
        (
            lambda: constant("34", 1),
            "flow_gpm='34': must be a number or an array of numbers; give the flow.",
        ),
        (
            lambda: constant([1, 2], [1, 2, 3]),
            "cycle: arrays of shapes (3,), (), (2,) do not broadcast; give arrays of one shape, "
            "or scalars.",
        ),
    ],
)  # fmt: skip
def test_what_is_refused(call, said):
    with pytest.raises(dp.InputError) as err:
        call()
    assert str(err.value) == said


def test_the_minimum_by_scipy_on_the_bare_formula():
    """An independent look at the worst case: scipy's bounded minimiser on run + rest."""
    line, pit = r1_line(2.047), r1_pit()

    def cycle_s(inflow: float) -> float:
        volume = pit.working_volume_gal
        return pump_down_s(PUMP_A, line, pit, inflow) + 60 * volume / inflow

    best = optimize.minimize_scalar(cycle_s, bounds=(5, 30), method="bounded")
    turning = dp.cycle(PUMP_A, line, pit, inflow_gpm=5)
    assert turning.worst_starts_per_h == pytest.approx(3600 / best.fun, rel=1e-4)
    assert turning.worst_inflow_gpm == pytest.approx(best.x, rel=1e-3)


def test_many_inflows_ask_the_pump_no_more_often_than_one(monkeypatch: pytest.MonkeyPatch) -> None:
    from drainpump.cycling import switching

    asked = []
    solve = switching.flows_at
    monkeypatch.setattr(
        switching,
        "flows_at",
        lambda grid, nodes: asked.append(grid.level.size) or solve(grid, nodes),
    )
    one = dp.cycle(PUMP_A, r1_line(2.047), r1_pit(), inflow_gpm=10)
    many = dp.cycle(PUMP_A, r1_line(2.047), r1_pit(), inflow_gpm=np.linspace(0, 30, 301))
    assert asked == [1, 1]
    assert many.starts_per_h[100] == one.starts_per_h
