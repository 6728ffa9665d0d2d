"""Water on its way to the pit: grates, pipes, low spots, curve numbers, and gravity alone."""

from __future__ import annotations

import json
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import drainpump as dp
from tests.oracles.many import dice

Collector = dp.inflow.Collector
PIPE: dict[str, Any] = {"bore_in": 4, "slope": 0.01, "n": 0.012}
TABLE = dp.inflow.RainTable(
    duration_min=[5, 15, 60], depth_in=[[0.4, 0.8, 1.4], [0.6, 1.2, 2.2]], return_year=[2, 10]
)
ROOF = dp.inflow.Catchment(area_ft2=1200, runoff=0.95, tc_min=5, name="roof")
YARD = dp.inflow.Catchment(area_ft2=6000, curve_number="lawn good, soil D", tc_min=10, name="yard")

#: FHWA HEC-22, grates in a sag, computed by hand from its formulas (12 x 12 in and 6 x 6 in,
#: half open): clean, and with half of edge and area clogged
GRATES = [
    ({"grate_length_in": 12, "grate_width_in": 12, "clear_share": 1.0}, 2, 366),
    ({"grate_length_in": 12, "grate_width_in": 12}, 2, 183),
    ({"grate_length_in": 6, "grate_width_in": 6, "clear_share": 1.0}, 1, 64.8),
    ({"grate_length_in": 6, "grate_width_in": 6}, 1, 32.4),
]


@pytest.mark.parametrize(("grate", "depth", "flow"), GRATES)
def test_grates_take_in_what_hec_22_says(grate: dict[str, Any], depth: float, flow: float) -> None:
    wide = Collector(bore_in=12, slope=0.5, n=0.01, **grate)
    assert wide.capacity_gpm(depth_in=depth) == pytest.approx(flow, rel=0.005)
    assert wide.capacity_lps(depth_mm=25.4 * depth) == pytest.approx(flow * 0.0630902, rel=0.005)


def test_deep_water_meets_the_orifice_and_then_the_pipe() -> None:
    # 0.67 x 0.125 ft² x (2 x 32.174 x 4/12)^0.5 cfs, half clogged: 87.0 gpm; below the pipe's 92.5
    basin = Collector(**PIPE, grate_length_in=6, grate_width_in=6)
    by_hand = 0.67 * 0.0625 * (2 * 32.174 * 4 / 12) ** 0.5 * 448.831
    assert basin.capacity_gpm(depth_in=4) == pytest.approx(by_hand, rel=1e-4)
    assert basin.capacity_gpm(depth_in=12) == pytest.approx(92.53, abs=0.01)
    round_one = Collector(**PIPE, grate_diameter_in=8)
    by_hand = 3.0 * np.pi * 8 / 12 * 0.5 * (1 / 12) ** 1.5 * 448.831
    assert round_one.capacity_gpm(depth_in=1) == pytest.approx(by_hand, rel=1e-4)
    kerb = Collector(**PIPE, grate_length_in=12, grate_width_in=6, kerb=True)
    open_one = Collector(**PIPE, grate_length_in=12, grate_width_in=6)
    ratio = kerb.capacity_gpm(depth_in=0.5) / open_one.capacity_gpm(depth_in=0.5)
    assert ratio == pytest.approx(24 / 36)


def test_the_weakest_link_is_named() -> None:
    water = dp.inflow.Water(steady_gpm=1, collectors=[Collector(**PIPE)])
    (link,) = water.weakest_link(flow_gpm=120)
    assert link.verdict == "look"
    assert str(link) == (
        "the 4 in drain, not the pump: it brings 92.5 gpm (5.84 L/s), the pump takes 120 gpm "
        "(7.57 L/s); a larger or steeper pipe to the pit"
    )
    (link,) = water.weakest_link(flow_gpm=40)
    assert (link.verdict, link.text) == (
        "fine",
        "the pump, not the 4 in drain: it brings 92.5 gpm (5.84 L/s), the pump takes 40 gpm "
        "(2.52 L/s)",
    )


