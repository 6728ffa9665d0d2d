"""A band over 500 pumps, 8 pipes and 512 draws: 2,048,000 operating points in one call."""

from __future__ import annotations

import resource
import time

import numpy as np

import drainpump as dp
from tests.bench.grid import pumps
from tests.bench.timing import say

PUMPS, SAMPLES = 500, 512


def lines() -> list[dp.DischargeLine]:
    """Return one invented site's line in eight bores."""
    return [
        dp.straight_line(pipe=dp.Pipe(bore_in=bore), length_ft=150, lift_ft=6, k=6.3)
        for bore in np.linspace(1.3, 3.1, 8)
    ]


def main() -> None:
    """Print the time and the peak memory, of the whole process and above its start."""
    made, site = pumps(PUMPS), lines()
    doubt = dp.Doubt.usual()
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    start = time.perf_counter()
    found = dp.band(made, site, doubt, samples=SAMPLES)
    took = time.perf_counter() - start
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    points = found._flow_sampled.size
    say(f"{PUMPS} x {len(site)} x {SAMPLES} = {points} points", f"{took:.1f} s")
    say("peak memory", f"{peak:.0f} MB", f"wanted below 500 MB; {peak - before:.0f} above start")
