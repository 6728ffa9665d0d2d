"""Each notebook runs from its first cell to its last, and carries no stored output."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.notebook import NOTEBOOKS, run


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.stem)
def test_runs(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(path.parent)
    run(path)


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.stem)
def test_is_clean_and_says_invented(path: Path) -> None:
    book = json.loads(path.read_text(encoding="utf-8"))
    text = "".join("".join(c["source"]) for c in book["cells"])
    assert "invented" in text.lower()
    for cell in book["cells"]:
        if cell["cell_type"] == "code":
            assert cell["outputs"] == []
            assert cell["execution_count"] is None


def test_there_are_notebooks() -> None:
    assert NOTEBOOKS
