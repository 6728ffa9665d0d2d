"""Rain by duration, storms, and records: figures, properties, and every refusal."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import drainpump as dp
from drainpump.errors import InputError, UnitError
from drainpump.physics import rain as physics
from tests.storms import BLOCKS, MINUTES, RAIN, storm


def test_nested_hour_has_the_stated_blocks() -> None:
    np.testing.assert_allclose(storm().depth_in, BLOCKS, atol=5e-5)
    assert storm().total_in == pytest.approx(2.2)
    assert storm().time_min.tolist() == list(range(0, 60, 5))
    assert storm().note == "nested, peak in block 6 of 12, the next to its right, then left"


def test_nested_storm_holds_the_table_of_every_duration() -> None:
    depth = storm().depth_in
    for count in range(1, 13):
        most = max(depth[i : i + count].sum() for i in range(13 - count))
        assert most == pytest.approx(RAIN.at(duration_min=5 * count).depth_in)


def test_peak_sits_in_the_middle_by_default_and_at_the_ends_when_asked() -> None:
    assert RAIN.nested_storm(block_min=5).depth_in.argmax() == 5
    first, last = (RAIN.nested_storm(block_min=5, peak_block=k).depth_in for k in (1, 12))
    assert np.all(np.diff(first) < 0)
    np.testing.assert_allclose(first, last[::-1])


def test_interpolation_is_straight_on_log_log_paper_and_ends_with_the_table() -> None:
    seven = RAIN.at(duration_min=[4.9, 5, 7, 60, 61])
    assert seven.status.tolist() == ["outside", "ok", "ok", "ok", "outside"]
    share = np.log(7 / 5) / np.log(2)
    assert seven.depth_in[2] == pytest.approx(0.6 * (0.93333333 / 0.6) ** share)
    assert seven.depth_in[[1, 3]].tolist() == pytest.approx([0.6, 2.2])


def test_fit_comes_back_to_the_formula_it_was_made_from() -> None:
    made = dp.inflow.RainFit(a_in_per_h=56.6, b_min=8.6, n=0.823)
    table = dp.inflow.RainTable(
        duration_min=MINUTES, depth_in=made.at(duration_min=MINUTES).depth_in
    )
    found = table.fit()
    assert (found.a_in_per_h, found.b_min, found.n) == pytest.approx((56.6, 8.6, 0.823), rel=1e-4)
    # it ends where the table does
    assert found.at(duration_min=[60, 61]).status.tolist() == ["ok", "outside"]
    assert found.nested_storm(block_min=5).depth_in.size == 12
    assert made.nested_storm(block_min=5).total_in == pytest.approx(
        made.at(duration_min=60).depth_in
    )


def test_nrcs_day_keeps_its_depth_for_every_kind_and_block() -> None:
    for kind in physics.nrcs_kinds():
        day = dp.inflow.nrcs_storm(kind, depth_in=[2, 4], block_min=6)
        assert day.depth_in.shape == (2, 240)
        np.testing.assert_allclose(day.total_in, [2, 4])
        assert (day.depth_in >= 0).all()


def test_rain_by_return_period_is_read_from_a_tidy_csv(tmp_path: Path) -> None:
    file = tmp_path / "rain.csv"
    file.write_text("return_year,duration_min,depth_in\n2,5,0.4\n2,60,1.4\n10,5,0.6\n10,60,2.2\n")
    table = dp.inflow.read_rain(file)
    assert table.return_year.tolist() == [2.0, 10.0]
    assert table.at(duration_min=60).depth_in == pytest.approx([1.4, 2.2])
    assert "once in 2 to 10 years" in str(table)


@pytest.mark.parametrize(
    ("minutes", "depth", "message"),
    [
        (
            [5, 10, 15],
            [0.6, 0.9, 0.8],
            "depth_in[2]: at 15 min less has fallen than before it; a longer duration brings more "
            "rain, check that row and the one before.",
        ),
        (
            [5, 15, 10],
            [0.6, 0.9, 1.0],
            "duration_min[2]: 10 min does not come after 15 min; sort the table by duration, each "
            "once.",
        ),
        ([5, 10], [0.6, np.nan], "RainTable: a row is missing (NaN); leave the row out."),
    ],
)
def test_bad_table_is_refused(minutes: list[float], depth: list[float], message: str) -> None:
    with pytest.raises(InputError) as err:
        dp.inflow.RainTable(duration_min=minutes, depth_in=depth)
    assert str(err.value) == message


def test_an_official_table_is_taken_as_issued_kinks_and_all() -> None:
    # depths as one official table has them; each 5 min more of the third quarter adds more
    with pytest.warns(dp.inflow.RainWarning) as said:
        table = dp.inflow.RainTable(
            duration_min=[5, 10, 15, 30, 60], depth_in=[0.82, 1.20, 1.47, 2.37, 3.13]
        )
    assert [str(w.message) for w in said] == [
        "depth_in[3]: at 30 min the table is not concave (each minute more adds 3.6 in/h, before "
        "it 3.24 in/h); taken as issued, and smoothed only in a nested storm."
    ]
    assert table.at(duration_min=15).depth_in == pytest.approx(1.47, rel=1e-12)
    storm = table.nested_storm(block_min=5)
    blocks = np.sort(storm.depth_in)[::-1].cumsum()
    wanted = table.at(duration_min=np.arange(5, 61, 5)).depth_in
    assert (blocks >= wanted - 1e-9).all()  # never less than the table
    assert blocks[[0, 1, 5, 11]] == pytest.approx([0.82, 1.20, 2.37, 3.13])
    assert "; kinks of the table smoothed, by 0.018 of the depth at most, at 15 min" in storm.note


def test_a_table_of_several_return_periods_gives_storms_side_by_side() -> None:
    table = dp.inflow.RainTable(
        duration_min=[5, 60], depth_in=[[0.4, 1.4], [0.6, 2.2]], return_year=[2, 10]
    )
    storms = table.nested_storm(block_min=5)
    assert storms.depth_in.shape == (2, 12)
    for i, depth in enumerate(([0.4, 1.4], [0.6, 2.2])):
        one = dp.inflow.RainTable(duration_min=[5, 60], depth_in=depth)
        np.testing.assert_allclose(storms.depth_in[i], one.nested_storm(block_min=5).depth_in)
    for changes, message in (
        ({"return_year": [10, 2]}, "return_year=[10.0, 2.0]: must rise; sort the rows."),
        (
            {},
            "RainTable: rain of shape (2, 2), return_year of shape (); give one row of rain for "
            "each return period, or one list and one return period.",
        ),
        (
            {"return_year": [2, 10], "depth_in": [[0.4, 2.4], [0.6, 2.2]]},
            "depth_in[1, 1]: a rarer storm has less rain than the row before it; check the two "
            "rows.",
        ),
    ):
        with pytest.raises(InputError) as err:
            dp.inflow.RainTable(
                **{"duration_min": [5, 60], "depth_in": [[0.4, 1.4], [0.6, 2.2]]} | changes
            )
        assert str(err.value) == message
    with pytest.raises(InputError) as err:
        table.fit()
    assert str(err.value) == "fit: the table holds several return periods; give it one."


def test_storm_outside_the_table_is_refused() -> None:
    with pytest.raises(InputError) as err:
        RAIN.nested_storm(block_min=2)
    assert str(err.value) == (
        "nested_storm: the depth of 2 min is outside the durations known, and a table is never "
        "extrapolated; choose other blocks."
    )
    with pytest.raises(InputError) as err:
        RAIN.nested_storm(block_min=5, peak_block=13)
    assert str(err.value) == "peak_block=13: must be a whole number, 1 to 12; count blocks from 1."


def test_hyetograph_refusals() -> None:
    with pytest.raises(InputError) as err:
        dp.inflow.Hyetograph(depth_in=[0.1, -0.1], block_min=5)
    assert str(err.value) == (
        "depth_in[1]=-0.1: must be from 0 in to 78.74 in; give the depth of rain."
    )
    with pytest.raises(InputError) as err:
        dp.inflow.Hyetograph(depth_in=[0.1, np.nan], block_min=5)
    assert str(err.value) == (
        "depth_in[1]: is missing (NaN); fill the gap, or give the stretches on its two sides as "
        "storms of their own."
    )
    with pytest.raises(InputError) as err:
        dp.inflow.Hyetograph(depth_in=[0.1, 0.2, 0.1], time_min=[0, 5, 15])
    assert str(err.value) == (
        "time_min: mixed steps, 5 min and from block 1 on 10 min; give rain in blocks of one "
        "length."
    )
    with pytest.raises(InputError) as err:
        dp.inflow.Hyetograph(depth_in=[0.1, 0.2, 0.1], time_min=[0, 10, 5])
    assert str(err.value) == (
        "time_min[2]: 5 min does not come after 10 min; sort by time, each time once."
    )
    with pytest.raises(UnitError):
        dp.inflow.Hyetograph(depth_in=[0.1])


def test_formula_and_day_refuse_what_is_no_number() -> None:
    with pytest.raises(InputError) as err:
        dp.inflow.RainFit(a_in_per_h=np.nan, b_min=8, n=0.8)
    assert str(err.value) == "a_in_per_h=nan: must be one number; a formula has one of each."
    with pytest.raises(InputError) as err:
        dp.inflow.RainFit(a_in_per_h=5, b_min=8, n=0)
    assert str(err.value) == "n=0.0: must be more than 0 and at most 10; usually 0.5 to 1.2."
    with pytest.raises(InputError) as err:
        dp.inflow.nrcs_storm("II", depth_in=2, block_min=np.nan)
    assert str(err.value) == "block_min=nan: must divide 24 hours; e.g. 5, 6 or 15 min."
    with pytest.raises(InputError) as err:
        dp.PondStorage(depth_in=[], volume_gal=[])
    assert str(err.value) == (
        "PondStorage: depths of shape (0,) and volumes of shape (0,); give two lists of one "
        "length, one row or more."
    )


def _series(times: list[str], values: list[float]) -> pd.Series:
    return pd.Series(values, index=pd.DatetimeIndex(times), dtype=float)


_STEADY = [f"2001-05-01 00:{5 * i:02d}" for i in range(12)]


def test_record_is_read_as_it_stands() -> None:
    record = dp.inflow.recorded_rain(depth_mm=_series(_STEADY, [0.2] * 12))
    assert record.block_min == pytest.approx(5)
    assert record.total_mm == pytest.approx(2.4)


@pytest.mark.parametrize(
    ("series", "message"),
    [
        (
            _series([*_STEADY, "2001-05-01 01:10"], [0.0] * 13),
            "depth_in: a gap of 10 min at 2001-05-01 01:00:00, steps being 5 min; correct the "
            "record, or say gaps='zero' to take what is missing for dry.",
        ),
        (
            _series(["2001-05-01 00:00", "2001-05-01 00:05", "2001-05-01 00:10",
                     "2001-05-01 00:25", "2001-05-01 00:40"], [0.0] * 5),
            "depth_in: mixed steps, 5 min and 15 min after 2001-05-01 00:10:00; bring the record "
            "to one step first (series.resample(...).sum()).",
        ),
        (
            _series([*_STEADY[:3], _STEADY[1]], [0.0] * 4),
            "depth_in: time 2001-05-01 00:05:00 comes before 2001-05-01 00:10:00; sort the record, "
            "each time once.",
        ),
        (
            _series([*_STEADY[:3], _STEADY[2]], [0.0] * 4),
            "depth_in: time 2001-05-01 00:10:00 repeats 2001-05-01 00:10:00; sort the record, each "
            "time once.",
        ),
        (
            _series(_STEADY[:3], [0.0, -0.1, 0.0]),
            "depth_in: the rain at 2001-05-01 00:05:00 is negative; correct the record.",
        ),
        (
            _series(_STEADY[:3], [0.0, np.nan, 0.0]),
            "depth_in: a gap of 5 min at 2001-05-01 00:05:00, steps being 5 min; correct the "
            "record, or say gaps='zero' to take what is missing for dry.",
        ),
        (
            pd.Series([0.0, 0.1]),
            "depth_in: must be a pandas Series indexed by time (a DatetimeIndex); set the index.",
        ),
    ],
)  # fmt: skip
def test_bad_record_is_refused_by_place(series: pd.Series, message: str) -> None:
    with pytest.raises(InputError) as err:
        dp.inflow.recorded_rain(depth_in=series)
    assert str(err.value) == message


@settings(max_examples=25, deadline=None)
@given(
    st.floats(0.2, 1.0), st.lists(st.floats(0.2, 0.95), min_size=3, max_size=6), st.integers(1, 12)
)
def test_nested_storm_keeps_the_depth_wherever_the_peak_sits(
    first: float, shares: list[float], peak: int
) -> None:
    minutes = np.array([5.0, *(5.0 + 55.0 * np.arange(1, len(shares) + 1) / len(shares))])
    slope = np.minimum.accumulate(first / 5 * np.cumprod(shares))
    depth = np.append(first, first + np.cumsum(slope * np.diff(minutes)))
    table = dp.inflow.RainTable(duration_min=minutes, depth_in=depth)
    made = table.nested_storm(block_min=5, peak_block=peak)
    assert made.total_in == pytest.approx(depth[-1])
    assert made.depth_in[peak - 1] == pytest.approx(first)


def test_storms_as_tables_and_in_words() -> None:
    two = dp.inflow.Hyetograph(depth_in=[[0.1, 0.3], [0.2, 0.4]], block_min=5)
    frame = two.to_frame()
    assert frame.to_dict("list") == {
        "axis_0": [0, 0, 1, 1],
        "time_min": [0, 5, 0, 5],
        "depth_in": pytest.approx([0.1, 0.3, 0.2, 0.4]),
        "intensity_in_per_h": pytest.approx([1.2, 3.6, 2.4, 4.8]),
    }
    one = dp.inflow.Hyetograph(depth_in=[0.1, 0.3], block_min=5).to_frame("metric")
    assert one.to_dict("list") == {
        "time_min": [0, 5],
        "depth_mm": pytest.approx([2.54, 7.62]),
        "intensity_mm_per_h": pytest.approx([30.48, 91.44]),
    }
    steps = dp.Hydrograph(flow_gpm=[1, 2], block_min=5)
    assert steps.to_frame().to_dict("list") == {
        "time_min": [0, 5, 5, 10],
        "flow_gpm": pytest.approx([1, 1, 2, 2]),
    }
    assert list(steps.to_frame("metric")) == ["time_min", "flow_lps"]
    assert steps.to_frame("metric")["flow_lps"].tolist() == pytest.approx(
        [0.0630902, 0.0630902, 0.1261804, 0.1261804], rel=1e-6
    )


@pytest.mark.parametrize(
    ("part", "said"),
    [
        (
            dp.inflow.Hyetograph(depth_in=[0.1, 0.3], block_min=5),
            "Hyetograph(2 blocks of 5 min, 0.4 in (10.2 mm))",
        ),
        (
            dp.inflow.Hyetograph(depth_in=[0.1, 0.3], time_min=[0, 5], note="a note"),
            "Hyetograph(2 blocks of 5 min, 0.4 in (10.2 mm); a note)",
        ),
        (
            dp.Hydrograph(flow_gpm=[1, 2], block_min=5),
            "Hydrograph(4 points to 10 min, peak 2 gpm (0.126 L/s), volume 15 gal (56.8 L))",
        ),
        (
            dp.Hydrograph(flow_gpm=[0, 2], time_min=[0, 5], note="a note"),
            "Hydrograph(2 points to 5 min, peak 2 gpm (0.126 L/s), volume 5 gal (18.9 L); a note)",
        ),
        (dp.inflow.RainFit(a_in_per_h=50, b_min=8, n=0.8), "RainFit(50 in/h / (t + 8 min)^0.8)"),
        (
            RAIN,
            "RainTable(5 durations 5 to 60 min, 0.6 in (15.2 mm) to 2.2 in (55.9 mm))",
        ),
        (
            dp.PondStorage(depth_in=[4, 8], volume_gal=[900, 2500]),
            "PondStorage(2 rows, to 8 in (203 mm), 2500 gal (9460 L))",
        ),
        (
            dp.inflow.Trench(length_ft=60, width_ft=1, depth_ft=2, voids=0.4),
            "Trench(length 60 ft (18.3 m), width 1 ft (0.305 m), depth 2 ft (0.61 m), voids "
            "0.4; 359 gal (1360 L))",
        ),
        (
            dp.inflow.Catchment(area_ft2=1200, runoff=0.95, tc_min=5, name="shed"),
            "Catchment('shed': area 1200 ft² (111 m²), runoff 0.95, tc 5 min)",
        ),
    ],
)
def test_parts_of_a_storm_say_what_they_are(part: object, said: str) -> None:
    assert str(part) == said


def test_a_day_and_a_record_keep_their_words() -> None:
    assert dp.inflow.nrcs_storm("III", depth_in=2).note == "NRCS type III, 24 h"
    times = pd.date_range("2001-05-01", periods=3, freq="5min")
    series = pd.Series([0.2, 1.4, 0.0], index=times)
    assert (
        dp.inflow.recorded_rain(depth_mm=series, note="gauge by the shed").note
        == "gauge by the shed"
    )
    assert dp.inflow.recorded_rain(depth_mm=series).note == ""
    # 300 s between stamps, to the nanosecond of the index
    assert dp.inflow.recorded_rain(depth_mm=series).block_min == 5.0
    second = pd.Series([0.2, 0.1], index=pd.date_range("2001-05-01", periods=2, freq="1s"))
    assert dp.inflow.recorded_rain(depth_mm=second).block_min == pytest.approx(1 / 60)


def test_the_usual_step_is_the_most_frequent_one() -> None:
    times = pd.to_datetime(
        ["2001-05-01 00:00", "2001-05-01 00:20", "2001-05-01 00:25", "2001-05-01 00:30",
         "2001-05-01 00:35"]
    )  # fmt: skip
    with pytest.raises(InputError) as err:
        dp.inflow.recorded_rain(depth_in=pd.Series(0.1, index=times))
    assert str(err.value) == (
        "depth_in: mixed steps, 5 min and 20 min after 2001-05-01 00:00:00; bring the rec"
        "ord to one step first (series.resample(...).sum())."
    )
    near = pd.DatetimeIndex(["2001-05-01 00:00:00", "2001-05-01 00:05:00", "2001-05-01 00:10:01"])
    with pytest.raises(InputError) as err:
        dp.inflow.recorded_rain(depth_in=pd.Series(0.1, index=near))
    assert str(err.value) == (
        "depth_in: mixed steps, 5 min and 5.01667 min after 2001-05-01 00:05:00; bring th"
        "e record to one step first (series.resample(...).sum())."
    )
