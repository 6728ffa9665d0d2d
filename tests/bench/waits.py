"""Work that people wait for: questions turned round, many inflows, long answers, in numbers."""

from __future__ import annotations

import resource
import time
from collections.abc import Callable
from typing import Any

import numpy as np

import drainpump as dp
from tests.bench.grid import pumps
from tests.bench.timing import say

_PIT = dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=16)


def _line(**changed: Any) -> dp.DischargeLine:
    given = {"pipe": dp.pvc("1-1/2"), "length_ft": 100, "lift_ft": 6, "k": 4.0}
    return dp.straight_line(**(given | changed))


def _work() -> dict[str, tuple[Callable[[], Any], str]]:
    """What is timed, by name, and what is wanted of it."""
    made, line = pumps(), _line()
    bank = dp.parallel(made[:2])
    many = dp.operating_point(made[0], _line(length_ft=np.linspace(50, 300, 100_000)))
    return {
        "max_length of 200 pumps": (
            lambda: dp.size.max_length(made, line, need_gpm=15),
            "wanted 20 ms",
        ),
        "pit_size of 200 pumps": (
            lambda: dp.size.pit_size(made, line, starts_max_per_h=15, travel_in=10),
            "wanted 500 ms",
        ),
        "float_travel of 200 pumps": (
            lambda: dp.size.float_travel(made, line, _PIT, starts_max_per_h=15),
            "wanted 500 ms",
        ),
        "cycle with 1e5 inflows": (
            lambda: dp.cycle(made[0], line, _PIT, inflow_gpm=np.linspace(0, 30, 100_000)),
            "wanted 500 ms, 200 MB",
        ),
        "to_dict of 1e5": (many.to_dict, "wanted 100 ms"),
        "a notebook shows 1e5": (many._repr_html_, "wanted 20 ms"),
        "a lone parallel point": (lambda: dp.operating_point(bank, line), "wanted 3 ms"),
        "explain of a bank": (lambda: dp.explain(bank, line), "wanted 15 ms"),
        "max_length of a bank": (
            lambda: dp.size.max_length(bank, line, need_gpm=20),
            "wanted 20 ms",
        ),
    }


def main() -> None:
    """Print the best time of each, by the processor's clock, and the peak memory so far."""
    for name, (work, wanted) in _work().items():
        took = []
        while sum(took) < 0.5:
            start = time.process_time()
            work()
            took.append(time.process_time() - start)
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
        say(name, f"{min(took) * 1e3:.1f} ms, {peak:.0f} MB", wanted)
