"""Routings walked many at once, beside the same ones walked each alone.

``DRAINPUMP_ORACLES=500 pytest tests/test_many_storms.py`` compares 500 random calls.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import fields
from typing import Any

import numpy as np
import pytest

import drainpump as dp
from drainpump.routing import many_storms, walk
from tests.oracles.many import dice
from tests.storms import LINE, POWERED, A, inflow, pit

#: what a routing answers, its status aside
TALLIES = [field.name.removeprefix("_") for field in fields(dp.Routing)[2:-1]]

#: invented pumps: one that ends before it crosses a line, one that never lifts so high, one
#: whose curve droops
SHORT = dp.PumpCurve(
    name="short", flow_gpm=[0, 10, 20], head_ft=[20, 19.2, 16.8], power_w=[250, 275, 300]
)
WEAK = dp.PumpCurve(name="weak", flow_gpm=[0, 10, 20], head_ft=[3, 2, 0], power_w=[50, 60, 70])
DROOP = dp.PumpCurve(name="droop", flow_gpm=[0, 10, 20, 40], head_ft=[10, 12, 11, 0])
SMALL = dp.PumpCurve(name="S", flow_gpm=[0, 20, 30], head_ft=[15, 10, 0], power_w=[100, 120, 130])


def _line(bore: float, length: float, lift: float, **more: Any) -> dp.DischargeLine:
    pipe = dp.Pipe(bore_in=bore)
    return dp.straight_line(pipe=pipe, length_ft=length, lift_ft=lift, k=6, **more)


LINES = [
    LINE,
    _line(1.59, 80, 5),
    _line(2.047, 150, 12),
    _line(2.047, 150, 6, check_valve=False),
    _line(1.59, 30, 6, check_valve=False),
    _line(2.047, 100, -2, check_valve=False, outlet=dp.SubmergedOutlet(depth_ft=5)),
    dp.DischargeLine(
        runs=[
            dp.Run(pipe=dp.Pipe(bore_in=1.59), length_ft=length, rise_ft=rise)
            for length, rise in ((10, 8), (40, -3), (20, 2))
        ],
        check_valve=False,
    ),
]


def _alike(many: dp.Routing, alone: dp.Routing) -> None:
    """The same status and starts, all else to 1e-9; of volumes, of what came in."""
    assert np.array_equal(many.status, alone.status)
    for name in TALLIES:
        got, wanted = getattr(many.si, name), getattr(alone.si, name)
        if name in ("starts", "lag_starts"):
            np.testing.assert_array_equal(got, wanted)
            continue
        least = 1e-9 * max(np.nanmax(alone.si.inflow), 1e-3) if name in WATER else 1e-9
        np.testing.assert_allclose(got, wanted, rtol=1e-9, atol=least, err_msg=name)


WATER = ("peak_pond", "pumped", "lifted", "overflow", "stored")


@pytest.fixture
def both(monkeypatch: pytest.MonkeyPatch) -> Callable[..., dp.Routing]:
    """Route many at once and each alone, compare, and return the answer."""

    def route(*parts: Any, **asked: Any) -> dp.Routing:
        found = []
        for few in (0, 10**9):
            for module in (walk, many_storms):
                monkeypatch.setattr(module, "FEW", few)
            found.append(dp.route(*parts, **asked))
        _alike(*found)
        return found[0]

    return route


def _asked(rng: np.random.Generator, powered: bool) -> dict[str, Any]:
    """What else may be asked of a routing, each by chance."""
    asked: dict[str, Any] = {}
    ground = rng.integers(3)
    if ground == 1:
        asked["pond_area_ft2"] = 300
    if ground == 2:
        asked["pond_storage"] = dp.PondStorage(depth_in=[2, 6], volume_gal=[300, 2000])
    if rng.random() < 0.4:
        asked["overflow_in"] = rng.choice([28, 29.5, 32] if ground else [28, 29.5], 3)
    if rng.random() < 0.4:
        asked["start_in"] = rng.uniform(2, 28, 3)
    if rng.random() < 0.4:
        asked["soaks_back"] = [0, rng.uniform(0, 0.6), np.nan]
    if rng.random() < 0.5:
        # from the very beginning too
        asked["outages"] = [(rng.uniform(0, 40) * rng.integers(2), rng.uniform(41, 200))]
        if powered:
            asked["battery_wh"] = rng.uniform(1, 200, 3)
            asked |= {"battery_pump": SMALL} if rng.random() < 0.5 else {}
    if rng.random() < 0.3:
        asked["lead_fails_min"] = rng.uniform(0, 100)
    if rng.random() < 0.3:
        asked["until_min"] = rng.uniform(35, 400)
    return asked


@pytest.mark.filterwarnings("ignore:outages:drainpump.DrainpumpWarning")
@pytest.mark.parametrize("kind", ["any", "powered", "record"])
def test_many_at_once_are_as_each_alone(kind: str, both: Callable[..., dp.Routing]) -> None:
    seen = set()
    for rng in dice(2, ["any", "powered", "record"].index(kind)):
        lag = float(rng.uniform(21, 26))
        pumps = [POWERED, SHORT, WEAK, dp.parallel([POWERED, POWERED], lag_on_in=lag)]
        pumps += [dp.parallel([POWERED, SMALL], lag_on_in=lag + 1)]
        if kind != "powered":
            pumps += [A, DROOP, dp.parallel([A, POWERED])]
        count, minutes = int(rng.integers(2, 9)), float(rng.uniform(1, 40))
        flow = rng.uniform(0, rng.choice([15, 60, 160]), (3, count))
        flow *= rng.random((3, count)) < 0.8
        stepped = dp.Hydrograph(flow_gpm=flow, block_min=minutes)
        storm = dp.Hydrograph(flow_gpm=flow, time_min=minutes * np.arange(count) + 30)
        if kind == "record":
            stepped = dp.Hydrograph(flow_gpm=flow / 4, block_min=600)
        some = rng.permutation(len(LINES))[:3]
        pits = [pit(), dp.Pit(diameter_in=36, depth_in=30, off_in=6, on_in=[16, 14, np.nan])]
        got = both(
            pumps, [LINES[i] for i in some], pits[rng.integers(2)],
            stepped if rng.random() < 0.5 or kind == "record" else storm,
            **_asked(rng, kind == "powered"),
        )  # fmt: skip
        seen |= set(np.unique(got.status))
    assert "ok" in seen
    assert len(seen) > 3


def test_blocks_and_chunks_change_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    # the lag floats of one bank stand among the levels of all, whichever are solved together
    pumps = [A, dp.parallel([A, A], lag_on_in=24), POWERED, dp.parallel([A, POWERED], lag_on_in=27)]
    flow = np.linspace(0.3, 1.6, 5)[:, None] * inflow().flow_gpm
    storms = [dp.Hydrograph(flow_gpm=flow, time_min=inflow().time_min), inflow()]
    storms[1] = dp.Hydrograph(flow_gpm=flow[::-1, :40], time_min=inflow().time_min[:40])
    given = pumps, LINES[:3], [pit(), pit(14)], storms
    whole = dp.route(*given)
    monkeypatch.setattr(walk, "_CHUNK", 37)
    monkeypatch.setattr(walk, "_SOLVED", 11)
    heard: list[tuple[int, int]] = []
    _alike(dp.route(*given, progress=lambda done, of: heard.append((done, of))), whole)
    assert whole.starts.shape == (4, 3, 2, 2, 5)
    done = [n for n, _ in heard]
    assert done == sorted(set(done))
    assert {of for _, of in heard} == {240}
    assert done[-1] == 240
    assert len(done) > 10


def test_one_that_goes_on_for_long_is_not_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    # one pit in a hundred has its floats so near that it starts a thousand times
    walked: list[int] = []
    alone = walk.March.run
    monkeypatch.setattr(walk.March, "run", lambda *a: walked.append(1) or alone(*a))
    on = np.full(100, 28.0)
    on[7] = 6.01
    got = dp.route(A, LINE, pit(on), inflow())
    assert len(walked) == 1
    assert got.starts[7] > 50 * got.starts[8]
    monkeypatch.setattr(walk, "FEW", 10**9)
    _alike(got, dp.route(A, LINE, pit(on), inflow()))


def test_what_runs_back_from_a_dead_pump_lifts_the_lag_float_at_once(
    both: Callable[..., dp.Routing],
) -> None:
    # up to 25.64 gal run back on 4.41 gal/in of the pit, from below 17 in to above it
    bank = dp.parallel([A, A], lag_on_in=17)
    wide = dp.Pit(diameter_in=36, depth_in=30, off_in=6, on_in=16)
    steady = dp.Hydrograph(flow_gpm=[40], block_min=600)
    fails, until = 3.0, 3.02
    before = dp.route(bank, LINES[3], wide, steady, until_min=fails)
    assert before.lag_starts == 0
    assert before.stored_gal < 4.41 * 11
    got = both(bank, LINES[3], wide, steady, lead_fails_min=fails, until_min=until)
    assert got.starts == 2
    assert got.lag_starts == 1
    assert got.run_min - before.run_min == pytest.approx(until - fails)
