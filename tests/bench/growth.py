"""Time a point and peak memory against the size of the grid, 1e2 to 1e7 points."""

from __future__ import annotations

import tracemalloc

import numpy as np

import drainpump as dp
from tests.bench.grid import pumps
from tests.bench.timing import best, say


def main() -> None:
    """Print one line a size: time a point, and memory beyond the answer's own."""
    made = pumps()
    rng = np.random.default_rng(5)
    for size in (100, 1_000, 10_000, 100_000, 1_000_000, 10_000_000):
        count = min(100, max(1, size // 100))
        each = size // count
        line = dp.straight_line(
            pipe=dp.Pipe(bore_in=2.047),
            length_ft=rng.uniform(20, 400, each),
            lift_ft=rng.uniform(2, 12, each),
            k=6.3,
        )
        took, _ = best(
            lambda line=line, count=count: dp.operating_point(made[:count], line),
            3 if size < 1e6 else 1,
        )
        tracemalloc.start()
        op = dp.operating_point(made[:count], line)
        peak = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        beyond = peak - op._flow.nbytes - op._code.nbytes
        say(
            f"{size:>10,} points: {took / size * 1e6:.2f} us a point",
            f"{beyond / 1e6:.0f} MB beyond the answer",
            f"answer {op._flow.nbytes / 1e6:.0f} MB",
        )
