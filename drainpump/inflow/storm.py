"""Rain and inflow over time: the hyetograph in blocks, the hydrograph in points."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, ClassVar

import numpy as np

from drainpump import units as u
from drainpump.errors import InputError, UnitError, wrong
from drainpump.parts.part import Part
from drainpump.parts.scalars import one_number
from drainpump.results import check_units
from drainpump.units import FloatArray, View

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Hydrograph", "Hyetograph", "merged"]

#: steps that differ by less than this share are one step (a clock's rounding)
_EVEN = 1e-6


def _known(what: str, si: FloatArray) -> int:
    """Refuse values that are missing; return how many there are along time."""
    if si.ndim == 0 or si.shape[-1] == 0:
        raise InputError(f"{what}: must hold one value or more along time; give a list.")
    bad = np.isnan(si)
    if bad.any():
        index = "[" + ", ".join(str(int(i)) for i in np.argwhere(bad)[0]) + "]"
        raise InputError(
            f"{what}{index}: is missing (NaN); fill the gap, or give the stretches on its two "
            "sides as storms of their own."
        )
    return int(si.shape[-1])


def _even(count: int, block_min: Any, time_min: Any) -> FloatArray:
    """Ends of even blocks (s), from their length or from the time each begins."""
    if (block_min is None) == (time_min is None):
        raise UnitError(
            "block_min and time_min: give one of the two, the length of all blocks or the time "
            "each begins."
        )
    if time_min is None:
        return np.asarray(np.arange(count + 1) * _length(block_min))
    start = _times(count, time_min, strict=True)
    if count == 1:
        raise UnitError("block_min: no value given; one block alone needs its length.")
    step = np.diff(start)
    odd = np.abs(step - step[0]) > _EVEN * step[0]
    if odd.any():
        i = int(np.argmax(odd))
        raise InputError(
            f"time_min: mixed steps, {step[0] / 60:g} min and from block {i} on "
            f"{step[i] / 60:g} min; give rain in blocks of one length."
        )
    return np.append(start, start[-1] + step[-1])


def _length(block_min: Any) -> FloatArray:
    block: FloatArray = u.take("block", guard="positive", min=block_min).si
    one_number("block_min", block_min, block, "all blocks are alike")
    return block


def _times(count: int, time_min: Any, *, strict: bool) -> FloatArray:
    """Times (s), one for each value, in order."""
    time: FloatArray = u.take("time", guard="any", min=time_min).si
    if time.shape != (count,):
        raise InputError(
            f"time_min: shape {time.shape} for {count} values; give one time for each value."
        )
    _known("time_min", time)
    steps = np.diff(time)
    good = steps > 0 if strict else steps >= 0
    if not good.all():
        i = int(np.argmin(good)) + 1
        raise InputError(
            f"time_min[{i}]: {time[i] / 60:g} min does not come after {time[i - 1] / 60:g} min; "
            "sort by time, each time once."
        )
    return time


def _frame(time: Any, columns: dict[str, FloatArray]) -> pd.DataFrame:
    import pandas as pd

    shape = next(iter(columns.values())).shape
    data: dict[str, Any] = {
        f"axis_{i}": np.broadcast_to(np.indices(shape, sparse=True)[i], shape).ravel()
        for i in range(len(shape) - 1)
    }
    data["time_min"] = np.broadcast_to(time, shape).ravel()
    return pd.DataFrame(data | {name: np.ravel(a) for name, a in columns.items()})


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
    ) -> None:
        self._depth = u.take("depth", guard="rain", **u.inches(depth_in, depth_mm))
        self.note = note
        known = _known(f"depth_{self._depth.unit}", self._depth.si)
        self._edges = u.frozen(_even(known, block_min, time_min))

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

    def reversed(self) -> Hyetograph:
        """Return the same storm with its blocks in reverse order."""
        return Hyetograph(
            depth_mm=u.from_si(self._depth.si[..., ::-1], "mm"),
            block_min=self.block_min,
            note=self.note,
        )

    def to_frame(self, units: u.System = "us") -> pd.DataFrame:
        """Return one row per block: when it begins, its depth and intensity."""
        unit = "in" if check_units(units) == "us" else "mm"
        return _frame(
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


def merged(flow: FloatArray, time: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Leave out points that stand twice, at one time and with one flow in every storm."""
    twin = np.zeros(time.size, dtype=bool)
    same = np.diff(flow, axis=-1) == 0
    twin[1:] = (np.diff(time) == 0) & same.reshape(-1, time.size - 1).all(axis=0)
    return flow[..., ~twin], time[~twin]


