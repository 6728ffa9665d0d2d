"""Lines without a check valve beside a march through time in small steps.

Starts per hour and net flow must be the same, within 2 %, from `cycle`, `drain_back`, `route`
and `outage`, and what comes in must be found again from the times.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

import drainpump as dp
from tests.oracles import hydraulics as hyd
from tests.oracles import no_check_valve as ncv
from tests.oracles.hydraulics import FOOT, GALLON, GPM, NU_60F, Line
from tests.twins import CASES, differ, gap, hole_of, leg, line_of, pit_of, pump_of

A = hyd.parabola(20, 50)
LIB_A = pump_of(A)
HOLE = hole_of(18, 7, 34)
PIT = dp.Pit(diameter_in=18, depth_in=40, off_in=6, on_in=13)
TWO_INCH = dp.pvc("2")
WITHIN = 0.02


def straight(length_ft: float, lift_ft: float, **more: Any) -> tuple[Line, dp.DischargeLine]:
    twin = Line((leg(2.047, length_ft, lift_ft),), nu=NU_60F)
    line = dp.straight_line(
        pipe=TWO_INCH, length_ft=length_ft, lift_ft=lift_ft, check_valve=False, **more
    )
    return twin, line


def drowned() -> tuple[Line, dp.DischargeLine]:
    """An outlet 2 ft under the off level and 5 ft under water: a surface 3 ft above the former."""
    twin, line = straight(100, -2, outlet=dp.SubmergedOutlet(depth_ft=5))
    return replace(twin, tail=5 * FOOT), line


def routed(pump: Any, line: Any, pit: Any, inflow_gpm: float, hours: float = 8) -> dict[str, float]:
    """Starts an hour and net flow at a steady inflow, the first two hours left out."""
    found = [
        dp.route(pump, line, pit, dp.Hydrograph(flow_gpm=[inflow_gpm] * 2, time_min=[0, end]),
                 until_min=end)
        for end in (120, 120 + 60 * hours)
    ]  # fmt: skip
    first, last = found
    return {
        "starts": float(last.starts - first.starts) / hours,
        "net": float(last.pumped_gal - first.pumped_gal) / (60 * hours),
        "resolution": 1 / hours,
    }


def all_rooms(pump: Any, line: Any, pit: Any, inflow_gpm: float) -> dict[str, float]:
    """Starts an hour by every room that says them."""
    battery = dp.outage(
        pit, inflow_gpm=inflow_gpm, pump=pump, line=line, battery_wh=1000, power_w=500
    )
    cyc = dp.cycle(pump, line, pit, inflow_gpm=inflow_gpm)
    back = dp.drain_back(pump, line, pit, inflow_gpm=inflow_gpm)
    return {
        "cycle": float(cyc.starts_per_h),
        "drain_back": float(back.settled_starts_per_h),
        "route": routed(pump, line, pit, inflow_gpm)["starts"],
        "cycle run_s share": float(cyc.run_s / (cyc.run_s + cyc.rest_s)),
        "outage run share": 1000 / (500 * float(battery.battery_h)),
    }  # fmt: skip


def wanted(cycles: ncv.Cycles) -> dict[str, float]:
    share = cycles.run / (cycles.run + cycles.rest)
    starts = dict.fromkeys(("cycle", "drain_back", "route"), cycles.starts_per_h)
    return starts | dict.fromkeys(("cycle run_s share", "outage run share"), share)


# --- the march itself, by limits known before ---


def test_march_keeps_the_water() -> None:
    for length, inflow in ((20, 10), (150, 5), (60, 20)):
        found = ncv.settle(A, straight(length, 5)[0], HOLE, inflow * GPM)
        assert found.delivered == pytest.approx(found.came_in, rel=1e-6)


def test_march_of_a_line_of_no_volume_is_the_textbook_cycle() -> None:
    """A hair of a line that takes nothing: V/q and V/(Q - q), Q the mean between the floats."""
    twin = Line((leg(2.047, 0.05, 5),), nu=NU_60F)
    found = ncv.settle(A, twin, HOLE, 10 * GPM, step=0.005)
    low, high = (hyd.operating_flow(A, twin, level) for level in (0.0, HOLE.travel))
    mean = (low + high) / 2
    assert found.rest == pytest.approx(HOLE.working / (10 * GPM), rel=2e-3)
    assert found.run == pytest.approx(HOLE.working / (mean - 10 * GPM), rel=3e-3)


def test_march_does_not_hang_on_its_step() -> None:
    twin = straight(150, 5)[0]
    rates = [ncv.settle(A, twin, HOLE, 5 * GPM, step).starts_per_h for step in (0.1, 0.02)]
    assert rates[0] == pytest.approx(rates[1], rel=1e-3)


def test_march_fills_the_reference_line_as_known() -> None:
    """Two other solvers had 29.1 gpm for the first cycle and 85 starts an hour once settled."""
    twin = Line((leg(2.047, 150, 6, 6.3),), lid=0.25 * FOOT)
    hole, made = hole_of(18, 7, 24), hyd.parabola(20, 50, 200)
    assert ncv.least_inflow(made, twin, hole) / GPM == pytest.approx(29.1, abs=0.06)
    assert ncv.settle(made, twin, hole, 5 * GPM).starts_per_h == pytest.approx(85, abs=0.5)


# --- one model ---


@pytest.mark.parametrize(
    "room", ["cycle", "drain_back", "route", "cycle run_s share", "outage run share"]
)
def test_more_runs_back_than_the_floats_hold(room: str) -> None:
    """150 ft of 2 in hold 25.6 gal, the floats 7.7: 89.7 starts an hour at 5 gpm."""
    twin, line = straight(150, 5)
    cycles = ncv.settle(A, twin, HOLE, 5 * GPM)
    assert cycles.starts_per_h == pytest.approx(89.7, abs=0.1)
    want = wanted(cycles)[room]
    assert all_rooms(LIB_A, line, PIT, 5)[room] == pytest.approx(want, rel=WITHIN)


@pytest.mark.parametrize(
    "room", ["cycle", "drain_back", "route", "cycle run_s share", "outage run share"]
)
@pytest.mark.parametrize(("length_ft", "inflow_gpm"), [(20, 10), (40, 5), (40, 20)])
def test_less_runs_back_than_the_floats_hold(
    length_ft: float, inflow_gpm: float, room: str
) -> None:
    twin, line = straight(length_ft, 5)
    want = wanted(ncv.settle(A, twin, HOLE, inflow_gpm * GPM))[room]
    found = all_rooms(LIB_A, line, PIT, inflow_gpm)[room]
    assert found == pytest.approx(want, rel=WITHIN)


def test_what_has_no_room_in_the_pit_never_gets_out_and_is_rejected() -> None:
    """150 ft of 2 in hold 25.6 gal, the pit 14.3 above its off level: it overflows at each stop."""
    line, small = straight(150, 5)[1], dp.Pit(diameter_in=18, depth_in=19, off_in=6, on_in=13)
    for inflow, pattern in ((5, "never_delivers"), (30, "restarts_at_once")):
        turns = dp.cycle(LIB_A, line, small, inflow_gpm=inflow)
        back = dp.drain_back(LIB_A, line, small, inflow_gpm=inflow)
        assert (turns.pattern, turns.keeps_up, back.overflows) == (pattern, False, True)
        assert back.reaches_outlet == (pattern != "never_delivers")
        assert turns.starts_per_h == pytest.approx(back.settled_starts_per_h, rel=1e-9)
    (rejected,) = dp.select(LIB_A, line, need_gpm=5, pit=small).candidates
    reason = next(r for r in rejected.reasons if r.code == "returned_overflows")
    assert (reason.value, reason.limit) == pytest.approx((25.64, 14.32), abs=0.01)
    assert reason.text == (
        "25.6 gal (97.1 L) run back at each stop, and the pit holds 14.3 gal (54.2 L) above its "
        "off level"
    )
    (kept,) = dp.select(LIB_A, line, need_gpm=5, pit=PIT).candidates
    assert "returned_overflows" not in {r.code for r in kept.reasons}


@pytest.mark.parametrize("inflow_gpm", [5, 10, 20])
def test_net_flow_is_the_inflow_where_it_settles(inflow_gpm: float) -> None:
    line = straight(150, 5)[1]
    back = dp.drain_back(LIB_A, line, PIT, inflow_gpm=inflow_gpm)
    assert back.net_gal * back.settled_starts_per_h / 60 == pytest.approx(inflow_gpm, rel=WITHIN)
    assert routed(LIB_A, line, PIT, inflow_gpm)["net"] == pytest.approx(inflow_gpm, rel=WITHIN)


@pytest.mark.parametrize("length_ft", [20, 40, 150])
def test_worst_starts_over_all_inflows(length_ft: float) -> None:
    twin, line = straight(length_ft, 5)
    most = hyd.operating_flow(A, twin)
    inflows = np.linspace(0.02, 0.9, 45) * most
    rates = [ncv.settle(A, twin, HOLE, q).starts_per_h for q in inflows]
    found = dp.cycle(LIB_A, line, PIT, inflow_gpm=5)
    assert found.worst_starts_per_h == pytest.approx(max(rates), rel=0.03)


def test_vented_hump_gives_back_its_riser_only() -> None:
    """18 ft up 14, then 300 ft down 13.5: 2.5 gal of the riser, nothing of the leg behind."""
    twin = Line((leg(2.047, 18, 14), leg(2.047, 300, -13.5)))
    cycles = ncv.settle(A, twin, HOLE, 8 * GPM)
    line = line_of(twin, check_valve=False)
    cyc = dp.cycle(LIB_A, line, PIT, inflow_gpm=8)
    assert cyc.returned_gal == pytest.approx(ncv.riser_volume(twin) / GALLON, rel=1e-3)
    assert cyc.starts_per_h == pytest.approx(cycles.starts_per_h, rel=WITHIN)
    back = dp.drain_back(LIB_A, line, PIT, inflow_gpm=8)
    assert back.settled_starts_per_h == pytest.approx(cycles.starts_per_h, rel=WITHIN)
    assert routed(LIB_A, line, PIT, 8)["starts"] == pytest.approx(cycles.starts_per_h, rel=WITHIN)


def test_random_lines_that_drain_back() -> None:
    def compare(rng: np.random.Generator) -> str | None:
        made = hyd.parabola(rng.uniform(15, 30), rng.uniform(30, 70))
        lift, legs = rng.uniform(3, 10), int(rng.integers(1, 3))
        twin = Line(
            tuple(
                leg(rng.uniform(1.3, 2.5), lift + rng.uniform(5, 150 / legs), lift / legs,
                    rng.uniform(0, 5))
                for _ in range(legs)
            ),
            lid=float(rng.choice([0.0, 0.25])) * FOOT,
        )  # fmt: skip
        hole = hole_of(rng.uniform(18, 30), rng.uniform(5, 10), 100)
        full = hyd.operating_flow(made, twin)
        if isinstance(full, str) or full < 6 * GPM:
            return None
        q = rng.uniform(0.1, 0.7) * full
        cycles = ncv.settle(made, twin, hole, q)
        found = all_rooms(pump_of(made), line_of(twin, check_valve=False), pit_of(hole), q / GPM)
        said = [gap(k, found[k], v, WITHIN) for k, v in wanted(cycles).items()]
        over = ncv.riser_volume(twin) / hole.working
        bad = [x for x in said if x]
        return f"runs back {over:.2f} of the floats': " + "; ".join(bad) if bad else None

    assert differ(max(CASES // 10, 4), compare) == ""


# --- the first cycle ---


def test_least_inflow_that_delivers_where_the_pit_runs_lowest_on_the_way() -> None:
    made = hyd.parabola(20, 60)
    twin = Line((leg(1.590, 400, 14),), nu=NU_60F)
    want = ncv.least_inflow(made, twin, HOLE) / GPM
    assert want == pytest.approx(23.8, abs=0.06)
    line = dp.straight_line(pipe=dp.pvc("1-1/2"), length_ft=400, lift_ft=14, check_valve=False)
    found = dp.drain_back(pump_of(made), line, PIT, inflow_gpm=[0, want - 0.2, want + 0.2])
    assert found.delivers.tolist() == [False, False, True]
    assert found.threshold_inflow_gpm == pytest.approx([want] * 3, abs=0.06)


def test_random_least_inflows_agree_with_delivers() -> None:
    def compare(rng: np.random.Generator) -> str | None:
        made = hyd.parabola(rng.uniform(15, 30), rng.uniform(30, 70))
        lift = rng.uniform(3, 14)
        twin = Line((leg(rng.uniform(1.3, 2.5), lift + rng.uniform(50, 400), lift),))
        hole = hole_of(rng.uniform(18, 30), rng.uniform(5, 10), 100)
        if isinstance(hyd.operating_flow(made, twin), str):
            return None
        want = ncv.least_inflow(made, twin, hole) / GPM
        if want < 0.5:
            return None
        around = want * np.array([0.98, 1.02])
        found = dp.drain_back(
            pump_of(made), line_of(twin, check_valve=False), pit_of(hole), inflow_gpm=around
        )
        said = gap("threshold gpm", found.threshold_inflow_gpm[0], want, 5e-3)
        if not said and found.delivers.tolist() != [False, True]:
            said = f"around {want:.3f} gpm delivers {found.delivers.tolist()}"
        return said

    assert differ(max(CASES // 5, 4), compare) == ""


# --- inflow from the times ---


def test_inflow_from_cycles_with_water_that_returns() -> None:
    """20 ft of 2 in give 3.42 gal back: the rest begins with them in the pit."""
    twin, _ = straight(20, 5)
    back = ncv.riser_volume(twin) / GALLON
    assert back == pytest.approx(3.42, abs=0.005)
    cycles = ncv.settle(A, twin, HOLE, 10 * GPM)
    seen = dp.field.inflow_from_cycles(
        working_volume_gal=HOLE.working / GALLON, returned_gal=back,
        rest_s=cycles.rest, run_s=cycles.run,
    )  # fmt: skip
    assert seen.inflow_gpm == pytest.approx(10, rel=1e-3)
    # the pump takes down the floats' volume and what comes in: its mean flow while it runs
    pumped = HOLE.working / cycles.run / GPM + 10
    assert seen.flow_gpm == pytest.approx(pumped, rel=1e-3)


def test_inflow_from_cycles_undoes_cycle() -> None:
    line = straight(40, 5)[1]
    cyc = dp.cycle(LIB_A, line, PIT, inflow_gpm=[4, 10, 20])
    seen = dp.field.inflow_from_cycles(
        working_volume_gal=cyc.working_volume_gal, returned_gal=cyc.returned_gal,
        rest_s=cyc.rest_s, run_s=cyc.run_s,
    )  # fmt: skip
    assert seen.inflow_gpm == pytest.approx([4, 10, 20], rel=1e-6)


# --- tail water ---


def test_tail_water_that_runs_back_by_hand() -> None:
    """3 ft of water over 100 ft of 2 in: about 39 gpm, 3.8 ft/s."""
    twin, _ = drowned()
    back = ncv.back_flow(twin, 0.0)
    assert back / GPM == pytest.approx(39, abs=0.5)
    # Hazen-Williams with C 150 for the pipe, the velocity head beside it
    v = 0.4085 * (back / GPM) / 2.047**2
    slope = (v / (1.318 * 150 * (2.047 / 48) ** 0.63)) ** (1 / 0.54)
    assert 100 * slope + v**2 / 64.35 == pytest.approx(3, rel=0.06)


@pytest.mark.parametrize("room", ["cycle", "drain_back", "route"])
@pytest.mark.parametrize("inflow_gpm", [1, 5, 20])
def test_tail_water_keeps_the_pump_switching(inflow_gpm: float, room: str) -> None:
    twin, line = drowned()
    cycles = ncv.with_tail_water(A, twin, HOLE, inflow_gpm * GPM)
    assert cycles.delivered == pytest.approx(cycles.came_in, rel=1e-4)
    if room == "cycle":
        found = dp.cycle(LIB_A, line, PIT, inflow_gpm=inflow_gpm).starts_per_h
    elif room == "drain_back":
        found = dp.drain_back(LIB_A, line, PIT, inflow_gpm=inflow_gpm).settled_starts_per_h
    else:
        found = routed(LIB_A, line, PIT, inflow_gpm)["starts"]
    assert found == pytest.approx(cycles.starts_per_h, rel=0.03)


def test_tail_water_alone_starts_the_pump() -> None:
    """Without any inflow the pump still switches: the tail water fills the pit again and again."""
    twin, line = drowned()
    cyc = dp.cycle(LIB_A, line, PIT, inflow_gpm=0)
    want = ncv.with_tail_water(A, twin, HOLE, 0.0)
    assert cyc.starts_per_h == pytest.approx(want.starts_per_h, rel=0.03)
    assert cyc.pattern != "idle"


def test_tail_water_comes_back_through_all_of_a_rising_line() -> None:
    """A narrow last run, wide ones below it: nothing lets air in, so the whole fall pulls."""
    legs = leg(2.047, 54, 4.6, 2), leg(2.047, 113, 1.4, 1.2), leg(1.36, 86, 2.5, 2.3)
    twin = Line(legs, nu=NU_60F, tail=2.2 * FOOT)
    line = line_of(twin, check_valve=False)
    cyc = dp.cycle(LIB_A, line, PIT, inflow_gpm=5)
    want = ncv.with_tail_water(A, twin, HOLE, 5 * GPM)
    assert (cyc.run_s, cyc.rest_s) == pytest.approx((want.run, want.rest), rel=0.01)


def test_tail_water_below_the_off_level_does_not_run_back() -> None:
    line = straight(100, -6, outlet=dp.SubmergedOutlet(depth_ft=5))[1]
    assert dp.cycle(LIB_A, line, PIT, inflow_gpm=0).pattern == "idle"


def test_check_valve_holds_the_tail_water() -> None:
    line = drowned()[1]
    held = dp.straight_line(
        pipe=TWO_INCH, length_ft=100, lift_ft=-2, outlet=dp.SubmergedOutlet(depth_ft=5)
    )
    assert line != held
    cyc = dp.cycle(LIB_A, held, PIT, inflow_gpm=[0, 5])
    assert cyc.starts_per_h[0] == 0
    assert cyc.rest_s[1] == pytest.approx(HOLE.working / (5 * GPM), rel=1e-6)


#: little water stands over the outlet, far above the pit; in one run, and with a level end
LOW_TAIL = {
    "outlet": dp.SubmergedOutlet(depth_ft=0.6), "check_valve": False,
    "runs": [dp.Run(pipe=TWO_INCH, length_ft=40, rise_ft=8)],
}  # fmt: skip
LEVEL_END = LOW_TAIL | {"runs": [*LOW_TAIL["runs"], dp.Run(pipe=TWO_INCH, length_ft=2, rise_ft=0)]}


def test_tail_water_comes_back_alike_alone_and_beside_a_line_of_more_runs() -> None:
    more = dp.DischargeLine(
        runs=[dp.Run(pipe=TWO_INCH, length_ft=20, rise_ft=3)] * 2, check_valve=False
    )
    low, level = dp.DischargeLine(**LOW_TAIL), dp.DischargeLine(**LEVEL_END)
    lines = [more, low, level]
    alone = [dp.cycle(LIB_A, line, PIT, inflow_gpm=5).starts_per_h for line in lines]
    beside = dp.cycle(LIB_A, lines, PIT, inflow_gpm=5).starts_per_h
    assert beside == pytest.approx(alone, rel=1e-9)
    burst = dp.Hydrograph(flow_gpm=[5, 40, 5, 0], block_min=10)
    storms = [dp.route(LIB_A, line, PIT, burst, pond_area_ft2=500) for line in lines]
    found = dp.route(LIB_A, lines, PIT, burst, pond_area_ft2=500)
    assert found.starts.tolist() == [one.starts for one in storms]
    assert found.peak_pond_in == pytest.approx([one.peak_pond_in for one in storms], rel=1e-9)
    # two feet more, level, hardly slow what comes back: no more than the longer way does
    assert alone[1] > alone[2] > 0.9 * alone[1]
