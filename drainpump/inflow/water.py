"""All the water that comes to the pit: from sky and ground, through grates and pipes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, ClassVar

import numpy as np

from drainpump import units as u
from drainpump.errors import InputError, wrong
from drainpump.findings import Finding
from drainpump.inflow.branch.collector import Collector
from drainpump.inflow.branch.level_pool import through
from drainpump.inflow.rain.hyetograph import Hyetograph
from drainpump.inflow.rain.table import RainFit, RainTable
from drainpump.inflow.storm import Hydrograph
from drainpump.inflow.surface.catchment import Catchment
from drainpump.inflow.surface.runoff import runoff_hydrograph
from drainpump.parts.part import Part
from drainpump.parts.scalars import known, one_measure, one_or_more
from drainpump.units import FloatArray, View


def _rain_from(given: dict[str, Any]) -> RainTable | RainFit | Hyetograph:
    """Read rain back by what its keywords are."""
    if "duration_min" in given:
        return RainTable.from_dict(given)
    return RainFit.from_dict(given) if "b_min" in given else Hyetograph.from_dict(given)


class Water(Part):
    """What reaches the pit: steady water, catchments under rain, and the branches they take.

    Parameters
    ----------
    steady_gpm, steady_lps : float, default 0
        Water that comes whatever the weather, from the ground or from a hose, >= 0: what
        `seepage` or `inflow_from_rise` say.
    catchments : Catchment or sequence of them, optional
        What drains straight to the pit. A neighbour's runoff is a catchment of its own.
    rain : RainTable, RainFit or Hyetograph, optional
        Rain by duration and return period, or one storm.
    collectors : Collector or sequence of them, optional
        Branches to the pit, each with the catchments that drain to it.

    Raises
    ------
    UnitError, InputError
        Units or values that cannot be; no water at all.

    Examples
    --------
    >>> import drainpump as dp
    >>> table = dp.inflow.RainTable(
    ...     duration_min=[5, 15, 60], depth_in=[[0.4, 0.8, 1.4], [0.6, 1.2, 2.2]],
    ...     return_year=[2, 10])
    >>> roof = dp.inflow.Catchment(area_ft2=1200, runoff=0.95, tc_min=5, name="roof")
    >>> drain = dp.inflow.Collector(bore_in=4, slope=0.01, n=0.012, catchments=[roof])
    >>> water = dp.inflow.Water(steady_gpm=2, rain=table, collectors=[drain])
    >>> storms = water.storms()
    >>> storms.return_year.tolist(), storms.peak_gpm.round(1).tolist()
    ([2.0, 10.0], [58.9, 87.3])
    """

    steady_gpm, steady_lps = View("_steady"), View("_steady")

    _nested: ClassVar = {
        "catchments": lambda many: [Catchment.from_dict(one) for one in many],
        "collectors": lambda many: [Collector.from_dict(one) for one in many],
        "rain": _rain_from,
    }

    def __init__(
        self,
        *,
        steady_gpm: u.Quantity | None = None,
        steady_lps: u.Quantity | None = None,
        catchments: Catchment | Sequence[Catchment] = (),
        rain: RainTable | RainFit | Hyetograph | None = None,
        collectors: Collector | Sequence[Collector] = (),
    ) -> None:
        self._steady = u.Typed(locals()).take("steady", "inflow", default=("gpm", 0.0))
        known("steady", self._steady)
        self.catchments = one_or_more("catchments", catchments, Catchment)
        self.collectors = one_or_more("collectors", collectors, Collector)
        if rain is not None and not isinstance(rain, RainTable | RainFit | Hyetograph):
            raise wrong("rain", rain, "must be a RainTable, a RainFit or a Hyetograph",
                        "make one, or read a file with read_rain(...)")  # fmt: skip
        self.rain = rain
        for name, many in (("catchments", self.catchments), ("collectors", self.collectors)):
            self._given[name] = list(many)
        seeps = any(np.any(c.si.seepage > 0) for c in self.collectors if c.si.seepage is not None)
        if not (self.catchments or self.collectors or np.any(self._steady.si > 0) or seeps):
            raise InputError("Water: no water; give steady_gpm, catchments or collectors.")

    def hydrograph(self, storm: Hyetograph | None = None) -> Hydrograph:
        """Return what a storm brings to the pit, after grates and pipes.

        Parameters
        ----------
        storm : Hyetograph, optional
            The rain; by default the water's own where that is a storm.

        Returns
        -------
        Hydrograph
            With ``.branches``: what happened at each branch's low spot.

        Raises
        ------
        InputError
            No storm, or a grate whose low spot is not known.
        """
        rain = self.rain if storm is None else storm
        if not isinstance(rain, Hyetograph):
            raise InputError(
                "storm: none given; give a Hyetograph, or ask for .storms(return_year=[...])."
            )
        return self._flow(rain, None)

    def storms(
        self,
        *,
        return_year: u.Quantity | None = None,
        block_min: u.Quantity | None = None,
        length_min: u.Quantity | None = None,
        peak_block: int | None = None,
    ) -> Hydrograph:
        """Return what nested storms of the rain table bring, one a return period.

        Parameters
        ----------
        return_year : array_like, shape (Y,), optional
            Return periods, within the table's; by default those of the table. Between two of
            them the hydrograph is interpolated point by point in ln N; where one is, none
            has ``branches``, for what stands at a low spot is not interpolated.
        block_min : float, optional
            Length of a block; by default the table's shortest duration.
        length_min, peak_block
            As `RainTable.nested_storm`.

        Returns
        -------
        Hydrograph
            Storms on its leading axis, with ``.return_year``.

        Raises
        ------
        UnitError, InputError
            No rain table, or a return period outside it.
        """
        if not isinstance(self.rain, RainTable) or self.rain.si.return_period is None:
            raise InputError(
                "storms: needs a rain table with its return periods; give "
                "rain=RainTable(..., return_year=[...])."
            )
        table = self.rain
        block = float(table.si.duration[0]) / 60 if block_min is None else block_min
        rain = table.nested_storm(block_min=block, length_min=length_min, peak_block=peak_block)
        rare = table._return
        assert rare is not None
        asked = u.maybe("return", guard="positive", year=return_year)
        if asked is None or not np.isin(asked.si, rare.si).all():
            table_storms = self._flow(rain, rare)
            return table_storms if asked is None else table_storms.si.between(asked)
        # storms of the table: they keep what happened at each branch
        depth = rain.si.depth.reshape(-1, rain.si.depth.shape[-1])
        rain = rain.variant(depth_mm=1e3 * depth[np.searchsorted(np.atleast_1d(rare.si), asked.si)])
        return self._flow(rain, asked)

    def _flow(self, rain: Hyetograph, rare: u.Measure | None) -> Hydrograph:
        parts: list[Hydrograph] = []
        if self.catchments:
            parts.append(runoff_hydrograph(self.catchments, rain))
        for branch in self.collectors:
            arrives = _arrives(branch, rain)
            passed, told = through(branch, arrives)
            parts.append(
                Hydrograph._of(passed.si.flow, passed.si.time, passed.note, rain, None, (told,))
            )
        if not parts:
            parts.append(_steady(rain, np.zeros(())))
        whole = parts[0]
        for part in parts[1:]:
            whole = whole + part
        flow = whole.si.flow + self._steady.si[..., None]
        return Hydrograph._of(flow, whole.si.time, rain.note, rain, rare, whole.branches)

    def weakest_link(
        self, *, flow_gpm: u.Quantity | None = None, flow_lps: u.Quantity | None = None
    ) -> tuple[Finding, ...]:
        """Say of each branch whether it or a pump of that flow is the weaker.

        Parameters
        ----------
        flow_gpm, flow_lps : float
            What the pump moves, > 0. Exactly one.

        Returns
        -------
        tuple of Finding
        """
        flow = u.take("flow", gpm=flow_gpm, lps=flow_lps)
        one_measure("flow", flow, "give what the pump moves", above_zero=True)
        for branch in self.collectors:
            branch.si.one()
        return tuple(branch.link(flow.si) for branch in self.collectors)

    def __str__(self) -> str:
        lines = [f"Water(steady {self._steady})"]
        lines += [f"  {part}" for part in (*self.catchments, *self.collectors)]
        return "\n".join(lines + ([] if self.rain is None else [f"  {self.rain}"]))


def _arrives(branch: Collector, rain: Hyetograph) -> Hydrograph:
    """What comes to a branch's low spot and into its drain."""
    seeps = branch.si.seepage
    steady = np.zeros(()) if seeps is None else np.asarray(seeps)
    if not branch.catchments:
        return _steady(rain, steady)
    flow = runoff_hydrograph(branch.catchments, rain)
    return flow if seeps is None else flow.plus(flow_lps=u.from_si(steady, "lps"))


def _steady(rain: Hyetograph, flow: FloatArray) -> Hydrograph:
    """The same flow all the storm long."""
    time = rain.si.edges[[0, -1]]
    shape = np.broadcast_shapes(rain.si.depth.shape[:-1], flow.shape)
    both = np.broadcast_to(flow[..., None], (*shape, 2))
    return Hydrograph._of(np.array(both), time, "", rain)
