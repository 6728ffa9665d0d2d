"""Every quantity, everywhere: two spellings of one number, one at a time, refused by name.

`CASES` says for each part and function what guard of `units.GUARDS` each quantity is
checked against; the walk below finds the spellings in the signature, so that a keyword
which is not wired to its quantity, or to another's guard, shows.
"""

from __future__ import annotations

import inspect
import math
from collections.abc import Callable, Iterator
from typing import Any, NamedTuple

import numpy as np
import pytest

import drainpump as dp
from drainpump import foreign
from drainpump import units as u
from drainpump.errors import InputError, UnitError

PIPE = dp.pvc("1-1/2")
LINE = dp.straight_line(pipe=PIPE, length_ft=150, lift_ft=10)
PUMP = dp.PumpCurve(name="P", flow_gpm=[0, 20, 40, 55], head_ft=[24, 20, 11, 0])
PIT = dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=13)
RAIN = dp.inflow.RainTable(duration_min=[5, 15, 60], depth_in=[0.5, 1.0, 2.0])
FLOW = dp.Hydrograph(flow_gpm=[0, 30, 0], time_min=[0, 20, 60])
STORM = dp.Hydrograph(flow_gpm=[0, 160, 0], time_min=[0, 20, 60])
BESIDE = dp.Pit(
    diameter_in=18, depth_in=30, off_in=6, on_in=13, body_volume_gal=1, body_height_in=10
)
POP_UP = dp.PopUpOutlet(opening_head_ft=0.2, gap_in=0.5, body_in=4)
HAND_OFF = dp.GravityHandOff(bore_in=4, slope=0.02, n=0.012)


class Case(NamedTuple):
    call: Callable[..., Any]
    given: dict[str, Any]
    guards: dict[str, str]


def case(call: Callable[..., Any], guards: str, **given: Any) -> Case:
    pairs = (pair.split("=") for pair in guards.split())
    return Case(call, given, {pair[0]: pair[1] for pair in pairs})


