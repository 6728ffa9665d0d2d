"""What lies beside the code, in the folder ``data`` of a room or of the ground."""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path
from typing import Any

_PACKAGE = Path(__file__).parent


def read(room: str, name: str) -> str:
    """Read one file whole."""
    return (_PACKAGE / room / "data" / name).read_text(encoding="utf-8")


@cache
def table(room: str, name: str) -> tuple[dict[str, str], ...]:
    """Read one CSV table row by row, every cell as text; # begins a note.

    >>> table("physics", "f_t.csv")[0]["nominal"], table("", "units.csv")[0]["label"]
    ('1/2', 'ft')
    """
    lines = read(room, name).splitlines()
    return tuple(csv.DictReader(line for line in lines if not line.startswith("#")))


def texts(room: str, name: str) -> dict[str, Any]:
    """Read texts by the names they stand under in a TOML file."""
    import tomllib  # few calls need it

    return tomllib.loads(read(room, name))


def every_table() -> list[Path]:
    """The CSV tables of all rooms, by name."""
    return sorted(_PACKAGE.rglob("data/*.csv"), key=lambda path: path.name)
