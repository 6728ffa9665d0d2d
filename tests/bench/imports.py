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


def main() -> None:
    """Print the ratio of medians, the two taken in turn."""
    ours, bare = [], []
    for _ in range(9):
        bare.append(seconds("import numpy, scipy.optimize"))
        ours.append(seconds("import drainpump"))
    a, b = statistics.median(ours), statistics.median(bare)
    say(
        f"import drainpump {a:.2f} s, numpy and scipy.optimize {b:.2f} s",
        f"{a / b:.2f} times",
        "wanted at most 1.3 times",
    )