class Hydrograph(Part):
    """Water that arrives: flow at points in time, linear between them.

    Parameters
    ----------
    flow_gpm, flow_lps : array_like, shape (..., n)
        Inflow, >= 0. Exactly one. Leading axes are storms side by side.
    time_min : array_like, shape (n,)
        When each flow holds, rising; a time given twice is a jump. Either this or
        ``block_min``.
    block_min : float, > 0
        With it each flow holds steady over a block of that length.
    note : str, optional
        Where the water comes from.
    rain : Hyetograph, optional
        The storm that brings it, where there is one.
    return_year : float or array_like, optional
        How rare each of the storms side by side is.

    Raises
    ------
    UnitError, InputError
        Flow that is missing or negative, times unsorted.

    Examples
    --------
    >>> import drainpump as dp
    >>> inflow = dp.Hydrograph(flow_gpm=[0, 40, 10], time_min=[0, 5, 10])
    >>> inflow.peak_gpm, round(inflow.volume_gal, 6)
    (40.0, 225.0)
    >>> inflow.plus(flow_gpm=2).flow_gpm.round(6).tolist()
    [2.0, 42.0, 12.0]
    >>> dp.Hydrograph(flow_gpm=[30, 10], block_min=5).time_min.tolist()
    [0.0, 5.0, 5.0, 10.0]
    """

    flow_gpm, flow_lps = View("_flow"), View("_flow")
    time_min, end_min = View("_time"), View("_end")
    peak_gpm, peak_lps = View("_peak"), View("_peak")
    volume_gal, volume_l = View("_volume"), View("_volume")
    return_year = View("_return")
    #: what happened at the low spots of the branches it came through, where there were any
    branches: tuple[Any, ...] = ()

    def __init__(
        self,
        *,
        flow_gpm: u.Quantity | None = None,
        flow_lps: u.Quantity | None = None,
        time_min: u.Quantity | None = None,
        block_min: u.Quantity | None = None,
        note: str = "",
        rain: Hyetograph | None = None,
        return_year: u.Quantity | None = None,
    ) -> None:
        flow = u.take("flow", guard="inflow", gpm=flow_gpm, lps=flow_lps)
        count = _known(f"flow_{flow.unit}", flow.si)
        if (block_min is None) == (time_min is None):
            raise UnitError(
                "block_min and time_min: give one of the two, the length of steady blocks or the "
                "time of each flow."
            )
        self.note = note
        self.rain = rain
        self._return = u.maybe("return", guard="positive", year=return_year)
        if time_min is None:
            edges = np.arange(count + 1) * _length(block_min)
            self._time = u.frozen(np.repeat(edges, 2)[1:-1])
            typed = np.repeat(np.asarray(flow.typed, dtype=np.float64), 2, axis=-1)
            self._flow = u.Measure(u.frozen(np.repeat(flow.si, 2, axis=-1)), flow.unit, typed)
            return
        self._time = u.frozen(_times(count, time_min, strict=False))
        self._flow = flow
        if not self._time[-1] > self._time[0]:
            raise wrong("time_min", time_min, "must span some time", "give two times or more")

    @classmethod
    def _of(
        cls,
        flow: FloatArray,
        time: FloatArray,
        note: str = "",
        rain: Hyetograph | None = None,
        return_year: u.Measure | None = None,
        branches: tuple[Any, ...] = (),
    ) -> Hydrograph:
        """Build from SI flows (m³/s) and times (s), past the guards of typed numbers."""
        made = cls.__new__(cls)
        made._flow = u.Measure(u.frozen(flow), "lps", u.frozen(flow * 1e3))
        made._time = u.frozen(time)
        made.note = note
        made.rain = rain
        made._return = return_year
        vars(made)["branches"] = branches
        return made

    _nested: ClassVar = {"rain": Hyetograph.from_dict}

    @property
    def given(self) -> dict[str, Any]:
        """The keywords as typed; of a hydrograph that was computed, its points."""
        if "_given" in vars(self):
            return super().given
        computed = {"flow_lps": self.flow_lps, "time_min": self.time_min}
        rare = {} if self._return is None else {"return_year": self._return.typed}
        kept = (("note", self.note), ("rain", self.rain))
        return computed | {k: v for k, v in kept if v} | rare

    @property
    def _end(self) -> FloatArray:
        return np.asarray(self._time[-1])

    @property
    def _peak(self) -> FloatArray:
        return np.asarray(self._flow.si.max(axis=-1))

    @property
    def _volumes(self) -> FloatArray:
        """Water that arrives between the points, m³."""
        flow = self._flow.si
        return np.asarray(0.5 * (flow[..., 1:] + flow[..., :-1]) * np.diff(self._time))

    @property
    def _volume(self) -> FloatArray:
        return np.asarray(self._volumes.sum(axis=-1))

    def plus(
        self, *, flow_gpm: u.Quantity | None = None, flow_lps: u.Quantity | None = None
    ) -> Hydrograph:
        """Return the inflow with a steady flow added, seepage for one.

        Parameters
        ----------
        flow_gpm, flow_lps : float or array_like
            What comes besides, >= 0; an array stands side by side with the storms.
        """
        given = u.take("flow", guard="inflow", gpm=flow_gpm, lps=flow_lps)
        more = given.si
        if np.isnan(more).any():
            raise wrong(f"flow_{given.unit}", given.typed, "must be known", "leave it out")
        return Hydrograph._of(
            self._flow.si + more[..., None], self._time, self.note, self.rain, self._return,
            self.branches,
        )  # fmt: skip

    def __add__(self, other: Any) -> Hydrograph:
        """Add the inflow of another hydrograph; outside its times it brings none."""
        if not isinstance(other, Hydrograph):
            return NotImplemented
        notes = "; ".join(dict.fromkeys(x.note for x in (self, other) if x.note))
        rare, branches = self._return or other._return, (*self.branches, *other.branches)
        rain = self.rain or other.rain
        if np.array_equal(self._time, other._time):
            flow, time = self._flow.si + other._flow.si, self._time
        else:
            edges = np.union1d(self._time, other._time)
            both = [x._on_both_sides(edges) for x in (self, other)]
            flow, time = merged(both[0] + both[1], np.repeat(edges, 2)[1:-1])
        return Hydrograph._of(flow, time, notes, rain, rare, branches)

    def _between(self, asked: u.Measure) -> Hydrograph:
        """Return the storms of other return periods, point by point linear in ln N.

        ``asked`` are return periods within those of the storms side by side.
        """
        assert self._return is not None
        known, wanted = self._return.si, np.atleast_1d(asked.si)
        outside = (wanted < known[0]) | (wanted > known[-1])
        if outside.any():
            year = float(u.from_si(wanted[int(np.argmax(outside))], "year"))
            first, last = (u.from_si(x, "year") for x in known[[0, -1]])
            allowed = f"must be from {first:g} to {last:g}, the storms known"
            raise wrong("return_year", year, allowed, "nothing is said outside them")
        i = np.clip(np.searchsorted(known, wanted, side="right") - 1, 0, known.size - 2)
        part = (np.log(wanted / known[i]) / np.log(known[i + 1] / known[i]))[:, None]
        flow = (1 - part) * self._flow.si[i] + part * self._flow.si[i + 1]
        return Hydrograph._of(flow, self._time, self.note, None, asked)

    def _on_both_sides(self, edges: FloatArray) -> FloatArray:
        """Flow just after and just before each edge, (..., 2 (n - 1)); none outside its times."""
        low, high = edges[:-1], edges[1:]
        middle = 0.5 * (low + high)
        # the stretch that holds each stretch between edges; a jump is two equal times
        i = np.searchsorted(self._time, middle, side="right") - 1
        inside = (i >= 0) & (i < self._time.size - 1)
        i = np.clip(i, 0, self._time.size - 2)
        span = np.diff(self._time)[i]
        flow = self._flow.si
        slope = np.diff(flow, axis=-1)[..., i] / np.where(span > 0, span, 1.0)
        ends = [flow[..., i] + slope * (t - self._time[i]) for t in (low, high)]
        pairs = np.where(inside[:, None], np.stack(ends, axis=-1), 0.0)
        return np.asarray(pairs.reshape(*pairs.shape[:-2], -1))

    def to_frame(self, units: u.System = "us") -> pd.DataFrame:
        """Return one row per point in time, with its flow."""
        unit = "gpm" if check_units(units) == "us" else "lps"
        flow = np.asarray(u.from_si(self._flow.si, unit))
        return _frame(self.time_min, {f"flow_{unit}": flow})

    def __str__(self) -> str:
        return (
            f"Hydrograph({self._time.size} points to {self.end_min:g} min, peak "
            f"{u.both(self._peak, 'gpm')}, volume {u.both(self._volume, 'gal')}"
            + (f"; {self.note})" if self.note else ")")
        )
