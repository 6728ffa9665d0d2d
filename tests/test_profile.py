"""Profiles: dips, high points, the vented and the siphoning state, air."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import drainpump as dp
from drainpump.physics import air, water
from tests.problems import PUMP_A, PUMP_B, WATER_F, r1_pit

PIPE = dp.Pipe(bore_in=2.047, roughness_ft=5e-6)


def hump(
    bore_in: Any = 2.047, crest_ft: Any = 12, up_ft: float = 30, **changes: Any
) -> dp.DischargeLine:
    """A crest after 30 ft with K 3.9 up to there, the outlet at 4 ft after 150 ft, K 7.3 in all."""
    pipe = dp.Pipe(bore_in=bore_in, roughness_ft=5e-6)
    runs = [
        dp.Run(pipe=pipe, length_ft=up_ft, rise_ft=crest_ft, k=3.9),
        dp.Run(pipe=pipe, length_ft=120, rise_ft=4 - np.asarray(crest_ft, float), k=2.4),
    ]
    return dp.DischargeLine(runs=runs, water_f=WATER_F, **changes)


def line_of(rises: list[float], **changes: Any) -> dp.DischargeLine:
    """Runs of 10 ft with these rises."""
    runs = [dp.Run(pipe=PIPE, length_ft=10, rise_ft=rise) for rise in rises]
    return dp.DischargeLine(runs=runs, **changes)


@pytest.mark.parametrize(
    ("bore_in", "vented", "siphon", "crest"),
    [(1.590, 25.86, 27.82, -1.23), (2.047, 29.33, 36.82, -4.56)],
)
def test_hump_in_both_states(bore_in: float, vented: float, siphon: float, crest: float) -> None:
    # two independent solvers; half a unit of their last digit
    both = dp.high_point(PUMP_A, hump(bore_in))
    assert (both.vented_flow_gpm, both.siphon_flow_gpm) == pytest.approx(
        (vented, siphon), abs=0.006
    )
    assert both.high_point_head_ft == pytest.approx(crest, abs=0.006)
    assert both.high_point_run == 1
    assert both.verdict == "runs vented; a siphon that holds brings more"
    assert both.siphon_holds


@pytest.mark.parametrize("crest", [20.0, 20.5, 26.0])
def test_crest_at_shutoff_or_over_it_is_never_reached(crest: float) -> None:
    both = dp.high_point(PUMP_A, hump(crest_ft=crest))
    assert (both.status, both.vented_flow_gpm) == ("no_flow", 0.0)
    assert both.verdict == "never starts: the pump cannot reach the high point"
    assert dp.high_point(PUMP_A, hump(crest_ft=19.9)).verdict_code == "vented_or_siphon"


def test_start_from_the_on_level_may_lean_on_the_siphon() -> None:
    # the off level is 7 in lower than where the pump starts
    both = dp.high_point(PUMP_A, hump(crest_ft=20.3), r1_pit())
    assert both.verdict == "starts, but only runs if the siphon holds"
    assert both.siphon_flow_gpm == pytest.approx(36.82, abs=0.006)
    assert dp.high_point(PUMP_A, hump(crest_ft=20.7), r1_pit()).verdict_code == "never_starts"


def test_rising_line_has_one_state() -> None:
    both = dp.high_point(PUMP_A, line_of([6.0]))
    assert both.verdict == "no drop past a high point: vented or not, it runs the same"
    assert both.vented_flow_gpm == pytest.approx(both.siphon_flow_gpm, rel=1e-12)
    assert np.isnan(both.high_point_head_ft)
    assert both.high_point_run == 0
    assert both.clearing_share == np.inf


def test_high_points_in_a_grid() -> None:
    lines = [hump(2.047), hump([1.590, 2.047], 12), line_of([6.0])]
    both = dp.high_point([PUMP_A], lines)
    assert both.vented_flow_gpm.shape == (1, 3, 2)
    one = dp.high_point(PUMP_A, hump(1.590))
    assert both.high_point_head_ft[0, 1, 0] == pytest.approx(one.high_point_head_ft, rel=1e-9)
    assert np.isnan(both.high_point_head_ft[0, 2]).all()
    assert both.to_frame("metric")["high_point_head_m"].size == 6


def test_deep_crest_does_not_hold() -> None:
    both = dp.high_point(PUMP_A, hump(crest_ft=33.0, up_ft=40))
    assert both.high_point_head_ft < both.high_point_limit_ft
    assert not both.siphon_holds
    kept = dp.high_point(PUMP_A, hump(crest_ft=33.0, up_ft=40), high_point_limit_ft=-30)
    assert kept.siphon_holds


def test_air_clearing_against_the_flow_had() -> None:
    both = dp.high_point(PUMP_A, hump(2.047))
    (row,) = both.falling_runs().to_dict("records")
    speed = both.vented_flow_gpm * 231 / 60 / (np.pi / 4 * 2.047**2) / 12
    bore_m, sine = 2.047 * 0.0254, 8 / 120
    needed = np.sqrt(9.80665 * bore_m) * (0.25 * np.sqrt(sine) + 0.825) / 0.3048
    assert (row["run"], bool(row["clears"])) == (2, True)
    assert row["velocity_fps"] == pytest.approx(speed, rel=1e-9)
    assert row["clearing_velocity_fps"] == pytest.approx(needed, rel=1e-9)
    assert both.clearing_share == pytest.approx(speed / needed, rel=1e-9)
    slow = dp.high_point(PUMP_A, hump(crest_ft=19.5))
    assert not slow.air_clears


def test_clearing_formulas_and_their_sources() -> None:
    for name, source in air.CLEARING.items():
        assert "from memory" in source
        assert air.clearing_velocity(0.05, 0.2, name) > 0
    with pytest.raises(dp.InputError) as err:
        air.clearing_velocity(0.05, 0.2, "guess")
    assert str(err.value) == (
        "formula='guess': must be one of ('wisner', 'escarameia', 'kalinske_bliss'); pick one of "
        "them."
    )


def test_water_boils_where_the_tables_say() -> None:
    # 10.33 m of atmosphere less 0.24 m of vapour at 20 °C, in water of 998.2 kg/m³
    want = (float(water.vapour_pressure(20.0)) - 101325) / (998.207 * 9.80665)
    assert float(air.vapour_limit(20.0)) == pytest.approx(want, rel=1e-6)


def test_frame_has_the_points_of_the_line() -> None:
    frame = line_of([9, -4, 2, -1]).profile()
    assert frame["distance_ft"].tolist() == pytest.approx([0, 10, 20, 30, 40])
    assert frame["elevation_ft"].tolist() == pytest.approx([0, 9, 5, 7, 6])
    assert frame["point"].tolist() == ["start", "high point", "low point", "high point", "end"]
    metric = line_of([9, -4, 2, -1]).profile("metric")
    assert metric["elevation_m"].iloc[1] == pytest.approx(9 * 0.3048)


def test_a_turn_is_where_the_fall_or_the_rise_begins() -> None:
    """Level runs are passed over: they are no turn, and put it off to their end."""
    kinds = {
        (5, 0, 5): ["", ""], (5, 0, -5): ["", "high point"],
        (0, -5, 2): ["high point", "low point"], (0, 5, 0): ["", ""],
        (-5, 0, 5): ["", "low point"], (-5, 0, -5): ["", ""], (1, -1e-12, 3): ["", ""],
    }  # fmt: skip
    for rises, wanted in kinds.items():
        frame = line_of([float(r) for r in rises]).profile()
        assert frame["point"].tolist() == ["start", *wanted, "end"], rises


def test_dip_holds_water_up_to_its_lower_side() -> None:
    line = line_of([9, -4, 2, -1])
    gallons = PIPE.bore_in**2 * np.pi / 4 * 120 / 231  # of one run
    # up to 7 ft: half of the run down from 9 to 5 ft, all of the run up to 7 ft
    assert line.profile()["held_gal"].tolist() == pytest.approx([0, 0, gallons / 2, gallons, 0])
    assert line.dip_volume_gal == pytest.approx(1.5 * gallons)
    assert line.notes[0] == (
        "Run 2 holds 0.855 gal (3.24 L) in a dip when the line has drained: it may freeze and "
        "burst; keep it below the frost depth of the local code, or give it a drain."
    )
    assert line.notes[-1].startswith("The check valve keeps the rising line full")
    assert line_of([6.0], check_valve=False).notes == ()


def _held_by_steps(rises: list[float]) -> float:
    """Share of all the pipe that stays full, by walking along it in small steps."""
    z = np.concatenate([[0.0], np.cumsum(rises)])
    x = np.linspace(0, len(rises), 8001 * len(rises))
    height = np.interp(x, np.arange(z.size), z)
    left = np.maximum.accumulate(height)
    right = np.maximum.accumulate(height[::-1])[::-1]
    return float(np.mean(height < np.minimum(left, right) - 1e-12)) * len(rises)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.integers(-5, 5), min_size=1, max_size=6))
def test_dips_against_a_walk_along_the_pipe(rises: list[int]) -> None:
    line = line_of([float(r) for r in rises])
    share = line.dip_volume_gal / (line.volume_gal / len(rises))
    assert share == pytest.approx(_held_by_steps([float(r) for r in rises]), abs=2e-3)
    # what runs back, what stays and the whole
    returned = float(line._returning_volume)
    assert returned + float(line._dip_volume) <= float(line._volume) * (1 + 1e-12)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.floats(-8, 8), min_size=1, max_size=5),
    st.floats(0, 60),
    st.sampled_from(["darcy", "hazen_williams"]),
)
def test_vented_head_is_never_below_the_siphoning_head(
    rises: list[float], flow: float, friction: str
) -> None:
    vented = line_of(rises, friction=friction).head(flow_gpm=flow).head_ft
    siphoning = line_of(rises, friction=friction, siphon=True).head(flow_gpm=flow).head_ft
    assert vented >= siphoning - 1e-12


@pytest.mark.filterwarnings("ignore:.* no whole number of pieces")
@settings(max_examples=40, deadline=None)
@given(st.floats(0.05, 0.95), st.floats(1, 200), st.floats(-1, 1), st.floats(0, 20))
def test_splitting_a_run_changes_nothing(
    part: float, length: float, slope: float, k: float
) -> None:
    rise = slope * min(length, 15.0)

    def run(share: float) -> dp.Run:
        count = dp.Fitting(count=3 * share, k=0.7)
        return dp.Run(
            pipe=PIPE,
            length_ft=length * share,
            rise_ft=rise * share,
            k=k * share,
            fittings={"elbow_90": count},
        )

    whole = dp.DischargeLine(runs=[run(1.0)])
    parts = dp.DischargeLine(runs=[run(part), run(1 - part)])
    flows = np.array([0.0, 5.0, 20.0, 45.0])
    a, b = (line.head(flow_gpm=flows) for line in (whole, parts))
    for name in ("head_ft", "pipe_ft", "fittings_ft", "outlet_ft"):
        np.testing.assert_allclose(getattr(a, name), getattr(b, name), rtol=1e-12, atol=1e-12)
    one, two = (dp.operating_point(PUMP_A, line) for line in (whole, parts))
    assert one.status == two.status
    np.testing.assert_allclose(one.flow_gpm, two.flow_gpm, rtol=1e-12)
    assert parts.volume_gal == pytest.approx(whole.volume_gal, rel=1e-12)


@settings(max_examples=20, deadline=None)
@given(st.permutations(["elbow_90", "elbow_45", "check_valve_swing"]), st.floats(0, 60))
def test_order_of_fittings_changes_nothing(order: list[str], flow: float) -> None:
    counts = {"elbow_90": 5, "elbow_45": 2, "check_valve_swing": dp.Fitting(count=1, k=2.0)}

    def line(names: list[str]) -> dp.DischargeLine:
        fittings = {name: counts[name] for name in names}
        return dp.DischargeLine(runs=[dp.Run(pipe=PIPE, length_ft=50, fittings=fittings)])

    want = line(list(counts)).head(flow_gpm=flow).head_ft
    assert line(order).head(flow_gpm=flow).head_ft == pytest.approx(want, rel=1e-12, abs=1e-15)


def test_falling_runs_of_several_pumps_and_elements() -> None:
    pipe = dp.pvc("1-1/2")
    line = dp.DischargeLine(
        runs=[
            dp.Run(pipe=pipe, length_ft=30, rise_ft=[10, 11]),
            dp.Run(pipe=pipe, length_ft=60, rise_ft=-4),
        ],
        name="over the bank",
    )
    both = dp.high_point([PUMP_A, PUMP_B], line)
    frame = both.falling_runs("metric")
    assert list(frame) == [
        "pump", "line", "element", "run", "velocity_mps", "clearing_velocity_mps", "clears",
    ]  # fmt: skip
    assert frame["pump"].tolist() == ["A", "A", "B", "B"]
    assert frame["line"].tolist() == ["over the bank"] * 4
    assert (frame["element"].tolist(), frame["run"].tolist()) == ([0, 1, 0, 1], [2, 2, 2, 2])
    area = np.pi / 4 * (pipe.bore_mm / 1e3) ** 2
    speed = np.ravel(both.vented_flow_lps) / 1e3 / area
    assert frame["velocity_mps"].tolist() == pytest.approx(speed.tolist(), rel=1e-9)
    assert both.siphon_status.tolist() == [["ok", "ok"], ["ok", "ok"]]
    assert list(both.falling_runs()) == [
        "pump", "line", "element", "run", "velocity_fps", "clearing_velocity_fps", "clears",
    ]  # fmt: skip


def test_frame_of_several_lines_tells_them_by_their_axis() -> None:
    pipe = dp.pvc("1-1/2")
    line = dp.DischargeLine(
        runs=[
            dp.Run(pipe=pipe, length_ft=30, rise_ft=[9, 5, -2]),
            dp.Run(pipe=pipe, length_ft=20, rise_ft=-4),
        ]
    )
    frame = line.profile()
    assert frame.columns.tolist() == [
        "axis_0", "run", "point", "distance_ft", "elevation_ft", "held_gal",
    ]  # fmt: skip
    assert frame["axis_0"].tolist() == [0, 1, 2] * 3
    assert frame["run"].tolist() == [0, 0, 0, 1, 1, 1, 2, 2, 2]
    assert frame["point"].tolist() == (
        ["start"] * 3 + ["high point", "high point", ""] + ["end"] * 3
    )
    assert frame["distance_ft"].tolist() == pytest.approx([0, 0, 0, 30, 30, 30, 50, 50, 50])
    assert frame["elevation_ft"].tolist() == pytest.approx([0, 0, 0, 9, 5, -2, 5, 1, -6])
