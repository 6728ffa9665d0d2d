"""``python -m tests.contact_sheets FOLDER``: every picture on one sheet a look, to be looked at.

Looks: plain, grey, dark (matplotlib's ``dark_background``), as deutan and protan eyes see it,
small (3 by 2.5 in), metric without far scales.
"""

from __future__ import annotations

import io
import sys
import warnings
from pathlib import Path
from typing import Any

import matplotlib as mpl
import matplotlib.pyplot as plt
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

import drainpump as dp
from tests.eyes import GREY, as_seen
from tests.pictures import PICTURES

#: dots an inch of a picture on its sheet, and how many stand side by side
DPI, ABREAST = 80, 4
LOOKS: dict[str, dict[str, Any]] = {
    "plain": {},
    "grey": {"eye": GREY},
    "dark": {"style": "dark_background"},
    "deutan": {"eye": "deutan"},
    "protan": {"eye": "protan"},
    "small": {"size": (3.0, 2.5)},
    "metric": {"given": {"units": "metric", "twin": False}},
}


def pixels(figure: Figure) -> np.ndarray:
    """A figure as red, green and blue from 0 to 1."""
    file = io.BytesIO()
    figure.savefig(file, format="png", dpi=DPI)
    return np.asarray(plt.imread(io.BytesIO(file.getvalue())))[..., :3]


def drawn(name: str, look: dict[str, Any]) -> np.ndarray:
    """One picture in one look."""
    given = dict(look.get("given", {}))
    with plt.style.context(look.get("style", "default")), warnings.catch_warnings():
        warnings.simplefilter("ignore", dp.plots.PictureWarning)
        if "size" in look:
            given["ax"] = Figure(figsize=look["size"], layout="constrained").subplots()
        ax: Axes = PICTURES[name](**given)
        seen = pixels(ax.figure.figure)  # type: ignore[union-attr]
    plt.close("all")
    return as_seen(seen, look.get("eye", "full"))


def sheet(look: dict[str, Any]) -> np.ndarray:
    """All pictures in one look, their edges grey."""
    made = [drawn(name, look) for name in PICTURES]
    rows = [made[i : i + ABREAST] for i in range(0, len(made), ABREAST)]
    wide = max(sum(p.shape[1] + 6 for p in row) for row in rows)
    strips = []
    for row in rows:
        strip = np.full((max(p.shape[0] for p in row) + 6, wide, 3), 0.6)
        left = 0
        for p in row:
            strip[: p.shape[0], left : left + p.shape[1]] = p
            left += p.shape[1] + 6
        strips.append(strip)
    return np.concatenate(strips)


def main() -> None:
    """Write a sheet a look into the folder."""
    mpl.use("Agg")
    folder = Path(sys.argv[1] if len(sys.argv) > 1 else "contact_sheets")
    folder.mkdir(parents=True, exist_ok=True)
    for look in sys.argv[2:] or LOOKS:
        plt.imsave(folder / f"{look}.png", np.clip(sheet(LOOKS[look]), 0, 1))
        print(folder / f"{look}.png")


if __name__ == "__main__":
    main()
