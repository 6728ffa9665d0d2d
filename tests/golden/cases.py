"""The cases of the golden frames: each a function that returns plain nested values."""

from __future__ import annotations

import contextlib
import io
import tempfile
import warnings
from collections.abc import Callable
from functools import cache, wraps
from importlib import import_module
from pathlib import Path
from types import ModuleType
from typing import Any

import numpy as np
import pandas as pd

from tests.golden.plain import plain

__all__ = ["CASES", "CHANGED"]

#: where public names may live, in the order in which they are looked for
_ROOMS = (
    "drainpump",
    *(f"drainpump.{room}" for room in ("inflow", "field", "choose.size", "teach")),
)


class _Public:
    """The library's public names, wherever they live."""

    def __getattr__(self, name: str) -> Any:
        for room in _ROOMS:
            with contextlib.suppress(ModuleNotFoundError):
                found = getattr(import_module(room), name, None)
                if found is not None and not isinstance(found, ModuleType):
                    return found
        raise AttributeError(f"no public name {name!r}")


dp = _Public()

_RECORD = "one record of a finding, which says where and how it is judged"
_TYPED = "a document holds what was typed, and no more; fittings by their names"
_STATES = "one vocabulary of states: what is counted on, what is reckoned with, what is not known"
_TENTHS = "24-h distributions by the tenth of an hour"
_LEAST = "the least that surely serves, with the usual doubt; rejections by the nearest miss"
_WATER = "the usual doubt has the water's: rain, runoff, seepage"
_PRIOR = "a verdict takes the prediction and its doubt as its prior, not every flow as likely"
_CREST = "the velocity head at a vented high point is lost as at an open end"
_START = "a siphon starts over its crest"
_DRAINS = "one model of a line without a check valve, filled by the part that is full"
_TRACE = "a trace has a row at the highest water, whose level is that of the pond where it ponds"
_FAULTS = "a diagnosis by Bayes over all usual sizes, of more faults, its priors beside them"
_SAMPLES = "a band tells its samples; to draw is to make a picture"
_ORIGIN = "a curve knows where it comes from, and whether two figures are all of it"
_TWO = "two points are not a curve: the middle of the shapes it may have"
_DUG = "nobody lays a pipe anew for less than a fifth more bore"
#: what may differ from the frames, and why: {case or path of it, * for any part: reason}
CHANGED: dict[str, str] = {
    "outages/battery/repr": "what falls behind says its mend",
    "pipes_and_fittings/runs/*/losses/*": "a loss tells its length each by a public name",
    "records/record/made_by": "the version of the library",
    "rain/*/return_years": "the unit's own name: return_year",
    "rain/*/return_year": "the unit's own name: return_year",
    "rain/*/note": "a table and a formula say where they come from",
    "refusals/lesson": "two lessons more",
    "refusals/lag": "a pit overflows; it no longer spills",
    "calibrations/hazen/*": "a fit ends by its own step: its twelfth digit hangs on rounding",
    "rain/*/begin": "a record says when it begins, by the clock",
    "rain/read": "one table of all return periods, no longer one by one",
    "rain/day": _TENTHS,
    "rain/days": _TENTHS,
    "runoff/many": _TENTHS,
    "runoff/held": "cut where the inflow crosses what the pipe carries",
    "reports/1": f"{_TENTHS}; {_TYPED}",
    "reports/2": f"{_TENTHS}; {_TYPED}",
    "routing_r2/storms": _TENTHS,
    "reports/*/data_version": _TENTHS,
    "job/json": "a job's numbers stand as typed: 13, not 13.0",
    "reports/0": "the same, among the inputs",
    "records/json": _TYPED,
    "refusals/record": "what a record lacks is named at once, its version included",
    "records/record/pit": "a record may keep the pit that was built",
    **{
        f"records/record/{x}": "a record keeps plate, cover and tests of the floats"
        for x in ("plate", "cover_in", "cover_mm", "float_checks")
    },
    "command/*": "the answer in at most thirty lines; the report is two pages",
    "selections/*/reasons/*": _RECORD,
    "selections/*/warnings/*": _RECORD,
    "job/*/reasons/*": _RECORD,
    "job/*/warnings/*": _RECORD,
    "reports/*/reasons/*": _RECORD,
    "explanations/*/breaks": _RECORD,
    "explanations/*/pit": "an explanation knows the pit, and says whose floats are in force",
    "explanations/*/fixes/*/line": "a length is said as it was typed: 150 ft, not 150.0 ft",
    "rough_checks/checks": "a check is a finding: a limit that is not known reads not_known",
    "operating_points/beyond/repr": _STATES,
    "operating_points/below/repr": _STATES,
    "operating_points/cut/repr": _STATES,
    "operating_points/drooping/repr": _STATES,
    "banks/found/series/repr": _STATES,
    "selections/limits/selection/operating": _STATES,
    "selections/limits/selection/cycling": _STATES,
    "outages/room/repr": _STATES,
    "bands/drooping/velocity_fps/p10": _STATES,
    "bands/drooping/velocity_mps/p10": _STATES,
    "bands/drooping/repr": _STATES,
    "bands/R1/repr": _SAMPLES,
    "bands/bank/repr": _SAMPLES,
    "records/again/repr": _SAMPLES,
    "bands/sensitivity/*/status": _STATES,
    # which of two rejected candidates comes first goes by the flow that is counted on
    "selections/limits/selection/*": _STATES,
    "selections/limits/candidates/1[234]/*": _STATES,
    "selections/limits/frame/*/1[234]": _STATES,
    "outlooks/*/status": "an outlook has a status at each age",
    "outlooks/*/ok": "an outlook has a status at each age",
    "outlooks/*/repr": "an outlook has a status at each age",
    "reports/*/measure_next/*/status": _STATES,
    "line_head/hump": _CREST,
    "operating_points/humps": _CREST,
    "high_points/*": _CREST,
    "explanations/hump": _CREST,
    "explanations/bank": "a bank's risers are among the causes, and none is there at the start",
    "rough_checks/rules": "elbows as pipe, all losses a tenth of the run, no guess at horsepower",
    "inverse_questions/length/1": _CREST,
    "inverse_questions/lift/1": _CREST,
    "inverse_questions/duty/0": _START,
    "worksheets": "worked with numbers, both readings of a curve, all that is needed given",
    "verdicts_and_faults/verdicts/*": _PRIOR,
    "pipes_and_fittings/fittings": "the table has the two ways through a wye",
    "pipes_and_fittings/k/wye_*": "the table has the two ways through a wye",
    "calibrations/hazen/standard_errors": "weighed by their covariance: the fit's eleventh digit",
    "pits_and_ponds/priors": _FAULTS,
    **{f"verdicts_and_faults/{x}": _FAULTS for x in ("diagnosis", "frame", "tests", "weak")},
    "verdicts_and_faults/priors": _FAULTS,
    "records/verdicts": _PRIOR,
    "records/sheets/*": _PRIOR,
    "selections/*": _LEAST,
    "job/job": _LEAST,
    "job/selection": _LEAST,
    "job/schema": _LEAST,
    "job/first": _LEAST,
    "job/cycling": _LEAST,
    "job/band": _LEAST,
    "job/swings": _LEAST,
    "command/demo/1": _LEAST,
    "refusals/objective": _LEAST,
    "explanations/pvc/fixes/0": "a pump near the end of its curve breaks a limit",
    "explanations/pvc/texts": "a pump near the end of its curve breaks a limit",
    "pits_and_ponds/limits": _LEAST,
    "pits_and_ponds/costs": "prices of pump, pit, outlet, trench and lump sums",
    "pits_and_ponds/round": "a pit may leave its floats to the pump, and has a price",
    "pits_and_ponds/box": "a pit may leave its floats to the pump, and has a price",
    "outlets/*/kind": "an outlet says its kind",
    "explanations/*/fixes": "fixes worth having, with their effort, price and service",
    "explanations/*/fixes_table": "fixes worth having, with their effort, price and service",
    "pits_and_ponds/doubts": _WATER,
    "bands/grid/doubt": _WATER,
    "bands/grid/repr": _WATER,
    "explanations/doubt/all/band": _WATER,
    "explanations/doubt/all/fix": _DUG,
    "explanations/doubt/all/repr": _DUG,
    "explanations/doubt/texts": _DUG,
    "records/record/doubt": _WATER,
    "cycles/open": _DRAINS,
    "draining": "the settled cycle is integrated exactly between levels: a few millionths",
    "routing/runs/no check valve": _DRAINS,
    "routing/runs/refills": _DRAINS,
    "routing/runs/until": "water that still stands above the rim at the end is a status",
    "routing/traces": _TRACE,
    "routing_r2/trace": _TRACE,
    "curves_demo/*/origin": _ORIGIN,
    "curves_demo/*/two_figures": _ORIGIN,
    "curves/*/origin": _ORIGIN,
    "curves/*/two_figures": _ORIGIN,
    "banks/*/origin": _ORIGIN,
    "banks/*/two_figures": _ORIGIN,
    "job/*/origin": _ORIGIN,
    "job/*/two_figures": _ORIGIN,
    "job/schema/properties/pumps/*": "a pump may stand there by the two figures on its box",
    "curves/pumps/cut/notes": _TWO,
    "curves/pumps/cut/repr": _TWO,
    "curves/heads/cut": _TWO,
    "sampled_sites/*/points/[123]/3/*": _TWO,
    "selections/limits/candidates/[89]/*": _TWO,
    "selections/limits/candidates/10/*": _TWO,
    "selections/limits/frame/*/[89]": _TWO,
    "selections/limits/frame/*/10": _TWO,
}
CASES: dict[str, Callable[[], Any]] = {}


