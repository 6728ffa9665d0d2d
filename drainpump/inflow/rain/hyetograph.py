"""Rain over time: the hyetograph, in blocks, and the 24-hour design storms of the NRCS."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import numpy as np

from drainpump import units as u
from drainpump.errors import wrong
from drainpump.inflow.series import even_edges, known_along_time, over_time
from drainpump.parts.part import Part
from drainpump.physics import rain
from drainpump.results import Frame, check_units
from drainpump.units import FloatArray, View
from drainpump.work_budget import spend

if TYPE_CHECKING:
    import pandas as pd


class Hyetograph(Part):
    """Rain in equal blocks of time.

    Parameters
    ----------
    depth_in, depth_mm : array_like, shape (..., n)
        Rain that falls in each block, >= 0. Exactly one. Leading axes are storms side
        by side.
    block_min : float, > 0
        Length of every block. Either this or ``time_min``.
    time_min : array_like, shape (n,)
        When each block begins, evenly spaced.
    note : str, optional
        Where the rain comes from.
    begin : str, optional
        By the clock, as ISO 8601 writes it, with the zone's name in brackets where it is known
        (RFC 9557): ``"2001-05-01T14:00-05:00[America/Chicago]"``.

    Raises
    ------
    UnitError, InputError
        Rain that is missing or negative, times unsorted or unevenly spaced.

    Examples
    --------
    >>> import drainpump as dp
    >>> rain = dp.inflow.Hyetograph(depth_in=[0.1, 0.4, 0.2], block_min=10)
    >>> round(rain.total_in, 6), rain.intensity_in_per_h.tolist()
    (0.7, [0.6, 2.4, 1.2])
    """

    depth_in, depth_mm = View("_depth"), View("_depth")
    intensity_in_per_h, intensity_mm_per_h = View("_intensity"), View("_intensity")
    total_in, total_mm = View("_total"), View("_total")
    block_min = View("_block")
    time_min, end_min = View("_start"), View("_end")

    def __init__(
        self,
        *,
        depth_in: u.Quantity | None = None,
        depth_mm: u.Quantity | None = None,
        block_min: u.Quantity | None = None,
        time_min: u.Quantity | None = None,
        note: str = "",
        begin: str | None = None,
    ) -> None:
        self._depth = u.Typed(locals()).take("depth", "rain")
        self.note = note
        self.begin = begin
        if begin is not None:
            _moment(begin)
        known = known_along_time(f"depth_{self._depth.unit}", self._depth.si)
        self._edges = u.frozen(even_edges(known, block_min, time_min))

    @property
    def _start(self) -> FloatArray:
        return np.asarray(self._edges[:-1])

    @property
    def _end(self) -> FloatArray:
        return np.asarray(self._edges[-1])

    @property
    def _block(self) -> FloatArray:
        return np.asarray(self._edges[1] - self._edges[0])

    @property
    def _intensity(self) -> FloatArray:
        return np.asarray(self._depth.si / self._block)

    @property
    def _total(self) -> FloatArray:
        return np.asarray(self._depth.si.sum(axis=-1))

    def _clock(self, seconds: FloatArray) -> pd.DatetimeIndex | None:
        """The moments by the clock so many seconds after the begin, where that is known."""
        if self.begin is None:
            return None
        import pandas as pd

        return _moment(self.begin) + pd.to_timedelta(seconds, unit="s")

    def reversed(self) -> Hyetograph:
        """Return the same storm with its blocks in reverse order."""
        return Hyetograph(
            depth_mm=u.from_si(self._depth.si[..., ::-1], "mm"),
            block_min=self.block_min,
            note=self.note,
            begin=self.begin,
        )

    def to_frame(self, units: u.System = "us") -> Frame:
        """Return one row per block: when it begins, its depth and intensity."""
        unit = "in" if check_units(units) == "us" else "mm"
        return over_time(
            self.time_min,
            {
                f"depth_{unit}": np.asarray(u.from_si(self._depth.si, unit)),
                f"intensity_{unit}_per_h": np.asarray(u.from_si(self._intensity, f"{unit}_per_h")),
            },
        )

    def __str__(self) -> str:
        return (
            f"Hyetograph({self._depth.si.shape[-1]} blocks of {self.block_min:g} min, "
            f"{u.both(self._total, 'in')}" + (f"; {self.note})" if self.note else ")")
        )


def nrcs_storm(
    kind: rain.NrcsKind,
    *,
    depth_in: u.Quantity | None = None,
    depth_mm: u.Quantity | None = None,
    block_min: u.Quantity = 6.0,
) -> Hyetograph:
    """Return a 24-hour storm of an NRCS distribution.

    Parameters
    ----------
    kind : {"I", "IA", "II", "III"}
        The region's distribution.
    depth_in, depth_mm : float or array_like
        Rain of the 24 hours. Exactly one; an array is storms side by side.
    block_min : float, default 6
        Length of a block; 24 hours hold a whole number of them. The ordinates are a tenth
        of an hour apart (type IA half an hour), linear between. Blocks longer than a
        catchment's time of concentration hide the peak.

    Returns
    -------
    Hyetograph

    Raises
    ------
    UnitError, InputError
        Bad units or values.

    References
    ----------
    USDA NRCS (SCS), 24-h rainfall distributions; the table ``physics/data/nrcs_24h.csv`` says
    how surely we have it.

    Examples
    --------
    >>> import drainpump as dp
    >>> storm = dp.inflow.nrcs_storm("II", depth_in=4)
    >>> storm.depth_in.size, round(storm.total_in, 6), storm.depth_in.argmax().item()
    (240, 4.0, 118)
    """
    said = u.Typed(locals())
    depth, block = said.take("depth", "rain").si, said.take("block", "positive").si
    count = np.round(86400.0 / np.maximum(block, 1e-6))
    if block.ndim or not abs(count * block - 86400.0) <= 1e-6:
        raise wrong("block_min", block_min, "must divide 24 hours", "e.g. 5, 6 or 15 min")
    spend("nrcs_storm", storms=depth.size, blocks=float(count))
    share = np.diff(rain.nrcs_share(kind, np.linspace(0.0, 86400.0, int(count) + 1)))
    return Hyetograph(
        depth_mm=1e3 * depth[..., None] * share,
        block_min=float(block) / 60,
        note=f"NRCS type {kind}, 24 h",
    )


def _moment(begin: str) -> pd.Timestamp:
    """Read a moment as ISO 8601 writes it, in its zone."""
    import pandas as pd

    text, _, zone = begin.partition("[") if isinstance(begin, str) else ("", "", "")
    try:
        moment = pd.Timestamp(datetime.fromisoformat(text))
        return moment.tz_convert(ZoneInfo(zone.removesuffix("]"))) if zone else moment
    except (ValueError, TypeError, ZoneInfoNotFoundError, OverflowError):
        allowed = "must be a moment as ISO 8601 writes it, its zone's name in brackets"
        mend = "e.g. '2001-05-01T14:00-05:00[America/Chicago]'"
        raise wrong("begin", begin, allowed, mend) from None
