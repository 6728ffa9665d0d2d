"""A typed client: one call of every kind, with its answer's type said. Run, and type-checked.

A public attribute answers a float for one case and an array for many, so a typed client
says which it has: ``float(...)`` for one, ``np.asarray(...)`` for many.
"""

from __future__ import annotations

from typing import assert_type

import matplotlib

matplotlib.use("Agg")

import numpy as np
import numpy.typing as npt
import pandas as pd
from matplotlib.axes import Axes

import drainpump as dp

# -- parts, from lists, arrays, tables and single numbers alike
frame = pd.DataFrame({"flow": [0.0, 15.0, 30.0, 50.0], "head": [20.0, 18.2, 12.8, 0.0]})
pump = dp.PumpCurve(
    name="A", flow_gpm=frame["flow"], head_ft=frame["head"], power_w=[300, 320, 350, 330], price=180
)
pipe = dp.pvc("1-1/2", bore="minimum_wall")
own = dp.Pipe(bore_mm=40, roughness_ft=5e-6, hazen_williams_c=140)
rise = dp.Run(pipe=pipe, length_ft=20, rise_ft=6, fittings={"elbow_90": 2, "own": dp.Fitting(k=1)})
lids = [
    dp.FreeOutlet(lid_ft=0.25),
    dp.PopUpOutlet(opening_head_ft=0.25, gap_in=0.125, body_in=4),
    dp.GravityHandOff(bore_in=4, slope=0.01, n=0.012),
    dp.SubmergedOutlet(depth_ft=1),
]
line = dp.DischargeLine(
    runs=[rise, dp.Run(pipe=own, length_m=30, rise_m=0.0)], outlet=lids[0], friction="darcy"
)
grid = dp.straight_line(
    pipe=pipe, length_ft=np.linspace(50, 300, 6), lift_ft=[[6], [8]], friction="hazen_williams"
)
pit = dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=13)
pond = dp.PondStorage(depth_in=[2, 4], volume_gal=[200, 900])
bank = dp.parallel([pump, pump], lag_on_in=20)
stacked = dp.series([pump, pump])
assert_type(line.replace(friction="hazen_williams"), dp.DischargeLine)
assert_type(dp.Pit.from_dict(pit.to_dict()), dp.Pit)
assert_type(pump.worn(head=0.9), dp.PumpCurve)

# -- the operating point, of one and of many
op = dp.operating_point(pump, line).require()
assert_type(op, dp.OperatingPoint)
flow: float = float(op.flow_gpm)
many: npt.NDArray[np.float64] = np.asarray(dp.operating_point([pump, bank], grid).flow_lps)
good = bool(op.ok) and op.status == "ok"
assert_type(op.to_frame("metric"), pd.DataFrame)
asked = line.head(flow_gpm=[10, 20, 30])
losses: float = float(np.asarray(asked.pipe_ft)[1])
crest = dp.high_point(pump, line)
falling: pd.DataFrame = crest.falling_runs("us")
weep = dp.weep_loss(pump, line, hole_in=0.1875)

# -- cycling, draining, an outage
turning = dp.cycle(pump, line, pit, inflow_gpm=[5, 10])
worst: float = np.asarray(turning.worst_starts_per_h).max().item()
back = dp.drain_back(pump, line.replace(check_valve=False), pit, inflow_gpm=5)
again_full: float = float(back.returned_gal)
dry = dp.outage(pit, inflow_gpm=5)
seen = dp.field.inflow_from_cycles(working_volume_gal=7.71, rest_s=46.3, run_s=19.2)
rising = dp.field.inflow_from_rise(pit, rise_in_per_min=18)

# -- the water
table = dp.inflow.RainTable(duration_min=[5, 15, 60], depth_in=[0.4, 0.8, 1.4])
fitted = table.fit()
storm = table.nested_storm(block_min=5)
day = dp.inflow.nrcs_storm("II", depth_in=4)
yard = dp.inflow.Catchment(area_ft2=3000, runoff=0.9, tc_min=5)
reach = dp.inflow.time_of_concentration("kirpich", length_ft=1000, slope=0.01)
trickle = dp.inflow.seepage(
    drain="pipe", soil="loam", length_ft=60, spacing_ft=30, height_ft=1, barrier_ft=4, bore_in=6
)
water: dp.Hydrograph = dp.inflow.runoff_hydrograph(yard, storm).plus(flow_gpm=3)
calmer = dp.inflow.held_back(water, flow_gpm=20)
routed = dp.route(pump, line, pit, water, pond_storage=pond)
ponded: float = float(routed.peak_pond_gal)

# -- doubt, choice, reasons
doubt = dp.Doubt.usual()
spread = dp.band(pump, line, doubt, 64)
low: float = float(spread.flow_gpm["p10"])
chance: float = float(spread.probability(need_gpm=30))
swings: pd.DataFrame = dp.sensitivity(pump, line, doubt, 64, units="us")
limits = dp.Limits(velocity_min_fps=2, velocity_max_fps=8)
chosen = dp.select([pump], [line], need_gpm=20, limits=limits, objective="flow")
best: dp.Candidate | None = chosen.best
assert_type(chosen.rejected, tuple[dp.Candidate, ...])
why = dp.explain(pump, line)
fixes: list[str] = [fix.name for fix in why.fixes]
checks = dp.side_checks(pump, line)
words: list[tuple[str, str]] = [(one.code, one.verdict) for one in checks.checks]

# -- the questions turned round
longest: float = float(dp.size.max_length(pump, line, need_gpm=20, run=2).length_ft)
highest: float = float(dp.size.max_lift(pump, line, need_gpm=20).lift_ft)
narrow = dp.size.smallest_pipe(pump, line, need_gpm=20)
name: str = str(narrow.name)
duty = dp.size.duty_to_buy(line, need_gpm=20)
floats = dp.size.float_travel(pump, line, pit, starts_max_per_h=20)
round_pit = dp.size.pit_size(pump, line, travel_in=8, starts_max_per_h=30)

# -- tests on site
bucket = dp.field.bucket_test(volume_gal=5, fill_s=12)
meter = dp.field.meter_test(flow_gpm=25, sigma_gpm=1)
assert_type(bucket, dp.field.FieldTest)
told = dp.field.verdict(pump, line, bucket, doubt, 64)
inside: float = float(told.inside)
fit = dp.field.calibrate(pump, line, [bucket, meter])
found = dp.field.diagnose(pump, line, measured_gpm=18, sigma_gpm=1)
next_test: str = found.next_test.name
later = dp.field.outlook(pump, line, horizon_year=10, wear_per_year=0.02, need_gpm=20)
record = dp.field.as_built_record(pump, line, name="yard", built_on="2031-04-30", samples=64)
again = dp.field.Record.from_json(record.with_test(bucket, on="2031-05-02").to_json())

# -- paper, lessons, pictures
job = dp.Job(pumps=[pump], lines=[line], need_gpm=20, pit=pit, inflow_gpm=5, name="yard")
page: str = dp.report(job.run()).to_html()
sheet: str = dp.teach.worksheet(1, seed=3, units="metric").text(answer=True)
rules = dp.teach.rules_of_thumb(pump, line)
ax: Axes = dp.plots.duty(pump, line, pit, units="metric")
dp.plots.waterfall(why)
dp.plots.cycle(pump, line, pit, inflow_gpm=10)

try:
    dp.Run(pipe=pipe, length_ft=-3)
except dp.InputError as error:
    message: str = str(error)
