"""Each notebook runs from its first cell to its last, and shows what is kept in it."""

from __future__ import annotations

import base64
import json
from pathlib import Path

import pytest

from tests.notebook import NOTEBOOKS, alike, fresh, load, shown, stale

#: bytes of a picture, and of all notebooks together
PICTURE, ALL = 120_000, 3_000_000


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.stem)
def test_shows_what_is_kept(path: Path) -> None:
    assert stale(path, fresh(path)[1]) == ""


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.stem)
def test_says_invented_and_keeps_small_pictures(path: Path) -> None:
    cells = load(path)["cells"]
    assert "invented" in "".join("".join(c["source"]) for c in cells).lower()
    outputs = [o for c in cells if c["cell_type"] == "code" for o in c["outputs"]]
    pictures = [o["data"]["image/png"] for o in outputs if "image/png" in o.get("data", {})]
    assert all(len(base64.b64decode(p)) <= PICTURE for p in pictures)
    assert len(pictures) >= 1 or "integrators" in path.name


def test_notebooks_are_small_together() -> None:
    assert NOTEBOOKS
    assert sum(path.stat().st_size for path in NOTEBOOKS) < ALL


def test_a_changed_figure_or_text_is_stale(tmp_path: Path) -> None:
    source = "import matplotlib.pyplot as plt\nprint('at 5.00 ft')\nplt.plot([1, 2], [3, 4]);"
    path = tmp_path / "one.ipynb"
    cell = {"cell_type": "code", "source": source, "outputs": []}
    path.write_text(json.dumps({"cells": [cell]}))
    (outputs,) = shown(path)[1]
    assert [o["output_type"] for o in outputs] == ["stream", "display_data"]
    assert stale(path, [outputs]) == (
        "one.ipynb, code cell 1; run python -m tests.render_notebooks"
    )
    path.write_text(json.dumps({"cells": [cell | {"outputs": outputs}]}))
    assert stale(path, [outputs]) == ""
    for changed in ("[1, 2.1]", "[1, 2, 3]"):
        moved = cell | {"source": source.replace("[1, 2]", changed).replace("[3, 4]", changed)}
        path.write_text(json.dumps({"cells": [moved | {"outputs": outputs}]}))
        assert stale(path, shown(path)[1])


def test_numbers_may_differ_by_their_last_digits_alone() -> None:
    assert alike("5.001 ft", "5.002 ft")
    assert not alike("5.00 ft", "5.10 ft")
    assert not alike("5 ft", "5 m")
    assert not alike("ok", "no_flow")
