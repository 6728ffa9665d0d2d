"""A recorded rain series, with everything refused that would be filled in by guessing."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from drainpump.errors import InputError, UnitError
from drainpump.inflow.storm import Hyetograph

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["recorded_rain"]

#: share of odd steps above which a series is one of mixed steps and not one with gaps
_MIXED = 0.1


def recorded_rain(
    *, depth_in: pd.Series | None = None, depth_mm: pd.Series | None = None, note: str = ""
) -> Hyetograph:
    """Return a record of rain gauged at even steps.

    Parameters
    ----------
    depth_in, depth_mm : pandas.Series
        Rain fallen in each step, >= 0, indexed by the time the step begins (a
        DatetimeIndex without time zone). Exactly one.
    note : str, optional
        Where the record comes from.

    Returns
    -------
    Hyetograph
        Its time counts from the record's begin.

    Raises
    ------
    UnitError, InputError
        No time index, a time zone, unsorted or repeated times, gaps, mixed steps, rain
        that is missing or negative; each named with its place. Nothing is filled in.

    Examples
    --------
    >>> import pandas as pd
    >>> import drainpump as dp
    >>> times = pd.date_range("2001-05-01", periods=3, freq="5min")
    >>> dp.inflow.recorded_rain(depth_mm=pd.Series([0.2, 1.4, 0.0], index=times)).total_mm
    1.6
    """
    import pandas as pd

    if (depth_in is None) == (depth_mm is None):
        raise UnitError("depth: give exactly one of depth_in, depth_mm.")
    name, series = ("depth_in", depth_in) if depth_mm is None else ("depth_mm", depth_mm)
    if not isinstance(series, pd.Series) or not isinstance(series.index, pd.DatetimeIndex):
        raise InputError(
            f"{name}: must be a pandas Series indexed by time (a DatetimeIndex); set the index."
        )
    index = series.index
    if index.tz is not None:
        raise InputError(
            f"{name}: its times have the time zone {index.tz}; an hour is lost or doubled where "
            "clocks change. Convert first: series.tz_convert('UTC').tz_localize(None)."
        )
    step = _step(name, index)
    values = series.to_numpy()
    if values.dtype.kind not in "iuf":
        raise InputError(f"{name}: must hold numbers, not {values.dtype}; convert the series.")
    values = values.astype(np.float64)
    for bad, what, mend in (
        (np.isnan(values), "is missing", "fill the gap or cut the record there"),
        (values < 0, "is negative", "correct the record"),
    ):
        if bad.any():
            i = int(np.argmax(bad))
            raise InputError(f"{name}: the rain at {index[i]} {what}; {mend}.")
    return Hyetograph(**{name: values}, block_min=step / 60, note=note)


def _step(name: str, index: Any) -> float:
    """Length of the even step in s."""
    if index.size < 2:
        raise InputError(f"{name}: {index.size} times; a record needs two or more.")
    if index.isna().any():
        raise InputError(f"{name}: a time is missing (NaT); correct the index.")
    steps = np.diff(index.to_numpy()).astype("timedelta64[ns]").astype(np.int64) / 1e9
    if (steps <= 0).any():
        i = int(np.argmax(steps <= 0))
        how = "repeats" if steps[i] == 0 else "comes before"
        raise InputError(
            f"{name}: time {index[i + 1]} {how} {index[i]}; sort the record, each time once."
        )
    lengths, counts = np.unique(steps, return_counts=True)
    usual = float(lengths[np.argmax(counts)])
    odd = np.abs(steps - usual) > 1e-6 * usual
    if not odd.any():
        return usual
    i = int(np.argmax(odd))
    whole = np.abs(steps / usual - np.round(steps / usual)) < 1e-6
    if whole.all() and odd.mean() <= _MIXED:
        raise InputError(
            f"{name}: a gap of {steps[i] / 60:g} min after {index[i]}, steps being "
            f"{usual / 60:g} min; fill it (with 0 where it was dry) or cut the record there."
        )
    raise InputError(
        f"{name}: mixed steps, {usual / 60:g} min and {steps[i] / 60:g} min after {index[i]}; "
        "bring the record to one step first (series.resample(...).sum())."
    )