def case(answer: Callable[[], Any]) -> Callable[[], Any]:
    """Keep a function as a case under its name, its answer made plain, without warnings."""

    @wraps(answer)
    def run() -> Any:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return plain(answer())

    CASES[answer.__name__] = run
    return run


# -- the invented sites: R1 and its neighbours, R2's yard, the demo

_CURVES = Path(__file__).parents[2] / "curves_demo"
_GARDEN = Path(__file__).parents[1] / "documents" / "job_version_1.json"
_WATER = {"water_f": 59.31}


def _parabola(name: str, shutoff_ft: float, run_out_gpm: float) -> Any:
    q = np.linspace(0, run_out_gpm, 200)
    head = shutoff_ft * (1 - (q / run_out_gpm) ** 2)
    return dp.PumpCurve(name=name, flow_gpm=q, head_ft=head, invented=True)


def _bore(bore_in: Any) -> Any:
    return dp.Pipe(bore_in=bore_in, roughness_ft=5e-6)


def _line(bore_in: Any = 1.590, **changes: Any) -> Any:
    given = {"length_ft": 150, "lift_ft": 6, "outlet": dp.FreeOutlet(lid_ft=0.25), **_WATER}
    fittings = {
        "elbow_90": dp.Fitting(count=5, k=0.8),
        "check_valve_swing": dp.Fitting(count=1, k=2.0),
        "adapter": dp.Fitting(count=1, k=0.3),
    }
    return dp.straight_line(**given | {"pipe": _bore(bore_in), "fittings": fittings} | changes)


def _pit(on_in: Any = 13, **more: Any) -> Any:
    return dp.Pit(**{"diameter_in": 18, "depth_in": 30, "off_in": 6, "on_in": on_in} | more)


