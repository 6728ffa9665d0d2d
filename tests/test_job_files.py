"""Files that a job document names: none is opened but CSV files of the folder its reader allows."""

from __future__ import annotations

import json
import os
import shutil
import tracemalloc
from pathlib import Path
from typing import Any

import pytest

import drainpump as dp
from drainpump.__main__ import main
from drainpump.paper.demo import market_garden
from tests.notebook import ROOT

SECRET = "SECRETKEY=a1b2c3d4e5f6g7h8i9j0,k1l2m3n4o5p6q7r8s9t0"
CURVE = "pump,flow_gpm,head_ft\nC,0,40\nC,80,2\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The folder that is allowed; beside it stands what must not be read."""
    (tmp_path / "secret.csv").write_text(SECRET, encoding="utf-8")
    (tmp_path / "good.csv").write_text(CURVE, encoding="utf-8")
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "elsewhere" / "good.csv").write_text(CURVE, encoding="utf-8")
    own = tmp_path / "own"
    shutil.copytree(ROOT / "curves_demo", own / "curves")
    (own / "c.csv").write_text(CURVE, encoding="utf-8")
    (own / ".env").write_text(SECRET, encoding="utf-8")
    (own / "notes.txt").write_text(SECRET, encoding="utf-8")
    return own


def document(*curves: str) -> dict[str, Any]:
    return market_garden().to_dict() | {"pumps": [{"curves": path} for path in curves]}


def refusal(folder: Path | None, *curves: str) -> str:
    with pytest.raises(dp.InputError) as err:
        dp.Job.from_dict(document(*curves), curves_from=folder)
    return str(err.value)


def outside(path: str, place: str = "$.pumps[0]") -> str:
    return (
        f"{place}.curves={path!r}: must be a .csv file, or a folder of them, below curves_from; "
        "put the files there, or give the points."
    )


@pytest.mark.parametrize("path", ["curves", "c.csv", "./c.csv", "c.csv/"])
def test_curves_are_read_from_the_folder_that_is_allowed(folder: Path, path: str) -> None:
    job = dp.Job.from_dict(document(path), curves_from=folder)
    assert [p.name for p in job.pumps] == [p.name for p in dp.read_curves(folder / path)]
    assert job.to_dict() == document(path)


