"""The take-off: counted by hand on a line of two sizes, priced where prices were given."""

from __future__ import annotations

import math

import pytest

import drainpump as dp
from drainpump.paper.take_off import take_off
from tests.problems import PUMP_A, r1_pit


def line() -> dp.DischargeLine:
    return dp.DischargeLine(
        runs=[
            dp.Run(pipe=dp.pvc("2"), length_ft=7, rise_ft=6.5,
                   fittings={"check_valve_swing": 1, "elbow_90": 1}),
            dp.Run(pipe=dp.pvc("3"), length_ft=100, rise_ft=3, fittings={"elbow_90": 2}),
            dp.Run(pipe=dp.pvc("3"), length_ft=80, fittings={"elbow_90": 1, "wye_branch": 1,
                                                             "entrance_flush": 1}),
        ]
    )  # fmt: skip


def counted(found: dp.TakeOff) -> dict[tuple[str, str], float]:
    return {(x.what, x.size): x.pieces for x in found.items if not math.isnan(x.pieces)}


def test_a_line_of_two_sizes_counted_by_hand() -> None:
    found = counted(take_off(PUMP_A, line(), r1_pit()))
    # 180 ft and a tenth: 198 ft, ten lengths of 20; 7 ft and a tenth: one
    assert found["3 in Sch 40 PVC", "3 in"] == 10
    assert found["2 in Sch 40 PVC", "2 in"] == 1
    assert found["90° elbow", "2 in"] == 1
    assert found["90° elbow", "3 in"] == 3
    assert found["check valve, swing", "2 in"] == 1
    assert found["wye", "3 in"] == 1
    assert found["increaser", "2 in to 3 in"] == 1
    assert found["open end", ""] == 1
    assert not [what for what, _ in found if "entrance" in what]


def test_a_trench_is_as_long_as_the_runs_in_plan() -> None:
    laid = dp.Laying(trench_depth_in=24, trench_width_in=12)
    costs = dp.Costs(pipe_per_ft=1, digging_per_ft=10)
    items = {x.kind: x for x in take_off(PUMP_A, line(), laying=laid, costs=costs).items}
    feet = math.sqrt(100**2 - 3**2) + 80
    trench = items["trench"]
    assert trench.length / 0.3048 == pytest.approx(feet, rel=1e-12)
    assert trench.volume / 0.3048**3 == pytest.approx(2 * feet, rel=1e-12)
    assert trench.price == pytest.approx(10 * feet, rel=1e-12)
    # 4 in of it
    assert items["bedding"].volume / 0.3048**3 == pytest.approx(feet / 3, rel=1e-12)
    (bare,) = (x for x in take_off(PUMP_A, line()).items if x.kind in ("trench", "bedding"))
    assert math.isnan(bare.volume)


def test_prices_are_those_of_the_costs_and_what_has_none_is_said() -> None:
    costs = dp.Costs(
        pipe_per_ft={"2": 2, "3": 4}, fitting_each=1.5, pit_each=300, currency="crowns",
        outlet_each={"free": 12}, lump_sums={"electrician": 250},
    )  # fmt: skip
    found = take_off(PUMP_A, line(), r1_pit(), costs=costs)
    prices = {(x.kind, x.what): x.price for x in found.items}
    # ten whole lengths of 20 ft
    assert prices["pipe", "3 in Sch 40 PVC"] == 4 * 200
    assert prices["pit", "pit with lid"] == 300
    assert prices["outlet", "open end"] == 12
    assert prices["lump sum", "electrician"] == 250
    assert found.not_counted[0] == "the price of pump, increaser and trench"
    assert found.price == pytest.approx(800 + 40 + 300 + 12 + 250 + 1.5 * 6)
    bare = take_off(PUMP_A, line(), r1_pit().replace(price=280))
    assert bare.price == 280
    assert bare.not_counted[0] == "the price of pump, pipe, valve, fitting, outlet and trench"


def test_a_metric_size_is_no_inch_and_a_bore_stands_in_both_units() -> None:
    for pipe, what, size in (
        (dp.pvc_metric(63, 13.6), "63 mm SDR 13.6 PVC-U", "63 mm"),
        (dp.Pipe(bore_in=1.59), "1.59 in (40.4 mm) bore", "bore 1.59 in (40.4 mm)"),
        (dp.Pipe(bore_in=1.59, name="old pipe"), "old pipe", "bore 1.59 in (40.4 mm)"),
    ):
        one = dp.straight_line(pipe=pipe, length_ft=60, lift_ft=6, fittings={"elbow_90": 2})
        rows = {x.kind: (x.what, x.size) for x in take_off(PUMP_A, one).items}
        assert rows["pipe"] == (what, size)
        assert rows["fitting"] == ("90° elbow", size)


def test_a_bank_is_counted_with_its_risers_and_what_joins_each_pump() -> None:
    riser = dp.Run(pipe=dp.pvc("2"), length_ft=8, rise_ft=6, fittings={"elbow_90": 1})
    pump = PUMP_A.replace(outlet_in=1.5, price=120)
    one = dp.DischargeLine(runs=[dp.Run(pipe=dp.pvc("3"), length_ft=100)])
    found = take_off(dp.parallel([pump, pump], [riser, riser]), one)
    assert counted(found)["2 in Sch 40 PVC", "2 in"] == 1  # 17.6 ft with waste
    assert counted(found)["90° elbow", "2 in"] == 2
    assert counted(found)["pump A", ""] == 2
    assert counted(found)["adapter at the pump", "1.5 in to 2 in"] == 2
    assert found.price == 240


def test_both_unit_systems_are_one_take_off() -> None:
    found = take_off(PUMP_A, line(), laying=dp.Laying(stock_m=6, waste_pct=0))
    us, metric = (found.to_frame(units) for units in ("us", "metric"))
    assert us["pieces"].tolist()[:3] == metric["pieces"].tolist()[:3] == [1, 1, 10]
    assert (us["length_ft"] * 0.3048).to_list() == pytest.approx(
        metric["length_m"].to_list(), nan_ok=True
    )
    assert set(found.to_dict()) == {"items", "price", "currency", "not_counted"}


def test_what_cannot_be_laid_is_refused() -> None:
    for given, said in (
        ({"trench_depth_in": 24},
         "trench_depth and trench_width: only one given; give both, or neither."),
        ({"trench_depth_in": 3, "trench_width_in": 12, "bedding_in": 4},
         "bedding='4 in (102 mm)': must be less than the trench is deep; check both."),
    ):  # fmt: skip
        with pytest.raises(dp.InputError) as err:
            dp.Laying(**given)
        assert str(err.value) == said