def _hump(crest_ft: Any = 12, **changes: Any) -> Any:
    runs = [
        dp.Run(pipe=_bore(2.047), length_ft=30, rise_ft=crest_ft, k=3.9),
        dp.Run(pipe=_bore(2.047), length_ft=120, rise_ft=4 - np.asarray(crest_ft, float), k=2.4),
    ]
    return dp.DischargeLine(runs=runs, **_WATER | changes)


with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    A, B = _parabola("A", 20, 50), _parabola("B", 35, 65)
    DROOPING = dp.PumpCurve(
        name="drooping", flow_gpm=[0, 10, 20, 30, 40], head_ft=[20, 23, 24, 20, 5], invented=True
    )
    CUT = dp.PumpCurve(name="cut", flow_gpm=[30, 50], head_ft=[8, 2], invented=True)
    POWERED = dp.PumpCurve(
        name="P", flow_gpm=[0, 20, 40, 50], head_ft=[20, 16.8, 7.2, 0],
        power_w=[250, 300, 340, 350], price=180, outlet_in=1.5, solids_in=0.5, voltage_v=115,
        best_flow_gpm=30, invented=True,
    )  # fmt: skip
    LINES = [_line(bore) for bore in (1.360, 1.590, 2.047, 3.042)]
    LINE, WIDE = LINES[1], LINES[3]
    #: R1's losses in one K
    PLAIN = _line(2.047, fittings={}, k=6.3)
    #: the same without a check valve, long and short
    OPEN = _line(2.047, fittings={}, k=6.3, check_valve=False)
    SHORT = _line(length_ft=40, fittings={}, k=6, check_valve=False)
    RISER = dp.Run(pipe=_bore(1.590), length_ft=0, k=2.5)
    RAIN = dp.RainTable(duration_min=[5, 10, 15, 30, 60], intensity_in_per_h=[7.2, 5.6, 4.7, 3.4,
                                                                             2.2])  # fmt: skip
    CATCHMENTS = [
        dp.Catchment(area_ft2=1200, runoff=0.95, tc_min=5, name="roof"),
        dp.Catchment(area_ft2=400, runoff=0.90, tc_min=5, name="yard"),
        dp.Catchment(area_ft2=4000, runoff=0.35, tc_min=10, name="lawn"),
    ]
    STORM = RAIN.nested_storm(block_min=5, peak_block=6)
    INFLOW = dp.runoff_hydrograph(CATCHMENTS, STORM)
DOUBT = dp.Doubt(
    length_pct=5, lift_ft=0.75, bore_pct=1.2, friction_pct=5, k_log=0.25, head_pct=5, flow_pct=5
)
OUTLETS = {
    "free": dp.FreeOutlet(),
    "lid": dp.FreeOutlet(lid_m=0.1),
    "pop_up": dp.PopUpOutlet(opening_head_ft=0.25, gap_in=0.125, body_in=4),
    "submerged": dp.SubmergedOutlet(depth_ft=1.5),
    "gravity": dp.GravityHandOff(bore_in=4, slope=0.01, n=0.012),
}


@cache
def _job() -> Any:
    return dp.read_job(_GARDEN).with_pumps(dp.read_curves(_CURVES))


@cache
def _outcome() -> Any:
    return _job().run()


# -- parts


@case
def curves_demo() -> Any:
    return [{"curve": x, "frame": x.to_frame("metric")} for x in dp.read_curves(_CURVES)]


@case
def curves() -> Any:
    flow = {"flow_gpm": [0, 0.3, 12.5, 33, 50, 51, np.nan]}
    pumps = {
        "A": A, "drooping": DROOPING, "cut": CUT, "powered": POWERED, "worn": A.worn(head=0.9),
        "slow": POWERED.at_speed(0.9), "array": str(A.worn(head=[1, 0.8])),
        "shutoff": dp.PumpCurve(flow_lps=[1, 2], head_m=[5, 2], shutoff_m=6),
    }  # fmt: skip
    heads = {k: pumps[k].head(**flow) for k in ("A", "drooping", "cut", "powered", "slow")}
    return {"pumps": pumps, "heads": heads, "droops": [DROOPING.droops, DROOPING.rises]}


@case
def pipes_and_fittings() -> Any:
    pipes = {
        "1-1/2": dp.pvc("1-1/2"),
        "2 least": dp.pvc("2", 80, bore="minimum_wall"),
        "4 sewer": dp.pvc(4, "SDR 35", hazen_williams_c=140),
        "63": dp.pvc_metric(63, 21),
        "own": dp.Pipe(bore_mm=[40, 50], roughness_m=1e-5, name="own"),
    }
    names = dp.fitting_names()
    return {
        "pipes": pipes,
        "fittings": names,
        "k": {x: [pipes[p].fitting_k(x) for p in ("1-1/2", "63")] for x in names if x != "adapter"},
        "fitting": dp.Fitting(count=3, equivalent_length_ft=2.5, name="bend"),
        "runs": [RISER, *_hump().runs, dp.Run(pipe=pipes["63"], length_m=20, rise_m=-1,
                                              fittings={"elbow_45": 2})],
    }  # fmt: skip


@case
def lines() -> Any:
    return {
        "R1": LINES,
        "siphon": _hump(siphon=True),
        "hazen": _line(friction="hazen_williams", water_f=41),
        "array": _line([1.2, 2], lift_ft=[3, 8]),
        "profiles": [line.profile(x) for line in (LINE, _hump()) for x in ("us", "metric")],
    }


