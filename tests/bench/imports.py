"""What ``import drainpump`` costs beside numpy and scipy.optimize alone, in fresh processes."""

from __future__ import annotations

import statistics
import subprocess
import sys

from tests.bench.timing import say

CLOCK = "import time; a = time.perf_counter(); {}; print(time.perf_counter() - a)"


def seconds(statement: str) -> float:
    """Return the time one statement takes in a fresh interpreter."""
    done = subprocess.run(
        [sys.executable, "-c", CLOCK.format(statement)], capture_output=True, text=True, check=True
    )
    return float(done.stdout)


#: names are loaded when first asked for, so the first answer is measured as well
FIRST = (
    "import drainpump as dp; pump = dp.PumpCurve(name='A', flow_gpm=[0, 30, 50], "
    "head_ft=[20, 12.8, 0]); line = dp.straight_line(pipe=dp.pvc('2'), length_ft=150, lift_ft=6); "
    "dp.operating_point(pump, line).flow_gpm"
)


def main() -> None:
    """Print the ratios of medians, the three taken in turn."""
    taken: dict[str, list[float]] = {"import numpy, scipy.optimize": []}
    taken |= {"import drainpump": [], FIRST: []}
    for _ in range(9):
        for statement, times in taken.items():
            times.append(seconds(statement))
    bare, ours, first = (statistics.median(times) for times in taken.values())
    for what, time in (("import drainpump", ours), ("import and a first operating point", first)):
        say(
            f"{what} {time:.2f} s, numpy and scipy.optimize {bare:.2f} s",
            f"{time / bare:.2f} times",
            "wanted at most 1.3 times" if time is ours else "",
        )
