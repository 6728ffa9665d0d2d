"""Run a notebook's cells in order, as a reader would, without Jupyter, and keep what they show."""

from __future__ import annotations

import ast
import contextlib
import functools
import io
import json
import os
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from unittest import mock

import matplotlib.pyplot as plt
import numpy as np
from matplotlib.figure import Figure
from PIL import Image

ROOT = Path(__file__).parent.parent
NOTEBOOKS = sorted((ROOT / "notebooks").glob("*.ipynb"))
#: README's pictures, each by the name of the file it is kept in
FIGURES = ROOT / "notebooks" / "figures"

#: how far numbers that are shown may differ, by machine and version: a share
NEAR = 2e-3
_NUMBER = re.compile(r"(?<![\w.])-?\d+(?:\.\d+)?(?:e[-+]?\d+)?")


def load(path: Path) -> dict[str, Any]:
    """Read a notebook."""
    book: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    return book


def run(path: Path) -> dict[str, Any]:
    """Execute every code cell; returns the names it leaves behind."""
    return shown(path)[0]


def shown(path: Path, pictures: bool = False) -> tuple[dict[str, Any], list[list[dict[str, Any]]]]:
    """Execute every code cell where it lies; returns names, and the outputs of each cell.

    A picture is told by its words and its data; with ``pictures`` it is drawn as well.
    """
    outputs: list[dict[str, Any]] = []

    def display(value: Any) -> None:
        outputs.append({"output_type": "display_data", "metadata": {}, "data": looks(value)})

    names: dict[str, Any] = {"__name__": "__main__", "display": display}
    found = []
    with contextlib.chdir(path.parent), _as_a_notebook():
        cells = [c for c in load(path)["cells"] if c["cell_type"] == "code"]
        for number, cell in enumerate(cells, 1):
            outputs.clear()
            source, said = "".join(cell["source"]), io.StringIO()
            with contextlib.redirect_stdout(said):
                value = _execute(source, f"{path.name}, code cell {number}", names)
            if said.getvalue():
                text = said.getvalue().splitlines(keepends=True)
                outputs.insert(0, {"output_type": "stream", "name": "stdout", "text": text})
            if value is not None:
                outputs.append(
                    {
                        "output_type": "execute_result",
                        "execution_count": number,
                        "metadata": {},
                        "data": looks(value),
                    }
                )
            outputs.extend(_figure(plt.figure(n), pictures) for n in plt.get_fignums())
            plt.close("all")
            found.append(list(outputs))
    return names, found


@contextlib.contextmanager
def _as_a_notebook() -> Iterator[None]:
    """Within, pyplot keeps what a cell draws, to be shown at its end."""
    before = plt.get_backend()
    plt.switch_backend("module://tests.cells")
    try:
        yield
    finally:
        plt.switch_backend(before)


@functools.cache
def fresh(path: Path) -> tuple[dict[str, Any], list[list[dict[str, Any]]]]:
    """What `shown` finds, run once for all tests."""
    return shown(path)


def _execute(source: str, place: str, names: dict[str, Any]) -> Any:
    """Run a cell; returns what its last line is worth, None behind a semicolon."""
    tree = ast.parse(source, place)
    last = tree.body.pop() if tree.body and isinstance(tree.body[-1], ast.Expr) else None
    exec(compile(tree, place, "exec"), names)
    if last is None:
        return None
    value = eval(compile(ast.Expression(last.value), place, "eval"), names)
    return None if source.rstrip().endswith(";") else value


def looks(value: Any) -> dict[str, list[str]]:
    """What a notebook does with a cell's last value: ask it how it looks."""
    html = getattr(value, "_repr_html_", None)
    data = {"text/plain": repr(value).splitlines(keepends=True)}
    if html is not None:
        data["text/html"] = html().splitlines(keepends=True)
    return data