@case
def line_head() -> Any:
    at = {"flow_gpm": [0, 0.2, 1, 10, 25.68, 60, np.nan]}
    found = {"hump": _hump().head(**at), "siphon": _hump(siphon=True).head(**at)}
    for law in ("darcy", "hazen_williams"):
        found[law] = _line(friction=law).head(**at, level_above_off_ft=0.5)
    for name, outlet in OUTLETS.items():
        found[name] = _line(outlet=outlet).head(**at)
    return found | {"one": LINE.head(flow_lps=1.5)}


@case
def outlets() -> Any:
    flow = {"flow_gpm": [0, 20, 92, 100, np.nan]}
    return OUTLETS | {
        "carries": OUTLETS["gravity"].carries(**flow),
        "gap_loss": OUTLETS["pop_up"].gap_loss(**flow),
    }


@case
def pits_and_ponds() -> Any:
    return {
        "round": _pit(),
        "box": dp.Pit(length_mm=600, width_mm=400, depth_mm=900, off_mm=150, on_mm=450,
                      alarm_mm=600, inlet_mm=700, body_volume_l=8, body_height_mm=300),
        "pond": dp.PondStorage(depth_in=[2, 6, 12], volume_gal=[100, 1200, 6000]),
        "limits": dp.Limits(starts_max_per_h=20, without=["velocity_min"]),
        "doubts": [dp.Doubt.usual(), DOUBT, dp.Doubt(grade="2B", inflow_pct=20)],
        "costs": dp.Costs(pipe_per_ft={"2": 2.5}, energy_per_kwh=0.2, currency="EUR"),
        "priors": dp.Priors(weights={"deposit": 3}),
    }  # fmt: skip


# -- where pump and line meet


@case
def operating_points_r1() -> Any:
    grid = dp.operating_point([A, B], LINES)
    return {
        "one": dp.operating_point(A, LINE),
        "grid": grid,
        "frames": [grid.to_frame("us"), grid.to_frame("metric")],
        "levels": dp.operating_point(A, LINES, level_above_off_ft=[0, 0.58, np.nan]),
        "hazen": dp.operating_point([A, B], _line(friction="hazen_williams")),
    }


@case
def operating_points() -> Any:
    found = {name: dp.operating_point(A, _line(outlet=x)) for name, x in OUTLETS.items()}
    near = dp.straight_line(pipe=_bore(4), length_ft=5, lift_ft=0)
    droops = dp.operating_point(DROOPING, _line(lift_ft=[5, 19.5, 21, 23.7, 30]))
    return found | {
        "beyond": dp.operating_point([DROOPING, POWERED.at_speed(0.7)], near),
        "below": dp.operating_point(CUT, _line(lift_ft=25)),
        "cut": dp.operating_point(CUT, [LINE, near]),
        "no_flow": dp.operating_point(A, _line(lift_ft=25)),
        "drooping": droops,
        "crossings": list(droops.crossings),
        "humps": dp.operating_point([A, B], [_hump(), _hump(siphon=True), _hump(25)]),
        "bores": dp.operating_point(A, _line(np.linspace(0.5, 3, 12))),
        "nan": dp.operating_point(A, _line([1.5, np.nan], lift_ft=[[4], [np.nan]])),
        "falls": dp.operating_point(A, _line(lift_ft=-3)),
        "cold": dp.operating_point(A, _line(water_f=None, water_c=4)),
        "factors": dp.operating_point(POWERED.worn(head=[1, 0.9, 0.7]), LINES[:2]),
    }


@case
def sampled_sites() -> Any:
    rng = np.random.default_rng(20)
    count = 40
    site = {
        "bore_in": rng.uniform(0.8, 4, count),
        "length_ft": rng.uniform(40, 900, count),
        "lift_ft": rng.uniform(-3, 30, count),
        "k": rng.uniform(0, 20, count),
        "fittings": {},
        "water_f": rng.uniform(33, 90, count),
    }
    pumps = [A, B, DROOPING, CUT, POWERED]
    found = {}
    for law in ("darcy", "hazen_williams"):
        line = _line(**site, friction=law)
        wanted = dp.operating_point(pumps, line, level_above_off_ft=rng.uniform(0, 2, count))
        turning = dp.cycle([A, B], line, _pit(), inflow_gpm=rng.uniform(0, 40, count))
        found[law] = {
            "points": [wanted.status, wanted.flow_gpm, wanted.head_m, wanted.velocity_fps],
            "cycles": [turning.pattern, turning.starts_per_h, turning.worst_starts_per_h],
            "longest": dp.max_length([A, B], line, need_gpm=15).length_ft,
            "highest": dp.max_lift([A, B], line, need_gpm=15).lift_m,
        }
    return found


@case
def banks() -> Any:
    shared = _line(2.047, fittings={}, k=4)
    made = {
        "alike": dp.parallel([A, A], RISER),
        "unlike": dp.parallel([A, B], RISER),
        "bare": dp.parallel([A, B], name="bare"),
        "series": dp.series([A, B]),
        "drooping": dp.parallel([DROOPING, A], RISER),
        "nested": dp.parallel([dp.series([A, A]), B]),
        "lag": dp.parallel([POWERED, A], [RISER, None], lag_on_in=22),
        "worn": dp.parallel([A, B]).worn(head=0.9),
        "slow": dp.series([A, A]).at_speed(0.8),
    }
    found = {name: dp.operating_point(bank, [LINE, shared, WIDE]) for name, bank in made.items()}
    return {
        "banks": made,
        "found": found,
        "array": dp.operating_point(made["unlike"], _line([1.2, 2, 3], lift_ft=[5, 6, 30])),
    }


