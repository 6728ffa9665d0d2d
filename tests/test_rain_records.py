"""A gauge's record from a file, and its events by date."""

from __future__ import annotations

import json
import warnings
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import drainpump as dp
from drainpump.errors import FileError, UnusualValueWarning
from tests.fuzz import blotted, examples
from tests.storms import LINE, POWERED, pit

HOURS = """time,depth_in
2001-05-01T22:00-05:00,0.2
2001-05-01T23:00-05:00,0.4
2001-05-02T00:00-05:00,
"""


def put(folder: Path, text: str | bytes) -> Path:
    file = folder / "gauge.csv"
    file.write_bytes(text if isinstance(text, bytes) else text.encode())
    return file


def refused(folder: Path, text: str, **how: str) -> list[str]:
    with pytest.raises(dp.InputError) as err:
        dp.inflow.read_recorded_rain(put(folder, text), **how)  # type: ignore[arg-type]
    return [line.removeprefix("  gauge.csv") for line in str(err.value).splitlines()[1:]]


def test_offsets_and_zones_say_when_it_rained(tmp_path: Path) -> None:
    with pytest.warns(dp.inflow.RainWarning, match="1 steps missing"):
        record = dp.inflow.read_recorded_rain(put(tmp_path, HOURS), gaps="zero")
    assert record.begin == "2001-05-01T22:00:00-05:00"
    assert (record.block_min, record.depth_in.tolist()) == (60, [0.2, 0.4, 0.0])
    assert dp.inflow.Hyetograph.from_dict(json.loads(json.dumps(record.to_dict()))) == record
    with pytest.warns(dp.inflow.RainWarning):
        there = dp.inflow.read_recorded_rain(tmp_path / "gauge.csv", zone="UTC", gaps="zero")
    assert there.begin == "2001-05-02T03:00:00+00:00[UTC]"


def test_clocks_that_go_back_and_forward(tmp_path: Path) -> None:
    autumn = ["00:00", "00:30", "01:00", "01:30", "01:00", "01:30", "02:00"]
    text = "time,depth_mm\n" + "".join(f"2001-10-28 {t},{i}\n" for i, t in enumerate(autumn))
    record = dp.inflow.read_recorded_rain(put(tmp_path, text), zone="America/Chicago")
    assert record.depth_mm.tolist() == [0, 1, 2, 3, 4, 5, 6]
    assert record.end_min == 7 * 30
    events = dp.inflow.rain_events(record, dry_h=1, least_mm=1)
    # the second half past twelve begins it, still in summer time; it ends in winter time
    assert [str(x) for x in events.begin] == ["2001-10-28 00:30:00-05:00"]
    spring = "time,depth_mm\n2001-04-01 01:30,1\n2001-04-01 02:30,1\n2001-04-01 03:30,1\n"
    assert refused(tmp_path, spring, zone="America/Chicago") == [
        ", row 3, column 'time': '2001-04-01 02:30': is no time in America/Chicago: clocks skip it"
    ]


def test_a_bad_record_is_refused_by_place(tmp_path: Path) -> None:
    text = HOURS + "2001-05-02T01:00,0.1\nyesterday,0.1#\n0001-05-02T01:00-05:00,-1\n"
    assert refused(tmp_path, text) == [
        ", row 5, column 'time': '2001-05-02T01:00': must have an offset in every row, or in none",
        ", row 6, column 'time': 'yesterday': must be a time such as 2001-05-01 14:05 or "
        "2001-05-01T14:05-05:00",
        ", row 6, column 'depth_in': '0.1#': must be a number such as 12.5; write decimals with a "
        "point and no unit",
        ", row 7, column 'time': '0001-05-02T01:00-05:00': must be in the years 1800 to 2200",
        ", row 7, column 'depth_in': '-1': must be from 0 in to 78.74 in; give the depth of rain",
    ]
    assert refused(tmp_path, "time,rain\n2001-05-01,1\n") == [
        ", row 1: 'time,rain': must have time, and depth_in or depth_mm"
    ]
    assert refused(tmp_path, HOURS) == [
        ": depth_in: a gap of 60 min at 2001-05-02 00:00:00-05:00, steps being 60 min; correct "
        "the record, or say gaps='zero' to take what is missing for dry"
    ]
    long = "time,depth_mm\n1900-01-01T00:00:00,0\n1900-01-01T00:00:01,0\n2100-01-01T00:00:00,1\n"
    assert refused(tmp_path, long)[0].startswith(": depth_mm: mixed steps")
    with pytest.raises(dp.InputError) as err:
        dp.inflow.read_recorded_rain(put(tmp_path, HOURS), zone="Nowhere/At_All")
    assert str(err.value) == (
        "zone='Nowhere/At_All': must be the name of a time zone; e.g. 'America/Chicago' or 'UTC'."
    )
    with pytest.raises(dp.InputError) as err:
        dp.inflow.Hyetograph(depth_in=[1], block_min=5, begin="noon")
    assert str(err.value) == (
        "begin='noon': must be a moment as ISO 8601 writes it, its zone's name in brackets; e.g. "
        "'2001-05-01T14:00-05:00[America/Chicago]'."
    )


