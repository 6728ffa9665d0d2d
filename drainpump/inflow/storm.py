"""Inflow over time: the hydrograph, in points."""

from __future__ import annotations

from typing import Any, ClassVar

import numpy as np

from drainpump import units as u
from drainpump.errors import UnitError, wrong
from drainpump.inflow.rain.hyetograph import Hyetograph
from drainpump.inflow.series import block_length, in_order, known_along_time, over_time
from drainpump.parts.part import Part
from drainpump.parts.scalars import known
from drainpump.results import Frame, check_units
from drainpump.units import FloatArray, View


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
        said = u.Typed(locals())
        flow = said.take("flow", "inflow")
        count = known_along_time(f"flow_{flow.unit}", flow.si)
        if (block_min is None) == (time_min is None):
            raise UnitError(
                "block_min and time_min: give one of the two, the length of steady blocks or the "
                "time of each flow."
            )
        self.note = note
        self.rain = rain
        self._return = said.maybe("return", "positive")
        if time_min is None:
            edges = np.arange(count + 1) * block_length(block_min)
            self._time = u.frozen(np.repeat(edges, 2)[1:-1])
            typed = np.repeat(np.asarray(flow.typed, dtype=np.float64), 2, axis=-1)
            self._flow = u.Measure(u.frozen(np.repeat(flow.si, 2, axis=-1)), flow.unit, typed)
            return
        self._time = u.frozen(in_order(count, time_min, strict=False))
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
        vars(made).update(
            _flow=u.Measure(u.frozen(flow), "lps", u.frozen(flow * 1e3)), _time=u.frozen(time),
            note=note, rain=rain, _return=return_year, branches=branches, _built=True,
        )  # fmt: skip
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
        more = known("flow", u.take("flow", guard="inflow", gpm=flow_gpm, lps=flow_lps))
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
        known, wanted = np.atleast_1d(self._return.si), np.atleast_1d(asked.si)
        flows = np.reshape(self._flow.si, (known.size, *self._flow.si.shape[-1:]))
        # a year that is not known is outside, too
        outside = ~((wanted >= known[0] * (1 - 1e-12)) & (wanted <= known[-1] * (1 + 1e-12)))
        if outside.any():
            year = float(u.from_si(wanted[int(np.argmax(outside))], "year"))
            first, last = (u.from_si(x, "year") for x in known[[0, -1]])
            allowed = f"must be from {first:g} to {last:g}, the storms known"
            raise wrong("return_year", year, allowed, "nothing is said outside them")
        i = np.clip(np.searchsorted(known, wanted, side="right") - 1, 0, max(known.size - 2, 0))
        j = np.minimum(i + 1, known.size - 1)
        wide = np.log(known[j] / known[i])
        part = np.log(wanted / known[i]) / np.where(wide > 0, wide, 1.0)
        flow = (1 - part[:, None]) * flows[i] + part[:, None] * flows[j]
        # one year asked for is one storm
        flow = flow.reshape(*asked.si.shape, -1)
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

    def to_frame(self, units: u.System = "us") -> Frame:
        """Return one row per point in time, with its flow."""
        unit = "gpm" if check_units(units) == "us" else "lps"
        flow = np.asarray(u.from_si(self._flow.si, unit))
        return over_time(self.time_min, {f"flow_{unit}": flow})

    def __str__(self) -> str:
        return (
            f"Hydrograph({self._time.size} points to {self.end_min:g} min, peak "
            f"{u.both(self._peak, 'gpm')}, volume {u.both(self._volume, 'gal')}"
            + (f"; {self.note})" if self.note else ")")
        )
