"""Work that people wait for, in numbers, each beside what is wanted of it.

``python -m tests.bench waits`` prints all rows, or those whose names hold the words of
``DRAINPUMP_BENCH``. Each runs in a process of its own, by the processor's clock: the best of
its calls, the memory above what the process had, and, of rows that grow, how much a point costs
more at their size than at a tenth of it: 1 where the work is flat.
"""

from __future__ import annotations

import json
import os
import resource
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from typing import Any, NamedTuple

import numpy as np

import drainpump as dp
from tests.bench.grid import pumps
from tests.bench.storms import site, year
from tests.bench.timing import say

_PIT = dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=16)
_PUMPS = pumps()

Work = Callable[[], Any]


def _line(**changed: Any) -> dp.DischargeLine:
    given = {"pipe": dp.pvc("1-1/2"), "length_ft": 100, "lift_ft": 6, "k": 4.0}
    return dp.straight_line(**(given | changed))


def _long(count: int) -> dp.DischargeLine:
    """One line of so many lengths."""
    return _line(length_ft=np.linspace(50, 300, count))


def _lines(count: int) -> list[dp.DischargeLine]:
    return [_line(length_ft=float(x)) for x in np.linspace(30, 300, count)]


def _of_twenty(count: int) -> list[dp.DischargeLine]:
    """Lines of one run, and one of twenty."""
    run = dp.Run(pipe=dp.pvc("1-1/2"), length_ft=5, rise_ft=0.3)
    return [*_lines(count - 1), dp.DischargeLine(runs=[run] * 20)]


def _open_line() -> dp.DischargeLine:
    return _line(check_valve=False)


def _pairs(count: int, kind: Callable[..., Any] = dp.parallel, **more: Any) -> list[Any]:
    """Banks of two pumps each."""
    return [kind(_PUMPS[2 * i : 2 * i + 2], **more) for i in range(count)]


def _drooping(count: int) -> list[dp.PumpCurve]:
    rng = np.random.default_rng(6)
    head = np.array([20, 22, 19, 12, 0.5])
    flow = [0, 10, 25, 40, 60]
    return [
        dp.PumpCurve(name=f"D{i}", invented=True, flow_gpm=flow, head_ft=head * by)
        for i, by in enumerate(rng.uniform(0.7, 1.4, count))
    ]


