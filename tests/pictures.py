"""One call of every picture, for what must hold of all."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from matplotlib.axes import Axes

import drainpump as dp
from drainpump import plots
from tests.problems import PUMP_A, PUMP_B, r1_line, r1_pit

LINE, PIT = r1_line(name="R1"), r1_pit(alarm_in=18)
PRICED = [p.replace(price=100 + 50 * i) for i, p in enumerate((PUMP_A, PUMP_B))]
DOUBT = dp.Doubt(lift_ft=0.75, length_pct=5, head_pct=4)
BUCKET = dp.field.bucket_test(volume_gal=5, fill_s=13)
SHORT = dp.PumpCurve(name="Short", flow_gpm=[0, 15, 28], head_ft=[45, 42, 38], invented=True)
LOW = dp.straight_line(
    pipe=dp.pvc("1-1/2"), length_ft=150, lift_ft=34, name="low line",
    fittings={"elbow_90": 3, "check_valve_swing": 1, "tee_run": 2},
    outlet=dp.FreeOutlet(lid_ft=0.25),
)  # fmt: skip
HUMP = dp.DischargeLine(
    name="over the bank",
    runs=[
        dp.Run(pipe=dp.pvc("2"), length_ft=30, rise_ft=12, k=3.9, name="riser"),
        dp.Run(pipe=dp.pvc("2"), length_ft=120, rise_ft=-8, k=2.4),
    ],
    outlet=dp.GravityHandOff(bore_in=4, slope=0.01, n=0.011),
)


def routed(**given: Any) -> dp.Routing:
    flow = dp.Hydrograph(flow_gpm=[10, 60, 40, 5, 0], block_min=10)
    return dp.route(PUMP_A, LINE, PIT, flow, pond_area_ft2=500, **given)


def chosen() -> dp.Selection:
    return dp.select(PRICED, LINE, need_gpm=20, costs=dp.Costs(pipe_per_ft=2), doubt=None)


def kept_dry() -> dp.Selection:
    burst = np.array([0, 20, 60, 35, 10, 0])
    storms = dp.Hydrograph(
        flow_gpm=2 + np.outer([0.5, 0.8, 1.0, 1.2, 1.6], burst), time_min=np.linspace(0, 60, 6),
        return_year=[2, 5, 10, 25, 100],
    )  # fmt: skip
    pits = [PIT, PIT.replace(diameter_in=30, price=90)]
    return dp.select(
        [*PRICED, PUMP_B.replace(name="dear", price=310)], LINE, pit=pits,
        storms=storms, pond_area_ft2=300, doubt=None, costs=dp.Costs(pipe_per_ft=2),
        limits=dp.Limits(pond_depth_max_in=0.5, without=["range_share_max"]),
    )  # fmt: skip


PICTURES: dict[str, Callable[..., Axes]] = {
    "band": lambda **k: plots.band(PUMP_A, LINE, DOUBT, 64, need_gpm=27, **k),
    "check_up": lambda **k: plots.check_up(PUMP_A, LINE, BUCKET, need_gpm=20, **k),
    "cycle": lambda **k: plots.cycle(PUMP_A, LINE, PIT, inflow_gpm=10, **k),
    "duty": lambda **k: plots.duty([PUMP_A, PUMP_B], LINE, PIT, **k),
    "ledger": lambda **k: plots.ledger(dp.explain(PUMP_A, LINE), **k),
    "ledgers": lambda **k: plots.ledger([dp.explain(p, LINE) for p in PRICED], **k),
    "outage": lambda **k: plots.outage(PIT, inflow_most_gpm=40, **k),
    "pareto": lambda **k: plots.pareto(chosen(), **k),
    "pareto_dry": lambda **k: plots.pareto(kept_dry(), against="dry", **k),
    "pipe_sizes": lambda **k: plots.pipe_sizes([PUMP_A, PUMP_B], LINE, **k),
    "profile": lambda **k: plots.profile(LINE, PUMP_A, **k),
    "profile_hump": lambda **k: plots.profile(HUMP, PUMP_A, **k),
    "pump_family": lambda **k: plots.pump_family(PUMP_A, ratio=[0.8, 1.0], line=LINE, **k),
    "sketch": lambda **k: plots.sketch(PUMP_A, LINE, PIT, **k),
    "sketch_hump": lambda **k: plots.sketch(PUMP_A, HUMP, PIT, **k),
    "starts": lambda **k: plots.starts(PUMP_A, LINE, PIT, starts_max_per_h=30, **k),
    "storm": lambda **k: plots.storm(routed(outages=[(12, 15)]), **k),
    "swings": lambda **k: plots.swings(PUMP_A, LINE, DOUBT, 64, need_gpm=26, **k),
    "system_family": lambda **k: plots.system_family(LINE, length_ft=[50, 150], pump=PUMP_A, **k),
    "waterfall": lambda **k: plots.waterfall(dp.explain(PUMP_A, LINE), **k),
    "waterfall_bound": lambda **k: plots.waterfall(dp.explain(SHORT, LOW), **k),
    "waterfalls": lambda **k: plots.waterfall([dp.explain(p, LINE) for p in PRICED], **k),
}
