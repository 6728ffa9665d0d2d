"""Costs: by hand, by size, estimated where power is not known, honest about energy."""

from __future__ import annotations

from typing import Any

import pytest

import drainpump as dp

POINTS: dict[str, Any] = {"flow_gpm": [0, 30, 50], "head_ft": [20, 12.8, 0]}
KNOWN = dp.PumpCurve(name="known", price=150, power_w=[300, 350, 380], **POINTS)
BARE = dp.PumpCurve(name="bare", price=150, **POINTS)


def line() -> dp.DischargeLine:
    riser = dp.Run(pipe=dp.pvc("1-1/2"), length_ft=10, rise_ft=6, fittings={"elbow_90": 2})
    buried = dp.Run(pipe=dp.pvc("2"), length_m=30.48, fittings={"elbow_45": 3})
    return dp.DischargeLine(runs=[riser, buried])


def judged(pump: Any, **costs: Any) -> dp.Candidate:
    given = {"pipe_per_ft": 0} | costs
    return dp.select(
        pump, line(), need_gpm=10, limits=dp.Limits(without=["velocity_max", "velocity_min"]),
        costs=dp.Costs(**given),
    ).candidates[0]  # fmt: skip


def test_pipe_and_fittings_by_size_and_name() -> None:
    c = judged(KNOWN, pipe_per_ft={"1-1/2": 1.5, "2": 2}, fitting_each={"elbow_90": 4,
                                                                       "elbow_45": 3})  # fmt: skip
    assert c.cost == pytest.approx(150 + 10 * 1.5 + 100 * 2 + 2 * 4 + 3 * 3)


def test_pipe_by_the_metre_is_the_same_pipe() -> None:
    feet, metres = judged(KNOWN, pipe_per_ft=3.048), {"pipe_per_m": 10.0}
    other = dp.select(KNOWN, line(), need_gpm=10, costs=dp.Costs(**metres),
                      limits=dp.Limits(without=["velocity_max"])).candidates[0]  # fmt: skip
    assert feet.cost == pytest.approx(other.cost)


def test_power_points_are_used_and_without_them_a_stated_estimate() -> None:
    energy = {"energy_per_kwh": 0.3, "water_per_year_gal": 200_000, "years": 5}
    known, bare = judged(KNOWN, **energy), judged(BARE, **energy, efficiency=0.3)
    assert known.cost is not None
    assert bare.cost is not None
    assert known.notes == (
        f"energy matters: {100 * (known.cost - 150) / known.cost:.0f} % of the cost over the years",
    )
    assert bare.notes[0].endswith(", power estimated from an assumed efficiency")
    # lifting a volume takes the same work at any speed: rho g H V / efficiency, 62.37 lb/ft³
    # at 60 °F: Hydraulic Institute, Engineering Data Library
    volume_m3 = 200_000 * 231 * 0.0254**3
    joules = 999.1 * 9.80665 * volume_m3 * bare.head_m / 0.3
    assert bare.cost - 150 == pytest.approx(joules / 3.6e6 * 0.3 * 5, rel=1e-3)


@pytest.mark.parametrize(
    ("given", "note"),
    [
        ({}, "energy not counted: no water_per_year and no energy_per_kwh given"),
        ({"energy_per_kwh": 0.2}, "energy not counted: no water_per_year given"),
        ({"energy_per_kwh": 0.2, "water_per_year_gal": 100, "years": 0},
         "energy not counted: no years given"),
        ({"energy_per_kwh": 0.2, "water_per_year_gal": 1000},
         "energy hardly matters: 0 % of the cost over the years"),
    ],
)  # fmt: skip
def test_energy_that_hardly_matters_or_is_not_counted_is_said(
    given: dict[str, Any], note: str
) -> None:
    assert judged(KNOWN, **given).notes == (note,)


