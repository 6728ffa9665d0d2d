"""Storms beside solvers that share nothing with the library's own.

``DRAINPUMP_ORACLES=500 pytest tests/test_oracles_storms.py`` compares 500 random cases each.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

import drainpump as dp
from drainpump import plots
from drainpump.errors import InputError
from tests.heard import told
from tests.oracles.many import dice
from tests.oracles.storm import Ground, Site, flow_by_level, simulate
from tests.storms import LINE, POWERED, A, inflow, pit

CUBE = 1728 / 231
#: invented pumps: one that ends before it crosses LINE, one that never lifts so high
SHORT = dp.PumpCurve(
    name="short", flow_gpm=[0, 10, 20], head_ft=[20, 19.2, 16.8], power_w=[250, 275, 300]
)
WEAK = dp.PumpCurve(name="weak", flow_gpm=[0, 10, 20], head_ft=[3, 2, 0], power_w=[50, 60, 70])


# ------------------------------------------------------------------ the oracle itself


def test_the_oracle_agrees_with_hand_figures() -> None:
    # constant flows: fill V/q, empty V/(Q - q); 18 in across, 10 in between the floats
    site = Site(18, 6, 16, 30, lambda _: 30.0)
    volume = np.pi / 4 * 18**2 * 10 / 231
    got = simulate(site, [0, 600], [10, 10])
    cycle = volume / 10 + volume / 20
    assert got.starts == int((600 - volume / 10) / cycle) + 1
    assert got.inflow - got.pumped - got.spilled == pytest.approx(got.stored, abs=1e-9 * 6000)
    # nothing pumps: what comes in stands above the rim
    dead = simulate(site, [0, 10, 10, 60], [50, 50, 0, 0], lead_fails=0)
    room = np.pi / 4 * 18**2 * 24 / 231
    assert dead.peak_pond == pytest.approx(500 - room)
    assert dead.ponded == pytest.approx(60 - room / 50)
    assert dead.still_ponded


# ------------------------------------------------------------------ past the pond table


TABLE = dp.PondStorage(depth_in=[2], volume_gal=[300])


def test_past_its_table_a_pond_is_at_least_as_deep_as_its_last_row() -> None:
    # 60 gpm against 36.5 for 26.7 min and more: the oracle ponds well past 300 gal
    storm = dp.Hydrograph(flow_gpm=[60], block_min=30)
    site = Site(18, 6, 16, 30, flow_by_level(A, LINE, 24), ground=Ground(None, [2], [300]))
    wanted = simulate(site, storm.time_min, storm.flow_gpm)
    got = dp.route(A, LINE, pit(), storm, pond_storage=TABLE)
    assert wanted.peak_pond > 600
    assert got.peak_pond_gal == pytest.approx(wanted.peak_pond, rel=1e-4)
    assert got.peak_pond_in == pytest.approx(2)
    assert got.peak_level_in == pytest.approx(32)
    assert got.status == "beyond_pond"
    with pytest.raises(dp.StatusError):
        got.require()


def test_past_its_table_no_row_is_lost_and_no_depth_falls_while_it_fills() -> None:
    storm = dp.Hydrograph(flow_gpm=[60], block_min=30)
    rows = dp.route(A, LINE, pit(), storm, pond_storage=TABLE).to_frame(step_s=30)
    assert rows.notna().all(axis=None)
    filling = rows[rows["time_min"] <= 30]
    assert (filling["level_in"].diff().dropna()[filling["pond_gal"] > 0] >= -1e-9).all()
    assert rows["pond_depth_in"].max() == pytest.approx(2)


def test_past_its_table_the_picture_does_not_show_the_water_falling() -> None:
    storm = dp.Hydrograph(flow_gpm=[60], block_min=30)
    ax = plots.storm(dp.route(A, LINE, pit(), storm, pond_storage=TABLE))
    below = ax.figure.axes[2]
    (level,) = (x for x in below.lines if x.get_gid() == "level")
    time, height = level.get_xdata(), level.get_ydata()
    assert np.isfinite(height).all()
    assert height[time <= 30].max() == pytest.approx(32, abs=0.01)
    assert height[(time > 25) & (time < 30)].min() == pytest.approx(32, abs=0.01)


@pytest.mark.parametrize(
    "more",
    [
        {},
        {"pond_area_ft2": 400},
        {"overflow_in": 26},
        {"overflow_in": 33, "pond_area_ft2": 500},
        {"pond_storage": dp.PondStorage(depth_in=[2, 6, 12], volume_gal=[100, 1200, 6000])},
        {"pond_storage": TABLE},
    ],
    ids=["unknown ground", "area", "spill in the pit", "spill on the ground", "table", "past it"],
)
def test_peak_and_trace_are_one_number(more: dict[str, Any]) -> None:
    # 47 s: no step of the trace falls on the peak by luck
    got = dp.route(A, LINE, pit(), inflow(), **more)
    levels = got.to_frame(step_s=47)["level_in"].to_numpy()
    assert levels.max() == pytest.approx(got.peak_level_in, abs=1e-6, nan_ok=True)
    assert got.to_frame(step_s=47)["pond_gal"].max() == pytest.approx(got.peak_pond_gal, abs=1e-6)


# ------------------------------------------------------------------ ponding goes on


LONG = dp.Hydrograph(flow_gpm=[60, 60, 0, 0], time_min=[0, 60, 60, 660])


def test_water_stands_on_after_the_rain_where_the_pump_is_dead() -> None:
    site = Site(18, 6, 16, 30, flow_by_level(A, LINE, 24))
    wanted = simulate(site, LONG.time_min, LONG.flow_gpm, lead_fails=30)
    assert wanted.ponded == pytest.approx(659.2, abs=0.05)
    got = dp.route(A, LINE, pit(), LONG, lead_fails_min=30)
    assert got.pond_min == pytest.approx(wanted.ponded, abs=0.01)
    assert got.end_min == pytest.approx(660)
    assert got.status == "still_ponded"


def test_until_carries_the_ponding_on_as_a_dry_tail_does() -> None:
    burst = dp.Hydrograph(flow_gpm=[60], block_min=60)
    got = dp.route(A, LINE, pit(), burst, lead_fails_min=30, until_min=660)
    assert got.pond_min == pytest.approx(659.18, abs=0.02)
    assert got.status == "still_ponded"
    assert dp.route(A, LINE, pit(), burst, lead_fails_min=30).status == "still_ponded"


def test_the_trace_keeps_its_step_to_the_end() -> None:
    rows = dp.route(A, LINE, pit(), LONG, lead_fails_min=30).to_frame(step_s=60)
    assert np.diff(rows["time_min"]).max() <= 1 + 1e-9
    assert rows["time_min"].iloc[-1] == pytest.approx(660)


def test_a_pond_that_is_pumped_dry_is_not_still_there() -> None:
    got = dp.route(A, LINE, pit(), LONG)
    wanted = simulate(Site(18, 6, 16, 30, flow_by_level(A, LINE, 24)), LONG.time_min, LONG.flow_gpm)
    assert got.pond_min == pytest.approx(wanted.ponded, rel=1e-4)
    assert not wanted.still_ponded
    assert got.status == "ok"


# ------------------------------------------------------------------ one clock


EARLY = dp.Hydrograph(flow_gpm=[10, 60, 60, 0], time_min=[0, 10, 30, 60])
LATE = dp.Hydrograph(flow_gpm=[10, 60, 60, 0], time_min=[100, 110, 130, 160])


def test_all_minutes_are_those_of_the_hydrograph() -> None:
    early = dp.route(A, LINE, pit(), EARLY, outages=[(10, 20)], lead_fails_min=50)
    late = dp.route(A, LINE, pit(), LATE, outages=[(110, 120)], lead_fails_min=150)
    assert late.peak_pond_gal == pytest.approx(early.peak_pond_gal)
    assert late.starts == early.starts
    assert late.worst_min == pytest.approx(100 + early.worst_min)
    assert late.end_min == pytest.approx(100 + early.end_min)
    assert late.to_frame(step_s=60)["time_min"].iloc[0] == pytest.approx(100)
    cut = dp.route(A, LINE, pit(), LATE, until_min=140)
    assert cut.inflow_gal == pytest.approx(dp.route(A, LINE, pit(), EARLY, until_min=40).inflow_gal)


def test_the_oracle_keeps_the_same_clock() -> None:
    site = Site(18, 6, 16, 30, flow_by_level(A, LINE, 24))
    wanted = simulate(site, LATE.time_min, LATE.flow_gpm, outages=[(110, 120)])
    got = dp.route(A, LINE, pit(), LATE, outages=[(110, 120)])
    assert got.peak_pond_gal == pytest.approx(wanted.peak_pond, rel=1e-4)
    # a slope of inflow is walked in steps, here of 9 s; at its highest the water is flat
    assert got.worst_min == pytest.approx(wanted.worst, abs=0.15)
    assert got.end_min == pytest.approx(wanted.end, abs=0.01)


@pytest.mark.parametrize(
    ("storm", "window"), [(LATE, (10, 50)), (LATE, (300, 400)), (EARLY, (300, 400))]
)
def test_a_window_outside_the_storm_is_said(
    storm: dp.Hydrograph, window: tuple[float, float]
) -> None:
    said = told(lambda: dp.route(A, LINE, pit(), storm, outages=[window]))
    assert "outages" in said
    assert str(window[0]) in said


@pytest.mark.parametrize(
    ("storm", "value"),
    [(EARLY, 0), (EARLY, -5), (EARLY, np.nan), (EARLY, np.inf), (LATE, 90), (LATE, 100)],
)
def test_an_end_no_later_than_the_begin_is_refused_by_name(
    storm: dp.Hydrograph, value: float
) -> None:
    with pytest.raises(InputError) as err:
        dp.route(A, LINE, pit(), storm, until_min=value)
    assert str(err.value).startswith(f"until_min={value}: ")


# ------------------------------------------------------------------ batteries and energy


STEADY = dp.Hydrograph(flow_gpm=[30], block_min=60)


def test_a_pump_past_its_curve_takes_what_it_takes_at_its_last_point() -> None:
    got = dp.route(SHORT, LINE, pit(), STEADY)
    assert got.status == "beyond_curve"
    assert got.energy_kwh == pytest.approx(got.run_min / 60 * 0.300)


def test_a_battery_pump_past_its_curve_is_a_status() -> None:
    more: dict[str, Any] = {"outages": [(10, 30)], "battery_wh": 1000}
    got = dp.route(POWERED, LINE, pit(), STEADY, **more, battery_pump=SHORT)
    assert got.status == "beyond_curve"
    alone = flow_by_level(POWERED, LINE, 24)
    site = Site(18, 6, 16, 30, alone, battery=flow_by_level(SHORT, LINE, 24))
    wanted = simulate(site, STEADY.time_min, STEADY.flow_gpm, outages=[(10, 30)])
    assert got.peak_pond_gal == pytest.approx(wanted.peak_pond, rel=1e-3)
    assert got.pumped_gal == pytest.approx(wanted.pumped, rel=1e-3)
    assert np.isfinite(got.energy_kwh)


def test_a_battery_pump_too_weak_is_a_status() -> None:
    more: dict[str, Any] = {"outages": [(10, 30)], "battery_wh": 1000}
    weak = dp.route(POWERED, LINE, pit(), STEADY, **more, battery_pump=WEAK)
    none = dp.route(POWERED, LINE, pit(), STEADY, outages=[(10, 30)])
    assert weak.peak_pond_gal == pytest.approx(none.peak_pond_gal)
    assert weak.status == "no_flow"


@pytest.mark.parametrize(("pump", "status"), [(SHORT, "beyond_curve"), (WEAK, "no_flow")])
def test_a_battery_by_hand_says_the_same(pump: dp.PumpCurve, status: str) -> None:
    got = dp.outage(pit(), inflow_gpm=10, battery_wh=500, pump=pump, line=LINE)
    assert got.status == status


# ------------------------------------------------------------------ whole storms at random


def _case(rng: np.random.Generator) -> tuple[dict[str, Any], dict[str, Any], Any]:
    """Draw a site for both, what both are asked, and what only the library is told."""
    off, diameter = float(rng.uniform(3, 8)), float(rng.choice([18, 24, 30]))
    on, rim = off + float(rng.uniform(5, 12)), float(rng.uniform(26, 44))
    run_out, shutoff = float(rng.uniform(35, 80)), float(rng.uniform(12, 30))
    q = np.linspace(0, run_out, 26)
    pump = dp.PumpCurve(flow_gpm=q, head_ft=shutoff * (1 - (q / run_out) ** 2), invented=True)
    line = dp.straight_line(
        pipe=dp.Pipe(bore_in=float(rng.choice([1.59, 2.047, 2.445])), roughness_ft=5e-6),
        length_ft=float(rng.uniform(30, 250)), lift_ft=float(rng.uniform(3, 10)),
        k=float(rng.uniform(2, 9)), water_f=float(rng.uniform(40, 75)),
    )  # fmt: skip
    alone = flow_by_level(pump, line, rim - off)
    n = int(rng.integers(3, 8))
    time = np.concatenate([[0], np.cumsum(rng.uniform(4, 25, n - 1))])
    time = time + float(rng.choice([0, 100]))
    flow = np.append(rng.gamma(1.2, 30, n - 1), rng.choice([0, 6]))
    site: dict[str, Any] = {"diameter": diameter, "off": off, "on": on, "rim": rim, "lead": alone}
    asked: dict[str, Any] = {}
    mine: dict[str, Any] = {}
    area = float(rng.uniform(100, 1500))
    if rng.random() < 0.5:
        site["ground"], asked["pond_area_ft2"] = Ground(area), area
    else:
        depth = np.array([1, 4, 9, 20.0])
        volume = area * depth / 12 * np.array([0.2, 0.5, 0.8, 1.0]) * CUBE
        site["ground"] = Ground(None, depth, volume)
        asked["pond_storage"] = dp.PondStorage(depth_in=depth, volume_gal=volume)
    if rng.random() < 0.35:
        site["spill"] = asked["overflow_in"] = rim + float(rng.choice([-3, 1, 3]))
        if site["spill"] <= on + 1:
            site["spill"] = asked["overflow_in"] = rim + 1
    if rng.random() < 0.3:
        site["lag_on"] = (on + min(rim, site.get("spill", rim))) / 2
        pumps: Any = dp.parallel([pump, pump], lag_on_in=site["lag_on"])
        site["both"] = flow_by_level(pump, line, rim - off, alike=2)
    else:
        pumps = pump
    if rng.random() < 0.4:
        begin = time[0] + float(rng.uniform(0, (time[-1] - time[0]) * 0.7))
        window = (begin, begin + float(rng.uniform(2, 15)))
        if window[1] < time[-1]:
            mine["outages"] = asked["outages"] = [window]
    if rng.random() < 0.2:
        fails = time[0] + float(rng.uniform(0, time[-1] - time[0]))
        mine["lead_fails"], asked["lead_fails_min"] = fails, fails
    if rng.random() < 0.2:
        site["soaks"] = asked["soaks_back"] = float(rng.uniform(0.05, 0.4))
    if rng.random() < 0.3:
        mine["start"] = asked["start_in"] = float(rng.uniform(off, on - 1))
    if rng.random() < 0.3:
        mine["until"] = asked["until_min"] = float(time[-1] + rng.uniform(1, 120))
    built = dp.Pit(diameter_in=diameter, depth_in=rim, off_in=off, on_in=on)
    storm = dp.Hydrograph(flow_gpm=flow, time_min=time)
    return site, mine, (pumps, line, built, storm, asked)


@pytest.mark.parametrize("odd", [False, True], ids=["plain", "dead, late or left ponded"])
def test_storms_at_random(odd: bool) -> None:
    compared = on_edge = 0
    for rng in dice(30, 17):
        drawn, mine, (pumps, line, built, storm, asked) = _case(rng)
        site = Site(**drawn)
        wanted = simulate(site, storm.time_min, storm.flow_gpm, **mine)
        balance = wanted.inflow - wanted.pumped - wanted.spilled - wanted.stored
        assert abs(balance) < 1e-9 * max(wanted.inflow, 1)
        late = storm.time_min[0] > 0
        if odd != (late or wanted.still_ponded or "lead_fails_min" in asked):
            continue
        compared += 1
        near = {
            (s.starts, s.lag_starts)
            for f in (0.998, 1.002)
            for s in [simulate(site, storm.time_min, storm.flow_gpm * f, **mine)]
        }
        if near != {(wanted.starts, wanted.lag_starts)}:
            on_edge += 1  # decided by a hair of the flow: not a case for counting
            continue
        got = dp.route(pumps, line, built, storm, **asked)
        assert abs(got.balance_error_gal) <= 1e-9 * max(got.inflow_gal, 1)
        assert (got.starts, got.lag_starts) == (wanted.starts, wanted.lag_starts)
        assert got.inflow_gal == pytest.approx(wanted.inflow, rel=1e-9)
        assert got.pumped_gal == pytest.approx(wanted.pumped, rel=1e-3, abs=0.3)
        assert got.lifted_gal == pytest.approx(wanted.lifted, rel=1e-3, abs=0.3)
        assert got.overflow_gal == pytest.approx(wanted.spilled, rel=1e-3, abs=0.3)
        assert got.stored_gal == pytest.approx(wanted.stored, rel=1e-3, abs=0.3)
        assert got.peak_pond_gal == pytest.approx(wanted.peak_pond, rel=1e-3, abs=0.3)
        assert got.peak_level_in == pytest.approx(wanted.peak_level, abs=0.05)
        assert got.pond_min == pytest.approx(wanted.ponded, rel=1e-3, abs=0.1)
        assert got.run_min == pytest.approx(wanted.running, rel=1e-3, abs=0.1)
        assert got.end_min == pytest.approx(wanted.end, rel=1e-3, abs=0.2)
        assert (got.status == "still_ponded") == wanted.still_ponded
    assert on_edge <= 0.25 * compared + 2