CASES: dict[str, Case] = {
    "Pipe": case(dp.Pipe, "bore=bore roughness=roughness", bore_in=1.59, roughness_ft=5e-6),
    "pvc": case(dp.pvc, "roughness=roughness", nominal="2", roughness_ft=1e-5),
    "pvc_metric": case(dp.pvc_metric, "roughness=roughness", od_mm=63, sdr=13.6, roughness_ft=1e-5),
    "Run": case(
        dp.Run,
        "length=length rise=rise equivalent_length=equivalent_length",
        pipe=PIPE,
        length_ft=100,
        rise_ft=5,
        equivalent_length_ft=8,
    ),
    "straight_line": case(
        dp.straight_line,
        "length=length lift=lift equivalent_length=equivalent_length water=water",
        pipe=PIPE,
        length_ft=100,
        lift_ft=8,
        equivalent_length_ft=7,
        water_f=50,
    ),
    "DischargeLine": case(
        dp.DischargeLine, "water=water", runs=dp.Run(pipe=PIPE, length_ft=9), water_f=50
    ),
    "DischargeLine.head": case(LINE.head, "flow=flow level_above_off=level", flow_gpm=20,
                               level_above_off_ft=0.5),
    "Fitting": case(
        dp.Fitting, "equivalent_length=equivalent_length", count=2, equivalent_length_ft=3
    ),
    "FreeOutlet": case(dp.FreeOutlet, "lid=lid", lid_ft=0.5),
    "SubmergedOutlet": case(dp.SubmergedOutlet, "depth=level", depth_ft=1),
    "PopUpOutlet": case(
        dp.PopUpOutlet,
        "opening_head=lid gap=positive body=bore",
        opening_head_ft=0.2,
        gap_in=0.5,
        body_in=4,
    ),
    "PopUpOutlet.gap_loss": case(POP_UP.gap_loss, "flow=flow", flow_gpm=20),
    "GravityHandOff": case(dp.GravityHandOff, "bore=bore", bore_in=4, slope=0.02, n=0.012),
    "GravityHandOff.carries": case(HAND_OFF.carries, "flow=flow", flow_gpm=20),
    "PumpCurve": case(
        dp.PumpCurve,
        "flow=flow head=head power=power shutoff=head outlet=positive solids=positive on=level "
        "off=level best_flow=flow",
        name="P",
        flow_gpm=[10, 20, 40, 55],
        head_ft=[22, 20, 11, 0],
        power_w=[200, 250, 300, 310],
        shutoff_ft=27,
        outlet_in=1.5,
        solids_in=0.5,
        on_in=13,
        off_in=6,
        best_flow_gpm=30,
    ),
    "PumpCurve.from_box": case(
        dp.PumpCurve.from_box, "flow_max=flow head_max=head outlet=positive", flow_max_gpm=55,
        head_max_ft=24, outlet_in=1.5,
    ),
    "PumpCurve.head": case(PUMP.head, "flow=flow", flow_gpm=20),
    "parallel": case(dp.parallel, "lag_on=level", pumps=[PUMP, PUMP], lag_on_in=18),
    "Pit": case(
        dp.Pit,
        "diameter=diameter depth=depth off=level on=level alarm=level inlet=level "
        "body_volume=volume body_height=body",
        diameter_in=18,
        depth_in=30,
        off_in=6,
        on_in=13,
        alarm_in=17,
        inlet_in=22,
        body_volume_gal=0.5,
        body_height_in=10,
    ),
    "Pit, oblong": case(
        dp.Pit, "length=side width=side", length_in=24, width_in=20, depth_in=30, off_in=6, on_in=13
    ),
    "PondStorage": case(
        dp.PondStorage, "depth=level volume=volume", depth_in=[4, 8], volume_gal=[900, 2500]
    ),
    "Catchment": case(
        dp.inflow.Catchment, "area=area tc=positive", area_ft2=5000, runoff=0.5, tc_min=10
    ),
    "roof": case(
        dp.inflow.roof, "area=area tc=positive", area_ft2=2000, downspouts=4, reaching=3, tc_min=6
    ),
    "Trench": case(
        dp.inflow.Trench,
        "length=length width=side depth=depth",
        length_ft=40,
        width_ft=2,
        depth_ft=3,
        voids=0.35,
    ),
    "time_of_concentration": case(
        dp.inflow.time_of_concentration,
        "length=length rain=rain",
        method="sheet",
        length_ft=100,
        slope=0.01,
        n=0.15,
        rain_in=3.6,
    ),
    "time_of_concentration, intensity": case(
        dp.inflow.time_of_concentration,
        "length=length intensity=rain_rate",
        method="kinematic",
        length_ft=100,
        slope=0.01,
        n=0.15,
        intensity_in_per_h=2,
    ),
    "Hyetograph": case(
        dp.inflow.Hyetograph, "depth=rain block=positive", depth_in=[0.1, 0.3], block_min=5
    ),
    "Hydrograph": case(
        dp.Hydrograph, "flow=inflow time=any", flow_gpm=[0, 9, 0], time_min=[0, 5, 9]
    ),
    "Hydrograph, blocks": case(
        dp.Hydrograph, "flow=inflow block=positive", flow_gpm=[4, 9], block_min=5
    ),
    "Hydrograph.plus": case(FLOW.plus, "flow=inflow", flow_gpm=3),
    "RainTable": case(
        dp.inflow.RainTable, "duration=positive depth=rain", duration_min=[5, 60], depth_in=[0.5, 2]
    ),
    "RainTable, intensity": case(
        dp.inflow.RainTable,
        "duration=positive intensity=rain_rate",
        duration_min=[5, 60],
        intensity_in_per_h=[6, 2],
    ),
    "RainTable.at": case(RAIN.at, "duration=positive", duration_min=20),
    "RainTable.nested_storm": case(
        RAIN.nested_storm, "block=positive length=positive", block_min=5, length_min=30
    ),
    "RainFit": case(
        dp.inflow.RainFit, "a=positive b=not_negative length=positive",
        a_in_per_h=50, b_min=8, n=0.8, length_min=90,
    ),
    "nrcs_storm": case(dp.inflow.nrcs_storm, "depth=rain block=positive", kind="II", depth_in=4,
                       block_min=30),
    "operating_point": case(
        dp.operating_point, "level_above_off=level", pump=PUMP, line=LINE, level_above_off_ft=0.4
    ),
    "cycle": case(dp.cycle, "inflow=inflow", pump=PUMP, line=LINE, pit=PIT, inflow_gpm=10),
    "cycle, constant": case(
        dp.cycle, "inflow=inflow flow=flow", pit=PIT, inflow_gpm=10, flow_gpm=25
    ),
    "drain_back": case(
        dp.drain_back, "inflow=inflow", pump=PUMP,
        line=dp.straight_line(pipe=PIPE, length_ft=60, lift_ft=8, check_valve=False),
        pit=PIT, inflow_gpm=10,
    ),
    "outage": case(
        dp.outage,
        "inflow=inflow level=level overflow=level pond_area=area battery=not_negative power=power",
        pit=PIT,
        inflow_gpm=10,
        level_in=8,
        overflow_in=34,
        pond_area_ft2=500,
        battery_wh=900,
        power_w=400,
        pump=PUMP,
        line=LINE,
    ),
    "route": case(
        dp.route,
        "overflow=level start=level pond_area=area lead_fails=time until=time",
        pump=dp.parallel([PUMP, PUMP], lag_on_in=18),
        line=LINE,
        pit=PIT,
        inflow=STORM,
        overflow_in=33,
        start_in=7,
        pond_area_ft2=500,
        lead_fails_min=15,
        until_min=90,
    ),
    "held_back": case(
        dp.inflow.held_back, "flow=inflow room=not_negative", inflow=FLOW, flow_gpm=12, room_gal=50
    ),
    "high_point": case(
        dp.high_point, "high_point_limit=any", pump=PUMP, pit=PIT, high_point_limit_ft=20,
        line=dp.DischargeLine(runs=[
            dp.Run(pipe=PIPE, length_ft=30, rise_ft=12),
            dp.Run(pipe=PIPE, length_ft=60, rise_ft=-4),
        ]),
    ),
    "weep_loss": case(dp.weep_loss, "hole=hole", pump=PUMP, line=LINE, hole_in=0.1875),
    "seepage": case(
        dp.inflow.seepage,
        "conductivity=conductivity length=length height=level barrier=level spacing=length "
        "bore=positive",
        conductivity_in_per_h=2,
        length_ft=100,
        height_ft=2,
        barrier_ft=3,
        spacing_ft=20,
        bore_in=4,
    ),
    "seepage, trench": case(
        dp.inflow.seepage,
        "reach=positive",
        drain="trench",
        soil="loam",
        length_ft=100,
        height_ft=2,
        barrier_ft=3,
        reach_ft=30,
    ),
    "inflow_from_cycles": case(
        dp.field.inflow_from_cycles, "working_volume=volume rest=positive run=positive",
        working_volume_gal=8, rest_s=300, run_s=20,
    ),
    "inflow_from_rise": case(
        dp.field.inflow_from_rise, "rise=not_negative level=level", pit=BESIDE, rise_in_per_min=0.5,
        level_in=9,
    ),
    "meter_test": case(
        dp.field.meter_test, "flow=flow sigma=positive level_above_off=any", flow_gpm=22,
        sigma_gpm=0.5, level_above_off_ft=0.3,
    ),
    "bucket_test": case(
        dp.field.bucket_test,
        "volume=volume fill=time level_above_off=any volume_error=not_negative "
        "interval_error=not_negative",
        volume_gal=5, fill_s=[14, 14.5, 13.8], level_above_off_ft=0.3, volume_error_gal=0.1,
        interval_error_s=0.3,
    ),
    "drawdown_test": case(
        dp.field.drawdown_test,
        "from=level to=level run=time inflow=inflow returned=volume level_error=not_negative "
        "diameter_error=not_negative interval_error=not_negative inflow_error=not_negative",
        pit=PIT, from_in=13, to_in=7, run_s=20, inflow_gpm=2, returned_gal=1, level_error_in=0.2,
        diameter_error_in=0.1, interval_error_s=0.4, inflow_error_gpm=0.5,
    ),
    "cycle_log": case(
        dp.field.cycle_log,
        "working_volume=volume rest=time run=time returned=volume volume_error=not_negative "
        "interval_error=not_negative",
        working_volume_gal=8, rest_s=[100, 105], run_s=[21, 22], returned_gal=1,
        volume_error_gal=0.3, interval_error_s=0.4,
    ),
    "gauge_test": case(
        dp.field.gauge_test,
        "pressure=not_negative gauge_above_water=lift bore=bore water=water level_above_off=any "
        "pressure_error=not_negative height_error=not_negative",
        pump=PUMP, pressure_psi=6, gauge_above_water_ft=2, bore_in=1.59, water_f=55,
        level_above_off_ft=0.3, pressure_error_psi=0.2, height_error_in=0.5,
    ),
}  # fmt: skip