def test_a_curve_number_loses_the_first_rain_within_the_storm() -> None:
    # TR-55: 6 in of rain on CN 75 leave 3.28 in
    field = dp.inflow.Catchment(area_ft2=1000, curve_number=75, tc_min=6)
    rain = dp.inflow.Hyetograph(depth_in=[1, 1, 1, 1, 1, 1], block_min=6)
    flow = dp.inflow.runoff_hydrograph(field, rain)
    assert flow.volume_gal * 231 / 1728 / 1000 * 12 == pytest.approx(3.28, abs=0.005)
    assert flow.flow_gpm[1] < 0.1 * flow.flow_gpm[5]
    named = dp.inflow.Catchment(area_ft2=1000, curve_number="lawn good, soil C", tc_min=6)
    assert named.curve_number == 74
    for word, message in (
        (
            "lawn",
            "curve_number='lawn': not in the table of covers; did you mean 'lawn good', 'lawn "
            "fair', 'lawn poor'? Write it with its soil group: 'lawn good, soil C'.",
        ),
        (
            "pavd",
            "curve_number='pavd': not in the table of covers; did you mean 'paved'? Write it with "
            "its soil group: 'lawn good, soil C'.",
        ),
        (
            "xyz",
            "curve_number='xyz': not in the table of covers; known: lawn good, lawn fair, lawn "
            "poor, roof, paved, gravel, dirt, residential 1/8 acre, residential 1/4 acre, "
            "residential 1/2 acre, bare soil, brush good, woods good, woods poor. Write it with "
            "its soil group: 'lawn good, soil C'.",
        ),
        (
            "lawn good",
            "curve_number='lawn good': must name the hydrologic soil group, A to D; write 'lawn "
            "good, soil C' (A drains well, D hardly).",
        ),
    ):
        with pytest.raises(dp.InputError) as err:
            dp.inflow.Catchment(area_ft2=1000, curve_number=word, tc_min=6)
        assert str(err.value) == message
    with pytest.raises(dp.InputError) as err:
        dp.inflow.Catchment(area_ft2=1000, runoff="lawn", tc_min=6)
    assert str(err.value).startswith(
        "runoff='lawn': not in the table of surfaces; did you mean 'la"
    )
    with pytest.raises(dp.UnitError) as err2:
        dp.inflow.Catchment(area_ft2=1000, runoff=0.5, curve_number=75, tc_min=6)
    assert str(err2.value) == (
        "runoff and curve_number: give exactly one of the two, the share that runs off or the "
        "curve number."
    )


def test_storms_of_the_table_stand_side_by_side() -> None:
    water = dp.inflow.Water(steady_gpm=2, catchments=[ROOF], rain=TABLE)
    storms = water.storms()
    assert storms.return_year.tolist() == [2, 10]
    for i, depth in enumerate(TABLE.depth_in):
        one = dp.inflow.RainTable(duration_min=[5, 15, 60], depth_in=depth)
        alone = dp.inflow.runoff_hydrograph(ROOF, one.nested_storm(block_min=5)).plus(flow_gpm=2)
        assert storms.flow_gpm[i] == pytest.approx(alone.flow_gpm, rel=1e-12)
    between = water.storms(return_year=[2, 4, 10])
    part = np.log(2) / np.log(5)
    wanted = (1 - part) * storms.flow_gpm[0] + part * storms.flow_gpm[1]
    assert between.flow_gpm[1] == pytest.approx(wanted, rel=1e-12)
    with pytest.raises(dp.InputError) as err:
        water.storms(return_year=[25])
    assert str(err.value) == (
        "return_year=25.0: must be from 2 to 10, the storms known; nothing is said outside them."
    )


def test_a_water_comes_back_from_plain_values() -> None:
    basin = Collector(**PIPE, grate_length_in=6, grate_width_in=6, pond_area_ft2=200,
                      overflow_in=6, seepage_gpm=1, catchments=[ROOF], name="basin")  # fmt: skip
    water = dp.inflow.Water(steady_gpm=2, catchments=[YARD], rain=TABLE, collectors=[basin])
    again = dp.inflow.Water.from_dict(json.loads(json.dumps(water.to_dict())))
    assert again == water
    assert again.storms().flow_gpm == pytest.approx(water.storms().flow_gpm)


