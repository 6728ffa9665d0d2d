"""The candidates of a choice as a plain table."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from drainpump import units as u
from drainpump.choose.candidate import Candidate
from drainpump.findings import Finding


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
    verdicts = [_verdict(c) for c in candidates]
    ranks = [str(c.rank) for c in candidates]
    return _align([("#", ranks), *_columns(candidates, units), ("verdict", verdicts)])


def needs_table(rows: Sequence[tuple[Any, Candidate]], units: u.System = "us") -> str:
    """Lay out the best candidate of each need (m³/s), or the nearest miss where none serves."""
    unit, how = ("gpm", ".1f") if units == "us" else ("lps", ".2f")
    needs = [_number(float(u.from_si(need, unit)), how) for need, _ in rows]
    best = [c for _, c in rows]
    first = best[0].cost
    more = [
        ""
        if i == 0 or first is None or c.cost is None or not c.accepted
        else format(c.cost - first, "+.0f")
        for i, c in enumerate(best)
    ]
    missed = ["" if c.accepted else f"nothing serves; nearest: {c.change}" for c in best]
    return _align(
        [
            (f"need, {u.UNITS[unit].label}", needs),
            *_columns(best, units),
            ("more", more),
            ("verdict", [m or _verdict(c) for m, c in zip(missed, best, strict=True)]),
        ]
    )


def _columns(candidates: Sequence[Candidate], units: u.System) -> list[tuple[str, Sequence[str]]]:
    """What each candidate is and does, by the heads of the columns."""
    us = units == "us"
    flow, how, deep = ("gpm", ".1f", "in") if us else ("L/s", ".2f", "mm")
    low = [_number(c.flow_low_gpm if us else c.flow_low_lps, how) for c in candidates]
    middle = [_number(c.flow_gpm if us else c.flow_lps, how) for c in candidates]
    high = [_number(c.flow_high_gpm if us else c.flow_high_lps, how) for c in candidates]
    pond = [_number(c.peak_pond_in if us else c.peak_pond_mm, ".2f") for c in candidates]
    return [
        ("pump", [c.pump.name for c in candidates]),
        ("line", [c.line.name for c in candidates]),
        ("pit", _pits(candidates)),
        (f"flow, {flow}", middle),
        ("P10 to P90", [a and f"{a} to {b}" for a, b in zip(low, high, strict=True)]),
        ("probability", [_number(c.probability, ".3f") for c in candidates]),
        ("cost", [_number(c.cost, ".0f") for c in candidates]),
        (f"pond, {deep}", pond),
        ("pond, min", [_number(c.pond_min, ".0f") for c in candidates]),
        ("dry up to, years", [_dry(c) for c in candidates]),
        ("starts/h", [_number(c.worst_starts_per_h, ".0f") for c in candidates]),
    ]


def _pits(candidates: Sequence[Candidate]) -> list[str]:
    """Which pit each is in, by its place among those given; nothing where there is one."""
    known = {c.number for c in candidates}
    return ["" if len(known) < 2 else f"{c.number}" for c in candidates]


def _dry(c: Candidate) -> str:
    bound = {"below": "< ", "beyond": "> "}.get(c.dry_status, "")
    return "" if c.dry_up_to_year is None else f"{bound}{c.dry_up_to_year:.3g}"


def _number(value: Any, how: str) -> str:
    if value is None:
        return ""
    return "-" if np.isnan(value) else format(value, how)


def _verdict(c: Candidate) -> str:
    said = "accepted" if c.accepted else _codes(c.reasons)
    return f"{said} (warns: {_codes(c.warnings)})" if c.warnings else said


def _codes(found: Sequence[Finding]) -> str:
    return ", ".join(f.code.replace("_", " ") for f in found)


def _align(columns: Sequence[tuple[str, Sequence[str]]]) -> str:
    """Columns under their heads, words to the left; what was not asked has no column."""
    told = [(head, [head, *cells]) for head, cells in columns if any(cells)]
    wide = [
        [cell.ljust(w) if head in ("pump", "line", "verdict") else cell.rjust(w) for cell in cells]
        for head, cells in told
        for w in [max(map(len, cells))]
    ]
    return "\n".join("  ".join(row).rstrip() for row in zip(*wide, strict=True))