@pytest.mark.parametrize("path", ["c.csv", "curves", ".env", "/etc/hosts", "no such.csv"])
def test_no_file_is_opened_unless_its_reader_allows_it(
    folder: Path, path: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(folder)
    (folder / "job.json").write_text(json.dumps(document(path)), encoding="utf-8")
    message = (
        f"$.pumps[0].curves={path!r}: is a file, and a job opens none unless its reader allows it; "
        "read the job with curves_from=folder, or give the points."
    )
    assert refusal(None, path) == message
    for read in (
        lambda: dp.read_job("job.json"),
        lambda: dp.Job.from_json((folder / "job.json").read_bytes()),
    ):
        with pytest.raises(dp.InputError) as err:
            read()
        assert str(err.value) == message


@pytest.mark.parametrize(
    "path",
    ["/etc/hosts", "../good.csv", "curves/../../good.csv", ".env", "notes.txt", "//c.csv",
     "linked.csv", "linked", "named.csv", "chained.csv", "mixed"],
)  # fmt: skip
def test_no_other_file_is_opened(folder: Path, path: str) -> None:
    (folder / "linked.csv").symlink_to(folder.parent / "good.csv")
    (folder / "linked").symlink_to(folder.parent / "elsewhere")
    (folder / "named.csv").symlink_to(folder / ".env")
    (folder / "chained.csv").symlink_to(folder / "linked.csv")
    (folder / "mixed").mkdir()
    (folder / "mixed" / "a.csv").symlink_to(folder.parent / "good.csv")
    assert refusal(folder, path) == outside(path)


def test_a_link_that_stays_in_the_folder_is_read(folder: Path) -> None:
    (folder / "again.csv").symlink_to(folder / "c.csv")
    assert [p.name for p in dp.Job.from_dict(document("again.csv"), curves_from=folder).pumps] == [
        "C"
    ]


def test_what_is_no_file_does_not_hang_the_reader(folder: Path) -> None:
    os.mkfifo(folder / "pipe.csv")
    (folder / "device.csv").symlink_to("/dev/zero")
    (folder / "loop.csv").symlink_to(folder / "loop.csv")
    for path, said in (
        ("pipe.csv", "no such file or folder; give a folder of CSV files, or one CSV file"),
        ("loop.csv", "no such file or folder; give a folder of CSV files, or one CSV file"),
        ("n" * 3000 + ".csv", "cannot be opened; check the path and who may read it"),
    ):
        shown = path if len(path) <= 20 else path[:17] + "..."
        assert refusal(folder, path) == (
            f"$.pumps[0].curves: 1 problem in the pump data:\n  {shown}: {said}"
        )
    assert refusal(folder, "device.csv") == outside("device.csv")


LONG = "a1b2c3d4e5f6g7h8i9j0k1l2m3n4"
CUT = "a1b2c3d4e5f6g7h8i..."
LAYOUTS = (
    "column names not known; name them pump, flow_gpm, head_ft (or flow_lps, head_m), a row for "
    "each point; other layouts and units: help(drainpump.read_curves)"
)
NUMBER = "must be a number such as 12.5; write decimals with a point and no unit"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (SECRET + "\n1,2", f"row 1: {LAYOUTS}"),
        (
            f"pump,flow_gpm,head_ft,{LONG}\nA,1,2,3",
            f"row 1, column {CUT!r}: column not known in this layout; remove it or rename it; "
            "known: pump, flow_gpm, flow_lps, head_ft, head_m, flow_lpm, flow_m3ph, flow_gph, "
            "head_kpa, head_psi, power_w",
        ),
        (f"pump,flow_gpm,head_ft\nA,0,{LONG}", f"row 2, column 'head_ft': {CUT!r}: {NUMBER}"),
        (
            f"pump,flow_gpm,head_ft\n{LONG},0",
            "row 2: must have 3 cells, one for each column name, not 2",
        ),
        (
            f'pump,flow_gpm,head_ft\n"{LONG},0,3',
            "row 2: quotation marks must open and close around a whole cell, within one line",
        ),
        (
            f"pump,flow_gpm,head_ft\n{LONG},5,8",
            f"row 2, column 'flow_gpm': pump {CUT!r}: a curve must have at least two points; "
            "give more points, or the shutoff head beside the one",
        ),
    ],
)
def test_a_wrong_cell_alone_is_quoted_and_twenty_characters_of_it(
    folder: Path, text: str, said: str
) -> None:
    (folder / "wrong.csv").write_text(text, encoding="utf-8")
    assert refusal(folder, "wrong.csv").split("\n")[1] == f"  wrong.csv, {said}"


def test_a_name_is_not_told_where_another_is_wrong(folder: Path) -> None:
    (folder / "two").mkdir()
    (folder / "two" / "a.csv").write_text(CURVE.replace("C,", f"{LONG},"), encoding="utf-8")
    (folder / "two" / "b.csv").write_text("pump,price\na1b2c3d4e5f6,5\n", encoding="utf-8")
    assert refusal(folder, "two") == (
        "$.pumps[0].curves: 1 problem in the pump data:\n"
        "  b.csv, row 2, column 'pump': 'a1b2c3d4e5f6': no curve has this name"
    )


def test_all_files_of_a_job_together_are_bounded_before_they_are_read(folder: Path) -> None:
    (folder / "many").mkdir()
    for i in range(30):
        with (folder / "many" / f"{i}.csv").open("wb") as file:
            file.truncate(1_000_000)  # sparse: no disk is used
    tracemalloc.start()
    try:
        assert refusal(folder, "many") == (
            "$.pumps[0].curves='many': all files together must be at most 20 MB; leave out pumps "
            "that are not asked."
        )
        assert tracemalloc.get_traced_memory()[1] < 1_000_000
    finally:
        tracemalloc.stop()


def test_the_command_reads_what_lies_beside_the_job_and_nothing_else(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(folder.parent)
    for path, code in (("curves", 0), ("../good.csv", 2), (".env", 2)):
        (folder / "job.json").write_text(json.dumps(document(path)), encoding="utf-8")
        assert main(["--job", str(folder / "job.json")]) == code
        said = capsys.readouterr()
        assert "SECRET" not in said.out + said.err
        assert bool(said.err) == bool(code)


def test_a_file_too_large_is_refused_before_it_is_read(tmp_path: Path) -> None:
    path = tmp_path / "job.json"
    with path.open("wb") as file:
        file.truncate(100_000_000)  # sparse: no disk is used
    tracemalloc.start()
    try:
        with pytest.raises(dp.InputError) as err:
            dp.read_job(path)
        assert tracemalloc.get_traced_memory()[1] < 1_000_000
    finally:
        tracemalloc.stop()
    assert str(err.value) == (
        f"{path}: 100000000 bytes: must be at most 10000000; give the curves as CSV."
    )
