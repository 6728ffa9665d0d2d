"""Files of rain: read as they stand or refused by place, whatever was done to them."""

from __future__ import annotations

import warnings
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import drainpump as dp
from drainpump.errors import FileError, UnusualValueWarning
from tests.fuzz import blotted, examples

TIDY = """return_year,duration_min,depth_in
2,5,0.4
2,15,0.8
2,60,1.4
10,5,0.6
10,15,1.1
10,60,2.2
"""
# invented figures in the layout in which official tables are issued
ISSUED = """Point precipitation frequency estimates (inches)
Data type: Precipitation depth
Time series type: Partial duration
Location name: Sampletown, Anystate, USA*
Latitude: 43.0000 Degree


PRECIPITATION FREQUENCY ESTIMATES
by duration for ARI (years):, 1,2,5,10,25,50,100
5-min:, 0.378,0.438,0.541,0.630,0.758,0.861,0.968
10-min:, 0.553,0.642,0.792,0.922,1.11,1.26,1.42
15-min:, 0.675,0.782,0.965,1.12,1.35,1.54,1.73
60-min:, 1.21,1.40,1.73,2.03,2.47,2.83,3.22
2-hr:, 1.49,1.73,2.14,2.51,3.06,3.52,4.01
24-hr:, 2.48,2.83,3.44,3.99,4.81,5.50,6.23
2-day:, 2.86,3.24,3.90,4.49,5.36,6.08,6.84

PRECIPITATION FREQUENCY ESTIMATES - UPPER BOUND OF THE 90% CONFIDENCE INTERVAL
by duration for ARI (years):, 1,2,5,10,25,50,100
5-min:, 0.47,0.55,0.68,0.79,0.98,1.13,1.30
10-min:, 0.69,0.80,0.99,1.16,1.44,1.66,1.91

Date/time (GMT):  Mon Jan  1 00:00:00 2001
"""


def put(folder: Path, text: str | bytes) -> Path:
    file = folder / "rain.csv"
    file.write_bytes(text if isinstance(text, bytes) else text.encode())
    return file


def refused(folder: Path, text: str | bytes) -> list[str]:
    with pytest.raises(dp.InputError) as err:
        dp.inflow.read_rain(put(folder, text))
    head, *lines = str(err.value).splitlines()
    count = len(err.value.problems)  # type: ignore[attr-defined]
    assert head == f"{count} problem{'s' if count > 1 else ''} in the rain data:"
    return [line.removeprefix("  rain.csv") for line in lines]


def test_an_official_table_is_read_as_issued(tmp_path: Path) -> None:
    table = dp.inflow.read_rain(put(tmp_path, ISSUED))
    assert table.return_year.tolist() == [1, 2, 5, 10, 25, 50, 100]
    assert table.duration_min.tolist() == [5, 10, 15, 60, 120, 1440, 2880]
    assert table.depth_in[3].tolist() == [0.630, 0.922, 1.12, 2.03, 2.51, 3.99, 4.49]
    # a storm is a day long at most, however long the table
    assert table.nested_storm(block_min=5).end_min == 1440


def test_a_table_says_where_it_comes_from(tmp_path: Path) -> None:
    path = put(tmp_path, ISSUED)
    assert dp.inflow.read_rain(path).note == "rain.csv"
    table = dp.inflow.read_rain(path, note="invented atlas, volume 1")
    assert table.to_dict()["note"] == "invented atlas, volume 1"
    assert str(table).endswith("once in 1 to 100 years; invented atlas, volume 1)")
    storm = table.nested_storm(block_min=5)
    assert storm.note.startswith("invented atlas, volume 1; nested, peak in block 144 of 288")
    fit = dp.inflow.RainFit(a_in_per_h=56.6, b_min=8.6, n=0.823, note="invented formula")
    assert str(fit).endswith("min)^0.823; invented formula)")


def test_chances_millimetres_and_rates_are_told_apart(tmp_path: Path) -> None:
    text = ISSUED.replace("(inches)", "(millimeters/hour)").replace(" depth", " intensity")
    text = text.replace(":, 1,2,5,10,25,50,100", ":, 1/2,1/5,1/10,1/25,1/50,1/100,1/500")
    rows = {"5-min:": 60, "10-min:": 50, "15-min:": 40, "60-min:": 25, "2-hr:": 15, "24-hr:": 2,
            "2-day:": 1}  # fmt: skip
    lines = [
        f"{name}, " + ",".join(f"{rows[name] * (1 + 0.1 * k):.1f}" for k in range(7))
        if (name := line.split(",")[0]) in rows
        else line
        for line in text.splitlines()
    ]
    table = dp.inflow.read_rain(put(tmp_path, "\r\n".join(lines)))
    assert table.return_year.tolist() == [2, 5, 10, 25, 50, 100, 500]
    assert table.at(duration_min=60).intensity_mm_per_h == pytest.approx(
        [25.0, 27.5, 30, 32.5, 35, 37.5, 40]
    )