@case
def high_points() -> Any:
    many = dp.high_point([A, B], [_hump(), _hump(20), _hump(26)], _pit())
    bores = dp.DischargeLine(
        runs=[
            dp.Run(pipe=dp.pvc("1-1/2"), length_ft=30, rise_ft=12),
            dp.Run(pipe=dp.pvc("2"), length_ft=60, rise_ft=-5),
            dp.Run(pipe=dp.pvc("2"), length_ft=60, rise_ft=2),
        ]
    )
    return {
        "one": dp.high_point(A, _hump()),
        "many": many,
        "falling": [many.falling_runs(x) for x in ("us", "metric")],
        "limit": dp.high_point(A, bores, high_point_limit_ft=-3, formula="escarameia"),
        "level": dp.high_point(A, LINE),
    }


# -- pit and pump


@case
def cycles() -> Any:
    inflow = {"inflow_gpm": [0, 5, 10, 34, 60, np.nan]}
    body = _pit(16, body_volume_gal=2, body_height_in=10)
    lag = dp.parallel([A, A], RISER, lag_on_in=22)
    return {
        "constant": dp.cycle(flow_gpm=34.1, pit=_pit(), inflow_gpm=10),
        "one": dp.cycle(A, PLAIN, _pit(), inflow_gpm=10),
        "grid": dp.cycle([A, B], LINES[1:3], body, **inflow),
        "lag": dp.cycle(lag, WIDE, _pit(), **inflow),
        "drooping": dp.cycle(DROOPING, _line(lift_ft=19), _pit(), **inflow),
        "open": dp.cycle(A, SHORT, _pit(), **inflow),
        "worst": dp.cycle(B, LINE, _pit([9, 13, 20]), inflow_lps=0.5),
    }


@case
def draining() -> Any:
    back = dp.drain_back([A, B], OPEN, _pit(), inflow_gpm=[0, 5, 20, 29, 32, np.nan])
    return {
        "one": dp.drain_back(A, OPEN, _pit(), inflow_gpm=5),
        "grid": back,
        "frame": back.to_frame("metric"),
        "short": dp.drain_back(A, SHORT, _pit(), inflow_lps=0.4),
        "weep": dp.weep_loss(A, LINE, hole_in=[0.125, 0.1875, 0.25, np.nan]),
        "weep_mm": dp.weep_loss(B, LINE, hole_mm=5, discharge_coefficient=0.7),
    }


@case
def outages() -> Any:
    power = {"battery_wh": 500, "pump": POWERED, "line": PLAIN}
    return {
        "room": dp.outage(_pit(16), inflow_gpm=[0, 5, 10, np.nan]),
        "pond": dp.outage(_pit(16), inflow_gpm=10, overflow_in=33, pond_area_ft2=500, level_in=6),
        "table": dp.outage(
            _pit(16), inflow_gpm=10, overflow_in=36,
            pond_storage=dp.PondStorage(depth_in=[2, 6, 12], volume_gal=[100, 1200, 6000]),
        ),
        "battery": dp.outage(_pit(16), inflow_gpm=[0, 10, 60], **power),
        "power": dp.outage(_pit(16), inflow_gpm=10, **power | {"pump": A, "power_w": 400}),
    }  # fmt: skip


# -- rain and inflow


@case
def rain() -> Any:
    fit = dp.RainFit(a_in_per_h=56.6, b_min=8.6, n=0.823)
    times = pd.date_range("2001-05-01", periods=6, freq="5min")
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "rain.csv"
        file.write_text("return_year,duration_min,depth_in\n2,5,0.4\n2,60,1.4\n10,5,0.6\n10,60,2\n")
        read = dp.read_rain(file)
    record = dp.recorded_rain(depth_mm=pd.Series([0.2, 1.4, 0, 3, 1, 0.1], index=times))
    return {
        "table": RAIN,
        "at": RAIN.at(duration_min=[4.9, 5, 7, 60, 61, np.nan]),
        "fit": [RAIN.fit(), fit, fit.at(duration_min=[5, 17, 60, 90])],
        "nested": [STORM, fit.nested_storm(block_min=6, length_min=48), STORM.reversed()],
        "day": {x: dp.nrcs_storm(x, depth_in=3, block_min=30) for x in ("I", "IA", "II", "III")},
        "days": dp.nrcs_storm("II", depth_mm=[50, 80], block_min=60),
        "read": read,
        "record": [record, record.to_frame("metric")],
    }


@case
def runoff() -> Any:
    many = dp.nrcs_storm("II", depth_in=[1, 2, 4], block_min=15)
    ways = {
        "sheet": {"length_ft": 100, "slope": 0.02, "n": "short grass", "rain_in": 3},
        "shallow": {"length_ft": 400, "slope": 0.01, "paved": True},
        "nrcs_lag": {"length_ft": 900, "slope": 0.02, "curve_number": 75},
        "kinematic": {"length_m": 30, "slope": 0.02, "n": 0.1, "intensity_mm_per_h": [20, 60]},
        "kirpich": {"length_ft": [500, 1000, np.nan], "slope": 0.01},
        "faa": {"length_ft": 200, "slope": 0.01, "runoff": 0.4},
    }
    trench = dp.Trench(length_ft=20, width_ft=1, depth_ft=1.5, voids=0.4)
    return {
        "catchments": [*CATCHMENTS, dp.roof(area_ft2=2400, downspouts=6, reaching=2), trench],
        "R2": INFLOW,
        "frame": INFLOW.to_frame("metric"),
        "many": dp.runoff_hydrograph(CATCHMENTS, many),
        "tc": {x: dp.time_of_concentration(x, **given) for x, given in ways.items()},
        "held": dp.held_back(INFLOW, flow_gpm=40, room_gal=trench.storage_gal),
        "plus": [INFLOW.plus(flow_gpm=3), INFLOW + INFLOW],
    }


