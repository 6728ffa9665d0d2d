"""Rain by duration and return period: a table as issued, a fitted formula, nested storms."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from drainpump import units as u
from drainpump.errors import DrainpumpWarning, InputError, UnitError, warn, wrong
from drainpump.inflow.rain.hyetograph import Hyetograph
from drainpump.parts.part import Part
from drainpump.parts.scalars import factor, one_measure, one_number, whole
from drainpump.physics import rain
from drainpump.results import Result
from drainpump.units import FloatArray, View
from drainpump.work_budget import spend

#: share of a depth by which smoothing a kink counts as a change
_KINK = 1e-6
#: longest storm (s) where no length is given
_LONGEST = 86400.0


class RainWarning(DrainpumpWarning):
    """Rain that can be reckoned with, but not quite as it was given."""


class RainDepth(Result):
    """Rain of a duration.

    Attributes
    ----------
    duration_min : float or ndarray
    depth_in, depth_mm : float or ndarray
        What falls in that time; NaN outside the table's durations.
    intensity_in_per_h, intensity_mm_per_h : float or ndarray
        Depth over duration.
    status : str or ndarray of str
        ``ok``, ``outside`` (the table is never extrapolated) or ``bad_input``.
    """

    _duration: FloatArray
    _depth: FloatArray

    duration_min = View("_duration")
    depth_in, depth_mm = View("_depth"), View("_depth")
    intensity_in_per_h, intensity_mm_per_h = View("_intensity"), View("_intensity")

    @property
    def _intensity(self) -> FloatArray:
        return np.asarray(self._depth / self._duration)

    @property
    def _status(self) -> Any:
        outside = np.where(np.isnan(self._depth), "outside", "ok")
        return np.where(np.isnan(self._duration), "bad_input", outside)


class _Rain(Part):
    """What every source of depth by duration can do."""

    _last: FloatArray
    note: str

    def _depth_at(self, time: FloatArray) -> FloatArray:
        raise NotImplementedError

    def at(self, *, duration_min: u.Quantity) -> RainDepth:
        """Return the depth and intensity of a duration.

        Parameters
        ----------
        duration_min : float or array_like, > 0
        """
        time = u.take("duration", guard="positive", min=duration_min).si
        return RainDepth(time, self._depth_at(time))

    def nested_storm(
        self,
        *,
        block_min: u.Quantity,
        peak_block: int | None = None,
        length_min: u.Quantity | None = None,
    ) -> Hyetograph:
        """Return the storm that holds every duration's depth at once.

        Parameters
        ----------
        block_min : float, > 0
            Length of a block, no shorter than the table's shortest duration.
        peak_block : int, optional
            The block, counted from 1, that gets the most; half of the blocks by default.
            The next most goes to its right, then to its left, and so on.
        length_min : float, optional
            Length of the storm, a whole number of blocks; by default as many as the
            table's longest duration holds, or a day of them where that is longer (our
            judgement, no source).

        Returns
        -------
        Hyetograph

        Raises
        ------
        InputError
            Durations outside the table, or a peak outside the storm.
        """
        said, longest = u.Typed(locals()), min(float(self._last), _LONGEST) / 60
        block = said.take("block", "positive").si
        given = said.take("length", "positive", default=("min", longest)).si
        one_number("block_min", block_min, block, "all blocks are alike")
        one_number("length_min", length_min, given, "all storms are of one length")
        count = int(np.floor(float(given / block) + 1e-9))
        if count < 1:
            raise wrong("block_min", block_min, f"must be at most {float(given) / 60:g} min, the "
                        "storm's length", "choose shorter blocks")  # fmt: skip
        spend("nested_storm", blocks=count, points_each=20)
        depth = self._depth_at(np.arange(1, count + 1) * block)
        if np.isnan(depth).any():
            i = int(np.argmax(np.isnan(depth).any(axis=tuple(range(depth.ndim - 1)))))
            raise InputError(
                f"nested_storm: the depth of {float(block) * (i + 1) / 60:g} min is outside the "
                "durations known, and a table is never extrapolated; choose other blocks."
            )
        peak = max(count // 2, 1) if peak_block is None else peak_block
        peak = whole("peak_block", peak, "count blocks from 1", high=count)
        note = f"{self.note}; " if self.note else ""
        note += f"nested, peak in block {peak} of {count}, the next to its right, then left"
        smooth = rain.concave(depth)
        raised = (smooth / depth - 1).max()
        if raised > _KINK:
            i = int(np.argmax((smooth / depth).max(axis=tuple(range(depth.ndim - 1)))))
            note += (
                f"; kinks of the table smoothed, by {raised:.2g} of the depth at most, at "
                f"{float(block) * (i + 1) / 60:g} min"
            )
            depth = smooth
        blocks = rain.nest(depth, int(peak))
        return Hyetograph(depth_mm=blocks * 1e3, block_min=float(block) / 60, note=note)


def problems(time: FloatArray, depth: FloatArray) -> Iterator[tuple[tuple[int, ...], str]]:
    """Yield each place of depths (..., K) over rising durations that cannot be, and why.

    A depth that is missing (NaN) is no problem.
    """
    less = (np.diff(depth, axis=-1, prepend=0.0) < 0) | (depth <= 0)
    for at in np.argwhere(less).tolist():
        yield (
            tuple(at),
            f"at {time[at[-1]] / 60:g} min less has fallen than before it; a longer duration "
            "brings more rain, check that row and the one before",
        )
    if depth.ndim > 1:
        for year, k in np.argwhere(np.diff(depth, axis=0) < 0).tolist():
            yield (
                (year + 1, k),
                "a rarer storm has less rain than the row before it; check the two rows",
            )


class RainTable(_Rain):
    """Depth or intensity by duration, for one return period or several, as issued.

    Parameters
    ----------
    duration_min : array_like, shape (K,)
        Durations, > 0, rising.
    depth_in, depth_mm : array_like, shape (K,) or (Y, K)
        Rain that falls in each, > 0; one row a return period. Either this or the intensity.
    intensity_in_per_h, intensity_mm_per_h : array_like, shape (K,) or (Y, K)
        Mean rate over each duration, >= 0.
    return_year : float or array_like, shape (Y,)
        How rare each row is, > 0, rising; needed where there are several rows.
    note : str, optional
        Where the table comes from: its publisher, volume, place and date.

    Raises
    ------
    UnitError, InputError
        Unsorted durations or return periods, a longer duration with less rain, or a
        rarer storm with less rain.

    Warns
    -----
    RainWarning
        A row that is not concave: a minute more adds more than the one before it, as
        rounding and joined tables bring about. It is taken as issued, and smoothed only in
        a nested storm.

    Notes
    -----
    Between the durations depth is a power of duration (straight on log-log paper); outside
    them nothing is said.

    Examples
    --------
    >>> import drainpump as dp
    >>> rain = dp.inflow.RainTable(duration_min=[5, 10, 30, 60], depth_in=[0.6, 0.93, 1.7, 2.2])
    >>> storm = rain.nested_storm(block_min=10, peak_block=3)
    >>> storm.depth_in.round(2).tolist()
    [0.16, 0.34, 0.93, 0.43, 0.19, 0.14]
    >>> both = dp.inflow.RainTable(
    ...     duration_min=[5, 60], depth_in=[[0.4, 1.4], [0.6, 2.2]], return_year=[2, 10])
    >>> both.at(duration_min=60).depth_in.tolist()
    [1.4, 2.2]
    """

    duration_min = View("_duration")
    depth_in, depth_mm = View("_depth"), View("_depth")
    intensity_in_per_h, intensity_mm_per_h = View("_intensity"), View("_intensity")
    return_year = View("_return")

    def __init__(
        self,
        *,
        duration_min: u.Quantity,
        depth_in: u.Quantity | None = None,
        depth_mm: u.Quantity | None = None,
        intensity_in_per_h: u.Quantity | None = None,
        intensity_mm_per_h: u.Quantity | None = None,
        return_year: u.Quantity | None = None,
        note: str = "",
    ) -> None:
        said = u.Typed(locals())
        self.note = note
        self._duration = said.take("duration", "positive")
        depth, rate = said.maybe("depth", "rain"), said.maybe("intensity", "rain_rate")
        given = depth if depth is not None else rate
        if given is None or (depth is not None and rate is not None):
            raise UnitError(
                "depth and intensity: give exactly one of depth_in, depth_mm, intensity_in_per_h, "
                "intensity_mm_per_h."
            )
        time = self._duration.si
        if time.ndim != 1 or time.size < 2 or given.si.shape[-1:] != time.shape:
            raise InputError(
                f"RainTable: durations of shape {time.shape}, rain of shape {given.si.shape}; give "
                "two lists of one length, two rows or more."
            )
        self._return = said.maybe("return", "positive")
        years = () if self._return is None else self._return.si.shape
        if given.si.ndim > 2 or given.si.shape[:-1] != years:
            raise InputError(
                f"RainTable: rain of shape {given.si.shape}, return_year of shape {years}; give "
                "one row of rain for each return period, or one list and one return period."
            )
        if depth is None:
            depth = u.measure("depth_mm", 1e3 * given.si * time, "mm", "rain")
        self._depth = depth
        self._check(time, depth.si, f"{'depth' if rate is None else 'intensity'}_{given.unit}")

    def _check(self, time: FloatArray, depth: FloatArray, label: str) -> None:
        if np.isnan(time.sum() + depth).any():
            raise InputError("RainTable: a row is missing (NaN); leave the row out.")
        steps = np.diff(time, prepend=0.0)
        if (steps <= 0).any():
            i = int(np.argmax(steps <= 0))
            raise InputError(
                f"duration_min[{i}]: {time[i] / 60:g} min does not come after "
                f"{time[i - 1] / 60:g} min; sort the table by duration, each once.",
                name=f"duration_min[{i}]",
            )
        if depth.ndim > 1 and (np.diff(self._return.si, axis=0) <= 0).any():  # type: ignore[union-attr]
            years = np.asarray(self.return_year).tolist()
            raise wrong("return_year", years, "must rise", "sort the rows")
        for at, allowed in problems(time, depth):
            raise InputError(f"{label}{list(at)}: {allowed}.", name=f"{label}{list(at)}")
        with np.errstate(over="ignore"):
            slope = np.diff(depth, axis=-1, prepend=0.0) / steps
        kinks = np.argwhere(slope[..., 1:] > slope[..., :-1] * (1 + 1e-9))
        if len(kinks):
            *row, i = (int(x) for x in kinks[0])
            where = (*row, i + 1)
            more = f", and {len(kinks) - 1} places more" if len(kinks) > 1 else ""
            warn(
                f"{label}{list(where)}: at {time[i + 1] / 60:g} min the table is not concave (each "
                f"minute more adds {u.text(slope[where], 'in_per_h')}, before it "
                f"{u.text(slope[(*row, i)], 'in_per_h')}){more}; taken as issued, and smoothed "
                "only in a nested storm.",
                RainWarning,
            )

    @property
    def _return_period(self) -> u.Measure | None:
        return self._return

    @property
    def _intensity(self) -> FloatArray:
        return np.asarray(self._depth.si / self._duration.si)

    @property
    def _last(self) -> FloatArray:  # type: ignore[override]
        return np.asarray(self._duration.si[-1])

    def _depth_at(self, time: FloatArray) -> FloatArray:
        return rain.interpolate(time, self._duration.si, self._depth.si)

    def fit(self) -> RainFit:
        """Return the formula i = a/(t + b)^n that comes nearest to a table of one return period."""
        if self._depth.si.ndim > 1:
            raise InputError("fit: the table holds several return periods; give it one.")
        a, b, n = rain.fit(self._duration.si, self._depth.si)
        return RainFit(a_mm_per_h=a * 3.6e6, b_min=b / 60, n=n, length_min=float(self._last) / 60)

    def __str__(self) -> str:
        rare = "" if self._return is None else f", once in {_years(self.return_year)} years"
        first, last = self._duration.si[0] / 60, self._duration.si[-1] / 60
        low, high = self._depth.si[..., 0].min(), self._depth.si[..., -1].max()
        return (
            f"RainTable({self._duration.si.size} durations {first:g} to {last:g} min, "
            f"{u.both(low, 'in')} to {u.both(high, 'in')}{rare}{_source(self.note)})"
        )


def _source(note: str) -> str:
    return f"; {note}" if note else ""


def _years(years: Any) -> str:
    low, high = np.min(years), np.max(years)
    return f"{low:g}" if low == high else f"{low:g} to {high:g}"


class RainFit(_Rain):
    """Intensity by the formula i = a/(t + b)^n, t and b in minutes.

    Parameters
    ----------
    a_in_per_h, a_mm_per_h : float
        Its a, > 0, for an intensity in that unit.
    b_min, n : float
        Its b, >= 0, and its power, 0 < n.
    length_min : float, default 60
        Longest duration it holds for, > 0.
    note : str, optional
        Where the formula comes from.

    Examples
    --------
    >>> import drainpump as dp
    >>> rain = dp.inflow.RainFit(a_in_per_h=56.6, b_min=8.6, n=0.823)
    >>> round(rain.at(duration_min=17).intensity_in_per_h, 3)
    3.925
    """

    a_in_per_h, a_mm_per_h = View("_a"), View("_a")
    b_min = View("_b")
    n = View("_n")

    def __init__(
        self,
        *,
        a_in_per_h: u.Quantity | None = None,
        a_mm_per_h: u.Quantity | None = None,
        b_min: u.Quantity,
        n: Any,
        length_min: u.Quantity = 60.0,
        note: str = "",
    ) -> None:
        self.note = note
        said, mend = u.Typed(locals()), "a formula has one of each"
        self._a = one_measure("a", said.take("a", "positive"), mend)
        self._b = one_measure("b", said.take("b", "not_negative"), mend)
        self._length = one_measure("length", said.take("length", "positive"), mend)
        self._n = factor("n", n, 10.0, "usually 0.5 to 1.2")
        one_number("n", self._n, self._n, mend)

    @property
    def _last(self) -> FloatArray:  # type: ignore[override]
        return self._length.si

    def _depth_at(self, time: FloatArray) -> FloatArray:
        depth = rain.fitted_depth(time, self._a.si, self._b.si, self._n)
        return np.where(time > self._last * (1 + 1e-9), np.nan, depth)

    def __str__(self) -> str:
        a = float(self._a.get("in_per_h"))
        return (
            f"RainFit({a:g} in/h / (t + {self.b_min:g} min)^{float(self._n):g}{_source(self.note)})"
        )