def test_what_cannot_be_is_refused() -> None:
    grate = {"grate_length_in": 6}
    for make, message in (
        (lambda: Collector(**PIPE, **grate),
         "grate_length and grate_width: only one given; give both, or neither."),
        (lambda: Collector(**PIPE, **grate, grate_diameter_in=6),
         "grate_diameter and grate_length: both shapes given; give the one of the two."),
        (lambda: Collector(**PIPE, grate_diameter_in=6, kerb=True),
         "kerb=True: must be False for a round grate; leave it out."),
        (dp.inflow.Water,
         "Water: no water; give steady_gpm, catchments or collectors."),
        (lambda: dp.inflow.Water(steady_gpm=1).storms(),
         "storms: needs a rain table with its return periods; give rain=RainTable(..., "
         "return_year=[...])."),
        (lambda: dp.inflow.Water(rain=TABLE, collectors=[
            Collector(**PIPE, grate_diameter_in=6, catchments=[ROOF])]).storms(),
         "collector '4 in drain': a grate takes in more the deeper the water stands; give "
         "pond_area_ft2 or pond_storage of its low spot."),
    ):  # fmt: skip
        with pytest.raises(dp.InputError) as err:
            make()
        assert str(err.value) == message


# -- balance and an independent simulation


def simulate(
    branch: dict[str, Any], time: np.ndarray, flow: np.ndarray, step: float = 1.0, after: float = 6
) -> tuple[float, float, float, list[float]]:
    """Explicit steps (s) at one low spot, for some hours after the storm.

    Volume passed, peak depth, spilled, and what passes in each step; ft, cfs, ft³.
    """
    pipe = branch["pipe"]
    ticks = np.arange(time[0], time[-1] + after * 3600, step)
    outs = []
    came = np.interp(ticks + step / 2, time, flow, right=0.0)
    area, spill = branch["area"], branch["spill"]
    held = passed = peak = spilled = 0.0
    for q in came.tolist():
        depth = held / area
        weir = 3.0 * branch["edge"] * depth**1.5
        orifice = 0.67 * branch["open"] * (2 * 32.174 * depth) ** 0.5
        out = min(pipe, weir, orifice, held / step + q)
        held += (q - out) * step
        passed += out * step
        outs.append(out)
        over = max(held - spill * area, 0.0)
        held, spilled = held - over, spilled + over
        peak = max(peak, held / area)
    return passed + held, peak, spilled, outs


def pumped(came: list[float], pit: dp.Pit, flows: list[float], step: float) -> float:
    """Explicit steps (s) in a pit; the most that stands above its rim (ft³).

    ``flows`` (cfs) are the pump's at even levels from off to the rim.
    """
    area = np.pi / 4 * (pit.diameter_in / 12) ** 2
    on, rim = (area * (level - pit.off_in) / 12 for level in (pit.on_in, pit.depth_in))
    stored, runs, most = 0.0, False, 0.0
    for q in came:
        out = 0.0
        if runs:
            place = min(stored / rim, 1 - 1e-12) * (len(flows) - 1)
            i = int(place)
            out = flows[i] + (place - i) * (flows[i + 1] - flows[i])
        stored = max(stored + (q - out) * step, 0.0)
        runs = stored > 0 if runs else stored >= on
        most = max(most, stored - rim)
    return most


def test_two_branches_into_one_pit_beside_a_small_step_simulation() -> None:
    for rng in dice(12, 2611):
        depth = rng.uniform(0.02, 0.3, 6)
        rain = dp.inflow.Hyetograph(depth_in=depth, block_min=10)
        fields = [
            dp.inflow.Catchment(area_ft2=float(rng.uniform(2e3, 9e3)), runoff=0.8, tc_min=10)
            for _ in range(2)
        ]
        areas, spills = rng.uniform(300, 2000, 2), rng.uniform(3, 9, 2)
        side, slope = float(rng.uniform(4, 10)), float(rng.uniform(0.005, 0.02))
        by_grate = Collector(bore_in=8, slope=0.02, n=0.01, grate_length_in=side,
                             grate_width_in=side, pond_area_ft2=areas[0], overflow_in=spills[0],
                             catchments=[fields[0]], name="grate")  # fmt: skip
        by_pipe = Collector(bore_in=3, slope=slope, n=0.012, grate_length_in=24,
                            grate_width_in=24, pond_area_ft2=areas[1], overflow_in=spills[1],
                            catchments=[fields[1]], name="pipe")  # fmt: skip
        got = dp.inflow.Water(rain=rain, collectors=[by_grate, by_pipe]).hydrograph()
        passed = 0.0
        for i, (one, edge, hole) in enumerate(
            ((by_grate, 4 * side / 24, (side / 12) ** 2 / 4), (by_pipe, 4.0, 1.0))
        ):
            arrives = dp.inflow.runoff_hydrograph(fields[i], rain)
            branch = {"pipe": one.pipe_gpm / 448.831, "edge": edge, "open": hole,
                      "area": areas[i], "spill": spills[i] / 12}  # fmt: skip
            through, peak, spilled, _ = simulate(
                branch, arrives.time_min * 60, arrives.flow_gpm / 448.831
            )
            told = got.branches[i]
            assert told.passes_gal == pytest.approx(through * 1728 / 231, rel=0.005)
            assert told.peak_depth_in == pytest.approx(12 * peak, rel=0.02)
            assert told.overflow_gal == pytest.approx(
                spilled * 1728 / 231, rel=0.02, abs=0.003 * told.arrives_gal
            )
            passed += told.passes_gal
        assert got.volume_gal == pytest.approx(passed, rel=1e-9)


