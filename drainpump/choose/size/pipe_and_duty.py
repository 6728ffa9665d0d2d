"""What to buy where the line or the pump is still open: the pipe's size, the pump's duty."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, ClassVar

import numpy as np

from drainpump import units as u
from drainpump.choose.size.furthest import take_need
from drainpump.choose.storms import Storms, asked_storms
from drainpump.errors import wrong
from drainpump.inflow.storm import Hydrograph
from drainpump.limits.limits import Limits
from drainpump.parts.line.line import DischargeLine, head_of
from drainpump.parts.line.pipe import Pipe, pvc
from drainpump.parts.pit import Pit
from drainpump.parts.pond import PondStorage, take_pond
from drainpump.parts.pump.bank import Pump
from drainpump.parts.pump.curve import PumpCurve
from drainpump.parts.scalars import check_kind
from drainpump.physics import pipes as table
from drainpump.physics.system import start_head
from drainpump.results import Result
from drainpump.solve.changed_line import in_pipes
from drainpump.solve.grid import Grid, listed, make_grid
from drainpump.solve.operating_point import solve
from drainpump.states import MENDS, NAMES
from drainpump.units import FloatArray, Quantity, View

_AT_OFF = np.zeros(())


class SmallestPipe(Result):
    """The smallest pipe that carries a need; arrays of shape (pumps, lines, *quantities).

    Attributes
    ----------
    name : str or ndarray of str
        The pipe's name, "" where none serves.
    bore_in, bore_mm : float or ndarray
        Its true bore; NaN where none serves.
    flow_gpm, flow_lps : float or ndarray
        The flow in it that may be counted on; NaN where none serves.
    velocity_fps, velocity_mps : float or ndarray
        The velocity in it: a pipe that serves may still be too slow to carry grit.
    need_gpm, need_lps : float or ndarray
        Flow that was needed.
    pipes : tuple of Pipe
        Those that were tried, narrowest first.
    status : str or ndarray of str
        ``ok``, ``none_serves``, ``bad_input``, or ``beyond_curve`` where the flow in it is
        at least the curve's last point.
    """

    _grid: Grid
    _need: FloatArray
    _name: Any
    _bore: FloatArray
    _flow: FloatArray
    _status: Any
    pipes: tuple[Pipe, ...]

    name = View("_name", str)
    bore_in, bore_mm = View("_bore"), View("_bore")
    flow_gpm, flow_lps = View("_flow"), View("_flow")
    velocity_fps, velocity_mps = View("_velocity"), View("_velocity")
    need_gpm, need_lps = View("_need"), View("_need")

    _mends: ClassVar[dict[str, str]] = {
        **MENDS,
        "none_serves": "no pipe tried carries the need; see duty_to_buy for another pump",
    }

    @property
    def _velocity(self) -> FloatArray:
        return np.asarray(self._flow / (0.25 * np.pi * self._bore**2))


def smallest_pipe(
    pump: Pump | Sequence[Pump],
    line: DischargeLine | Sequence[DischargeLine],
    pipes: Sequence[Pipe] | None = None,
    *,
    need_gpm: Quantity | None = None,
    need_lps: Quantity | None = None,
) -> SmallestPipe:
    """Return the smallest pipe with which the pump carries the need.

    Parameters
    ----------
    pump, line : pump and DischargeLine, or sequences of them
        Every run of a line gets the pipe; named fittings are read anew at its size, and
        loss coefficients given by number stay.
    pipes : sequence of Pipe, optional
        What can be had; by default PVC Schedule 40, 1 to 6 in.
    need_gpm, need_lps : float or array_like
        Flow needed at the pump-off level, > 0. Exactly one.

    Returns
    -------
    SmallestPipe

    Raises
    ------
    UnitError, InputError
        Bad units or values; no pipes, or one that holds arrays.

    Notes
    -----
    A flow past the curve's last point counts as that point; one that is ``multiple`` or
    before the first point does not serve.

    Examples
    --------
    >>> import drainpump as dp
    >>> pump = dp.PumpCurve(name="A", flow_gpm=[0, 15, 30, 50], head_ft=[20, 18.2, 12.8, 0])
    >>> line = dp.straight_line(pipe=dp.pvc("1-1/2"), length_ft=150, lift_ft=6, k=6.3)
    >>> dp.size.smallest_pipe(pump, line, need_gpm=30).name
    '2 in Sch 40 PVC'
    """
    need = take_need(need_gpm, need_lps)
    grid = make_grid(pump, line, np.zeros(need.shape))
    tried = _sorted(standard_pipes() if pipes is None else pipes)
    laid = [in_pipes(x, [pipe] * len(x.runs)) for x in grid.lines for pipe in tried]
    op = solve(make_grid(grid.pumps, laid, np.zeros(grid.inner)))
    shape = (len(grid.pumps), len(grid.lines), len(tried), *grid.inner)
    flow, code = (x.reshape(shape) for x in (op.si.counted, op.si.code))
    serves = flow >= need
    first, none = serves.argmax(axis=2), ~serves.any(axis=2)
    picked, how = (np.take_along_axis(x, first[:, :, None], axis=2)[:, :, 0] for x in (flow, code))
    bores = np.array([float(p.si.bore) for p in tried])
    names = np.array([p.name for p in tried])
    bad = np.isnan(flow[:, :, 0] + need)

    def shaped(values: Any, where_none: Any) -> Any:
        return np.reshape(np.where(none, where_none, values), grid.shape)

    return SmallestPipe(
        grid,
        np.broadcast_to(need, grid.shape),
        shaped(names[first], ""),
        shaped(bores[first], np.nan),
        shaped(picked, np.nan),
        shaped(NAMES[how], np.where(bad, "bad_input", "none_serves")),
        tried,
    )


def standard_pipes() -> list[Pipe]:
    """PVC of Schedule 40, narrowest first."""
    chosen = table.schedule_label("40")
    return [pvc(size.nominal, "40") for size in table.sizes() if size.schedule == chosen]


def _sorted(given: Sequence[Pipe]) -> tuple[Pipe, ...]:
    pipes, _ = listed("pipes", given, Pipe)
    for i, pipe in enumerate(pipes):
        if pipe.si.bore.ndim:
            raise wrong(f"pipes[{i}]", pipe, "must be a Pipe of one bore", "make one with pvc(...)")
    return tuple(sorted(pipes, key=lambda pipe: float(pipe.si.bore)))


class _Point(Result):
    """What a pump is asked for: a flow and its head, on one line or on several by name."""

    _lines: tuple[str, ...]
    _flow: FloatArray
    _head: FloatArray
    _velocity: FloatArray
    _status: Any

    flow_gpm, flow_lps = View("_flow"), View("_flow")
    head_ft, head_m = View("_head"), View("_head")

    def _axes(self) -> list[tuple[str, list[str]]]:
        return [("line", list(self._lines))] if self._lines else []


class Duty(_Point):
    """What to ask a pump for: the point its curve must reach; shape (lines, *quantities).

    Attributes
    ----------
    flow_gpm, flow_lps : float or ndarray
        The need.
    head_ft, head_m : float or ndarray
        Head the pump must make at that flow, at the least.
    zero_flow_head_ft, zero_flow_head_m : float or ndarray
        Head it must exceed at no flow, or it never starts the line.
    velocity_fps, velocity_mps : float or ndarray
        Velocity in the last run at the need.
    status : str or ndarray of str
        ``ok`` or ``bad_input``.
    """

    _zero_flow_head: FloatArray

    zero_flow_head_ft, zero_flow_head_m = View("_zero_flow_head"), View("_zero_flow_head")
    velocity_fps, velocity_mps = View("_velocity"), View("_velocity")


def duty_to_buy(
    line: DischargeLine | Sequence[DischargeLine],
    *,
    need_gpm: Quantity | None = None,
    need_lps: Quantity | None = None,
) -> Duty:
    """Return the flow and head to look for in a catalogue when no curve at hand will do.

    Parameters
    ----------
    line : DischargeLine or sequence of DischargeLine
        A list adds an axis in front.
    need_gpm, need_lps : float or array_like
        Flow needed at the pump-off level, > 0. Exactly one.

    Returns
    -------
    Duty

    Raises
    ------
    UnitError, InputError
        Bad units or values.

    Notes
    -----
    A pump whose curve passes above this point carries at least the need. No margin is in
    it: `band` and `Doubt` say how much the doubt asks.

    Examples
    --------
    >>> import drainpump as dp
    >>> line = dp.straight_line(pipe=dp.Pipe(bore_in=2.047), length_ft=150, lift_ft=6, k=6.3)
    >>> duty = dp.size.duty_to_buy(line, need_gpm=40)
    >>> round(duty.head_ft, 1), duty.zero_flow_head_ft
    (12.0, 6.0)
    """
    need = take_need(need_gpm, need_lps)
    lines, many = listed("line", line, DischargeLine)
    asked = [head_of(x, need, _AT_OFF) for x in lines]
    still = [start_head(x.si.arrays) + 0.0 * need for x in lines]

    def rows(arrays: list[Any]) -> Any:
        return np.stack(np.broadcast_arrays(*arrays)) if many else arrays[0]

    return Duty(
        tuple(x.name for x in lines) if many else (),
        rows([a.si.flow for a in asked]),
        rows([a.si.head for a in asked]),
        rows([a.si.velocity for a in asked]),
        rows([np.asarray(a.status) for a in asked]),
        rows(still),
    )


#: flows tried at once, and how often between the last that fails and the next: to a
#: sixty-thousandth of the greatest inflow
_AT_ONCE, _ROUNDS = 17, 4
#: how steep the pump is that is tried: it gives its flow to this share at any head
_STEEP = 5e-4


class LeastPump(_Point):
    """The least duty that keeps the limits; an array over a list of lines.

    Attributes
    ----------
    flow_gpm, flow_lps : float or ndarray
        Flow at which the limits just hold, whatever the level; 0 where they hold without a
        pump, NaN where no flow keeps them.
    head_ft, head_m : float or ndarray
        What the line asks at that flow, from the off level.
    velocity_fps, velocity_mps : float or ndarray
        In the last run, at that flow: a pipe may be too narrow or too wide for it.
    status : str or ndarray of str
        ``ok``, ``none_needed`` or ``none_serves``.
    """

    velocity_fps, velocity_mps = View("_velocity"), View("_velocity")

    _mends: ClassVar[dict[str, str]] = {
        "none_needed": "the limits hold without a pump",
        "none_serves": "even a pump of the greatest inflow does not keep the limits; lower the on "
        "float, or allow for more",
    }


def least_pump(
    lines: DischargeLine | Sequence[DischargeLine],
    pit: Pit,
    storms: Hydrograph,
    limits: Limits,
    *,
    pond_area_ft2: float | None = None,
    pond_area_m2: float | None = None,
    pond_storage: PondStorage | None = None,
    overflow_in: float | None = None,
    overflow_mm: float | None = None,
) -> LeastPump:
    """Return the flow and head such that the limits on pond and overflow just hold.

    Parameters
    ----------
    lines : DischargeLine or sequence of them
        Of scalars.
    pit : Pit
        With its floats.
    storms : Hydrograph
        Storms on its leading axis; the limits must hold in every one, or in those up to
        their ``dry_up_to_year``.
    limits : Limits
        On pond and overflow; without any of them nothing may pond.
    pond_area_ft2, pond_area_m2, pond_storage, overflow_in, overflow_mm : optional
        The low spot around the pit, as in `route`.

    Returns
    -------
    LeastPump

    Raises
    ------
    UnitError, InputError
        Bad units or values, or what `select` refuses of storms.

    Notes
    -----
    Pumps that give one flow at any head are routed, from none to the greatest inflow, then
    between the last that fails and the next. A greater flow may fail where a smaller one
    keeps the limits, by how full the pit happens to be when the burst comes: the answer is
    the flow from which on all that were tried keep them. A real pump of that duty gives
    more at higher water, so it is on the safe side.

    Examples
    --------
    >>> import drainpump as dp
    >>> line = dp.straight_line(pipe=dp.pvc("2"), length_ft=150, lift_ft=6)
    >>> pit = dp.Pit(diameter_in=24, depth_in=42, off_in=8, on_in=20)
    >>> burst = dp.Hydrograph(flow_gpm=[10, 90, 30, 5, 0], block_min=10)
    >>> limits = dp.Limits(pond_depth_max_in=1)
    >>> duty = dp.size.least_pump(line, pit, burst, limits, pond_area_ft2=800)
    >>> round(duty.flow_gpm, 1), round(duty.head_ft, 1)
    (34.4, 9.4)
    """
    check_kind("limits", limits, Limits)
    check_kind("pit", pit, Pit)
    many, listing = listed("lines", lines, DischargeLine)
    overflow = u.maybe("overflow", guard="level", **u.inches(overflow_in, overflow_mm))
    pond = take_pond(pond_area_ft2, pond_area_m2, pond_storage)
    asked = asked_storms(storms, pond, overflow, limits, False)
    rows = [_least(asked, line, pit) for line in many]
    flow, head, velocity, status = (np.array(column) for column in zip(*rows, strict=True))
    if listing:
        return LeastPump(tuple(line.name for line in many), flow, head, velocity, status)
    return LeastPump((), *(np.asarray(x[0]) for x in (flow, head, velocity, status)))


def _least(asked: Storms, line: DischargeLine, pit: Pit) -> tuple[float, float, float, str]:
    """Flow, head, velocity and status on one line."""
    low, high = 0.0, 1.02 * float(asked.inflow.si.flow.max())
    for _ in range(_ROUNDS):
        flows = np.linspace(low, high, _AT_ONCE)
        keeps = _keeps(asked, line, pit, flows) if high > 0 else np.ones(_AT_ONCE, dtype=bool)
        if not keeps[-1]:
            return np.nan, np.nan, np.nan, "none_serves"
        if keeps.all():
            return 0.0, 0.0, 0.0, "none_needed"
        last = int(np.flatnonzero(~keeps)[-1])
        low, high = flows[last : last + 2]
    there = line.head(flow_lps=u.from_si(high, "lps"))
    return float(high), float(there.si.head), float(there.si.velocity), "ok"


def _keeps(asked: Storms, line: DischargeLine, pit: Pit, flows: FloatArray) -> Any:
    """Whether pumps of these flows (m³/s) at any head keep the limits in the storms asked."""
    head = 2 * float(line.head(flow_lps=u.from_si(flows[-1], "lps")).si.head) + 10.0
    # none at all is a pump that hardly gives anything
    rates = np.atleast_1d(u.from_si(np.maximum(flows, 1e-6 * flows[-1]), "lps"))
    with u.speaking_of(()):
        pumps = [
            PumpCurve(name="of one flow", flow_lps=[0, (1 - _STEEP) * q, q], head_m=[head, head, 0])
            for q in rates
        ]
    suffered = asked.suffered(pumps, [line], pit)
    return (suffered.margin[:, 0, suffered.asked] <= 0).all(axis=-1)
