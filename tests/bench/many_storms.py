"""16,000 routings of a 6-h design storm, beside the walk of each alone and a 1-s Euler.

The rivals are what one would write by hand: Euler steps of a second, the pump's flow straight
between the same levels, in plain Python and compiled by numba where it is installed. They are
timed on a sample, all by the processor's clock; their answers differ by the step.
"""

from __future__ import annotations

import resource
import time
import tracemalloc
from collections.abc import Callable
from typing import Any

import numpy as np

import drainpump as dp
from drainpump.routing import walk
from tests.bench.grid import pumps
from tests.bench.storms import catchments, site, year
from tests.bench.timing import best, say

CASES, ALONE = 16_000, 40
PIT = dp.Pit(diameter_in=24, depth_in=42, off_in=8, on_in=20)
POND_FT2 = 500


def storm() -> dp.Hydrograph:
    """Return what a nested storm of six hours brings, 158 gpm at its peak."""
    rain = dp.inflow.RainTable(
        duration_min=[5, 10, 15, 30, 60, 120, 180, 360],
        intensity_in_per_h=[7.2, 5.6, 4.7, 3.4, 2.2, 1.35, 1.0, 0.6],
    )
    return dp.inflow.runoff_hydrograph(catchments(), rain.nested_storm(block_min=5))


def lines(count: int) -> dp.DischargeLine:
    """Return an invented line of so many lengths and lifts."""
    rng = np.random.default_rng(3)
    return dp.straight_line(
        pipe=dp.Pipe(bore_in=2.047),
        length_ft=rng.uniform(80, 250, count),
        lift_ft=rng.uniform(4, 9, count),
        k=6.3,
    )


def draws(count: int) -> dp.Hydrograph:
    """Return as many storms, each a draw of the one."""
    rng, one = np.random.default_rng(5), storm()
    factor = np.exp(rng.normal(0, 0.3, (count, 1)))
    return dp.Hydrograph(flow_gpm=factor * one.flow_gpm, time_min=one.time_min)


def alone(work: Callable[[], Any]) -> Any:
    """Do the work with every case walked alone."""
    kept = walk.FEW
    walk.FEW = 10**9
    try:
        return work()
    finally:
        walk.FEW = kept


def euler(rates, flows, deep, on, rim):  # type: ignore[no-untyped-def]
    """Step through the storm a second at a time; return starts and the most that ponds."""
    volume, runs, starts, most, k = 0.0, False, 0, 0.0, 0
    last = len(flows) - 1
    while k < len(rates) or runs:
        rate = rates[k] if k < len(rates) else 0.0
        out = 0.0
        if runs:
            place = min(volume / deep, last - 1e-9)
            i = int(place)
            out = flows[i] + (place - i) * (flows[i + 1] - flows[i])
        volume += rate - out
        if not runs and volume >= on:
            runs = True
            starts += 1
        elif runs and volume <= 0.0:
            runs = False
        most = max(most, volume - rim)
        k += 1
    return starts, most


def by_euler(count: int) -> list[tuple[Any, ...]]:
    """Return what each of so many cases gives the stepper, laid out beforehand."""
    pump, _, _ = site()
    one, levels = storm(), np.linspace(0, PIT.depth_in - PIT.off_in, 28)
    seconds = np.arange(0.5, one.time_min[-1] * 60)
    rates = np.interp(seconds / 60, one.time_min, one.flow_gpm) / 60
    many = lines(CASES).si.arrays
    each = []
    for i in range(count):
        line = dp.straight_line(
            pipe=dp.Pipe(bore_in=2.047), length_m=many.length[0, i], lift_m=many.end[0, i], k=6.3
        )
        op = dp.operating_point(pump, line, level_above_off_ft=levels / 12)
        gal = np.pi / 4 * PIT.diameter_in**2 / 231
        room = gal * (PIT.on_in - PIT.off_in), gal * (PIT.depth_in - PIT.off_in)
        each.append((rates.tolist(), (op.flow_gpm / 60).tolist(), gal * levels[1], *room))
    return each


def compiled() -> Callable[..., Any] | None:
    """Return the stepper compiled, where numba is installed."""
    try:
        import numba  # type: ignore[import-not-found,import-untyped,unused-ignore]
    except ImportError:
        return None
    made: Callable[..., Any] = numba.njit(euler)
    return made