def test_a_bank_costs_and_draws_what_its_pumps_do() -> None:
    two = dp.parallel([KNOWN, KNOWN])
    assert judged(two).cost == pytest.approx(300)
    sel = dp.select([two, KNOWN], line(), need_gpm=10, objective="energy",
                    limits=dp.Limits(without=["velocity_max"]))  # fmt: skip
    for c in sel.candidates:
        watts = dp.operating_point(c.pump, c.line).power_w
        assert c.energy_wh == pytest.approx(watts / (c.flow_lps * 3.6), rel=1e-9)


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"pipe_per_ft": -1}, "pipe_per_ft=-1: must be finite and 0 or more; give 0 or more."),
        ({"pipe_per_ft": float("nan")}, "pipe_per_ft=nan: must be one number; give 0 or more."),
        ({"pipe_per_m": 3}, "pipe: give its price in exactly one of pipe_per_ft, pipe_per_m."),
        ({"efficiency": 0}, "efficiency=0: must be one number above 0; give a share, e.g. 0.25."),
        ({"efficiency": [0.2, 0.3]},
         "efficiency=[0.2, 0.3]: must be one number above 0; give a share, e.g. 0.25."),
        ({"water_per_year_gal": [1, 2]},
         "water_per_year_gal=[1.0, 2.0]: must be one number; give 0 or more."),
        ({"currency": 3}, "currency=3: must be text; say what the prices are in."),
    ],
)  # fmt: skip
def test_what_cannot_be_a_price_is_refused(given: dict[str, Any], message: str) -> None:
    with pytest.raises(dp.InputError) as err:
        dp.Costs(**{"pipe_per_ft": 1} | given)
    assert str(err.value) == message


def test_a_missing_price_is_named() -> None:
    with pytest.raises(dp.InputError) as err:
        judged(KNOWN, fitting_each={"elbow_90": 4})
    assert str(err.value) == (
        "fitting_each: no price for fitting 'elbow_45'; known: 'elbow_90'. Add its price."
    )


def test_pump_pit_outlet_trench_and_lump_sums_by_hand() -> None:
    bare = dp.PumpCurve(name="bare", **POINTS)
    pit = dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=13)
    costs = dp.Costs(
        pipe_per_ft=0, pump_each={"bare": 120}, pit_each=80, outlet_each={"free": 15},
        digging_per_ft=4, lump_sums={"electrician": 300, "permit": 50}, currency="crowns",
    )  # fmt: skip
    assert dp.Costs.from_dict(costs.to_dict()) == costs
    for where, price in ((None, 0), (pit, 80), (pit.replace(price=95), 95)):
        (c,) = dp.select(bare, line(), pit=where, need_gpm=10, costs=costs, doubt=None).candidates
        assert c.cost == pytest.approx(120 + price + 15 + 110 * 4 + 350)
    per_m = costs.replace(digging_per_ft=None, digging_per_m=4 / 0.3048)
    (again,) = dp.select(bare, line(), need_gpm=10, costs=per_m, doubt=None).candidates
    assert again.cost == pytest.approx(120 + 15 + 110 * 4 + 350)
    assert "lump sums {'electrician': 300.0, 'permit': 50.0}, digging 4 per ft" in str(costs)


def test_a_budget_rejects_what_is_above_it_or_not_priced() -> None:
    costs = dp.Costs(pipe_per_ft={"1-1/2": 2, "2": 3}, lump_sums={"electrician": 100})
    lax = ["velocity_max", "velocity_min"]
    (c,) = dp.select(KNOWN, line(), need_gpm=10, costs=costs, doubt=None,
                     limits=dp.Limits(cost_max=500, without=lax)).candidates  # fmt: skip
    assert c.cost == pytest.approx(150 + 20 + 300 + 100)
    assert [r.text for r in c.reasons] == ["costs 570 over the years, at most 500 to be spent"]
    free = dp.PumpCurve(name="free", **POINTS)
    (c,) = dp.select(free, line(), need_gpm=10, costs=costs, doubt=None,
                     limits=dp.Limits(cost_max=5000, without=lax)).candidates  # fmt: skip
    assert [(r.code, r.verdict) for r in c.reasons] == [("cost_high", "not_known")]
    with pytest.raises(dp.InputError) as err:
        dp.select(KNOWN, line(), need_gpm=10, limits=dp.Limits(cost_max=500))
    assert str(err.value) == "cost_max: no costs given; give costs=Costs(...)."


@pytest.mark.parametrize(
    ("given", "message"),
    [
        ({"digging_per_ft": 1, "digging_per_m": 1},
         "digging: give its price in one of digging_per_ft, digging_per_m."),
        ({"lump_sums": 3}, "lump_sums=3: must map names to sums; {'electrician': 300}."),
        ({"pit_each": -1}, "pit_each=-1: must be finite and 0 or more; give 0 or more."),
    ],
)  # fmt: skip
def test_what_cannot_be_a_sum_is_refused(given: dict[str, Any], message: str) -> None:
    with pytest.raises((dp.InputError, dp.UnitError)) as err:
        dp.Costs(pipe_per_ft=1, **given)
    assert str(err.value) == message


def test_an_outlet_without_a_price_is_named() -> None:
    with pytest.raises(dp.InputError) as err:
        judged(KNOWN, outlet_each={"pop_up": 30})
    assert str(err.value) == (
        "outlet_each: no price for outlet 'free'; known: 'pop_up'. Add its price."
    )
