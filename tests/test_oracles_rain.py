"""Rain, records and water held back beside solvers that share nothing with the library's own.

``DRAINPUMP_ORACLES=500 pytest tests/test_oracles_rain.py`` compares 500 random cases each.
"""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import pandas as pd
import pytest

import drainpump as dp
from drainpump.errors import InputError
from tests.heard import quietly, told
from tests.oracles import nrcs
from tests.oracles.held_back import held_back, volume_until
from tests.oracles.many import dice

CUBE = 1728 / 231


# ------------------------------------------------------------------ cut at the capacity


RAMP = dp.Hydrograph(flow_gpm=[0, 100, 0], time_min=[0, 30, 60])


@pytest.mark.parametrize(
    ("room", "volume", "end"), [(None, 3000, 67.5), (0, 2250, 60), (100, 2350, 60)]
)
def test_a_ramp_is_cut_where_it_crosses_the_capacity(
    room: float | None, volume: float, end: float
) -> None:
    # by hand: above 50 gpm stands a triangle of 30 min by 50 gpm, 750 gal; it is passed by
    # 60 min but for 375 gal, which take 7.5 min more
    out = dp.inflow.held_back(RAMP, flow_gpm=50, room_gal=room)
    assert out.volume_gal == pytest.approx(volume, rel=1e-9)
    assert out.flow_gpm.max() == pytest.approx(50)
    assert volume_until(out.time_min, out.flow_gpm, 45) == pytest.approx(1875, rel=1e-9)
    assert out.end_min == pytest.approx(end, abs=1e-9)


def test_what_is_held_back_is_cut_exactly() -> None:
    for rng in dice(100, 13):
        n = int(rng.integers(2, 9))
        time = np.concatenate([[0], np.cumsum(rng.uniform(1, 20, n - 1))])
        flow = rng.uniform(0, 120, n) * (rng.random(n) > 0.2)
        if rng.random() < 0.3:  # in blocks
            time, flow = np.repeat(np.arange(n + 1) * 5.0, 2)[1:-1], np.repeat(flow, 2)
        capacity, room = rng.uniform(5, 100), rng.choice([0, rng.uniform(1, 400), np.inf])
        storm = dp.Hydrograph(flow_gpm=flow, time_min=time)
        wanted = held_back(time, flow, capacity, room)
        assert storm.volume_gal - wanted.volume == pytest.approx(wanted.lost, abs=1e-6)
        got = dp.inflow.held_back(
            storm, flow_gpm=capacity, room_gal=None if np.isinf(room) else room
        )
        assert got.volume_gal == pytest.approx(wanted.volume, rel=1e-9, abs=1e-7)
        assert got.flow_gpm.max() <= capacity * (1 + 1e-12)
        for t in np.linspace(0, wanted.time[-1], 23):
            mine = volume_until(wanted.time, wanted.flow, t)
            assert volume_until(got.time_min, got.flow_gpm, t) == pytest.approx(mine, abs=1e-5)


# ------------------------------------------------------------------ NRCS storms


def test_the_tenths_have_the_greatest_shares_that_are_known() -> None:
    # second-hand, USDA NRCS: 12.0 to 12.1 h, 11.8 to 11.9 h, 9.8 to 9.9 h
    for kind, share, begins in (("III", 0.0840, 12.0), ("II", 0.1371, 11.8), ("I", 0.0754, 9.8)):
        depths = nrcs.blocks(kind, 1.0, 6)
        assert depths.max() == pytest.approx(share, abs=5e-5)
        assert depths.argmax() == round(begins * 10)


@pytest.mark.parametrize("block", [5, 6, 10, 15, 60])
@pytest.mark.parametrize("kind", nrcs.KINDS)
def test_nrcs_blocks_are_those_of_the_tables(kind: str, block: float) -> None:
    got = dp.inflow.nrcs_storm(kind, depth_in=5, block_min=block)
    np.testing.assert_allclose(got.depth_in, nrcs.blocks(kind, 5, block), atol=1e-9)