def spellings(one: Case, name: str) -> list[str]:
    """The keywords of a quantity, as the signature orders them."""
    every = inspect.signature(one.call).parameters
    found = [
        p
        for p in every
        if (suffix := u.suffix_of(p)) is not None
        and p == f"{name}_{suffix.lstrip('_')}"
        and p not in foreign.READ
    ]
    assert found, name
    return found


def walk() -> Iterator[Any]:
    for label, one in CASES.items():
        for name in one.guards:
            yield pytest.param(one, name, id=f"{label}: {name}")


def without(one: Case, name: str) -> dict[str, Any]:
    return {k: v for k, v in one.given.items() if k not in spellings(one, name)}


def unit(keyword: str) -> str:
    suffix = u.suffix_of(keyword)
    assert suffix is not None
    return suffix


def refusal(call: Callable[[], object]) -> str:
    with pytest.raises((InputError, UnitError)) as err:
        call()
    return str(err.value)


@pytest.mark.parametrize(("one", "name"), list(walk()))
def test_text_is_no_number(one: Case, name: str) -> None:
    for keyword in spellings(one, name):
        said = refusal(lambda k=keyword: one.call(**without(one, name), **{k: "much"}))
        mend = u.GUARDS[one.guards[name]].mend
        assert said == f"{keyword}='much': must be a number or an array of numbers; {mend}."


