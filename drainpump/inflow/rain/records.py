"""A recorded rain series, from pandas or from a gauge's CSV; what is missing is taken for dry
only when that is asked for.
"""

from __future__ import annotations

import math
import os
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Literal
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np

from drainpump import units as u
from drainpump.errors import InputError, UnitError, warn, wrong
from drainpump.foreign import is_among
from drainpump.inflow.rain.files import RainFileError, open_lines
from drainpump.inflow.rain.hyetograph import Hyetograph
from drainpump.inflow.rain.table import RainWarning
from drainpump.parts.csv_sheet import Row, Sheet, take_lines
from drainpump.units import FloatArray

if TYPE_CHECKING:
    import pandas as pd


#: share of odd steps above which a series is one of mixed steps and not one with gaps
_MIXED = 0.1
_HOUR = 3600.0
#: steps of one record: 95 years of 5 min
_MOST_STEPS = 10_000_000
_DEPTHS = ("depth_in", "depth_mm")
#: problems of one file that are listed
_SHOWN = 1000
_YEARS = (1800, 2200)


def recorded_rain(
    *,
    depth_in: pd.Series | None = None,
    depth_mm: pd.Series | None = None,
    gaps: Literal["refuse", "zero"] = "refuse",
    note: str = "",
) -> Hyetograph:
    """Return a record of rain gauged at even steps.

    Parameters
    ----------
    depth_in, depth_mm : pandas.Series
        Rain fallen in each step, >= 0, indexed by the time the step begins (a
        DatetimeIndex). Exactly one. Times with a zone are told apart where clocks change;
        without one an hour that is repeated at the end of summer time is seen as such.
    gaps : {"refuse", "zero"}, default "refuse"
        What to do with steps or numbers that are missing: refuse them by place, or take
        them for dry, which is warned of and stands in the note.
    note : str, optional
        Where the record comes from.

    Returns
    -------
    Hyetograph
        Its time counts from the record's begin, which ``.begin`` says.

    Raises
    ------
    UnitError, InputError
        No time index, unsorted or repeated times, gaps, mixed steps, rain that is missing or
        negative; each named with its place.

    Warns
    -----
    RainWarning
        Gaps taken for dry, a repeated hour.

    Examples
    --------
    >>> import pandas as pd
    >>> import drainpump as dp
    >>> times = pd.date_range("2001-05-01", periods=3, freq="5min")
    >>> dp.inflow.recorded_rain(depth_mm=pd.Series([0.2, 1.4, 0.0], index=times)).total_mm
    1.6
    """
    import pandas as pd

    if (depth_in is None) == (depth_mm is None):
        raise UnitError("depth: give exactly one of depth_in, depth_mm.")
    if not is_among(gaps, ("refuse", "zero")):
        raise wrong("gaps", gaps, "must be 'refuse' or 'zero'", "pick one of the two")
    name, series = ("depth_in", depth_in) if depth_mm is None else ("depth_mm", depth_mm)
    if not isinstance(series, pd.Series) or not isinstance(series.index, pd.DatetimeIndex):
        raise InputError(
            f"{name}: must be a pandas Series indexed by time (a DatetimeIndex); set the index."
        )
    values = series.to_numpy()
    if values.dtype.kind not in "iuf":
        raise InputError(f"{name}: must hold numbers, not {values.dtype}; convert the series.")
    values = values.astype(np.float64)
    if (values < 0).any():
        i = int(np.argmax(values < 0))
        raise InputError(f"{name}: the rain at {series.index[i]} is negative; correct the record.")
    time, said = _seconds(name, series.index)
    step = _step(name, series.index, time)
    place = np.round((time - time[0]) / step).astype(np.intp)
    if place[-1] >= _MOST_STEPS:
        raise InputError(
            f"{name}: {place[-1] + 1} steps of {step / 60:g} min from {series.index[0]} to "
            f"{series.index[-1]}; must be at most {_MOST_STEPS}, give the record in parts."
        )
    whole = np.full(int(place[-1]) + 1, np.nan)
    whole[place] = values
    missing = np.isnan(whole)
    if missing.any():
        first = int(np.argmax(missing))
        when = series.index[0] + pd.Timedelta(seconds=first * step)
        if gaps == "refuse":
            run = int(np.argmin(np.append(missing[first:], False)))
            raise InputError(
                f"{name}: a gap of {run * step / 60:g} min at {when}, steps being {step / 60:g} "
                "min; correct the record, or say gaps='zero' to take what is missing for dry."
            )
        said.append(f"{missing.sum()} steps missing, the first at {when}, taken for dry")
    for text in said:
        warn(
            f"{name}: {text}.",
            RainWarning,
        )
    whole[missing] = 0.0
    note = "; ".join([note, *said]) if note else "; ".join(said)
    return Hyetograph(
        **{name: whole}, block_min=step / 60, note=note, begin=_written(series.index[0])
    )


def _written(begin: pd.Timestamp) -> str:
    """A moment as ISO 8601 writes it, and its zone's name where it has one."""
    zone = getattr(begin.tzinfo, "key", None)
    return begin.isoformat() + (f"[{zone}]" if zone else "")


def _seconds(name: str, index: pd.DatetimeIndex) -> tuple[FloatArray, list[str]]:
    """Times as seconds that never turn back, and what had to be said of them."""
    if index.size < 2:
        raise InputError(f"{name}: {index.size} times; a record needs two or more.")
    if index.isna().any():
        raise InputError(f"{name}: a time is missing (NaT); correct the index.")
    zoned = index.tz is not None
    known = index.tz_convert("UTC").tz_localize(None) if zoned else index
    time = known.to_numpy().astype("datetime64[ns]").astype(np.int64) / 1e9
    steps, said = np.diff(time), []
    for i in np.flatnonzero(steps <= 0).tolist():
        again = steps[i] + _HOUR
        if zoned or not np.isclose(again, np.median(steps)):
            how = "repeats" if steps[i] == 0 else "comes before"
            raise InputError(
                f"{name}: time {index[i + 1]} {how} {index[i]}; sort the record, each time once."
            )
        # the clock went back an hour, the rain did not
        time[i + 1 :] += _HOUR
        said.append(f"the hour after {index[i]} comes twice, as at the end of summer time")
    return time, said


def _step(name: str, index: pd.DatetimeIndex, time: FloatArray) -> float:
    """Length of the even step in s; longer steps are whole numbers of it."""
    steps = np.diff(time)
    lengths, counts = np.unique(steps, return_counts=True)
    usual = float(lengths[np.argmax(counts)])
    odd = np.abs(steps - usual) > 1e-6 * usual
    if not odd.any():
        return usual
    whole = np.abs(steps / usual - np.round(steps / usual)) < 1e-6
    if whole.all() and odd.mean() <= _MIXED:
        return usual
    i = int(np.argmax(odd))
    raise InputError(
        f"{name}: mixed steps, {usual / 60:g} min and {steps[i] / 60:g} min after {index[i]}; "
        "bring the record to one step first (series.resample(...).sum())."
    )


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
