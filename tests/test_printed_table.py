"""Tables as they are printed: either order, heads across the top, printed units, frames."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

import drainpump as dp

FLOW, HEAD = [55, 47, 37, 24, 9], [0, 5, 10, 15, 20]


def read(tmp_path, text: str) -> list[dp.PumpCurve]:
    (tmp_path / "x.csv").write_text(text, encoding="utf-8")
    return dp.read_curves(tmp_path)


@pytest.mark.parametrize(
    "text",
    [
        "pump,flow_gpm,head_ft\nx,55,0\nx,47,5\nx,37,10\nx,24,15\nx,9,20\n",
        "pump,head_ft,flow_gpm\nx,20,9\nx,15,24\nx,10,37\nx,5,47\nx,0,55\n",
        "flow_gph,head_ft\n3300,0\n2820,5\n2220,10\n1440,15\n540,20\n",
        "flow_gpm_at_head_ft,0,5,10,15,20\nx,55,47,37,24,9\n",
        "flow_gpm_at_head_ft,20,15,10,5,0\nx,9,24,37,47,55\n",
        "Flow_GPH,0 ft,5 ft,10 ft,15 ft,20 ft\nx,3300,2820,2220,1440,540\n",
        "head_ft,0,5,10,15,20\nflow_gph,3300,2820,2220,1440,540\n",
        "flow_gpm_at_head_ft,0,5,10,15,20,25\nx,55,47,37,24,9,-\n",
        "flow_gph,0',5',10',15',20'\nx,3300,2820,2220,1440,540\n",
        "flow_gph,0 ft.,5 ft.,10 feet,15 Feet,20 FT\nx,3300,2820,2220,1440,540\n",
    ],
)
def test_one_table_printed_in_many_ways(tmp_path, text) -> None:
    (pump,) = read(tmp_path, text)
    assert pump.name == "x"
    np.testing.assert_allclose(pump.flow_gpm, FLOW[::-1], rtol=1e-12)
    np.testing.assert_allclose(pump.head_ft, HEAD[::-1], rtol=1e-12)
    assert pump.origin == "a table"


def test_several_pumps_in_a_sheet_no_zero_head_and_metric_heads(tmp_path) -> None:
    text = "flow_m3ph_at_head_kpa,20,40,60\nOne,10,7,3\nTwo,12,9,n/a\n"
    one, two = read(tmp_path, text)
    np.testing.assert_allclose(one.flow_lps, np.array([3, 7, 10]) / 3.6)
    np.testing.assert_allclose(one.head_m, np.array([60, 40, 20]) / 9.80665)
    assert (two.name, two.two_figures, one.two_figures) == ("Two", True, False)


def test_a_keyword_takes_a_table_as_printed() -> None:
    up = dp.PumpCurve(flow_gpm=FLOW[::-1], head_ft=HEAD[::-1], power_w=[1, 2, 3, 4, 5])
    down = dp.PumpCurve(flow_gph=[60 * q for q in FLOW], head_ft=HEAD, power_w=[5, 4, 3, 2, 1])
    np.testing.assert_allclose(down.flow_gpm, up.flow_gpm)
    np.testing.assert_allclose(down.head_ft, up.head_ft)
    np.testing.assert_allclose(down.power_w, up.power_w)
    assert down.replace(flow_gpm=FLOW).given["flow_gpm"] == FLOW
    assert "flow_gph" not in down.replace(flow_gpm=FLOW).given
    slower = dp.PumpCurve.from_dict(down.at_speed(0.9).to_dict())
    np.testing.assert_allclose(slower.flow_gpm, 0.9 * up.flow_gpm)


def test_a_frame_goes_in_where_a_file_does() -> None:
    frame = pd.DataFrame({"pump": ["x"] * 5, "flow_gpm": FLOW, "head_ft": HEAD})
    wide = pd.DataFrame([["x", *FLOW, None]], columns=["flow_gpm_at_head_ft", *HEAD, 25])
    for given in (frame, wide, frame.drop(columns="pump")):
        (pump,) = dp.read_curves(given)
        assert pump.flow_gpm.tolist() == FLOW[::-1]
        assert pump.name in ("x", "A")


def test_a_frame_may_hold_the_pumps_or_the_heads_in_its_index() -> None:
    frame = pd.DataFrame({"pump": ["x"] * 5 + ["y"] * 5, "flow_gpm": FLOW * 2, "head_ft": HEAD * 2})
    wide = frame.pivot_table(index="pump", columns="head_ft", values="flow_gpm")
    wide.columns = [f"flow_gpm_at_{head}_ft" for head in wide.columns]
    twice = frame.set_index("pump", drop=False)
    for given in (frame.set_index("pump"), twice, frame.set_index(["pump", "head_ft"]), wide):
        pumps = dp.read_curves(given)
        assert [pump.name for pump in pumps] == ["x", "y"]
        assert pumps[1].flow_gpm.tolist() == FLOW[::-1]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("flow_m3ph;1,5 m;3,5 m\nx;12;8\n",
         "x.csv, row 1: columns are parted by ';'; use commas, and a point in decimals"),
        ('flow_m3ph,"1,5 m"\nx,12\n',
         "x.csv, row 1, column '1,5 m': must be a head such as 5 ft or 1.5 m; decimals have a "
         "point"),
        ('flow_gph,0 ft,5 ft\nx,"3,300",2820\n',
         "x.csv, row 2, column 'flow_gph_at_0_ft': '3,300': must be a number such as 3300 or 3.3; "
         "write thousands without a comma"),
        ("head_m;0;2,5\nflow_lps;3;2,1\n",
         "x.csv, row 1: columns are parted by ';'; use commas, and a point in decimals"),
        ('flow_lps_at_head_m,0,"2,5"\nx,3,2\n',
         "x.csv, row 1, column '2,5': must be a head such as 5 ft or 1.5 m; decimals have a point"),
        ('flow_lps_at_head_m,0,2.5\nx,3,"2,1"\n',
         "x.csv, row 2, column 'flow_lps_at_2.5_m': '2,1': must be a number such as 12.5; write "
         "decimals with a point and no unit"),
        ("head_ft,0,5\nx,3,2\n",
         "x.csv, row 1, column 'head_ft': heads across the top: give one row, flow_gpm (or another "
         "unit of flow) in front, or flow_gpm_at_head_ft in the corner and a pump's name in each "
         "row"),
        ("flow_gpm,0,5 ft\nx,3,2\n",
         "x.csv, row 1, column '0': must be a head such as 5 ft or 1.5 m; decimals have a point"),
    ],
)  # fmt: skip
def test_what_is_no_such_table_is_refused_with_its_mend(tmp_path, text, said) -> None:
    with pytest.raises(dp.CatalogError) as err:
        read(tmp_path, text)
    assert str(err.value).splitlines()[1:] == [f"  {said}"]


def test_a_frame_that_is_no_table_is_refused_by_its_place() -> None:
    frame = pd.DataFrame({"pump": ["x", "x"], "flow_gpm": [0, "much"], "head_ft": [9, 1]})
    with pytest.raises(dp.CatalogError) as err:
        dp.read_curves(frame)
    assert str(err.value).splitlines()[1] == (
        "  the frame, row 3, column 'flow_gpm': 'much': must be a number such as 12.5; write "
        "decimals with a point and no unit"
    )
