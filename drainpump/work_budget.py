"""How much work one call may ask for: refused before it begins, with the figure and the mend.

Work is counted in points: one operating point on one run of a line, in one sample. A point takes
about a microsecond and a hundred bytes. A service that answers strangers lowers the budget,
whoever knows their machine raises it; it holds in the thread, or the task, that set it.
"""

from __future__ import annotations

import math
from contextlib import AbstractContextManager
from contextvars import ContextVar

from drainpump.errors import InputError, Problem, within, wrong

_MOST: ContextVar[float] = ContextVar("_MOST", default=50e6)


def budget(points: float) -> AbstractContextManager[None]:
    """Allow each call within so many points, in place of the usual 50 million.

    Parameters
    ----------
    points : float
        > 0; ``inf`` sets no bound. One operating point on one run of a line, in one sample, is
        one; it takes about a microsecond and a hundred bytes.

    Returns
    -------
    context manager

    Notes
    -----
    It holds in the thread or task that says so, and in no other.

    Examples
    --------
    >>> import drainpump as dp
    >>> pump = dp.PumpCurve(name="A", flow_gpm=[0, 30, 50], head_ft=[20, 12.8, 0])
    >>> line = dp.straight_line(pipe=dp.pvc("2"), length_ft=150, lift_ft=6)
    >>> with dp.budget(points=1000):
    ...     dp.band(pump, line, dp.Doubt.usual(), samples=2048)
    Traceback (most recent call last):
    ...
    drainpump.errors.InputError: band: 2048 samples are 2048 points of work: must be at most 1000;
    ask for less at once, or allow more with drainpump.budget(points=...).
    """
    if isinstance(points, bool) or not isinstance(points, int | float) or not points > 0:
        raise wrong("points", points, "must be a number above 0", "say how much a call may do")
    return within(_MOST, points)


def spend(what: str, **counts: float) -> None:
    """Refuse work beyond the budget; each count is named by what it counts.

    >>> spend("band", pumps=2, lines=40, samples=1024)
    """
    counts = {name: min(n, 1e100) for name, n in counts.items()}
    points, most = math.prod(counts.values()), _MOST.get()
    if points > most:
        each = " × ".join(
            f"{n:.0f} {name.replace('_', ' ')}" for name, n in counts.items() if n > 1
        )
        allowed = f"must be at most {most:.0f}"
        mend = "ask for less at once, or allow more with drainpump.budget(points=...)"
        said = f"{what}: {each} are {points:.0f} points of work: {allowed}; {mend}."
        raise InputError(said, problem=Problem("", "budget", points, allowed, mend))
