"""Reading the sourced tables that lie beside the code as CSV files."""

from __future__ import annotations

import csv
from functools import cache
from importlib.resources import files


@cache
def read_table(name: str) -> tuple[dict[str, str], ...]:
    """Read one table of ``physics/data``, row by row, every cell as text; # begins a note.

    >>> read_table("f_t.csv")[0]["nominal"]
    '1/2'
    """
    path = files("drainpump.physics") / "data" / name
    lines = path.read_text(encoding="utf-8").splitlines()
    return tuple(csv.DictReader(line for line in lines if not line.startswith("#")))
