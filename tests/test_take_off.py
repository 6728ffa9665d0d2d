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
    assert found["3 in Sch 40 PVC", "bore 3.04 in"] == 10
    assert found["2 in Sch 40 PVC", "bore 2.05 in"] == 1
    assert found["90° elbow", "2 in"] == 1
    assert found["90° elbow", "3 in"] == 3
    assert found["check valve, swing", "2 in"] == 1
    assert found["wye", "3 in"] == 1
    assert found["increaser", "2 in to 3 in"] == 1
    assert found["open end", ""] == 1
    assert not [what for what, _ in found if "entrance" in what]


def test_a_trench_is_as_long_as_the_runs_in_plan() -> None:
    laid = dp.Laying(trench_depth_in=24, trench_width_in=12, trench_price_per_ft=10)
    (trench,) = (x for x in take_off(PUMP_A, line(), laying=laid).items if x.kind == "trench")
    feet = math.sqrt(100**2 - 3**2) + 80
    assert trench.length / 0.3048 == pytest.approx(feet, rel=1e-12)
    assert trench.volume / 0.3048**3 == pytest.approx(2 * feet, rel=1e-12)
    assert trench.price == pytest.approx(10 * feet, rel=1e-12)


def test_prices_are_those_of_whole_lengths_and_what_has_none_is_said() -> None:
    costs = dp.Costs(pipe_per_ft={"2": 2, "3": 4}, fitting_each=1.5, currency="crowns")
    found = take_off(PUMP_A, line(), r1_pit(), costs=costs, laying=dp.Laying(pit_price=300))
    prices = {(x.kind, x.what): x.price for x in found.items}
    assert prices["pipe", "3 in Sch 40 PVC"] == 4 * 200
    assert prices["pit", "pit with lid"] == 300
    assert "price of pump A" in found.not_counted[0]
    assert "price of the trench" in found.not_counted[0]
    assert found.price == pytest.approx(800 + 40 + 300 + 1.5 * 6)
    assert math.isnan(take_off(PUMP_A, line()).price)


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
         "bedding='4 in (101.6 mm)': must be less than the trench is deep; check both."),
        ({"trench_price_per_ft": 1, "trench_price_per_m": 3},
         "trench_price: give it in one of trench_price_per_ft, _per_m."),
    ):  # fmt: skip
        with pytest.raises(dp.InputError) as err:
            dp.Laying(**given)
        assert str(err.value) == said
