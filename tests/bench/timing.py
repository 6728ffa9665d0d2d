"""How the benches measure: best of several, on one core."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any


def best(work: Callable[[], Any], repeats: int = 3) -> tuple[float, Any]:
    """Return the shortest processor time (s) of several calls, and the last answer."""
    shortest, answer = float("inf"), None
    for _ in range(repeats):
        start = time.process_time()
        answer = work()
        shortest = min(shortest, time.process_time() - start)
    return shortest, answer


def say(what: str, measured: str, bar: str = "") -> None:
    """Print one line of the table of results."""
    print(f"{what:<66} {measured:>26}   {bar}".rstrip())
