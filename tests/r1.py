"""The invented reference problem: two pumps by formula, one site, four bores.

Pump A: H = 20 (1 - (Q/50)²) ft; pump B: H = 35 (1 - (Q/65)²); Q in gpm. Lift 6 ft, 150 ft
of pipe, K 6.3 in the run, an exit, a lid of 0.25 ft, water of 1.22e-5 ft²/s.
"""

from __future__ import annotations

import numpy as np

import drainpump as dp

BORES_IN = (1.360, 1.590, 2.047, 3.042)


def pump(name: str, shutoff_ft: float, run_out_gpm: float) -> dp.PumpCurve:
    """Return a pump of a parabola, in points close enough to be one."""
    q = np.linspace(0, run_out_gpm, 201)
    head = shutoff_ft * (1 - (q / run_out_gpm) ** 2)
    return dp.PumpCurve(name=name, flow_gpm=q, head_ft=head)


def line(bore_in: float, **changed: object) -> dp.DischargeLine:
    """Return the site's line in one bore, with what is changed."""
    given: dict[str, object] = {"length_ft": 150, "lift_ft": 6, "k": 6.3, "water_f": 59.31}
    given["outlet"] = dp.FreeOutlet(lid_ft=0.25)
    given["pipe"] = dp.Pipe(bore_in=bore_in, roughness_ft=5e-6)
    return dp.straight_line(**{**given, **changed})  # type: ignore[arg-type]


A, B = pump("A", 20, 50), pump("B", 35, 65)
LINES = [line(bore) for bore in BORES_IN]
#: pump A's line of the checks: 1.590 in
LINE = LINES[1]
