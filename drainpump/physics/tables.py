"""Reading the sourced tables that lie beside the code as CSV files."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import fields
from typing import Any, TypeVar

from drainpump.data_files import table
from drainpump.errors import InputError
from drainpump.foreign import nearest
from drainpump.units import suffix_of, to_si

Kind = TypeVar("Kind")


def read_table(name: str) -> tuple[dict[str, str], ...]:
    """Read one table of ``physics/data``, row by row, every cell as text.

    >>> read_table("f_t.csv")[0]["nominal"]
    '1/2'
    """
    return table("physics", name)


def read_rows(kind: type[Kind], name: str, key: str = "name") -> list[Kind]:
    """Read a table whose rows are of one kind, its ``name`` in the column ``key``.

    A column fills the field it is named after; one that ends in a unit, as ``od_in``, fills
    ``od`` in SI. An empty cell of numbers is None, and "yes" is True.
    """
    types: dict[str, Any] = {field.name: field.type for field in fields(kind)}  # type: ignore[arg-type]
    found = []
    for row in read_table(name):
        filled: dict[str, Any] = {}
        for column, text in row.items():
            unit = None if column in types or column == key else suffix_of(column)
            field = "name" if column == key else column.removesuffix(f"_{unit}")
            if types[field] == "str":
                filled[field] = text
            elif types[field] == "bool":
                filled[field] = text == "yes"
            elif not text:
                filled[field] = None
            else:
                filled[field] = float(to_si(float(text), unit) if unit else text)
        found.append(kind(**filled))
    return found


def row_of(
    table: str, key: str, name: object, what: str, alike: Sequence[str] = ()
) -> dict[str, str]:
    """Return the row that a name stands for in a table, or say which names lie nearest.

    ``what`` is the keyword the name came in and what the table is of: ``"soil: soils"``;
    ``alike`` the names that may be meant, where more is known of that than their letters.
    """
    rows = {row[key]: row for row in read_table(table)}
    if (known := str(name).strip().lower()) in rows:
        return rows[known]
    keyword, _, of = what.partition(": ")
    hint = f"did you mean {', '.join(map(repr, alike))}?" if alike else nearest(name, list(rows))
    raise InputError(f"{keyword}={name!r}: not in the table of {of}; {hint}")
