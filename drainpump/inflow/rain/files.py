"""Rain tables from files: a row for each pair, or an official table as issued."""

from __future__ import annotations

import math
import os
import re
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from drainpump import units as u
from drainpump.errors import FileError, wrong
from drainpump.foreign import nearest
from drainpump.inflow.rain.table import RainTable, problems
from drainpump.parts.csv_sheet import Sheet, cells_of, number, read_lines, take_lines

#: what a column of rain may be called, and its guard
_VALUES = {
    "depth_in": "rain",
    "depth_mm": "rain",
    "intensity_in_per_h": "rain_rate",
    "intensity_mm_per_h": "rain_rate",
}
#: how a duration is labelled in a table as issued: 5-min:, 2-hr:, 2-day:
_LABEL = re.compile(r"([0-9]{1,4}(?:\.[0-9]{1,2})?)[- ]*(min|hr|hour|day)s?\.?:?", re.IGNORECASE)
_MINUTES = {"min": 1.0, "hr": 60.0, "hour": 60.0, "day": 1440.0}
#: how it says its unit: (inches), (inches/hour), (millimeters), (mm/hr)
_UNIT = re.compile(r"\((in|inches|mm|millimet(?:er|re)s)(?:\s*(/|per)\s*(?:hour|hr|h))?\)")
#: a return period, 25, or a yearly chance, 1/25
_YEAR = re.compile(r"(?:1/)?([1-9][0-9]{0,5})")
#: return periods, and durations, of one table
_MOST = 100


class RainFileError(FileError):
    """A file of rain that cannot be read, with every problem found."""

    _holds = "the rain data"


@dataclass
class _Draft:
    """A table as read so far: where each cell stands, by return period and duration."""

    sheet: Sheet
    name: str
    cells: dict[tuple[float, float], tuple[int, str, str]] = field(default_factory=dict)

    def take(self, year: float, minutes: float, row: int, column: str, text: str) -> None:
        """Keep one cell; a pair that stands twice is noted."""
        if (first := self.cells.get((year, minutes))) is not None:
            allowed = f"{minutes:g} min once in {year:g} years stand in row {first[0]} already"
            self.sheet.wrong(row, column, text, f"{allowed}; keep one of the two")
        else:
            self.cells[year, minutes] = (row, column, text)

    def table(self, note: str) -> RainTable | None:
        """Build the table, or note what keeps it from being one."""
        years, minutes = (sorted({key[i] for key in self.cells}) for i in (0, 1))
        if max(len(years), len(minutes)) > _MOST:
            allowed = f"at most {_MOST} return periods and {_MOST} durations; leave some out"
            self.sheet.wrong(None, None, None, allowed)
        elif len(minutes) < 2:
            self.sheet.wrong(None, None, None, "must have two durations or more; add a row")
        else:
            return self._built(years, minutes, note)
        return None

    def _built(self, years: list[float], minutes: list[float], note: str) -> RainTable | None:
        values = np.full((len(years), len(minutes)), np.nan)
        for i, year in enumerate(years):
            for j, duration in enumerate(minutes):
                if (cell := self.cells.get((year, duration))) is None:
                    if not self.sheet.problems:
                        allowed = f"no rain of {duration:g} min once in {year:g} years; "
                        allowed += "give each pair, or leave out the return period or the duration"
                        self.sheet.wrong(None, None, None, allowed)
                    continue
                row, column, text = cell
                values[i, j], allowed = number(text, self.name, _VALUES[self.name])
                if allowed:
                    self.sheet.wrong(row, column, text, allowed)
        time = u.to_si(minutes, "min")
        depth = values * (time if self.name.startswith("intensity") else 1.0)
        for (i, j), allowed in problems(time, depth):
            self.sheet.wrong(*self.cells[years[i], minutes[j]], allowed)
        if self.sheet.problems:
            return None
        return RainTable(duration_min=minutes, return_year=years, note=note, **{self.name: values})


def read_rain(path: str | os.PathLike[str], *, note: str = "") -> RainTable:
    """Read rain by duration and return period, from a table as issued or a tidy CSV.

    Parameters
    ----------
    path : str or path
        One of two layouts, told by what stands in it:

        * tidy: columns ``return_year``, ``duration_min`` and one of ``depth_in``,
          ``depth_mm``, ``intensity_in_per_h``, ``intensity_mm_per_h``; a row for each pair;
        * an official point table as issued: lines of text that say the unit, as in
          ``(inches)`` or ``(millimeters/hour)``; a header row with the return periods (25)
          or yearly chances (1/25); a row for each duration, labelled as in ``5-min:``,
          ``2-hr:``, ``2-day:``. What stands below that block, confidence bounds for one, is
          not read.
    note : str, optional
        Where the table comes from; the file's name by default.

    Returns
    -------
    RainTable
        One row of rain for each return period.

    Raises
    ------
    InputError
        With ``.problems``, every one found: file, row as a spreadsheet counts it, column,
        value and what is allowed.

    Warns
    -----
    RainWarning
        A table that is not concave, as `RainTable`.

    Examples
    --------
    >>> read_rain("no such file.csv")
    Traceback (most recent call last):
    ...
    drainpump.errors.InputError: path='no such file.csv': is no file; give the CSV of rain ...
    """
    sheet, lines = open_lines(path, "give the CSV of rain by duration")
    draft, as_issued = None, False
    if not sheet.problems:
        as_issued = any(map(_label, lines)) and "duration_min" not in ",".join(lines[:50]).lower()
        draft = _as_issued(sheet, lines) if as_issued else _tidy(sheet, lines)
    # rows under a header that is wrong would only repeat the complaint
    table = None
    if draft is not None:
        # a table as issued says its unit: no number in it is doubted
        with u.place(sheet.file), u.speaking_of(() if as_issued else _KEYWORDS):
            table = draft.table(note or sheet.file)
    if sheet.problems:
        raise RainFileError(sorted(sheet.problems, key=lambda problem: problem.row or 0))
    assert table is not None
    return table


