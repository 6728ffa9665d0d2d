"""The events of a record by date: what a homeowner remembers."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from drainpump import units as u
from drainpump.errors import InputError, wrong
from drainpump.inflow.rain.hyetograph import Hyetograph
from drainpump.parts.scalars import one_measure
from drainpump.results import Result, check_units
from drainpump.units import FloatArray, View

if TYPE_CHECKING:
    import pandas as pd


#: what is remembered of a storm at the pit, by the routing's attribute
_REMEMBERED = ("peak_pond", "pond_min", "starts", "overflow", "peak_depth", "weakest", "status")


class RainEvents(Result):
    """The events of a record, parted by dry spells.

    Attributes
    ----------
    begin : tuple of pandas.Timestamp
        When each began, by the clock; a Timedelta from the record's begin where the clock is
        not known.
    time_min, duration_min : ndarray, shape (E,)
        When it began, from the record's begin, and how long it lasted.
    depth_in, depth_mm : ndarray, shape (E,)
        Rain of the event.
    intensity_in_per_h, intensity_mm_per_h : ndarray, shape (E,)
        Of its heaviest block.
    storms : Hyetograph
        The events side by side on the leading axis, dry behind the shorter ones.
    """

    begin: tuple[pd.Timestamp | pd.Timedelta, ...]
    _time: FloatArray
    _duration: FloatArray
    _depth: FloatArray
    _intensity: FloatArray
    storms: Hyetograph

    time_min, duration_min = View("_time"), View("_duration")
    depth_in, depth_mm = View("_depth"), View("_depth")
    intensity_in_per_h, intensity_mm_per_h = View("_intensity"), View("_intensity")

    @property
    def _status(self) -> Any:
        return np.full(self._depth.shape, "ok")

    def _columns(self, units: u.System) -> dict[str, Any]:
        return {"begin": np.array(self.begin, dtype=object), **super()._columns(units)}

    def to_dict(self) -> dict[str, Any]:
        """Return plain Python values; moments as ISO 8601 writes them."""
        return {"begin": [str(moment) for moment in self.begin], **super().to_dict()}

    def beside(self, result: Result, units: u.System = "us") -> pd.DataFrame:
        """Return the events with what a result for the same storms tells of each.

        Parameters
        ----------
        result : Routing, BranchFlow or another result of one element an event
            What ``route`` answers for the storms' inflow.
        units : {"us", "metric"}

        Returns
        -------
        pandas.DataFrame
            A row an event: begin, depth, peak intensity; pond, minutes and starts.

        Raises
        ------
        InputError
            A result of another number of elements.
        """
        frame = self.to_frame(check_units(units)).drop(columns=["axis_0", "status"])
        told = result.to_frame(units)
        if len(told) != len(frame):
            raise InputError(
                f"result: {len(told)} elements for {len(frame)} events; give the answer for "
                "events.storms, one pump, line and pit."
            )
        for name in told.columns:
            unit = u.suffix_of(name)
            stem = name if unit in (None, "min") else name.removesuffix(f"_{unit}")
            if stem in _REMEMBERED:
                frame[name] = told[name].to_numpy()
        return frame


def rain_events(
    record: Hyetograph,
    *,
    dry_h: u.Quantity = 6.0,
    least_in: u.Quantity | None = None,
    least_mm: u.Quantity | None = None,
) -> RainEvents:
    """Return the events of a record: rain between dry spells.

    Parameters
    ----------
    record : Hyetograph
        One record, as `read_recorded_rain` and `recorded_rain` give it.
    dry_h : float, default 6
        Dry spell that parts two events, > 0; common practice, no source. A pit is taken to
        be at rest again after it.
    least_in, least_mm : float, default 0.1 in
        Events with less rain are left out; our judgement, no source.

    Returns
    -------
    RainEvents

    Raises
    ------
    UnitError, InputError
        Bad units or values, several records side by side, no event.

    Examples
    --------
    >>> import drainpump as dp
    >>> record = dp.inflow.Hyetograph(
    ...     depth_in=[0, 0.2, 0.4] + [0] * 8 + [0.3, 0], block_min=60, begin="2001-05-01T10:00")
    >>> events = dp.inflow.rain_events(record)
    >>> [str(begin) for begin in events.begin], events.depth_in.round(6).tolist()
    (['2001-05-01 11:00:00', '2001-05-01 21:00:00'], [0.6, 0.3])
    """
    if not isinstance(record, Hyetograph):
        raise wrong("record", record, "must be a Hyetograph", "see read_recorded_rain")
    rain, block = record.si.depth, float(record.si.block)
    if rain.ndim != 1:
        raise InputError(f"record: rain of shape {rain.shape}; give one record.")
    said = u.Typed(locals())
    dry = one_measure("dry", said.take("dry", "positive"), "give the hours that part two events")
    given = said.take("least", "rain", default=("in", 0.1))
    one_measure("least", given, "give the least rain of an event")
    wet = np.flatnonzero(rain > 0)
    parted = np.diff(wet) - 1 >= float(dry.si) / block * (1 - 1e-9)
    first = wet[np.concatenate([[True], parted])] if wet.size else wet
    last = wet[np.concatenate([parted, [True]])] if wet.size else wet
    fallen = np.concatenate([[0.0], np.cumsum(rain)])
    kept = fallen[last + 1] - fallen[first] >= float(given.si) * (1 - 1e-9)
    first, last = first[kept], last[kept]
    if not first.size:
        raise InputError(
            f"record: no event of {u.text(given.si, 'in')} of rain or more; give a smaller "
            "least_in."
        )
    longest = int((last - first).max()) + 1
    place = first[:, None] + np.arange(longest)
    depth = np.where(place <= last[:, None], rain[np.minimum(place, rain.size - 1)], 0.0)
    storms = Hyetograph(
        depth_mm=u.from_si(depth, "mm"), block_min=block / 60,
        note=f"events of {record.note}" if record.note else "events of a record",
    )  # fmt: skip
    import pandas as pd

    begin = float(record.si.start[0]) + first * block
    clock = record.si.clock(first * block)
    return RainEvents(
        tuple(pd.to_timedelta(begin, unit="s") if clock is None else clock), begin,
        (last - first + 1) * block, depth.sum(axis=-1), depth.max(axis=-1) / block, storms,
    )  # fmt: skip
