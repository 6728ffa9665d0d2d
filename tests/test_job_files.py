"""Curves beside a job document: read from its own folder, and from nowhere else."""

from __future__ import annotations

import shutil
import tracemalloc
from pathlib import Path

import pytest

import drainpump as dp
from drainpump.paper.demo import market_garden
from tests.notebook import ROOT


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    shutil.copytree(ROOT / "curves_demo", tmp_path / "curves")
    return tmp_path


def test_curves_are_read_beside_the_document(folder: Path) -> None:
    document = market_garden().to_dict() | {"pumps": [{"curves": "curves"}]}
    job = dp.Job.from_dict(document, folder=folder)
    assert [p.name for p in job.pumps] == [p.name for p in dp.read_curves(folder / "curves")]
    assert job.to_dict() == document


@pytest.mark.parametrize("path", ["/etc/hosts", "../secret.csv", "curves/../../secret.csv"])
def test_no_other_file_is_opened(folder: Path, path: str) -> None:
    document = market_garden().to_dict() | {"pumps": [{"curves": path}]}
    with pytest.raises(dp.InputError) as err:
        dp.Job.from_dict(document, folder=folder)
    assert str(err.value) == (
        f"$.pumps[0].curves={path!r}: must be a path below the job's own folder; put the files "
        "there, or give the points."
    )


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
