"""What pumps, banks, pits and the engine refuse, and in what words: one row a reason."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

import drainpump as dp
from drainpump.errors import InputError
from drainpump.physics import pipes
from tests import refused
from tests.storms import LINE, A, inflow, pit

PIPE = dp.pvc("1-1/2")
DRAIN = {"length_ft": 100, "height_ft": 2, "barrier_ft": 4, "spacing_ft": 30, "bore_in": 4}
TWO_PITS = dp.Pit(diameter_in=[18, 24], depth_in=30, off_in=6, on_in=16)
POND = dp.PondStorage(depth_in=[4], volume_gal=[900])
METER = dp.field.meter_test(flow_gpm=20, sigma_gpm=1)
ENDS: Any = {"flow_gpm": [0, 9], "head_ft": [9, 0]}

REFUSED: dict[str, list[tuple[Callable[[], Any], str]]] = {
    "seepage and inflow seen in the pit": [
        (
            lambda: dp.inflow.seepage(drain="ditch", soil="loam", **DRAIN),
            "drain='ditch': must be 'pipe' or 'trench'; pick one of the two.",
        ),
        (
            lambda: dp.inflow.seepage(sides=3, soil="loam", **DRAIN),
            "sides=3: must be 1 or 2; count the sides water comes from.",
        ),
        (
            lambda: dp.inflow.seepage(soil="loam", conductivity_in_per_h=2, **DRAIN),
            "soil and conductivity: give exactly one of soil, conductivity_in_per_h, "
            "conductivity_mm_per_h.",
        ),
        (
            lambda: dp.field.inflow_from_cycles(working_volume_gal=0, rest_s=60),
            "working_volume_gal=0: must be above 0; give the water between the floats.",
        ),
        (
            lambda: dp.field.inflow_from_cycles(working_volume_l=[8, 0], rest_s=60),
            "working_volume_l=[8.0, 0.0]: must be above 0; give the water between the floats.",
        ),
        (
            lambda: dp.field.inflow_from_cycles(working_volume_l=[8, 2], rest_s=[6, 7, 8]),
            "inflow_from_cycles: arrays of shapes (2,), (3,) do not broadcast; give "
            "arrays of one shape, or scalars.",
        ),
        (
            lambda: dp.field.inflow_from_cycles(working_volume_gal=8, returned_gal=8, rest_s=60),
            "returned 8 gal (30.3 L): must be less than the working volume 8 gal (30.3 L); the "
            "pump would start again at once and never rest.",
        ),
        (
            lambda: dp.field.inflow_from_rise(18, rise_in_per_min=1),
            "pit=18: must be a Pit; make one with Pit(...).",
        ),
    ],
    "routing and ponds": [
        (lambda: dp.route(A, LINE, 18, inflow()), "pit=18: must be a Pit; make one with Pit(...)."),
        (
            lambda: dp.route(A, LINE, [pit(), 18], inflow()),
            "pit[1]=18: must be a Pit; make one with Pit(...).",
        ),
        (
            lambda: dp.route(A, LINE, [], inflow()),
            "pit=[]: must hold at least one Pit; the list is empty.",
        ),
        (
            lambda: dp.route(A, LINE, pit(), "storm"),
            "inflow='storm': must be a Hydrograph; make one with Hydrograph(...).",
        ),
        (
            lambda: dp.route(A, LINE, pit(), []),
            "inflow=[]: must hold at least one Hydrograph; the list is empty.",
        ),
        (
            lambda: dp.route(A, LINE, [pit(), TWO_PITS], inflow()),
            "route: pits or storms of unlike shapes (), (2,); give those in one list "
            "the same shape.",
        ),
        (
            lambda: dp.route(A, LINE, pit(), inflow(), pond_area_ft2=400, pond_storage=POND),
            "pond_area and pond_storage: both given; give the area, or the table of storage.",
        ),
        (
            lambda: dp.route(A, LINE, pit(), inflow(), pond_storage=400),
            "pond_storage=400: must be a PondStorage; make one with PondStorage(...).",
        ),
        (
            lambda: dp.route(A, LINE, pit(), inflow(), until_min=[30, 60]),
            "until_min=[30.0, 60.0]: must be one number; give minutes from the start.",
        ),
        (
            lambda: dp.route(A, LINE, pit(), inflow(), until_min=np.nan),
            "until_min=nan: must be one number; give minutes from the start.",
        ),
        (
            lambda: dp.route(A, LINE, pit(), inflow(), lead_fails_min=[5, 6]),
            "lead_fails_min=[5.0, 6.0]: must be one number; give minutes from the start.",
        ),
        (
            lambda: dp.route(A, LINE, [pit(), pit(18)], inflow()).to_frame(step_s=60),
            "to_frame: a step shows one storm over time, and this result holds shape "
            "(2,); route one case.",
        ),
        (
            lambda: dp.PondStorage(depth_in=[4, 8], volume_gal=[900]),
            "PondStorage: depths of shape (2,) and volumes of shape (1,); give two "
            "lists of one length, one row or more.",
        ),
        (
            lambda: dp.PondStorage(depth_in=4, volume_gal=900),
            "PondStorage: depths of shape () and volumes of shape (); give two lists "
            "of one length, one row or more.",
        ),
        (
            lambda: dp.PondStorage(depth_in=[], volume_gal=[]),
            "PondStorage: depths of shape (0,) and volumes of shape (0,); give two "
            "lists of one length, one row or more.",
        ),
        (
            lambda: dp.PondStorage(depth_in=[4, 4], volume_gal=[900, 1200]),
            "depth[1]: must be above the row before it and above 0; sort the rows by "
            "depth, each once.",
        ),
        (
            lambda: dp.PondStorage(depth_in=[4, 8, 9], volume_gal=[900, 1200, 1100]),
            "volume[2]: must be above the row before it and above 0; sort the rows by "
            "depth, each once.",
        ),
        (
            lambda: dp.PondStorage(depth_in=[0, 8], volume_gal=[900, 1200]),
            "depth[0]: must be above the row before it and above 0; sort the rows by "
            "depth, each once.",
        ),
        (
            lambda: dp.PondStorage(depth_in=[4, 8], volume_gal=[0, 1200]),
            "volume[0]: must be above the row before it and above 0; sort the rows by "
            "depth, each once.",
        ),
    ],
    "outages": [
        (lambda: dp.outage(18, inflow_gpm=10), "pit=18: must be a Pit; make one with Pit(...)."),
        (
            lambda: dp.outage(
                pit(), inflow_gpm=10, battery_wh=100, pump=[A], line=LINE, power_w=300
            ),
            "outage: takes one pump and one line; ask for each of a list.",
        ),
        (
            lambda: dp.outage(
                pit(), inflow_gpm=10, battery_wh=100, pump=A, line=[LINE], power_w=300
            ),
            "outage: takes one pump and one line; ask for each of a list.",
        ),
        (
            lambda: dp.outage(pit(), inflow_gpm=10, battery_wh=100, pump=A, power_w=300),
            "outage: battery_wh needs the pump and the line that run on it.",
        ),
        (
            lambda: dp.outage(pit(), inflow_gpm=10, line=LINE),
            "battery_wh: no value given; pump, line and power_w belong to it.",
        ),
        (
            lambda: dp.outage(pit(), inflow_gpm=10, pump=A),
            "battery_wh: no value given; pump, line and power_w belong to it.",
        ),
    ],
    "calibration": [
        (
            lambda: dp.field.calibrate(3, LINE, METER),
            "pump=3: must be a PumpCurve; make one with PumpCurve(...).",
        ),
        (
            lambda: dp.field.calibrate(A, 3, METER),
            "line=3: must be a DischargeLine; make one with DischargeLine(...).",
        ),
        (
            lambda: dp.field.calibrate(A, LINE, 3),
            "tests=3: must be a FieldTest or a list; make one with bucket_test.",
        ),
        (
            lambda: dp.field.calibrate(
                A, LINE, [METER, dp.field.meter_test(flow_gpm=20, sigma_gpm=np.nan)]
            ),
            "tests[1]: meter of 20.0 gpm has no known error; give readings that are numbers, with "
            "errors above 0.",
        ),
        (
            lambda: dp.field.calibrate(A, LINE, dp.field.meter_test(flow_gpm=np.nan, sigma_gpm=1)),
            "tests[0]: meter of nan gpm has no known error; give readings that are "
            "numbers, with errors above 0.",
        ),
        (
            lambda: dp.field.calibrate(A, LINE, METER, fit=[]),
            "fit=[]: must name at least one number; known: head_factor, k, roughness.",
        ),
        (
            lambda: dp.field.calibrate(A, LINE, METER, fit="hazen_williams_c"),
            "fit='hazen_williams_c': must be among ['head_factor', 'k', 'roughness'] "
            "for this line; known: head_factor, k, roughness.",
        ),
        (
            lambda: dp.field.calibrate(A, LINE, METER, fit="wear"),
            "fit='wear': must be among ['head_factor', 'k', 'roughness'] for this "
            "line; known: head_factor, k, roughness.",
        ),
    ],
    "weep holes and field tests": [
        (
            lambda: dp.weep_loss([A], LINE, hole_in=0.2),
            "weep_loss: takes one PumpCurve and one DischargeLine; ask for each of a list.",
        ),
        (
            lambda: dp.weep_loss(A, [LINE], hole_in=0.2),
            "weep_loss: takes one PumpCurve and one DischargeLine; ask for each of a list.",
        ),
        (
            lambda: dp.weep_loss(A, LINE, hole_in=0.2, discharge_coefficient=0),
            "discharge_coefficient=0.0: must be more than 0 and at most 1; 0.6 is a "
            "sharp-edged hole.",
        ),
        (
            lambda: dp.weep_loss(A, LINE, hole_in=0.2, discharge_coefficient=1.1),
            "discharge_coefficient=1.1: must be more than 0 and at most 1; 0.6 is a "
            "sharp-edged hole.",
        ),
        (
            lambda: dp.field.gauge_test("A", pressure_psi=5, gauge_above_water_ft=2),
            "pump='A': must be a PumpCurve; make one with PumpCurve(...).",
        ),
        (
            lambda: dp.field.drawdown_test(18, from_in=13, to_in=7, run_s=20),
            "pit=18: must be a Pit; make one with Pit(...).",
        ),
    ],
    "pump curves": [
        (
            lambda: dp.PumpCurve(name="", **ENDS),
            "name='': must be a printable name; say what the pump is called.",
        ),
        (
            lambda: dp.PumpCurve(name=" ", **ENDS),
            "name=' ': must be a printable name; say what the pump is called.",
        ),
        (
            lambda: dp.PumpCurve(name="a\nb", **ENDS),
            "name='a\\nb': must be a printable name; say what the pump is called.",
        ),
        (
            lambda: dp.PumpCurve(name=3, **ENDS),
            "name=3: must be a printable name; say what the pump is called.",
        ),
        (
            lambda: dp.PumpCurve(name="a", **ENDS, note=3),
            "note=3: must be text; write the note in quotes.",
        ),
        (
            lambda: dp.PumpCurve(name="a", **ENDS, invented=1),
            "invented=1: must be True or False; say whether it is made up.",
        ),
        (
            lambda: dp.PumpCurve(name="a", **ENDS, invented=None),
            "invented=None: must be True or False; say whether it is made up.",
        ),
        (
            lambda: dp.PumpCurve(name="a", **ENDS, price=-1),
            "price=-1: must be finite and 0 or more; give 0 or more, or leave it out.",
        ),
        (
            lambda: dp.PumpCurve(name="a", **ENDS, price=[1, 2]),
            "price=[1, 2]: must be one number; give 0 or more, or leave it out.",
        ),
        (
            lambda: dp.PumpCurve(name="a", **ENDS, price=np.nan),
            "price=nan: must be one number; give 0 or more, or leave it out.",
        ),
        (
            lambda: dp.PumpCurve(name="a", **ENDS, price="much"),
            "price='much': must be a number or an array of numbers; give 0 or more, or "
            "leave it out.",
        ),
        (
            lambda: dp.PumpCurve(name="a", **ENDS, on_in=6, off_in=6),
            "off level 6 in (152 mm) and on 6 in (152 mm): off must be below on; "
            "the built-in float's levels are crossed, swap them.",
        ),
        (
            lambda: dp.PumpCurve(name="a", **ENDS, on_in=5, off_in=6),
            "off level 6 in (152 mm) and on 5 in (127 mm): off must be below on; the "
            "built-in float's levels are crossed, swap them.",
        ),
        (
            lambda: A.worn(head=0),
            "head=0.0: must be more than 0 and at most 1.5; give the share that is "
            "left, such as 0.9.",
        ),
        (
            lambda: A.worn(head=1.6),
            "head=1.6: must be more than 0 and at most 1.5; give the share that is "
            "left, such as 0.9.",
        ),
        (
            lambda: A.worn(flow=[1, 0]),
            "flow[1]=0.0: must be more than 0 and at most 1.5; give the share that is "
            "left, such as 0.9.",
        ),
        (
            lambda: A.at_speed(0),
            "ratio=0.0: must be more than 0 and at most 3; give new speed over old, such as 0.9.",
        ),
        (
            lambda: A.at_speed(3.1),
            "ratio=3.1: must be more than 0 and at most 3; give new speed over old, such as 0.9.",
        ),
    ],
    "banks": [
        (lambda: dp.parallel([]), "parallel: no pumps; give a list of one PumpCurve or more."),
        (lambda: dp.series([]), "series: no pumps; give a list of one PumpCurve or more."),
        (
            lambda: dp.parallel([A, 3]),
            "pumps[1]=3: must be a PumpCurve or a bank; make one with PumpCurve(...).",
        ),
        (
            lambda: dp.series([3, A]),
            "pumps[0]=3: must be a PumpCurve or a bank; make one with PumpCurve(...).",
        ),
        (
            lambda: dp.parallel(3),
            "pumps[0]=3: must be a PumpCurve or a bank; make one with PumpCurve(...).",
        ),
        (
            lambda: dp.parallel([A, A], [dp.Run(pipe=PIPE, length_ft=9)]),
            "risers: 1 for 2 pumps; give one Run a pump, None where a pump has no "
            "riser of its own.",
        ),
        (
            lambda: dp.parallel([A, A], [None, 3]),
            "risers[1]=3: must be a Run or None; make one with Run(...).",
        ),
        (
            lambda: dp.parallel([A, A], [dp.Run(pipe=PIPE, length_ft=9, rise_ft=2), None]),
            "risers[1]: rises 0 ft (0 m), the first 2 ft (0.61 m); all meet at the "
            "start of the shared line, give them one rise.",
        ),
    ],
    "pipes": [
        (
            lambda: dp.pvc("1-1/2", "50"),
            "schedule='50': must be one of 'Sch 40', 'Sch 80', 'DWV', 'SDR 21', 'SDR "
            "26', 'SDR 35'; pick one of them, or use Pipe(bore_in=...).",
        ),
        (
            lambda: dp.pvc("1-1/2", bore="mean"),
            "bore='mean': must be one of 'average', 'minimum_wall', "
            "'1.03_minimum_wall'; pick one of them.",
        ),
        (
            lambda: dp.pvc_metric(63, 99),
            "sdr='SDR 99': must be one of 'SDR 41', 'SDR 34', 'SDR 26', 'SDR 21', "
            "'SDR 17', 'SDR 13.6'; pick one of them, or use Pipe(bore_in=...).",
        ),
        (
            lambda: pipes.roughness("plastic", "rusty"),
            "material='plastic', condition='rusty': no roughness in the table; known: "
            "'plastic' 'drawn tubing', 'pvc' 'friction tables', 'commercial steel' "
            "'new', 'galvanised iron' 'new', 'cast iron' 'new', 'concrete' 'smooth', "
            "'concrete' 'rough'.",
        ),
        (
            lambda: pipes.material("pvc", "worn", what="hazen_williams_c"),
            "material='pvc', condition='worn': no hazen_williams_c in the table; "
            "known: 'pvc' 'new', 'pvc' 'textbook, new', 'pvc' 'aged', 'pvc' 'code, "
            "service pipe', 'pvc' 'worksheet', 'ductile iron' 'new', 'ductile iron' "
            "'design', 'ductile iron' 'old', 'any' 'wastewater force main', 'unlined "
            "iron' 'wastewater force main'.",
        ),
    ],
}


@refused.each(REFUSED)
def test_what_is_refused_and_how(call: Callable[[], Any], message: str) -> None:
    refused.check(call, message)


def unlike(who: str, *shapes: str) -> str:
    return (
        f"{who}: arrays of shapes {', '.join(shapes)} do not broadcast; give arrays of one shape, "
        "or scalars."
    )


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (
            lambda: dp.field.meter_test(flow_gpm=[20, 21], sigma_gpm=[1, 2, 3]),
            unlike("meter_test", "(2,)", "(3,)", "()"),
        ),
        (
            lambda: dp.field.meter_test(
                flow_gpm=20, sigma_gpm=[1, 2], level_above_off_ft=[0, 1, 2]
            ),
            unlike("meter_test", "()", "(2,)", "(3,)"),
        ),
        (
            lambda: dp.field.bucket_test(volume_gal=[5, 6], fill_s=[14, 15, 16]),
            unlike("bucket_test", "(2,)", "(3,)", "()"),
        ),
        (
            lambda: dp.field.cycle_log(working_volume_gal=[8, 9], rest_s=[99, 100, 101], run_s=20),
            unlike("cycle_log", "(2,)", "(3,)", "()", "()"),
        ),
        (
            lambda: dp.field.cycle_log(
                working_volume_gal=8, rest_s=100, run_s=[20, 21], returned_gal=[1, 2, 3]
            ),
            unlike("cycle_log", "()", "()", "(2,)", "(3,)"),
        ),
        (
            lambda: dp.GravityHandOff(bore_in=[4, 6], slope=[0.01, 0.02, 0.03], n=0.012),
            unlike("GravityHandOff", "(2,)", "(3,)", "()"),
        ),
        (
            lambda: dp.GravityHandOff(bore_in=4, slope=[0.01, 0.02], n=[0.01, 0.011, 0.012]),
            unlike("GravityHandOff", "()", "(2,)", "(3,)"),
        ),
        (
            lambda: dp.field.inflow_from_rise(pit(), rise_in_per_min=[1, 2], level_in=[8, 9, 10]),
            unlike("inflow_from_rise", "(2,)", "()", "(3,)"),
        ),
        (
            lambda: dp.field.inflow_from_rise(TWO_PITS, rise_in_per_min=[1, 2, 3]),
            unlike("inflow_from_rise", "(3,)", "(2,)"),
        ),
        (
            lambda: A.worn(head=[0.9, 0.8]).head(flow_gpm=[10, 20, 30]),
            unlike("flow", "(3,)", "()", "(2,)", "()"),
        ),
        (
            lambda: A.worn(head=[0.9, 0.8], flow=[0.9, 0.8, 0.7]),
            unlike("pump 'A'", "(2,)", "(3,)", "()", "()"),
        ),
        (
            lambda: dp.outage(pit(), inflow_gpm=[5, 6], level_in=[7, 8, 9]),
            unlike("outage", "(2,)", "(3,)", "()", "()", "()"),
        ),
        (
            lambda: dp.outage(
                pit(), inflow_gpm=[5, 6], overflow_in=34, pond_area_ft2=[100, 200, 300]
            ),
            unlike("outage", "(2,)", "()", "()", "()", "(3,)"),
        ),
        (
            lambda: dp.route(
                A, LINE, pit(), inflow(), overflow_in=[31, 32], pond_area_ft2=[100, 200, 300]
            ),
            unlike("route", "()", "(2,)", "()", "()", "(3,)"),
        ),
        (
            lambda: dp.route(A, LINE, pit(), inflow(), start_in=[7, 8], soaks_back=[0.1, 0.2, 0.3]),
            unlike("route", "()", "(2,)", "(3,)", "()", "()"),
        ),
        (
            lambda: dp.route(A, LINE, TWO_PITS, inflow(), battery_wh=[1, 2, 3], pond_area_ft2=100),
            unlike("route", "(2,)", "(3,)", "()", "()", "()"),
        ),
    ],
)
def test_arrays_of_unlike_shapes_are_refused(call: Callable[[], Any], message: str) -> None:
    with pytest.raises(InputError) as err:
        call()
    assert str(err.value) == message
