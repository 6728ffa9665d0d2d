"""Routing a storm through the pit: how deep it ponds, how long, how often the pump switches.

Floats, rim, overflow level and power are met exactly (see `events`), so nothing depends on an
output step, and water is conserved: inflow = pumped + overflowed + stored. `routed` takes SI
and is what other rooms call; `route` checks the units and calls it.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import fields
from typing import TYPE_CHECKING, Any, ClassVar

import numpy as np

from drainpump import units as u
from drainpump.errors import InputError, wrong
from drainpump.inflow.storm import Hydrograph
from drainpump.parts.pit import Pit, floats_in_force
from drainpump.parts.pond import PondStorage, take_pond
from drainpump.parts.scalars import fact
from drainpump.results import Result, check_units
from drainpump.routing.asked import Asked, windows
from drainpump.routing.one_storm import OneStorm, storms_in
from drainpump.routing.walk import walk
from drainpump.solve.grid import listed
from drainpump.states import MENDS
from drainpump.units import FloatArray, View

if TYPE_CHECKING:
    import pandas as pd

    from drainpump.parts.line.line import DischargeLine
    from drainpump.parts.pump.bank import Pump


#: hears how many are done, and of how many
Progress = Callable[[int, int], None]


class Routing(Result):
    """What a storm does to a pit and its pump; (pumps, lines, pits, storms, *quantities).

    Attributes
    ----------
    starts, lag_starts : float or ndarray
        Times the pump starts (the lead pump of a bank); ``lag_starts`` those of the
        others in a bank that has a lag float.
    peak_level_in, peak_level_mm : float or ndarray
        Highest water above the pit's floor; NaN where it ponds on unknown ground.
    peak_pond_gal, peak_pond_l, peak_pond_in, peak_pond_mm : float or ndarray
        Most water above the rim, and ``peak_pond_in`` its depth; both depth and level are
        at least that where the pond's table ends before (``beyond_pond``).
    pond_min : float or ndarray
        Time during which water stands above the rim.
    worst_min : float or ndarray
        When the water is highest, by the hydrograph's own clock, as all times are; good to
        the steps, of some seconds, in which a slope of inflow is walked.
    longest_run_min, run_min : float or ndarray
        Longest run of the pump, and all its runs together.
    inflow_gal, pumped_gal, overflow_gal, stored_gal : float or ndarray (and ``_l``)
        Came in; was pumped away for good; ran over at the overflow level; more in pit and
        pond at the end than at the start.
    lifted_gal, lifted_l : float or ndarray
        Pumped altogether, with what soaks back and is pumped again.
    overflow_min : float or ndarray
        Time during which it overflows.
    balance_error_gal, balance_error_l : float or ndarray
        Inflow - pumped - overflow - stored.
    energy_kwh : float or ndarray
        Electrical energy; NaN where a curve has no power. Past a curve's last point it is
        that of the last point, as the flow is, and the status says so.
    end_min : float or ndarray
        When the routing ends: with the inflow, or with the run that empties the pit.
    status : str or ndarray of str
        The first that is not ``ok`` among the operating points over the levels, those of
        a battery pump included; the flow is then what may be counted on: the curve's
        last point, or none. Else ``still_ponded`` where water stands above the rim at the
        end, or ``beyond_pond`` where it stood deeper than the pond's table tells.
    """

    _storms: tuple[tuple[OneStorm, ...], ...]
    _listed: tuple[bool, bool]
    _starts: FloatArray
    _lag_starts: FloatArray
    _peak_level: FloatArray
    _peak_pond: FloatArray
    _peak_depth: FloatArray
    _ponded: FloatArray
    _peak_at: FloatArray
    _longest: FloatArray
    _running: FloatArray
    _inflow: FloatArray
    _pumped: FloatArray
    _lifted: FloatArray
    _overflow: FloatArray
    _overflowing: FloatArray
    _stored: FloatArray
    _energy: FloatArray
    _ended: FloatArray
    _status: Any

    starts, lag_starts = View("_starts"), View("_lag_starts")
    peak_level_in, peak_level_mm = View("_peak_level"), View("_peak_level")
    peak_pond_gal, peak_pond_l = View("_peak_pond"), View("_peak_pond")
    peak_pond_in, peak_pond_mm = View("_peak_depth"), View("_peak_depth")
    pond_min = View("_ponded")
    worst_min = View("_peak_at")
    longest_run_min, run_min = View("_longest"), View("_running")
    inflow_gal, inflow_l = View("_inflow"), View("_inflow")
    pumped_gal, pumped_l = View("_pumped"), View("_pumped")
    lifted_gal, lifted_l = View("_lifted"), View("_lifted")
    overflow_gal, overflow_l = View("_overflow"), View("_overflow")
    overflow_min = View("_overflowing")
    stored_gal, stored_l = View("_stored"), View("_stored")
    balance_error_gal, balance_error_l = View("_balance"), View("_balance")
    energy_kwh = View("_energy")
    end_min = View("_ended")

    _mends: ClassVar[dict[str, str]] = MENDS | {
        "still_ponded": "water still stands above the rim at the end; give a later until_min, or "
        "look why it is not pumped away",
        "beyond_pond": "the pond is at least as deep as the last row of its table; add rows above",
    }

    @property
    def _balance(self) -> FloatArray:
        return self._inflow - self._pumped - self._overflow - self._stored

    def _said(self, view: View[Any], value: Any) -> str:
        sums = np.maximum(self._inflow, 1e-3)
        if view.name == "balance_error_gal" and np.all(np.abs(self._balance) <= 1e-9 * sums):
            return "none but rounding"
        return super()._said(view, value)

    @property
    def _one(self) -> OneStorm:
        """The first pit and storm: of a single case the one there is."""
        return self._storms[0][0]

    def _remarks(self) -> list[str]:
        pits = [row[0].pit for row in self._storms]
        pumps = self._one.yard.grid.pumps
        return list(dict.fromkeys(text for pit in pits for text in floats_in_force(pit, pumps)))

    def _axes(self) -> list[tuple[str, list[str]]]:
        count = len(self._storms), len(self._storms[0])
        own = [(name, [str(i) for i in range(n)]) for name, n in zip(("pit", "storm"), count,
                                                                     strict=True)]  # fmt: skip
        listed = [axis for axis, on in zip(own, self._listed, strict=True) if on]
        return [*self._one.yard.grid.axes(), *listed]

    def to_frame(self, units: u.System = "us", *, step_s: float | None = None) -> pd.DataFrame:
        """Return one row per storm, or with a step the storm over time.

        Parameters
        ----------
        units : {"us", "metric"}
            Which spelling of each quantity becomes a column.
        step_s : float, optional
            With a step: one row every so many seconds, and one at the highest water, with
            inflow, pump flow, level, pond, and starts, water pumped and overflowed so far.
            For a single case only. The step only says where one looks: events stay where
            they are.

        Returns
        -------
        pandas.DataFrame
        """
        if step_s is None:
            return super().to_frame(units)
        import pandas as pd

        step = float(u.take("step", guard="positive", s=step_s).si)
        if np.ndim(self._starts):
            raise InputError(
                "to_frame: a step shows one storm over time, and this result holds "
                f"shape {np.shape(self._starts)}; route one case."
            )
        return pd.DataFrame(self._trace(step, check_units(units)))

    def _trace(self, step: float, units: u.System) -> dict[str, Any]:
        """Columns of the storm over time, every ``step`` seconds and at the end."""
        rows = self._one.trace(step)
        names = {
            "time": "min", "inflow": "gpm", "pump_flow": "gpm", "level": "in", "pond": "gal",
            "pond_depth": "in", "starts": None, "pumped": "gal", "overflow": "gal",
        }  # fmt: skip
        columns: dict[str, Any] = {}
        for name, unit in names.items():
            if unit is None:
                columns[name] = rows[name]
                continue
            if units == "metric" and u.UNITS[unit].system == "us":
                unit = u.UNITS[unit].twin
            columns[f"{name}_{unit}"] = u.from_si(rows[name], unit)
        return columns


def route(
    pump: Pump | Sequence[Pump],
    line: DischargeLine | Sequence[DischargeLine],
    pit: Pit | Sequence[Pit],
    inflow: Hydrograph | Sequence[Hydrograph],
    *,
    pond_area_ft2: u.Quantity | None = None,
    pond_area_m2: u.Quantity | None = None,
    pond_storage: PondStorage | None = None,
    overflow_in: u.Quantity | None = None,
    overflow_mm: u.Quantity | None = None,
    start_in: u.Quantity | None = None,
    start_mm: u.Quantity | None = None,
    soaks_back: Any = 0.0,
    outages: Any = (),
    lead_fails_min: u.Quantity | None = None,
    battery_wh: u.Quantity | None = None,
    battery_pump: Pump | None = None,
    until_min: u.Quantity | None = None,
    progress: Progress | None = None,
) -> Routing:
    """Route inflow through the pit, its floats and its pump.

    Parameters
    ----------
    pump, line : PumpCurve or bank, and DischargeLine, or sequences of them
        A bank with a lag float starts its lead pump at the pit's on level and the others
        at theirs; all stop at the off level.
    pit : Pit or sequence of Pit
        The pit and its floats; its off level is the line's datum.
    inflow : Hydrograph or sequence of Hydrograph
        What comes in; leading axes of its flows are storms side by side.
    pond_area_ft2, pond_area_m2 : float or array_like, optional
        Area that floods at the rim, the same at every depth. Either this or
        ``pond_storage``; without them the depth of the pond stays unknown.
    pond_storage : PondStorage, optional
        Water around the pit by depth.
    overflow_in, overflow_mm : float or array_like, optional
        Level above the pit's floor at which it overflows. Above the rim it needs the pond's
        size. Without it all above the rim ponds without limit and returns.
    start_in, start_mm : float or array_like, optional
        Level at the start; the off level by default.
    soaks_back : float or array_like, default 0
        Share of the discharge that soaks back to the pit and is pumped again, 0 <= share
        < 1. It is taken to be back at once, the hard side.
    outages : sequence of (start, end)
        Windows without power, in minutes. One that lies outside the storm is warned of.
    lead_fails_min : float, optional
        From then on the lead pump is dead: the others of a bank go on by their floats,
        a single pump stops for good. A battery without a pump of its own then carries
        nothing.
    battery_wh : float or array_like, optional
        Energy that carries the pumps through outages, for all of them together: it is
        not charged in between.
    battery_pump : PumpCurve or bank, optional
        Pump that runs on the battery; the same pumps by default.
    until_min : float, optional
        When to end, after the inflow's first point. By default when the inflow has ended
        and the last run is over.
    progress : callable, optional
        Called with how many routings are done and how many there are, some thousand at a
        time.

    Returns
    -------
    Routing
        Arrays of shape (pumps, lines, pits, storms, *quantities): a list adds an axis, a
        single object none.

    Raises
    ------
    UnitError, InputError
        Bad units or values, an overflow level below the on level, windows that end before
        they begin.

    Warns
    -----
    RoutingWarning
        A window without power that lies outside the storm.

    Notes
    -----
    ``dS/dt = q - Q(S)``, Q the flow at the level that the stored water S gives, held at
    the rim's while it ponds. Between some thirty levels Q is taken as linear in S. A float
    keeps its state through an outage; when power returns on a raised float the pump
    starts, which counts. Without a check valve what stands in the rising line drops back
    into the pit at each stop and is not counted as pumped; the line is empty at first, its
    dips full, and fills as in `drain_back`. Where what ran back starts the pump again at
    once, the routing ends with the first stop after the inflow. Tail water that runs back
    through a line without a check valve counts as pumped the less; a depth of pond above the
    rim holds it back no further.

    All minutes are those of the hydrograph, whose first point need not be at 0.

    Some eighty cases and more are walked at once, each to its own next event; the few that go
    on much longer than the others, those on a battery or with tail water, and fewer cases, are
    walked one by one. The answers are the same but for rounding. Memory grows with the answer
    alone, but for one pump, line and pit of very many quantities.

    How many times the pump starts can hang on a hair: where the inflow falls off just as
    the pump nears a float, one start more or less is decided by a thousandth of a flow.
    Change a float by an inch and look whether the count holds.

    Examples
    --------
    >>> import drainpump as dp
    >>> pump = dp.PumpCurve(name="A", flow_gpm=[0, 30, 50], head_ft=[20, 12.8, 0])
    >>> line = dp.straight_line(pipe=dp.Pipe(bore_in=2.047), length_ft=150, lift_ft=6, k=6)
    >>> pit = dp.Pit(diameter_in=18, depth_in=30, off_in=6, on_in=16)
    >>> burst = dp.Hydrograph(flow_gpm=[10, 90, 30, 5, 0], block_min=10)
    >>> storm = dp.route(pump, line, pit, burst, pond_area_ft2=400)
    >>> int(storm.starts), round(storm.peak_pond_gal), round(storm.pond_min, 1)
    (7, 510, 32.7)
    """
    if progress is not None and not callable(progress):
        raise wrong("progress", progress, "must be callable", "give print, or a function like it")
    pits, many_pits = listed("pit", pit, Pit)
    storms, many_storms = listed("inflow", inflow, Hydrograph)
    overflow = u.maybe("overflow", guard="level", **u.inches(overflow_in, overflow_mm))
    start = u.maybe("start", guard="level", **u.inches(start_in, start_mm))
    battery = u.maybe("battery", guard="not_negative", wh=battery_wh)
    asked = Asked(
        pond=take_pond(pond_area_ft2, pond_area_m2, pond_storage),
        overflow=None if overflow is None else overflow.si,
        start=None if start is None else start.si,
        soaks_back=_coming_back(soaks_back),
        outages=windows(outages),
        fails=_moment("lead_fails", lead_fails_min),
        battery=None if battery is None else battery.si,
        battery_pump=battery_pump,
        until=_moment("until", until_min),
    )
    found = [storms_in(pump, line, one, storms, asked) for one in pits]
    return _gather(found, (many_pits, many_storms), progress)


def routed(pump: Pump, line: DischargeLine, pit: Pit, storm: Hydrograph, **asked: Any) -> Routing:
    """Route one storm through one pit; ``asked`` by the names of `Asked`, in SI."""
    asked.setdefault("pond", take_pond(None, None, None))
    return _gather([storms_in(pump, line, pit, (storm,), Asked(**asked))], (False, False))


def _gather(
    storms: list[list[OneStorm]], many: tuple[bool, bool], progress: Progress | None = None
) -> Routing:
    """Walk all and stack the answers of pits and storms behind the axes of pumps and lines."""
    done, total = 0, sum(int(np.prod(storm.yard.size)) for row in storms for storm in row)

    def seen(more: int) -> None:
        nonlocal done
        done += more
        if progress is not None and more:
            progress(done, total)

    answers = []
    for row in storms:
        told: dict[OneStorm, dict[str, Any]] = {}
        for yard in {id(storm.yard): storm.yard for storm in row}.values():
            alike = [storm for storm in row if storm.yard is yard]
            found = walk(yard, alike, seen)
            told |= {storm: storm.answer(one) for storm, one in zip(alike, found, strict=True)}
        answers.append([told[storm] for storm in row])
    grid = storms[0][0].yard.grid
    lead = sum(grid.listed)
    columns = []
    # all but the storms and whether there are lists of them
    for name in (field.name.removeprefix("_") for field in fields(Routing)[2:]):
        rows = [np.stack([a[name] for a in row], axis=lead) for row in _alike(answers, name)]
        stacked = np.stack(rows, axis=lead)
        if not many[1]:
            stacked = np.take(stacked, 0, axis=lead + 1)
        if not many[0]:
            stacked = np.take(stacked, 0, axis=lead)
        columns.append(stacked)
    return Routing(tuple(map(tuple, storms)), many, *columns)


def _alike(answers: list[list[dict[str, Any]]], name: str) -> list[list[dict[str, Any]]]:
    shapes = {np.shape(a[name]) for row in answers for a in row}
    if len(shapes) > 1:
        raise InputError(
            f"route: pits or storms of unlike shapes {', '.join(map(str, sorted(shapes)))}; give "
            "those in one list the same shape."
        )
    return answers


def _coming_back(value: Any) -> FloatArray:
    share = u.plain("soaks_back", value, low=0.0, high=1.0, mend="give the share that comes back")
    if np.any(share == 1):
        raise wrong("soaks_back", value, "must be below 1", "nothing would ever leave")
    return share


def _moment(name: str, value: Any) -> float | None:
    """A time by the hydrograph's clock, s; whether it fits the storm is seen there."""
    when = fact(name, "time", "give minutes from the start", min=value)
    return None if when is None else float(when.si)