@case
def ground_water() -> Any:
    pipe = {"length_ft": 60, "height_ft": 1, "barrier_ft": 4, "spacing_ft": 30, "bore_in": 6}
    ditch = {"length_m": 10, "height_m": 1, "barrier_m": 0.5, "reach_m": 8}
    return {
        "soil": dp.seepage(soil="sandy loam", **pipe),
        "known": dp.seepage(conductivity_mm_per_h=[1, 16, np.nan], **pipe),
        "trench": dp.seepage(drain="trench", soil="loam", sides=1, **ditch),
        "cycles": dp.inflow_from_cycles(working_volume_gal=7.7, rest_s=[46, 30], run_s=[19, 25]),
        "rest": dp.inflow_from_cycles(working_volume_l=30, rest_s=60),
        "rise": dp.inflow_from_rise(
            _pit(16, body_volume_gal=2, body_height_in=10), rise_in_per_min=2, level_in=[8, 12]
        ),
    }


# -- storms through the pit


@case
def routing_r2() -> Any:
    got = dp.route(A, PLAIN, _pit(16), INFLOW, pond_area_ft2=500)
    return {
        "R2": dp.route(A, PLAIN, _pit(16), INFLOW),
        "pond": got,
        "trace": [got.to_frame("us", step_s=60), got.to_frame("metric", step_s=300)],
        "table": dp.route(
            A, PLAIN, _pit(16), INFLOW, overflow_in=36,
            pond_storage=dp.PondStorage(depth_in=[2, 6, 12], volume_gal=[100, 1200, 6000]),
        ),
        "spills": dp.route(A, PLAIN, _pit(16), INFLOW, overflow_in=26, soaks_back=[0, 0.2]),
        "lists": dp.route([A, B], [PLAIN, WIDE], [_pit(16), _pit(20)], [INFLOW, INFLOW + INFLOW]),
        "storms": dp.route(A, PLAIN, _pit(16), dp.runoff_hydrograph(
            CATCHMENTS, dp.nrcs_storm("II", depth_in=[1, 2], block_min=30))),
    }  # fmt: skip


@case
def routing() -> Any:
    burst = dp.Hydrograph(flow_gpm=[0, 90, 0], time_min=[0, 30, 60])
    steady = dp.Hydrograph(flow_lps=[0.5], block_min=600)
    both, wide = dp.parallel([A, A], lag_on_in=22), _line(3.042, fittings={}, k=6.3)
    dark = {"outages": [(20, 40)]}
    runs = {
        "lag": dp.route(both, wide, _pit(16), INFLOW),
        "lag alone": dp.route(both, wide, _pit(16), INFLOW, lead_fails_min=10),
        "no check valve": dp.route(A, SHORT, _pit(16), steady),
        "refills": dp.route(A, OPEN, _pit(16), burst, overflow_in=30),
        "outage": dp.route(A, PLAIN, _pit(16), INFLOW, **dark),
        "battery": dp.route(POWERED, PLAIN, _pit(16), INFLOW, battery_wh=5, **dark),
        "own": dp.route(A, PLAIN, _pit(16), INFLOW, battery_wh=9, battery_pump=POWERED, **dark),
        "nan": dp.route(POWERED, PLAIN, _pit(16), burst, start_in=[6, np.nan]),
        "until": dp.route(POWERED, PLAIN, _pit(16), burst, start_in=12, until_min=45),
    }
    traced = ("lag", "no check valve", "refills", "battery")
    return {"runs": runs, "traces": [runs[x].to_frame(step_s=120) for x in traced]}


# -- how sure, and which


@case
def bands() -> Any:
    pit = {"pit": _pit(), "inflow_gpm": 10}
    found = dp.band(A, LINE, DOUBT, 256)
    return {
        "R1": found,
        "probability": found.probability(need_gpm=[24, 26]),
        "grid": dp.band([A, POWERED], LINES[1:3], dp.Doubt.usual(), 64, seed=3, **pit),
        "bank": dp.band(dp.parallel([A, A], RISER), WIDE, DOUBT, 64),
        "drooping": dp.band(DROOPING, _line(lift_ft=19.5), DOUBT, 64),
        "samples": dp.band(A, LINE, DOUBT, 32).samples,
        "sensitivity": [
            dp.sensitivity(A, LINE, DOUBT, 256, need_gpm=26),
            dp.sensitivity(B, WIDE, dp.Doubt.usual(), 128, 5, units="metric"),
        ],
    }


def _chosen(found: Any) -> Any:
    """A selection with all its candidates in full."""
    return {
        "selection": found,
        "candidates": list(found.candidates),
        "reasons": [[*x.reasons, *x.warnings] for x in found.candidates],
        "frame": found.to_frame(),
    }


@case
def selections() -> Any:
    costs = dp.Costs(
        pipe_per_ft=2,
        fitting_each=4,
        energy_per_kwh=0.2,
        water_per_year_gal=200_000,
        currency="EUR",
    )
    pumps, pit = [A, B, POWERED, CUT, DROOPING], {"pit": _pit(), "need_gpm": 25}
    limits = dp.Limits(
        velocity_max_fps=6, starts_max_per_h=70, run_min_s=15, range_share_max=0.9,
        solids_min_in=0.75, voltage_v=120,
    )  # fmt: skip
    priced = [
        POWERED,
        dp.PumpCurve(
            name="C", flow_gpm=[0, 30, 60], head_ft=[30, 22, 2], price=99, power_w=[300, 350, 380]
        ),
    ]
    sized = [dp.straight_line(pipe=dp.pvc(x), length_ft=150, lift_ft=6) for x in ("1-1/2", "2")]
    found = {
        goal: dp.select(priced, sized, objective=goal, costs=costs, **pit)
        for goal in ("flow", "cost", "energy", "starts")
    }
    found["plain"] = dp.select([A, B], LINES, need_gpm=30, limits=dp.Limits(velocity_max_fps=6))
    found["limits"] = dp.select(pumps, LINES[1:], limits=limits, **pit)
    found["doubt"] = dp.select(
        [A, B], LINES[1:], need_lps=1.6, doubt=DOUBT, certainty=0.9, samples=64, seed=2
    )
    found["none"] = dp.select(A, LINES[:1], need_gpm=60)
    found["bank"] = dp.select([dp.parallel([A, A], RISER), B], LINES[2:], **pit)
    return {name: _chosen(x) for name, x in found.items()}


