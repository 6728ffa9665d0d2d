"""A CSV file as a spreadsheet shows it: named columns and numbered rows, or what is wrong."""

from __future__ import annotations

import csv
import math
import os
import re
from contextlib import AbstractContextManager
from contextvars import ContextVar
from dataclasses import dataclass, field
from pathlib import Path

from drainpump import units as u
from drainpump.errors import FileProblem, within
from drainpump.foreign import unit_of

_MOST_BYTES = 20_000_000
_MOST_ROWS = 200_000
_LONGEST_ROW = 10_000
_LONGEST_NAME = 100
#: what may part columns, the sign that should coming first
_SIGNS = {",": "commas", ";": "';'", "\t": "tabs", "|": "'|'"}
_NUMBER = re.compile(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]{1,3})?")
#: what may be thousands with their comma, or a decimal with one
_THOUSANDS = re.compile(r"[0-9]{1,3}(,[0-9]{3})+(\.[0-9]*)?")


@dataclass(frozen=True)
class Row:
    """One row: its number as a spreadsheet counts, and its cells by column."""

    number: int
    cells: dict[str, str]


@dataclass
class Sheet:
    """What one file holds, and every problem found in reading it."""

    file: str
    pump: str = ""  # where no column names it
    header: int = 0
    columns: list[str] = field(default_factory=list)
    rows: list[Row] = field(default_factory=list)
    invented: bool = False
    problems: list[FileProblem] = field(default_factory=list)

    def wrong(self, row: int | None, column: str | None, value: str | None, allowed: str) -> None:
        """Note one problem."""
        shown = None if value is None else shorten(value)
        self.problems.append(FileProblem(self.file, row, column, shown, allowed))

    def name(self, row: Row) -> str | None:
        """Return the row's pump, or note why it has none."""
        name = row.cells.get("pump", self.pump)
        if not name:
            self.wrong(row.number, "pump", "", "every row must name its pump")
        elif len(name) > _LONGEST_NAME or not name.isprintable():
            allowed = f"must be a printable name of at most {_LONGEST_NAME} characters"
            self.wrong(row.number, "pump", name, allowed)
        else:
            return name
        return None

    def number(self, row: Row, column: str, guard: str) -> float:
        """Return a cell's number, or note what is wrong and answer NaN."""
        value, allowed = number(row.cells[column], column, guard)
        if allowed:
            self.wrong(row.number, column, row.cells[column], allowed)
        return value


#: characters of a file that a message may quote at once
_QUOTED: ContextVar[int] = ContextVar("_QUOTED", default=60)


def quoting(most: int) -> AbstractContextManager[None]:
    """Quote within, of files that whoever asked may not read, a wrong cell's first characters."""
    return within(_QUOTED, most)


def quotes_freely() -> bool:
    """Whether a message may hold more of a file than the cell that is wrong."""
    return _QUOTED.get() >= 60


def shorten(text: str) -> str:
    """Cut a text to what a message can bear."""
    most = _QUOTED.get()
    return text if len(text) <= most else text[: most - 3] + "..."


def whole(row: str) -> str | None:
    """A whole row, where it may be quoted."""
    return row if quotes_freely() else None


def printable(name: str) -> str:
    """Name a file so that a terminal shows it and does not obey it."""
    short = shorten(name)
    return short if short.isprintable() else ascii(short)


def number(text: str, column: str, guard: str) -> tuple[float, str]:
    """Read a cell: its number and no complaint, or NaN and what is allowed there.

    >>> number("12.5", "head_ft", "head"), number("", "head_ft", "head")
    ((12.5, ''), (nan, 'must be a number; the cell is empty'))
    """
    if not text:
        return math.nan, "must be a number; the cell is empty"
    if _THOUSANDS.fullmatch(text):
        return math.nan, "must be a number such as 3300 or 3.3; write thousands without a comma"
    if not _NUMBER.fullmatch(text):
        return math.nan, "must be a number such as 12.5; write decimals with a point and no unit"
    value = float(text)
    # flow_gpm_at_10_ft holds gpm
    unit, rule = unit_of(column.split("_at_")[0]), u.GUARDS[guard]
    si = value if unit is None else value * unit.factor + unit.offset
    fits = si > rule.low if rule.open_low else si >= rule.low
    if not fits or si > rule.high or math.isinf(si):
        return math.nan, f"must be {u.allowed(rule, unit)}; {rule.mend}"
    # a whole number stays one, so that it is echoed as typed
    return int(value) if value.is_integer() and abs(value) < 1e15 else value, ""


def read_sheet(path: Path) -> Sheet:
    """Read one CSV file; nothing in it raises, everything wrong is in ``.problems``."""
    sheet, lines = read_lines(path)
    return sheet if sheet.problems else take_lines(sheet, lines)


def read_lines(path: Path, most: int = _MOST_ROWS) -> tuple[Sheet, list[str]]:
    """Read a file's lines, at most so many, into an empty sheet; none where it has a problem."""
    sheet = Sheet(printable(path.name), path.stem)
    text = _text(path, sheet)
    if text is None:
        return sheet, []
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    if len(lines) > most:
        sheet.wrong(None, None, None, f"must have at most {most} rows; split the file")
        return sheet, []
    return sheet, lines


