"""Tests that could tell causes apart: what each cause would make them read."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from drainpump import units as u
from drainpump.field.faults import TABLE, Site, beside_leak
from drainpump.results import html_lines
from drainpump.solve.operating_point import solve_arrays
from drainpump.units import FloatArray

__all__ = ["NextTest", "candidates"]

# One-sigma of a careful reading of each kind: our own judgement (common practice, no
# source). The drawdown's is that of 7 in of an 18 in pit in about 14 s.
_DRAWDOWN_SHARE = 0.068
_BUCKET_SHARE = 0.04
_GAUGE_FT = 0.7
_LIFT_FT = 0.1


@dataclass(frozen=True, eq=False)
class NextTest:
    """A test, its error, and what each cause would make it read.

    Attributes
    ----------
    name : str
    how : str
        What to do.
    power : float
        Chance, over pairs of causes weighed by their plausibility, of naming the right one
        of the two from one reading: 0 where it tells nothing, 1 where it settles all.
    unit : str
        Of the readings, in US units: ``gpm`` or ``ft``.
    """

    name: str
    how: str
    unit: str
    _predicted: FloatArray  # per cause, SI
    _sigma: float
    power: float = 0.0

    @property
    def readings(self) -> dict[str, float]:
        """What each cause would make the test read, in ``unit``."""
        values = np.atleast_1d(u.from_si(self._predicted, self.unit))
        return {c.name: float(x) for c, x in zip(TABLE, values, strict=True)}

    def _repr_html_(self) -> str:
        return html_lines(str(self))

    def __str__(self) -> str:
        said = ", ".join(
            f"{name} {u.number(x)}" for name, x in self.readings.items() if np.isfinite(x)
        )
        label = u.UNITS[self.unit].label
        sigma = u.both(self._sigma, self.unit)
        return f"{self.name} ({self.how}); error {sigma}; would read, in {label}: {said}"


def candidates(
    site: Site, sizes: FloatArray, pit: FloatArray, head: FloatArray, shutoff: FloatArray
) -> list[NextTest]:
    """Return every test with its predictions, one per cause."""
    foot = float(u.to_si(1.0, "ft"))
    lift = float(site.line._lift)
    names = [cause.name for cause in TABLE]
    rises = np.where([n == "extra lift" for n in names], lift + sizes, lift)
    rises = np.where(np.isnan(sizes), np.nan, rises)
    tests = [
        NextTest(
            "drawdown", "time the fall of the pit between two levels with the inflow stopped or "
            "measured", "gpm", pit, _DRAWDOWN_SHARE * site.expected,
        ),
        NextTest(
            "gauge at the pump", "read the pressure at the pump's outlet while it runs", "ft",
            head, _GAUGE_FT * foot,
        ),
        NextTest(
            "gauge with the valve shut", "read it with the valve past it shut, for a few seconds "
            "only and where the pipe stands that pressure", "ft", shutoff, _GAUGE_FT * foot,
        ),
        NextTest(
            "lift by level", "measure the outlet's height above the pump-off water with a level",
            "ft", rises, _LIFT_FT * foot,
        ),
        NextTest(
            "bucket with the lid off", "take the lid off the outlet and time a bucket", "gpm",
            _without_lid(site, sizes), _BUCKET_SHARE * site.expected,
        ),
    ]  # fmt: skip
    return tests


def _without_lid(site: Site, sizes: FloatArray) -> FloatArray:
    """Flow with the lid off under each cause, m³/s."""
    flows = []
    for cause, size in zip(TABLE, sizes, strict=True):
        if np.isnan(size):
            flows.append(np.nan)
            continue
        pump, line, leak = cause.alter(site, np.asarray(size))
        bare = line.without("lid", "orifice")
        # a leak stays near to what it was: the pump runs at nearly the same head
        if leak:
            flows.append(float(beside_leak(pump, bare, leak)))
        else:
            flows.append(float(solve_arrays(pump, bare).si.reckoned))
    return np.array(flows)