@case
def explanations() -> Any:
    found = {
        "R1": dp.explain(A, LINE, pumps=[A, B], pit=_pit()),
        "doubt": dp.explain(B, LINES[0], doubt=dp.Doubt.usual(), limits=dp.Limits()),
        "hump": dp.explain(A, _hump()),
        "pop_up": dp.explain(A, _line(outlet=OUTLETS["pop_up"], friction="hazen_williams")),
        "bank": dp.explain(dp.parallel([A, A], RISER), WIDE),
        "pvc": dp.explain(
            dp.PumpCurve(name="half", flow_gpm=[0, 20, 40, 55, 62], head_ft=[30, 27, 19, 8, 2]),
            dp.straight_line(pipe=dp.pvc("1-1/2"), length_ft=150, lift_ft=6,
                             fittings={"elbow_90": 5, "check_valve_swing": 1}),
        ),
    }  # fmt: skip
    return {
        name: {"all": x, "fixes": list(x.fixes), "texts": [x.text(), x.text("metric")]}
        for name, x in found.items()
    }


@case
def rough_checks() -> Any:
    buried = dp.DischargeLine(
        runs=[
            dp.Run(pipe=dp.pvc("1-1/2"), length_ft=10, rise_ft=8),
            dp.Run(pipe=dp.pvc(4, "SDR 35"), length_ft=100, rise_ft=-1),
            dp.Run(pipe=dp.pvc(2), length_ft=30, rise_ft=-1),
        ]
    )
    checks = [
        dp.side_checks(A, LINE),
        dp.side_checks(A, buried, pressure_class_psi=5, ground="fine sand"),
        dp.side_checks(B, _hump(), wall_in=0.154),
    ]
    rules = [dp.rules_of_thumb(A, LINE), dp.rules_of_thumb(B, buried)]
    return {
        "checks": [[x, list(x.checks), x.to_frame(), x.to_frame("metric")] for x in checks],
        "rules": [[x, x.text(), x.text("metric"), x.to_frame()] for x in rules],
    }


@case
def inverse_questions() -> Any:
    need, pumps = {"need_gpm": [20, 30, 60, np.nan]}, ([A, B], LINES[:3])
    two = _hump()
    bore = [_bore(x) for x in (1.2, 1.36, 1.8, 3)]
    return {
        "length": [dp.max_length(*pumps, **need), dp.max_length(A, two, need_gpm=25, run=1)],
        "lift": [dp.max_lift(*pumps, **need), dp.max_lift(A, two, need_lps=1.5)],
        "pipe": [dp.smallest_pipe(*pumps, **need), dp.smallest_pipe(A, LINE, bore, need_gpm=30)],
        "travel": [
            dp.float_travel([A, B], LINES[1:3], _pit(), starts_max_per_h=[10, 20, 60]),
            dp.float_travel(flow_gpm=34.1, pit=_pit(), starts_max_per_h=30),
        ],
        "pit": [
            dp.pit_size([A, B], LINES[1:3], travel_in=7, starts_max_per_h=[10, 20]),
            dp.pit_size(flow_lps=2, travel_mm=200, starts_max_per_h=15),
        ],
        "duty": [dp.duty_to_buy([*LINES, two], **need), dp.duty_to_buy(LINE, need_gpm=30)],
    }


# -- on site, later


def _tests() -> dict[str, Any]:
    psi = {"pressure_psi": 5, "gauge_above_water_ft": 2}
    return {
        "bucket": dp.bucket_test(volume_gal=5, fill_s=16.7, level_above_off_ft=0.2),
        "buckets": dp.bucket_test(volume_l=20, fill_s=[12, 14, np.nan], interval_error_s=0.3),
        "meter": dp.meter_test(flow_gpm=24, sigma_gpm=0.6, level_above_off_ft=0.6),
        "drawdown": dp.drawdown_test(_pit(), from_in=13, to_in=6, run_s=19, inflow_gpm=3),
        "log": dp.cycle_log(_pit(), rest_s=46.2, run_s=19.2),
        "log_gal": dp.cycle_log(working_volume_gal=7.7, rest_s=40, run_s=20, returned_gal=1.7),
        "gauge": dp.gauge_test(A, **psi, bore_in=1.59, water_f=59.31),
        "shut": dp.gauge_test(A, pressure_kpa=45, gauge_above_water_m=0.5, valve_shut=True),
    }


@case
def field_tests() -> Any:
    return {x: [test, test.to_frame("metric")] for x, test in _tests().items()}


@case
def calibrations() -> Any:
    made = _tests()
    hazen = _line(friction="hazen_williams")
    some = [made[x] for x in ("bucket", "meter", "gauge", "shut")]
    return {
        "all": dp.calibrate(A, LINE, some),
        "hazen": dp.calibrate(A, hazen, some[:3]),
        "named": dp.calibrate(A, LINE, some[:2], fit="head_factor"),
        "frame": dp.calibrate(A, LINE, some[0]).to_frame(),
    }


