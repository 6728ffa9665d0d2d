"""The catalog reader: three layouts, and every problem in its place."""

from __future__ import annotations

import tracemalloc
import warnings
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from drainpump.errors import CatalogError, InputError, UnusualValueWarning
from drainpump.parts.pump.catalog import read_curves
from drainpump.parts.pump.curve import PumpCurve
from tests.fuzz import blotted, examples

DEMO = Path(__file__).parent.parent / "curves_demo"
GOOD = "pump,flow_gpm,head_ft\nA,0,20\nA,20,15\nA,40,3\n"


def put(folder: Path, **files: str | bytes) -> Path:
    for name, text in files.items():
        raw = text if isinstance(text, bytes) else text.encode()
        (folder / f"{name}.csv").write_bytes(raw)
    return folder


def refused(path) -> str:
    with pytest.raises(CatalogError) as err:
        read_curves(path)
    head, *lines = str(err.value).splitlines()
    count = len(err.value.problems)
    assert head == f"{count} problem{'s' if count != 1 else ''} in the pump data:"
    assert len(lines) == count
    return "\n".join(line.removeprefix("  ") for line in lines)


def test_points(tmp_path):
    text = (
        "# Invented data\npump,flow_lps,head_m,power_w\n\nB, 0 ,9,300\nB,1.5,7,350\n"
        "A,0,5,\nA,1,4,\n,,,\n"
    )
    b, a = read_curves(put(tmp_path, x=text) / "x.csv")
    assert (b.name, a.name, b.invented) == ("B", "A", True)
    assert b.flow_lps.tolist() == [0, 1.5]
    assert b.head_m.tolist() == [9, 7]
    assert b.power_w.tolist() == [300, 350]
    assert a.power_w is None


def test_head_first(tmp_path):
    text = (
        "pump,flow_gpm_at_10_ft,flow_gpm_at_5_ft,flow_gpm_at_15.5_ft,shutoff_ft\n"
        "A,30,40,20,22\nB,15,25,,\n"
    )
    a, b = read_curves(put(tmp_path, x=text))
    assert a.flow_gpm.tolist() == [0, 20, 30, 40]
    assert a.head_ft.tolist() == [22, 15.5, 10, 5]
    assert b.flow_gpm.tolist() == [15, 25]
    assert b.head_ft.tolist() == [10, 5]
    assert (b.shutoff_ft, a.invented) == (None, False)


def test_head_first_metric_and_a_drooping_shutoff(tmp_path):
    (a,) = read_curves(
        put(tmp_path, x="pump,flow_lps_at_2_m,flow_lps_at_4_m,shutoff_m\nA,3,1,3.5\n")
    )
    assert a.flow_lps.tolist() == [0, 1, 3]
    assert a.head_m.tolist() == [3.5, 4, 2]
    assert a.droops


def test_facts_join_by_name_from_any_file(tmp_path):
    facts = (
        "pump,outlet_in,solids_mm,voltage_v,current_a,price,on_in,off_in,best_flow_lps,note\n"
        'A,1.5,10,115,,120,12,5,1.2,"quiet, heavy"\n'
    )
    (a,) = read_curves(put(tmp_path, a_facts=facts, b=GOOD))
    assert (a.outlet_in, a.solids_mm, a.voltage_v, a.current_a) == (1.5, 10, 115, None)
    assert (a.price, a.on_in, a.off_in, a.best_flow_lps) == (120, 12, 5, 1.2)
    assert a.note == "quiet, heavy"


def test_files_in_order_of_names_and_byte_order_mark(tmp_path):
    second = GOOD.replace("A,", "B,").replace("\n", "\r\n")
    put(tmp_path, b=b"\xef\xbb\xbf" + second.encode(), c=GOOD)
    (tmp_path / "a.txt").write_text("not read")
    (tmp_path / ".hidden.csv").write_text("not read")
    assert [p.name for p in read_curves(str(tmp_path))] == ["B", "A"]


ALL_WRONG = """\
# a comment counts as a row
pump,flow_gpm,head_ft
A,0,20
A,ten,15
A,20,
A,30,-2
B,0,nan
B,inf,9
B,5,"1,5"
,5,5
C,5,5
D,0,9
D,10,8
D,10,7
E,0,9
E,5
E,6,7,8
F,0,0
F,5,0
A,50,1
A,60,0
G,1e999,5
G,1,"5
"""


