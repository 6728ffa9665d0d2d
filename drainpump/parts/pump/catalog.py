"""Reading pump curves from CSV files: three layouts, and every bad row reported at once."""

from __future__ import annotations

import math
import os
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from drainpump import units as u
from drainpump.errors import CatalogError, FileProblem, InputError, wrong
from drainpump.foreign import READ, convert, hint, nearest, stem_of, unit_of
from drainpump.parts import csv_sheet as csv
from drainpump.parts.csv_sheet import Row, Sheet, number, printable, shorten
from drainpump.parts.pump.curve import FACTS, PumpCurve
from drainpump.parts.pump.curve_points import point_problems
from drainpump.parts.pump.printed_table import (
    FLOW_UNITS,
    HEAD_UNITS,
    is_frame,
    sheet_of,
    turn_out,
)
from drainpump.parts.scalars import check_float
from drainpump.results import Frame
from drainpump.units import FloatArray

_MOST_PROBLEMS = 1000
#: problems up to which the nearest names are looked for
_MOST_NEAR = 20
_AT = re.compile(rf"flow_({FLOW_UNITS})_at_([0-9]{{1,4}}(?:\.[0-9]{{1,3}})?)_({HEAD_UNITS})")
_POINTS = {
    column: stem_of(column)
    for column in ("flow_gpm", "flow_lps", "head_ft", "head_m", *READ)
    if stem_of(column) in ("flow", "head")
}
_GUARDS = FACTS | {"price": "not_negative", "best_flow": "flow"}
_FACTS = {
    v.name: _GUARDS[stem_of(v.name)] for v in u.views(PumpCurve) if stem_of(v.name) in _GUARDS
}
_LAYOUTS = (
    "column names not known; name them pump, flow_gpm, head_ft (or flow_lps, head_m), a row for "
    "each point; other layouts and units: help(drainpump.read_curves)"
)


def read_curves(path: str | os.PathLike[str] | Frame) -> list[PumpCurve]:
    """Read pump curves from a folder of CSV files, from one, or from a frame.

    Parameters
    ----------
    path : str or path-like or pandas.DataFrame
        A folder, of which every ``*.csv`` is read in the order of names, or one file; or a
        frame with the columns of one.

    Returns
    -------
    list of PumpCurve
        In the order of files and rows, facts joined by the pump's name.

    Raises
    ------
    CatalogError
        With every problem found: file, row as a spreadsheet counts it, column, value and
        what is allowed.

    Notes
    -----
    Columns are parted by commas, decimals have a point, and the names of the columns say
    the layout:

    ==========  ====================================================================
    points      ``pump, flow_gpm, head_ft`` and, where known, ``power_w``; a row for
                each point, flows rising or falling. A file without ``pump`` holds
                one, named as the file is.
    head first  ``pump, flow_gpm_at_5_ft, flow_gpm_at_10_ft, ...`` and, where known,
                ``shutoff_ft``; a row for each pump, a cell left empty where it does
                not reach the head. As printed: ``flow_gpm_at_head_ft, 0, 5, 10``
                over pump names, ``flow_gpm, 0 ft, 5 ft, 10 ft``, or ``head_ft, 0,
                5, 10`` and ``flow_gpm`` before one row
    facts       ``pump`` and any of ``outlet_in, solids_in, voltage_v, current_a,
                price, on_in, off_in, best_flow_gpm, note``; a row for each pump
    ==========  ====================================================================

    Metric twins: ``flow_lps``, ``head_m``, ``flow_lps_at_2_m``, ``shutoff_m``,
    ``outlet_mm``, ``solids_mm``, ``on_mm``, ``off_mm``, ``best_flow_lps``. A curve's flow may
    also stand in L/min, m³/h or US gal/h (``flow_lpm``, ``flow_m3ph``, ``flow_gph``), its
    points' head in pressure (``head_kpa``, ``head_psi``): they are turned into L/s, gpm, m and
    ft, water weighing 9806.65 N/m³ (the conventional height of water).

    Lines that start with # are comments; the word "invented" in one marks the file's pumps
    as invented.

    References
    ----------
    A. Thompson, B. N. Taylor, *Guide for the Use of the International System of Units*, NIST
    Special Publication 811, 2008, appendix B.8.

    Examples
    --------
    >>> import drainpump as dp
    >>> dp.read_curves("no such folder")
    Traceback (most recent call last):
    ...
    drainpump.errors.CatalogError: 1 problem in the pump data:
      no such folder: no such file or folder; give a folder of CSV files, or one CSV file
    """
    if is_frame(path):
        return _curves([sheet_of(path)], "the frame", [])
    if not isinstance(path, str | os.PathLike) or not isinstance(os.fspath(path), str):
        raise wrong("path", path, "must be the path of a folder or a CSV file")
    problems: list[FileProblem] = []
    return curves_in(csv.files_at(Path(path), problems), str(path), problems)