def _many_pumps(count: int) -> list[dp.PumpCurve]:
    return [p.replace(name=f"{p.name}-{i}") for i in range(-(-count // 200)) for p in _PUMPS][
        :count
    ]


def _threads(workers: int) -> Work:
    """The grid of 200 x 5,000 in four parts, one after the other or over so many threads."""
    line, parts = _long(5000), [_PUMPS[i::4] for i in range(4)]

    def solve(part: list[dp.PumpCurve]) -> Any:
        return dp.operating_point(part, line)

    def work() -> None:
        with ThreadPoolExecutor(workers) as pool:
            list(pool.map(solve, parts))

    return work


def _first_showing(size: int) -> Work:
    """What is timed is the showing alone: nothing was worked out before."""
    op = dp.operating_point(_PUMPS[0], _long(size))
    return lambda: (replace(op)._repr_html_(), repr(replace(op)))


def _service(calls: int) -> Work:
    """Calls that each bring an array of speeds."""
    line, pump = _line(), _PUMPS[0]

    def work() -> None:
        for i in range(calls):
            speeds = np.linspace(0.7, 1.0 + 1e-6 * i, 100_000)
            dp.operating_point(pump.at_speed(speeds), line)

    return work


def _draw(picture: Callable[[], Any]) -> Work:
    def work() -> None:
        import matplotlib.pyplot as plt

        axes = picture()
        (axes.figure if hasattr(axes, "figure") else axes).canvas.draw()
        plt.close("all")

    return work


def _storm_of_a_year(_: int) -> Work:
    found = dp.route(*site(), year())
    return _draw(lambda: dp.plots.storm(found))


class Row(NamedTuple):
    """One kind of work, made from a size; the size; what is wanted; whether it grows with it."""

    make: Callable[[int], Work]
    size: int
    wanted: str
    grows: bool = False
    wall: bool = False  # by the clock on the wall: of several cores


def _select(banks: bool, **more: Any) -> Callable[[int], Work]:
    def make(size: int) -> Work:
        pumps = _pairs(size, dp.series) if banks else _many_pumps(size)
        return lambda: dp.select(pumps, _lines(8 if banks else 50), need_gpm=20, **more)

    return make


ROWS: dict[str, Row] = {
    "max_length of 200 pumps": Row(
        lambda n: lambda: dp.size.max_length(_PUMPS[:n], _line(), need_gpm=15), 200, "20 ms"
    ),
    "pit_size of 200 pumps": Row(
        lambda n: lambda: dp.size.pit_size(
            _PUMPS[:n], _line(), starts_max_per_h=15, travel_in=10
        ), 200, "500 ms",
    ),
    "float_travel of 200 pumps": Row(
        lambda n: lambda: dp.size.float_travel(
            _PUMPS[:n], _line(), _PIT, starts_max_per_h=60
        ), 200, "500 ms",
    ),
    "cycle with 1e5 inflows": Row(
        lambda n: lambda: dp.cycle(
            _PUMPS[0], _line(), _PIT, inflow_gpm=np.linspace(0, 30, n)
        ), 100_000, "500 ms, 200 MB",
    ),
    "cycle on 3e5 lines in arrays": Row(
        lambda n: lambda: dp.cycle(_PUMPS[0], _long(n), _PIT, inflow_gpm=10),
        300_000, "memory flat", grows=True,
    ),
    "band of a series bank, 32,768 draws": Row(
        lambda n: lambda: dp.band(
            _pairs(1, dp.series)[0], _line(), dp.Doubt.usual(), samples=n
        ), 32_768, "100 ms",
    ),
    "select of 10 series banks, 8 lines, with doubt": Row(_select(True), 10, "100 ms"),
    "select of 50 parallel banks, 8 lines, with pit": Row(
        lambda n: lambda: dp.select(_pairs(n), _lines(8), need_gpm=30, pit=_PIT, doubt=None),
        50, "400 ms",
    ),
    "a lone parallel point": Row(
        lambda n: lambda: dp.operating_point(_pairs(n)[0], _line()), 1, "3 ms"
    ),
    "explain of a bank": Row(lambda n: lambda: dp.explain(_pairs(n)[0], _line()), 1, "15 ms"),
    "max_length of a bank": Row(
        lambda n: lambda: dp.size.max_length(_pairs(n)[0], _line(), need_gpm=20), 1, "20 ms"
    ),
    "one pump, 2e7 lines in an array": Row(
        lambda n: (lambda made: lambda: dp.operating_point(_PUMPS[0], made))(_long(n)),
        20_000_000, "flat, and 16 to 20 bytes a point are the answer", grows=True,
    ),
    "one worn pump, 2e6 factors in an array": Row(
        lambda n: lambda: dp.operating_point(
            _PUMPS[0].worn(head=np.linspace(0.7, 1, n)), _line()
        ), 2_000_000, "flat", grows=True,
    ),
    "100 calls of at_speed(array of 1e5)": Row(_service, 100, "memory flat", grows=True),
    "1,000 drooping pumps on a line": Row(
        lambda n: (lambda made: lambda: dp.operating_point(made, _line()))(_drooping(n)),
        1000, "400 ms",
    ),
    "to_dict of 1e5": Row(
        lambda n: dp.operating_point(_PUMPS[0], _long(n)).to_dict, 100_000, "100 ms"
    ),
    "the last cell shows 1e6": Row(_first_showing, 1_000_000, "20 ms"),
    "select 500 x 50 with pit": Row(_select(False, pit=_PIT, doubt=None), 500, "800 ms"),
    "select 500 x 50 with pit and doubt": Row(_select(False, pit=_PIT), 500, "5 s"),
    "100 pumps x 1,000 lines, one of 20 runs": Row(
        lambda n: (lambda made: lambda: dp.operating_point(_PUMPS[:100], made))(_of_twenty(n)),
        1000, "300 ms",
    ),
    "drain_back": Row(
        lambda n: lambda: dp.drain_back(_PUMPS[0], _open_line(), _PIT, inflow_gpm=10), 1, "10 ms"
    ),
    "diagnose": Row(
        lambda n: lambda: dp.field.diagnose(_PUMPS[0], _line(), measured_gpm=18, sigma_gpm=1),
        1, "10 ms",
    ),
    "cycle of a bank with a lag float": Row(
        lambda n: lambda: dp.cycle(
            _pairs(1, lag_on_in=22)[0], _line(), _PIT, inflow_gpm=10
        ), 1, "10 ms",
    ),
    "200 x 5,000 in four parts, one thread": Row(_threads, 1, "", wall=True),
    "200 x 5,000 in four parts, two threads": Row(_threads, 2, "no slower than one", wall=True),
    "duty of 100 pumps drawn": Row(
        lambda n: _draw(lambda: dp.plots.duty(_PUMPS[:n], _line())), 100, "500 ms"
    ),
    "pareto of 100 pumps drawn": Row(
        lambda n: (lambda found: _draw(lambda: dp.plots.pareto(found)))(
            dp.select([p.replace(price=100 + i) for i, p in enumerate(_PUMPS[:n])], _lines(3),
                      need_gpm=20, costs=dp.Costs(pipe_per_ft=2))
        ), 100, "500 ms",
    ),
    "a storm of a year drawn": Row(_storm_of_a_year, 1, "1 s"),
}  # fmt: skip


def _timed(row: Row, size: int) -> tuple[float, float]:
    """Best time (s) and memory taken (MB) of a row at a size, in a process of its own."""
    reads, writes = os.pipe()
    child = os.fork()
    if child:
        os.close(writes)
        with os.fdopen(reads) as pipe:
            told = pipe.read()
        os.waitpid(child, 0)
        if not told:
            raise RuntimeError("the row's process ended without an answer")
        took, more = json.loads(told)
        return took, more
    if row.wall:
        os.sched_setaffinity(0, range(os.cpu_count() or 1))
    clock = time.perf_counter if row.wall else time.process_time
    work = row.make(size)
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    took: list[float] = []
    while len(took) < 2 or sum(took) < 0.5:
        start = clock()
        work()
        took.append(clock() - start)
        if took[0] > 5:
            break
    after = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    with os.fdopen(writes, "w") as pipe:
        json.dump([min(took), (after - before) / 1024], pipe)
    os._exit(0)


def main() -> None:
    """Print time and memory of each row, and its growth."""
    words = os.environ.get("DRAINPUMP_BENCH", "").split(",")
    for name, row in ROWS.items():
        if not any(word in name for word in words):
            continue
        took, memory = _timed(row, row.size)
        said = f"{took * 1e3:.1f} ms, {memory:.0f} MB"
        if row.grows:
            less, of_less = _timed(row, row.size // 10)
            said += f"; {took / less / 10:.2f} times a tenth's a point, {of_less:.0f} MB then"
        say(name, said, row.wanted and f"wanted {row.wanted}")
