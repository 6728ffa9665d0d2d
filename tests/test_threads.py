"""The same call gives the same bits: on each run, from eight threads, and after pickling."""

from __future__ import annotations

import pickle
from concurrent.futures import ThreadPoolExecutor

import numpy as np

import drainpump as dp

PUMPS = [
    dp.PumpCurve(
        name=f"P{i}", flow_gpm=[0, 15 + i, 35 + i, 50 + 2 * i], head_ft=[20 + i, 17 + i, 9, 0]
    )
    for i in range(6)
]
LINES = dp.straight_line(
    pipe=dp.pvc("1-1/2"),
    length_ft=np.linspace(5, 400, 300),
    lift_ft=np.linspace(0, 25, 300),
    k=6.3,
)
PIT = dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=13)


def call(_: int = 0) -> tuple[bytes, bytes, bytes]:
    op = dp.operating_point(PUMPS, LINES)
    turning = dp.cycle(PUMPS[0], LINES, PIT, inflow_gpm=10)
    return op.flow_gpm.tobytes(), op.head_ft.tobytes(), turning.worst_starts_per_h.tobytes()


def test_eight_threads_give_the_same_bits() -> None:
    want = call()
    with ThreadPoolExecutor(8) as pool:
        assert all(got == want for got in pool.map(call, range(32)))


def test_parts_and_results_pickle() -> None:
    pumps, line, pit = pickle.loads(pickle.dumps((PUMPS, LINES, PIT)))
    op, want = dp.operating_point(pumps, line), dp.operating_point(PUMPS, LINES)
    assert op.flow_gpm.tobytes() == want.flow_gpm.tobytes()
    again = pickle.loads(pickle.dumps(op))
    assert again.flow_gpm.tobytes() == want.flow_gpm.tobytes()
    assert again.to_frame().equals(want.to_frame())
    assert pit.working_volume_gal == PIT.working_volume_gal