def test_six_minutes_on_a_roof_bring_82_9_gpm() -> None:
    # by hand: 0.95 × 2,000 × 0.0840 × 5 / 12 / 6 × 7.48052
    assert nrcs.peak_gpm(nrcs.blocks("III", 5, 6), 6, 2000, 0.95, 6) == pytest.approx(
        82.9, abs=0.05
    )
    roof = dp.inflow.Catchment(area_ft2=2000, runoff=0.95, tc_min=6)
    storm = dp.inflow.nrcs_storm("III", depth_in=5, block_min=6)
    assert dp.inflow.runoff_hydrograph(roof, storm).peak_gpm == pytest.approx(82.9, abs=0.05)


def test_peaks_of_nrcs_storms_at_random() -> None:
    for rng in dice(40, 16):
        kind, block = str(rng.choice(nrcs.KINDS)), float(rng.choice([5, 6, 10, 12]))
        depth, tc = float(rng.uniform(1, 8)), float(rng.uniform(block, 60))
        area, runoff = float(rng.uniform(100, 5000)), float(rng.uniform(0.2, 1))
        ground = dp.inflow.Catchment(area_ft2=area, runoff=runoff, tc_min=tc)
        storm = dp.inflow.nrcs_storm(kind, depth_in=depth, block_min=block)
        wanted = nrcs.peak_gpm(nrcs.blocks(kind, depth, block), block, area, runoff, tc)
        got = dp.inflow.runoff_hydrograph(ground, storm)
        assert got.peak_gpm == pytest.approx(wanted, rel=1e-6)
        assert got.volume_gal == pytest.approx(runoff * area * depth / 12 * CUBE, rel=1e-9)


def test_time_area_flow_has_the_peak_of_its_sliding_window() -> None:
    # the oracle's peak on rain that no table has a part in
    for rng in dice(40, 161):
        depths, block = rng.gamma(0.5, 0.2, int(rng.integers(2, 12))), float(rng.uniform(2, 10))
        tc = float(rng.uniform(block, 40))
        ground = dp.inflow.Catchment(area_ft2=1000, runoff=0.7, tc_min=tc)
        rain = dp.inflow.Hyetograph(depth_in=depths, block_min=block)
        got = dp.inflow.runoff_hydrograph(ground, rain).peak_gpm
        assert got == pytest.approx(nrcs.peak_gpm(depths, block, 1000, 0.7, tc), rel=1e-9)


@pytest.mark.parametrize(("block", "tc", "warned"), [(15, 5, True), (6, 6, False), (6, 20, False)])
def test_blocks_longer_than_the_concentration_are_warned_of(
    block: float, tc: float, warned: bool
) -> None:
    ground = dp.inflow.Catchment(area_ft2=2000, runoff=0.95, tc_min=tc)
    storm = dp.inflow.nrcs_storm("III", depth_in=5, block_min=block)
    said = told(lambda: dp.inflow.runoff_hydrograph(ground, storm))
    assert bool(said) == warned
    if warned:
        assert "15 min" in said
        assert "5 min" in said


# ------------------------------------------------------------------ tables as issued


ISSUED: dict[str, Any] = {
    "duration_min": [5, 10, 15, 30, 60],
    "depth_in": [0.82, 1.20, 1.47, 2.37, 3.13],
}


def test_a_table_is_taken_as_issued_and_its_kink_is_said() -> None:
    # 10 to 15 min adds 0.054 in/min, 15 to 30 min 0.060: the kink is at 15 min, seen at 30
    said = told(lambda: dp.inflow.RainTable(**ISSUED))
    assert re.search(r"\b(15|30) min", said)
    table = quietly(lambda: dp.inflow.RainTable(**ISSUED))
    got = [float(table.at(duration_min=t).depth_in) for t in ISSUED["duration_min"]]
    assert got == pytest.approx(ISSUED["depth_in"], rel=1e-12)