def test_every_bad_row_is_reported_at_once(tmp_path):
    assert refused(put(tmp_path, bad=ALL_WRONG)) == (
        "bad.csv, row 4, column 'flow_gpm': 'ten': must be a number such as 12.5; write "
        "decimals with a point and no unit\n"
        "bad.csv, row 5, column 'head_ft': '': must be a number; the cell is empty\n"
        "bad.csv, row 6, column 'head_ft': '-2': must be from 0 ft to 3281 ft; give the head "
        "in height of water\n"
        "bad.csv, row 7, column 'head_ft': 'nan': must be a number such as 12.5; write "
        "decimals with a point and no unit\n"
        "bad.csv, row 8, column 'flow_gpm': 'inf': must be a number such as 12.5; write "
        "decimals with a point and no unit\n"
        "bad.csv, row 9, column 'head_ft': '1,5': must be a number such as 12.5; write "
        "decimals with a point and no unit\n"
        "bad.csv, row 10, column 'pump': '': every row must name its pump\n"
        "bad.csv, row 11, column 'flow_gpm': pump 'C': a curve must have at least two "
        "points; give more points, or the shutoff head beside the one\n"
        "bad.csv, row 14, column 'flow_gpm': '10': must be more than the flow before it "
        "(10); give each flow once, in rising order\n"
        "bad.csv, row 15, column 'flow_gpm': pump 'E': a curve must have at least two "
        "points; give more points, or the shutoff head beside the one\n"
        "bad.csv, row 16: 'E,5': must have 3 cells, one for each column name, not 2\n"
        "bad.csv, row 17: 'E,6,7,8': must have 3 cells, one for each column name, not 4; "
        "decimals have a point\n"
        "bad.csv, row 18, column 'head_ft': pump 'F': must be more than 0 at some flow; give "
        "the head the pump makes at each flow\n"
        "bad.csv, row 20, column 'pump': 'A': named already in bad.csv, row 3; give each "
        "pump once, its rows together\n"
        "bad.csv, row 22, column 'flow_gpm': '1e999': must be from 0 gpm to 158503 gpm; give "
        "the flow\n"
        "bad.csv, row 22, column 'flow_gpm': pump 'G': a curve must have at least two "
        "points; give more points, or the shutoff head beside the one\n"
        "bad.csv, row 23: 'G,1,\"5': quotation marks must open and close around a whole "
        "cell, within one line"
    )


def test_head_first_problems(tmp_path):
    text = (
        "pump,flow_gpm_at_5_ft,flow_gpm_at_10_ft,shutoff_ft\n"
        "A,20,30,25\nB,20,0,12\nC,20,,\nD,,,\nE,20,10,x\nA,20,10,15\nF,20,,12\n"
    )
    assert refused(put(tmp_path, t=text)) == (
        "t.csv, row 2, column 'flow_gpm_at_5_ft': '20': must be more than the flow at the next "
        "higher head (30); leave empty what the pump does not reach\n"
        "t.csv, row 3, column 'flow_gpm_at_10_ft': '0': must be more than 0 beside a shutoff "
        "head; leave empty what the pump does not reach\n"
        "t.csv, row 4: a curve must have at least two points; give more points, or the shutoff "
        "head beside the one\n"
        "t.csv, row 5: a curve must have at least two points; give more points, or the shutoff "
        "head beside the one\n"
        "t.csv, row 6, column 'shutoff_ft': 'x': must be a number such as 12.5; write decimals "
        "with a point and no unit\n"
        "t.csv, row 7, column 'pump': 'A': named already in t.csv, row 2; give each pump once, "
        "its rows together"
    )


def test_facts_problems(tmp_path):
    text = "pump,on_in,off_in,voltage_v\nB,5,9,115\nA,5,9,0\nA,9,5,115\n"
    assert refused(put(tmp_path, a=GOOD, facts=text)) == (
        "facts.csv, row 2: off level 9 in (229 mm) and on 5 in (127 mm): off must be below on; "
        "the built-in float's levels are crossed, swap them.\n"
        "facts.csv, row 3, column 'voltage_v': '0': must be finite and more than 0 V; give a "
        "positive number\n"
        "facts.csv, row 3: off level 9 in (229 mm) and on 5 in (127 mm): off must be below on; "
        "the built-in float's levels are crossed, swap them.\n"
        "facts.csv, row 4, column 'pump': 'A': named already in facts.csv, row 3; give each pump "
        "once, its rows together\n"
        "facts.csv, row 2, column 'pump': 'B': no curve has this name; known: A"
    )


NAMES = (
    "column names not known; name them pump, flow_gpm, head_ft (or flow_lps, head_m), a row for "
    "each point; other layouts and units: help(drainpump.read_curves)"
)


