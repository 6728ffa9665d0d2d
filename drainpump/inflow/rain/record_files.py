"""A rain gauge's record from a CSV."""

from __future__ import annotations

import math
import os
from datetime import UTC, datetime
from typing import Literal
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from drainpump import units as u
from drainpump.errors import InputError, wrong
from drainpump.inflow.rain.files import RainFileError, open_lines
from drainpump.inflow.rain.hyetograph import Hyetograph
from drainpump.inflow.rain.records import recorded_rain
from drainpump.parts.csv_sheet import Row, Sheet, take_lines

_DEPTHS = ("depth_in", "depth_mm")
#: problems of one file that are listed
_SHOWN = 1000
_YEARS = (1800, 2200)


def read_recorded_rain(
    path: str | os.PathLike[str],
    *,
    zone: str | None = None,
    gaps: Literal["refuse", "zero"] = "refuse",
    note: str = "",
) -> Hyetograph:
    """Read a record of rain at even steps, 5 minutes or an hour for example, from a CSV.

    Parameters
    ----------
    path : str or path
        Columns ``time``, when each step begins, as ISO 8601 writes it
        (``2001-05-01 14:05``, or with its offset ``2001-05-01T14:05-05:00``), and
        ``depth_in`` or ``depth_mm``, what fell in it. An empty cell is missing.
    zone : str, optional
        The zone's name, ``"America/Chicago"``: that of times without an offset, where the
        hour that comes twice in autumn is told by the order of the rows; times with an
        offset are shown in it.
    gaps : {"refuse", "zero"}, default "refuse"
        As in `recorded_rain`.
    note : str, optional
        Where the record comes from; the file's name by default.

    Returns
    -------
    Hyetograph
        Its time counts from ``.begin``.

    Raises
    ------
    InputError
        With ``.problems``, every one found: file, row, column, value and what is allowed; a
        zone not known.

    Warns
    -----
    RainWarning
        As `recorded_rain`.

    Examples
    --------
    >>> read_recorded_rain("no such file.csv")
    Traceback (most recent call last):
    ...
    drainpump.errors.InputError: path='no such file.csv': is no file; give the CSV of a gauge.
    """
    import pandas as pd

    sheet, lines = open_lines(path, "give the CSV of a gauge")
    place = _zone(zone)
    take_lines(sheet, lines)
    depths = [column for column in _DEPTHS if column in sheet.columns]
    if sheet.columns and ("time" not in sheet.columns or len(depths) != 1):
        given = ",".join(sheet.columns)
        sheet.wrong(sheet.header, None, given, "must have time, and depth_in or depth_mm")
    elif sheet.columns:
        times = _times(sheet, place)
        values = [_depth(sheet, row, depths[0]) for row in sheet.rows]
    if not sheet.problems:
        index = pd.DatetimeIndex(times)
        if index.tz is not None:
            # a moment of UTC is shown in the zone asked for, or in the offset that was written
            written = datetime.fromisoformat(sheet.rows[0].cells["time"]).tzinfo
            index = index.tz_convert(place or written)
        series = pd.Series(values, index=index)
        try:
            with u.place(sheet.file):
                return recorded_rain(**{depths[0]: series}, gaps=gaps, note=note or sheet.file)
        except InputError as error:
            sheet.wrong(None, None, None, str(error).removesuffix("."))
    raise RainFileError(sorted(sheet.problems, key=lambda problem: problem.row or 0)[:_SHOWN])


def _zone(zone: str | None) -> ZoneInfo | None:
    try:
        return None if zone is None else ZoneInfo(zone)
    except (ValueError, TypeError, OSError, ZoneInfoNotFoundError):
        allowed = "must be the name of a time zone"
        raise wrong("zone", zone, allowed, "e.g. 'America/Chicago' or 'UTC'") from None


def _depth(sheet: Sheet, row: Row, column: str) -> float:
    """A step's rain; an empty cell is missing (NaN)."""
    return sheet.number(row, column, "rain") if row.cells[column] else math.nan


def _times(sheet: Sheet, zone: ZoneInfo | None) -> list[datetime]:
    """When each row begins: in UTC, or as written where no zone is known; bad ones are noted."""
    found: list[datetime] = []
    first = None
    for row in sheet.rows:
        text = row.cells["time"]
        try:
            time = datetime.fromisoformat(text)
            first = first or time
            if (time.tzinfo is None) != (first.tzinfo is None):
                allowed = "must have an offset in every row, or in none"
            elif not _YEARS[0] <= time.year <= _YEARS[1]:
                allowed = f"must be in the years {_YEARS[0]} to {_YEARS[1]}"
            else:
                moment = _moment(time, zone, found[-1] if found else None)
                allowed = ""
                if zone is not None and time.tzinfo is None:
                    there = moment.astimezone(zone).replace(tzinfo=None)
                    allowed = "" if there == time else f"is no time in {zone.key}: clocks skip it"
                found.append(moment)
        except ValueError:
            allowed = "must be a time such as 2001-05-01 14:05 or 2001-05-01T14:05-05:00"
        if allowed:
            sheet.wrong(row.number, "time", text, allowed)
    return found


def _moment(time: datetime, zone: ZoneInfo | None, before: datetime | None) -> datetime:
    """A time of the zone in UTC; of an hour that comes twice the one that goes on."""
    if time.tzinfo is not None or zone is None:
        return time if time.tzinfo is None else time.astimezone(UTC)
    first, second = (time.replace(tzinfo=zone, fold=k).astimezone(UTC) for k in (0, 1))
    return second if before is not None and first <= before < second else first