def test_the_nested_storm_says_where_it_smoothed_and_holds_every_depth() -> None:
    table = quietly(lambda: dp.inflow.RainTable(**ISSUED))
    storm = table.nested_storm(block_min=5)
    assert re.search(r"smoothed, .*\b(15|30) min", storm.note)
    ranked = np.cumsum(np.sort(storm.depth_in)[::-1])
    assert storm.total_in == pytest.approx(3.13)
    # nowhere less than issued, and on the least concave line through the points: at 15 min
    # 1.20 + 5/20 × 1.17 = 1.4925 in, 1.5 % above what is issued
    for minutes, depth in zip(ISSUED["duration_min"], ISSUED["depth_in"], strict=True):
        assert depth * (1 - 1e-9) <= ranked[minutes // 5 - 1] <= depth * 1.03


def test_a_table_without_a_kink_is_not_spoken_of() -> None:
    assert (
        told(lambda: dp.inflow.RainTable(duration_min=[5, 10, 30], depth_in=[0.6, 0.93, 1.7])) == ""
    )


def test_rounded_tables_at_random_are_taken() -> None:
    # concave by a formula of the usual kind, rounded to 0.01 in as they are issued
    minutes = np.array([5, 10, 15, 30, 60, 120, 180, 360, 720, 1440.0])
    for rng in dice(40, 117):
        a, b, n = rng.uniform(20, 90), rng.uniform(3, 12), rng.uniform(0.65, 0.95)
        depth = np.round(a / (minutes + b) ** n * minutes / 60, 2)
        if (np.diff(depth) <= 0).any():
            continue
        table = quietly(lambda d=depth: dp.inflow.RainTable(duration_min=minutes, depth_in=d))
        got = [float(table.at(duration_min=t).depth_in) for t in minutes]
        assert got == pytest.approx(depth.tolist(), rel=1e-12)


# ------------------------------------------------------------------ records


def _airport(hours: int = 8760) -> pd.Series:
    """An invented year of hourly rain, in mm, by UTC."""
    rng = np.random.default_rng(5)
    rain = np.where(rng.random(hours) < 0.08, rng.gamma(0.6, 2.0, hours), 0.0)
    return pd.Series(rain, index=pd.date_range("2021-01-01", periods=hours, freq="h", tz="UTC"))


def test_a_record_by_utc_goes_in() -> None:
    year = _airport()
    assert dp.inflow.recorded_rain(depth_mm=year).total_mm == pytest.approx(year.sum())


def test_a_repeated_hour_at_the_end_of_summer_time_goes_in() -> None:
    year = _airport()
    local = year.tz_convert("America/Chicago")
    got = dp.inflow.recorded_rain(depth_mm=local)
    np.testing.assert_allclose(got.depth_mm, year.to_numpy())
    autumn = local["2021-10-01":"2021-12-01"].tz_localize(None)  # type: ignore[misc]
    assert autumn.index.duplicated().sum() == 1
    got = quietly(lambda: dp.inflow.recorded_rain(depth_mm=autumn))
    assert got.depth_mm.size == autumn.size
    assert got.total_mm == pytest.approx(autumn.sum())


def test_gaps_are_filled_only_when_asked_and_reported() -> None:
    year = _airport()
    holes = year.drop(year.index[[100, 101, 300]])
    with pytest.raises(InputError, match="gap"):
        dp.inflow.recorded_rain(depth_mm=holes)
    said = told(lambda: dp.inflow.recorded_rain(depth_mm=holes, gaps="zero"))
    assert "3" in said
    assert "2021-01-05" in said
    got = quietly(lambda: dp.inflow.recorded_rain(depth_mm=holes, gaps="zero"))
    assert got.depth_mm.size == 8760
    assert got.total_mm == pytest.approx(holes.sum())
    assert "3" in got.note


def test_missing_rain_is_a_gap_as_well() -> None:
    year = _airport(100)
    year.iloc[[7, 8]] = np.nan
    with pytest.raises(InputError):
        dp.inflow.recorded_rain(depth_mm=year)
    got = quietly(lambda: dp.inflow.recorded_rain(depth_mm=year, gaps="zero"))
    assert got.total_mm == pytest.approx(year.sum())


def test_hourly_blocks_on_a_roof_are_warned_of() -> None:
    roof = dp.inflow.Catchment(area_ft2=2000, runoff=0.95, tc_min=5)
    naive = _airport(200).tz_localize(None)
    rain = dp.inflow.recorded_rain(depth_mm=naive)
    assert "60 min" in told(lambda: dp.inflow.runoff_hydrograph(roof, rain))
