"""What would admit a rejected candidate: found by solving, and it does."""

from __future__ import annotations

from typing import Any

import pytest

import drainpump as dp
from drainpump.choose.admit import changes
from tests.problems import PUMP_A, PUMP_B, r1_line

PIT = dp.Pit(diameter_in=18, depth_in=40, off_in=6, on_in=13, inlet_in=36)
FREE = ["range_share_max"]


def rejected(pump: Any, line: dp.DischargeLine, need: float, **given: Any) -> dp.Candidate:
    (c,) = dp.select(pump, line, need_gpm=need, **given).rejected
    return c


def first(c: dp.Candidate) -> Any:
    return next(changes(c.si.asked, c.pump, c.line, c.pit, c.reasons), None)


def serves(change: Any, c: dp.Candidate) -> bool:
    asked = c.si.asked
    found = dp.select(
        change.pump, change.line, pit=change.pit, limits=asked.limits, doubt=asked.doubt,
        certainty=None if asked.doubt is None else asked.certainty, **asked.need.spelled("need"),
    )  # fmt: skip
    return found.best is not None


@pytest.mark.parametrize("doubt", [None, dp.Doubt.usual()])
def test_starts_are_mended_by_the_float(doubt: dp.Doubt | None) -> None:
    limits = dp.Limits(starts_max_per_h=35, without=FREE)
    c = rejected(PUMP_A, r1_line(2.047), 25, pit=PIT, limits=limits, doubt=doubt)
    assert c.change.startswith("starts only: on at ")
    found = first(c)
    assert serves(found, c)
    # a tenth of an inch less is not enough
    lower = found._replace(pit=PIT.replace(on_in=found.pit.on_in - 0.11))
    assert not serves(lower, c)
    if doubt is None:
        travel = dp.size.float_travel(PUMP_A, r1_line(2.047), PIT, starts_max_per_h=35)
        assert found.pit.on_in == pytest.approx(travel.on_in, abs=0.11)


def test_where_the_float_cannot_rise_so_far_a_pit_is_named() -> None:
    low = PIT.replace(inlet_in=14)
    limits = dp.Limits(starts_max_per_h=35, without=FREE)
    c = rejected(PUMP_A, r1_line(2.047), 25, pit=low, limits=limits, doubt=None)
    found = first(c)
    assert (
        found.words == f"another pit, {found.pit.diameter_in:.4g} in ("
        f"{found.pit.diameter_mm:.4g} mm) across"
    )
    size = dp.size.pit_size(PUMP_A, r1_line(2.047), travel_in=7, starts_max_per_h=35)
    assert found.pit.diameter_in == pytest.approx(size.diameter_in, abs=0.11)
    assert serves(found, c)


def test_a_narrow_gravity_pipe_is_named_by_the_next_that_carries() -> None:
    narrow = dp.GravityHandOff(bore_in=2.05, slope=0.01, n=0.012)
    line = dp.straight_line(pipe=dp.pvc("2"), length_ft=150, lift_ft=6, outlet=narrow)
    c = rejected(PUMP_A, line, 25, limits=dp.Limits(without=FREE))
    assert [r.code for r in c.reasons] == ["hand_off_short"]
    found = first(c)
    assert found.words.startswith("a gravity pipe of 3 in")
    assert serves(found, c)
    assert found.line.outlet.capacity_gpm > c.flow_gpm > narrow.capacity_gpm


def test_a_riser_alone_is_the_smaller_change() -> None:
    riser = dp.Run(pipe=dp.pvc("1-1/4"), length_ft=8, rise_ft=6, name="riser")
    long = dp.Run(pipe=dp.pvc("3"), length_ft=150, name="long run")
    line = dp.DischargeLine(runs=[riser, long])
    c = rejected(PUMP_B, line, 45, limits=dp.Limits(without=[*FREE, "velocity_min"]))
    found = first(c)
    assert found.words.startswith("2 in Sch 40 PVC in riser: ")
    assert found.line.runs[1] == long
    assert serves(found, c)


def test_two_pumps_where_one_cannot() -> None:
    line = dp.straight_line(pipe=dp.pvc("3"), length_ft=40, lift_ft=6)
    c = rejected(PUMP_A, line, 65, limits=dp.Limits(without=FREE))
    found = first(c)
    assert found.words == "two of these pumps side by side"
    assert serves(found, c)


def test_what_no_pipe_mends_is_said() -> None:
    pump = PUMP_A.replace(solids_in=0.25)
    limits = dp.Limits(solids_min_in=1, without=FREE)
    c = rejected(pump, r1_line(2.047), 25, limits=limits)
    assert first(c) is None
    assert c.change == "no change that was tried admits it"


def test_an_accepted_one_needs_none() -> None:
    (c,) = dp.select(PUMP_A, r1_line(2.047), need_gpm=30).candidates
    assert (c.accepted, c.change) == (True, "")


def test_what_was_typed_in_metric_is_said_in_metric() -> None:
    limits = dp.Limits(starts_max_per_h=35, without=FREE)
    c = rejected(PUMP_A, r1_line(2.047), 25, pit=PIT, limits=limits, doubt=None)
    (same,) = dp.select(
        PUMP_A, r1_line(2.047), need_lps=1.577, pit=PIT, limits=limits, doubt=None
    ).rejected
    on_in, on_mm = first(c).pit.on_in, first(c).pit.on_mm
    assert c.change == f"starts only: on at {on_in:.3g} in ({on_mm:.3g} mm)"
    assert same.change == f"starts only: on at {on_mm:.3g} mm ({on_in:.3g} in)"
    assert repr(same).startswith(
        "Candidate(A on 2.047 in bore, 150 ft: 2.15 L/s (34.1 gpm); starts"
    )
    # without a need, by the limit that stands for it
    burst = dp.Hydrograph(flow_lps=[0.6, 5, 2, 0.3, 0], block_min=10)
    for asked, head in (
        ({"pond_depth_max_mm": 50}, "flow, L/s"),
        ({"pond_max_min": 90}, "flow, gpm"),
    ):
        sel = dp.select(
            PUMP_A, r1_line(2.047), pit=PIT, storms=burst, pond_area_m2=80, doubt=None,
            limits=dp.Limits(**asked),
        )  # fmt: skip
        assert head in str(sel)