def test_a_pit_behind_two_branches_beside_a_small_step_simulation() -> None:
    """What ponds at the pit hangs on when its pump starts: the branches' flow must be as fine."""
    pump = dp.PumpCurve(name="A", flow_gpm=[0, 30, 60, 90], head_ft=[30, 26, 17, 0])
    line = dp.straight_line(pipe=dp.Pipe(bore_in=2.047), length_ft=120, lift_ft=6, k=6)
    pit = dp.Pit(diameter_in=24, depth_in=36, off_in=8, on_in=20)
    flows = dp.operating_point(pump, line, level_above_off_ft=np.linspace(0, 28 / 12, 29)).flow_gpm
    step = 0.5
    for rng in dice(4, 148):
        rain = dp.inflow.Hyetograph(depth_in=rng.gamma(0.8, 0.14, 8), block_min=5)
        fields = [
            dp.inflow.Catchment(area_ft2=float(rng.uniform(3e3, 5e3)), runoff=0.8, tc_min=6)
            for _ in range(2)
        ]
        by_grate = Collector(bore_in=8, slope=0.02, n=0.011, grate_length_in=6, grate_width_in=4,
                             pond_area_ft2=200, catchments=[fields[0]])  # fmt: skip
        by_pipe = Collector(bore_in=3, slope=0.01, n=0.012, grate_length_in=18, grate_width_in=18,
                            pond_area_ft2=300, catchments=[fields[1]])  # fmt: skip
        came = np.zeros(1)
        for one, field, edge, hole in (
            (by_grate, fields[0], 10 / 12, 24 / 144 / 4), (by_pipe, fields[1], 3.0, 2.25 / 4)
        ):  # fmt: skip
            arrives = dp.inflow.runoff_hydrograph(field, rain)
            branch = {"pipe": one.pipe_gpm / 448.831, "edge": edge, "open": hole,
                      "area": one.given["pond_area_ft2"], "spill": np.inf}  # fmt: skip
            times = arrives.time_min * 60
            *_, outs = simulate(branch, times, arrives.flow_gpm / 448.831, step, after=1)
            came = came + np.array(outs)
        wanted = 12 / 500 * pumped(came.tolist(), pit, (flows / 448.831).tolist(), step)
        inflow = dp.inflow.Water(rain=rain, collectors=[by_grate, by_pipe]).hydrograph()
        got = dp.route(pump, line, pit, inflow, pond_area_ft2=500)
        assert wanted > 0.05
        assert got.peak_pond_in == pytest.approx(wanted, rel=0.02, abs=0.005)
        assert got.balance_error_gal == pytest.approx(0, abs=1e-9 * got.inflow_gal)


@settings(max_examples=25, deadline=None)
@given(
    st.lists(st.floats(0.0, 0.4), min_size=1, max_size=8),
    st.floats(20, 3000),
    st.floats(0.5, 12),
    st.booleans(),
)
def test_no_water_is_lost_in_a_branch(
    depth: list[float], area: float, spill: float, grate: bool
) -> None:
    rain = dp.inflow.Hyetograph(depth_in=depth, block_min=5)
    size = {"grate_length_in": 6, "grate_width_in": 6} if grate else {}
    branch = Collector(**PIPE, **size, pond_area_ft2=area, overflow_in=spill, catchments=[
        dp.inflow.Catchment(area_ft2=5000, runoff=0.9, tc_min=5)])  # fmt: skip
    got = dp.inflow.Water(rain=rain, collectors=[branch]).hydrograph()
    (told,) = got.branches
    assert told.passes_gal + told.overflow_gal == pytest.approx(told.arrives_gal, abs=1e-9)
    assert got.volume_gal == pytest.approx(told.passes_gal, rel=1e-9, abs=1e-9)
    assert told.peak_depth_in <= spill * (1 + 1e-9)


