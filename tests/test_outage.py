"""Minutes to overflow without power, and what a battery gives."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

import drainpump as dp
from drainpump.errors import InputError, UnitError
from tests.storms import LINE, POWERED, A, pit


def test_minutes_are_the_room_over_the_inflow() -> None:
    got = dp.outage(pit(), inflow_gpm=[0, 5, 10])
    room = np.pi / 4 * 18**2 * 14 / 231
    assert got.room_gal == pytest.approx(room)
    assert got.overflow_min.tolist() == pytest.approx([np.inf, room / 5, room / 10])


def test_pond_and_overflow_level_add_room() -> None:
    low = dp.outage(pit(), inflow_gpm=10, overflow_in=26)
    high = dp.outage(pit(), inflow_gpm=10, overflow_in=33, pond_area_ft2=500)
    inch = np.pi / 4 * 18**2 / 231
    assert low.room_gal == pytest.approx(10 * inch)
    assert high.room_gal == pytest.approx(14 * inch + 500 * 0.25 * 1728 / 231)
    empty = dp.outage(pit(), inflow_gpm=10, level_in=6)
    assert empty.room_gal == pytest.approx(24 * inch)


def test_routing_says_the_same_minutes() -> None:
    steady = dp.Hydrograph(flow_gpm=[10], block_min=60)
    dead = dp.route(A, LINE, pit(), steady, outages=[(0, 60)], start_in=16, overflow_in=30,
                    until_min=60)  # fmt: skip
    assert 60 - dead.overflow_min == pytest.approx(dp.outage(pit(), inflow_gpm=10).overflow_min)


def test_battery_lasts_by_the_share_of_time_the_pump_runs() -> None:
    got = dp.outage(pit(), inflow_gpm=[0, 10, 60], battery_wh=500, pump=POWERED, line=LINE)
    cyc = dp.cycle(POWERED, LINE, pit(), inflow_gpm=10)
    power = dp.operating_point(POWERED, LINE, level_above_off_ft=5 / 12).power_w
    share = cyc.run_s / (cyc.run_s + cyc.rest_s)
    assert got.battery_h.tolist() == pytest.approx([np.inf, 500 / (power * share), 500 / power])
    assert got.status.tolist() == ["ok", "ok", "falls_behind"]
    given = dp.outage(pit(), inflow_gpm=10, battery_wh=500, pump=A, line=LINE, power_w=400)
    flow = dp.cycle(A, LINE, pit(), inflow_gpm=10)
    assert given.battery_power_w == pytest.approx(400 * flow.run_s / (flow.run_s + flow.rest_s))


def test_a_battery_that_is_not_known_lasts_no_known_time() -> None:
    got = dp.outage(
        pit(), inflow_gpm=[[0], [10]], battery_wh=[np.nan, 500], pump=POWERED, line=LINE
    )
    assert np.isnan(got.battery_h).tolist() == [[True, False], [True, False]]
    assert got.status.tolist() == [["bad_input", "ok"], ["bad_input", "ok"]]


def test_a_line_that_only_drains_back_does_not_keep_up_on_a_battery_either() -> None:
    back = dp.straight_line(pipe=dp.pvc("3"), length_ft=250, lift_ft=10, check_valve=False)
    turns = dp.cycle(POWERED, back, pit(), inflow_gpm=5)
    assert (turns.pattern, turns.status) == ("never_delivers", "ok")
    got = dp.outage(pit(), inflow_gpm=5, battery_wh=500, pump=POWERED, line=back)
    assert got.status == "falls_behind"


def test_battery_hours_agree_with_the_routing() -> None:
    hours = dp.outage(pit(), inflow_gpm=10, battery_wh=60, pump=POWERED, line=LINE).battery_h
    steady = dp.Hydrograph(flow_gpm=[10], block_min=600)
    got = dp.route(POWERED, LINE, pit(), steady, outages=[(0, 600)], battery_wh=60, until_min=600)
    rows = got.to_frame(step_s=10)
    last = rows.loc[rows["pump_flow_gpm"] > 0, "time_min"].max()
    assert last / 60 == pytest.approx(hours, rel=0.03)


def test_nan_stays_in_its_cell() -> None:
    got = dp.outage(pit(), inflow_gpm=[np.nan, 10])
    assert got.status.tolist() == ["bad_input", "ok"]
    assert np.isnan(got.overflow_min[0])


@pytest.mark.parametrize(
    ("given", "kind", "message"),
    [
        (
            {"level_in": 31},
            InputError,
            "level 31 in (787 mm): must be at most the overflow level 30 in (762 mm); it is "
            "overflowing already.",
        ),
        (
            {"overflow_in": 36},
            InputError,
            "overflow level 36 in (914 mm): lies above the rim and the pond's size there is not "
            "known; give pond_area_ft2, or a pond_storage that reaches so high.",
        ),
        (
            {"battery_wh": 100},
            UnitError,
            "outage: battery_wh needs the pump and the line that run on it.",
        ),
        (
            {"power_w": 100},
            UnitError,
            "battery_wh: no value given; pump, line and power_w belong to it.",
        ),
        (
            {"battery_wh": 100, "pump": A, "line": LINE},
            InputError,
            "power_w: not given, and the pump's curve has no power there; give power_w.",
        ),
    ],
)
def test_bad_input_is_refused(given: dict[str, Any], kind: type[InputError], message: str) -> None:
    with pytest.raises(kind) as err:
        dp.outage(pit(), inflow_gpm=10, **given)
    assert str(err.value) == message
