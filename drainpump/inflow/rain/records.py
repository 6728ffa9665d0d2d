"""A recorded rain series; what is missing is taken for dry only when that is asked for."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

import numpy as np

from drainpump.errors import InputError, UnitError, warn, wrong
from drainpump.foreign import is_among
from drainpump.inflow.rain.hyetograph import Hyetograph
from drainpump.inflow.rain.table import RainWarning
from drainpump.units import FloatArray

if TYPE_CHECKING:
    import pandas as pd


#: share of odd steps above which a series is one of mixed steps and not one with gaps
_MIXED = 0.1
_HOUR = 3600.0
#: steps of one record: 95 years of 5 min
_MOST_STEPS = 10_000_000


def recorded_rain(
    *,
    depth_in: pd.Series | None = None,
    depth_mm: pd.Series | None = None,
    gaps: Literal["refuse", "zero"] = "refuse",
    note: str = "",
) -> Hyetograph:
    """Return a record of rain gauged at even steps.

    Parameters
    ----------
    depth_in, depth_mm : pandas.Series
        Rain fallen in each step, >= 0, indexed by the time the step begins (a
        DatetimeIndex). Exactly one. Times with a zone are told apart where clocks change;
        without one an hour that is repeated at the end of summer time is seen as such.
    gaps : {"refuse", "zero"}, default "refuse"
        What to do with steps or numbers that are missing: refuse them by place, or take
        them for dry, which is warned of and stands in the note.
    note : str, optional
        Where the record comes from.

    Returns
    -------
    Hyetograph
        Its time counts from the record's begin, which ``.begin`` says.

    Raises
    ------
    UnitError, InputError
        No time index, unsorted or repeated times, gaps, mixed steps, rain that is missing or
        negative; each named with its place.

    Warns
    -----
    RainWarning
        Gaps taken for dry, a repeated hour.

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
    if not is_among(gaps, ("refuse", "zero")):
        raise wrong("gaps", gaps, "must be 'refuse' or 'zero'", "pick one of the two")
    name, series = ("depth_in", depth_in) if depth_mm is None else ("depth_mm", depth_mm)
    if not isinstance(series, pd.Series) or not isinstance(series.index, pd.DatetimeIndex):
        raise InputError(
            f"{name}: must be a pandas Series indexed by time (a DatetimeIndex); set the index."
        )
    values = series.to_numpy()
    if values.dtype.kind not in "iuf":
        raise InputError(f"{name}: must hold numbers, not {values.dtype}; convert the series.")
    values = values.astype(np.float64)
    if (values < 0).any():
        i = int(np.argmax(values < 0))
        raise InputError(f"{name}: the rain at {series.index[i]} is negative; correct the record.")
    time, said = _seconds(name, series.index)
    step = _step(name, series.index, time)
    place = np.round((time - time[0]) / step).astype(np.intp)
    if place[-1] >= _MOST_STEPS:
        raise InputError(
            f"{name}: {place[-1] + 1} steps of {step / 60:g} min from {series.index[0]} to "
            f"{series.index[-1]}; must be at most {_MOST_STEPS}, give the record in parts."
        )
    whole = np.full(int(place[-1]) + 1, np.nan)
    whole[place] = values
    missing = np.isnan(whole)
    if missing.any():
        first = int(np.argmax(missing))
        when = series.index[0] + pd.Timedelta(seconds=first * step)
        if gaps == "refuse":
            run = int(np.argmin(np.append(missing[first:], False)))
            raise InputError(
                f"{name}: a gap of {run * step / 60:g} min at {when}, steps being {step / 60:g} "
                "min; correct the record, or say gaps='zero' to take what is missing for dry."
            )
        said.append(f"{missing.sum()} steps missing, the first at {when}, taken for dry")
    for text in said:
        warn(
            f"{name}: {text}.",
            RainWarning,
        )
    whole[missing] = 0.0
    note = "; ".join([note, *said]) if note else "; ".join(said)
    return Hyetograph(
        **{name: whole}, block_min=step / 60, note=note, begin=_written(series.index[0])
    )


def _written(begin: pd.Timestamp) -> str:
    """A moment as ISO 8601 writes it, and its zone's name where it has one."""
    zone = getattr(begin.tzinfo, "key", None)
    return begin.isoformat() + (f"[{zone}]" if zone else "")


def _seconds(name: str, index: pd.DatetimeIndex) -> tuple[FloatArray, list[str]]:
    """Times as seconds that never turn back, and what had to be said of them."""
    if index.size < 2:
        raise InputError(f"{name}: {index.size} times; a record needs two or more.")
    if index.isna().any():
        raise InputError(f"{name}: a time is missing (NaT); correct the index.")
    zoned = index.tz is not None
    known = index.tz_convert("UTC").tz_localize(None) if zoned else index
    time = known.to_numpy().astype("datetime64[ns]").astype(np.int64) / 1e9
    steps, said = np.diff(time), []
    for i in np.flatnonzero(steps <= 0).tolist():
        again = steps[i] + _HOUR
        if zoned or not np.isclose(again, np.median(steps)):
            how = "repeats" if steps[i] == 0 else "comes before"
            raise InputError(
                f"{name}: time {index[i + 1]} {how} {index[i]}; sort the record, each time once."
            )
        # the clock went back an hour, the rain did not
        time[i + 1 :] += _HOUR
        said.append(f"the hour after {index[i]} comes twice, as at the end of summer time")
    return time, said


def _step(name: str, index: pd.DatetimeIndex, time: FloatArray) -> float:
    """Length of the even step in s; longer steps are whole numbers of it."""
    steps = np.diff(time)
    lengths, counts = np.unique(steps, return_counts=True)
    usual = float(lengths[np.argmax(counts)])
    odd = np.abs(steps - usual) > 1e-6 * usual
    if not odd.any():
        return usual
    whole = np.abs(steps / usual - np.round(steps / usual)) < 1e-6
    if whole.all() and odd.mean() <= _MIXED:
        return usual
    i = int(np.argmax(odd))
    raise InputError(
        f"{name}: mixed steps, {usual / 60:g} min and {steps[i] / 60:g} min after {index[i]}; "
        "bring the record to one step first (series.resample(...).sum())."
    )