@pytest.mark.parametrize(("one", "name"), list(walk()))
def test_out_of_bounds_is_refused_in_the_unit_it_was_typed_in(one: Case, name: str) -> None:
    guard = one.guards[name]
    for keyword in spellings(one, name):
        bad = math.inf if guard == "any" else -1e12
        want = refusal(lambda k=keyword, b=bad: u.measure(k, b, unit(k), guard))
        value: Any = bad
        if isinstance(given := one.given.get(keyword), list):
            value = [bad] * len(given)
            want = want.replace(keyword, f"{keyword}[0]", 1)
        said = refusal(lambda k=keyword, v=value: one.call(**without(one, name), **{k: v}))
        assert said == want


@pytest.mark.parametrize(("one", "name"), list(walk()))
def test_two_spellings_at_once_are_refused(one: Case, name: str) -> None:
    pair = spellings(one, name)
    if len(pair) == 1:
        return
    a, b = pair
    said = refusal(lambda: one.call(**without(one, name), **{a: 1.0, b: 2.0}))
    assert said == f"{a}=1.0 and {b}=2.0: more than one unit given; give exactly one of {a}, {b}."


def facts(item: Any) -> dict[str, np.ndarray[Any, Any]]:
    """All that a part or a result says in numbers, or itself if it is a number."""
    views = {v.name: np.asarray(getattr(item, v.name)) for v in u.views(type(item), "metric")}
    if not views and not isinstance(item, float | np.ndarray):
        views = {"fields": np.array([u.number(x) for x in vars(item) if isinstance(x, float)])}
    if isinstance(item, dp.DischargeLine):
        views |= facts(item.head(flow_gpm=20))
    if isinstance(item, dp.inflow.RainFit):
        views |= facts(item.nested_storm(block_min=5))
    return views or {"": np.asarray(item)}


@pytest.mark.parametrize(("one", "name"), list(walk()))
def test_both_spellings_give_the_same(one: Case, name: str) -> None:
    pair = spellings(one, name)
    typed = next(k for k in pair if k in one.given)
    if len(pair) == 1:
        return
    other = pair[0] if pair[1] == typed else pair[1]
    number = u.from_si(u.to_si(one.given[typed], unit(typed)), unit(other))
    want = facts(one.call(**one.given))
    got = facts(one.call(**without(one, name), **{other: number}))
    assert want.keys() == got.keys()
    for key, value in want.items():
        # rel: a change of unit rounds, and a solver's end point moves with it
        if value.dtype.kind in "fi":
            np.testing.assert_allclose(got[key], value, rtol=1e-7, atol=1e-9, err_msg=key)
        else:
            assert np.array_equal(got[key], value), key


@pytest.mark.parametrize(("one", "name"), list(walk()))
def test_each_quantity_counts(one: Case, name: str) -> None:
    """A changed number changes what comes out, or is refused; it is never ignored."""
    typed = next(k for k in spellings(one, name) if k in one.given)
    number = np.asarray(one.given[typed]) * 1.2
    changed = {**one.given, typed: number.tolist() if number.ndim else float(number)}
    before, after = facts(one.call(**one.given)), facts(one.call(**changed))
    assert any(
        not np.array_equal(before[k], after[k], equal_nan=before[k].dtype.kind == "f")
        for k in before
    )