def rivals(ours: dp.Routing, each: float) -> None:
    """Print the stepper's times and how far it is off."""
    cases = by_euler(10)
    steps = {"a 1-s Euler in Python": euler, "a 1-s Euler in numba": compiled()}
    for name, step in steps.items():
        if step is None:
            continue
        laid = cases
        if step is not euler:
            laid = [(np.array(a), np.array(b), *rest) for a, b, *rest in cases]
            step(*laid[0])
        took, found = best(lambda step=step, laid=laid: [step(*case) for case in laid], 3)
        off = [abs(starts - ours.starts[i]) for i, (starts, _) in enumerate(found)]
        pond = [abs(most / ours.peak_pond_gal[i] - 1) for i, (_, most) in enumerate(found)]
        say(
            f"{name}: {took / len(cases) * 1e3:.2f} ms a routing",
            f"{took / len(cases) / each:.2g} times ours",
            f"off by up to {max(off)} starts, {100 * max(pond):.2g} % of the pond",
        )


def growth() -> None:
    """Print time a routing and memory against the number of cases."""
    pump, _, _ = site()
    one = storm()
    for count in (100, 1_000, 10_000, 100_000):
        line = lines(count)
        start = time.process_time()
        dp.route(pump, line, PIT, one)
        took = time.process_time() - start
        tracemalloc.start()
        dp.route(pump, line, PIT, one)
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        say(f"{count:>8,} routings: {took / count * 1e6:.0f} us each", f"{peak / 1e6:.0f} MB")


def record() -> None:
    """Print time and memory of twenty years of 5-minute record."""
    pump, line, pit = site()
    long = year(20 * 365)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    start = time.process_time()
    ours = dp.route(pump, line, pit, long)
    took = time.process_time() - start
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    say(
        f"20 years of 5-min record, {ours.starts} starts",
        f"{took:.1f} s, {peak:.0f} MB",
        f"wanted 9 s, 600 MB; {peak - before:.0f} MB above what it was given",
    )


def chosen() -> None:
    """Print the time of a choice by what storms do, all pairs in two pits."""
    made = [
        dp.straight_line(pipe=dp.pvc(size), length_ft=120, lift_ft=6, k=5, name=size)
        for size in ("1", "1-1/4", "1-1/2", "2", "2-1/2", "3")
    ]
    flow = np.array([0.5, 0.7, 0.9, 1.2])[:, None] * storm().flow_gpm
    storms = dp.Hydrograph(flow_gpm=flow, time_min=storm().time_min, return_year=[2, 5, 10, 25])
    limits = dp.Limits(pond_depth_max_in=2, pond_max_min=60)
    given = {"storms": storms, "pit": [PIT, PIT.replace(on_in=26)], "limits": limits}
    work = lambda: dp.select(pumps()[:50], made, pond_area_ft2=800, **given)  # noqa: E731
    took, _ = best(work, 2)
    loop, _ = best(lambda: alone(work), 1)
    say("select: 50 pumps, 6 lines, 2 pits, 4 storms", f"{took:.1f} s", f"by the loop {loop:.1f} s")


def main() -> None:
    """Print the record first, while the process is still small."""
    record()
    pump, _, _ = site()
    few = lines(ALONE)
    for what, inflow, part in (
        ("one storm", storm(), storm()),
        ("a storm each", draws(CASES), draws(ALONE)),
    ):
        took, ours = best(lambda inflow=inflow: _routed(pump, lines(CASES), inflow), 2)
        loop, _ = best(lambda part=part: alone(lambda: _routed(pump, few, part)), 3)
        each = took / CASES
        say(
            f"{CASES:,} routings of 6 h, {what}, {ours.starts.mean():.0f} starts: "
            f"{each * 1e6:.0f} us",
            f"{took:.1f} s, {loop / ALONE / each:.0f} times the loop",
            "wanted 5 s",
        )
        if part.flow_gpm.ndim == 1:
            rivals(ours, each)
    chosen()
    growth()


def _routed(pump: dp.PumpCurve, line: dp.DischargeLine, inflow: dp.Hydrograph) -> dp.Routing:
    return dp.route(pump, line, PIT, inflow, pond_area_ft2=POND_FT2)