def _figure(figure: Any, picture: bool) -> dict[str, Any]:
    """A figure as an output; its words and data stand in the metadata."""
    data: dict[str, Any] = {"text/plain": [f"<Figure of {len(figure.axes)} axes>"]}
    if picture:
        import base64

        file = io.BytesIO()
        figure.savefig(file, format="png", dpi=80, pil_kwargs={"optimize": True})
        data["image/png"] = base64.b64encode(file.getvalue()).decode() + "\n"
    return {"output_type": "display_data", "metadata": {"seen": _seen(figure)}, "data": data}


def _seen(figure: Any) -> dict[str, Any]:
    """Words and data of a figure."""
    words, numbers = [], []
    for ax in figure.axes:
        words += [
            ax.get_title(),
            ax.get_xlabel(),
            ax.get_ylabel(),
            *(t.get_text() for t in ax.texts),
        ]
        for line in ax.lines:
            numbers += [float(np.nanmean(x)) for x in map(np.asarray, line.get_data()) if x.size]
        numbers += [float(x) for patch in ax.patches for x in patch.get_path().vertices.mean(0)]
    return {"words": words, "numbers": [float(f"{x:.6g}") for x in numbers if np.isfinite(x)]}


@contextlib.contextmanager
def telling() -> Iterator[None]:
    """Within, each picture that is written as a PNG tells its words and data in its metadata.

    All are written in one size of dots, that in which README keeps them.
    """
    plain = Figure.savefig

    def savefig(figure: Any, to: Any, **how: Any) -> None:
        told = {"metadata": {"Seen": json.dumps(_seen(figure)), "Software": None}}
        plain(figure, to, **how | told | {"dpi": 110, "pil_kwargs": {"optimize": True}})

    with mock.patch.object(Figure, "savefig", savefig):
        yield


def told(picture: Path) -> Any:
    """What a picture written by `telling` tells."""
    with Image.open(picture) as image:
        return json.loads(image.info["Seen"])


def stale(path: Path, now: list[list[dict[str, Any]]]) -> str:
    """Say where what a notebook keeps differs from what it shows now, else nothing."""
    cells = [c for c in load(path)["cells"] if c["cell_type"] == "code"]
    for number, (cell, outputs) in enumerate(zip(cells, now, strict=True), 1):
        if not alike([_told(o) for o in cell["outputs"]], [_told(o) for o in outputs]):
            return f"{path.name}, code cell {number}; run python -m tests.render_notebooks"
    return ""


def _told(output: dict[str, Any]) -> Any:
    """An output without its picture and its place in the order."""
    data = {k: "".join(v) for k, v in output.get("data", {}).items() if k != "image/png"}
    return [output["output_type"], "".join(output.get("text", "")), data, output.get("metadata")]


def alike(one: Any, two: Any) -> bool:
    """True where two plain values are the same but for the last digits of their numbers."""
    if isinstance(one, dict) and isinstance(two, dict):
        return one.keys() == two.keys() and all(alike(one[k], two[k]) for k in one)
    if isinstance(one, list) and isinstance(two, list):
        return len(one) == len(two) and all(map(alike, one, two))
    if isinstance(one, str) and isinstance(two, str):
        same = _NUMBER.sub("#", one).split() == _NUMBER.sub("#", two).split()
        return same and alike(*([float(x) for x in _NUMBER.findall(s)] for s in (one, two)))
    if isinstance(one, float) and isinstance(two, float):
        return bool(np.isclose(one, two, rtol=NEAR, atol=1e-9))
    return bool(one == two)


def keep(path: Path, anew: bool = False) -> bool:
    """Run a notebook and store what it shows, unless what is stored still holds."""
    now = shown(path, pictures=True)[1]
    if not (anew or stale(path, now)):
        return False
    book = load(path)
    cells = [c for c in book["cells"] if c["cell_type"] == "code"]
    for number, (cell, outputs) in enumerate(zip(cells, now, strict=True), 1):
        cell["outputs"], cell["execution_count"] = outputs, number
    path.write_text(json.dumps(book, indent=1, ensure_ascii=False) + os.linesep, encoding="utf-8")
    return True