def take_lines(sheet: Sheet, lines: list[str]) -> Sheet:
    """Take a row of column names and the rows below it into the sheet, and return it."""
    for count, line in enumerate(lines, 1):
        cells = cells_of(line, count, sheet)
        if cells and not sheet.columns:
            # at a tie the comma stands in decimals
            if line.count(sign := max(reversed(_SIGNS), key=line.count)) and sign != ",":
                allowed = f"columns are parted by {_SIGNS[sign]}; use commas, and a point in "
                sheet.wrong(count, None, None, allowed + "decimals")
                return sheet
            _take_header(cells, count, sheet)
        elif cells:
            _take_row(cells, count, sheet)
    if not sheet.columns and not sheet.problems:
        sheet.wrong(None, None, None, "the file is empty; give a row of column names, then rows")
    elif not sheet.rows and not sheet.problems:
        sheet.wrong(sheet.header, None, None, "no rows below the column names; give at least one")
    return sheet


def files_at(path: Path, problems: list[FileProblem], named: str = "") -> list[Path]:
    """List the CSV files at ``path``, or note, with what it was called, that there are none."""
    try:
        if path.is_dir():
            files = [f for f in path.iterdir() if f.suffix.lower() == ".csv" and f.is_file()]
            files = sorted(f for f in files if not f.name.startswith("."))
            if not files:
                allowed = "no CSV file in this folder; give the folder that holds the curves"
                called = printable(path.name or str(path))
                problems.append(FileProblem(called, None, None, None, allowed))
            return files
        if path.is_file():
            return [path]
        allowed = "no such file or folder; give a folder of CSV files, or one CSV file"
    except (OSError, ValueError):
        allowed = "cannot be opened; check the path and who may read it"
    problems.append(FileProblem(printable(named or str(path)), None, None, None, allowed))
    return []


def read_at_most(path: Path, most: int) -> tuple[bytes, int]:
    """Return a file's bytes and its size; no bytes of one that is larger than ``most``.

    What has no size, such as a pipe, is read one byte further than that.
    """
    with path.open("rb") as handle:
        size = os.fstat(handle.fileno()).st_size
        return b"" if size > most else handle.read(most + 1), size


def _text(path: Path, sheet: Sheet) -> str | None:
    """Return the file's text, or note why it cannot be read."""
    try:
        raw, size = read_at_most(path, _MOST_BYTES)
    except OSError as error:
        sheet.wrong(None, None, None, f"cannot be opened: {error.strerror}")
        return None
    if max(size, len(raw)) > _MOST_BYTES:
        allowed = f"must be at most {_MOST_BYTES / 1e6:.0f} MB; split the file"
        sheet.wrong(None, None, None, allowed)
        return None
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        row = raw[: error.start].count(b"\n") + 1
        value = raw[error.start : error.start + 1].hex()
        sheet.wrong(row, None, f"byte {value}", "must be UTF-8 text; save it as CSV UTF-8")
        return None
    if "\0" in text:
        row = text[: text.index("\0")].count("\n") + 1
        sheet.wrong(row, None, None, "holds a NUL, so it is not text; save it as CSV UTF-8")
        return None
    return text


def cells_of(line: str, count: int, sheet: Sheet) -> list[str]:
    """Split a line into stripped cells; none for a blank, a comment or a bad line."""
    if line.lstrip().startswith(("#", '"#')):
        sheet.invented |= "invented" in line.lower()
        return []
    if len(line) > _LONGEST_ROW:
        allowed = f"a row must be at most {_LONGEST_ROW} characters long"
        sheet.wrong(count, None, whole(line), allowed)
        return []
    try:
        cells = [cell.strip() for row in csv.reader([line], strict=True) for cell in row]
    except csv.Error:
        allowed = "quotation marks must open and close around a whole cell, within one line"
        sheet.wrong(count, None, whole(line), allowed)
        return []
    # spreadsheets pad short rows with empty cells, and leave empty rows
    while cells and not cells[-1] and len(cells) > len(sheet.columns):
        cells.pop()
    return cells if any(cells) else []


def _take_header(cells: list[str], count: int, sheet: Sheet) -> None:
    sheet.columns, sheet.header = [cell.lower() for cell in cells], count
    for i, column in enumerate(sheet.columns):
        if not column:
            sheet.wrong(count, None, None, f"column {i + 1} has no name; name it or take it out")
        elif column in sheet.columns[:i]:
            sheet.wrong(count, shorten(column), None, "stands twice; keep one of them")


def _take_row(cells: list[str], count: int, sheet: Sheet) -> None:
    wide = len(sheet.columns)
    if len(cells) != wide:
        allowed = f"must have {wide} cells, one for each column name, not {len(cells)}"
        if len(cells) > wide:
            allowed += "; decimals have a point"
        sheet.wrong(count, None, whole(",".join(cells)), allowed)
        return
    sheet.rows.append(Row(count, dict(zip(sheet.columns, cells, strict=True))))
