"""README's code runs as it stands, and its words are true."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest

from tests.notebook import ROOT

TEXT = (ROOT / "README.md").read_text(encoding="utf-8")


def test_ten_lines_run(capsys: pytest.CaptureFixture[str]) -> None:
    code = re.search(r"```python\n(.*?)```", TEXT, re.DOTALL)
    assert code is not None
    names: dict[str, Any] = {}
    exec(code.group(1), names)
    assert "flow: 36 gpm" in capsys.readouterr().out
    said = re.search(r"# (\d+) gpm", code.group(1))
    assert said is not None
    assert names["op"].flow_gpm == pytest.approx(float(said.group(1)), abs=0.5)


def test_two_commands_each_complete() -> None:
    commands = [line for line in TEXT.splitlines() if line.startswith("python3 -m venv")]
    assert len(commands) == 2
    assert commands[0].endswith("-m drainpump curves_demo")
    assert "pytest" in commands[1]
    assert '".[test]"' in commands[1]


def test_pictures_and_folders_exist() -> None:
    for name in re.findall(r"\]\(([^)#]+)\)", TEXT):
        assert (ROOT / name).is_file(), name
    for name in re.findall(r"`((?:drainpump|tests|notebooks)/[\w/.]*)`", TEXT):
        assert Path(ROOT / name).exists(), name
