"""Tables as they are printed, with the heads across the top, and frames: turned into sheets."""

from __future__ import annotations

import re
import sys
from typing import Any, TypeGuard

import numpy as np

from drainpump.parts.csv_sheet import Row, Sheet, shorten
from drainpump.results import Frame

FLOW_UNITS, HEAD_UNITS = "gpm|lps|lpm|m3ph|gph", "ft|m|psi|kpa"
#: what the corner of such a table may say
_CORNER = re.compile(
    rf"flow_({FLOW_UNITS})|flow_({FLOW_UNITS})_at_head_({HEAD_UNITS})|head_({HEAD_UNITS})"
)
_HEAD = re.compile(rf"([0-9]{{1,4}}(?:\.[0-9]{{1,3}})?)(?:\s*({HEAD_UNITS}))?")
#: how a head of feet is printed besides
_FEET = re.compile(r"\s*(feet|ft\.|'|’|′)$")
#: how a table prints that a pump does not reach a head
_NOT_REACHED = ("-", "–", "—", "n/a")
_MOST_CELLS = 2_000_000


def is_frame(thing: object) -> TypeGuard[Frame]:
    """True for a pandas frame; whoever has one has loaded pandas."""
    pandas = sys.modules.get("pandas")
    return pandas is not None and isinstance(thing, pandas.DataFrame)


def turn_out(sheet: Sheet) -> bool:
    """Name the columns of a table with heads across the top as ``flow_gpm_at_5_ft``.

    The corner says the units: ``flow_gph`` over pump names, heads as ``5 ft``;
    ``flow_gph_at_head_ft`` with heads as bare numbers; or ``head_ft``, and ``flow_gph``
    before the one row of flows. False where that was tried in vain.
    """
    if not (corner := _CORNER.fullmatch(sheet.columns[0])) or not any(
        column[:1].isdigit() for column in sheet.columns[1:]
    ):
        return True
    flow, unit = corner[1] or corner[2], corner[3] or corner[4]
    first = sheet.columns[0]
    if flow is None:
        labels = {row.cells[first] for row in sheet.rows}
        named = [re.fullmatch(rf"flow_({FLOW_UNITS})", x.lower()) for x in labels]
        if len(sheet.rows) != 1 or named[0] is None:
            allowed = "heads across the top: give one row, flow_gpm (or another unit of flow) in "
            allowed += "front, or flow_gpm_at_head_ft in the corner and a pump's name in each row"
            sheet.wrong(sheet.header, first, None, allowed)
            return False
        flow = named[0][1]
    columns = {}
    for column in sheet.columns[1:]:
        head = _HEAD.fullmatch(_FEET.sub(" ft", column))
        if head is None or (head[2] or unit) is None:
            allowed = "must be a head such as 5 ft or 1.5 m; decimals have a point"
            sheet.wrong(sheet.header, shorten(column), None, allowed)
            continue
        columns[column] = f"flow_{flow}_at_{head[1]}_{head[2] or unit}"
    if len(columns) < len(sheet.columns) - 1:
        return False
    one = corner[4] is not None  # whose row begins with the flow, not with a name
    rows = []
    for row in sheet.rows:
        cells = {new: row.cells[old] for old, new in columns.items()}
        cells = {new: "" if text in _NOT_REACHED else text for new, text in cells.items()}
        rows.append(Row(row.number, {"pump": sheet.pump if one else row.cells[first]} | cells))
    sheet.columns, sheet.rows = ["pump", *columns.values()], rows
    return True


def sheet_of(frame: Frame) -> Sheet:
    """Read a pandas frame as the sheet that would be written from it."""
    sheet = Sheet("the frame", "A", header=1)
    if frame.size > _MOST_CELLS:
        sheet.wrong(None, None, None, f"must have at most {_MOST_CELLS} cells; split the frame")
        return sheet
    # names of pumps, or heads, may stand in the index
    names = frame.index.names
    besides = [i for i, n in enumerate(names) if n is not None and n not in frame.columns]
    frame = frame.reset_index(besides, allow_duplicates=True)
    sheet.columns = [_cell(column).lower() for column in frame.columns]
    for i, column in enumerate(sheet.columns):
        if not column:
            sheet.wrong(1, None, None, f"column {i + 1} has no name; name it or take it out")
        elif column in sheet.columns[:i]:
            sheet.wrong(1, shorten(column), None, "stands twice; keep one of them")
    for i, values in enumerate(frame.itertuples(index=False, name=None)):
        cells = [_cell(value) for value in values]
        if any(cells):
            sheet.rows.append(Row(i + 2, dict(zip(sheet.columns, cells, strict=True))))
    if not sheet.columns or not sheet.rows:
        sheet.wrong(1, None, None, "no rows below the column names; give at least one")
    return sheet


def _cell(value: Any) -> str:
    """A value as a file would hold it; nothing where none is known."""
    if value is None or (isinstance(value, float | np.floating) and np.isnan(value)):
        return ""
    if isinstance(value, float | np.floating):
        return repr(float(value))
    return "" if str(value) in ("NaT", "<NA>") else str(value).strip()
