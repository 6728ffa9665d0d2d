"""Whose float is in force: the pit's, or the pump's own where the pit leaves it open."""

from __future__ import annotations

import numpy as np
import pytest

import drainpump as dp
from tests.problems import r1_line

LINE = r1_line(2.047)
PUMP = dp.PumpCurve(name="own", flow_gpm=[0, 30, 50], head_ft=[20, 12.8, 0], on_in=12, off_in=5)
OTHER = dp.PumpCurve(name="high", flow_gpm=[0, 40, 65], head_ft=[35, 22, 2], on_in=14, off_in=6)
BARE = dp.PumpCurve(name="bare", flow_gpm=[0, 30, 50], head_ft=[20, 12.8, 0])
OPEN = dp.Pit(diameter_in=18, depth_in=30)


def closed(pump: dp.PumpCurve) -> dp.Pit:
    return OPEN.replace(on_in=pump.on_in, off_in=pump.off_in)


def test_an_open_pit_cycles_and_routes_by_each_pumps_own_float() -> None:
    both = dp.cycle([PUMP, OTHER], [LINE], OPEN, inflow_gpm=10)
    for i, pump in enumerate((PUMP, OTHER)):
        one = dp.cycle(pump, LINE, closed(pump), inflow_gpm=10)
        assert both.worst_starts_per_h[i, 0] == pytest.approx(one.worst_starts_per_h, rel=1e-9)
        burst = dp.Hydrograph(flow_gpm=[10, 30, 5], block_min=10)
        routed = [dp.route(pump, LINE, pit, burst).starts for pit in (OPEN, closed(pump))]
        assert routed[0] == routed[1]


def test_a_choice_says_whose_float_is_in_force() -> None:
    for c in dp.select([PUMP, OTHER], LINE, pit=OPEN, need_gpm=20, doubt=None).candidates:
        assert (c.pit.on_in, c.pit.off_in) == pytest.approx((c.pump.on_in, c.pump.off_in))
        own = dp.cycle(c.pump, LINE, closed(c.pump), inflow_gpm=0).worst_starts_per_h
        assert c.worst_starts_per_h == pytest.approx(own, rel=1e-9)
        off, on = f"off {c.pump.off_in:g} in ({c.pump.off_mm:.3g} mm)", f"on {c.pump.on_in:g} in"
        said = f"floats: {off}, {on} ({c.pump.on_mm:.3g} mm), the pump's own"
        assert said in c.notes
        assert said in c.explain().text()
        assert f"note: {said}" in repr(dp.cycle(c.pump, LINE, OPEN, inflow_gpm=10))
        burst = dp.Hydrograph(flow_gpm=[10, 30, 5], block_min=10)
        assert f"note: {said}" in repr(dp.route(c.pump, LINE, OPEN, burst))
    given = OPEN.replace(on_in=20, off_in=8)
    limits = dp.Limits(without=["range_share_max"])
    (c,) = dp.select(PUMP, LINE, pit=given, need_gpm=20, doubt=None, limits=limits).candidates
    own = dp.cycle(PUMP, LINE, closed(PUMP), inflow_gpm=0).worst_starts_per_h
    assert c.notes[-1] == (
        "floats: off 8 in (203 mm), on 20 in (508 mm), the pit's; the pump's own, off 5 in "
        f"(127 mm), on 12 in (305 mm), are not used: on them {own:.3g}/h starts in the worst case"
    )
    both = repr(dp.cycle([PUMP, BARE], LINE, given, inflow_gpm=10))
    assert both.splitlines()[-1] == "  note: own: " + c.notes[-1].split(": on them")[0]


def test_one_float_may_be_left_open() -> None:
    half = OPEN.replace(off_in=7)
    assert half.open
    found = half.floats_of(PUMP)
    assert (found.off_in, found.on_in, found.open) == (7, pytest.approx(12), False)
    assert found.floats_of(BARE) is found
    assert half.floats_said(PUMP) == (
        "floats: off 7 in (178 mm), the pit's; on 12 in (305 mm), the pump's own"
    )
    assert dp.Pit.from_dict(half.to_dict()) == half
    assert str(OPEN) == (
        "Pit(diameter 18 in (457 mm), depth 30 in (762 mm), off left to the pump, on left to "
        "the pump)"
    )