# -- gravity alone


def test_no_pump_where_gravity_will_do() -> None:
    check = dp.inflow.gravity_check(fall_ft=3, length_ft=235, need_gpm=35, n=0.012)
    by_size = dict(zip(check.bore_in.round(6).tolist(), check.capacity_gpm.tolist(), strict=False))
    assert check.serves
    table = check.to_frame()
    four = table[(table.bore_in.round(6) == 4) & (table.wall == "smooth")].iloc[0]
    assert four.capacity_gpm == pytest.approx(104.6, rel=0.001)  # Manning by hand
    assert by_size.keys() == {3.0, 4.0, 6.0, 8.0, 10.0, 12.0}
    at_11 = dp.inflow.gravity_check(fall_ft=3, length_ft=235, need_gpm=35, n=0.011)
    assert at_11.capacity_gpm[2] == pytest.approx(114, rel=0.002)
    assert "3 in smooth pipe carries it by gravity" in str(check.finding)
    flat = dp.inflow.gravity_check(fall_m=0.01, length_m=80, need_lps=30)
    assert not flat.serves
    assert flat.finding.code == "gravity_short"


# -- what is not known, is several, or is not there


RAIN = dp.inflow.Hyetograph(depth_in=[[0.2, 0.6, 0.3], [0, 0, 0], [1, 2, 1]], block_min=5)
GRATE: dict[str, Any] = {"grate_length_in": 6, "grate_width_in": 6}


def through(rain: dp.inflow.Hyetograph = RAIN, **basin: Any) -> dp.Hydrograph:
    branch = Collector(**PIPE | {"catchments": [ROOF]} | basin)
    return dp.inflow.Water(rain=rain, collectors=[branch]).hydrograph()


@pytest.mark.parametrize(
    "ground",
    [
        {"pond_area_ft2": 200},
        {"pond_area_ft2": 5e5},
        {"pond_area_ft2": 200, "overflow_in": 0.5},
        {"pond_storage": dp.PondStorage(depth_in=[1, 2], volume_gal=[5, 20])},
        {"pond_storage": dp.PondStorage(depth_in=[1, 2], volume_gal=[5, 20]), "overflow_in": 2},
    ],
)
def test_storms_side_by_side_are_the_storms_alone(ground: dict[str, Any]) -> None:
    many = through(**GRATE, **ground)
    (told,) = many.branches
    assert told.passes_gal + told.overflow_gal == pytest.approx(told.arrives_gal, abs=1e-9)
    assert many.volume_gal == pytest.approx(told.passes_gal, abs=1e-9)
    assert many.flow_gpm[1].max() == 0
    assert (told.weakest[1], told.status[1], told.peak_depth_in[1]) == ("", "ok", 0)
    # what runs elsewhere was held back, however shallow it stood
    assert (told.weakest[told.overflow_gal > 0] != "").all()
    for i, depth in enumerate(RAIN.depth_in):
        alone = through(dp.inflow.Hyetograph(depth_in=depth, block_min=5), **GRATE, **ground)
        (one,) = alone.branches
        assert one.passes_gal == pytest.approx(told.passes_gal[i], abs=1e-9)
        # steps are told by the deepest storm's table of depths
        assert one.peak_depth_in == pytest.approx(told.peak_depth_in[i], rel=0.01, abs=0.01)


def test_water_that_waits_on_unknown_ground_is_not_ok() -> None:
    wide, narrow = (through(bore_in=bore, slope=0.005).branches[0] for bore in (12, 1))
    assert wide.status.tolist() == ["ok"] * 3
    assert narrow.status.tolist() == ["no_low_spot", "ok", "no_low_spot"]  # no rain in the second
    for told in (wide, narrow):
        assert (np.isnan(told.peak_depth_in) == (told.status != "ok")).all()
        assert ((told.pond_min > 0) == (told.status != "ok")).all()


def test_a_mere_hole_empties_a_pond_in_the_end() -> None:
    slow = through(bore_in=0.35, slope=0.001, pond_area_ft2=200)
    assert slow.volume_gal == pytest.approx(slow.branches[0].arrives_gal, rel=1e-9)