@pytest.mark.parametrize(
    ("header", "says"),
    [
        (
            "name,q,h",
            f"x.csv, row 1: 'name,q,h': {NAMES}",
        ),
        (
            "Flow (gpm),FT",
            f"x.csv, row 1: 'flow (gpm),ft': {NAMES}\n"
            "x.csv, row 1, column 'flow (gpm)': gpm: call it 'flow_gpm'\n"
            "x.csv, row 1, column 'ft': ft: call it 'head_ft'",
        ),
        (
            "pump,Capacity [m³/h],H (bar)",
            f"x.csv, row 1: 'pump,capacity [m³/h],h (bar)': {NAMES}\n"
            "x.csv, row 1, column 'capacity [m³/h]': m³/h: call it 'flow_m3ph'\n"
            "x.csv, row 1, column 'h (bar)': bar: multiply by 10.1972 and call it 'head_m'",
        ),
        (
            "pump,flow_gpm,head",
            "x.csv, row 1, column 'head': column not known in this layout; has no unit; give "
            "'head_ft', 'head_m', 'head_kpa' or 'head_psi'",
        ),
        (
            "pump,flow_m3h,head_ft",
            "x.csv, row 1, column 'flow_m3h': column not known in this layout; m³/h: call it "
            "'flow_m3ph'",
        ),
        (
            "pump,flow_gpm,amps",
            "x.csv, row 1, column 'amps': column not known in this layout; remove it or rename "
            "it; known: pump, flow_gpm, flow_lps, head_ft, head_m, flow_lpm, flow_m3ph, flow_gph, "
            "head_kpa, head_psi, power_w\n"
            "x.csv, row 1, column 'head_ft': column missing; add head_ft or head_m",
        ),
        (
            "pump,flow_gpm,head_ft,price",
            "x.csv, row 1, column 'price': column not known in this layout; facts stand in a "
            "file of their own, a row for each pump",
        ),
        (
            "flow_gpm_at_5_ft,flow_gpm_at_9_ft",
            "x.csv, row 1, column 'pump': column missing; add a column pump, with the pump's "
            "name in every row",
        ),
        (
            "pump,flow_gpm,head_ft,head_m",
            "x.csv, row 1, column 'head_m': the same quantity stands in 'head_ft'; keep one unit",
        ),
        (
            "pump,flow_lpm,flow_lps,head_m",
            "x.csv, row 1, column 'flow_lps': the same quantity stands in 'flow_lpm'; keep one "
            "unit",
        ),
        (
            "pump;flow_lps;head_m",
            "x.csv, row 1: columns are parted by ';'; use commas, and a point in decimals",
        ),
        (
            "pump\tflow_lps\thead_m",
            "x.csv, row 1: columns are parted by tabs; use commas, and a point in decimals",
        ),
        (
            "pump,flow_gpm_at_5_ft,flow_lps_at_10_ft,flow_gpm_at_2_m,flow_gpm_at_5.0_ft",
            "x.csv, row 1, column 'flow_lps_at_10_ft': units differ from 'flow_gpm_at_5_ft'; "
            "keep one unit of flow and one of head\n"
            "x.csv, row 1, column 'flow_gpm_at_2_m': units differ from 'flow_gpm_at_5_ft'; "
            "keep one unit of flow and one of head\n"
            "x.csv, row 1, column 'flow_gpm_at_5.0_ft': this head stands twice; keep one",
        ),
        (
            "pump,flow_gpm,,head_ft,head_ft",
            "x.csv, row 1: column 3 has no name; name it or take it out\n"
            "x.csv, row 1, column 'head_ft': stands twice; keep one of them",
        ),
    ],
)
def test_wrong_headers(tmp_path, header, says):
    cells = ",".join("1" * len(header.split(",")))
    assert refused(put(tmp_path, x=f"{header}\n{cells}\n")) == says


def test_a_bad_header_does_not_disown_the_facts(tmp_path):
    put(tmp_path, a=GOOD.replace("flow_gpm", "flow_cfs"), facts="pump,price\nA,120\n")
    assert "no curve has this name" not in refused(tmp_path)


def test_duplicate_names_across_files(tmp_path):
    assert refused(put(tmp_path, a=GOOD, b=GOOD)) == (
        "b.csv, row 2, column 'pump': 'A': named already in a.csv, row 2; give each pump once, "
        "its rows together"
    )


