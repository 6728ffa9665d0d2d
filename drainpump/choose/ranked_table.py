"""The candidates of a choice as a plain table."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from drainpump import units as u
from drainpump.choose.candidate import Candidate
from drainpump.findings import Finding

__all__ = ["ranked_table"]


def ranked_table(candidates: Sequence[Candidate], units: u.System = "us") -> str:
    """Lay the candidates out as a plain table, units in its head.

    Parameters
    ----------
    candidates : sequence of Candidate
    units : {"us", "metric"}, default "us"

    Returns
    -------
    str
    """
    flow = "gpm" if units == "us" else "lps"
    deep = "in" if units == "us" else "mm"
    columns: list[tuple[str, Sequence[str]]] = [
        ("#", [str(c.rank) for c in candidates]),
        ("pump", [c.pump.name for c in candidates]),
        ("line", [c.line.name for c in candidates]),
        ("pit", _pits(candidates)),
        (f"flow, {u.UNITS[flow].label}", [_cell(c.si.flow, flow) for c in candidates]),
        ("P10 to P90", [_band(c, flow) for c in candidates]),
        ("probability", [_number(c.probability, ".3f") for c in candidates]),
        ("cost", [_number(c.cost, ".0f") for c in candidates]),
        (f"pond, {u.UNITS[deep].label}", [_number(_in(c, deep), ".2f") for c in candidates]),
        ("pond, min", [_number(c.pond_min, ".0f") for c in candidates]),
        ("dry up to, years", [_dry(c) for c in candidates]),
        ("starts/h", [_number(c.worst_starts_per_h, ".0f") for c in candidates]),
        ("verdict", [_verdict(c) for c in candidates]),
    ]
    # what was not asked has no column
    told = [(head, cells) for head, cells in columns if any(cells)]
    return _align([[head for head, _ in told], *zip(*(cells for _, cells in told), strict=True)])


def _cell(si: float, unit: str) -> str:
    value = float(u.from_si(si, unit))
    return "-" if np.isnan(value) else f"{value:.{1 if unit == 'gpm' else 2}f}"


def _pits(candidates: Sequence[Candidate]) -> list[str]:
    """Which pit each is in, by its place among those given; nothing where there is one."""
    known = {c.number for c in candidates}
    return ["" if len(known) < 2 else f"{c.number}" for c in candidates]


def _in(c: Candidate, unit: str) -> float | None:
    depth = c.si.peak_depth
    return None if depth is None else float(u.from_si(depth, unit))


def _dry(c: Candidate) -> str:
    bound = {"below": "< ", "beyond": "> "}.get(c.dry_status, "")
    return "" if c.dry_up_to_year is None else f"{bound}{c.dry_up_to_year:.3g}"


def _band(c: Candidate, unit: str) -> str:
    low, high = c.si.low, c.si.high
    return "" if low is None else f"{_cell(low, unit)} to {_cell(high, unit)}"


def _number(value: Any, how: str) -> str:
    if value is None:
        return ""
    return "-" if np.isnan(value) else format(value, how)


def _verdict(c: Candidate) -> str:
    said = "accepted" if c.accepted else _codes(c.reasons)
    return f"{said} (warns: {_codes(c.warnings)})" if c.warnings else said


def _codes(found: Sequence[Finding]) -> str:
    return ", ".join(f.code.replace("_", " ") for f in found)


def _align(rows: Sequence[Sequence[str]]) -> str:
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    words = {"pump", "line", "verdict"}
    return "\n".join(
        "  ".join(
            cell.ljust(w) if rows[0][i] in words else cell.rjust(w)
            for i, (cell, w) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in rows
    )