def test_every_problem_of_a_tidy_file_is_said_by_place(tmp_path: Path) -> None:
    text = TIDY.replace("2,15,0.8", "2,15,0.9#5").replace("10,15,1.1", "10,15,1.1,7")
    assert refused(tmp_path, text + "10,5,0.7\n-3,5,0.1\n") == [
        ", row 3, column 'depth_in': '0.9#5': must be a number such as 12.5; write decimals with "
        "a point and no unit",
        ", row 6: '10,15,1.1,7': must have 3 cells, one for each column name, not 4; decimals "
        "have a point",
        ", row 8, column 'depth_in': '0.7': 5 min once in 10 years stand in row 5 already; keep "
        "one of the two",
        ", row 9, column 'return_year': '-3': must be finite and more than 0 years; give "
        "a positive number",
    ]
    text = TIDY.replace("10,15,1.1", "10,15,0.5").replace("2,60,1.4", "2,60,2.4")
    assert refused(tmp_path, text) == [
        ", row 6, column 'depth_in': '0.5': at 15 min less has fallen than before it; a longer "
        "duration brings more rain, check that row and the one before",
        ", row 6, column 'depth_in': '0.5': a rarer storm has less rain than the row before it; "
        "check the two rows",
        ", row 7, column 'depth_in': '2.2': a rarer storm has less rain than the row before it; "
        "check the two rows",
    ]
    assert refused(tmp_path, TIDY.replace("10,15,1.1\n", "")) == [
        ": no rain of 15 min once in 10 years; give each pair, or leave out the return period or "
        "the duration"
    ]
    assert refused(tmp_path, "duration_min,depth_cm\n5,0.4\n") == [
        ", row 1, column 'return_year': column missing; a tidy table has return_year, "
        "duration_min and one of depth_in, depth_mm, intensity_in_per_h, intensity_mm_per_h",
        ", row 1: 'duration_min,depth_cm': must have one of depth_in, depth_mm, "
        "intensity_in_per_h, intensity_mm_per_h; cm: multiply by 10 and call it 'depth_mm'",
    ]
    assert refused(tmp_path, "return_year,duration_min,depth_in\n2,5,1\n") == [
        ": must have two durations or more; add a row"
    ]
    assert refused(tmp_path, "") == [": the file is empty; give a row of column names, then rows"]
    many = "".join(f"2,{i},{i}\n" for i in range(1, 102))
    assert refused(tmp_path, "return_year,duration_min,depth_mm\n" + many) == [
        ": at most 100 return periods and 100 durations; leave some out"
    ]


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("15-min:,", "15-mn:,", ", row 12: '15-mn:': must be a duration such as 5-min:, 2-hr: or "
         "2-day:"),
        ("5-min:, 0.378", "5-mn:, 0.378", ", row 10: '5-mn:': must be the header row, 'by duration "
         "for ARI (years):' and the return periods"),
        ("0.630,0.758", "0.630;0.758", ", row 10: '5-min:, 0.378,0.438,0.541,0.630;0.758,0.861,"
         "0.968': must have 7 numbers, one for each return period, not 6"),
        ("0.630", "0.6o3", ", row 10, column '10 years': '0.6o3': must be a number such as 12.5; "
         "write decimals with a point and no unit"),
        (", 1,2,5,10", ", 1,2,5,1o", ", row 9: '1o': must be a return period such as 25, or 1/25 "
         "for a yearly chance, each rarer than the one before"),
        ("(inches)", "(inchs)", ", row 9: the lines above must say the unit once, such as "
         "(inches), (millimeters/hour)"),
        ("(inches)", "(inches/hour)", ", row 9: the lines above say 'precipitation depth', which "
         "its unit is not; check the two"),
        ("2-hr:", "2-min:", ", row 14: '2-min:': must come after 60 min; sort the rows"),
    ],
)  # fmt: skip
def test_a_slip_in_a_table_as_issued_is_said_by_place(
    tmp_path: Path, old: str, new: str, said: str
) -> None:
    assert refused(tmp_path, ISSUED.replace(old, new, 1)) == [said]


SOUND = [TIDY.encode(), ISSUED.encode()]


@given(
    st.sampled_from(SOUND),
    st.lists(
        st.tuples(
            st.integers(0, 1200),
            st.integers(0, 6),
            st.binary(max_size=4) | st.sampled_from([b",", b"\n", b"-", b'"', b"e9", b"0", b"#"]),
        ),
        max_size=6,
    ),
)
@settings(
    max_examples=examples(250),
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
def test_mutated_rain_files_are_read_or_refused_by_place(
    tmp_path: Path, raw: bytes, cuts: list[tuple[int, int, bytes]]
) -> None:
    raw = blotted(raw, cuts)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UnusualValueWarning)
        warnings.simplefilter("ignore", dp.inflow.RainWarning)
        try:
            table = dp.inflow.read_rain(put(tmp_path, raw))
        except FileError as error:
            places = [problem.file for problem in error.problems]
        else:
            places = ["rain.csv"]
            assert np.isfinite(table.depth_in).all()
            assert (np.diff(table.depth_in, axis=-1) >= 0).all()
            assert (np.diff(table.depth_in, axis=0) >= 0).all()
    assert set(places) == {"rain.csv"}
