"""A typed client: what type checkers see of the library is what it does."""

from __future__ import annotations

import runpy
import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path

import matplotlib.pyplot as plt
import pytest

import drainpump as dp
from tests.notebook import ROOT
from tests.public import ROOMS
from tests.test_readme import blocks

TYPED = ROOT / "tests" / "typed"


def test_the_page_of_calls_runs() -> None:
    made = runpy.run_path(str(TYPED / "page.py"))
    plt.close("all")
    assert made["message"].startswith("length_ft=-3: must be ")


@pytest.mark.skipif(find_spec("mypy") is None, reason="needs mypy, one of the tools")
def test_a_typed_client_passes_the_strict_checker(tmp_path: Path) -> None:
    """README's code, the page of calls, each exported name; what must be refused is."""
    readme = tmp_path / "readme.py"
    readme.write_text("\n".join(blocks("python")), encoding="utf-8")
    rooms = [f"dp.{room}.{name}" for room in ROOMS for name in getattr(dp, room).__all__]
    plots = [f"plots.{name}" for name in dp.plots.__all__]
    flat = tmp_path / "flat.py"
    flat.write_text(
        "from drainpump import *\nimport drainpump as dp\n"
        f"names = [{', '.join([*dp.__all__, *rooms, *plots])}]\n",
        encoding="utf-8",
    )
    done = subprocess.run(
        [sys.executable, "-m", "mypy", "--strict", str(readme), str(flat), str(TYPED)],
        cwd=ROOT, capture_output=True, text=True, check=False,
    )  # fmt: skip
    assert done.stdout + done.stderr == "Success: no issues found in 5 source files\n"