@pytest.mark.parametrize(
    ("basin", "message"),
    [
        ({"bore_in": np.nan}, "collector 'nan in drain': bore must be one number; a storm goes "
         "through one branch, so make a Collector for each."),
        ({"bore_in": [4, 6], "name": "two"}, "collector 'two': bore must be one number; a storm "
         "goes through one branch, so make a Collector for each."),
        ({"pond_area_ft2": np.nan}, "collector '4 in drain': pond_area must be one number; a "
         "storm goes through one branch, so make a Collector for each."),
        ({"pond_area_ft2": 9, "overflow_in": np.nan}, "collector '4 in drain': overflow must be "
         "one number; a storm goes through one branch, so make a Collector for each."),
        ({"grate_length_in": np.nan, "grate_width_in": 6, "pond_area_ft2": 9}, "collector '4 in "
         "drain': the grate must be one number; a storm goes through one branch, so make a "
         "Collector for each."),
        ({"seepage_gpm": np.nan}, "seepage_gpm=nan: must be known; leave it out."),
        ({"overflow_in": 3},
         "overflow_in=3: needs the size of the low spot; give pond_area_ft2 or pond_storage."),
        ({"overflow_in": 0, "pond_area_ft2": 9},
         "overflow_in=0: must be more than 0; give the depth of water there."),
        ({"overflow_in": 4, "pond_storage": dp.PondStorage(depth_in=[1, 2], volume_gal=[5, 20])},
         "overflow_in=4: must be at most the pond table's last depth, 2 in; or give a table that "
         "goes further."),
        ({"catchments": dp.inflow.Catchment(area_ft2=[1, 2], runoff=0.5, tc_min=5)},
         "runoff_hydrograph: arrays of shapes (3,), (2,) do not broadcast; give arrays of one "
         "shape, or scalars."),
    ],
)  # fmt: skip
def test_a_branch_that_is_not_known_brings_no_number(basin: dict[str, Any], message: str) -> None:
    with pytest.raises(dp.InputError) as err:
        through(**basin)
    assert str(err.value) == message


def test_questions_of_one_branch_take_one_number() -> None:
    water = dp.inflow.Water(steady_gpm=1, collectors=[Collector(**PIPE)])
    for ask, message in (
        (lambda: water.weakest_link(flow_gpm=np.nan),
         "flow_gpm=nan: must be one number above 0; give what the pump moves."),
        (lambda: Collector(**PIPE, **GRATE).weakest(depth_in=[1, 2]),
         "depth_in=[1.0, 2.0]: must be one number; give one."),
        (lambda: dp.inflow.Water(steady_gpm=np.nan),
         "steady_gpm=nan: must be known; leave it out."),
    ):  # fmt: skip
        with pytest.raises(dp.InputError) as err:
            ask()
        assert str(err.value) == message
    seeps = dp.inflow.Water(
        rain=RAIN, collectors=[Collector(**PIPE, seepage_gpm=[1, 2, 3])]
    ).hydrograph()
    assert seeps.volume_gal.tolist() == pytest.approx([15, 30, 45])


def test_one_return_period_asked_for_is_one_storm_with_its_branches() -> None:
    basin = Collector(**PIPE, **GRATE, pond_area_ft2=200, catchments=[ROOF])
    water = dp.inflow.Water(rain=TABLE, collectors=[basin])
    both, one = water.storms(), water.storms(return_year=10)
    assert (one.flow_gpm.ndim, one.return_year) == (1, 10)
    assert one.volume_gal == pytest.approx(both.volume_gal[1])
    assert one.branches[0].peak_depth_in == pytest.approx(
        both.branches[0].peak_depth_in[1], rel=1e-3
    )
    # what stands at a low spot is not interpolated
    between = water.storms(return_year=5)
    assert (between.flow_gpm.ndim, between.branches) == (1, ())
    single = dp.inflow.RainTable(duration_min=[5, 15, 60], depth_in=[0.4, 0.8, 1.4], return_year=2)
    alone = dp.inflow.Water(rain=single, collectors=[basin])
    assert alone.storms(return_year=[2]).peak_gpm == pytest.approx([alone.storms().peak_gpm])
    with pytest.raises(dp.InputError) as err:
        alone.storms(return_year=np.nan)
    assert str(err.value) == (
        "return_year=nan: must be from 2 to 2, the storms known; nothing is said outside them."
    )