@case
def verdicts_and_faults() -> Any:
    made = _tests()
    found = dp.diagnose(A, LINE, measured_gpm=18, sigma_gpm=1)
    return {
        "verdicts": [
            dp.verdict(A, LINE, made[x], dp.Doubt.usual(), 128) for x in ("bucket", "meter", "log")
        ],
        "diagnosis": found,
        "frame": [found.to_frame(), found.to_frame("metric")],
        "tests": list(found.tests),
        "weak": dp.diagnose(A, LINE, measured_gpm=9, sigma_gpm=0.7),
        "priors": dp.diagnose(
            B, _line(outlet=OUTLETS["pop_up"]), measured_lps=1.5, sigma_lps=0.1,
            priors=dp.Priors(head_loss=0.3, weights={"deposit": 3}),
        ),
    }  # fmt: skip


@case
def outlooks() -> Any:
    rates = {"deposit_in_per_year": 0.002, "wear_per_year": 0.01, "samples": 64}
    ahead = dp.outlook(A, LINE, horizon_year=20, need_gpm=20, **rates)
    return {
        "R1": ahead,
        "frame": ahead.to_frame("metric"),
        "sure": dp.outlook(B, WIDE, horizon_year=9, wear_per_year=0.02, rate_log=0, samples=16),
    }


@case
def records() -> Any:
    made = dp.as_built_record(
        A, LINE, name="garden | <b>", built_on="2026-04-30", need_gpm=20, samples=128
    )
    for test in ("bucket", "drawdown", "gauge"):
        made = made.with_test(_tests()[test], on="2031-05-02", note=f"by {test}")
    pop_up = dp.as_built_record(
        B, _line(outlet=OUTLETS["pop_up"]), name="pop-up", built_on="2026-05-01", samples=32,
        doubt=dp.Doubt(grade="2B", lift_m=0.2),
    )  # fmt: skip
    return {
        "record": made,
        "json": [made.to_json(), pop_up.to_json()],
        "sheets": [made.to_markdown(), made.to_markdown("metric"), made.to_html()],
        "verdicts": made.verdicts(),
        "compare": dp.Record.from_json(made.to_json()).compare(),
        "again": dp.Record.from_json(pop_up.to_json()).recompute(),
    }


# -- lessons, the job, the command, refusals


@case
def worksheets() -> Any:
    sheets = [dp.worksheet(n, 1) for n in range(1, 11)]
    sheets += [dp.worksheet(n, 1, units="metric") for n in (1, 4, 8, 9)]
    return [
        [x.heading, x.text(answer=True), x.markdown(answer=True), dict(x.answers)] for x in sheets
    ] + [sheets[0].html(answer=True), sheets[3].text()]


@case
def job() -> Any:
    found = _outcome()
    return {
        "job": _job(),
        "json": _job().to_json(),
        "selection": _chosen(found.selection),
        "first": found.first,
        "cycling": found.cycling,
        "band": found.band,
        "swings": found.swings,
        "schema": dp.Job.schema(),
    }


@case
def reports() -> Any:
    paper = dp.report(_outcome())
    chosen = dp.select([A, B], LINES, need_gpm=30, doubt=dp.Doubt.usual(), samples=64)
    other = dp.report(chosen, pit=_pit(), inflow_gpm=10, name="R1", story="An invented yard.")
    texts = [[x, x.to_text(), x.to_markdown()] for x in (paper, other)]
    return [*texts, other.to_html()]


@case
def command() -> Any:
    main = import_module("drainpump.__main__").main
    said = {}
    with tempfile.TemporaryDirectory() as folder:
        picture = str(Path(folder) / "duty.png")
        for name, asked in {
            "demo": [str(_CURVES), "--plot", picture],
            "job": [str(_CURVES), "--job", str(_GARDEN)],
        }.items():
            heard = io.StringIO()
            with contextlib.redirect_stdout(heard), contextlib.redirect_stderr(heard):
                code = main(asked)
            said[name] = [code, heard.getvalue().replace(picture, "PICTURE")]
    return said


@case
def refusals() -> Any:
    asked: dict[str, Callable[[], Any]] = {
        "require": lambda: dp.operating_point(A, _line(lift_ft=25)).require(),
        "grid": lambda: dp.operating_point([A, B], [LINE, _line(lift_ft=25)]).require(),
        "two units": lambda: dp.Pipe(bore_in=2, bore_mm=50),
        "no unit": lambda: dp.straight_line(pipe=_bore(2), length_ft=9),
        "size": lambda: dp.pvc("1-1/3"),
        "fitting": lambda: _line(fittings={"elbow_99": 1}),
        "bore": lambda: dp.Pipe(bore_in=-2),
        "floats": lambda: dp.Pit(diameter_in=18, depth_in=30, off_in=16, on_in=13),
        "falling": lambda: dp.PumpCurve(flow_gpm=[0, 5, 3], head_ft=[9, 8, 7]),
        "lag": lambda: dp.route(dp.parallel([A, A], lag_on_in=15), PLAIN, _pit(16), INFLOW),
        "battery": lambda: dp.outage(_pit(), inflow_gpm=1, battery_wh=100, pump=A, line=LINE),
        "objective": lambda: dp.select(A, LINE, need_gpm=9, objective="price"),
        "soil": lambda: dp.seepage(soil="lome", length_ft=9, height_ft=1, barrier_ft=1),
        "lesson": lambda: dp.worksheet(99, 1),
        "job": lambda: dp.Job.from_dict({"schema_version": 1}),
        "record": lambda: dp.Record.from_json("{}"),
        "units": lambda: LINE.profile("imperial"),
    }
    said = {}
    for name, ask in asked.items():
        try:
            said[name] = f"answered: {ask()!r}"
        except dp.DrainpumpError as error:
            said[name] = f"{type(error).__name__}: {error}"
    return said
