"""What a typed client is told is wrong before it runs: each line is an error, or the test fails.

Never run: ``mypy --strict`` reports an ``ignore`` that nothing needs.
"""

from __future__ import annotations

import drainpump as dp

pump = dp.PumpCurve(flow_gpm=[0, 50], head_ft=[20, 0])
line = dp.straight_line(pipe=dp.pvc("2"), length_ft=150, lift_ft=6)
pit = dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=13)

dp.Run(pipe=dp.pvc("2"), length_ft="150")  # type: ignore[arg-type]
dp.Run(pipe=dp.pvc("2"), lenght_ft=150)  # type: ignore[call-arg]
dp.DischargeLine(runs=line.runs, friction="darcy_weisbach")  # type: ignore[arg-type]
dp.pvc("2", bore="largest")  # type: ignore[arg-type]
dp.select([pump], [line], need_gpm=20, objective="cheapest")  # type: ignore[arg-type]
dp.inflow.nrcs_storm("IV", depth_in=4)  # type: ignore[arg-type]
dp.inflow.seepage(drain="ditch")  # type: ignore[arg-type]
dp.inflow.time_of_concentration("guess", slope=0.01)  # type: ignore[arg-type]
dp.operating_point(pump, line).to_frame("imperial")  # type: ignore[arg-type]
dp.plots.duty(pump, line, units="imperial")  # type: ignore[arg-type]
dp.operating_point(line, pump)  # type: ignore[arg-type]
gph = dp.operating_point(pump, line).flow_gph  # type: ignore[attr-defined]
dp.cycle(pump, line, pit, inflow_gpm=5).run_s.tolist()  # type: ignore[union-attr]
op = dp.operating_piont  # type: ignore[attr-defined]