@given(
    st.lists(st.tuples(st.integers(0, 200), st.integers(0, 6), st.binary(max_size=4)), max_size=5),
    st.sampled_from([None, "America/Chicago"]),
)
@settings(
    max_examples=examples(100),
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
def test_mutated_records_are_read_or_refused_by_place(
    tmp_path: Path, cuts: list[tuple[int, int, bytes]], zone: str | None
) -> None:
    raw = blotted(HOURS.encode(), cuts)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UnusualValueWarning)
        warnings.simplefilter("ignore", dp.inflow.RainWarning)
        try:
            record = dp.inflow.read_recorded_rain(put(tmp_path, raw), zone=zone, gaps="zero")
        except FileError as error:
            assert {problem.file for problem in error.problems} == {"gauge.csv"}  # noqa: PT017
        else:
            assert np.isfinite(record.depth_in).all()


def test_events_by_date_with_what_the_pit_did() -> None:
    rng = np.random.default_rng(7)
    rain = np.zeros(2000)
    for start in (30, 400, 1500):
        rain[start : start + 24] = rng.uniform(0.01, 0.12, 24)
    rain[900] = 0.05  # too little to count
    times = pd.date_range("2001-05-01", periods=rain.size, freq="5min", tz="America/Chicago")
    record = dp.inflow.recorded_rain(depth_in=pd.Series(rain, index=times))
    events = dp.inflow.rain_events(record)
    assert list(events.begin) == [times[30], times[400], times[1500]]
    assert events.depth_in == pytest.approx([rain[i : i + 24].sum() for i in (30, 400, 1500)])
    assert events.intensity_in_per_h[0] == pytest.approx(12 * rain[30:54].max())
    assert events.duration_min.tolist() == [120, 120, 120]
    yard = dp.inflow.Catchment(area_ft2=4000, runoff=0.9, tc_min=10)
    water = dp.inflow.Water(catchments=[yard])
    routing = dp.route(POWERED, LINE, pit(), water.hydrograph(events.storms), pond_area_ft2=800)
    frame = events.beside(routing)
    assert {"begin", "depth_in", "intensity_in_per_h", "peak_pond_in", "pond_min", "starts"} <= set(
        frame.columns
    )
    for i, start in enumerate((30, 400, 1500)):
        alone = dp.inflow.Hyetograph(depth_in=rain[start : start + 24], block_min=5)
        once = dp.route(POWERED, LINE, pit(), water.hydrograph(alone), pond_area_ft2=800)
        assert frame.starts[i] == once.starts
        assert frame.peak_pond_in[i] == pytest.approx(once.peak_pond_in, rel=1e-9, abs=1e-9)
    assert frame.peak_pond_in.max() > 0
    with pytest.raises(dp.InputError) as err:
        events.beside(once)
    assert str(err.value) == (
        "result: 1 elements for 3 events; give the answer for events.storms, one pump, line and "
        "pit."
    )
    with pytest.raises(dp.InputError) as err:
        dp.inflow.rain_events(record, least_in=9)
    assert str(err.value) == ("record: no event of 9 in of rain or more; give a smaller least_in.")