@pytest.mark.parametrize(
    ("raw", "says"),
    [
        (b"", "x.csv: the file is empty; give a row of column names, then rows"),
        (b"# only\n\n", "x.csv: the file is empty; give a row of column names, then rows"),
        (
            b"pump,flow_gpm,head_ft\n",
            "x.csv, row 1: no rows below the column names; give at least one",
        ),
        (
            b"pump,flow_gpm,head_ft\nA\xff,1,2\n",
            "x.csv, row 2: 'byte ff': must be UTF-8 text; save it as CSV UTF-8",
        ),
        (
            b"pump,flow_gpm,head_ft\nA,\x00,2\n",
            "x.csv, row 2: holds a NUL, so it is not text; save it as CSV UTF-8",
        ),
        (
            b"pump,flow_gpm,head_ft\n" + b"A" * 20_000 + b",1,2\n",
            "x.csv, row 2: '" + "A" * 57 + "...': a row must be at most 10000 characters long",
        ),
        (
            GOOD.encode() + b"N" * 101 + b",0,9\n",
            "x.csv, row 5, column 'pump': '" + "N" * 57 + "...': must be a printable name of at "
            "most 100 characters",
        ),
        (b"A\n" * 200_000, "x.csv: must have at most 200000 rows; split the file"),
        (b"#" * 20_000_001, "x.csv: must be at most 20 MB; split the file"),
    ],
)
def test_files_that_are_no_table(tmp_path, raw, says):
    assert refused(put(tmp_path, x=raw)) == says


def test_places_that_hold_no_table(tmp_path):
    assert refused("no/such") == (
        "no/such: no such file or folder; give a folder of CSV files, or one CSV file"
    )
    assert refused(tmp_path) == (
        f"{tmp_path.name}: no CSV file in this folder; give the folder that holds the curves"
    )
    assert refused("a\0b").startswith("'a\\x00b': ")
    with pytest.raises(InputError) as err:
        read_curves(3)
    assert str(err.value) == "path=3: must be the path of a folder or a CSV file."


def test_a_thousand_problems_are_listed_and_the_rest_counted(tmp_path):
    rows = "".join(f"P{i},x\n" for i in range(1500))
    says = refused(put(tmp_path, x=f"pump,price\n{rows}") / "x.csv").splitlines()
    assert len(says) == 1001
    assert says[-1].endswith("and 2000 problems more; mend these first")


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (
            "pump,flow_lps,head_m\nA,0,6\nA,50,1\n",
            "x.csv, pump 'A': flow_lps[1]=50 is 793 gpm; did you mean flow_gpm=50, or 50 "
            "L/min, which is flow_lps=0.8333?",
        ),
        (
            "pump,flow_lpm,head_m\nA,0,6\nA,5700,1\n",
            "x.csv, pump 'A', flow_lpm turned into flow_lps: flow_lps[1]=95 is 1510 gpm, "
            "unusually large for yard drainage; is it right?",
        ),
        (
            "pump,flow_gpm,head_ft\nA,0,7\nA,30,24\nA,60,31\n",
            "x.csv, pump 'A': head rises from 7 to 31 ft over the whole curve; are flow and "
            "head swapped, or the rows in the wrong column?",
        ),
    ],
)
def test_the_unusual_warns_by_file_and_pump(tmp_path, text, says):
    with pytest.warns(UnusualValueWarning) as got:
        read_curves(put(tmp_path, x=text))
    assert [str(w.message) for w in got] == [says]
    assert got[0].filename == __file__


# the factors: by definition; NIST SP 811 (2008), appendix B.8, for the US gallon (3.785412 L), psi
# (6894.757 Pa) and the conventional metre and foot of water (9806.65 Pa, 2989.067 Pa), as printed
@pytest.mark.parametrize(
    ("column", "attribute", "factor"),
    [
        ("flow_lpm", "flow_lps", 1 / 60),
        ("flow_m3ph", "flow_lps", 1 / 3.6),
        ("flow_gph", "flow_gpm", 1 / 60),
        ("flow_gph", "flow_lps", 3.785412 / 3600),
        ("head_kpa", "head_m", 1000 / 9806.65),
        ("head_psi", "head_ft", 6894.757 / 2989.067),
    ],
)
def test_a_foreign_unit_is_turned_into_ours(tmp_path, column, attribute, factor):
    other = "head_m" if column.startswith("flow") else "flow_lps"
    text = f"pump,{column},{other}\nA,1.2,1\nA,9.4,2\n"
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UnusualValueWarning)
        (pump,) = read_curves(put(tmp_path, x=text))
    # seven digits are printed
    np.testing.assert_allclose(getattr(pump, attribute), [1.2 * factor, 9.4 * factor], rtol=3e-7)


def test_a_table_of_flows_at_heads_in_a_foreign_unit(tmp_path):
    text = "pump,flow_m3ph_at_2_m,flow_m3ph_at_4_m\nA,7.2,3.6\n"
    (a,) = read_curves(put(tmp_path, x=text))
    np.testing.assert_allclose(a.flow_lps, [1, 2], rtol=1e-15)


