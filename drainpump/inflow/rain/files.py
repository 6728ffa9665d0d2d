"""Rain tables from files."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from drainpump.errors import InputError, wrong
from drainpump.inflow.rain.table import RainTable

if TYPE_CHECKING:
    import os

__all__ = ["read_rain"]


def read_rain(path: str | os.PathLike[str]) -> RainTable:
    """Read rain by duration and return period from a tidy CSV, as point tables give it.

    Parameters
    ----------
    path : str or path
        Columns ``return_year``, ``duration_min`` and one of ``depth_in``, ``depth_mm``,
        ``intensity_in_per_h``, ``intensity_mm_per_h``; one row for each pair.

    Returns
    -------
    RainTable
        One row of rain for each return period.

    Raises
    ------
    InputError
        Missing file or columns, text among the numbers, or a table that cannot be.

    Examples
    --------
    >>> read_rain("no such file.csv")
    Traceback (most recent call last):
    ...
    drainpump.errors.InputError: path='no such file.csv': is no file; give the CSV of rain ...
    """
    import pandas as pd

    file = Path(path)
    if not file.is_file():
        raise wrong("path", str(path), "is no file", "give the CSV of rain by duration")
    table = pd.read_csv(file, comment="#", skipinitialspace=True)
    values = [c for c in ("depth_in", "depth_mm", "intensity_in_per_h", "intensity_mm_per_h")
              if c in table.columns]  # fmt: skip
    if not {"duration_min", "return_year"} <= set(table.columns) or len(values) != 1:
        raise InputError(
            f"{file.name}: columns {', '.join(map(str, table.columns))}; must be return_year, "
            "duration_min and one of depth_in, depth_mm, intensity_in_per_h, intensity_mm_per_h."
        )
    used = table[["return_year", "duration_min", *values]]
    for column in used.columns:
        numbers = pd.to_numeric(used[column], errors="coerce")
        if numbers.isna().any():
            row = int(numbers.isna().to_numpy().argmax())
            raise InputError(
                f"{file.name}, row {row + 2}, column {column!r}: {used[column].iloc[row]!r}: must "
                "be a number; correct the cell or leave the row out."
            )
    cells = used.to_numpy(dtype=np.float64)
    years, durations = np.unique(cells[:, 0]), np.unique(cells[:, 1])
    values_by = {(y, d): v for y, d, v in cells}
    if len(values_by) < len(cells) or len(cells) < years.size * durations.size:
        raise InputError(
            f"{file.name}: {len(cells)} rows for {years.size} return periods and {durations.size} "
            "durations; give each pair once, and all of them."
        )
    depth = np.array([[values_by[y, d] for d in durations] for y in years])
    return RainTable(duration_min=durations, return_year=years, **{values[0]: depth})