def curves_in(files: list[Path], named: str, problems: list[FileProblem]) -> list[PumpCurve]:
    """Read pump curves from files; ``problems`` are those of finding them."""
    return _curves(map(csv.read_sheet, files), printable(named), problems)


def _curves(sheets: Iterable[Sheet], named: str, problems: list[FileProblem]) -> list[PumpCurve]:
    """Build the pumps of all sheets, or refuse them with what is wrong anywhere."""
    catalog = _Catalog(problems)
    for sheet in sheets:
        catalog.add(sheet)
    curves = catalog.curves()
    if not curves and not catalog.problems:
        catalog.problems.append(FileProblem(named, None, None, None, "no pump in it; give curves"))
    if catalog.problems:
        rest = len(catalog.problems) - _MOST_PROBLEMS
        shown = catalog.problems[:_MOST_PROBLEMS]
        if rest > 0:
            allowed = f"and {rest} problems more; mend these first"
            shown.append(FileProblem(named, None, None, None, allowed))
        raise CatalogError(shown)
    return curves


@dataclass
class _Draft:
    """A pump as read so far: where it stands, and the keywords that will build it."""

    name: str
    file: str
    row: int
    keywords: dict[str, Any] = field(default_factory=dict)
    turned: list[str] = field(default_factory=list)
    sound: bool = True

    def turn(self, columns: dict[str, FloatArray]) -> None:
        """Keep columns as keywords in units of ours."""
        for column, numbers in columns.items():
            name, ours = convert(column, numbers)
            self.keywords[name] = ours
            self.turned += [f", {column} turned into {name}"] * (name != column)


