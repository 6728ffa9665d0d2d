"""Run a notebook's cells in order, as a reader would, without Jupyter."""

from __future__ import annotations

import ast
import json
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parent.parent
NOTEBOOKS = sorted((ROOT / "notebooks").glob("*.ipynb"))


def show(value: Any) -> None:
    """What a notebook does with a cell's last value: ask it how it looks."""
    html = getattr(value, "_repr_html_", None)
    assert isinstance(html() if html is not None else repr(value), str)


def run(path: Path) -> dict[str, Any]:
    """Execute every code cell; returns the names it leaves behind."""
    names: dict[str, Any] = {"__name__": "__main__", "display": show}
    cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
    for number, cell in enumerate(cells, 1):
        if cell["cell_type"] != "code":
            continue
        place = f"{path.name}, cell {number}"
        tree = ast.parse("".join(cell["source"]), place)
        last = tree.body.pop() if tree.body and isinstance(tree.body[-1], ast.Expr) else None
        exec(compile(tree, place, "exec"), names)
        if last is not None:
            show(eval(compile(ast.Expression(last.value), place, "eval"), names))
    return names
