"""README's code runs as it stands, and its words are true."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import matplotlib.pyplot as plt
import pytest

import drainpump as dp
from drainpump.__main__ import main
from tests.notebook import FIGURES, ROOT, alike, telling, told
from tests.test_notebooks import PICTURE

TEXT = (ROOT / "README.md").read_text(encoding="utf-8")
RENDER = "python -m tests.render_notebooks"


def blocks(language: str) -> list[str]:
    return re.findall(rf"```{language}\n(.*?)```", TEXT, re.DOTALL)


def test_code_runs_and_says_what_is_printed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    names: dict[str, Any] = {}
    ten, five, *own = blocks("python")
    exec(ten, names)
    assert "flow: 36 gpm" in capsys.readouterr().out
    said = re.search(r"# (\d+) gpm", ten)
    assert said is not None
    assert names["op"].flow_gpm == pytest.approx(float(said.group(1)), abs=0.5)
    with telling():
        exec(five, names)
    assert alike(told(FIGURES / "waterfall.png"), told(Path("waterfall.png"))), RENDER
    text, _picture = blocks("text")
    assert capsys.readouterr().out.startswith(text)
    said = re.search(r"# (\d+) to (\d+) gpm", five)
    assert said is not None
    band = names["dp"].band(names["pump"], names["line"], names["dp"].Doubt.usual())
    assert [round(band.flow_gpm[p]) for p in ("p10", "p90")] == [int(x) for x in said.groups()]
    for block in own:
        exec(block, names)
    assert capsys.readouterr().out.count("From two figures: get the curve") == 1
    assert names["pump"].flow_gpm.tolist() == [9, 24, 37, 47, 55]
    assert {path.name for path in tmp_path.iterdir()} == {"duty.png", "waterfall.png"}


def test_the_curve_of_ones_own_is_read(tmp_path: Path) -> None:
    (text,) = blocks("csv")
    (tmp_path / "mine.csv").write_text(text, encoding="utf-8")
    (pump,) = dp.read_curves(tmp_path / "mine.csv")
    assert (pump.name, pump.run_out_gpm) == ("Shed pump", 60)


def test_two_commands_each_complete() -> None:
    commands = [line for line in TEXT.splitlines() if line.startswith("python3 -m venv")]
    assert len(commands) == 2
    assert commands[0].endswith("-m drainpump curves_demo")
    assert "pytest" in commands[1]
    assert '".[test]"' in commands[1]


def test_pictures_are_of_one_height() -> None:
    sizes = [plt.imread(FIGURES / f"{name}.png").shape for name in ("duty", "waterfall")]
    assert len({height for height, *_ in sizes}) == 1
    assert all(path.stat().st_size < PICTURE for path in FIGURES.iterdir())


def test_pictures_and_folders_exist() -> None:
    for name in re.findall(r"\]\(([^)#]+)\)", TEXT):
        assert (ROOT / name).is_file(), name
    for name in re.findall(r"`((?:drainpump|tests|notebooks)/[\w/.]*)`", TEXT):
        assert Path(ROOT / name).exists(), name


def test_the_first_command_prints_what_readme_shows(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    with telling():
        assert main([str(ROOT / "curves_demo")]) == 0
    assert alike(told(FIGURES / "duty.png"), told(Path("drainpump_duty.png"))), RENDER
    (text,) = blocks("console")
    assert capsys.readouterr().out == text