_KEYWORDS = ("duration_min", "return_year", *_VALUES)


def open_lines(path: object, mend: str) -> tuple[Sheet, list[str]]:
    """Open a file of rain by the guarded reader; what is no file is refused at once."""
    if not isinstance(path, str | os.PathLike) or not isinstance(os.fspath(path), str):
        raise wrong("path", path, "must be the path of a CSV file", mend)
    file = Path(path)
    if not file.is_file():
        raise wrong("path", str(path), "is no file", mend)
    return read_lines(file)


def _tidy(sheet: Sheet, lines: list[str]) -> _Draft | None:
    """Read a row for each pair."""
    take_lines(sheet, lines)
    values = [column for column in _VALUES if column in sheet.columns]
    for column in ("return_year", "duration_min"):
        if sheet.columns and column not in sheet.columns:
            allowed = "column missing; a tidy table has return_year, duration_min and one of "
            sheet.wrong(sheet.header, column, None, allowed + ", ".join(_VALUES))
    if sheet.columns and len(values) != 1:
        given = ",".join(sheet.columns)
        near = nearest(sheet.columns[-1], list(_VALUES))
        sheet.wrong(sheet.header, None, given, f"must have one of {', '.join(_VALUES)}; {near}")
    if any(problem.row == sheet.header for problem in sheet.problems) or not values:
        return None
    draft = _Draft(sheet, values[0])
    for row in sheet.rows:
        year = sheet.number(row, "return_year", "positive")
        minutes = sheet.number(row, "duration_min", "positive")
        if not math.isnan(year + minutes):
            draft.take(year, minutes, row.number, values[0], row.cells[values[0]])
    return draft


def _label(line: str) -> float | None:
    """The minutes of a line that begins with the label of a duration."""
    found = _LABEL.fullmatch(line.split(",")[0].strip(' "'))
    return None if found is None else float(found[1]) * _MINUTES[found[2].lower()]


def _as_issued(sheet: Sheet, lines: list[str]) -> _Draft | None:
    """Read the first block of a table as issued: a header row, and a row for each duration."""
    first = next(i for i, line in enumerate(lines) if _label(line))
    head = next((i for i in range(first - 1, -1, -1) if lines[i].strip()), None)
    if head is None:
        allowed = "no header row above it; give the return periods, and lines that say the unit"
        sheet.wrong(first + 1, None, lines[first], allowed)
        return None
    name = _unit(sheet, lines[:head], head + 1)
    years = _years(sheet, cells_of(lines[head], head + 1, sheet), head + 1)
    if name is None or years is None:
        return None
    draft, before = _Draft(sheet, name), 0.0
    for i, line in enumerate(lines[first:], first):
        minutes, row = _label(line), i + 1
        cells = cells_of(line, row, sheet)
        if minutes is None and (not cells or _ends(cells, len(years))):
            if cells:
                break
            continue
        if minutes is None:
            allowed = "must be a duration such as 5-min:, 2-hr: or 2-day:"
            sheet.wrong(row, None, cells[0], allowed)
        elif not minutes > before:
            sheet.wrong(row, None, cells[0], f"must come after {before:g} min; sort the rows")
        elif len(cells) != len(years) + 1:
            allowed = f"must have {len(years)} numbers, one for each return period, not "
            sheet.wrong(row, None, line, allowed + str(len(cells) - 1))
        else:
            before = minutes
            for year, text in zip(years, cells[1:], strict=True):
                draft.take(year, minutes, row, f"{year:g} years", text)
    return draft


def _ends(cells: list[str], years: int) -> bool:
    """Whether a line without a label ends the block: text, or the next block's header."""
    numbers = sum(not number(text, "", "any")[1] for text in cells[1:])
    return 2 * numbers < years or cells[0].lower().startswith("by duration")


def _unit(sheet: Sheet, above: list[str], row: int) -> str | None:
    """The name of the rain's column, from the lines above the table."""
    text = "\n".join(above).lower()
    found = {(unit[0] == "i", bool(per)) for unit, per in _UNIT.findall(text)}
    allowed = "the lines above must say the unit once, such as (inches), (millimeters/hour)"
    if len(found) == 1:
        inches, rate = found.pop()
        kind = re.search(r"precipitation (depth|intensity)", text)
        if kind is None or (kind[1] == "intensity") == rate:
            unit = "in" if inches else "mm"
            return f"intensity_{unit}_per_h" if rate else f"depth_{unit}"
        allowed = f"the lines above say {kind[0]!r}, which its unit is not; check the two"
    sheet.wrong(row, None, None, allowed)
    return None


def _years(sheet: Sheet, cells: list[str], row: int) -> list[float] | None:
    """The return periods of a header row, or None where one is wrong."""
    years: list[float] = []
    # rain under a label that cannot be read must not pass for return periods
    title = cells[0] if cells else ""
    if not re.search("duration|return|years", title, re.IGNORECASE):
        allowed = "must be the header row, 'by duration for ARI (years):' and the return periods"
        sheet.wrong(row, None, title, allowed)
        return None
    for text in cells[1:]:
        found = _YEAR.fullmatch(text)
        if found is None or not float(found[1]) > (years[-1] if years else 0):
            allowed = "must be a return period such as 25, or 1/25 for a yearly chance, each rarer"
            sheet.wrong(row, None, text, allowed + " than the one before")
            return None
        years.append(float(found[1]))
    if not years:
        sheet.wrong(row, None, ",".join(cells), "must name the return periods, such as 2, 10, 25")
    return years or None
