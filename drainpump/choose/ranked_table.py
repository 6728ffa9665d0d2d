"""The candidates of a choice as a plain table."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from drainpump import units as u
from drainpump.choose.candidate import Candidate

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
    flow, head, speed = ("gpm", "ft", "fps") if units == "us" else ("lps", "m", "mps")
    said = (("flow", flow), ("head", head), ("fastest", speed))
    heads = ["#", "pump", "line", *(f"{word}, {u.UNITS[x].label}" for word, x in said), "verdict"]
    rows = [heads] + [
        [
            str(c.rank),
            c.pump.name,
            c.line.name,
            _cell(c._flow, flow),
            _cell(c._head, head),
            _cell(c._fastest, speed),
            "accepted" if c.accepted else ", ".join(r.code.replace("_", " ") for r in c.reasons),
        ]
        for c in candidates
    ]
    return _align(rows)


def _cell(si: float, unit: str) -> str:
    value = float(u.from_si(si, unit))
    return "-" if np.isnan(value) else f"{value:.1f}"


def _align(rows: Sequence[Sequence[str]]) -> str:
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    numeric = {0, 3, 4, 5}
    return "\n".join(
        "  ".join(
            cell.rjust(w) if i in numeric else cell.ljust(w)
            for i, (cell, w) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in rows
    )
