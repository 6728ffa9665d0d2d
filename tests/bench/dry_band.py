"""The band of the dry years, from 64 draws, against 400 drawn and routed one by one."""

from __future__ import annotations

import time

import numpy as np

import drainpump as dp
from tests.bench.timing import say
from tests.dry_years import LENGTH_FT, LIFT_FT, PIT, K, at_random, kept_years, water
from tests.problems import PUMP_B

COUNT, STEPS = 400, 128


def main() -> None:
    """Print P10 and P90 of both, and the time each takes."""
    line = dp.straight_line(pipe=dp.pvc("2"), length_ft=LENGTH_FT, lift_ft=LIFT_FT, k=K)
    limits = dp.Limits(
        pond_depth_max_in=1, pond_max_min=45,
        without=["velocity_min", "velocity_max", "range_share_max"],
    )  # fmt: skip
    for area in (3200, 3600):
        (c,) = dp.select(PUMP_B, line, pit=PIT, storms=water(area), pond_area_ft2=800,
                         limits=limits).candidates  # fmt: skip
        begun = time.perf_counter()
        band = f"{c.dry_up_to_low_year:.3g} to {c.dry_up_to_high_year:.3g} years"
        say(f"{area} ft²: {c.dry_up_to_year:.3g} years, 64 draws", band,
            f"{time.perf_counter() - begun:.1f} s")  # fmt: skip
        for seed in (1, 2):
            begun = time.perf_counter()
            found = kept_years(at_random(COUNT, seed), area, STEPS)
            low, high = np.quantile(found, [0.1, 0.9])
            say(f"{area} ft²: {COUNT} drawn at random, seed {seed}",
                f"{low:.3g} to {high:.3g} years",
                f"{time.perf_counter() - begun:.1f} s")  # fmt: skip
