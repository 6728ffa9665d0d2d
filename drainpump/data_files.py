"""Tables that lie beside the code, in the folder ``data`` of a room or of the ground."""

import csv
from functools import cache
from pathlib import Path


@cache
def table(room: str, name: str) -> tuple[dict[str, str], ...]:
    """Read one CSV table row by row, every cell as text; # begins a note.

    >>> table("physics", "f_t.csv")[0]["nominal"], table("", "units.csv")[0]["label"]
    ('1/2', 'ft')
    """
    text = (Path(__file__).parent / room / "data" / name).read_text(encoding="utf-8")
    return tuple(csv.DictReader(line for line in text.splitlines() if not line.startswith("#")))
