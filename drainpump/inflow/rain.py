"""Rain that may come: a table by duration, a fitted formula, the NRCS storms, a record."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from drainpump import units as u
from drainpump.errors import InputError, UnitError, wrong
from drainpump.inflow.storm import Hyetograph
from drainpump.parts.part import Part
from drainpump.parts.scalars import factor, one_number, whole
from drainpump.physics import rain
from drainpump.results import Result
from drainpump.units import FloatArray, View

if TYPE_CHECKING:
    import os

__all__ = ["RainDepth", "RainFit", "RainTable", "nrcs_storm", "read_rain"]


@dataclass(frozen=True, eq=False, repr=False)
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

    def _depth_at(self, time: FloatArray) -> FloatArray:
        raise NotImplementedError

    def at(self, *, duration_min: Any) -> RainDepth:
        """Return the depth and intensity of a duration.

        Parameters
        ----------
        duration_min : float or array_like, > 0
        """
        time = u.take("duration", guard="positive", min=duration_min).si
        return RainDepth(time, self._depth_at(time))

    def nested_storm(
        self, *, block_min: Any, peak_block: int | None = None, length_min: Any = None
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
            table's longest duration holds.

        Returns
        -------
        Hyetograph

        Raises
        ------
        InputError
            Durations outside the table, or a peak outside the storm.
        """
        block = u.take("block", guard="positive", min=block_min).si
        given = u.take(
            "length", guard="positive", default=("min", float(self._last / 60)), min=length_min
        ).si
        one_number("block_min", block_min, block, "all blocks are alike")
        one_number("length_min", length_min, given, "all storms are of one length")
        count = int(np.floor(float(given / block) + 1e-9))
        if count < 1:
            raise wrong("block_min", block_min, f"must be at most {float(given) / 60:g} min, the "
                        "storm's length", "choose shorter blocks")  # fmt: skip
        depth = self._depth_at(np.arange(1, count + 1) * block)
        if np.isnan(depth).any():
            i = int(np.argmax(np.isnan(depth)))
            raise InputError(
                f"nested_storm: the depth of {float(block) * (i + 1) / 60:g} min is outside the "
                "durations known, and a table is never extrapolated; choose other blocks."
            )
        peak = max(count // 2, 1) if peak_block is None else peak_block
        peak = whole("peak_block", peak, "count blocks from 1", high=count)
        note = f"nested, peak in block {peak} of {count}, the next to its right, then left"
        blocks = rain.nest(depth, peak)
        return Hyetograph(depth_mm=blocks * 1e3, block_min=float(block) / 60, note=note)


class RainTable(_Rain):
    """Depth or intensity by duration, for one return period.

    Parameters
    ----------
    duration_min : array_like, shape (K,)
        Durations, > 0, rising.
    depth_in, depth_mm : array_like, shape (K,)
        Rain that falls in each, > 0. Either this or the intensity.
    intensity_in_per_h, intensity_mm_per_h : array_like, shape (K,)
        Mean rate over each duration.
    return_years : float, optional
        How rare the rain is.

    Raises
    ------
    UnitError, InputError
        Unsorted durations, or depths that are not concave: a longer duration must bring
        more rain, at a lower rate for each minute it adds.

    Notes
    -----
    Between the rows depth is a power of duration (straight on log-log paper); outside
    them nothing is said.

    Examples
    --------
    >>> import drainpump as dp
    >>> rain = dp.inflow.RainTable(duration_min=[5, 10, 30, 60], depth_in=[0.6, 0.93, 1.7, 2.2])
    >>> storm = rain.nested_storm(block_min=10, peak_block=3)
    >>> storm.depth_in.round(2).tolist()
    [0.16, 0.34, 0.93, 0.43, 0.19, 0.14]
    """

    duration_min = View("_duration")
    depth_in, depth_mm = View("_depth"), View("_depth")
    intensity_in_per_h, intensity_mm_per_h = View("_intensity"), View("_intensity")

    def __init__(
        self,
        *,
        duration_min: u.Quantity,
        depth_in: u.Quantity | None = None,
        depth_mm: u.Quantity | None = None,
        intensity_in_per_h: u.Quantity | None = None,
        intensity_mm_per_h: u.Quantity | None = None,
        return_years: float | None = None,
    ) -> None:
        self._duration = u.take("duration", guard="positive", min=duration_min)
        depth = u.maybe("depth", guard="rain", **u.inches(depth_in, depth_mm))
        rate = u.maybe(
            "intensity", guard="rain_rate", in_per_h=intensity_in_per_h, mm_per_h=intensity_mm_per_h
        )
        if (depth is None) == (rate is None):
            raise UnitError(
                "depth and intensity: give exactly one of depth_in, depth_mm, intensity_in_per_h, "
                "intensity_mm_per_h."
            )
        given = depth if depth is not None else rate
        assert given is not None
        time = self._duration.si
        if time.ndim != 1 or time.shape != given.si.shape or time.size < 2:
            raise InputError(
                f"RainTable: durations of shape {time.shape}, rain of shape {given.si.shape}; give "
                "two lists of one length, two rows or more."
            )
        if depth is None:
            depth = u.measure("depth_mm", 1e3 * given.si * time, "mm", "rain")
        self._depth = depth
        self.return_years = return_years
        self._check(time, depth.si)

    def _check(self, time: FloatArray, depth: FloatArray) -> None:
        if np.isnan(time + depth).any():
            raise InputError("RainTable: a row is missing (NaN); leave the row out.")
        steps = np.diff(time, prepend=0.0)
        if (steps <= 0).any():
            i = int(np.argmax(steps <= 0))
            raise InputError(
                f"duration_min[{i}]: {time[i] / 60:g} min does not come after "
                f"{time[i - 1] / 60:g} min; sort the table by duration, each once."
            )
        slope = np.diff(depth, prepend=0.0) / steps
        for i in range(time.size):
            if slope[i] <= 0 or (i and slope[i] > slope[i - 1] * (1 + 1e-9)):
                raise InputError(
                    f"depth[{i}]: at {time[i] / 60:g} min the table is not concave (each minute "
                    f"more adds {u.text(slope[i], 'in_per_h')}, before it "
                    f"{u.text(slope[i - 1] if i else slope[0], 'in_per_h')}); depth must rise, and "
                    "ever more slowly: check that row and the one before."
                )

    @property
    def _intensity(self) -> FloatArray:
        return np.asarray(self._depth.si / self._duration.si)

    @property
    def _last(self) -> FloatArray:  # type: ignore[override]
        return np.asarray(self._duration.si[-1])

    def _depth_at(self, time: FloatArray) -> FloatArray:
        return rain.interpolate(time, self._duration.si, self._depth.si)

    def fit(self) -> RainFit:
        """Return the formula i = a/(t + b)^n that comes nearest to the table."""
        a, b, n = rain.fit(self._duration.si, self._depth.si)
        return RainFit(a_mm_per_h=a * 3.6e6, b_min=b / 60, n=n, length_min=float(self._last) / 60)

    def __str__(self) -> str:
        rare = "" if self.return_years is None else f", once in {self.return_years:g} years"
        first, last = self._duration.si[0] / 60, self._duration.si[-1] / 60
        return (
            f"RainTable({self._duration.si.size} durations {first:g} to {last:g} min, "
            f"{u.both(self._depth.si[0], 'in')} to {u.both(self._depth.si[-1], 'in')}{rare})"
        )


class RainFit(_Rain):
    """Intensity by the formula i = a/(t + b)^n, t and b in minutes.

    Parameters
    ----------
    a_in_per_h, a_mm_per_h : float
        Its a, > 0, for an intensity in that unit.
    b_min, n : float
        Its b, >= 0, and its power, 0 < n.
    length_min : float, default 60
        Longest duration it holds for.

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
    ) -> None:
        self._a = u.take("a", guard="positive", in_per_h=a_in_per_h, mm_per_h=a_mm_per_h)
        self._b = u.take("b", guard="not_negative", min=b_min)
        self._n = factor("n", n, 10.0, "usually 0.5 to 1.2")
        self._length = u.take("length", guard="positive", min=length_min)
        measures = {f"a_{self._a.unit}": self._a, "b_min": self._b, "length_min": self._length}
        typed = {name: measure.typed for name, measure in measures.items()} | {"n": self._n}
        for label, value in typed.items():
            one_number(label, value, value, "a formula has one of each")

    @property
    def _last(self) -> FloatArray:  # type: ignore[override]
        return self._length.si

    def _depth_at(self, time: FloatArray) -> FloatArray:
        depth = rain.fitted_depth(time, self._a.si, self._b.si, self._n)
        return np.where(time > self._last * (1 + 1e-9), np.nan, depth)

    def __str__(self) -> str:
        a = float(self._a.get("in_per_h"))
        return f"RainFit({a:g} in/h / (t + {self.b_min:g} min)^{float(self._n):g})"


def nrcs_storm(
    kind: rain.NrcsKind,
    *,
    depth_in: u.Quantity | None = None,
    depth_mm: u.Quantity | None = None,
    block_min: u.Quantity = 15.0,
) -> Hyetograph:
    """Return a 24-hour storm of an NRCS distribution.

    Parameters
    ----------
    kind : {"I", "IA", "II", "III"}
        The region's distribution.
    depth_in, depth_mm : float or array_like
        Rain of the 24 hours. Exactly one; an array is storms side by side.
    block_min : float, default 15
        Length of a block; 24 hours hold a whole number of them. The ordinates are a
        quarter of an hour apart at the closest, linear between.

    Returns
    -------
    Hyetograph

    Raises
    ------
    UnitError, InputError
        Bad units or values.

    References
    ----------
    The table ``physics/data/nrcs_24h.csv`` names its source in each row.

    Examples
    --------
    >>> import drainpump as dp
    >>> storm = dp.inflow.nrcs_storm("II", depth_in=4)
    >>> storm.depth_in.size, round(storm.total_in, 6), storm.depth_in.argmax().item()
    (96, 4.0, 47)
    """
    depth = u.take("depth", guard="rain", **u.inches(depth_in, depth_mm)).si
    block = u.take("block", guard="positive", min=block_min).si
    count = np.round(86400.0 / block)
    if block.ndim or not abs(count * block - 86400.0) <= 1e-6:
        raise wrong("block_min", block_min, "must divide 24 hours", "e.g. 5, 6 or 15 min")
    share = np.diff(rain.nrcs_share(kind, np.linspace(0.0, 86400.0, int(count) + 1)))
    return Hyetograph(
        depth_mm=1e3 * depth[..., None] * share,
        block_min=float(block) / 60,
        note=f"NRCS type {kind}, 24 h",
    )


def read_rain(path: str | os.PathLike[str]) -> dict[float, RainTable]:
    """Read rain by duration and return period from a tidy CSV, as point tables give it.

    Parameters
    ----------
    path : str or path
        Columns ``return_years``, ``duration_min`` and one of ``depth_in``, ``depth_mm``,
        ``intensity_in_per_h``, ``intensity_mm_per_h``; one row for each pair.

    Returns
    -------
    dict
        A `RainTable` for each return period, by its years.

    Raises
    ------
    InputError
        Missing file or columns, text among the numbers, or a table that cannot be.

    Examples
    --------
    >>> read_rain("no such file.csv")
    Traceback (most recent call last):
    ...
    drainpump.errors.InputError: path='no such file.csv': is no file; give the CSV of rain ...
    """
    import pandas as pd

    file = Path(path)
    if not file.is_file():
        raise wrong("path", str(path), "is no file", "give the CSV of rain by duration")
    table = pd.read_csv(file, comment="#", skipinitialspace=True)
    values = [c for c in ("depth_in", "depth_mm", "intensity_in_per_h", "intensity_mm_per_h")
              if c in table.columns]  # fmt: skip
    if not {"duration_min", "return_years"} <= set(table.columns) or len(values) != 1:
        raise InputError(
            f"{file.name}: columns {', '.join(map(str, table.columns))}; must be return_years, "
            "duration_min and one of depth_in, depth_mm, intensity_in_per_h, intensity_mm_per_h."
        )
    used = table[["return_years", "duration_min", *values]]
    for column in used.columns:
        numbers = pd.to_numeric(used[column], errors="coerce")
        if numbers.isna().any():
            row = int(numbers.isna().to_numpy().argmax())
            raise InputError(
                f"{file.name}, row {row + 2}, column {column!r}: {used[column].iloc[row]!r}: must "
                "be a number; correct the cell or leave the row out."
            )
    cells = used.to_numpy(dtype=np.float64)
    return {
        float(years): RainTable(
            duration_min=cells[cells[:, 0] == years, 1],
            return_years=float(years),
            **{values[0]: cells[cells[:, 0] == years, 2]},
        )
        for years in np.unique(cells[:, 0])
    }