def test_a_foreign_unit_is_refused_as_typed(tmp_path):
    text = "pump,flow_lpm,head_m\nA,-5,6\nA,57,5\nA,55,4\n"
    assert refused(put(tmp_path, x=text)) == (
        "x.csv, row 2, column 'flow_lpm': '-5': must be from 0 L/min to 600000 L/min; give the "
        "flow\n"
        "x.csv, row 4, column 'flow_lpm': '55': must be more than the flow before it (57); give "
        "each flow once, in rising order"
    )


def test_rows_from_the_last_point_to_the_first_are_as_good(tmp_path):
    text = "pump,flow_gpm,head_ft\nA,60,7\nA,30,24\nA,0,31\n"
    (pump,) = read_curves(put(tmp_path, x=text))
    assert pump.flow_gpm.tolist() == [0, 30, 60]
    assert pump.head_ft.tolist() == [31, 24, 7]
    assert pump.origin == "a table"


def test_points_of_a_pump_that_no_column_names_are_the_files(tmp_path):
    put(
        tmp_path,
        **{"My pump": GOOD.replace("pump,", "").replace("A,", "")},
        f="pump,price\nMy pump,90\n",
    )
    (pump,) = read_curves(tmp_path)
    assert (pump.name, pump.price, pump.flow_gpm.tolist()) == ("My pump", 90, [0, 20, 40])


def test_a_file_too_large_is_refused_before_it_is_read(tmp_path):
    with (tmp_path / "x.csv").open("wb") as file:
        file.truncate(100_000_000)  # sparse: no disk is used
    tracemalloc.start()
    try:
        assert refused(tmp_path) == "x.csv: must be at most 20 MB; split the file"
        assert tracemalloc.get_traced_memory()[1] < 1_000_000
    finally:
        tracemalloc.stop()


def test_demo_curves_are_what_they_say():
    pumps = read_curves(DEMO)
    assert len(pumps) == 12
    assert all(pump.invented for pump in pumps)
    assert all(None not in (pump.price, pump.outlet_in, pump.solids_in) for pump in pumps)
    assert [pump.name for pump in pumps if pump.droops] == ["Half-C"]
    for pump in pumps:
        assert pump.off_in < pump.on_in
        assert 0.4 < pump.best_flow_gpm / pump.run_out_gpm < 0.7
        if pump.power_w is not None:
            watts = 998 * 9.80665 * pump.flow_lps / 1000 * pump.head_m
            assert 0.15 < np.nanmax(watts / pump.power_w) < 0.45


number = st.floats(0.01, 99).map(lambda x: float(f"{x:.4g}"))


@st.composite
def pumps(draw):
    made = []
    names = st.text("ABCabc-1 ", min_size=1).filter(str.strip)
    for name in draw(st.lists(names, min_size=1, unique_by=str.strip)):
        flow = sorted(draw(st.lists(number, min_size=2, max_size=6, unique=True)))
        head = [draw(number) for _ in flow]
        made.append((name.strip(), flow, head))
    return made


@pytest.mark.filterwarnings("ignore::drainpump.UnusualValueWarning")
@given(pumps())
@settings(
    max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
def test_what_is_written_is_what_is_read(tmp_path, made):
    rows = [f"{n},{q!r},{h!r}" for n, flow, head in made for q, h in zip(flow, head, strict=True)]
    put(tmp_path, x="\n".join(["pump,flow_gpm,head_ft", *rows, ""]))
    read = read_curves(tmp_path)
    assert [(p.name, p.flow_gpm.tolist(), p.head_ft.tolist()) for p in read] == made


FILES = [path.read_bytes() for path in sorted(DEMO.glob("*.csv"))]
FILES.append(b"flow_m3ph,head_kpa\n0,95\n3.4,80\n6.8,41.5\n")


@given(
    st.sampled_from(FILES),
    st.lists(st.tuples(st.integers(0, 2000), st.integers(0, 4), st.binary(max_size=4)), max_size=6),
)
@settings(
    max_examples=examples(150),
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
def test_mutated_files_are_read_or_refused_never_worse(tmp_path, raw, cuts):
    raw = blotted(raw, cuts)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UnusualValueWarning)
        try:
            read = read_curves(put(tmp_path, x=raw))
        except CatalogError as error:
            read = error.problems
        else:
            assert all(isinstance(pump, PumpCurve) for pump in read)
            assert all(np.isfinite(pump.head_ft).all() for pump in read)
    assert read