class _Catalog:
    """All sheets together: pumps and facts by name, and the problems of all."""

    def __init__(self, problems: list[FileProblem]) -> None:
        self.problems = problems
        self.drafts: dict[str, _Draft] = {}
        self.facts: dict[str, _Draft] = {}
        self.unread = False

    def add(self, sheet: Sheet) -> None:
        """Take in one sheet by the layout its column names show."""
        read = self._layout(sheet) if sheet.columns and turn_out(sheet) else None
        if read is None:
            self.unread = True
        else:
            read(sheet)
        self.problems += sorted(sheet.problems, key=lambda problem: problem.row or 0)

    def _layout(self, sheet: Sheet) -> Any:
        """Pick the reader for a sheet, or note why none fits."""
        needed: list[tuple[str, ...]]
        columns = sheet.columns
        if any(_AT.fullmatch(column) for column in columns):
            known = ["pump", "shutoff_ft", "shutoff_m", *filter(_AT.fullmatch, columns)]
            needed, read = [("pump",)], self._head_first
        elif any(column in _POINTS for column in columns):
            known = ["pump", *_POINTS, "power_w"]
            needed = [tuple(c for c in _POINTS if _POINTS[c] == q) for q in ("flow", "head")]
            read = self._points
        elif any(column in _FACTS or column == "note" for column in columns):
            known = ["pump", *_FACTS, "note"]
            needed, read = [("pump",)], self._facts
        else:
            sheet.wrong(sheet.header, None, csv.whole(",".join(columns)), _LAYOUTS)
            known, needed, read = ["pump", *_POINTS], [], None
        self._names(sheet, known, needed, every=read is not None)
        self._one_unit(sheet)
        # rows under bad column names would only repeat the complaint
        return None if any(p.row == sheet.header for p in sheet.problems) else read

    def _names(
        self, sheet: Sheet, known: list[str], needed: list[tuple[str, ...]], *, every: bool
    ) -> None:
        """Note the columns not known, of which some have a mend, and those that are missing."""
        mends = {c: hint(shorten(c), known) for c in sheet.columns if c and c not in known}
        for column, mend in mends.items():
            if column in _FACTS:
                mend = "facts stand in a file of their own, a row for each pump"
            elif mend is None and every:
                mend = f"remove it or rename it; {nearest(column, known)}"
            if mend is not None:
                allowed = f"column not known in this layout; {mend}" if every else mend
                sheet.wrong(sheet.header, shorten(column), None, allowed)
        said = " ".join(filter(None, mends.values()))
        for names in needed:
            # renaming may bring what is missing
            if not any(name in sheet.columns or repr(name) in said for name in names):
                allowed = f"column missing; add {' or '.join(names[:2])}"
                if names == ("pump",):
                    allowed = "column missing; add a column pump, with the pump's name in every row"
                sheet.wrong(sheet.header, names[0], None, allowed)

    def _one_unit(self, sheet: Sheet) -> None:
        """Refuse a quantity that has a column in each of its units."""
        first: dict[str, str] = {}
        for column in dict.fromkeys(sheet.columns):
            if (unit := unit_of(column)) is None or _AT.fullmatch(column):
                continue
            twin = first.setdefault(column.removesuffix(unit.suffix), column)
            if twin != column:
                allowed = f"the same quantity stands in {twin!r}; keep one unit"
                sheet.wrong(sheet.header, column, None, allowed)
        ats = [match for column in sheet.columns if (match := _AT.fullmatch(column))]
        for i, match in enumerate(ats):
            if match[1] != ats[0][1] or match[3] != ats[0][3]:
                allowed = f"units differ from {ats[0][0]!r}; keep one unit of flow and one of head"
                sheet.wrong(sheet.header, match[0], None, allowed)
            elif any(float(match[2]) == float(other[2]) for other in ats[:i]):
                sheet.wrong(sheet.header, match[0], None, "this head stands twice; keep one")

    def _start(self, sheet: Sheet, row: Row, name: str, book: dict[str, _Draft]) -> _Draft:
        """Begin a pump; one named before is noted, and read on only for its own problems."""
        draft = _Draft(name, sheet.file, row.number)
        if (first := book.get(name)) is not None:
            allowed = f"named already in {first.file}, row {first.row}; give each pump once, "
            allowed += "its rows together"
            sheet.wrong(row.number, "pump", name, allowed)
        else:
            book[name] = draft
        return draft

    def _points(self, sheet: Sheet) -> None:
        """Read a table with one row per point."""
        groups: list[tuple[_Draft, list[Row]]] = []
        for row, name in _named(sheet):
            if not groups or groups[-1][0].name != name:
                groups.append((self._start(sheet, row, name, self.drafts), []))
            groups[-1][1].append(row)
        for draft, rows in groups:
            self._one_curve(sheet, draft, rows)

    def _one_curve(self, sheet: Sheet, draft: _Draft, rows: list[Row]) -> None:
        """Check one pump's points and keep them as keywords; some tables fall all the way."""
        before = len(sheet.problems)
        columns = {_POINTS[c]: c for c in sheet.columns if c in _POINTS}
        if any(row.cells.get("power_w") for row in rows):
            columns["power"] = "power_w"
        flows = [number(row.cells[columns["flow"]], columns["flow"], "flow")[0] for row in rows]
        if len(flows) > 1 and bool((np.diff(flows) < 0).all()):
            rows = rows[::-1]
        values = {
            quantity: np.array([sheet.number(row, column, quantity) for row in rows])
            for quantity, column in columns.items()
        }
        for problem in point_problems(values["flow"], values["head"], values.get("power")):
            column, i = columns[problem.quantity], problem.where
            allowed = f"{problem.allowed}; {problem.mend}"
            if i is None:
                sheet.wrong(draft.row, column, None, f"pump {shorten(draft.name)!r}: {allowed}")
            elif not math.isnan(values[problem.quantity][i]):
                # NaN stands for a cell that has been noted already
                sheet.wrong(rows[i].number, column, rows[i].cells[column], allowed)
        draft.sound = len(sheet.problems) == before
        draft.turn({column: values[quantity] for quantity, column in columns.items()})
        draft.keywords |= {"invented": sheet.invented, "origin": "table"}

    def _head_first(self, sheet: Sheet) -> None:
        """Read a table with one row per pump: its flow at each head."""
        ats = [match for column in sheet.columns if (match := _AT.fullmatch(column))]
        # flow rises as head falls
        ats.sort(key=lambda match: -float(match[2]))
        closed = next((c for c in sheet.columns if c.startswith("shutoff_")), None)
        for row, name in _named(sheet):
            draft = self._start(sheet, row, name, self.drafts)
            before = len(sheet.problems)
            given = [match for match in ats if row.cells[match[0]]]
            flow = np.array([sheet.number(row, match[0], "flow") for match in given])
            head = np.array([float(match[2]) for match in given])
            draft.turn({f"flow_{ats[0][1]}": flow, f"head_{ats[0][3]}": head})
            draft.keywords |= {"invented": sheet.invented, "origin": "table"}
            shutoff = None
            if closed is not None and row.cells[closed]:
                shutoff = draft.keywords[closed] = sheet.number(row, closed, "head")
            self._check_row(sheet, row, [match[0] for match in given], (flow, head, shutoff))
            draft.sound = len(sheet.problems) == before

    def _check_row(self, sheet: Sheet, row: Row, columns: list[str], points: Any) -> None:
        """Note what keeps a row of the head-first table from being a curve."""
        flow, head, shutoff = points
        before = "the flow at the next higher head"
        for problem in point_problems(flow, head, shutoff=shutoff, before=before):
            if problem.where is None:
                sheet.wrong(row.number, None, None, f"{problem.allowed}; {problem.mend}")
            elif not math.isnan(flow[problem.where]):
                column = columns[problem.where]
                allowed = f"{problem.allowed}; leave empty what the pump does not reach"
                sheet.wrong(row.number, column, row.cells[column], allowed)
        if shutoff is not None and flow.size and flow[0] == 0:
            allowed = "must be more than 0 beside a shutoff head; leave empty what the pump "
            allowed += "does not reach"
            sheet.wrong(row.number, columns[0], row.cells[columns[0]], allowed)

    def _facts(self, sheet: Sheet) -> None:
        """Read a table of facts, one row per pump; an empty cell is a fact not known."""
        for row, name in _named(sheet):
            draft = self._start(sheet, row, name, self.facts)
            before = len(sheet.problems)
            for column, text in row.cells.items():
                if column == "note" and not text.isprintable():
                    sheet.wrong(row.number, column, text, "must be printable text")
                elif column == "note" and text:
                    draft.keywords["note"] = text
                elif column in _FACTS and text:
                    value = sheet.number(row, column, _FACTS[column])
                    if not math.isnan(value):
                        draft.keywords[column] = value
            try:
                with u.speaking_of(()):
                    check_float(*(_level(draft.keywords, stem) for stem in ("off", "on")))
            except InputError as error:
                sheet.wrong(row.number, None, None, str(error))
            draft.sound = len(sheet.problems) == before

    def curves(self) -> list[PumpCurve]:
        """Join facts to curves and build what is sound."""
        for name, facts in self.facts.items():
            # the curve may stand in a file that could not be read
            if name not in self.drafts and not self.unread:
                allowed = "no curve has this name"
                if not self.drafts:
                    allowed += "; no curve was read"
                elif csv.quotes_freely() and len(self.problems) < _MOST_NEAR:
                    allowed += f"; {shorten(nearest(name, list(self.drafts)))}"
                self.problems.append(
                    FileProblem(facts.file, facts.row, "pump", shorten(name), allowed)
                )
        built = []
        for name, draft in self.drafts.items():
            facts = self.facts.get(name, _Draft(name, draft.file, draft.row))
            if not (draft.sound and facts.sound):
                continue
            where = f"{draft.file}, pump {name!r}{''.join(draft.turned)}"
            try:
                # a unit that was turned is no slip of the pen
                with u.place(where, guess=not draft.turned):
                    built.append(PumpCurve(name=name, **draft.keywords, **facts.keywords))
            except InputError as error:
                said = str(error) if csv.quotes_freely() else error.problems[0].allowed
                self.problems.append(FileProblem(draft.file, draft.row, None, None, said))
        return built


def _named(sheet: Sheet) -> Iterator[tuple[Row, str]]:
    """The rows that name their pump; the others are noted."""
    for row in sheet.rows:
        if (name := sheet.name(row)) is not None:
            yield row, name


def _level(keywords: dict[str, Any], stem: str) -> u.Measure | None:
    """Return a float's level among the facts of a row."""
    given = u.inches(keywords.get(f"{stem}_in"), keywords.get(f"{stem}_mm"))
    return u.maybe(stem, guard="level", **given)