def test_a_float_that_nobody_says_is_refused() -> None:
    with pytest.raises(dp.InputError) as err:
        dp.cycle(BARE, LINE, OPEN, inflow_gpm=10)
    assert str(err.value) == (
        "pit: its off float is open, and pump 'bare' does not say its own; give off_in or off_mm "
        "to the pit or the pump."
    )
    with pytest.raises(dp.InputError) as err:
        dp.outage(OPEN, inflow_gpm=5)
    assert str(err.value) == (
        "pit: its on float is open; give on_in or on_mm, or take the pump's own with "
        "pit.floats_of(pump)."
    )
    burst = dp.Hydrograph(flow_gpm=[10, 30, 5], block_min=10)
    with pytest.raises(dp.InputError) as err:
        dp.route([PUMP, OTHER], LINE, OPEN, burst)
    assert str(err.value) == (
        "pit: its floats are open, and the pumps' own are not alike; route them one by one, or "
        "give the pit on and off levels."
    )
    assert np.isnan(dp.cycle(PUMP, LINE, closed(PUMP), inflow_gpm=0).worst_starts_per_h) == 0


# -- floats left to the choice


@pytest.mark.parametrize("doubt", [None, dp.Doubt.usual()])
def test_found_floats_keep_the_starts_and_are_the_lowest_that_do(doubt: dp.Doubt | None) -> None:
    deep = dp.Pit(diameter_in=30, depth_in=48, off_in=7, inlet_in=40)
    limits = dp.Limits(starts_max_per_h=20, without=["range_share_max"])
    asked = {"need_gpm": 20, "limits": limits, "doubt": doubt}
    for c in dp.select([PUMP, OTHER], LINE, pit=deep, floats="find", **asked).candidates:
        assert c.accepted
        assert c.pit.off_in == pytest.approx(7)
        assert c.pit.on_in <= 40
        lower = c.pit.replace(on_in=c.pit.on_in - 0.2)
        (other,) = dp.select(c.pump, LINE, pit=lower, **asked).candidates
        assert {r.code for r in other.reasons} <= {"starts_high", "starts_uncertain"}
        assert other.reasons


def test_found_floats_stop_below_the_inlet_and_stand_on_the_pumps_own_off_level() -> None:
    shallow = dp.Pit(diameter_in=18, depth_in=30, inlet_in=22)
    (c,) = dp.select(PUMP, LINE, pit=shallow, need_gpm=20, floats="find", doubt=None).candidates
    assert (c.pit.off_in, c.pit.on_in) == pytest.approx((5, 22))
    body = shallow.replace(body_volume_gal=1, body_height_in=9)
    (c,) = dp.select(BARE, LINE, pit=body, need_gpm=20, floats="find", doubt=None).candidates
    assert c.pit.off_in == pytest.approx(9)
    with pytest.raises(dp.InputError) as err:
        dp.select(BARE, LINE, pit=shallow, need_gpm=20, floats="find")
    assert str(err.value) == (
        "floats='find': neither the pit nor pump 'bare' says an off level or how high the pump "
        "stands; give off_in, or body_height_in, to the pit."
    )
    with pytest.raises(dp.InputError) as err:
        dp.select(BARE, LINE, need_gpm=20, floats="find")
    assert str(err.value) == "floats='find': no pit given; give pit=Pit(...)."


def test_a_report_says_whose_floats_are_in_force() -> None:
    job = dp.Job(pumps=[PUMP], lines=[LINE], need_gpm=20, pit=OPEN, inflow_gpm=5)
    text = dp.report(job).to_markdown()
    assert "above the floor: off 5 in (127 mm), on 12 in (305 mm), the pump's own" in text
    assert ", the pump's own" not in dp.report(job.replace(pit=closed(PUMP))).to_markdown()
